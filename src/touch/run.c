/* run.c: one touch from first contact to the end of the run: steps, events, timers, trace. */
#include "engine.h"
#include <math.h>
#include <string.h>

tw_touch_work *tw_touch_work_new(void)
{
  return tw_alloc(1, sizeof(tw_touch_work));
}

void tw_touch_work_free(tw_touch_work *work)
{
  tw_free(work);
}

/* ---- trace -------------------------------------------------------------------------------------
 */

static tw_touch_point point_of(tw_touch_work *w, double t, const double y[STATES],
                               touch_forces force)
{
  double x = 0.0;
  double v = 0.0;
  double a = 0.0;
  touch_body(&w->queue[w->seg], t, &x, &v, &a);
  double carrier = 0.0;
  double charge = 0.0;
  double slope = 0.0;
  double energy = 0.0;
  tw_touch_law(w, y[P2], &carrier, &charge, &slope, &energy);
  const bool rigid = w->m.contact.kind == TW_CONTACT_RIGID;
  return (tw_touch_point){.time = t,
                          .travel = x,
                          .tip = rigid ? (w->contact ? x - y[XW] : y[P2]) : y[P1],
                          .carrier = y[P2],
                          .force = force.contact,
                          .carrier_force = carrier,
                          .charge = charge,
                          .node = tw_touch_node_voltage(w, y[NODE], y[AMP]),
                          .signal = tw_touch_signal(w, y[NODE], y[AMP]),
                          .output = y[OUT],
                          .contact = w->contact,
                          .active = w->line};
}

static void emit(tw_touch_work *w, const tw_touch_point *p)
{
  if (!w->sink->point(w->sink->self, p)) {
    w->finished = w->cancelled = true;
  }
}

/* points of the step that ends at t + step, before it is taken over */
static void trace_step(tw_touch_work *w)
{
  if (!w->sink || !w->sink->point) {
    return;
  }
  const double end = w->t + w->step;
  if (w->sink->every <= 0.0) {
    const tw_touch_point p = point_of(w, end, w->y1, w->force1);
    emit(w, &p);
    return;
  }
  while (w->trace_at <= end && !w->finished) {
    const double theta = most(0.0, (w->trace_at - w->t) / w->step);
    double y[STATES];
    double f[STATES];
    touch_forces force = {0.0, 0.0};
    for (int i = 0; i < STATES; i++) {
      y[i] = tw_touch_at(w, i, theta);
    }
    if (w->amp != AMP_NONE) {
      y[AMP] = tw_touch_amp_at(w, theta);
    }
    tw_touch_slopes(w, w->trace_at, y, f, &force);
    const tw_touch_point p = point_of(w, w->trace_at, y, force);
    emit(w, &p);
    w->trace_at += w->sink->every;
  }
}

/* ---- peaks and energy --------------------------------------------------------------------------
 */

/* top of the parabola through three unevenly spaced points, when the middle one is the highest */
static double peak_of(const double t[3], const double f[3])
{
  if (!(f[1] > f[0] && f[1] >= f[2])) {
    return f[1];
  }
  const double d0 = (f[1] - f[0]) / (t[1] - t[0]);
  const double d1 = (f[2] - f[1]) / (t[2] - t[1]);
  const double bend = (d1 - d0) / (t[2] - t[0]);
  const double slope = d0 + bend * (t[1] - t[0]); /* at t1 */
  return bend < 0.0 ? f[1] - slope * slope / (4.0 * bend) : f[1];
}

