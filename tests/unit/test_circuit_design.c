/* The board and the link as a design file states them: values, tolerances, library rows, clamps,
 * output stages, the shared divider, and `both`. */
#include "design_fixture.h"

#include "tripwright/circuit.h"

static tw_design *read(const char *text)
{
  return good_design(text, TW_NEED_CIRCUIT);
}

static tw_circuit_spec spec(const char *text)
{
  tw_design *design = read(text);
  tw_circuit_spec s;
  tw_fault fault = {0};
  const tw_status status = tw_circuit_from_design(design, &s, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  /* names point into the design: only numbers are looked at after this */
  s.front.name = s.comparator.name = NULL;
  tw_design_free(design);
  return s;
}

#define PART                                                                                       \
  "  amplifier_class: amplifier\n  amplifier_drive: push_pull\n"                                   \
  "  amplifier_offset: 0 mV +- 3 mV\n  amplifier_bias_current: 20 nA +15 nA/-20 nA\n"              \
  "  amplifier_bandwidth: 0.7 MHz\n  amplifier_slew: 0.3 V/us\n"                                   \
  "  amplifier_low: 5 mV +20 mV/-0\n  amplifier_high: 1.5 V +0.1 V/-0\n"                           \
  "  amplifier_current: 0.32 mA +0.18 mA/-0\n"

static const char direct[] = "design: a\n"
                             "circuit:\n"
                             "  kind: comparator\n" PART "  bias_upper: 62k\n  bias_lower: 15k\n"
                             "  bias_resistance: 1M\n  reference_upper: 39k +- 0.1 %\n"
                             "  reference_lower: 10k\n  feedback_resistance: 1M\n"
                             "  input_capacitance: 0 pF\n";

static void test_direct(void **state)
{
  (void)state;
  tw_circuit_spec s = spec(direct);
  assert_int_equal(s.kind, TW_BOARD_COMPARATOR);
  assert_int_equal(s.bias_kind, TW_BIAS_DIVIDER);
  assert_near(s.bias_top, 62e3, 1e-9);
  assert_near(s.bias_resistance, 1e6, 1e-6);
  assert_near(s.comparator.bias_current, 20e-9, 1e-18);
  assert_near(s.comparator.bias_least, 0.0, 1e-18);
  assert_near(s.comparator.bias_most, 35e-9, 1e-18);
  assert_near(s.comparator.offset_limit, 3e-3, 1e-15);
  assert_near(s.comparator.low_drop_limit, 25e-3, 1e-15);
  assert_near(s.comparator.high_drop_limit, 1.6, 1e-15);
  assert_near(s.comparator.supply_current_limit, 0.5e-3, 1e-15);
  assert_near(s.comparator.gain_bandwidth, 0.7e6, 1e-6);
  assert_near(s.comparator.slew, 0.3e6, 1e-6);
  /* a stated tolerance wins over the class's 1 %; the supply's default is 5 % */
  assert_near(s.bounds[TW_VALUE_REFERENCE_TOP].plus, 39.0, 1e-9);
  assert_near(s.bounds[TW_VALUE_REFERENCE_BOTTOM].plus, 100.0, 1e-9);
  assert_near(s.bounds[TW_VALUE_SUPPLY].minus, 0.25, 1e-12);
  assert_near(s.temperature, 293.15, 1e-9);
  assert_near(s.temperature_span, 10.0, 1e-9);
  assert_near(s.leak_resistance, 1e9, 1.0);
  /* and it solves once the disc has given its capacitance */
  tw_circuit c;
  tw_fault fault = {0};
  assert_int_equal(tw_circuit_solve(&s, &c, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "disc.part");
  s.disc_capacitance = 20e-9;
  s.leak_resistance = 0.0;
  assert_int_equal(tw_circuit_solve(&s, &c, &fault), TW_OK);
  assert_printed(c.rest, 0.99427, 1e-5); /* circuit (i) of docs/models/touch.md */
}

/* the sheet bounds the bias at 250 nA; a batch has the 20 to 65 nA that its makers call typical;
 * who states a current states its bounds with it */
static void test_bias_of_a_batch(void **state)
{
  (void)state;
  static const char *const text[] = {
      "design: a\ncircuit:\n  kind: comparator\n  amplifier: comparator_bipolar_oc\n",
      "design: a\ncircuit:\n  kind: comparator\n  amplifier: comparator_bipolar_oc\n"
      "  amplifier_bias_current: 30 nA ± 5 nA\n"};
  const double low[] = {20e-9, 25e-9}, high[] = {65e-9, 35e-9};
  const double least[] = {0, 25e-9}, most[] = {250e-9, 35e-9};
  for (size_t i = 0; i < 2; i++) {
    tw_design *d = good_design(text[i], TW_NEED_NOTHING);
    const tw_value *v = tw_design_value(d, TW_F_circuit_amplifier_bias_current);
    assert_near(v->number - v->tolerance.minus, low[i], 1e-18);
    assert_near(v->number + v->tolerance.plus, high[i], 1e-18);
    tw_circuit_spec s;
    tw_fault fault = {0};
    assert_int_equal(tw_circuit_from_design(d, &s, &fault), TW_OK);
    assert_near(s.comparator.bias_least, least[i], 1e-18);
    assert_near(s.comparator.bias_most, most[i], 1e-18);
    /* a drawn one moves no bound of the sheet */
    tw_design_put(d, TW_F_circuit_amplifier_bias_current, 50e-9);
    assert_int_equal(tw_circuit_from_design(d, &s, &fault), TW_OK);
    assert_near(s.comparator.bias_current, 50e-9, 1e-18);
    if (i == 0) {
      assert_near(s.comparator.bias_most, most[i], 1e-18);
    }
    tw_design_free(d);
  }
}

/* a row of the library fills the amplifier; an open collector needs no word about the output */
static void test_library_row(void **state)
{
  (void)state;
  const tw_row *row = tw_library_find(library, TW_KIND_AMPLIFIER, "comparator_bipolar_oc");
  assert_non_null(row);
  tw_quantity bias;
  assert_true(tw_row_number(row, "bias_current", &bias));
  tw_circuit_spec s = spec("design: a\ncircuit:\n  kind: comparator\n"
                           "  amplifier: comparator_bipolar_oc\n  bias_voltage: 1 V\n"
                           "  bias_resistance: 1M\n  reference: 1.1 V +- 1 %\n"
                           "  reference_resistance: 10k\n  feedback_resistance: 1M\n");
  assert_true(s.comparator.open_collector);
  assert_near(s.comparator.bias_current, bias.number, 0.0);
  assert_near(s.comparator.bias_least, 0.0, 1e-15);
  assert_near(s.comparator.bias_most, 250e-9, 1e-15);
  assert_true(s.comparator.common_known);
  assert_near(s.comparator.supply_least, 5.0, 1e-12);
  assert_false(s.output.stage);
  assert_near(s.output.pull_up, 4.7e3, 1e-9);
  assert_near(s.bounds[TW_VALUE_REFERENCE_VOLTAGE].plus, 0.011, 1e-12);
  assert_near(s.reference.top, 0.0, 0.0);
  s.disc_capacitance = 20e-9;
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_false(c.tripped_high);
}

/* a gain stage takes the same part when none is named, or its own */
static void test_gain_and_charge(void **state)
{
  (void)state;
  const char gain[] = "design: a\ncircuit:\n  kind: gain\n" PART
                      "  bias_voltage: 1 V\n  bias_resistance: 1M\n  gain_upper: 91k\n"
                      "  gain_lower: 10k\n  reference_upper: 27k\n  reference_lower: 10k\n"
                      "  feedback_resistance: 1M\n";
  const tw_circuit_spec s = spec(gain);
  assert_int_equal(s.kind, TW_BOARD_GAIN);
  assert_near(s.front.bias_most, 35e-9, 1e-18);
  assert_near(s.gain_feedback, 91e3, 1e-9);
  assert_near(s.gain, 0.0, 0.0);
  const char charge[] = "design: a\ncircuit:\n  kind: charge\n" PART
                        "  bias_voltage: 1.4 V\n  charge_capacitance: 2.2 nF +- 5 %\n"
                        "  charge_resistance: 10M\n  reference_upper: 27k\n"
                        "  reference_lower: 10k\n  feedback_resistance: 1M\n";
  const tw_circuit_spec q = spec(charge);
  assert_int_equal(q.kind, TW_BOARD_CHARGE);
  assert_near(q.charge_capacitance, 2.2e-9, 1e-18);
  assert_near(q.bounds[TW_VALUE_CHARGE_CAPACITANCE].plus, 0.11e-9, 1e-18);
  assert_near(q.bounds[TW_VALUE_CHARGE_RESISTANCE].plus, 0.1e6, 1e-3);
}

static tw_circuit_spec with(const char *more)
{
  char text[4000];
  snprintf(text, sizeof text, "%s%s", direct, more);
  return spec(text);
}

static void test_clamps(void **state)
{
  (void)state;
  assert_false(with("").clamped);
  tw_circuit_spec s = with("  clamp: rails\n  clamp_leakage: 2 nA\n");
  assert_true(s.clamped);
  assert_near(s.clamp_low, -0.6, 1e-12);
  assert_near(s.clamp_high, 5.6, 1e-12);
  assert_near(s.clamp_leakage, 2e-9, 1e-18);
  s = with("  clamp: zener\n  clamp_voltage: 5.1 V\n");
  assert_near(s.clamp_low, -0.6, 1e-12);
  assert_near(s.clamp_high, 5.1, 1e-12);
  /* two diodes across the disc: about where the node rests */
  s = with("  clamp: pair\n");
  s.disc_capacitance = 20e-9;
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_near(s.clamp_low, c.rest_node - 0.6, 1e-12);
  assert_near(s.clamp_high, c.rest_node + 0.6, 1e-12);
}

static tw_circuit solved(tw_circuit_spec s)
{
  tw_circuit c;
  s.disc_capacitance = 20e-9;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  return c;
}

/* level while tripped: low comes by itself from an inverting comparator, high needs a stage */
static void test_output(void **state)
{
  (void)state;
  tw_circuit_spec s = with("output: {active: low}\n");
  assert_false(s.output.stage || s.output.invert);
  assert_false(solved(s).tripped_high);
  s = with("output: {active: high, low: 0.2 V, high: 0.3 V}\n");
  assert_true(s.output.stage && s.output.invert);
  assert_true(solved(s).tripped_high);
  assert_near(solved(s).output_tripped, 4.7, 1e-12);
  assert_near(solved(s).output_rest, 0.2, 1e-12);
  s = with("output: {kind: open_collector, pull_up: 10k, low: 0.2 V}\n");
  assert_true(s.output.stage_open_collector && !s.output.invert);
  assert_near(solved(s).output_rest, 5.0, 1e-12);
  s = with("  polarity: falling\noutput: {active: high}\n");
  assert_false(s.output.invert);
  /* leads of the link and the controller's input */
  s = with("link: {kind: plug, contact_resistance: 0.1 ohm, series_resistance: 22 ohm, "
           "cable_length: 3 m}\nmachine: {input_pull_up: 10k, input_pull_up_voltage: 24 V}\n");
  assert_near(s.output.supply_source_resistance, 0.5 + 0.1 + 22.0, 1e-12);
  assert_near(s.output.line_resistance, 0.1, 1e-12);
  assert_near(s.output.line_capacitance, 300e-12, 1e-18);
  assert_near(s.output.controller_pull_up_voltage, 24.0, 1e-12);
  assert_near(s.output.controller_low, 0.8, 1e-12);
}

/* bias and reference from one divider */
static void test_shared_divider(void **state)
{
  (void)state;
  const char text[] = "design: a\ncircuit:\n  kind: comparator\n" PART
                      "  bias_resistance: 1M\n  reference_upper: 39k\n  reference_middle: 510 ohm\n"
                      "  reference_lower: 9k1\n  feedback_resistance: 1M\n";
  const tw_circuit_spec s = spec(text);
  assert_int_equal(s.bias_kind, TW_BIAS_STRING);
  assert_near(s.string_middle, 510.0, 1e-9);
  assert_near(s.bounds[TW_VALUE_STRING_MIDDLE].plus, 5.1, 1e-9);
  const tw_circuit c = solved(s);
  assert_int_equal(c.rearm, TW_REARM_CLEAN);
  assert_true(c.threshold_voltage > 0.02 && c.threshold_voltage < 0.05);
}

/* `both`: the divider mirrored about half the supply */
static void test_both(void **state)
{
  (void)state;
  const char text[] = "design: a\ncircuit:\n  kind: comparator\n  amplifier_class: amplifier\n"
                      "  amplifier_drive: push_pull\n  amplifier_offset: 0 mV\n"
                      "  amplifier_bias_current: 0 nA\n  amplifier_low: 0 V\n"
                      "  amplifier_high: 0 V\n  polarity: both\n  bias_upper: 100k\n"
                      "  bias_lower: 100k\n  bias_resistance: 1M\n  leakage_resistance: 1e9 Mohm\n"
                      "  reference_upper: 47k\n  reference_lower: 51k\n"
                      "  feedback_resistance: 2M2\n";
  const tw_circuit c = solved(spec(text));
  assert_true(c.threshold_voltage > 0.0);
  assert_near(c.threshold_voltage_falling, c.threshold_voltage, 1e-6);
  assert_int_equal(c.rearm, TW_REARM_CLEAN);
}

static void test_contact(void **state)
{
  (void)state;
  const char text[] = "design: a\nseat: {kind: tripod, contact: vee}\ncircuit:\n  kind: contact\n"
                      "  contact_pull_up: 10k +- 5 %\n  contact_resistance: 0.5 ohm\n"
                      "output: {active: high}\n";
  const tw_circuit_spec s = spec(text);
  assert_int_equal(s.kind, TW_BOARD_CONTACT);
  assert_near(s.contact_resistance, 3.0, 1e-12);
  assert_near(s.bounds[TW_VALUE_BIAS_RESISTANCE].plus, 500.0, 1e-9);
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_near(c.trip, 2.5, 1e-9);
  assert_true(c.tripped_high && c.can_trip);
}

static void test_link(void **state)
{
  (void)state;
  tw_design *d = read("design: a\ncircuit:\n  kind: contact\nlink:\n  kind: radio\n"
                      "  battery_capacity: 220 mAh\n  current_ready: 0.026 mA\n"
                      "  latency: 220 us\n  jitter: 100 us\n  touches_per_day: 864\n"
                      "  charge_per_touch: 10 uC\n");
  tw_link_spec l;
  assert_int_equal(tw_link_from_design(d, &l, NULL), TW_OK);
  assert_int_equal(l.kind, TW_BY_RADIO);
  assert_near(l.battery_charge, 792.0, 1e-9);
  assert_near(l.ready_current, 26e-6, 1e-15);
  assert_near(l.events_per_second, 0.01, 1e-12);
  assert_near(l.event_charge, 10e-6, 1e-15);
  assert_near(l.processing, 220e-6, 1e-15);
  tw_design_free(d);
  d = read("design: a\ncircuit:\n  kind: contact\nlink:\n  kind: spring_contacts\n"
           "  shorts_on_insertion: yes\n  isolated: no\n  motion_charge: 50 pC\n"
           "  cable_length: 2 m\n");
  assert_int_equal(tw_link_from_design(d, &l, NULL), TW_OK);
  assert_true(l.makes_early && !l.isolated && l.carries_node);
  assert_near(l.capacitance, 200e-12, 1e-18);
  assert_near(l.cable_charge, 50e-12, 1e-18);
  assert_near(l.supply_limit, 0.5, 1e-12);
  tw_design_free(d);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_direct),         cmocka_unit_test(test_bias_of_a_batch),
      cmocka_unit_test(test_library_row),    cmocka_unit_test(test_gain_and_charge),
      cmocka_unit_test(test_clamps),         cmocka_unit_test(test_output),
      cmocka_unit_test(test_shared_divider), cmocka_unit_test(test_both),
      cmocka_unit_test(test_contact),        cmocka_unit_test(test_link),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
