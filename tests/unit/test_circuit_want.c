/* "What resistor gives 0.1 N": the search for a value and the real values around it, on functions
 * whose answers are known, and on whole boards. */
#include "near.h"

#include "circuit_cases.h"

#include <string.h>

static tw_status linear(void *self, double value, double *result, tw_fault *fault)
{
  (void)fault;
  *result = *(double *)self * value;
  return TW_OK;
}

static void test_linear(void **state)
{
  (void)state;
  double slope = 1e-6; /* 1 uN per ohm */
  const tw_want want = {.measure = linear,
                        .self = &slope,
                        .target = 0.1,
                        .low = 1e3,
                        .high = 1e7,
                        .series = 24,
                        .rows = 5};
  tw_want_answer a;
  assert_int_equal(tw_want_solve(&want, &a, NULL), TW_OK);
  assert_int_equal(a.roots, 1);
  assert_rel(a.root[0], 100e3, 1e-8);
  assert_true(a.monotonic && !a.jumps);
  static const double around[] = {82e3, 91e3, 100e3, 110e3, 120e3};
  assert_int_equal(a.rows, 5);
  for (int i = 0; i < 5; i++) {
    assert_rel(a.row[i].value, around[i], 1e-12);
    assert_true(a.row[i].has_result);
    assert_rel(a.row[i].result, 1e-6 * around[i], 1e-12);
  }
  assert_int_equal(a.best, 2);
  assert_true(a.trials < 60);
}

/* at the end of the range the list moves inwards instead of leaving it */
static void test_at_the_end(void **state)
{
  (void)state;
  double slope = 1.0;
  const tw_want want = {.measure = linear,
                        .self = &slope,
                        .target = 1020,
                        .low = 1000,
                        .high = 9000,
                        .series = 12,
                        .rows = 4};
  tw_want_answer a;
  assert_int_equal(tw_want_solve(&want, &a, NULL), TW_OK);
  assert_int_equal(a.rows, 4);
  assert_near(a.row[0].value, 1000, 0);
  assert_near(a.row[3].value, 1800, 0);
}

static void test_any_value(void **state)
{
  (void)state;
  double slope = 2.0;
  const tw_want want = {
      .measure = linear, .self = &slope, .target = -3.0, .low = -10, .high = 10, .rows = 3};
  tw_want_answer a;
  assert_int_equal(tw_want_solve(&want, &a, NULL), TW_OK);
  assert_near(a.root[0], -1.5, 1e-8);
  assert_int_equal(a.rows, 1); /* no series: the answer itself */
  assert_near(a.row[0].result, -3.0, 1e-8);
}

/* two answers */
static tw_status parabola(void *self, double value, double *result, tw_fault *fault)
{
  (void)self;
  (void)fault;
  const double x = log10(value) - 4.0; /* lowest at 10k */
  *result = x * x;
  return TW_OK;
}

static void test_two_roots(void **state)
{
  (void)state;
  const tw_want want = {
      .measure = parabola, .target = 0.2, .low = 1e2, .high = 1e6, .series = 96, .rows = 3};
  tw_want_answer a;
  assert_int_equal(tw_want_solve(&want, &a, NULL), TW_OK);
  assert_int_equal(a.roots, 2);
  assert_rel(a.root[0], pow(10, 4 - sqrt(0.2)), 1e-7);
  assert_rel(a.root[1], pow(10, 4 + sqrt(0.2)), 1e-7);
  assert_false(a.monotonic);
  /* out of reach: the reach is told, and the nearest real values are listed */
  tw_fault fault = {0};
  const tw_want deep = {
      .measure = parabola, .target = -1.0, .low = 1e2, .high = 1e6, .series = 24, .rows = 3};
  assert_int_equal(tw_want_solve(&deep, &a, &fault), TW_NO_ANSWER);
  assert_non_null(strstr(fault.text, "out of reach"));
  assert_int_equal(a.rows, 3);
  assert_near(a.row[a.best].value, 10e3, 1e-6);
  assert_near(a.least, 0.0, 0.01);
  assert_near(a.most, 4.0, 0.01);
}

/* a result that jumps over the target */
static tw_status step(void *self, double value, double *result, tw_fault *fault)
{
  (void)self;
  (void)fault;
  *result = value < 33e3 ? 1.0 : 2.0;
  return TW_OK;
}

static void test_jump(void **state)
{
  (void)state;
  tw_want_answer a;
  tw_fault fault = {0};
  const tw_want want = {
      .measure = step, .target = 1.5, .low = 1e3, .high = 1e6, .series = 24, .rows = 4};
  assert_int_equal(tw_want_solve(&want, &a, &fault), TW_NO_ANSWER);
  assert_true(a.jumps);
  assert_int_equal(a.roots, 0);
  assert_non_null(strstr(fault.text, "jumps"));
  assert_int_equal(a.rows, 4);
}

/* results only on a part of the range, with the answer close to its end: 1/(1 - x) below 1 */
static tw_status pole(void *self, double value, double *result, tw_fault *fault)
{
  (void)self;
  if (value >= 50e3) {
    return tw_fail(fault, TW_NO_ANSWER, "circuit.bias_resistance", "lower it", "never trips");
  }
  *result = 1.0 / (1.0 - value / 50e3);
  return TW_OK;
}

