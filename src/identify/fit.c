/* fit.c: the most likely unit: readings and prior as rows of one least squares problem
 * (docs/models/identify.md 2). */
#include "inner.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>

#include <math.h>
#include <string.h>

/* a figure that the unit does not have although it was read counts as many deviations
 * (docs/models/bench.md, suspects) */
#define CONTRADICTS 4.0
/* further off than so many uncertainties a reading pulls with constant force (Huber 1964; 2 is an
 * own choice between his 1.345 and none) */
#define HUBER 2.0
/* a Jacobian serves within so many prior deviations of where it was made, mended on the way */
#define SERVES 0.7
enum { ROUNDS = 12 };
/* of a prior deviation; of the sum's slope */
#define STEP_TOLERANCE  1e-4
#define SLOPE_TOLERANCE 1e-9

/* ---- one reading --------------------------------------------------------------------------- */

double tw_row_left(const rows *r, size_t i, const shown *s)
{
  const size_t w = r->what[i];
  const double y = r->value[i];
  if (!s->known[w] || (r->ratio[i] && !(s->value[w] > 0))) {
    return CONTRADICTS;
  }
  return r->ratio[i] ? (log(s->value[w] / y)) * y / r->u[i] : (s->value[w] - y) / r->u[i];
}

double tw_row_slope(const rows *r, size_t i, const shown *s, double slope)
{
  const size_t w = r->what[i];
  if (!s->known[w] || (r->ratio[i] && !(s->value[w] > 0))) {
    return 0;
  }
  return r->ratio[i] ? slope / s->value[w] * r->value[i] / r->u[i] : slope / r->u[i];
}

/* a row whose square is twice Huber's loss, and its slope */
static double huber(double left, double *slope)
{
  const double a = fabs(left);
  if (a <= HUBER) {
    *slope = 1;
    return left;
  }
  const double root = sqrt(2 * HUBER * a - HUBER * HUBER);
  *slope = HUBER / root;
  return left < 0 ? -root : root;
}

/* ---- what the solver asks for -------------------------------------------------------------- */

typedef struct asking {
  unit_model *m;
  const rows *r;
  bool huber;
  fit *f; /* the place asked for last, its figures, a Jacobian */
  double last[TW_IDENTIFY_MOST];
  shown before; /* figures at `last`, for mending the Jacobian */
  bool has_last;
  tw_status status;
  tw_fault *fault;
} asking;

static void take_place(const gsl_vector *x, size_t n, double *z)
{
  for (size_t k = 0; k < n; k++) {
    z[k] = gsl_vector_get(x, k);
  }
}

/* rank one: what the Jacobian missed on the way from the last place (Broyden 1965) */
static void mend(asking *a, const double *z, const shown *now)
{
  const size_t n = a->m->parameters;
  double d[TW_IDENTIFY_MOST], length = 0;
  for (size_t k = 0; k < n; k++) {
    d[k] = z[k] - a->last[k];
    length += d[k] * d[k];
  }
  for (size_t w = 0; w < TW_IDENTIFY_SHOWN && length > 1e-12; w++) {
    if (!now->known[w] || !a->before.known[w]) {
      continue;
    }
    double missed = now->value[w] - a->before.value[w];
    for (size_t k = 0; k < n; k++) {
      missed -= a->f->jacobian[w * n + k] * d[k];
    }
    for (size_t k = 0; k < n; k++) {
      a->f->jacobian[w * n + k] += missed * d[k] / length;
    }
  }
}

static int residuals(const gsl_vector *x, void *self, gsl_vector *f)
{
  asking *a = self;
  const size_t n = a->m->parameters;
  double z[TW_IDENTIFY_MOST], slope;
  shown now;
  take_place(x, n, z);
  if (a->has_last && memcmp(z, a->last, n * sizeof *z) == 0) {
    now = a->before;
  } else {
    a->status = tw_unit_shows(a->m, z, &now, a->fault);
    if (a->status == TW_OK && !tw_progress_tick(a->m->progress, 0.5, "fitting the unit")) {
      a->status = tw_fail(a->fault, TW_CANCELLED, "", "", "stopped");
    }
    if (a->status != TW_OK) {
      return GSL_EFAILED;
    }
    if (a->has_last && a->f->has_jacobian) {
      mend(a, z, &now);
    }
  }
  memcpy(a->last, z, n * sizeof *z);
  a->before = now;
  a->has_last = true;
  for (size_t i = 0; i < a->r->count; i++) {
    double left = a->r->off[i] ? 0 : tw_row_left(a->r, i, &now);
    left = a->huber ? huber(left, &slope) : left;
    gsl_vector_set(f, i, left);
  }
  for (size_t k = 0; k < n; k++) {
    gsl_vector_set(f, a->r->count + k, z[k]);
  }
  return GSL_SUCCESS;
}

