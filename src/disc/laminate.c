#include "laminate.h"
#include "tripwright/constants.h"

#include <string.h>

/* thickness free (sigma_z = 0): the in-plane constants that a thin plate sees */
tw_reduced tw_reduce(const tw_disc_ceramic *c)
{
  tw_reduced r;
  const double det = c->s11 * c->s11 - c->s12 * c->s12;
  r.q11 = c->s11 / det;
  r.q12 = -c->s12 / det;
  r.e = c->d31 / (c->s11 + c->s12);
  r.eps = c->permittivity * TW_VACUUM_PERMITTIVITY - 2.0 * c->d31 * c->d31 / (c->s11 + c->s12);
  /* stiffness along the axis, from inverting the compliances */
  const double below = (c->s11 + c->s12) * c->s33 - 2.0 * c->s13 * c->s13;
  r.c33 = (c->s11 + c->s12) / below;
  r.c13 = -c->s13 / below;
  r.e33 = c->d33 * r.c33 + 2.0 * c->d31 * r.c13;
  return r;
}

static void add_layer(tw_zone *zone, tw_disc_layer name, double z0, double thickness,
                      const tw_disc_solid *solid)
{
  if (thickness <= 0.0) {
    return;
  }
  tw_layer *layer = &zone->layer[zone->layers++];
  layer->name = name;
  layer->z0 = z0;
  layer->z1 = z0 + thickness;
  layer->q11 = solid->young / (1.0 - solid->poisson * solid->poisson);
  layer->q12 = solid->poisson * layer->q11;
  layer->density = solid->density;
  layer->expansion = solid->expansion;
  layer->squeeze = solid->poisson / (1.0 - solid->poisson);
}

static void add_ceramic(tw_zone *zone, double z0, const tw_disc_spec *spec, const tw_reduced *red)
{
  tw_layer *layer = &zone->layer[zone->layers++];
  /* without an electrode the charge density D3 is held at zero, which stiffens the plane */
  const double stiffer = zone->electrode ? 0.0 : red->e * red->e / red->eps;
  layer->name = TW_DISC_LAYER_CERAMIC;
  layer->z0 = z0;
  layer->z1 = z0 + spec->ceramic_thickness;
  layer->q11 = red->q11 + stiffer;
  layer->q12 = red->q12 + stiffer;
  layer->density = spec->ceramic.density;
  layer->expansion = spec->ceramic.expansion;
  layer->squeeze = red->c13 / red->c33;
}

/* A, B, D = sum of Q times (t, first, second moment); loads and inertia alike */
static void sum_layers(tw_zone *zone)
{
  for (int i = 0; i < zone->layers; i++) {
    const tw_layer *l = &zone->layer[i];
    const double t = l->z1 - l->z0;
    const double first = (l->z1 * l->z1 - l->z0 * l->z0) / 2.0;
    const double second = (l->z1 * l->z1 * l->z1 - l->z0 * l->z0 * l->z0) / 3.0;
    zone->a11 += l->q11 * t;
    zone->a12 += l->q12 * t;
    zone->b11 += l->q11 * first;
    zone->b12 += l->q12 * first;
    zone->d11 += l->q11 * second;
    zone->d12 += l->q12 * second;
    zone->nt += (l->q11 + l->q12) * l->expansion * t;
    zone->mt += (l->q11 + l->q12) * l->expansion * first;
    zone->m0 += l->density * t;
    zone->m1 += l->density * first;
    zone->m2 += l->density * second;
  }
}

static void build_zone(const tw_disc_spec *spec, tw_laminate *lam, tw_zone *zone, bool silver)
{
  const double tm = spec->metal_thickness, tc = spec->ceramic_thickness;
  add_layer(zone, TW_DISC_LAYER_METAL, -tm / 2.0, tm, &spec->metal);
  if (zone->ceramic) {
    add_layer(zone, TW_DISC_LAYER_BOND, tm / 2.0, spec->bond_thickness, &spec->bond);
    add_ceramic(zone, tm / 2.0 + spec->bond_thickness, spec, &lam->reduced);
    if (silver) {
      add_layer(zone, TW_DISC_LAYER_SILVER, tm / 2.0 + spec->bond_thickness + tc,
                spec->silver_thickness, &spec->silver);
    }
  }
  sum_layers(zone);
  if (zone->electrode) {
    /* in bending D3 is uniform through the thickness, so the field is not: that stiffens */
    const double field = lam->reduced.e * lam->reduced.e / lam->reduced.eps * tc * tc * tc / 12.0;
    zone->d11 += field;
    zone->d12 += field;
    zone->np = lam->reduced.e;
    zone->mp = lam->reduced.e * lam->zc;
  }
  zone->dstar = zone->d11 - zone->b11 * zone->b11 / zone->a11;
}

void tw_laminate_build(const tw_disc_spec *spec, tw_laminate *lam)
{
  memset(lam, 0, sizeof *lam);
  lam->reduced = tw_reduce(&spec->ceramic);
  lam->hole = spec->hole_radius;
  lam->zc = spec->metal_thickness / 2.0 + spec->bond_thickness + spec->ceramic_thickness / 2.0;
  const bool has_ceramic = spec->ceramic_thickness > 0.0;
  const double rc = has_ceramic ? spec->ceramic_radius : 0.0;
  const double silver = has_ceramic && spec->electrode_radius > 0.0 ? spec->electrode_radius : rc;
  lam->electrode = silver < rc ? fmin(rc, silver + TW_DISC_FRINGE * spec->ceramic_thickness) : rc;
  if (has_ceramic) {
    lam->blocked = lam->reduced.eps * TW_PI *
                   (lam->electrode * lam->electrode - lam->hole * lam->hole) /
                   spec->ceramic_thickness;
  }
  /* silvered electrode, fringe of the electrode, bare ceramic, bare metal */
  const double border[4] = {silver, lam->electrode, rc, spec->metal_radius};
  double inner = lam->hole;
  for (int i = 0; i < 4; i++) {
    if (border[i] <= inner) {
      continue;
    }
    tw_zone *zone = &lam->zone[lam->count++];
    zone->inner = inner;
    zone->outer = border[i];
    zone->electrode = i < 2;
    zone->ceramic = i < 3;
    build_zone(spec, lam, zone, i == 0);
    inner = border[i];
  }
}

const tw_zone *tw_laminate_zone(const tw_laminate *lam, double radius)
{
  int i = 0;
  while (i + 1 < lam->count && radius > lam->zone[i].outer) {
    i++;
  }
  return &lam->zone[i];
}
