/* fit.c: separable least squares. G. H. Golub, V. Pereyra, "The differentiation of pseudo-inverses
 * and nonlinear least squares problems whose variables separate", SIAM J. Numer. Anal. 10 (1973)
 * 413-432 (from memory): with the linear part solved inside, the residual depends on p alone. */
#include "fit.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <string.h>

#define STEPS_MOST 60
#define STEP_SMALL 1e-8 /* relative, of the parameters */
#define SLOPE_SMALL                                                                                \
  1e-13                 /* of the sum of squares, in units of the data: GSL takes it as absolute */
#define REFUSED    1e3  /* residual of a step out of range, in units of the data's rms */
#define SLOPE_STEP 1e-5 /* of p, which is of the order of 1 */
#define LAGS_MOST  400  /* of the residuals' correlation */
#define RIDGE      1e-13
#define UNFELT     1e-24 /* of the mean square of the data: rounding */

/* what one solution of the linear part needs */
struct work {
  tw_sep *fit;
  double *row; /* [points][linear] */
  double scale;
};

/* fill the rows; false when p is out of range */
static bool fill(const struct work *w, const double *p)
{
  const tw_sep *f = w->fit;
  if (f->prepare && !f->prepare(p, f->self)) {
    return false;
  }
  for (size_t i = 0; i < f->points; i++) {
    double *row = w->row + i * f->linear;
    if (!f->basis(f->t[i], p, row, f->self)) {
      return false;
    }
    for (size_t j = 0; f->weight && j < f->linear; j++) {
      row[j] *= f->weight[i];
    }
  }
  return true;
}

/* Cholesky factor of the matrix a (n by n in a row of TW_SEP_ALL), scaled to a unit diagonal;
 * false when it has none */
static bool factor(double *a, size_t n, double *scale)
{
  for (size_t j = 0; j < n; j++) {
    const double d = a[j * n + j];
    if (!(d > 0) || !isfinite(d)) {
      return false;
    }
    scale[j] = 1 / sqrt(d);
  }
  for (size_t j = 0; j < n; j++) {
    for (size_t k = 0; k < n; k++) {
      a[j * n + k] *= scale[j] * scale[k];
    }
    a[j * n + j] += RIDGE;
  }
  gsl_matrix_view m = gsl_matrix_view_array(a, n, n);
  return gsl_linalg_cholesky_decomp1(&m.matrix) == GSL_SUCCESS;
}

/* the linear coefficients at p; *sum: sum of squared residuals */
static bool solve(const struct work *w, const double *p, double *c, double *sum)
{
  const tw_sep *f = w->fit;
  const size_t n = f->linear;
  double a[TW_SEP_LINEAR * TW_SEP_LINEAR] = {0}, b[TW_SEP_LINEAR] = {0}, scale[TW_SEP_LINEAR];
  if (!fill(w, p)) {
    return false;
  }
  for (size_t i = 0; i < f->points; i++) {
    const double *row = w->row + i * n;
    const double v = f->v[i] * (f->weight ? f->weight[i] : 1);
    for (size_t j = 0; j < n; j++) {
      b[j] += row[j] * v;
      for (size_t k = 0; k <= j; k++) {
        a[j * n + k] += row[j] * row[k];
      }
    }
  }
  for (size_t j = 0; j < n; j++) {
    for (size_t k = j + 1; k < n; k++) {
      a[j * n + k] = a[k * n + j];
    }
  }
  if (!factor(a, n, scale)) {
    return false;
  }
  for (size_t j = 0; j < n; j++) {
    b[j] *= scale[j];
  }
  gsl_matrix_view m = gsl_matrix_view_array(a, n, n);
  gsl_vector_view x = gsl_vector_view_array(b, n);
  gsl_linalg_cholesky_svx(&m.matrix, &x.vector);
  *sum = 0;
  for (size_t j = 0; j < n; j++) {
    c[j] = b[j] * scale[j];
  }
  for (size_t i = 0; i < f->points; i++) {
    double r = f->v[i] * (f->weight ? f->weight[i] : 1);
    for (size_t j = 0; j < n; j++) {
      r -= c[j] * w->row[i * n + j];
    }
    *sum += r * r;
  }
  return isfinite(*sum);
}

static double residual(const struct work *w, const double *c, size_t i)
{
  const tw_sep *f = w->fit;
  double r = f->v[i] * (f->weight ? f->weight[i] : 1);
  for (size_t j = 0; j < f->linear; j++) {
    r -= c[j] * w->row[i * f->linear + j];
  }
  return r;
}

