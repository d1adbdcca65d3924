/* touch.c: a whole touch in one direction, and the map of all of them. */
#include "push.h"
#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

/* load steps to a trip at first, and at most when the comparison asks for more; levels agree when
 * force and travel differ by no more than this share */
#define STEPS_FIRST 4
#define STEPS_MOST  256
#define STEP_AGREES 5e-4
/* Under this share nothing turned aside, and the levels differ by the solver's rounding. */
#define STEP_EXACT 1e-7
/* What the levels moved, times this, bounds what is left (tests/reference/test_assess_steps.c; the
 * factor of a grid study with few levels is 3: Roache, J. Fluids Eng. 116 (1994), from memory); at
 * least STEP_FLOOR, which withdrawal and slips of the prior touch leave (own measurement). */
#define STEP_SAFETY 3.0
#define STEP_FLOOR  5e-5
/* The path of contacts that open under friction is not unique: which branch is taken moved force or
 * travel by up to this share, whatever the steps (own measurement, the same test). */
#define STEP_BRANCH 5e-2

void tw_seat_options_default(tw_seat_options *o)
{
  memset(o, 0, sizeof *o);
  o->friction = true;
  o->prior_touches = 1;
  o->overtravel = 1e-4;
  o->search_force = 5.0;
  o->search_travel = 6e-3;
  o->contributions = true;
}

const char *tw_seat_mechanism_name(tw_seat_mechanism mechanism)
{
  static const char *const name[] = {"none", "before lift-off", "by lift-off", "both", "opening"};
  return name[mechanism];
}

void tw_seat_direction(size_t index, double *azimuth, double *elevation)
{
  const double step = TW_PI / 12.0;
  if (index >= TW_SEAT_DIRECTIONS - 1) {
    *azimuth = 0.0;
    *elevation = TW_PI / 2.0;
  } else {
    *azimuth = step * (double)(index % 24);
    *elevation = step * (double)(index / 24);
  }
}

/* share of the threshold that a charge from before lift-off must have to be called a cause */
#define SHARE_BEFORE 0.1

static tw_seat_mechanism mechanism_of(const seat_run *run, double charge)
{
  if (!run->reached || run->at_rest) {
    return TW_SEAT_NONE;
  }
  if (run->goal == SEAT_GOAL_OPENING) {
    return TW_SEAT_OPENING;
  }
  if (!run->opened) {
    return TW_SEAT_BEFORE_LIFTOFF;
  }
  return run->open_charge / charge > SHARE_BEFORE ? TW_SEAT_BOTH : TW_SEAT_BY_LIFTOFF;
}

static double force_at_first_opening(const seat_run *run, double force)
{
  return run->opened ? run->open_force : force;
}

/* displacements along d at the trip, in the order of the contract */
static void split_travel(const tw_seat_model *m, const tw_seat_work *w, const seat_run *run,
                         double part[TW_SEAT_TRAVEL_PARTS])
{
  const double *row = run->drive.row, *v = w->now.v, *v0 = run->start;
  part[TW_SEAT_STEM] = w->force * run->drive.compliance;
  part[TW_SEAT_TIP] = m->hertz > 0.0 && w->force > 0.0 ? pow(w->force / m->hertz, 2.0 / 3.0) : 0.0;
  part[TW_SEAT_ROTATION] = part[TW_SEAT_TRANSLATION] = 0.0;
  for (size_t k = 0; k < 3; k++) {
    part[TW_SEAT_TRANSLATION] += row[k] * (v[k] - v0[k]);
    part[TW_SEAT_ROTATION] += row[3 + k] * (v[3 + k] - v0[3 + k]);
  }
}

static size_t count_open(const tw_seat_model *m, const tw_seat_work *w)
{
  size_t n = 0;
  for (size_t i = 0; i < m->contacts; i++) {
    n += w->loaded[i] && !(w->load[i] > 0.0) ? 1 : 0;
  }
  return n;
}

static size_t count_relieved(const tw_seat_model *m, const tw_seat_work *w)
{
  size_t n = 0;
  for (size_t i = 0; i < m->contacts; i++) {
    n += w->loaded[i] && !(w->load[i] > TW_SEAT_RELIEVED * m->rest_load[i]) ? 1 : 0;
  }
  return n;
}

