/* forms.c: closed forms of a rigid tip on one mass (docs/models/touch.md 5). */
#include "tripwright/numerics.h"
#include "tripwright/touch_forms.h"

#include "tripwright/touch.h"
#include <assert.h>
#include <math.h>

double tw_impact_rate(const tw_impact *i)
{
  assert(i->mass > 0.0 && i->stem > 0.0 && i->disc > 0.0);
  return sqrt((i->stem + i->disc) / i->mass);
}

double tw_impact_series(const tw_impact *i)
{
  return i->stem * i->disc / (i->stem + i->disc);
}

double tw_impact_disc_force(const tw_impact *i, double t)
{
  const double w = tw_impact_rate(i);
  return tw_impact_series(i) * i->feed * (t - sin(w * t) / w);
}

double tw_impact_contact_force(const tw_impact *i, double t)
{
  const double w = tw_impact_rate(i);
  return tw_impact_series(i) * i->feed * t +
         i->feed * i->stem * i->stem / ((i->stem + i->disc) * w) * sin(w * t);
}

/* S k v tau {1 - e^(-t/tau) - [cos wt + w tau sin wt - e^(-t/tau)] / (1 + w^2 tau^2)} */
double tw_impact_voltage(const tw_impact *i, double volt_per_newton, double tau, double t)
{
  const double w = tw_impact_rate(i);
  const double wt = w * tau;
  const double left = exp(-t / tau);
  const double ring = (cos(w * t) + wt * sin(w * t) - left) / (1.0 + wt * wt);
  return volt_per_newton * tw_impact_series(i) * i->feed * tau * (-expm1(-t / tau) - ring);
}

double tw_impact_ceiling(const tw_impact *i, double volt_per_newton, double tau)
{
  const double wt = tw_impact_ratio(i, tau);
  return volt_per_newton * tw_impact_series(i) * i->feed * tau * (1.0 + 1.0 / sqrt(1.0 + wt * wt));
}

double tw_impact_ratio(const tw_impact *i, double tau)
{
  return tw_impact_rate(i) * tau;
}

typedef struct impact_volt {
  const tw_impact *impact;
  double s, tau, volt;
} impact_volt;

static bool below_impact_volt(const void *self, double time)
{
  const impact_volt *v = self;
  return tw_impact_voltage(v->impact, v->s, v->tau, time) < v->volt;
}

/* half-way between two places of opposite side, to the last digit */
static double narrow(const tw_impact *i, double s, double tau, double volt, double a, double b)
{
  tw_bisect(below_impact_volt, &(const impact_volt){i, s, tau, volt}, 1e-15, 200, &a, &b);
  return 0.5 * (a + b);
}

tw_status tw_impact_crossing(const tw_impact *i, double volt_per_newton, double tau, double volt,
                             double *seconds, tw_fault *fault)
{
  *seconds = 0.0;
  assert(tau > 0.0 && volt > 0.0 && volt_per_newton > 0.0 && i->feed > 0.0);
  const double scale = volt_per_newton * tw_impact_series(i) * i->feed * tau;
  const double ring = 1.0 / sqrt(1.0 + pow(tw_impact_ratio(i, tau), 2.0));
  /* before the upper envelope reaches it nothing can; after the lower one it must have */
  const double part = volt / scale - ring;
  double t = part > 0.0 && part < 1.0 ? -tau * log1p(-part) * 0.5 : 0.0;
  const double step = 0.05 / fmax(tw_impact_rate(i), 1.0 / tau);
  const double last = t + 40.0 * tau + 1e3 * step;
  if (volt >= scale * (1.0 + ring)) {
    return tw_fail(fault, TW_NO_ANSWER, "machine.feed", "approach faster, or raise the resistance",
                   "at %.4g mm/s the node reaches %.4g V at most", i->feed * 1e3,
                   scale * (1.0 + ring));
  }
  for (; t < last; t += step) {
    if (tw_impact_voltage(i, volt_per_newton, tau, t + step) >= volt) {
      *seconds = narrow(i, volt_per_newton, tau, volt, t, t + step);
      return TW_OK;
    }
  }
  return tw_fail(fault, TW_NO_ANSWER, "machine.feed", "approach a little faster",
                 "at %.4g mm/s the node comes within its ring of the threshold, not over it",
                 i->feed * 1e3);
}

double tw_impact_regime_feed(const tw_impact *i, double force)
{
  return force * tw_impact_rate(i) / tw_impact_series(i);
}

double tw_impact_cubic_time(const tw_impact *i, double force)
{
  return cbrt(6.0 * i->mass * force / (i->stem * i->disc * i->feed));
}

tw_status tw_touch_overtravel(double feed, double delay, double acceleration, double jerk,
                              double *metres, tw_fault *fault)
{
  tw_touch_stop stop;
  *metres = 0.0;
  const tw_status status = tw_touch_stopping(feed, acceleration, jerk, &stop, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(delay >= 0.0) || !isfinite(delay)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.latency", "give 0 or more",
                   "the delay is not a number of 0 or more");
  }
  *metres = feed * delay + stop.distance;
  return TW_OK;
}
