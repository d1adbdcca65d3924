/* touch_forms.h: closed forms of a touch's mechanics: what the numbers of a run can be held
 * against. The electrical ones (ramp on RC, regeneration, hold time, sampling) are in
 * circuit_forms.h.
 *
 * SI units, plain numbers; pure functions, safe from several threads. Arguments must be finite and
 * above zero where not said otherwise; a wrong sign is the caller's mistake and asserts. Equations:
 * docs/models/touch.md 5.
 */
#ifndef TRIPWRIGHT_TOUCH_FORMS_H
#define TRIPWRIGHT_TOUCH_FORMS_H

#include "tripwright/base.h"

/* a rigid tip: one mass between the stem (to the work) and the disc (to the body) */
typedef struct tw_impact {
  double stem, disc; /* N/m */
  double mass, feed; /* kg, m/s */
} tw_impact;

double tw_impact_rate(const tw_impact *impact);   /* w = sqrt((ks + kd)/m), rad/s */
double tw_impact_series(const tw_impact *impact); /* ks kd/(ks + kd), N/m */
/* N on the disc and between tip and work, t >= 0 after contact: k v (t - sin(wt)/w), and
 * k v t + v ks^2/((ks + kd) w) sin(wt) */
double tw_impact_disc_force(const tw_impact *impact, double t);
double tw_impact_contact_force(const tw_impact *impact, double t);
/* V on R C of a disc of volt_per_newton: ramp and ring through the leak, exact */
double tw_impact_voltage(const tw_impact *impact, double volt_per_newton, double tau, double t);
/* highest that V can come: the ramp's ceiling and the ring on top of it */
double tw_impact_ceiling(const tw_impact *impact, double volt_per_newton, double tau);
/* first crossing of `volt`; TW_NO_ANSWER when it is never reached */
tw_status tw_impact_crossing(const tw_impact *impact, double volt_per_newton, double tau,
                             double volt, double *seconds, tw_fault *fault);
/* w tau: above 1 the leak lets the ramp through and the ring is 1/(w tau) of it; below 1 the
 * impact carries the signal */
double tw_impact_ratio(const tw_impact *impact, double tau);
/* feed above which `force` is reached within the first quarter wave: F w/k */
double tw_impact_regime_feed(const tw_impact *impact, double force);
/* the cubic law of that quarter wave: t = (6 m F/(ks kd v))^(1/3); pretravel v t ~ v^(2/3) */
double tw_impact_cubic_time(const tw_impact *impact, double force);

/* travel from `delay` s of reaction and the stop: v delay + v T/2 */
tw_status tw_touch_overtravel(double feed, double delay, double acceleration, double jerk,
                              double *metres, tw_fault *fault);

#endif
