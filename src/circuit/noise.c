/* noise.c: thermal, shot, amplifier and mains voltages on a resistor and a capacitor. */
#include "tripwright/circuit_forms.h"
#include "tripwright/constants.h"

#include <assert.h>
#include <math.h>

double tw_noise_ktc(double capacitance, double temperature)
{
  assert(capacitance > 0 && temperature >= 0);
  return sqrt(TW_BOLTZMANN * temperature / capacitance);
}

/* integral of 1/(1 + (f/p)^2) from low to high: p (atan(high/p) - atan(low/p)), written as one
 * arctangent of the difference so that narrow bands keep their digits */
static double one_pole_band(double pole, double low, double high)
{
  assert(pole > 0 && low >= 0 && high >= low);
  if (isinf(high)) {
    return pole * atan2(pole, low);
  }
  return pole * atan2(pole * (high - low), pole * pole + low * high);
}

double tw_noise_thermal_band(double resistance, double capacitance, double temperature, double low,
                             double high)
{
  assert(resistance > 0 && temperature >= 0);
  const double corner = tw_rc_corner(resistance, capacitance);
  return sqrt(4.0 * TW_BOLTZMANN * temperature * resistance * one_pole_band(corner, low, high));
}

double tw_noise_current_band(double density, double resistance, double capacitance, double low,
                             double high)
{
  assert(density >= 0);
  const double corner = tw_rc_corner(resistance, capacitance);
  return density * resistance * sqrt(one_pole_band(corner, low, high));
}

double tw_noise_bandwidth(double corner, double pole, double low, double high)
{
  const double one = one_pole_band(corner, low, high);
  if (!(pole > 0.0)) {
    return one;
  }
  /* partial fractions; where the two meet, the mean of both sides (off by 1e-8 of itself) */
  const double apart = 1e-4;
  if (fabs(pole - corner) < apart * corner) {
    return 0.5 * (tw_noise_bandwidth(corner, corner * (1.0 + 2.0 * apart), low, high) +
                  tw_noise_bandwidth(corner, corner * (1.0 - 2.0 * apart), low, high));
  }
  const double c2 = corner * corner, p2 = pole * pole;
  return (p2 * one - c2 * one_pole_band(pole, low, high)) / (p2 - c2);
}

double tw_noise_flicker_decades(double pole, double low, double high)
{
  assert(low > 0 && high >= low);
  const double plain = log(high / low);
  return pole > 0.0 ? plain - log(hypot(1.0, high / pole) / hypot(1.0, low / pole)) : plain;
}

double tw_noise_shot_density(double current)
{
  return sqrt(2.0 * TW_ELEMENTARY_CHARGE * fabs(current));
}

double tw_noise_one_pole(double density, double pole)
{
  assert(density >= 0 && pole > 0);
  return density * sqrt(0.5 * TW_PI * pole);
}

double tw_noise_one_pole_band(double density, double pole, double low, double high)
{
  assert(density >= 0);
  return density * sqrt(one_pole_band(pole, low, high));
}

double tw_mains_voltage(double rms, double frequency, double stray, double resistance,
                        double capacitance)
{
  assert(frequency >= 0 && stray >= 0 && resistance > 0 && capacitance >= 0);
  /* divider of 1/(j w C_m) over R || C: |V| = V w C_m R / sqrt(1 + (w R (C + C_m))^2) */
  const double w = TW_TWO_PI * frequency;
  return rms * w * stray * resistance / hypot(1.0, w * resistance * (capacitance + stray));
}

double tw_cable_voltage(double charge, double capacitance)
{
  assert(capacitance > 0);
  return fabs(charge) / capacitance;
}
