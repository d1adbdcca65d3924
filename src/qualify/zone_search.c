/* zone_search.c: the exact searches behind the zones: Welzl's circle, and branch and bound. */
#include "inner.h"
#include "tripwright/random.h"
#include "zone_inner.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

void tw_zone_radii(const double *at, size_t n, double cx, double cy, double *least,
                   double *greatest)
{
  double low = (double)INFINITY, high = 0.0;
  for (size_t i = 0; i < n; i++) {
    const double x = at[2 * i] - cx, y = at[2 * i + 1] - cy, square = x * x + y * y;
    low = square < low ? square : low;
    high = square > high ? square : high;
  }
  *least = sqrt(low);
  *greatest = sqrt(high);
}

/* ---- smallest circle ---------------------------------------------------------------------------
 */

struct circle {
  double x, y, r;
};

static bool holds(struct circle c, const double *p)
{
  return hypot(p[0] - c.x, p[1] - c.y) <= c.r * (1.0 + 4.0 * DBL_EPSILON);
}

static struct circle through_two(const double *a, const double *b)
{
  const double x = 0.5 * (a[0] + b[0]), y = 0.5 * (a[1] + b[1]);
  return (struct circle){x, y, 0.5 * hypot(a[0] - b[0], a[1] - b[1])};
}

/* circumcircle, from a; two points on one spot or three on a line: the widest pair */
static struct circle through_three(const double *a, const double *b, const double *c)
{
  const double bx = b[0] - a[0], by = b[1] - a[1], cx = c[0] - a[0], cy = c[1] - a[1];
  const double twice = 2.0 * (bx * cy - by * cx), bb = bx * bx + by * by, cc = cx * cx + cy * cy;
  if (twice == 0.0) {
    const struct circle ab = through_two(a, b), ac = through_two(a, c), bc = through_two(b, c);
    return ab.r > ac.r ? (ab.r > bc.r ? ab : bc) : (ac.r > bc.r ? ac : bc);
  }
  const double x = (cy * bb - by * cc) / twice, y = (bx * cc - cx * bb) / twice;
  return (struct circle){a[0] + x, a[1] + y, hypot(x, y)};
}

void tw_zone_smallest(double *at, size_t n, double centre[2], double *radius)
{
  /* a fixed shuffle makes the expected work linear whatever the order of the points */
  tw_random random;
  tw_random_start(&random, 1991, n);
  for (size_t i = n; i-- > 1;) {
    const size_t j = (size_t)tw_random_below(&random, i + 1);
    for (size_t k = 0; k < 2; k++) {
      const double swap = at[2 * i + k];
      at[2 * i + k] = at[2 * j + k];
      at[2 * j + k] = swap;
    }
  }
  struct circle c = {at[0], at[1], 0.0};
  for (size_t i = 1; i < n; i++) {
    if (holds(c, at + 2 * i)) {
      continue;
    }
    c = (struct circle){at[2 * i], at[2 * i + 1], 0.0}; /* i is on the edge */
    for (size_t j = 0; j < i; j++) {
      if (holds(c, at + 2 * j)) {
        continue;
      }
      c = through_two(at + 2 * i, at + 2 * j); /* and so is j */
      for (size_t k = 0; k < j; k++) {
        if (!holds(c, at + 2 * k)) {
          c = through_three(at + 2 * i, at + 2 * j, at + 2 * k);
        }
      }
    }
  }
  centre[0] = c.x;
  centre[1] = c.y;
  *radius = c.r;
}

/* ---- branch and bound --------------------------------------------------------------------------
 */

#define TW_BOXES  ((size_t)100000)
#define TW_LEVELS 80

struct box {
  double x, y, value;
};

/* what is made small: the width of the zone, or minus the inscribed radius */
static double value_at(const tw_zone_search *s, double x, double y)
{
  double least, greatest;
  tw_zone_radii(s->at, s->n, x, y, &least, &greatest);
  return s->minimum ? greatest - least : -least;
}

/* A distance changes no faster than the centre moves. Points that can be neither the farthest nor
 * the nearest for any centre within `reach` of (x, y) go to the back and are counted out. */
