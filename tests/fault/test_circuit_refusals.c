/* Boards that cannot be: each is refused with the field to change, a cause and a cure, and nothing
 * is left in the result. */
#include "near.h"

#include "circuit_cases.h"

#include <string.h>

typedef void (*break_it)(tw_circuit_spec *s);

#define BREAK(name, ...)                                                                           \
  static void name(tw_circuit_spec *s)                                                             \
  {                                                                                                \
    __VA_ARGS__;                                                                                   \
  }

BREAK(no_supply, s->supply = 0)
BREAK(negative_supply, s->supply = -5)
BREAK(infinite_supply, s->supply = INFINITY)
BREAK(nan_supply, s->supply = NAN)
BREAK(low_supply, s->comparator.supply_least = 7; s->comparator.name = "an audio part")
BREAK(high_supply, s->front.supply_most = 3.6)
BREAK(no_bias, s->bias_resistance = 0)
BREAK(negative_bias, s->bias_resistance = -1e6)
BREAK(bias_divider, s->bias_kind = TW_BIAS_DIVIDER; s->bias_top = 1e3)
BREAK(bias_divider_top, s->bias_kind = TW_BIAS_DIVIDER; s->bias_bottom = 1e3)
BREAK(bias_nan, s->bias_voltage = NAN)
BREAK(string_without, s->bias_kind = TW_BIAS_STRING)
BREAK(string_stiff, s->bias_kind = TW_BIAS_STRING; s->string_middle = 500; s->reference.top = 0;
      s->reference.voltage = 1)
BREAK(string_both, s->bias_kind = TW_BIAS_STRING; s->string_middle = 500;
      s->polarity = TW_SEES_BOTH; s->reference_falling = s->reference)
BREAK(no_capacitance, s->disc_capacitance = 0)
BREAK(negative_cable, s->cable_capacitance = -1e-12)
BREAK(negative_stray, s->stray_capacitance = -1e-12)
BREAK(negative_leak, s->leak_resistance = -1)
BREAK(negative_series, s->series_resistance = -1)
BREAK(clamp_turned, s->clamped = true; s->clamp_low = 5; s->clamp_high = 0)
BREAK(clamp_leak, s->clamp_leakage = -1e-9)
BREAK(no_hysteresis, s->reference.feedback = 0)
BREAK(window_without, s->polarity = TW_SEES_BOTH; s->reference_falling = s->reference;
      s->reference_falling.feedback = 0)
BREAK(no_lower, s->reference.bottom = 0)
BREAK(negative_upper, s->reference.top = -1)
BREAK(gain_below_one, s->gain = 0.5)
BREAK(gain_nan, s->gain = NAN)
BREAK(gain_half_network, s->gain_feedback = 91e3)
BREAK(gain_negative_network, s->gain_ground = 10e3; s->gain_feedback = -1)
BREAK(no_levels, s->comparator.high_drop = 5.5)
BREAK(no_pull_up, s->comparator.open_collector = true)
BREAK(bias_order, s->front.bias_least = 1e-6)
BREAK(part_nan, s->front.voltage_noise = NAN)
BREAK(part_negative, s->comparator.slew = -1)
BREAK(cold, s->temperature = 0)
BREAK(rate, s->temperature_rate = -1)
BREAK(charge, s->charge_per_newton = -1e-9)
BREAK(tolerance, s->bounds[TW_VALUE_FEEDBACK].minus = 2e6)
BREAK(tolerance_sign, s->bounds[TW_VALUE_SUPPLY].plus = -1)
BREAK(tolerance_nan, s->bounds[TW_VALUE_DISC_CAPACITANCE].plus = NAN)
BREAK(no_charge_capacitor, s->kind = TW_BOARD_CHARGE; s->charge_resistance = 1e6)
BREAK(no_charge_resistor, s->kind = TW_BOARD_CHARGE; s->charge_capacitance = 1e-9)
BREAK(contact_pull_up, s->kind = TW_BOARD_CONTACT; s->bias_resistance = 0)
BREAK(contact_polarity, s->kind = TW_BOARD_CONTACT; s->polarity = TW_SEES_FALLING)
BREAK(contact_open, s->kind = TW_BOARD_CONTACT; s->contact_resistance = 2e3;
      s->contact_threshold = 1e3)
BREAK(contact_negative, s->kind = TW_BOARD_CONTACT; s->contact_resistance = -1)
BREAK(indicator, s->output.indicator_current = -1)
BREAK(lead, s->output.line_resistance = -1)
BREAK(drift, s->resistor_drift = NAN)
BREAK(window_straight, s->kind = TW_BOARD_COMPARATOR; s->polarity = TW_SEES_BOTH;
      s->reference.topology = TW_NON_INVERTING; s->reference_falling = s->reference)

