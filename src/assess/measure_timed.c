/* measure_timed.c: touches in time along the worst side and the axis: feeds, delay, overtravel,
 * repeatability, readiness; and what the machine's own moves do to the node. */
#include "timed.h"
#include "tripwright/parallel.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static double number(const tw_timed *t, tw_field field, double otherwise)
{
  return tw_design_number_or(t->run->design, field, otherwise);
}

/* ---- feeds ----------------------------------------------------------------------------------- */

static tw_status put_delay(tw_timed *t, tw_touch_work *work, tw_fault *fault)
{
  const tw_probe_touch *way = t->way[TW_TIMED_SIDE];
  tw_window_row row[TW_PROBE_FEEDS];
  const size_t count = tw_probe_feeds(t->run->design, row);
  tw_status status = tw_touch_feeds(&way->model, &t->motion[TW_TIMED_SIDE], t->link.latency_jitter,
                                    work, row, count, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_apparent_delay delay;
  tw_fault why = {0};
  if (tw_probe_delay(t->run->design, way, row, count, &delay, &why) != TW_OK) {
    tw_put_fault(t->run->out, TW_M_apparent_delay, &why);
    return TW_OK;
  }
  tw_put(t->run->out, TW_M_apparent_delay, delay.seconds);
  tw_put_note(t->run->out, TW_M_apparent_delay, "over %zu feeds from %.0f to %.0f mm/min",
              delay.rows, delay.from * 6e4, delay.to * 6e4);
  return TW_OK;
}

/* ---- the touch that counts ------------------------------------------------------------------- */

/* a touch in time that nobody saw trip */
static void put_untripped(tw_timed *t, tw_measure_id id, tw_touch_state state, double feed)
{
  const tw_measure_state as = tw_probe_timed_state(state);
  tw_put_state(t->run->out, id, as, "%s at %.0f mm/min",
               state == TW_TOUCH_NOT_SAMPLED ? "the pulse is over before the controller looks"
                                             : tw_measure_state_words(as),
               feed * 6e4);
}

static tw_status put_overtravel(tw_timed *t, int w, tw_measure_id id, tw_touch_work *work,
                                tw_fault *fault)
{
  tw_window_row row = {.feed = t->approach};
  const tw_status status = tw_touch_feeds(&t->way[w]->model, &t->motion[w], t->link.latency_jitter,
                                          work, &row, 1, fault);
  if (status == TW_OK && row.state == TW_TOUCH_OK) {
    tw_put(t->run->out, id, row.overtravel);
    tw_put_note(t->run->out, id, "at %.0f mm/min, worst sample", t->approach * 6e4);
  } else if (status == TW_OK) {
    put_untripped(t, id, row.state, t->approach);
  }
  return status;
}

/* where the controller has the touch that counts */
static tw_status latch(tw_timed *t, tw_touch_work *work, tw_fault *fault)
{
  tw_window_row row = {.feed = t->feed};
  const tw_status status = tw_touch_feeds(&t->way[TW_TIMED_SIDE]->model, &t->motion[TW_TIMED_SIDE],
                                          t->link.latency_jitter, work, &row, 1, fault);
  t->run->latched = row.latched;
  return status;
}

/* held at the stop until the output falls back by itself */
static tw_status put_hold(tw_timed *t, tw_touch_work *work, tw_fault *fault)
{
  tw_touch_motion motion = t->motion[TW_TIMED_SIDE];
  tw_touch_result result;
  motion.until = TW_UNTIL_READY;
  motion.dwell = 8 * t->run->probe->circuit.time_constant + 0.05 +
                 t->way[TW_TIMED_SIDE]->model.output.minimum_pulse;
  const tw_status status =
      tw_touch_run(&t->way[TW_TIMED_SIDE]->model, &motion, work, NULL, &result, fault);
  if (status == TW_OK && result.ended) {
    tw_put(t->run->out, TW_M_output_hold_time, result.output_hold_time);
    tw_put_note(t->run->out, TW_M_output_hold_time,
                result.ended_pressed
                    ? "held at the stop after a touch at %.0f mm/min; then it falls back while the "
                      "tip is still pressed"
                    : "held at the stop after a touch at %.0f mm/min; it falls back as the tip "
                      "withdraws",
                t->feed * 6e4);
  }
  return status;
}

static void put_not_ready(tw_timed *t, const tw_touch_result *result, const tw_touch_motion *motion)
{
  char why[120];
  if (result->first.overtravel > motion->retract_distance) {
    snprintf(why, sizeof why,
             "the tip is pressed in by %.3g mm, a retract of %.3g mm leaves it pressed",
             1e3 * result->first.overtravel, 1e3 * motion->retract_distance);
  } else {
    snprintf(why, sizeof why, "%s %.3g s after the retract",
             result->ended ? "the signal has not settled" : "the output is still active",
             motion->settle_limit);
  }
  tw_put_state(t->run->out, TW_M_ready_time, TW_MEASURE_NO_REARM, "%s", why);
}

static tw_status put_cycle(tw_timed *t, tw_touch_work *work, tw_fault *fault)
{
  tw_touch_motion motion = t->motion[TW_TIMED_SIDE];
  tw_touch_result result;
  tw_assessment *out = t->run->out;
  /* the travel is known at the edge, chatter and readiness only when the tip is free again */
  static const tw_measure_id later[] = {TW_M_chatter, TW_M_ready_time};
  motion.until = tw_wants(t->run, later, 2) ? TW_UNTIL_READY : TW_UNTIL_EDGE;
  const tw_status status =
      tw_touch_run(&t->way[TW_TIMED_SIDE]->model, &motion, work, NULL, &result, fault);
  if (status != TW_OK) {
    return status;
  }
  if (result.first.state != TW_TOUCH_OK) {
    put_untripped(t, TW_M_pretravel_at_feed, result.first.state, t->feed);
    put_untripped(t, TW_M_chatter, result.first.state, t->feed);
    put_untripped(t, TW_M_ready_time, result.first.state, t->feed);
    return TW_OK;
  }
  tw_put(out, TW_M_pretravel_at_feed, result.first.pretravel);
  tw_put_note(out, TW_M_pretravel_at_feed, "at %.0f mm/min, sideways", t->feed * 6e4);
  tw_put(out, TW_M_chatter, result.first.chatter);
  if (result.ready) {
    tw_put(out, TW_M_ready_time, result.ready_time);
  } else {
    put_not_ready(t, &result, &motion);
  }
  return TW_OK;
}

static tw_status put_hold_of_touch(tw_timed *t, tw_touch_work *work, tw_fault *fault)
{
  const bool tripped = t->run->out->measure[TW_M_pretravel_at_feed].state == TW_MEASURE_OK;
  return t->run->probe->board.kind == TW_BOARD_CONTACT || !tripped ? TW_OK
                                                                   : put_hold(t, work, fault);
}

static tw_status put_repeat(tw_timed *t, tw_touch_work *work, tw_fault *fault)
{
  const tw_measure *noise = &t->run->out->measure[TW_M_noise_rms];
  const tw_repeat_ask ask = {.noise = noise->state == TW_MEASURE_OK ? noise->value : 0,
                             .jitter = t->link.latency_jitter,
                             .resolution = number(t, TW_F_machine_resolution, 0)};
  tw_repeat repeat;
  tw_fault why = {0};
  const tw_status status = tw_touch_repeat(&t->way[TW_TIMED_SIDE]->model, &t->motion[TW_TIMED_SIDE],
                                           &ask, work, &repeat, &why);
  if (status == TW_NO_ANSWER) {
    tw_put_fault(t->run->out, TW_M_repeatability_2s, &why);
    return TW_OK;
  }
  if (status != TW_OK) {
    *fault = why;
    return status;
  }
  tw_put(t->run->out, TW_M_repeatability_2s, repeat.two_s);
  /* trips anywhere between the two, evenly: s = width/sqrt(12) */
  tw_put_band(t->run->out, TW_M_repeatability_2s, repeat.two_s,
              hypot(repeat.two_s, 2 * t->history / sqrt(12)));
  tw_put_note(
      t->run->out, TW_M_repeatability_2s,
      "2s = 2 sqrt(sum s_i^2), sideways at %.0f mm/min, of circuit, link and machine; where "
      "touches follow each other alike the seat adds nothing, shaken home between them it "
      "moves the trip by %.2f um",
      t->feed * 6e4, 1e6 * t->history);
  for (int i = 0; i < TW_REPEAT_COUNT; i++) {
    /* shares of variance, so that the parts add up to the figure */
    const double share = repeat.total > 0 ? repeat.s[i] * repeat.s[i] / repeat.total : 0;
    if (share > 0) {
      tw_put_part(t->run->out, TW_M_repeatability_2s, tw_repeat_text((tw_repeat_cause)i),
                  2 * share);
    }
  }
  return TW_OK;
}

/* ---- false trips ----------------------------------------------------------------------------- */

/* moments at which touches along X and Y tripped, the smaller way of each; false when the azimuths
 * do not hold the four directions */
static bool dead_moments(const tw_run *run, double dead[2])
{
  if (run->sides % 4 != 0) {
    return false;
  }
  for (size_t axis = 0; axis < 2; axis++) {
    const tw_seat_touch_result *one = &run->touch[axis * run->sides / 4],
                               *other = &run->touch[axis * run->sides / 4 + run->sides / 2];
    dead[axis] = INFINITY;
    dead[axis] = one->state == TW_SEAT_TRIPPED ? one->force : dead[axis];
    dead[axis] = other->state == TW_SEAT_TRIPPED ? fmin(dead[axis], other->force) : dead[axis];
    dead[axis] = isfinite(dead[axis]) ? dead[axis] * run->probe->seat_spec.reach : 0;
  }
  return true;
}

/* the margin is against the machine's own moves: what else may shake the probe */
static const char *shaken_by(const tw_design *design)
{
  const bool shaking = tw_design_number_or(design, TW_F_environment_vibration, 0) > 0 ||
                       tw_design_number_or(design, TW_F_environment_shock, 0) > 0 ||
                       tw_design_has(design, TW_F_environment_spectrum);
  return shaking
             ? "the machine's own moves; touch --false-trips holds it against the stated shaking"
             : "the machine's own moves; no vibration or shock is stated (environment)";
}

static tw_status put_false_trips(tw_run *run, tw_fault *fault)
{
  static const tw_measure_id id[3] = {TW_M_false_trip_margin_x, TW_M_false_trip_margin_y,
                                      TW_M_false_trip_margin_z};
  tw_shaken shaken[3];
  tw_fault why = {0};
  double dead[2];
  const tw_status status = tw_probe_shake_move(run->design, run->probe, run->work,
                                               dead_moments(run, dead) ? dead : NULL, shaken, &why);
  if (status != TW_OK && status != TW_NO_ANSWER && status != TW_BAD_INPUT) {
    *fault = why;
    return status;
  }
  for (int i = 0; i < 3; i++) {
    if (status != TW_OK) {
      tw_put_fault(run->out, id[i], &why);
      continue;
    }
    tw_put(run->out, id[i], shaken[i].margin);
    tw_put_note(run->out, id[i], "%s", shaken_by(run->design));
    if (shaken[i].margin >= TW_SHAKE_MARGIN_MOST) {
      tw_put_state(run->out, id[i], TW_MEASURE_NOT_APPLICABLE,
                   "no signal: the dead zone takes it all, no contact opens");
      run->out->measure[id[i]].endless = true;
    }
  }
  return TW_OK;
}

/* ---- link ------------------------------------------------------------------------------------ */

static void put_link(tw_timed *t)
{
  tw_put(t->run->out, TW_M_link_position_error, t->feed * t->link.latency_jitter);
  tw_put_note(t->run->out, TW_M_link_position_error,
              "full width at %.0f mm/min; the constant delay is calibrated out at that feed",
              t->feed * 6e4);
  if (t->link.battery_life > 0) {
    tw_put(t->run->out, TW_M_battery_life, t->link.battery_life);
  } else {
    tw_put_state(t->run->out, TW_M_battery_life, TW_MEASURE_NOT_APPLICABLE, "no battery");
  }
}

static tw_status read_link(tw_timed *t, tw_fault *fault)
{
  tw_link_spec spec;
  tw_output_levels levels;
  tw_status status = tw_link_from_design(t->run->design, &spec, fault);
  status = status == TW_OK ? tw_circuit_output(&t->run->probe->board, &levels, fault) : status;
  return status == TW_OK
             ? tw_link_of(&spec, &t->run->probe->board, levels.supply_idle, &t->link, fault)
             : status;
}

tw_status tw_measure_link(tw_run *run, tw_fault *fault)
{
  tw_timed t = {.run = run, .feed = tw_design_number(run->design, TW_F_machine_feed)};
  const tw_status status = read_link(&t, fault);
  if (status == TW_OK) {
    put_link(&t);
  }
  return status;
}

/* ---- whole ----------------------------------------------------------------------------------- */

static const tw_seat_touch_result *touch_of(const tw_run *run, int w)
{
  return &run->touch[w == TW_TIMED_SIDE   ? run->worst_travel
                     : w == TW_TIMED_AXIS ? run->pole
                                          : run->extreme[TW_TRAVEL_LEAST]];
}

/* the axis is only looked at by the window and by the overtravel there, the softest side by the
 * window, where it is another than the hardest */
static bool looks_at(const tw_timed *t, int w)
{
  const tw_run *run = t->run;
  if (w == TW_TIMED_AXIS) {
    return run->touch[run->pole].state == TW_SEAT_TRIPPED &&
           (tw_timed_wants_window(t) || tw_wants_one(run, TW_M_overtravel_axial));
  }
  return run->sides_trip &&
         (w == TW_TIMED_SIDE || (tw_timed_wants_window(t) && tw_softest_differs(run)));
}

/* the tables of both ways, each on its own thread */
static tw_status table_of(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  tw_timed *t = self;
  const tw_run *run = t->run;
  tw_status status = TW_OK;
  for (size_t w = first; w < first + count && status == TW_OK; w++) {
    const tw_seat_touch_result *touch = touch_of(run, (int)w);
    if (t->way[w]) {
      status = tw_probe_touch_of(run->design, run->probe, run->works[worker], touch->azimuth,
                                 touch->elevation, t->way[w], fault);
      tw_probe_search(run->probe, t->way[w], &t->motion[w]);
    }
  }
  return status;
}

/* Friction has a memory: a seat shaken home trips elsewhere than one that was touched before. The
 * model has no other scatter of the seat: touches that follow each other alike trip alike. */
static tw_status find_history(tw_timed *t, tw_fault *fault)
{
  const tw_run *run = t->run;
  const tw_seat_touch_result *later = &run->touch[run->worst_travel];
  tw_seat_options first = run->probe->touch;
  first.prior_touches = 0;
  tw_seat_touch_result touch;
  tw_fault why = {0};
  const tw_status status = tw_seat_touch(run->probe->seat, run->work, later->azimuth,
                                         later->elevation, &first, &touch, &why);
  if (status == TW_OK && touch.state == TW_SEAT_TRIPPED) {
    t->history = fabs(touch.coordinate - later->coordinate);
  } else if (status != TW_OK && status != TW_NO_ANSWER) {
    *fault = why;
    return status;
  }
  return TW_OK;
}

static tw_status prepare(tw_timed *t, tw_fault *fault)
{
  const tw_run *run = t->run;
  tw_status status = TW_OK;
  for (int w = 0; w < TW_TIMED_WAYS && status == TW_OK; w++) {
    status = tw_probe_motion(run->design, run->probe, t->feed, &t->motion[w], fault);
    if (status != TW_OK || !looks_at(t, w)) {
      continue;
    }
    t->way[w] = tw_alloc(1, sizeof *t->way[w]);
    if (!t->way[w]) {
      return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a touch in time");
    }
  }
  if (status == TW_OK && t->way[TW_TIMED_SIDE] && tw_wants_one(run, TW_M_repeatability_2s)) {
    status = find_history(t, fault);
  }
  const tw_loop loop = {.count = TW_TIMED_WAYS,
                        .chunk = 1,
                        .threads = run->threads,
                        .work = table_of,
                        .self = t,
                        .what = "touches in time"};
  return status == TW_OK ? tw_parallel(&loop, run->options->progress, fault) : status;
}

/* runs that nobody asked for are left out */
static tw_status touches_sideways(tw_timed *t, tw_touch_work *work, tw_fault *fault)
{
  static const tw_measure_id of_cycle[] = {TW_M_pretravel_at_feed, TW_M_chatter, TW_M_ready_time,
                                           TW_M_output_hold_time};
  tw_status status = tw_wants(t->run, of_cycle, 4) ? put_cycle(t, work, fault) : TW_OK;
  if (status == TW_OK && tw_wants_one(t->run, TW_M_output_hold_time)) {
    status = put_hold_of_touch(t, work, fault);
  }
  if (status == TW_OK && tw_wants_one(t->run, TW_M_overtravel_side)) {
    status = put_overtravel(t, TW_TIMED_SIDE, TW_M_overtravel_side, work, fault);
  }
  if (status == TW_OK && tw_wants_one(t->run, TW_M_repeatability_2s)) {
    status = put_repeat(t, work, fault);
  }
  if (status == TW_OK && tw_wants_one(t->run, TW_M_apparent_delay)) {
    status = put_delay(t, work, fault);
  }
  if (status == TW_OK && tw_wants_edge(t->run)) {
    status = latch(t, work, fault);
  }
  return status;
}

/* runs that do not touch each other's measures; the longest first */
enum { WINDOW_SIDE, WINDOW_SOFT, WINDOW_AXIS, TOUCHES_SIDE, TOUCHES_AXIS, RUNS };

static tw_status one_run(tw_timed *t, size_t which, tw_touch_work *work, tw_fault *fault)
{
  static const int way[RUNS] = {TW_TIMED_SIDE, TW_TIMED_SOFT, TW_TIMED_AXIS, TW_TIMED_SIDE,
                                TW_TIMED_AXIS};
  const int w = way[which];
  if (!t->way[w]) {
    return TW_OK;
  }
  if (which <= WINDOW_AXIS) {
    return tw_timed_wants_window(t) ? tw_timed_window(t, w, work, fault) : TW_OK;
  }
  if (which == TOUCHES_SIDE) {
    return touches_sideways(t, work, fault);
  }
  return tw_wants_one(t->run, TW_M_overtravel_axial)
             ? put_overtravel(t, w, TW_M_overtravel_axial, work, fault)
             : TW_OK;
}

static tw_status some_runs(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  (void)worker;
  tw_touch_work *work = tw_touch_work_new();
  tw_status status = TW_OK;
  if (!work) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a touch in time");
  }
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    status = one_run(self, i, work, fault);
  }
  tw_touch_work_free(work);
  return status;
}

