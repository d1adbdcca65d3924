/* spec.c: the spec's defaults, its tolerances, and what is refused. */
#include "inside.h"

#include <math.h>
#include <stddef.h>

tw_amplifier tw_amplifier_ideal(void)
{
  return (tw_amplifier){.name = "ideal", .supply_most = 1e3};
}

tw_circuit_spec tw_circuit_spec_default(void)
{
  const tw_amplifier ideal = tw_amplifier_ideal();
  return (tw_circuit_spec){
      .kind = TW_BOARD_COMPARATOR,
      .polarity = TW_SEES_RISING,
      .supply = 5.0,
      .bias_kind = TW_BIAS_VOLTAGE,
      .front = ideal,
      .comparator = ideal,
      .temperature = 295.15,
      .output = {.controller_low = 0.8, .controller_high = 2.0},
  };
}

/* which class of part a value is */
typedef enum { OF_RESISTOR, OF_CAPACITOR, OF_SUPPLY, OF_REFERENCE, OF_NOTHING } value_class;

static value_class class_of(tw_circuit_value value)
{
  switch (value) {
  case TW_VALUE_SUPPLY:
    return OF_SUPPLY;
  case TW_VALUE_BIAS_VOLTAGE:
  case TW_VALUE_REFERENCE_VOLTAGE:
  case TW_VALUE_FALLING_VOLTAGE:
    return OF_REFERENCE;
  case TW_VALUE_CHARGE_CAPACITANCE:
  case TW_VALUE_DISC_CAPACITANCE:
  case TW_VALUE_CABLE_CAPACITANCE:
    return OF_CAPACITOR;
  case TW_VALUE_GAIN:
  case TW_VALUE_GATE_RISE:
  case TW_VALUE_GATE_FALL:
    return OF_NOTHING;
  default:
    return OF_RESISTOR;
  }
}

void tw_circuit_tolerances(tw_circuit_spec *spec, double resistors, double capacitors,
                           double supply, double references)
{
  const double fraction[] = {resistors, capacitors, supply, references, 0.0};
  const double values[TW_VALUE_COUNT] = {
#define X(name, member, field, cause) spec->member,
      TW_CIRCUIT_VALUES(X)
#undef X
  };
  for (int i = 0; i < TW_VALUE_COUNT; i++) {
    const double half = fraction[class_of((tw_circuit_value)i)] * fabs(values[i]);
    spec->bounds[i] = (tw_value_bounds){.minus = half, .plus = half};
  }
}

/* ---- checks, each returning TW_OK or the refusal ----------------------------------------------
 */

static tw_status need_positive(double value, const char *field, const char *what, const char *unit,
                               tw_fault *fault)
{
  if (value > 0.0 && isfinite(value)) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, field, "give a value above zero", "%s is %g %s", what, value,
                 unit);
}

static tw_status need_zero_or_more(double value, const char *field, const char *what,
                                   const char *unit, tw_fault *fault)
{
  if (value >= 0.0 && isfinite(value)) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, field, "give zero or a value above it", "%s is %g %s", what,
                 value, unit);
}

static tw_status check_part(const tw_amplifier *part, double supply, const char *field,
                            tw_fault *fault)
{
  const char *name = part->name ? part->name : "the amplifier";
  /* outside its specified supply a part is refused: its figures say nothing there */
  if (supply < part->supply_least || supply > part->supply_most) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.supply",
                   "change the supply or take a part that is specified for it",
                   "%s is specified from %g V to %g V, not at %g V", name, part->supply_least,
                   part->supply_most, supply);
  }
  const double figures[] = {part->bias_current,    part->bias_least,     part->bias_most,
                            part->offset,          part->offset_limit,   part->offset_drift,
                            part->low_drop,        part->low_drop_limit, part->high_drop,
                            part->high_drop_limit, part->gain_bandwidth, part->slew,
                            part->voltage_noise,   part->open_loop_gain, part->current_noise,
                            part->response_time,   part->own_hysteresis, part->input_capacitance,
                            part->output_leakage,  part->supply_current, part->noise_corner};
  for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) {
    /* the first three and the offset may have either sign */
    if (!isfinite(figures[i]) || (i > 3 && figures[i] < 0.0)) {
      return tw_fail(fault, TW_BAD_INPUT, field, "check the part's row",
                     "%s has a figure that cannot be (%g)", name, figures[i]);
    }
  }
  if (part->bias_least > part->bias_most) {
    return tw_fail(fault, TW_BAD_INPUT, field, "give the smaller bound first",
                   "%s has a bias current from %g A to %g A", name, part->bias_least,
                   part->bias_most);
  }
  return TW_OK;
}

