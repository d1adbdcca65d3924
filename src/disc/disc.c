#include "solved.h"

#include <string.h>

/* ---- profiles ------------------------------------------------------------------------------ */

void tw_profile_free(tw_profile *profile)
{
  tw_mesh_free(&profile->mesh);
  tw_free(profile->value);
  profile->value = NULL;
}

tw_status tw_profile_take(tw_statics *s, tw_profile *profile)
{
  const int nodes = s->mesh.nodes, per = tw_ring_per_node(s->n);
  profile->value = tw_alloc((size_t)nodes * 2, sizeof *profile->value);
  if (profile->value == NULL) {
    return TW_NO_MEMORY;
  }
  for (int i = 0; i < nodes; i++) {
    profile->value[2 * i] = s->x[i * per];
    profile->value[2 * i + 1] = s->x[i * per + 1];
  }
  profile->mesh = s->mesh;
  memset(&s->mesh, 0, sizeof s->mesh);
  return TW_OK;
}

double tw_profile_at(const tw_profile *profile, double radius, double *slope)
{
  double v[4], d[4];
  const double *x = profile->value + 2 * tw_mesh_shape(&profile->mesh, radius, v, d);
  if (slope != NULL) {
    *slope = d[0] * x[0] + d[1] * x[1] + d[2] * x[2] + d[3] * x[3];
  }
  return v[0] * x[0] + v[1] * x[1] + v[2] * x[2] + v[3] * x[3];
}

/* ---- solving ------------------------------------------------------------------------------- */

/* translate the support into what the equations see */
static void set_hold(tw_disc *d)
{
  const tw_disc_spec *s = &d->spec;
  tw_hold *h = &d->hold;
  *h = (tw_hold){.outer = s->metal_radius, .edge = TW_EDGE_FREE, .support = -1.0};
  d->supported = s->support != TW_DISC_FREE;
  switch (s->support) {
  case TW_DISC_RIM:
    h->support = h->outer;
    break;
  case TW_DISC_PINNED:
    h->support = h->outer;
    h->edge = TW_EDGE_PINNED;
    h->pin = -s->metal_thickness / 2.0;
    break;
  case TW_DISC_CLAMPED:
    h->support = h->outer;
    h->edge = TW_EDGE_CLAMPED;
    break;
  case TW_DISC_LEDGE:
    h->support = s->ledge_radius;
    break;
  case TW_DISC_FOUNDATION:
    h->bed = s->foundation_stiffness;
    break;
  case TW_DISC_FLAT:
    if (s->void_radius > 0.0) {
      h->support = s->void_radius;
      h->stuck = s->bonded ? s->void_radius : 0.0;
    } else {
      d->lies = true;
      h->unbent = true;
    }
    break;
  case TW_DISC_FREE:
    break;
  }
  d->reach = h->stuck > 0.0 ? h->stuck : h->outer;
}

/* the laminate of a disc that cannot bend: only its plane is left */
static void make_unbent(tw_laminate *lam)
{
  for (int i = 0; i < lam->count; i++) {
    tw_zone *z = &lam->zone[i];
    z->b11 = z->b12 = z->mp = z->mt = 0.0;
    z->dstar = z->d11;
  }
}

/* the state for one volt, and the capacitance that goes with it */
static bool solve_volt(const tw_disc *d, const tw_hold *hold, tw_action action,
                       tw_disc_field *field, double *charge)
{
  tw_laminate flat;
  const tw_laminate *lam = &d->lam;
  if (hold->unbent) {
    flat = d->lam;
    make_unbent(&flat);
    lam = &flat;
  }
  memset(field, 0, sizeof *field);
  *charge = 0.0;
  if (hold->unbent && d->spec.bonded) {
    /* stuck to a rigid face: neither bends nor stretches */
    field->count = 1;
    field->segment[0] = (tw_segment){.zone = &d->lam.zone[0], .outer = hold->outer};
    return true;
  }
  if (!tw_disc_field_solve(lam, hold, action, field)) {
    return false;
  }
  *charge = tw_disc_field_charge(lam, field);
  for (int i = 0; i < field->count; i++) { /* `flat` ends here */
    field->segment[i].zone = &d->lam.zone[field->segment[i].zone - lam->zone];
  }
  return true;
}

