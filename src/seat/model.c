/* model.c: single parts become an immutable model that is at rest. */
#include "making.h"
#include "tripwright/numerics.h"

#include <math.h>
#include <string.h>

static bool finite_all(const double *a, size_t n)
{
  for (size_t i = 0; i < n; i++) {
    if (!isfinite(a[i])) {
      return false;
    }
  }
  return true;
}

static tw_status bad(tw_fault *fault, const char *field, const char *what)
{
  return tw_fail(fault, TW_BAD_INPUT, field, "give a finite number in the stated range", "%s",
                 what);
}

static tw_status check_contact(const tw_seat_contact *c, tw_fault *fault)
{
  const double n2 =
      c->normal[0] * c->normal[0] + c->normal[1] * c->normal[1] + c->normal[2] * c->normal[2];
  const double rest[] = {c->compression, c->friction, c->tangent_stiffness, c->charge};
  if (!finite_all(c->place, 3) || !(fabs(n2 - 1.0) < 1e-9) || !finite_all(rest, 4)) {
    return bad(fault, "seat", "a contact's place, normal or compression is not a number");
  }
  if (!c->grouped && !(c->stiffness > 0.0 && isfinite(c->stiffness))) {
    return bad(fault, "seat", "a contact has no stiffness");
  }
  if (c->friction < 0.0 || (c->friction > 0.0 && !(c->tangent_stiffness > 0.0))) {
    return bad(fault, "seat.friction", "a contact's friction is negative, or has no stiffness");
  }
  return TW_OK;
}

static tw_status check_parts(const tw_seat_parts *p, size_t grouped, tw_fault *fault)
{
  if (p->contacts > TW_SEAT_CONTACTS || grouped > TW_SEAT_GROUP || p->springs > TW_SEAT_SPRINGS) {
    return tw_fail(fault, TW_BAD_INPUT, "seat", "use fewer contact points",
                   "more contacts than a model holds (%d, of which %d on the disc)",
                   TW_SEAT_CONTACTS, TW_SEAT_GROUP);
  }
  if (grouped > 0 && (p->compliance == NULL || !finite_all(p->compliance, grouped * grouped))) {
    return bad(fault, "disc", "the disc's compliance is not a number");
  }
  for (size_t i = 0; i < p->contacts; i++) {
    const tw_status s = check_contact(&p->contact[i], fault);
    if (s != TW_OK) {
      return s;
    }
  }
  for (size_t j = 0; j < p->springs; j++) {
    const tw_seat_spring *s = &p->spring[j];
    const double rest[] = {s->force, s->rate, s->charge, s->start};
    if (!finite_all(s->along, 6) || !finite_all(rest, 4) || s->rate < 0.0 ||
        s->points > TW_SEAT_TABLE || s->points == 1) {
      return bad(fault, "preload", "a spring's force or rate is not a number");
    }
    for (size_t k = 0; k + 1 < s->points; k++) {
      if (!(s->travel[k + 1] > s->travel[k]) || !(s->table[k + 1] >= s->table[k])) {
        return bad(fault, "preload.table", "a spring's table does not rise");
      }
    }
  }
  if (!(p->length > 0.0) || !finite_all(p->load, 6) || !finite_all(p->tip, 3) ||
      !isfinite(p->closing_force) || p->closing_force < 0.0 || p->side_stiffness < 0.0 ||
      p->axial_stiffness < 0.0 || p->hertz < 0.0) {
    return bad(fault, "seat", "a length, load or stiffness is negative or not a number");
  }
  if (p->contacts == 0 && p->springs == 0) {
    return bad(fault, "seat", "nothing holds the carrier");
  }
  return TW_OK;
}

/* row of a unit force along `f` at `r`: force, then moment over the length scale */
static void wrench_row(const double r[3], const double f[3], double length, double *row)
{
  for (int i = 0; i < 3; i++) {
    const int j = (i + 1) % 3, k = (i + 2) % 3;
    row[i] = f[i];
    row[3 + i] = (r[j] * f[k] - r[k] * f[j]) / length;
  }
}

/* two unit vectors across n */
static void tangents(const double n[3], double t1[3], double t2[3])
{
  /* start from the axis that n leans on least */
  int least = 0;
  for (int i = 1; i < 3; i++) {
    least = fabs(n[i]) < fabs(n[least]) ? i : least;
  }
  double size = 0.0;
  for (int i = 0; i < 3; i++) {
    t1[i] = (i == least ? 1.0 : 0.0) - n[least] * n[i];
    size += t1[i] * t1[i];
  }
  for (int i = 0; i < 3; i++) {
    t1[i] /= sqrt(size);
  }
  for (int i = 0; i < 3; i++) {
    const int j = (i + 1) % 3, k = (i + 2) % 3;
    t2[i] = n[j] * t1[k] - n[k] * t1[j];
  }
}

