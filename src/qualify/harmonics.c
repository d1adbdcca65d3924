/* harmonics.c: lobes of a round: the Fourier series by least squares at any angles. */
#include "inner.h"
#include "tripwright/qualify_fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TW_WAVES (2 * TW_HARMONIC_MOST + 1)
/* u^2 of a coefficient may be so many times that of even angles before it counts as hidden */
#define TW_HIDDEN 1e4L

/* 1, cos t, sin t, cos 2t, sin 2t, ... */
static void waves(double angle, size_t orders, long double *wave)
{
  wave[0] = 1.0L;
  for (size_t k = 1; k <= orders; k++) {
    wave[2 * k - 1] = cosl((long double)k * (long double)angle);
    wave[2 * k] = sinl((long double)k * (long double)angle);
  }
}

/* lower triangle of a becomes its Cholesky factor; false when not positive */
static bool factor(long double *a, size_t p)
{
  for (size_t j = 0; j < p; j++) {
    const long double whole = a[j * p + j];
    for (size_t k = 0; k < j; k++) {
      a[j * p + j] -= a[j * p + k] * a[j * p + k];
    }
    if (!(a[j * p + j] > 1e-12L * whole)) {
      return false;
    }
    a[j * p + j] = sqrtl(a[j * p + j]);
    for (size_t i = j + 1; i < p; i++) {
      for (size_t k = 0; k < j; k++) {
        a[i * p + j] -= a[i * p + k] * a[j * p + k];
      }
      a[i * p + j] /= a[j * p + j];
    }
  }
  return true;
}

static void solve(const long double *a, size_t p, long double *x)
{
  for (size_t i = 0; i < p; i++) {
    for (size_t k = 0; k < i; k++) {
      x[i] -= a[i * p + k] * x[k];
    }
    x[i] /= a[i * p + i];
  }
  for (size_t i = p; i-- > 0;) {
    for (size_t k = i + 1; k < p; k++) {
      x[i] -= a[k * p + i] * x[k];
    }
    x[i] /= a[i * p + i];
  }
}

/* `sorted` has room for n */
static bool evenly_spaced(const double *angle, size_t n, double *sorted)
{
  for (size_t i = 0; i < n; i++) {
    sorted[i] = fmod(angle[i], 2.0 * TW_PI);
    sorted[i] += sorted[i] < 0.0 ? 2.0 * TW_PI : 0.0;
  }
  qsort(sorted, n, sizeof *sorted, tw_compare_doubles);
  const double step = 2.0 * TW_PI / (double)n;
  bool even = true;
  for (size_t i = 1; i < n && even; i++) {
    even = fabs(sorted[i] - sorted[i - 1] - step) < 1e-3 * step;
  }
  return even;
}

static void fill(tw_harmonics *h, const long double *c, const long double *inverse_diagonal)
{
  h->mean = (double)c[0];
  for (size_t k = 1; k <= h->orders; k++) {
    h->a[k] = (double)c[2 * k - 1];
    h->b[k] = (double)c[2 * k];
    h->amplitude[k] = hypot(h->a[k], h->b[k]);
    h->phase[k] = atan2(h->b[k], h->a[k]);
    h->phase[k] += h->phase[k] < 0.0 ? 2.0 * TW_PI : 0.0;
    h->u[k] = h->s * (double)sqrtl(0.5L * (inverse_diagonal[2 * k - 1] + inverse_diagonal[2 * k]));
  }
}

/* normal equations in extended precision: `a` p x p, c the right side then the answer */
static size_t fit_waves(const double *angle, const double *radius, size_t n, size_t orders,
                        long double *a, long double *c, long double *diagonal)
{
  const size_t p = 2 * orders + 1;
  long double wave[TW_WAVES];
  for (size_t i = 0; i < n; i++) {
    waves(angle[i], orders, wave);
    for (size_t j = 0; j < p; j++) {
      c[j] += wave[j] * (long double)radius[i];
      for (size_t k = 0; k <= j; k++) {
        a[j * p + k] += wave[j] * wave[k];
      }
    }
  }
  if (!factor(a, p)) {
    return 0;
  }
  solve(a, p, c);
  for (size_t j = 0; j < p; j++) {
    memset(wave, 0, sizeof wave);
    wave[j] = 1.0L;
    solve(a, p, wave);
    diagonal[j] = wave[j];
    if (diagonal[j] * (long double)n > TW_HIDDEN) {
      return (j + 1) / 2;
    }
  }
  return SIZE_MAX;
}

