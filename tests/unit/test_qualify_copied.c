/* Rows recorded twice and closing rows of averages: found where they are, not where they are not.
 */
#include "near.h"
#include "tripwright/qualify_stats.h"
#include "tripwright/random.h"

#include <string.h>

static double on_step(double value, double step)
{
  return step > 0.0 ? step * round(value / step) : value;
}

/* one series in the unit it was written in: scatter 0.34, display step as given */
static void series(tw_random *random, double *x, size_t n, double step)
{
  for (size_t i = 0; i < n; i++) {
    x[i] = on_step(41 + 0.34 * tw_random_normal(random), step);
  }
}

static void finds_what_was_recorded_twice(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 3, 0);
  double x[48];
  for (int set = 0; set < 50; set++) {
    series(&random, x, 24, 0.1);
    memcpy(x + 24, x, 24 * sizeof *x);
    tw_repeated_run r;
    tw_repeated_run_of(x, 48, &r);
    assert_true(r.found);
    assert_int_equal(r.length, 24);
    assert_int_equal(r.again - r.first, 24);
    series(&random, x, 12, 1e-4);
    memmove(x + 8, x + 4, 8 * sizeof *x); /* four rows pasted in again */
    tw_repeated_run_of(x, 16, &r);
    assert_true(r.found);
    assert_int_equal(r.first, 4);
    assert_int_equal(r.length, 4);
  }
}

static void sees_no_copy_where_there_is_none(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 4, 0);
  int named = 0;
  double x[60];
  static const double steps[] = {0.5, 0.2, 0.1, 0.01, 0.0001};
  for (int set = 0; set < 500; set++) {
    tw_repeated_run r;
    series(&random, x, 60, steps[set % 5]);
    for (size_t i = 0; i < 60 && set % 2; i++) { /* half of them drift */
      x[i] = on_step(x[i] + 0.05 * (double)i, steps[set % 5]);
    }
    tw_repeated_run_of(x, 60, &r);
    named += r.found;
  }
  assert_true(named <= 8); /* one in a hundred, and what 500 tries scatter */
  for (size_t i = 0; i < 60; i++) {
    x[i] = i % 2 ? 1 : 2; /* a display that flickers */
  }
  tw_repeated_run r;
  tw_repeated_run_of(x, 60, &r);
  assert_false(r.found);
}

static double mean_of(const double *x, size_t n)
{
  double sum = 0;
  for (size_t i = 0; i < n; i++) {
    sum += x[i] / (double)n;
  }
  return sum;
}

static void finds_a_closing_mean(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 5, 0);
  double x[13];
  int found = 0, named = 0;
  for (int set = 0; set < 400; set++) {
    series(&random, x, 12, 0.1);
    x[12] = on_step(mean_of(x, 12), 0.0001); /* more decimals than a touch */
    found += tw_closes_with_mean(x, 13);
    series(&random, x, 12, 0.001);
    x[12] = on_step(mean_of(x, 12), 0.001); /* as many, but seldom hit */
    found += tw_closes_with_mean(x, 13);
    series(&random, x, 13, set % 2 ? 0.1 : 0.001);
    named += tw_closes_with_mean(x, 13);
  }
  assert_true(found > 700); /* a mean that rounds to fewer decimals looks like a touch */
  assert_true(named <= 2);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(finds_what_was_recorded_twice),
      cmocka_unit_test(sees_no_copy_where_there_is_none),
      cmocka_unit_test(finds_a_closing_mean),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
