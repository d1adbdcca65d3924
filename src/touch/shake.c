/* shake.c: what accelerations do to a probe that touches nothing (docs/models/false-trips.md).
 *
 * Along the axis the carrier's inertia loads disc and seat by their stiffnesses until the carrier
 * lifts, then the disc alone; sideways its moment works against the dead
 * zone of the seat, and only what goes beyond it turns into load.
 */
#include "shake.h"
#include "tripwright/circuit_forms.h"
#include "tripwright/constants.h"
#include "tripwright/numerics.h"
#include <math.h>

static bool at_least_zero(double x)
{
  return x >= 0.0 && isfinite(x);
}

tw_status tw_shake_check(const tw_shake *s, tw_fault *fault)
{
  const struct {
    double value;
    bool above;
    const char *field, *name;
  } rules[] = {
      {s->mass, true, "seat.carrier_mass", "the carrier's mass"},
      {s->height, false, "seat.carrier_mass", "the height of the carrier's centre of mass"},
      {s->dead_moment[0], false, "preload.force", "the dead zone along x"},
      {s->dead_moment[1], false, "preload.force", "the dead zone along y"},
      {s->arm, true, "seat.kind", "the lever of the seat"},
      {s->volt_per_newton, false, "disc.part", "the voltage per newton"},
      {s->volt_per_moment, false, "disc.part", "the voltage per newton metre"},
      {s->threshold, true, "circuit.reference", "the threshold"},
      {s->time_constant, false, "circuit.bias_resistance", "the time constant"},
      {s->resonance[0], true, "seat.kind", "the resonance along x"},
      {s->resonance[1], true, "seat.kind", "the resonance along y"},
      {s->resonance[2], true, "seat.kind", "the resonance along z"},
      {s->damping, false, "seat.damping_ratio", "the damping"},
      {s->bypass, false, "seat.socket_stiffness", "the share that passes the disc by"},
      {s->lift_force, false, "preload.force", "the force that lifts the carrier"},
  };
  for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
    if (!at_least_zero(rules[i].value) || (rules[i].above && rules[i].value == 0.0)) {
      return tw_fail(fault, TW_BAD_INPUT, rules[i].field,
                     rules[i].above ? "give a value above zero" : "give zero or more",
                     "%s is not usable", rules[i].name);
    }
  }
  for (int i = 0; i < 3; i++) {
    if (!isfinite(s->gravity[i])) {
      return tw_fail(fault, TW_BAD_INPUT, "environment.orientation", "give three plain numbers",
                     "gravity is not a number");
    }
  }
  if (s->bypass > 1.0) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.socket_stiffness", "a share from 0 to 1",
                   "more than the whole force passes the disc by");
  }
  if (s->damping >= 1.0) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.damping_ratio", "a ratio below 1",
                   "the damping ratio is %g", s->damping);
  }
  return TW_OK;
}

double tw_shake_dead_left(const tw_shake *s, int axis)
{
  const double tilt = s->mass * fabs(s->gravity[axis]) * s->height;
  return fmax(s->dead_moment[axis] - tilt, 0.0);
}

double tw_shake_signal(const tw_shake *s, int axis, double acceleration)
{
  const double force = s->mass * fabs(acceleration);
  if (axis == 2) {
    /* as long as the carrier stands on its seat, disc and seat share the force */
    return s->volt_per_newton * (force - s->bypass * fmin(force, s->lift_force));
  }
  const double moment = force * s->height;
  const double dead = tw_shake_dead_left(s, axis);
  const double beyond = fmax(moment - dead, 0.0);
  return s->volt_per_moment * fmin(moment, dead) + s->volt_per_newton * beyond / s->arm;
}

typedef struct asked_volt {
  const tw_shake *shake;
  int axis;
  double volt;
} asked_volt;

static bool below_volt(const void *self, double acceleration)
{
  const asked_volt *a = self;
  return tw_shake_signal(a->shake, a->axis, acceleration) < a->volt;
}

/* the effective acceleration that brings the node to `volt`; 0 when none does */
static double acceleration_for(const tw_shake *s, int axis, double volt)
{
  double high = 1.0;
  while (tw_shake_signal(s, axis, high) < volt) {
    high *= 2.0;
    if (high > 1e12) {
      return 0.0;
    }
  }
  const asked_volt asked = {s, axis, volt};
  double low = 0.0;
  tw_bisect(below_volt, &asked, 1e-14, 200, &low, &high);
  return high;
}

void tw_shake_fill(const tw_shake *s, int axis, double applied, double amplification, double share,
                   tw_shaken *out)
{
  const double effective = fabs(applied) * amplification;
  *out = (tw_shaken){0};
  out->node = share * tw_shake_signal(s, axis, effective);
  out->margin = out->node * TW_SHAKE_MARGIN_MOST > s->threshold ? s->threshold / out->node
                                                                : TW_SHAKE_MARGIN_MOST;
  if (axis < 2) {
    const double moment = s->mass * effective * s->height;
    const double dead = tw_shake_dead_left(s, axis);
    out->lifts = moment > dead;
    out->lift_margin = moment * TW_SHAKE_MARGIN_MOST > dead ? dead / moment : TW_SHAKE_MARGIN_MOST;
  }
  out->threshold_for_2 = 2.0 * out->node;
  if (amplification > 0.0 && share > 0.0) {
    out->acceleration_for_2 = acceleration_for(s, axis, 0.5 * s->threshold / share) / amplification;
  }
}

