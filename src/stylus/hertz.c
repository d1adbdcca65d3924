/* hertz.c: two spheres pressed together (docs/models/stylus.md 4). */
#include "tripwright/constants.h"
#include "tripwright/stylus.h"

#include <math.h>
#include <string.h>

/* (1 - nu^2)/E, 0 for a rigid body */
static double give(double young, double poisson)
{
  return isinf(young) ? 0.0 : (1.0 - poisson * poisson) / young;
}

tw_status tw_hertz_solve(const tw_hertz_pair *pair, double force, tw_hertz *out, tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  for (int i = 0; i < 2; i++) {
    if (!(pair->young[i] > 0.0) || !(pair->poisson[i] > -1.0 && pair->poisson[i] <= 0.5)) {
      return tw_fail(fault, TW_BAD_INPUT, i == 0 ? "stylus.ball_modulus" : "machine.work_modulus",
                     "give modulus > 0 and Poisson's ratio up to 0.5",
                     "a body in contact has no usable modulus");
    }
  }
  const double curvature = 1.0 / pair->radius[0] + 1.0 / pair->radius[1];
  if (!(curvature > 0.0) || !isfinite(curvature)) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.ball_diameter",
                   "a hollow must be wider than the ball in it",
                   "the two bodies do not touch at a point");
  }
  if (!(force >= 0.0) || !isfinite(force)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give a force of zero or more",
                   "the force is negative or not a number");
  }
  const double soft =
      give(pair->young[0], pair->poisson[0]) + give(pair->young[1], pair->poisson[1]);
  if (!(soft > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.ball_modulus", "one body must be elastic",
                   "both bodies are rigid");
  }
  const double modulus = 1.0 / soft, radius = 1.0 / curvature;
  out->constant = 4.0 / 3.0 * modulus * sqrt(radius);
  out->approach = pow(force / out->constant, 2.0 / 3.0);
  out->patch = sqrt(radius * out->approach);
  out->tangent = 1.5 * out->constant * sqrt(out->approach);
  out->pressure = force > 0.0 ? 1.5 * force / (TW_PI * out->patch * out->patch) : 0.0;
  return TW_OK;
}
