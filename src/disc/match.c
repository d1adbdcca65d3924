/* match.c: constants of one disc from what was measured on it. Source: docs/models/disc.md,
 * measured. */
#include "solved.h"

#include <math.h>
#include <string.h>

#define LEAST_FACTOR 0.2
#define MOST_FACTOR  5.0
/* relative change of the factors at which the rounds stop */
#define SETTLED 1e-10

static void scale_solid(tw_disc_solid *solid, double stiffness)
{
  solid->young *= stiffness;
}

/* the assumed constants times the factors */
static tw_disc_spec scaled(const tw_disc_spec *spec, const tw_disc_match *m)
{
  tw_disc_spec s = *spec;
  scale_solid(&s.metal, m->stiffness);
  scale_solid(&s.bond, m->stiffness);
  scale_solid(&s.silver, m->stiffness);
  tw_disc_ceramic *c = &s.ceramic;
  c->s11 /= m->stiffness;
  c->s12 /= m->stiffness;
  c->s13 /= m->stiffness;
  c->s33 /= m->stiffness;
  c->d31 *= m->piezo;
  c->d33 *= m->piezo;
  c->permittivity *= m->permittivity;
  return s;
}

static double ratio(tw_disc_value value, double measured)
{
  return value.known && measured > 0.0 ? value.value / measured : 1.0;
}

static void fill_off(const tw_disc_measures *v, const tw_disc_measured *m, tw_disc_match *out)
{
  out->capacitance_off = ratio(v->capacitance_free, m->capacitance) - 1.0;
  out->capacitance_mounted_off = ratio(v->capacitance_mounted, m->capacitance_mounted) - 1.0;
  out->resonance_free_off = ratio(v->resonance_free, m->resonance_free) - 1.0;
  out->resonance_mounted_off = ratio(v->resonance_mounted, m->resonance_mounted) - 1.0;
  const double q = fabs(m->charge_per_newton);
  out->charge_off =
      v->charge_per_newton.known && q > 0.0 ? fabs(v->charge_per_newton.value) / q - 1.0 : 0.0;
}

/* one round: every factor as if the others stayed; returns the largest relative change */
static double improve(const tw_disc_measures *v, const tw_disc_measured *m, tw_disc_match *f)
{
  double change = 0.0;
  const bool bare = m->capacitance > 0.0;
  const double c = bare ? m->capacitance : m->capacitance_mounted;
  const tw_disc_value model = bare ? v->capacitance_free : v->capacitance_mounted;
  if (c > 0.0 && model.known) {
    const double by = c / model.value;
    f->permittivity *= by;
    /* without a push of its own the charge goes with the capacitance (disc.md 3a) */
    f->piezo *= m->charge_per_newton == 0.0 ? pow(by, TW_DISC_CHARGE_EXPONENT) : 1.0;
    change = fmax(change, fabs(by - 1.0));
  }
  const double hz = m->resonance_free > 0.0 ? ratio(v->resonance_free, m->resonance_free)
                                            : ratio(v->resonance_mounted, m->resonance_mounted);
  f->stiffness /= hz * hz;
  change = fmax(change, fabs(hz - 1.0));
  if (m->charge_per_newton != 0.0 && v->charge_per_newton.known &&
      v->charge_per_newton.value != 0.0) {
    const double by = fabs(m->charge_per_newton / v->charge_per_newton.value);
    f->piezo *= by;
    change = fmax(change, fabs(by - 1.0));
  }
  return change;
}

static tw_status check_factor(double factor, const char *field, const char *what, tw_fault *fault)
{
  if (factor >= LEAST_FACTOR && factor <= MOST_FACTOR) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, field,
                 "check the unit, the disc's sizes and how it was held when measured",
                 "to meet the measurement the %s would have to be %.3g times the assumed one", what,
                 factor);
}

