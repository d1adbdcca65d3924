/* stress.c: stress at the faces of each layer. Source: docs/models/disc.md, stress. */
#include "solved.h"

#include <string.h>

#define SAMPLES      16 /* a segment, for the peak */
#define BED_ELEMENTS 100

/* stress of a layer at height z: Q strain, and in an electroded ceramic the field's part,
 * e V/t + e^2/eps (S(z) - S(zc)) */
static tw_disc_planar stress_at(const tw_disc *d, tw_local at, double radius, const tw_layer *l,
                                double z, double volt)
{
  const double er = at.du + z * at.db;
  const double et = radius > 0.0 ? (at.u + z * at.b) / radius : er;
  tw_disc_planar s = {l->q11 * er + l->q12 * et, l->q12 * er + l->q11 * et};
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

/* keep the largest tension of one face */
static void see(const tw_disc *d, tw_local at, double r, tw_disc_stress *row)
{
  const tw_layer *l = layer_of(at.zone, row->layer);
  if (l == NULL) {
    return;
  }
  const tw_disc_planar p = stress_at(d, at, r, l, row->outer ? l->z1 : l->z0, 0.0);
  const double most = d->side > 0.0 ? fmax(p.radial, p.hoop) : -fmin(p.radial, p.hoop);
  if (most > row->peak_tension) {
    row->peak_tension = most;
    row->peak_radius = r;
  }
}

/* along the radius, both sides of every border */
static void find_peak(const tw_disc *d, const tw_disc_field *f, tw_disc_stress *row)
{
  for (int i = 0; i < f->count; i++) {
    const tw_segment *s = &f->segment[i];
    for (int k = 0; k <= SAMPLES; k++) {
      const double r = s->inner + (s->outer - s->inner) * k / SAMPLES;
      see(d, tw_disc_field_side(f, r, k > 0 || i == 0), r, row);
    }
  }
}

static void fill_centre(const tw_disc *d, tw_local sc, tw_local oc, double open,
                        tw_disc_stress *row)
{
  const tw_layer *l = layer_of(&d->lam.zone[0], row->layer);
  const double z = row->outer ? l->z1 : l->z0, r = d->lam.hole;
  row->centre_short = d->side * stress_at(d, sc, r, l, z, 0.0).hoop;
  row->centre_open = d->side * stress_at(d, oc, r, l, z, open).hoop;
}

/* on an elastic bed: the same from ring elements, peaks at their middles */
static tw_status stresses_on_bed(const tw_disc *d, double radius, double open, tw_disc_stress *rows,
                                 size_t count)
{
  tw_statics s;
  tw_status status = tw_statics_new(
      &d->lam, &d->hold, tw_fineness_even(&d->lam, &d->hold, BED_ELEMENTS), &radius, 1, 0, &s);
  if (status != TW_OK) {
    return status;
  }
  if (!tw_statics_harmonic(&s, 0)) {
    tw_statics_free(&s);
    return TW_NO_ANSWER;
  }
  tw_local centre[2];
  for (int opened = 1; opened >= 0; opened--) { /* short last: its state is sampled below */
    tw_statics_clear(&s);
    tw_statics_load(&s, radius, 1.0);
    for (int i = 0; i < s.k.size; i++) {
      s.x[i] -= opened ? open * s.p[i] : 0.0;
    }
    tw_statics_solve(&s, 0);
    centre[opened] = tw_statics_local(&s, 0, 0.0);
  }
  for (size_t i = 0; i < count; i++) {
    fill_centre(d, centre[0], centre[1], open, &rows[i]);
    for (int e = 0; e + 1 < s.mesh.nodes; e++) {
      const double middle = (s.mesh.radius[e] + s.mesh.radius[e + 1]) / 2.0;
      see(d, tw_statics_local(&s, e, 0.5), middle, &rows[i]);
    }
  }
  tw_statics_free(&s);
  return TW_OK;
}

static tw_status stresses_of_zones(const tw_disc *d, double radius, double open,
                                   tw_disc_stress *rows, size_t count)
{
  tw_disc_field loaded, opened;
  if (!tw_disc_loaded_field(d, radius, 0.0, &loaded) ||
      !tw_disc_loaded_field(d, radius, open, &opened)) {
    return TW_NO_ANSWER;
  }
  const tw_local sc = tw_disc_field_at(&loaded, d->lam.hole);
  const tw_local oc = tw_disc_field_at(&opened, d->lam.hole);
  for (size_t i = 0; i < count; i++) {
    fill_centre(d, sc, oc, open, &rows[i]);
    find_peak(d, &loaded, &rows[i]);
  }
  return TW_OK;
}

static double thickness(const tw_disc *d)
{
  const tw_zone *first = &d->lam.zone[0];
  return first->layer[first->layers - 1].z1 - first->layer[0].z0;
}

/* a load spread over a patch of radius r0 acts as if over sqrt(1.6 r0^2 + t^2) - 0.675 t when r0 is
 * under half the thickness (Roark); a ring of exp(-1/2) of that has the same moment */
double tw_disc_point_ring(const tw_disc *d, double patch)
{
  const double t = thickness(d);
  const double even = patch < 0.5 * t ? sqrt(1.6 * patch * patch + t * t) - 0.675 * t : patch;
  return exp(-0.5) * even;
}

/* the ring on which the load is taken to stand */
static tw_status load_of(const tw_disc *d, double radius, double *ring, tw_fault *fault)
{
  const tw_status status = tw_disc_can_carry(d, radius, fault);
  if (status != TW_OK) {
    return status;
  }
  if (d->lies) {
    return tw_fail(fault, TW_NO_ANSWER, "support.kind", "support the disc at its rim or a ledge",
                   "a disc that lies flat on a rigid face has no bending stress");
  }
  /* under a point the plate's stress has no end: the thickness limits it */
  *ring = fmin(fmax(radius, tw_disc_point_ring(d, 0.0)), d->reach);
  return TW_OK;
}

static tw_status no_stress(tw_status status, tw_fault *fault)
{
  return status == TW_NO_MEMORY
             ? tw_fail(fault, status, "", "", "no memory for the stress of the disc")
             : tw_fail(fault, status, "support.kind", "check thicknesses and support",
                       "the equations of the loaded disc have no solution");
}

tw_status tw_disc_stresses(const tw_disc *d, double radius, tw_disc_stress *rows, size_t *count,
                           tw_fault *fault)
{
  *count = 0;
  double ring = 0.0;
  tw_status status = load_of(d, radius, &ring, fault);
  if (status != TW_OK) {
    return status;
  }
  const double open = d->mounted > 0.0 ? -tw_disc_bend(d, ring, NULL) / d->mounted : 0.0;
  const tw_zone *first = &d->lam.zone[0];
  for (int i = first->layers - 1; i >= 0; i--) {
    for (int face = 1; face >= 0; face--) {
      rows[(*count)++] = (tw_disc_stress){
          .layer = first->layer[i].name, .outer = face == 1, .peak_tension = -HUGE_VAL};
    }
  }
  status = d->hold.bed > 0.0 ? stresses_on_bed(d, ring, open, rows, *count)
                             : stresses_of_zones(d, ring, open, rows, *count);
  if (status != TW_OK) {
    *count = 0;
    return no_stress(status, fault);
  }
  return TW_OK;
}

/* ---- along the radius ------------------------------------------------------------------------ */

static void faces_at(const tw_disc *d, tw_local at, double r, tw_disc_layer name,
                     tw_disc_planar *inner, tw_disc_planar *outer)
{
  const tw_layer *l = layer_of(at.zone, name);
  *inner = *outer = (tw_disc_planar){0};
  if (l) {
    const tw_disc_planar a = stress_at(d, at, r, l, l->z0, 0.0),
                         b = stress_at(d, at, r, l, l->z1, 0.0);
    *inner = (tw_disc_planar){d->side * a.radial, d->side * a.hoop};
    *outer = (tw_disc_planar){d->side * b.radial, d->side * b.hoop};
  }
}

/* on an elastic bed the strains of the ring element that holds the radius */
static tw_status along_on_bed(const tw_disc *d, double ring, tw_disc_layer layer, size_t n,
                              const double *at, tw_disc_planar *inner, tw_disc_planar *outer)
{
  tw_statics s;
  const tw_status status = tw_statics_new(
      &d->lam, &d->hold, tw_fineness_even(&d->lam, &d->hold, BED_ELEMENTS), &ring, 1, 0, &s);
  if (status != TW_OK) {
    return status;
  }
  if (!tw_statics_harmonic(&s, 0)) {
    tw_statics_free(&s);
    return TW_NO_ANSWER;
  }
  tw_statics_clear(&s);
  tw_statics_load(&s, ring, 1.0);
  tw_statics_solve(&s, 0);
  for (size_t i = 0; i < n; i++) {
    int e = 0;
    while (e + 2 < s.mesh.nodes && s.mesh.radius[e + 1] < at[i]) {
      e++;
    }
    const double low = s.mesh.radius[e], high = s.mesh.radius[e + 1];
    const double x = fmin(fmax((at[i] - low) / (high - low), 0.0), 1.0);
    faces_at(d, tw_statics_local(&s, e, x), at[i], layer, &inner[i], &outer[i]);
  }
  tw_statics_free(&s);
  return TW_OK;
}

tw_status tw_disc_stress_along(const tw_disc *d, double radius, tw_disc_layer layer, size_t n,
                               const double *at, tw_disc_planar *inner, tw_disc_planar *outer,
                               tw_fault *fault)
{
  double ring = 0.0;
  tw_status status = load_of(d, radius, &ring, fault);
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    inner[i] = outer[i] = (tw_disc_planar){0};
    if (!(at[i] >= d->lam.hole && at[i] <= d->spec.metal_radius)) {
      status = tw_fail(fault, TW_BAD_INPUT, "disc.metal_diameter", "choose a radius on the disc",
                       "%.4g mm lies outside the disc", 1e3 * at[i]);
    }
  }
  if (status != TW_OK) {
    return status;
  }
  if (d->hold.bed > 0.0) {
    status = along_on_bed(d, ring, layer, n, at, inner, outer);
    return status == TW_OK ? TW_OK : no_stress(status, fault);
  }
  tw_disc_field field;
  if (!tw_disc_loaded_field(d, ring, 0.0, &field)) {
    return no_stress(TW_NO_ANSWER, fault);
  }
  for (size_t i = 0; i < n; i++) {
    faces_at(d, tw_disc_field_side(&field, at[i], at[i] > d->lam.hole), at[i], layer, &inner[i],
             &outer[i]);
  }
  return TW_OK;
}