static tw_status check_node(const tw_circuit_spec *s, tw_fault *fault)
{
  tw_status status = TW_OK;
  if (s->kind != TW_BOARD_CONTACT) {
    status = need_positive(s->disc_capacitance, "disc.part", "the disc's capacitance", "F", fault);
  }
  if (status == TW_OK) {
    status = need_zero_or_more(s->cable_capacitance, "circuit.cable_capacitance",
                               "the cable's capacitance", "F", fault);
  }
  if (status == TW_OK) {
    status = need_zero_or_more(s->stray_capacitance, "circuit.input_capacitance",
                               "the input's capacitance", "F", fault);
  }
  if (status == TW_OK) {
    status = need_zero_or_more(s->leak_resistance, "circuit.leakage_resistance",
                               "the leak's resistance", "ohm", fault);
  }
  if (status == TW_OK) {
    status = need_zero_or_more(s->series_resistance, "circuit.series_resistance",
                               "the series resistor", "ohm", fault);
  }
  if (status == TW_OK && s->clamped && !(s->clamp_high > s->clamp_low)) {
    status = tw_fail(fault, TW_BAD_INPUT, "circuit.clamp_voltage", "give the lower level first",
                     "the clamp holds between %g V and %g V", s->clamp_low, s->clamp_high);
  }
  if (status == TW_OK) {
    status = need_zero_or_more(s->clamp_leakage, "circuit.clamp_leakage", "the clamp's leakage",
                               "A", fault);
  }
  return status;
}

static tw_status check_bias(const tw_circuit_spec *s, tw_fault *fault)
{
  tw_status status = TW_OK;
  if (s->kind == TW_BOARD_CONTACT) {
    status =
        need_positive(s->bias_resistance, "circuit.contact_pull_up", "the pull-up", "ohm", fault);
  } else if (s->kind != TW_BOARD_CHARGE) {
    status = need_positive(s->bias_resistance, "circuit.bias_resistance", "the bias resistor",
                           "ohm", fault);
  }
  if (status == TW_OK && !isfinite(s->bias_voltage)) {
    status = tw_fail(fault, TW_BAD_INPUT, "circuit.bias_voltage", "give a voltage",
                     "the bias voltage is no number");
  }
  if (status == TW_OK && s->bias_kind == TW_BIAS_DIVIDER) {
    status = need_positive(s->bias_top, "circuit.bias_upper", "the bias divider's upper resistor",
                           "ohm", fault);
    if (status == TW_OK) {
      status = need_positive(s->bias_bottom, "circuit.bias_lower",
                             "the bias divider's lower resistor", "ohm", fault);
    }
  }
  if (status == TW_OK && s->bias_kind == TW_BIAS_STRING) {
    status = need_positive(s->string_middle, "circuit.reference_middle",
                           "the resistor between the two taps", "ohm", fault);
    if (status == TW_OK && (!(s->reference.top > 0.0) || s->polarity == TW_SEES_BOTH)) {
      status = tw_fail(fault, TW_BAD_INPUT, "circuit.reference_middle",
                       "give reference_upper and reference_lower, and one polarity",
                       "a shared string needs a reference divider and one threshold");
    }
  }
  return status;
}

