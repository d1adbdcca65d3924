/* warn.c: what a user should be told in plain words, each with the field to change. */
#include "hold.h"

#include <math.h>
#include <string.h>

static double um(double metres)
{
  return 1e6 * metres;
}

static double mm(double metres)
{
  return 1e3 * metres;
}

static bool is_ok(const tw_run *run, tw_measure_id id)
{
  return run->out->measure[id].state == TW_MEASURE_OK;
}

static double value(const tw_run *run, tw_measure_id id)
{
  return run->out->measure[id].value;
}

static void warn_support(const tw_run *run)
{
  const tw_disc_spec *disc = &run->probe->disc_spec;
  if (!run->probe->has_disc) {
    return;
  }
  if (disc->support == TW_DISC_LEDGE && disc->ledge_radius < disc->ceramic_radius) {
    tw_warn(run->out, "support.ledge_radius",
            "The ledge (%.2f mm) lies inside the ceramic (%.2f mm): only the part within the "
            "ledge bends; move the ledge outside the ceramic.",
            mm(disc->ledge_radius), mm(disc->ceramic_radius));
  }
  if (disc->support == TW_DISC_FLAT || disc->support == TW_DISC_FOUNDATION) {
    tw_warn(run->out, "support.kind",
            "The disc lies on its whole face and can hardly bend: it loses most of its signal. "
            "Carry it at its rim over a void.");
  }
}

static void warn_void(const tw_run *run)
{
  const tw_seat_rest *rest = &run->probe->rest;
  if (rest->backed && rest->charge_gain == rest->charge_gain_free) {
    tw_warn(run->out, "support.void_depth",
            "The void under the disc is used up at rest: the preload of %.2f N has pressed the "
            "disc onto its backing, and a push gives less charge than is computed here. Make the "
            "void deeper or the preload smaller.",
            rest->preload);
  } else if (rest->backed && rest->charge_gain != 0) {
    tw_warn(run->out, "support.void_depth",
            "The void under the disc is used up at rest: the preload of %.2f N has pressed the "
            "disc onto its backing, and a push now gives %.0f times less charge than with room "
            "to bend. Make the void deeper or the preload smaller.",
            rest->preload, fabs(rest->charge_gain_free / rest->charge_gain));
  } else if (is_ok(run, TW_M_void_clearance_at_trip) &&
             value(run, TW_M_void_clearance_at_trip) <= 0) {
    tw_warn(run->out, "support.void_depth",
            "The void under the disc (%.1f um left at rest) is used up before the trip.",
            um(rest->clearance));
  }
}

static void warn_seating(const tw_run *run)
{
  const tw_probe *probe = run->probe;
  if (probe->seat_spec.kind == TW_SEATED_PIVOT && probe->rest.regime == TW_SEAT_LOCKED) {
    tw_warn(run->out, "seat.friction_flat",
            "Friction holds the carrier wherever it is left (friction moment %.2f times what the "
            "preload can turn back): larger flat, smaller ball, flat in the plane of the ball's "
            "centre, or less friction.",
            probe->rest.regime_ratio / 2);
  } else if (probe->seat_spec.kind == TW_SEATED_PIVOT && probe->rest.regime == TW_SEAT_PARTIAL) {
    tw_warn(run->out, "seat.friction_flat",
            "The carrier does not come back to full contact (friction moment %.2f of what would "
            "still return): the tip stays up to %.0f um off until it is shaken.",
            probe->rest.regime_ratio, um(value(run, TW_M_return_offset)));
  } else if (probe->seat_spec.kind == TW_SEATED_PIVOT && is_ok(run, TW_M_return_offset) &&
             tw_probe_regime(probe, run->touches, run->touch) != TW_SEAT_FULL) {
    tw_warn(run->out, "seat.friction_flat",
            "After a touch the carrier does not come back to full contact, although the friction "
            "moment at rest would let it (%.2f of what would still return): the tip stays up to "
            "%.0f um off until it is shaken.",
            probe->rest.regime_ratio, um(value(run, TW_M_return_offset)));
  }
  if (probe->seat_spec.points > 12 && probe->rest.open > 0) {
    tw_warn(run->out, "seat.flatness",
            "At rest %zu of %zu points of the ring are open: the flatness is more than the "
            "preload can close, and the seat acts like a few points.",
            probe->rest.open, probe->rest.contacts);
  }
}

