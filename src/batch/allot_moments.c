/* allot_moments.c: builds of a design with a set of grades: moments, slopes, counts. */
#include "allot_inside.h"

#include "tripwright/study_fast.h"
#include "tripwright/study_stats.h"

#include <math.h>
#include <string.h>

/* builds from which mean, spread and skewness at the middle grades are taken */
#define BASE_BUILDS 10000

tw_status tw_allot_builds(allot *a, size_t count, tw_builds **out)
{
  tw_sampler *sampler = NULL;
  *out = NULL;
  tw_status status = tw_study_sampler(a->study, NULL, 0, a->ask->seed, &sampler, a->fault);
  if (status == TW_OK) {
    status = tw_builds_new(0, count, a->study->outputs, out, a->fault);
  }
  if (status == TW_OK) {
    const tw_study_model model = tw_study_as_model(a->study);
    const tw_spread_options options = {.threads = a->study->level.threads};
    status = tw_spread_run(&model, sampler, *out, &options, a->progress, a->fault);
  }
  tw_sampler_free(sampler);
  if (status != TW_OK) {
    tw_builds_free(*out);
    *out = NULL;
  }
  return status;
}

tw_status tw_allot_count_set(allot *a, const tw_allot_set *set, size_t builds, tw_allot_count *out)
{
  tw_builds *b;
  *out = (tw_allot_count){.builds = builds};
  tw_allot_laws(a, set);
  const tw_status status = tw_allot_builds(a, builds, &b);
  if (status != TW_OK) {
    return status;
  }
  const tw_study *s = a->study;
  for (size_t i = 0; i < builds; i++) {
    bool good = true;
    for (size_t g = 0; g < s->goals; g++) {
      const bool kept =
          tw_goal_margin(&s->goal[g], &b->y[i * b->outputs], &b->outcome[i * b->outputs]) >= 0;
      out->own[g] += kept;
      good = good && kept;
    }
    out->good += good;
  }
  for (size_t g = 0; g < s->goals; g++) {
    out->own[g] /= (double)builds;
  }
  out->share = (double)out->good / (double)builds;
  tw_yield_interval(out->good, builds, 0.95, &out->low, &out->high);
  tw_builds_free(b);
  return TW_OK;
}

tw_status tw_allot_by_engine(allot *a, const tw_allot_set *set, tw_allot_count *out)
{
  a->tables = a->study->fast;
  a->study->fast = NULL;
  const tw_status status = tw_allot_count_set(a, set, a->ask->builds, out);
  a->study->fast = a->tables;
  a->tables = NULL;
  return status;
}

/* ---- moments
 * -------------------------------------------------------------------------------------- */

static void rules_of(allot *a)
{
  tw_allot_problem *p = &a->answer->problem;
  p->rules = a->study->goals;
  for (size_t g = 0; g < p->rules; g++) {
    const tw_goal *goal = &a->study->goal[g];
    p->rule[g] = (tw_allot_rule){.name = goal->name,
                                 .has_low = goal->has_low,
                                 .has_high = goal->has_high,
                                 .low = goal->low,
                                 .high = goal->high};
  }
}

/* number of a rule in a build that has all of them */
static double value_at(const allot *a, const tw_builds *b, size_t build, size_t rule)
{
  return b->y[build * b->outputs + a->study->goal[rule].output];
}

static bool has_all(const allot *a, const tw_builds *b, size_t build)
{
  bool all = true;
  for (size_t g = 0; g < a->study->goals; g++) {
    all = all && b->outcome[build * b->outputs + a->study->goal[g].output] == TW_OUTCOME_OK;
  }
  return all;
}

static tw_status take_moments(allot *a, const tw_builds *b)
{
  tw_allot_problem *p = &a->answer->problem;
  double n = 0;
  for (size_t i = 0; i < b->count; i++) {
    for (size_t r = 0; has_all(a, b, i) && r < p->rules; r++) {
      p->rule[r].mean += value_at(a, b, i, r);
      n += r == 0;
    }
  }
  if (n < 2) {
    return tw_fail(a->fault, TW_NO_ANSWER, NULL, "tripwright spread says why",
                   "builds with the middle grades have no figures");
  }
  for (size_t r = 0; r < p->rules; r++) {
    p->rule[r].mean /= n;
  }
  for (size_t i = 0; i < b->count; i++) {
    for (size_t r = 0; has_all(a, b, i) && r < p->rules; r++) {
      const double d = value_at(a, b, i, r) - p->rule[r].mean;
      p->rule[r].variance += d * d / n;
      p->rule[r].third += d * d * d / n;
      for (size_t q = 0; q < r; q++) {
        p->covariance[r][q] += d * (value_at(a, b, i, q) - p->rule[q].mean) / n;
        p->covariance[q][r] = p->covariance[r][q];
      }
    }
  }
  return TW_OK;
}

/* ---- slopes
 * ----------------------------------------------------------------------------------------- */

static double deviation(const tw_varied *law)
{
  const double half = (law->minus + law->plus) / 2;
  return half / 2; /* within the zone of every law */
}

