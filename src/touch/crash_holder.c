/* crash_holder.c: a foam ring that presses the holder down, lifted straight or tipped on its edge.
 */
#include "tripwright/constants.h"
#include "tripwright/touch_crash.h"

#include "engine.h"
#include <math.h>

enum { ANGLES = 48, RADII = 8 };

static tw_status check(const tw_crash_foam_ring *r, tw_fault *fault)
{
  if (!(r->outer_radius > r->inner_radius) || !(r->inner_radius >= 0.0) ||
      !isfinite(r->outer_radius)) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.foam_outer_diameter",
                   "outer above inner, both 0 or more", "the foam ring's diameters do not fit");
  }
  if (!(r->thickness > 0.0) || !(r->precompression >= 0.0) || !(r->precompression < r->thickness)) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.precompression", "less than the foam's thickness",
                   "the foam's thickness or precompression "
                   "is not usable");
  }
  if (!(r->tipping_radius > 0.0) || !(r->height > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.tipping_radius", "give values above zero",
                   "the holder's edge or height is not usable");
  }
  return TW_OK;
}

tw_status tw_crash_foam_axial(const tw_crash_foam_ring *r, double lift, double *force,
                              tw_fault *fault)
{
  double stress = 0.0;
  *force = 0.0;
  tw_status status = check(r, fault);
  if (status == TW_OK) {
    status = r->stress(r->foam, (r->precompression + lift) / r->thickness, &stress, fault);
  }
  if (status == TW_OK) {
    const double area =
        TW_PI * (r->outer_radius * r->outer_radius - r->inner_radius * r->inner_radius);
    *force = stress * area;
  }
  return status;
}

/* turned by phi about an edge at b: the part at b + rho cos(a) from it is compressed by phi times
 * that; moments about the edge balance: F H = integral of stress x (b + rho cos a) dA */
tw_status tw_crash_foam_side(const tw_crash_foam_ring *r, double travel, double *force,
                             tw_fault *fault)
{
  *force = 0.0;
  tw_status status = check(r, fault);
  if (status != TW_OK) {
    return status;
  }
  const double phi = travel / r->height;
  const double wide = r->outer_radius - r->inner_radius;
  double moment = 0.0;
  for (int i = 0; i < RADII; i++) { /* midpoints in radius and angle */
    const double rho = r->inner_radius + wide * (i + 0.5) / RADII;
    for (int k = 0; k < ANGLES; k++) {
      const double arm = r->tipping_radius + rho * cos(2.0 * TW_PI * (k + 0.5) / ANGLES);
      const double squeezed = most(r->precompression + phi * arm, 0.0);
      double stress = 0.0;
      status = r->stress(r->foam, squeezed / r->thickness, &stress, fault);
      if (status != TW_OK) {
        return status;
      }
      moment += stress * arm * rho * (wide / RADII) * (2.0 * TW_PI / ANGLES);
    }
  }
  *force = moment / r->height;
  return TW_OK;
}

tw_status tw_crash_foam_table(const tw_crash_foam_ring *r, bool sideways, double travel_end,
                              size_t rows, double *travel, double *force, size_t *count,
                              tw_fault *fault)
{
  *count = 0;
  if (rows < 2 || !(travel_end > 0.0) || !isfinite(travel_end)) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.lift_limit", "a travel above zero, two rows",
                   "the range of the hold-down's table is not usable");
  }
  for (size_t i = 0; i < rows; i++) {
    const double x = travel_end * (double)i / (double)(rows - 1);
    const tw_status status = sideways ? tw_crash_foam_side(r, x, &force[i], fault)
                                      : tw_crash_foam_axial(r, x, &force[i], fault);
    if (status != TW_OK) {
      /* solid foam ends the table; fewer than two rows are no table */
      return status == TW_BAD_INPUT && *count >= 2 ? TW_OK : status;
    }
    travel[i] = x;
    *count = i + 1;
  }
  return TW_OK;
}
