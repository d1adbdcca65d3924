/* Do the intervals that the log teaches hold? Simulated shops; charts that call falsely or late.
 * Counts are long under TW_PROVE. */
#include "near.h"
#include "tripwright/logbook_learn.h"
#include "tripwright/random.h"

#include <stdlib.h>

static size_t long_or(size_t proved, size_t usual)
{
  return getenv("TW_PROVE") ? proved : usual;
}

typedef struct shop {
  double offset, scatter;
} shop;

/* a true shop drawn from the prior: v scaled inverse chi-squared, offset normal (m0, v/k0) */
static shop draw_shop(tw_random *r, const tw_prior *p)
{
  const double chi2 = 2.0 * tw_random_gamma(r, p->dof / 2.0);
  const double scatter = p->scale * sqrt(p->dof / chi2);
  return (shop){p->mean + scatter / sqrt(p->pieces) * tw_random_normal(r), scatter};
}

typedef struct cover {
  double next, offset, scatter, plain;
} cover;

/* shares of `shops` in which the interval holds what it promises */
static cover cover_of(const shop *fixed, size_t n, size_t shops, uint64_t seed)
{
  const tw_prior prior = tw_prior_of(20, 10);
  size_t next = 0, offset = 0, scatter = 0, plain = 0;
  for (size_t k = 0; k < shops; k++) {
    tw_random r;
    double x[80];
    tw_log_learned own;
    tw_moments m;
    tw_random_start(&r, seed, k);
    const shop truth = fixed ? *fixed : draw_shop(&r, &prior);
    for (size_t i = 0; i < n; i++) {
      x[i] = truth.offset + truth.scatter * tw_random_normal(&r);
    }
    const double one_more = truth.offset + truth.scatter * tw_random_normal(&r);
    assert_int_equal(tw_learn(x, n, &prior, &own, NULL), TW_OK);
    assert_int_equal(tw_moments_of(x, n, 0.95, &m, NULL), TW_OK);
    next += fabs(one_more - own.mean) <= own.half_next_piece;
    offset += truth.offset >= own.mean_interval.low && truth.offset <= own.mean_interval.high;
    scatter += truth.scatter >= own.scale_interval.low && truth.scatter <= own.scale_interval.high;
    plain += fabs(one_more - m.mean) <= 2.0 * m.s;
  }
  const double all = (double)shops;
  return (cover){(double)next / all, (double)offset / all, (double)scatter / all,
                 (double)plain / all};
}

/* shops as the library says: 93 to 97 % of the intervals of offset and scatter hold; the next piece
 * within 95.45 +- 0.3 (40 000 draws, three standard errors of the count) */
static void test_true_prior(void **state)
{
  (void)state;
  static const size_t n[] = {3, 5, 10, 20, 80};
  const size_t shops = long_or(40000, 2500);
  const double within = 0.0031 * sqrt(40000.0 / (double)shops);
  for (size_t k = 0; k < sizeof n / sizeof n[0]; k++) {
    const cover c = cover_of(NULL, n[k], shops, 11 + k);
    print_message("prior true, n %zu: next %.2f, offset %.2f, scatter %.2f %%\n", n[k],
                  100 * c.next, 100 * c.offset, 100 * c.scatter);
    assert_near(c.next, TW_LEARN_COVER, within);
    assert_true(c.offset > 0.93 && c.offset < 0.97);
    assert_true(c.scatter > 0.93 && c.scatter < 0.97);
  }
}

/* the table of docs/models/logbook.md 8: other truths than the prior's */
static void test_other_truths(void **state)
{
  (void)state;
  static const size_t n[] = {3, 5, 10, 20};
  static const struct {
    const char *what;
    shop truth;
    double wanted[4];
  } rows[] = {
      {"as the library", {20, 5}, {0.976, 0.964, 0.955, 0.953}},
      {"offset three sd off", {35, 5}, {0.988, 0.989, 0.987, 0.979}},
      {"scatter double", {20, 10}, {0.868, 0.884, 0.914, 0.933}},
  };
  const size_t shops = long_or(40000, 2500);
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    for (size_t k = 0; k < 4; k++) {
      const cover c = cover_of(&rows[i].truth, n[k], shops, 31 + 7 * i + k);
      print_message("%s, n %zu: next %.1f (%.1f), plain mean +- 2 s %.1f %%\n", rows[i].what, n[k],
                    100 * c.next, 100 * rows[i].wanted[k], 100 * c.plain);
      assert_near(c.next, rows[i].wanted[k], shops < 40000 ? 0.02 : 0.01);
    }
  }
}

/* ---- charts ---------------------------------------------------------------------------------- */

typedef struct calls {
  double false_share, seen_share; /* false calls a piece; shifts seen in time */
} calls;

/* calls of either chart over n pieces; after a call the moving average begins anew, as the bench
 * does once it has looked */
static size_t calls_in(const double *x, size_t n, const tw_individuals *base, const tw_ewma *chart)
{
  const bool few = base->n < TW_CHART_KNOWN;
  const double upper = few ? base->t_upper : base->upper, lower = few ? base->t_lower : base->lower;
  size_t count = 0;
  for (size_t from = 0; from < n;) {
    double value[64];
    size_t out, i = 0;
    assert_int_equal(tw_ewma_of(chart, x + from, n - from, value, NULL, &out, NULL), TW_OK);
    while (from + i < n && i < out && x[from + i] <= upper && x[from + i] >= lower) {
      i++;
    }
    count += from + i < n;
    from += i + 1;
  }
  return count;
}

/* `known` pieces set the limits; then `quiet` without and `after` with a shift of two sd */
static calls calls_of(size_t known, size_t quiet, size_t after, size_t shops, uint64_t seed)
{
  size_t wrong = 0, seen = 0;
  for (size_t k = 0; k < shops; k++) {
    tw_random r;
    double x[200];
    tw_individuals base;
    tw_random_start(&r, seed, k);
    const size_t n = known + quiet + after;
    for (size_t i = 0; i < n; i++) {
      x[i] = tw_random_normal(&r) + (i >= known + quiet ? 2.0 : 0.0);
    }
    assert_int_equal(tw_individuals_of(x, known, &base, NULL), TW_OK);
    const tw_ewma chart = {TW_EWMA_WEIGHT, TW_EWMA_LIMITS, base.centre, base.s, known};
    wrong += calls_in(x + known, quiet, &base, &chart);
    seen += calls_in(x + known + quiet, after, &base, &chart) > 0;
  }
  return (calls){(double)wrong / (double)(shops * quiet), (double)seen / (double)shops};
}

static void test_charts(void **state)
{
  (void)state;
  const size_t shops = long_or(20000, 2000);
  static const size_t known[] = {20, 40, 80};
  for (size_t k = 0; k < 3; k++) {
    const calls c = calls_of(known[k], 20, 8, shops, 71 + k);
    print_message("limits from %zu pieces: false calls %.2f of 100 pieces, two sd seen within 8 in "
                  "%.1f %%\n",
                  known[k], 100 * c.false_share, 100 * c.seen_share);
    assert_true(c.seen_share > 0.90);
    assert_true(c.false_share < 0.01);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_true_prior),
      cmocka_unit_test(test_other_truths),
      cmocka_unit_test(test_charts),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
