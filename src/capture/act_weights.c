/* act_weights.c: weights set down by hand, several weights cut off one after the other, and steps
 * read by hand against weights. */
#include "act.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define EVENTS_MOST   TW_CAPTURE_WEIGHTS
#define DEAD_TIME     0.08 /* s after an event in which no other is sought */
#define BEFORE        200  /* samples before an event */
#define KEEP_OFF      8    /* samples before the next event */
#define QUIET_LEAST   16
#define INTERCEPT_OFF 2 /* u that the line may miss the origin by */

/* ---- by hand ----------------------------------------------------------------------------------
 */

struct hand {
  double interval;
};

/* offset and the even loading over t_h from t_0: (1 - e^(-t/tau))/z up to t_h, then its decay;
 * p: ln tau, ln t_h, t_0 in intervals */
static bool hand_basis(double t, const double *p, double *row, const void *self)
{
  const struct hand *h = self;
  const double tau = exp(p[0]), loading = exp(p[1]), at = t - p[2] * h->interval;
  row[0] = 1;
  row[1] = 0;
  if (!(tau > 0) || !(loading > 0) || !isfinite(tau) || !isfinite(loading)) {
    return false;
  }
  const double z = loading / tau;
  if (at > 0) {
    row[1] = at < loading ? -expm1(-at / tau) / z : -expm1(-z) / z * exp(-(at - loading) / tau);
  }
  return true;
}

static tw_status hand_fit(tw_eval *job, size_t event, double *t, tw_sep *s, struct hand *h)
{
  size_t peak = event;
  for (size_t i = event; i < job->n; i++) {
    peak = fabs(job->v[i] - job->v[0]) > fabs(job->v[peak] - job->v[0]) ? i : peak;
  }
  for (size_t i = 0; i < job->n; i++) {
    t[i] = ((double)i - (double)event) * job->interval;
  }
  h->interval = job->interval;
  *s = (tw_sep){.points = job->n,
                .t = t,
                .v = job->v,
                .linear = 2,
                .free = 0,
                .basis = hand_basis,
                .self = h};
  const double loading = fmax((double)(peak - event), 4) * job->interval;
  double best = (double)INFINITY, tau = loading;
  for (int k = 0; k < 24; k++) {
    s->p[0] = log(loading * 0.1) + 0.3 * k;
    s->p[1] = log(loading);
    s->p[2] = 0;
    const tw_status status = tw_sep_linear(s, job->fault);
    if (status == TW_NO_MEMORY || status == TW_BAD_INPUT) {
      return status;
    }
    if (status == TW_OK && s->rms < best) {
      best = s->rms;
      tau = exp(s->p[0]);
    }
  }
  s->p[0] = log(tau);
  s->free = 3;
  return tw_sep_fit(s, job->fault);
}

static void hand_features(tw_eval *job, const tw_sep *s, size_t event)
{
  tw_capture_result *r = job->result;
  const double tau = exp(s->p[0]), loading = exp(s->p[1]), z = loading / tau;
  const double u_tau = tau * tw_sep_u_free(s, 0), u_loading = loading * tw_sep_u_free(s, 1);
  const double full = s->c[1], u_full = tw_sep_u_linear(s, 1);
  const double gain = tw_gain_u(job), share = -expm1(-z) / z, origin = tw_eval_at(job, event);
  double slope[TW_SEP_ALL] = {0};
  slope[1] = share;
  slope[2] = full * (share - exp(-z)); /* z falls as ln tau grows: d share/d ln z = e^-z - share */
  slope[3] = full * (exp(-z) - share);
  tw_put_word_feature(r, "polarity", full < 0 ? -1 : 1, full < 0 ? "-" : "+");
  tw_put_feature(r, "peak", full * share,
                 hypot(sqrt(tw_sep_variance(s, slope)), gain * full * share), job->unit);
  tw_note(tw_put_feature(r, "step", full, hypot(u_full, gain * full), job->unit),
          "what an instant load would have made");
  tw_put_feature(r, "hand_time", loading, u_loading, "s");
  tw_put_feature(r, "decay", tau, u_tau, "s");
  tw_put_feature(r, "baseline", s->c[0], tw_sep_u_linear(s, 0), job->unit);
  tw_put_feature(r, "noise", s->rms, s->rms / sqrt(2 * s->dof), job->unit);
  tw_put_charge(job, full, u_full, tau, u_tau);
  tw_judge_decay(job, full, tau, (double)(job->n - event) * job->interval);
  if (z > 3) {
    tw_put_concern(r, "hand", "cut a thread instead",
                   "The hand took %.2g decay times: charge and decay can hardly be told apart.", z);
  }
  tw_put_mark(r, origin + s->p[2] * job->interval, (double)NAN, "load on");
  tw_put_mark(r, origin + s->p[2] * job->interval + loading, (double)NAN, "all of it");
  tw_put_curve(job, s, origin, tw_eval_at(job, 0), tw_eval_at(job, job->n - 1));
}

