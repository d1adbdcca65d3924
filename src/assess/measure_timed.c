/* measure_timed.c: touches in time along the worst side and the axis: feeds, delay, overtravel,
 * repeatability, readiness; and what the machine's own moves do to the node. */
#include "fill.h"
#include "tripwright/touch_judge.h"

#include <math.h>
#include <string.h>

enum { SIDE, AXIS, WAYS, FEEDS = 12 };

typedef struct timed {
  tw_run *run;
  tw_touch_work *work;
  tw_probe_touch *way[WAYS]; /* NULL: does not trip in this direction */
  double feed, approach;     /* m/s */
  double room[WAYS];         /* m, overtravel that is there */
  tw_link link;
  tw_touch_motion motion; /* of the touch that counts */
} timed;

static double number(const timed *t, tw_field field, double otherwise)
{
  return tw_design_number_or(t->run->design, field, otherwise);
}

/* ---- how far the machine may run on ---------------------------------------------------------- */

/* with a hold-down the housing's travel; without, along the axis what the ceramic stands */
static double room_along_axis(const timed *t)
{
  const tw_probe *probe = t->run->probe;
  const double travel = number(t, TW_F_housing_travel_axial, 3e-3);
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t rows = 0;
  if (tw_design_choice(t->run->design, TW_F_holddown_kind) != TW_HOLDDOWN_NONE ||
      !probe->has_disc ||
      tw_disc_stresses(probe->disc, probe->disc_measures.contact_radius, row, &rows, NULL) !=
          TW_OK) {
    return travel;
  }
  double tension = 0;
  for (size_t i = 0; i < rows; i++) {
    tension = row[i].layer == TW_DISC_LAYER_CERAMIC ? fmax(tension, row[i].peak_tension) : tension;
  }
  const double allowed = probe->disc_spec.ceramic.allowable_tension;
  if (!(tension > 0) || !(allowed > 0)) {
    return travel;
  }
  const double force = fmax(allowed / tension - probe->rest.preload, 0);
  const double give = 1 / probe->disc_measures.stiffness_short.value +
                      1 / tw_stylus_along(&probe->stylus, acos(-1.0) / 2);
  return fmin(travel, fmax(force * give, 1e-6));
}

static double room_sideways(const timed *t)
{
  const double travel = number(t, TW_F_housing_travel_side, 5e-3);
  if (tw_design_choice(t->run->design, TW_F_holddown_kind) != TW_HOLDDOWN_NONE ||
      !tw_design_has(t->run->design, TW_F_seat_swivel_limit)) {
    return travel;
  }
  return fmin(travel, number(t, TW_F_stylus_reach, 0) * tan(number(t, TW_F_seat_swivel_limit, 0)));
}

/* ---- feeds ----------------------------------------------------------------------------------- */

static tw_status put_window(timed *t, tw_fault *fault)
{
  const tw_window_ask ask = {.motion = &t->motion,
                             .feed_least = 1.0 / 60000,
                             .feed_most = fmax(number(t, TW_F_machine_rapid, 0.05), t->approach),
                             .threshold_margin = 0.2,
                             .bias_most = t->run->probe->board.comparator.bias_most,
                             .jitter = t->link.latency_jitter,
                             .within = 0.1};
  double slowest = 0, fastest = INFINITY;
  const char *slow_why = "", *fast_why = "";
  for (int w = 0; w < WAYS; w++) {
    if (!t->way[w]) {
      continue;
    }
    const tw_window_way way = {w == SIDE ? "side" : "axial", &t->way[w]->model, t->room[w]};
    tw_window window;
    const tw_status status = tw_touch_window(&way, &ask, t->work, &window, fault);
    if (status != TW_OK) {
      return status;
    }
    if (!window.trips) {
      tw_put_state(t->run->out, TW_M_slowest_feed, TW_MEASURE_NO_TRIP, "no feed trips it (%s)",
                   way.name);
      tw_put_state(t->run->out, TW_M_fastest_feed, TW_MEASURE_NO_TRIP, "no feed trips it (%s)",
                   way.name);
      return TW_OK;
    }
    if (window.slowest > slowest) {
      slowest = window.slowest;
      slow_why = tw_window_reason_text(window.slow_reason);
    }
    if (window.fastest < fastest) {
      fastest = window.fastest;
      fast_why = tw_window_reason_text(window.fast_reason);
    }
  }
  tw_put(t->run->out, TW_M_slowest_feed, slowest);
  tw_put_note(t->run->out, TW_M_slowest_feed, "%s", slow_why);
  tw_put(t->run->out, TW_M_fastest_feed, fastest);
  tw_put_note(t->run->out, TW_M_fastest_feed, "%s", fast_why);
  return TW_OK;
}

