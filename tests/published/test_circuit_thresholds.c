/* Thresholds of comparators with feedback: published examples (source beside each), node-equation
 * cases and worst cases of docs/models/circuit.md 2. "read" says that the named sheet was read,
 * "from memory" that its resistors were not. */
#include "near.h"

#include "tripwright/circuit.h"

static tw_thresholds solve(tw_reference reference, tw_switching at)
{
  tw_thresholds t = {0};
  tw_fault fault = {0};
  assert_int_equal(tw_schmitt(&reference, &at, &t, &fault), TW_OK);
  assert_near(t.hysteresis, t.rise - t.fall, 1e-15);
  return t;
}

/* ---- published --------------------------------------------------------------------------------
 */

/* data sheet MAX9117-MAX9120 p 11 (read): R1 12k, R2 8.66k, R3 1.2M, reference 1.252 V, 5 V;
 * printed 3 V, 2.95 V, hysteresis 50 mV */
static void test_p1(void **state)
{
  (void)state;
  const tw_thresholds t = solve((tw_reference){.topology = TW_NON_INVERTING,
                                               .input = 12e3,
                                               .ground = 8.66e3,
                                               .feedback = 1.2e6,
                                               .voltage = 1.252},
                                (tw_switching){.supply = 5, .high = 5});
  assert_printed(t.rise, 3.00, 0.01);
  assert_printed(t.fall, 2.95, 0.01);
  assert_printed(t.hysteresis, 0.050, 0.001);
  assert_printed(t.rise, 2.999393, 1e-6);
  assert_printed(t.fall, 2.949393, 1e-6);
}

/* data sheet MAX917-MAX920 p 11 (read): the chosen standard value 8.2k does not meet the printed
 * target of 3 V; the hysteresis of 50 mV it does meet */
static void test_p2_target_missed(void **state)
{
  (void)state;
  tw_reference r = {.topology = TW_NON_INVERTING,
                    .input = 12e3,
                    .ground = 8.2e3,
                    .feedback = 1.2e6,
                    .voltage = 1.2};
  const tw_switching at = {.supply = 5, .high = 5};
  tw_thresholds t = solve(r, at);
  assert_printed(t.rise, 2.968098, 1e-6);
  assert_printed(t.fall, 2.918098, 1e-6);
  assert_true(fabs(t.rise - 3.0) > 0.03); /* printed target not met */
  /* with the reference that the same sheet names elsewhere */
  r.voltage = 1.245;
  t = solve(r, at);
  assert_printed(t.rise, 3.079401, 1e-6);
  assert_printed(t.fall, 3.029401, 1e-6);
  assert_true(fabs(t.rise - 3.0) > 0.03); /* nor with that one */
  assert_printed(t.hysteresis, 0.050, 0.001);
  /* the exact resistor of the sheet's own equation, printed 8.05k */
  r.voltage = 1.2;
  r.ground = 1.0 / (3.0 / (1.2 * 12e3) - 1.0 / 12e3 - 1.0 / 1.2e6);
  assert_printed(r.ground, 8.05e3, 10.0);
  t = solve(r, at);
  assert_near(t.rise, 3.0, 1e-12);
}

/* data sheet MAX9647/MAX9648 p 9 (from the project's notes, marked read there): inverting, 2.5 V
 * through 1k to the + input, 100k feedback, 5 V; printed 2.525 / 2.475 V, which drops R2 in the
 * sum and so differs in the last digit */
static void test_p3(void **state)
{
  (void)state;
  const tw_thresholds t =
      solve((tw_reference){.voltage = 2.5, .resistance = 1e3, .feedback = 100e3},
            (tw_switching){.supply = 5, .high = 5});
  assert_near(t.rise, 2.525, 0.5e-3);
  assert_near(t.fall, 2.475, 0.5e-3);
  assert_printed(t.rise, 2.524752, 1e-6);
  assert_printed(t.fall, 2.475248, 1e-6);
}

/* TI reference design TIPD144, thresholds quoted in SNOSD52B: 2.7 / 2.3 V; resistors from memory */
static void test_p5(void **state)
{
  (void)state;
  const tw_thresholds t = solve((tw_reference){.top = 100e3, .bottom = 100e3, .feedback = 576e3},
                                (tw_switching){.supply = 5, .high = 5});
  assert_printed(t.rise, 2.7, 0.1);
  assert_printed(t.fall, 2.3, 0.1);
  assert_printed(t.rise, 2.699681, 1e-6);
  assert_printed(t.fall, 2.300319, 1e-6);
}

