/* symmetry.c: after which turns, and in which mirror, the seat is the same again.
 *
 * What repeats is read from the model and not from the design: every contact must fall on one that
 * is the same in all its numbers, the disc's coupled compliance must go with them, every spring
 * must have its like, and load, tip and rest must stay where they are. So whatever spoils the
 * symmetry (a weight that hangs askew, an eccentric flat, a seat off its place) is seen here. */
#include "making.h"
#include "tripwright/constants.h"

#include <math.h>

/* numbers of two contacts that differ by less than this share are the same: rounding of sines and
 * of the disc's series, far below what a touch shows */
#define SAME 1e-9
/* and the rest, which a solver found */
#define SAME_REST 1e-6
/* directions closer than this (rad) are one */
#define ONE_DIRECTION 1e-9

/* a turn about the axis, or a mirror through it, in the plane across the axis */
typedef struct moved {
  double q[2][2];
  double hand; /* +1: a turn, -1: a mirror, which turns moments over */
} moved;

static moved turn_by(double angle)
{
  return (moved){{{cos(angle), -sin(angle)}, {sin(angle), cos(angle)}}, 1.0};
}

static moved mirror_at(double plane)
{
  return (moved){{{cos(2 * plane), sin(2 * plane)}, {sin(2 * plane), -cos(2 * plane)}}, -1.0};
}

/* a force and a moment, or a movement and a turn */
static void move_row(const moved *g, const double *row, double *out)
{
  for (int part = 0; part < 2; part++) {
    const double *a = row + (ptrdiff_t)3 * part;
    const double hand = part == 1 ? g->hand : 1.0;
    double *b = out + (ptrdiff_t)3 * part;
    b[0] = hand * (g->q[0][0] * a[0] + g->q[0][1] * a[1]);
    b[1] = hand * (g->q[1][0] * a[0] + g->q[1][1] * a[1]);
    b[2] = hand * a[2];
  }
}

static bool same(double a, double b, double scale)
{
  return fabs(a - b) <= SAME * scale;
}

static bool alike(double a, double b)
{
  return same(a, b, fmax(fabs(a), fabs(b)));
}

static bool same_rows(const double *a, const double *b, size_t n, double scale)
{
  for (size_t k = 0; k < n; k++) {
    if (!same(a[k], b[k], scale)) {
      return false;
    }
  }
  return true;
}

/* ---- contacts and springs ------------------------------------------------------------------- */

static bool same_kind(const tw_seat_model *m, const seat_contact *a, const seat_contact *b)
{
  return a->backing == b->backing && a->senses == b->senses &&
         same(a->start, b->start, m->gap_scale) && alike(a->stiffness, b->stiffness) &&
         alike(a->friction, b->friction) && alike(a->tangent, b->tangent) &&
         alike(a->charge, b->charge);
}

/* the place of a point of the disc, moved */
static bool same_place(const tw_seat_model *m, const moved *g, size_t from, size_t to)
{
  const double a = m->disc_azimuth[from], b = m->disc_azimuth[to];
  const double r = m->disc_radius[from], s = m->disc_radius[to];
  return same(r * (g->q[0][0] * cos(a) + g->q[0][1] * sin(a)), s * cos(b), m->length) &&
         same(r * (g->q[1][0] * cos(a) + g->q[1][1] * sin(a)), s * sin(b), m->length);
}

/* the contact onto which contact i falls; m->contacts when there is none */
static size_t image_of(const tw_seat_model *m, const moved *g, size_t i)
{
  double row[SEAT_ALL];
  const size_t first = i < m->grouped ? 0 : m->grouped,
               end = i < m->grouped ? m->grouped : m->contacts;
  move_row(g, m->contact[i].row, row);
  row[SEAT_DOF] = m->contact[i].row[SEAT_DOF];
  for (size_t j = first; j < end; j++) {
    if (same_rows(row, m->contact[j].row, SEAT_ALL, 1.0) &&
        same_kind(m, &m->contact[i], &m->contact[j]) &&
        (i >= m->grouped || same_place(m, g, i, j))) {
      return j;
    }
  }
  return m->contacts;
}

static bool contacts_repeat(const tw_seat_model *m, const moved *g)
{
  size_t image[TW_SEAT_CONTACTS];
  bool taken[TW_SEAT_CONTACTS] = {false};
  for (size_t i = 0; i < m->contacts; i++) {
    image[i] = image_of(m, g, i);
    if (image[i] == m->contacts || taken[image[i]]) {
      return false;
    }
    taken[image[i]] = true;
  }
  const size_t n = m->grouped;
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++) {
      const double scale = sqrt(m->compliance[i * n + i] * m->compliance[j * n + j]);
      if (!same(m->compliance[i * n + j], m->compliance[image[i] * n + image[j]], scale)) {
        return false;
      }
    }
  }
  return true;
}

static bool same_spring(const seat_spring *a, const seat_spring *b)
{
  if (a->points != b->points || !alike(a->force, b->force) || !alike(a->rate, b->rate) ||
      !alike(a->charge, b->charge) || !alike(a->start, b->start)) {
    return false;
  }
  for (size_t k = 0; k < a->points; k++) {
    if (!alike(a->travel[k], b->travel[k]) || !alike(a->table[k], b->table[k])) {
      return false;
    }
  }
  return true;
}

