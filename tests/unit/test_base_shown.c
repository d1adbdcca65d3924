/* What is printed beside a figure of its kind: a rounding of the solver is none. */
#include "near.h"
#include "tripwright/units.h"

#include <math.h>

static void roundings_are_printed_as_zero(void **state)
{
  (void)state;
  /* a tip that comes back to 1.08e-21 m after a pretravel of 320 nm has come back */
  assert_true(tw_shown_beside(1.08e-21, 320e-9) == 0);
  assert_true(tw_shown_beside(6.22e-64, 0.13) == 0);
  assert_true(tw_shown_beside(-1e-12, 0.2) == 0);
  assert_false(signbit(tw_shown_beside(-1e-12, 0.2)));
  assert_false(signbit(tw_shown_beside(-0.0, 1)));
}

static void what_is_a_millionth_or_more_is_printed(void **state)
{
  (void)state;
  assert_true(tw_shown_beside(2e-6 * 0.2, -0.2) == 2e-6 * 0.2);
  assert_true(tw_shown_beside(-60e-9, 22e-6) == -60e-9);
  assert_true(tw_shown_beside(1e-30, 0) == 1e-30); /* nothing to compare with */
  assert_true(isnan(tw_shown_beside((double)NAN, 1)));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(roundings_are_printed_as_zero),
      cmocka_unit_test(what_is_a_millionth_or_more_is_printed),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
