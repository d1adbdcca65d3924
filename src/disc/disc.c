/* disc.c: a disc solved: its support as the equations see it, one volt, and what that leaves. */
#include "solved.h"

#include <string.h>

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
