/* board.c: where the node rests, where the comparator switches, and what lies between. */
#include "inside.h"
#include "tripwright/constants.h"

#include <math.h>

/* ---- small parts ------------------------------------------------------------------------------
 */

/* the reference as the comparator sees it: a shared string lengthens one of its legs */
static tw_reference network_of(const tw_circuit_spec *s)
{
  tw_reference r = s->reference;
  if (s->bias_kind == TW_BIAS_STRING) {
    *(s->polarity == TW_SEES_FALLING ? &r.top : &r.bottom) += s->string_middle;
  }
  return r;
}

/* part of a current into the bias tap that acts like one into the reference's tap */
static double string_share(const tw_circuit_spec *s)
{
  if (s->bias_kind != TW_BIAS_STRING) {
    return 0.0;
  }
  const double leg = s->polarity == TW_SEES_FALLING ? s->reference.top : s->reference.bottom;
  return leg / (leg + s->string_middle);
}

static tw_switching switching_of(const tw_circuit_spec *s, double node_current)
{
  const bool collector = s->comparator.open_collector;
  return (tw_switching){
      .supply = s->supply,
      /* two inputs in one lead drop twice as much there */
      .source = s->kind == TW_BOARD_COMPARATOR ? tw_board_inputs(s) * s->series_resistance : 0.0,
      .high = tw_board_high(s),
      .low = tw_board_low(s),
      .pull_up = collector ? s->output.pull_up : 0.0,
      .pull_up_voltage = tw_board_high(s),
      .bias_current = s->comparator.bias_current,
      .extra_current = node_current * string_share(s),
      .offset = s->comparator.offset,
      .own_hysteresis = s->comparator.own_hysteresis,
  };
}

/* V at the reference's tap with the output low and high, nothing drawn from the bias tap */
typedef struct taps {
  double at[2];
} taps;

/* ohm from a shared string's bias tap to the reference's tap and on: what a current into the bias
 * tap meets (*own), and by how much it lifts the reference's tap (*follow) */
static void string_resistances(const tw_circuit_spec *s, const tw_switching *at, int high,
                               double *own, double *follow)
{
  const bool falling = s->polarity == TW_SEES_FALLING;
  const double leg = falling ? s->reference.top : s->reference.bottom;
  const double other = falling ? s->reference.bottom : s->reference.top;
  double level, feedback = 0.0;
  if (s->reference.topology == TW_INVERTING) {
    tw_schmitt_drive(&s->reference, at, high, &level, &feedback);
  }
  const double beyond = other / (1.0 + other * feedback);
  const double far = s->string_middle + beyond;
  *own = leg * (far / (leg + far));
  *follow = *own * (beyond / far);
}

/* the bias as a voltage behind a resistance with the output low (0) or high (1) */
static tw_source bias_of(const tw_circuit_spec *s, const tw_switching *at, const taps *tap,
                         int high)
{
  if (s->bias_kind == TW_BIAS_VOLTAGE) {
    return (tw_source){.voltage = s->bias_voltage};
  }
  if (s->bias_kind == TW_BIAS_SUPPLY) {
    return (tw_source){.voltage = s->supply};
  }
  if (s->bias_kind == TW_BIAS_DIVIDER) {
    const double part = s->bias_bottom / (s->bias_top + s->bias_bottom);
    return (tw_source){.voltage = s->supply * part, .resistance = s->bias_top * part};
  }
  /* the string between the reference's tap and the rail beyond the bias tap */
  const bool falling = s->polarity == TW_SEES_FALLING;
  const double leg = falling ? s->reference.top : s->reference.bottom;
  const double rail = falling ? s->supply : 0.0;
  const double part = leg / (leg + s->string_middle);
  tw_source bias = {.voltage = rail + (tap->at[high] - rail) * part};
  double follow;
  string_resistances(s, at, high, &bias.resistance, &follow);
  return bias;
}

/* ---- the node ---------------------------------------------------------------------------------
 */

/* conductances and currents at the node with the comparator's output low (0) or high (1) */
typedef struct node_state {
  double conductance, current; /* the node rests at current/conductance */
  double bias;                 /* emf of the bias */
} node_state;