/* each moved spring has its like, as many times as it is there */
static bool springs_repeat(const tw_seat_model *m, const moved *g)
{
  bool taken[TW_SEAT_SPRINGS] = {false};
  for (size_t i = 0; i < m->springs; i++) {
    double row[SEAT_DOF];
    size_t j = 0;
    move_row(g, m->spring[i].row, row);
    while (j < m->springs && (taken[j] || !same_spring(&m->spring[i], &m->spring[j]) ||
                              !same_rows(row, m->spring[j].row, SEAT_DOF, 1.0))) {
      j++;
    }
    if (j == m->springs) {
      return false;
    }
    taken[j] = true;
  }
  return true;
}

/* what must stay where it is: load, tip, rest */
static bool stays(const tw_seat_model *m, const moved *g)
{
  double load[SEAT_DOF], rest[SEAT_DOF];
  const double *tip = m->tip;
  move_row(g, m->load, load);
  move_row(g, m->rest.v, rest);
  return same_rows(load, m->load, SEAT_DOF, m->force_scale) &&
         same_rows(rest, m->rest.v, SEAT_DOF, m->gap_scale * (SAME_REST / SAME)) &&
         same(g->q[0][0] * tip[0] + g->q[0][1] * tip[1], tip[0], m->length) &&
         same(g->q[1][0] * tip[0] + g->q[1][1] * tip[1], tip[1], m->length);
}

static bool repeats(const tw_seat_model *m, const moved *g)
{
  return stays(m, g) && springs_repeat(m, g) && contacts_repeat(m, g);
}

/* ---- which turns, which mirror -------------------------------------------------------------- */

/* where a contact points, across the axis: by its force, or else by its moment, which a mirror
 * turns the other way round; false for one on the axis */
static bool bearing(const double *row, double *azimuth, bool *by_moment)
{
  for (int part = 0; part < 2; part++) {
    const double *a = row + (ptrdiff_t)3 * part;
    if (hypot(a[0], a[1]) > 1e-6) {
      *azimuth = atan2(a[1], a[0]);
      *by_moment = part == 1;
      return true;
    }
  }
  return false;
}

/* a mirror takes one contact onto itself or another: only so many planes need to be tried */
static bool find_mirror(const tw_seat_model *m, double *plane)
{
  double a, b;
  bool moment, other;
  size_t i = 0;
  while (i < m->contacts && !bearing(m->contact[i].row, &a, &moment)) {
    i++;
  }
  for (size_t j = i; j < m->contacts; j++) {
    if (!bearing(m->contact[j].row, &b, &other) || other != moment) {
      continue;
    }
    /* moments are axial: mirrored about the plane they also change sign */
    *plane = 0.5 * (a + b + (moment ? TW_PI : 0.0));
    const moved g = mirror_at(*plane);
    if (repeats(m, &g)) {
      return true;
    }
  }
  *plane = 0.0;
  return false;
}

void tw_seat_find_symmetry(tw_seat_model *m)
{
  tw_seat_symmetry *s = &m->symmetry;
  *s = (tw_seat_symmetry){.order = 1};
  for (size_t order = TW_SEAT_GROUP; order > 1 && m->contacts > 0; order--) {
    const moved g = turn_by(2 * TW_PI / (double)order);
    if (repeats(m, &g)) {
      s->order = order;
      break;
    }
  }
  s->mirrored = find_mirror(m, &s->plane);
}

void tw_seat_symmetry_of(const tw_seat_model *model, tw_seat_symmetry *out)
{
  *out = model->symmetry;
}

/* ---- directions ----------------------------------------------------------------------------- */

/* the azimuth in the sector that stands for all others, from the plane on; `hand` is -1 where the
 * mirror was needed to get there */
static double fold(const tw_seat_symmetry *s, double azimuth, double *hand)
{
  const double sector = 2 * TW_PI / (double)s->order;
  double a = fmod(azimuth - s->plane, sector);
  a = a < 0 ? a + sector : a;
  /* the end of a sector is the beginning of the next */
  a = sector - a < ONE_DIRECTION ? 0.0 : a;
  *hand = s->mirrored && a > 0.5 * sector + ONE_DIRECTION ? -1.0 : 1.0;
  return *hand < 0 ? sector - a : a;
}

static bool one_direction(const tw_seat_symmetry *s, const tw_seat_touch_result *a,
                          const tw_seat_touch_result *b)
{
  double hand;
  return fabs(a->elevation - b->elevation) < ONE_DIRECTION &&
         fabs(fold(s, a->azimuth, &hand) - fold(s, b->azimuth, &hand)) < 2 * ONE_DIRECTION;
}

void tw_seat_alike(const tw_seat_model *model, size_t count, const tw_seat_touch_result *direction,
                   size_t *first)
{
  for (size_t i = 0; i < count; i++) {
    first[i] = 0;
    while (first[i] < i &&
           (first[first[i]] != first[i] ||
            !one_direction(&model->symmetry, &direction[first[i]], &direction[i]))) {
      first[i]++;
    }
  }
}

void tw_seat_carry_over(const tw_seat_model *model, const tw_seat_touch_result *from,
                        tw_seat_touch_result *to)
{
  double hand_from, hand_to;
  const double azimuth = to->azimuth, elevation = to->elevation;
  (void)fold(&model->symmetry, from->azimuth, &hand_from);
  (void)fold(&model->symmetry, azimuth, &hand_to);
  *to = *from;
  to->azimuth = azimuth;
  to->elevation = elevation;
  /* what is left of the touch turns with it, and is mirrored with it */
  const double c = cos(from->azimuth), s = sin(from->azimuth);
  const double along = c * from->return_tip[0] + s * from->return_tip[1];
  const double across = hand_from * hand_to * (c * from->return_tip[1] - s * from->return_tip[0]);
  to->return_tip[0] = cos(azimuth) * along - sin(azimuth) * across;
  to->return_tip[1] = sin(azimuth) * along + cos(azimuth) * across;
}
