/* act_cut.c: a weight cut from a thread, by scope (step and decay) or by sound card (a spike). */
#include "act.h"

#include <math.h>

#define QUIET_LEAST  16   /* samples before the event */
#define BEFORE_MOST  4000 /* samples before the event that the fit uses */
#define DECAYS_USED  10
#define LOST_MOST    0.6 /* share of two decay times that may be clipped */
#define PERIOD_LEAST 8   /* samples in a period of the ring */
#define SEEN_DECAYS  8   /* decay times of the step and of the ring that the drawing shows */
#define SEEN_RING    6
#define FITS         3.0 /* rms over noise above which the model is said not to fit */

/* volts of one step of the converter, 0 when not seen */
static double code_of(const tw_eval *job)
{
  const double step = job->record->channel[job->channel].step * fabs(job->scale);
  return isfinite(step) ? step : 0;
}

static double scatter_of(const double *v, size_t n, double level)
{
  double square = 0;
  for (size_t i = 0; i < n; i++) {
    square += (v[i] - level) * (v[i] - level) / (double)n;
  }
  return sqrt(square);
}

/* volts at rest before the event, and the noise there (never below the converter's own) */
static tw_status rest_before(tw_eval *job, size_t event, double *level, double *noise,
                             double *quiet)
{
  const size_t n = event > 2 * QUIET_LEAST ? event - QUIET_LEAST / 2 : event;
  if (event < QUIET_LEAST) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "set the trigger so that a fifth is before it",
                   "only %zu samples before the event: no baseline", event);
  }
  if (!tw_level(job->v, n, level, noise)) {
    return tw_eval_memory(job);
  }
  *quiet = scatter_of(job->v, n, *level);
  *noise = fmax(*noise, code_of(job) / sqrt(12.0));
  return TW_OK;
}

static tw_status find_event(tw_eval *job, size_t *event, double *noise)
{
  size_t count;
  if (!tw_jumps(job->v, job->n, job->n, 1, event, &count, noise)) {
    return tw_eval_memory(job);
  }
  return count > 0
             ? TW_OK
             : tw_fail(job->fault, TW_BAD_INPUT, "",
                       "check the trigger and the lead; --act rest if nothing was done",
                       "nothing happens in this recording: no jump beyond six times the noise");
}

static void put_ring(tw_eval *job, const tw_cut *c)
{
  if (!(c->ring > 0)) {
    return;
  }
  const double quality = 1 / (2 * c->damping);
  tw_put_feature(job->result, "ring_frequency", c->ring, c->u_ring, "Hz");
  tw_put_feature(job->result, "ring_quality", quality, quality * c->u_damping / c->damping, "1");
  if (c->ring * job->interval * PERIOD_LEAST > 1) {
    tw_put_concern(job->result, "slow", "record with a higher rate",
                   "Too slow for the ring: %.1f samples in a period, %d are needed.",
                   1 / (c->ring * job->interval), PERIOD_LEAST);
  }
}

static void put_common(tw_eval *job, const tw_cut *c, double level, double noise,
                       const tw_clip *clip)
{
  tw_capture_result *r = job->result;
  double peak = 0;
  for (size_t i = c->event; i < job->n; i++) {
    peak = fabs(job->v[i] - level) > fabs(peak) ? job->v[i] - level : peak;
  }
  tw_put_word_feature(r, "polarity", c->step < 0 ? -1 : 1, c->step < 0 ? "-" : "+");
  tw_put_feature(r, "baseline", level, noise * sqrt(TW_PI / (2.0 * (double)c->event)), job->unit);
  tw_put_feature(r, "noise", noise, noise / sqrt(2.0 * (double)c->event), job->unit);
  tw_note(tw_put_feature(r, "peak", peak, hypot(noise, tw_gain_u(job) * peak), job->unit),
          "the first swing of the ring; not the step");
  if (c->hum_hz > 0) {
    tw_put_feature(r, "hum", c->hum, hypot(c->u_hum, tw_gain_u(job) * c->hum), job->unit);
    tw_put_feature(r, "hum_frequency", c->hum_hz, c->u_hum_hz, "Hz");
  }
  tw_put_word_feature(r, "clipped", clip ? 1 : 0, clip ? "yes" : "no");
  if (c->fit.rms > FITS * noise) {
    tw_put_concern(r, "model", "look at the drawing: a second mode, a bounce, or a slow cut?",
                   "The model leaves %.2g times the noise.", c->fit.rms / noise);
  }
  r->chi_squared = c->fit.rms * c->fit.rms / (noise * noise) * c->fit.dof;
  r->dof = c->fit.dof;
}