static void watch_peaks(tw_touch_work *w)
{
  tw_touch_one *one = w->one;
  const double now = w->force1.contact;
  if (!w->retracted && w->time_back[1] > w->time_back[0]) {
    const double t[3] = {w->time_back[0], w->time_back[1], w->t};
    const double f[3] = {w->force_back[0], w->force_back[1], now};
    one->peak_force = most(one->peak_force, t[2] > t[1] ? peak_of(t, f) : f[1]);
  }
  w->force_back[0] = w->force_back[1];
  w->time_back[0] = w->time_back[1];
  w->force_back[1] = now;
  w->time_back[1] = w->t;
  if (!w->retracted) {
    one->peak_force = most(one->peak_force, now);
    one->peak_carrier = most(one->peak_carrier, w->force1.carrier);
  }
  const double change = tw_touch_node_voltage(w, w->y[NODE], w->y[AMP]) - w->levels.rest_node;
  one->peak_node = most(one->peak_node, fabs(change));
  const double way = w->levels.trip - w->levels.rest;
  const double share = (tw_touch_signal(w, w->y[NODE], w->y[AMP]) - w->levels.rest) / way;
  one->closest = share > one->closest ? share : one->closest;
  if (w->m.carrier.law == TW_CARRIER_TABLE && !w->result->beyond_table && w->y[P2] > w->table_end) {
    w->result->beyond_table = true;
    tw_touch_record(w, TW_EVENT_BEYOND_TABLE, w->t);
  }
}

static double stored_energy(tw_touch_work *w)
{
  const tw_touch_model *m = &w->m;
  const double *y = w->y;
  double X = 0.0;
  double V = 0.0;
  double A = 0.0;
  touch_body(&w->queue[w->seg], w->t, &X, &V, &A);
  double force = 0.0;
  double charge = 0.0;
  double slope = 0.0;
  double energy = 0.0;
  tw_touch_law(w, y[P2], &force, &charge, &slope, &energy);
  energy += 0.5 * m->carrier.mass * (V - y[Q2]) * (V - y[Q2]);
  energy += 0.5 * m->support.stiffness * y[XW] * y[XW] + 0.5 * m->support.mass * y[VW] * y[VW];
  if (m->contact.kind == TW_CONTACT_RIGID) {
    const double stretch = w->contact ? X - y[XW] - y[P2] : 0.0;
    return energy + 0.5 * m->tip.stiffness * stretch * stretch;
  }
  const double stretch = y[P1] - y[P2];
  energy += 0.5 * m->tip.stiffness * stretch * stretch;
  energy += 0.5 * m->tip.mass * (V - y[Q1]) * (V - y[Q1]);
  const double d = X - y[P1] - y[XW];
  if (w->contact && d > 0.0) {
    energy += m->contact.kind == TW_CONTACT_HERTZ ? 0.4 * m->contact.stiffness * d * d * sqrt(d)
                                                  : 0.5 * m->contact.stiffness * d * d;
  }
  return energy;
}

static void watch_energy(tw_touch_work *w, double start)
{
  tw_touch_energy *e = &w->result->energy;
  e->stored = stored_energy(w);
  e->driven = w->y[DRIVEN];
  e->lost = w->y[LOST];
  e->peak = most(e->peak, most(e->stored, fabs(e->driven)));
  const double off = fabs(e->stored - start - (e->driven - e->lost));
  e->balance = most(e->balance, e->peak > 0.0 ? off / e->peak : 0.0);
}

/* ---- modes that change for the numbers' sake ---------------------------------------------------
 */

static bool is_slewing(const tw_touch_work *w, const double *y)
{
  return w->slew_a > 0.0 &&
         fabs(w->wa * (w->amp_target + w->amp_gain * y[NODE] - y[AMP])) > w->slew_a;
}