static int residuals(const gsl_vector *x, void *params, gsl_vector *out)
{
  const struct work *w = params;
  double p[TW_SEP_FREE], c[TW_SEP_LINEAR], sum;
  for (size_t j = 0; j < w->fit->free; j++) {
    p[j] = gsl_vector_get(x, j);
  }
  if (!solve(w, p, c, &sum)) {
    gsl_vector_set_all(out, REFUSED);
    return GSL_SUCCESS;
  }
  for (size_t i = 0; i < w->fit->points; i++) {
    gsl_vector_set(out, i, residual(w, c, i) / w->scale);
  }
  return GSL_SUCCESS;
}

static tw_status walk(struct work *w, tw_fault *fault)
{
  tw_sep *f = w->fit;
  gsl_multifit_nlinear_parameters options = gsl_multifit_nlinear_default_parameters();
  options.fdtype = GSL_MULTIFIT_NLINEAR_CTRDIFF;
  options.h_df = SLOPE_STEP;
  options.h_fvv = SLOPE_STEP;
  gsl_multifit_nlinear_workspace *space =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &options, f->points, f->free);
  if (!space) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  gsl_multifit_nlinear_fdf problem = {.f = residuals, .n = f->points, .p = f->free, .params = w};
  gsl_vector_view start = gsl_vector_view_array(f->p, f->free);
  int info;
  int status = gsl_multifit_nlinear_init(&start.vector, &problem, space);
  if (status == GSL_SUCCESS) {
    status = gsl_multifit_nlinear_driver(STEPS_MOST, STEP_SMALL, SLOPE_SMALL, 0, NULL, NULL, &info,
                                         space);
  }
  for (size_t j = 0; j < f->free; j++) {
    f->p[j] = gsl_vector_get(space->x, j);
  }
  gsl_multifit_nlinear_free(space);
  /* no progress: it stands where it cannot get better; too many steps: judged by the residual */
  return status == GSL_SUCCESS || status == GSL_ENOPROG || status == GSL_EMAXITER
             ? TW_OK
             : tw_fail(fault, TW_NO_ANSWER, "", "record again with less noise, or a longer record",
                       "the fit does not settle");
}

/* 1 + 2 sum of the residuals' correlation up to its first zero: how many of the samples say the
 * same */
static double widening(const struct work *w)
{
  const tw_sep *f = w->fit;
  double zero = 0, sum = 1;
  for (size_t i = 0; i < f->points; i++) {
    const double r = residual(w, f->c, i);
    zero += r * r;
  }
  for (size_t lag = 1; zero > 0 && lag < LAGS_MOST && lag < f->points / 4; lag++) {
    double rho = 0;
    for (size_t i = lag; i < f->points; i++) {
      rho += residual(w, f->c, i) * residual(w, f->c, i - lag);
    }
    if (rho <= 0) {
      break;
    }
    sum += 2 * rho / zero;
  }
  return sum;
}

static tw_status no_columns(tw_fault *fault)
{
  return tw_fail(fault, TW_NO_ANSWER, "", "record longer, or with more of the signal in range",
                 "the recording does not determine what is asked of it");
}

/* d model/d p_j of every point, by central differences, into column n + j of `row` */
static bool slopes(const struct work *w, size_t n, double *row)
{
  const tw_sep *f = w->fit;
  double column[TW_SEP_LINEAR];
  for (size_t j = 0; j < f->free; j++) {
    for (int side = 1; side >= -1; side -= 2) {
      double p[TW_SEP_FREE];
      memcpy(p, f->p, sizeof p);
      p[j] += side * SLOPE_STEP;
      if (f->prepare && !f->prepare(p, f->self)) {
        return false;
      }
      for (size_t i = 0; i < f->points; i++) {
        if (!f->basis(f->t[i], p, column, f->self)) {
          return false;
        }
        for (size_t k = 0; k < f->linear; k++) {
          row[i * n + f->linear + j] +=
              side * f->c[k] * column[k] / (2 * SLOPE_STEP) * (f->weight ? f->weight[i] : 1);
        }
      }
    }
  }
  return !f->prepare || f->prepare(f->p, f->self);
}

/* A = J'J; a parameter that the points do not feel at all is held: 1 on the diagonal, and no
 * variance afterwards. */
