/* newton.c: from one equilibrium to the next: semi-smooth Newton with backtracking, and halved
 * load steps where one step is too long. */
#include "engine.h"

#include <math.h>
#include <string.h>

const char *seat_failure_name(seat_failure failure)
{
  switch (failure) {
  case SEAT_STALLED:
    return "no smaller residual along the step";
  case SEAT_SINGULAR:
    return "nothing holds the carrier in some direction";
  case SEAT_RAN_OUT:
    return "too many iterations";
  case SEAT_NO_FAILURE:
    break;
  }
  return "none";
}

void seat_state_copy(const tw_seat_model *m, seat_state *to, const seat_state *from)
{
  memcpy(to->v, from->v, sizeof to->v);
  if (m->rubs) {
    memcpy(to->slip, from->slip, m->contacts * sizeof to->slip[0]);
  }
  to->set = from->set;
  to->x = from->x;
}

static double largest(const double *a, size_t n)
{
  double s = 0.0;
  for (size_t i = 0; i < n; i++) {
    s = fmax(s, fabs(a[i]));
    if (isnan(a[i])) {
      return INFINITY;
    }
  }
  return s;
}

static double norm2(const double *a, size_t n)
{
  double s = 0.0;
  for (size_t i = 0; i < n; i++) {
    s += a[i] * a[i];
  }
  return s;
}

/* slips of the sliding contacts follow: s = slide v + t/kt */
static void move_slips(const tw_seat_model *m, tw_seat_work *w)
{
  for (size_t i = 0; i < m->contacts; i++) {
    const seat_contact *c = &m->contact[i];
    if (!(c->friction > 0.0)) {
      continue;
    }
    for (size_t k = 0; k < 2; k++) {
      double s = w->tangent[i][k] / c->tangent;
      for (size_t j = 0; j < SEAT_DOF; j++) {
        s += c->slide[k][j] * w->now.v[j];
      }
      w->now.slip[i][k] = s;
    }
  }
}

/* the six unknowns of a load step, with a shift far below any stiffness, so that a free direction
 * does not stop the elimination; the closing movement is not an unknown here */
static bool newton_step(double *jacobian, const double *residual, double *step)
{
  double a[SEAT_DOF * SEAT_DOF], diagonal = 0.0;
  for (size_t i = 0; i < SEAT_DOF; i++) {
    memcpy(a + i * SEAT_DOF, jacobian + i * SEAT_ALL, SEAT_DOF * sizeof *a);
    diagonal = fmax(diagonal, fabs(a[i * SEAT_DOF + i]));
  }
  for (size_t i = 0; i < SEAT_DOF; i++) {
    a[i * SEAT_DOF + i] += SEAT_SHIFT * diagonal;
    step[i] = residual[i];
  }
  step[SEAT_DOF] = 0.0;
  return seat_lu_solve(SEAT_DOF, a, step);
}

static bool fail(tw_seat_work *w, seat_failure why, double x, double residual)
{
  w->failure = why;
  w->failed_at = x;
  w->residual = residual;
  return false;
}

/* try v + s step for s = 1, 1/2, .. until |R|^2 falls, or take the whole step whatever it does;
 * leaves v and R at the accepted place */
static bool take_step(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                      bool whole, const double *step, double *v, double *residual)
{
  const double before = norm2(residual, SEAT_DOF);
  double trial[SEAT_ALL], s = 1.0;
  for (int k = 0; k <= SEAT_BACKTRACKS; k++, s *= 0.5) {
    for (size_t i = 0; i < SEAT_ALL; i++) {
      trial[i] = v[i] + s * step[i];
    }
    if (!seat_residual(m, w, drive, trial, x, residual)) {
      return false;
    }
    if (whole || norm2(residual, SEAT_DOF) <= (1.0 - 1e-4 * s) * before) {
      memcpy(v, trial, sizeof trial);
      return true;
    }
  }
  return false;
}

/* largest residual that counts as balance; rounding may raise it, but not without end: a carrier
 * that has flown off must not look balanced because its numbers are large */
static double zero_residual(const tw_seat_model *m, const double *v)
{
  const double rounding = SEAT_ROUNDING * m->stiffness_scale * largest(v, SEAT_DOF);
  return SEAT_RESIDUAL * m->force_scale + fmin(rounding, SEAT_ROUNDING_MOST * m->force_scale);
}

/* semi-smooth Newton from v; does not touch w->now but for its set of loaded points */
static bool newton(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                   bool whole, double *v)
{
  double residual[SEAT_ALL], step[SEAT_ALL], jacobian[SEAT_ALL * SEAT_ALL];
  if (!seat_residual(m, w, drive, v, x, residual)) {
    return fail(w, SEAT_SINGULAR, x, m->force_scale);
  }
  for (int it = 0; it < SEAT_NEWTON; it++) {
    const double size = largest(residual, SEAT_DOF);
    w->residual = size;
    if (size <= zero_residual(m, v)) {
      return true;
    }
    w->iterations++;
    seat_jacobian(m, w, drive, jacobian);
    if (!newton_step(jacobian, residual, step)) {
      return fail(w, SEAT_SINGULAR, x, size);
    }
    if (!take_step(m, w, drive, x, whole, step, v, residual)) {
      return fail(w, SEAT_STALLED, x, size);
    }
  }
  return fail(w, SEAT_RAN_OUT, x, largest(residual, SEAT_DOF));
}

