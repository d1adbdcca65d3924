/* act_ring.c: tapped and left to ring: the first mode and, if there is one, a second beside it. */
#include "act.h"

#include <math.h>

#define AFTER    0.3e-3 /* s after the tap: what the striker does itself is over */
#define LEAST_HZ 150.0
#define FIRST    8192 /* samples of the first look */
#define DECAYS   7    /* decay times of the amplitude that the fit uses */
#define POINTS   20000
#define BETTER   0.98 /* rms with the second mode over that without, to keep it */
#define PERIOD   8    /* samples in a period */

/* offset and two quadratures a mode; p: ln f, ln damping of each */
static bool basis(double t, const double *p, double *row, const void *self)
{
  const size_t modes = *(const size_t *)self;
  row[0] = 1;
  for (size_t m = 0; m < modes; m++) {
    const double w0 = TW_TWO_PI * exp(p[2 * m]), zeta = exp(p[2 * m + 1]);
    if (!(zeta < 0.9) || !isfinite(w0)) {
      return false;
    }
    const double size = exp(-zeta * w0 * t), phase = w0 * sqrt(1 - zeta * zeta) * t;
    row[1 + 2 * m] = size * cos(phase);
    row[2 + 2 * m] = size * sin(phase);
  }
  return true;
}

struct ring {
  tw_eval *job;
  tw_sep s;
  size_t modes, begin, count;
  double *t, *rest;
};

static void set_up(struct ring *g, size_t count, size_t free)
{
  g->count = count;
  for (size_t i = 0; i < count; i++) {
    g->t[i] = (double)i * g->job->interval;
  }
  g->s.points = count;
  g->s.t = g->t;
  g->s.v = g->job->v + g->begin;
  g->s.linear = 1 + 2 * g->modes;
  g->s.free = free;
  g->s.basis = basis;
  g->s.self = &g->modes;
}

/* damping of the mode added last, over a grid */
static tw_status start_damping(struct ring *g)
{
  double best = (double)INFINITY, damping = log(0.01);
  double *p = &g->s.p[2 * g->modes - 1];
  for (int k = 0; k < 14; k++) {
    *p = log(0.001) + 0.4 * k;
    set_up(g, g->count, 0);
    const tw_status status = tw_sep_linear(&g->s, g->job->fault);
    if (status == TW_NO_MEMORY || status == TW_BAD_INPUT) {
      return status;
    }
    if (status == TW_OK && g->s.rms < best) {
      best = g->s.rms;
      damping = *p;
    }
  }
  *p = damping;
  return TW_OK;
}

static tw_status add_mode(struct ring *g, const double *v, size_t n)
{
  double hz;
  if (!tw_line(v, n, g->job->interval, LEAST_HZ, 0.45 / g->job->interval, &hz)) {
    return tw_eval_memory(g->job);
  }
  if (!(hz > 0)) {
    return tw_fail(g->job->fault, TW_NO_ANSWER, "", "tap harder, or check the lead",
                   "no line above %g Hz", LEAST_HZ);
  }
  g->s.p[2 * g->modes] = log(hz);
  g->modes++;
  return start_damping(g);
}

/* the second mode: what the first leaves; kept when the fit is better with it */
static tw_status second_mode(struct ring *g)
{
  const tw_sep one = g->s;
  for (size_t i = 0; i < g->count; i++) {
    g->rest[i] = g->s.v[i] - tw_sep_at(&g->s, g->t[i]);
  }
  tw_status status = add_mode(g, g->rest, g->count);
  if (status == TW_OK) {
    set_up(g, g->count, 4);
    status = tw_sep_fit(&g->s, g->job->fault);
  }
  if (status == TW_NO_MEMORY) {
    return status;
  }
  if (status != TW_OK || g->s.rms > BETTER * one.rms || g->s.p[2] < log(LEAST_HZ)) {
    g->s = one;
    g->modes = 1;
  }
  return TW_OK;
}