static void fill_trip(const tw_seat_model *m, const tw_seat_work *w, const seat_run *run,
                      double rest_tip, tw_seat_touch_result *r)
{
  r->state = run->at_rest   ? TW_SEAT_TRIPPED_AT_REST
             : run->reached ? TW_SEAT_TRIPPED
                            : TW_SEAT_NO_TRIP;
  r->searched_force = run->most_force;
  r->searched_travel = run->most_travel;
  r->rotation = fmax(r->rotation, run->most_turn);
  r->large_rotation = r->rotation > TW_SEAT_SMALL_ROTATION;
  r->charge = tw_seat_charge(m, w);
  r->mechanism = mechanism_of(run, r->charge);
  r->disc_load = tw_seat_disc_load(m, w);
  r->clearance = tw_seat_clearance(m, w);
  r->open = count_open(m, w);
  r->relieved = count_relieved(m, w);
  r->residual = w->residual;
  if (run->reached) {
    r->force = w->force;
    r->pretravel = w->now.x - run->first;
    r->coordinate = w->now.x - rest_tip;
    split_travel(m, w, run, r->travel_part);
  }
}

/* what the touch left behind: tip offset, and contacts that did not come back */
static void fill_return(const tw_seat_model *m, const tw_seat_work *w, double carrier_travel,
                        tw_seat_touch_result *r)
{
  bool all_back = true;
  for (size_t i = 0; i < m->contacts; i++) {
    all_back = all_back && (!(m->rest_load[i] > SEAT_LOADED * m->force_scale) ||
                            m->contact[i].backing || m->bilateral || w->load[i] > 0.0);
  }
  r->return_tip[0] = tw_seat_tip(m, w->now.v, 0) - tw_seat_tip(m, m->rest.v, 0);
  r->return_tip[1] = tw_seat_tip(m, w->now.v, 1) - tw_seat_tip(m, m->rest.v, 1);
  r->return_offset = hypot(r->return_tip[0], r->return_tip[1]);
  r->regime = all_back                                        ? TW_SEAT_FULL
              : r->return_offset > 0.5 * fabs(carrier_travel) ? TW_SEAT_LOCKED
                                                              : TW_SEAT_PARTIAL;
}

/* touch, overtravel, withdrawal; the seat keeps what friction makes of it */
static bool prior_touch(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double step,
                        size_t steps, tw_seat_touch_result *r)
{
  run->watch_opening = false;
  tw_seat_run_begin(m, w, run);
  if (!tw_seat_run_push(m, w, run, step, true)) {
    return false;
  }
  if (run->reached &&
      !tw_seat_run_to(m, w, run, w->now.x + run->options->overtravel, 1 + steps / 2)) {
    return false;
  }
  double travel = 0.0;
  for (size_t k = 0; k < SEAT_DOF; k++) {
    travel += run->drive.row[k] * (w->now.v[k] - run->start[k]);
  }
  if (!tw_seat_run_back(m, w, run, steps)) {
    return false;
  }
  r->rotation = fmax(r->rotation, run->most_turn);
  fill_return(m, w, travel, r);
  return true;
}

/* the frictionless stage: gives the dead zone and the length of the steps that follow */
static bool smooth_stage(const tw_seat_model *m, tw_seat_work *w, seat_run *run,
                         tw_seat_touch_result *r)
{
  run->drive.friction = false;
  run->watch_opening = true;
  tw_seat_run_begin(m, w, run);
  if (!tw_seat_run_push(m, w, run, 0.0, true)) {
    return false;
  }
  r->force_part[TW_SEAT_DEAD_ZONE] = force_at_first_opening(run, w->force);
  return true;
}

static double along(const seat_run *run, const double *v)
{
  double s = 0.0;
  for (size_t k = 0; k < SEAT_DOF; k++) {
    s += run->drive.row[k] * v[k];
  }
  return s;
}