/* a non-inverting comparator hangs its feedback on the node through its input resistor */
static void add_comparator_load(const tw_circuit_spec *s, const tw_reference *r,
                                const tw_switching *at, int high, node_state *node)
{
  double level, feedback;
  tw_schmitt_drive(r, at, high, &level, &feedback);
  const double ground = r->ground > 0.0 ? 1.0 / r->ground : 0.0;
  const double sum = feedback + ground;
  if (!(sum > 0.0)) {
    return;
  }
  const double lead = r->input + s->series_resistance;
  const double emf = (level * feedback + r->ground_voltage * ground) / sum;
  const double through = 1.0 / (lead + 1.0 / sum);
  node->conductance += through;
  /* the + input's own current enters behind the lead, not at the node */
  const double own = s->comparator.bias_current;
  node->current += through * (emf + own / sum) - own;
}

static node_state node_at(const tw_circuit_spec *s, const tw_reference *r, const tw_switching *at,
                          const taps *tap, double current, int high)
{
  const tw_source bias = bias_of(s, at, tap, high);
  const double through = 1.0 / (s->bias_resistance + bias.resistance);
  node_state node = {
      .conductance = through, .current = through * bias.voltage + current, .bias = bias.voltage};
  if (s->leak_resistance > 0.0) {
    node.conductance += 1.0 / s->leak_resistance;
  }
  if (s->kind == TW_BOARD_COMPARATOR && r->topology == TW_NON_INVERTING) {
    add_comparator_load(s, r, at, high, &node);
  }
  return node;
}

/* level at the comparator's input for a node (or, for a charge amplifier, for its bias) */
static double front_output(const tw_circuit_spec *s, tw_source bias, double node, double current)
{
  const tw_amplifier *part = &s->front;
  if (s->kind == TW_BOARD_GAIN) {
    const double leg = s->gain_leg == TW_LEG_TO_BIAS ? bias.voltage : 0.0;
    const double in = node + part->offset + part->bias_current * s->series_resistance;
    /* the - input's own current runs through the upper resistor */
    return leg + tw_board_gain(s) * (in - leg) - part->bias_current * s->gain_feedback;
  }
  if (s->kind == TW_BOARD_CHARGE) {
    const double plus = bias.voltage + part->bias_current * bias.resistance + part->offset;
    const double leak = s->leak_resistance > 0.0 ? s->charge_resistance / s->leak_resistance : 0.0;
    return plus * (1.0 + leak) - current * s->charge_resistance;
  }
  return node;
}

/* ---- the pieces of the answer ------------------------------------------------------------------
 */

static double total_capacitance(const tw_circuit_spec *s)
{
  const double disc = s->kind == TW_BOARD_CONTACT ? 0.0 : s->disc_capacitance;
  return disc + s->cable_capacitance + s->stray_capacitance + tw_board_front(s)->input_capacitance;
}

static void fill_time_constants(const tw_circuit_spec *s, double conductance, tw_circuit *out)
{
  out->capacitance = total_capacitance(s);
  out->resistance = 1.0 / conductance;
  out->time_constant = out->resistance * out->capacitance;
  out->charge_gain = out->capacitance > 0.0 ? 1.0 / out->capacitance : 0.0;
  if (s->kind == TW_BOARD_CHARGE) {
    /* with an open-loop gain A the feedback counts as (1 + A) C_f beside the source */
    const double open = s->front.open_loop_gain;
    const double spread = open > 0.0 ? out->capacitance / (1.0 + open) : 0.0;
    out->resistance = s->charge_resistance;
    out->time_constant = s->charge_resistance * (s->charge_capacitance + spread);
    out->charge_gain = 1.0 / (s->charge_capacitance + spread);
    out->charge_gain *= open > 0.0 ? open / (1.0 + open) : 1.0;
  }
  out->corner = out->time_constant > 0.0 ? 1.0 / (TW_TWO_PI * out->time_constant) : 0.0;
}

static void fill_in_time(const tw_circuit_spec *s, tw_circuit *out)
{
  const tw_amplifier *front = &s->front;
  out->front_low = front->low_drop;
  out->front_high = s->supply - front->high_drop;
  out->front_slew = front->slew;
  if (s->kind == TW_BOARD_GAIN) {
    out->front_pole = front->gain_bandwidth / out->gain;
  } else if (s->kind == TW_BOARD_CHARGE) {
    const double fed = s->charge_capacitance / (s->charge_capacitance + out->capacitance);
    out->front_pole = front->gain_bandwidth * fed;
  }
  out->comparator_bandwidth = s->comparator.gain_bandwidth;
  out->comparator_slew = s->comparator.slew;
  out->comparator_low = tw_board_low(s);
  out->comparator_high = tw_board_high(s);
  out->response_time = s->comparator.response_time;
}