static tw_status check_front(const tw_circuit_spec *s, tw_fault *fault)
{
  tw_status status = check_part(&s->front, s->supply, "circuit.stage", fault);
  if (status == TW_OK && s->kind == TW_BOARD_GAIN) {
    const bool network = s->gain_feedback > 0.0 || s->gain_ground > 0.0;
    if (network) {
      status = need_positive(s->gain_ground, "circuit.gain_lower", "the gain's lower resistor",
                             "ohm", fault);
      if (status == TW_OK) {
        status = need_zero_or_more(s->gain_feedback, "circuit.gain_upper",
                                   "the gain's upper resistor", "ohm", fault);
      }
    } else if (!(s->gain >= 1.0 && isfinite(s->gain))) {
      status =
          tw_fail(fault, TW_BAD_INPUT, "circuit.gain",
                  "a non-inverting stage has a gain of one or more", "the gain is %g", s->gain);
    }
  }
  if (status == TW_OK && s->kind == TW_BOARD_CHARGE) {
    status = need_positive(s->charge_capacitance, "circuit.charge_capacitance",
                           "the charge amplifier's capacitor", "F", fault);
    if (status == TW_OK) {
      status = need_positive(s->charge_resistance, "circuit.charge_resistance",
                             "the charge amplifier's resistor", "ohm", fault);
    }
  }
  return status;
}

static tw_status check_reference(const tw_reference *r, tw_fault *fault)
{
  if (r->feedback > 0.0) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, "circuit.feedback_resistance",
                 "fit a resistor from the output to the + input, about 100 times the divider",
                 "no hysteresis: without feedback the output chatters at every touch");
}

static tw_status check_gate(const tw_circuit_spec *s, tw_fault *fault)
{
  if (!(s->gate_fall > 0.0 && s->gate_rise > s->gate_fall && s->gate_rise < 1.0) ||
      !(s->gate_band >= 0.0 && s->gate_band < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.gate_rise",
                   "give both as shares of the supply, the rising one larger",
                   "a gate that switches at %g rising and %g falling of its supply", s->gate_rise,
                   s->gate_fall);
  }
  if (s->kind != TW_BOARD_COMPARATOR || s->polarity == TW_SEES_BOTH ||
      s->bias_kind == TW_BIAS_STRING || s->reference.topology != TW_INVERTING) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.polarity",
                   "use rising or falling, and a bias of its own",
                   "a gate inverts, sees one sign and has no reference to share");
  }
  return check_part(&s->comparator, s->supply, "circuit.amplifier", fault);
}

static tw_status check_comparator(const tw_circuit_spec *s, tw_fault *fault)
{
  if (s->gate_rise > 0.0) {
    return check_gate(s, fault);
  }
  tw_status status = check_part(&s->comparator, s->supply, "circuit.amplifier", fault);
  const bool own = s->comparator.own_hysteresis > 0.0;
  if (status == TW_OK && !own) {
    status = check_reference(&s->reference, fault);
  }
  if (status == TW_OK && !own && s->polarity == TW_SEES_BOTH) {
    status = check_reference(&s->reference_falling, fault);
  }
  if (status == TW_OK && s->comparator.open_collector && !(s->output.pull_up > 0.0)) {
    status = tw_fail(fault, TW_BAD_INPUT, "output.pull_up", "fit a pull-up, 4k7 for example",
                     "an open collector without pull-up never goes high");
  }
  const bool loads = s->kind == TW_BOARD_COMPARATOR && s->polarity == TW_SEES_BOTH;
  if (status == TW_OK && loads && s->reference.topology == TW_NON_INVERTING) {
    status = tw_fail(fault, TW_BAD_INPUT, "circuit.schmitt", "use the inverting network",
                     "two non-inverting comparators on one node would pull it two ways");
  }
  return status;
}

static tw_status check_contact(const tw_circuit_spec *s, tw_fault *fault)
{
  tw_status status = need_zero_or_more(s->contact_resistance, "circuit.contact_resistance",
                                       "the closed contact", "ohm", fault);
  if (status == TW_OK && s->polarity != TW_SEES_RISING) {
    status = tw_fail(fault, TW_BAD_INPUT, "circuit.polarity", "use polarity rising",
                     "a contact that opens to a pull-up can only raise the node");
  }
  if (status == TW_OK) {
    status = need_zero_or_more(s->contact_threshold, "circuit.contact_threshold",
                               "the resistance that counts as open", "ohm", fault);
  }
  if (status == TW_OK && s->contact_threshold > 0.0 && s->output.invert && !s->output.stage) {
    status = tw_fail(fault, TW_BAD_INPUT, "output.active", "use high, or an output stage",
                     "an opening chain under a pull-up reads high while tripped");
  }
  if (status == TW_OK && s->contact_threshold > 0.0 &&
      s->contact_threshold <= s->contact_resistance) {
    status = tw_fail(fault, TW_BAD_INPUT, "circuit.contact_threshold",
                     "raise it well above the closed chain",
                     "the closed chain (%g ohm) already counts as open (%g ohm)",
                     s->contact_resistance, s->contact_threshold);
  }
  return status;
}

