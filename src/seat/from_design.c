/* from_design.c: the seat as the design file has it, in plain numbers. */
#include "tripwright/design.h"
#include "tripwright/disc.h"
#include "tripwright/seat.h"
#include "tripwright/stylus.h"
#include "tripwright/units.h"

#include <math.h>
#include <string.h>

/* contact points that stand for a ring */
#define RING_POINTS 24

static double number(const struct tw_design *d, tw_field field)
{
  return tw_design_number_or(d, field, 0.0);
}

static tw_seat_kind kind_of(const struct tw_design *d)
{
  switch (tw_design_choice(d, TW_F_seat_kind)) {
  case TW_SEAT_TRIPOD:
    return tw_design_choice(d, TW_F_seat_contact) == TW_CONTACT_FLAT ? TW_SEATED_TRIPOD_FLAT
                                                                     : TW_SEATED_TRIPOD_VEE;
  case TW_SEAT_PLATE:
    return tw_design_choice(d, TW_F_seat_disc_side) == TW_SIDE_BELOW ? TW_SEATED_PLATE_BELOW
                                                                     : TW_SEATED_PLATE_ABOVE;
  case TW_SEAT_BONDED:
    return TW_SEATED_BONDED;
  default:
    return TW_SEATED_PIVOT;
  }
}

static void take_contacts(const struct tw_design *d, tw_seat_spec *s)
{
  s->point_azimuth = s->seat_azimuth = number(d, TW_F_seat_azimuth);
  const int points = tw_design_count(d, TW_F_seat_contact_points);
  s->points = points >= 3 ? (size_t)points : 3;
  if (tw_design_choice(d, TW_F_seat_contact) == TW_CONTACT_RING) {
    /* only a ring has a flatness: three points touch whatever the form */
    s->points = RING_POINTS;
    s->lobe_height = number(d, TW_F_seat_flatness);
    const int lobes = tw_design_count(d, TW_F_seat_flatness_lobes);
    s->lobes = lobes >= 2 ? (size_t)lobes : 0;
    s->lobe_azimuth = s->point_azimuth;
  }
  s->eccentricity = number(d, TW_F_seat_eccentricity);
  s->eccentricity_azimuth = number(d, TW_F_seat_eccentricity_azimuth);
  s->friction_socket = number(d, TW_F_seat_friction_socket);
  s->friction_flat = number(d, TW_F_seat_friction_flat);
  if (tw_design_has(d, TW_F_measured_friction)) {
    s->friction_socket = s->friction_flat = number(d, TW_F_measured_friction);
  }
  s->presliding_socket = number(d, TW_F_seat_presliding_socket);
  s->presliding_flat = number(d, TW_F_seat_presliding_flat);
}

static void take_family(const struct tw_design *d, tw_seat_spec *s)
{
  s->flat_radius = number(d, TW_F_seat_flat_radius);
  s->seat_stiffness = number(d, TW_F_seat_contact_stiffness);
  s->spring_rate = number(d, TW_F_seat_spring_rate);
  switch (s->kind) {
  case TW_SEATED_PIVOT:
    s->ball_radius = number(d, TW_F_seat_ball_radius);
    /* unset: the ball cut at the flat's radius */
    s->flat_height = tw_design_number_or(
        d, TW_F_seat_flat_height,
        sqrt(fmax(s->ball_radius * s->ball_radius - s->flat_radius * s->flat_radius, 0.0)));
    s->socket_angle = number(d, TW_F_seat_socket_angle);
    s->socket_stiffness = number(d, TW_F_seat_socket_stiffness);
    break;
  case TW_SEATED_TRIPOD_FLAT:
  case TW_SEATED_TRIPOD_VEE:
    s->pitch_radius = number(d, TW_F_seat_pitch_radius);
    s->vee_angle = number(d, TW_F_seat_vee_angle);
    break;
  case TW_SEATED_PLATE_ABOVE:
  case TW_SEATED_PLATE_BELOW:
    s->tipping_radius = number(d, TW_F_seat_tipping_radius);
    s->guided = tw_design_choice(d, TW_F_seat_guide) != TW_GUIDE_NONE;
    /* the field is one contact's; the lip stands on as many as touch */
    s->lip_points = s->points;
    s->seat_stiffness *= (double)s->points;
    break;
  case TW_SEATED_BONDED:
    s->bond_radius = number(d, TW_F_seat_bond_radius);
    break;
  }
}

