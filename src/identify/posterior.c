/* posterior.c: how surely the parameters are known after the fit, and what the readings cannot tell
 * (docs/models/identify.md 3). */
#include "inner.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>

#include <math.h>
#include <string.h>

/* normal quantile of 97.5 % */
#define TWO_SIDED 1.959963984540054
/* a part of a direction that is named; a parameter that the readings would tell if all others were
 * known */
#define PART  0.35
#define ALONE 1.0

/* ---- covariance ---------------------------------------------------------------------------- */

/* rows [count][n] over their uncertainties */
static void whitened(const rows *r, const fit *f, size_t n, gsl_matrix *j)
{
  gsl_matrix_set_zero(j);
  for (size_t i = 0; i < r->count; i++) {
    for (size_t k = 0; k < n && !r->off[i]; k++) {
      gsl_matrix_set(j, i, k, tw_row_slope(r, i, &f->shown, f->jacobian[r->what[i] * n + k]));
    }
  }
}

/* S = V diag(1/(1 + s^2)) V' */
static void covariance_of(const gsl_matrix *v, const gsl_vector *s, size_t n, double *out)
{
  for (size_t a = 0; a < n; a++) {
    for (size_t b = 0; b < n; b++) {
      double sum = 0;
      for (size_t q = 0; q < n; q++) {
        const double one = gsl_vector_get(s, q);
        sum += gsl_matrix_get(v, a, q) * gsl_matrix_get(v, b, q) / (1 + one * one);
      }
      out[a * n + b] = sum;
    }
  }
}

/* the same parameters in another direction say nothing new */
static bool is_said(const tw_together *t, const tw_identified *out)
{
  for (size_t i = 0; i < out->together_count; i++) {
    const tw_together *o = &out->together[i];
    if (o->count == t->count &&
        memcmp(o->parameter, t->parameter, t->count * sizeof t->parameter[0]) == 0) {
      return true;
    }
  }
  return false;
}

/* what the readings tell only together: parts of one direction that the prior has to settle */
static void find_together(const gsl_matrix *v, const gsl_vector *s, const double *alone, size_t n,
                          tw_identified *out)
{
  for (size_t q = 0; q < n && out->together_count < TW_TOGETHER_MOST; q++) {
    tw_together t = {.singular = gsl_vector_get(s, q)};
    for (size_t k = 0; k < n && t.singular < 1 && t.count < 4; k++) {
      const double part = gsl_matrix_get(v, k, q);
      if (fabs(part) > PART && alone[k] > ALONE) {
        t.share[t.count] = part;
        t.parameter[t.count++] = k;
      }
    }
    if (t.count > 1 && !is_said(&t, out)) {
      out->together[out->together_count++] = t;
    }
  }
}

/* values and ends of all parameters */
static void put_parameters(const fit *f, tw_identified *out)
{
  const size_t n = out->parameters;
  for (size_t k = 0; k < n; k++) {
    tw_parameter *p = &out->parameter[k];
    p->shrink = sqrt(out->covariance[k * n + k]);
    p->before[0] = tw_parameter_at(p, 0);
    p->before[1] = tw_parameter_at(p, -TWO_SIDED);
    p->before[2] = tw_parameter_at(p, TWO_SIDED);
    p->after[0] = tw_parameter_at(p, f->z[k]);
    p->after[1] = tw_parameter_at(p, f->z[k] - TWO_SIDED * p->shrink);
    p->after[2] = tw_parameter_at(p, f->z[k] + TWO_SIDED * p->shrink);
    p->u = p->shrink * (p->ratio ? p->sd * p->after[0] : p->sd);
  }
}

tw_status tw_unit_posterior(const unit_model *m, const rows *r, const fit *f, tw_identified *out,
                            tw_fault *fault)
{
  const size_t n = m->parameters, high = r->count > n ? r->count : n;
  double alone[TW_IDENTIFY_MOST];
  gsl_set_error_handler_off(); /* what fails shows in the answer */
  gsl_matrix *j = gsl_matrix_alloc(high, n), *v = gsl_matrix_alloc(n, n);
  gsl_vector *s = gsl_vector_alloc(n), *work = gsl_vector_alloc(n);
  tw_status status = TW_OK;
  if (!j || !v || !s || !work) {
    status = tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
  } else {
    whitened(r, f, n, j);
    for (size_t k = 0; k < n; k++) {
      double sum = 0;
      for (size_t i = 0; i < r->count; i++) {
        sum += gsl_matrix_get(j, i, k) * gsl_matrix_get(j, i, k);
      }
      alone[k] = sqrt(sum);
    }
    if (gsl_linalg_SV_decomp(j, v, s, work) != GSL_SUCCESS) {
      status = tw_fail(fault, TW_NO_ANSWER, "", "leave readings out until it has one",
                       "what the readings tell has no numerical answer");
    }
  }
  if (status == TW_OK) {
    covariance_of(v, s, n, out->covariance);
    out->together_count = 0;
    find_together(v, s, alone, n, out);
    put_parameters(f, out);
  }
  gsl_matrix_free(j);
  gsl_matrix_free(v);
  gsl_vector_free(s);
  gsl_vector_free(work);
  return status;
}