/* TI circuit CIRCUIT060078 (SBOA313), targets 1.7 / 1.3 V at 3 V; the network is derived here */
static void test_p7(void **state)
{
  (void)state;
  const tw_thresholds t = solve(
      (tw_reference){
          .topology = TW_NON_INVERTING, .input = 100e3, .feedback = 750e3, .voltage = 1.5},
      (tw_switching){.supply = 3, .high = 3});
  assert_printed(t.rise, 1.7, 1e-6);
  assert_printed(t.fall, 1.3, 1e-6);
}

/* three equal resistors give thirds of the supply: data sheet SBOS561A p 12 fig 28 prints 3.33 and
 * 1.67 V at 5 V (from the project's notes); application note AN-74 10 and 5 V at 15 V (from
 * memory) */
static void test_thirds(void **state)
{
  (void)state;
  const tw_reference r = {.top = 1e6, .bottom = 1e6, .feedback = 1e6};
  tw_thresholds t = solve(r, (tw_switching){.supply = 5, .high = 5});
  assert_printed(t.rise, 3.33, 0.01);
  assert_printed(t.fall, 1.67, 0.01);
  assert_printed(t.rise, 3.3333, 1e-4);
  assert_printed(t.fall, 1.6667, 1e-4);
  t = solve(r, (tw_switching){.supply = 15, .high = 15});
  assert_near(t.rise, 10.0, 1e-12);
  assert_near(t.fall, 5.0, 1e-12);
}

/* data sheet MAX9075/MAX9077 p 6 (read): R1 100k, R3 10M, reference 1.2 V, target 3 V; its equation
 * gives 67.114k; the "1 % preferred value 64.9k" printed there is not the nearest one, and with it
 * the threshold is 61 mV off */
static void test_preferred_value_that_is_not(void **state)
{
  (void)state;
  const double exact = 1.0 / (3.0 / (1.2 * 100e3) - 1.0 / 100e3 - 1.0 / 10e6);
  assert_printed(exact, 67.114e3, 1.0);
  double nearest = 0.0;
  assert_int_equal(tw_series_nearest(96, exact, TW_NEAREST_RATIO, &nearest, NULL), TW_OK);
  assert_near(nearest, 66.5e3, 0.0);
  tw_reference r = {.topology = TW_NON_INVERTING,
                    .input = 100e3,
                    .ground = 64.9e3,
                    .feedback = 10e6,
                    .voltage = 1.2};
  const tw_switching at = {.supply = 5, .high = 5};
  assert_printed(solve(r, at).rise, 3.0610, 1e-4);
  r.ground = nearest;
  assert_printed(solve(r, at).rise, 3.0165, 1e-4);
}

/* ---- computed from the node equations -----------------------------------------------------------
 */

static void test_s1(void **state)
{
  (void)state;
  const tw_thresholds t = solve((tw_reference){.top = 47e3, .bottom = 33e3, .feedback = 470e3},
                                (tw_switching){.supply = 5, .high = 4.98, .low = 0.02});
  assert_printed(t.rise, 2.178079, 1e-6);
  assert_printed(t.fall, 1.981585, 1e-6);
}

/* bipolar output levels and a current out of each input: through the divider, and through Rs */
static void test_s2(void **state)
{
  (void)state;
  const tw_reference r = {.top = 100e3, .bottom = 100e3, .feedback = 330e3};
  tw_switching at = {.supply = 5, .high = 3.5, .low = 0.02, .bias_current = 45e-9, .source = 10e3};
  const tw_thresholds t = solve(r, at);
  assert_printed(t.rise, 2.633083, 1e-6);
  assert_printed(t.fall, 2.175188, 1e-6);
  /* the same resistor as the lead of the board instead of the source */
  tw_reference lead = r;
  lead.input = 10e3;
  at.source = 0;
  const tw_thresholds same = solve(lead, at);
  assert_near(same.rise, t.rise, 1e-15);
  /* the sign of the current matters: into the pins it lowers what it raised */
  at.bias_current = 0;
  const double without = solve(lead, at).rise;
  at.bias_current = -45e-9;
  assert_near(solve(lead, at).rise - without, -(t.rise - without), 1e-12);
}

/* reference divider at the - input, nothing draws from it: its Thevenin voltage */
static void test_s4(void **state)
{
  (void)state;
  const tw_reference r = {
      .topology = TW_NON_INVERTING, .top = 68e3, .bottom = 22e3, .input = 10e3, .feedback = 470e3};
  const tw_switching at = {.supply = 5, .source = 2.2e3, .high = 4.96, .low = 0.04};
  const tw_thresholds t = solve(r, at);
  assert_printed(t.rise, 1.252910, 1e-6);
  assert_printed(t.fall, 1.125199, 1e-6);
}