static tw_status check_factors(const tw_disc_match *f, const tw_disc_measured *m, tw_fault *fault)
{
  tw_status s =
      check_factor(f->permittivity,
                   m->capacitance > 0.0 ? "measured.capacitance" : "measured.capacitance_mounted",
                   "permittivity", fault);
  if (s == TW_OK) {
    s = check_factor(f->stiffness,
                     m->resonance_free > 0.0 ? "measured.resonance_free"
                                             : "measured.resonance_mounted",
                     "stiffness", fault);
  }
  return s == TW_OK ? check_factor(f->piezo, "measured.charge_per_newton", "piezo constant", fault)
                    : s;
}

static tw_disc_value known(double value)
{
  return (tw_disc_value){value, true, NULL};
}

static tw_status find_resonance(const tw_disc *d, bool free_edge, tw_disc_value *out,
                                tw_fault *fault)
{
  const tw_disc_vibration ask = {.free_edge = free_edge, .outside_capacitance = TW_DISC_SHORT};
  *out = known(0.0);
  return tw_disc_resonance(d, ask, &out->value, fault);
}

/* only the figures that something was measured for */
static tw_status measure_spec(const tw_disc_spec *spec, const tw_disc_measured *m,
                              tw_disc_measures *v, tw_fault *fault)
{
  tw_disc *d;
  tw_status status = tw_disc_new(spec, &d, fault);
  if (status != TW_OK) {
    return status;
  }
  memset(v, 0, sizeof *v);
  if (d->lam.blocked > 0.0) {
    v->capacitance_free = known(d->free);
    v->capacitance_mounted = known(d->mounted);
    const double r = fmax(spec->contact_radius, d->lam.hole);
    v->charge_per_newton =
        d->supported ? known(tw_disc_turn(d) * tw_disc_influence(d, r)) : v->charge_per_newton;
  }
  if (m->resonance_free > 0.0) {
    status = find_resonance(d, true, &v->resonance_free, fault);
  }
  if (status == TW_OK && m->resonance_mounted > 0.0 && d->supported && !d->lies) {
    status = find_resonance(d, false, &v->resonance_mounted, fault);
  }
  tw_disc_free(d);
  return status;
}

tw_status tw_disc_spec_match(tw_disc_spec *spec, const tw_disc_measured *measured,
                             tw_disc_match *match, tw_fault *fault)
{
  const tw_disc_spec assumed = *spec;
  memset(match, 0, sizeof *match);
  match->permittivity = match->stiffness = match->piezo = 1.0;
  const double given[] = {measured->capacitance, measured->capacitance_mounted,
                          measured->resonance_free, measured->resonance_mounted,
                          measured->charge_per_newton};
  bool any = false;
  for (size_t i = 0; i < sizeof given / sizeof *given; i++) {
    if (!isfinite(given[i]) || (i < 4 && given[i] < 0.0)) {
      return tw_fail(fault, TW_BAD_INPUT, "measured", "leave out what was not measured",
                     "a measured value of the disc is %g", given[i]);
    }
    any = any || given[i] != 0.0;
  }
  if (!any) {
    return TW_OK;
  }
  tw_disc_measures v;
  double change = 1.0;
  for (int round = 0; round < 100 && change > SETTLED; round++) {
    const tw_disc_spec now = scaled(&assumed, match);
    tw_status status = measure_spec(&now, measured, &v, fault);
    if (status != TW_OK) {
      return status;
    }
    fill_off(&v, measured, match);
    change = improve(&v, measured, match);
    status = check_factors(match, measured, fault);
    if (status != TW_OK) {
      return status;
    }
  }
  if (change > 1e-6) {
    return tw_fail(fault, TW_NO_ANSWER, "measured", "leave one of the measurements out",
                   "the measurements of the disc contradict each other");
  }
  *spec = scaled(&assumed, match);
  if (measured->charge_per_newton != 0.0 && spec->poling == TW_DISC_POLING_UNKNOWN) {
    spec->poling = measured->charge_per_newton > 0.0 ? TW_DISC_POLING_PLUS : TW_DISC_POLING_MINUS;
  }
  return TW_OK;
}
