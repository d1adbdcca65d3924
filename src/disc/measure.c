#include "solved.h"

#include "modes.h"
#include "shape.h"
#include "tripwright/constants.h"

#include <string.h>

#define MODE_ELEMENTS 20
#define TILT_ELEMENTS 80

static const char HELD_NOWHERE[] = "the disc is held nowhere";
static const char LIES_FLAT[] = "the disc lies flat on a rigid face and cannot bend";
static const char NOT_ASKED[] = "not asked for";
static const char NO_CERAMIC[] = "there is no ceramic";
static const char ON_SUPPORT[] = "the carrier's ring stands on the support";
static const char NOT_ON_BED[] = "not given on an elastic bed";

static tw_disc_value known(double value)
{
  return (tw_disc_value){value, true, NULL};
}

static tw_disc_value unknown(const char *why)
{
  return (tw_disc_value){0.0, false, why};
}

/* ---- resonance ----------------------------------------------------------------------------- */

tw_status tw_disc_resonance(const tw_disc *d, tw_disc_vibration ask, double *hertz, tw_fault *fault)
{
  *hertz = 0.0;
  if (ask.index < 0 || ask.index >= TW_DISC_MODES || ask.elements < 0 || ask.elements > 1000 ||
      !(ask.mass >= 0.0 && ask.mass < 1e3) || !(ask.outside_capacitance >= 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.carrier_mass", "give a mass of zero or more",
                   "mode %d with %g kg on the disc cannot be asked for", ask.index, ask.mass);
  }
  tw_hold hold = d->hold;
  if (ask.free_edge) {
    hold = (tw_hold){.outer = d->spec.metal_radius, .edge = TW_EDGE_FREE, .support = -1.0};
  } else if (!d->supported || d->lies) {
    return tw_fail(fault, TW_NO_ANSWER, "support.kind", "choose rim, ledge or another support",
                   "no resonance in the support: %s", d->lies ? LIES_FLAT : HELD_NOWHERE);
  }
  if (ask.mass > 0.0 && !(ask.radius >= d->lam.hole && ask.radius <= hold.outer)) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.flat_radius", "keep the carrier on the disc",
                   "a mass at %g mm does not stand on the disc", ask.radius * 1e3);
  }
  const tw_mode_ask inner = {
      .mass = ask.mass,
      .radius = ask.radius,
      .capacitance = d->lam.blocked > 0.0 ? d->lam.blocked + ask.outside_capacitance : HUGE_VAL,
      .elements = ask.elements > 0 ? ask.elements : MODE_ELEMENTS,
      .count = ask.index + 1,
  };
  double all[TW_DISC_MODES];
  const tw_status status = tw_modes_find(&d->lam, &hold, inner, all, fault);
  if (status == TW_OK) {
    *hertz = all[ask.index];
  }
  return status;
}

/* ---- tilt ---------------------------------------------------------------------------------- */

/* integral of v + zc w/r over the electrode, five points an element */
static double integrate_half(const tw_disc *d, const tw_statics *s)
{
  const double end = fmin(d->lam.electrode, d->hold.outer);
  double sum = 0.0;
  for (int e = 0; e + 1 < s->mesh.nodes && s->mesh.radius[e + 1] <= end * (1.0 + 1e-9); e++) {
    double middle[2];
    tw_ring_middle(&s->set, 1, e, s->x, middle);
    const double r0 = s->mesh.radius[e], h = s->mesh.radius[e + 1] - r0;
    const double v0 = s->x[4 * e + 3], v1 = s->x[4 * e + 7];
    for (int g = 0; g < TW_GAUSS; g++) {
      const double x = TW_GAUSS_X[g], r = r0 + h * x;
      double q[3];
      tw_quadratic(x, h, q, NULL);
      const double v = q[0] * v0 + q[1] * middle[1] + q[2] * v1;
      sum += h * TW_GAUSS_W[g] * (v + d->lam.zc * tw_statics_w(s, r) / r);
    }
  }
  return sum;
}

static double half_charge(const tw_disc *d, const tw_statics *s)
{
  if (d->lam.blocked <= 0.0) {
    return 0.0;
  }
  const int edge = tw_mesh_node(&s->mesh, fmin(d->lam.electrode, d->hold.outer));
  double sum = integrate_half(d, s);
  /* [r (u - zc w')] between the electrode's borders */
  sum += s->mesh.radius[edge] * (s->x[4 * edge + 2] - d->lam.zc * s->x[4 * edge + 1]);
  if (d->lam.hole > 0.0) {
    sum -= d->lam.hole * (s->x[2] - d->lam.zc * s->x[1]);
  }
  return fabs(2.0 * d->lam.reduced.e * sum);
}

