#include "modes.h"
#include "tripwright/constants.h"

#include <string.h>

typedef struct modal {
  tw_mesh mesh;
  tw_ring_set set;
  tw_band k, m;  /* k is factored with the shift in it */
  double *store; /* all vectors and both matrices */
  double *p, *z; /* voltage coupling and k^-1 p */
  double *x, *y, *my;
  double *found; /* (TW_DISC_MODES + 1) vectors m x, with x beside them */
  double shift, open, pz;
  int *held;
  int size, count;
} modal;

static void modal_free(modal *s)
{
  tw_ring_set_free(&s->set);
  tw_mesh_free(&s->mesh);
  tw_free(s->store);
  tw_free(s->held);
}

static double dot(int n, const double *a, const double *b)
{
  double sum = 0.0;
  for (int i = 0; i < n; i++) {
    sum += a[i] * b[i];
  }
  return sum;
}

static tw_status modal_new(const tw_laminate *lam, const tw_hold *hold, tw_mode_ask ask, modal *s)
{
  memset(s, 0, sizeof *s);
  if (tw_mesh_new(lam, hold, tw_fineness_even(lam, hold, ask.elements), &ask.radius,
                  ask.mass > 0.0 ? 1 : 0, &s->mesh) != TW_OK ||
      tw_ring_set_new(lam, hold, &s->mesh, 0, &s->set) != TW_OK) {
    return TW_NO_MEMORY;
  }
  s->size = s->mesh.nodes * 3;
  const int width = tw_ring_width(0);
  const size_t band = tw_band_length(s->size, width), n = (size_t)s->size;
  s->store = tw_alloc(2 * band + n * (5 + 2 * (TW_DISC_MODES + 1)), sizeof(double));
  s->held = tw_alloc(n * 4 / 3, sizeof *s->held);
  if (s->store == NULL || s->held == NULL) {
    return TW_NO_MEMORY;
  }
  s->k = (tw_band){s->size, width, s->store};
  s->m = (tw_band){s->size, width, s->store + band};
  s->p = s->store + 2 * band;
  s->z = s->p + n;
  s->x = s->z + n;
  s->y = s->x + n;
  s->my = s->y + n;
  s->found = s->my + n;
  return TW_OK;
}

/* a ring mass moves with w(radius) */
static void add_mass(modal *s, double mass, double radius)
{
  double v[4];
  const int e = tw_mesh_shape(&s->mesh, radius, v, NULL);
  const int at[4] = {3 * e, 3 * e + 1, 3 * e + 3, 3 * e + 4};
  for (int i = 0; i < 4; i++) {
    for (int j = 0; j <= i; j++) {
      *tw_band_at(&s->m, at[i], at[j]) += mass * v[i] * v[j];
    }
  }
}

/* m-normalise x and keep it among those that later ones must be orthogonal to */
static void keep(modal *s)
{
  tw_band_times(&s->m, s->x, s->my);
  const double norm = 1.0 / sqrt(dot(s->size, s->x, s->my));
  double *x = s->found + 2 * (size_t)s->count * (size_t)s->size, *mx = x + s->size;
  for (int i = 0; i < s->size; i++) {
    x[i] = norm * s->x[i];
    mx[i] = norm * s->my[i];
  }
  s->count++;
}

static void clean(modal *s, double *x)
{
  for (int c = 0; c < s->count; c++) {
    const double *old = s->found + 2 * (size_t)c * (size_t)s->size, *mold = old + s->size;
    const double part = dot(s->size, mold, x);
    for (int i = 0; i < s->size; i++) {
      x[i] -= part * old[i];
    }
  }
}

/* y = (k + shift m + p p'/c)^-1 y */
static void invert(modal *s, double *y)
{
  tw_band_solve(&s->k, y, 0);
  if (isfinite(s->open)) {
    const double part = dot(s->size, s->p, y) / (s->open + s->pz);
    for (int i = 0; i < s->size; i++) {
      y[i] -= part * s->z[i];
    }
  }
}

