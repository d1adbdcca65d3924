/* influence.c: what a solved disc says of a ring load: bending for a volt, charge, deflection. */
#include "solved.h"

#include <string.h>

double tw_disc_bend(const tw_disc *d, double radius, double *slope)
{
  if (d->bed.value != NULL) {
    double dw;
    const double w = tw_profile_at(&d->bed, radius, &dw);
    if (slope != NULL) {
      *slope = -dw;
    }
    return w;
  }
  const tw_local at = tw_disc_field_at(&d->volt, radius);
  if (slope != NULL) {
    *slope = d->lies ? 0.0 : at.b;
  }
  return d->lies || !d->supported ? 0.0 : at.w;
}

double tw_disc_swell(const tw_disc *d, double radius)
{
  if (d->bed.value != NULL) {
    return 0.0; /* a soft bed: the squeeze is far below the bending */
  }
  const tw_local at = tw_disc_field_at(&d->volt, radius);
  const tw_reduced *red = &d->lam.reduced;
  const double eu = radius > 0.0 ? at.u / radius : at.du;
  const double eb = radius > 0.0 ? at.b / radius : at.db;
  double change = at.zone->electrode ? -red->e33 / red->c33 : 0.0;
  for (int i = 0; i < at.zone->layers; i++) {
    const tw_layer *l = &at.zone->layer[i];
    const double middle = (l->z0 + l->z1) / 2.0;
    const double area = at.du + eu + (d->lies ? 0.0 : middle * (at.db + eb));
    change -= l->squeeze * (l->z1 - l->z0) * area;
  }
  return change;
}

double tw_disc_influence(const tw_disc *d, double radius)
{
  if (!(radius >= d->lam.hole && radius <= d->reach) || d->spec.ceramic_thickness <= 0.0) {
    return 0.0;
  }
  /* on a flat the carrier and the support squeeze the disc between them */
  const double squeeze =
      d->spec.support == TW_DISC_FLAT ? -d->side * tw_disc_swell(d, radius) : 0.0;
  return tw_disc_bend(d, radius, NULL) + squeeze;
}

tw_status tw_disc_can_carry(const tw_disc *d, double radius, tw_fault *fault)
{
  if (!(radius >= d->lam.hole && radius <= d->spec.metal_radius)) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.flat_radius",
                   "keep the contact between the hole and the disc's edge",
                   "a load at %g mm does not stand on the disc (%g .. %g mm)", radius * 1e3,
                   d->lam.hole * 1e3, d->spec.metal_radius * 1e3);
  }
  if (!d->supported) {
    return tw_fail(fault, TW_NO_ANSWER, "support.kind", "choose rim, ledge or another support",
                   "a disc that is held nowhere cannot take a load");
  }
  if (radius > d->reach) {
    return tw_fail(fault, TW_NO_ANSWER, "support.void_radius", "load the disc over the void",
                   "the disc is stuck down where it is loaded");
  }
  return TW_OK;
}

bool tw_disc_loaded_field(const tw_disc *d, double radius, double volt, tw_disc_field *field)
{
  const tw_action load = {.force = 1.0, .radius = radius, .volt = volt};
  return tw_disc_field_solve(&d->lam, &d->hold, load, field);
}

/* deflection at the ring per newton, short */
static tw_status ring_deflection(const tw_disc *d, double radius, double *deflection)
{
  if (d->hold.bed <= 0.0) {
    tw_disc_field field;
    if (!tw_disc_loaded_field(d, radius, 0.0, &field)) {
      return TW_NO_ANSWER;
    }
    *deflection = tw_disc_field_at(&field, radius).w;
    return TW_OK;
  }
  tw_statics s;
  const tw_status status = tw_statics_new(
      &d->lam, &d->hold, tw_fineness_even(&d->lam, &d->hold, 100), &radius, 1, 0, &s);
  if (status != TW_OK) {
    return status;
  }
  const bool solved = tw_statics_harmonic(&s, 0);
  if (solved) {
    tw_statics_clear(&s);
    tw_statics_load(&s, radius, 1.0);
    tw_statics_solve(&s, 0);
    *deflection = tw_statics_w(&s, radius);
  }
  tw_statics_free(&s);
  return solved ? TW_OK : TW_NO_ANSWER;
}

tw_status tw_disc_at(const tw_disc *d, double radius, tw_disc_ring *ring, tw_fault *fault)
{
  memset(ring, 0, sizeof *ring);
  tw_status status = tw_disc_can_carry(d, radius, fault);
  if (status != TW_OK) {
    return status;
  }
  ring->radius = radius;
  const double g = tw_disc_influence(d, radius);
  ring->charge = tw_disc_turn(d) * g;
  ring->voltage_open = d->mounted > 0.0 ? ring->charge / d->mounted : 0.0;
  if (d->lies) {
    ring->unbending = true;
    return TW_OK;
  }
  status = ring_deflection(d, radius, &ring->deflection);
  if (status == TW_NO_MEMORY) {
    return tw_fail(fault, status, "", "", "no memory for the deflection of the disc");
  }
  if (status != TW_OK) {
    return tw_fail(fault, TW_NO_ANSWER, "support.kind", "check thicknesses and support",
                   "the equations of the loaded disc have no solution");
  }
  /* rounding of a load on the support itself, against the softness of a plate of this size */
  const double outer = d->hold.outer;
  if (!(ring->deflection > 1e-12 * outer * outer / d->lam.zone[0].dstar)) {
    ring->deflection = 0.0;
    ring->unbending = true;
    return TW_OK;
  }
  ring->stiffness_short = 1.0 / ring->deflection;
  const double bend = tw_disc_bend(d, radius, NULL);
  const double stiffer = d->mounted > 0.0 ? bend * bend / d->mounted : 0.0;
  ring->stiffness_open = 1.0 / (ring->deflection - stiffer);
  return TW_OK;
}
