/* remedy.c: the search for the smallest change, stage by stage, and its ranking. */
#include "remedy_parts.h"
#include "tripwright/parallel.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#define BUDGET 20000

/* ---- levers ---------------------------------------------------------------------------------- */

static tw_status check_lever(const tw_lever *lever, tw_fault *fault)
{
  if (lever->choices) {
    for (size_t i = 0; i < lever->choice_count; i++) {
      if (!isfinite(lever->choices[i]) || (i > 0 && !(lever->choices[i] > lever->choices[i - 1]))) {
        return tw_fail(fault, TW_BAD_INPUT, lever->name, "list each value once, ascending",
                       "choice %zu is out of order", i + 1);
      }
    }
    if (lever->choice_count == 0) {
      return tw_fail(fault, TW_BAD_INPUT, lever->name, "list at least one value",
                     "there is nothing to choose from");
    }
  }
  const double a = tw_lever_low(lever), b = tw_lever_high(lever);
  if (!isfinite(a) || !isfinite(b) || a > b || (lever->logarithmic && a <= 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, lever->name, "give a range within which it may change",
                   "%g to %g is no range", a, b);
  }
  if (!(lever->now >= a && lever->now <= b)) {
    return tw_fail(fault, TW_BAD_INPUT, lever->name, "widen the range or change the design",
                   "the design's value %g lies outside its own range %g to %g", lever->now, a, b);
  }
  return TW_OK;
}

/* ---- the stages in order --------------------------------------------------------------------- */

/* the design as it is: its margins, the judge's word, and its yield */
static tw_status look_at_design(tw_search *s, tw_fault *fault)
{
  tw_remedies *out = s->out;
  const tw_remedy_problem *p = s->problem;
  const tw_remedy_options *o = s->options;
  tw_status status = tw_search_margins(s, 0, NULL, 0, s->margins0, fault);
  if (status != TW_OK) {
    return status;
  }
  out->evaluations = 1;
  out->margin = tw_search_least(s, s->margins0, &out->worst);
  out->met = out->margin >= p->safety - s->options->allowance;
  if (out->met && o->judge) {
    tw_remedy none = {0};
    status = o->judge(o->self, &none, &out->met, fault);
  }
  if (status == TW_OK && o->yield) {
    status = o->yield(o->self, p->x0, &out->yield, fault);
    out->has_yield = status == TW_OK;
    out->met = out->met && out->yield >= o->yield_wanted;
  }
  return status;
}

/* single changes, then more together, then all */
static tw_status attempt(tw_search *s, tw_fault *fault)
{
  tw_remedies *out = s->out;
  tw_status status = tw_search_singles(s, fault);
  status = status == TW_OK ? tw_search_prove(s, fault) : status;
  const size_t deepest = s->options->most_changes ? s->options->most_changes : 3;
  for (size_t depth = 2; status == TW_OK && depth <= deepest && depth <= s->count; depth++) {
    status = tw_search_joint(s, depth, fault);
    status = status == TW_OK ? tw_search_prove(s, fault) : status;
  }
  bool found = out->count > 0;
  if (status == TW_OK && !found && s->count > 0) {
    status = tw_search_all(s, &found, fault);
    status = status == TW_OK ? tw_search_prove(s, fault) : status;
  }
  return status;
}

/* A design whose margins are kept and that is not met all the same (its yield is too low, or the
 * judge says no) must go further in: so much, one after another. */
static const double further[] = {0.05, 0.15, 0.4};
#define FURTHER (sizeof further / sizeof further[0])

/* the margins that are tried one after another until a remedy is found; returns how many */
static size_t attempts(const tw_search *s, double *safety)
{
  const tw_remedy_problem *p = s->problem;
  const double least = p->safety - s->options->allowance;
  if (s->out->margin < least) {
    safety[0] = p->safety;
    safety[1] = least;
    return s->options->allowance > 0 ? 2 : 1;
  }
  for (size_t i = 0; i < FURTHER; i++) {
    safety[i] = fmax(s->out->margin + further[i], p->safety);
  }
  return FURTHER;
}

static tw_status stages(tw_search *s, tw_fault *fault)
{
  double safety[FURTHER];
  tw_remedies *out = s->out;
  tw_status status = look_at_design(s, fault);
  out->judged = s->options->judge;
  if (status != TW_OK || out->met) {
    return status;
  }
  status = tw_search_scan(s, fault);
  const bool kept = out->margin >= s->problem->safety - s->options->allowance;
  const size_t tries = attempts(s, safety);
  for (size_t i = 0; i < tries && status == TW_OK && out->count == 0; i++) {
    s->safety = safety[i];
    status = attempt(s, fault);
    out->eased = !kept && i > 0 && out->count > 0;
  }
  if (status == TW_OK && out->count == 0 && !kept && out->refused + out->short_of == 0) {
    status = tw_search_exclusion(s, fault);
  }
  return status;
}

static bool take_memory(tw_search *s, size_t workers)
{
  const tw_remedy_problem *p = s->problem;
  s->lever = tw_alloc(p->lever_count, sizeof *s->lever);
  s->start = tw_alloc(p->lever_count + 1, sizeof *s->start);
  s->margins0 = tw_alloc(p->limit_count, sizeof *s->margins0);
  s->x = tw_alloc(workers * p->model->inputs, sizeof *s->x);
  s->y = tw_alloc(workers * p->model->outputs, sizeof *s->y);
  s->m = tw_alloc(workers * p->limit_count, sizeof *s->m);
  s->outcome = tw_alloc(workers * p->model->outputs, 1);
  return s->lever && s->start && s->margins0 && s->x && s->y && s->m && s->outcome;
}

static void give_back(tw_search *s)
{
  tw_free(s->lever);
  tw_free(s->start);
  tw_free(s->value);
  tw_free(s->margins);
  tw_free(s->margins0);
  tw_free(s->x);
  tw_free(s->y);
  tw_free(s->m);
  tw_free(s->outcome);
}

tw_status tw_remedy_search(const tw_remedy_problem *problem, const tw_remedy_options *options,
                           const tw_progress *progress, tw_remedies *out, tw_fault *fault)
{
  static const tw_remedy_options plain = {0};
  *out = (tw_remedies){0};
  options = options ? options : &plain;
  for (size_t i = 0; i < problem->lever_count; i++) {
    assert(problem->levers[i].part < problem->remake_count);
    const tw_status status = check_lever(&problem->levers[i], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  if (problem->limit_count == 0) {
    out->met = true;
    return TW_OK;
  }
  tw_search s = {.problem = problem, .options = options, .progress = progress, .out = out};
  s.safety = problem->safety;
  s.budget = options->budget ? options->budget : BUDGET;
  tw_status status = TW_NO_MEMORY;
  if (take_memory(&s, (size_t)tw_threads(options->threads))) {
    for (size_t i = 0; i < problem->lever_count; i++) {
      if (!problem->remakes[problem->levers[i].part].fixed) {
        s.lever[s.count++] = i;
      }
    }
    status = stages(&s, fault);
  } else {
    tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu levers", problem->lever_count);
  }
  give_back(&s);
  return status;
}