/* inverse iteration; true when the eigenvalue has settled */
static bool iterate(modal *s, double *lambda)
{
  double before = 0.0;
  for (int i = 0; i < s->size; i++) {
    s->x[i] = 1.0 / (1.0 + 0.37 * i); /* no symmetry that could miss a mode */
  }
  for (int round = 0; round < 3000; round++) {
    clean(s, s->x);
    tw_band_times(&s->m, s->x, s->my);
    memcpy(s->y, s->my, (size_t)s->size * sizeof *s->y);
    invert(s, s->y);
    const double top = dot(s->size, s->y, s->my);
    tw_band_times(&s->m, s->y, s->my);
    const double below = dot(s->size, s->y, s->my);
    const double value = top / below, scale = 1.0 / sqrt(below);
    for (int i = 0; i < s->size; i++) {
      s->x[i] = scale * s->y[i];
    }
    *lambda = value - s->shift;
    if (fabs(value - before) <= 1e-12 * fabs(value)) {
      return isfinite(value);
    }
    before = value;
  }
  return false;
}

/* How far the eigenvalues are moved before inverting. A floating disc needs it up, of the order of
 * its first resonance, to be safe to factor; on an elastic bed all of them lie above
 * (bed stiffness)/(mass per area), close together: moved down they part faster. */
static double choose_shift(const tw_laminate *lam, const tw_hold *hold, bool down)
{
  const tw_zone *z = &lam->zone[0];
  if (hold->bed > 0.0) {
    double heaviest = 0.0;
    for (int i = 0; i < lam->count; i++) {
      heaviest = fmax(heaviest, lam->zone[i].m0);
    }
    return down ? -0.95 * hold->bed / heaviest : 0.0;
  }
  return hold->support < 0.0 ? 81.0 * z->dstar / (z->m0 * pow(hold->outer, 4.0)) : 0.0;
}

static bool prepare(modal *s, const tw_laminate *lam, const tw_hold *hold, tw_mode_ask ask,
                    bool down)
{
  tw_ring_assemble(&s->set, 0, &s->k, &s->m);
  if (ask.mass > 0.0) {
    add_mass(s, ask.mass, ask.radius);
  }
  int *held = s->held;
  const int count = tw_ring_held(&s->set, 0, held);
  tw_ring_voltage(&s->set, s->p);
  const bool floats = hold->support < 0.0 && hold->bed <= 0.0;
  s->shift = choose_shift(lam, hold, down);
  if (s->shift != 0.0) {
    for (size_t i = 0; i < tw_band_length(s->size, s->k.width); i++) {
      s->k.a[i] += s->shift * s->m.a[i];
    }
  }
  for (int i = 0; i < count; i++) {
    tw_band_fix(&s->k, held[i]);
    tw_band_fix(&s->m, held[i]);
    *tw_band_at(&s->m, held[i], held[i]) = 0.0;
    s->p[held[i]] = 0.0;
  }
  s->open = ask.capacitance;
  if (!tw_band_factor(&s->k)) {
    return false;
  }
  memcpy(s->z, s->p, (size_t)s->size * sizeof *s->z);
  tw_band_solve(&s->k, s->z, 0);
  s->pz = dot(s->size, s->p, s->z);
  if (floats) {
    for (int i = 0; i < s->size; i++) {
      s->x[i] = i % 3 == 0;
    }
    keep(s);
  }
  return true;
}

tw_status tw_modes_find(const tw_laminate *lam, const tw_hold *hold, tw_mode_ask ask,
                        double hertz[TW_DISC_MODES], tw_fault *fault)
{
  modal s;
  tw_status status = modal_new(lam, hold, ask, &s);
  if (status != TW_OK) {
    modal_free(&s);
    return tw_fail(fault, status, "", "", "no memory for the resonances of the disc");
  }
  /* a heavy carrier lies below the bed's own band: then without the shift */
  bool settled = prepare(&s, lam, hold, ask, true) || prepare(&s, lam, hold, ask, false);
  for (int i = 0; i < ask.count && settled; i++) {
    double lambda = 0.0;
    settled = iterate(&s, &lambda) && lambda > 0.0;
    if (settled) {
      hertz[i] = sqrt(lambda) / (2.0 * TW_PI);
      keep(&s);
    }
  }
  modal_free(&s);
  if (!settled) {
    return tw_fail(fault, TW_NO_ANSWER, "support.kind", "check the disc's thicknesses and support",
                   "the resonance of the disc was not found");
  }
  return TW_OK;
}
