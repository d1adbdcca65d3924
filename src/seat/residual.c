/* residual.c: the balance of forces on the carrier, and how it changes with its place.
 *
 *   R(v) = load + sum row' load_i + sum slide' t_i + sum row' f_j + w F
 * and the matrix J = -dR/dv of the semi-smooth Newton step. */
#include "engine.h"

#include <math.h>
#include <string.h>

static void add_row(double *residual, double s, const double *row, size_t n)
{
  for (size_t i = 0; i < n; i++) {
    residual[i] += s * row[i];
  }
}

static inline double dot6(const double *a, const double *b)
{
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3] + a[4] * b[4] + a[5] * b[5];
}

/* contacts with a stiffness of their own: load = k max(compression, 0) */
static void own_contacts(const tw_seat_model *m, tw_seat_work *w, const double *v, double *residual)
{
  for (size_t i = m->grouped; i < m->contacts; i++) {
    const seat_contact *c = &m->contact[i];
    const double compression = c->start - dot6(c->row, v);
    w->load[i] = compression > 0.0 ? c->stiffness * compression : 0.0;
    w->gap[i] = compression > 0.0 ? 0.0 : -compression;
    if (compression > 0.0) {
      add_row(residual, w->load[i], c->row, SEAT_DOF);
    }
  }
}

static bool grouped_contacts(const tw_seat_model *m, tw_seat_work *w, const double *v,
                             double *residual)
{
  if (m->grouped == 0) {
    return true;
  }
  w->set = seat_group_solve(m, w, v, &w->now.set);
  if (w->set == NULL) {
    return false;
  }
  for (size_t i = 0; i < m->grouped; i++) {
    if (w->load[i] != 0.0) {
      add_row(residual, w->load[i], m->contact[i].row, SEAT_ALL);
    }
  }
  return true;
}

/* trial p = kt (slide v - slip); t = -p, or -mu load p/|p| where that is less */
static void rub(const tw_seat_model *m, tw_seat_work *w, const double *v, size_t i,
                double *residual)
{
  const seat_contact *c = &m->contact[i];
  seat_rub *r = &w->rub[i];
  const double limit = w->lagged ? w->limit[i] : c->friction * w->load[i];
  r->slides = r->sticks = false;
  w->tangent[i][0] = w->tangent[i][1] = 0.0;
  if (!(limit > 0.0)) {
    return;
  }
  const double p0 = c->tangent * (dot6(c->slide[0], v) - w->now.slip[i][0]);
  const double p1 = c->tangent * (dot6(c->slide[1], v) - w->now.slip[i][1]);
  const double size = sqrt(p0 * p0 + p1 * p1), cap = size > limit ? limit / size : 1.0;
  /* whether a contact that stands at its limit since the last step starts as sticking (it may turn
   * back) or as sliding on is for the solver to say */
  r->sticks = size <= limit * (1.0 + w->sticks);
  r->slides = !r->sticks;
  w->tangent[i][0] = -p0 * cap;
  w->tangent[i][1] = -p1 * cap;
  if (r->slides) {
    r->direction[0] = p0 / size;
    r->direction[1] = p1 / size;
    r->across = limit * c->tangent / size;
  }
  add_row(residual, w->tangent[i][0], c->slide[0], SEAT_DOF);
  add_row(residual, w->tangent[i][1], c->slide[1], SEAT_DOF);
}

bool seat_residual(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                   const double *v, double x, double *residual)
{
  memcpy(residual, m->load, SEAT_ALL * sizeof *residual);
  if (!grouped_contacts(m, w, v, residual)) {
    return false;
  }
  own_contacts(m, w, v, residual);
  if (drive->friction && m->rubs) {
    for (size_t i = 0; i < m->contacts; i++) {
      if (m->contact[i].friction > 0.0) {
        rub(m, w, v, i, residual);
      }
    }
  }
  for (size_t j = 0; j < m->springs; j++) {
    const seat_spring *s = &m->spring[j];
    double energy;
    w->spring[j] = seat_spring_force(s, dot6(s->row, v), &w->spring_rate[j], &energy);
    add_row(residual, w->spring[j], s->row, SEAT_DOF);
  }
  w->force = seat_drive_force(drive, x - dot6(drive->row, v), &w->drive_rate);
  add_row(residual, w->force, drive->row, SEAT_DOF);
  if (!drive->wall) {
    add_row(residual, x, drive->wrench, SEAT_DOF);
  }
  return true;
}

/* ---- how the balance changes ----------------------------------------------------------------- */

/* J += s a b' over the first six unknowns */
static void add_outer(double *jacobian, double s, const double *a, const double *b)
{
  for (size_t i = 0; i < SEAT_DOF; i++) {
    const double f = s * a[i];
    for (size_t j = 0; j < SEAT_DOF; j++) {
      jacobian[i * SEAT_ALL + j] += f * b[j];
    }
  }
}

/* a sliding contact: only across the slide direction is there a stiffness; along it the force
 * follows the load, which falls with v by the group's map or the own stiffness */
static void add_sliding(const tw_seat_model *m, const tw_seat_work *w, size_t i, double *jacobian)
{
  const seat_contact *c = &m->contact[i];
  const double *dir = w->rub[i].direction;
  double along[SEAT_DOF], across[SEAT_DOF], rate[SEAT_DOF];
  for (size_t k = 0; k < SEAT_DOF; k++) {
    along[k] = dir[0] * c->slide[0][k] + dir[1] * c->slide[1][k];
    across[k] = dir[0] * c->slide[1][k] - dir[1] * c->slide[0][k];
    rate[k] = i < m->grouped ? w->set->map[i][k + 1] : c->stiffness * c->row[k];
  }
  add_outer(jacobian, w->rub[i].across, across, across);
  if (!w->lagged) {
    add_outer(jacobian, -c->friction, along, rate);
  }
}

static void add_sticking(const seat_contact *c, double *jacobian)
{
  for (size_t a = 0; a < SEAT_DOF; a++) {
    for (size_t b = 0; b < SEAT_DOF; b++) {
      jacobian[a * SEAT_ALL + b] += c->tangent * c->slide2[a * SEAT_DOF + b];
    }
  }
}

void seat_jacobian(const tw_seat_model *m, const tw_seat_work *w, const seat_drive *drive,
                   double *jacobian)
{
  if (m->grouped > 0) {
    memcpy(jacobian, w->set->stiff, sizeof w->set->stiff);
  } else {
    memset(jacobian, 0, SEAT_ALL * SEAT_ALL * sizeof *jacobian);
  }
  for (size_t i = m->grouped; i < m->contacts; i++) {
    if (w->load[i] > 0.0) {
      add_outer(jacobian, m->contact[i].stiffness, m->contact[i].row, m->contact[i].row);
    }
  }
  for (size_t i = 0; drive->friction && m->rubs && i < m->contacts; i++) {
    if (m->contact[i].friction > 0.0 && w->rub[i].sticks) {
      add_sticking(&m->contact[i], jacobian);
    } else if (m->contact[i].friction > 0.0 && w->rub[i].slides) {
      add_sliding(m, w, i, jacobian);
    }
  }
  for (size_t j = 0; j < m->springs; j++) {
    add_outer(jacobian, w->spring_rate[j], m->spring[j].row, m->spring[j].row);
  }
  if (w->drive_rate > 0.0) {
    add_outer(jacobian, w->drive_rate, drive->row, drive->row);
  }
}
