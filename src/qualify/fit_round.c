/* fit_round.c: circle and sphere by Newton's method on the true distances. */
#include "fit_inner.h"
#include "inner.h"
#include "small.h"

#include <float.h>
#include <math.h>
#include <string.h>

#define TW_ROUND_STEPS 200
#define TW_BLOCK       256 /* sums of so many in double, then into the long total */
#define TW_FLAT_RADIUS 1e7 /* a radius so many times the extent is a line or a plane */

/* unknowns: centre (d) and radius; everything from the centroid */
struct valley {
  double squares, gradient[4], hessian[16], gauss[16];
};

/* indices of sums kept for each point: u, f, f u, u u, f/r u u, f/r */
#define TW_SUMS 24

/* sums over a block of points; cold-started each block so that rounding does not pile up */
static void add_block(const tw_cloud *c, size_t from, size_t to, const double *x, double *sum)
{
  const size_t d = c->dimensions;
  for (size_t i = from; i < to; i++) {
    double v[3] = {0}, square = 0.0;
    for (size_t k = 0; k < d; k++) {
      v[k] = c->point[i * d + k] - c->centroid[k] - x[k];
      square += v[k] * v[k];
    }
    const double r = sqrt(square), inverse = r > 0.0 ? 1.0 / r : 0.0, f = r - x[d];
    const double curve = f * inverse;
    double *s = sum;
    *s++ += f * f;
    *s++ += f;
    *s++ += curve;
    for (size_t k = 0; k < d; k++) {
      const double u = v[k] * inverse;
      *s++ += u;
      *s++ += f * u;
      for (size_t m = 0; m <= k; m++) {
        const double uu = u * v[m] * inverse;
        *s++ += uu;
        *s++ += curve * uu;
      }
    }
  }
}

/* sum of squares, half its gradient, half its Hessian with and without the curvature of r */
static void look(const tw_cloud *c, const double *x, struct valley *v)
{
  const size_t d = c->dimensions, p = d + 1;
  long double total[TW_SUMS] = {0};
  for (size_t from = 0; from < c->n; from += TW_BLOCK) {
    double sum[TW_SUMS] = {0};
    add_block(c, from, from + TW_BLOCK < c->n ? from + TW_BLOCK : c->n, x, sum);
    for (size_t k = 0; k < TW_SUMS; k++) {
      total[k] += (long double)sum[k];
    }
  }
  const long double *s = total;
  v->squares = (double)*s++;
  v->gradient[d] = (double)-*s++;
  const double curve = (double)*s++;
  for (size_t k = 0; k < d; k++) {
    v->gauss[k * p + d] = v->gauss[d * p + k] = (double)*s++;
    v->hessian[k * p + d] = v->hessian[d * p + k] = v->gauss[k * p + d];
    v->gradient[k] = (double)-*s++;
    for (size_t m = 0; m <= k; m++) {
      const double uu = (double)*s++, bent = (double)*s++;
      v->gauss[k * p + m] = v->gauss[m * p + k] = uu;
      /* second derivative of r by the centre: (I - u u^T)/r */
      v->hessian[k * p + m] = v->hessian[m * p + k] = uu + (k == m ? curve : 0.0) - bent;
    }
  }
  v->gauss[d * p + d] = v->hessian[d * p + d] = (double)c->n;
}

