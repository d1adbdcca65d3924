/* forms_ring.c: a ring of contact on a disc, before and after it lifts (docs/models/seat.md 4). */
#include "engine.h"

#include "tripwright/constants.h"
#include "tripwright/seat_forms.h"

#include <math.h>
#include <string.h>

#define RING_LEAST 8

double tw_seat_ring_liftoff(double preload, double radius)
{
  return 0.5 * preload * radius;
}

double tw_seat_plate_tipping(double spring_force, double excess, double radius, double reach)
{
  return (spring_force + excess) * radius / reach;
}

static tw_status ring_compliance(tw_seat_disc_fn disc_points, const void *disc, double radius,
                                 size_t n, double *compliance, tw_fault *fault)
{
  double r[TW_SEAT_GROUP], azimuth[TW_SEAT_GROUP], charge[TW_SEAT_GROUP];
  if (n < RING_LEAST || n > TW_SEAT_GROUP) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.contact", "use 8 to 64 points",
                   "%zu points do not stand for a ring", n);
  }
  for (size_t i = 0; i < n; i++) {
    r[i] = radius;
    azimuth[i] = 2.0 * TW_PI * (double)i / (double)n;
  }
  return disc_points(disc, n, r, azimuth, compliance, charge, fault);
}

tw_status tw_seat_ring_of(tw_seat_disc_fn disc_points, const void *disc, double radius,
                          size_t points, tw_seat_ring *out, tw_fault *fault)
{
  double c[TW_SEAT_GROUP * TW_SEAT_GROUP];
  const tw_status status = ring_compliance(disc_points, disc, radius, points, c, fault);
  if (status != TW_OK) {
    return status;
  }
  for (size_t m = 0; m < 4; m++) {
    /* a circulant's eigenvalue: sum of its first row with cos m phi */
    double eigenvalue = 0.0;
    for (size_t j = 0; j < points; j++) {
      eigenvalue += c[j] * cos(2.0 * TW_PI * (double)(m * j) / (double)points);
    }
    if (!(eigenvalue > 0.0)) {
      return tw_fail(fault, TW_NO_ANSWER, "disc", "check disc and support",
                     "the ring has no stiffness in pattern %zu", m);
    }
    out->mode[m] = (double)points / eigenvalue;
  }
  out->axial = out->mode[0];
  out->tilt = 0.5 * radius * radius * out->mode[1];
  return TW_OK;
}

/* Loads of a ring pressed by delta and turned by tau (both in units of P0 = 1): points left out of
 * the set that pull are dropped, points that would be pressed into are taken in. The Kirchhoff
 * ring is small, so it is solved anew for every set: an independent route beside group.c. */
static bool ring_loads(const double *c, size_t n, const double *press, double *load)
{
  bool in[TW_SEAT_GROUP];
  double a[TW_SEAT_GROUP * TW_SEAT_GROUP], b[TW_SEAT_GROUP];
  size_t index[TW_SEAT_GROUP];
  for (size_t i = 0; i < n; i++) {
    in[i] = press[i] > 0.0;
  }
  for (int sweep = 0; sweep < 1000; sweep++) {
    size_t k = 0;
    for (size_t i = 0; i < n; i++) {
      load[i] = 0.0;
      if (in[i]) {
        b[k] = press[i];
        index[k++] = i;
      }
    }
    for (size_t i = 0; i < k; i++) {
      for (size_t j = 0; j < k; j++) {
        a[i * k + j] = c[index[i] * n + index[j]];
      }
    }
    if (k > 0 && !tw_seat_lu_solve(k, a, b)) {
      return false;
    }
    for (size_t i = 0; i < k; i++) {
      load[index[i]] = b[i];
    }
    bool changed = false;
    for (size_t i = 0; i < n; i++) {
      double gap = -press[i];
      for (size_t j = 0; j < n; j++) {
        gap += c[i * n + j] * load[j];
      }
      const bool keep = in[i] ? load[i] >= 0.0 : gap < -1e-14 * fabs(press[i]);
      changed = changed || keep != in[i];
      in[i] = keep;
    }
    if (!changed) {
      return true;
    }
  }
  return false;
}

/* load and moment over P0 and P0 a at turn t; the centre has given way by T/k */
static bool ring_turned(const double *c, size_t n, double radius, const tw_seat_ring *ring,
                        double given, double t, double *sum, double *moment)
{
  double press[TW_SEAT_GROUP], load[TW_SEAT_GROUP];
  for (size_t i = 0; i < n; i++) {
    press[i] = 1.0 / ring->axial - given +
               t * radius * radius / ring->tilt * cos(2.0 * TW_PI * (double)i / (double)n);
  }
  if (!ring_loads(c, n, press, load)) {
    return false;
  }
  *sum = *moment = 0.0;
  for (size_t i = 0; i < n; i++) {
    *sum += load[i];
    *moment += load[i] * cos(2.0 * TW_PI * (double)i / (double)n);
  }
  return true;
}

tw_status tw_seat_liftoff_curve(tw_seat_disc_fn disc_points, const void *disc, double radius,
                                size_t points, double centre_stiffness, double excess, double *m,
                                double *tau, tw_fault *fault)
{
  double c[TW_SEAT_GROUP * TW_SEAT_GROUP];
  tw_seat_ring ring;
  tw_status status = tw_seat_ring_of(disc_points, disc, radius, points, &ring, fault);
  status = status != TW_OK ? status : ring_compliance(disc_points, disc, radius, points, c, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(excess > 0.0 && excess <= 100.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "ask for 0 < T/P0 <= 100",
                   "the curve has no point at T/P0 = %g", excess);
  }
  const double given = centre_stiffness > 0.0 ? excess / centre_stiffness : 0.0;
  /* the load rises with the turn: double until it is enough, then halve */
  double low = 0.0, high = 1.0, sum = 0.0;
  bool found = true;
  while (found && sum < 1.0 + excess && high < 1e9) {
    high *= 2.0;
    found = ring_turned(c, points, radius, &ring, given, high, &sum, m);
  }
  while (found && high - low > 1e-14 * high) {
    *tau = 0.5 * (low + high);
    found = ring_turned(c, points, radius, &ring, given, *tau, &sum, m);
    if (*tau <= low || *tau >= high) {
      break;
    }
    low = sum < 1.0 + excess ? *tau : low;
    high = sum < 1.0 + excess ? high : *tau;
  }
  return found && high < 1e9 ? TW_OK
                             : tw_fail(fault, TW_NO_ANSWER, "disc", "check disc and support",
                                       "the ring does not reach T/P0 = %g", excess);
}

void tw_seat_winkler_ring(double s, double *load, double *moment)
{
  const double t = acos(-1.0 / fmax(s, 1.0));
  *load = (t + s * sin(t)) / TW_PI;
  *moment = (sin(t) + s * (0.5 * t + 0.25 * sin(2.0 * t))) / TW_PI;
}
