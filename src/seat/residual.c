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

/* out[n] = rows[.][n] . v for the first n contacts of the rows */
static void times(const seat_rows rows, size_t n, const double *v, double *out)
{
  for (size_t i = 0; i < n; i++) {
    out[i] = rows[0][i] * v[0];
  }
  for (size_t k = 1; k < SEAT_DOF; k++) {
    for (size_t i = 0; i < n; i++) {
      out[i] += rows[k][i] * v[k];
    }
  }
}

void tw_seat_slides(const tw_seat_model *m, const double *v, double out[2][TW_SEAT_CONTACTS])
{
  times(m->slide[0], m->rubbing, v, out[0]);
  times(m->slide[1], m->rubbing, v, out[1]);
}

/* contacts with a stiffness of their own: load = k max(compression, 0) */
static void own_contacts(const tw_seat_model *m, tw_seat_work *w, const double *v, double *residual)
{
  double moved[TW_SEAT_CONTACTS];
  times(m->own, m->contacts - m->grouped, v, moved);
  for (size_t i = m->grouped; i < m->contacts; i++) {
    const seat_contact *c = &m->contact[i];
    const double compression = c->start - moved[i - m->grouped];
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
  w->set = tw_seat_group_solve(m, w, v, &w->now.set);
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
static void rub(const tw_seat_model *m, tw_seat_work *w, size_t i, double s0, double s1,
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
  const double p0 = c->tangent * (s0 - w->now.slip[i][0]);
  const double p1 = c->tangent * (s1 - w->now.slip[i][1]);
  const double square = p0 * p0 + p1 * p1, margin = limit * (1.0 + w->sticks);
  double cap = 1.0;
  /* whether a contact that stands at its limit since the last step starts as sticking (it may turn
   * back) or as sliding on is for the solver to say */
  r->sticks = square <= margin * margin;
  r->slides = !r->sticks;
  if (r->slides || square > limit * limit) {
    const double size = sqrt(square);
    cap = fmin(limit / size, 1.0);
    r->direction[0] = p0 / size;
    r->direction[1] = p1 / size;
    r->across = limit * c->tangent / size;
  }
  w->tangent[i][0] = -p0 * cap;
  w->tangent[i][1] = -p1 * cap;
  add_row(residual, w->tangent[i][0], c->slide[0], SEAT_DOF);
  add_row(residual, w->tangent[i][1], c->slide[1], SEAT_DOF);
}

static void rub_all(const tw_seat_model *m, tw_seat_work *w, const double *v, double *residual)
{
  double slide[2][TW_SEAT_CONTACTS];
  tw_seat_slides(m, v, slide);
  for (size_t n = 0; n < m->rubbing; n++) {
    rub(m, w, m->rubs_at[n], slide[0][n], slide[1][n], residual);
  }
}

bool tw_seat_residual(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                      const double *v, double x, double *residual)
{
  memcpy(residual, m->load, SEAT_ALL * sizeof *residual);
  if (!grouped_contacts(m, w, v, residual)) {
    return false;
  }
  own_contacts(m, w, v, residual);
  if (drive->friction) {
    rub_all(m, w, v, residual);
  }
  for (size_t j = 0; j < m->springs; j++) {
    const seat_spring *s = &m->spring[j];
    double energy;
    w->spring[j] = tw_seat_spring_force(s, dot6(s->row, v), &w->spring_rate[j], &energy);
    add_row(residual, w->spring[j], s->row, SEAT_DOF);
  }
  w->force = tw_seat_drive_force(drive, x - dot6(drive->row, v), &w->drive_rate);
  add_row(residual, w->force, drive->row, SEAT_DOF);
  if (!drive->wall) {
    add_row(residual, x, drive->wrench, SEAT_DOF);
  }
  return true;
}

/* ---- how the balance changes ----------------------------------------------------------------- */

/* a sum of products of rows, left' right, gathered first: one pass over them all keeps the matrix
 * in registers */
enum { PRODUCTS = 3 * TW_SEAT_CONTACTS + TW_SEAT_SPRINGS + 1 };

typedef struct products {
  size_t count;
  double left[PRODUCTS][SEAT_DOF], right[PRODUCTS][SEAT_DOF];
} products;

/* s a' b, to be added */
static void gather(products *p, double s, const double *a, const double *b)
{
  for (size_t k = 0; k < SEAT_DOF; k++) {
    p->left[p->count][k] = s * a[k];
    p->right[p->count][k] = b[k];
  }
  p->count++;
}

static void add_products(const products *p, double *stiffness)
{
  for (size_t a = 0; a < SEAT_DOF; a += 2) { /* two rows of the matrix at a time */
    double one[SEAT_DOF], two[SEAT_DOF];
    memcpy(one, stiffness + a * SEAT_DOF, sizeof one);
    memcpy(two, stiffness + (a + 1) * SEAT_DOF, sizeof two);
    for (size_t i = 0; i < p->count; i++) {
      const double *right = p->right[i], l1 = p->left[i][a], l2 = p->left[i][a + 1];
      for (size_t k = 0; k < SEAT_DOF; k++) {
        one[k] += l1 * right[k];
        two[k] += l2 * right[k];
      }
    }
    memcpy(stiffness + a * SEAT_DOF, one, sizeof one);
    memcpy(stiffness + (a + 1) * SEAT_DOF, two, sizeof two);
  }
}

/* a sliding contact: only across the slide direction is there a stiffness; along it the force
 * follows the load, which falls with v by the group's map or the own stiffness */
static void gather_sliding(const tw_seat_model *m, const tw_seat_work *w, size_t i, products *p)
{
  const seat_contact *c = &m->contact[i];
  const double *dir = w->rub[i].direction;
  double along[SEAT_DOF], across[SEAT_DOF], rate[SEAT_DOF];
  for (size_t k = 0; k < SEAT_DOF; k++) {
    along[k] = dir[0] * c->slide[0][k] + dir[1] * c->slide[1][k];
    across[k] = dir[0] * c->slide[1][k] - dir[1] * c->slide[0][k];
    rate[k] = i < m->grouped ? w->set->map[k + 1][i] : c->stiffness * c->row[k];
  }
  gather(p, w->rub[i].across, across, across);
  if (!w->lagged) {
    gather(p, -c->friction, along, rate);
  }
}

/* what the sticking contacts add: from their set alone, whatever was looked at before */
static void add_sticking(const tw_seat_model *m, tw_seat_work *w, double *stiffness)
{
  seat_stuck now = {.known = true};
  for (size_t n = 0; n < m->rubbing; n++) {
    const size_t i = m->rubs_at[n];
    now.mask[i / 64] |= (uint64_t)w->rub[i].sticks << (i % 64);
  }
  if (!w->stuck.known || memcmp(now.mask, w->stuck.mask, sizeof now.mask) != 0) {
    for (size_t n = 0; n < m->rubbing; n++) {
      const size_t i = m->rubs_at[n];
      for (size_t k = 0; w->rub[i].sticks && k < SEAT_DOF * SEAT_DOF; k++) {
        now.stiff[k] += m->contact[i].stick[k];
      }
    }
    w->stuck = now;
  }
  for (size_t k = 0; k < SEAT_DOF * SEAT_DOF; k++) {
    stiffness[k] += w->stuck.stiff[k];
  }
}

void tw_seat_stiffness(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                       double *stiffness)
{
  memset(stiffness, 0, SEAT_DOF * SEAT_DOF * sizeof *stiffness);
  for (size_t i = 0; m->grouped > 0 && i < SEAT_DOF; i++) {
    memcpy(stiffness + i * SEAT_DOF, w->set->stiff + i * SEAT_ALL, SEAT_DOF * sizeof *stiffness);
  }
  products p;
  p.count = 0;
  for (size_t i = m->grouped; i < m->contacts; i++) {
    if (w->load[i] > 0.0) {
      gather(&p, m->contact[i].stiffness, m->contact[i].row, m->contact[i].row);
    }
  }
  if (drive->friction && m->rubs) {
    add_sticking(m, w, stiffness);
    for (size_t n = 0; n < m->rubbing; n++) {
      if (w->rub[m->rubs_at[n]].slides) {
        gather_sliding(m, w, m->rubs_at[n], &p);
      }
    }
  }
  for (size_t j = 0; j < m->springs; j++) {
    gather(&p, w->spring_rate[j], m->spring[j].row, m->spring[j].row);
  }
  if (w->drive_rate > 0.0) {
    gather(&p, w->drive_rate, drive->row, drive->row);
  }
  add_products(&p, stiffness);
}

void tw_seat_jacobian(const tw_seat_model *m, tw_seat_work *w, const seat_drive *drive,
                      double *jacobian)
{
  double stiffness[SEAT_DOF * SEAT_DOF];
  tw_seat_stiffness(m, w, drive, stiffness);
  if (m->grouped > 0) {
    memcpy(jacobian, w->set->stiff, sizeof w->set->stiff);
  } else {
    memset(jacobian, 0, SEAT_ALL * SEAT_ALL * sizeof *jacobian);
  }
  for (size_t i = 0; i < SEAT_DOF; i++) {
    memcpy(jacobian + i * SEAT_ALL, stiffness + i * SEAT_DOF, SEAT_DOF * sizeof *stiffness);
  }
}