static const struct {
  break_it how;
  const char *field, *says;
} cases[] = {
    {no_supply, "circuit.supply", "supply is 0"},
    {negative_supply, "circuit.supply", "-5"},
    {infinite_supply, "circuit.supply", "inf"},
    {nan_supply, "circuit.supply", "nan"},
    {low_supply, "circuit.supply", "an audio part is specified from 7 V"},
    {high_supply, "circuit.supply", "3.6 V, not at 5 V"},
    {no_bias, "circuit.bias_resistance", "0 ohm"},
    {negative_bias, "circuit.bias_resistance", "-1e+06 ohm"},
    {bias_divider, "circuit.bias_lower", "0 ohm"},
    {bias_divider_top, "circuit.bias_upper", "0 ohm"},
    {bias_nan, "circuit.bias_voltage", "no number"},
    {string_without, "circuit.reference_middle", "0 ohm"},
    {string_stiff, "circuit.reference_middle", "shared string"},
    {string_both, "circuit.reference_middle", "shared string"},
    {no_capacitance, "disc.part", "capacitance is 0"},
    {negative_cable, "circuit.cable_capacitance", "-1e-12"},
    {negative_stray, "circuit.input_capacitance", "-1e-12"},
    {negative_leak, "circuit.leakage_resistance", "-1"},
    {negative_series, "circuit.series_resistance", "-1"},
    {clamp_turned, "circuit.clamp_voltage", "between 5 V and 0 V"},
    {clamp_leak, "circuit.clamp_leakage", "-1e-09"},
    {no_hysteresis, "circuit.feedback_resistance", "no hysteresis"},
    {window_without, "circuit.feedback_resistance", "no hysteresis"},
    {no_lower, "circuit.reference_lower", "0 ohm"},
    {negative_upper, "circuit.reference_upper", "-1 ohm"},
    {gain_below_one, "circuit.gain", "0.5"},
    {gain_nan, "circuit.gain", "nan"},
    {gain_half_network, "circuit.gain_lower", "0 ohm"},
    {gain_negative_network, "circuit.gain_upper", "-1 ohm"},
    {no_levels, "circuit.amplifier", "high level"},
    {no_pull_up, "output.pull_up", "never goes high"},
    {bias_order, "circuit.stage", "bias current"},
    {part_nan, "circuit.stage", "cannot be"},
    {part_negative, "circuit.amplifier", "cannot be"},
    {cold, "environment.temperature", "0 K"},
    {rate, "environment.temperature_rate", "-1"},
    {charge, "measured.charge_per_newton", "-1e-09"},
    {tolerance, "circuit.feedback_resistance", "tolerance"},
    {tolerance_sign, "circuit.supply", "tolerance"},
    {tolerance_nan, "disc.part", "tolerance"},
    {no_charge_capacitor, "circuit.charge_capacitance", "0 F"},
    {no_charge_resistor, "circuit.charge_resistance", "0 ohm"},
    {contact_pull_up, "circuit.contact_pull_up", "0 ohm"},
    {contact_polarity, "circuit.polarity", "only raise"},
    {contact_open, "circuit.contact_threshold", "already counts as open"},
    {contact_negative, "circuit.contact_resistance", "-1"},
    {indicator, "output.indicator_current", "-1"},
    {lead, "link.contact_resistance", "-1"},
    {drift, "circuit.resistor_drift", "nan"},
    {window_straight, "circuit.schmitt", "two ways"},
};

static void test_refusals(void **state)
{
  (void)state;
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    tw_circuit_spec s = case_gain();
    tw_circuit c;
    tw_circuit_budget b;
    tw_fault fault = {0};
    cases[i].how(&s);
    const tw_status status = tw_circuit_solve(&s, &c, &fault);
    if (status != TW_BAD_INPUT || strcmp(fault.field, cases[i].field) != 0 ||
        strstr(fault.text, cases[i].says) == NULL || fault.hint[0] == 0) {
      print_error("case %zu: status %d, field \"%s\" (want \"%s\"), text \"%s\" (want \"%s\")\n", i,
                  (int)status, fault.field, cases[i].field, fault.text, cases[i].says);
      fail();
    }
    assert_int_equal(tw_circuit_budget_of(&s, &b, &fault), TW_BAD_INPUT);
    assert_near(b.nominal, 0.0, 0.0);
    /* the same without anyone to tell */
    assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_BAD_INPUT);
  }
}

/* the boards themselves are sound */
static void test_sound(void **state)
{
  (void)state;
  const tw_circuit_spec all[] = {case_direct(20e-9), case_gain(), case_charge(), case_contact()};
  for (size_t i = 0; i < 4; i++) {
    tw_fault fault = {0};
    tw_circuit_budget b;
    tw_output_levels o;
    bool flags[TW_FLAG_COUNT];
    assert_int_equal(tw_circuit_check(&all[i], &fault), TW_OK);
    assert_int_equal(tw_circuit_budget_of(&all[i], &b, &fault), TW_OK);
    assert_int_equal(tw_circuit_output(&all[i], &o, &fault), TW_OK);
    assert_int_equal(tw_circuit_warn(&all[i], 1.0, flags, &fault), TW_OK);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_refusals), cmocka_unit_test(test_sound)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
