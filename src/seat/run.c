/* run.c: one push along a direction: step, see an event pass, land on it (event.c), go on. */
#include "push.h"
#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

static double dot6(const double *a, const double *b)
{
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3] + a[4] * b[4] + a[5] * b[5];
}

void tw_seat_run_begin(const tw_seat_model *m, tw_seat_work *w, seat_run *run)
{
  if (run->options == NULL || !run->options->from_assembly) {
    tw_seat_set_reference(m, w);
  }
  memcpy(run->start, w->now.v, sizeof run->start);
  run->first = dot6(run->drive.row, w->now.v);
  w->now.x = run->first;
  run->reached = run->opened = run->at_rest = false;
  run->open_force = run->open_charge = 0.0;
  run->most_force = run->most_travel = run->most_turn = 0.0;
  for (size_t i = 0; i < m->contacts; i++) {
    w->loaded[i] =
        !m->bilateral && !m->contact[i].backing && w->load[i] > SEAT_LOADED * m->force_scale;
  }
}

static void note(const tw_seat_model *m, const tw_seat_work *w, seat_run *run)
{
  run->most_force = fmax(run->most_force, w->force);
  run->most_travel = fmax(run->most_travel, w->now.x - run->first);
  run->most_turn = fmax(run->most_turn, tw_seat_turn(m, w->now.v));
}

double tw_seat_run_compliance(const tw_seat_model *m, tw_seat_work *w, const seat_run *run)
{
  double residual[SEAT_ALL], stiffness[SEAT_DOF * SEAT_DOF], b[1][SEAT_DOF];
  seat_drive none = run->drive;
  none.wall = false;
  if (!tw_seat_residual(m, w, &none, w->now.v, 0.0, residual)) {
    return 0.0;
  }
  tw_seat_stiffness(m, w, &none, stiffness);
  memcpy(b[0], run->drive.row, sizeof b[0]);
  return tw_seat_solve_shifted(stiffness, b, 1) ? fmax(dot6(run->drive.row, b[0]), 0.0) : 0.0;
}

/* where the events passed by in the last step, the nearest kept point before it is keep[1] */
typedef struct seat_pass {
  double goal, opening; /* measures at keep[1] */
} seat_pass;

/* machine coordinate at which a straight line through the last two measures meets the goal */
static double between(double from, double to, double before, double after)
{
  return after > before ? from + (to - from) * fmin(1.0, before / (before - after)) : to;
}

/* land on what lies between keep[1] and w->now; true in *done when it is the goal */
static bool land(const tw_seat_model *m, tw_seat_work *w, seat_run *run, const seat_pass *before,
                 bool exact, bool *done)
{
  double goal = tw_seat_run_event(m, w, run, false);
  *done = false;
  if (run->watch_opening && !run->opened) {
    const double opening = tw_seat_run_event(m, w, run, true);
    if (opening >= 0.0) {
      if (!tw_seat_run_locate(m, w, run, true, before->opening, opening)) {
        return false;
      }
      run->opened = true;
      run->open_force = w->force;
      run->open_charge = tw_seat_charge(m, w);
      goal = tw_seat_run_event(m, w, run, false);
      if (fabs(goal) <= SEAT_EVENT) {
        *done = true;
        return true;
      }
      run->opened = goal < 0.0; /* the goal came first: nothing had opened */
    }
  }
  if (goal >= 0.0) {
    *done = true;
    return !exact || tw_seat_run_locate(m, w, run, false, before->goal, goal);
  }
  return true;
}

/* next step from how the two measures moved over the last one: up to the nearer event, a little
 * past it, at most four times and at least as long as before while it is far */
static double next_step(double last, double f0, double f1, double g0, double g1)
{
  double ahead = INFINITY;
  if (f1 > f0) {
    ahead = fmin(ahead, -f1 / (f1 - f0) * last);
  }
  if (g1 > g0 && g1 < 0.0) {
    ahead = fmin(ahead, -g1 / (g1 - g0) * last);
  }
  return fmin(4.0 * last, fmax(1.02 * ahead, 0.25 * last));
}

bool tw_seat_run_push(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double step,
                      bool exact)
{
  const tw_seat_options *o = run->options;
  const bool chosen = step > 0.0;
  if (!chosen) { /* what a hundredth of the scale of forces would move */
    step = 0.01 * m->force_scale * (tw_seat_run_compliance(m, w, run) + run->drive.compliance);
    step = fmin(fmax(step, 1e-6 * o->search_travel), 1e-2 * o->search_travel);
  }
  run->reached = run->at_rest = tw_seat_run_event(m, w, run, false) >= 0.0;
  while (!run->reached) {
    seat_pass before = {tw_seat_run_event(m, w, run, false), 0.0};
    if (run->watch_opening && !run->opened) {
      before.opening = tw_seat_run_event(m, w, run, true);
    }
    tw_seat_state_copy(m, &w->keep[1], &w->now);
    const double from = w->now.x;
    if (!tw_seat_advance(m, w, &run->drive, from + step, NULL)) {
      note(m, w, run);
      return false;
    }
    const double goal = tw_seat_run_event(m, w, run, false);
    const double opening =
        run->watch_opening && !run->opened ? tw_seat_run_event(m, w, run, true) : -1.0;
    bool done;
    if (!land(m, w, run, &before, exact, &done)) {
      return false;
    }
    note(m, w, run);
    if (done) {
      /* a goal that lies past the end of the search was not met by it */
      run->reached = w->force <= o->search_force * (1.0 + 1e-9);
      run->estimate = exact ? w->now.x : between(from, w->now.x, before.goal, goal);
      break;
    }
    if (w->now.x - run->first >= o->search_travel * (1.0 - 1e-9) ||
        w->force >= o->search_force * (1.0 - 1e-9)) {
      break;
    }
    if (!chosen) {
      step = next_step(step, before.goal, goal, before.opening, opening);
    }
    step = fmin(step, run->first + o->search_travel - w->now.x);
  }
  return true;
}

