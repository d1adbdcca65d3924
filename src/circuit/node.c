/* node.c: charge on a resistor and a capacitor, and what feeds follow from it. */
#include "tripwright/circuit_forms.h"
#include "tripwright/constants.h"
#include "tripwright/numerics.h"

#include <assert.h>
#include <math.h>

double tw_rc_corner(double resistance, double capacitance)
{
  assert(resistance > 0 && capacitance > 0);
  return 1.0 / (TW_TWO_PI * resistance * capacitance);
}

double tw_rc_step(double charge, double resistance, double capacitance, double t)
{
  assert(resistance > 0 && capacitance > 0 && t >= 0);
  return charge / capacitance * exp(-t / (resistance * capacitance));
}

double tw_rc_ramp(double current, double resistance, double capacitance, double t)
{
  assert(resistance > 0 && capacitance > 0 && t >= 0);
  /* V = I R (1 - e^(-t/tau)), written so that short times keep their digits */
  return -current * resistance * expm1(-t / (resistance * capacitance));
}

double tw_charge_amplifier_step(double charge, double source_capacitance,
                                double feedback_capacitance, double feedback_resistance,
                                double open_loop_gain, double t)
{
  assert(feedback_capacitance > 0 && feedback_resistance > 0 && open_loop_gain > 0 && t >= 0);
  /* v_out = -A v, so (C_s + C_f + A C_f) v' = -(1 + A) v / R_f after the step */
  const double shared = source_capacitance + (1.0 + open_loop_gain) * feedback_capacitance;
  const double tau = feedback_resistance * shared / (1.0 + open_loop_gain);
  return -charge * open_loop_gain / shared * exp(-t / tau);
}

double tw_feed_slowest(double voltage, double resistance, double charge_slope)
{
  assert(resistance > 0 && charge_slope > 0);
  return voltage / (resistance * charge_slope);
}

double tw_feed_bias(double current, double charge_slope)
{
  assert(charge_slope > 0);
  return fabs(current) / charge_slope;
}

static tw_status too_slow(double feed, double slowest, tw_fault *fault)
{
  return tw_fail(fault, TW_NO_ANSWER, "circuit.bias_resistance",
                 "touch faster, raise the bias resistor or lower the threshold",
                 "at %.4g mm/min the charge leaks away before the threshold; it needs more than "
                 "%.4g mm/min",
                 feed * 60e3, slowest * 60e3);
}

tw_status tw_feed_trip_time(double feed, double slowest, double time_constant, double *seconds,
                            tw_fault *fault)
{
  assert(slowest >= 0 && time_constant > 0);
  if (!(feed > slowest)) {
    return too_slow(feed, slowest, fault);
  }
  *seconds = -time_constant * log1p(-slowest / feed);
  return TW_OK;
}

/* x / x_fast = u ln(u / (u - 1)) with w = 1/u: -ln(1 - w) / w */
static double ratio_of(double w)
{
  return w < 1e-8 ? 1.0 + 0.5 * w : -log1p(-w) / w;
}

tw_status tw_feed_ratio(double feed, double slowest, double *ratio, tw_fault *fault)
{
  assert(slowest >= 0);
  if (!(feed > slowest)) {
    return too_slow(feed, slowest, fault);
  }
  *ratio = ratio_of(slowest / feed);
  return TW_OK;
}

/* the ratio at 1 - e^-z of the slow limit is still below the one asked for */
static bool below_ratio(const void *ratio, double z)
{
  return (z < 1e-8 ? 1.0 + 0.5 * z : z / -expm1(-z)) < *(const double *)ratio;
}

tw_status tw_feed_for_ratio(double ratio, double *u, tw_fault *fault)
{
  if (!(ratio > 1.0 && ratio <= 500.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give a ratio between 1 and 500",
                   "pretravel cannot be %g times its fast value at any feed", ratio);
  }
  /* bisection in -ln(1 - w), in which the ratio is smooth and monotonic up to the slow limit */
  double low = 0.0, high = 1000.0;
  tw_bisect(below_ratio, &ratio, 1e-15, 200, &low, &high);
  const double w = -expm1(-0.5 * (low + high));
  if (!(w > 0.0)) {
    return tw_fail(fault, TW_NO_ANSWER, "", "ask for a larger change",
                   "the feed at which pretravel is %.15g times the fast one is without bound",
                   ratio);
  }
  *u = 1.0 / w;
  return TW_OK;
}

double tw_decay_time(double time_constant, double start, double end)
{
  assert(time_constant >= 0 && start > 0 && end > 0);
  return start > end ? time_constant * log(start / end) : 0.0;
}
