/* The few general tools of base: a bracket halved, the Cholesky factor, doubles in order. */
#include "near.h"

#include "tripwright/numerics.h"

#include <stdlib.h>

static bool square_below(const void *self, double x)
{
  return x * x < *(const double *)self;
}

static void a_bracket_keeps_its_sides(void **state)
{
  (void)state;
  const double two = 2.0;
  double low = 0.0, high = 2.0;
  tw_bisect(square_below, &two, 1e-15, 200, &low, &high);
  assert_true(low * low < 2.0 && high * high >= 2.0);
  assert_true(high - low <= 1e-15 * high);
  low = 0.0;
  high = 2.0;
  tw_bisect(square_below, &two, 1e-15, 3, &low, &high);
  assert_near(high - low, 0.25, 0.0);
  assert_true(low < sqrt(2.0) && high > sqrt(2.0));
}

/* a = l l' for a known l, in a wider matrix; solving gives back what was multiplied */
static void a_factor_is_found(void **state)
{
  (void)state;
  enum { N = 3, STRIDE = 5 };
  const double l[N][N] = {{2, 0, 0}, {-1, 3, 0}, {0.5, 4, 0.25}};
  const double x[N] = {1, -2, 3};
  double a[N * STRIDE] = {0}, b[N] = {0};
  for (size_t i = 0; i < N; i++) {
    for (size_t j = 0; j < N; j++) {
      double sum = 0;
      for (size_t k = 0; k < N; k++) {
        sum += l[i][k] * l[j][k];
      }
      b[i] += sum * x[j];
      if (j <= i) {
        a[i * STRIDE + j] = sum;
      }
    }
  }
  assert_true(tw_cholesky(N, a, STRIDE));
  for (size_t i = 0; i < N; i++) {
    for (size_t j = 0; j <= i; j++) {
      assert_near(a[i * STRIDE + j], l[i][j], 1e-14);
    }
  }
  tw_cholesky_solve(N, a, STRIDE, b);
  for (size_t i = 0; i < N; i++) {
    assert_near(b[i], x[i], 1e-12);
  }
}

static void what_is_not_positive_is_refused(void **state)
{
  (void)state;
  double indefinite[4] = {1, 0, 2, 3}, not_finite[1] = {INFINITY}, not_a_number[1] = {NAN};
  assert_false(tw_cholesky(2, indefinite, 2));
  assert_false(tw_cholesky(1, not_finite, 1));
  assert_false(tw_cholesky(1, not_a_number, 1));
}

static void doubles_are_ordered(void **state)
{
  (void)state;
  double x[] = {3, -INFINITY, 0.5, 3, -1e-300};
  const double want[] = {-INFINITY, -1e-300, 0.5, 3, 3};
  qsort(x, 5, sizeof x[0], tw_compare_doubles);
  assert_memory_equal(x, want, sizeof want);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_bracket_keeps_its_sides),
      cmocka_unit_test(a_factor_is_found),
      cmocka_unit_test(what_is_not_positive_is_refused),
      cmocka_unit_test(doubles_are_ordered),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
