/* measure_circuit.c: thresholds, noise, drift, hold time, and the slowest feed as a bound. */
#include "fill.h"

#include <math.h>

static const tw_measure_id of_node[] = {TW_M_threshold_voltage, TW_M_hysteresis_voltage,
                                        TW_M_noise_rms,         TW_M_rest_drift_voltage,
                                        TW_M_output_hold_time,  TW_M_slowest_feed_static};

static void put_noise(tw_run *run)
{
  tw_circuit_noise noise;
  tw_fault why = {0};
  if (tw_circuit_noise_seen(&run->probe->board, &noise, &why) != TW_OK) {
    tw_put_fault(run->out, TW_M_noise_rms, &why);
    return;
  }
  tw_put(run->out, TW_M_noise_rms, noise.total);
  tw_put_note(run->out, TW_M_noise_rms, "between %.3g Hz and %.3g Hz%s", noise.low, noise.high,
              noise.voltage_stated ? "" : "; at least: the part's own voltage noise is not stated");
}

static void put_budget(tw_run *run)
{
  tw_circuit_budget budget;
  tw_fault why = {0};
  if (tw_circuit_budget_of(&run->probe->board, &budget, &why) != TW_OK) {
    tw_put_fault(run->out, TW_M_rest_drift_voltage, &why);
    return;
  }
  tw_put(run->out, TW_M_rest_drift_voltage, budget.drift_voltage);
  tw_put(run->out, TW_M_threshold_voltage, budget.nominal);
  tw_put_band(run->out, TW_M_threshold_voltage, budget.worst_low, budget.worst_high);
  if (run->probe->board.polarity == TW_SEES_BOTH) {
    tw_put_note(run->out, TW_M_threshold_voltage, "rising; falling %.3g mV",
                1e3 * run->probe->circuit.threshold_voltage_falling);
  }
}

/* bound of one touch: over all that it may push, as the touch in time itself takes it */
static tw_status bound_of(tw_run *run, const tw_seat_touch_result *touch, double *slowest,
                          tw_fault *fault)
{
  tw_probe_touch *way = tw_alloc(1, sizeof *way);
  tw_touch_levels levels = {0};
  tw_status status = way ? tw_probe_touch_of(run->design, run->probe, run->work, touch->azimuth,
                                             touch->elevation, way, fault)
                         : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a touch");
  status = status == TW_OK ? tw_touch_levels_of(&way->model, &levels, fault) : status;
  *slowest = levels.slowest;
  tw_free(way);
  return status;
}

/* the direction in which the charge comes slowest decides */
static tw_status put_slowest(tw_run *run, tw_fault *fault)
{
  if (run->touch[run->pole].state != TW_SEAT_TRIPPED) {
    tw_put_state(run->out, TW_M_slowest_feed_static, TW_MEASURE_NO_TRIP,
                 "the axis does not trip at any feed");
    run->out->measure[TW_M_slowest_feed_static].searched_to = run->probe->touch.search_force;
    return TW_OK;
  }
  double worst = 0;
  const size_t of[] = {run->pole, run->worst_travel, run->extreme[TW_TRAVEL_LEAST]};
  const size_t count = !run->sides_trip ? 1 : tw_softest_differs(run) ? 3 : 2;
  for (size_t i = 0; i < count; i++) {
    double slowest = 0;
    tw_fault why = {0};
    const tw_status status = bound_of(run, &run->touch[of[i]], &slowest, &why);
    if (status == TW_NO_MEMORY) {
      return tw_fail(fault, status, NULL, NULL, "%s", why.text);
    }
    if (status != TW_OK) {
      tw_put_fault(run->out, TW_M_slowest_feed_static, &why);
      return TW_OK;
    }
    worst = fmax(worst, slowest);
  }
  tw_put(run->out, TW_M_slowest_feed_static, worst);
  return TW_OK;
}

/* held 0.1 mm past the trip; the shortest over side and pole */
static void put_hold(tw_run *run)
{
  if (run->touch[run->pole].state != TW_SEAT_TRIPPED) {
    tw_put_state(run->out, TW_M_output_hold_time, TW_MEASURE_NO_TRIP, "the axis does not trip");
    run->out->measure[TW_M_output_hold_time].searched_to = run->probe->touch.search_force;
    return;
  }
  const tw_circuit *circuit = &run->probe->circuit;
  double shortest = INFINITY;
  const size_t of[] = {run->pole, run->worst_travel};
  for (size_t i = 0; i < (run->sides_trip ? 2 : 1); i++) {
    const tw_seat_touch_result *touch = &run->touch[of[i]];
    tw_seat_row row[2];
    tw_circuit_knock knock;
    tw_fault why = {0};
    double seconds = 0;
    tw_status status = tw_seat_curve(run->probe->seat, run->work, touch->azimuth, touch->elevation,
                                     &run->probe->touch, touch->pretravel + 1e-4, 2, row, &why);
    double volt = fabs(row[1].charge) * circuit->charge_gain;
    if (status == TW_OK && tw_circuit_overload(&run->probe->board, 1, &knock, &why) == TW_OK &&
        knock.limit_force > 0) {
      volt = fmin(volt, knock.limit_force * knock.volt_per_newton);
    }
    status = status == TW_OK ? tw_circuit_hold_time(circuit, volt, &seconds, &why) : status;
    if (status != TW_OK) {
      tw_put_fault(run->out, TW_M_output_hold_time, &why);
      return;
    }
    shortest = fmin(shortest, seconds);
  }
  shortest = fmax(shortest, tw_design_number_or(run->design, TW_F_output_minimum_pulse, 0));
  tw_put(run->out, TW_M_output_hold_time, shortest);
  tw_put_note(run->out, TW_M_output_hold_time,
              "held 0.1 mm past the trip; then it falls back while the tip is still pressed");
}

tw_status tw_measure_circuit_room(tw_run *run, tw_fault *fault)
{
  if (run->probe->board.kind == TW_BOARD_CONTACT) {
    for (size_t i = 0; i < sizeof of_node / sizeof of_node[0]; i++) {
      tw_put_state(run->out, of_node[i], TW_MEASURE_NOT_APPLICABLE,
                   of_node[i] == TW_M_output_hold_time
                       ? "an opening contact holds as long as the tip is held"
                       : "an opening contact has no charge to lose");
    }
    return TW_OK;
  }
  tw_put(run->out, TW_M_hysteresis_voltage, run->probe->circuit.hysteresis_voltage);
  if (tw_wants_one(run, TW_M_rest_drift_voltage) || tw_wants_one(run, TW_M_threshold_voltage)) {
    put_budget(run);
  }
  /* repeatability is made of it */
  if (tw_wants_one(run, TW_M_noise_rms) || tw_wants_one(run, TW_M_repeatability_2s)) {
    put_noise(run);
  }
  if (run->touch && tw_wants_one(run, TW_M_output_hold_time)) {
    put_hold(run);
  }
  return run->touch && tw_wants_one(run, TW_M_slowest_feed_static) ? put_slowest(run, fault)
                                                                   : TW_OK;
}
