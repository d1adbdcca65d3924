/* fit_straight.c: line and plane through the centroid along the eigenvectors of the scatter. */
#include "fit_inner.h"
#include "small.h"

#include <math.h>

/* The eigenvectors of sums of squares carry half the digits; one more solution in the turned frame,
 * where what is left to turn is small, brings the rest back: the slopes of `normal` against the
 * other axes. */
static void sharpen_normal(const tw_cloud *c, double *normal, const double *along, size_t count)
{
  const size_t d = c->dimensions;
  for (int pass = 0; pass < 3; pass++) {
    double slope[2] = {0};
    for (size_t a = 0; a < count; a++) {
      long double with = 0.0L, of = 0.0L;
      for (size_t i = 0; i < c->n; i++) {
        double u = 0.0, w = 0.0;
        for (size_t k = 0; k < d; k++) {
          const double at = c->point[i * d + k] - c->centroid[k];
          u += at * along[a * d + k];
          w += at * normal[k];
        }
        with += (long double)(u * w);
        of += (long double)(u * u);
      }
      /* the stationary turn for two nearly principal axes: cov(u,w)/(var u - var w) */
      slope[a] = of > 0.0L ? (double)(with / of) : 0.0;
    }
    for (size_t k = 0; k < d; k++) {
      for (size_t a = 0; a < count; a++) {
        normal[k] -= slope[a] * along[a * d + k];
      }
    }
    const double length = tw_small_length(normal, d);
    for (size_t k = 0; k < d; k++) {
      normal[k] /= length;
    }
  }
}

tw_status tw_fit_straight(const tw_cloud *c, tw_fit *out, tw_fault *fault)
{
  const size_t d = c->dimensions;
  if (out->form == TW_PLANE) {
    if (tw_cloud_is_flat(c, 1)) {
      return tw_fail(fault, TW_NO_ANSWER, "points", "spread them over the face",
                     "the points lie on one line: a plane can turn about it");
    }
    for (size_t k = 0; k < 3; k++) {
      out->direction[k] = c->axis[k];
    }
    sharpen_normal(c, out->direction, c->axis + 3, 2);
    return TW_OK;
  }
  /* the line runs along the greatest scatter: take the part of the other axes out of it */
  for (size_t k = 0; k < d; k++) {
    out->direction[k] = c->axis[(d - 1) * d + k];
  }
  if (c->value[d - 1] - c->value[d - 2] <= 1e-9 * c->value[d - 1]) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "spread them along the edge",
                   "the points are as wide as they are long: no direction stands out");
  }
  return TW_OK;
}