static tw_status touches(tw_timed *t, tw_fault *fault)
{
  const tw_loop loop = {.count = RUNS,
                        .chunk = 1,
                        .threads = t->run->threads,
                        .work = some_runs,
                        .self = t,
                        .what = "touches in time"};
  const tw_status status = tw_parallel(&loop, t->run->options->progress, fault);
  if (status == TW_OK && tw_timed_wants_window(t) &&
      (t->way[TW_TIMED_SIDE] || t->way[TW_TIMED_AXIS])) {
    tw_timed_put_window(t);
  }
  return status;
}

/* one reason for all that could not be run in time */
static void put_reason(tw_run *run, tw_measure_state state, const char *why)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (tw_measure_about((tw_measure_id)i)->needs == TW_NEEDS_TIMED &&
        tw_wants_one(run, (tw_measure_id)i) &&
        run->out->measure[i].state == TW_MEASURE_NOT_COMPUTED) {
      tw_put_state(run->out, (tw_measure_id)i, state, "%s", why);
      run->out->measure[i].searched_to = run->probe->touch.search_force;
    }
  }
}

static bool wants_time(const tw_run *run)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_id id = (tw_measure_id)i;
    if ((tw_measure_about(id)->needs == TW_NEEDS_TIMED || id == TW_M_output_hold_time) &&
        tw_wants_one(run, id)) {
      return true;
    }
  }
  return false;
}

