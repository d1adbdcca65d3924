/* output.c: levels at the controller, a broken wire, supply current, and what switching does to a
 * reference that hangs on the supply. */
#include "inside.h"

#include <math.h>

/* the controller's end alone: conductance and current of its pulls and its leak */
typedef struct far_end {
  double conductance, current;
} far_end;

static far_end far_end_of(const tw_circuit_spec *s)
{
  const tw_output_spec *o = &s->output;
  far_end end = {.current = -o->controller_leakage};
  if (o->controller_pull_up > 0.0) {
    const double volts =
        o->controller_pull_up_voltage > 0.0 ? o->controller_pull_up_voltage : s->supply;
    end.conductance += 1.0 / o->controller_pull_up;
    end.current += volts / o->controller_pull_up;
  }
  if (o->controller_pull_down > 0.0) {
    end.conductance += 1.0 / o->controller_pull_down;
  }
  return end;
}

/* V at the controller for a pin behind R: (V_pin + R I)/(1 + R G), written for R = 0 as well */
static double at_controller(tw_source pin, double line, const far_end *end)
{
  const double r = pin.resistance + line;
  return (pin.voltage + r * end->current) / (1.0 + r * end->conductance);
}

static void fill_levels(const tw_circuit_spec *s, const tw_circuit *c, tw_output_levels *out)
{
  const tw_output_spec *o = &s->output;
  const far_end end = far_end_of(s);
  const tw_source low = tw_board_pin(s, c, 0, true), high = tw_board_pin(s, c, 1, true);
  /* the board's own current lifts its 0 V above the controller's */
  const double lift = o->return_resistance * fmax(out->supply_idle, out->supply_tripped);
  const tw_source lifted = {.voltage = low.voltage + lift, .resistance = low.resistance};
  out->low = at_controller(lifted, o->line_resistance, &end);
  out->high = at_controller(high, o->line_resistance, &end);
  out->low_margin = o->controller_low - out->low;
  out->high_margin = out->high - o->controller_high;
  /* what flows in from the controller, and through the board's own pull-up */
  const double from_line = end.current - out->low * end.conductance;
  const bool collector = o->stage ? o->stage_open_collector : s->comparator.open_collector;
  const double pull = collector ? (tw_board_pull_up_voltage(s) - low.voltage) / o->pull_up : 0.0;
  out->sink_current = fmax(0.0, from_line) + pull;
  out->sink_within = o->stage || s->comparator.output_current <= 0.0 ||
                     out->sink_current <= s->comparator.output_current;
  const double r = high.resistance + o->line_resistance;
  const double seen = r / (1.0 + r * end.conductance);
  if (out->high_margin > 0.0 && out->low < o->controller_high) {
    out->rise_time =
        seen * o->line_capacitance * log((out->high - out->low) / (out->high - o->controller_high));
  }
}

static void fill_break(const tw_circuit_spec *s, const tw_circuit *c, tw_output_levels *out)
{
  const tw_output_spec *o = &s->output;
  const far_end end = far_end_of(s);
  if (!(end.conductance > 0.0)) {
    return; /* an input that nothing pulls reads whatever it likes */
  }
  const double volts = end.current / end.conductance;
  out->break_reads_high = volts >= o->controller_high;
  out->break_known = out->break_reads_high || volts <= o->controller_low;
  out->break_reads_tripped = out->break_known && out->break_reads_high == c->tripped_high;
}

/* A through a divider between supply and ground */
static double divider_current(double supply, double sum)
{
  return sum > 0.0 ? supply / sum : 0.0;
}

static double standing_current(const tw_circuit_spec *s, bool limit)
{
  const bool two = s->kind == TW_BOARD_GAIN || s->kind == TW_BOARD_CHARGE;
  const bool bare = tw_board_is_bare_contact(s);
  const int comparators = bare ? 0 : s->polarity == TW_SEES_BOTH ? 2 : 1;
  const tw_amplifier *parts[] = {&s->comparator, &s->front};
  const int count[] = {comparators, two ? 1 : 0};
  double sum = 0.0;
  for (int i = 0; i < 2; i++) {
    const double most = fmax(parts[i]->supply_current, parts[i]->supply_current_limit);
    sum += count[i] * (limit ? most : parts[i]->supply_current);
  }
  if (!bare && s->reference.top > 0.0) {
    const double middle = s->bias_kind == TW_BIAS_STRING ? s->string_middle : 0.0;
    sum += divider_current(s->supply, s->reference.top + s->reference.bottom + middle);
  }
  if (s->polarity == TW_SEES_BOTH && s->reference_falling.top > 0.0) {
    sum += divider_current(s->supply, s->reference_falling.top + s->reference_falling.bottom);
  }
  if (s->bias_kind == TW_BIAS_DIVIDER) {
    sum += divider_current(s->supply, s->bias_top + s->bias_bottom);
  }
  return sum;
}

/* A that the pull-ups draw with the line low (0) or high (1) */
static double pulled_current(const tw_circuit_spec *s, int high)
{
  const tw_output_spec *o = &s->output;
  const bool own = s->comparator.open_collector && !tw_board_is_bare_contact(s);
  double sum = 0.0;
  if (o->stage && o->stage_open_collector && !high) {
    sum += (tw_board_pull_up_voltage(s) - o->stage_low) / o->pull_up;
  }
  const bool comparator_low = (high != 0) == o->invert;
  if (own && comparator_low) {
    sum += (tw_board_pull_up_voltage(s) - s->comparator.low_drop) / o->pull_up;
  }
  return sum;
}