/* the ramp at which 1 + |sin(pi t f)/(pi t f)| has surely come down to `amplification` */
static double ramp_for(double amplification, double frequency)
{
  const double over = amplification - 1.0;
  if (over >= 1.0) {
    return 0.0;
  }
  /* beyond t = 1/(pi f over) the envelope 1/(pi t f) stays under it */
  return over > 0.0 ? 1.0 / (TW_PI * frequency * over) : 0.0;
}

tw_status tw_shake_move(const tw_shake *s, const double acceleration[3], const double jerk[3],
                        tw_shaken out[3], tw_fault *fault)
{
  const tw_status status = tw_shake_check(s, fault);
  if (status != TW_OK) {
    return status;
  }
  for (int i = 0; i < 3; i++) {
    if (!at_least_zero(acceleration[i]) || !at_least_zero(jerk[i])) {
      return tw_fail(fault, TW_BAD_INPUT, "machine.acceleration", "give 0 or more",
                     "acceleration or jerk of axis %d is not usable", i + 1);
    }
    const double ramp = jerk[i] > 0.0 ? acceleration[i] / jerk[i] : 0.0;
    const double amplification =
        acceleration[i] > 0.0 ? tw_ramp_amplification(ramp, s->resonance[i]) : 1.0;
    tw_shake_fill(s, i, acceleration[i], amplification, 1.0, &out[i]);
    /* how much amplification leaves half the threshold at this acceleration */
    const double wanted = acceleration_for(s, i, 0.5 * s->threshold);
    if (acceleration[i] > 0.0 && wanted > acceleration[i]) {
      out[i].ramp_for_2 = ramp_for(wanted / acceleration[i], s->resonance[i]);
    }
  }
  return TW_OK;
}

/* 1/|1 - r^2 + 2 i zeta r| */
static double resonance_gain(double frequency, double resonance, double damping)
{
  const double r = frequency / resonance;
  const double real = 1.0 - r * r;
  const double imaginary = 2.0 * damping * r;
  return 1.0 / sqrt(real * real + imaginary * imaginary);
}

/* share that the leaking node keeps at a frequency: w tau/sqrt(1 + w^2 tau^2) */
static double kept_share(double frequency, double tau)
{
  const double wt = TW_TWO_PI * frequency * tau;
  return tau > 0.0 ? wt / sqrt(1.0 + wt * wt) : 1.0;
}

tw_status tw_shake_sine(const tw_shake *s, double acceleration, double frequency, tw_shaken out[3],
                        tw_fault *fault)
{
  const tw_status status = tw_shake_check(s, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!at_least_zero(acceleration) || !(frequency > 0.0) || !isfinite(frequency)) {
    return tw_fail(fault, TW_BAD_INPUT, "environment.vibration", "amplitude >= 0, frequency > 0",
                   "the vibration is not usable");
  }
  for (int i = 0; i < 3; i++) {
    if (s->damping == 0.0 && frequency == s->resonance[i]) {
      return tw_fail(fault, TW_NO_ANSWER, "seat.damping_ratio", "give the damping of the carrier",
                     "an undamped carrier shaken at its resonance has no steady state");
    }
    tw_shake_fill(s, i, acceleration, resonance_gain(frequency, s->resonance[i], s->damping),
                  kept_share(frequency, s->time_constant), &out[i]);
  }
  return TW_OK;
}

tw_status tw_shake_spectrum(const tw_shake *s, const double *frequency, const double *density,
                            size_t count, double crest, tw_shaken out[3], tw_fault *fault)
{
  tw_status status = tw_shake_check(s, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(crest >= 1.0) || !isfinite(crest)) {
    return tw_fail(fault, TW_BAD_INPUT, "environment.spectrum", "3 to 5; 4 is common practice",
                   "the crest factor must be 1 or more");
  }
  for (int i = 0; i < 3; i++) {
    double kept = 0.0; /* m/s2 rms behind resonance and leak, and behind the resonance alone */
    double whole = 0.0;
    const double slow = 1e9; /* s: no leak */
    const double tau = s->time_constant > 0.0 ? s->time_constant : slow;
    status = tw_false_spectrum(1.0, 1.0, frequency, density, count, s->resonance[i], s->damping,
                               tau, &kept, fault);
    if (status == TW_OK) {
      status = tw_false_spectrum(1.0, 1.0, frequency, density, count, s->resonance[i], s->damping,
                                 slow, &whole, fault);
    }
    if (status != TW_OK) {
      return status;
    }
    tw_shake_fill(s, i, crest * whole, 1.0, whole > 0.0 ? kept / whole : 1.0, &out[i]);
  }
  return TW_OK;
}