tw_status tw_disc_tilt(const tw_disc *d, double radius, double *tilt, double *half, tw_fault *fault)
{
  *tilt = *half = 0.0;
  tw_status status = tw_disc_can_carry(d, radius, fault);
  if (status != TW_OK) {
    return status;
  }
  if (d->lies || !(radius > 0.0)) {
    return tw_fail(fault, TW_NO_ANSWER, d->lies ? "support.kind" : "seat.flat_radius",
                   "give the carrier's contact a radius and the disc room to bend",
                   "a point or a disc that lies flat has no tilt compliance");
  }
  tw_statics s;
  status = tw_statics_new(&d->lam, &d->hold, tw_fineness_even(&d->lam, &d->hold, TILT_ELEMENTS),
                          &radius, 1, 1, &s);
  if (status != TW_OK) {
    return tw_fail(fault, status, "", "", "no memory for the tilt of the disc");
  }
  const bool solved = tw_statics_harmonic(&s, 1);
  if (solved) {
    tw_statics_clear(&s);
    tw_statics_load(&s, radius, 1.0 / radius);
    tw_statics_solve(&s, 0);
    *tilt = tw_statics_w(&s, radius) / radius;
    *half = half_charge(d, &s);
  }
  tw_statics_free(&s);
  return solved ? TW_OK
                : tw_fail(fault, TW_NO_ANSWER, "support.kind", "check thicknesses and support",
                          "the equations of the tilted disc have no solution");
}

/* ---- all figures --------------------------------------------------------------------------- */

/* pyroelectric charge, and what unequal expansion does through the piezo effect */
static tw_disc_value heat(const tw_disc *d)
{
  if (d->lam.blocked <= 0.0) {
    return unknown(NO_CERAMIC);
  }
  if (d->hold.bed > 0.0) {
    return unknown(NOT_ON_BED);
  }
  const tw_action warm = {.kelvin = 1.0};
  const double area = TW_PI * (d->lam.electrode * d->lam.electrode - d->lam.hole * d->lam.hole);
  double strain_charge = 0.0;
  if (!(d->lies && d->spec.bonded)) {
    tw_laminate lam = d->lam;
    tw_disc_field field;
    if (d->lies) {
      for (int i = 0; i < lam.count; i++) {
        lam.zone[i].b11 = lam.zone[i].b12 = lam.zone[i].mt = 0.0;
      }
    }
    if (!tw_disc_field_solve(&lam, &d->hold, warm, &field)) {
      return unknown("the equations of the warm disc have no solution");
    }
    strain_charge = tw_disc_field_charge(&lam, &field);
  }
  /* the constant of the free ceramic holds its own expansion already */
  const double own = d->lam.reduced.e * 2.0 * d->spec.ceramic.expansion * area;
  return known(d->sign * (d->spec.ceramic.pyroelectric * area + strain_charge + own));
}

static void measure_ring(const tw_disc *d, const tw_disc_ring *ring, tw_disc_measures *m)
{
  const bool ceramic = d->lam.blocked > 0.0;
  const char *why = d->lies ? LIES_FLAT : ON_SUPPORT;
  m->charge_per_newton = ceramic ? known(ring->charge) : unknown(NO_CERAMIC);
  m->voltage_per_newton_open = ceramic ? known(ring->voltage_open) : unknown(NO_CERAMIC);
  if (ring->unbending) {
    m->stiffness_short = m->stiffness_open = m->coupling_squared = unknown(why);
  } else {
    m->stiffness_short = known(ring->stiffness_short);
    m->stiffness_open = known(ring->stiffness_open);
    m->coupling_squared = known(1.0 - ring->stiffness_short / ring->stiffness_open);
  }
  m->thickness_charge = !ceramic ? unknown(NO_CERAMIC)
                        : d->hold.bed > 0.0
                            ? unknown(NOT_ON_BED)
                            : known(-tw_disc_turn(d) * d->side * tw_disc_swell(d, ring->radius));
}

static bool tilts(const tw_disc *d, tw_disc_measures *m)
{
  if (d->lies || !(m->contact_radius > 0.0)) {
    m->tilt_compliance = unknown(d->lies ? LIES_FLAT : "the carrier stands on a point");
    m->charge_per_moment = m->tilt_compliance;
    return false;
  }
  return true;
}

static tw_status measure_tilt(const tw_disc *d, tw_disc_measures *m, tw_fault *fault)
{
  double tilt, half;
  if (!tilts(d, m)) {
    return TW_OK;
  }
  const tw_status status = tw_disc_tilt(d, m->contact_radius, &tilt, &half, fault);
  m->tilt_compliance = tilt > 0.0 ? known(tilt) : unknown(ON_SUPPORT);
  return status;
}