/* every bound zero or more, and no value pushed through zero by it */
static tw_status check_bounds(const tw_circuit_spec *s, tw_fault *fault)
{
  static const char *const fields[TW_VALUE_COUNT] = {
#define X(name, member, field, cause) field,
      TW_CIRCUIT_VALUES(X)
#undef X
  };
  const double values[TW_VALUE_COUNT] = {
#define X(name, member, field, cause) s->member,
      TW_CIRCUIT_VALUES(X)
#undef X
  };
  for (int i = 0; i < TW_VALUE_COUNT; i++) {
    const tw_value_bounds b = s->bounds[i];
    const bool number = b.minus >= 0.0 && b.plus >= 0.0 && isfinite(b.minus) && isfinite(b.plus);
    const bool volts = class_of((tw_circuit_value)i) == OF_REFERENCE;
    if (!number || (!volts && values[i] > 0.0 && b.minus >= values[i])) {
      return tw_fail(fault, TW_BAD_INPUT, fields[i], "give a tolerance smaller than the value",
                     "the tolerance -%g/+%g leaves nothing of %g", b.minus, b.plus, values[i]);
    }
  }
  return TW_OK;
}

static tw_status check_surroundings(const tw_circuit_spec *s, tw_fault *fault)
{
  tw_status status = need_positive(s->temperature, "environment.temperature",
                                   "the absolute temperature", "K", fault);
  const struct {
    double value;
    const char *field, *what, *unit;
  } more[] = {
      {s->charge_per_newton, "measured.charge_per_newton", "the charge per newton", "C/N"},
      {s->charge_per_kelvin, "environment.temperature_rate", "the charge per kelvin", "C/K"},
      {s->temperature_rate, "environment.temperature_rate", "the temperature's rate", "K/s"},
      {s->temperature_span, "environment.temperature_high", "the temperature's span", "K"},
      {s->resistor_drift, "circuit.resistor_drift", "the resistors' drift", "1/K"},
      {s->output.indicator_current, "output.indicator_current", "the indicator's current", "A"},
      {s->output.pull_up, "output.pull_up", "the pull-up", "ohm"},
      {s->output.supply_source_resistance, "circuit.supply_resistance", "the supply's lead", "ohm"},
      {s->output.line_resistance, "link.contact_resistance", "the signal's lead", "ohm"},
      {s->output.return_resistance, "link.contact_resistance", "the return lead", "ohm"},
      {s->output.line_capacitance, "link.capacitance_per_metre", "the line's capacitance", "F"},
      {s->output.controller_pull_up, "machine.input_pull_up", "the controller's pull-up", "ohm"},
      {s->output.controller_pull_down, "machine.input_pull_up", "the controller's pull-down",
       "ohm"},
  };
  for (size_t i = 0; status == TW_OK && i < sizeof more / sizeof more[0]; i++) {
    status = need_zero_or_more(more[i].value, more[i].field, more[i].what, more[i].unit, fault);
  }
  return status;
}

tw_status tw_circuit_check(const tw_circuit_spec *spec, tw_fault *fault)
{
  tw_status status = need_positive(spec->supply, "circuit.supply", "the supply", "V", fault);
  if (status == TW_OK) {
    status = check_surroundings(spec, fault);
  }
  if (status == TW_OK) {
    status = check_node(spec, fault);
  }
  if (status == TW_OK) {
    status = check_bias(spec, fault);
  }
  if (status == TW_OK && (spec->kind == TW_BOARD_GAIN || spec->kind == TW_BOARD_CHARGE)) {
    status = check_front(spec, fault);
  }
  if (status == TW_OK && spec->kind == TW_BOARD_CONTACT) {
    status = check_contact(spec, fault);
  }
  if (status == TW_OK && !tw_board_is_bare_contact(spec)) {
    status = check_comparator(spec, fault);
  }
  return status == TW_OK ? check_bounds(spec, fault) : status;
}
