/* act_slow.c: what takes seconds: the node moved slowly over the threshold, a meter's log of a
 * discharge. */
#include "act.h"

#include <math.h>

#define AROUND    60   /* samples to each side of the output's change that make the line */
#define BOUND     20.0 /* leak over the meter's resistance above which there is only a lower bound */
#define LOG_LEAST 8

/* ---- ramp -------------------------------------------------------------------------------------
 */

/* straight line through v[from..to) over sample numbers; value and slope at `at` */
static void line_at(const double *v, size_t from, size_t to, double at, double *value,
                    double *slope, double *scatter)
{
  const double n = (double)(to - from), middle = ((double)from + (double)to - 1) / 2;
  double mean = 0, sxx = 0, sxy = 0, square = 0;
  for (size_t i = from; i < to; i++) {
    mean += v[i] / n;
    sxx += ((double)i - middle) * ((double)i - middle);
    sxy += ((double)i - middle) * v[i];
  }
  *slope = sxx > 0 ? sxy / sxx : 0;
  *value = mean + *slope * (at - middle);
  for (size_t i = from; i < to; i++) {
    const double r = v[i] - mean - *slope * ((double)i - middle);
    square += r * r;
  }
  *scatter = n > 2 ? sqrt(square / (n - 2)) : 0;
}

struct change {
  double at; /* sample number, between the two */
  double node, slope, u;
};

static void read_change(const tw_eval *job, size_t k, struct change *out)
{
  const size_t from = k > AROUND ? k - AROUND : 0;
  const size_t to = k + AROUND < job->n ? k + AROUND : job->n;
  const double step = job->record->channel[job->channel].step * fabs(job->scale);
  double scatter;
  out->at = (double)k - 0.5;
  line_at(job->v, from, to, out->at, &out->node, &out->slope, &scatter);
  const double code = isfinite(step) ? step : 0;
  out->u =
      sqrt(scatter * scatter / (double)(to - from) + (code * code + out->slope * out->slope) / 12);
}

/* the output's changes: crossings of its middle by marks at 30 and 70 % */
static size_t changes(const tw_eval *job, const double *out, struct change *list, size_t room)
{
  double least = out[0], most = out[0];
  for (size_t i = 0; i < job->n; i++) {
    least = fmin(least, out[i]);
    most = fmax(most, out[i]);
  }
  const double low = least + 0.3 * (most - least), high = least + 0.7 * (most - least);
  bool up = out[0] > (least + most) / 2;
  size_t n = 0;
  for (size_t i = 1; i < job->n && n < room; i++) {
    if (up ? out[i] < low : out[i] > high) {
      up = !up;
      read_change(job, i, &list[n++]);
    }
  }
  return n;
}

static tw_status put_ramp(tw_eval *job, const struct change *c, size_t n)
{
  tw_capture_result *r = job->result;
  const struct change *away = NULL, *back = NULL;
  const double gain = tw_gain_u(job);
  const double sign = c[0].slope >= 0 ? 1 : -1; /* the way of the ramp at the first change */
  for (size_t k = 0; k < n; k++) {
    if (!away && sign * c[k].slope > 0) {
      away = &c[k];
    }
    if (away && !back && sign * c[k].slope < 0) {
      back = &c[k];
    }
    tw_put_mark(r, tw_eval_at(job, 0) + c[k].at * job->interval, c[k].node / job->scale,
                sign * c[k].slope > 0 ? "threshold" : "release");
  }
  tw_put_feature(r, "threshold", away->node, hypot(away->u, gain * away->node), job->unit);
  if (back) {
    tw_put_feature(r, "release", back->node, hypot(back->u, gain * back->node), job->unit);
    const double h = away->node - back->node;
    tw_put_feature(r, "hysteresis", h, hypot(hypot(away->u, back->u), gain * h), job->unit);
  } else {
    tw_put_concern(r, "short", "go back below the release in the same recording",
                   "The ramp does not come back: no release.");
  }
  tw_put_feature(r, "changes", (double)n, 0, "1");
  if (n > 2) {
    tw_put_concern(r, "chatter", "hum or too little hysteresis",
                   "The output changes %zu times in one ramp up and down; the first change counts.",
                   n);
  }
  return TW_OK;
}

