/* remedy_refine.c: a change made as small, or a margin as large, as a local search can make it. */
#include "remedy_parts.h"

#include <math.h>
#include <nlopt.h>
#include <string.h>

#define HALVINGS        12
#define REFINE_EACH     30 /* evaluations of the constrained search for each lever */
#define FIRST_STEP      0.1
#define SHARE_PRECISION 1e-4

/* one local search: which changes move, where, and the best point so far */
typedef struct local {
  const tw_search *s;
  int worker;
  tw_change *change; /* the point under way: all changes */
  size_t n;
  size_t *moving; /* places of the continuous ones */
  size_t moves;
  const size_t *only; /* limits that count, NULL: all */
  size_t only_count;
  double safety, enough;
  double best; /* least margin (raising) or size (refining) of the best point */
  tw_change *best_change;
  bool have_best;
  size_t used, most;
  tw_status status;
  tw_fault *fault;
  nlopt_opt opt;
} local;

static double *margins_of(const local *l)
{
  return &l->s->m[(size_t)l->worker * l->s->problem->limit_count];
}

static const tw_lever *lever_of(const local *l, size_t place)
{
  return &l->s->problem->levers[l->change[place].lever];
}

static double least_of(const local *l, const double *m)
{
  if (!l->only) {
    return tw_search_least(l->s, m, NULL);
  }
  double least = m[l->only[0]];
  for (size_t i = 1; i < l->only_count; i++) {
    least = fmin(least, m[l->only[i]]);
  }
  return least;
}

static double size_of(const local *l)
{
  double size = 0.0;
  for (size_t i = 0; i < l->n; i++) {
    const tw_lever *lever = lever_of(l, i);
    size += tw_lever_step(lever, lever->now, l->change[i].to);
  }
  return size;
}

/* evaluate the point u; false: stop (failure or enough) */
static bool evaluate_at(local *l, const double *u)
{
  for (size_t i = 0; i < l->moves; i++) {
    l->change[l->moving[i]].to = tw_lever_value(lever_of(l, l->moving[i]), u[i]);
  }
  if (l->status == TW_OK) {
    l->used++;
    l->status = tw_search_margins(l->s, l->worker, l->change, l->n, margins_of(l), l->fault);
  }
  if (l->status != TW_OK || l->used >= l->most) {
    nlopt_force_stop(l->opt);
  }
  return l->status == TW_OK;
}

static void note_best(local *l, double value)
{
  l->best = value;
  l->have_best = true;
  memcpy(l->best_change, l->change, l->n * sizeof *l->change);
}

/* ---- raising the smallest margin: maximise t with every margin >= t ---------------------------
 */

static double slack(unsigned n, const double *u, double *gradient, void *self)
{
  (void)gradient;
  (void)self;
  return -u[n - 1];
}

static void above_slack(unsigned count, double *result, unsigned n, const double *u,
                        double *gradient, void *self)
{
  (void)gradient;
  local *l = self;
  const double *m = margins_of(l);
  const bool ok = evaluate_at(l, u);
  for (unsigned k = 0; k < count; k++) {
    result[k] = ok ? u[n - 1] - m[l->only ? l->only[k] : k] : 0.0;
  }
  if (!ok) {
    return;
  }
  const double least = least_of(l, m);
  if (!l->have_best || least > l->best) {
    note_best(l, least);
    if (least >= l->enough) {
      nlopt_force_stop(l->opt);
    }
  }
}

/* ---- shrinking a change: minimise its size with every margin >= safety -------------------------
 */

/* every lever stays on its side of the design, so its step is linear in u */
static double step_sum(unsigned n, const double *u, double *gradient, void *self)
{
  (void)gradient;
  const local *l = self;
  double sum = 0.0;
  for (unsigned i = 0; i < n; i++) {
    const tw_lever *lever = lever_of(l, l->moving[i]);
    sum += fabs(u[i] - tw_lever_share(lever, lever->now));
  }
  return sum;
}

static void above_safety(unsigned count, double *result, unsigned n, const double *u,
                         double *gradient, void *self)
{
  (void)gradient;
  (void)n;
  local *l = self;
  const double *m = margins_of(l);
  const bool ok = evaluate_at(l, u);
  for (unsigned k = 0; k < count; k++) {
    result[k] = ok ? l->safety - m[k] : 0.0;
  }
  if (ok && least_of(l, m) >= l->safety) {
    const double size = size_of(l);
    if (!l->have_best || size < l->best) {
      note_best(l, size);
    }
  }
}

/* ---- running NLopt -----------------------------------------------------------------------------
 */

/* Powell's COBYLA from the present point; start[] has room for moves + 1 numbers, as have low, high
 */
