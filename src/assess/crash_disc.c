/* crash_disc.c: what a crash puts on the disc, family by family, and what that is as a stress
 * (docs/models/crash.md 1, 2). */
#include "crash_parts.h"
#include "tripwright/disc.h"

#include <math.h>

/* ---- stress per newton ----------------------------------------------------------------------- */

/* least radius of the ring by which a point is compared, as a share of the support's: the ring's
 * own moment has no end at the centre, and the ratio would */
#define RING_LEAST 0.1

static tw_status ring_tension(const tw_probe *probe, tw_disc_layer layer, double radius,
                              double *tension, tw_fault *fault)
{
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t rows = 0;
  const tw_status status = tw_disc_stresses(probe->disc, radius, row, &rows, fault);
  *tension = 0;
  for (size_t i = 0; i < rows; i++) {
    *tension = row[i].layer == layer ? fmax(*tension, row[i].peak_tension) : *tension;
  }
  return status;
}

double tw_crash_shared(double ring, double point, double points)
{
  return ring + (point - ring) / points;
}

tw_status tw_crash_layer_stress(const tw_probe *probe, tw_disc_layer layer, double radius,
                                double patch, double points, double *stress, tw_fault *fault)
{
  tw_status status = ring_tension(probe, layer, radius, stress, fault);
  if (status != TW_OK || !isfinite(points)) {
    return status;
  }
  const tw_disc_spec *d = &probe->disc_spec;
  const tw_crash_laminate laminate = {
      .thickness = {d->metal_thickness, d->ceramic_thickness},
      .young = {d->metal.young, 1 / d->ceramic.s11},
      .poisson = {d->metal.poisson, -d->ceramic.s12 / d->ceramic.s11},
      .disc_radius = d->support == TW_DISC_LEDGE ? d->ledge_radius : d->metal_radius};
  tw_crash_stress two;
  status = tw_crash_stress_of(&laminate, fmax(radius, RING_LEAST * laminate.disc_radius), patch,
                              &two, fault);
  if (status == TW_OK && two.ring > 0) {
    *stress = tw_crash_shared(*stress, *stress * fmax(two.point / two.ring, 1), points);
  }
  return status;
}

/* ---- load on the disc under a force at the tip ----------------------------------------------- */

/* bent no further than the void under it lets it */
static double within_void(const tw_crash_way *way, double load)
{
  return fmin(load, way->load_most);
}

/* a carrier that stands on its seat beside the disc: shared until it lifts, then the disc's alone
 */
static double pushed_load(const void *self, double force)
{
  const tw_crash_way *way = self;
  return within_void(way, force < way->lift ? way->preload + way->kept * force : force);
}

/* a foot glued to the disc: all of the force, and what stands on it */
static double glued_load(const void *self, double force)
{
  const tw_crash_way *way = self;
  return within_void(way, way->preload + force);
}

/* a carrier that a push takes off the disc */
static double freed_load(const void *self, double force)
{
  const tw_crash_way *way = self;
  return fmax(way->preload - way->kept * force, 0);
}

/* tipped about a point at `lever`: force times reach stands on it, the preload at least */
static double tipped_load(const void *self, double force)
{
  const tw_crash_way *way = self;
  return within_void(way, fmax(way->preload, force * way->lever));
}

/* the same where the disc itself is what it tips on: nothing on that point before, and a void that
 * is deep enough for an even load does not stop an edge */
static double edge_load(const void *self, double force)
{
  const tw_crash_way *way = self;
  return force * way->lever;
}

static void sideways_load(const tw_probe *probe, tw_crash_way *way)
{
  const tw_seat_spec *seat = &probe->seat_spec;
  switch (seat->kind) {
  case TW_SEATED_PIVOT: /* the swivel's edge load, by its travel */
    break;
  case TW_SEATED_PLATE_BELOW:
    way->lever = seat->reach / seat->tipping_radius;
    way->load_under = edge_load;
    break;
  case TW_SEATED_BONDED: {
    const tw_disc_spec *d = &probe->disc_spec;
    const double held = d->support == TW_DISC_LEDGE ? d->ledge_radius : d->metal_radius;
    /* M = F L spread as p cos phi: p = M/(pi a^2), as an even ring of 2 M/a newtons has */
    way->lever = 2 * seat->reach / seat->bond_radius *
                 tw_crash_tilt_moment(d->metal.poisson, seat->bond_radius, held) /
                 tw_crash_ring_moment(d->metal.poisson, seat->bond_radius, held);
    way->load_under = edge_load;
    break;
  }
  default:
    way->lever = seat->reach /
                 (seat->kind == TW_SEATED_PLATE_ABOVE ? seat->tipping_radius : seat->pitch_radius);
    way->load_under = tipped_load;
  }
}

