/* checks.c: do the readings look like readings? steps of resolution, odd ones, trends, jumps. */
#include "inner.h"
#include "quantile.h"
#include "tripwright/qualify_stats.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double *sorted_copy(const double *x, size_t n)
{
  double *copy = tw_alloc(n, sizeof *copy);
  if (copy && n) {
    memcpy(copy, x, n * sizeof *copy);
    qsort(copy, n, sizeof *copy, tw_compare_doubles);
  }
  return copy;
}

/* ---- resolution ------------------------------------------------------------------------------ */

#define TW_STEP_SLACK  0.1  /* a difference is "whole" within this part of a step */
#define TW_STEP_CHANCE 0.01 /* ... and all of them are, more often than this by chance */

/* readings that have moments, in ascending order (tw_free) */
static tw_status sorted_readings(const double *x, size_t n, tw_moments *m, double **value,
                                 tw_fault *fault)
{
  const tw_status status = tw_moments_of(x, n, 0.95, m, fault);
  *value = status == TW_OK ? sorted_copy(x, n) : NULL;
  return status == TW_OK && !*value ? tw_no_memory(fault) : status;
}

/* Least-squares step through the whole multiples of `step` that the gaps from the first value
 * show; 0 if one of them is not whole. */
static double refined_step(const double *value, size_t distinct, double step)
{
  double with = 0.0, of = 0.0;
  for (size_t i = 1; i < distinct; i++) {
    const double gap = value[i] - value[i - 1], multiple = round(gap / step);
    if (fabs(gap / step - multiple) > TW_STEP_SLACK) {
      return 0.0;
    }
    with += multiple * gap;
    of += multiple * multiple;
  }
  return of > 0.0 ? with / of : 0.0;
}

tw_status tw_step_of(const double *x, size_t n, tw_step_found *out, tw_fault *fault)
{
  tw_moments m;
  double *value = NULL;
  const tw_status status = sorted_readings(x, n, &m, &value, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_step_found){0};
  size_t distinct = 1;
  double least = INFINITY;
  for (size_t i = 1; i < n; i++) {
    if (value[i] != value[distinct - 1]) {
      least = fmin(least, value[i] - value[distinct - 1]);
      value[distinct++] = value[i];
    }
  }
  out->distinct = distinct;
  const size_t ties = n - distinct;
  /* each further gap is whole by chance in 2 * slack of all cases */
  const double chance = distinct > 2 ? pow(2.0 * TW_STEP_SLACK, (double)(distinct - 2)) : 1.0;
  if (distinct > 1 && (ties >= 2 || chance < TW_STEP_CHANCE)) {
    out->step = refined_step(value, distinct, least);
    out->found = out->step > 0.0;
    out->limits = out->found && out->step > 0.5 * m.s;
  } else if (distinct == 1) {
    /* every reading the same: the step is larger than the spread, how large nobody knows */
    out->limits = true;
  }
  tw_free(value);
  return TW_OK;
}

/* ---- odd readings ---------------------------------------------------------------------------- */

static double median_of_sorted(const double *v, size_t n)
{
  return n % 2 ? v[n / 2] : 0.5 * (v[n / 2 - 1] + v[n / 2]);
}

/* G_crit = (n-1)/sqrt n sqrt(t^2/(n-2+t^2)), t at 0.05/(2n): Grubbs (1969) */
static double grubbs_limit(size_t n)
{
  if (n < 3) {
    return 0.0;
  }
  const double count = (double)n, t = tw_student_high(0.05 / (2.0 * count), count - 2.0);
  return (count - 1.0) / sqrt(count) * sqrt(t * t / (count - 2.0 + t * t));
}

