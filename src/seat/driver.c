/* driver.c: the wall that pushes the ball, through stem and tip contact in series. */
#include "engine.h"

#include <math.h>
#include <string.h>

/* y = F/k + (F/h)^(2/3); in p = F^(1/3) this is p^3/k + b p^2 = y with b = h^(-2/3), convex and
 * rising, so Newton from above comes down to the root without a guard. */
static double series_force(double compliance, double b, double y, double *rate)
{
  double p = sqrt(y / b); /* tip contact alone: an upper bound */
  if (compliance > 0.0) {
    p = fmin(p, cbrt(y / compliance));
  }
  for (int i = 0; i < 60; i++) {
    const double f = (compliance * p + b) * p * p - y;
    const double df = (3.0 * compliance * p + 2.0 * b) * p;
    const double next = p - f / df;
    if (!(next < p)) {
      break;
    }
    p = next;
  }
  *rate = 1.0 / (compliance + 2.0 * b / (3.0 * p));
  return p * p * p;
}

double tw_seat_drive_force(const seat_drive *drive, double y, double *rate)
{
  if (!drive->wall || !(y > 0.0)) {
    *rate = 0.0;
    return 0.0;
  }
  if (drive->hertz > 0.0) {
    return series_force(drive->compliance, drive->give, y, rate);
  }
  *rate = 1.0 / drive->compliance;
  return y / drive->compliance;
}

void tw_seat_drive_along(const tw_seat_model *m, double azimuth, double elevation,
                         seat_drive *drive)
{
  /* whole quarter turns exactly, so that the pole does not push sideways by rounding */
  double ce = cos(elevation), se = sin(elevation), ca = cos(azimuth), sa = sin(azimuth);
  ce = fabs(ce) < 1e-15 ? 0.0 : ce;
  ca = fabs(ca) < 1e-15 ? 0.0 : ca;
  sa = fabs(sa) < 1e-15 ? 0.0 : sa;
  const double d[3] = {ce * ca, ce * sa, se};
  const double *r = m->tip;
  memset(drive, 0, sizeof *drive);
  for (int i = 0; i < 3; i++) {
    const int j = (i + 1) % 3, k = (i + 2) % 3;
    drive->row[i] = d[i];
    drive->row[3 + i] = (r[j] * d[k] - r[k] * d[j]) / m->length;
  }
  drive->compliance = (d[0] * d[0] + d[1] * d[1]) * m->side + d[2] * d[2] * m->axial;
  drive->hertz = m->hertz;
  drive->give = m->hertz > 0.0 ? pow(m->hertz, -2.0 / 3.0) : 0.0;
  drive->wall = true;
}
