/* build.c: pieces that the families share. */
#include "build.h"

#include "tripwright/constants.h"
#include "tripwright/seat_forms.h"

#include <math.h>
#include <string.h>

tw_status tw_seat_need(seat_build *b, const char *field, double value, double least, double most)
{
  if (isfinite(value) && value >= least && value <= most) {
    return TW_OK;
  }
  if (!isfinite(value)) {
    return tw_fail(b->fault, TW_BAD_INPUT, field, "give a number", "this is not a number");
  }
  return tw_fail(b->fault, TW_BAD_INPUT, field, "give a value within the range",
                 "%.6g is outside %.6g .. %.6g (SI units)", value, least, most);
}

tw_seat_contact *tw_seat_add_contact(seat_build *b, const double place[3], const double normal[3])
{
  if (b->contacts == TW_SEAT_CONTACTS) {
    return NULL;
  }
  tw_seat_contact *c = &b->contact[b->contacts++];
  memset(c, 0, sizeof *c);
  memcpy(c->place, place, sizeof c->place);
  memcpy(c->normal, normal, sizeof c->normal);
  return c;
}

tw_seat_spring *tw_seat_add_spring(seat_build *b, const double place[3], const double along[3],
                                   double force, double rate)
{
  /* families add at most five springs, the workspace holds more */
  tw_seat_spring *s = &b->spring[b->springs++];
  memset(s, 0, sizeof *s);
  for (int i = 0; i < 3; i++) {
    const int j = (i + 1) % 3, k = (i + 2) % 3;
    s->along[i] = along[i];
    s->along[3 + i] = place[j] * along[k] - place[k] * along[j];
  }
  s->force = force;
  s->rate = rate;
  return s;
}

void tw_seat_add_guide(seat_build *b, double stiffness, double radius)
{
  static const double origin[3] = {0}, x[3] = {1, 0, 0}, y[3] = {0, 1, 0};
  tw_seat_add_spring(b, origin, x, 0.0, stiffness);
  tw_seat_add_spring(b, origin, y, 0.0, stiffness);
  tw_seat_spring *turn = tw_seat_add_spring(b, origin, origin, 0.0, stiffness * radius * radius);
  turn->along[5] = 1.0;
}

static void add_disc_point(seat_build *b, double x, double y)
{
  b->radius[b->grouped] = hypot(x, y);
  b->azimuth[b->grouped] = atan2(y, x);
  b->grouped++;
}

/* Backing points under the disc: the middle, which touches first, rings inside the carrier's
 * circle, to which the contact then spreads, and two outside it. Each point stands for its share of
 * the floor, out to half way to the next ring. */
enum { BACKING_RINGS = 7 };
static const size_t backing_points[BACKING_RINGS] = {1, 3, 6, 6, 6, 6, 6};
static const double backing_inside[BACKING_RINGS] = {0, .2, .42, .66, .95, 1, 1};
static const double backing_outside[BACKING_RINGS] = {0, 0, 0, 0, 0, .3, .65};

static double backing_radius(const tw_seat_spec *s, size_t ring, double a)
{
  const double inner = fmin(a, s->void_radius);
  return backing_inside[ring] * inner + backing_outside[ring] * (s->void_radius - inner);
}

/* a disc with a hole has nothing in the middle that could touch the floor */
static bool has_backing_ring(const tw_seat_spec *s, double r)
{
  return !(s->disc_hole_radius > 0.0) || r > s->disc_hole_radius;
}

static tw_status add_backing(seat_build *b, double a)
{
  const tw_seat_spec *s = b->spec;
  const double origin[3] = {0}, up[3] = {0, 0, 1};
  for (size_t ring = 0; ring < BACKING_RINGS && s->void_depth > 0.0; ring++) {
    const size_t n = backing_points[ring];
    const double r = backing_radius(s, ring, a);
    const bool outer = s->void_step_radius > 0.0 && r > s->void_step_radius;
    for (size_t i = 0; i < n && has_backing_ring(s, r); i++) {
      tw_seat_contact *c = NULL;
      /* as symmetric as the carrier's three points or ring, so that the floor adds no lobes */
      const double phi = s->point_azimuth + 2.0 * TW_PI * ((double)i + 0.5) / (double)n;
      if (b->grouped == TW_SEAT_GROUP || (c = tw_seat_add_contact(b, origin, up)) == NULL) {
        return tw_fail(b->fault, TW_BAD_INPUT, "seat.contact", "use at most 30 points over a void",
                       "too many contact points beside those of the backing");
      }
      c->grouped = c->backing = true;
      c->compression = -(outer ? s->void_depth_outer : s->void_depth);
      add_disc_point(b, r * cos(phi), r * sin(phi));
    }
  }
  return TW_OK;
}

/* the floor's own give: 1/(stiffness per area x area of the point's share) */
static void soften_backing(seat_build *b, size_t first, double a)
{
  const tw_seat_spec *s = b->spec;
  size_t at = first;
  for (size_t ring = 0; ring < BACKING_RINGS && s->backing_stiffness > 0.0; ring++) {
    const double r = backing_radius(s, ring, a);
    const double before = ring == 0 ? 0.0 : backing_radius(s, ring - 1, a);
    const double after =
        ring + 1 == BACKING_RINGS ? s->void_radius : backing_radius(s, ring + 1, a);
    const double inner = 0.5 * (before + r), outer = 0.5 * (r + after);
    const double area = TW_PI * (outer * outer - inner * inner) / (double)backing_points[ring];
    for (size_t i = 0; i < backing_points[ring] && has_backing_ring(s, r) && at < b->grouped; i++) {
      b->compliance[at * b->grouped + at] += 1.0 / (s->backing_stiffness * area);
      at++;
    }
  }
}

