/* yield.c: interval of a share from k good ones in n (Blaker 2000). */
#include "tripwright/numerics.h"
#include "tripwright/study_stats.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <math.h>

/* P(X <= k) and P(X >= k) for X binomial (n, p) by the incomplete beta function */
static double at_most(double k, double n, double p)
{
  return k < 0.0 ? 0.0 : k >= n ? 1.0 : gsl_cdf_beta_Q(p, k + 1.0, n - k);
}

static double at_least(double k, double n, double p)
{
  return k <= 0.0 ? 1.0 : k > n ? 0.0 : gsl_cdf_beta_P(p, k, n - k + 1.0);
}

typedef struct tails {
  double q, share, k, n; /* share: what P(X <= q) is taken for where q is negative */
} tails;

static bool right_is_larger(const void *self, double p)
{
  const tails *t = self;
  return at_least(t->k, t->n, p) < (t->q < 0.0 ? t->share : at_most(t->q, t->n, p));
}

static bool sum_is_small(const void *self, double p)
{
  const tails *t = self;
  return at_least(t->k, t->n, p) + at_most(t->q, t->n, p) < t->share;
}

/* The p at which P(X >= k) grows past P(X <= q), q < k, or past `share` if q is negative: the left
 * side grows with p, the right one falls or stands. Bisection, as it cannot fail; the outer end, so
 * that a limit that is a round number stays inside. */
static double balance(double q, double share, double k, double n)
{
  double low = 0.0, high = 1.0;
  tw_bisect(right_is_larger, &(const tails){q, share, k, n}, 1e-15, 1100, &low, &high);
  return low;
}

/* least p (its outer end) in (a, b) with P(X >= k) + P(X <= q) >= alpha, given that it holds at b
 * and not at a; the sum falls first and grows then, so there is one crossing */
static double crossing(double q, double k, double n, double alpha, double a, double b)
{
  tw_bisect(sum_is_small, &(const tails){q, alpha, k, n}, 1e-15, 200, &a, &b);
  return a;
}

/* Lower limit: the smallest p that is acceptable. Acceptability of p below k/n is P(X >= k) plus
 * the largest P(X <= q) not above it. From p_q = balance(q) on q counts, until p_(q+1). Below the
 * Clopper-Pearson limit nothing is acceptable, as both parts are at most alpha/2. */
static double lower_limit(double k, double n, double alpha)
{
  if (k <= 0.0) {
    return 0.0;
  }
  const double start = balance(-1.0, 0.5 * alpha, k, n);
  /* largest q whose balance lies at or below the start */
  double q = -1.0, high = k - 1.0;
  while (q < high) {
    const double middle = floor(0.5 * (q + high + 1.0));
    if (balance(middle, 0.0, k, n) <= start) {
      q = middle;
    } else {
      high = middle - 1.0;
    }
  }
  double from = start;
  for (; q < k; q += 1.0) {
    if (at_least(k, n, from) + at_most(q, n, from) >= alpha) {
      return from;
    }
    const double until = q + 1.0 < k ? balance(q + 1.0, 0.0, k, n) : 1.0;
    if (at_least(k, n, until) + at_most(q, n, until) >= alpha) {
      return crossing(q, k, n, alpha, from, until);
    }
    from = until;
  }
  return from;
}

void tw_yield_interval(size_t k, size_t n, double level, double *low, double *high)
{
  assert(n > 0 && k <= n && level > 0.0 && level < 1.0);
  const double alpha = 1.0 - level;
  *low = lower_limit((double)k, (double)n, alpha);
  /* the same seen from the bad ones */
  *high = 1.0 - lower_limit((double)(n - k), (double)n, alpha);
}
