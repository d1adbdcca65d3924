/* Intervals of quantiles and yields against their definitions: coverage is computed exactly from
 * binomial probabilities, limits by brute force over a fine grid of p. With TW_PROVE=1 also by
 * drawing batches. */
#include "near.h"
#include "tripwright/random.h"
#include "tripwright/study_stats.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <stdlib.h>
#include <string.h>

/* P(low <= X <= high - 1) summed term by term */
static double rank_coverage(size_t n, double p, size_t low, size_t high)
{
  double sum = 0.0;
  for (size_t k = low; k < high; k++) {
    sum += gsl_ran_binomial_pdf((unsigned)k, p, (unsigned)n);
  }
  return sum;
}

/* 95 % intervals of the quantiles 0.05 to 0.95, n >= 200: between 95 and 97 % for any continuous
 * law */
static void quantile_intervals_cover(void **state)
{
  (void)state;
  static const size_t sizes[] = {200, 201, 250, 333, 500, 1000, 2000, 10000};
  double least = 1.0, most = 0.0;
  for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
    for (int i = 1; i < 20; i++) {
      const double p = 0.05 * i;
      const tw_ranks r = tw_quantile_ranks(sizes[s], p, 0.95);
      assert_true(r.exists && r.low >= 1 && r.high <= sizes[s] && r.low < r.high);
      const double coverage = rank_coverage(sizes[s], p, r.low, r.high);
      assert_near(coverage, r.coverage, 1e-10);
      least = fmin(least, coverage);
      most = fmax(most, coverage);
    }
  }
  print_message("quantile intervals, n 200 to 10000: coverage %.4f to %.4f\n", least, most);
  assert_true(least >= 0.95 && most <= 0.97);
}

/* no closer pair of ranks reaches the level */
static void ranks_are_the_closest(void **state)
{
  (void)state;
  for (size_t n = 2; n < 80; n += 7) {
    for (int i = 1; i < 10; i++) {
      const double p = 0.1 * i;
      size_t width = 0;
      for (size_t low = 1; low < n; low++) {
        for (size_t high = low + 1; high <= n; high++) {
          if (rank_coverage(n, p, low, high) >= 0.9 && (width == 0 || high - low < width)) {
            width = high - low;
          }
        }
      }
      const tw_ranks r = tw_quantile_ranks(n, p, 0.9);
      assert_int_equal(r.exists, width > 0);
      if (width > 0) {
        assert_int_equal(r.high - r.low, width);
      }
      /* `needed` is where they begin to exist */
      assert_int_equal(r.exists, n >= r.needed);
    }
  }
}

/* 1 - 0.95^n - 0.05^n >= 0.95 from n = 59 on, the well-known number of pieces for the 5 % quantile
 */
static void needed_builds_are_told(void **state)
{
  (void)state;
  tw_ranks r = tw_quantile_ranks(50, 0.05, 0.95);
  assert_false(r.exists);
  assert_int_equal(r.needed, 59);
  assert_true(tw_quantile_ranks(59, 0.05, 0.95).exists);
  assert_false(tw_quantile_ranks(58, 0.05, 0.95).exists);
  assert_int_equal(tw_quantile_ranks(1, 0.5, 0.95).needed, 6);
  assert_false(tw_quantile_ranks(1, 0.5, 0.95).exists);
}

/* acceptability as Blaker defines it, from binomial probabilities summed term by term */
static double acceptability(size_t k, size_t n, double p)
{
  double up = 0.0, down = 0.0;
  for (size_t i = 0; i <= n; i++) {
    const double part = gsl_ran_binomial_pdf((unsigned)i, p, (unsigned)n);
    up += i >= k ? part : 0.0;
    down += i <= k ? part : 0.0;
  }
  const bool upper = up <= down;
  const double tail = upper ? up : down;
  /* the largest opposite tail that is not larger; ties to rounding count as equal */
  double other = 0.0, sum = 0.0;
  for (size_t i = 0; i <= n; i++) {
    sum += gsl_ran_binomial_pdf((unsigned)(upper ? i : n - i), p, (unsigned)n);
    if (sum > tail * (1.0 + 1e-9)) {
      break;
    }
    other = sum;
  }
  return fmin(1.0, tail + other);
}

static void yield_limits_meet_the_definition(void **state)
{
  (void)state;
  static const size_t sizes[] = {1, 2, 5, 10, 23, 50};
  for (size_t s = 0; s < 6; s++) {
    const size_t n = sizes[s];
    for (size_t k = 0; k <= n; k++) {
      double low, high;
      tw_yield_interval(k, n, 0.95, &low, &high);
      /* nothing outside is acceptable, the limits themselves are (just inside) */
      const int grid = 4000;
      double grid_low = 1.0, grid_high = 0.0;
      for (int i = 0; i <= grid; i++) {
        const double p = (double)i / grid;
        if (acceptability(k, n, p) >= 0.05) {
          grid_low = fmin(grid_low, p);
          grid_high = fmax(grid_high, p);
        }
      }
      assert_true(low <= grid_low + 1e-12 && low > grid_low - 1.0 / grid - 1e-12);
      assert_true(high >= grid_high - 1e-12 && high < grid_high + 1.0 / grid + 1e-12);
      /* and lies within Clopper and Pearson's */
      const double cp_low = k == 0 ? 0.0 : gsl_cdf_beta_Pinv(0.025, (double)k, (double)(n - k + 1));
      const double cp_high =
          k == n ? 1.0 : gsl_cdf_beta_Pinv(0.975, (double)(k + 1), (double)(n - k));
      assert_true(low >= cp_low - 1e-12 && high <= cp_high + 1e-12);
    }
  }
}