static tw_status run_cobyla(local *l, bool raising, double *start, double *low, double *high)
{
  const unsigned n = (unsigned)l->moves + raising;
  const size_t limits = l->only ? l->only_count : l->s->problem->limit_count;
  for (size_t i = 0; i < l->moves; i++) {
    const tw_lever *lever = lever_of(l, l->moving[i]);
    const double design = tw_lever_share(lever, lever->now);
    start[i] = tw_lever_share(lever, l->change[l->moving[i]].to);
    low[i] = raising || start[i] < design ? 0.0 : design;
    high[i] = raising || start[i] >= design ? 1.0 : design;
    start[i] = fmin(fmax(start[i], low[i]), high[i]);
  }
  if (raising) {
    start[n - 1] = fmin(fmax(l->best, -TW_MARGIN_MOST), TW_MARGIN_MOST);
    low[n - 1] = -2.0 * TW_MARGIN_MOST;
    high[n - 1] = 2.0 * TW_MARGIN_MOST;
  }
  l->opt = nlopt_create(NLOPT_LN_COBYLA, n);
  if (!l->opt) {
    return tw_fail(l->fault, TW_NO_MEMORY, "", NULL, "no memory for a search over %u fields", n);
  }
  nlopt_set_lower_bounds(l->opt, low);
  nlopt_set_upper_bounds(l->opt, high);
  nlopt_set_min_objective(l->opt, raising ? slack : step_sum, l);
  nlopt_add_inequality_mconstraint(l->opt, (unsigned)limits, raising ? above_slack : above_safety,
                                   l, NULL);
  nlopt_set_initial_step1(l->opt, FIRST_STEP);
  nlopt_set_xtol_abs1(l->opt, SHARE_PRECISION);
  nlopt_set_maxeval(l->opt, (int)l->most);
  double value = 0.0;
  const nlopt_result result = nlopt_optimize(l->opt, start, &value);
  nlopt_destroy(l->opt);
  if (result == NLOPT_OUT_OF_MEMORY) {
    return tw_fail(l->fault, TW_NO_MEMORY, "", NULL, "no memory for a search over %u fields", n);
  }
  return l->status;
}

/* scratch for one local search over n changes */
typedef struct scratch {
  tw_change *best;
  size_t *moving;
  double *numbers;
} scratch;

static bool take_scratch(scratch *c, size_t n)
{
  c->best = tw_alloc(n, sizeof *c->best);
  c->moving = tw_alloc(n, sizeof *c->moving);
  c->numbers = tw_alloc(3 * (n + 1), sizeof *c->numbers);
  return c->best && c->moving && c->numbers;
}

static void free_scratch(scratch *c)
{
  tw_free(c->best);
  tw_free(c->moving);
  tw_free(c->numbers);
}

static void find_moving(local *l)
{
  l->moves = 0;
  for (size_t i = 0; i < l->n; i++) {
    const tw_lever *lever = lever_of(l, i);
    if (!lever->choices && lever->most > lever->least) {
      l->moving[l->moves++] = i;
    }
  }
}

tw_status tw_search_raise(const tw_search *s, int worker, tw_change *change, size_t n,
                          const size_t *only, size_t only_count, double enough, size_t most,
                          double *best, size_t *used, tw_fault *fault)
{
  scratch c = {0};
  local l = {.s = s,
             .worker = worker,
             .change = change,
             .n = n,
             .only = only,
             .only_count = only_count,
             .enough = enough,
             .most = most,
             .fault = fault};
  tw_status status = take_scratch(&c, n)
                         ? TW_OK
                         : tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu fields", n);
  if (status == TW_OK) {
    l.best_change = c.best;
    l.moving = c.moving;
    find_moving(&l);
    l.used++;
    status = tw_search_margins(s, worker, change, n, margins_of(&l), fault);
    if (status == TW_OK) {
      note_best(&l, least_of(&l, margins_of(&l)));
    }
  }
  if (status == TW_OK && l.moves > 0 && l.best < enough && l.used < most) {
    status = run_cobyla(&l, true, c.numbers, &c.numbers[n + 1], &c.numbers[2 * (n + 1)]);
  }
  if (status == TW_OK) {
    memcpy(change, l.best_change, n * sizeof *change);
    *best = l.best;
  }
  *used += l.used;
  free_scratch(&c);
  return status;
}

/* ---- refining ----------------------------------------------------------------------------------
 */

/* along the straight way (in shares) from the design: the smallest part of the change that keeps
 * the limits; lists stay */
