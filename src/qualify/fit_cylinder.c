/* fit_cylinder.c: least-squares cylinder; the frame turns with the axis, so that the unknowns stay
 * small (the parameters of Forbes, NPL report DITC 140/89; from memory). */
#include "fit_inner.h"
#include "inner.h"
#include "small.h"

#include <float.h>
#include <math.h>
#include <string.h>

#define TW_CYLINDER_STEPS 300
#define TW_CYLINDER_LOOK  400 /* points used to choose the start */

struct cylinder {
  double base[3], axis[3], radius;
  double squares;
};

/* two unit vectors across the axis */
static void across(const double axis[3], double u[3], double v[3])
{
  size_t least = 0;
  for (size_t k = 1; k < 3; k++) {
    least = fabs(axis[k]) < fabs(axis[least]) ? k : least;
  }
  double unit[3] = {0};
  unit[least] = 1.0;
  tw_small_cross(axis, unit, u);
  const double length = tw_small_length(u, 3);
  for (size_t k = 0; k < 3; k++) {
    u[k] /= length;
  }
  tw_small_cross(axis, u, v);
}

static void point_at(const tw_cloud *c, size_t i, const double *base, double out[3])
{
  for (size_t k = 0; k < 3; k++) {
    out[k] = c->point[3 * i + k] - c->centroid[k] - base[k];
  }
}

/* circle through the points seen along `axis`: base and radius by the linear start, mean square of
 * the radial residuals */
static bool seen_along(const tw_cloud *c, const double axis[3], struct cylinder *out)
{
  static const double origin[3] = {0};
  double u[3], v[3];
  across(axis, u, v);
  const size_t stride = c->n > TW_CYLINDER_LOOK ? c->n / TW_CYLINDER_LOOK : 1;
  double h[9] = {0}, g[3] = {0};
  size_t count = 0;
  for (size_t i = 0; i < c->n; i += stride, count++) {
    double at[3];
    point_at(c, i, origin, at);
    const double x[3] = {tw_small_dot(at, u, 3) / c->reach, tw_small_dot(at, v, 3) / c->reach, 1.0};
    const double square = x[0] * x[0] + x[1] * x[1];
    for (size_t k = 0; k < 3; k++) {
      g[k] += square * x[k];
      for (size_t m = 0; m < 3; m++) {
        h[3 * k + m] += x[k] * x[m];
      }
    }
  }
  if (!tw_small_cholesky(h, 3)) {
    return false;
  }
  tw_small_solve(h, 3, g);
  const double a = 0.5 * g[0], b = 0.5 * g[1], r2 = g[2] + a * a + b * b;
  *out = (struct cylinder){.radius = c->reach * sqrt(r2)};
  for (size_t k = 0; k < 3; k++) {
    out->axis[k] = axis[k];
    out->base[k] = c->reach * (a * u[k] + b * v[k]);
  }
  for (size_t i = 0; i < c->n; i += stride) {
    double at[3], x[3];
    point_at(c, i, out->base, at);
    tw_small_cross(at, axis, x);
    const double f = tw_small_length(x, 3) - out->radius;
    out->squares += f * f / (double)count;
  }
  return isfinite(out->squares) && r2 > 0.0;
}

/* J^T J and J^T f in the frame of the axis: f = |(x, y)| - R; unknowns: base along u and v, tilt of
 * the axis along u and v (over reach), radius */
static double look(const tw_cloud *c, const struct cylinder *cyl, double *h, double *g)
{
  double u[3], v[3];
  across(cyl->axis, u, v);
  long double hh[25] = {0}, gg[5] = {0}, squares = 0.0L;
  for (size_t i = 0; i < c->n; i++) {
    double at[3];
    point_at(c, i, cyl->base, at);
    const double x = tw_small_dot(at, u, 3), y = tw_small_dot(at, v, 3);
    const double z = tw_small_dot(at, cyl->axis, 3) / c->reach, r = hypot(x, y);
    const double f = r - cyl->radius, ux = r > 0.0 ? x / r : 0.0, uy = r > 0.0 ? y / r : 0.0;
    const double j[5] = {-ux, -uy, -ux * z, -uy * z, -1.0};
    squares += (long double)(f * f);
    for (size_t k = 0; k < 5; k++) {
      gg[k] += (long double)(f * j[k]);
      for (size_t m = 0; m <= k; m++) {
        hh[5 * k + m] += (long double)(j[k] * j[m]);
      }
    }
  }
  for (size_t k = 0; k < 5; k++) {
    g[k] = (double)gg[k];
    for (size_t m = 0; m <= k; m++) {
      h[5 * k + m] = h[5 * m + k] = (double)hh[5 * k + m];
    }
  }
  return (double)squares;
}

static struct cylinder moved(const tw_cloud *c, const struct cylinder *from, const double *step)
{
  struct cylinder to = *from;
  double u[3], v[3];
  across(from->axis, u, v);
  for (size_t k = 0; k < 3; k++) {
    to.base[k] += step[0] * u[k] + step[1] * v[k];
    to.axis[k] += (step[2] * u[k] + step[3] * v[k]) / c->reach;
  }
  const double length = tw_small_length(to.axis, 3);
  for (size_t k = 0; k < 3; k++) {
    to.axis[k] /= length;
  }
  to.radius += step[4];
  return to;
}