/* d(trip)/d(supply): the thresholds are linear in the supply, so one difference is exact */
static double supply_sensitivity(const tw_circuit_spec *s, const tw_reference *r,
                                 const tw_switching *at, double trip, bool trips_on_rise)
{
  if (s->gate_rise > 0.0) {
    return trips_on_rise ? s->gate_rise : s->gate_fall;
  }
  tw_switching more = *at;
  tw_thresholds t;
  const double step = 1e-3 * s->supply;
  const bool own_pull_up = s->comparator.open_collector && s->output.pull_up_voltage > 0.0;
  more.supply += step;
  more.high += own_pull_up ? 0.0 : step;
  more.pull_up_voltage += own_pull_up ? 0.0 : step;
  if (tw_schmitt(r, &more, &t, NULL) != TW_OK) {
    return 0.0;
  }
  return ((trips_on_rise ? t.rise : t.fall) - trip) / step;
}

static bool beyond_common_mode(const tw_amplifier *part, double supply, double a, double b)
{
  return part->common_known &&
         (fmin(a, b) < part->common_low || fmax(a, b) > supply - part->common_high_drop);
}

static void fill_reach(const tw_circuit_spec *s, double sense, tw_circuit *out)
{
  const double node_trip = out->rest_node + sense * out->threshold_voltage;
  const bool two = s->kind == TW_BOARD_GAIN || s->kind == TW_BOARD_CHARGE;
  const bool at_node = s->kind == TW_BOARD_GAIN || s->kind == TW_BOARD_COMPARATOR;
  out->flags[TW_FLAG_CLAMP_CLIPS] =
      at_node && s->clamped && (node_trip > s->clamp_high || node_trip < s->clamp_low);
  const double far = fmax(out->rest, out->trip), near = fmin(out->rest, out->trip);
  out->flags[TW_FLAG_FRONT_LIMIT] = two && (far > out->front_high || near < out->front_low);
  out->flags[TW_FLAG_COMMON_MODE] =
      beyond_common_mode(&s->comparator, s->supply, out->rest, out->trip) ||
      (s->kind == TW_BOARD_GAIN &&
       beyond_common_mode(&s->front, s->supply, out->rest_node, node_trip)) ||
      (s->kind == TW_BOARD_CHARGE &&
       beyond_common_mode(&s->front, s->supply, out->bias_voltage, out->bias_voltage));
  out->can_trip = !out->flags[TW_FLAG_CLAMP_CLIPS] && !out->flags[TW_FLAG_FRONT_LIMIT] &&
                  !out->flags[TW_FLAG_OUT_OF_REACH];
}

static void fill_state(const tw_circuit_spec *s, tw_circuit *out)
{
  const bool both = s->polarity == TW_SEES_BOTH;
  const bool tripped =
      out->threshold_voltage <= 0.0 || (both && out->threshold_voltage_falling <= 0.0);
  const bool stuck =
      out->rearm_voltage <= 0.0 || (both && (out->rest_tripped - out->release_falling) <= 0.0);
  out->rearm = tripped ? TW_REARM_TRIPPED : stuck ? TW_REARM_STUCK : TW_REARM_CLEAN;
  out->flags[TW_FLAG_REARM] = out->rearm != TW_REARM_CLEAN;
  out->flags[TW_FLAG_ONE_POLARITY] = !both && s->kind != TW_BOARD_CONTACT;
}

static void fill_output(const tw_circuit_spec *s, bool rest_high, tw_circuit *out)
{
  out->tripped_high = rest_high == s->output.invert;
  out->output_rest = tw_board_pin(s, out, !out->tripped_high, false).voltage;
  out->output_tripped = tw_board_pin(s, out, out->tripped_high, false).voltage;
}

/* a number that is none must not leave the room */
static tw_status all_finite(const tw_circuit *c, tw_fault *fault)
{
  const double must[] = {c->resistance,
                         c->capacitance,
                         c->time_constant,
                         c->rest_node,
                         c->rest,
                         c->trip,
                         c->release,
                         c->threshold_voltage,
                         c->hysteresis_voltage,
                         c->threshold_charge,
                         c->rearm_voltage,
                         c->supply_sensitivity,
                         c->trip_resistance,
                         c->release_resistance,
                         c->rest_tripped,
                         c->trip_falling,
                         c->corner,
                         c->charge_gain};
  for (size_t i = 0; i < sizeof must / sizeof must[0]; i++) {
    if (!isfinite(must[i])) {
      return tw_fail(fault, TW_NO_ANSWER, "circuit.kind",
                     "check for a value that is far too large or too small",
                     "the circuit's values are so far apart that no number comes out");
    }
  }
  return TW_OK;
}