/* the counted touch from where w->now stands; fills everything but the dead zone */
static bool counted_touch(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double step,
                          bool watch_opening, tw_seat_touch_result *r)
{
  run->watch_opening = watch_opening;
  tw_seat_run_begin(m, w, run);
  if (!tw_seat_run_push(m, w, run, step, true)) {
    return false;
  }
  fill_trip(m, w, run, along(run, m->rest.v), r);
  const double opened = force_at_first_opening(run, w->force);
  r->force_part[TW_SEAT_FRICTION] = opened - r->force_part[TW_SEAT_DEAD_ZONE];
  r->force_part[TW_SEAT_THRESHOLD] = w->force - opened;
  return true;
}

/* prior touches and the counted one, in steps of scale/steps */
static bool level(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double scale,
                  size_t steps, bool watch_opening, tw_seat_touch_result *r)
{
  tw_seat_work_reset_state(m, w);
  for (size_t i = 0; i < run->options->prior_touches; i++) {
    if (!prior_touch(m, w, run, scale / (double)steps, steps, r)) {
      return false;
    }
    r->armed_once = r->armed_once || !run->at_rest;
  }
  return counted_touch(m, w, run, scale / (double)steps, watch_opening, r);
}

/* relative difference of two levels in force and travel */
static double apart(const tw_seat_touch_result *a, const tw_seat_touch_result *b)
{
  if (a->state != b->state) {
    return 1.0;
  }
  if (a->state != TW_SEAT_TRIPPED) {
    return 0.0;
  }
  return fmax(fabs(a->force / b->force - 1.0), fabs(a->pretravel / b->pretravel - 1.0));
}

/* a path that turns aside is followed to first order in the step: take half as many steps and the
 * whole number to the limit. Linear, so that sums stay sums. */
static tw_seat_touch_result limit_of(const tw_seat_touch_result *half,
                                     const tw_seat_touch_result *whole)
{
  tw_seat_touch_result r = *whole;
  if (half->state != whole->state || whole->state != TW_SEAT_TRIPPED) {
    return r;
  }
#define TO_LIMIT(member) r.member += whole->member - half->member
  TO_LIMIT(force);
  TO_LIMIT(pretravel);
  TO_LIMIT(coordinate);
  TO_LIMIT(charge);
  TO_LIMIT(disc_load);
  TO_LIMIT(return_tip[0]);
  TO_LIMIT(return_tip[1]);
  r.return_offset = hypot(r.return_tip[0], r.return_tip[1]);
  /* dead zone and friction as seen in the finer level; the rest is the threshold's */
  r.force_part[TW_SEAT_THRESHOLD] =
      r.force - r.force_part[TW_SEAT_DEAD_ZONE] - r.force_part[TW_SEAT_FRICTION];
  for (size_t k = 0; k < TW_SEAT_TRAVEL_PARTS; k++) {
    TO_LIMIT(travel_part[k]);
  }
#undef TO_LIMIT
  return r;
}

static double bound_of(const tw_seat_model *m, const seat_run *run, double moved)
{
  const double branch = run->goal == SEAT_GOAL_OPENING && m->rubs ? STEP_BRANCH : 0.0;
  return fmax(STEP_SAFETY * moved + STEP_FLOOR, branch);
}

/* Double the steps until force and travel stay, and once more. Most directions are settled by the
 * first comparison; where sliding directions turn, two levels are taken to their limit. */
static bool refine(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double scale,
                   tw_seat_touch_result *r)
{
  const tw_seat_touch_result blank = *r;
  tw_seat_touch_result half = blank, whole = blank, limit;
  size_t steps = STEPS_FIRST;
  /* the first level is only there to be compared: it need not know what opens when */
  if (!level(m, w, run, scale, steps, false, &half) ||
      !level(m, w, run, scale, 2 * steps, true, &whole)) {
    return false;
  }
  steps *= 2;
  *r = whole;
  double moved = apart(&half, &whole);
  r->step_error = bound_of(m, run, moved);
  limit = limit_of(&half, &whole);
  bool further = moved > STEP_EXACT; /* one doubling past the agreement */
  while (further && steps < STEPS_MOST) {
    steps *= 2;
    half = whole;
    whole = blank;
    if (!level(m, w, run, scale, steps, true, &whole)) {
      return false;
    }
    *r = limit_of(&half, &whole);
    const double before = moved;
    moved = apart(&limit, r);
    further = moved > STEP_AGREES;
    r->step_error = bound_of(m, run, fmax(before, fmax(moved, apart(&whole, r))));
    limit = *r;
  }
  return true;
}