static tw_status solve_bed(tw_disc *d)
{
  tw_statics s;
  tw_status status = tw_statics_new(&d->lam, &d->hold, tw_fineness_even(&d->lam, &d->hold, 100),
                                    &d->spec.contact_radius, 1, 0, &s);
  if (status != TW_OK) {
    return status;
  }
  if (!tw_statics_harmonic(&s, 0)) {
    tw_statics_free(&s);
    return TW_NO_ANSWER;
  }
  for (int i = 0; i < s.k.size; i++) {
    s.x[i] = -s.p[i];
  }
  tw_statics_solve(&s, 0);
  double px = 0.0;
  for (int i = 0; i < s.k.size; i++) {
    px += s.p[i] * s.x[i];
  }
  d->mounted = d->lam.blocked - px;
  d->edge_u = s.x[s.k.size - 1];
  d->edge_b = -s.x[s.k.size - 2];
  status = tw_profile_take(&s, &d->bed);
  tw_statics_free(&s);
  return status;
}

static tw_status solve(tw_disc *d)
{
  const tw_hold loose = {.outer = d->spec.metal_radius, .edge = TW_EDGE_FREE, .support = -1.0};
  const tw_action volt = {.volt = 1.0};
  tw_disc_field field;
  double charge;
  if (!solve_volt(d, &loose, volt, &field, &charge)) {
    return TW_NO_ANSWER;
  }
  d->free = d->lam.blocked + charge;
  tw_status status = TW_OK;
  if (d->hold.bed > 0.0) {
    status = solve_bed(d);
  } else {
    if (!solve_volt(d, &d->hold, volt, &d->volt, &charge)) {
      return TW_NO_ANSWER;
    }
    d->mounted = d->lam.blocked + charge;
  }
  if (status == TW_OK && d->spec.ceramic_eccentricity > 0.0 && d->supported && !d->lies &&
      d->hold.stuck <= 0.0 && d->spec.ceramic_thickness > 0.0) {
    status = tw_shift_solve(d);
  }
  if (status == TW_OK && d->spec.void_depth > 0.0 && d->hold.support > 0.0 &&
      !d->spec.backing_elsewhere) {
    status = tw_backing_new(d);
  }
  return status;
}

tw_status tw_disc_new(const tw_disc_spec *spec, tw_disc **disc, tw_fault *fault)
{
  *disc = NULL;
  tw_status status = tw_disc_spec_check(spec, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_disc *d = tw_alloc(1, sizeof *d);
  if (d == NULL) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the disc");
  }
  d->spec = *spec;
  d->side = spec->contact_face == TW_DISC_METAL_FACE ? 1.0 : -1.0;
  d->sign = spec->poling == TW_DISC_POLING_PLUS    ? d->side
            : spec->poling == TW_DISC_POLING_MINUS ? -d->side
                                                   : 1.0;
  tw_laminate_build(spec, &d->lam);
  set_hold(d);
  status = solve(d);
  if (status != TW_OK) {
    tw_disc_free(d);
    return status == TW_NO_MEMORY
               ? tw_fail(fault, status, "", "", "no memory for the disc")
               : tw_fail(fault, status, "support.kind", "check thicknesses and support",
                         "the equations of the disc have no solution");
  }
  *disc = d;
  return TW_OK;
}

void tw_disc_free(tw_disc *disc)
{
  if (disc != NULL) {
    tw_profile_free(&disc->bed);
    tw_profile_free(&disc->shift);
    tw_backing_free(disc->backing);
    tw_free(disc);
  }
}

const tw_disc_spec *tw_disc_spec_of(const tw_disc *disc)
{
  return &disc->spec;
}

/* ---- influence ----------------------------------------------------------------------------- */

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

/* ---- one ring load ------------------------------------------------------------------------- */

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
