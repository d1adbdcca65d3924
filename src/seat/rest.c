/* rest.c: the carrier finds its seat, without friction.
 *
 * The balance is the minimum of a convex energy: contacts k c^2/2, group load' C load/2, springs,
 * constant loads, and, while the preload is being set, the closing movement under its force.
 * Newton with a Levenberg shift goes down that energy; the Armijo test is on the energy, since the
 * residual is not a merit function where contacts open. */
#include "engine.h"

#include <math.h>
#include <string.h>

#define REST_ITERATIONS 400
/* the seating may move the carrier this many times its length scale before it counts as lost */
#define REST_LOST 10.0

/* energy at v; the loads are those that tw_seat_residual just left in `w` */
static double energy(const tw_seat_model *m, const tw_seat_work *w, const double *v)
{
  double e = 0.0;
  for (size_t k = 0; k < SEAT_ALL; k++) {
    e -= m->load[k] * v[k];
  }
  for (size_t i = 0; i < m->grouped; i++) {
    /* load' C load / 2 = load . compression / 2 on the loaded set */
    if (w->load[i] != 0.0) {
      double c = m->contact[i].start;
      for (size_t k = 0; k < SEAT_ALL; k++) {
        c -= m->contact[i].row[k] * v[k];
      }
      e += 0.5 * w->load[i] * c;
    }
  }
  for (size_t i = m->grouped; i < m->contacts; i++) {
    e += 0.5 * w->load[i] * w->load[i] / m->contact[i].stiffness;
  }
  for (size_t j = 0; j < m->springs; j++) {
    double s = 0.0, rate, part;
    for (size_t k = 0; k < SEAT_DOF; k++) {
      s += m->spring[j].row[k] * v[k];
    }
    (void)tw_seat_spring_force(&m->spring[j], s, &rate, &part);
    e += part;
  }
  return e;
}

static double size_of(const double *a, size_t n)
{
  double s = 0.0;
  for (size_t i = 0; i < n; i++) {
    s = a[i] * a[i] + s;
  }
  return sqrt(s);
}

static void add_spring(double *k, double *f, double rate, double force, const double *row)
{
  for (size_t a = 0; a < SEAT_ALL; a++) {
    f[a] += force * row[a];
    for (size_t b = 0; b < SEAT_ALL; b++) {
      k[a * SEAT_ALL + b] += rate * row[a] * row[b];
    }
  }
}

/* unknowns past n stay where they are */
static void hold_rest(double *k, double *f, size_t n)
{
  for (size_t a = n; a < SEAT_ALL; a++) {
    for (size_t b = 0; b < SEAT_ALL; b++) {
      k[a * SEAT_ALL + b] = k[b * SEAT_ALL + a] = 0.0;
    }
    k[a * SEAT_ALL + a] = 1.0;
    f[a] = 0.0;
  }
}

/* Start: every contact holds and pulls like a spring of its own (the group by the diagonal of its
 * compliance); near the answer whenever the seat closes at all. */
static void bilateral_start(const tw_seat_model *m, size_t n, double *v)
{
  double k[SEAT_ALL * SEAT_ALL] = {0}, f[SEAT_ALL], diagonal = 0.0;
  memset(v, 0, SEAT_ALL * sizeof *v);
  memcpy(f, m->load, sizeof f);
  for (size_t i = 0; i < m->contacts; i++) {
    const seat_contact *c = &m->contact[i];
    const double s = i < m->grouped ? 1.0 / m->compliance[i * m->grouped + i] : c->stiffness;
    add_spring(k, f, s, s * c->start, c->row);
  }
  for (size_t j = 0; j < m->springs; j++) {
    double row[SEAT_ALL] = {0}, rate, part;
    const double force = tw_seat_spring_force(&m->spring[j], 0.0, &rate, &part);
    memcpy(row, m->spring[j].row, sizeof m->spring[j].row);
    add_spring(k, f, rate, force, row);
  }
  for (size_t a = 0; a < SEAT_ALL; a++) {
    diagonal = fmax(diagonal, k[a * SEAT_ALL + a]);
  }
  hold_rest(k, f, n);
  for (size_t a = 0; a < SEAT_ALL; a++) {
    k[a * SEAT_ALL + a] += 1e-9 * diagonal;
  }
  if (tw_seat_lu_solve(SEAT_ALL, k, f)) {
    memcpy(v, f, SEAT_ALL * sizeof *v);
  }
}