/* where it leaves the rest: the first of 8 samples that lie beyond six times the noise of the first
 * tenth */
static tw_status leaves_rest(tw_eval *job, size_t *event)
{
  double level, noise;
  const size_t quiet = job->n / 10;
  if (!tw_level(job->v, quiet, &level, &noise)) {
    return tw_eval_memory(job);
  }
  const double step = job->record->channel[job->channel].step * fabs(job->scale);
  noise = fmax(noise, isfinite(step) ? step / 2 : 0);
  size_t run = 0;
  for (size_t i = quiet; i < job->n; i++) {
    run = fabs(job->v[i] - level) > 6 * noise ? run + 1 : 0;
    if (run == 8) {
      *event = i - 7;
      return TW_OK;
    }
  }
  return tw_fail(job->fault, TW_BAD_INPUT, "", "check the lead and the weight",
                 "nothing happens in this recording: it stays within six times the noise");
}

tw_status tw_act_hand(tw_eval *job)
{
  size_t event = 0;
  tw_sep s;
  struct hand h;
  tw_status status = job->n < 64 ? tw_fail(job->fault, TW_BAD_INPUT, "", "record longer",
                                           "%zu samples are too few", job->n)
                                 : leaves_rest(job, &event);
  double *t = status == TW_OK ? tw_alloc(job->n, sizeof *t) : NULL;
  if (status == TW_OK) {
    status = t ? hand_fit(job, event, t, &s, &h) : tw_eval_memory(job);
  }
  if (status == TW_OK) {
    hand_features(job, &s, event);
  }
  tw_free(t);
  return status;
}

/* ---- charge against weight --------------------------------------------------------------------
 */

struct line {
  double slope, u_slope, intercept, u_intercept, scatter;
};

/* y = q x through the origin, weights 1/u^2 with u^2 = u_step^2 + (r y)^2, r such that the
 * residuals fit; and the free line whose intercept must be 0 */
static void fit_line(const double *x, const double *y, const double *u, size_t n, struct line *out)
{
  double scatter = 0;
  for (int turn = 0; turn < 20; turn++) {
    double sxx = 0, sxy = 0, sw = 0, sx = 0, sy = 0, chi = 0;
    for (size_t i = 0; i < n; i++) {
      const double w = 1 / (u[i] * u[i] + scatter * scatter * y[i] * y[i]);
      sw += w;
      sx += w * x[i];
      sy += w * y[i];
      sxx += w * x[i] * x[i];
      sxy += w * x[i] * y[i];
    }
    out->slope = sxy / sxx;
    out->u_slope = 1 / sqrt(sxx);
    for (size_t i = 0; i < n; i++) {
      const double w = 1 / (u[i] * u[i] + scatter * scatter * y[i] * y[i]);
      chi += w * (y[i] - out->slope * x[i]) * (y[i] - out->slope * x[i]);
    }
    const double det = sw * sxx - sx * sx;
    out->intercept = det > 0 ? (sxx * sy - sx * sxy) / det : 0;
    out->u_intercept = det > 0 ? sqrt(sxx / det) : (double)INFINITY;
    const double ratio = chi / (double)(n - 1);
    if (ratio < 1.02 && (scatter <= 0 || ratio > 0.98)) {
      break;
    }
    scatter = scatter > 0 ? scatter * sqrt(ratio) : 0.005;
  }
  out->scatter = scatter;
}