/* coverage for every share p on a grid, summed over all outcomes */
static void yield_coverage(size_t n, double *least, double *mean)
{
  double *low = malloc((n + 1) * sizeof *low), *high = malloc((n + 1) * sizeof *high);
  assert_true(low && high);
  for (size_t k = 0; k <= n; k++) {
    tw_yield_interval(k, n, 0.95, &low[k], &high[k]);
  }
  *least = 1.0;
  *mean = 0.0;
  const int grid = 4999;
  for (int i = 0; i < grid; i++) {
    const double p = (i + 0.5) / grid;
    double coverage = 0.0;
    for (size_t k = 0; k <= n; k++) {
      if (low[k] <= p && p <= high[k]) {
        coverage += gsl_ran_binomial_pdf((unsigned)k, p, (unsigned)n);
      }
    }
    *least = fmin(*least, coverage);
    *mean += coverage / grid;
  }
  free(low);
  free(high);
}

/* never under 94.5 %, mean at most 97.5 %, from 10 builds on */
static void yield_intervals_cover(void **state)
{
  (void)state;
  static const size_t sizes[] = {10, 15, 20, 30, 50, 100, 200, 400};
  for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
    double least, mean;
    yield_coverage(sizes[s], &least, &mean);
    print_message("yield interval, n %zu: coverage least %.4f, mean %.4f\n", sizes[s], least, mean);
    assert_true(least >= 0.945);
    assert_true(mean <= 0.975);
  }
}

static void large_batches_have_intervals(void **state)
{
  (void)state;
  double low, high;
  tw_yield_interval(99000, 100000, 0.95, &low, &high);
  /* normal approximation: 0.99 -+ 1.96 sqrt(0.99 0.01/1e5) */
  assert_near(low, 0.98936, 2e-5);
  assert_near(high, 0.99061, 2e-5);
  tw_yield_interval(100000, 100000, 0.95, &low, &high);
  assert_true(high == 1.0 && low > 0.99996);
  tw_yield_interval(0, 1, 0.95, &low, &high);
  assert_true(low == 0.0);
  assert_near(high, 0.95, 1e-12); /* the only p not acceptable is that with P(X = 0) < 0.05 */
}

/* drawn: exponential values, 95 % interval of several quantiles, share of batches that hit */
static void drawn_batches_agree(void **state)
{
  (void)state;
  const char *prove = getenv("TW_PROVE");
  const int repeats = prove && strcmp(prove, "1") == 0 ? 40000 : 4000;
  enum { SIZE = 200 };
  static const double ps[] = {0.05, 0.25, 0.5, 0.8, 0.95};
  int hits[5] = {0};
  for (int b = 0; b < repeats; b++) {
    double x[SIZE];
    tw_random random;
    tw_random_start(&random, 2026, (uint64_t)b);
    for (int i = 0; i < SIZE; i++) {
      x[i] = tw_random_exponential(&random);
    }
    tw_sort_ascending(x, SIZE);
    for (int i = 0; i < 5; i++) {
      const tw_ranks r = tw_quantile_ranks(SIZE, ps[i], 0.95);
      const double truth = -log1p(-ps[i]);
      hits[i] += x[r.low - 1] <= truth && truth <= x[r.high - 1];
    }
  }
  for (int i = 0; i < 5; i++) {
    const double share = (double)hits[i] / repeats;
    print_message("drawn, %d batches of %d: quantile %.2f covered %.4f\n", repeats, SIZE, ps[i],
                  share);
    assert_true(share > 0.935 && share < 0.97);
  }
}

static void quantile_estimates(void **state)
{
  (void)state;
  static const double x[] = {1.0, 2.0, 4.0, 8.0};
  assert_near(tw_quantile_of(x, 4, 0.5), 3.0, 1e-15);
  assert_near(tw_quantile_of(x, 4, 0.2), 1.0, 1e-15);
  assert_near(tw_quantile_of(x, 4, 0.25), 1.25, 1e-15);
  assert_near(tw_quantile_of(x, 4, 0.999), 8.0, 0.0);
  assert_near(tw_quantile_of(x, 1, 0.3), 1.0, 0.0);
  /* builds that never trip stand at the end as infinite; the rest is not spoilt */
  const double y[] = {1.0, 2.0, 3.0, HUGE_VAL, HUGE_VAL};
  assert_near(tw_quantile_of(y, 5, 0.5), 3.0, 0.0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(quantile_intervals_cover),
      cmocka_unit_test(ranks_are_the_closest),
      cmocka_unit_test(needed_builds_are_told),
      cmocka_unit_test(yield_limits_meet_the_definition),
      cmocka_unit_test(yield_intervals_cover),
      cmocka_unit_test(large_batches_have_intervals),
      cmocka_unit_test(drawn_batches_agree),
      cmocka_unit_test(quantile_estimates),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