static void put_curve(tw_eval *job, const tw_cut *c)
{
  tw_capture_result *r = job->result;
  const double ring = c->ring > 0 ? SEEN_RING / (c->damping * TW_TWO_PI * c->ring) : 0;
  const double tau = c->coupled ? c->shape * c->input : c->shape;
  const double span = fmax(SEEN_DECAYS * tau, ring);
  const double from = fmax(((double)c->from - (double)c->event) * job->interval, -span / 4);
  const double to = fmin(((double)c->to - (double)c->event) * job->interval, span);
  for (size_t k = 0; k < TW_CAPTURE_CURVE; k++) {
    const double t = from + (to - from) * (double)k / (TW_CAPTURE_CURVE - 1);
    r->curve_t[k] = tw_eval_at(job, c->event) + t;
    r->curve_v[k] = tw_cut_at(c, t) / job->scale;
  }
  r->curve = TW_CAPTURE_CURVE;
}

/* clipped samples leave the fit; too many of them and nothing is left to go by */
static tw_status judge_clip(tw_eval *job, const tw_cut *c, const tw_clip *clip, double tau)
{
  size_t lost = 0;
  const size_t end = c->event + (size_t)(2 * tau / job->interval);
  for (size_t i = c->event; i < end && i < job->n; i++) {
    lost += job->v[i] >= clip->most || job->v[i] <= clip->least;
  }
  tw_put_concern(job->result, "clipped", "set a larger range and record again",
                 "Clipped: %zu samples stand at the %s end of the range; they are left out.",
                 clip->count, clip->high ? "upper" : "lower");
  if ((double)lost * job->interval > LOST_MOST * 2 * tau) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "set a larger range and record again",
                   "clipped: %.0f %% of the first two decay times are gone",
                   100 * (double)lost * job->interval / (2 * tau));
  }
  return TW_OK;
}

static tw_status scope_features(tw_eval *job, tw_cut *c)
{
  const double gain = tw_gain_u(job);
  tw_note(tw_put_feature(job->result, "step", c->step, hypot(c->u_step, gain * c->step), job->unit),
          "at the middle of the cut, ring and decay taken apart");
  tw_put_feature(job->result, "decay", c->shape, c->u_shape, "s");
  put_ring(job, c);
  tw_put_charge(job, c->step, c->u_step, c->shape, c->u_shape);
  tw_judge_decay(job, c->step, c->shape, (double)(c->to - c->event) * job->interval);
  return TW_OK;
}

/* charge by the instrument's own equation: Q = C V + int (x/R_in + V/R_b) dt, V = x + int x/(R_in
 * C_c) dt; the check of the fit */
static double by_integral(const tw_eval *job, const tw_cut *c, double level, double span)
{
  const double dt = job->interval, each = dt / (c->input * c->coupling);
  const size_t end = c->event + (size_t)(span / dt);
  double in = 0, charge = 0;
  for (size_t i = c->event > 8 ? c->event - 8 : 0; i < end && i < job->n; i++) {
    double x = job->v[i] - level;
    if (c->hum_hz > 0) {
      const double w = TW_TWO_PI * c->hum_hz, t = ((double)i - (double)c->event) * dt;
      const size_t at = c->fit.linear - 2;
      x -= c->fit.c[at] * cos(w * t) + c->fit.c[at + 1] * sin(w * t);
    }
    in += x * each;
    charge += dt * (x / c->input + (x + in) / c->bias);
  }
  return charge;
}

static tw_status card_features(tw_eval *job, tw_cut *c, double level)
{
  const tw_capture_setup *s = job->setup;
  const double gain = tw_gain_u(job), in = s->instrument.resistance_u / c->input;
  const double spike = c->shape * c->input;
  const double u = fabs(c->step) * hypot(hypot(c->u_step / c->step, gain), in);
  tw_note(tw_put_feature(job->result, "charge", c->step, u, "C"),
          "of the spike, through the input's %.3g kohm", c->input / 1e3);
  tw_put_per_newton(job, c->step, u);
  tw_put_feature(job->result, "decay", spike, spike * hypot(c->u_shape / c->shape, in), "s");
  tw_put_feature(job->result, "node_capacitance", c->shape - s->instrument.capacitance,
                 hypot(c->shape * hypot(c->u_shape / c->shape, in), s->instrument.capacitance_u),
                 "F");
  put_ring(job, c);
  const double quiet = c->ring > 0 ? 3 / (c->damping * TW_TWO_PI * c->ring) : 0;
  const double span = fmax(8 * spike, quiet + 4 * spike);
  tw_note(
      tw_put_feature(job->result, "charge_by_integral", by_integral(job, c, level, span), u, "C"),
      "integral of the current over the event, as a check");
  tw_put_concern(
      job->result, "spike", "a probe of 10 Mohm shows the step itself",
      "An input of %.3g kohm makes a spike of %.2g ms of each touch; it is fitted as such.",
      c->input / 1e3, 1e3 * spike);
  return TW_OK;
}