static void axial_load(const tw_probe *probe, tw_crash_way *way)
{
  switch (probe->seat_spec.kind) {
  case TW_SEATED_PLATE_BELOW:
    way->load_under = freed_load;
    break;
  case TW_SEATED_BONDED:
    way->load_under = glued_load;
    break;
  default:
    way->load_under = pushed_load;
  }
}

tw_status tw_crash_disc_load(const tw_probe *probe, tw_seat_work *work, tw_crash_way *way,
                             tw_fault *fault)
{
  const tw_seat_rest *rest = &probe->rest;
  way->preload = fmax(rest->preload, 0); /* a foot may hang on its disc by its weight */
  way->load_most = HUGE_VAL;
  if (probe->has_disc && probe->seat_spec.void_depth > 0 && rest->has_backing) {
    way->load_most = way->preload + rest->clearance * probe->disc_measures.stiffness_open.value;
  }
  double bypass = 0;
  const tw_status status =
      probe->has_disc ? tw_probe_bypass(probe, work, &bypass, &way->lift, fault) : TW_OK;
  way->kept = 1 - bypass;
  if (probe->seat_spec.kind == TW_SEATED_PLATE_BELOW || !(bypass > 0)) {
    way->lift = way->preload / way->kept; /* it leaves the disc, or there is none */
  }
  if (way->sideways) {
    sideways_load(probe, way);
  } else {
    axial_load(probe, way);
  }
  return status;
}

/* ---- the disc's layers as members ------------------------------------------------------------ */

/* among how many points a push along the axis is shared: a ring or a glued foot is no point */
static double points_of(const tw_design *design, const tw_probe *probe, bool sideways)
{
  const tw_seat_spec *seat = &probe->seat_spec;
  switch (seat->kind) {
  case TW_SEATED_PIVOT:
  case TW_SEATED_PLATE_BELOW:
    if (sideways) {
      return 1; /* the pressing edge */
    }
    return tw_design_choice(design, TW_F_seat_contact) == TW_CONTACT_RING ? HUGE_VAL
                                                                          : (double)seat->points;
  case TW_SEATED_BONDED:
    return HUGE_VAL;
  default:
    return seat->flat_radius > 0 ? HUGE_VAL : 1;
  }
}

static const struct {
  const char *name, *field;
  tw_disc_layer layer;
  tw_field allowable;
} layers[] = {
    {"ceramic", "support.void_depth", TW_DISC_LAYER_CERAMIC, TW_F_disc_allowable_tension},
    {"disc's plate", "disc.metal_thickness", TW_DISC_LAYER_METAL, TW_F_disc_metal_strength}};

tw_status tw_crash_add_disc(const tw_design *design, const tw_probe *probe, tw_crash_way *way,
                            tw_fault *fault)
{
  const double patch = tw_design_number_or(design, TW_F_seat_edge_radius, 0);
  const double points = points_of(design, probe, way->sideways);
  const double radius = probe->seat_spec.kind == TW_SEATED_PLATE_BELOW
                            ? probe->seat_spec.tipping_radius
                            : probe->disc_measures.contact_radius;
  tw_status status = TW_OK;
  for (size_t i = 0; i < sizeof layers / sizeof layers[0] && status == TW_OK; i++) {
    tw_crash_member m = {.name = layers[i].name,
                         .field = layers[i].field,
                         .stage = way->seat,
                         .share = 1,
                         .self = way,
                         .load_under = way->load_under,
                         .allowable = tw_design_number_or(design, layers[i].allowable, 0)};
    if (!way->load_under) {
      m.load_of = tw_crash_swivel_load;
    }
    status = tw_crash_layer_stress(probe, layers[i].layer, radius, patch, points,
                                   &m.stress_per_newton, fault);
    if (status == TW_OK && m.stress_per_newton > 0 && m.allowable > 0) {
      way->ceramic = i == 0 ? way->members : way->ceramic;
      way->member[way->members++] = m;
    }
  }
  return status;
}
