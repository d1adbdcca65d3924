/* zone.c: roundness about four centres. */
#include "inner.h"
#include "zone_inner.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>

/* largest gap in angle between neighbours, seen from the origin; n >= 1 */
static double largest_gap(const double *at, size_t n, double *room)
{
  for (size_t i = 0; i < n; i++) {
    room[i] = atan2(at[2 * i + 1], at[2 * i]);
  }
  qsort(room, n, sizeof *room, tw_compare_doubles);
  double gap = room[0] + 2.0 * TW_PI - room[n - 1];
  for (size_t i = 1; i < n; i++) {
    gap = fmax(gap, room[i] - room[i - 1]);
  }
  return gap;
}

/* How far the best centre can be from the least-squares one. In every direction there is a point
 * within half the gap; moved by m towards it, it comes nearer at least as the cosine rule says. */
static double inscribed_reach(double least, double greatest, double cosine)
{
  const double rest = greatest * greatest * (cosine * cosine - 1.0) + least * least;
  return rest > 0.0 ? greatest * cosine - sqrt(rest) : greatest;
}

static double zone_width_beyond(double move, double least, double greatest, double cosine)
{
  return sqrt(least * least + move * move + 2.0 * least * move * cosine) -
         sqrt(greatest * greatest + move * move - 2.0 * greatest * move * cosine);
}

typedef struct known_zone {
  double least, greatest, cosine;
} known_zone;

/* no wider yet than the zone that is known */
static bool no_wider(const void *self, double move)
{
  const known_zone *k = self;
  return !(zone_width_beyond(move, k->least, k->greatest, k->cosine) > k->greatest - k->least);
}

static double minimum_reach(double least, double greatest, double cosine)
{
  /* the width grows with the move: where has it grown past the one that is known? */
  double low = 0.0, high = 10.0 * greatest;
  tw_bisect(no_wider, &(const known_zone){least, greatest, cosine}, 1e-3, 200, &low, &high);
  return high;
}

static bool is_support(double distance, double radius, double slack)
{
  return fabs(distance - radius) <= slack;
}

/* radii about the centre, and the points that hold them; `point` in the caller's order */
static void describe(const double *point, size_t n, const double origin[2], tw_zone_fit *out)
{
  double least = (double)INFINITY, greatest = 0.0;
  for (int pass = 0; pass < 2; pass++) {
    const double slack = 1e-10 * greatest + 2.0 * DBL_EPSILON * (fabs(origin[0]) + fabs(origin[1]));
    for (size_t i = 0; i < n; i++) {
      const double x = point[2 * i] - origin[0] - out->centre[0];
      const double y = point[2 * i + 1] - origin[1] - out->centre[1], d = hypot(x, y);
      if (pass == 0) {
        least = fmin(least, d);
        greatest = fmax(greatest, d);
        continue;
      }
      const bool outer = out->zone != TW_ZONE_INSCRIBED && is_support(d, greatest, slack);
      const bool inner = out->zone != TW_ZONE_CIRCUMSCRIBED && is_support(d, least, slack);
      if ((outer || inner) && out->supports < TW_SUPPORT_MOST) {
        out->support_outer[out->supports] = outer;
        out->support[out->supports++] = i;
      }
    }
  }
  out->inner = least;
  out->outer = greatest;
  out->roundness = greatest - least;
  out->radius = out->zone == TW_ZONE_CIRCUMSCRIBED ? greatest
                : out->zone == TW_ZONE_INSCRIBED   ? least
                                                   : 0.5 * (least + greatest);
}