tw_status tw_seat_void_under(seat_build *b, size_t points, const double *radius,
                             const double *azimuth, tw_seat_spring *spring)
{
  enum { ALL = SEAT_RING_POINTS + BACKING_RINGS };
  const tw_seat_spec *s = b->spec;
  double r[ALL], phi[ALL], q[ALL], c[ALL * ALL];
  size_t n = points;
  memcpy(r, radius, points * sizeof *r);
  memcpy(phi, azimuth, points * sizeof *phi);
  for (size_t ring = 0; ring < BACKING_RINGS && s->void_depth > 0.0; ring++) {
    r[n] = backing_radius(s, ring, s->flat_radius);
    phi[n] = 0.0;
    n += has_backing_ring(s, r[n]) ? 1 : 0;
  }
  const tw_status status = n > points ? s->disc_points(s->disc, n, r, phi, c, q, b->fault) : TW_OK;
  for (size_t k = points; k < n && status == TW_OK; k++) {
    const int outside = s->void_step_radius > 0.0 && r[k] > s->void_step_radius;
    double give = 0.0;
    for (size_t i = 0; i < points; i++) {
      give += c[k * n + i] / (double)points;
    }
    spring->void_gap[outside] = outside ? s->void_depth_outer : s->void_depth;
    spring->void_give[outside] = fmax(spring->void_give[outside], give);
  }
  return status;
}

/* N/m under an even load of the carrier's n contacts */
static double even_stiffness(const seat_build *b, size_t n)
{
  double sum = 0.0;
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j < n; j++) {
      sum += b->compliance[i * b->grouped + j];
    }
  }
  return sum > 0.0 ? (double)(n * n) / sum : 0.0;
}

tw_status tw_seat_add_disc_ring(seat_build *b, double a, size_t points, double z, double sign)
{
  const tw_seat_spec *s = b->spec;
  const double ex = s->eccentricity * cos(s->eccentricity_azimuth);
  const double ey = s->eccentricity * sin(s->eccentricity_azimuth);
  const size_t first = b->contacts;
  if (s->disc_points == NULL) {
    return tw_fail(b->fault, TW_BAD_INPUT, "disc", "describe the disc",
                   "this seat rests on a disc, and there is none");
  }
  for (size_t i = 0; i < points; i++) {
    const double phi = s->point_azimuth + 2.0 * TW_PI * (double)i / (double)points;
    const double place[3] = {a * cos(phi), a * sin(phi), z};
    const double normal[3] = {0.0, 0.0, sign};
    tw_seat_contact *c = tw_seat_add_contact(b, place, normal);
    if (c == NULL || b->grouped == TW_SEAT_GROUP) {
      return tw_fail(b->fault, TW_BAD_INPUT, "seat.contact", "use fewer points",
                     "more than %d contact points on the disc", TW_SEAT_GROUP);
    }
    c->grouped = true;
    /* a form error is a gap; the high points touch first */
    c->compression = -s->lobe_height * (1.0 - cos((double)s->lobes * (phi - s->lobe_azimuth)));
    /* the carrier keeps its axis; the disc's centre lies at -e */
    add_disc_point(b, ex + place[0], ey + place[1]);
  }
  tw_status status = add_backing(b, a);
  if (status != TW_OK) {
    return status;
  }
  status = s->disc_points(s->disc, b->grouped, b->radius, b->azimuth, b->compliance, b->charge,
                          b->fault);
  if (status != TW_OK) {
    return status;
  }
  for (size_t i = 0; i < b->grouped; i++) {
    b->contact[first + i].charge = b->charge[i];
  }
  soften_backing(b, points, a);
  b->axial = even_stiffness(b, points);
  if (!(b->axial > 0.0 && isfinite(b->axial))) {
    return tw_fail(b->fault, TW_BAD_INPUT, "disc", "check disc and support",
                   "the disc has no stiffness under the contacts");
  }
  return TW_OK;
}

tw_status tw_seat_spring_preload(seat_build *b, double *force, double *rate)
{
  const tw_seat_spec *s = b->spec;
  const double left = 1.0 - s->relaxation;
  tw_status status = tw_seat_need(b, "preload.relaxation", s->relaxation, 0.0, 0.999);
  *rate = s->spring_rate;
  switch (s->preload) {
  case TW_SEAT_BY_SPRING:
    status = status != TW_OK ? status : tw_seat_need(b, "seat.spring_rate", *rate, 1e-6, 1e12);
    status = status != TW_OK ? status : tw_seat_need(b, "preload.force", s->force, 1e-9, 1e6);
    *force = s->force;
    break;
  case TW_SEAT_BY_FORCE:
    status = status != TW_OK ? status : tw_seat_need(b, "preload.force", s->force, 1e-9, 1e6);
    *force = s->force;
    break;
  case TW_SEAT_BY_INTERFERENCE:
    status = status != TW_OK ? status
                             : tw_seat_need(b, "preload.interference", s->interference, 1e-12, 1.0);
    *force = *rate * s->interference;
    break;
  case TW_SEAT_BY_TABLE:
    if (status == TW_OK) {
      status = tw_force_table(s->table_travel, s->table_force, s->table_points, s->interference,
                              force, rate, b->fault);
    }
    break;
  }
  if (status == TW_OK) {
    *force *= left;
    *rate *= s->preload == TW_SEAT_BY_TABLE ? left : 1.0;
    status = tw_seat_need(b, "preload.force", *force, 1e-12, 1e6);
  }
  return status;
}