tw_status tw_odd_ones_of(const double *x, size_t n, tw_odd_ones *out, tw_fault *fault)
{
  tw_moments m;
  double *value = NULL;
  const tw_status status = sorted_readings(x, n, &m, &value, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_odd_ones){.grubbs_limit = grubbs_limit(n)};
  const double median = median_of_sorted(value, n);
  for (size_t i = 0; i < n; i++) {
    value[i] = fabs(x[i] - median);
  }
  qsort(value, n, sizeof *value, tw_compare_doubles);
  /* more than half the readings equal: fall back on the mean deviation */
  double spread = median_of_sorted(value, n) / 0.6745;
  double sum = 0.0;
  for (size_t i = 0; i < n; i++) {
    sum += value[i];
  }
  spread = spread > 0.0 ? spread : 1.253314 * sum / (double)n;
  out->median = median;
  out->spread = spread;
  for (size_t i = 0; i < n; i++) {
    const double score = spread > 0.0 ? (x[i] - median) / spread : 0.0;
    if (fabs(score) > 3.5 && out->count++ < TW_ODD_MOST) {
      out->index[out->count - 1] = i;
      out->score[out->count - 1] = score;
    }
    out->farthest = fabs(x[i] - m.mean) > fabs(x[out->farthest] - m.mean) ? i : out->farthest;
  }
  out->grubbs = m.s > 0.0 ? fabs(x[out->farthest] - m.mean) / m.s : 0.0;
  tw_free(value);
  return TW_OK;
}

/* ---- trend and jump -------------------------------------------------------------------------- */

#define TW_RUN_P 0.01

static void find_trend(const double *x, size_t n, tw_run_checks *out)
{
  long double mean, squares, sxy = 0.0L;
  tw_sums_of(x, n, &mean, &squares);
  const long double middle = 0.5L * (long double)(n - 1);
  for (size_t i = 0; i < n; i++) {
    sxy += ((long double)i - middle) * ((long double)x[i] - mean);
  }
  const long double count = (long double)n, sxx = count * (count * count - 1.0L) / 12.0L;
  out->slope = (double)(sxy / sxx);
  const long double rest = fmaxl(squares - sxy * sxy / sxx, 0.0L);
  const double u = (double)sqrtl(rest / (count - 2.0L) / sxx);
  out->slope_p = out->slope == 0.0 ? 1.0
                 : u > 0.0         ? tw_t_probability(out->slope / u, (double)n - 2.0)
                                   : 0.0;
  out->trend = out->slope_p < TW_RUN_P;
}

/* the split k | n-k with the largest t between the two means, at least 2 on a side */
static void find_jump(const double *x, size_t n, tw_run_checks *out)
{
  long double mean, squares, before = 0.0L;
  tw_sums_of(x, n, &mean, &squares);
  double best = 0.0;
  for (size_t k = 1; k + 2 <= n; k++) {
    before += (long double)x[k - 1] - mean;
    if (k < 2) {
      continue;
    }
    /* mean over all is 0 here, so the other side's sum is -before */
    const long double first = (long double)k, second = (long double)(n - k);
    const long double step = -before / second - before / first;
    const long double between = before * before * (1.0L / first + 1.0L / second);
    const long double within = fmaxl(squares - between, 0.0L) / (long double)(n - 2);
    const double u = (double)sqrtl(within * (1.0L / first + 1.0L / second));
    const double t = u > 0.0 ? fabs((double)step) / u : step != 0.0L ? (double)INFINITY : 0.0;
    if (t > best) {
      best = t;
      out->step_after = k;
      out->step = (double)step;
    }
  }
  const double p = isinf(best) ? 0.0 : (double)(n - 3) * tw_t_probability(best, (double)n - 2.0);
  out->step_p = p < 1.0 ? p : 1.0;
  out->jump = out->step_p < TW_RUN_P;
}

tw_status tw_run_checks_of(const double *x, size_t n, tw_run_checks *out, tw_fault *fault)
{
  if (n < 4) {
    return tw_fail(fault, TW_BAD_INPUT, "readings", "take ten or more",
                   "%zu readings are too few to see a trend or a jump", n);
  }
  const tw_status status = tw_all_finite(x, n, "reading", fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_run_checks){0};
  find_trend(x, n, out);
  find_jump(x, n, out);
  return TW_OK;
}
