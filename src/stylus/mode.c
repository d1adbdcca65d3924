/* mode.c: first bending mode of a stepped stem with its ball, by beam elements with cubic shapes
 * and their own mass (docs/models/stylus.md 3), and inverse iteration. */
#include "inside.h"
#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

/* elements a section; four already give the first mode to 1e-6 (the tests ask for it) */
#define PARTS    6
#define NODES    (TW_STYLUS_SECTIONS * PARTS)
#define FREEDOMS (2 * NODES)
/* half bandwidth of two-node elements: entries i-3 .. i */
#define BAND       4
#define ITERATIONS 200

/* lower band, row i: a[i][BAND - 1] is the diagonal */
typedef double band_matrix[FREEDOMS][BAND];

static void add(band_matrix a, size_t i, size_t j, double value)
{
  if (i >= j) {
    a[i][BAND - 1 - (i - j)] += value;
  }
}

/* element between nodes k and k + 1; the last node is the clamped root and has no freedoms */
static void add_element(band_matrix stiff, band_matrix mass, size_t k, size_t n, double h,
                        double ei, double m)
{
  const double ks = ei / (h * h * h), ms = m * h / 420.0;
  const double ke[4][4] = {{12, 6 * h, -12, 6 * h},
                           {6 * h, 4 * h * h, -6 * h, 2 * h * h},
                           {-12, -6 * h, 12, -6 * h},
                           {6 * h, 2 * h * h, -6 * h, 4 * h * h}};
  const double me[4][4] = {{156, 22 * h, 54, -13 * h},
                           {22 * h, 4 * h * h, 13 * h, -3 * h * h},
                           {54, 13 * h, 156, -22 * h},
                           {-13 * h, -3 * h * h, -22 * h, 4 * h * h}};
  for (size_t a = 0; a < 4; a++) {
    for (size_t b = 0; b < 4; b++) {
      const size_t i = 2 * k + a, j = 2 * k + b;
      if (i < n && j < n) {
        add(stiff, i, j, ks * ke[a][b]);
        add(mass, i, j, ms * me[a][b]);
      }
    }
  }
}

/* band Cholesky in place */
static bool factor(band_matrix a, size_t n)
{
  for (size_t i = 0; i < n; i++) {
    for (size_t j = i < BAND ? 0 : i - (BAND - 1); j <= i; j++) {
      double s = a[i][BAND - 1 - (i - j)];
      for (size_t k = i < BAND ? 0 : i - (BAND - 1); k < j; k++) {
        if (j - k < BAND) {
          s -= a[i][BAND - 1 - (i - k)] * a[j][BAND - 1 - (j - k)];
        }
      }
      if (i == j) {
        if (!(s > 0.0)) {
          return false;
        }
        a[i][BAND - 1] = sqrt(s);
      } else {
        a[i][BAND - 1 - (i - j)] = s / a[j][BAND - 1];
      }
    }
  }
  return true;
}

static void solve(band_matrix l, size_t n, double *b)
{
  for (size_t i = 0; i < n; i++) {
    for (size_t k = i < BAND ? 0 : i - (BAND - 1); k < i; k++) {
      b[i] -= l[i][BAND - 1 - (i - k)] * b[k];
    }
    b[i] /= l[i][BAND - 1];
  }
  for (size_t i = n; i-- > 0;) {
    for (size_t k = i + 1; k < n && k - i < BAND; k++) {
      b[i] -= l[k][BAND - 1 - (k - i)] * b[k];
    }
    b[i] /= l[i][BAND - 1];
  }
}

/* y = m x for a symmetric band */
static void times(band_matrix m, size_t n, const double *x, double *y)
{
  memset(y, 0, n * sizeof *y);
  for (size_t i = 0; i < n; i++) {
    for (size_t j = i < BAND ? 0 : i - (BAND - 1); j <= i; j++) {
      const double a = m[i][BAND - 1 - (i - j)];
      y[i] += a * x[j];
      y[j] += i != j ? a * x[i] : 0.0;
    }
  }
}

tw_status tw_stylus_first_mode(const tw_stylus_spec *spec, double ball_mass, double *hertz,
                               tw_fault *fault)
{
  band_matrix stiff = {{0}}, mass = {{0}};
  double x[FREEDOMS] = {0}, y[FREEDOMS] = {0};
  const size_t n = 2 * spec->sections * PARTS;
  size_t k = 0;
  for (size_t i = 0; i < spec->sections; i++) {
    const tw_stylus_section *s = &spec->section[i];
    for (int p = 0; p < PARTS; p++, k++) {
      add_element(stiff, mass, k, n, s->length / PARTS, s->young * tw_stylus_second_moment(s),
                  s->density * tw_stylus_area(s));
    }
  }
  add(mass, 0, 0, ball_mass);
  if (!factor(stiff, n)) {
    return tw_fail(fault, TW_NO_ANSWER, "stylus.stem_diameter", "check diameters and lengths",
                   "the stem's stiffness is not positive definite");
  }
  /* x <- K^-1 M x; the ratio x.Mx / x.Kx tends to omega^-2 */
  double before = 0.0, value = 0.0;
  x[0] = 1.0;
  for (int it = 0; it < ITERATIONS; it++) {
    times(mass, n, x, y);
    double top = 0.0, size = 0.0;
    memcpy(x, y, n * sizeof *x);
    solve(stiff, n, x);
    for (size_t i = 0; i < n; i++) {
      top += x[i] * y[i]; /* new x' K new x */
    }
    times(mass, n, x, y);
    for (size_t i = 0; i < n; i++) {
      size += x[i] * y[i];
    }
    value = top / size;
    if (!(size > 0.0) || !isfinite(value)) {
      break;
    }
    const double scale = 1.0 / sqrt(size);
    for (size_t i = 0; i < n; i++) {
      x[i] *= scale;
    }
    if (fabs(value - before) <= 1e-13 * value) {
      *hertz = sqrt(value) / TW_TWO_PI;
      return TW_OK;
    }
    before = value;
  }
  return tw_fail(fault, TW_NO_ANSWER, "stylus.stem_diameter", "check diameters and lengths",
                 "the stem's first mode was not found");
}