bool tw_seat_run_to(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double x, size_t steps)
{
  const double from = w->now.x, whole = x - from;
  for (size_t i = 1; i <= steps; i++) {
    const double to = i == steps ? x : from + whole * (double)i / (double)steps;
    if (!tw_seat_advance(m, w, &run->drive, to, NULL)) {
      return false;
    }
    note(m, w, run);
  }
  return true;
}

/* share of a way after i of n steps of which each is STEP_RATIO times as long as the one before:
 * just past a trip and just before the tip is free contacts change over most */
#define STEP_RATIO 1.3
static double growing(size_t i, size_t n)
{
  return (pow(STEP_RATIO, (double)i) - 1.0) / (pow(STEP_RATIO, (double)n) - 1.0);
}

bool tw_seat_run_on(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double x, size_t steps)
{
  const double from = w->now.x;
  for (size_t i = 1; i <= steps; i++) {
    if (!tw_seat_advance(m, w, &run->drive, from + (x - from) * growing(i, steps), NULL)) {
      return false;
    }
    note(m, w, run);
  }
  return true;
}

bool tw_seat_run_back(const tw_seat_model *m, tw_seat_work *w, seat_run *run, size_t steps)
{
  const double end = w->now.x, whole = end - run->first;
  const double last = whole * growing(1, steps);
  for (size_t i = 1; i <= steps && w->force > 0.0; i++) {
    if (!tw_seat_advance(m, w, &run->drive, run->first + whole * growing(steps - i, steps), NULL)) {
      return false;
    }
  }
  /* the free tip may stand before first force (it moved on), or, past a snap, behind it */
  for (size_t i = 0; i < 10 * steps && w->force > 0.0; i++) {
    if (!tw_seat_advance(m, w, &run->drive, w->now.x - last * (double)(i + 1), NULL)) {
      return false;
    }
  }
  return true;
}

/* the last balance: how many contacts carry load, and how many of them stand at their limit */
static void count_held(const tw_seat_model *m, const tw_seat_work *w, size_t *loaded,
                       size_t *sliding)
{
  *loaded = *sliding = 0;
  for (size_t i = 0; i < m->contacts; i++) {
    const double limit = m->contact[i].friction * w->load[i];
    if (w->load[i] > 0.0 && !m->contact[i].backing) {
      ++*loaded;
      *sliding += hypot(w->tangent[i][0], w->tangent[i][1]) >= limit * (1.0 - 1e-9) ? 1 : 0;
    }
  }
}

tw_status tw_seat_run_fault(const tw_seat_model *m, tw_seat_work *w, const seat_run *run,
                            tw_fault *fault)
{
  const double turn = TW_RADIAN, *row = run->drive.row;
  const double a = atan2(row[1], row[0]) * turn;
  const double e = asin(fmin(fmax(row[2], -1.0), 1.0)) * turn;
  const seat_failure class = w->failure;
  const double at = (w->failed_at - run->first) * 1e3, size = w->residual;
  double residual[SEAT_ALL];
  size_t loaded, sliding;
  (void)tw_seat_residual(m, w, &run->drive, w->now.v, w->now.x, residual);
  count_held(m, w, &loaded, &sliding);
  w->failure = class;
  w->residual = size;
  const bool off = loaded <= sliding + 1; /* at most one contact still holds sideways */
  return tw_fail(fault, TW_NO_ANSWER, off ? "seat" : "seat.friction",
                 off ? "give the carrier a guide, friction or a vee that holds it"
                     : "use less friction or more load steps",
                 "%s at %.4g mm, azimuth %.3g deg, elevation %.3g deg: %zu contacts loaded, %zu "
                 "sliding (%s, residual %.3g N)",
                 off ? "the carrier slides off its seat" : "no balance found", at, a, e, loaded,
                 sliding, tw_seat_failure_name(class), size);
}

tw_status tw_seat_options_check(const tw_seat_options *o, double azimuth, double elevation,
                                tw_fault *fault)
{
  const char *what = NULL;
  if (!isfinite(azimuth) || !isfinite(elevation)) {
    what = "azimuth or elevation is not a number";
  } else if (o->metric == TW_SEAT_BY_CHARGE && !(o->threshold > 0.0 && isfinite(o->threshold))) {
    what = "the threshold charge is not positive";
  } else if (!(o->opening_force >= 0.0 && isfinite(o->opening_force))) {
    what = "the opening force is negative or not a number";
  } else if (!(o->overtravel >= 0.0 && isfinite(o->overtravel))) {
    what = "the overtravel is negative or not a number";
  } else if (!(o->search_force > 0.0 && isfinite(o->search_force)) ||
             !(o->search_travel > 0.0 && isfinite(o->search_travel))) {
    what = "the search has no positive end";
  } else if (o->prior_touches > 100 || o->steps > 100000) {
    what = "too many touches or steps";
  }
  return what == NULL
             ? TW_OK
             : tw_fail(fault, TW_BAD_INPUT, "", "correct the option of the touch", "%s", what);
}
