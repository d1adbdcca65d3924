/* from_design.c: the board and the link as the design file states them.
 *
 * The disc's own figures (capacitance, charge per newton and per kelvin) are not in the file:
 * whoever has solved the disc sets them afterwards.
 */
#include "inside.h"
#include "tripwright/design.h"

#include <math.h>
#include <stddef.h>

static double number(const tw_design *d, tw_field field)
{
  return tw_design_number_or(d, field, 0.0);
}

/* ---- amplifiers -------------------------------------------------------------------------------
 */

/* the fields of one amplifier; both have the same ones */
typedef struct part_fields {
  tw_field name, drive, offset, offset_drift, bias, bias_least, bias_most, bandwidth, slew, delay,
      gain, low, high, leakage, output_current, noise, noise_corner, noise_current, current,
      supply_least, supply_most, input_low, input_high, hysteresis;
} part_fields;

#define PART_FIELDS(row, A)                                                                        \
  {                                                                                                \
    .name = TW_F_circuit_##row, .drive = TW_F_circuit_##A##_drive,                                 \
    .offset = TW_F_circuit_##A##_offset, .offset_drift = TW_F_circuit_##A##_offset_drift,          \
    .bias = TW_F_circuit_##A##_bias_current, .bias_least = TW_F_circuit_##A##_bias_least,          \
    .bias_most = TW_F_circuit_##A##_bias_most, .bandwidth = TW_F_circuit_##A##_bandwidth,          \
    .slew = TW_F_circuit_##A##_slew, .delay = TW_F_circuit_##A##_delay,                            \
    .gain = TW_F_circuit_##A##_gain, .low = TW_F_circuit_##A##_low,                                \
    .high = TW_F_circuit_##A##_high, .leakage = TW_F_circuit_##A##_leakage,                        \
    .output_current = TW_F_circuit_##A##_output_current, .noise = TW_F_circuit_##A##_noise,        \
    .noise_corner = TW_F_circuit_##A##_noise_corner,                                               \
    .noise_current = TW_F_circuit_##A##_noise_current, .current = TW_F_circuit_##A##_current,      \
    .supply_least = TW_F_circuit_##A##_supply_least,                                               \
    .supply_most = TW_F_circuit_##A##_supply_most, .input_low = TW_F_circuit_##A##_input_low,      \
    .input_high = TW_F_circuit_##A##_input_high, .hysteresis = TW_F_circuit_##A##_hysteresis,      \
  }

static const part_fields of_comparator = PART_FIELDS(amplifier, amplifier);
static const part_fields of_stage = PART_FIELDS(stage, stage);

static double upper(const tw_design *d, tw_field field)
{
  return number(d, field) + tw_design_tolerance(d, field).plus;
}

static tw_amplifier part_of(const tw_design *d, const part_fields *f)
{
  const tw_tolerance offset = tw_design_tolerance(d, f->offset);
  const tw_tolerance bias = tw_design_tolerance(d, f->bias);
  const char *own = tw_design_text(d, f->name);
  return (tw_amplifier){
      .name = own ? own : tw_design_text(d, TW_F_circuit_amplifier),
      .open_collector = tw_design_choice(d, f->drive) == TW_DRIVE_OPEN_COLLECTOR,
      .bias_current = number(d, f->bias),
      .bias_least = tw_design_number_or(d, f->bias_least, number(d, f->bias) - bias.minus),
      .bias_most = tw_design_number_or(d, f->bias_most, number(d, f->bias) + bias.plus),
      .offset = number(d, f->offset),
      .offset_limit = fmax(offset.minus, offset.plus),
      .offset_drift =
          fabs(number(d, f->offset_drift)) + tw_design_tolerance(d, f->offset_drift).plus,
      .low_drop = number(d, f->low),
      .low_drop_limit = upper(d, f->low),
      .high_drop = number(d, f->high),
      .high_drop_limit = upper(d, f->high),
      .gain_bandwidth = number(d, f->bandwidth),
      .slew = number(d, f->slew),
      .open_loop_gain = number(d, f->gain),
      .voltage_noise = number(d, f->noise),
      .noise_corner = number(d, f->noise_corner),
      .current_noise = number(d, f->noise_current),
      .response_time = number(d, f->delay),
      .own_hysteresis = number(d, f->hysteresis),
      .output_leakage = upper(d, f->leakage),
      .output_current = number(d, f->output_current),
      .supply_current = number(d, f->current),
      .supply_current_limit = upper(d, f->current),
      .supply_least = number(d, f->supply_least),
      .supply_most = tw_design_number_or(d, f->supply_most, 1e3),
      .common_known = tw_design_has(d, f->input_low) && tw_design_has(d, f->input_high),
      .common_low = number(d, f->input_low),
      .common_high_drop = number(d, f->input_high),
  };
}