static tw_status check(const double *angle, const double *radius, size_t n, size_t orders,
                       tw_fault *fault)
{
  if (n < 3) {
    return tw_fail(fault, TW_BAD_INPUT, "points", "take 12 or more, 36 are usual",
                   "%zu points show no harmonic", n);
  }
  if (orders > TW_HARMONIC_MOST || 2 * orders >= n) {
    return tw_fail(fault, TW_BAD_INPUT, "orders", "ask for fewer, or take more points",
                   "%zu points resolve harmonics up to %zu, not %zu", n,
                   (n - 1) / 2 < TW_HARMONIC_MOST ? (n - 1) / 2 : TW_HARMONIC_MOST, orders);
  }
  const tw_status status = tw_all_finite(angle, n, "angle", fault);
  return status == TW_OK ? tw_all_finite(radius, n, "radius", fault) : status;
}

tw_status tw_harmonics_of(const double *angle, const double *radius, size_t n, size_t orders,
                          tw_harmonics *out, tw_fault *fault)
{
  const bool all = orders == 0;
  if (all && n >= 3) {
    orders = (n - 1) / 2 < TW_HARMONIC_MOST ? (n - 1) / 2 : TW_HARMONIC_MOST;
  }
  const tw_status status = check(angle, radius, n, orders, fault);
  if (status != TW_OK) {
    return status;
  }
  const size_t p = 2 * orders + 1;
  long double *a = tw_alloc(p * p, sizeof *a), c[TW_WAVES] = {0}, diagonal[TW_WAVES];
  double *sorted = tw_alloc(n, sizeof *sorted);
  if (!a || !sorted) {
    tw_free(a);
    tw_free(sorted);
    return tw_no_memory(fault);
  }
  tw_harmonics h = {.n = n, .orders = orders, .even = evenly_spaced(angle, n, sorted)};
  tw_free(sorted);
  const size_t hidden = fit_waves(angle, radius, n, orders, a, c, diagonal);
  tw_free(a);
  if (hidden != SIZE_MAX) {
    return tw_fail(fault, TW_NO_ANSWER, "orders", "ask for fewer orders, or close the gaps",
                   "the angles hide harmonics from order %zu on", hidden ? hidden : orders);
  }
  long double squares = 0.0L, wave[TW_WAVES];
  for (size_t i = 0; i < n; i++) {
    waves(angle[i], orders, wave);
    long double rest = (long double)radius[i];
    for (size_t j = 0; j < p; j++) {
      rest -= wave[j] * c[j];
    }
    squares += rest * rest;
  }
  h.s = n > p ? (double)sqrtl(squares / (long double)(n - p)) : 0.0;
  fill(&h, c, diagonal);
  *out = h;
  return TW_OK;
}

double tw_harmonics_at(const tw_harmonics *h, double angle)
{
  double sum = h->mean;
  for (size_t k = 1; k <= h->orders; k++) {
    sum += h->a[k] * cos((double)k * angle) + h->b[k] * sin((double)k * angle);
  }
  return sum;
}

double tw_harmonics_rest(const tw_harmonics *h, const double *angle, const double *radius,
                         size_t through)
{
  tw_harmonics part = *h;
  part.orders = through < h->orders ? through : h->orders;
  double low = (double)INFINITY, high = -(double)INFINITY;
  for (size_t i = 0; i < h->n; i++) {
    const double rest = radius[i] - tw_harmonics_at(&part, angle[i]);
    low = fmin(low, rest);
    high = fmax(high, rest);
  }
  return high - low;
}