/* damped Gauss-Newton; h keeps J^T J of the end */
static bool descend(const tw_cloud *c, struct cylinder *cyl, double *h, int *steps)
{
  double g[5], damping = 1e-3, last = (double)INFINITY;
  cyl->squares = look(c, cyl, h, g);
  for (*steps = 0; *steps < TW_CYLINDER_STEPS; ++*steps) {
    double a[25], step[5], size = 0.0, h_there[25], g_there[5];
    memcpy(a, h, sizeof a);
    for (size_t k = 0; k < 5; k++) {
      a[6 * k] *= 1.0 + damping;
      step[k] = -g[k];
    }
    if (!tw_small_cholesky(a, 5)) {
      return false;
    }
    tw_small_solve(a, 5, step);
    for (size_t k = 0; k < 5; k++) {
      size = fmax(size, fabs(step[k]));
    }
    struct cylinder there = moved(c, cyl, step);
    there.squares = look(c, &there, h_there, g_there);
    const double scale = c->reach + fabs(cyl->radius);
    if (!(there.squares <= cyl->squares * (1.0 + 1e-12) + DBL_MIN) && size > 1e-9 * scale) {
      damping = damping > 0.0 ? 10.0 * damping : 1e-3;
      if (damping > 1e12) {
        return false;
      }
      continue;
    }
    *cyl = there;
    memcpy(h, h_there, sizeof h_there);
    memcpy(g, g_there, sizeof g_there);
    damping = damping < 1e-7 ? 0.0 : 0.1 * damping;
    if (size <= 1e-15 * scale || (size < 1e-12 * scale && size >= 0.5 * last)) {
      return true;
    }
    last = size;
  }
  return false;
}

/* directions over half the sphere by the golden angle, and the principal axes; the best three */
#define TW_CYLINDER_TRIES 200
#define TW_CYLINDER_BEST  3

static size_t starts(const tw_cloud *c, struct cylinder *best)
{
  size_t count = 0;
  for (int i = 0; i < TW_CYLINDER_TRIES + 3; i++) {
    const double z = ((double)i + 0.5) / TW_CYLINDER_TRIES, turn = 2.399963229728653 * (double)i;
    const double r = sqrt(fmax(0.0, 1.0 - z * z));
    double axis[3] = {r * cos(turn), r * sin(turn), z};
    if (i >= TW_CYLINDER_TRIES) {
      memcpy(axis, c->axis + 3 * (i - TW_CYLINDER_TRIES), sizeof axis);
    }
    struct cylinder now;
    if (!seen_along(c, axis, &now)) {
      continue;
    }
    size_t place = count < TW_CYLINDER_BEST ? count++ : TW_CYLINDER_BEST;
    for (; place > 0 && now.squares < best[place - 1].squares; place--) {
      if (place < TW_CYLINDER_BEST) {
        best[place] = best[place - 1];
      }
    }
    if (place < TW_CYLINDER_BEST) {
      best[place] = now;
    }
  }
  return count;
}

tw_status tw_fit_cylinder(const tw_cloud *c, tw_fit *out, tw_fault *fault)
{
  if (tw_cloud_is_flat(c, 0)) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "take points at two or more heights",
                   "the points lie in one plane: many cylinders go through them");
  }
  struct cylinder best[TW_CYLINDER_BEST], found = {0};
  double h[25], kept[25];
  const size_t count = starts(c, best);
  bool any = false;
  for (size_t i = 0; i < count; i++) {
    int steps;
    if (descend(c, &best[i], h, &steps) && best[i].radius > 0.0 &&
        best[i].radius < 1e6 * c->reach && (!any || best[i].squares < found.squares)) {
      any = true;
      found = best[i];
      out->steps = steps;
      memcpy(kept, h, sizeof kept);
    }
  }
  if (!any || !tw_small_cholesky(kept, 5)) {
    return tw_fail(fault, TW_NO_ANSWER, "points",
                   "spread them round the bore at two or more heights",
                   "no cylinder settles on these points");
  }
  double unit[5] = {0, 0, 0, 0, 1.0}, shift_u[5] = {1.0}, shift_v[5] = {0, 1.0}, u[3], v[3];
  tw_small_solve(kept, 5, unit);
  tw_small_solve(kept, 5, shift_u);
  tw_small_solve(kept, 5, shift_v);
  out->radius_u = sqrt(unit[4]);
  across(found.axis, u, v);
  /* the point of the axis nearest to the centroid */
  const double along = tw_small_dot(found.base, found.axis, 3);
  for (size_t k = 0; k < 3; k++) {
    out->direction[k] = found.axis[k];
    out->centre[k] = found.base[k] - along * found.axis[k];
    out->centre_u[k] =
        sqrt(u[k] * u[k] * shift_u[0] + v[k] * v[k] * shift_v[1] + 2.0 * u[k] * v[k] * shift_u[1]);
  }
  out->radius = found.radius;
  return TW_OK;
}
