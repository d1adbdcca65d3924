/* chart.c: individuals, moving range and moving average, in the order of making.
 * docs/models/logbook.md 9. */
#include "tripwright/logbook_learn.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_randist.h>
#include <math.h>

#define SIGMAS     3.0
#define TAIL       0.0013498980316300933 /* above three standard deviations */
#define RANGE_SD   0.8525024664          /* sd of the range of two over sigma: sqrt(2 - 4/pi) */
#define ARL_POINTS 200

static tw_status bad(tw_fault *fault, const char *text)
{
  return tw_fail(fault, TW_BAD_INPUT, "", "give two or more finite readings", "%s", text);
}

static bool all_finite(const double *x, size_t n)
{
  for (size_t i = 0; i < n; i++) {
    if (!isfinite(x[i])) {
      return false;
    }
  }
  return true;
}

tw_status tw_individuals_of(const double *x, size_t n, tw_individuals *out, tw_fault *fault)
{
  if (n < 2 || !all_finite(x, n)) {
    return bad(fault, "a chart needs two readings or more");
  }
  long double mean, squares, ranges = 0.0L;
  tw_sums_of(x, n, &mean, &squares);
  for (size_t i = 1; i < n; i++) {
    ranges += fabsl((long double)x[i] - x[i - 1]);
  }
  const double count = (double)n, mr = (double)ranges / (count - 1.0),
               s = sqrt((double)squares / (count - 1.0)), centre = (double)mean,
               half = SIGMAS * mr / TW_CHART_D2,
               t = gsl_cdf_tdist_Qinv(TAIL, count - 1.0) * s * sqrt(1.0 + 1.0 / count);
  *out = (tw_individuals){.n = n,
                          .centre = centre,
                          .s = s,
                          .moving_range = mr,
                          .upper = centre + half,
                          .lower = centre - half,
                          .moving_range_upper = mr * (1.0 + SIGMAS * RANGE_SD / TW_CHART_D2),
                          .t_upper = centre + t,
                          .t_lower = centre - t};
  return TW_OK;
}

/* half of the limits when the moving average has `share` of its variance in the long run */
static double half_of(const tw_ewma *c, double share)
{
  const double variance = share * c->weight / (2.0 - c->weight);
  if (c->pieces < 2) {
    return c->limits * c->s * sqrt(variance);
  }
  const double n = (double)c->pieces, t = gsl_cdf_tdist_Qinv(gsl_cdf_ugaussian_Q(c->limits), n - 1);
  return t * c->s * sqrt(variance + 1.0 / n);
}

double tw_ewma_steady(const tw_ewma *c)
{
  return half_of(c, 1.0);
}

tw_status tw_ewma_of(const tw_ewma *c, const double *x, size_t n, double *value, double *half,
                     size_t *first_outside, tw_fault *fault)
{
  if (!all_finite(x, n) || !(c->weight > 0.0 && c->weight <= 1.0) || !(c->s >= 0.0)) {
    return bad(fault, "a moving average needs finite readings and a weight from 0 to 1");
  }
  double z = c->target, left = 1.0;
  *first_outside = SIZE_MAX;
  for (size_t i = 0; i < n; i++) {
    z = c->weight * x[i] + (1.0 - c->weight) * z;
    left *= (1.0 - c->weight) * (1.0 - c->weight);
    const double limit = half_of(c, 1.0 - left);
    value[i] = z;
    if (half) {
      half[i] = limit;
    }
    if (fabs(z - c->target) > limit && *first_outside == SIZE_MAX) {
      *first_outside = i;
    }
  }
  return TW_OK;
}

/* (I - K) a = 1 at the Gauss points of -h..h; K_ij = w_j phi((y_j - (1-w) y_i)/w - shift)/w */
static void fill(gsl_matrix *k, gsl_vector *one, const double *y, const double *weight, double w,
                 double shift)
{
  for (size_t i = 0; i < ARL_POINTS; i++) {
    for (size_t j = 0; j < ARL_POINTS; j++) {
      const double at = (y[j] - (1.0 - w) * y[i]) / w - shift;
      gsl_matrix_set(k, i, j, (i == j) - weight[j] * gsl_ran_ugaussian_pdf(at) / w);
    }
    gsl_vector_set(one, i, 1.0);
  }
}

/* the run length at the start 0 from those at the points */
static double at_start(const gsl_vector *a, const double *y, const double *weight, double w,
                       double shift)
{
  double sum = 1.0;
  for (size_t j = 0; j < ARL_POINTS; j++) {
    sum += weight[j] * gsl_ran_ugaussian_pdf(y[j] / w - shift) / w * gsl_vector_get(a, j);
  }
  return sum;
}

tw_status tw_ewma_run_length(double weight, double limits, double shift, double *out,
                             tw_fault *fault)
{
  double y[ARL_POINTS], share[ARL_POINTS];
  *out = 0.0;
  if (!(weight > 0.0 && weight <= 1.0) || !(limits > 0.0 && limits < 6.0) || !isfinite(shift)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "weight from 0 to 1, limits from 0 to 6",
                   "no such moving average");
  }
  const double h = limits * sqrt(weight / (2.0 - weight));
  gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(ARL_POINTS);
  gsl_matrix *k = gsl_matrix_alloc(ARL_POINTS, ARL_POINTS);
  gsl_vector *one = gsl_vector_alloc(ARL_POINTS), *a = gsl_vector_alloc(ARL_POINTS);
  gsl_permutation *order = gsl_permutation_alloc(ARL_POINTS);
  tw_status status = TW_OK;
  if (!table || !k || !one || !a || !order) {
    status = tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  } else {
    int sign;
    for (size_t i = 0; i < ARL_POINTS; i++) {
      gsl_integration_glfixed_point(-h, h, i, &y[i], &share[i], table);
    }
    fill(k, one, y, share, weight, shift);
    gsl_linalg_LU_decomp(k, order, &sign);
    gsl_linalg_LU_solve(k, order, one, a);
    *out = at_start(a, y, share, weight, shift);
  }
  gsl_integration_glfixed_table_free(table);
  gsl_matrix_free(k);
  gsl_vector_free(one);
  gsl_vector_free(a);
  gsl_permutation_free(order);
  return status;
}