static tw_status shorten(local *l)
{
  tw_change whole[TW_REMEDY_CHANGES];
  memcpy(whole, l->best_change, l->n * sizeof *whole);
  double a = 0.0, b = 1.0;
  for (int i = 0; i < HALVINGS && l->moves > 0; i++) {
    const double part = 0.5 * (a + b);
    for (size_t k = 0; k < l->moves; k++) {
      const tw_lever *lever = lever_of(l, l->moving[k]);
      const double from = tw_lever_share(lever, lever->now);
      const double to = tw_lever_share(lever, whole[l->moving[k]].to);
      l->change[l->moving[k]].to = tw_lever_value(lever, from + part * (to - from));
    }
    l->used++;
    const tw_status status =
        tw_search_margins(l->s, l->worker, l->change, l->n, margins_of(l), l->fault);
    if (status != TW_OK) {
      return status;
    }
    if (least_of(l, margins_of(l)) >= l->safety) {
      b = part;
      note_best(l, size_of(l));
    } else {
      a = part;
    }
  }
  memcpy(l->change, l->best_change, l->n * sizeof *l->change);
  return TW_OK;
}

/* how many steps further than the nearest value that can be made are tried */
#define STEPS_MORE 4

/* the change in values that can be made: does it keep the limits? */
static tw_status try_made(local *l, int more, bool fine, double *m, bool *ok)
{
  for (size_t i = 0; i < l->n; i++) {
    l->change[i].to = tw_made_value(lever_of(l, i), l->best_change[i].to, more, fine);
  }
  l->used++;
  const tw_status status = tw_search_margins(l->s, l->worker, l->change, l->n, m, l->fault);
  *ok = status == TW_OK && least_of(l, m) >= l->safety;
  return status;
}

/* may the values stand as they are though they fall on no step? */
static bool any_value_does(const local *l)
{
  bool any = true;
  for (size_t i = 0; i < l->n; i++) {
    any = any && (lever_of(l, i)->choices || lever_of(l, i)->made == TW_MADE_ANY);
  }
  return any;
}

/* Values that can be made, if they keep the limits: the nearest, then further steps, then finer
 * ones. m: the margins of what is left in l->best_change. */
static tw_status round_off(local *l, double *m, bool *ok)
{
  const bool any = any_value_does(l);
  tw_status status = TW_OK;
  *ok = false;
  for (int k = 0; status == TW_OK && !*ok && k < (any ? 1 : 2 * STEPS_MORE); k++) {
    status = try_made(l, k % STEPS_MORE, k >= STEPS_MORE, m, ok);
  }
  if (status == TW_OK && *ok) {
    note_best(l, size_of(l));
  } else if (status == TW_OK && any) {
    memcpy(l->change, l->best_change, l->n * sizeof *l->change);
    l->used++;
    *ok = true;
    status = tw_search_margins(l->s, l->worker, l->change, l->n, m, l->fault);
  }
  return status;
}

/* is the start good enough, or can it be made so? */
static tw_status reach_safety(local *l, bool *ok)
{
  double best = 0.0;
  const tw_status status = tw_search_raise(l->s, l->worker, l->change, l->n, NULL, 0, l->safety,
                                           REFINE_EACH * l->n, &best, &l->used, l->fault);
  *ok = status == TW_OK && best >= l->safety;
  return status;
}

static tw_status refine(local *l, double *numbers, tw_remedy *remedy, bool *ok)
{
  tw_status status = reach_safety(l, ok);
  if (status != TW_OK || !*ok) {
    return status;
  }
  note_best(l, size_of(l));
  find_moving(l);
  status = shorten(l);
  if (status == TW_OK && l->moves > 1) {
    l->most = l->used + REFINE_EACH * l->moves;
    status = run_cobyla(l, false, numbers, &numbers[l->n + 1], &numbers[2 * (l->n + 1)]);
  }
  if (status == TW_OK) {
    status = round_off(l, margins_of(l), ok);
  }
  if (status == TW_OK && *ok) {
    memcpy(remedy->change, l->best_change, l->n * sizeof *l->best_change);
    tw_remedy_fill(l->s, remedy, margins_of(l));
  }
  return status;
}

tw_status tw_search_refine(const tw_search *s, int worker, double safety, tw_remedy *remedy,
                           bool *ok, size_t *used, tw_fault *fault)
{
  scratch c = {0};
  tw_change point[TW_REMEDY_CHANGES];
  memcpy(point, remedy->change, sizeof point);
  *ok = false;
  local l = {.s = s,
             .worker = worker,
             .change = point,
             .n = remedy->changes,
             .safety = safety,
             .fault = fault};
  tw_status status = TW_NO_MEMORY;
  if (take_scratch(&c, remedy->changes)) {
    l.best_change = c.best;
    l.moving = c.moving;
    status = refine(&l, c.numbers, remedy, ok);
  } else {
    tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu fields", remedy->changes);
  }
  *used += l.used;
  free_scratch(&c);
  return status;
}