/* a straight line through the feeds of the design at and above the one that counts */
static tw_status put_delay(timed *t, tw_fault *fault)
{
  tw_window_row row[FEEDS] = {0};
  const tw_table *table = tw_design_table(t->run->design, TW_F_machine_feeds);
  size_t count = 0;
  for (size_t i = 0; table && i < table->rows && count < FEEDS; i++) {
    row[count++].feed = table->cells[i * table->columns].number;
  }
  tw_status status = tw_touch_feeds(&t->way[SIDE]->model, &t->motion, t->link.latency_jitter,
                                    t->work, row, count, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_apparent_delay delay;
  tw_fault why = {0};
  if (tw_touch_delay(row, count, 0.5 * t->feed, &delay, &why) != TW_OK) {
    tw_put_fault(t->run->out, TW_M_apparent_delay, &why);
    return TW_OK;
  }
  tw_put(t->run->out, TW_M_apparent_delay, delay.seconds);
  return TW_OK;
}

/* ---- the touch that counts ------------------------------------------------------------------- */

static tw_status put_overtravel(timed *t, int w, tw_measure_id id, tw_fault *fault)
{
  tw_window_row row = {.feed = t->approach};
  const tw_status status = tw_touch_feeds(&t->way[w]->model, &t->motion, t->link.latency_jitter,
                                          t->work, &row, 1, fault);
  if (status == TW_OK && row.state == TW_TOUCH_OK) {
    tw_put(t->run->out, id, row.overtravel);
    tw_put_note(t->run->out, id, "at %.0f mm/min, worst sample", t->approach * 6e4);
  } else if (status == TW_OK) {
    tw_put_state(t->run->out, id, TW_MEASURE_NO_TRIP, "%s at %.0f mm/min",
                 tw_touch_state_name(row.state), t->approach * 6e4);
  }
  return status;
}

/* held at the stop until the output falls back by itself */
static tw_status put_hold(timed *t, tw_fault *fault)
{
  tw_touch_motion motion = t->motion;
  tw_touch_result result;
  motion.until = TW_UNTIL_READY;
  motion.dwell = 8 * t->run->probe->circuit.time_constant + 0.05;
  const tw_status status =
      tw_touch_run(&t->way[SIDE]->model, &motion, t->work, NULL, &result, fault);
  if (status == TW_OK && result.ended) {
    tw_put(t->run->out, TW_M_output_hold_time, result.output_hold_time);
    tw_put_note(t->run->out, TW_M_output_hold_time, "held at the stop after a touch at %.0f mm/min",
                t->feed * 6e4);
  }
  return status;
}

static tw_status put_cycle(timed *t, tw_fault *fault)
{
  tw_touch_motion motion = t->motion;
  tw_touch_result result;
  tw_assessment *out = t->run->out;
  /* the travel is known at the edge, chatter and readiness only when the tip is free again */
  static const tw_measure_id later[] = {TW_M_chatter, TW_M_ready_time};
  motion.until = tw_wants(t->run, later, 2) ? TW_UNTIL_READY : TW_UNTIL_EDGE;
  const tw_status status =
      tw_touch_run(&t->way[SIDE]->model, &motion, t->work, NULL, &result, fault);
  if (status != TW_OK) {
    return status;
  }
  if (result.first.state != TW_TOUCH_OK) {
    tw_put_state(out, TW_M_pretravel_at_feed, TW_MEASURE_NO_TRIP, "%s at %.0f mm/min",
                 tw_touch_state_name(result.first.state), t->feed * 6e4);
    tw_put_state(out, TW_M_chatter, TW_MEASURE_NO_TRIP, "no touch to chatter at");
    tw_put_state(out, TW_M_ready_time, TW_MEASURE_NO_TRIP, "no touch to recover from");
    return TW_OK;
  }
  tw_put(out, TW_M_pretravel_at_feed, result.first.pretravel);
  tw_put_note(out, TW_M_pretravel_at_feed, "at %.0f mm/min, sideways", t->feed * 6e4);
  tw_put(out, TW_M_chatter, result.first.chatter);
  if (result.ready) {
    tw_put(out, TW_M_ready_time, result.ready_time);
  } else {
    tw_put_state(out, TW_M_ready_time, TW_MEASURE_NO_ANSWER, "not ready within the run");
  }
  return TW_OK;
}

static tw_status put_hold_of_touch(timed *t, tw_fault *fault)
{
  const bool tripped = t->run->out->measure[TW_M_pretravel_at_feed].state == TW_MEASURE_OK;
  return t->run->probe->board.kind == TW_BOARD_CONTACT || !tripped ? TW_OK : put_hold(t, fault);
}

static tw_status put_repeat(timed *t, tw_fault *fault)
{
  const tw_measure *noise = &t->run->out->measure[TW_M_noise_rms];
  const tw_repeat_ask ask = {.noise = noise->state == TW_MEASURE_OK ? noise->value : 0,
                             .jitter = t->link.latency_jitter,
                             .resolution = number(t, TW_F_machine_resolution, 0)};
  tw_repeat repeat;
  tw_fault why = {0};
  const tw_status status =
      tw_touch_repeat(&t->way[SIDE]->model, &t->motion, &ask, t->work, &repeat, &why);
  if (status == TW_NO_ANSWER) {
    tw_put_fault(t->run->out, TW_M_repeatability_2s, &why);
    return TW_OK;
  }
  if (status != TW_OK) {
    *fault = why;
    return status;
  }
  tw_put(t->run->out, TW_M_repeatability_2s, repeat.two_s);
  tw_put_note(t->run->out, TW_M_repeatability_2s, "2s = 2 sqrt(sum s_i^2), sideways at %.0f mm/min",
              t->feed * 6e4);
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
    if (shaken[i].margin >= TW_SHAKE_MARGIN_MOST) {
      tw_put_note(run->out, id[i], "the dead zone takes it all: no contact opens");
    }
  }
  return TW_OK;
}