/* Linear start (Kasa 1976): |p|^2 - 2 c.p - k = 0 in the mean; exact for exact points */
static bool start_linear(const tw_cloud *c, double *x)
{
  const size_t d = c->dimensions;
  long double product[3] = {0}, mean = 0.0L;
  for (size_t i = 0; i < c->n; i++) {
    double at[3], square = 0.0;
    for (size_t k = 0; k < d; k++) {
      at[k] = (c->point[i * d + k] - c->centroid[k]) / c->reach;
      square += at[k] * at[k];
    }
    mean += (long double)square;
    for (size_t k = 0; k < d; k++) {
      product[k] += (long double)(square * at[k]);
    }
  }
  const long double n = (long double)c->n;
  /* along each principal axis the equations fall apart: 2 c_k lambda_k = mean(|p|^2 p_k) */
  double square = 0.0;
  memset(x, 0, (d + 1) * sizeof *x);
  for (size_t a = 0; a < d; a++) {
    double along = 0.0;
    for (size_t k = 0; k < d; k++) {
      along += (double)(product[k] / n) * c->axis[a * d + k];
    }
    const double value = c->value[a] / (c->reach * c->reach);
    if (!(value > 0.0)) {
      return false;
    }
    const double offset = 0.5 * along / value;
    for (size_t k = 0; k < d; k++) {
      x[k] += offset * c->axis[a * d + k] * c->reach;
    }
    square += offset * offset;
  }
  x[d] = c->reach * sqrt((double)(mean / n) + square);
  return isfinite(x[d]);
}

/* (H + damping diag) step = -gradient; false if not downhill */
static bool newton_step(const struct valley *v, size_t p, double damping, double *step)
{
  double h[16];
  memcpy(h, v->hessian, p * p * sizeof *h);
  for (size_t k = 0; k < p; k++) {
    h[k * p + k] += damping * v->gauss[k * p + k];
    step[k] = -v->gradient[k];
  }
  if (!tw_small_cholesky(h, p)) {
    return false;
  }
  tw_small_solve(h, p, step);
  return true;
}

/* from x to the bottom of the valley */
static bool descend(const tw_cloud *c, double *x, struct valley *v, int *steps)
{
  const size_t p = c->dimensions + 1;
  double damping = 1e-3, last = (double)INFINITY;
  look(c, x, v);
  for (*steps = 0; *steps < TW_ROUND_STEPS; ++*steps) {
    double step[4], next[4], size = 0.0;
    if (!newton_step(v, p, damping, step)) {
      damping = damping > 0.0 ? 10.0 * damping : 1e-3;
      continue;
    }
    for (size_t k = 0; k < p; k++) {
      next[k] = x[k] + step[k];
      size = fmax(size, fabs(step[k]));
    }
    struct valley there;
    look(c, next, &there);
    const double scale = c->reach + fabs(x[p - 1]);
    if (!(there.squares <= v->squares * (1.0 + 1e-12) + DBL_MIN) && size > 1e-9 * scale) {
      damping = damping > 0.0 ? 10.0 * damping : 1e-3;
      if (damping > 1e12) {
        return false;
      }
      continue;
    }
    memcpy(x, next, p * sizeof *x);
    *v = there;
    damping = damping < 1e-6 ? 0.0 : 0.1 * damping;
    if (size <= 1e-15 * scale || (size < 1e-12 * scale && size >= 0.5 * last)) {
      return true;
    }
    last = size;
    if (!(fabs(x[p - 1]) < TW_FLAT_RADIUS * c->reach)) {
      return false;
    }
  }
  return false;
}

tw_status tw_fit_round(const tw_cloud *c, tw_fit *out, tw_fault *fault)
{
  const size_t d = c->dimensions, p = d + 1;
  const char *what = d == 2 ? "circle" : "sphere", *flat = d == 2 ? "line" : "plane";
  if (tw_cloud_is_flat(c, 0)) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "spread them round the form",
                   "the points lie on one %s: no %s goes through them", flat, what);
  }
  double x[4];
  struct valley v;
  if (!start_linear(c, x) || !descend(c, x, &v, &out->steps) || !(x[d] > 0.0)) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "spread them further round the form",
                   "the points are as near to a %s as to a %s", flat, what);
  }
  double h[16];
  memcpy(h, v.gauss, p * p * sizeof *h);
  if (!tw_small_cholesky(h, p)) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "spread them further round the form",
                   "centre and radius cannot be separated");
  }
  for (size_t k = 0; k < p; k++) {
    double unit[4] = {0};
    unit[k] = 1.0;
    tw_small_solve(h, p, unit);
    *(k < d ? &out->centre_u[k] : &out->radius_u) = sqrt(unit[k]);
  }
  memcpy(out->centre, x, d * sizeof *x);
  out->radius = x[d];
  return TW_OK;
}
