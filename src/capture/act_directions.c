/* act_directions.c: pulled until it trips, all round: three seats at radius R, reach L. F(phi) =
 * min_k P (R/2 + e.a_k)/(L cos(phi - a_k)) over the seats with cos > 0; trips x (1 + mu), closes
 * x (1 - mu). */
#include "act.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>

#define SEATS     3
#define TURN      (TW_TWO_PI / SEATS)
#define COS_LEAST 0.05
#define STARTS    24
#define LEAST     9    /* directions */
#define SCATTER   0.02 /* relative, of a pull read on a scale, when the residuals say less */

enum { P_FORCE, P_SEAT, P_X, P_Y, P_MU, P_COUNT }; /* ln(P R/2L), a_0, e over R/2, mu */

struct pulls {
  const double *angle;
  const double *trips, *closes; /* closes NULL: not read */
  size_t n;
};

static double force_at(const double *p, double phi)
{
  double least = (double)INFINITY;
  for (int k = 0; k < SEATS; k++) {
    const double a = p[P_SEAT] + k * TURN, c = cos(phi - a);
    if (c > COS_LEAST) {
      const double off = 1 + p[P_X] * cos(a) + p[P_Y] * sin(a);
      least = fmin(least, off / c);
    }
  }
  return exp(p[P_FORCE]) * least;
}

/* relative residuals: trips, then closes */
static int residuals(const gsl_vector *x, void *params, gsl_vector *f)
{
  const struct pulls *d = params;
  double p[P_COUNT];
  for (size_t j = 0; j < P_COUNT; j++) {
    p[j] = j < x->size ? gsl_vector_get(x, j) : 0;
  }
  for (size_t i = 0; i < d->n; i++) {
    const double force = force_at(p, d->angle[i]);
    gsl_vector_set(f, i, force * (1 + p[P_MU]) / d->trips[i] - 1);
    if (d->closes) {
      gsl_vector_set(f, d->n + i, force * (1 - p[P_MU]) / d->closes[i] - 1);
    }
  }
  return GSL_SUCCESS;
}

struct answer {
  double p[P_COUNT], cov[P_COUNT][P_COUNT], sum;
};

static tw_status fit_from(const struct pulls *d, double seat, double force, struct answer *out,
                          tw_fault *fault)
{
  const size_t free = d->closes ? P_COUNT : P_COUNT - 1, points = d->n * (d->closes ? 2 : 1);
  gsl_set_error_handler_off();
  gsl_multifit_nlinear_parameters options = gsl_multifit_nlinear_default_parameters();
  gsl_multifit_nlinear_workspace *w =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &options, points, free);
  gsl_matrix *cov = gsl_matrix_alloc(free, free);
  if (!w || !cov) {
    gsl_multifit_nlinear_free(w);
    gsl_matrix_free(cov);
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  gsl_multifit_nlinear_fdf problem = {
      .f = residuals, .n = points, .p = free, .params = (void *)(uintptr_t)d};
  double start[P_COUNT] = {log(force), seat, 0.01, 0.01, 0.05};
  gsl_vector_view x = gsl_vector_view_array(start, free);
  int info;
  gsl_multifit_nlinear_init(&x.vector, &problem, w);
  gsl_multifit_nlinear_driver(100, 1e-9, 1e-9, 0, NULL, NULL, &info, w);
  gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w), 0, cov);
  out->sum = 0;
  for (size_t i = 0; i < points; i++) {
    const double r = gsl_vector_get(gsl_multifit_nlinear_residual(w), i);
    out->sum += r * r;
  }
  const double var = fmax(out->sum / (double)(points - free), SCATTER * SCATTER / 25);
  for (size_t j = 0; j < P_COUNT; j++) {
    out->p[j] = j < free ? gsl_vector_get(w->x, j) : 0;
    for (size_t k = 0; k < free && j < free; k++) {
      out->cov[j][k] = var * gsl_matrix_get(cov, j, k);
    }
  }
  gsl_multifit_nlinear_free(w);
  gsl_matrix_free(cov);
  return TW_OK;
}

