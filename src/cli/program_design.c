/* program_design.c: feeds, tip, machine and pulse of a motion program from a design. */
#include "program_design.h"

#include "tripwright/assess.h"

#include <math.h>
#include <stdio.h>

#define MM_MIN 6e4

/* nearer than this to the plane or to the axis only that way of tripping counts */
#define TW_NEAR_WAY 0.1745 /* rad: 10 degrees */

static const tw_measure_id wanted_ids[] = {TW_M_slowest_feed,     TW_M_fastest_feed,
                                           TW_M_output_hold_time, TW_M_ready_time,
                                           TW_M_trip_force_side,  TW_M_trip_force_axial};

static tw_assess_options options_for(tw_measure_set *wanted)
{
  tw_assess_options options = tw_assess_defaults();
  for (size_t k = 0; k < sizeof wanted_ids / sizeof wanted_ids[0]; k++) {
    wanted->has[wanted_ids[k]] = true;
  }
  options.map = options.contributions = false;
  options.wanted = wanted;
  return options;
}

static double value_or(const tw_assessment *a, tw_measure_id id, double otherwise)
{
  return a->measure[id].state == TW_MEASURE_OK ? a->measure[id].value : otherwise;
}

/* Stop with limited jerk: v^2/(2a) + v a/(2j) is never too short, so a/(2j) counts as latency. */
static void take_machine(const tw_design *d, tw_plan *plan)
{
  const double a = tw_design_number(d, TW_F_machine_acceleration);
  const double j = tw_design_number(d, TW_F_machine_jerk);
  const double az = tw_design_number_or(d, TW_F_machine_acceleration_z, a);
  const double jz = tw_design_number_or(d, TW_F_machine_jerk_z, j);
  plan->deceleration = fmin(a, az);
  plan->latency = tw_design_number(d, TW_F_machine_latency) +
                  tw_design_number(d, TW_F_machine_sampling_interval) +
                  tw_design_number_or(d, TW_F_link_latency, 0.0) + fmax(a / j, az / jz) / 2.0;
}

static void take(const tw_design *d, const tw_assessment *a, tw_plan *plan, tw_program_design *out)
{
  const tw_measure *hold = &a->measure[TW_M_output_hold_time];
  plan->tip_diameter = tw_design_number(d, TW_F_stylus_ball_diameter);
  plan->reach =
      tw_design_number_or(d, TW_F_stylus_stem_length, tw_design_number(d, TW_F_stylus_reach));
  plan->feed_touch = tw_design_number(d, TW_F_machine_feed);
  plan->feed_first = tw_design_number(d, TW_F_machine_approach_feed);
  plan->feed_limit = fmin(plan->feed_limit, value_or(a, TW_M_fastest_feed, plan->feed_limit));
  take_machine(d, plan);
  /* an opening contact stays open; a disc's output falls back by itself */
  plan->pulse = hold->state == TW_MEASURE_OK && isfinite(hold->value);
  plan->pulse_length = plan->pulse ? hold->value : 0.0;
  out->given = true;
  out->trips_sideways = a->measure[TW_M_trip_force_side].state == TW_MEASURE_OK;
  out->trips_along = a->measure[TW_M_trip_force_axial].state == TW_MEASURE_OK;
  out->slowest = value_or(a, TW_M_slowest_feed, 0.0);
  out->fastest = value_or(a, TW_M_fastest_feed, (double)INFINITY);
  out->ready = value_or(a, TW_M_ready_time, 0.0);
  out->looks = tw_design_number(d, TW_F_machine_sampling_interval);
  snprintf(out->name, sizeof out->name, "%.90s", tw_design_name(d));
}

tw_exit tw_program_design_take(tw_cli *cli, tw_plan *plan, tw_program_design *out)
{
  const char *file = tw_cli_text(cli, "design", NULL);
  *out = (tw_program_design){.given = false};
  if (!file) {
    return TW_EXIT_DONE;
  }
  tw_design *design = NULL;
  tw_assessment *a = NULL;
  tw_measure_set wanted = {.has = {false}};
  const tw_assess_options options = options_for(&wanted);
  const tw_exit code = tw_cli_assessed(cli, file, &options, &design, &a);
  if (code == TW_EXIT_DONE) {
    take(design, a, plan, out);
  }
  tw_free(a);
  tw_design_free(design);
  return code;
}

/* ---- the plan against it ---------------------------------------------------------------------
 */

static void check_feed(const tw_program_design *d, const char *field, double feed,
                       tw_messages *messages)
{
  if (!(feed >= d->slowest && feed <= d->fastest)) {
    tw_messages_add(messages, TW_ERROR, (tw_place){0}, field, NULL, "touch between these",
                    "at %g mm/min %s %s; it does from %.0f to %.0f mm/min", feed * MM_MIN, d->name,
                    feed < d->slowest ? "does not trip" : "does not stop in time",
                    ceil(d->slowest * MM_MIN), floor(d->fastest * MM_MIN));
  }
}

/* the design trips the way in which this test touches */
static void check_trips(const tw_plan *plan, const tw_program_design *d, tw_messages *messages)
{
  const bool ring = plan->test == TW_TEST_RING || plan->test == TW_TEST_OFFSET;
  const bool sphere = plan->test == TW_TEST_SPHERE;
  const bool sideways = ring || sphere || plan->elevation < acos(0.0) - TW_NEAR_WAY;
  const bool along = sphere || (!ring && plan->elevation > TW_NEAR_WAY);
  if ((sideways && !d->trips_sideways) || (along && !d->trips_along)) {
    tw_messages_add(messages, TW_ERROR, (tw_place){0}, "design", NULL,
                    "run tripwright check on it first", "%s does not trip %s", d->name,
                    sideways && !d->trips_sideways ? "in every direction sideways"
                                                   : "along the axis");
  }
}

static void check_pulse(const tw_plan *plan, const tw_program_design *d, tw_messages *messages)
{
  if (plan->pulse && plan->pulse_length < d->looks) {
    tw_messages_add(messages, TW_ERROR, (tw_place){0}, "pulse", NULL,
                    "lengthen the pulse (output.minimum_pulse), or use a faster input",
                    "the pulse lasts %.3g ms; the controller looks every %.3g ms and misses some",
                    1e3 * plan->pulse_length, 1e3 * d->looks);
  }
  const double away = plan->back_off / plan->feed_first;
  if (away < d->ready) {
    tw_messages_add(messages, TW_ERROR, (tw_place){0}, "back-off", NULL, "back off further",
                    "backing off takes %.3g ms; the probe is ready again after %.3g ms", 1e3 * away,
                    1e3 * d->ready);
  }
}

tw_exit tw_program_design_check(const tw_cli *cli, const tw_plan *plan, const tw_program_design *d)
{
  tw_messages *messages = d->given ? tw_messages_new() : NULL;
  if (!d->given) {
    return TW_EXIT_DONE;
  }
  if (!messages) {
    return TW_EXIT_INTERNAL;
  }
  check_trips(plan, d, messages);
  check_feed(d, "first-feed", plan->feed_first, messages);
  if (plan->test != TW_TEST_FEEDS) {
    check_feed(d, "feed", plan->feed_touch, messages);
  }
  for (size_t i = 0; i < plan->feeds && plan->test == TW_TEST_FEEDS; i++) {
    check_feed(d, "feeds", plan->feed[i], messages);
  }
  check_pulse(plan, d, messages);
  const bool wrong = tw_messages_errors(messages) > 0;
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  return wrong ? TW_EXIT_INPUT : TW_EXIT_DONE;
}