/* effect of one input at x0: values one step below and above the middle */
static void take_slope(allot *a, size_t input, double step, const double *at, const double *y)
{
  tw_allot_problem *p = &a->answer->problem;
  const size_t outputs = a->study->outputs;
  size_t dim = 0;
  while (dim < p->dims && a->answer->field[dim].input != input) {
    dim++;
  }
  for (size_t r = 0; r < p->rules; r++) {
    const size_t o = a->study->goal[r].output;
    const double slope = (y[outputs + o] - y[o]) / (2 * step);
    if (dim < p->dims) {
      p->rule[r].slope[dim] = slope;
      p->rule[r].half[dim] = (y[outputs + o] + y[o] - 2 * at[o]) / (2 * step * step);
    } else {
      const double moved = fabs(slope) * (a->law[input].minus + a->law[input].plus) / 2;
      p->rule[r].other_sum += moved;
      p->rule[r].other_squares += moved * moved;
    }
  }
}

static void fill_points(const allot *a, double *x, double *step)
{
  const tw_study *s = a->study;
  for (size_t k = 0; k < s->inputs; k++) {
    const tw_varied *law = &s->input[k].law;
    x[k] = law->centre + (law->law == TW_LAW_NORMAL ? (law->plus - law->minus) / 2 : 0);
    step[k] = deviation(law);
  }
  for (size_t k = 0; k < s->inputs; k++) {
    for (size_t side = 0; side < 2; side++) {
      double *at = x + (1 + 2 * k + side) * s->inputs;
      memcpy(at, x, s->inputs * sizeof *x);
      at[k] += side ? step[k] : -step[k];
    }
  }
}

static tw_status take_slopes(allot *a)
{
  const tw_study *s = a->study;
  const size_t points = 1 + 2 * s->inputs;
  double *x = tw_alloc(points * s->inputs, sizeof *x),
         *y = tw_alloc(points * s->outputs, sizeof *y);
  double step[TW_FIELD_COUNT];
  unsigned char *outcome = tw_alloc(points * s->outputs, 1);
  tw_status status = TW_NO_MEMORY;
  if (x && y && outcome) {
    const tw_study_model model = tw_study_as_model(a->study);
    fill_points(a, x, step);
    status =
        tw_study_points(&model, points, x, y, outcome, s->level.threads, a->progress, a->fault);
  } else {
    tw_fail(a->fault, TW_NO_MEMORY, NULL, NULL, "no memory for the slopes");
  }
  for (size_t r = 0; status == TW_OK && r < a->answer->problem.rules; r++) {
    a->answer->problem.rule[r].middle = y[s->goal[r].output];
  }
  for (size_t k = 0; status == TW_OK && k < s->inputs; k++) {
    if (step[k] > 0) {
      take_slope(a, k, step[k], y, y + (1 + 2 * k) * s->outputs);
    }
  }
  tw_free(x);
  tw_free(y);
  tw_free(outcome);
  return status;
}

/* ---- open
 * ------------------------------------------------------------------------------------------- */

/* tables over the loosest zones, those of the file among them */
static tw_status make_tables(allot *a, size_t checks)
{
  tw_sampler *sampler = NULL;
  const tw_allot_set loosest = {{0}, 0};
  tw_allot_laws(a, &loosest);
  for (size_t i = 0; i < a->answer->problem.dims; i++) {
    tw_varied *law = &a->study->input[a->answer->field[i].input].law;
    law->minus = law->plus = fmax(law->plus, a->answer->field[i].now);
  }
  tw_status status = tw_study_sampler(a->study, NULL, 0, a->ask->seed, &sampler, a->fault);
  if (status == TW_OK) {
    status = tw_study_hasten(a->study, sampler, checks, a->progress, a->fault);
  }
  tw_sampler_free(sampler);
  return status;
}

tw_status tw_allot_open(allot *a, size_t checks)
{
  tw_study *s = a->study;
  tw_allot_problem *p = &a->answer->problem;
  tw_status status = tw_study_add_toleranced(s, a->fault);
  if (status == TW_OK && (s->goals == 0 || s->goals > TW_ALLOT_RULES)) {
    return tw_fail(a->fault, TW_BAD_INPUT, "requirements", "state what a good unit must keep",
                   "the file has %s requirements", s->goals ? "more than 16" : "no");
  }
  for (size_t k = 0; k < s->inputs; k++) {
    a->law[k] = s->input[k].law;
  }
  if (status == TW_OK) {
    status = tw_allot_dims(a);
  }
  if (status == TW_OK) {
    status = make_tables(a, checks);
  }
  if (status != TW_OK) {
    return status;
  }
  p->target = a->ask->target;
  p->own = a->ask->own;
  p->other_cost = a->ask->other_cost;
  rules_of(a);
  tw_allot_set middle = {{0}, 0};
  for (size_t i = 0; i < p->dims; i++) {
    middle.grade[i] = (unsigned char)(p->dim[i].grades / 2);
    p->dim[i].base = p->dim[i].share * p->dim[i].hold[middle.grade[i]];
  }
  tw_allot_laws(a, &middle);
  tw_builds *b;
  status = tw_allot_builds(a, BASE_BUILDS, &b);
  if (status == TW_OK) {
    status = take_moments(a, b);
    tw_builds_free(b);
  }
  return status == TW_OK ? take_slopes(a) : status;
}

void tw_allot_close(allot *a)
{
  tw_allot_laws(a, NULL);
}
