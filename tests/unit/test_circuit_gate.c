/* A Schmitt gate as the circuit: its thresholds against the printed tables of two data sheets, the
 * budget, what is refused, and the design file's way to it. */
#include "design_fixture.h"

#include "tripwright/circuit.h"

#include <stdio.h>

static tw_circuit_spec gate(double supply)
{
  tw_circuit_spec s = tw_circuit_spec_default();
  s.supply = supply;
  s.disc_capacitance = 10e-9;
  s.bias_voltage = 0.15 * supply;
  s.bias_resistance = 1e6;
  s.gate_rise = 0.524;
  s.gate_fall = 0.34;
  s.gate_band = 0.089;
  s.bounds[TW_VALUE_GATE_RISE] = (tw_value_bounds){0.174, 0.176};
  s.bounds[TW_VALUE_GATE_FALL] = (tw_value_bounds){0.14, 0.104};
  return s;
}

static double trip_of(const tw_circuit *c)
{
  return c->trip;
}

static double release_of(const tw_circuit *c)
{
  return c->release;
}

/* The row gate_hc1g14 against its sheet: NXP Semiconductors, 74HC1G14; 74HCT1G14, p. 4 of 14, table
 * 7: at 4.5 V rising 1.7, 2.36, 3.15 V, falling 0.9, 1.53, 2.0 V; at 6.0 V rising 2.1, 3.12, 4.2 V,
 * falling 1.2, 2.08, 2.6 V. The row holds one share for both supplies: typical within a tenth of a
 * volt, and bounds that leave out none of the printed ones. */
static void test_sheet(void **state)
{
  (void)state;
  static const struct {
    double supply, rise[3], fall[3];
  } printed[] = {{4.5, {1.7, 2.36, 3.15}, {0.9, 1.53, 2.0}},
                 {6.0, {2.1, 3.12, 4.2}, {1.2, 2.08, 2.6}}};
  for (int i = 0; i < 2; i++) {
    const tw_circuit_spec s = gate(printed[i].supply);
    tw_circuit c;
    double low, high;
    assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
    assert_int_equal(c.rearm, TW_REARM_CLEAN);
    assert_near(c.trip, printed[i].rise[1], 0.1);
    assert_near(c.release, printed[i].fall[1], 0.1);
    assert_int_equal(tw_circuit_range(&s, trip_of, &low, &high, NULL), TW_OK);
    assert_true(low <= printed[i].rise[0] + 1e-9 && high >= printed[i].rise[2] - 1e-9);
    assert_int_equal(tw_circuit_range(&s, release_of, &low, &high, NULL), TW_OK);
    assert_true(low <= printed[i].fall[0] + 1e-9 && high >= printed[i].fall[2] - 2e-3);
  }
}

/* by hand: 5 V, rest 0.75 V; trip 2.62 V, release 1.70 V; tau 10 ms; the gate's scatter is 0.87 V
 */
static void test_by_hand(void **state)
{
  (void)state;
  const tw_circuit_spec s = gate(5.0);
  tw_circuit c;
  tw_circuit_budget b;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_near(c.threshold_voltage, 2.62 - 0.75, 1e-12);
  assert_near(c.hysteresis_voltage, 0.92, 1e-12);
  assert_near(c.rearm_voltage, 0.95, 1e-12);
  assert_near(c.threshold_charge, 1.87 * 10e-9, 1e-18);
  assert_near(c.supply_sensitivity, 0.524, 1e-12);
  assert_false(c.tripped_high);
  assert_int_equal(tw_circuit_budget_of(&s, &b, NULL), TW_OK);
  assert_near(b.down[TW_CIRCUIT_CAUSE_GATE], 0.174 * 5.0, 1e-12);
  assert_near(b.up[TW_CIRCUIT_CAUSE_GATE], 0.176 * 5.0, 1e-12);
  assert_near(b.rearm_low, 0.2 * 5.0 - 0.75, 1e-12);
}

/* the least distance holds whatever the scatter draws */
static void test_band(void **state)
{
  (void)state;
  tw_circuit_spec s = gate(5.0);
  s.gate_rise = 0.4;
  s.gate_fall = 0.39;
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_near(c.hysteresis_voltage, 0.089 * 5.0, 1e-12);
  assert_near(c.trip, 2.0, 1e-12);
  s.polarity = TW_SEES_FALLING;
  s.bias_voltage = 4.0;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_near(c.trip, 1.95, 1e-12);
  assert_near(c.hysteresis_voltage, 0.089 * 5.0, 1e-12);
  assert_true(c.tripped_high);
}

static void test_refused(void **state)
{
  (void)state;
  tw_circuit c;
  tw_fault fault = {0};
  tw_circuit_spec s = gate(5.0);
  s.polarity = TW_SEES_BOTH;
  assert_int_equal(tw_circuit_solve(&s, &c, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "circuit.polarity");
  s = gate(5.0);
  s.gate_fall = 0.6;
  assert_int_equal(tw_circuit_solve(&s, &c, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "circuit.gate_rise");
}

static void test_file(void **state)
{
  (void)state;
  tw_design *d = good_design("design: a\n"
                             "circuit: {kind: gate, supply: 5 V, amplifier: gate_hc14,\n"
                             "          bias_upper: 100k, bias_lower: 18k, bias_resistance: 1M}\n",
                             TW_NEED_CIRCUIT);
  tw_circuit_spec s;
  assert_int_equal(tw_circuit_from_design(d, &s, NULL), TW_OK);
  assert_int_equal(s.kind, TW_BOARD_COMPARATOR);
  assert_near(s.gate_rise, 0.6, 1e-12);
  assert_near(s.bounds[TW_VALUE_GATE_RISE].minus, 0.1, 1e-9);
  assert_near(s.bounds[TW_VALUE_GATE_FALL].plus, 0.122, 1e-9);
  assert_near(s.gate_band, 0.083, 1e-12);
  assert_near(s.comparator.bias_least, -100e-9, 1e-15);
  tw_design_free(d);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_sheet), cmocka_unit_test(test_by_hand),
                                     cmocka_unit_test(test_band), cmocka_unit_test(test_refused),
                                     cmocka_unit_test(test_file)};
  return cmocka_run_group_tests(tests, open_all, close_all);
}
