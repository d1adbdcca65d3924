/* crash.c: a pivot swivelled past small angles, stress in the disc, order of giving way
 * (docs/models/seat.md 6). */
#include "tripwright/constants.h"
#include "tripwright/seat_forms.h"

#include <math.h>

void tw_crash_swivel_at(const tw_crash_pivot *p, double angle, tw_crash_swivel *out)
{
  const double s = sin(angle), c = cos(angle);
  const double friction = tw_seat_friction_arm(p->friction_socket, p->friction_flat, p->ball_radius,
                                               p->flat_height, p->socket_angle);
  out->lift = p->flat_radius * s - p->flat_height * (1.0 - c);
  out->arm = p->flat_radius * c - p->flat_height * s;
  out->edge_load = (p->preload / p->ring_stiffness + out->lift) * p->point_stiffness;
  out->tip_force = out->edge_load * (out->arm + friction) / p->reach;
  out->tip_travel = p->reach * s;
}

/* Simply supported circular plate, edge moment inside a ring of load (Roark, from memory). */
double tw_crash_ring_moment(double poisson, double radius, double disc_radius)
{
  const double r = radius / disc_radius;
  return (-2.0 * (1.0 + poisson) * log(r) + (1.0 - poisson) * (1.0 - r * r)) / (8.0 * TW_PI);
}

/* A ring of p cos phi (n = 1) on the same plate: w = B r^3 inside and B (4 a^2 r ln r + a^4/r)
 * outside with B = p/(16 D), beside it b r^3 so that the rim's moment vanishes; M_r at the ring,
 * per newton of an even ring that has p everywhere (own derivation; docs/models/crash.md 1). */
double tw_crash_tilt_moment(double poisson, double radius, double disc_radius)
{
  const double s2 = radius * radius / (disc_radius * disc_radius);
  return (3.0 + poisson - 2.0 * (1.0 + poisson) * s2 - (1.0 - poisson) * s2 * s2) / (16.0 * TW_PI);
}

/* The same under a small patch, whose radius is made up for the plate's thickness (Roark, from
 * memory). */
double tw_crash_point_moment(double poisson, double patch, double thickness, double disc_radius)
{
  const double r = patch < 0.5 * thickness
                       ? sqrt(1.6 * patch * patch + thickness * thickness) - 0.675 * thickness
                       : patch;
  return ((1.0 + poisson) * log(disc_radius / r) + 1.0) / (4.0 * TW_PI);
}

/* stiffness sums of the two layers from the metal's outer face: int Q dz, int Q z dz, int Q z^2 dz,
 * with Q = E/(1 - nu^2), or E/(1 - nu) for bending alike in both directions */
static void layer_sums(const tw_crash_laminate *l, bool both_ways, double sum[3])
{
  double z = 0.0;
  sum[0] = sum[1] = sum[2] = 0.0;
  for (int i = 0; i < 2; i++) {
    const double nu = l->poisson[i], end = z + l->thickness[i];
    const double q = l->young[i] / (both_ways ? 1.0 - nu : 1.0 - nu * nu);
    sum[0] += q * (end - z);
    sum[1] += q * (end * end - z * z) / 2.0;
    sum[2] += q * (end * end * end - z * z * z) / 3.0;
    z = end;
  }
}

tw_status tw_crash_stress_of(const tw_crash_laminate *l, double ring_radius, double patch,
                             tw_crash_stress *out, tw_fault *fault)
{
  for (int i = 0; i < 2; i++) {
    const double t = l->thickness[i], e = l->young[i], nu = l->poisson[i];
    if (!(t > 0.0 && e > 0.0 && isfinite(t + e) && nu > -1.0 && nu <= 0.5)) {
      return tw_fail(fault, TW_BAD_INPUT, "disc", "give thickness and modulus above zero",
                     "a layer's thickness, modulus or Poisson's ratio is not usable");
    }
  }
  if (!(ring_radius > 0.0 && ring_radius < l->disc_radius && patch > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.flat_radius", "keep the load inside the support",
                   "the load is not inside the disc's support");
  }
  double one[3], both[3];
  layer_sums(l, false, one);
  layer_sums(l, true, both);
  /* bending about the plane without stretch; alike both ways M = D (1 + nu) kappa gives nu */
  out->rigidity = one[2] - one[1] * one[1] / one[0];
  const double both_rigidity = both[2] - both[1] * both[1] / both[0];
  const double poisson = both_rigidity / out->rigidity - 1.0;
  out->centre_stiffness = 16.0 * TW_PI * (1.0 + poisson) * out->rigidity /
                          ((3.0 + poisson) * l->disc_radius * l->disc_radius);
  /* in the middle both moments are alike: sigma = E_c/(1 - nu_c) (z - z0) M/both_rigidity */
  const double top = l->thickness[0] + l->thickness[1];
  const double per_moment =
      l->young[1] / (1.0 - l->poisson[1]) * (top - both[1] / both[0]) / both_rigidity;
  out->ring = per_moment * tw_crash_ring_moment(poisson, ring_radius, l->disc_radius);
  out->point = per_moment * tw_crash_point_moment(poisson, patch, top, l->disc_radius);
  return TW_OK;
}

void tw_crash_order_of(const tw_crash_pivot *p, double threshold_load, double trip_side,
                       double holddown, double holder_radius, double holder_height,
                       double disc_allowable, tw_crash_order *out)
{
  const double friction = tw_seat_friction_arm(p->friction_socket, p->friction_flat, p->ball_radius,
                                               p->flat_height, p->socket_angle);
  out->trip_axial = p->preload + threshold_load;
  out->lift_axial = holddown;
  out->disc_axial = disc_allowable;
  out->trip_side = trip_side;
  out->lift_side = holddown * holder_radius / holder_height;
  out->disc_side = disc_allowable * (p->flat_radius + friction) / p->reach;
  out->axial_holds = out->trip_axial < out->lift_axial && out->lift_axial <= out->disc_axial;
  out->side_holds = out->trip_side < out->lift_side && out->lift_side < out->disc_side;
}

double tw_crash_stopping(double speed, double delay, double deceleration)
{
  return speed * delay + 0.5 * speed * speed / deceleration;
}
