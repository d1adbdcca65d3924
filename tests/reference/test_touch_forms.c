/* Closed forms of the touch against their tabulated digits (docs/models/touch.md 5), and the run
 * in time against the same closed forms where both must agree. */
#include "near.h"
#include "touch_scenes.h"
#include "tripwright/circuit_forms.h"

static const tw_impact M[3] = {
    {5e4, 1e5, 0.005, 0.005}, {5e4, 1e5, 0.005, 0.1}, {5e4, 1e5, 0.02, 0.002}};
static const double tau_of[3] = {0.02, 0.02, 0.0002};
static const double step_of[3] = {0.02, 0.02, 0.0013};

static void impact_table(void **state)
{
  (void)state;
  static const struct {
    double crossing, at_half, regime, cubic, ratio;
    double d_crossing, d_half, d_regime, d_cubic, d_ratio; /* weight of the last digit */
  } rows[3] = {{1.43101, 7.08946, 32.8634, 0.621447, 109.545, 1e-5, 1e-5, 1e-4, 1e-6, 1e-3},
               {0.235638, 141.789, 32.8634, 0.228943, 109.545, 1e-6, 1e-3, 1e-4, 1e-6, 1e-3},
               {0.748416, 0.552414, 1.06806, 0.538321, 0.547723, 1e-6, 1e-6, 1e-5, 1e-6, 1e-6}};
  for (int i = 0; i < 3; i++) {
    double t = 0.0;
    tw_fault fault;
    assert_int_equal(tw_impact_crossing(&M[i], 0.1, tau_of[i], step_of[i], &t, &fault), TW_OK);
    assert_printed(t * 1e3, rows[i].crossing, rows[i].d_crossing);
    assert_printed(tw_impact_voltage(&M[i], 0.1, tau_of[i], 0.5e-3) * 1e3, rows[i].at_half,
                   rows[i].d_half);
    const double force = step_of[i] / 0.1;
    assert_printed(tw_impact_regime_feed(&M[i], force) * 1e3, rows[i].regime, rows[i].d_regime);
    assert_printed(tw_impact_cubic_time(&M[i], force) * 1e3, rows[i].cubic, rows[i].d_cubic);
    assert_printed(tw_impact_ratio(&M[i], tau_of[i]), rows[i].ratio, rows[i].d_ratio);
  }
}

static void impact_that_never_reaches(void **state)
{
  (void)state;
  double t = 1.0;
  tw_fault fault = {0};
  assert_int_equal(tw_impact_crossing(&M[2], 0.1, 2e-4, 0.5, &t, &fault), TW_NO_ANSWER);
  assert_string_equal(fault.field, "machine.feed");
  assert_near(t, 0.0, 0.0);
}

static void stops_and_sampling(void **state)
{
  (void)state;
  double x = 0.0;
  tw_touch_stop s;
  assert_int_equal(tw_touch_overtravel(200 * SCENE_MM_MIN, 2e-3, 0.5, 50, &x, NULL), TW_OK);
  assert_printed(x * 1e6, 33.8832, 1e-4);
  assert_int_equal(tw_touch_stopping(200 * SCENE_MM_MIN, 0.5, 50, &s, NULL), TW_OK);
  assert_printed(s.time * 1e3, 16.3299, 1e-4);
  assert_int_equal(tw_touch_overtravel(1000 * SCENE_MM_MIN, 2e-3, 0.5, 50, &x, NULL), TW_OK);
  assert_printed(x * 1e6, 394.4444, 1e-4);
  assert_int_equal(tw_touch_stopping(1000 * SCENE_MM_MIN, 0.5, 50, &s, NULL), TW_OK);
  assert_printed(s.time * 1e3, 43.3333, 1e-4);
  assert_int_equal(tw_touch_overtravel(200 * SCENE_MM_MIN, 0.0, 0.5, 0.0, &x, NULL), TW_OK);
  assert_printed(x * 1e6, 11.1111, 1e-4);
  assert_int_equal(tw_touch_stopping(200 * SCENE_MM_MIN, 0.5, 0.0, &s, NULL), TW_OK);
  assert_printed(s.time * 1e3, 6.6667, 1e-4);
  /* v t + v^2/(2 a): overtravels of a crash, 600, 2000, 5000 mm/min */
  assert_int_equal(tw_touch_overtravel(600 * SCENE_MM_MIN, 0.01, 0.5, 0.0, &x, NULL), TW_OK);
  assert_printed(x * 1e3, 0.200, 1e-3);
  assert_int_equal(tw_touch_overtravel(2000 * SCENE_MM_MIN, 0.01, 1.0, 0.0, &x, NULL), TW_OK);
  assert_printed(x * 1e3, 0.889, 1e-3);
  assert_int_equal(tw_touch_overtravel(5000 * SCENE_MM_MIN, 0.01, 1.0, 0.0, &x, NULL), TW_OK);
  assert_printed(x * 1e3, 4.306, 1e-3);
  tw_fault fault = {0};
  assert_int_equal(tw_touch_stopping(0.01, 0.0, 0.0, &s, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "machine.acceleration");
}

static void hertz_constant(void **state)
{
  (void)state;
  const double k = tw_touch_hertz(1e-3, 4e11, 0.25, 2.07e11, 0.29);
  assert_printed(k * 1e-9, 6.2295, 1e-4);
  assert_printed(0.75 * k / sqrt(1e-3) * 1e-9, 147.746, 1e-3); /* E* */
  const double d = pow(0.5 / k, 2.0 / 3.0);
  assert_printed(d * 1e6, 0.186071, 1e-6);
  assert_printed(1.5 * 0.5 / d * 1e-6, 4.03073, 1e-5);
  assert_printed(sqrt(1e-3 * d) * 1e6, 13.6408, 1e-4);
}

/* levels of the three circuits: thresholds, rest, static force, slowest feed */
static void levels_of_the_circuits(void **state)
{
  (void)state;
  static const struct {
    int circuit;
    double rest, trip, release, force, slowest, d_slowest;
  } rows[] = {{1, 0.99427, 1.03999, 1.01239, 0.4572, 40.66, 0.01},
              {2, 1.20200, 1.36692, 1.34160, 0.1633, 14.70, 0.01},
              {3, 1.20000, 1.36692, 1.34160, 0.1836, 15.02, 0.01}};
  for (size_t i = 0; i < 3; i++) {
    const tw_touch_model m = scene_circuit(rows[i].circuit);
    tw_touch_levels l;
    assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
    assert_printed(l.rest, rows[i].rest, 1e-5);
    assert_printed(l.trip, rows[i].trip, 1e-5);
    assert_printed(l.release, rows[i].release, 1e-5);
    assert_printed(l.force, rows[i].force, 1e-4);
    assert_printed(l.slowest / SCENE_MM_MIN, rows[i].slowest, rows[i].d_slowest);
    assert_true(l.armed && l.rearms && l.reachable);
  }
  /* base case: at 38 nA it never re-arms, from 65.2 nA on it is tripped at rest */
  tw_touch_model m = scene_circuit(1);
  tw_touch_levels l;
  m.node.bias_current = 38e-9;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  assert_true(l.armed && !l.rearms);
  m.node.bias_current = 65.2e-9;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  assert_true(!l.armed);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(impact_table),           cmocka_unit_test(impact_that_never_reaches),
      cmocka_unit_test(stops_and_sampling),     cmocka_unit_test(hertz_constant),
      cmocka_unit_test(levels_of_the_circuits),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