/* straight on from the last two points of the path */
static bool predict(const tw_seat_work *w, double x, double *v)
{
  const double last = w->now.x - w->before_x, next = x - w->now.x;
  if (!w->has_before || !(last * next > 0.0) || fabs(next) > 4.0 * fabs(last)) {
    return false;
  }
  for (size_t k = 0; k < SEAT_ALL; k++) {
    v[k] = w->now.v[k] + next / last * (w->now.v[k] - w->before_v[k]);
  }
  return true;
}

static bool any_friction(const tw_seat_model *m, const seat_drive *drive)
{
  return drive->friction && m->rubs;
}

/* Last resort: friction limits held while the carrier finds its place (each such problem is
 * convex), then taken anew from the loads, more and more cautiously; now and then the real problem
 * is tried from there. */
static bool lag_friction(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                         double *v)
{
  double residual[SEAT_ALL];
  w->sticks = SEAT_STICKS;
  if (!seat_residual(m, w, drive, v, x, residual)) {
    return fail(w, SEAT_SINGULAR, x, m->force_scale);
  }
  for (size_t i = 0; i < m->contacts; i++) {
    w->limit[i] = m->contact[i].friction * w->load[i];
  }
  for (int round = 1; round <= SEAT_LAGS; round++) {
    w->lagged = true;
    const bool found = newton(m, w, drive, x, false, v);
    w->lagged = false;
    if (!found) {
      return false;
    }
    const double take = round < 20 ? 1.0 : round < 60 ? 0.5 : 0.2;
    for (size_t i = 0; i < m->contacts; i++) {
      w->limit[i] += take * (m->contact[i].friction * w->load[i] - w->limit[i]);
    }
    for (int whole = 0; whole < 2; whole++) {
      double trial[SEAT_ALL];
      memcpy(trial, v, sizeof trial);
      if (newton(m, w, drive, x, whole == 1, trial)) {
        memcpy(v, trial, sizeof trial);
        return true;
      }
    }
  }
  return fail(w, SEAT_RAN_OUT, x, w->residual);
}

/* One load step, by what works: from the guess; from where we stand with contacts at their limit
 * sticking, then sliding; then both with whole Newton steps, which may climb before they fall. */
static bool solve_step(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                       const double *guess)
{
  static const struct {
    double sticks;
    bool whole;
  } way[] = {
      {SEAT_STICKS, false}, {-SEAT_STICKS, false}, {SEAT_STICKS, true}, {-SEAT_STICKS, true}};
  const uint64_t set = w->now.set;
  double v[SEAT_ALL];
  bool found = false;
  w->solves++;
  w->sticks = SEAT_STICKS;
  if (guess != NULL) {
    memcpy(v, guess, sizeof v);
    found = newton(m, w, drive, x, false, v);
  } else if (predict(w, x, v)) {
    found = newton(m, w, drive, x, false, v);
  }
  const size_t ways = any_friction(m, drive) ? sizeof way / sizeof way[0] : 1;
  for (size_t i = 0; i < ways && !found; i++) {
    memcpy(v, w->now.v, sizeof v);
    w->now.set = set;
    w->sticks = way[i].sticks;
    found = newton(m, w, drive, x, way[i].whole, v);
  }
  if (!found && any_friction(m, drive)) {
    memcpy(v, w->now.v, sizeof v);
    w->now.set = set;
    found = lag_friction(m, w, drive, x, v);
  }
  if (!found) {
    w->now.set = set;
    return false;
  }
  memcpy(w->before_v, w->now.v, sizeof v);
  w->before_x = w->now.x;
  w->has_before = true;
  memcpy(w->now.v, v, sizeof v);
  w->now.x = x;
  if (any_friction(m, drive)) {
    move_slips(m, w);
  }
  return true;
}

bool seat_advance(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                  const double *guess)
{
  const double from = w->now.x;
  seat_state *start = &w->keep[0]; /* last point that balanced */
  seat_state_copy(m, start, &w->now);
  if (solve_step(m, w, drive, x, guess)) {
    return true;
  }
  /* walk in steps of 2^-depth; a success lets the next step be twice as long again */
  const double whole = x - from;
  double done = 0.0, part = 0.5;
  int depth = 1;
  while (done < 1.0) {
    const double next = fmin(1.0, done + part);
    if (solve_step(m, w, drive, from + next * whole, NULL)) {
      done = next;
      seat_state_copy(m, start, &w->now);
      if (depth > 0) {
        part *= 2.0;
        depth--;
      }
    } else if (depth < SEAT_BISECTIONS) {
      part *= 0.5;
      depth++;
      w->bisections++;
    } else {
      seat_state_copy(m, &w->now, start);
      return false;
    }
  }
  return true;
}