static void warn_circuit(const tw_run *run)
{
  bool flag[TW_FLAG_COUNT] = {false};
  tw_fault why = {0};
  if (run->probe->board.kind != TW_BOARD_CONTACT && run->probe->sign_assumed) {
    tw_warn(run->out, "disc.poling",
            "The circuit sees one sign of the signal only and the disc's poling is not known: push "
            "the tip once and note the sign, then wire the disc that way round.");
  }
  const double knock = run->probe->board.kind == TW_BOARD_CONTACT ? 0 : 5;
  if (tw_circuit_warn(&run->probe->board, knock, flag, &why) != TW_OK) {
    return;
  }
  for (int i = 0; i < TW_FLAG_COUNT; i++) {
    if (flag[i] && i != TW_FLAG_ONE_POLARITY) {
      tw_warn(run->out, tw_circuit_flag_field((tw_circuit_flag)i), "Circuit: %s.",
              tw_circuit_flag_text((tw_circuit_flag)i));
    }
  }
}

/* the value that carries most of an uncertain threshold, as the field to change */
static const char *field_of_cause(const tw_run *run, tw_circuit_cause cause)
{
  const bool charge = run->probe->board.kind == TW_BOARD_CHARGE;
  switch (cause) {
  case TW_CIRCUIT_CAUSE_BIAS:
  case TW_CIRCUIT_CAUSE_DRIFT:
    return charge ? "circuit.charge_resistance" : "circuit.bias_resistance";
  case TW_CIRCUIT_CAUSE_LEAKAGE:
    return "circuit.clamp_leakage";
  default:
    return "circuit.reference";
  }
}

/* builds that never trip, or are tripped before anything touches them, though the nominal one works
 */
static void warn_corner(const tw_run *run)
{
  tw_circuit_budget budget;
  const double supply = tw_design_number_or(run->design, TW_F_circuit_supply, INFINITY);
  if (tw_circuit_budget_of(&run->probe->board, &budget, NULL) != TW_OK ||
      (budget.worst_low > 0 && budget.worst_high < supply)) {
    return;
  }
  const bool deaf = budget.worst_high >= supply;
  tw_circuit_cause most = 0;
  for (int i = 1; i < TW_CIRCUIT_CAUSE_COUNT; i++) {
    const double *side = deaf ? budget.up : budget.down;
    most = side[i] > side[most] ? (tw_circuit_cause)i : most;
  }
  if (deaf) {
    tw_warn(run->out, field_of_cause(run, most),
            "Some boards never trip: with every value at its bound the threshold lies %.3g V from "
            "rest, at a supply of %.3g V. Most of it comes from the %s.",
            budget.worst_high, supply, tw_circuit_cause_text(most));
  } else {
    tw_warn(run->out, field_of_cause(run, most),
            "Some boards are tripped at rest: with every value at its bound the rest level lies "
            "%.3g V past the threshold. Most of it comes from the %s.",
            -budget.worst_low, tw_circuit_cause_text(most));
  }
}

static void warn_budget(const tw_run *run)
{
  if (run->probe->board.kind == TW_BOARD_CONTACT) {
    return;
  }
  warn_corner(run);
  const double threshold = run->probe->circuit.threshold_voltage;
  if (is_ok(run, TW_M_rest_drift_voltage) &&
      fabs(value(run, TW_M_rest_drift_voltage)) > 0.3 * threshold) {
    tw_warn(run->out, "circuit.bias_resistance",
            "Slow drift moves the node by %.1f mV, %.0f %% of the threshold: a smaller bias "
            "resistor leads it away.",
            1e3 * fabs(value(run, TW_M_rest_drift_voltage)),
            100 * fabs(value(run, TW_M_rest_drift_voltage)) / threshold);
  }
  const double feed = tw_design_number_or(run->design, TW_F_machine_feed, 0);
  if (is_ok(run, TW_M_slowest_feed_static) && feed > 0 &&
      value(run, TW_M_slowest_feed_static) > feed) {
    tw_warn(run->out, "circuit.bias_resistance",
            "At the search feed of %.0f mm/min the charge leaks away as fast as it comes: the "
            "slowest feed is %.0f mm/min. A larger bias resistor holds it longer.",
            feed * 6e4, value(run, TW_M_slowest_feed_static) * 6e4);
  }
}

/* a probe that reads free while it is pressed */
static void warn_dwell(const tw_run *run)
{
  const double dwell = tw_design_number_or(run->design, TW_F_machine_dwell, 0);
  if (is_ok(run, TW_M_output_hold_time) && dwell > value(run, TW_M_output_hold_time)) {
    tw_warn(run->out, "machine.dwell",
            "The machine rests %.3g ms on the work, but the output falls back after %.3g ms: it "
            "reads free while the tip is still pressed. Rest shorter, or lengthen the pulse "
            "(output.minimum_pulse).",
            1e3 * dwell, 1e3 * value(run, TW_M_output_hold_time));
  }
}

