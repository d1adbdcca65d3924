/* build_others.c: tripod, plate and bonded foot. */
#include "build.h"
#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

/* stiffness of a guide over that of what it guides */
#define GUIDE_OVER_CONTACT 100.0

static double guide_stiffness(const seat_build *b, double contact)
{
  return b->spec->guide_stiffness > 0.0 ? b->spec->guide_stiffness : GUIDE_OVER_CONTACT * contact;
}

static void rub(const seat_build *b, tw_seat_contact *c, double friction, double share)
{
  const double presliding = b->spec->presliding_socket;
  c->friction = friction;
  c->tangent_stiffness =
      presliding > 0.0 ? friction * share / presliding : SEAT_TANGENT_OVER_NORMAL * c->stiffness;
}

/* Spring on the carrier's middle, pressing down. With a disc it stands on the disc, which then
 * yields in series and senses the spring's force. */
static tw_status add_preload_spring(seat_build *b, bool through_disc)
{
  const tw_seat_spec *s = b->spec;
  double force, rate, charge = 0.0;
  tw_seat_spring under = {.force = 0.0};
  tw_status status = tw_seat_spring_preload(b, &force, &rate);
  if (status != TW_OK) {
    return status;
  }
  const double ex = s->eccentricity * cos(s->eccentricity_azimuth);
  const double ey = s->eccentricity * sin(s->eccentricity_azimuth);
  const double place[3] = {through_disc ? ex : 0.0, through_disc ? ey : 0.0, 0.0};
  const double down[3] = {0.0, 0.0, -1.0};
  if (through_disc && s->disc_points != NULL) {
    /* the carrier touches the disc on a circle of the flat's radius, or in its middle */
    double radius[SEAT_RING_POINTS], azimuth[SEAT_RING_POINTS], q[SEAT_RING_POINTS];
    double c[SEAT_RING_POINTS * SEAT_RING_POINTS], soft = 0.0;
    const size_t n = s->flat_radius > 0.0 ? SEAT_RING_POINTS : 1;
    for (size_t i = 0; i < n; i++) {
      radius[i] = s->flat_radius;
      azimuth[i] = 2.0 * TW_PI * (double)i / (double)n;
    }
    status = s->disc_points(s->disc, n, radius, azimuth, c, q, b->fault);
    if (status != TW_OK) {
      return status;
    }
    for (size_t i = 0; i < n; i++) {
      charge += q[i] / (double)n;
      for (size_t j = 0; j < n; j++) {
        soft += c[i * n + j] / (double)(n * n);
      }
    }
    rate = rate > 0.0 ? 1.0 / (1.0 / rate + soft) : 0.0;
    status = tw_seat_void_under(b, n, radius, azimuth, &under);
    if (status != TW_OK) {
      return status;
    }
  }
  tw_seat_spring *spring = tw_seat_add_spring(b, place, down, force, rate);
  spring->charge = charge;
  memcpy(spring->void_gap, under.void_gap, sizeof under.void_gap);
  memcpy(spring->void_give, under.void_give, sizeof under.void_give);
  b->preload = force;
  return TW_OK;
}

static tw_status add_vee(seat_build *b, const double place[3], double azimuth)
{
  const tw_seat_spec *s = b->spec;
  for (int side = -1; side <= 1; side += 2) {
    const double sb = side * sin(s->vee_angle);
    const double normal[3] = {-sb * sin(azimuth), sb * cos(azimuth), cos(s->vee_angle)};
    tw_seat_contact *c = tw_seat_add_contact(b, place, normal);
    c->stiffness = s->seat_stiffness;
    c->senses = true;
    rub(b, c, s->friction_socket, b->preload / (6.0 * cos(s->vee_angle)));
  }
  return TW_OK;
}

