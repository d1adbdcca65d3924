/* Noise as the comparator meets it: 1/f against a sum over the band, the band's end, the second
 * part behind a stage, and the word where a sheet gives no figure. */
#include "near.h"

#include "circuit_cases.h"

/* e^2 (1 + fc/f)/(1 + (f/p)^2) summed over a fine logarithmic grid */
static double by_sum(double e, double corner, double pole, double low, double high)
{
  const int n = 200000;
  const double step = log(high / low) / n;
  double sum = 0.0;
  for (int i = 0; i < n; i++) {
    const double f = low * exp((i + 0.5) * step), r = f / pole;
    sum += (1.0 + corner / f) / (1.0 + r * r) * f * step;
  }
  return e * sqrt(sum);
}

static void test_flicker(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.gain = 10.0;
  s.front.voltage_noise = 30e-9;
  s.front.noise_corner = 200.0;
  tw_circuit c;
  tw_circuit_noise n;
  tw_fault fault = {0};
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_int_equal(tw_circuit_noise_of(&s, 0.1, 1e6, &n, NULL), TW_OK);
  assert_rel(n.voltage, by_sum(30e-9, 200.0, c.front_pole, 0.1, 1e6), 1e-6);
  assert_int_equal(tw_circuit_noise_of(&s, 0.0, 1e6, &n, &fault), TW_BAD_INPUT);
}

static void test_seen(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.gain = 10.0;
  s.front.voltage_noise = 30e-9;
  s.comparator.voltage_noise = 300e-9;
  tw_circuit_noise n, of;
  assert_int_equal(tw_circuit_noise_seen(&s, &n, NULL), TW_OK);
  assert_true(n.voltage_stated);
  /* up to the comparator's 0.7 MHz, its own noise over the gain of ten */
  assert_near(n.high, 0.7e6, 1e-3);
  assert_int_equal(tw_circuit_noise_of(&s, n.low, n.high, &of, NULL), TW_OK);
  assert_rel(n.total, of.total, 1e-12);
  assert_rel(n.comparator, tw_noise_one_pole_band(300e-9, 0.7e6, 0.1, 0.7e6) / 10.0, 1e-12);
  /* a comparator of 1 us: 0.35 MHz */
  s.comparator.gain_bandwidth = 0.0;
  s.comparator.response_time = 1e-6;
  assert_int_equal(tw_circuit_noise_seen(&s, &n, NULL), TW_OK);
  assert_near(n.high, 0.35e6, 1e-3);
  s.front.voltage_noise = 0.0;
  assert_int_equal(tw_circuit_noise_seen(&s, &n, NULL), TW_OK);
  assert_false(n.voltage_stated);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_flicker), cmocka_unit_test(test_seen)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
