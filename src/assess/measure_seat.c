/* measure_seat.c: quasi-static touches from all sides, and what they say together. */
#include "extremes.h"
#include "tripwright/constants.h"
#include "tripwright/seat_forms.h"

#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static double degrees(double radians)
{
  return radians * 180 / TW_PI;
}

/* ---- which directions ----------------------------------------------------------------------- */

enum { SPHERE = 25 };

/* the pattern of 25 points of ISO 10360-5 (from memory): pole, 4, 8, 4, 8, each row 22.5 deg lower,
 * turned as the pattern says */
static void pattern_25(tw_seat_touch_result *touch)
{
  static const struct {
    int count;
    double elevation, turn;
  } row[] = {{1, 90, 0}, {4, 67.5, 0}, {8, 45, 22.5}, {4, 22.5, 45}, {8, 0, 67.5}};
  for (size_t r = 0; r < sizeof row / sizeof row[0]; r++) {
    for (int k = 0; k < row[r].count; k++, touch++) {
      touch->azimuth = (row[r].turn + 360.0 * k / row[r].count) * TW_PI / 180;
      touch->elevation = row[r].elevation * TW_PI / 180;
    }
  }
}

static void list_one(tw_run *run, double azimuth, double elevation)
{
  run->touch[run->touches++] = (tw_seat_touch_result){.azimuth = azimuth, .elevation = elevation};
}

/* sides first, evenly spaced; then the pole; then, for the map, the directions between */
static tw_status list_touches(tw_run *run, tw_fault *fault)
{
  const size_t sides = (size_t)run->options->azimuths;
  run->between_first = sides + 1 + (run->options->map ? TW_SEAT_DIRECTIONS + SPHERE : 0);
  const size_t most = run->between_first + TW_BETWEEN;
  run->touch = tw_alloc(most, sizeof *run->touch);
  if (!run->touch) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the touches");
  }
  run->sides = sides;
  run->pole = sides;
  for (size_t k = 0; k < sides; k++) {
    list_one(run, run->few ? run->few->azimuth[k] : 2 * TW_PI * (double)k / (double)sides, 0);
  }
  list_one(run, 0, TW_PI / 2);
  for (size_t i = 0; i < TW_SEAT_DIRECTIONS && run->options->map; i++) {
    double azimuth, elevation;
    tw_seat_direction(i, &azimuth, &elevation);
    if (elevation > 1e-6 && elevation < TW_PI / 2 - 1e-6) {
      list_one(run, azimuth, elevation);
    }
  }
  if (run->options->map) {
    run->sphere = &run->touch[run->touches];
    pattern_25(run->sphere);
  }
  return TW_OK;
}

static tw_status run_touches(tw_run *run, tw_fault *fault)
{
  tw_few *few = run->few;
  tw_status status = list_touches(run, fault);
  if (status == TW_OK && few && few->known) {
    memcpy(run->touch, few->touch, sizeof few->touch);
    return status;
  }
  status = status == TW_OK ? tw_probe_touches(run->probe, run->works, run->threads,
                                              run->touches + (run->options->map ? SPHERE : 0),
                                              run->touch, run->options->progress, fault)
                           : status;
  if (status == TW_OK && few) {
    memcpy(few->touch, run->touch, sizeof few->touch);
  }
  return status;
}

/* ---- what they say --------------------------------------------------------------------------- */

/* the first touch of a range that did not trip, or NULL */
static const tw_seat_touch_result *missing(const tw_run *run, size_t first, size_t end)
{
  for (size_t i = first; i < end; i++) {
    if (run->touch[i].state != TW_SEAT_TRIPPED) {
      return &run->touch[i];
    }
  }
  return NULL;
}

static void put_missing(tw_run *run, tw_measure_id id, const tw_seat_touch_result *touch)
{
  char where[64];
  snprintf(where, sizeof where, "at azimuth %.0f, elevation %.0f deg", degrees(touch->azimuth),
           degrees(touch->elevation));
  const tw_measure_state state = tw_probe_touch_state(touch);
  switch (state) {
  case TW_MEASURE_NO_TRIP:
    run->out->measure[id].searched_to = touch->searched_force;
    tw_put_state(run->out, id, state, "does not trip %s", where);
    break;
  case TW_MEASURE_NO_ANSWER:
    tw_put_state(run->out, id, state, "no balance was found %s", where);
    break;
  default:
    tw_put_state(run->out, id, state, "%s %s", tw_measure_state_words(state), where);
    break;
  }
}

static void put_extremes(tw_run *run, tw_measure_id id, size_t at, size_t least_at, double most,
                         double least)
{
  tw_measure *m = &run->out->measure[id];
  tw_put(run->out, id, most);
  m->has_at = m->has_least = true;
  m->at_deg = degrees(run->touch[at].azimuth);
  m->least_at_deg = degrees(run->touch[least_at].azimuth);
  m->least = least;
}