/* ---- opening contact ---------------------------------------------------------------------------
 */

/* chain resistance at which the node stands at `volts`; 0 when no resistance does it */
static double chain_at(double volts, const node_state *open)
{
  const double current = open->current - volts * open->conductance;
  return current > 0.0 && volts > 0.0 ? volts / current : 0.0;
}

static void contact_levels(const tw_circuit_spec *s, const node_state *open, tw_circuit *out)
{
  const double reach = open->current / open->conductance;
  const double rc = s->contact_resistance;
  /* V = I/(G + 1/R), written for R = 0 as well */
  out->rest_node = open->current * rc / (1.0 + open->conductance * rc);
  out->rest = out->rest_tripped = out->rest_node;
  if (tw_board_is_bare_contact(s)) {
    const double rt = s->contact_threshold;
    out->trip = out->release = open->current * rt / (1.0 + open->conductance * rt);
  }
  out->trip_resistance = chain_at(out->trip, open);
  out->release_resistance = chain_at(out->release, open);
  out->contact_closed_current = open->current - out->rest_node * open->conductance;
  out->flags[TW_FLAG_OUT_OF_REACH] = !(out->trip < reach);
  out->output_rest = out->rest_node;
  out->output_tripped = reach;
}

/* ---- all together ------------------------------------------------------------------------------
 */

static void fill_changes(const tw_circuit_spec *s, double sense, tw_circuit *out)
{
  /* a shared string's threshold runs away from the signal by `follow` of the node's change */
  const double gain = out->gain - out->follow;
  out->threshold_voltage = sense * (out->trip - out->rest) / gain;
  out->hysteresis_voltage = fabs(out->trip - out->release) / gain;
  out->rearm_voltage = sense * (out->release - out->rest_tripped) / gain;
  if (s->kind != TW_BOARD_CONTACT) {
    out->threshold_charge = out->threshold_voltage / out->charge_gain;
  }
  if (s->polarity == TW_SEES_BOTH) {
    out->threshold_voltage_falling = (out->rest - out->trip_falling) / gain;
  }
}

/* a gate's thresholds go with the supply; whatever their scatter they keep their least distance */
static void gate_thresholds(const tw_circuit_spec *s, tw_thresholds *out)
{
  double rise = s->gate_rise * s->supply, fall = s->gate_fall * s->supply;
  const double band = s->gate_band * s->supply;
  if (s->polarity == TW_SEES_FALLING) {
    rise = fmax(rise, fall + band);
  } else {
    fall = fmin(fall, rise - band);
  }
  *out = (tw_thresholds){.rise = rise,
                         .fall = fall,
                         .hysteresis = rise - fall,
                         .base = {fall, rise},
                         .weight = {-1.0, -1.0}};
}