static void test_ends_of_results(void **state)
{
  (void)state;
  tw_want_answer a;
  const tw_want want = {.measure = pole,
                        .target = 1000.0,
                        .low = 1e3,
                        .high = 1e6,
                        .series = 24,
                        .rows = 5,
                        .scan = 7};
  assert_int_equal(tw_want_solve(&want, &a, NULL), TW_OK);
  assert_rel(a.root[0], 50e3 * 0.999, 1e-6);
  assert_int_equal(a.rows, 5);
  assert_true(a.row[2].has_result);  /* 47k */
  assert_false(a.row[3].has_result); /* 51k */
  assert_int_equal(a.best, 2);
  /* nothing has a result: the reason of the measure is handed on */
  tw_fault fault = {0};
  const tw_want none = {
      .measure = pole, .target = 2.0, .low = 60e3, .high = 1e6, .series = 24, .rows = 5};
  assert_int_equal(tw_want_solve(&none, &a, &fault), TW_NO_ANSWER);
  assert_string_equal(fault.field, "circuit.bias_resistance");
  assert_non_null(strstr(fault.text, "never trips"));
  assert_int_equal(a.rows, 0);
  assert_int_equal(a.best, -1);
}

static tw_status not_a_number(void *self, double value, double *result, tw_fault *fault)
{
  (void)self;
  (void)value;
  (void)fault;
  *result = NAN;
  return TW_OK;
}

static void test_bad(void **state)
{
  (void)state;
  tw_want_answer a;
  tw_fault fault = {0};
  double slope = 1.0;
  const tw_want good = {.measure = linear,
                        .self = &slope,
                        .target = 5,
                        .low = 1,
                        .high = 10,
                        .series = 24,
                        .rows = 3};
  tw_want w = good;
  w.low = 0;
  assert_int_equal(tw_want_solve(&w, &a, &fault), TW_BAD_INPUT);
  w = good;
  w.high = 0.5;
  assert_int_equal(tw_want_solve(&w, &a, &fault), TW_BAD_INPUT);
  w = good;
  w.series = 25;
  assert_int_equal(tw_want_solve(&w, &a, &fault), TW_BAD_INPUT);
  w = good;
  w.target = NAN;
  assert_int_equal(tw_want_solve(&w, &a, &fault), TW_BAD_INPUT);
  w = good;
  w.rows = TW_WANT_ROWS + 1;
  assert_int_equal(tw_want_solve(&w, &a, &fault), TW_BAD_INPUT);
  w = good;
  w.measure = not_a_number;
  assert_int_equal(tw_want_solve(&w, &a, &fault), TW_NO_ANSWER);
}

/* a user who has seen enough: nothing more is tried, and it is no "out of reach" */
static tw_status stop_at_seven(void *self, double value, double *result, tw_fault *fault)
{
  int *count = self;
  *result = value;
  return ++*count < 7 ? TW_OK : tw_fail(fault, TW_CANCELLED, "", "", "cancelled");
}

static void test_cancelled(void **state)
{
  (void)state;
  tw_want_answer a;
  tw_fault fault = {0};
  int count = 0;
  const tw_want want = {.measure = stop_at_seven,
                        .self = &count,
                        .target = 5e3,
                        .low = 1,
                        .high = 1e4,
                        .series = 24,
                        .rows = 5};
  assert_int_equal(tw_want_solve(&want, &a, &fault), TW_CANCELLED);
  assert_int_equal(count, 7);
  assert_string_equal(fault.text, "cancelled");
}

/* ---- on boards
 * -------------------------------------------------------------------------------------- */

/* force at which (ii) trips, by its gain's upper resistor */
static tw_status trip_force(void *self, double value, double *result, tw_fault *fault)
{
  tw_circuit_spec s = *(const tw_circuit_spec *)self;
  tw_circuit c;
  s.gain_feedback = value;
  const tw_status status = tw_circuit_solve(&s, &c, fault);
  if (status == TW_OK && c.rearm == TW_REARM_TRIPPED) {
    return tw_fail(fault, TW_NO_ANSWER, "circuit.gain_upper", "lower it", "tripped at rest");
  }
  *result = c.threshold_charge / s.charge_per_newton;
  return status;
}

static void test_board(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.gain_ground = 10e3;
  const tw_want want = {.measure = trip_force,
                        .self = &s,
                        .target = 0.1,
                        .low = 1e3,
                        .high = 1e7,
                        .series = 24,
                        .rows = 3};
  tw_want_answer a;
  tw_fault fault = {0};
  assert_int_equal(tw_want_solve(&want, &a, &fault), TW_OK);
  double force = 0.0;
  assert_int_equal(trip_force(&s, a.root[0], &force, NULL), TW_OK);
  assert_rel(force, 0.1, 1e-7);
  /* by hand: V_T = 10 mV + what the offset of the rest level takes */
  const double r = a.root[0], gain = 1 + r / 10e3;
  assert_rel((1.366917 - (1.0 + gain * 0.02 - 20e-9 * r)) / gain * 20e-9 / 2e-9, 0.1, 1e-5);
  assert_true(a.row[0].value < r && a.row[2].value > r);
  /* heavier than any gain of one or more gives: out of reach, with the reach told */
  const tw_want heavy = {.measure = trip_force,
                         .self = &s,
                         .target = 10.0,
                         .low = 1e3,
                         .high = 1e7,
                         .series = 24,
                         .rows = 3};
  assert_int_equal(tw_want_solve(&heavy, &a, &fault), TW_NO_ANSWER);
  assert_non_null(strstr(fault.text, "out of reach"));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_linear),    cmocka_unit_test(test_at_the_end),
      cmocka_unit_test(test_any_value), cmocka_unit_test(test_two_roots),
      cmocka_unit_test(test_jump),      cmocka_unit_test(test_ends_of_results),
      cmocka_unit_test(test_bad),       cmocka_unit_test(test_board),
      cmocka_unit_test(test_cancelled),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
