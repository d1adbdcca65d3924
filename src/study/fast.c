/* fast.c: tables made by the engine, and held against it. */
#include "fast_tables.h"

#include "tripwright/numerics.h"
#include "tripwright/parallel.h"

#include <gsl/gsl_interp.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* builds by which sums and products are told apart; drawn where no batch draws */
#define TRIALS      48
#define TRIALS_FROM (UINT64_C(1) << 40)

/* one lot of engine builds */
typedef struct lot {
  tw_study *study;
  const tw_fast *fast;
  size_t count;
  double *x;        /* count x TW_FIELD_COUNT */
  double *quantity; /* count x quantities */
  fast_pattern *pattern;
  bool *answered; /* as the middle of the batch */
} lot;

static void lot_free(lot *l)
{
  tw_free(l->x);
  tw_free(l->quantity);
  tw_free(l->pattern);
  tw_free(l->answered);
}

static tw_status lot_new(tw_study *study, const tw_fast *fast, size_t count, lot *l,
                         tw_fault *fault)
{
  *l = (lot){.study = study, .fast = fast, .count = count};
  l->x = tw_alloc(count * TW_FIELD_COUNT, sizeof *l->x);
  l->quantity = tw_alloc(count * fast->quantities, sizeof *l->quantity);
  l->pattern = tw_alloc(count, sizeof *l->pattern);
  l->answered = tw_alloc(count, sizeof *l->answered);
  if (!l->x || !l->quantity || !l->pattern || !l->answered) {
    lot_free(l);
    *l = (lot){0};
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the tables of the fast level");
  }
  return TW_OK;
}

static tw_status some_of_lot(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const lot *l = self;
  tw_direction *direction = tw_alloc(l->fast->directions, sizeof *direction);
  if (!direction) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the tables of the fast level");
  }
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    const tw_assessment *result = NULL;
    memset(direction, 0, l->fast->directions * sizeof *direction);
    status =
        tw_study_engine(l->study, worker, l->x + i * TW_FIELD_COUNT, direction, &result, fault);
    if (status == TW_OK) {
      tw_fast_take(l->study, l->fast, direction, result, l->quantity + i * l->fast->quantities,
                   &l->pattern[i]);
    }
    /* an impossible build has no answer; anything else ends the work */
    status = status == TW_NO_ANSWER || status == TW_BAD_INPUT ? TW_OK : status;
  }
  tw_free(direction);
  return status;
}

static void mark_alike(lot *l)
{
  for (size_t i = 0; i < l->count; i++) {
    l->answered[i] = tw_fast_alike(l->study, l->fast, &l->pattern[i]);
  }
}

static tw_status run_lot(lot *l, const char *what, const tw_progress *progress, tw_fault *fault)
{
  const tw_loop loop = {.count = l->count,
                        .chunk = 2,
                        .threads = l->study->level.threads,
                        .work = some_of_lot,
                        .self = l,
                        .what = what};
  return tw_parallel(&loop, progress, fault);
}

/* ---- tables ---------------------------------------------------------------------------------- */

/* the curve through the nodes of one feature and the middle, for one quantity */
typedef struct curve {
  size_t count;
  double x[FAST_NODES + 1], y[FAST_NODES + 1];
} curve;

static void put_point(curve *c, double x, double y)
{
  size_t at = c->count++;
  for (; at > 0 && c->x[at - 1] > x; at--) {
    c->x[at] = c->x[at - 1];
    c->y[at] = c->y[at - 1];
  }
  c->x[at] = x;
  c->y[at] = y;
}

/* cells of the table: Steffen's curve, which turns only where its nodes do; a straight line through
 * two nodes, straight on past the ends */