/* after the frictionless stage, whose travel scales the steps */
static bool rubbing_stages(const tw_seat_model *m, tw_seat_work *w, seat_run *run,
                           tw_seat_touch_result *r)
{
  const size_t steps = run->options->steps;
  const double scale = fmin(w->now.x - run->first, run->options->search_travel);
  run->drive.friction = true;
  return steps > 0 ? level(m, w, run, scale, steps, true, r) : refine(m, w, run, scale, r);
}

/* everything of one direction; false when no balance was found */
static bool touch(const tw_seat_model *m, tw_seat_work *w, seat_run *run, tw_seat_touch_result *r)
{
  bool ok = smooth_stage(m, w, run, r);
  if (ok && m->rubs && run->options->friction) {
    ok = rubbing_stages(m, w, run, r);
  } else if (ok) {
    fill_trip(m, w, run, along(run, m->rest.v), r);
    r->force_part[TW_SEAT_THRESHOLD] = w->force - r->force_part[TW_SEAT_DEAD_ZONE];
  }
  if (!ok || !run->options->contributions || r->state != TW_SEAT_TRIPPED) {
    memset(r->force_part, 0, sizeof r->force_part);
  }
  r->solves = w->solves;
  r->iterations = w->iterations;
  r->bisections = w->bisections;
  return ok;
}

/* In a plane of symmetry, and most of all along the axis, several contacts are at their limit
 * together and the path may branch there; a hundredth of a degree beside it does not. Which way
 * aside leads on is tried. */
enum { TURNS = 5 };
static void turn_aside(int turn, double *azimuth, double *elevation)
{
  static const double beside = 2e-4, step = TW_PI / 3.0;
  if (turn > 0 && *elevation > 1.57) {
    *azimuth += step * (turn - 1);
    *elevation -= beside;
  } else if (turn > 0) {
    *azimuth += (turn % 2 == 1 ? beside : -beside) * (turn > 2 ? 2.0 : 1.0);
  }
}

tw_status tw_seat_touch(const tw_seat_model *model, tw_seat_work *work, double azimuth,
                        double elevation, const tw_seat_options *options,
                        tw_seat_touch_result *result, tw_fault *fault)
{
  memset(result, 0, sizeof *result);
  result->azimuth = azimuth;
  result->elevation = elevation;
  result->state = TW_SEAT_NO_ANSWER;
  result->regime = model->answer.regime;
  const tw_status status = tw_seat_options_check(options, azimuth, elevation, fault);
  if (status != TW_OK) {
    return status;
  }
  seat_run run;
  for (int turn = 0; turn < TURNS; turn++) {
    double a = azimuth, e = elevation;
    turn_aside(turn, &a, &e);
    run = (seat_run){.options = options};
    run.goal = options->metric == TW_SEAT_BY_OPENING ? SEAT_GOAL_OPENING : SEAT_GOAL_CHARGE;
    tw_seat_work_reset(model, work);
    tw_seat_drive_along(model, a, e, &run.drive);
    if (touch(model, work, &run, result)) {
      return TW_OK;
    }
  }
  result->state = TW_SEAT_NO_ANSWER;
  return tw_seat_run_fault(model, work, &run, fault);
}

tw_status tw_seat_map(const tw_seat_model *model, tw_seat_work *work, size_t first, size_t count,
                      const tw_seat_options *options, tw_seat_touch_result *result, tw_fault *fault)
{
  tw_status status = TW_OK;
  for (size_t i = 0; i < count; i++) {
    double azimuth, elevation;
    tw_seat_direction(first + i, &azimuth, &elevation);
    tw_fault why = {0};
    const tw_status s = tw_seat_touch(model, work, azimuth, elevation, options, &result[i], &why);
    if (s != TW_OK && status == TW_OK) {
      status = s;
      if (fault != NULL) {
        *fault = why;
      }
    }
  }
  return status;
}