/* ---- board --------------------------------------------------------------------------------------
 */

static const tw_field field_of[TW_VALUE_COUNT] = {
    [TW_VALUE_SUPPLY] = TW_F_circuit_supply,
    [TW_VALUE_BIAS_VOLTAGE] = TW_F_circuit_bias_voltage,
    [TW_VALUE_BIAS_TOP] = TW_F_circuit_bias_upper,
    [TW_VALUE_BIAS_BOTTOM] = TW_F_circuit_bias_lower,
    [TW_VALUE_BIAS_RESISTANCE] = TW_F_circuit_bias_resistance,
    [TW_VALUE_STRING_MIDDLE] = TW_F_circuit_reference_middle,
    [TW_VALUE_REFERENCE_TOP] = TW_F_circuit_reference_upper,
    [TW_VALUE_REFERENCE_BOTTOM] = TW_F_circuit_reference_lower,
    [TW_VALUE_REFERENCE_VOLTAGE] = TW_F_circuit_reference,
    [TW_VALUE_FEEDBACK] = TW_F_circuit_feedback_resistance,
    [TW_VALUE_INPUT] = TW_F_circuit_input_resistance,
    [TW_VALUE_FALLING_TOP] = TW_F_circuit_reference_lower,
    [TW_VALUE_FALLING_BOTTOM] = TW_F_circuit_reference_upper,
    [TW_VALUE_FALLING_VOLTAGE] = TW_F_circuit_reference,
    [TW_VALUE_FALLING_FEEDBACK] = TW_F_circuit_feedback_resistance,
    [TW_VALUE_GAIN_FEEDBACK] = TW_F_circuit_gain_upper,
    [TW_VALUE_GAIN_GROUND] = TW_F_circuit_gain_lower,
    [TW_VALUE_GAIN] = TW_F_circuit_gain,
    [TW_VALUE_CHARGE_CAPACITANCE] = TW_F_circuit_charge_capacitance,
    [TW_VALUE_CHARGE_RESISTANCE] = TW_F_circuit_charge_resistance,
    [TW_VALUE_DISC_CAPACITANCE] = TW_FIELD_COUNT, /* the disc's, not the file's */
    [TW_VALUE_CABLE_CAPACITANCE] = TW_F_circuit_cable_capacitance,
    [TW_VALUE_GATE_RISE] = TW_F_circuit_gate_rise,
    [TW_VALUE_GATE_FALL] = TW_F_circuit_gate_fall,
};

/* stated tolerances win over those of the class */
static void set_bounds(const tw_design *d, tw_circuit_spec *s)
{
  tw_circuit_tolerances(s, number(d, TW_F_circuit_resistor_tolerance), 0.0, 0.0, 0.0);
  for (int i = 0; i < TW_VALUE_COUNT; i++) {
    tw_field field = field_of[i];
    if (s->kind == TW_BOARD_CONTACT && i == TW_VALUE_BIAS_RESISTANCE) {
      field = TW_F_circuit_contact_pull_up;
    }
    if (field != TW_FIELD_COUNT && tw_design_tolerance(d, field).given) {
      const tw_tolerance t = tw_design_tolerance(d, field);
      s->bounds[i] = (tw_value_bounds){.minus = t.minus, .plus = t.plus};
    }
  }
}

static tw_reference reference_of(const tw_design *d)
{
  const bool stiff = tw_design_has(d, TW_F_circuit_reference);
  const bool straight = tw_design_choice(d, TW_F_circuit_schmitt) == TW_SCHMITT_NON_INVERTING;
  return (tw_reference){
      .topology = straight ? TW_NON_INVERTING : TW_INVERTING,
      .top = stiff ? 0.0 : number(d, TW_F_circuit_reference_upper),
      .bottom = stiff ? 0.0 : number(d, TW_F_circuit_reference_lower),
      .voltage = number(d, TW_F_circuit_reference),
      .resistance = number(d, TW_F_circuit_reference_resistance),
      .feedback = number(d, TW_F_circuit_feedback_resistance),
      .input = number(d, TW_F_circuit_input_resistance),
  };
}

