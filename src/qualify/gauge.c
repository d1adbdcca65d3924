/* gauge.c: analysis of variance: one factor, and parts crossed with operators. */
#include "inner.h"
#include "tripwright/qualify_gauge.h"
#include "tripwright/qualify_stats.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

static tw_anova_row row(long double squares, double dof)
{
  return (tw_anova_row){(double)squares, dof, (double)(squares / (long double)dof), 0.0, 1.0};
}

/* F of a row against a mean square, with its probability */
static void test(tw_anova_row *r, double mean_square, double dof)
{
  if (mean_square > 0.0) {
    r->f = r->mean_square / mean_square;
    r->p = gsl_cdf_fdist_Q(r->f, r->dof, dof);
  }
}

/* ---- one factor ---------------------------------------------------------------------------------
 */

tw_status tw_one_way_of(const double *x, const uint32_t *group, size_t n, size_t groups,
                        tw_one_way *out, tw_fault *fault)
{
  if (groups < 2 || n <= groups) {
    return tw_fail(fault, TW_BAD_INPUT, "groups", "take two or more readings in each",
                   "%zu readings in %zu groups cannot be compared", n, groups);
  }
  tw_status status = tw_all_finite(x, n, "reading", fault);
  long double *sum = tw_alloc(groups, 2 * sizeof *sum), *count = sum ? sum + groups : NULL;
  if (status != TW_OK || !sum) {
    tw_free(sum);
    return status != TW_OK ? status : tw_no_memory(fault);
  }
  /* about the first reading, so that a common offset costs no digits */
  const long double origin = (long double)x[0];
  long double mean = 0.0L, between = 0.0L, within = 0.0L;
  for (size_t i = 0; i < n; i++) {
    sum[group[i]] += (long double)x[i] - origin;
    count[group[i]] += 1.0L;
    mean += ((long double)x[i] - origin) / (long double)n;
  }
  for (size_t g = 0; g < groups && status == TW_OK; g++) {
    if (count[g] == 0.0L) {
      status = tw_fail(fault, TW_BAD_INPUT, "groups", "number them without gaps",
                       "group %zu is empty", g + 1);
    }
    sum[g] /= count[g] > 0.0L ? count[g] : 1.0L;
    between += count[g] * (sum[g] - mean) * (sum[g] - mean);
  }
  for (size_t i = 0; i < n; i++) {
    const long double d = (long double)x[i] - origin - sum[group[i]];
    within += d * d;
  }
  tw_free(sum);
  if (status != TW_OK) {
    return status;
  }
  out->between = row(between, (double)(groups - 1));
  out->within = row(within, (double)(n - groups));
  test(&out->between, out->within.mean_square, out->within.dof);
  out->r_squared = between + within > 0.0L ? (double)(between / (between + within)) : 0.0;
  out->s = (double)sqrtl(within / (long double)(n - groups));
  return TW_OK;
}

/* ---- crossed ------------------------------------------------------------------------------------
 */

struct study {
  const double *x;
  const uint32_t *part, *operator_;
  size_t n, parts, operators, trials;
  long double *cell, *by_part, *by_operator; /* sums about the first reading, then means */
  long double mean;
};

static tw_status balanced(struct study *s, tw_fault *fault)
{
  if (s->parts < 2 || s->operators < 1 || s->n == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "parts",
                   "ten parts, three operators, three trials are usual",
                   "%zu parts and %zu operators make no study", s->parts, s->operators);
  }
  size_t *count = tw_alloc(s->parts * s->operators, sizeof *count);
  if (!count) {
    return tw_no_memory(fault);
  }
  for (size_t i = 0; i < s->n; i++) {
    count[s->part[i] * s->operators + s->operator_[i]]++;
  }
  tw_status status = TW_OK;
  s->trials = count[0];
  for (size_t c = 0; c < s->parts * s->operators && status == TW_OK; c++) {
    if (count[c] != s->trials || count[c] < 2) {
      status = tw_fail(fault, TW_BAD_INPUT, "trials",
                       "measure every part under every operator equally often, at least twice",
                       "part %zu, operator %zu has %zu readings, part 1, operator 1 has %zu",
                       c / s->operators + 1, c % s->operators + 1, count[c], s->trials);
    }
  }
  tw_free(count);
  return status;
}

/* means of cells, parts, operators and all */
static tw_status means(struct study *s, tw_fault *fault)
{
  const size_t cells = s->parts * s->operators;
  s->cell = tw_alloc(cells + s->parts + s->operators, sizeof *s->cell);
  if (!s->cell) {
    return tw_no_memory(fault);
  }
  s->by_part = s->cell + cells;
  s->by_operator = s->by_part + s->parts;
  const long double trials = (long double)s->trials;
  for (size_t i = 0; i < s->n; i++) {
    const size_t c = s->part[i] * s->operators + s->operator_[i];
    s->cell[c] += ((long double)s->x[i] - (long double)s->x[0]) / trials;
  }
  for (size_t c = 0; c < cells; c++) {
    s->by_part[c / s->operators] += s->cell[c] / (long double)s->operators;
    s->by_operator[c % s->operators] += s->cell[c] / (long double)s->parts;
    s->mean += s->cell[c] / (long double)cells;
  }
  return TW_OK;
}

