/* lobing.c: peak-to-valley of the direction curve, and how well it is known. */
#include "inner.h"
#include "tripwright/qualify_fit.h"
#include "tripwright/random.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TW_ROSE 360 /* directions in which the curve is looked at */

/* the curve that a fit gives, at TW_ROSE directions */
static void curve_of(const tw_harmonics *h, double *curve)
{
  for (size_t k = 0; k < TW_ROSE; k++) {
    curve[k] = tw_harmonics_at(h, 2.0 * TW_PI * (double)k / TW_ROSE);
  }
}

static double valley_to_peak(const double *curve)
{
  double low = curve[0], high = curve[0];
  for (size_t k = 1; k < TW_ROSE; k++) {
    low = curve[k] < low ? curve[k] : low;
    high = curve[k] > high ? curve[k] : high;
  }
  return high - low;
}

/* the fit is linear in the radii: answer[i] is the curve that a radius of 1 at point i alone gives
 */
static tw_status answers_of(const double *angle, size_t n, size_t orders, double *unit,
                            double *answer, tw_fault *fault)
{
  memset(unit, 0, n * sizeof *unit);
  for (size_t i = 0; i < n; i++) {
    tw_harmonics h;
    unit[i] = 1.0;
    const tw_status status = tw_harmonics_of(angle, unit, n, orders, &h, fault);
    unit[i] = 0.0;
    if (status != TW_OK) {
      return status;
    }
    curve_of(&h, answer + i * TW_ROSE);
  }
  return TW_OK;
}

struct resampling {
  const double *curve, *residual, *answer;
  size_t n, parameters;
};

static double resampled(const struct resampling *r, tw_random *random)
{
  double curve[TW_ROSE];
  memcpy(curve, r->curve, sizeof curve);
  for (size_t i = 0; i < r->n; i++) {
    const double e = r->residual[tw_random_below(random, r->n)];
    const double *a = r->answer + i * TW_ROSE;
    for (size_t k = 0; k < TW_ROSE; k++) {
      curve[k] += e * a[k];
    }
  }
  return valley_to_peak(curve);
}

static tw_status resample(const struct resampling *r, size_t repeats, uint64_t seed, tw_lobing *out,
                          tw_fault *fault)
{
  double *value = tw_alloc(repeats, sizeof *value);
  if (!value) {
    return tw_no_memory(fault);
  }
  for (size_t k = 0; k < repeats; k++) {
    tw_random random;
    tw_random_start(&random, seed, k);
    value[k] = resampled(r, &random);
  }
  qsort(value, repeats, sizeof *value, tw_compare_doubles);
  const double tail = 0.5 * (1.0 - out->level), last = (double)(repeats - 1);
  const double low = value[(size_t)floor(tail * last)];
  const double high = value[(size_t)ceil((1.0 - tail) * last)];
  /* resampled residuals know nothing of how few they are: the expanded interval of Hesterberg
   * (The American Statistician 69, 2015) */
  const double dof = (double)(r->n - r->parameters);
  const double expand = tw_t_factor(out->level, dof) / tw_t_factor(out->level, 1e9);
  out->low = fmax(0.0, out->value - expand * (high - out->value));
  out->high = fmax(out->low, out->value - expand * (low - out->value));
  tw_free(value);
  return TW_OK;
}

tw_status tw_lobing_of(const double *angle, const double *radius, size_t n, size_t orders,
                       size_t repeats, uint64_t seed, double level, tw_lobing *out, tw_fault *fault)
{
  tw_harmonics h;
  tw_status status = tw_harmonics_of(angle, radius, n, orders, &h, fault);
  if (status != TW_OK) {
    return status;
  }
  const size_t p = 2 * h.orders + 1;
  if (n <= p || repeats < 100 || !(level > 0.0 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "orders", "fit fewer harmonics, or touch more points",
                   "%zu points leave nothing to tell %zu harmonics' scatter by", n, h.orders);
  }
  double *room = tw_alloc(n * (TW_ROSE + 2), sizeof *room);
  if (!room) {
    return tw_no_memory(fault);
  }
  double curve[TW_ROSE], *residual = room, *unit = room + n, *answer = room + 2 * n;
  const double widen = sqrt((double)n / (double)(n - p));
  curve_of(&h, curve);
  for (size_t i = 0; i < n; i++) {
    residual[i] = widen * (radius[i] - tw_harmonics_at(&h, angle[i]));
  }
  *out = (tw_lobing){.value = valley_to_peak(curve), .level = level};
  out->third = h.orders >= 3 ? h.amplitude[3] : 0.0;
  out->third_u = h.orders >= 3 ? h.u[3] : 0.0;
  status = answers_of(angle, n, h.orders, unit, answer, fault);
  const struct resampling r = {curve, residual, answer, n, p};
  status = status == TW_OK ? resample(&r, repeats, seed, out, fault) : status;
  tw_free(room);
  return status;
}