static void fill_cells(const curve *c, const fast_feature *f, double *cell, size_t stride)
{
  gsl_interp *way = c->count >= 3 ? gsl_interp_alloc(gsl_interp_steffen, c->count) : NULL;
  if (way) {
    gsl_interp_init(way, c->x, c->y, c->count);
  }
  for (size_t i = 0; i <= FAST_CELLS; i++) {
    const double x = f->from + (double)i / f->per;
    const double inside = fmin(fmax(x, c->x[0]), c->x[c->count - 1]);
    double y = 0;
    if (!way || gsl_interp_eval_e(way, c->x, c->y, inside, NULL, &y) != 0) {
      size_t k = 0;
      for (; k + 2 < c->count && c->x[k + 1] < inside; k++) {
      }
      y = c->count < 2
              ? c->y[0]
              : c->y[k] + (inside - c->x[k]) / (c->x[k + 1] - c->x[k]) * (c->y[k + 1] - c->y[k]);
    }
    cell[i * stride] = y;
  }
  gsl_interp_free(way);
}

/* the table of one feature: nodes are the builds first .. of the lot, the middle its build 0 */
static void fill_feature(tw_fast *fast, size_t feature, const lot *nodes, size_t first)
{
  const fast_feature *f = &fast->feature[feature];
  const size_t q = fast->quantities;
  for (size_t i = 0; i < q; i++) {
    const double middle = nodes->quantity[i];
    curve c = {0};
    put_point(&c, f->azimuth == SIZE_MAX ? fast->middle[f->input] : 0, 0);
    for (size_t k = 0; k < f->nodes; k++) {
      const double value = nodes->quantity[(first + k) * q + i];
      /* a node without an answer, or of the other sign, is left out */
      if (nodes->answered[first + k] && (!fast->product[i] || value / middle > 0)) {
        put_point(&c, f->node[k], fast->product[i] ? log(value / middle) : value - middle);
      }
    }
    fill_cells(&c, f, fast->table + feature * (FAST_CELLS + 1) * q + i, q);
  }
}

static void fill_tables(tw_fast *fast, const lot *nodes)
{
  size_t first = 1;
  for (size_t i = 0; i < fast->quantities; i++) {
    /* only what stays clear of zero can multiply */
    fast->product[i] = fast->product[i] && nodes->quantity[i] > 0;
    fast->base[i] = fast->product[i] ? log(nodes->quantity[i]) : nodes->quantity[i];
  }
  for (size_t f = 0; f < fast->features; f++) {
    fill_feature(fast, f, nodes, first);
    first += fast->feature[f].nodes;
  }
}

/* sum of |table - engine| over a lot, for each quantity */
static void add_errors(const tw_fast *fast, const lot *trial, double *error, double *quantity)
{
  const size_t q = fast->quantities;
  memset(error, 0, q * sizeof *error);
  for (size_t b = 0; b < trial->count; b++) {
    if (trial->answered[b]) {
      tw_fast_look_up(fast, trial->x + b * TW_FIELD_COUNT, quantity);
      for (size_t i = 0; i < q; i++) {
        error[i] += fabs(quantity[i] - trial->quantity[b * q + i]);
      }
    }
  }
}

/* products and sums are both tried, and each quantity takes the nearer one */
static tw_status choose(tw_fast *fast, const lot *nodes, const lot *trial, tw_fault *fault)
{
  const size_t q = fast->quantities;
  double *store = tw_alloc(3 * q, sizeof *store);
  if (!store) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the tables of the fast level");
  }
  double *of_sum = store, *of_product = store + q, *quantity = store + 2 * q;
  memset(fast->product, 0, q * sizeof *fast->product);
  fill_tables(fast, nodes);
  add_errors(fast, trial, of_sum, quantity);
  for (size_t i = 0; i < q; i++) {
    fast->product[i] = true;
  }
  fill_tables(fast, nodes);
  add_errors(fast, trial, of_product, quantity);
  for (size_t i = 0; i < q; i++) {
    fast->product[i] = of_product[i] < of_sum[i];
  }
  fill_tables(fast, nodes);
  tw_free(store);
  return TW_OK;
}

