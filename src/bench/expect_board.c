/* expect_board.c: checks with a meter on the board: currents, levels, thresholds, output, chain. */
#include "expect.h"

#include <math.h>
#include <stdio.h>

/* ---- figures of the board -----------------------------------------------------------------------
 */

#define FIGURE(name, member)                                                                       \
  static double name(const tw_circuit *c)                                                          \
  {                                                                                                \
    return c->member;                                                                              \
  }
FIGURE(tap_high, rising.tap_high)
FIGURE(tap_low, rising.tap_low)
FIGURE(bias, bias_voltage)
FIGURE(rest_node, rest_node)
FIGURE(rest, rest)
FIGURE(trip, trip)
FIGURE(release, release)
FIGURE(trip_resistance, trip_resistance)
FIGURE(release_resistance, release_resistance)

static bool is_bare(const tw_bench_work *w)
{
  return w->board.kind == TW_BOARD_CONTACT && w->board.contact_threshold > 0.0;
}

static bool has_stage(const tw_bench_work *w)
{
  return w->board.kind == TW_BOARD_GAIN || w->board.kind == TW_BOARD_CHARGE;
}

/* ---- supply
 * ---------------------------------------------------------------------------------------- */

/* what resistors and pull-ups draw alone: sheets give no least current */
static double without_parts(const tw_bench_work *w, bool tripped)
{
  tw_circuit_spec s = w->board;
  tw_output_levels o;
  s.front.supply_current = s.front.supply_current_limit = 0.0;
  s.comparator.supply_current = s.comparator.supply_current_limit = 0.0;
  if (tw_circuit_output(&s, &o, NULL) != TW_OK) {
    return 0.0;
  }
  return tripped ? o.supply_tripped : o.supply_idle;
}

static bool currents_stated(const tw_bench_work *w)
{
  return is_bare(w) || (w->board.comparator.supply_current > 0.0 &&
                        (!has_stage(w) || w->board.front.supply_current > 0.0));
}

static tw_bench_figure current(const tw_bench_work *w, bool tripped)
{
  if (!currents_stated(w)) {
    return tw_bench_unknown("the amplifier's row gives no supply current "
                            "(circuit.amplifier_current)");
  }
  const double value = tripped ? w->levels.supply_tripped : w->levels.supply_idle;
  const double busiest = fmax(w->levels.supply_tripped, w->levels.supply_idle);
  /* the parts' own limit above their typical current comes on top in either state */
  const double extra = w->levels.supply_most - busiest;
  return tw_bench_figure_of(value, without_parts(w, tripped), value + extra);
}

void tw_bench_add_supply(tw_bench_work *w)
{
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_SUPPLY_CURRENT);
  check->expect = current(w, false);
  snprintf(check->setting, sizeof check->setting, "supply at %.3g V, controller unplugged",
           w->board.supply);
  snprintf(check->note, sizeof check->note,
           "the lower end counts the resistors alone: sheets give no least current");
  check = tw_bench_add(w, TW_BENCH_SUPPLY_TRIPPED);
  check->expect = current(w, true);
  snprintf(check->setting, sizeof check->setting,
           w->board.kind == TW_BOARD_CONTACT
               ? "tip held deflected"
               : "comparator's input held past its threshold: the disc's pulse is too short");
}

/* ---- levels
 * ------------------------------------------------------------------------------------------- */

static bool rests_high(const tw_bench_work *w)
{
  return (w->board.reference.topology == TW_INVERTING) == (w->board.polarity != TW_SEES_FALLING);
}

static void add_reference(tw_bench_work *w)
{
  if (w->board.gate_rise > 0.0) {
    return; /* a gate has its thresholds inside */
  }
  const tw_reference *r = &w->board.reference;
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_REFERENCE);
  check->expect = tw_bench_range(w, rests_high(w) ? tap_high : tap_low);
  snprintf(check->setting, sizeof check->setting, "direct voltage, output %s",
           rests_high(w) ? "high" : "low");
  double source = r->resistance;
  if (r->top > 0.0) {
    const double middle = w->board.bias_kind == TW_BIAS_STRING ? w->board.string_middle : 0.0;
    source = 1.0 / (1.0 / r->top + 1.0 / (r->bottom + middle));
  }
  if (r->topology == TW_INVERTING && r->feedback > 0.0) {
    source = source / (1.0 + source / r->feedback);
  }
  tw_bench_load_volts(check, source, w->with->meter_resistance, "the meter");
}

