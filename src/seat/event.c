/* event.c: where along a push an event lies: the goal, or the first contact that opens. */
#include "push.h"

#include <math.h>
#include <string.h>

/* An event as a function of the carrier's place v and the machine coordinate x: below zero before
 * it, zero on it. */
typedef struct event {
  double measure;
  double rate[SEAT_DOF], rate_x; /* d(measure)/dv, d/dx; filled when asked for */
} event;

static double signed_load(const tw_seat_model *m, const tw_seat_work *w, size_t i)
{
  return w->load[i] > 0.0 || m->bilateral ? w->load[i] : -w->gap[i] * m->contact[i].pressed;
}

/* rate += s d(signed load of i)/dv */
static void add_load_rate(const tw_seat_model *m, const tw_seat_work *w, size_t i, double s,
                          double *rate)
{
  const seat_contact *c = &m->contact[i];
  const bool loaded = w->load[i] > 0.0 || m->bilateral;
  for (size_t k = 0; k < SEAT_DOF; k++) {
    if (i >= m->grouped) {
      rate[k] -= s * (loaded ? c->stiffness : c->pressed) * c->row[k];
    } else {
      rate[k] += s * w->set->map[k + 1][i] * ((w->set->mask >> i) & 1 ? -1.0 : c->pressed);
    }
  }
}

static bool counts(const tw_seat_model *m, const tw_seat_work *w, size_t i, bool sensing)
{
  return sensing ? m->contact[i].senses : w->loaded[i];
}

/* the contact with the least load of those that sense, or of those that were loaded at the start;
 * m->contacts when there is none */
static size_t least_of(const tw_seat_model *m, const tw_seat_work *w, bool sensing)
{
  size_t at = m->contacts;
  double least = INFINITY;
  for (size_t i = 0; i < m->contacts; i++) {
    if (counts(m, w, i, sensing) && signed_load(m, w, i) < least) {
      least = signed_load(m, w, i);
      at = i;
    }
  }
  return at;
}

/* (wanted - least load) in units of the model's forces */
static void of_opening(const tw_seat_model *m, const tw_seat_work *w, bool sensing, double wanted,
                       bool rates, event *e)
{
  const size_t at = least_of(m, w, sensing);
  if (at == m->contacts) {
    e->measure = -1.0;
    return;
  }
  e->measure = (wanted - signed_load(m, w, at)) / m->force_scale;
  if (rates) {
    add_load_rate(m, w, at, -1.0 / m->force_scale, e->rate);
  }
}

static void of_charge(const tw_seat_model *m, const tw_seat_work *w, const tw_seat_options *o,
                      bool rates, event *e)
{
  const double charge = tw_seat_charge(m, w);
  const bool other = o->polarity == 0 && charge < 0.0 && o->threshold_negative > 0.0;
  const double threshold = other ? o->threshold_negative : o->threshold;
  const double q = charge / threshold;
  const double sign = o->polarity != 0 ? (o->polarity > 0 ? 1.0 : -1.0) : (q < 0.0 ? -1.0 : 1.0);
  e->measure = sign * q - 1.0;
  for (size_t i = 0; rates && i < m->contacts; i++) {
    /* a contact off its seat gives no charge: only loads count */
    const bool loaded = i < m->grouped ? (w->set->mask >> i) & 1 : w->load[i] > 0.0;
    if (loaded && m->contact[i].charge != 0.0) {
      add_load_rate(m, w, i, sign * m->contact[i].charge / threshold, e->rate);
    }
  }
  for (size_t j = 0; rates && j < m->springs; j++) {
    const double s = sign * m->spring[j].charge / threshold * w->spring_rate[j];
    for (size_t k = 0; k < SEAT_DOF; k++) {
      e->rate[k] -= s * m->spring[j].row[k];
    }
  }
}

static void of_force(const tw_seat_work *w, const seat_run *run, event *e)
{
  e->measure = w->force / run->target_force - 1.0;
  e->rate_x = w->drive_rate / run->target_force;
  for (size_t k = 0; k < SEAT_DOF; k++) {
    e->rate[k] = -e->rate_x * run->drive.row[k];
  }
}

