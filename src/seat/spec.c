/* spec.c: a probe's seat in plain numbers becomes a model at rest. */
#include "build.h"

#include "tripwright/seat_forms.h"

#include <math.h>
#include <string.h>

void tw_seat_spec_default(tw_seat_kind kind, tw_seat_spec *spec)
{
  memset(spec, 0, sizeof *spec);
  spec->kind = kind;
  spec->points = 3;
  spec->preload = TW_SEAT_BY_FORCE;
  spec->guided = kind == TW_SEATED_PLATE_ABOVE || kind == TW_SEATED_PLATE_BELOW;
}

static tw_status check_common(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  const struct {
    const char *field;
    double value, least, most;
  } need[] = {
      {"stylus.reach", s->reach, 1e-4, 10.0},
      {"seat.contact", (double)s->points, 3.0, TW_SEAT_GROUP},
      {"seat.flatness", s->lobe_height, 0.0, 1e-2},
      {"seat.flatness", s->lobe_azimuth, -1e3, 1e3},
      {"seat.contact", s->point_azimuth, -1e3, 1e3},
      {"seat.eccentricity", s->eccentricity, 0.0, 1.0},
      {"seat.eccentricity_azimuth", s->eccentricity_azimuth, -1e3, 1e3},
      {"seat.friction_socket", s->friction_socket, 0.0, 3.0},
      {"seat.friction_flat", s->friction_flat, 0.0, 3.0},
      {"seat.presliding_socket", s->presliding_socket, 0.0, 1e-2},
      {"seat.presliding_flat", s->presliding_flat, 0.0, 1e-2},
      {"seat.spring_rate", s->spring_rate, 0.0, 1e12},
      {"support.void_depth", s->void_depth, 0.0, 1.0},
      {"support.void_radius", s->void_radius, s->void_depth > 0.0 ? 1e-6 : 0.0, 1.0},
      {"support.void_depth", s->void_step_radius, 0.0, 1.0},
      {"support.void_depth", s->void_depth_outer, 0.0, 1.0},
      {"support.backing_stiffness", s->backing_stiffness, 0.0, 1e30},
      {"stylus.stem_diameter", s->side_stiffness, 0.0, 1e15},
      {"stylus.stem_diameter", s->axial_stiffness, 0.0, 1e15},
      {"stylus.ball_diameter", s->hertz, 0.0, 1e20},
      {"stylus", s->mass, 0.0, 1e3},
      {"stylus", s->mass_height, -10.0, 10.0},
      {"seat.guide", s->guide_stiffness, 0.0, 1e15},
      {"environment", s->gravity[0], -1e6, 1e6},
      {"environment", s->gravity[1], -1e6, 1e6},
      {"environment", s->gravity[2], -1e6, 1e6},
  };
  for (size_t i = 0; i < sizeof need / sizeof need[0]; i++) {
    const tw_status st = seat_need(b, need[i].field, need[i].value, need[i].least, need[i].most);
    if (st != TW_OK) {
      return st;
    }
  }
  return TW_OK;
}

static tw_status build_family(seat_build *b)
{
  switch (b->spec->kind) {
  case TW_SEATED_PIVOT:
    return seat_build_pivot(b);
  case TW_SEATED_TRIPOD_FLAT:
  case TW_SEATED_TRIPOD_VEE:
    return seat_build_tripod(b);
  case TW_SEATED_PLATE_ABOVE:
    return seat_build_plate_above(b);
  case TW_SEATED_PLATE_BELOW:
    return seat_build_plate_below(b);
  case TW_SEATED_BONDED:
    return seat_build_bonded(b);
  }
  return tw_fail(b->fault, TW_BAD_INPUT, "seat.kind", "use pivot, tripod, plate or bonded",
                 "no such seat");
}

static void fill_parts(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  tw_seat_parts *p = &b->parts;
  p->contact = b->contact;
  p->contacts = b->contacts;
  p->compliance = b->compliance;
  p->spring = b->spring;
  p->springs = b->springs;
  p->tip[2] = -s->reach;
  p->side_stiffness = s->side_stiffness;
  p->axial_stiffness = s->axial_stiffness;
  p->hertz = s->hertz;
  /* a quarter of the reach: about the seat's size */
  p->length = 0.25 * s->reach;
  for (int k = 0; k < 3; k++) {
    p->load[k] = s->mass * s->gravity[k];
  }
  /* moment of the weight at (0, 0, h) */
  p->load[3] = -s->mass_height * p->load[1];
  p->load[4] = s->mass_height * p->load[0];
}

/* Flats hold nothing sideways: without a guide the carrier stays where friction leaves it. */
static bool is_centred(const tw_seat_spec *s)
{
  const bool flats = s->kind == TW_SEATED_TRIPOD_FLAT || s->kind == TW_SEATED_PLATE_ABOVE ||
                     s->kind == TW_SEATED_PLATE_BELOW;
  return !flats || s->guided;
}

/* what only the family knows about its rest */
static void finish(const seat_build *b, tw_seat_model *m)
{
  const tw_seat_spec *s = b->spec;
  memcpy(m->disc_radius, b->radius, sizeof m->disc_radius);
  memcpy(m->disc_azimuth, b->azimuth, sizeof m->disc_azimuth);
  if (s->kind == TW_SEATED_PIVOT) {
    const double arm = tw_seat_friction_arm(s->friction_socket, s->friction_flat, s->ball_radius,
                                            s->flat_height, s->socket_angle);
    m->answer.friction_moment = arm * m->answer.preload;
    m->answer.regime_ratio = arm / (0.5 * s->flat_radius);
    m->answer.regime = tw_seat_regime_of(arm, s->flat_radius);
  } else if (!is_centred(s)) {
    m->answer.regime = TW_SEAT_PARTIAL;
  }
  if (s->preload == TW_SEAT_BY_INTERFERENCE) {
    m->answer.closing += s->interference * (1.0 - s->relaxation);
  }
}

tw_status tw_seat_model_new(const tw_seat_spec *spec, tw_seat_model **out, tw_fault *fault)
{
  *out = NULL;
  seat_build *b = tw_alloc(1, sizeof *b);
  if (b == NULL) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the seat");
  }
  b->spec = spec;
  b->fault = fault;
  tw_status status = check_common(b);
  status = status != TW_OK ? status : build_family(b);
  if (status == TW_OK) {
    fill_parts(b);
    status = seat_model_build(&b->parts, out, fault);
  }
  if (status == TW_OK) {
    status = seat_model_settle(*out, b->parts.closing_force > 0.0, fault);
  }
  if (status == TW_OK) {
    finish(b, *out);
    seat_find_symmetry(*out);
  } else {
    tw_seat_model_free(*out);
    *out = NULL;
  }
  tw_free(b);
  return status;
}
