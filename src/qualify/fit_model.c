/* fit_model.c: nonlinear least squares: GSL finds the valley, extended-precision Gauss-Newton its
 * floor. */
#include "inner.h"
#include "regress_inner.h"

#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>

#define TW_FIT_REFUSED 1e100

struct fit {
  tw_model *model;
  const void *self;
  const double *y;
  size_t n, p;
};

static int residuals(const gsl_vector *b, void *params, gsl_vector *f)
{
  const struct fit *fit = params;
  double at[TW_FIT_MOST];
  for (size_t j = 0; j < fit->p; j++) {
    at[j] = gsl_vector_get(b, j);
  }
  for (size_t i = 0; i < fit->n; i++) {
    const double value = fit->model(fit->self, i, at, NULL);
    /* a trial step out of the model's range is refused by being very bad */
    gsl_vector_set(f, i, isfinite(value) ? value - fit->y[i] : TW_FIT_REFUSED);
  }
  return GSL_SUCCESS;
}

static int slopes(const gsl_vector *b, void *params, gsl_matrix *j)
{
  const struct fit *fit = params;
  double at[TW_FIT_MOST], slope[TW_FIT_MOST];
  for (size_t k = 0; k < fit->p; k++) {
    at[k] = gsl_vector_get(b, k);
  }
  for (size_t i = 0; i < fit->n; i++) {
    fit->model(fit->self, i, at, slope);
    for (size_t k = 0; k < fit->p; k++) {
      if (!isfinite(slope[k])) {
        return GSL_EDOM;
      }
      gsl_matrix_set(j, i, k, slope[k]);
    }
  }
  return GSL_SUCCESS;
}

#define TW_FIT_STEPS 2000

/* b in place; false when the search breaks off */
static bool search(struct fit *fit, double *b)
{
  gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
  how.trs = gsl_multifit_nlinear_trs_lmaccel;
  how.scale = gsl_multifit_nlinear_scale_more;
  gsl_multifit_nlinear_workspace *w =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, fit->n, fit->p);
  if (!w) {
    return false;
  }
  gsl_multifit_nlinear_fdf fdf = {.f = residuals, .df = slopes, .n = fit->n, .p = fit->p};
  fdf.params = fit;
  const gsl_vector_view start = gsl_vector_view_array(b, fit->p);
  int info, code = gsl_multifit_nlinear_init(&start.vector, &fdf, w);
  if (code == GSL_SUCCESS) {
    code = gsl_multifit_nlinear_driver(TW_FIT_STEPS, 1e-14, 1e-14, 0.0, NULL, NULL, &info, w);
  }
  /* GSL_ENOPROG: no smaller sum can be found in double precision; the refinement decides */
  const bool settled = code == GSL_SUCCESS || code == GSL_ENOPROG;
  for (size_t j = 0; j < fit->p; j++) {
    b[j] = gsl_vector_get(gsl_multifit_nlinear_position(w), j);
  }
  gsl_multifit_nlinear_free(w);
  return settled;
}

/* J (n x p) and y - f at b in extended precision; false if not finite */
static bool linearise(const struct fit *fit, const double *b, long double *j, long double *r)
{
  double slope[TW_FIT_MOST];
  for (size_t i = 0; i < fit->n; i++) {
    const double value = fit->model(fit->self, i, b, slope);
    r[i] = (long double)fit->y[i] - (long double)value;
    if (!isfinite(value)) {
      return false;
    }
    for (size_t k = 0; k < fit->p; k++) {
      j[i * fit->p + k] = (long double)slope[k];
    }
  }
  return true;
}

static tw_status not_told_apart(size_t column, tw_fault *fault)
{
  return tw_fail(fault, TW_NO_ANSWER, "start", "give a better start, or fit fewer coefficients",
                 "coefficient %zu cannot be told from the others by these readings", column + 1);
}

/* Gauss-Newton from the found point until the steps stop shrinking */
static tw_status refine(const struct fit *fit, double *b, long double *room, tw_regression *out,
                        tw_fault *fault)
{
  const size_t n = fit->n, p = fit->p;
  long double *j = room, *r = j + n * p, *work = r + n;
  long double step[TW_FIT_MOST], ss, condition, inverse[TW_FIT_MOST * TW_FIT_MOST];
  long double before = INFINITY;
  for (int pass = 0; pass < 20; pass++) {
    if (!linearise(fit, b, j, r)) {
      return not_told_apart(0, fault);
    }
    const size_t column = tw_solve_least_squares(j, r, n, p, work, step, &ss, &condition, inverse);
    if (column < p) {
      return not_told_apart(column, fault);
    }
    /* step length in units of what the readings can tell (or of b where they fit exactly) */
    long double size = 0.0L;
    for (size_t k = 0; k < p; k++) {
      size = fmaxl(size, fabsl(step[k]) /
                             (fabsl((long double)b[k]) + sqrtl(inverse[k * p + k]) * 1e-12L));
    }
    if (!(size < before)) {
      break;
    }
    before = size;
    for (size_t k = 0; k < p; k++) {
      b[k] = (double)((long double)b[k] + step[k]);
    }
  }
  if (!(before < 1e-6L)) {
    return tw_fail(fault, TW_NO_ANSWER, "start", "give a better start", "the fit does not settle");
  }
  long double squares = 0.0L;
  linearise(fit, b, j, r);
  for (size_t i = 0; i < n; i++) {
    squares += r[i] * r[i];
  }
  *out = (tw_regression){.n = n, .p = p, .squares = (double)squares, .dof = (double)(n - p)};
  const long double variance = squares / (long double)(n - p);
  out->s = (double)sqrtl(variance);
  out->condition = (double)condition;
  for (size_t k = 0; k < p; k++) {
    out->b[k] = b[k];
    out->u[k] = (double)sqrtl(variance * inverse[k * p + k]);
    for (size_t m = 0; m < p; m++) {
      out->covariance[k * p + m] = (double)(variance * inverse[k * p + m]);
    }
  }
  return TW_OK;
}

tw_status tw_fit_model(tw_model *model, const void *self, const double *y, size_t n, size_t p,
                       const double *start, tw_regression *out, tw_fault *fault)
{
  if (p == 0 || p > TW_FIT_MOST || n <= p) {
    return tw_fail(fault, TW_BAD_INPUT, "readings", "take more readings, or fit fewer coefficients",
                   "%zu readings for %zu coefficients", n, p);
  }
  const tw_status status = tw_all_finite(y, n, "reading", fault);
  if (status != TW_OK) {
    return status;
  }
  gsl_set_error_handler_off(); /* its answer to a failure would be to end the program */
  struct fit fit = {model, self, y, n, p};
  double b[TW_FIT_MOST];
  for (size_t k = 0; k < p; k++) {
    b[k] = start[k];
  }
  long double *room = tw_alloc(n * (2 * p + 3), sizeof *room);
  if (!room) {
    return tw_no_memory(fault);
  }
  const bool settled = search(&fit, b);
  const tw_status refined = settled ? refine(&fit, b, room, out, fault)
                                    : tw_fail(fault, TW_NO_ANSWER, "start", "give a better start",
                                              "the search for the best fit breaks off");
  tw_free(room);
  return refined;
}