static void take_contact(const tw_seat_parts *p, const tw_seat_contact *c, seat_contact *out)
{
  double t1[3], t2[3];
  memset(out, 0, sizeof *out);
  out->start = c->compression;
  out->stiffness = c->stiffness;
  out->friction = c->backing ? 0.0 : c->friction;
  out->tangent = c->tangent_stiffness;
  out->charge = c->charge;
  out->backing = c->backing;
  out->senses = c->senses;
  if (c->backing) {
    return; /* it holds the disc, not the carrier: no row */
  }
  wrench_row(c->place, c->normal, p->length, out->row);
  out->row[SEAT_DOF] = c->grouped ? -1.0 : 0.0;
  tangents(c->normal, t1, t2);
  wrench_row(c->place, t1, p->length, out->slide[0]);
  wrench_row(c->place, t2, p->length, out->slide[1]);
  for (size_t a = 0; a < SEAT_DOF; a++) {
    for (size_t b = 0; b < SEAT_DOF; b++) {
      out->stick[a * SEAT_DOF + b] = out->tangent * (out->slide[0][a] * out->slide[0][b] +
                                                     out->slide[1][a] * out->slide[1][b]);
    }
  }
}

/* the rows side by side */
static void line_up(tw_seat_model *m)
{
  for (size_t i = 0; i < m->contacts; i++) {
    const seat_contact *c = &m->contact[i];
    for (size_t k = 0; k < SEAT_DOF; k++) {
      if (i >= m->grouped) {
        m->own[k][i - m->grouped] = c->row[k];
      }
      m->slide[0][k][m->rubbing] = c->slide[0][k];
      m->slide[1][k][m->rubbing] = c->slide[1][k];
    }
    if (c->friction > 0.0) {
      m->rubs_at[m->rubbing++] = i;
    }
  }
  m->rubs = m->rubbing > 0;
}

/* grouped contacts first, each kind in its given order */
static void take_contacts(tw_seat_model *m, const tw_seat_parts *p)
{
  for (int pass = 0; pass < 2; pass++) {
    for (size_t i = 0; i < p->contacts; i++) {
      const tw_seat_contact *c = &p->contact[i];
      if (c->grouped != (pass == 0)) {
        continue;
      }
      if (c->grouped) {
        m->disc_radius[m->contacts] = hypot(c->place[0], c->place[1]);
        m->disc_azimuth[m->contacts] = atan2(c->place[1], c->place[0]);
      }
      take_contact(p, c, &m->contact[m->contacts]);
      m->contacts++;
    }
  }
}

/* deflection is measured from the carrier's side and a backing pushes from the other: its mixed
 * compliance and its charge change sign */
static void take_compliance(tw_seat_model *m, const tw_seat_parts *p)
{
  const size_t n = m->grouped;
  for (size_t i = 0; i < n; i++) {
    if (m->contact[i].backing) {
      m->contact[i].charge = -m->contact[i].charge;
    }
    for (size_t j = 0; j < n; j++) {
      const double sign = m->contact[i].backing == m->contact[j].backing ? 1.0 : -1.0;
      /* the mean of both triangles: symmetric to the last bit */
      m->compliance[i * n + j] = sign * 0.5 * (p->compliance[i * n + j] + p->compliance[j * n + i]);
    }
  }
}

static void take_springs(tw_seat_model *m, const tw_seat_parts *p)
{
  m->springs = p->springs;
  for (size_t j = 0; j < p->springs; j++) {
    const tw_seat_spring *s = &p->spring[j];
    seat_spring *out = &m->spring[j];
    for (size_t k = 0; k < SEAT_DOF; k++) {
      out->row[k] = k < 3 ? s->along[k] : s->along[k] / p->length;
    }
    out->force = s->force;
    out->rate = s->rate;
    out->charge = s->charge;
    out->start = s->start;
    memcpy(out->void_gap, s->void_gap, sizeof out->void_gap);
    memcpy(out->void_give, s->void_give, sizeof out->void_give);
    out->points = s->points;
    for (size_t k = 0; k < s->points; k++) {
      out->travel[k] = s->travel[k];
      out->table[k] = s->table[k];
    }
    tw_seat_table_slopes(s->points, out->travel, out->table, out->slope);
  }
}

