/* moments.c: mean, s, 2s, 4s, range, and how far a few readings pin them down. */
#include "inner.h"
#include "quantile.h"
#include "tripwright/qualify_stats.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>

void tw_sums_of(const double *reading, size_t n, long double *mean, long double *squares)
{
  /* two passes about the first reading; the second takes off what the mean was short of */
  const long double origin = n ? (long double)reading[0] : 0.0L;
  long double sum = 0.0L;
  for (size_t i = 0; i < n; i++) {
    sum += (long double)reading[i] - origin;
  }
  const long double offset = n ? sum / (long double)n : 0.0L;
  long double ss = 0.0L, rest = 0.0L;
  for (size_t i = 0; i < n; i++) {
    const long double d = (long double)reading[i] - origin - offset;
    ss += d * d;
    rest += d;
  }
  *mean = origin + offset + (n ? rest / (long double)n : 0.0L);
  *squares = n ? ss - rest * rest / (long double)n : 0.0L;
  if (*squares < 0.0L) {
    *squares = 0.0L;
  }
}

double tw_c4(size_t n)
{
  const double half = 0.5 * (double)n;
  return exp(gsl_sf_lngamma(half) - gsl_sf_lngamma(half - 0.5)) / sqrt(half - 0.5);
}

/* E W = integral of 1 - P^n - Q^n. The trapezium rule: the integrand is smooth and dies off at both
 * ends, where the rule converges faster than any power of the step. */
double tw_d2(size_t n)
{
  const double h = 0.01;
  double sum = 0.0;
  for (int i = -1000; i <= 1000; i++) {
    const double p = gsl_cdf_ugaussian_P(i * h), q = gsl_cdf_ugaussian_Q(i * h);
    sum += (1.0 - pow(p, (double)n) - pow(q, (double)n)) * h;
  }
  return sum;
}

tw_interval tw_range_interval(const tw_moments *m)
{
  const double d2 = tw_d2(m->n);
  return (tw_interval){d2 * m->s_interval.low, d2 * m->s_interval.high};
}

/* sum of (x_i - m)(x_{i+1} - m) over the sum of squares, as NIST StRD defines it */
static double lag_one(const double *x, size_t n, long double mean, long double squares)
{
  long double sum = 0.0L;
  for (size_t i = 0; i + 1 < n; i++) {
    sum += ((long double)x[i] - mean) * ((long double)x[i + 1] - mean);
  }
  return squares > 0.0L ? (double)(sum / squares) : 0.0;
}

tw_interval tw_s_interval(double s, double dof, double level)
{
  const double tail = 0.5 * (1.0 - level);
  return (tw_interval){s * sqrt(dof / tw_chi_squared_high(tail, dof)),
                       s * sqrt(dof / tw_chi_squared_low(tail, dof))};
}

tw_status tw_moments_of(const double *x, size_t n, double level, tw_moments *out, tw_fault *fault)
{
  if (n < 2) {
    return tw_fail(fault, TW_BAD_INPUT, "readings", "take at least five, better ten or more",
                   "%zu reading%s: no spread can be told", n, n == 1 ? "" : "s");
  }
  if (!(level > 0.0 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "level", "0.95 is usual",
                   "a level of %g is not between 0 and 1", level);
  }
  const tw_status status = tw_all_finite(x, n, "reading", fault);
  if (status != TW_OK) {
    return status;
  }
  long double mean, squares;
  tw_sums_of(x, n, &mean, &squares);
  const double dof = (double)(n - 1);
  tw_moments m = {.n = n, .mean = (double)mean, .level = level, .least = x[0], .greatest = x[0]};
  m.s = (double)sqrtl(squares / (long double)(n - 1));
  for (size_t i = 1; i < n; i++) {
    m.least = x[i] < m.least ? x[i] : m.least;
    m.greatest = x[i] > m.greatest ? x[i] : m.greatest;
  }
  m.two_s = 2.0 * m.s;
  m.four_s = 4.0 * m.s;
  m.range = m.greatest - m.least;
  m.s_of_mean = m.s / sqrt((double)n);
  m.c4 = tw_c4(n);
  m.s_unbiased = m.s / m.c4;
  m.lag_one = lag_one(x, n, mean, squares);
  const double half = tw_t_factor(level, dof) * m.s_of_mean;
  m.mean_interval = (tw_interval){m.mean - half, m.mean + half};
  m.s_interval = tw_s_interval(m.s, dof, level);
  if (!isfinite(m.s) || !isfinite(m.mean) || !isfinite(m.range) || !isfinite(m.s_interval.high)) {
    return tw_fail(fault, TW_NO_ANSWER, "readings", "are the units right?",
                   "the readings are too large to square");
  }
  *out = m;
  return TW_OK;
}