static tw_status fit(const struct pulls *d, struct answer *best, tw_fault *fault)
{
  double least = d->trips[0];
  for (size_t i = 0; i < d->n; i++) {
    least = fmin(least, d->trips[i]);
  }
  best->sum = (double)INFINITY;
  for (int k = 0; k < STARTS; k++) {
    struct answer one = {0};
    const tw_status status = fit_from(d, TURN * k / STARTS, least, &one, fault);
    if (status != TW_OK) {
      return status;
    }
    if (one.sum < best->sum) {
      *best = one;
    }
  }
  return isfinite(best->sum) ? TW_OK
                             : tw_fail(fault, TW_NO_ANSWER, "", "read more directions",
                                       "no three seats explain these pulls");
}

static double u(const struct answer *a, int j)
{
  return sqrt(a->cov[j][j]);
}

static void put(tw_eval *job, const struct pulls *d, const struct answer *a)
{
  tw_capture_result *r = job->result;
  const tw_capture_setup *s = job->setup;
  const double share = exp(a->p[P_FORCE]); /* P R/(2 L) */
  const double arm = s->seat_radius / (2 * s->reach);
  const double off = s->seat_radius / 2;
  double seat = fmod(a->p[P_SEAT] * TW_RADIAN, 120);
  seat += seat < 0 ? 120 : 0;
  tw_put_feature(r, "moment_share", share, share * u(a, P_FORCE), "N");
  if (arm > 0) {
    tw_put_feature(r, "preload", share / arm, share / arm * u(a, P_FORCE), "N");
  } else {
    tw_put_concern(r, "reach", "say --reach and --seat-radius",
                   "Reach and seat radius are not stated: only preload times radius over reach.");
  }
  if (d->closes) {
    tw_note(tw_put_feature(r, "friction_share", a->p[P_MU], u(a, P_MU), "1"),
            "seats and pulley together; take the pulley's own off");
  }
  tw_note(tw_put_feature(r, "seat_azimuth_deg", seat, u(a, P_SEAT) * TW_RADIAN, "deg"),
          "of one seat, modulo 120 deg");
  if (off > 0) {
    tw_put_feature(r, "off_x", off * a->p[P_X], off * u(a, P_X), "m");
    tw_put_feature(r, "off_y", off * a->p[P_Y], off * u(a, P_Y), "m");
  }
  tw_put_feature(r, "scatter", sqrt(a->sum / (double)(d->n * (d->closes ? 2 : 1))), 0, "1");
  for (size_t i = 0; i < TW_CAPTURE_CURVE; i++) {
    const double phi = TW_TWO_PI * (double)i / (TW_CAPTURE_CURVE - 1);
    r->curve_t[i] = phi;
    r->curve_v[i] = force_at(a->p, phi) * (1 + a->p[P_MU]) / job->scale;
  }
  r->curve = TW_CAPTURE_CURVE;
}

tw_status tw_act_directions(tw_eval *job)
{
  const tw_capture_record *rec = job->record;
  struct pulls d = {rec->stamp, rec->channel[0].value, tw_eval_other(job, 1), job->n};
  struct answer best = {0};
  if (job->n < LEAST) {
    return tw_fail(job->fault, TW_BAD_INPUT, "", "pull every 15 degrees", "only %zu directions",
                   job->n);
  }
  for (size_t i = 0; i < job->n; i++) {
    if (!(d.trips[i] > 0) || (d.closes && !(d.closes[i] > 0))) {
      return tw_fail(job->fault, TW_BAD_INPUT, "", "forces are positive",
                     "a pull of 0 or less in row %zu", i + 1);
    }
  }
  const tw_status status = fit(&d, &best, job->fault);
  if (status == TW_OK) {
    put(job, &d, &best);
  }
  return status;
}