/* is there a Jacobian that serves here? */
static bool serves(const asking *a, const double *z)
{
  double most = 0;
  for (size_t k = 0; k < a->m->parameters; k++) {
    most = fmax(most, fabs(z[k] - a->f->about[k]));
  }
  return a->f->has_jacobian && most < SERVES;
}

static int slopes(const gsl_vector *x, void *self, gsl_matrix *j)
{
  asking *a = self;
  const size_t n = a->m->parameters;
  double z[TW_IDENTIFY_MOST];
  take_place(x, n, z);
  if (!serves(a, z)) {
    a->status = tw_unit_jacobian(a->m, z, a->f->jacobian, a->fault);
    if (a->status != TW_OK) {
      return GSL_EFAILED;
    }
    memcpy(a->f->about, z, n * sizeof *z);
    a->f->has_jacobian = true;
  }
  gsl_matrix_set_zero(j);
  for (size_t i = 0; i < a->r->count; i++) {
    double bend = 1;
    if (a->huber && !a->r->off[i]) {
      (void)huber(tw_row_left(a->r, i, &a->before), &bend);
    }
    for (size_t k = 0; k < n && !a->r->off[i]; k++) {
      const double slope = a->f->jacobian[a->r->what[i] * n + k];
      gsl_matrix_set(j, i, k, bend * tw_row_slope(a->r, i, &a->before, slope));
    }
  }
  for (size_t k = 0; k < n; k++) {
    gsl_matrix_set(j, a->r->count + k, k, 1);
  }
  return GSL_SUCCESS;
}

/* ---- the fit ------------------------------------------------------------------------------- */

static double sum_of(const rows *r, const fit *f, size_t n)
{
  double sum = 0;
  for (size_t i = 0; i < r->count; i++) {
    const double left = r->off[i] ? 0 : tw_row_left(r, i, &f->shown);
    sum += left * left;
  }
  for (size_t k = 0; k < n; k++) {
    sum += f->z[k] * f->z[k];
  }
  return sum;
}

static tw_status solve(asking *a, gsl_multifit_nlinear_workspace *work, fit *f)
{
  const size_t n = a->m->parameters;
  gsl_multifit_nlinear_fdf fdf = {
      .f = residuals, .df = slopes, .n = a->r->count + n, .p = n, .params = a};
  const gsl_vector_view start = gsl_vector_view_array(f->z, n);
  int info = 0;
  int code = gsl_multifit_nlinear_init(&start.vector, &fdf, work);
  if (code == GSL_SUCCESS) {
    /* that it makes no progress any more is the end of the way, not a failure */
    (void)gsl_multifit_nlinear_driver(ROUNDS, STEP_TOLERANCE, SLOPE_TOLERANCE, 0, NULL, NULL, &info,
                                      work);
  }
  if (a->status != TW_OK) {
    return a->status;
  }
  take_place(gsl_multifit_nlinear_position(work), n, f->z);
  return tw_unit_shows(a->m, f->z, &f->shown, a->fault);
}

tw_status tw_unit_fit(unit_model *m, const rows *r, bool use_huber, fit *f, tw_fault *fault)
{
  const size_t n = m->parameters;
  asking a = {.m = m, .r = r, .huber = use_huber, .f = f, .fault = fault};
  gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
  how.solver = gsl_multifit_nlinear_solver_qr;
  gsl_set_error_handler_off(); /* what fails shows in the answer */
  gsl_multifit_nlinear_workspace *work =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, r->count + n, n);
  const tw_status status =
      work ? solve(&a, work, f) : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the fit");
  gsl_multifit_nlinear_free(work);
  if (status == TW_OK) {
    f->chi_square = sum_of(r, f, n);
  }
  return status;
}
