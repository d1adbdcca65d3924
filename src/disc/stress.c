/* stress.c: stress at the faces of each layer. Source: docs/models/disc.md, stress. */
#include "solved.h"

#include <string.h>

#define SAMPLES 16 /* a segment, for the peak */

typedef struct planar {
  double radial, hoop;
} planar;

/* stress of a layer at height z: Q strain, and in an electroded ceramic the field's part,
 * e V/t + e^2/eps (S(z) - S(zc)) */
static planar stress_at(const tw_disc *d, tw_local at, double radius, const tw_layer *l, double z,
                        double volt)
{
  const double er = at.du + z * at.db;
  const double et = radius > 0.0 ? (at.u + z * at.b) / radius : er;
  planar s = {l->q11 * er + l->q12 * et, l->q12 * er + l->q11 * et};
  if (l->name == TW_DISC_LAYER_CERAMIC && at.zone->electrode) {
    const tw_reduced *red = &d->lam.reduced;
    const double bent = at.db + (radius > 0.0 ? at.b / radius : at.db);
    const double field = red->e * volt / d->spec.ceramic_thickness +
                         red->e * red->e / red->eps * (z - d->lam.zc) * bent;
    s.radial += field;
    s.hoop += field;
  }
  return s;
}

static const tw_layer *layer_of(const tw_zone *zone, tw_disc_layer name)
{
  for (int i = 0; i < zone->layers; i++) {
    if (zone->layer[i].name == name) {
      return &zone->layer[i];
    }
  }
  return NULL;
}

/* largest tension of one face along the radius, both sides of every border */
static void find_peak(const tw_disc *d, const tw_disc_field *f, tw_disc_stress *row)
{
  row->peak_tension = -HUGE_VAL;
  for (int i = 0; i < f->count; i++) {
    const tw_segment *s = &f->segment[i];
    const tw_layer *l = layer_of(s->zone, row->layer);
    for (int k = 0; l != NULL && k <= SAMPLES; k++) {
      const double r = s->inner + (s->outer - s->inner) * k / SAMPLES;
      const tw_local at = tw_disc_field_side(f, r, k > 0 || i == 0);
      const planar p = stress_at(d, at, r, l, row->outer ? l->z1 : l->z0, 0.0);
      const double most = d->side > 0.0 ? fmax(p.radial, p.hoop) : -fmin(p.radial, p.hoop);
      if (most > row->peak_tension) {
        row->peak_tension = most;
        row->peak_radius = r;
      }
    }
  }
}

tw_status tw_disc_stresses(const tw_disc *d, double radius, tw_disc_stress *rows, size_t *count,
                           tw_fault *fault)
{
  *count = 0;
  tw_status status = tw_disc_can_carry(d, radius, fault);
  if (status != TW_OK) {
    return status;
  }
  if (d->lies || d->hold.bed > 0.0) {
    return tw_fail(fault, TW_NO_ANSWER, "support.kind", "support the disc at its rim or a ledge",
                   "bending stress is not given for a disc whose whole face is supported");
  }
  /* under a point the plate's stress has no end; the thickness limits it to that of this ring
   * (Roark's equivalent radius 0.325 t of a point, turned into the ring of equal moment) */
  const tw_zone *first = &d->lam.zone[0];
  const double thick = first->layer[first->layers - 1].z1 - first->layer[0].z0;
  const double ring = fmin(fmax(radius, 0.325 * exp(-0.5) * thick), d->reach);
  const double open = d->mounted > 0.0 ? -tw_disc_bend(d, ring, NULL) / d->mounted : 0.0;
  tw_disc_field loaded, opened;
  if (!tw_disc_loaded_field(d, ring, 0.0, &loaded) ||
      !tw_disc_loaded_field(d, ring, open, &opened)) {
    return tw_fail(fault, TW_NO_ANSWER, "support.kind", "check thicknesses and support",
                   "the equations of the loaded disc have no solution");
  }
  const double centre = d->lam.hole;
  const tw_local sc = tw_disc_field_at(&loaded, centre), oc = tw_disc_field_at(&opened, centre);
  for (int i = first->layers - 1; i >= 0; i--) {
    const tw_layer *l = &first->layer[i];
    for (int face = 1; face >= 0; face--) {
      tw_disc_stress *row = &rows[(*count)++];
      memset(row, 0, sizeof *row);
      const double z = face == 1 ? l->z1 : l->z0;
      row->layer = l->name;
      row->outer = face == 1;
      row->centre_short = d->side * stress_at(d, sc, centre, l, z, 0.0).hoop;
      row->centre_open = d->side * stress_at(d, oc, centre, l, z, open).hoop;
      find_peak(d, &loaded, row);
    }
  }
  return TW_OK;
}