static void put_line(tw_eval *job, const double *force, const double *charge, const double *u,
                     size_t n, double common)
{
  struct line l;
  double size[EVENTS_MOST];
  for (size_t i = 0; i < n; i++) {
    size[i] = fabs(charge[i]);
  }
  fit_line(force, size, u, n, &l);
  tw_capture_feature *f = tw_put_feature(job->result, "charge_per_newton", l.slope,
                                         hypot(l.u_slope, common * l.slope), "C/N");
  tw_note(f, "%zu weights; the steps stray by %.2g %%", n, 100 * l.scatter);
  tw_put_feature(job->result, "intercept", l.intercept, l.u_intercept, "C");
  if (n > 2 && fabs(l.intercept) > INTERCEPT_OFF * l.u_intercept) {
    tw_put_concern(job->result, "intercept", "look for friction, dirt in a seat, a second support",
                   "The line misses the origin by %.2g u: the charge is not in proportion.",
                   fabs(l.intercept) / l.u_intercept);
  }
}

tw_status tw_act_table(tw_eval *job)
{
  const tw_capture_setup *s = job->setup;
  const double node = s->node_capacitance + s->instrument.capacitance;
  double charge[EVENTS_MOST], u[EVENTS_MOST], force[EVENTS_MOST];
  const size_t n = job->n < EVENTS_MOST ? job->n : EVENTS_MOST;
  if (!(node > 0)) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "say --node-capacitance \"12 nF\"",
                   "steps become charges with the capacitance of the node, which is not stated");
  }
  if (n < job->n) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "leave some out", "more than %d weights",
                   EVENTS_MOST);
  }
  for (size_t i = 0; i < n; i++) {
    force[i] = job->record->stamp[i];
    charge[i] = node * job->v[i];
    u[i] = fmax(fabs(charge[i]) * 1e-3, node * 1e-6); /* what a reading can show */
    tw_put_mark(job->result, force[i], job->v[i] / job->scale, "");
  }
  tw_put_word_feature(job->result, "polarity", job->v[0] < 0 ? -1 : 1, job->v[0] < 0 ? "-" : "+");
  put_line(job, force, charge, u, n, hypot(s->node_capacitance_u, tw_gain_u(job)));
  return TW_OK;
}

/* ---- one after the other ----------------------------------------------------------------------
 */

struct series {
  size_t at[EVENTS_MOST], count;
  double step[EVENTS_MOST], u_step[EVENTS_MOST], tau, u_tau, noise;
  double level;
};

static tw_status one_event(tw_eval *job, struct series *s, size_t k, tw_cut *c, double *w_tau)
{
  const size_t next = k + 1 < s->count ? s->at[k + 1] - KEEP_OFF : job->n;
  *c = (tw_cut){.v = job->v,
                .n = job->n,
                .event = s->at[k],
                .interval = job->interval,
                .noise = s->noise,
                .cut_time = job->setup->cut_time,
                .to = next};
  c->from = s->at[k] > BEFORE ? s->at[k] - BEFORE : 0;
  if (k > 0 && c->from < s->at[k - 1]) {
    c->from = s->at[k - 1] + (s->at[k] - s->at[k - 1]) / 2;
  }
  const tw_status status = tw_cut_fit(c, job->fault);
  if (status == TW_OK) {
    s->step[k] = c->step;
    s->u_step[k] = c->u_step;
    const double w = c->u_shape > 0 ? 1 / (c->u_shape * c->u_shape) : 0;
    s->tau += w * c->shape;
    *w_tau += w;
    tw_put_mark(job->result, tw_eval_at(job, s->at[k]) + c->at, (s->level + c->step) / job->scale,
                "step");
  }
  return status;
}