tw_status tw_seat_build_tripod(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  const bool vee = s->kind == TW_SEATED_TRIPOD_VEE;
  tw_status status = tw_seat_need(b, "seat.pitch_radius", s->pitch_radius, 1e-6, 1.0);
  status =
      status != TW_OK ? status : tw_seat_need(b, "seat.stiffness", s->seat_stiffness, 1.0, 1e15);
  status = status != TW_OK || !vee ? status
                                   : tw_seat_need(b, "seat.vee_angle", s->vee_angle, 0.017, 1.55);
  status =
      status != TW_OK ? status : tw_seat_need(b, "seat.azimuth", s->seat_azimuth, -100.0, 100.0);
  status = status != TW_OK ? status : add_preload_spring(b, true);
  if (status != TW_OK) {
    return status;
  }
  for (int i = 0; i < 3; i++) {
    const double azimuth = s->seat_azimuth + 2.0 * TW_PI * i / 3.0;
    const double place[3] = {s->pitch_radius * cos(azimuth), s->pitch_radius * sin(azimuth), 0.0};
    if (vee) {
      (void)add_vee(b, place, azimuth);
    } else {
      const double up[3] = {0.0, 0.0, 1.0};
      tw_seat_contact *c = tw_seat_add_contact(b, place, up);
      c->stiffness = s->seat_stiffness;
      c->senses = true;
      rub(b, c, s->friction_socket, b->preload / 3.0);
    }
  }
  if (!vee && s->guided) {
    tw_seat_add_guide(b, guide_stiffness(b, s->seat_stiffness), s->pitch_radius);
  }
  return TW_OK;
}

tw_status tw_seat_build_plate_above(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  const size_t n = s->lip_points == 0 ? SEAT_RING_POINTS : s->lip_points;
  tw_status status = tw_seat_need(b, "seat.tipping_radius", s->tipping_radius, 1e-6, 1.0);
  status =
      status != TW_OK ? status : tw_seat_need(b, "seat.stiffness", s->seat_stiffness, 1.0, 1e15);
  status = status != TW_OK ? status
                           : tw_seat_need(b, "seat.lip_points", (double)n, 3.0, TW_SEAT_CONTACTS);
  status = status != TW_OK ? status : add_preload_spring(b, true);
  for (size_t i = 0; status == TW_OK && i < n; i++) {
    const double phi = s->point_azimuth + 2.0 * TW_PI * (double)i / (double)n;
    const double place[3] = {s->tipping_radius * cos(phi), s->tipping_radius * sin(phi), 0.0};
    const double up[3] = {0.0, 0.0, 1.0};
    tw_seat_contact *c = tw_seat_add_contact(b, place, up);
    c->stiffness = s->seat_stiffness / (double)n;
    c->senses = true;
    rub(b, c, s->friction_socket, b->preload / (double)n);
  }
  if (status == TW_OK && s->guided) {
    tw_seat_add_guide(b, guide_stiffness(b, s->seat_stiffness), s->tipping_radius);
  }
  return status;
}

tw_status tw_seat_build_plate_below(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  tw_status status = tw_seat_need(b, "seat.tipping_radius", s->tipping_radius, 1e-6, 1.0);
  status = status != TW_OK ? status : add_preload_spring(b, false);
  status =
      status != TW_OK ? status : tw_seat_add_disc_ring(b, s->tipping_radius, s->points, 0.0, 1.0);
  if (status != TW_OK) {
    return status;
  }
  for (size_t i = 0; i < b->contacts; i++) {
    tw_seat_contact *c = &b->contact[i];
    if (!c->backing) {
      c->senses = true;
      c->friction = s->friction_flat;
      c->tangent_stiffness =
          s->presliding_flat > 0.0
              ? s->friction_flat * b->preload / (double)s->points / s->presliding_flat
              : SEAT_FLAT_TANGENT_OVER_AXIAL * b->axial / (double)s->points;
    }
  }
  if (s->guided) {
    tw_seat_add_guide(b, guide_stiffness(b, b->axial), s->tipping_radius);
  }
  return TW_OK;
}

tw_status tw_seat_build_bonded(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  tw_status status = tw_seat_need(b, "seat.bond_radius", s->bond_radius, 1e-6, 1.0);
  status = status != TW_OK ? status
                           : tw_seat_add_disc_ring(b, s->bond_radius, SEAT_FOOT_POINTS, 0.0, -1.0);
  if (status != TW_OK) {
    return status;
  }
  b->parts.bilateral = true;
  /* in its own plane the disc is rigid beside its bending */
  tw_seat_add_guide(b, guide_stiffness(b, b->axial), s->bond_radius);
  return TW_OK;
}
