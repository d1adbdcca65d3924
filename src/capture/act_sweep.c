/* act_sweep.c: the disc through a series resistor: H = Z/(Z + R_s), 1/Z = j w C_0 + the mounted
 * mode's branch. Fitted as a whole; the extremes of |H| are starts only. */
#include "act.h"
#include "complex_of.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_fft_complex.h>
#include <math.h>

#define BIN_LINES    12   /* lines of the spectra in one value of H */
#define POWER_LEAST  0.01 /* of the generator's largest, for a bin to count */
#define LONGEST      ((size_t)1 << 20)
#define POINTS_LEAST 24

enum { P_C0, P_FR, P_RATIO, P_Q }; /* ln C_0, ln f_r, ln C_1/C_0, ln Q_m */

struct sweep {
  double series;
  bool amplitude; /* |H| only; else real parts at f and imaginary parts at -f */
  double *f, *h;
  size_t count;
};

static double complex response(const double *p, double series, double f)
{
  const double c0 = exp(p[P_C0]), fr = exp(p[P_FR]), c1 = c0 * exp(p[P_RATIO]), q = exp(p[P_Q]);
  const double w = TW_TWO_PI * f, x = f / fr;
  /* branch R L C: j w C_1/(1 - x^2 + j x/Q) */
  const double complex y = CMPLX(0, w * c0) + CMPLX(0, w * c1) / CMPLX(1 - x * x, x / q);
  return 1 / (1 + series * y);
}

/* one column: the gain from generator to disc channel */
static bool basis(double t, const double *p, double *row, const void *self)
{
  const struct sweep *s = self;
  const double complex h = response(p, s->series, fabs(t));
  row[0] = s->amplitude ? cabs(h) : t > 0 ? creal(h) : cimag(h);
  return isfinite(row[0]) && p[P_RATIO] < 3 && p[P_Q] < 9;
}

static double size_at(const struct sweep *s, size_t i)
{
  return s->amplitude ? fabs(s->h[i]) : hypot(s->h[i], s->h[i + s->count / 2]);
}

/* start: where |H| against its slow course is least and, behind it, most */
static void start(const struct sweep *s, tw_sep *fit)
{
  const size_t n = s->amplitude ? s->count : s->count / 2;
  size_t low = 0, high = 0;
  double most_fall = 0;
  /* the deepest fall below the line through the ends in ln f */
  for (size_t i = 0; i < n; i++) {
    const double share = (double)i / (double)(n - 1);
    const double line = (1 - share) * size_at(s, 0) + share * size_at(s, n - 1);
    if (line - size_at(s, i) > most_fall) {
      most_fall = line - size_at(s, i);
      low = i;
    }
  }
  high = low;
  for (size_t i = low; i < n && s->f[i] < 1.7 * s->f[low]; i++) {
    high = size_at(s, i) > size_at(s, high) ? i : high;
  }
  const double ratio = pow(s->f[high] / s->f[low], 2) - 1;
  fit->p[P_FR] = log(s->f[low]);
  fit->p[P_RATIO] = log(ratio > 0.005 ? ratio : 0.005);
}

static tw_status grid(tw_sep *fit, tw_fault *fault)
{
  double best = (double)INFINITY, c0 = log(1e-8), q = log(30);
  for (int k = 0; k < 30; k++) {
    for (int j = 0; j < 6; j++) {
      fit->p[P_C0] = log(5e-10) + 0.2 * k;
      fit->p[P_Q] = log(5) + 0.7 * j;
      const tw_status status = tw_sep_linear(fit, fault);
      if (status == TW_NO_MEMORY || status == TW_BAD_INPUT) {
        return status;
      }
      if (status == TW_OK && fit->rms < best) {
        best = fit->rms;
        c0 = fit->p[P_C0];
        q = fit->p[P_Q];
      }
    }
  }
  fit->p[P_C0] = c0;
  fit->p[P_Q] = q;
  return TW_OK;
}

static void put_features(tw_eval *job, const struct sweep *s, const tw_sep *fit)
{
  tw_capture_result *r = job->result;
  const double c0 = exp(fit->p[P_C0]), fr = exp(fit->p[P_FR]), x = exp(fit->p[P_RATIO]);
  const double q = exp(fit->p[P_Q]), fa = fr * sqrt(1 + x), k = sqrt(x / (1 + x)),
               ct = c0 * (1 + x);
  double slope[TW_SEP_ALL] = {0};
  tw_put_feature(r, "resonance", fr, fr * tw_sep_u_free(fit, P_FR), "Hz");
  slope[1 + P_FR] = fa;
  slope[1 + P_RATIO] = fa * x / (2 * (1 + x));
  tw_put_feature(r, "antiresonance", fa, sqrt(tw_sep_variance(fit, slope)), "Hz");
  tw_note(tw_put_feature(r, "coupling", k, k * tw_sep_u_free(fit, P_RATIO) / (2 * (1 + x)), "1"),
          "k_eff of this mode, not the ceramic's k_p");
  tw_put_feature(r, "quality", q, q * tw_sep_u_free(fit, P_Q), "1");
  slope[1 + P_FR] = 0;
  slope[1 + P_C0] = ct;
  slope[1 + P_RATIO] = c0 * x;
  tw_note(tw_put_feature(r, "capacitance", ct, sqrt(tw_sep_variance(fit, slope)), "F"),
          "well below the resonance, the series resistor as stated");
  tw_put_feature(r, "gain_ratio", fit->c[0], tw_sep_u_linear(fit, 0), "1");
  const double share = s->series * TW_TWO_PI * fr * ct;
  if (share < 0.2 || share > 5) {
    tw_put_concern(r, "resistor", "take a series resistor near 1/(w C)",
                   "The series resistor is %.2g times the disc's reactance at resonance.", share);
  }
  for (size_t i = 0; s->amplitude && i < TW_CAPTURE_CURVE; i++) {
    const double f = s->f[0] + (s->f[s->count - 1] - s->f[0]) * (double)i / (TW_CAPTURE_CURVE - 1);
    r->curve_t[r->curve] = f;
    r->curve_v[r->curve++] =
        tw_sep_at(fit, f) * job->record->channel[0].most; /* generator at its own size */
  }
  tw_put_mark(r, fr, (double)NAN, "resonance");
  tw_put_mark(r, fa, (double)NAN, "antiresonance");
}

