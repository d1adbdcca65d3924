/* signal.c: medians, noise, lines, jumps, clipping. */
#include "signal.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_fft_real.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LINE_MOST   ((size_t)1 << 18) /* samples of which a line is sought */
#define PADDED      4                 /* times the length */
#define JUMP_MEAN   4
#define JUMP_SIGMAS 6
#define CLIP_RUN    8 /* samples of a flat run: an 8-bit rest is flat too, see tw_clipped */
#define CLIP_NEXT   4 /* times as many samples as one code below */

static int by_size(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

double tw_median(const double *v, size_t n, double *scratch)
{
  memcpy(scratch, v, n * sizeof *v);
  qsort(scratch, n, sizeof *scratch, by_size);
  return n % 2 ? scratch[n / 2] : (scratch[n / 2 - 1] + scratch[n / 2]) / 2;
}

bool tw_level(const double *v, size_t n, double *median, double *sigma)
{
  double *scratch = tw_alloc(2 * (n ? n : 1), sizeof *scratch);
  *median = *sigma = 0;
  if (!scratch || n == 0) {
    tw_free(scratch);
    return scratch != NULL;
  }
  *median = tw_median(v, n, scratch);
  for (size_t i = 0; i < n; i++) {
    scratch[n + i] = fabs(v[i] - *median);
  }
  *sigma = TW_SIGMA_OF_MAD * tw_median(scratch + n, n, scratch);
  tw_free(scratch);
  return true;
}

/* power of each line of the padded transform; length of it in *size */
static double *spectrum(const double *v, size_t n, size_t *size)
{
  n = n < LINE_MOST ? n : LINE_MOST;
  *size = 2;
  while (*size < PADDED * n) {
    *size *= 2;
  }
  double *x = tw_alloc(*size, sizeof *x);
  if (!x) {
    return NULL;
  }
  double mean = 0;
  for (size_t i = 0; i < n; i++) {
    mean += v[i] / (double)n;
  }
  for (size_t i = 0; i < n; i++) {
    x[i] = (v[i] - mean) * (0.5 - 0.5 * cos(TW_TWO_PI * (double)i / (double)n));
  }
  gsl_set_error_handler_off();
  gsl_fft_real_radix2_transform(x, 1, *size);
  for (size_t k = 1; k < *size / 2; k++) {
    x[k] = x[k] * x[k] + x[*size - k] * x[*size - k];
  }
  x[0] = 0;
  return x;
}

bool tw_line(const double *v, size_t n, double interval, double low, double high, double *hz)
{
  size_t size;
  double *power = spectrum(v, n, &size);
  *hz = 0;
  if (!power) {
    return false;
  }
  const double bin = 1 / (interval * (double)size);
  size_t best = 0;
  for (size_t k = 1; k + 1 < size / 2; k++) {
    const double f = bin * (double)k;
    if (f >= low && f <= high && power[k] > 0 && (best == 0 || power[k] > power[best])) {
      best = k;
    }
  }
  if (best > 1 && power[best - 1] > 0 && power[best + 1] > 0) {
    const double a = log(power[best - 1]), b = log(power[best]), c = log(power[best + 1]);
    const double bend = a - 2 * b + c;
    *hz = bin * ((double)best + (bend < 0 ? 0.5 * (a - c) / bend : 0));
  }
  tw_free(power);
  return true;
}

bool tw_top_octave(const double *v, size_t n, double *share)
{
  size_t size;
  double *power = spectrum(v, n, &size);
  double all = 0, top = 0;
  *share = 0;
  if (!power) {
    return false;
  }
  for (size_t k = 1; k < size / 2; k++) {
    all += power[k];
    top += k >= size / 4 ? power[k] : 0;
  }
  *share = all > 0 ? top / all : 0;
  tw_free(power);
  return true;
}

/* d[k]: mean of the four samples from k less that of the four before */
static void differences(const double *v, size_t n, double *d)
{
  for (size_t k = 0; k < n; k++) {
    d[k] = 0;
    for (size_t i = 0; i < JUMP_MEAN && k >= JUMP_MEAN && k + JUMP_MEAN <= n; i++) {
      d[k] += (v[k + i] - v[k - 1 - i]) / JUMP_MEAN;
    }
  }
}

/* noise of the differences where nothing happens: median deviation of all */
static double quiet(const double *d, size_t n, double *scratch, double *copy)
{
  for (size_t i = 0; i < n; i++) {
    copy[i] = fabs(d[i]);
  }
  return TW_SIGMA_OF_MAD * tw_median(copy, n, scratch);
}

bool tw_jumps(const double *v, size_t n, size_t dead, size_t room, size_t *at, size_t *count,
              double *sigma)
{
  double *d = tw_alloc(3 * (n + 1), sizeof *d);
  *count = 0;
  *sigma = 0;
  if (!d) {
    return false;
  }
  differences(v, n, d);
  const double noise = quiet(d, n, d + n, d + 2 * n);
  *sigma = noise * sqrt(JUMP_MEAN / 2.0);
  double most = 0;
  for (size_t k = 0; k < n; k++) {
    most = fmax(most, fabs(d[k]));
  }
  /* in a record without noise (quantised rest) the jump itself sets the scale */
  const double limit = fmax(JUMP_SIGMAS * noise, 0.02 * most);
  for (size_t k = 0; k < n && *count < room && most > 0; k++) {
    if (fabs(d[k]) > limit) {
      at[(*count)++] = k;
      k += dead;
    }
  }
  tw_free(d);
  return true;
}

static size_t longest_run(const double *v, size_t n, double level, bool high)
{
  size_t run = 0, best = 0;
  for (size_t i = 0; i < n; i++) {
    run = (high ? v[i] >= level : v[i] <= level) ? run + 1 : 0;
    best = run > best ? run : best;
  }
  return best;
}

/* The end that lies farther from rest, more than half of the span away, with a flat run and with
 * far more samples than the code below it: an 8-bit rest is flat too, but not far from rest. */
static bool end_is_flat(const double *v, size_t n, double step, double rest, double end,
                        double span, bool high, size_t *count)
{
  const double at = high ? end - step / 2 : end + step / 2;
  const double below = high ? at - step : at + step;
  size_t here = 0, next = 0;
  for (size_t i = 0; i < n; i++) {
    const bool in = high ? v[i] >= at : v[i] <= at;
    here += in;
    next += !in && (high ? v[i] >= below : v[i] <= below);
  }
  *count = here;
  return fabs(end - rest) > span / 2 && longest_run(v, n, at, high) >= CLIP_RUN &&
         here > CLIP_NEXT * next;
}

bool tw_clipped(const double *v, size_t n, double step, double rest, tw_clip *out)
{
  double least = v[0], most = v[0];
  for (size_t i = 1; i < n; i++) {
    least = fmin(least, v[i]);
    most = fmax(most, v[i]);
  }
  *out = (tw_clip){.least = -(double)INFINITY, .most = (double)INFINITY};
  if (!(step > 0) || !isfinite(step) || !(most > least)) {
    return false;
  }
  size_t count = 0;
  out->high = end_is_flat(v, n, step, rest, most, most - least, true, &count);
  out->count += out->high ? count : 0;
  out->most = out->high ? most - step / 2 : out->most;
  out->low = end_is_flat(v, n, step, rest, least, most - least, false, &count);
  out->count += out->low ? count : 0;
  out->least = out->low ? least + step / 2 : out->least;
  return out->low || out->high;
}