static void squares(const struct study *s, tw_gauge *g)
{
  const size_t p = s->parts, o = s->operators, r = s->trials;
  long double part = 0.0L, operator_ = 0.0L, both = 0.0L, error = 0.0L, total = 0.0L;
  for (size_t c = 0; c < p * o; c++) {
    const long double a = s->by_part[c / o] - s->mean, b = s->by_operator[c % o] - s->mean;
    const long double rest = s->cell[c] - s->mean - a - b;
    part += a * a * (long double)r;
    operator_ += b * b * (long double)r;
    both += rest * rest * (long double)r;
  }
  for (size_t i = 0; i < s->n; i++) {
    const long double x = (long double)s->x[i] - (long double)s->x[0];
    const long double d = x - s->cell[s->part[i] * o + s->operator_[i]];
    error += d * d;
    total += (x - s->mean) * (x - s->mean);
  }
  g->part = row(part, (double)(p - 1));
  g->error = row(error, (double)(p * o * (r - 1)));
  g->total = row(total, (double)(p * o * r - 1));
  if (o > 1) {
    g->operator_ = row(operator_, (double)(o - 1));
    g->interaction = row(both, (double)((p - 1) * (o - 1)));
  } else {
    g->operator_ = g->interaction = (tw_anova_row){.p = 1.0};
  }
}

/* F of the random model: part and operator against the interaction */
static void tests(tw_gauge *g, double pool_above)
{
  const tw_anova_row *e = &g->error, *both = &g->interaction;
  const bool crossed = g->operators > 1;
  test(&g->interaction, e->mean_square, e->dof);
  test(&g->part, crossed ? both->mean_square : e->mean_square, crossed ? both->dof : e->dof);
  if (crossed) {
    test(&g->operator_, both->mean_square, both->dof);
  }
  if (e->mean_square > 0.0) {
    g->f_error[0] = g->part.mean_square / e->mean_square;
    g->f_error[1] = g->operator_.mean_square / e->mean_square;
    g->f_error[2] = both->mean_square / e->mean_square;
  }
  g->pooled = crossed && both->p > pool_above;
}

static double root(double variance, bool *negative)
{
  *negative |= variance < 0.0;
  return variance > 0.0 ? sqrt(variance) : 0.0;
}

static void components(tw_gauge *g, double tolerance)
{
  const double p = (double)g->parts, o = (double)g->operators, r = (double)g->trials;
  double error = g->error.mean_square, both = g->interaction.mean_square;
  if (g->pooled) {
    error = (g->interaction.squares + g->error.squares) / (g->interaction.dof + g->error.dof);
    both = error;
  } else if (g->operators == 1) {
    both = error;
  }
  g->ev = sqrt(error);
  if (g->operators > 1) {
    g->interaction_s = g->pooled ? 0.0 : root((both - error) / r, &g->negative);
    g->av = root((g->operator_.mean_square - both) / (p * r), &g->negative);
  }
  g->pv = root((g->part.mean_square - both) / (o * r), &g->negative);
  g->grr = sqrt(g->ev * g->ev + g->av * g->av + g->interaction_s * g->interaction_s);
  g->tv = hypot(g->grr, g->pv);
  const double whole = g->tv > 0.0 ? 100.0 / g->tv : 0.0;
  g->percent_grr = whole * g->grr;
  g->percent_ev = whole * g->ev;
  g->percent_av = whole * g->av;
  g->percent_pv = whole * g->pv;
  g->tolerance_percent = tolerance > 0.0 ? 600.0 * g->grr / tolerance : 0.0;
  g->ndc_exact = g->grr > 0.0 ? 1.41 * g->pv / g->grr : (double)INFINITY;
  g->ndc = floor(g->ndc_exact);
}

static tw_status start(struct study *s, tw_fault *fault)
{
  tw_status status = tw_all_finite(s->x, s->n, "reading", fault);
  status = status == TW_OK ? balanced(s, fault) : status;
  return status == TW_OK ? means(s, fault) : status;
}

tw_status tw_gauge_crossed(const double *reading, const uint32_t *part, const uint32_t *operator_,
                           size_t n, size_t parts, size_t operators, tw_gauge_rules rules,
                           tw_gauge *out, tw_fault *fault)
{
  struct study s = {.x = reading, .part = part, .operator_ = operator_, .n = n};
  s.parts = parts;
  s.operators = operators;
  const tw_status status = start(&s, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_gauge){.parts = parts, .operators = operators, .trials = s.trials};
  squares(&s, out);
  tw_free(s.cell);
  tests(out, rules.pool_above);
  components(out, rules.tolerance);
  return TW_OK;
}