static tw_status fit_sweep(tw_eval *job, struct sweep *s)
{
  tw_sep fit = {
      .points = s->count, .t = s->f, .v = s->h, .linear = 1, .free = 4, .basis = basis, .self = s};
  if (s->count < POINTS_LEAST) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "sweep in finer steps", "only %zu frequencies",
                   s->count);
  }
  start(s, &fit);
  tw_status status = grid(&fit, job->fault);
  status = status == TW_OK ? tw_sep_fit(&fit, job->fault) : status;
  if (status == TW_OK) {
    put_features(job, s, &fit);
  }
  return status;
}

/* ---- what is swept ----------------------------------------------------------------------------
 */

static tw_status by_frequency(tw_eval *job, struct sweep *s)
{
  const tw_capture_record *r = job->record;
  const double *a = r->channel[0].value, *b = tw_eval_other(job, 1);
  s->amplitude = true;
  for (size_t i = 0; i < job->n; i++) {
    s->f[i] = r->stamp[i];
    s->h[i] = (b ? b[i] / a[i] : a[i]) / job->setup->channel_ratio;
    if (!isfinite(s->h[i])) {
      return tw_fail(job->fault, TW_BAD_INPUT, "", "the first channel is the generator",
                     "the generator is 0 at row %zu", i + 1);
    }
  }
  s->count = job->n;
  return TW_OK;
}

/* ratio of spectra, H = sum Y X* / sum |X|^2 in bins; no quasi-static assumption */
static void by_spectra(tw_eval *job, struct sweep *s, double *x, double *y, size_t size)
{
  const double bin = 1 / (job->interval * (double)size);
  double most = 0;
  gsl_set_error_handler_off();
  gsl_fft_complex_radix2_forward(x, 1, size);
  gsl_fft_complex_radix2_forward(y, 1, size);
  for (int pass = 0; pass < 2; pass++) {
    s->count = 0;
    for (size_t k = BIN_LINES; k + BIN_LINES < size / 2; k += BIN_LINES) {
      double complex sum = 0;
      double power = 0;
      for (size_t i = k; i < k + BIN_LINES; i++) {
        const double complex cx = CMPLX(x[2 * i], x[2 * i + 1]), cy = CMPLX(y[2 * i], y[2 * i + 1]);
        sum += cy * conj(cx);
        power += creal(cx * conj(cx));
      }
      most = pass == 0 ? fmax(most, power) : most;
      if (pass == 1 && power > POWER_LEAST * most) {
        s->f[s->count] = bin * ((double)k + (BIN_LINES - 1) / 2.0);
        s->h[s->count++] = creal(sum) / power / job->setup->channel_ratio;
        y[2 * s->count - 2] = cimag(sum) / power / job->setup->channel_ratio;
      }
    }
  }
  /* the imaginary parts behind the real ones, at minus the frequency */
  for (size_t i = 0; i < s->count; i++) {
    s->f[s->count + i] = -s->f[i];
    s->h[s->count + i] = y[2 * i];
  }
  s->count *= 2;
}

static tw_status by_chirp(tw_eval *job, struct sweep *s)
{
  const double *a = job->record->channel[0].value, *b = tw_eval_other(job, 1);
  size_t size = 2;
  if (!b) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "record generator and disc together",
                   "a sweep in time needs two channels: the generator and the disc");
  }
  while (size < job->n && size < LONGEST) {
    size *= 2;
  }
  const size_t n = job->n < size ? job->n : size;
  double *x = tw_alloc(2 * size, sizeof *x), *y = tw_alloc(2 * size, sizeof *y);
  for (size_t i = 0; x && y && i < n; i++) {
    x[2 * i] = a[i];
    y[2 * i] = b[i];
  }
  if (x && y) {
    by_spectra(job, s, x, y, size);
  }
  const bool fine = x && y;
  tw_free(x);
  tw_free(y);
  return fine ? TW_OK : tw_eval_memory(job);
}

tw_status tw_act_sweep(tw_eval *job)
{
  struct sweep s = {.series = job->setup->series_resistance};
  if (!(s.series > 0)) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "say --series-resistor \"1 kohm\"",
                   "a sweep needs the resistor between generator and disc");
  }
  s.f = tw_alloc(2 * job->n + 2, sizeof *s.f);
  s.h = tw_alloc(2 * job->n + 2, sizeof *s.h);
  tw_status status = !s.f || !s.h                             ? tw_eval_memory(job)
                     : job->record->axis == TW_AXIS_FREQUENCY ? by_frequency(job, &s)
                                                              : by_chirp(job, &s);
  status = status == TW_OK ? fit_sweep(job, &s) : status;
  tw_free(s.f);
  tw_free(s.h);
  return status;
}