static void leave_out(tw_zone_search *s, double x, double y, double reach)
{
  double least, greatest;
  tw_zone_radii(s->at, s->n, x, y, &least, &greatest);
  for (size_t i = 0; i < s->n;) {
    const double d = hypot(s->at[2 * i] - x, s->at[2 * i + 1] - y);
    const bool nearest = d - reach <= least + reach;
    const bool farthest = s->minimum && d + reach >= greatest - reach;
    if (nearest || farthest) {
      i++;
      continue;
    }
    s->n--;
    for (size_t k = 0; k < 2; k++) {
      const double swap = s->at[2 * i + k];
      s->at[2 * i + k] = s->at[2 * s->n + k];
      s->at[2 * s->n + k] = swap;
    }
  }
}

/* middle of the boxes and how far their corners are from it */
static double spread_of(const struct box *box, size_t count, double half, double *x, double *y)
{
  double low[2] = {(double)INFINITY, (double)INFINITY};
  double high[2] = {-(double)INFINITY, -(double)INFINITY};
  for (size_t i = 0; i < count; i++) {
    low[0] = fmin(low[0], box[i].x);
    high[0] = fmax(high[0], box[i].x);
    low[1] = fmin(low[1], box[i].y);
    high[1] = fmax(high[1], box[i].y);
  }
  *x = 0.5 * (low[0] + high[0]);
  *y = 0.5 * (low[1] + high[1]);
  return hypot(0.5 * (high[0] - low[0]) + half, 0.5 * (high[1] - low[1]) + half);
}

static int by_value(const void *a, const void *b)
{
  const double x = ((const struct box *)a)->value, y = ((const struct box *)b)->value;
  return (x > y) - (x < y);
}

/* quarter every box, look at the middles, keep those that may still hold the best */
static size_t quarter(tw_zone_search *s, const struct box *old, size_t count, double half,
                      struct box *fresh)
{
  const double slack = (s->minimum ? 2.0 : 1.0) * half * 1.4142135623730951;
  size_t kept = 0;
  for (size_t i = 0; i < 4 * count; i++) {
    struct box b = old[i / 4];
    b.x += i & 1 ? half : -half;
    b.y += i & 2 ? half : -half;
    b.value = value_at(s, b.x, b.y);
    if (b.value < s->value) {
      s->value = b.value;
      s->centre[0] = b.x;
      s->centre[1] = b.y;
    }
    if (b.value - slack <= s->value) {
      fresh[kept++] = b;
    }
  }
  size_t still = 0;
  for (size_t i = 0; i < kept; i++) {
    if (fresh[i].value - slack <= s->value) {
      fresh[still++] = fresh[i];
    }
  }
  return still;
}

tw_status tw_zone_branch(tw_zone_search *s, tw_fault *fault)
{
  struct box *old = tw_alloc(TW_BOXES, sizeof *old);
  struct box *fresh = tw_alloc(4 * TW_BOXES, sizeof *fresh);
  if (!old || !fresh) {
    tw_free(old);
    tw_free(fresh);
    return tw_no_memory(fault);
  }
  size_t count = 1;
  double half = s->half, dropped = (double)INFINITY;
  const double factor = (s->minimum ? 2.0 : 1.0) * 1.4142135623730951;
  old[0] = (struct box){0};
  s->centre[0] = s->centre[1] = 0.0;
  s->value = value_at(s, 0.0, 0.0);
  for (int level = 0; level < TW_LEVELS && half > 0.25 * DBL_EPSILON * s->scale; level++) {
    half *= 0.5;
    count = quarter(s, old, count, half, fresh);
    if (count > TW_BOXES) {
      /* a flat bottom: keep the lowest, and own up in the bound */
      qsort(fresh, count, sizeof *fresh, by_value);
      dropped = fmin(dropped, fresh[TW_BOXES / 4].value - factor * half);
      count = TW_BOXES / 4;
    }
    memcpy(old, fresh, count * sizeof *old);
    double x, y;
    const double reach = spread_of(old, count, half, &x, &y);
    /* the best centre must keep the value that it was found with */
    leave_out(s, x, y, fmax(reach, hypot(s->centre[0] - x, s->centre[1] - y)));
  }
  const double least = fmin(dropped, s->value - factor * half);
  s->bound = fmax(s->value - least, 4.0 * DBL_EPSILON * s->scale);
  tw_free(old);
  tw_free(fresh);
  return TW_OK;
}