tw_status tw_act_ramp(tw_eval *job)
{
  struct change list[TW_CAPTURE_MARKS];
  const size_t other = job->channel == 0 ? 1 : 0;
  const double *out = tw_eval_other(job, other);
  if (!out) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "record node and output together",
                   "a ramp needs two channels: the node and the output");
  }
  const size_t n = changes(job, out, list, TW_CAPTURE_MARKS);
  if (n == 0) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "go further, or see whether it trips at all",
                   "the output does not change in this recording");
  }
  return put_ramp(job, list, n);
}

/* ---- meter ------------------------------------------------------------------------------------
 */

static bool decay_basis(double t, const double *p, double *row, const void *self)
{
  (void)self;
  row[0] = exp(-t / exp(p[0]));
  return isfinite(row[0]);
}

static void put_leak(tw_eval *job, double tau, double u_tau)
{
  const tw_capture_setup *s = job->setup;
  const double c = s->film_capacitor, meter = s->instrument.resistance;
  tw_capture_result *r = job->result;
  if (!(c > 0)) {
    tw_put_concern(r, "capacitor", "say --film-capacitor \"1 uF\"",
                   "The capacitor on the node is not stated: no leak.");
    return;
  }
  const double g = c / tau - 1 / meter, total = c / tau;
  const double u_g = hypot(total * u_tau / tau,
                           isfinite(meter) ? s->instrument.resistance_u / (meter * meter) : 0);
  const bool bound = !(g > 2 * u_g) || 1 / g > BOUND * meter;
  const double leak = bound ? 1 / fmax(g + 2 * u_g, 1e-18) : 1 / g;
  tw_capture_feature *f = tw_put_feature(r, "leak", leak, bound ? 0 : u_g / (g * g), "ohm");
  f->least = bound;
  tw_note(f, bound ? "a lower bound: too large beside the meter to be told" : "");
}

static tw_status fit_log(tw_eval *job, double *t, tw_sep *s)
{
  for (size_t i = 0; i < job->n; i++) {
    t[i] = tw_eval_at(job, i) - tw_eval_at(job, 0);
  }
  *s = (tw_sep){.points = job->n, .t = t, .v = job->v, .linear = 1, .basis = decay_basis};
  double best = (double)INFINITY, start = 0;
  for (int k = 0; k < 30; k++) {
    s->p[0] = log(t[job->n - 1]) + 1.5 - 0.25 * k;
    const tw_status status = tw_sep_linear(s, job->fault);
    if (status == TW_NO_MEMORY || status == TW_BAD_INPUT) {
      return status;
    }
    if (status == TW_OK && s->rms < best) {
      best = s->rms;
      start = s->p[0];
    }
  }
  s->p[0] = start;
  s->free = 1;
  return tw_sep_fit(s, job->fault);
}

tw_status tw_act_meter(tw_eval *job)
{
  tw_sep s;
  if (job->n < LOG_LEAST) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "read the meter longer", "only %zu readings",
                   job->n);
  }
  double *t = tw_alloc(job->n, sizeof *t);
  const tw_status status = t ? fit_log(job, t, &s) : tw_eval_memory(job);
  if (status == TW_OK) {
    const double tau = exp(s.p[0]), u = tau * tw_sep_u_free(&s, 0);
    tw_put_feature(job->result, "decay", tau, u, "s");
    tw_put_feature(job->result, "start", s.c[0],
                   hypot(tw_sep_u_linear(&s, 0), tw_gain_u(job) * s.c[0]), job->unit);
    tw_put_feature(job->result, "noise", s.rms, s.rms / sqrt(2 * s.dof), job->unit);
    put_leak(job, tau, u);
    tw_judge_decay(job, s.c[0], tau, t[job->n - 1]);
    tw_put_curve(job, &s, tw_eval_at(job, 0), tw_eval_at(job, 0), tw_eval_at(job, job->n - 1));
  }
  tw_free(t);
  return status;
}