/* the goal, or the first opening */
static event event_of(const tw_seat_model *m, const tw_seat_work *w, const seat_run *run,
                      bool opening, bool rates)
{
  event e = {0};
  if (opening) {
    of_opening(m, w, false, 0.0, rates, &e);
  } else if (run->goal == SEAT_GOAL_FORCE) {
    of_force(w, run, &e);
  } else if (run->goal == SEAT_GOAL_OPENING) {
    of_opening(m, w, true, run->options->opening_force, rates, &e);
  } else {
    of_charge(m, w, run->options, rates, &e);
  }
  return e;
}

double tw_seat_run_event(const tw_seat_model *m, const tw_seat_work *w, const seat_run *run,
                         bool opening)
{
  return event_of(m, w, run, opening, false).measure;
}

/* ---- both at once ---------------------------------------------------------------------------- */

typedef struct asked {
  const tw_seat_model *m;
  const seat_run *run;
  bool opening;
} asked;

static double measure_at(const void *self, const tw_seat_work *w, double *rate, double *rate_x)
{
  const asked *a = self;
  const event e = event_of(a->m, w, a->run, a->opening, true);
  memcpy(rate, e.rate, sizeof e.rate);
  *rate_x = e.rate_x;
  return e.measure;
}

/* ---- or by a bracket ------------------------------------------------------------------------- */

/* Regula falsi with the Illinois halving, every trial from the restored left point, so that the
 * slips of a trial do not leak into the next. */
static bool close_in(const tw_seat_model *m, tw_seat_work *w, const seat_run *run, bool opening,
                     double fl, double fr, double xr, double *vr)
{
  const seat_state *left = &w->keep[1];
  double xl = left->x, vl[SEAT_ALL];
  const double whole = xr - xl;
  double f = fr;
  int side = 0;
  memcpy(vl, left->v, sizeof vl);
  for (int it = 0; it < 100 && fabs(f) > SEAT_EVENT && xr - xl > SEAT_LOCATE * whole; it++) {
    double s = fl / (fl - fr);
    if (it > 8 && it % 2 == 0) { /* slow: halve every other time */
      s = 0.5;
    }
    const double x = xl + s * (xr - xl);
    double guess[SEAT_ALL];
    for (size_t k = 0; k < SEAT_ALL; k++) {
      guess[k] = vl[k] + s * (vr[k] - vl[k]);
    }
    tw_seat_state_copy(m, &w->now, left);
    w->has_before = false;
    if (!tw_seat_advance(m, w, &run->drive, x, guess)) {
      return false;
    }
    f = tw_seat_run_event(m, w, run, opening);
    if (f < 0.0) {
      xl = x;
      fl = f;
      memcpy(vl, w->now.v, sizeof vl);
      fr *= side == -1 ? 0.5 : 1.0;
      side = -1;
    } else {
      xr = x;
      fr = f;
      memcpy(vr, w->now.v, sizeof vl);
      fl *= side == 1 ? 0.5 : 1.0;
      side = 1;
    }
  }
  if (f < -SEAT_EVENT) { /* the bracket shrank to nothing: end on the far side of it */
    tw_seat_state_copy(m, &w->now, left);
    return tw_seat_advance(m, w, &run->drive, xr, vr);
  }
  return true;
}

/* The event lies between `left` (keep[1], measure fl < 0) and w->now (fr >= 0). Nearly always it is
 * found with the balance as one more equation, x as one more unknown. */
bool tw_seat_run_locate(const tw_seat_model *m, tw_seat_work *w, const seat_run *run, bool opening,
                        double fl, double fr)
{
  const seat_state *left = &w->keep[1];
  const double xr = w->now.x, s = fl / (fl - fr);
  const asked ask = {m, run, opening};
  const seat_target target = {measure_at, &ask, left->x, xr};
  double vr[SEAT_ALL], guess[SEAT_ALL];
  if (fabs(fr) <= SEAT_EVENT) {
    return true;
  }
  memcpy(vr, w->now.v, sizeof vr);
  for (size_t k = 0; k < SEAT_ALL; k++) {
    guess[k] = left->v[k] + s * (vr[k] - left->v[k]);
  }
  tw_seat_state_copy(m, &w->now, left);
  return tw_seat_advance_to(m, w, &run->drive, &target, left->x + s * (xr - left->x), guess) ||
         close_in(m, w, run, opening, fl, fr, xr, vr);
}