static void set_bias(const tw_design *d, tw_circuit_spec *s)
{
  s->bias_resistance = number(d, TW_F_circuit_bias_resistance);
  s->bias_voltage = number(d, TW_F_circuit_bias_voltage);
  if (tw_design_has(d, TW_F_circuit_reference_middle)) {
    s->bias_kind = TW_BIAS_STRING;
    s->string_middle = number(d, TW_F_circuit_reference_middle);
  } else if (!tw_design_has(d, TW_F_circuit_bias_voltage) &&
             tw_design_has(d, TW_F_circuit_bias_upper)) {
    s->bias_kind = TW_BIAS_DIVIDER;
    s->bias_top = number(d, TW_F_circuit_bias_upper);
    s->bias_bottom = number(d, TW_F_circuit_bias_lower);
  }
}

/* the second network of a window: the first one mirrored, a divider about half the supply, a stiff
 * reference about the bias */
static tw_reference mirrored(const tw_circuit_spec *s)
{
  tw_reference r = s->reference;
  r.top = s->reference.bottom;
  r.bottom = s->reference.top;
  r.voltage = 2.0 * s->bias_voltage - s->reference.voltage;
  return r;
}

static void set_contact(const tw_design *d, tw_circuit_spec *s)
{
  /* one contact a flat seat, two a rod in a vee, all in a row */
  const bool vee = tw_design_choice(d, TW_F_seat_contact) == TW_CONTACT_VEE;
  s->bias_kind = TW_BIAS_SUPPLY;
  s->bias_resistance = number(d, TW_F_circuit_contact_pull_up);
  s->contact_resistance = (vee ? 6.0 : 3.0) * number(d, TW_F_circuit_contact_resistance);
  s->contact_threshold = number(d, TW_F_circuit_contact_threshold);
}

static tw_status set_clamp(const tw_design *d, tw_circuit_spec *s, tw_fault *fault)
{
  const int kind = tw_design_choice(d, TW_F_circuit_clamp);
  const double volts = number(d, TW_F_circuit_clamp_voltage);
  s->clamped = kind > TW_CLAMP_NONE && s->kind != TW_BOARD_CONTACT;
  if (!s->clamped) {
    return TW_OK;
  }
  s->clamp_leakage = number(d, TW_F_circuit_clamp_leakage);
  s->clamp_low = kind == TW_CLAMP_ZENER ? -fmin(0.6, volts) : -volts;
  s->clamp_high = kind == TW_CLAMP_RAILS ? s->supply + volts : volts;
  if (kind == TW_CLAMP_PAIR) {
    /* two diodes across the disc: from where the node rests */
    tw_circuit_spec bare = *s;
    tw_circuit c;
    bare.disc_capacitance = 1e-9; /* the rest level does not know it */
    bare.clamped = false;
    const tw_status status = tw_circuit_solve(&bare, &c, fault);
    if (status != TW_OK) {
      return status;
    }
    s->clamp_low = c.rest_node - volts;
    s->clamp_high = c.rest_node + volts;
  }
  return TW_OK;
}

/* ---- output
 * ---------------------------------------------------------------------------------------- */

static bool is_wired(const tw_design *d)
{
  return tw_design_choice(d, TW_F_link_kind) != TW_LINK_RADIO;
}

static double joint_resistance(const tw_design *d)
{
  const int kind = tw_design_choice(d, TW_F_link_kind);
  const bool joint = kind == TW_LINK_PLUG || kind == TW_LINK_SPRING_CONTACTS;
  return joint ? number(d, TW_F_link_contact_resistance) : 0.0;
}

/* a stage of its own where the file gives it levels, another kind of output than the comparator's,
 * or the opposite level */