static void products(const struct work *w, const double *slope, size_t n, double *a, bool *held)
{
  const tw_sep *f = w->fit;
  double row[TW_SEP_ALL];
  for (size_t i = 0; i < f->points; i++) {
    memcpy(row, w->row + i * f->linear, f->linear * sizeof *row);
    memcpy(row + f->linear, slope + i * n + f->linear, f->free * sizeof *row);
    for (size_t j = 0; j < n; j++) {
      for (size_t k = 0; k < n; k++) {
        a[j * n + k] += row[j] * row[k];
      }
    }
  }
  for (size_t j = 0; j < n; j++) {
    held[j] = j >= f->linear && !(a[j * n + j] > UNFELT * w->scale * w->scale * (double)f->points);
    for (size_t k = 0; held[j] && k < n; k++) {
      a[j * n + k] = a[k * n + j] = j == k ? 1 : 0;
    }
  }
}

/* covariance of c and p at the answer: s^2 (J'J)^-1 */
static tw_status covariance(struct work *w, double sum, tw_fault *fault)
{
  tw_sep *f = w->fit;
  const size_t n = f->linear + f->free;
  double a[TW_SEP_ALL * TW_SEP_ALL] = {0}, scale[TW_SEP_ALL];
  bool held[TW_SEP_ALL];
  double *slope = tw_alloc(f->points * n, sizeof *slope);
  if (!slope) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  const bool fine = slopes(w, n, slope);
  products(w, slope, n, a, held);
  tw_free(slope);
  f->dof = f->points > n ? (double)(f->points - n) : 1;
  f->rms = sqrt(sum / f->dof);
  f->widening = f->white ? 1 : widening(w);
  if (!fine || !factor(a, n, scale)) {
    return no_columns(fault);
  }
  gsl_matrix_view m = gsl_matrix_view_array(a, n, n);
  gsl_linalg_cholesky_invert(&m.matrix);
  for (size_t j = 0; j < n; j++) {
    for (size_t k = 0; k < n; k++) {
      f->cov[j][k] = held[j] || held[k]
                         ? 0
                         : f->rms * f->rms * f->widening * a[j * n + k] * scale[j] * scale[k];
    }
  }
  return TW_OK;
}

static tw_status prepare(tw_sep *f, struct work *w, tw_fault *fault)
{
  if (f->points <= f->linear + f->free) {
    return tw_fail(fault, TW_BAD_INPUT, "", "record longer, or with a higher rate",
                   "%zu usable samples for %zu unknowns", f->points, f->linear + f->free);
  }
  w->fit = f;
  w->row = tw_alloc(f->points * f->linear, sizeof *w->row);
  for (size_t i = 0; i < f->points; i++) {
    w->scale += f->v[i] * f->v[i];
  }
  w->scale = sqrt(w->scale / (double)f->points);
  w->scale = w->scale > 0 ? w->scale : 1;
  gsl_set_error_handler_off();
  return w->row ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
}

tw_status tw_sep_fit(tw_sep *fit, tw_fault *fault)
{
  struct work w = {0};
  double sum = 0;
  tw_status status = prepare(fit, &w, fault);
  if (status == TW_OK && fit->free > 0) {
    status = walk(&w, fault);
  }
  if (status == TW_OK) {
    status = solve(&w, fit->p, fit->c, &sum) ? covariance(&w, sum, fault) : no_columns(fault);
  }
  tw_free(w.row);
  return status;
}

tw_status tw_sep_linear(tw_sep *fit, tw_fault *fault)
{
  struct work w = {0};
  double sum = 0;
  tw_status status = prepare(fit, &w, fault);
  if (status == TW_OK) {
    status = solve(&w, fit->p, fit->c, &sum) ? TW_OK : no_columns(fault);
    fit->dof = (double)(fit->points - fit->linear);
    fit->rms = sqrt(sum / fit->dof);
  }
  tw_free(w.row);
  return status;
}

double tw_sep_at(const tw_sep *fit, double t)
{
  double row[TW_SEP_LINEAR], value = 0;
  if ((fit->prepare && !fit->prepare(fit->p, fit->self)) ||
      !fit->basis(t, fit->p, row, fit->self)) {
    return (double)NAN;
  }
  for (size_t j = 0; j < fit->linear; j++) {
    value += fit->c[j] * row[j];
  }
  return value;
}

double tw_sep_u_linear(const tw_sep *fit, size_t j)
{
  return sqrt(fit->cov[j][j]);
}

double tw_sep_u_free(const tw_sep *fit, size_t j)
{
  return sqrt(fit->cov[fit->linear + j][fit->linear + j]);
}

double tw_sep_variance(const tw_sep *fit, const double *slope)
{
  const size_t n = fit->linear + fit->free;
  double sum = 0;
  for (size_t j = 0; j < n; j++) {
    for (size_t k = 0; k < n; k++) {
      sum += slope[j] * fit->cov[j][k] * slope[k];
    }
  }
  return fmax(sum, 0);
}
