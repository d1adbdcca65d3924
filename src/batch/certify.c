/* certify.c: one unit's readings against its requirements, with the risk of the decision. */
#include "tripwright/batch_certificate.h"
#include "tripwright/random.h"

#include <math.h>
#include <string.h>

/* readings drawn for each build of the batch */
enum { READINGS_A_BUILD = 25 };

const char *tw_certified_text(tw_certified verdict)
{
  static const char *const text[] = {"not measured", "passes", "does not pass", "not decided"};
  return text[verdict];
}

const char *tw_decision_text(tw_decision_rule rule)
{
  static const char *const text[] = {
      "simple acceptance: the reading must keep the limit",
      "guard band: the reading must keep the limit by 1.645 times its standard uncertainty",
      "guard band from a wanted consumer's risk: the reading must keep the limit by this band"};
  return text[rule];
}

static tw_conform_limits limits_of(const tw_limit *limit)
{
  return (tw_conform_limits){limit->rule == TW_RULE_LEAST || limit->rule == TW_RULE_WITHIN,
                             limit->rule == TW_RULE_MOST || limit->rule == TW_RULE_WITHIN,
                             limit->low, limit->high};
}

static bool within(const tw_conform_limits *l, double value, double guard)
{
  return (!l->has_low || value >= l->low + guard) && (!l->has_high || value <= l->high - guard);
}

/* mean and spread of a requirement over the builds that have a number */
static void take_batch(const tw_certify_ask *ask, tw_certified_result *r)
{
  const size_t output = ask->builds ? tw_study_output(ask->study, r->id) : SIZE_MAX;
  double n = 0, sum = 0, squares = 0;
  for (size_t i = 0; output != SIZE_MAX && i < ask->builds->count; i++) {
    if (ask->builds->outcome[i * ask->builds->outputs + output] == TW_OUTCOME_OK) {
      const double y = ask->builds->y[i * ask->builds->outputs + output];
      n += 1;
      sum += y;
      squares += y * y;
    }
  }
  if (n >= 20) { /* fewer say nothing about a spread */
    r->batch_mean = sum / n;
    r->batch_sd = sqrt(fmax(squares / n - r->batch_mean * r->batch_mean, 0) * n / (n - 1));
    r->has_batch = r->batch_sd > 0;
  }
}

static tw_status guard_of(const tw_certify_ask *ask, tw_certified_result *r, tw_fault *fault)
{
  const tw_conform_limits limits = limits_of(r->limit);
  const tw_unit_prior prior = {TW_PRIOR_NORMAL, r->batch_mean, r->batch_sd, 0};
  r->guard = ask->rule == TW_DECIDE_GUARD ? TW_GUARD_SCORE * r->u : 0;
  if (ask->rule != TW_DECIDE_RISK) {
    return TW_OK;
  }
  if (!r->has_batch) {
    return tw_fail(fault, TW_BAD_INPUT, tw_measure_about(r->id)->name,
                   "give --batch, or another rule", "a wanted risk needs the batch");
  }
  const tw_status status = tw_guard_for(&prior, r->u, &limits, ask->risk, false, &r->guard, fault);
  r->guard = fmax(r->guard, 0); /* a good batch would let the limit out: never beyond it */
  return status;
}

static tw_status judge_number(const tw_certify_ask *ask, tw_certified_result *r, tw_fault *fault)
{
  const tw_conform_limits limits = limits_of(r->limit);
  tw_unit_known flat, known;
  if (!(r->u > 0)) {
    return tw_fail(fault, TW_BAD_INPUT, tw_measure_about(r->id)->name,
                   "write it with its expanded uncertainty: 0.105 N ± 0.006 N",
                   "a reading without uncertainty decides nothing");
  }
  take_batch(ask, r);
  const tw_unit_prior prior = {TW_PRIOR_NORMAL, r->batch_mean, r->batch_sd, 0};
  tw_status status = guard_of(ask, r, fault);
  if (status == TW_OK && r->has_batch) {
    status = tw_risks_of(&prior, r->u, &limits, r->guard, &r->risks, fault);
  }
  if (status == TW_OK) {
    status = tw_unit_after(NULL, r->value, r->u, &limits, &flat, fault);
  }
  if (status == TW_OK) {
    status = tw_unit_after(r->has_batch && ask->batch_agreed ? &prior : NULL, r->value, r->u,
                           &limits, &known, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  r->conforms_flat = flat.conforms;
  r->conforms = known.conforms;
  r->verdict = within(&limits, r->value, r->guard)    ? TW_CERTIFIED_PASSES
               : within(&limits, r->value, -r->guard) ? TW_CERTIFIED_OPEN
                                                      : TW_CERTIFIED_FAILS;
  return TW_OK;
}

/* ---- all together -------------------------------------------------------------------------------
 */

/* one build measured once: is it accepted in all, and is it bad in one? */
static void measure_once(const tw_certified_result *result, size_t count, const tw_certify_ask *ask,
                         size_t build, tw_random *random, bool *accepted, bool *bad)
{
  const tw_builds *b = ask->builds;
  *accepted = true;
  *bad = false;
  for (size_t i = 0; i < count; i++) {
    if (!result[i].has_batch) {
      continue;
    }
    const size_t at = build * b->outputs + tw_study_output(ask->study, result[i].id);
    const tw_conform_limits limits = limits_of(result[i].limit);
    const bool number = b->outcome[at] == TW_OUTCOME_OK;
    const double reading = b->y[at] + result[i].u * tw_random_normal(random);
    *bad = *bad || !number || !within(&limits, b->y[at], 0);
    *accepted = *accepted && number && within(&limits, reading, result[i].guard);
  }
}

static void together(const tw_certified_result *result, size_t count, const tw_certify_ask *ask,
                     tw_certified_all *all)
{
  tw_random random;
  double n = 0;
  tw_random_start(&random, ask->seed, 1);
  for (size_t i = 0; i < ask->builds->count; i++) {
    for (int k = 0; k < READINGS_A_BUILD; k++) {
      bool accepted, bad;
      measure_once(result, count, ask, i, &random, &accepted, &bad);
      all->together += accepted && bad;
      all->accepted += accepted;
      n += 1;
    }
  }
  all->together /= n;
  all->accepted /= n;
}

tw_status tw_certify(tw_certified_result *result, size_t count, const tw_certify_ask *ask,
                     tw_certified_all *all, tw_fault *fault)
{
  *all = (tw_certified_all){0};
  for (size_t i = 0; i < count; i++) {
    tw_certified_result *r = &result[i];
    tw_status status = TW_OK;
    if (r->read && r->word) {
      r->verdict = r->limit->word && strcmp(r->word, r->limit->word) == 0 ? TW_CERTIFIED_PASSES
                                                                          : TW_CERTIFIED_FAILS;
    } else if (r->read) {
      status = judge_number(ask, r, fault);
    }
    if (status != TW_OK) {
      return status;
    }
    all->read += r->read;
    all->passes += r->verdict == TW_CERTIFIED_PASSES;
    all->fails += r->verdict == TW_CERTIFIED_FAILS;
    all->open += r->verdict == TW_CERTIFIED_OPEN;
    all->sum += r->has_batch ? r->risks.consumer : 0;
    all->has_batch = all->has_batch || r->has_batch;
  }
  if (all->has_batch) {
    together(result, count, ask, all);
  }
  return TW_OK;
}