/* a moment is a pair of forces at the ring: difference of the charges over the lever */
static tw_status measure_moment(const tw_disc *d, tw_disc_measures *m, tw_fault *fault)
{
  const double a = m->contact_radius;
  const double azimuth[2] = {d->spec.ceramic_eccentricity_azimuth,
                             d->spec.ceramic_eccentricity_azimuth + TW_PI};
  const double radius[2] = {a, a};
  double q[2];
  m->tilt_compliance = unknown(NOT_ASKED);
  if (!tilts(d, m)) {
    return TW_OK;
  }
  if (d->hold.stuck > 0.0) {
    m->charge_per_moment = unknown("not given for a disc that is stuck down around a void");
    return TW_OK;
  }
  const tw_status charged = tw_disc_charge(d, 2, radius, azimuth, q, fault);
  m->charge_per_moment =
      d->lam.blocked > 0.0 ? known((q[0] - q[1]) / (2.0 * a)) : unknown(NO_CERAMIC);
  return charged;
}

static tw_status one_mode(const tw_disc *d, bool free_edge, double mass, double outside,
                          tw_disc_value *value, tw_fault *fault)
{
  if (!free_edge && (!d->supported || d->lies)) {
    *value = unknown(d->lies ? LIES_FLAT : HELD_NOWHERE);
    return TW_OK;
  }
  const tw_disc_vibration ask = {.free_edge = free_edge,
                                 .mass = mass,
                                 .radius = d->spec.contact_radius,
                                 .outside_capacitance = outside};
  double hertz;
  const tw_status status = tw_disc_resonance(d, ask, &hertz, fault);
  *value = known(hertz);
  return status;
}

tw_status tw_disc_loaded_resonance(const tw_disc *d, double outside, tw_disc_value *value,
                                   tw_fault *fault)
{
  return one_mode(d, false, d->spec.carrier_mass, outside, value, fault);
}

static tw_status measure_modes(const tw_disc *d, double outside, tw_disc_measures *m,
                               tw_fault *fault)
{
  tw_status s = one_mode(d, true, 0.0, TW_DISC_SHORT, &m->resonance_free, fault);
  if (s == TW_OK) {
    s = one_mode(d, true, 0.0, TW_DISC_OPEN, &m->resonance_free_open, fault);
  }
  if (s == TW_OK) {
    s = one_mode(d, false, 0.0, TW_DISC_SHORT, &m->resonance_mounted, fault);
  }
  if (s == TW_OK) {
    s = one_mode(d, false, 0.0, TW_DISC_OPEN, &m->resonance_mounted_open, fault);
  }
  if (s == TW_OK) {
    s = tw_disc_loaded_resonance(d, outside, &m->resonance_loaded, fault);
  }
  return s;
}

tw_status tw_disc_measure(const tw_disc *d, double outside, tw_disc_measures *m, tw_fault *fault)
{
  tw_status status = tw_disc_measure_statics(d, m, fault);
  status = status == TW_OK && d->supported ? measure_tilt(d, m, fault) : status;
  return status == TW_OK ? measure_modes(d, outside, m, fault) : status;
}

tw_status tw_disc_measure_statics(const tw_disc *d, tw_disc_measures *m, tw_fault *fault)
{
  memset(m, 0, sizeof *m);
  const bool ceramic = d->lam.blocked > 0.0;
  m->contact_radius = fmax(d->spec.contact_radius, d->lam.hole);
  m->capacitance_blocked = ceramic ? known(d->lam.blocked) : unknown(NO_CERAMIC);
  m->capacitance_mounted = ceramic ? known(d->mounted) : unknown(NO_CERAMIC);
  m->capacitance_free = ceramic ? known(d->free) : unknown(NO_CERAMIC);
  m->charge_per_kelvin = heat(d);
  m->resonance_free = m->resonance_free_open = m->resonance_mounted = m->resonance_mounted_open =
      m->resonance_loaded = unknown(NOT_ASKED);
  if (!d->supported) {
    m->charge_per_newton = m->voltage_per_newton_open = m->stiffness_short = m->stiffness_open =
        m->coupling_squared = m->tilt_compliance = m->charge_per_moment = m->thickness_charge =
            unknown(HELD_NOWHERE);
    return TW_OK;
  }
  tw_disc_ring ring;
  const tw_status status = tw_disc_at(d, m->contact_radius, &ring, fault);
  if (status != TW_OK) {
    return status;
  }
  measure_ring(d, &ring, m);
  return measure_moment(d, m, fault);
}
