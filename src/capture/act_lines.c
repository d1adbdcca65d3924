/* act_lines.c: a known tone; a record at rest: hum and noise. */
#include "act.h"

#include <math.h>
#include <stdio.h>

#define TONE_LEAST 10.0  /* Hz */
#define TONE_MOST  20000 /* samples of a tone that are fitted: twenty milliseconds to seconds */
#define HARMONICS  5
#define HUM_LOW    45.0
#define HUM_HIGH   65.0
#define REST_MOST  100000
#define SEEN       3 /* u that hum must stand above to be called hum */

struct sines {
  double start; /* Hz */
  size_t harmonics;
};

/* offset, then cos and sin of each harmonic; p: Hz off the start, plus one */
static bool basis(double t, const double *p, double *row, const void *self)
{
  const struct sines *s = self;
  const double w = TW_TWO_PI * (s->start + p[0] - 1);
  row[0] = 1;
  for (size_t h = 0; h < s->harmonics; h++) {
    row[1 + 2 * h] = cos((double)(h + 1) * w * t);
    row[2 + 2 * h] = sin((double)(h + 1) * w * t);
  }
  return w > 0;
}

static double size_of(const tw_sep *s, size_t h, double *u)
{
  const double x = s->c[1 + 2 * h], y = s->c[2 + 2 * h], size = hypot(x, y);
  double slope[TW_SEP_ALL] = {0};
  slope[1 + 2 * h] = size > 0 ? x / size : 1;
  slope[2 + 2 * h] = size > 0 ? y / size : 1;
  *u = sqrt(tw_sep_variance(s, slope));
  return size;
}

static tw_status fit(tw_eval *job, const struct sines *m, size_t n, double *t, tw_sep *s)
{
  for (size_t i = 0; i < n; i++) {
    t[i] = ((double)i - (double)n / 2) * job->interval;
  }
  *s = (tw_sep){.points = n,
                .t = t,
                .v = job->v,
                .linear = 1 + 2 * m->harmonics,
                .free = 1,
                .basis = basis,
                .self = m,
                .p = {1}};
  return tw_sep_fit(s, job->fault);
}

static tw_status tone_features(tw_eval *job, const tw_sep *s, const struct sines *m, size_t n)
{
  tw_capture_result *r = job->result;
  double u, level, noise;
  tw_clip clip;
  const double size = size_of(s, 0, &u), volts = job->setup->tone_voltage;
  const double hz = m->start + s->p[0] - 1;
  tw_put_feature(r, "amplitude", size, u, job->unit);
  tw_put_feature(r, "frequency", hz, tw_sep_u_free(s, 0), "Hz");
  tw_put_feature(r, "noise", s->rms, s->rms / sqrt(2 * s->dof), job->unit);
  if (volts > 0) {
    const double full = sqrt(2.0) * volts * job->scale / size;
    tw_note(tw_put_feature(r, "volts_at_full_scale", full, full * u / size, "V"),
            "at this knob setting, load and rate only");
  } else {
    tw_put_concern(r, "tone", "say --tone \"0.25 V\" (effective value, by a true-rms meter)",
                   "The voltage of the tone is not stated: no volts at full scale.");
  }
  if (!tw_level(job->v, job->n, &level, &noise)) {
    return tw_eval_memory(job);
  }
  const double step = job->record->channel[job->channel].step * fabs(job->scale);
  const bool flat = tw_clipped(job->v, job->n, step, level, &clip);
  tw_put_word_feature(r, "clipped", flat, flat ? "yes" : "no");
  if (flat || s->rms > 0.1 * size) {
    tw_put_concern(r, flat ? "clipped" : "tone",
                   "turn the input down; switch off what the system "
                   "calls enhancements",
                   flat ? "Clipped: %zu samples stand at the end of the range."
                        : "This is no pure tone (%zu samples).",
                   flat ? clip.count : n);
  }
  const double middle = tw_eval_at(job, n / 2), span = 4 / hz;
  tw_put_curve(job, s, middle, middle - span, middle + span);
  return TW_OK;
}

tw_status tw_act_tone(tw_eval *job)
{
  struct sines m = {.harmonics = 1};
  tw_sep s;
  const size_t n = job->n < TONE_MOST ? job->n : TONE_MOST;
  if (!tw_line(job->v, n, job->interval, TONE_LEAST, 0.45 / job->interval, &m.start)) {
    return tw_eval_memory(job);
  }
  if (!(m.start > 0)) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "play the tone and record again", "no tone in it");
  }
  double *t = tw_alloc(n, sizeof *t);
  tw_status status = t ? fit(job, &m, n, t, &s) : tw_eval_memory(job);
  status = status == TW_OK ? tone_features(job, &s, &m, n) : status;
  tw_free(t);
  return status;
}

/* ---- rest -------------------------------------------------------------------------------------
 */

static void rest_features(tw_eval *job, const tw_sep *s, const struct sines *m, size_t n)
{
  tw_capture_result *r = job->result;
  const double gain = tw_gain_u(job), hz = m->start + s->p[0] - 1;
  double u;
  tw_put_feature(r, "baseline", s->c[0], tw_sep_u_linear(s, 0), job->unit);
  tw_note(tw_put_feature(r, "noise_rms", s->rms, hypot(s->rms / sqrt(2 * s->dof), gain * s->rms),
                         job->unit),
          "without the hum, up to %.3g Hz", 0.5 / job->interval);
  for (size_t h = 0; h < m->harmonics; h++) {
    char name[32] = "hum";
    const double size = size_of(s, h, &u);
    if (h > 0) {
      snprintf(name, sizeof name, "hum_%zu", h + 1);
    }
    if (h > 0 && size < SEEN * u) {
      continue;
    }
    tw_capture_feature *f = tw_put_feature(r, name, size, hypot(u, gain * size), job->unit);
    tw_note(f, size < SEEN * u ? "not above the noise" : "amplitude at %.4g Hz",
            (double)(h + 1) * hz);
  }
  tw_put_feature(r, "hum_frequency", hz, tw_sep_u_free(s, 0), "Hz");
  const double middle = tw_eval_at(job, n / 2), span = fmin(0.05, (double)n / 2 * job->interval);
  tw_put_curve(job, s, middle, middle - span, middle + span);
  const double step = job->record->channel[job->channel].step * fabs(job->scale);
  if (isfinite(step) && step > 2 * s->rms) {
    tw_put_concern(r, "range", "set a smaller range",
                   "One step of the converter (%.2g) is more than twice the noise: the noise is "
                   "that of the instrument.",
                   step);
  }
}

tw_status tw_act_rest(tw_eval *job)
{
  struct sines m = {.harmonics = HARMONICS};
  tw_sep s;
  const size_t n = job->n < REST_MOST ? job->n : REST_MOST;
  if ((double)n * job->interval < 4 / HUM_LOW) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "record a second or more",
                   "too short: %.3g s, hum needs four periods", (double)n * job->interval);
  }
  if (!tw_line(job->v, n, job->interval, HUM_LOW, HUM_HIGH, &m.start)) {
    return tw_eval_memory(job);
  }
  m.start = m.start > 0 ? m.start : 50;
  while (m.harmonics > 1 && (double)m.harmonics * HUM_HIGH * job->interval > 0.4) {
    m.harmonics--;
  }
  double *t = tw_alloc(n, sizeof *t);
  tw_status status = t ? fit(job, &m, n, t, &s) : tw_eval_memory(job);
  if (status == TW_OK) {
    rest_features(job, &s, &m, n);
  }
  tw_free(t);
  return status;
}
