/* newton.c: from one equilibrium to the next: semi-smooth Newton with backtracking, and halved
 * load steps where one step is too long. */
#include "engine.h"

#include <math.h>
#include <string.h>

const char *tw_seat_failure_name(seat_failure failure)
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

void tw_seat_state_copy(const tw_seat_model *m, seat_state *to, const seat_state *from)
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
  double slide[2][TW_SEAT_CONTACTS];
  tw_seat_slides(m, w->now.v, slide);
  for (size_t n = 0; n < m->rubbing; n++) {
    const size_t i = m->rubs_at[n];
    for (size_t k = 0; k < 2; k++) {
      w->now.slip[i][k] = slide[k][n] + w->tangent[i][k] / m->contact[i].tangent;
    }
  }
}

bool tw_seat_solve_shifted(double *stiffness, double (*b)[SEAT_DOF], size_t count)
{
  double diagonal = 0.0;
  for (size_t i = 0; i < SEAT_DOF; i++) {
    diagonal = fmax(diagonal, fabs(stiffness[i * SEAT_DOF + i]));
  }
  for (size_t i = 0; i < SEAT_DOF; i++) {
    stiffness[i * SEAT_DOF + i] += SEAT_SHIFT * diagonal;
  }
  return tw_seat_solve_six(stiffness, b, count);
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
  trial[SEAT_DOF] = v[SEAT_DOF]; /* the closing movement is not an unknown here */
  for (int k = 0; k <= SEAT_BACKTRACKS; k++, s *= 0.5) {
    for (size_t i = 0; i < SEAT_DOF; i++) {
      trial[i] = v[i] + s * step[i];
    }
    if (!tw_seat_residual(m, w, drive, trial, x, residual)) {
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
  double residual[SEAT_ALL], step[1][SEAT_DOF], stiffness[SEAT_DOF * SEAT_DOF];
  if (!tw_seat_residual(m, w, drive, v, x, residual)) {
    return fail(w, SEAT_SINGULAR, x, m->force_scale);
  }
  for (int it = 0; it < SEAT_NEWTON; it++) {
    const double size = largest(residual, SEAT_DOF);
    w->residual = size;
    if (size <= zero_residual(m, v)) {
      return true;
    }
    w->iterations++;
    tw_seat_stiffness(m, w, drive, stiffness);
    memcpy(step[0], residual, sizeof step[0]);
    if (!tw_seat_solve_shifted(stiffness, step, 1)) {
      return fail(w, SEAT_SINGULAR, x, size);
    }
    if (!take_step(m, w, drive, x, whole, step[0], v, residual)) {
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
  if (!tw_seat_residual(m, w, drive, v, x, residual)) {
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

/* w->now becomes (x, v), where the residual was last asked */
static void arrive(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                   const double *v)
{
  memcpy(w->before_v, w->now.v, sizeof w->before_v);
  w->before_x = w->now.x;
  w->has_before = true;
  memcpy(w->now.v, v, sizeof w->now.v);
  w->now.x = x;
  if (any_friction(m, drive)) {
    move_slips(m, w);
  }
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
  arrive(m, w, drive, x, v);
  return true;
}

/* Newton on balance and event together: dv = K^-1 (R + r dx), with r = dR/dx of the wall, and dx so
 * that the measure vanishes */
static bool landing_step(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                         const seat_target *target, double measure, const double *rate,
                         double rate_x, const double *residual, double *x, double *v)
{
  double stiffness[SEAT_DOF * SEAT_DOF], b[2][SEAT_DOF], now = measure, slope = rate_x;
  tw_seat_stiffness(m, w, drive, stiffness);
  for (size_t k = 0; k < SEAT_DOF; k++) {
    b[0][k] = residual[k];
    b[1][k] = w->drive_rate * drive->row[k];
  }
  if (!tw_seat_solve_shifted(stiffness, b, 2)) {
    return false;
  }
  for (size_t k = 0; k < SEAT_DOF; k++) {
    now += rate[k] * b[0][k];
    slope += rate[k] * b[1][k];
  }
  if (!(slope > 0.0)) {
    return false;
  }
  const double dx = -now / slope;
  *x += dx;
  for (size_t k = 0; k < SEAT_DOF; k++) {
    v[k] += b[0][k] + dx * b[1][k];
  }
  return *x >= target->from && *x <= target->to;
}

bool tw_seat_advance_to(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                        const seat_target *target, double x, const double *guess)
{
  const uint64_t set = w->now.set;
  double v[SEAT_ALL], residual[SEAT_ALL], rate[SEAT_DOF], rate_x;
  memcpy(v, guess, sizeof v);
  w->solves++;
  w->sticks = SEAT_STICKS;
  for (int it = 0; it <= SEAT_LANDING; it++) {
    if (!tw_seat_residual(m, w, drive, v, x, residual)) {
      break;
    }
    const double measure = target->measure(target->self, w, rate, &rate_x);
    w->residual = largest(residual, SEAT_DOF);
    if (w->residual <= zero_residual(m, v) && fabs(measure) <= SEAT_EVENT) {
      arrive(m, w, drive, x, v);
      return true;
    }
    w->iterations++;
    if (!landing_step(m, w, drive, target, measure, rate, rate_x, residual, &x, v)) {
      break;
    }
  }
  w->now.set = set;
  return false;
}

bool tw_seat_advance(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive, double x,
                     const double *guess)
{
  const double from = w->now.x;
  seat_state *start = &w->keep[0]; /* last point that balanced */
  tw_seat_state_copy(m, start, &w->now);
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
      tw_seat_state_copy(m, start, &w->now);
      if (depth > 0) {
        part *= 2.0;
        depth--;
      }
    } else if (depth < SEAT_BISECTIONS) {
      part *= 0.5;
      depth++;
      w->bisections++;
    } else {
      tw_seat_state_copy(m, &w->now, start);
      return false;
    }
  }
  return true;
}
