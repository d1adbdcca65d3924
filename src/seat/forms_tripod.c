/* forms_tripod.c: when the first seat of a tripod opens, and the gain of a bonded foot. */
#include "tripwright/constants.h"
#include "tripwright/seat_forms.h"

#include <math.h>

static tw_status check(double preload, double least, double b, double reach, tw_fault *fault)
{
  if (preload > 0.0 && least >= 0.0 && b > 0.0 && reach > 0.0 && isfinite(preload + least) &&
      isfinite(b + reach)) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, "seat", "give preload, pitch radius and reach above zero",
                 "the tripod's numbers are not usable");
}

static tw_status opens_at(double force_left, double unloading, double *force, tw_fault *fault)
{
  if (!(unloading > 0.0)) {
    return tw_fail(fault, TW_NO_ANSWER, "seat", "no seat is unloaded in this direction",
                   "no seat opens");
  }
  *force = force_left / unloading;
  return TW_OK;
}

/* N_i = (S - F sin e)/3 - (2 F L cos e/(3 b)) cos(a - a_i) = least */
tw_status tw_seat_tripod_flat(double preload, double least, double b, double reach,
                              double seat_azimuth, double azimuth, double elevation, double *force,
                              tw_fault *fault)
{
  const tw_status status = check(preload, least, b, reach, fault);
  if (status != TW_OK) {
    return status;
  }
  double most = -1.0;
  for (int i = 0; i < 3; i++) {
    most = fmax(most, cos(azimuth - seat_azimuth - 2.0 * TW_PI * i / 3.0));
  }
  return opens_at(preload - 3.0 * least, sin(elevation) + 2.0 * reach / b * cos(elevation) * most,
                  force, fault);
}

/* N_i+- = [(S - F sin e)/3 - (2 F L cos e/(3 b)) c_i]/(2 cos beta) +- F cos e t_i/(3 sin beta) */
tw_status tw_seat_tripod_vee(double preload, double least, double b, double reach, double beta,
                             double seat_azimuth, double azimuth, double elevation, double *force,
                             tw_fault *fault)
{
  const tw_status status = check(preload, least, b, reach, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(beta > 0.0 && beta < 0.5 * TW_PI)) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.vee_angle", "give an angle between 0 and 90 deg",
                   "the vee's angle is not usable");
  }
  const double sb = sin(beta), cb = cos(beta);
  double most = -1e300;
  for (int i = 0; i < 3; i++) {
    const double d = azimuth - seat_azimuth - 2.0 * TW_PI * i / 3.0;
    const double axial = (sin(elevation) + 2.0 * reach / b * cos(elevation) * cos(d)) / (6.0 * cb);
    most = fmax(most, axial + fabs(cos(elevation) * sin(d)) / (3.0 * sb));
  }
  return opens_at(preload / (6.0 * cb) - least, most, force, fault);
}

double tw_seat_bonded_gain(double eccentricity, double reach, double disc_radius, double azimuth,
                           double elevation)
{
  const double e = eccentricity / disc_radius;
  return sin(elevation) * (1.0 - e * e) -
         2.0 * e * reach / disc_radius * cos(elevation) * cos(azimuth);
}