/* ---- one-sided parameters ------------------------------------------------------------------ */

enum { POINTS = 41 };
/* prior deviations to either side */
#define REACH 4.0
/* an end that the readings have not moved from that of the prior, in prior deviations */
#define UNMOVED 1.5

/* least sum of squares over all other parameters when parameter k stands at one place: the others
 * follow on the straight picture of the Jacobian */
static double sum_beside(const rows *r, const fit *f, const shown *here, size_t k, double at,
                         size_t n, gsl_matrix *a, gsl_vector *b, gsl_vector *d)
{
  double left[TW_BENCH_COUNT], sum = at * at;
  gsl_matrix_set_identity(a);
  for (size_t i = 0; i < n; i++) {
    gsl_vector_set(b, i, i == k ? 0 : -f->z[i]);
  }
  for (size_t i = 0; i < r->count; i++) {
    left[i] = r->off[i] ? 0 : tw_row_left(r, i, here);
    for (size_t p = 0; p < n && !r->off[i]; p++) {
      const double jp = p == k ? 0 : tw_row_slope(r, i, &f->shown, f->jacobian[r->what[i] * n + p]);
      gsl_vector_set(b, p, gsl_vector_get(b, p) - jp * left[i]);
      for (size_t q = 0; q < n; q++) {
        const double jq =
            q == k ? 0 : tw_row_slope(r, i, &f->shown, f->jacobian[r->what[i] * n + q]);
        gsl_matrix_set(a, p, q, gsl_matrix_get(a, p, q) + jp * jq);
      }
    }
  }
  if (gsl_linalg_cholesky_decomp1(a) != GSL_SUCCESS) {
    return INFINITY;
  }
  (void)gsl_linalg_cholesky_solve(a, b, d);
  for (size_t i = 0; i < r->count; i++) {
    for (size_t p = 0; p < n && !r->off[i]; p++) {
      left[i] += p == k ? 0
                        : tw_row_slope(r, i, &f->shown, f->jacobian[r->what[i] * n + p]) *
                              gsl_vector_get(d, p);
    }
    sum += left[i] * left[i];
  }
  for (size_t p = 0; p < n; p++) {
    const double one = p == k ? 0 : f->z[p] + gsl_vector_get(d, p);
    sum += one * one;
  }
  return sum;
}

/* where the share `part` of the area under exp(-sum/2) lies below; straight between the points */
static double quantile(const double *z, const double *sum, double part)
{
  double least = INFINITY, area[POINTS] = {0};
  for (int i = 0; i < POINTS; i++) {
    least = fmin(least, sum[i]);
  }
  for (int i = 1; i < POINTS; i++) {
    area[i] = area[i - 1] + 0.5 * (z[i] - z[i - 1]) *
                                (exp(-0.5 * (sum[i] - least)) + exp(-0.5 * (sum[i - 1] - least)));
  }
  const double want = part * area[POINTS - 1];
  for (int i = 1; i < POINTS; i++) {
    if (area[i] >= want) {
      const double step = area[i] - area[i - 1];
      return z[i - 1] + (step > 0 ? (want - area[i - 1]) / step : 0) * (z[i] - z[i - 1]);
    }
  }
  return z[POINTS - 1];
}

static void put_ends(const double *z, const double *sum, tw_parameter *p)
{
  const double low = quantile(z, sum, 0.025), middle = quantile(z, sum, 0.5),
               high = quantile(z, sum, 0.975);
  p->by_profile = true;
  p->after[0] = tw_parameter_at(p, middle);
  p->after[1] = tw_parameter_at(p, low);
  p->after[2] = tw_parameter_at(p, high);
  p->bounded_below = low > -UNMOVED && high > UNMOVED;
  p->bounded_above = high < UNMOVED && low < -UNMOVED;
  if (p->bounded_below) {
    p->after[1] = tw_parameter_at(p, quantile(z, sum, 0.05));
  } else if (p->bounded_above) {
    p->after[2] = tw_parameter_at(p, quantile(z, sum, 0.95));
  }
}

tw_status tw_unit_profile(unit_model *m, const rows *r, const fit *f, size_t k, tw_identified *out,
                          tw_fault *fault)
{
  const size_t n = m->parameters;
  double z[POINTS], sum[POINTS];
  shown *here = tw_alloc(POINTS, sizeof *here);
  gsl_matrix *a = gsl_matrix_alloc(n, n);
  gsl_vector *b = gsl_vector_alloc(n), *d = gsl_vector_alloc(n);
  tw_status status = TW_OK;
  for (int i = 0; i < POINTS; i++) {
    z[i] = REACH * (2.0 * i / (POINTS - 1) - 1);
  }
  if (!here || !a || !b || !d) {
    status = tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
  } else {
    status = tw_unit_slice(m, f->z, k, z, POINTS, here, fault);
  }
  for (int i = 0; i < POINTS && status == TW_OK; i++) {
    sum[i] = sum_beside(r, f, &here[i], k, z[i], n, a, b, d);
  }
  if (status == TW_OK) {
    put_ends(z, sum, &out->parameter[k]);
  }
  gsl_matrix_free(a);
  gsl_vector_free(b);
  gsl_vector_free(d);
  tw_free(here);
  return status;
}

