/* circuit_forms.h: the closed forms behind the circuit: pure functions of plain numbers.
 *
 * SI units. Inputs must be finite and of the sign that each comment states; a wrong sign is the
 * caller's mistake and asserts, since every user value passes tw_circuit_check first. Functions
 * that may have no answer return a status. Nothing is kept; safe from several threads. Equations
 * and sources: docs/models/circuit.md, touch in time: docs/models/circuit.md 3.
 */
#ifndef TRIPWRIGHT_CIRCUIT_FORMS_H
#define TRIPWRIGHT_CIRCUIT_FORMS_H

#include "tripwright/base.h"
#include "tripwright/constants.h"

/* ---- charge on a resistor and a capacitor -----------------------------------------------------
 */

/* corner 1/(2 pi R C), Hz */
double tw_rc_corner(double resistance, double capacitance);
/* V at `t` >= 0 after a step of `charge`: Q/C e^(-t/tau) */
double tw_rc_step(double charge, double resistance, double capacitance, double t);
/* V at `t` >= 0 of a ramp of `current`: I R (1 - e^(-t/tau)) */
double tw_rc_ramp(double current, double resistance, double capacitance, double t);
/* output of a charge amplifier with finite open-loop gain at `t` after a step of charge; signed */
double tw_charge_amplifier_step(double charge, double source_capacitance,
                                double feedback_capacitance, double feedback_resistance,
                                double open_loop_gain, double t);

/* feed at which a ramp of charge_slope (C/m) just reaches `voltage`: V/(R q') */
double tw_feed_slowest(double voltage, double resistance, double charge_slope);
/* I_b/q': the feed whose current only balances the bias current */
double tw_feed_bias(double current, double charge_slope);
/* -tau ln(1 - v_min/v); TW_NO_ANSWER when v <= v_min: it never trips */
tw_status tw_feed_trip_time(double feed, double slowest, double time_constant, double *seconds,
                            tw_fault *fault);
/* pretravel over the fast one, u ln(u/(u-1)), u = v/v_min > 1 */
tw_status tw_feed_ratio(double feed, double slowest, double *ratio, tw_fault *fault);
/* the u at which that ratio is `ratio` > 1 */
tw_status tw_feed_for_ratio(double ratio, double *u, tw_fault *fault);
/* tau ln(start/end); 0 when start <= end; both > 0 */
double tw_decay_time(double time_constant, double start, double end);

/* ---- deciding ----------------------------------------------------------------------------------
 */

/* s from the threshold to `swing` volts of output of an amplifier used as comparator: `slope` V/s
 * at its input, `share` fed back, bandwidth in Hz, slew V/s (regeneration, circuit.md 3) */
tw_status tw_decision_time(double slope, double share, double bandwidth, double swing, double slew,
                           double *seconds, tw_fault *fault);

/* ---- noise -------------------------------------------------------------------------------------
 */

/* sqrt(kT/C), V rms: whatever the resistor */
double tw_noise_ktc(double capacitance, double temperature);
/* thermal noise of R shaped by C between two frequencies; high may be INFINITY */
double tw_noise_thermal_band(double resistance, double capacitance, double temperature, double low,
                             double high);
/* white current noise `density` (A/sqrt(Hz)) on R || C in a band */
double tw_noise_current_band(double density, double resistance, double capacitance, double low,
                             double high);
/* Hz of white noise that passes a low-pass `corner` and a second one `pole` (0: none) between two
 * frequencies: integral of 1/((1 + (f/corner)^2)(1 + (f/pole)^2)) */
double tw_noise_bandwidth(double corner, double pole, double low, double high);
/* integral of df/f behind one low-pass `pole` (0: none): what 1/f noise of corner f_c passes is its
 * density squared times f_c times this; low > 0 */
double tw_noise_flicker_decades(double pole, double low, double high);
/* density of the shot noise of a current: sqrt(2 q I) */
double tw_noise_shot_density(double current);
/* white voltage noise through one pole: e sqrt(pi/2 f_pole) */
double tw_noise_one_pole(double density, double pole);
/* the same in a band: e sqrt(f_p (atan(high/f_p) - atan(low/f_p))) */
double tw_noise_one_pole_band(double density, double pole, double low, double high);
/* V rms on R || C that `rms` volts of mains drive through a stray capacitance */
double tw_mains_voltage(double rms, double frequency, double stray, double resistance,
                        double capacitance);
/* V on R || C when a moving cable sheds `charge`; at once, Q/C */
double tw_cable_voltage(double charge, double capacitance);

/* rms position error of noise `sigma` on a slope `volt_per_metre` (fast ramp), with leak */
double tw_jitter_position(double sigma, double volt_per_metre, double feed, double slowest);
double tw_jitter_time(double sigma, double volt_per_metre, double feed, double slowest);
/* a controller that looks every `period`: whole range, mean and standard deviation in metres */
typedef struct tw_sampling {
  double range, mean, deviation;
} tw_sampling;
tw_sampling tw_sampling_error(double feed, double period);

/* ---- false trips (docs/models/circuit.md 7) -----------------------------------------------------
 */

/* amplification 1 + |sin(pi t f)/(pi t f)| of an acceleration ramped in `ramp` s on an undamped
 * resonance `frequency`; 2 for a step */
double tw_ramp_amplification(double ramp, double frequency);
/* V: volt_per_newton m a times that */
double tw_false_axial(double volt_per_newton, double mass, double acceleration, double ramp,
                      double frequency);
/* V peak of a sinusoidal vibration on a resonance with damping ratio `damping` */
double tw_false_vibration(double volt_per_newton, double mass, double acceleration,
                          double frequency, double resonance, double damping);
/* N on the disc from a sideways acceleration: m a L/r */
double tw_false_lateral(double mass, double acceleration, double height, double radius);
/* V rms of a spectrum of acceleration (count pairs Hz, (m/s2)^2/Hz, rising frequency), resonance
 * and high-pass included; trapezoids on a grid refined at the resonance */
tw_status tw_false_spectrum(double volt_per_newton, double mass, const double *frequency,
                            const double *density, size_t count, double resonance, double damping,
                            double time_constant, double *rms, tw_fault *fault);

/* ---- preferred values (IEC 60063) --------------------------------------------------------------
 */

typedef enum tw_nearest { TW_NEAREST_RATIO, TW_NEAREST_LINEAR } tw_nearest;

/* 3, 6, 12, 24, 48, 96 and 192 exist */
bool tw_series_exists(int series);
/* significant figures of member `index` (0..series-1): two digits up to E24 (10..91), three from
 * E48 on (100..988) */
int tw_series_member(int series, int index);
/* value > 0; the nearest of the whole series over all decades */
tw_status tw_series_nearest(int series, double value, tw_nearest by, double *nearest,
                            tw_fault *fault);
/* the member `steps` above (below) the largest one that is <= value */
tw_status tw_series_step(int series, double value, int steps, double *member, tw_fault *fault);
/* members in low..high, ascending; returns how many there are, fills at most `room` */
size_t tw_series_between(int series, double low, double high, double *out, size_t room);

#endif
