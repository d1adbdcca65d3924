/* knock.c: overload and recovery, how long the output holds, and which feeds are too slow. */
#include "inside.h"

#include <math.h>

/* V that the node or the stage's output may move from rest before something holds it, towards the
 * side that trips; 0 = nothing does */
static double room_of(const tw_circuit_spec *s, const tw_circuit *c)
{
  const bool falling = s->polarity == TW_SEES_FALLING;
  if (s->kind == TW_BOARD_CHARGE) {
    return falling ? c->rest - c->front_low : c->front_high - c->rest;
  }
  if (!s->clamped) {
    return 0.0;
  }
  return falling ? c->rest_node - s->clamp_low : s->clamp_high - c->rest_node;
}

/* time for a change to fall from `from` to the threshold; at once when it never got there */
static double recover(double tau, double from, double threshold)
{
  return from > threshold && threshold > 0.0 ? tw_decay_time(tau, from, threshold) : 0.0;
}

/* a charge amplifier at its limit has lost its virtual ground: the rest of the charge stands on
 * C_s + C_f and leaks through R_f until the loop closes again */
static double recover_charge(const tw_circuit_spec *s, const tw_circuit *c, double charge,
                             double room)
{
  const double excess = charge - room * s->charge_capacitance;
  if (excess <= 0.0 || !(room > 0.0)) {
    return recover(c->time_constant, charge * c->charge_gain, c->threshold_voltage);
  }
  const double linear = recover(c->time_constant, room, c->threshold_voltage);
  const double both = c->capacitance + s->charge_capacitance;
  const double input = excess / both; /* V by which the - input has left the + input */
  return s->charge_resistance * both * log((room + input) / room) + linear;
}

tw_status tw_circuit_overload(const tw_circuit_spec *spec, double force, tw_circuit_knock *out,
                              tw_fault *fault)
{
  *out = (tw_circuit_knock){0};
  tw_circuit c;
  const tw_status status = tw_circuit_solve(spec, &c, fault);
  if (status != TW_OK) {
    return status;
  }
  if (spec->kind == TW_BOARD_CONTACT) {
    return tw_fail(fault, TW_NO_ANSWER, "circuit.kind", "nothing to change",
                   "an opening contact has no charge that could overload its input");
  }
  if (!(force > 0.0 && isfinite(force)) || !(spec->charge_per_newton > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "measured.charge_per_newton",
                   "give the disc's charge per newton and a force above zero",
                   "a knock of %g N at %g C/N gives no voltage", force, spec->charge_per_newton);
  }
  const double room = room_of(spec, &c);
  out->volt_per_newton = spec->charge_per_newton * c.charge_gain;
  out->open_voltage = out->volt_per_newton * force;
  out->limited = room > 0.0 && out->open_voltage > room;
  out->held_voltage = out->limited ? room : out->open_voltage;
  out->limit_force = room > 0.0 ? room / out->volt_per_newton : 0.0;
  out->clamp_current_known = true;
  if (spec->kind == TW_BOARD_CHARGE) {
    out->recovery = recover_charge(spec, &c, spec->charge_per_newton * force, room);
    return TW_OK;
  }
  out->recovery = recover(c.time_constant, out->held_voltage, c.threshold_voltage);
  if (out->limited) {
    out->clamp_current_known = spec->series_resistance > 0.0;
    out->clamp_current = out->clamp_current_known
                             ? (out->open_voltage - out->held_voltage) / spec->series_resistance
                             : 0.0;
  }
  return TW_OK;
}

tw_status tw_circuit_hold_time(const tw_circuit *circuit, double voltage, double *seconds,
                               tw_fault *fault)
{
  if (circuit->kind == TW_BOARD_CONTACT) {
    return tw_fail(fault, TW_NO_ANSWER, "circuit.kind", "nothing to change",
                   "an opening contact stays open as long as the tip is held: there is no hold "
                   "time");
  }
  if (!(voltage >= 0.0 && isfinite(voltage))) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.kind", "give the node's change at the stop",
                   "no hold time from a change of %g V", voltage);
  }
  if (circuit->rearm != TW_REARM_CLEAN) {
    return tw_fail(fault, TW_NO_ANSWER, "circuit.reference_lower",
                   "move the threshold away from the rest level",
                   "the output never comes back: rest at %.4g V, release at %.4g V", circuit->rest,
                   circuit->release);
  }
  *seconds = voltage > circuit->rearm_voltage
                 ? tw_decay_time(circuit->time_constant, voltage, circuit->rearm_voltage)
                 : 0.0;
  return TW_OK;
}

static double clamp_leakage(const tw_circuit_spec *s)
{
  return s->clamped ? s->clamp_leakage : 0.0;
}

double tw_circuit_bias_bound(const tw_circuit_spec *spec)
{
  const tw_amplifier *part = tw_board_front(spec);
  const double most =
      fmax(fabs(part->bias_current), fmax(fabs(part->bias_least), fabs(part->bias_most)));
  return tw_board_inputs(spec) * most + clamp_leakage(spec);
}

double tw_circuit_bias_spread(const tw_circuit_spec *spec)
{
  const tw_amplifier *part = tw_board_front(spec);
  const double most =
      fmax(part->bias_current - part->bias_least, part->bias_most - part->bias_current);
  return tw_board_inputs(spec) * fmax(most, 0.0) + clamp_leakage(spec);
}

tw_status tw_circuit_feeds(const tw_circuit_spec *spec, double charge_slope, double within,
                           tw_feed_bounds *out, tw_fault *fault)
{
  *out = (tw_feed_bounds){0};
  tw_circuit c;
  tw_status status = tw_circuit_solve(spec, &c, fault);
  if (status != TW_OK) {
    return status;
  }
  if (spec->kind == TW_BOARD_CONTACT) {
    return TW_OK; /* it opens at any feed: no bound */
  }
  if (!(charge_slope > 0.0 && isfinite(charge_slope))) {
    return tw_fail(fault, TW_BAD_INPUT, "disc.part", "look why the touch moves no charge",
                   "a charge slope of %g C/m gives no signal at any feed", charge_slope);
  }
  if (c.threshold_voltage <= 0.0) {
    return tw_fail(fault, TW_NO_ANSWER, "circuit.reference_lower",
                   "move the threshold to the other side of the rest level",
                   "the output is tripped at rest: no feed matters");
  }
  double u = 0.0;
  status = tw_feed_for_ratio(1.0 + within, &u, fault);
  if (status != TW_OK) {
    return status;
  }
  out->slowest = tw_feed_slowest(c.threshold_voltage, c.resistance, charge_slope);
  out->bias = tw_feed_bias(tw_circuit_bias_bound(spec), charge_slope);
  out->travel = c.threshold_charge / charge_slope;
  out->calibrate = u * out->slowest;
  return TW_OK;
}