/* ---- making ---------------------------------------------------------------------------------- */

static tw_status fast_new(const tw_study *study, tw_fast **out, tw_fault *fault)
{
  tw_fast *fast = tw_alloc(1, sizeof *fast);
  *out = fast;
  if (!fast) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the tables of the fast level");
  }
  tw_fast_list_features(study, fast);
  fast->directions = tw_assess_directions(
      &(tw_assess_options){.azimuths = study->level.azimuths, .map = study->level.map});
  tw_fast_find_used(study, fast);
  fast->quantities = fast->directions * FAST_OF_DIRECTION + study->outputs;
  fast->base = tw_alloc(fast->quantities, sizeof *fast->base);
  fast->product = tw_alloc(fast->quantities, sizeof *fast->product);
  fast->table =
      tw_alloc((fast->features + 1) * (FAST_CELLS + 1) * fast->quantities, sizeof *fast->table);
  return fast->base && fast->product && fast->table
             ? TW_OK
             : tw_fail(fault, TW_NO_MEMORY, NULL, NULL,
                       "no memory for the tables of the fast level");
}

void tw_fast_free(tw_fast *fast)
{
  if (fast) {
    tw_free(fast->base);
    tw_free(fast->product);
    tw_free(fast->table);
    tw_free(fast);
  }
}

/* the middle, then the nodes of every feature */
static tw_status run_nodes(tw_study *study, tw_fast *fast, lot *nodes, const tw_progress *progress,
                           tw_fault *fault)
{
  size_t count = 1;
  for (size_t f = 0; f < fast->features; f++) {
    count += fast->feature[f].nodes;
  }
  tw_status status = lot_new(study, fast, count, nodes, fault);
  if (status != TW_OK) {
    return status;
  }
  double *x = nodes->x;
  memcpy(x, fast->middle, sizeof fast->middle);
  for (size_t f = 0; f < fast->features; f++) {
    for (size_t k = 0; k < fast->feature[f].nodes; k++) {
      tw_fast_node(fast, f, k, x += TW_FIELD_COUNT);
    }
  }
  status = run_lot(nodes, "tables of the fast level", progress, fault);
  fast->check.engine_builds += count;
  if (status == TW_OK && !nodes->pattern[0].possible) {
    return tw_fail(fault, TW_NO_ANSWER, NULL, "use the engine (leave out --fast)",
                   "the middle of the batch is an impossible build: there is nothing to tabulate");
  }
  if (status == TW_OK) {
    fast->pattern = nodes->pattern[0];
    mark_alike(nodes);
  }
  return status;
}

static tw_status run_draws(tw_study *study, tw_fast *fast, const tw_sampler *sampler,
                           uint64_t first, size_t count, lot *draws, const tw_progress *progress,
                           tw_fault *fault)
{
  tw_status status = lot_new(study, fast, count, draws, fault);
  for (size_t b = 0; status == TW_OK && b < count; b++) {
    tw_sampler_draw(sampler, first + b, draws->x + b * TW_FIELD_COUNT);
  }
  fast->check.engine_builds += count;
  if (status == TW_OK) {
    status = run_lot(draws, "fast level against the engine", progress, fault);
  }
  if (status == TW_OK) {
    mark_alike(draws);
  }
  return status;
}

/* ---- check ----------------------------------------------------------------------------------- */

static tw_fast_error sum_up(double *error, size_t n)
{
  tw_fast_error e = {.builds = n};
  if (n > 0) {
    qsort(error, n, sizeof *error, tw_compare_doubles);
    e.median = error[(n - 1) / 2];
    e.most_of_them = error[(size_t)ceil(0.95 * (double)n) - 1];
    e.most = error[n - 1];
  }
  return e;
}

static bool keeps(const tw_study *study, const double *y, const unsigned char *outcome)
{
  return tw_goals_margin(study->goal, study->goals, y, outcome, NULL) >= 0;
}

