/* adaptive.c: coverage intervals and the adaptive procedure of JCGM 101. */
#include "tripwright/study_stats.h"

#include <assert.h>
#include <math.h>
#include <string.h>

/* q = the integer nearest to p n; 1 .. n - 1 */
static size_t span_of(size_t n, double p)
{
  const double q = floor(p * (double)n + 0.5);
  return q < 1.0 ? 1 : q > (double)(n - 1) ? n - 1 : (size_t)q;
}

void tw_shortest_interval(const double *sorted, size_t n, double p, double *low, double *high)
{
  assert(n > 1);
  const size_t q = span_of(n, p);
  size_t best = 0;
  for (size_t r = 1; r + q < n; r++) {
    if (sorted[r + q] - sorted[r] < sorted[best + q] - sorted[best]) {
      best = r;
    }
  }
  *low = sorted[best];
  *high = sorted[best + q];
}

/* r = (n - q)/2 if that is an integer, else the integer part of (n - q + 1)/2; ranks from 1 */
void tw_symmetric_interval(const double *sorted, size_t n, double p, double *low, double *high)
{
  assert(n > 1);
  const size_t q = span_of(n, p);
  const size_t r = (n - q) % 2 == 0 ? (n - q) / 2 : (n - q + 1) / 2;
  const size_t first = r > 0 ? r - 1 : 0;
  *low = sorted[first];
  *high = sorted[first + q < n ? first + q : n - 1];
}

double tw_numerical_tolerance(double u, int digits)
{
  if (!(u > 0.0)) {
    return 0.0;
  }
  /* u = c 10^l, c a whole number of `digits` figures after rounding */
  int l = (int)floor(log10(u)) - digits + 1;
  const double c = floor(u / pow(10.0, l) + 0.5);
  if (c >= pow(10.0, digits)) {
    l++; /* 99.6 has two figures as 10 x 10^1 */
  }
  return 0.5 * pow(10.0, l);
}

void tw_adaptive_start(tw_adaptive *adaptive, double p, int digits)
{
  assert(p > 0.0 && p < 1.0 && digits >= 1);
  const double least = ceil(100.0 / (1.0 - p));
  *adaptive = (tw_adaptive){.p = p, .digits = digits, .batch = least > 1e4 ? (size_t)least : 10000};
}

/* mean and sum of squared differences by Welford's update */
static void add_to(double *mean, double *square, double count, double value)
{
  const double before = value - *mean;
  *mean += before / count;
  *square += before * (value - *mean);
}

void tw_adaptive_add(tw_adaptive *a, double *values)
{
  const size_t n = a->batch;
  double mean = 0.0, square = 0.0;
  for (size_t i = 0; i < n; i++) {
    add_to(&mean, &square, (double)(i + 1), values[i]);
    add_to(&a->all_mean, &a->all_square, (double)(a->batches * n + i + 1), values[i]);
  }
  tw_sort_ascending(values, n);
  double figure[4] = {mean, sqrt(square / (double)(n - 1))};
  tw_symmetric_interval(values, n, a->p, &figure[2], &figure[3]);
  a->batches++;
  const double h = (double)a->batches;
  a->deviation = sqrt(a->all_square / (h * (double)n - 1.0));
  a->tolerance = tw_numerical_tolerance(a->deviation, a->digits);
  a->steady = a->batches > 1;
  for (int k = 0; k < 4; k++) {
    add_to(&a->mean[k], &a->square[k], h, figure[k]);
    /* s^2 = sum of squares/(h (h - 1)): variance of the average over batches */
    a->uncertainty[k] = a->batches > 1 ? 2.0 * sqrt(a->square[k] / (h * (h - 1.0))) : 0.0;
    if (a->uncertainty[k] > a->tolerance) {
      a->steady = false;
    }
  }
}