/* ---- link ------------------------------------------------------------------------------------ */

static void put_link(timed *t)
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

static tw_status read_link(timed *t, tw_fault *fault)
{
  tw_link_spec spec;
  tw_output_levels levels;
  tw_status status = tw_link_from_design(t->run->design, &spec, fault);
  status = status == TW_OK ? tw_circuit_output(&t->run->probe->board, &levels, fault) : status;
  return status == TW_OK
             ? tw_link_of(&spec, &t->run->probe->board, levels.supply_idle, &t->link, fault)
             : status;
}

/* ---- whole ----------------------------------------------------------------------------------- */

/* what each run of the model gives; runs that nobody asked for are left out */
static const tw_measure_id OF_CYCLE[] = {TW_M_pretravel_at_feed, TW_M_chatter, TW_M_ready_time,
                                         TW_M_output_hold_time},
                           OF_WINDOW[] = {TW_M_slowest_feed, TW_M_fastest_feed};

/* the axis is only looked at by the window and by the overtravel there */
static bool wants_way(const timed *t, int w)
{
  return w == SIDE || tw_wants(t->run, OF_WINDOW, 2) || tw_wants_one(t->run, TW_M_overtravel_axial);
}

static tw_status prepare(timed *t, tw_fault *fault)
{
  const tw_run *run = t->run;
  t->work = tw_touch_work_new();
  if (!t->work) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a touch in time");
  }
  tw_status status = tw_probe_motion(run->design, run->probe, t->feed, &t->motion, fault);
  for (int w = 0; w < WAYS && status == TW_OK; w++) {
    const tw_seat_touch_result *touch = &run->touch[w == SIDE ? run->worst_travel : run->pole];
    if (touch->state != TW_SEAT_TRIPPED || (w == SIDE && !run->sides_trip) || !wants_way(t, w)) {
      continue;
    }
    t->way[w] = tw_alloc(1, sizeof *t->way[w]);
    if (!t->way[w]) {
      return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a touch in time");
    }
    status = tw_probe_touch_of(run->design, run->probe, run->work, touch->azimuth, touch->elevation,
                               t->way[w], fault);
    /* a slow touch may take four pretravels; the node settles in ten time constants */
    t->motion.give_up = fmax(t->motion.give_up, 4 * touch->pretravel / t->feed);
  }
  t->motion.settle_limit = fmax(t->motion.settle_limit, 10 * run->probe->circuit.time_constant);
  t->room[SIDE] = room_sideways(t);
  t->room[AXIS] = room_along_axis(t);
  return status;
}