static void put_sides(tw_run *run)
{
  const tw_seat_touch_result *none = missing(run, 0, run->sides);
  if (none) {
    put_missing(run, TW_M_trip_force_side, none);
    put_missing(run, TW_M_pretravel_side, none);
    put_missing(run, TW_M_pretravel_variation_side, none);
    return;
  }
  const tw_seat_touch_result *of[TW_EXTREMES];
  for (int i = 0; i < TW_EXTREMES; i++) {
    of[i] = &run->touch[run->extreme[i]];
  }
  const double most = of[TW_TRAVEL_MOST]->pretravel, least = of[TW_TRAVEL_LEAST]->pretravel;
  put_extremes(run, TW_M_trip_force_side, run->worst_force, run->extreme[TW_FORCE_LEAST],
               of[TW_FORCE_MOST]->force, of[TW_FORCE_LEAST]->force);
  char uneven[TW_SEAT_UNEVEN];
  if (tw_seat_uneven(run->sides, run->touch, uneven, sizeof uneven)) {
    tw_put_note(run->out, TW_M_trip_force_side, "%s", uneven);
  }
  put_extremes(run, TW_M_pretravel_side, run->worst_travel, run->extreme[TW_TRAVEL_LEAST], most,
               least);
  tw_put(run->out, TW_M_pretravel_variation_side, most - least);
}

static void put_pole(tw_run *run)
{
  const tw_seat_touch_result *t = &run->touch[run->pole];
  if (t->state != TW_SEAT_TRIPPED) {
    put_missing(run, TW_M_trip_force_axial, t);
    put_missing(run, TW_M_pretravel_axial, t);
    return;
  }
  tw_put(run->out, TW_M_trip_force_axial, t->force);
  tw_put(run->out, TW_M_pretravel_axial, t->pretravel);
}

static void put_range_of_all(tw_run *run)
{
  if (!run->options->map) {
    return;
  }
  const tw_seat_touch_result *none = missing(run, 0, run->touches);
  if (none) {
    put_missing(run, TW_M_pretravel_range_all, none);
    return;
  }
  /* with the extremes of the sides, which may lie between the map's directions */
  double most = run->touch[run->extreme[TW_TRAVEL_MOST]].pretravel,
         least = run->touch[run->extreme[TW_TRAVEL_LEAST]].pretravel;
  for (size_t i = 0; i < run->touches; i++) {
    most = fmax(most, run->touch[i].pretravel);
    least = fmin(least, run->touch[i].pretravel);
  }
  tw_put(run->out, TW_M_pretravel_range_all, most - least);
}

/* where a direction does not trip, a touch does not end there: how the tip comes back from it is
 * not known */
static void put_return(tw_run *run)
{
  const tw_seat_touch_result *none = missing(run, 0, run->touches);
  double worst = 0;
  if (none) {
    put_missing(run, TW_M_return_offset, none);
    return;
  }
  for (size_t i = 0; i < run->touches; i++) {
    worst = fmax(worst, run->touch[i].return_offset);
  }
  tw_put(run->out, TW_M_return_offset, worst);
  tw_put_band(run->out, TW_M_return_offset, 0, worst);
  tw_put_note(run->out, TW_M_return_offset,
              "low end: shaken home; high end: as friction leaves it");
}

/* a pivot has a rule for it at rest; of the others only touches tell */
static void put_regime(tw_run *run)
{
  const tw_seat_touch_result *none = missing(run, 0, run->touches);
  if (none && run->probe->seat_spec.kind != TW_SEATED_PIVOT) {
    put_missing(run, TW_M_seating_regime, none);
    return;
  }
  tw_put_word(run->out, TW_M_seating_regime,
              tw_seat_regime_name(tw_probe_regime(run->probe, run->touches, run->touch)));
  if (none) {
    tw_put_note(run->out, TW_M_seating_regime,
                "by the friction moment at rest; not every direction trips");
  }
}

/* ---- 25 points on a sphere ------------------------------------------------------------------- */

/* range of c_i - (d_i . x) - r over the best x, r: the sphere is large against the pretravel */
static double range_about_sphere(size_t n, const tw_seat_touch_result *t)
{
  double normal[16] = {0}, right[4] = {0}, x[4] = {0};
  for (size_t i = 0; i < n; i++) {
    const double row[4] = {cos(t[i].elevation) * cos(t[i].azimuth),
                           cos(t[i].elevation) * sin(t[i].azimuth), sin(t[i].elevation), 1};
    for (int a = 0; a < 4; a++) {
      right[a] += row[a] * t[i].coordinate;
      for (int b = 0; b < 4; b++) {
        normal[4 * a + b] += row[a] * row[b];
      }
    }
  }
  gsl_matrix_view matrix = gsl_matrix_view_array(normal, 4, 4);
  gsl_vector_view rhs = gsl_vector_view_array(right, 4), solution = gsl_vector_view_array(x, 4);
  if (gsl_linalg_cholesky_decomp1(&matrix.matrix) ||
      gsl_linalg_cholesky_solve(&matrix.matrix, &rhs.vector, &solution.vector)) {
    return NAN;
  }
  double most = -INFINITY, least = INFINITY;
  for (size_t i = 0; i < n; i++) {
    const double residual =
        t[i].coordinate - x[3] -
        cos(t[i].elevation) * (cos(t[i].azimuth) * x[0] + sin(t[i].azimuth) * x[1]) -
        sin(t[i].elevation) * x[2];
    most = fmax(most, residual);
    least = fmin(least, residual);
  }
  return most - least;
}