/* open collector: high is 5 V through 4.7k + 100k, low the saturated transistor */
static void test_s6(void **state)
{
  (void)state;
  const tw_reference r = {.topology = TW_NON_INVERTING,
                          .voltage = 2.0,
                          .resistance = 10e3,
                          .input = 10e3,
                          .feedback = 100e3};
  const tw_switching at = {.supply = 5,
                           .high = 5,
                           .low = 0.18,
                           .pull_up = 4.7e3,
                           .pull_up_voltage = 5,
                           .bias_current = 25e-9};
  const tw_thresholds t = solve(r, at);
  assert_printed(t.rise, 2.182025, 1e-6);
  assert_printed(t.fall, 1.713491, 1e-6);
}

/* touch in time, circuits (i) and (ii), (iii): T4, T5 */
static const tw_switching bipolar = {.supply = 5, .high = 3.5, .low = 0.005};

static void test_t4_t5(void **state)
{
  (void)state;
  const tw_thresholds a =
      solve((tw_reference){.top = 39e3, .bottom = 10e3, .feedback = 1e6}, bipolar);
  assert_printed(a.rise, 1.039988, 1e-6);
  assert_printed(a.fall, 1.012390, 1e-6);
  const tw_thresholds b =
      solve((tw_reference){.top = 27e3, .bottom = 10e3, .feedback = 1e6}, bipolar);
  assert_printed(b.rise, 1.366917, 1e-6);
  assert_printed(b.fall, 1.341598, 1e-6);
  /* hysteresis (VOH - VOL)/(R3 G), and the fraction fed back that sets the speed of the edge */
  const double g = 1.0 / 39e3 + 1.0 / 10e3 + 1.0 / 1e6;
  assert_near(a.hysteresis, 3.495 / (1e6 * g), 1e-12);
  assert_printed(a.share[1], 0.00789634, 1e-8);
  assert_near(a.share[0], a.share[1], 0.0);
  /* a part that reached the rail would switch at 1.0518 V */
  tw_switching rail = bipolar;
  rail.high = 5;
  assert_printed(solve((tw_reference){.top = 39e3, .bottom = 10e3, .feedback = 1e6}, rail).rise,
                 1.0518, 1e-4);
}

/* T8: a source of 1M in front of 10k with 10M feedback widens the band to 353 mV */
static void test_t8(void **state)
{
  (void)state;
  tw_switching at = bipolar;
  const tw_reference r = {
      .topology = TW_NON_INVERTING, .voltage = 1.04, .input = 10e3, .feedback = 10e6};
  assert_printed(solve(r, at).hysteresis, 3.495e-3, 1e-6);
  at.source = 1e6;
  assert_printed(solve(r, at).hysteresis, 0.353, 1e-3);
}

/* T9, T10: the eight corners of three resistors */
static void corners(double part, double *low, double *high)
{
  *low = INFINITY;
  *high = -INFINITY;
  for (int i = 0; i < 8; i++) {
    const double a = i & 1 ? 1 + part : 1 - part, b = i & 2 ? 1 + part : 1 - part;
    const double c = i & 4 ? 1 + part : 1 - part;
    const tw_reference r = {.top = 39e3 * a, .bottom = 10e3 * b, .feedback = 1e6 * c};
    const double rise = solve(r, bipolar).rise;
    *low = fmin(*low, rise);
    *high = fmax(*high, rise);
  }
}

static void test_t9_t10(void **state)
{
  (void)state;
  double low, high;
  corners(0.01, &low, &high);
  assert_printed(low, 1.023658, 1e-6);
  assert_printed(high, 1.056508, 1e-6);
  corners(0.05, &low, &high);
  assert_printed(low, 0.960178, 1e-6);
  assert_printed(high, 1.124558, 1e-6);
}

static void test_t13(void **state)
{
  (void)state;
  const tw_reference r = {.top = 39e3, .bottom = 10e3, .feedback = 1e6};
  double rise = 0.0, fall = 0.0;
  assert_int_equal(tw_schmitt_sensitivity(&r, &bipolar, &rise, &fall, NULL), TW_OK);
  assert_printed(rise, 1.14788, 1e-5);
  assert_true(fall > 1.0 && fall < rise);
}

/* ---- what must hold for every network
 * ------------------------------------------------------------ */