static tw_status series_charges(tw_eval *job, const struct series *s)
{
  double u_r, charge[EVENTS_MOST], u[EVENTS_MOST], force[EVENTS_MOST];
  const tw_capture_setup *set = job->setup;
  const double r = tw_node_resistance(set, &u_r);
  const double node = set->node_capacitance + set->instrument.capacitance;
  const double each = r > 0 ? s->tau / r : node;
  const double common = r > 0 ? hypot(s->u_tau / s->tau, u_r / r) : set->node_capacitance_u;
  if (set->weights == 0) {
    return TW_OK;
  }
  if (set->weights != s->count) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "state them in the order of the events: --weights",
                   "%zu event%s in the recording, but %zu weight%s", s->count,
                   s->count == 1 ? "" : "s", set->weights, set->weights == 1 ? "" : "s");
  }
  if (!(each > 0)) {
    tw_put_concern(
        job->result, "resistance", "say --bias-resistor, or --node-capacitance",
        "Neither the bias resistor nor the capacitance of the node is known: no charge.");
    return TW_OK;
  }
  for (size_t k = 0; k < s->count; k++) {
    force[k] = set->weight[k] * TW_GRAVITY;
    charge[k] = each * s->step[k];
    u[k] = fmax(each * s->u_step[k], 1e-4 * fabs(charge[k]));
  }
  put_line(job, force, charge, u, s->count, hypot(hypot(common, tw_gain_u(job)), set->weight_u));
  return TW_OK;
}

static tw_status each_event(tw_eval *job, struct series *s, tw_cut *c)
{
  double w_tau = 0, scatter;
  const size_t quiet = s->at[0] > QUIET_LEAST ? s->at[0] - KEEP_OFF : 0;
  if (quiet == 0) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "begin to record before the first weight",
                   "no rest before the first event");
  }
  if (!tw_level(job->v, quiet, &s->level, &scatter)) {
    return tw_eval_memory(job);
  }
  s->noise = fmax(s->noise, scatter);
  for (size_t k = 0; k < s->count; k++) {
    const tw_status status = one_event(job, s, k, c, &w_tau);
    if (status != TW_OK) {
      return status;
    }
  }
  s->tau /= w_tau;
  s->u_tau = 1 / sqrt(w_tau);
  return TW_OK;
}

tw_status tw_act_series(tw_eval *job)
{
  struct series *s = tw_alloc(1, sizeof *s);
  tw_cut *c = tw_alloc(1, sizeof *c);
  tw_status status = TW_OK;
  const size_t dead = (size_t)(DEAD_TIME / job->interval);
  if (!s || !c || !tw_jumps(job->v, job->n, dead, EVENTS_MOST, s->at, &s->count, &s->noise)) {
    status = tw_eval_memory(job);
  } else if (s->count == 0) {
    status = tw_fail(job->fault, TW_BAD_INPUT, "", "check the lead and the weights",
                     "nothing happens in this recording: no jump beyond six times the noise");
  } else {
    status = each_event(job, s, c);
  }
  if (status == TW_OK) {
    tw_put_feature(job->result, "events", (double)s->count, 0, "1");
    tw_put_word_feature(job->result, "polarity", s->step[0] < 0 ? -1 : 1,
                        s->step[0] < 0 ? "-" : "+");
    tw_put_feature(job->result, "decay", s->tau, s->u_tau, "s");
    tw_put_feature(job->result, "noise", s->noise, 0, job->unit);
    for (size_t k = 0; k < s->count && k < 12; k++) {
      char name[32];
      snprintf(name, sizeof name, "step_%zu", k + 1);
      tw_put_feature(job->result, name, s->step[k],
                     hypot(s->u_step[k], tw_gain_u(job) * s->step[k]), job->unit);
    }
    tw_judge_decay(job, s->step[0], s->tau,
                   (s->count > 1 ? (double)(s->at[1] - s->at[0]) : (double)job->n) * job->interval);
    status = series_charges(job, s);
  }
  tw_free(s);
  tw_free(c);
  return status;
}