static tw_status fit(struct ring *g)
{
  const size_t left = g->job->n - g->begin;
  g->count = left < FIRST ? left : FIRST;
  tw_status status = add_mode(g, g->job->v + g->begin, g->count);
  if (status == TW_OK) {
    set_up(g, g->count, 2);
    status = tw_sep_fit(&g->s, g->job->fault);
  }
  if (status != TW_OK) {
    return status;
  }
  const double decay = 1 / (exp(g->s.p[1]) * TW_TWO_PI * exp(g->s.p[0]));
  const double span = DECAYS * decay / g->job->interval;
  size_t count = span < (double)left ? (size_t)span : left;
  count = count > POINTS ? POINTS : count < 64 ? (left < 64 ? left : 64) : count;
  set_up(g, count, 2);
  status = tw_sep_fit(&g->s, g->job->fault);
  return status == TW_OK ? second_mode(g) : status;
}

static void put(struct ring *g)
{
  tw_capture_result *r = g->job->result;
  const size_t first = g->modes == 2 && hypot(g->s.c[3], g->s.c[4]) > hypot(g->s.c[1], g->s.c[2]) &&
                       g->s.p[2] < g->s.p[0];
  for (size_t k = 0; k < g->modes; k++) {
    const size_t m = k == 0 ? first : 1 - first;
    const double zeta = exp(g->s.p[2 * m + 1]), w = sqrt(1 - zeta * zeta);
    /* the damped frequency is what is seen; Q = pi f/a; f_0 = f sqrt(1 + 1/(4 Q^2)) */
    const double free = exp(g->s.p[2 * m]), hz = free * w, q = w / (2 * zeta);
    tw_put_feature(r, k == 0 ? "resonance" : "resonance_second", hz,
                   hz * tw_sep_u_free(&g->s, 2 * m), "Hz");
    tw_put_feature(r, k == 0 ? "quality" : "quality_second", q, q * tw_sep_u_free(&g->s, 2 * m + 1),
                   "1");
    tw_put_feature(r, k == 0 ? "amplitude" : "amplitude_second",
                   hypot(g->s.c[1 + 2 * m], g->s.c[2 + 2 * m]), tw_sep_u_linear(&g->s, 1 + 2 * m),
                   g->job->unit);
    if (hz * g->job->interval * PERIOD > 1 && k == 0) {
      tw_put_concern(r, "slow", "record with a higher rate",
                     "Too slow: %.1f samples in a period, %d are needed.",
                     1 / (hz * g->job->interval), PERIOD);
    }
  }
  tw_put_feature(r, "noise", g->s.rms, g->s.rms / sqrt(2 * g->s.dof), g->job->unit);
  const double origin = tw_eval_at(g->job, g->begin);
  tw_put_mark(r, origin, (double)NAN, "ring");
  tw_put_curve(g->job, &g->s, origin, origin, origin + (double)g->count * g->job->interval);
}

static tw_status judge_clip(tw_eval *job)
{
  double level, noise;
  tw_clip clip;
  if (!tw_level(job->v, job->n, &level, &noise)) {
    return tw_eval_memory(job);
  }
  const double step = job->record->channel[job->channel].step * fabs(job->scale);
  const bool flat = tw_clipped(job->v, job->n, step, level, &clip);
  tw_put_word_feature(job->result, "clipped", flat, flat ? "yes" : "no");
  if (flat) {
    tw_put_concern(job->result, "clipped", "turn the input down and tap again",
                   "Clipped: %zu samples stand at the end of the range; damping is too low then.",
                   clip.count);
  }
  return TW_OK;
}

tw_status tw_act_ring(tw_eval *job)
{
  struct ring g = {.job = job};
  size_t event, count;
  double noise;
  if (!tw_jumps(job->v, job->n, job->n, 1, &event, &count, &noise)) {
    return tw_eval_memory(job);
  }
  /* a record that begins within the ring has no jump: it begins at its loudest */
  g.begin = (count ? event : 0) + (size_t)(AFTER / job->interval) + 1;
  if (g.begin + 64 > job->n) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "record longer after the tap",
                   "too short: %zu samples after the tap", job->n > g.begin ? job->n - g.begin : 0);
  }
  g.t = tw_alloc(job->n, sizeof *g.t);
  g.rest = tw_alloc(job->n, sizeof *g.rest);
  tw_status status = g.t && g.rest ? fit(&g) : tw_eval_memory(job);
  if (status == TW_OK) {
    put(&g);
    status = judge_clip(job);
  }
  tw_free(g.t);
  tw_free(g.rest);
  return status;
}