/* the linear form that the touch in time uses: zero at both thresholds */
static void test_form(void **state)
{
  (void)state;
  const tw_switching at = {.supply = 5,
                           .high = 4.9,
                           .low = 0.1,
                           .bias_current = 30e-9,
                           .source = 5e3,
                           .offset = 2e-3,
                           .own_hysteresis = 4e-3};
  const tw_reference inverting = {.top = 47e3, .bottom = 33e3, .feedback = 470e3, .input = 1e3};
  const tw_thresholds a = solve(inverting, at);
  assert_near(a.base[1] + a.share[1] * 4.9 + a.weight[1] * a.rise, 0.0, 1e-12);
  assert_near(a.base[0] + a.share[0] * 0.1 + a.weight[0] * a.fall, 0.0, 1e-12);
  const tw_reference straight = {.topology = TW_NON_INVERTING,
                                 .top = 47e3,
                                 .bottom = 33e3,
                                 .feedback = 470e3,
                                 .input = 12e3,
                                 .ground = 33e3,
                                 .ground_voltage = 0.4};
  const tw_thresholds b = solve(straight, at);
  assert_near(b.base[0] + b.share[0] * 0.1 + b.weight[0] * b.rise, 0.0, 1e-12);
  assert_near(b.base[1] + b.share[1] * 4.9 + b.weight[1] * b.fall, 0.0, 1e-12);
  /* the part's own hysteresis adds to both sides, in front of the input resistor enlarged */
  tw_switching none = at;
  none.own_hysteresis = 0;
  assert_near(a.hysteresis - solve(inverting, none).hysteresis, 4e-3, 1e-12);
  assert_near(b.hysteresis - solve(straight, none).hysteresis, 4e-3 / b.weight[0], 1e-12);
  /* an offset raises both thresholds */
  none.offset = 0;
  assert_near(solve(inverting, at).rise - solve(inverting, none).rise, 2e-3 + 2e-3, 1e-12);
}

/* no feedback: one threshold; a stiff reference with feedback: no hysteresis either */
static void test_without_band(void **state)
{
  (void)state;
  const tw_switching at = {.supply = 5, .high = 5};
  tw_thresholds t = solve((tw_reference){.top = 10e3, .bottom = 10e3}, at);
  assert_near(t.rise, 2.5, 1e-15);
  assert_near(t.hysteresis, 0.0, 1e-15);
  t = solve((tw_reference){.voltage = 1.0, .feedback = 100e3}, at);
  assert_near(t.rise, 1.0, 1e-15);
  assert_near(t.hysteresis, 0.0, 1e-15);
}

static void test_refused(void **state)
{
  (void)state;
  const tw_switching at = {.supply = 5, .high = 5};
  static const struct {
    tw_reference r;
    const char *field;
  } cases[] = {
      {{.top = 10e3}, "circuit.reference_lower"},
      {{.top = 10e3, .bottom = -1.0}, "circuit.reference_lower"},
      {{.top = -1.0, .bottom = 10e3}, "circuit.reference_upper"},
      {{.voltage = 1.0, .feedback = -5.0}, "circuit.feedback_resistance"},
      {{.voltage = 1.0, .input = -5.0}, "circuit.input_resistance"},
      {{.voltage = 1.0, .resistance = -5.0}, "circuit.reference_resistance"},
      {{.voltage = NAN}, "circuit.reference"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    tw_thresholds t;
    tw_fault fault = {0};
    assert_int_equal(tw_schmitt(&cases[i].r, &at, &t, &fault), TW_BAD_INPUT);
    assert_string_equal(fault.field, cases[i].field);
    assert_true(fault.hint[0] != 0);
  }
  /* levels the wrong way round, and a pull-up below the reference */
  tw_thresholds t;
  tw_fault fault = {0};
  const tw_reference r = {.voltage = 3.0, .resistance = 10e3, .feedback = 100e3};
  assert_int_equal(
      tw_schmitt(&r, &(tw_switching){.supply = 1, .high = 0.2, .low = 0.3}, &t, &fault),
      TW_BAD_INPUT);
  assert_string_equal(fault.field, "circuit.amplifier");
  assert_int_equal(
      tw_schmitt(&r,
                 &(tw_switching){
                     .supply = 5, .high = 1.0, .low = 0.3, .pull_up = 1.0, .pull_up_voltage = 0.0},
                 &t, &fault),
      TW_BAD_INPUT);
  assert_string_equal(fault.field, "output.pull_up");
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_p1),
      cmocka_unit_test(test_p2_target_missed),
      cmocka_unit_test(test_p3),
      cmocka_unit_test(test_p5),
      cmocka_unit_test(test_p7),
      cmocka_unit_test(test_thirds),
      cmocka_unit_test(test_preferred_value_that_is_not),
      cmocka_unit_test(test_s1),
      cmocka_unit_test(test_s2),
      cmocka_unit_test(test_s4),
      cmocka_unit_test(test_s6),
      cmocka_unit_test(test_t4_t5),
      cmocka_unit_test(test_t8),
      cmocka_unit_test(test_t9_t10),
      cmocka_unit_test(test_t13),
      cmocka_unit_test(test_form),
      cmocka_unit_test(test_without_band),
      cmocka_unit_test(test_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