/* ---- what the card shows ------------------------------------------------------------------- */

/* g S g of one row of the Jacobian; S NULL: that of the prior */
static double spread_of(const double *g, const double *s, size_t n)
{
  double sum = 0;
  for (size_t a = 0; a < n; a++) {
    for (size_t b = 0; b < n; b++) {
      sum += s ? g[a] * s[a * n + b] * g[b] : (a == b ? g[a] * g[a] : 0);
    }
  }
  return fmax(sum, 0);
}

void tw_unit_foresee(const unit_model *m, const shown *drawn, const fit *f, tw_identified *out)
{
  const size_t n = m->parameters;
  for (size_t w = 0; w < TW_IDENTIFY_SHOWN; w++) {
    const double *g = &f->jacobian[w * n];
    out->foreseen[w] = (tw_foreseen){.known = drawn->known[w] && f->shown.known[w],
                                     .drawing = drawn->value[w],
                                     .unit = f->shown.value[w],
                                     .u_before = sqrt(spread_of(g, NULL, n)),
                                     .u = sqrt(spread_of(g, out->covariance, n))};
  }
}

/* ---- what to read next --------------------------------------------------------------------- */

static bool was_read(const tw_identified *out, tw_bench_id id)
{
  for (size_t i = 0; i < out->readings; i++) {
    if (out->fitted[i].id == id) {
      return true;
    }
  }
  return false;
}

/* S after one more reading of slope g and uncertainty u: S - S g g' S/(u^2 + g' S g) */
static void learn(double *s, const double *g, double u, size_t n)
{
  double sg[TW_IDENTIFY_MOST];
  const double down = u * u + spread_of(g, s, n);
  for (size_t a = 0; a < n; a++) {
    sg[a] = 0;
    for (size_t b = 0; b < n; b++) {
      sg[a] += s[a * n + b] * g[b];
    }
  }
  for (size_t a = 0; a < n; a++) {
    for (size_t b = 0; b < n; b++) {
      s[a * n + b] -= sg[a] * sg[b] / down;
    }
  }
}

/* what one more reading tells: about one figure of slope `about`, or about all parameters */
static double nats_of(const double *s, const double *g, double u, const double *about, size_t n)
{
  if (!about) {
    return 0.5 * log1p(spread_of(g, s, n) / (u * u));
  }
  double across = 0;
  for (size_t a = 0; a < n; a++) {
    for (size_t b = 0; b < n; b++) {
      across += about[a] * s[a * n + b] * g[b];
    }
  }
  const double own = spread_of(about, s, n), all = u * u + spread_of(g, s, n);
  const double share = own > 0 ? across * across / (own * all) : 0;
  return -0.5 * log1p(-fmin(share, 1 - 1e-12));
}

static double width_of(const double *s, const double *about, size_t n)
{
  double sum = 0;
  for (size_t k = 0; k < n && !about; k++) {
    sum += s[k * n + k];
  }
  return sqrt(about ? spread_of(about, s, n) : sum);
}

/* worth a line: less than this share of a nat a reading changes nothing that anyone would see (own
 * choice) */
#define WORTH 0.02

void tw_unit_next(const unit_model *m, const fit *f, const double *about, tw_identified *out)
{
  const size_t n = m->parameters;
  double *s = tw_alloc(n * n, sizeof *s);
  bool done[TW_BENCH_COUNT] = {false};
  if (!s) {
    return;
  }
  memcpy(s, out->covariance, n * n * sizeof *s);
  const double start = width_of(s, about, n);
  for (out->next_count = 0; out->next_count < TW_BENCH_COUNT;) {
    double most = 0;
    tw_next_check best = {0};
    for (int i = 0; i < out->card.count; i++) {
      const tw_bench_check *c = &out->card.check[i];
      if (done[c->id] || was_read(out, c->id) || c->word || !f->shown.known[c->id]) {
        continue;
      }
      const double u = c->usual_u * fabs(f->shown.value[c->id]);
      const double nats = u > 0 ? nats_of(s, &f->jacobian[c->id * n], u, about, n) : 0;
      if (nats > WORTH && nats / c->minutes > most) {
        most = nats / c->minutes;
        best = (tw_next_check){.id = c->id, .nats = nats, .minutes = c->minutes};
      }
    }
    if (!(most > 0)) {
      break;
    }
    done[best.id] = true;
    learn(s, &f->jacobian[best.id * n],
          tw_bench_find(&out->card, best.id)->usual_u * fabs(f->shown.value[best.id]), n);
    best.left = start > 0 ? width_of(s, about, n) / start : 1;
    out->next[out->next_count++] = best;
  }
  tw_free(s);
}
