/* timing.c: how long a comparator takes to decide, and what noise and sampling do to the place. */
#include "tripwright/circuit_forms.h"
#include "tripwright/constants.h"
#include "tripwright/numerics.h"

#include <assert.h>
#include <math.h>

/* e^z - 1 - z without cancellation near zero */
static double exp_rest(double z)
{
  return z < 1e-3 ? z * z * (0.5 + z * (1.0 / 6.0 + z / 24.0)) : expm1(z) - z;
}

typedef struct swing_at {
  double unit, swing;
} swing_at;

static bool below_swing(const void *self, double z)
{
  const swing_at *at = self;
  return at->unit * exp_rest(z) < at->swing;
}

tw_status tw_decision_time(double slope, double share, double bandwidth, double swing, double slew,
                           double *seconds, tw_fault *fault)
{
  if (!(slope > 0 && share > 0 && bandwidth > 0 && swing >= 0 && slew > 0)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.feedback_resistance",
                   "give hysteresis, bandwidth, slew rate and a rising signal",
                   "no regeneration without slope, feedback, bandwidth and slew (%g, %g, %g, %g)",
                   slope, share, bandwidth, slew);
  }
  /* from the threshold on o' = w (s t + share o): o = s/(share^2 w) (e^z - 1 - z), z = share w t;
   * its rate s (e^z - 1)/share meets the slew limit at z1 */
  const double w = TW_TWO_PI * bandwidth;
  const double z1 = log1p(slew * share / slope);
  const double unit = slope / (share * share * w);
  const double limited_from = unit * exp_rest(z1);
  if (swing >= limited_from) {
    *seconds = z1 / (share * w) + (swing - limited_from) / slew;
    return TW_OK;
  }
  double low = 0.0, high = z1;
  tw_bisect(below_swing, &(const swing_at){unit, swing}, 1e-15, 100, &low, &high);
  *seconds = 0.5 * (low + high) / (share * w);
  return TW_OK;
}

double tw_jitter_position(double sigma, double volt_per_metre, double feed, double slowest)
{
  assert(volt_per_metre > 0 && feed > slowest);
  return sigma / volt_per_metre * feed / (feed - slowest);
}

double tw_jitter_time(double sigma, double volt_per_metre, double feed, double slowest)
{
  assert(volt_per_metre > 0 && feed > slowest);
  /* slope at the threshold: dV/dt = (dV/dx) (v - v_min) */
  return sigma / (volt_per_metre * (feed - slowest));
}

tw_sampling tw_sampling_error(double feed, double period)
{
  /* the sample comes uniformly within one period after the edge */
  const double range = fabs(feed) * period;
  return (tw_sampling){.range = range, .mean = 0.5 * range, .deviation = range / sqrt(12.0)};
}
