/* remedy.c: the search for the smallest change, stage by stage, and its ranking. */
#include "remedy_parts.h"
#include "tripwright/parallel.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#define WANTED 5
#define BUDGET 20000

/* ---- levers ---------------------------------------------------------------------------------- */

static double lower_end(const tw_lever *lever)
{
  return lever->choices ? lever->choices[0] : lever->least;
}

static double upper_end(const tw_lever *lever)
{
  return lever->choices ? lever->choices[lever->choice_count - 1] : lever->most;
}

double tw_lever_share(const tw_lever *lever, double value)
{
  const double a = lower_end(lever), b = upper_end(lever);
  if (!(b > a)) {
    return 0.0;
  }
  return lever->logarithmic ? log(value / a) / log(b / a) : (value - a) / (b - a);
}

double tw_lever_value(const tw_lever *lever, double share)
{
  const double a = lower_end(lever), b = upper_end(lever);
  if (share <= 0.0) {
    return a;
  }
  if (share >= 1.0) {
    return b;
  }
  return lever->logarithmic ? a * pow(b / a, share) : a + share * (b - a);
}

double tw_lever_step(const tw_lever *lever, double from, double to)
{
  if (lever->unordered) {
    return from == to ? 0.0 : 0.5;
  }
  return fabs(tw_lever_share(lever, to) - tw_lever_share(lever, from));
}

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
  const double a = lower_end(lever), b = upper_end(lever);
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

/* ---- margins --------------------------------------------------------------------------------- */

static double cut(double margin)
{
  return margin > TW_MARGIN_MOST     ? TW_MARGIN_MOST
         : margin >= -TW_MARGIN_MOST ? margin
                                     : -TW_MARGIN_MOST;
}

/* A limit of zero has no shares: what keeps it keeps it with any margin. */
static double shared(const tw_goal *limit, double margin)
{
  const bool zero = (limit->has_low && limit->low == 0) || (limit->has_high && limit->high == 0);
  return zero && margin >= 0 ? TW_MARGIN_MOST : margin;
}

tw_status tw_search_margins(const tw_search *s, int worker, const tw_change *change, size_t n,
                            double *m, tw_fault *fault)
{
  const tw_remedy_problem *p = s->problem;
  const size_t w = (size_t)worker, in = p->model->inputs, out = p->model->outputs;
  double *x = &s->x[w * in], *y = &s->y[w * out];
  unsigned char *outcome = &s->outcome[w * out];
  memcpy(x, p->x0, in * sizeof *x);
  for (size_t i = 0; i < n; i++) {
    x[p->levers[change[i].lever].input] = change[i].to;
  }
  const tw_status status = tw_study_evaluate(p->model, worker, x, y, outcome, fault);
  if (status == TW_OK) {
    for (size_t k = 0; k < p->limit_count; k++) {
      m[k] = cut(shared(&p->limits[k], tw_goal_margin(&p->limits[k], y, outcome)));
    }
  }
  return status;
}

double tw_search_least(const tw_search *s, const double *m, size_t *worst)
{
  double least = m[0];
  size_t which = 0;
  for (size_t k = 1; k < s->problem->limit_count; k++) {
    if (m[k] < least) {
      least = m[k];
      which = k;
    }
  }
  if (worst) {
    *worst = which;
  }
  return least;
}

/* ---- ranking --------------------------------------------------------------------------------- */

void tw_search_price(const tw_search *s, const tw_change *change, size_t n, double *time,
                     double *cost)
{
  const tw_remedy_problem *p = s->problem;
  *time = *cost = 0.0;
  for (size_t i = 0; i < n; i++) {
    const size_t part = p->levers[change[i].lever].part;
    bool counted = false;
    for (size_t j = 0; j < i; j++) {
      counted = counted || p->levers[change[j].lever].part == part;
    }
    if (!counted) {
      *time = fmax(*time, p->remakes[part].time);
      *cost += p->remakes[part].cost;
    }
  }
}

void tw_remedy_fill(const tw_search *s, tw_remedy *remedy, const double *m)
{
  tw_search_price(s, remedy->change, remedy->changes, &remedy->time, &remedy->cost);
  remedy->size = 0.0;
  for (size_t i = 0; i < remedy->changes; i++) {
    const tw_lever *lever = &s->problem->levers[remedy->change[i].lever];
    remedy->size += tw_lever_step(lever, lever->now, remedy->change[i].to);
  }
  remedy->margin = tw_search_least(s, m, &remedy->worst);
}

static int order(double a, double b)
{
  return a < b ? -1 : a > b;
}

int tw_remedy_compare(const tw_remedy *a, const tw_remedy *b)
{
  int c = order(a->warnings, b->warnings);
  c = c ? c : order(a->time, b->time);
  c = c ? c : order(a->cost, b->cost);
  c = c ? c : order((double)a->changes, (double)b->changes);
  /* sizes are sums of shares: differences from rounding are none */
  c = c ? c : fabs(a->size - b->size) <= 1e-9 ? 0 : order(a->size, b->size);
  /* equal in all that counts: by lever and value, so that the order never depends on chance */
  for (size_t i = 0; c == 0 && i < a->changes; i++) {
    c = order((double)a->change[i].lever, (double)b->change[i].lever);
    c = c ? c : order(a->change[i].to, b->change[i].to);
  }
  return c;
}

static bool same_levers(const tw_remedy *a, const tw_remedy *b)
{
  bool same = a->changes == b->changes;
  for (size_t i = 0; same && i < a->changes; i++) {
    same = a->change[i].lever == b->change[i].lever;
  }
  return same;
}

void tw_search_keep(tw_search *s, const tw_remedy *remedy)
{
  tw_remedies *out = s->out;
  for (size_t i = 0; i < out->count; i++) {
    if (same_levers(&out->remedy[i], remedy)) {
      if (tw_remedy_compare(&out->remedy[i], remedy) <= 0) {
        return;
      }
      memmove(&out->remedy[i], &out->remedy[i + 1], (out->count - i - 1) * sizeof out->remedy[0]);
      out->count--;
      break;
    }
  }
  size_t at = out->count;
  while (at > 0 && tw_remedy_compare(remedy, &out->remedy[at - 1]) < 0) {
    at--;
  }
  if (at == TW_REMEDIES_MOST) {
    return;
  }
  const size_t last = out->count < TW_REMEDIES_MOST ? out->count : TW_REMEDIES_MOST - 1;
  memmove(&out->remedy[at + 1], &out->remedy[at], (last - at) * sizeof out->remedy[0]);
  out->remedy[at] = *remedy;
  out->count = last + 1;
}

bool tw_search_wants(const tw_search *s, double time, double cost)
{
  const size_t wanted = s->options->wanted ? s->options->wanted : WANTED;
  if (s->out->count < wanted) {
    return true;
  }
  const tw_remedy *last = &s->out->remedy[wanted - 1];
  return last->warnings > 0 || time < last->time || (time == last->time && cost < last->cost);
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