static void take_table(const struct tw_design *d, tw_seat_spec *s)
{
  const tw_table *t = tw_design_table(d, TW_F_preload_table);
  for (size_t i = 0; t != NULL && t->columns >= 2 && i < t->rows && i < TW_SEAT_TABLE; i++) {
    s->table_travel[i] = t->cells[i * t->columns].number;
    s->table_force[i] = t->cells[i * t->columns + 1].number;
    s->table_points = i + 1;
  }
}

static void take_preload(const struct tw_design *d, tw_seat_spec *s)
{
  if (tw_design_has(d, TW_F_measured_preload)) {
    /* what this unit's scale showed goes before every way of working it out */
    s->preload = TW_SEAT_BY_FORCE;
    s->force = number(d, TW_F_measured_preload);
    s->relaxation = 0.0;
    return;
  }
  s->relaxation = number(d, TW_F_preload_relaxation);
  switch (tw_design_choice(d, TW_F_preload_kind)) {
  case TW_PRELOAD_INTERFERENCE:
    s->preload = TW_SEAT_BY_INTERFERENCE;
    s->interference = number(d, TW_F_preload_interference);
    s->loop_stiffness = number(d, TW_F_preload_loop_stiffness);
    break;
  case TW_PRELOAD_SPRING:
    s->preload = TW_SEAT_BY_SPRING;
    s->spring_rate = number(d, TW_F_preload_spring_rate);
    s->force = s->spring_rate * number(d, TW_F_preload_travel);
    break;
  case TW_PRELOAD_TABLE:
    s->preload = TW_SEAT_BY_TABLE;
    s->interference = number(d, TW_F_preload_travel);
    take_table(d, s);
    break;
  default:
    s->preload = TW_SEAT_BY_FORCE;
    s->force = number(d, TW_F_preload_force);
    break;
  }
}

/* gap under the disc; where the ceramic faces the floor it is less by what stands on the metal */
static tw_status take_void(const struct tw_design *d, tw_seat_spec *s, tw_fault *fault)
{
  tw_disc_void hollow;
  if (!tw_disc_void_from_design(d, &hollow) || !(hollow.depth > 0.0) || !tw_design_has_disc(d)) {
    return TW_OK;
  }
  s->void_radius = hollow.radius > 0.0 ? fmin(hollow.radius, hollow.edge) : hollow.edge;
  s->backing_stiffness = number(d, TW_F_support_backing_stiffness);
  s->void_depth = hollow.depth;
  s->disc_hole_radius = 0.5 * tw_design_number_or(d, TW_F_disc_hole_diameter, 0.0);
  if (hollow.ceramic > 0.0) {
    s->void_step_radius = 0.5 * number(d, TW_F_disc_ceramic_diameter);
    s->void_depth_outer = hollow.depth;
    s->void_depth = hollow.depth - hollow.ceramic;
    if (!(s->void_depth > 0.0)) {
      return tw_fail(
          fault, TW_BAD_INPUT, "support.void_depth",
          "make the void deeper than the ceramic, or let the carrier touch the ceramic",
          "the ceramic, %.4g mm with bond and silver, does not fit into the void, %.4g mm",
          hollow.ceramic * 1e3, hollow.depth * 1e3);
    }
  }
  return TW_OK;
}

static void take_weight(const struct tw_design *d, const struct tw_stylus *stylus, tw_seat_spec *s)
{
  const double carrier = number(d, TW_F_seat_carrier_mass);
  const double stem = stylus->stem_mass + stylus->ball_mass;
  s->mass = carrier + stem;
  s->mass_height = s->mass > 0.0 ? (carrier * number(d, TW_F_seat_carrier_height) +
                                    stem * (stylus->mass_centre - s->reach)) /
                                       s->mass
                                 : 0.0;
  switch (tw_design_choice(d, TW_F_environment_orientation)) {
  case TW_ORIENTATION_SIDEWAYS:
    s->gravity[1] = -TW_GRAVITY; /* +Y up */
    break;
  case TW_ORIENTATION_UP:
    s->gravity[2] = TW_GRAVITY;
    break;
  default:
    s->gravity[2] = -TW_GRAVITY;
    break;
  }
}

tw_status tw_seat_spec_from_design(const struct tw_design *design, const struct tw_stylus *stylus,
                                   tw_seat_spec *out, tw_fault *fault)
{
  tw_seat_spec_default(kind_of(design), out);
  out->reach = number(design, TW_F_stylus_reach);
  out->side_stiffness = stylus->side_stiffness;
  out->axial_stiffness = stylus->axial_stiffness;
  out->hertz = stylus->hertz;
  take_contacts(design, out);
  take_family(design, out);
  take_preload(design, out);
  take_weight(design, stylus, out);
  return take_void(design, out, fault);
}