/* a smooth comparator that has reached its rail, a pole that is linear and alone again */
static bool settle_modes(tw_touch_work *w)
{
  bool changed = false;
  if (w->out == OUT_DYNAMIC && w->m.comparator.kind == TW_COMPARATOR_SMOOTH) {
    const tw_touch_comparator *c = &w->m.comparator;
    const double e = tw_touch_lean(w, tw_touch_signal(w, w->y[NODE], w->y[AMP]), w->y[OUT]);
    const double rail = e > 0.0 ? c->high : c->low;
    if (fabs(e) > 1.2 * w->graze && fabs(w->y[OUT] - rail) < 1e-12 * (c->high - c->low)) {
      w->out = e > 0.0 ? OUT_HIGH : OUT_LOW;
      w->y[OUT] = rail;
      w->tripped_input = (w->out == OUT_HIGH) != c->rest_high;
      changed = true;
    }
  }
  const bool deciding = w->out == OUT_DYNAMIC && w->m.comparator.kind != TW_COMPARATOR_DELAY;
  if (w->amp == AMP_DYNAMIC && !deciding && w->clamp == 0 && !is_slewing(w, w->y)) {
    w->amp = AMP_EXACT;
    changed = true;
  }
  return changed;
}

/* the exact pole needs a linear stage: hand it to the integrator when it slews within the step */
static bool pole_fails(tw_touch_work *w)
{
  if (w->amp != AMP_EXACT || !is_slewing(w, w->y1)) {
    return false;
  }
  w->amp = AMP_DYNAMIC;
  return true;
}

/* ---- one step ----------------------------------------------------------------------------------
 */

/* next size by a proportional-integral rule, 0.9 (last^1/16) / e^3/16, in square roots only */
static double grown(tw_touch_work *w, double error)
{
  const double root = sqrt(sqrt(sqrt(sqrt(most(error, 1e-10)))));
  double factor = 0.9 * w->last_root / (root * root * root);
  if (w->rejected_in_a_row > 0) {
    factor = least(factor, 1.0);
  }
  w->last_root = most(root, 0.56);
  return least(6.0, most(0.2, factor));
}

/* ---- which kind of step ------------------------------------------------------------------------
 */

/* an explicit step of this many over the tip's rate is as long as its ringing allows */
#define HELD_AT    1.0
#define HELD_STEPS 12
/* an implicit step must be this many such steps long to be worth its price */
#define WORTH 3.0

static void choose_kind(tw_touch_work *w, double h)
{
  if (!tw_touch_may_be_implicit(w)) {
    w->implicit = false;
    w->held = 0;
    return;
  }
  if (w->implicit) {
    const double rate = tw_touch_contact_rate(w);
    if (w->h * rate < WORTH) {
      w->implicit = false;
      w->held = -2 * HELD_STEPS; /* not again for a while */
      w->h = least(w->h, 0.5 / rate);
    }
    return;
  }
  if (w->held < 0) {
    w->held++;
    return;
  }
  /* looked at now and then: the rate costs a square root */
  w->held++;
  if (w->held >= HELD_STEPS) {
    w->held = 0;
    if (h * tw_touch_contact_rate(w) > HELD_AT) {
      w->implicit = true;
      w->h = 2.0 * WORTH * h;
      w->last_root = 0.7;
    }
  }
}

/* a mode has changed: what follows rings anew */
static void back_to_explicit(tw_touch_work *w)
{
  if (w->implicit) {
    w->implicit = false;
    w->h = least(w->h, 0.2 / tw_touch_contact_rate(w));
  }
  w->held = 0;
}

static double shrunk(double error)
{
  if (!(error < 1e30)) { /* also not a number */
    return 0.1;
  }
  return most(0.1, 0.9 / sqrt(sqrt(error)));
}

/* take the trial over; `event` >= 0 happens at its end */
static void take(tw_touch_work *w, double timer, int event)
{
  trace_step(w);
  w->t = timer == w->t + w->step || fabs(w->t + w->step - timer) < 1e-15 * timer ? timer
                                                                                 : w->t + w->step;
  memcpy(w->y, w->y1, sizeof w->y);
  memcpy(w->k[0], w->k[6], sizeof w->k[0]);
  w->dense = false;
  watch_peaks(w);
  bool changed = event >= 0;
  if (event >= 0) {
    tw_touch_apply_event(w, event);
  }
  changed = settle_modes(w) || changed;
  if (w->t >= timer) {
    tw_touch_timers(w);
    changed = true;
  }
  tw_touch_watch_ready(w);
  if (changed) {
    back_to_explicit(w);
    tw_touch_slopes(w, w->t, w->y, w->k[0], &w->force1);
  }
}