tw_status tw_measure_timed(tw_run *run, tw_fault *fault)
{
  tw_timed t = {.run = run,
                .feed = tw_design_number(run->design, TW_F_machine_feed),
                .approach = tw_design_number(run->design, TW_F_machine_approach_feed)};
  static const tw_measure_id of_shaking[] = {TW_M_false_trip_margin_x, TW_M_false_trip_margin_y,
                                             TW_M_false_trip_margin_z};
  tw_status status = tw_wants(run, of_shaking, 3) ? put_false_trips(run, fault) : TW_OK;
  status = status == TW_OK ? read_link(&t, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  if (!run->options->timed || !wants_time(run)) {
    return TW_OK;
  }
  tw_fault why = {0};
  status = prepare(&t, &why);
  status = status == TW_OK ? touches(&t, &why) : status;
  if (status == TW_NO_ANSWER || status == TW_BAD_INPUT) {
    put_reason(run, TW_MEASURE_NO_ANSWER, why.text);
    status = TW_OK;
  } else if (status != TW_OK && fault) {
    *fault = why;
  } else {
    put_reason(run, TW_MEASURE_NO_TRIP, "does not trip in this direction at any feed");
  }
  for (int w = 0; w < TW_TIMED_WAYS; w++) {
    tw_free(t.way[w]);
  }
  return status;
}
