/* plate.c: point-load compliance of a uniform thin plate held at its rim (docs/models/seat.md,
 * section 2): the disc of the check cases.
 *
 *   w(r, phi; b) = Rs^2/(8 pi D) { d^2 ln d + sum_m (A_m r^m + B_m r^(m+2)) cos m phi }
 * with r and b in units of Rs. The sum restores the rim's two conditions, harmonic by harmonic. */
#include "engine.h"
#include "tripwright/constants.h"

#include <math.h>

#define HARMONICS_DEFAULT 24
#define HARMONICS_MOST    64

double tw_seat_plate_rigidity(const tw_seat_plate *p)
{
  const double r2 = p->radius * p->radius;
  return p->clamped
             ? p->centre_stiffness * r2 / (16.0 * TW_PI)
             : p->centre_stiffness * r2 * (3.0 + p->poisson) / (16.0 * TW_PI * (1.0 + p->poisson));
}

/* harmonic m of d^2 ln d at the rim r = 1: value and first two derivatives in r */
static void singular_part(size_t m, double b, double f[3])
{
  const double b2 = b * b;
  if (m == 0) { /* (r^2 + b^2) ln r + b^2 */
    f[0] = b2;
    f[1] = 1.0 + b2;
    f[2] = 3.0 - b2;
  } else if (m == 1) { /* -r b - b^3/(2r) - 2 r b ln r */
    f[0] = -b - 0.5 * b2 * b;
    f[1] = -3.0 * b + 0.5 * b2 * b;
    f[2] = -2.0 * b - b2 * b;
  } else { /* b^m [ r^(2-m)/(m(m-1)) - b^2 r^-m/(m(m+1)) ] */
    const double n = (double)m, s = pow(b, n);
    const double p = s / (n * (n - 1.0)), q = s * b2 / (n * (n + 1.0));
    f[0] = p - q;
    f[1] = (2.0 - n) * p + n * q;
    f[2] = (2.0 - n) * (1.0 - n) * p - n * (n + 1.0) * q;
  }
}

/* A_m, B_m of a load at b */
static void rim_terms(const tw_seat_plate *p, size_t m, double b, double *am, double *bm)
{
  double f[3];
  singular_part(m, b, f);
  const double n = (double)m, nu = p->poisson;
  double ca, cb, rhs;
  if (p->clamped) { /* slope zero */
    ca = n;
    cb = n + 2.0;
    rhs = -f[1];
  } else { /* radial moment zero */
    ca = (1.0 - nu) * n * (n - 1.0);
    cb = (n + 2.0) * (n + 1.0) + nu * (n + 2.0 - n * n);
    rhs = -(f[2] + nu * (f[1] - n * n * f[0]));
  }
  /* with A + B = -f(1) */
  *bm = (rhs + ca * f[0]) / (cb - ca);
  *am = -f[0] - *bm;
}

static double between(const tw_seat_plate *p, size_t harmonics, double r, double b, double phi)
{
  const double d2 = fmax(r * r + b * b - 2.0 * r * b * cos(phi), 0.0);
  double sum = d2 > 0.0 ? 0.5 * d2 * log(d2) : 0.0;
  for (size_t m = 0; m <= harmonics; m++) {
    double am, bm;
    rim_terms(p, m, b, &am, &bm);
    const double rm = m == 0 ? 1.0 : pow(r, (double)m);
    sum += (am + bm * r * r) * rm * cos((double)m * phi);
  }
  return sum;
}

tw_status tw_seat_plate_points(const void *plate, size_t n, const double *radius,
                               const double *azimuth, double *compliance, double *charge,
                               tw_fault *fault)
{
  const tw_seat_plate *p = plate;
  if (!(p->radius > 0.0 && isfinite(p->radius)) ||
      !(p->centre_stiffness > 0.0 && isfinite(p->centre_stiffness)) ||
      !(p->poisson > -1.0 && p->poisson <= 0.5) || !isfinite(p->charge)) {
    return tw_fail(fault, TW_BAD_INPUT, "disc", "give radius, stiffness and Poisson's ratio",
                   "the plate's radius, stiffness or Poisson's ratio is not usable");
  }
  size_t harmonics = p->harmonics == 0 ? HARMONICS_DEFAULT : p->harmonics;
  harmonics = harmonics > HARMONICS_MOST ? HARMONICS_MOST : harmonics;
  const double scale = p->radius * p->radius / (8.0 * TW_PI * tw_seat_plate_rigidity(p));
  for (size_t i = 0; i < n; i++) {
    const double r = radius[i] / p->radius;
    if (!(r >= 0.0 && r < 1.0)) {
      return tw_fail(fault, TW_BAD_INPUT, "seat.flat_radius", "keep the contact inside the support",
                     "a contact at %.3g mm is not inside the supported radius %.3g mm",
                     radius[i] * 1e3, p->radius * 1e3);
    }
    charge[i] = p->charge * (1.0 - r * r);
    for (size_t j = 0; j <= i; j++) {
      const double w =
          scale * between(p, harmonics, r, radius[j] / p->radius, azimuth[i] - azimuth[j]);
      compliance[i * n + j] = w;
      compliance[j * n + i] = w;
    }
  }
  return TW_OK;
}