static void fill_currents(const tw_circuit_spec *s, const tw_circuit *c, tw_output_levels *out)
{
  const int tripped = c->tripped_high ? 1 : 0;
  const double closed = s->kind == TW_BOARD_CONTACT ? c->contact_closed_current : 0.0;
  const double idle = pulled_current(s, !tripped) + closed;
  const double busy = pulled_current(s, tripped) + s->output.indicator_current;
  out->supply_idle = standing_current(s, false) + idle;
  out->supply_tripped = standing_current(s, false) + busy;
  out->supply_most = standing_current(s, true) + fmax(idle, busy);
}

/* more current drops the supply pin, and the reference with it */
static void fill_shift(const tw_circuit_spec *s, const tw_circuit *c, tw_output_levels *out)
{
  const double drop = (out->supply_tripped - out->supply_idle) * s->output.supply_source_resistance;
  const double sense = s->polarity == TW_SEES_FALLING ? -1.0 : 1.0;
  out->threshold_shift = -c->supply_sensitivity * drop;
  /* a release that moves away from the signal widens the band, one that follows it narrows it */
  out->hysteresis_left = fabs(c->trip - c->release) - sense * out->threshold_shift;
}

tw_status tw_circuit_output(const tw_circuit_spec *spec, tw_output_levels *out, tw_fault *fault)
{
  *out = (tw_output_levels){0};
  tw_circuit c;
  tw_status status = tw_circuit_solve(spec, &c, fault);
  if (status != TW_OK) {
    return status;
  }
  if (spec->output.stage && spec->output.stage_open_collector && !(spec->output.pull_up > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "output.pull_up", "fit a pull-up, 4k7 for example",
                   "an open collector without pull-up never goes high");
  }
  if (!(spec->output.controller_high > spec->output.controller_low)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.input_high", "give the higher level there",
                   "the controller reads high from %g V and low up to %g V",
                   spec->output.controller_high, spec->output.controller_low);
  }
  fill_currents(spec, &c, out);
  fill_levels(spec, &c, out);
  fill_break(spec, &c, out);
  fill_shift(spec, &c, out);
  const double must[] = {out->low,       out->high,        out->sink_current,
                         out->rise_time, out->supply_most, out->hysteresis_left};
  for (size_t i = 0; i < sizeof must / sizeof must[0]; i++) {
    if (!isfinite(must[i])) {
      *out = (tw_output_levels){0};
      return tw_fail(fault, TW_NO_ANSWER, "output.kind",
                     "check for a value that is far too large or too small",
                     "the output's levels are no numbers");
    }
  }
  return TW_OK;
}

/* ---- everything a user should be told -----------------------------------------------------------
 */

static void warn_knock(const tw_circuit_spec *s, const tw_circuit *c, double force, bool *flags)
{
  tw_circuit_knock knock;
  if (tw_circuit_overload(s, force, &knock, NULL) != TW_OK) {
    return;
  }
  const bool beyond =
      c->rest_node + knock.open_voltage > s->supply || c->rest_node - knock.open_voltage < 0.0;
  flags[TW_FLAG_UNCLAMPED] = s->kind != TW_BOARD_CHARGE && !s->clamped && beyond;
  flags[TW_FLAG_CLAMP_CURRENT] =
      knock.limited && s->clamped && s->kind != TW_BOARD_CHARGE &&
      (!knock.clamp_current_known ||
       (s->clamp_current > 0.0 && knock.clamp_current > s->clamp_current));
}

tw_status tw_circuit_warn(const tw_circuit_spec *spec, double knock, bool flags[TW_FLAG_COUNT],
                          tw_fault *fault)
{
  tw_circuit c;
  tw_circuit_budget budget;
  tw_output_levels levels;
  tw_circuit_noise noise;
  tw_status status = tw_circuit_solve(spec, &c, fault);
  if (status == TW_OK) {
    status = tw_circuit_budget_of(spec, &budget, fault);
  }
  if (status == TW_OK) {
    status = tw_circuit_output(spec, &levels, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  for (int i = 0; i < TW_FLAG_COUNT; i++) {
    flags[i] = c.flags[i];
  }
  const bool bare = tw_board_is_bare_contact(spec);
  flags[TW_FLAG_BUDGET] = budget.worst_low <= 0.0 || budget.rearm_low <= 0.0;
  /* a shift that narrows the band chatters, one that pushes the release past rest locks */
  const double sense = spec->polarity == TW_SEES_FALLING ? -1.0 : 1.0;
  const bool locks =
      c.rearm == TW_REARM_CLEAN && c.rearm_voltage * c.gain + sense * levels.threshold_shift <= 0.0;
  flags[TW_FLAG_SHIFT] = !bare && (levels.hysteresis_left <= 0.0 || locks);
  if (!bare && tw_circuit_noise_seen(spec, &noise, NULL) == TW_OK) {
    flags[TW_FLAG_LITTLE_HYSTERESIS] = 6.0 * noise.total > c.hysteresis_voltage;
  }
  if (knock > 0.0) {
    warn_knock(spec, &c, knock, flags);
  }
  return TW_OK;
}