/* ---- average and range
 * ---------------------------------------------------------------------------- */

/* mean square of the range of n normal values, by the trapezium rule: E W^2 = 2 x the integral over
 * x < y of 1 - P(y)^n - Q(x)^n + (P(y) - P(x))^n; see tw_d2 */
static double mean_square_range(size_t n)
{
  const double h = 0.02;
  double sum = 0.0, p[1001], q[1001];
  for (int i = 0; i <= 1000; i++) {
    p[i] = gsl_cdf_ugaussian_P((i - 500) * h);
    q[i] = gsl_cdf_ugaussian_Q((i - 500) * h);
  }
  for (int i = 0; i <= 1000; i++) {
    for (int j = i; j <= 1000; j++) {
      const double f =
          1.0 - pow(p[j], (double)n) - pow(q[i], (double)n) + pow(p[j] - p[i], (double)n);
      sum += (i == j ? 1.0 : 2.0) * f * h * h;
    }
  }
  return sum;
}

/* d2* for g ranges of n: sqrt(d2^2 + d3^2 / g); g = 0 stands for many */
static double range_divisor(size_t n, size_t g)
{
  const double d2 = tw_d2(n), d3_squared = mean_square_range(n) - d2 * d2;
  return sqrt(d2 * d2 + (g ? d3_squared / (double)g : 0.0));
}

tw_status tw_range_factors_for(size_t parts, size_t operators, size_t trials, tw_range_factors *out,
                               tw_fault *fault)
{
  if (parts < 2 || parts > 200 || operators < 1 || operators > 200 || trials < 2 || trials > 20) {
    return tw_fail(fault, TW_BAD_INPUT, "trials", "use the analysis of variance instead",
                   "no range factors for %zu parts, %zu operators, %zu trials", parts, operators,
                   trials);
  }
  const double d2 = tw_d2(trials);
  *out = (tw_range_factors){
      .k1 = 1.0 / range_divisor(trials, parts * operators > 15 ? 0 : parts * operators)};
  out->k2 = operators > 1 ? 1.0 / range_divisor(operators, 1) : 0.0;
  out->k3 = 1.0 / range_divisor(parts, 1);
  out->d4 = 1.0 + 3.0 * sqrt(mean_square_range(trials) - d2 * d2) / d2;
  return TW_OK;
}

static double range_of(const long double *v, size_t n)
{
  long double low = v[0], high = v[0];
  for (size_t i = 1; i < n; i++) {
    low = fminl(low, v[i]);
    high = fmaxl(high, v[i]);
  }
  return (double)(high - low);
}

/* range of one cell */
static double cell_range(const struct study *s, size_t cell)
{
  double low = (double)INFINITY, high = -(double)INFINITY;
  for (size_t i = 0; i < s->n; i++) {
    if (s->part[i] * s->operators + s->operator_[i] == cell) {
      low = fmin(low, s->x[i]);
      high = fmax(high, s->x[i]);
    }
  }
  return high - low;
}

tw_status tw_gauge_average_range(const double *reading, const uint32_t *part,
                                 const uint32_t *operator_, size_t n, size_t parts,
                                 size_t operators, const tw_range_factors *factors,
                                 tw_gauge_ranges *out, tw_fault *fault)
{
  struct study s = {.x = reading, .part = part, .operator_ = operator_, .n = n};
  s.parts = parts;
  s.operators = operators;
  tw_status status = start(&s, fault);
  tw_range_factors f = {0};
  if (status == TW_OK) {
    status = factors ? TW_OK : tw_range_factors_for(parts, operators, s.trials, &f, fault);
  }
  if (status != TW_OK) {
    tw_free(s.cell);
    return status;
  }
  *out = (tw_gauge_ranges){.factors = factors ? *factors : f};
  f = out->factors;
  const size_t cells = parts * operators;
  for (size_t c = 0; c < cells; c++) {
    out->mean_range += cell_range(&s, c) / (double)cells;
  }
  out->range_limit = f.d4 * out->mean_range;
  for (size_t c = 0; c < cells; c++) {
    out->beyond += cell_range(&s, c) > out->range_limit;
  }
  out->operator_range = range_of(s.by_operator, operators);
  out->part_range = range_of(s.by_part, parts);
  tw_free(s.cell);
  out->ev = out->mean_range * f.k1;
  const double a = out->operator_range * f.k2;
  out->av = sqrt(fmax(0.0, a * a - out->ev * out->ev / (double)(parts * s.trials)));
  out->grr = hypot(out->ev, out->av);
  out->pv = out->part_range * f.k3;
  out->tv = hypot(out->grr, out->pv);
  out->percent_grr = out->tv > 0.0 ? 100.0 * out->grr / out->tv : 0.0;
  out->ndc_exact = out->grr > 0.0 ? 1.41 * out->pv / out->grr : (double)INFINITY;
  out->ndc = floor(out->ndc_exact);
  return TW_OK;
}