static void add_bias(tw_bench_work *w)
{
  const tw_circuit_spec *s = &w->board;
  if (s->kind == TW_BOARD_CONTACT) {
    return;
  }
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_BIAS);
  check->expect = tw_bench_range(w, bias);
  snprintf(check->setting, sizeof check->setting, "direct voltage");
  if (s->bias_kind == TW_BIAS_DIVIDER) {
    tw_bench_load_volts(check, 1.0 / (1.0 / s->bias_top + 1.0 / s->bias_bottom),
                        w->with->meter_resistance, "the meter");
  }
}

static void add_rest(tw_bench_work *w)
{
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_REST_NODE);
  check->expect = tw_bench_range(w, rest_node);
  snprintf(check->setting, sizeof check->setting,
           "direct voltage, tip free, a minute after a touch");
  if (w->board.kind == TW_BOARD_CHARGE) {
    snprintf(check->note, sizeof check->note,
             "a virtual ground: the meter does not move it, but it moves the stage's output by "
             "%.3g V while it is on",
             w->solved.bias_voltage * w->board.charge_resistance / w->with->meter_resistance);
  } else if (w->board.kind == TW_BOARD_CONTACT) {
    const double rc = w->board.contact_resistance;
    tw_bench_load_volts(check, 1.0 / (1.0 / w->board.bias_resistance + 1.0 / fmax(rc, 1e-3)),
                        w->with->meter_resistance, "the meter");
  } else {
    tw_bench_load_volts(check, w->solved.resistance, w->with->meter_resistance, "the meter");
  }
  if (has_stage(w)) {
    check = tw_bench_add(w, TW_BENCH_REST_COMPARATOR);
    check->expect = tw_bench_range(w, rest);
    snprintf(check->setting, sizeof check->setting, "direct voltage, meter off the node");
  }
}

/* what a gate's threshold nearer to the rest level or farther from it means */
static const char gate_more[] =
    "trips early: another type of gate, or the supply is not what was taken (circuit.supply)";
static const char gate_less[] =
    "trips late: another type of gate, or the supply is not what was taken (circuit.supply)";

static void add_thresholds(tw_bench_work *w)
{
  const bool falling = w->board.polarity == TW_SEES_FALLING;
  const char *how =
      w->board.kind == TW_BOARD_CHARGE ? "stage's output lifted, voltage through 10 kohm"
      : w->board.kind == TW_BOARD_GAIN ? "voltage through 1 kohm at the node, read behind the stage"
                                       : "voltage through 1 kohm at the node";
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_THRESHOLD);
  check->expect = tw_bench_range(w, trip);
  snprintf(check->setting, sizeof check->setting, "%s, turned slowly %s until the output switches",
           how, falling ? "down" : "up");
  if (w->board.kind != TW_BOARD_CONTACT) {
    snprintf(
        check->note, sizeof check->note,
        "from rest that is %.4g V, and %.4g V at the node; if it lies on the wrong side of the "
        "rest level the unit is tripped at rest",
        fabs(w->solved.trip - w->solved.rest), w->solved.threshold_voltage);
  }
  const bool gate = w->board.gate_rise > 0.0;
  if (gate) {
    check->if_low = falling ? gate_less : gate_more;
    check->if_high = falling ? gate_more : gate_less;
  }
  check = tw_bench_add(w, TW_BENCH_RELEASE);
  check->expect = tw_bench_range(w, release);
  if (gate) {
    check->if_low = check->if_high = "another type of gate, or another supply (circuit.amplifier)";
  }
  snprintf(check->setting, sizeof check->setting, "%s, turned back until it switches again", how);
}

