/* forms_friction.c: friction of ball and flat, and what it does to the return. */
#include "tripwright/constants.h"
#include "tripwright/seat_forms.h"

#include <math.h>

/* complete elliptic integral of the second kind by the arithmetic-geometric mean:
 * E = K (1 - sum 2^(n-1) c_n^2), c_0^2 = parameter (Abramowitz and Stegun 17.6, from memory) */
static double elliptic_e(double parameter)
{
  double a = 1.0, b = sqrt(1.0 - parameter), sum = 0.5 * parameter, weight = 0.5;
  for (int n = 0; n < 40 && fabs(a - b) > 1e-17; n++) {
    const double c = 0.5 * (a - b), mean = 0.5 * (a + b);
    b = sqrt(a * b);
    a = mean;
    weight *= 2.0;
    sum += weight * c * c;
  }
  return 0.5 * TW_PI / a * (1.0 - sum);
}

double tw_seat_socket_factor(double socket_angle)
{
  const double s = sin(socket_angle);
  return 2.0 * elliptic_e(s * s) / (TW_PI * cos(socket_angle));
}

double tw_seat_friction_arm(double friction_socket, double friction_flat, double ball_radius,
                            double flat_height, double socket_angle)
{
  return friction_socket * ball_radius * tw_seat_socket_factor(socket_angle) +
         friction_flat * fabs(flat_height);
}

tw_seat_regime tw_seat_regime_of(double friction_arm, double flat_radius)
{
  if (friction_arm < 0.5 * flat_radius) {
    return TW_SEAT_FULL;
  }
  return friction_arm < flat_radius ? TW_SEAT_PARTIAL : TW_SEAT_LOCKED;
}

const char *tw_seat_regime_name(tw_seat_regime regime)
{
  static const char *const name[] = {"full", "partial", "locked"};
  return name[regime];
}