static void put_sphere(tw_run *run)
{
  for (size_t i = 0; i < SPHERE; i++) {
    if (run->sphere[i].state != TW_SEAT_TRIPPED) {
      put_missing(run, TW_M_pretravel_variation_3d, &run->sphere[i]);
      return;
    }
  }
  tw_put(run->out, TW_M_pretravel_variation_3d, range_about_sphere(SPHERE, run->sphere));
}

/* ---- contributions --------------------------------------------------------------------------- */

static tw_status put_parts_of(tw_run *run, const tw_seat_touch_result *touch, tw_measure_id force,
                              tw_measure_id travel, tw_fault *fault)
{
  static const char *const of_force[] = {"dead zone", "friction", "threshold"};
  static const char *const of_travel[] = {"stem", "tip contact", "carrier rotation",
                                          "carrier translation"};
  tw_seat_options options = run->probe->touch;
  options.contributions = true;
  tw_seat_touch_result t;
  tw_fault why = {0};
  const tw_status status = tw_seat_touch(run->probe->seat, run->work, touch->azimuth,
                                         touch->elevation, &options, &t, &why);
  if (status != TW_OK || t.state != TW_SEAT_TRIPPED) {
    return status == TW_NO_ANSWER ? TW_OK
                                  : (status != TW_OK && fault ? (*fault = why, status) : status);
  }
  for (int i = 0; i < TW_SEAT_FORCE_PARTS && force < TW_MEASURE_COUNT; i++) {
    tw_put_part(run->out, force, of_force[i], t.force_part[i]);
  }
  for (int i = 0; i < TW_SEAT_TRAVEL_PARTS && travel < TW_MEASURE_COUNT; i++) {
    tw_put_part(run->out, travel, of_travel[i], t.travel_part[i]);
  }
  return TW_OK;
}

static tw_status put_contributions(tw_run *run, tw_fault *fault)
{
  if (!run->options->contributions || !run->tripped) {
    return TW_OK;
  }
  tw_status status = put_parts_of(run, &run->touch[run->worst_force], TW_M_trip_force_side,
                                  TW_MEASURE_COUNT, fault);
  if (status == TW_OK) {
    status = put_parts_of(run, &run->touch[run->worst_travel], TW_MEASURE_COUNT,
                          TW_M_pretravel_side, fault);
  }
  if (status == TW_OK) {
    status = put_parts_of(run, &run->touch[run->pole], TW_M_trip_force_axial, TW_M_pretravel_axial,
                          fault);
  }
  return status;
}

/* ---- the gap under the disc ------------------------------------------------------------------ */

static void put_clearance_at_trip(tw_run *run)
{
  if (run->out->measure[TW_M_void_clearance_at_trip].state == TW_MEASURE_NOT_APPLICABLE) {
    return;
  }
  const tw_seat_touch_result *none = missing(run, 0, run->touches);
  if (none) {
    put_missing(run, TW_M_void_clearance_at_trip, none);
    return;
  }
  double least = run->probe->rest.clearance;
  for (size_t i = 0; i < run->touches; i++) {
    least = fmin(least, run->touch[i].clearance);
  }
  tw_put(run->out, TW_M_void_clearance_at_trip, least);
}

void tw_measure_rest(tw_run *run)
{
  const tw_probe *probe = run->probe;
  tw_put(run->out, TW_M_preload_actual, probe->rest.preload);
  if (!probe->has_disc || !(probe->seat_spec.void_depth > 0)) {
    const char *why = probe->has_disc ? "no support.void_depth is given: nothing behind the disc"
                                      : "there is no disc";
    tw_put_state(run->out, TW_M_void_clearance_rest, TW_MEASURE_NOT_APPLICABLE, "%s", why);
    tw_put_state(run->out, TW_M_void_clearance_at_trip, TW_MEASURE_NOT_APPLICABLE, "%s", why);
    return;
  }
  tw_put(run->out, TW_M_void_clearance_rest, probe->rest.clearance);
}

tw_status tw_measure_seat_room(tw_run *run, tw_fault *fault)
{
  tw_status status = run_touches(run, fault);
  if (status != TW_OK) {
    return status;
  }
  run->sides_trip = !missing(run, 0, run->sides);
  run->tripped = run->sides_trip && run->touch[run->pole].state == TW_SEAT_TRIPPED;
  if (run->sides_trip) {
    status = tw_find_extremes(run, fault);
    run->worst_force = run->extreme[TW_FORCE_MOST];
    run->worst_travel = run->extreme[TW_TRAVEL_MOST];
  }
  if (status != TW_OK) {
    return status;
  }
  put_sides(run);
  put_pole(run);
  put_range_of_all(run);
  put_return(run);
  put_regime(run);
  put_clearance_at_trip(run);
  if (run->options->map) {
    put_sphere(run);
  }
  return put_contributions(run, fault);
}