/* ---- groups ---------------------------------------------------------------------------------- */

void tw_groups_free(tw_groups *groups)
{
  if (groups) {
    tw_free(groups->group);
    *groups = (tw_groups){0};
  }
}

/* largest variance over their sum: Cochran (1941); the probability is bounded by k times that of
 * one group, exact where it is small */
static void cochran(tw_groups *g)
{
  double sum = 0.0, largest = 0.0, dof = 0.0;
  for (size_t i = 0; i < g->count; i++) {
    const double v = g->group[i].moments.s * g->group[i].moments.s;
    sum += v;
    if (v >= largest) {
      largest = v;
      dof = (double)(g->group[i].moments.n - 1);
    }
  }
  g->s_largest = sqrt(largest);
  g->cochran = sum > 0.0 ? largest / sum : 0.0;
  g->cochran_p = 1.0;
  const double others = (double)(g->count - 1);
  if (g->count > 1 && g->cochran > 0.0 && g->cochran < 1.0) {
    const double f = g->cochran * others / (1.0 - g->cochran);
    const double p = (double)g->count * gsl_cdf_fdist_Q(f, dof, g->dof_pooled - dof);
    g->cochran_p = p < 1.0 ? p : 1.0;
  } else if (g->count > 1 && g->cochran >= 1.0) {
    g->cochran_p = 0.0;
  }
}

static tw_status one_group(const double *x, const uint32_t *code, size_t n, uint32_t wanted,
                           double level, double *room, tw_moments *out, tw_fault *fault)
{
  size_t count = 0;
  for (size_t i = 0; i < n; i++) {
    if (code[i] == wanted) {
      room[count++] = x[i];
    }
  }
  return tw_moments_of(room, count, level, out, fault);
}

tw_status tw_groups_of(const double *x, const uint32_t *code, size_t n, size_t codes, double level,
                       tw_groups *out, tw_fault *fault)
{
  *out = (tw_groups){0};
  double *room = tw_alloc(n, sizeof *room);
  tw_group *group = tw_alloc(codes, sizeof *group);
  tw_status status = room && group ? TW_OK : tw_no_memory(fault);
  double squares = 0.0;
  for (uint32_t c = 0; c < codes && status == TW_OK; c++) {
    group[c].code = c;
    status = one_group(x, code, n, c, level, room, &group[c].moments, fault);
    const double dof = (double)group[c].moments.n - 1.0;
    squares += dof * group[c].moments.s * group[c].moments.s;
    out->dof_pooled += dof;
  }
  tw_free(room);
  if (status != TW_OK) {
    tw_free(group);
    *out = (tw_groups){0};
    return status;
  }
  out->count = codes;
  out->group = group;
  out->s_pooled = sqrt(squares / out->dof_pooled);
  out->s_interval = tw_s_interval(out->s_pooled, out->dof_pooled, level);
  cochran(out);
  return TW_OK;
}

/* ---- shares and differences --------------------------------------------------------------------
 */

tw_status tw_share_of(size_t events, size_t n, double level, tw_share *out, tw_fault *fault)
{
  if (n == 0 || events > n || !(level > 0.0 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "trips", "count tries and events again",
                   "%zu events in %zu tries at level %g", events, n, level);
  }
  const double tail = 0.5 * (1.0 - level), k = (double)events, m = (double)(n - events);
  out->events = events;
  out->n = n;
  out->share = k / (double)n;
  out->interval.low = events == 0 ? 0.0 : tw_beta_low(tail, k, m + 1.0);
  out->interval.high = events == n ? 1.0 : tw_beta_high(tail, k + 1.0, m);
  return TW_OK;
}

tw_status tw_difference_of(const double *a, size_t na, const double *b, size_t nb, double level,
                           tw_difference *out, tw_fault *fault)
{
  tw_moments ma, mb;
  tw_status status = tw_moments_of(a, na, level, &ma, fault);
  if (status == TW_OK) {
    status = tw_moments_of(b, nb, level, &mb, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  const double va = ma.s_of_mean * ma.s_of_mean, vb = mb.s_of_mean * mb.s_of_mean;
  out->difference = ma.mean - mb.mean;
  out->u = sqrt(va + vb);
  const double weights = va * va / (double)(na - 1) + vb * vb / (double)(nb - 1);
  /* all readings equal: no spread at all, so the degrees of freedom do not matter */
  out->dof = weights > 0.0 ? (va + vb) * (va + vb) / weights : (double)(na + nb - 2);
  const double half = tw_t_factor(level, out->dof) * out->u;
  out->interval = (tw_interval){out->difference - half, out->difference + half};
  out->significant = out->interval.low > 0.0 || out->interval.high < 0.0;
  return TW_OK;
}