static void warn_stress(const tw_run *run)
{
  if (tw_design_choice(run->design, TW_F_holddown_kind) == TW_HOLDDOWN_NONE &&
      is_ok(run, TW_M_first_to_fail) &&
      strcmp(run->out->measure[TW_M_first_to_fail].word, "nothing") != 0) {
    tw_warn(run->out, "holddown.kind",
            "The holder is fixed in the housing, so nothing gives way in a crash: the %s fails "
            "first (%s). A holder on a spring or on foam gives way before it: holddown: {kind: "
            "spring, force: 8 N, spring_rate: 2 N/mm, tipping_radius: 15 mm, height: 60 mm}, with "
            "your own figures.",
            run->out->measure[TW_M_first_to_fail].word, run->out->measure[TW_M_first_to_fail].note);
    return;
  }
  if (is_ok(run, TW_M_stem_stress_ratio) && value(run, TW_M_stem_stress_ratio) > 0.7) {
    tw_warn(
        run->out, "stylus.stem_diameter",
        "In a crash the stem reaches %.0f %% of its strength: use a thicker stem, or a stop that "
        "takes the load earlier.",
        100 * value(run, TW_M_stem_stress_ratio));
  }
  if (is_ok(run, TW_M_ceramic_stress_ratio) && value(run, TW_M_ceramic_stress_ratio) > 0.7) {
    tw_warn(run->out, "support.void_depth",
            "In a crash the ceramic reaches %.0f %% of its allowable tension: a backing under the "
            "disc, or a hold-down that gives way earlier, protects it.",
            100 * value(run, TW_M_ceramic_stress_ratio));
  }
}

/* a feed that the design itself uses and that leaves no way to stop */
static void warn_feed(const tw_run *run, tw_field field, const char *name)
{
  const double feed = tw_design_number_or(run->design, field, 0);
  const double fastest = value(run, TW_M_fastest_feed);
  if (is_ok(run, TW_M_fastest_feed) && feed > fastest) {
    tw_warn(run->out, tw_field_of(field)->path,
            "The %s of %.0f mm/min is above the fastest feed of %.0f mm/min: %s.", name, feed * 6e4,
            fastest * 6e4, run->out->measure[TW_M_fastest_feed].note);
  }
}

static void warn_holder(const tw_run *run)
{
  if (tw_design_choice(run->design, TW_F_holddown_kind) != TW_HOLDDOWN_NONE) {
    tw_hold hold;
    const double mass = tw_design_number(run->design, TW_F_holddown_mass);
    const double inertia = mass * tw_design_number(run->design, TW_F_machine_acceleration);
    if (tw_hold_of(run->design, false, &hold, NULL) == TW_OK && inertia > 0.5 * hold.home) {
      tw_warn(run->out, "holddown.kind",
              "The machine's own acceleration pulls at the holder with %.2f N, against %.2f N of "
              "hold-down: it may lift on a rapid move.",
              inertia, hold.home);
    }
  }
  if (tw_design_choice(run->design, TW_F_link_screened) == TW_NO_YES_NO &&
      tw_design_number(run->design, TW_F_link_motion_charge) > 0) {
    tw_warn(run->out, "link.screened",
            "The disc's own signal leaves the housing on a cable without a screen: it will pick up "
            "mains and motion.");
  }
}

static void warn_tilt(const tw_run *run)
{
  for (size_t i = 0; i < run->touches; i++) {
    if (run->touch[i].large_rotation && run->touch[i].state == TW_SEAT_TRIPPED) {
      tw_warn(run->out, "stylus.reach",
              "The carrier turns further than 2 deg on the way to the trip: the figures for such "
              "directions are rough.");
      return;
    }
  }
}

void tw_warn_all(const tw_run *run)
{
  warn_support(run);
  if (run->probe->seat) {
    warn_void(run);
    warn_seating(run);
    warn_tilt(run);
  }
  warn_circuit(run);
  tw_warn_sign(run);
  warn_budget(run);
  warn_dwell(run);
  warn_stress(run);
  warn_feed(run, TW_F_machine_feed, "search feed");
  warn_feed(run, TW_F_machine_approach_feed, "approach feed");
  warn_holder(run);
}
