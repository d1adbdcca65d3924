/* budget_simulate.c: JCGM 101: distributions through the model, in batches until stable. */
#include "budget_inner.h"
#include "inner.h"
#include "tripwright/random.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TW_BATCH ((size_t)10000)

struct simulation {
  const tw_budget *budget;
  tw_formula formula;
  double factor[TW_INPUT_MOST][TW_INPUT_MOST];
  size_t group[TW_INPUT_MOST]; /* first input of the correlated group of each */
  double level, gum_u;
};

/* what Student's t divides a normal by, JCGM 101 6.4.9; with so many degrees of freedom it is the
 * normal */
#define TW_NORMAL_FROM 1e6

static double divisor(const tw_input *in, tw_random *random)
{
  const bool student = in->kind == TW_INPUT_STANDARD || in->kind == TW_INPUT_EXPANDED;
  return student && in->dof < TW_NORMAL_FROM
             ? sqrt(2.0 * tw_random_gamma(random, 0.5 * in->dof) / in->dof)
             : 1.0;
}

/* one draw of an input about its value; z is its standard normal (correlated) over its divisor */
static double draw(const tw_input *in, double z, tw_random *random)
{
  switch (in->kind) {
  case TW_INPUT_RECTANGULAR:
    return in->value + in->width * (2.0 * tw_random_uniform(random) - 1.0);
  case TW_INPUT_TRIANGULAR:
    return in->value + in->width * tw_random_triangular(random);
  case TW_INPUT_ARCSINE:
    return in->value + in->width * tw_random_arcsine(random);
  case TW_INPUT_STANDARD:
  case TW_INPUT_EXPANDED:
    break;
  }
  return in->value + tw_input_u(in) * z;
}

static bool run_batch(const struct simulation *s, uint64_t seed, uint64_t batch, double *y)
{
  const tw_budget *b = s->budget;
  tw_random random;
  tw_random_start(&random, seed, batch);
  for (size_t t = 0; t < TW_BATCH; t++) {
    double z[TW_INPUT_MOST], x[TW_INPUT_MOST], over[TW_INPUT_MOST] = {0.0};
    for (size_t i = 0; i < b->count; i++) {
      z[i] = tw_random_normal(&random);
    }
    for (size_t i = b->count; i-- > 0;) {
      double together = 0.0;
      for (size_t k = 0; k <= i; k++) {
        together += s->factor[i][k] * z[k];
      }
      /* one divisor for a whole group: the joint t keeps its correlation, single ones would not */
      double *chi = &over[s->group[i]];
      *chi = *chi > 0.0 ? *chi : divisor(&b->input[i], &random);
      x[i] = draw(&b->input[i], together / *chi, &random);
    }
    y[t] = tw_formula_value(&s->formula, x);
    if (!isfinite(y[t])) {
      return false;
    }
  }
  return true;
}

/* mean, u and both intervals of m values, which get sorted */
static void figures_of(double *y, size_t m, double level, tw_monte_carlo *out)
{
  qsort(y, m, sizeof *y, tw_compare_doubles);
  long double mean = 0.0L, squares = 0.0L;
  for (size_t i = 0; i < m; i++) {
    mean += (long double)y[i] / (long double)m;
  }
  for (size_t i = 0; i < m; i++) {
    squares += ((long double)y[i] - mean) * ((long double)y[i] - mean);
  }
  out->y = (double)mean;
  out->u = (double)sqrtl(squares / (long double)(m - 1));
  const size_t q = (size_t)floor(level * (double)m + 0.5), r = (m - q) / 2;
  out->low = y[r];
  out->high = y[r + q < m ? r + q : m - 1];
  size_t best = 0;
  for (size_t i = 0; i + q < m; i++) {
    best = y[i + q] - y[i] < y[best + q] - y[best] ? i : best;
  }
  out->shortest_low = y[best];
  out->shortest_high = y[best + q < m ? best + q : m - 1];
}

/* running mean and squares of the four figures over the batches */
struct spread {
  size_t n;
  double mean[4], squares[4];
};

static void add_figures(struct spread *s, const tw_monte_carlo *f)
{
  const double value[4] = {f->y, f->u, f->low, f->high};
  s->n++;
  for (int k = 0; k < 4; k++) {
    const double d = value[k] - s->mean[k];
    s->mean[k] += d / (double)s->n;
    s->squares[k] += d * (value[k] - s->mean[k]);
  }
}

/* 2 s(mean over batches) of every figure from `first` on within the tolerance */
static bool stable(const struct spread *s, int first, double tolerance)
{
  for (int k = first; k < 4; k++) {
    const double n = (double)s->n;
    if (2.0 * sqrt(s->squares[k] / (n * (n - 1.0))) > tolerance) {
      return false;
    }
  }
  return true;
}

