/* The bias current where the node meets it: magnitude of a negative bound, the stage's and not the
 * comparator's behind it, two inputs for a window, the clamp's leak on top. */
#include "near.h"

#include "circuit_cases.h"

static void test_bound(void **state)
{
  (void)state;
  tw_circuit_spec s = case_direct(0.0);
  s.comparator.bias_least = -30e-9;
  s.comparator.bias_most = 10e-9;
  assert_near(tw_circuit_bias_bound(&s), 30e-9, 1e-18);
  assert_near(tw_circuit_bias_spread(&s), 30e-9, 1e-18);
  s.clamped = true;
  s.clamp_low = -1.0;
  s.clamp_high = 6.0;
  s.clamp_leakage = 2e-9;
  assert_near(tw_circuit_bias_bound(&s), 32e-9, 1e-18);
  tw_feed_bounds f;
  assert_int_equal(tw_circuit_feeds(&s, 1e-4, 0.1, &f, NULL), TW_OK);
  assert_near(f.bias, 32e-9 / 1e-4, 1e-12);
}

static void test_stage(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.front.bias_current = 20e-9;
  s.front.bias_least = 0.0;
  s.front.bias_most = 50e-9;
  s.comparator.bias_most = 900e-9;
  assert_near(tw_circuit_bias_bound(&s), 50e-9, 1e-18);
  assert_near(tw_circuit_bias_spread(&s), 30e-9, 1e-18);
}

static void test_window(void **state)
{
  (void)state;
  tw_circuit_spec s = case_direct(5e-9);
  tw_circuit one, two;
  assert_int_equal(tw_circuit_solve(&s, &one, NULL), TW_OK);
  s.polarity = TW_SEES_BOTH;
  s.reference_falling = s.reference;
  s.reference_falling.top = 100e3;
  assert_int_equal(tw_circuit_solve(&s, &two, NULL), TW_OK);
  assert_near(two.rest_node - one.rest_node, 5e-9 * one.resistance, 1e-9);
  assert_near(tw_circuit_bias_bound(&s), 2 * 5e-9, 1e-18);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_bound), cmocka_unit_test(test_stage),
                                     cmocka_unit_test(test_window)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