/* stiffness of a contact among loaded neighbours, (C^-1)_ii: one column of the inverse at a time */
static tw_status take_pressed(tw_seat_model *m, tw_fault *fault)
{
  const size_t n = m->grouped;
  double *l = n > 0 ? tw_alloc(n * n, sizeof *l) : NULL;
  if (n > 0 && l == NULL) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the seat");
  }
  for (size_t i = 0; i < n * n; i++) {
    l[i] = m->compliance[i];
  }
  tw_status status = TW_OK;
  if (n > 0 && !tw_cholesky(n, l, n)) {
    status = tw_fail(fault, TW_BAD_INPUT, "disc", "check disc, support and contact radius",
                     "the disc's compliance under the contacts is not positive definite");
  }
  for (size_t i = 0; i < m->contacts && status == TW_OK; i++) {
    double column[TW_SEAT_GROUP] = {0};
    m->contact[i].pressed = m->contact[i].stiffness;
    if (i < n) {
      column[i] = 1.0;
      tw_cholesky_solve(n, l, n, column);
      m->contact[i].pressed = column[i];
    }
  }
  tw_free(l);
  return status;
}

/* what counts as a large force, a large gap, a large stiffness in this probe */
static void take_scales(tw_seat_model *m)
{
  double force = 0.0, stiff = 0.0, soft = 0.0;
  for (size_t k = 0; k < SEAT_ALL; k++) {
    force += fabs(m->load[k]);
  }
  for (size_t i = 0; i < m->contacts; i++) {
    const double k =
        i < m->grouped ? 1.0 / m->compliance[i * m->grouped + i] : m->contact[i].stiffness;
    stiff = fmax(stiff, fmax(k, m->contact[i].friction > 0.0 ? m->contact[i].tangent : 0.0));
    soft = soft > 0.0 ? fmin(soft, k) : k;
    force += m->contact[i].backing ? 0.0 : k * fmax(m->contact[i].start, 0.0);
  }
  for (size_t j = 0; j < m->springs; j++) {
    double rate, energy;
    force += fabs(tw_seat_spring_force(&m->spring[j], 0.0, &rate, &energy));
    stiff = fmax(stiff, rate);
    soft = soft > 0.0 || rate <= 0.0 ? soft : rate;
  }
  m->stiffness_scale = stiff;
  /* without any preload: what moves the softest contact by a millionth of the length scale */
  m->force_scale = force > 0.0 ? force : 1e-6 * m->length * soft;
  m->gap_scale = soft > 0.0 ? m->force_scale / soft : 1e-6 * m->length;
}

tw_status tw_seat_model_build(const tw_seat_parts *parts, tw_seat_model **out, tw_fault *fault)
{
  *out = NULL;
  size_t grouped = 0;
  const bool fits = parts->contacts <= TW_SEAT_CONTACTS;
  for (size_t i = 0; fits && i < parts->contacts; i++) {
    grouped += parts->contact[i].grouped ? 1 : 0;
  }
  tw_status status = check_parts(parts, grouped, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_seat_model *m = tw_alloc(1, sizeof *m);
  if (m == NULL) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the seat");
  }
  m->grouped = grouped;
  m->bilateral = parts->bilateral;
  m->length = parts->length;
  memcpy(m->tip, parts->tip, sizeof m->tip);
  /* a rigid stem is one that gives a nanometre per newton */
  m->side = parts->side_stiffness > 0.0 ? 1.0 / parts->side_stiffness : 1e-9;
  m->axial = parts->axial_stiffness > 0.0 ? 1.0 / parts->axial_stiffness : 1e-9;
  m->hertz = parts->hertz;
  for (size_t k = 0; k < SEAT_DOF; k++) {
    m->load[k] = k < 3 ? parts->load[k] : parts->load[k] / parts->length;
  }
  m->load[SEAT_DOF] = parts->closing_force;
  take_contacts(m, parts);
  line_up(m);
  take_compliance(m, parts);
  take_springs(m, parts);
  take_scales(m);
  *out = m;
  return take_pressed(m, fault);
}

tw_status tw_seat_model_from_parts(const tw_seat_parts *parts, tw_seat_model **out, tw_fault *fault)
{
  tw_status status = tw_seat_model_build(parts, out, fault);
  if (status == TW_OK) {
    status = tw_seat_model_settle(*out, parts->closing_force > 0.0, fault);
  }
  if (status == TW_OK) {
    tw_seat_find_symmetry(*out);
  } else {
    tw_seat_model_free(*out);
    *out = NULL;
  }
  return status;
}

void tw_seat_model_free(tw_seat_model *model)
{
  tw_free(model);
}