/* one accepted step, or TW_NO_ANSWER */
static tw_status advance(tw_touch_work *w, tw_fault *fault)
{
  const double timer = tw_touch_next_timer(w);
  if (timer <= w->t) { /* due at once, as a comparator without delay */
    tw_touch_timers(w);
    tw_touch_set_modes(w);
    tw_touch_slopes(w, w->t, w->y, w->k[0], &w->force1);
    return TW_OK;
  }
  for (;;) {
    const double left = timer - w->t;
    double h = w->h;
    if (h > 0.99 * left) {
      h = left;
    } else if (h > 0.5 * left && isfinite(left)) {
      h = 0.5 * left; /* two even steps rather than a sliver */
    }
    if (w->result->steps + w->result->rejected >= w->m.step_limit || !(h > 1e-15 * (w->t + 1e-6))) {
      return tw_touch_too_many(w, fault);
    }
    const double error = tw_touch_try(w, h);
    if (!(error <= 1.0)) {
      w->result->rejected++;
      w->rejected_in_a_row++;
      w->h = h * shrunk(error);
      choose_kind(w, h);
      continue;
    }
    if (pole_fails(w)) {
      w->result->rejected++;
      w->h = least(h, 3.0 / w->wa);
      tw_touch_slopes(w, w->t, w->y, w->k[0], &w->force0);
      continue;
    }
    const double next = h * grown(w, error);
    w->rejected_in_a_row = 0;
    double theta = 1.0;
    const int event = tw_touch_find_event(w, &theta);
    if (event >= 0 && theta < 1.0) {
      (void)tw_touch_try(w, most(theta * h, 1e-16 * (w->t + 1e-6))); /* the same step, cut short */
    } else {
      w->h = h < 0.99 * w->h ? most(w->h, least(next, 1.5 * w->h)) : next;
    }
    w->result->steps++;
    take(w, timer, event);
    choose_kind(w, h);
    return TW_OK;
  }
}

static void begin(tw_touch_work *w, tw_touch_result *result, const tw_touch_sink *sink)
{
  w->result = result;
  w->sink = sink;
  w->one = &result->first;
  w->trace_at = 0.0;
  result->first = (tw_touch_one){.reached = TW_REACHED_CONTACT, .feed = w->go.feed};
  tw_touch_record(w, TW_EVENT_CONTACT_MADE, 0.0);
  tw_touch_slopes(w, 0.0, w->y, w->k[0], &w->force1);
  w->force_back[0] = w->force_back[1] = w->time_back[0] = w->time_back[1] = 0.0;
}

tw_status tw_touch_run(const tw_touch_model *model, const tw_touch_motion *motion,
                       tw_touch_work *work, const tw_touch_sink *sink, tw_touch_result *result,
                       tw_fault *fault)
{
  memset(result, 0, sizeof *result);
  tw_status status = tw_touch_check_motion(motion, fault);
  if (status == TW_OK) {
    status = tw_touch_prepare(work, model, motion, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  begin(work, result, sink);
  if (!work->levels.armed) {
    result->first.state = TW_TOUCH_TRIPPED_AT_REST;
    return TW_OK;
  }
  result->energy.kept = model->energy;
  const double start = model->energy ? stored_energy(work) : 0.0;
  result->energy.peak = start;
  while (!work->finished && status == TW_OK) {
    status = advance(work, fault);
    if (model->energy && status == TW_OK) {
      watch_energy(work, start);
    }
  }
  result->end = work->t;
  work->sink = NULL;
  return work->cancelled ? TW_CANCELLED : status;
}