/* one step down the energy: false when no step of any length goes down */
static bool step_down(const tw_seat_model *m, tw_seat_work *w, const seat_drive *free_tip, size_t n,
                      double *shift, double *v, double *residual, double *jacobian)
{
  const double e0 = energy(m, w, v);
  double diagonal = 0.0;
  for (size_t a = 0; a < n; a++) {
    diagonal = fmax(diagonal, jacobian[a * SEAT_ALL + a]);
  }
  diagonal = diagonal > 0.0 ? diagonal : m->stiffness_scale;
  for (int attempt = 0; attempt < 40; attempt++) {
    double k[SEAT_ALL * SEAT_ALL], step[SEAT_ALL], trial[SEAT_ALL], r[SEAT_ALL];
    memcpy(k, jacobian, sizeof k);
    memcpy(step, residual, sizeof step);
    for (size_t a = 0; a < SEAT_ALL; a++) {
      k[a * SEAT_ALL + a] += *shift * diagonal;
    }
    hold_rest(k, step, n);
    double slope = 0.0;
    if (tw_seat_lu_solve(SEAT_ALL, k, step)) {
      for (size_t a = 0; a < n; a++) {
        slope += step[a] * residual[a];
      }
    }
    if (slope > 0.0) {
      double s = 1.0;
      for (int cut = 0; cut < 4; cut++, s *= 0.5) {
        for (size_t a = 0; a < SEAT_ALL; a++) {
          trial[a] = v[a] + s * step[a];
        }
        if (!tw_seat_residual(m, w, free_tip, trial, 0.0, r)) {
          return false;
        }
        /* near the end the energy cannot be told apart any more; then a smaller residual will do */
        const double e = energy(m, w, trial), noise = 1e-14 * fabs(e0);
        if (e <= e0 - 1e-4 * s * slope ||
            (e <= e0 + noise && size_of(r, n) < size_of(residual, n))) {
          memcpy(v, trial, sizeof trial);
          *shift = fmax(*shift * 0.1, 1e-12);
          return true;
        }
      }
    }
    *shift = fmax(*shift * 10.0, 1e-12);
  }
  return false;
}

static tw_status lost(tw_fault *fault, const char *how)
{
  return tw_fail(fault, TW_NO_ANSWER, "preload",
                 "check preload and gravity: the seat must be pressed together, and contacts must "
                 "hold the carrier in every direction that is loaded",
                 "the preload cannot seat the carrier: %s", how);
}

tw_status tw_seat_find_rest(tw_seat_model *m, tw_seat_work *w, bool closing_free, tw_fault *fault)
{
  const size_t n = closing_free ? SEAT_ALL : SEAT_DOF;
  const seat_drive free_tip = {.wall = false, .friction = false};
  double v[SEAT_ALL], residual[SEAT_ALL], jacobian[SEAT_ALL * SEAT_ALL], shift = 1e-12;
  bilateral_start(m, n, v);
  w->now.set = tw_seat_group_glued(m);
  for (int it = 0; it < REST_ITERATIONS; it++) {
    if (!tw_seat_residual(m, w, &free_tip, v, 0.0, residual)) {
      return lost(fault, "the disc's compliance is not positive definite");
    }
    tw_seat_jacobian(m, w, &free_tip, jacobian);
    double size = 0.0, far = 0.0;
    for (size_t a = 0; a < n; a++) {
      size = fmax(size, fabs(residual[a]));
      far = fmax(far, fabs(v[a]));
    }
    if (!isfinite(size) || far > REST_LOST * m->length) {
      return lost(fault, "it moves away without end");
    }
    if (size <= SEAT_RESIDUAL * m->force_scale + SEAT_ROUNDING * m->stiffness_scale * far) {
      memcpy(w->now.v, v, sizeof v);
      w->residual = size;
      return TW_OK;
    }
    if (!step_down(m, w, &free_tip, n, &shift, v, residual, jacobian)) {
      break;
    }
  }
  return lost(fault, "no balance was found");
}
