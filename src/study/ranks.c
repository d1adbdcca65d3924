/* ranks.c: quantiles with intervals that hold for any law, from the binomial distribution. */
#include "tripwright/numerics.h"
#include "tripwright/study_stats.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>

/* P(X <= k) for k from -1 on, X binomial (n, p) */
static double below(long k, size_t n, double p)
{
  return k < 0 ? 0.0 : (size_t)k >= n ? 1.0 : gsl_cdf_binomial_P((unsigned)k, p, (unsigned)n);
}

/* smallest n with 1 - p^n - (1 - p)^n >= level */
static size_t values_needed(double p, double level)
{
  const double least = p < 0.5 ? p : 1.0 - p;
  /* the rarer side decides: (1 - least)^n <= 1 - level is necessary */
  size_t n = (size_t)ceil(log1p(-level) / log1p(-least));
  n = n < 2 ? 2 : n;
  while (1.0 - pow(least, (double)n) - pow(1.0 - least, (double)n) < level) {
    n++;
  }
  return n;
}

/* the smallest high rank that with `low` covers the level, or 0 */
static size_t high_for(size_t low, size_t from, size_t n, double p, double level)
{
  const double under = below((long)low - 1, n, p);
  for (size_t high = from > low ? from : low + 1; high <= n; high++) {
    if (below((long)high - 1, n, p) - under >= level) {
      return high;
    }
  }
  return 0;
}

/* how unequal the two tails are */
static double imbalance(size_t low, size_t high, size_t n, double p)
{
  return fabs(below((long)low - 1, n, p) - (1.0 - below((long)high - 1, n, p)));
}

/* P(low <= X <= high - 1) is the probability that the quantile lies between the two values. Low
 * ranks from the one with an empty tail to the last that still can reach the level are tried, each
 * with its least high rank, which only grows. */
tw_ranks tw_quantile_ranks(size_t n, double p, double level)
{
  assert(p > 0.0 && p < 1.0 && level > 0.0 && level < 1.0);
  tw_ranks best = {.needed = values_needed(p, level)};
  if (n < 2) {
    return best;
  }
  const double sd = sqrt((double)n * p * (1.0 - p));
  const double start = floor((double)n * p - 8.0 * sd - 8.0);
  size_t low = start > 1.0 ? (size_t)start : 1, high = low + 1;
  double best_imbalance = 0.0;
  for (; low < n && below((long)low - 1, n, p) <= 1.0 - level; low++) {
    high = high_for(low, high, n, p, level);
    if (high == 0) {
      break;
    }
    const double now = imbalance(low, high, n, p);
    if (!best.exists || high - low < best.high - best.low ||
        (high - low == best.high - best.low && now < best_imbalance)) {
      best.exists = true;
      best.low = low;
      best.high = high;
      best_imbalance = now;
    }
  }
  if (best.exists) {
    best.coverage = below((long)best.high - 1, n, p) - below((long)best.low - 1, n, p);
  }
  return best;
}

double tw_quantile_of(const double *sorted, size_t n, double p)
{
  assert(n > 0 && p >= 0.0 && p <= 1.0);
  const double rank = ((double)n + 1.0) * p;
  if (rank <= 1.0) {
    return sorted[0];
  }
  if (rank >= (double)n) {
    return sorted[n - 1];
  }
  const size_t k = (size_t)rank;
  const double part = rank - (double)k;
  /* no difference of infinite values when the rank falls on one */
  return part > 0.0 ? sorted[k - 1] + part * (sorted[k] - sorted[k - 1]) : sorted[k - 1];
}

void tw_sort_ascending(double *values, size_t n)
{
  qsort(values, n, sizeof *values, tw_compare_doubles);
}