/* do the points that hold the inscribed circle stand round it? */
static bool held_all_round(const double *at, size_t n, const tw_zone_fit *fit, double *room)
{
  size_t count = 0;
  const double slack = 1e-9 * fit->radius;
  for (size_t i = 0; i < n; i++) {
    const double x = at[2 * i] - fit->centre[0], y = at[2 * i + 1] - fit->centre[1];
    if (fabs(hypot(x, y) - fit->inner) <= slack) {
      room[count++] = atan2(y, x);
    }
  }
  qsort(room, count, sizeof *room, tw_compare_doubles);
  double gap = count ? room[0] + 2.0 * TW_PI - room[count - 1] : 2.0 * TW_PI;
  for (size_t i = 1; i < count; i++) {
    gap = fmax(gap, room[i] - room[i - 1]);
  }
  return gap <= TW_PI * (1.0 + 1e-7);
}

static tw_status gap_fault(double gap, tw_fault *fault)
{
  return tw_fail(fault, TW_NO_ANSWER, "points", "take points all round the circle",
                 "the points leave a gap of %.0f degrees, so no zone holds them",
                 gap * 180.0 / TW_PI);
}

static tw_status search(const double *at, size_t n, double gap, double *copy, tw_zone_fit *out,
                        tw_fault *fault)
{
  double least, greatest;
  tw_zone_radii(at, n, 0.0, 0.0, &least, &greatest);
  if (gap >= TW_PI * (1.0 - 1e-9)) {
    return gap_fault(gap, fault);
  }
  for (size_t i = 0; i < 2 * n; i++) {
    copy[i] = at[i];
  }
  const double cosine = cos(0.5 * gap);
  const bool minimum = out->zone == TW_ZONE_MINIMUM;
  const double reach =
      minimum ? minimum_reach(least, greatest, cosine) : inscribed_reach(least, greatest, cosine);
  tw_zone_search s = {.at = copy, .n = n, .minimum = minimum, .scale = greatest};
  s.half = reach * (1.0 + 1e-6) + 1e-12 * greatest;
  const tw_status status = tw_zone_branch(&s, fault);
  out->centre[0] = s.centre[0];
  out->centre[1] = s.centre[1];
  out->bound = s.bound;
  return status;
}

static tw_status zone_about(const double *point, size_t n, const tw_fit *fit, double *at,
                            tw_zone_fit *out, tw_fault *fault)
{
  double *copy = at + 2 * n, *room = at + 4 * n;
  for (size_t i = 0; i < n; i++) {
    at[2 * i] = point[2 * i] - fit->centre[0];
    at[2 * i + 1] = point[2 * i + 1] - fit->centre[1];
  }
  tw_status status = TW_OK;
  if (out->zone == TW_ZONE_CIRCUMSCRIBED) {
    for (size_t i = 0; i < 2 * n; i++) {
      copy[i] = at[i];
    }
    double radius;
    tw_zone_smallest(copy, n, out->centre, &radius);
    out->bound = 1e-14 * radius;
  } else if (out->zone != TW_ZONE_LEAST_SQUARES) {
    status = search(at, n, largest_gap(at, n, room), copy, out, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  describe(point, n, fit->centre, out);
  if (!isfinite(out->radius) || !isfinite(out->roundness)) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "are the units right?",
                   "the coordinates are too large for a circle to come out");
  }
  if (out->zone == TW_ZONE_INSCRIBED && !held_all_round(at, n, out, room)) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "take more points round the circle",
                   "no circle inside the points is held on all sides");
  }
  for (int k = 0; k < 2; k++) {
    out->centre[k] += fit->centre[k];
  }
  return TW_OK;
}

tw_status tw_fit_zone(tw_zone zone, const double *point, size_t n, tw_zone_fit *out,
                      tw_fault *fault)
{
  tw_fit fit;
  const tw_status status = tw_fit_form(TW_CIRCLE, point, n, 2, NULL, &fit, fault);
  if (status != TW_OK) {
    return status;
  }
  double *room = tw_alloc(n, 5 * sizeof *room);
  if (!room) {
    return tw_no_memory(fault);
  }
  tw_zone_fit found = {.zone = zone};
  const tw_status done = zone_about(point, n, &fit, room, &found, fault);
  tw_free(room);
  if (done == TW_OK) {
    *out = found;
  }
  return done;
}