static void set_stage(const tw_design *d, tw_circuit_spec *s)
{
  tw_output_spec *o = &s->output;
  const bool bare = tw_board_is_bare_contact(s);
  const bool falling = s->polarity == TW_SEES_FALLING;
  const bool low_when_tripped = !bare && (s->reference.topology == TW_INVERTING) != falling;
  const bool want_low = tw_design_choice(d, TW_F_output_active) == TW_ACTIVE_LOW;
  const bool collector = tw_design_choice(d, TW_F_output_kind) == TW_DRIVE_OPEN_COLLECTOR;
  const bool other_kind = tw_design_given(d, TW_F_output_kind) &&
                          (bare ? collector : collector != s->comparator.open_collector);
  o->invert = want_low != low_when_tripped;
  o->stage = o->invert || other_kind || tw_design_has(d, TW_F_output_low) ||
             tw_design_has(d, TW_F_output_high);
  o->stage_open_collector = o->stage && collector;
  o->stage_low = tw_design_number_or(d, TW_F_output_low, s->comparator.low_drop);
  o->stage_high_drop = tw_design_number_or(d, TW_F_output_high, s->comparator.high_drop);
}

static void set_output(const tw_design *d, tw_circuit_spec *s)
{
  tw_output_spec *o = &s->output;
  o->pull_up = number(d, TW_F_output_pull_up);
  o->indicator_current = number(d, TW_F_output_indicator_current);
  o->minimum_pulse = number(d, TW_F_output_minimum_pulse);
  o->supply_source_resistance = number(d, TW_F_circuit_supply_resistance);
  o->controller_low = number(d, TW_F_machine_input_low);
  o->controller_high = number(d, TW_F_machine_input_high);
  if (is_wired(d)) {
    o->supply_source_resistance += joint_resistance(d) + number(d, TW_F_link_series_resistance);
    o->return_resistance = o->line_resistance = joint_resistance(d);
    o->line_capacitance =
        number(d, TW_F_link_cable_length) * number(d, TW_F_link_capacitance_per_metre);
    o->controller_pull_up = number(d, TW_F_machine_input_pull_up);
    o->controller_pull_up_voltage = number(d, TW_F_machine_input_pull_up_voltage);
  }
  set_stage(d, s);
}

static void set_surroundings(const tw_design *d, tw_circuit_spec *s)
{
  const double at = number(d, TW_F_environment_temperature);
  s->temperature = at;
  s->temperature_span = fmax(0.0, fmax(at - number(d, TW_F_environment_temperature_low),
                                       number(d, TW_F_environment_temperature_high) - at));
  s->temperature_rate = number(d, TW_F_environment_temperature_rate);
  s->resistor_drift = number(d, TW_F_circuit_resistor_drift);
}

static tw_circuit_kind kind_of(int choice)
{
  switch (choice) {
  case TW_CIRCUIT_GAIN:
    return TW_BOARD_GAIN;
  case TW_CIRCUIT_CHARGE:
    return TW_BOARD_CHARGE;
  case TW_CIRCUIT_CONTACT:
    return TW_BOARD_CONTACT;
  default:
    return TW_BOARD_COMPARATOR;
  }
}

static tw_polarity polarity_of(int choice)
{
  return choice == TW_POLARITY_FALLING ? TW_SEES_FALLING
         : choice == TW_POLARITY_BOTH  ? TW_SEES_BOTH
                                       : TW_SEES_RISING;
}