static tw_status touches_sideways(timed *t, tw_fault *fault)
{
  tw_status status = tw_wants(t->run, OF_CYCLE, 4) ? put_cycle(t, fault) : TW_OK;
  if (status == TW_OK && tw_wants_one(t->run, TW_M_output_hold_time)) {
    status = put_hold_of_touch(t, fault);
  }
  if (status == TW_OK && tw_wants_one(t->run, TW_M_overtravel_side)) {
    status = put_overtravel(t, SIDE, TW_M_overtravel_side, fault);
  }
  if (status == TW_OK && tw_wants_one(t->run, TW_M_repeatability_2s)) {
    status = put_repeat(t, fault);
  }
  if (status == TW_OK && tw_wants_one(t->run, TW_M_apparent_delay)) {
    status = put_delay(t, fault);
  }
  return status;
}

static tw_status touches(timed *t, tw_fault *fault)
{
  tw_status status = t->way[SIDE] ? touches_sideways(t, fault) : TW_OK;
  if (!tw_progress_tick(t->run->options->progress, 0.5, "touches in time")) {
    return tw_fail(fault, TW_CANCELLED, NULL, NULL, "cancelled");
  }
  if (t->way[AXIS] && status == TW_OK && tw_wants_one(t->run, TW_M_overtravel_axial)) {
    status = put_overtravel(t, AXIS, TW_M_overtravel_axial, fault);
  }
  return status == TW_OK && (t->way[SIDE] || t->way[AXIS]) && tw_wants(t->run, OF_WINDOW, 2)
             ? put_window(t, fault)
             : status;
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
  timed t = {.run = run,
             .feed = tw_design_number(run->design, TW_F_machine_feed),
             .approach = tw_design_number(run->design, TW_F_machine_approach_feed)};
  static const tw_measure_id of_shaking[] = {TW_M_false_trip_margin_x, TW_M_false_trip_margin_y,
                                             TW_M_false_trip_margin_z};
  tw_status status = tw_wants(run, of_shaking, 3) ? put_false_trips(run, fault) : TW_OK;
  status = status == TW_OK ? read_link(&t, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  put_link(&t);
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
  tw_free(t.way[SIDE]);
  tw_free(t.way[AXIS]);
  tw_touch_work_free(t.work);
  return status;
}