void tw_bench_add_levels(tw_bench_work *w)
{
  if (is_bare(w)) {
    add_rest(w);
    return;
  }
  add_reference(w);
  add_bias(w);
  add_rest(w);
  add_thresholds(w);
}

/* ---- output
 * ---------------------------------------------------------------------------------------------- */

/* the worst levels of the pin itself, nothing plugged in */
static tw_output_levels unplugged(const tw_bench_work *w)
{
  tw_circuit_spec s = w->board;
  tw_output_levels o = w->levels;
  s.output.controller_pull_up = s.output.controller_pull_down = 0.0;
  s.output.controller_leakage = 0.0;
  return tw_circuit_output(&s, &o, NULL) == TW_OK ? o : w->levels;
}

static void add_output(tw_bench_work *w, tw_bench_id id, double value, bool high)
{
  const tw_output_levels o = unplugged(w);
  tw_bench_check *check = tw_bench_add(w, id);
  check->expect =
      high ? tw_bench_figure_of(value, o.high, value) : tw_bench_figure_of(value, 0.0, o.low);
  check->word = high ? "high" : "low";
  snprintf(check->note, sizeof check->note,
           high ? "plugged in at least %.3g V; the controller needs %.3g V"
                : "plugged in at most %.3g V; the controller needs %.3g V",
           high ? w->levels.high : w->levels.low,
           high ? w->board.output.controller_high : w->board.output.controller_low);
}

void tw_bench_add_outputs(tw_bench_work *w)
{
  const tw_circuit *c = &w->solved;
  add_output(w, TW_BENCH_OUTPUT_REST, c->output_rest, !c->tripped_high);
  tw_bench_check *check = &w->card->check[w->card->count - 1];
  snprintf(check->setting, sizeof check->setting, "direct voltage, controller unplugged");
  add_output(w, TW_BENCH_OUTPUT_TRIPPED, c->output_tripped, c->tripped_high);
  check = &w->card->check[w->card->count - 1];
  snprintf(check->setting, sizeof check->setting, "%s",
           w->board.kind == TW_BOARD_CONTACT ? "tip held deflected, controller unplugged"
                                             : "catch the pulse of a push, controller unplugged");
  check = tw_bench_add(w, TW_BENCH_WIRE_BREAK);
  if (!w->levels.break_known) {
    check->expect = tw_bench_unknown("the controller's pull is not given (machine.input_pull_up)");
    return;
  }
  check->expect.known = true;
  check->word = w->levels.break_reads_high ? "high" : "low";
  snprintf(check->note, sizeof check->note, "%s",
           w->levels.break_reads_tripped
               ? "a broken wire reads as a touch: the safe way round"
               : "a broken wire reads as free: a touch will then be missed (output.active)");
}

/* ---- chain of contacts
 * -------------------------------------------------------------------------------------- */

void tw_bench_add_chain(tw_bench_work *w)
{
  const tw_circuit *c = &w->solved;
  if (w->board.kind != TW_BOARD_CONTACT) {
    return;
  }
  tw_bench_check *check = tw_bench_add(w, TW_BENCH_CHAIN_CLOSED);
  check->expect = tw_bench_figure_of(w->board.contact_resistance, 0.0, 0.1 * c->release_resistance);
  snprintf(check->setting, sizeof check->setting, "lowest range, leads subtracted, tip free");
  snprintf(check->note, sizeof check->note,
           "anything under a tenth of the releasing resistance will do; it must stay there while "
           "the tip is turned round gently");
  check = tw_bench_add(w, TW_BENCH_CHAIN_TRIP);
  check->expect = c->can_trip ? tw_bench_range(w, trip_resistance)
                              : tw_bench_unknown("no resistance reaches the threshold "
                                                 "(circuit.reference)");
  snprintf(check->setting, sizeof check->setting, "from zero up, until the output switches");
  if (!is_bare(w)) {
    check = tw_bench_add(w, TW_BENCH_CHAIN_RELEASE);
    check->expect = tw_bench_range(w, release_resistance);
    snprintf(check->setting, sizeof check->setting, "from there down, until it switches back");
  }
}