tw_status tw_circuit_from_design(const struct tw_design *design, tw_circuit_spec *out,
                                 tw_fault *fault)
{
  tw_circuit_spec s = tw_circuit_spec_default();
  if (tw_design_choice(design, TW_F_circuit_kind) < 0) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.kind",
                   "use comparator, gain, charge, gate or contact",
                   "the circuit's kind is not given");
  }
  s.kind = kind_of(tw_design_choice(design, TW_F_circuit_kind));
  s.supply = number(design, TW_F_circuit_supply);
  set_surroundings(design, &s);
  if (s.kind == TW_BOARD_CONTACT) {
    set_contact(design, &s);
    s.cable_capacitance = number(design, TW_F_circuit_cable_capacitance);
  } else {
    s.polarity = polarity_of(tw_design_choice(design, TW_F_circuit_polarity));
    s.comparator = part_of(design, &of_comparator);
    s.front = s.kind == TW_BOARD_COMPARATOR ? s.comparator : part_of(design, &of_stage);
    s.cable_capacitance = number(design, TW_F_circuit_cable_capacitance);
    s.stray_capacitance = number(design, TW_F_circuit_input_capacitance);
    s.leak_resistance = number(design, TW_F_circuit_leakage_resistance);
    s.series_resistance = number(design, TW_F_circuit_series_resistance);
    s.gain = number(design, TW_F_circuit_gain);
    if (!tw_design_has(design, TW_F_circuit_gain)) {
      s.gain_feedback = number(design, TW_F_circuit_gain_upper);
      s.gain_ground = number(design, TW_F_circuit_gain_lower);
    }
    s.charge_capacitance = number(design, TW_F_circuit_charge_capacitance);
    s.charge_resistance = number(design, TW_F_circuit_charge_resistance);
    s.reference = reference_of(design);
    if (tw_design_choice(design, TW_F_circuit_kind) == TW_CIRCUIT_GATE) {
      s.reference = (tw_reference){.topology = TW_INVERTING};
      s.gate_rise = number(design, TW_F_circuit_gate_rise);
      s.gate_fall = number(design, TW_F_circuit_gate_fall);
      s.gate_band = number(design, TW_F_circuit_gate_band);
    }
    set_bias(design, &s);
    s.reference_falling = s.polarity == TW_SEES_BOTH ? mirrored(&s) : (tw_reference){0};
  }
  set_output(design, &s);
  set_bounds(design, &s);
  const tw_status status = set_clamp(design, &s, fault);
  if (status == TW_OK) {
    *out = s;
  }
  return status;
}

/* ---- link
 * -------------------------------------------------------------------------------------------- */

static tw_link_kind link_kind_of(int choice)
{
  switch (choice) {
  case TW_LINK_PLUG:
    return TW_BY_PLUG;
  case TW_LINK_SPRING_CONTACTS:
    return TW_BY_SPRING_CONTACTS;
  case TW_LINK_RADIO:
    return TW_BY_RADIO;
  default:
    return TW_BY_CABLE;
  }
}

static void set_wires(const tw_design *d, tw_link_spec *l)
{
  const bool collector = tw_design_choice(d, TW_F_output_kind) == TW_DRIVE_OPEN_COLLECTOR;
  l->capacitance = number(d, TW_F_link_cable_length) * number(d, TW_F_link_capacitance_per_metre);
  l->contact_resistance = joint_resistance(d);
  l->series_resistance = number(d, TW_F_link_series_resistance);
  l->makes_early = tw_design_choice(d, TW_F_link_shorts_on_insertion) == TW_NO_YES_YES;
  l->supply_limit = number(d, TW_F_link_supply_limit);
  l->pulls_down = collector;
  l->source_resistance = collector ? number(d, TW_F_output_pull_up) : joint_resistance(d);
}

static void set_radio(const tw_design *d, tw_link_spec *l)
{
  const double day = 86400.0;
  l->battery_charge = number(d, TW_F_link_battery_capacity);
  l->ready_current = number(d, TW_F_link_current_ready);
  l->sleep_current = number(d, TW_F_link_current_asleep);
  l->share_ready = tw_design_number_or(d, TW_F_link_share_ready, 1.0);
  l->event_charge = number(d, TW_F_link_charge_per_touch);
  l->events_per_second = number(d, TW_F_link_touches_per_day) / day;
}

tw_status tw_link_from_design(const struct tw_design *design, tw_link_spec *out, tw_fault *fault)
{
  const int choice = tw_design_choice(design, TW_F_link_kind);
  if (choice < 0) {
    return tw_fail(fault, TW_BAD_INPUT, "link.kind",
                   "use fixed_cable, plug, spring_contacts or radio", "the link is not given");
  }
  tw_link_spec l = tw_link_default(link_kind_of(choice));
  l.makes_early = false;
  l.isolated = tw_design_choice(design, TW_F_link_isolated) == TW_NO_YES_YES;
  l.cable_charge = number(design, TW_F_link_motion_charge);
  /* a moving cable sheds charge into the node only where it carries the node */
  l.carries_node = l.cable_charge > 0.0;
  l.processing = number(design, TW_F_link_latency);
  l.jitter = number(design, TW_F_link_jitter);
  if (l.kind == TW_BY_RADIO) {
    set_radio(design, &l);
  } else {
    set_wires(design, &l);
  }
  *out = l;
  return TW_OK;
}