static tw_status solve_thresholds(const tw_circuit_spec *s, const tw_switching *at, tw_circuit *out,
                                  tw_fault *fault)
{
  const tw_reference r = network_of(s);
  const bool falling = s->polarity == TW_SEES_FALLING;
  tw_status status = TW_OK;
  if (s->gate_rise > 0.0) {
    gate_thresholds(s, &out->rising);
  } else {
    status = tw_schmitt(&r, at, &out->rising, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  out->trip = falling ? out->rising.fall : out->rising.rise;
  out->release = falling ? out->rising.rise : out->rising.fall;
  out->supply_sensitivity = supply_sensitivity(s, &r, at, out->trip, !falling);
  if (s->polarity == TW_SEES_BOTH) {
    status = tw_schmitt(&s->reference_falling, at, &out->falling, fault);
    out->trip_falling = out->falling.fall;
    out->release_falling = out->falling.rise;
  }
  return status;
}

/* rest levels of a charge amplifier, armed and still tripped */
static void rest_of_charge(const tw_circuit_spec *s, const tw_switching *at, const taps *tap,
                           bool rest_high, double current, tw_circuit *out)
{
  const tw_source here = bias_of(s, at, tap, rest_high);
  const tw_source after = bias_of(s, at, tap, !rest_high);
  fill_time_constants(s, 1.0 / s->charge_resistance, out);
  out->bias_voltage = here.voltage;
  /* its loop holds the node at the + input */
  out->rest_node = here.voltage + s->front.bias_current * here.resistance + s->front.offset;
  out->rest = front_output(s, here, here.voltage, current);
  out->rest_tripped = front_output(s, after, after.voltage, current);
}

/* by how much the comparator's decision weighs its signal */
static double decision_weight(const tw_circuit *c, bool high)
{
  return fabs(c->rising.weight[high ? 1 : 0]);
}

/* the same where the charge stays on the node, or a contact holds it */
static void rest_of_node(const tw_circuit_spec *s, const tw_switching *at, const taps *tap,
                         bool rest_high, double current, tw_circuit *out)
{
  const tw_reference r = network_of(s);
  const node_state here = node_at(s, &r, at, tap, current, rest_high);
  const node_state after = node_at(s, &r, at, tap, current, !rest_high);
  fill_time_constants(s, here.conductance, out);
  out->bias_voltage = here.bias;
  if (s->kind == TW_BOARD_CONTACT) {
    contact_levels(s, &here, out);
    return;
  }
  if (s->bias_kind == TW_BIAS_STRING) {
    double own;
    string_resistances(s, at, rest_high, &own, &out->follow_resistance);
    out->follow = out->follow_resistance / (s->bias_resistance + own);
    out->follow /= decision_weight(out, rest_high);
  }
  const tw_source bias = {.voltage = here.bias}, bias_after = {.voltage = after.bias};
  out->rest_node = here.current / here.conductance;
  out->rest = front_output(s, bias, out->rest_node, current);
  out->rest_tripped = front_output(s, bias_after, after.current / after.conductance, current);
  out->flags[TW_FLAG_SOURCE_LOADS] =
      s->kind == TW_BOARD_COMPARATOR && r.topology == TW_NON_INVERTING;
}

tw_status tw_board_solve(const tw_circuit_spec *s, double stray, tw_circuit *out, tw_fault *fault)
{
  *out = (tw_circuit){.kind = s->kind, .polarity = s->polarity, .gain = 1.0};
  const bool bare = tw_board_is_bare_contact(s);
  const double inputs = bare ? 0.0 : tw_board_inputs(s) * tw_board_front(s)->bias_current;
  const double current = inputs + stray;
  const tw_switching at = switching_of(s, current);
  const double sense = s->polarity == TW_SEES_FALLING ? -1.0 : 1.0;
  const bool rest_high = (s->reference.topology == TW_INVERTING) == (sense > 0.0);
  const tw_status status = bare ? TW_OK : solve_thresholds(s, &at, out, fault);
  if (status != TW_OK) {
    return status;
  }
  out->bias_current = current;
  out->gain = s->kind == TW_BOARD_GAIN ? tw_board_gain(s) : 1.0;
  taps tap = {{out->rising.tap_low, out->rising.tap_high}};
  if (s->bias_kind == TW_BIAS_STRING) {
    /* the tap by itself: the current's own way through the string is in its resistance */
    const tw_reference alone = network_of(s);
    tw_switching none = at;
    tw_thresholds t;
    none.extra_current = 0.0;
    if (tw_schmitt(&alone, &none, &t, fault) != TW_OK) {
      return TW_BAD_INPUT;
    }
    tap = (taps){{t.tap_low, t.tap_high}};
  }
  if (s->kind == TW_BOARD_CHARGE) {
    rest_of_charge(s, &at, &tap, rest_high, current, out);
  } else {
    rest_of_node(s, &at, &tap, rest_high, current, out);
  }
  fill_changes(s, sense, out);
  fill_in_time(s, out);
  if (bare) {
    /* no comparator: the chain itself drives the output, and there is no band between levels */
    out->can_trip = true;
    out->rearm_voltage = out->threshold_voltage;
    out->tripped_high = !s->output.invert;
    if (s->output.stage) {
      fill_output(s, false, out);
    }
  } else {
    fill_output(s, rest_high, out);
    fill_reach(s, sense, out);
  }
  fill_state(s, out);
  return all_finite(out, fault);
}

tw_status tw_circuit_solve(const tw_circuit_spec *spec, tw_circuit *out, tw_fault *fault)
{
  const tw_status status = tw_circuit_check(spec, fault);
  return status == TW_OK ? tw_board_solve(spec, 0.0, out, fault) : status;
}

const char *tw_circuit_flag_text(tw_circuit_flag flag)
{
  static const char *const text[] = {
#define X(name, field, words) words,
      TW_CIRCUIT_FLAGS(X)
#undef X
  };
  return (unsigned)flag < TW_FLAG_COUNT ? text[flag] : "";
}

const char *tw_circuit_flag_field(tw_circuit_flag flag)
{
  static const char *const fields[] = {
#define X(name, field, words) field,
      TW_CIRCUIT_FLAGS(X)
#undef X
  };
  return (unsigned)flag < TW_FLAG_COUNT ? fields[flag] : "";
}