/* Student's t has no standard deviation with two degrees of freedom or fewer: then neither has the
 * result, and only the interval can settle */
static bool has_deviation(const tw_budget *b)
{
  for (size_t i = 0; i < b->count; i++) {
    const tw_input_kind kind = b->input[i].kind;
    if (b->input[i].dof <= 2.0 && b->input[i].width > 0.0 &&
        (kind == TW_INPUT_STANDARD || kind == TW_INPUT_EXPANDED)) {
      return false;
    }
  }
  return true;
}

/* u = c 10^l with c of `digits` digits: tolerance 0.5 10^l */
static double tolerance_of(double u, int digits)
{
  return u > 0.0 ? 0.5 * pow(10.0, floor(log10(u)) + 1.0 - digits) : 0.0;
}

static tw_status run(const struct simulation *s, int digits, size_t most, uint64_t seed,
                     const tw_progress *progress, double *y, double *copy, tw_monte_carlo *out,
                     tw_fault *fault)
{
  struct spread spread = {0};
  size_t trials = 0;
  while (trials + TW_BATCH <= most && !out->settled) {
    if (!run_batch(s, seed, trials / TW_BATCH, y + trials)) {
      return tw_fail(fault, TW_NO_ANSWER, "model", "narrow the spreads, or change the model",
                     "the model is not finite everywhere that the inputs reach");
    }
    memcpy(copy, y + trials, TW_BATCH * sizeof *y);
    tw_monte_carlo batch = {0};
    figures_of(copy, TW_BATCH, s->level, &batch);
    add_figures(&spread, &batch);
    trials += TW_BATCH;
    out->tolerance = tolerance_of(out->u_exists ? spread.mean[1] : s->gum_u, digits);
    /* JCGM 101 7.9.4: two batches at the least; ten keep luck out of their own scatter */
    out->settled = spread.n >= 10 && stable(&spread, out->u_exists ? 0 : 2, out->tolerance);
    if (!tw_progress_tick(progress, (double)trials / (double)most, "trials")) {
      return tw_fail(fault, TW_CANCELLED, "", "", "stopped after %zu trials", trials);
    }
  }
  out->trials = trials;
  figures_of(y, trials, s->level, out);
  for (size_t i = 0; i < trials; i++) {
    out->within += y[i] >= out->lower && y[i] <= out->upper;
  }
  return TW_OK;
}

tw_status tw_budget_simulate(const tw_budget *budget, double level, int digits, size_t most,
                             uint64_t seed, const tw_progress *progress, tw_monte_carlo *out,
                             tw_fault *fault)
{
  const double limits[2] = {-(double)INFINITY, (double)INFINITY};
  return tw_budget_simulate_against(budget, level, digits, most, seed, limits, progress, out,
                                    fault);
}

tw_status tw_budget_simulate_against(const tw_budget *budget, double level, int digits, size_t most,
                                     uint64_t seed, const double limits[2],
                                     const tw_progress *progress, tw_monte_carlo *out,
                                     tw_fault *fault)
{
  tw_budget_result gum;
  tw_status status = tw_budget_gum(budget, level, &gum, fault);
  if (status == TW_OK && (digits < 1 || digits > 4 || most < 10 * TW_BATCH)) {
    status = tw_fail(fault, TW_BAD_INPUT, "trials", "two digits and 10000000 trials are usual",
                     "%d digits, %zu trials", digits, most);
  }
  if (status != TW_OK) {
    return status;
  }
  struct simulation s = {.budget = budget, .level = level, .gum_u = gum.u};
  double *y = tw_alloc(most / TW_BATCH * TW_BATCH, sizeof *y);
  double *copy = tw_alloc(TW_BATCH, sizeof *copy);
  tw_monte_carlo r = {.level = level,
                      .seed = seed,
                      .u_exists = has_deviation(budget),
                      .lower = limits[0],
                      .upper = limits[1]};
  for (size_t i = 0; i < budget->count; i++) {
    s.group[i] = tw_budget_group(budget, i);
  }
  status = !y || !copy ? tw_no_memory(fault) : tw_budget_formula(budget, &s.formula, fault);
  if (status == TW_OK && tw_budget_factor(budget, s.factor)) {
    status = run(&s, digits, most, seed, progress, y, copy, &r, fault);
  }
  tw_free(y);
  tw_free(copy);
  if (status != TW_OK) {
    return status;
  }
  r.off_low = fabs(gum.y - gum.expanded - r.low);
  r.off_high = fabs(gum.y + gum.expanded - r.high);
  r.gum_holds = r.off_low <= r.tolerance && r.off_high <= r.tolerance;
  *out = r;
  return TW_OK;
}