/* the outputs of both sides, and how far they are apart; error[outputs][count] */
static void compare(const tw_study *study, tw_fast *fast, const lot *draws, double *quantity,
                    double *error)
{
  const size_t outputs = study->outputs, q = fast->quantities;
  size_t n = 0;
  for (size_t b = 0; b < draws->count; b++) {
    double ours[TW_MEASURE_COUNT], theirs[TW_MEASURE_COUNT];
    unsigned char outcome[TW_MEASURE_COUNT], of_engine[TW_MEASURE_COUNT];
    if (!draws->answered[b]) {
      fast->check.unseen++;
      continue;
    }
    tw_fast_look_up(fast, draws->x + b * TW_FIELD_COUNT, quantity);
    tw_fast_outputs(study, fast, quantity, ours, outcome);
    tw_fast_outputs(study, fast, draws->quantity + b * q, theirs, of_engine);
    fast->check.judged_otherwise += keeps(study, ours, outcome) != keeps(study, theirs, of_engine);
    for (size_t j = 0; j < outputs; j++) {
      const double apart = fabs(ours[j] - theirs[j]);
      error[j * draws->count + n] = theirs[j] > 0 ? apart / theirs[j] : apart;
    }
    n++;
  }
  for (size_t j = 0; j < outputs; j++) {
    fast->check.error[j] = sum_up(error + j * draws->count, n);
  }
}

static tw_status check(tw_study *study, tw_fast *fast, const tw_sampler *sampler, size_t count,
                       const tw_progress *progress, tw_fault *fault)
{
  lot draws = {0};
  tw_status status = run_draws(study, fast, sampler, 0, count, &draws, progress, fault);
  double *store = status == TW_OK
                      ? tw_alloc(study->outputs * count + fast->quantities + 1, sizeof *store)
                      : NULL;
  if (status == TW_OK && !store) {
    status = tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the tables of the fast level");
  }
  if (status == TW_OK) {
    fast->check.builds = count;
    compare(study, fast, &draws, store, store + fast->quantities);
  }
  tw_free(store);
  lot_free(&draws);
  return status;
}

tw_status tw_study_hasten(tw_study *study, const tw_sampler *sampler, size_t checks,
                          const tw_progress *progress, tw_fault *fault)
{
  tw_fast *fast = NULL;
  lot nodes = {0}, trial = {0};
  tw_status status = fast_new(study, &fast, fault);
  status = status == TW_OK ? run_nodes(study, fast, &nodes, progress, fault) : status;
  if (status == TW_OK) {
    status = run_draws(study, fast, sampler, TRIALS_FROM, TRIALS, &trial, progress, fault);
  }
  status = status == TW_OK ? choose(fast, &nodes, &trial, fault) : status;
  status = status == TW_OK ? check(study, fast, sampler, checks, progress, fault) : status;
  lot_free(&nodes);
  lot_free(&trial);
  if (status != TW_OK) {
    tw_fast_free(fast);
    return status;
  }
  study->fast = fast;
  return TW_OK;
}

const tw_fast_check *tw_study_fast_check(const tw_study *study)
{
  return study->fast ? &study->fast->check : NULL;
}

/* ---- the model ------------------------------------------------------------------------------- */

static tw_status evaluate(void *self, int worker, const double *x, double *y,
                          unsigned char *outcome, tw_fault *fault)
{
  const tw_study *study = self;
  double quantity[TW_MEASURE_COUNT + FAST_OF_DIRECTION * (TW_DIRECTIONS_OF_MAP + 361)];
  (void)worker;
  (void)fault;
  tw_fast_look_up(study->fast, x, quantity);
  tw_fast_outputs(study, study->fast, quantity, y, outcome);
  return TW_OK;
}

tw_study_model tw_fast_as_model(tw_study *study)
{
  return (tw_study_model){study->inputs, study->outputs, evaluate, study};
}
