/* false_trip.c: node voltages and forces that come from motion instead of a touch. */
#include "tripwright/circuit_forms.h"
#include "tripwright/constants.h"

#include <assert.h>
#include <math.h>

double tw_ramp_amplification(double ramp, double frequency)
{
  assert(ramp >= 0 && frequency > 0);
  /* undamped oscillator under a load ramped in t_j: 1 + |sin(pi t_j f)/(pi t_j f)| */
  const double z = TW_PI * ramp * frequency;
  return z < 1e-8 ? 2.0 : 1.0 + fabs(sin(z) / z);
}

double tw_false_axial(double volt_per_newton, double mass, double acceleration, double ramp,
                      double frequency)
{
  return fabs(volt_per_newton) * mass * fabs(acceleration) * tw_ramp_amplification(ramp, frequency);
}

double tw_false_vibration(double volt_per_newton, double mass, double acceleration,
                          double frequency, double resonance, double damping)
{
  assert(resonance > 0 && damping > 0 && frequency >= 0);
  const double r = frequency / resonance;
  return fabs(volt_per_newton) * mass * fabs(acceleration) / hypot(1.0 - r * r, 2.0 * damping * r);
}

double tw_false_lateral(double mass, double acceleration, double height, double radius)
{
  assert(radius > 0);
  return mass * fabs(acceleration) * height / radius;
}

/* |H|^2: resonance of the carrier times the node's high-pass */
static double power_gain(double f, double resonance, double damping, double time_constant)
{
  const double r = f / resonance, wt = TW_TWO_PI * f * time_constant;
  const double a = 1.0 - r * r, b = 2.0 * damping * r;
  return wt * wt / (1.0 + wt * wt) / (a * a + b * b);
}

/* integral over one span of the table, density linear in it; steps a tenth of the distance to the
 * resonance or of its half width, whichever is larger, so that no peak is stepped over */
static double span_power(double f0, double f1, double s0, double s1, double resonance,
                         double damping, double time_constant)
{
  const double width = damping * resonance;
  const double corner = 1.0 / (TW_TWO_PI * time_constant);
  double sum = 0.0, f = f0;
  double here = power_gain(f, resonance, damping, time_constant) * s0;
  while (f < f1) {
    const double to_peak = fmax(fabs(f - resonance), width);
    const double step = 0.02 * fmin(to_peak, fmax(f, corner));
    const double next = f + step >= f1 ? f1 : f + step;
    const double s = s0 + (s1 - s0) * (next - f0) / (f1 - f0);
    const double there = power_gain(next, resonance, damping, time_constant) * s;
    sum += 0.5 * (here + there) * (next - f);
    f = next;
    here = there;
  }
  return sum;
}

tw_status tw_false_spectrum(double volt_per_newton, double mass, const double *frequency,
                            const double *density, size_t count, double resonance, double damping,
                            double time_constant, double *rms, tw_fault *fault)
{
  if (!(resonance > 0 && damping >= 1e-5 && time_constant > 0 && mass >= 0)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.vibration",
                   "damping ratio at least 1e-5, resonance and time constant above zero",
                   "a spectrum cannot be weighed with resonance %g Hz, damping %g, tau %g s",
                   resonance, damping, time_constant);
  }
  if (count < 2) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.vibration", "give two or more rows",
                   "a spectrum needs at least two frequencies");
  }
  double power = 0.0;
  for (size_t i = 0; i < count; i++) {
    const bool bad =
        !(density[i] >= 0 && isfinite(density[i]) && frequency[i] >= 0 && isfinite(frequency[i])) ||
        (i > 0 && !(frequency[i] > frequency[i - 1]));
    if (bad) {
      return tw_fail(fault, TW_BAD_INPUT, "machine.vibration",
                     "frequencies must rise and densities be zero or more",
                     "row %zu of the spectrum (%g Hz, %g) is out of order or no number", i + 1,
                     frequency[i], density[i]);
    }
    if (i > 0) {
      power += span_power(frequency[i - 1], frequency[i], density[i - 1], density[i], resonance,
                          damping, time_constant);
    }
  }
  *rms = fabs(volt_per_newton) * mass * sqrt(power);
  return TW_OK;
}