/* what the card's gain and resistance must be known for */
static tw_status card_ready(tw_eval *job)
{
  const tw_capture_instrument *in = &job->setup->instrument;
  if (!isfinite(in->resistance)) {
    return tw_fail(job->fault, TW_BAD_INPUT, "",
                   "say --instrument sound_card or --input-resistance",
                   "a charge through a sound card needs the resistance of its input");
  }
  if (job->unit[0] != 'V') {
    tw_put_concern(job->result, "gain",
                   "record a known tone and say --gain-from FILE, or --full-scale",
                   "The volts at full scale are not known: voltage and charge count full scales.");
  }
  return TW_OK;
}

static void set_up(tw_eval *job, tw_cut *c, size_t event, double noise, const tw_clip *clip)
{
  const tw_capture_instrument *in = &job->setup->instrument;
  *c = (tw_cut){.v = job->v,
                .n = job->n,
                .event = event,
                .to = job->n,
                .interval = job->interval,
                .noise = noise,
                .clip = clip,
                .look_for_hum = true,
                .cut_time = job->setup->cut_time};
  c->from = event > BEFORE_MOST ? event - BEFORE_MOST : 0;
  c->coupled = in->coupling > 0 && isfinite(in->resistance);
  c->input = in->resistance;
  c->coupling = in->coupling;
  c->bias = job->setup->bias_resistance > 0 ? job->setup->bias_resistance : (double)INFINITY;
}

/* a long record again, only as far as the decay goes */
static tw_status shorten(tw_cut *c, tw_fault *fault)
{
  const double tau = c->coupled ? c->shape * c->input : c->shape;
  const double ring = c->ring > 0 ? 3 / (c->damping * TW_TWO_PI * c->ring) : 0;
  const double span = fmax(DECAYS_USED * tau, ring) / c->interval;
  if (span > 0 && (double)(c->to - c->event) > 1.5 * span && span > 400 && !(c->hum_hz > 0)) {
    c->to = c->event + (size_t)span;
    return tw_cut_fit(c, fault);
  }
  return TW_OK;
}

tw_status tw_act_cut(tw_eval *job)
{
  size_t event;
  double level = 0, noise = 0, jump_noise, quiet = 0;
  tw_clip clip;
  tw_cut *c = tw_alloc(1, sizeof *c);
  if (!c) {
    return tw_eval_memory(job);
  }
  tw_status status = find_event(job, &event, &jump_noise);
  status = status == TW_OK ? rest_before(job, event, &level, &noise, &quiet) : status;
  if (status == TW_OK) {
    const bool flat = tw_clipped(job->v, job->n, code_of(job), level, &clip);
    set_up(job, c, event, noise, flat ? &clip : NULL);
    c->code = code_of(job);
    c->quiet = quiet;
    status = c->coupled ? card_ready(job) : TW_OK;
    status = status == TW_OK ? tw_cut_fit(c, job->fault) : status;
    status = status == TW_OK ? shorten(c, job->fault) : status;
    if (status == TW_OK && flat) {
      status = judge_clip(job, c, &clip, c->coupled ? c->shape * c->input : c->shape);
    }
  }
  if (status == TW_OK) {
    put_common(job, c, level, noise, c->clip);
    status = c->coupled ? card_features(job, c, level) : scope_features(job, c);
    tw_put_feature(job->result, "event_time", tw_eval_at(job, event) + c->at, c->u_at, "s");
    tw_put_mark(job->result, tw_eval_at(job, event) + c->at, (double)NAN, "cut");
    if (!c->coupled) {
      tw_put_mark(job->result, tw_eval_at(job, event) + c->at, (level + c->step) / job->scale,
                  "step");
    }
    put_curve(job, c);
  }
  tw_free(c);
  return status;
}
