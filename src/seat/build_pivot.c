/* build_pivot.c: ball head in a socket, flat on top under the disc, whose rim is pressed down. */
#include "build.h"

#include "tripwright/constants.h"
#include "tripwright/seat_forms.h"

#include <math.h>

static tw_status check(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  const struct {
    const char *field;
    double value, least, most;
  } need[] = {
      {"seat.ball_radius", s->ball_radius, 1e-6, 1.0},
      {"seat.flat_radius", s->flat_radius, 1e-6, s->ball_radius},
      {"seat.flat_height", s->flat_height, -1.0, 1.0},
      {"seat.socket_angle", s->socket_angle, 0.017, 1.5},
      {"seat.socket_stiffness", s->socket_stiffness, 1.0, 1e15},
      {"preload.loop_stiffness", s->loop_stiffness, 0.0, 1e15},
      {"preload.relaxation", s->relaxation, 0.0, 0.999},
  };
  for (size_t i = 0; i < sizeof need / sizeof need[0]; i++) {
    const tw_status st = tw_seat_need(b, need[i].field, need[i].value, need[i].least, need[i].most);
    if (st != TW_OK) {
      return st;
    }
  }
  return s->socket_points == 0 || s->socket_points >= 3
             ? TW_OK
             : tw_fail(b->fault, TW_BAD_INPUT, "seat.socket_points", "use three or more",
                       "fewer than three points cannot hold the ball");
}

static tw_status add_socket(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  const size_t n = s->socket_points == 0 ? SEAT_SOCKET_POINTS : s->socket_points;
  const double sp = sin(s->socket_angle), cp = cos(s->socket_angle);
  for (size_t i = 0; i < n; i++) {
    const double phi = 2.0 * TW_PI * (double)i / (double)n;
    const double out[3] = {sp * cos(phi), sp * sin(phi), -cp};
    const double place[3] = {s->ball_radius * out[0], s->ball_radius * out[1],
                             s->ball_radius * out[2]};
    const double in[3] = {-out[0], -out[1], -out[2]};
    tw_seat_contact *c = tw_seat_add_contact(b, place, in);
    if (c == NULL) {
      return tw_fail(b->fault, TW_BAD_INPUT, "seat.socket_points", "use fewer points",
                     "too many socket points");
    }
    /* axial stiffness of the whole ring: n k cos^2 psi */
    c->stiffness = s->socket_stiffness / ((double)n * cp * cp);
    c->friction = s->friction_socket;
  }
  return TW_OK;
}

/* preload as closing force or closing movement, with what the loop adds to the disc's compliance */
static tw_status close_loop(seat_build *b, size_t points)
{
  const tw_seat_spec *s = b->spec;
  double loop = s->loop_stiffness > 0.0 ? 1.0 / s->loop_stiffness : 0.0;
  const double left = 1.0 - s->relaxation;
  double force = 0.0, rate = 0.0;
  tw_status status = TW_OK;
  if (s->preload == TW_SEAT_BY_INTERFERENCE) {
    status = tw_seat_need(b, "preload.interference", s->interference, 1e-12, 1.0);
    for (size_t i = 0; i < b->contacts; i++) {
      if (b->contact[i].grouped && !b->contact[i].backing) {
        b->contact[i].compression += s->interference * left;
      }
    }
    force = s->interference * left / (1.0 / b->axial + loop + 1.0 / s->socket_stiffness);
  } else {
    status = tw_seat_spring_preload(b, &force, &rate);
    b->parts.closing_force = force;
    if (status == TW_OK && s->preload != TW_SEAT_BY_FORCE) {
      status = tw_seat_need(b, "preload.table", rate, 1e-6, 1e15);
      loop += status == TW_OK ? 1.0 / rate : 0.0;
    }
  }
  for (size_t i = 0; i < points; i++) {
    for (size_t j = 0; j < points; j++) {
      b->compliance[i * b->grouped + j] += loop;
    }
  }
  b->preload = force;
  return status;
}

static void set_tangents(seat_build *b, size_t points)
{
  const tw_seat_spec *s = b->spec;
  for (size_t i = 0; i < b->contacts; i++) {
    tw_seat_contact *c = &b->contact[i];
    if (c->backing) {
      continue;
    }
    if (c->grouped) {
      c->friction = s->friction_flat;
      c->tangent_stiffness =
          s->presliding_flat > 0.0
              ? s->friction_flat * b->preload / (double)points / s->presliding_flat
              : SEAT_FLAT_TANGENT_OVER_AXIAL * b->axial / (double)points;
    } else {
      const size_t n = s->socket_points == 0 ? SEAT_SOCKET_POINTS : s->socket_points;
      /* each socket contact carries P/(n cos psi) */
      c->tangent_stiffness = s->presliding_socket > 0.0
                                 ? s->friction_socket * b->preload /
                                       ((double)n * cos(s->socket_angle)) / s->presliding_socket
                                 : SEAT_TANGENT_OVER_NORMAL * c->stiffness;
    }
  }
}

tw_status tw_seat_build_pivot(seat_build *b)
{
  const tw_seat_spec *s = b->spec;
  tw_status status = check(b);
  status = status != TW_OK
               ? status
               : tw_seat_add_disc_ring(b, s->flat_radius, s->points, s->flat_height, -1.0);
  status = status != TW_OK ? status : close_loop(b, s->points);
  status = status != TW_OK ? status : add_socket(b);
  if (status == TW_OK) {
    set_tangents(b, s->points);
  }
  return status;
}
