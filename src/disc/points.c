/* points.c: charge and compliance of point loads. Source: docs/models/disc.md, points. */
#include "solved.h"
#include "tripwright/constants.h"

#include <string.h>

#define FIRST_TAIL (TW_DISC_HARMONICS + 1)

static tw_status check_points(const tw_disc *d, size_t n, const double *radius,
                              const double *azimuth, tw_fault *fault)
{
  for (size_t i = 0; i < n; i++) {
    const tw_status status = tw_disc_can_carry(d, radius[i], fault);
    if (status != TW_OK) {
      return status;
    }
    if (!isfinite(azimuth[i])) {
      return tw_fail(fault, TW_BAD_INPUT, "seat.contact", "give azimuths in degrees",
                     "the azimuth of a contact is not a number");
    }
  }
  return TW_OK;
}

/* deflection towards the ceramic per volt at a point, squeeze left out */
static double influence_at(const tw_disc *d, double radius, double azimuth)
{
  double slope;
  const double g = tw_disc_bend(d, radius, &slope);
  if (d->shift.value == NULL) {
    return g;
  }
  const double first = tw_profile_at(&d->shift, radius, NULL) + slope;
  return g +
         d->spec.ceramic_eccentricity * first * cos(azimuth - d->spec.ceramic_eccentricity_azimuth);
}

tw_status tw_disc_charge(const tw_disc *d, size_t n, const double *radius, const double *azimuth,
                         double *charge, tw_fault *fault)
{
  memset(charge, 0, n * sizeof *charge);
  const tw_status status = check_points(d, n, radius, azimuth, fault);
  if (status != TW_OK || d->spec.ceramic_thickness <= 0.0) {
    return status;
  }
  for (size_t i = 0; i < n; i++) {
    const double squeeze =
        d->spec.support == TW_DISC_FLAT ? -d->side * tw_disc_swell(d, radius[i]) : 0.0;
    charge[i] = tw_disc_turn(d) * (influence_at(d, radius[i], azimuth[i]) + squeeze);
  }
  return TW_OK;
}

/* ---- compliance ---------------------------------------------------------------------------- */

/* where a point stands in the mesh, and its share of the closed tail */
typedef struct spot {
  double radius, azimuth;
  int element;
  double shape[4];
  int parts, slot[4]; /* the unknowns that move it, among those in use, with their shares */
  double share[4];
  double soft; /* 1/sqrt(8 pi D*) */
} spot;

/* For one harmonic K = L L': deflections at the unknowns (w, w') that the points use, per unit load
 * on each of them, are e_a' K^-1 e_b = y_a . y_b with y = L^-1 e. */
typedef struct column_set {
  int used;          /* unknowns in use, from the axis outwards */
  int *node, *slope; /* used: node, and 1 for w' */
  int *slot;         /* 2 a node: place among the used, or -1 */
  double *y;         /* unknowns x used: column j is zero above its own row */
  double *give;      /* used x used, lower triangle */
} column_set;

/* thin plate of rigidity D* without edges: r^2 t^n [1/(n(n-1)) - t^2/(n(n+1))] / (8 pi D*) */
static double free_harmonic(int n, double t, double tn)
{
  const double x = n;
  return tn * (1.0 / (x * (x - 1.0)) - t * t / (x * (x + 1.0)));
}

/* all harmonics from `FIRST_TAIL` up of the same plate, as the whole less the first ones */
static double tail(double ra, double rb, double angle)
{
  const double r = fmax(ra, rb), b = fmin(ra, rb);
  if (!(b > 0.0)) {
    return 0.0;
  }
  const double t = b / r, c = cos(angle);
  const double dd = 1.0 + t * t - 2.0 * t * c;
  double sum = (dd > 0.0 ? 0.5 * dd * log(dd) : 0.0) - t * t + (t + t * t * t / 2.0) * c;
  double tn = t, before = 1.0, now = c; /* cos((n-1) angle), cos(n angle) */
  for (int n = 2; n < FIRST_TAIL; n++) {
    const double next = 2.0 * c * now - before;
    before = now;
    now = next;
    tn *= t;
    sum -= free_harmonic(n, t, tn) * now;
  }
  return r * r * sum;
}

static void find_spots(const tw_disc *d, const tw_statics *s, size_t n, const double *radius,
                       const double *azimuth, spot *spots)
{
  for (size_t i = 0; i < n; i++) {
    spots[i].radius = radius[i];
    spots[i].azimuth = azimuth[i];
    spots[i].parts = 0;
    spots[i].element = tw_mesh_shape(&s->mesh, radius[i], spots[i].shape, NULL);
    const tw_zone *zone = tw_laminate_zone(&d->lam, radius[i]);
    spots[i].soft = 1.0 / sqrt(8.0 * TW_PI * zone->dstar);
  }
}

static tw_status column_set_new(const tw_statics *s, size_t n, const spot *spots, column_set *c)
{
  memset(c, 0, sizeof *c);
  const size_t all = 2 * (size_t)s->mesh.nodes;
  c->slot = tw_alloc(3 * all, sizeof *c->slot);
  if (c->slot == NULL) {
    return TW_NO_MEMORY;
  }
  c->node = c->slot + all;
  c->slope = c->node + all;
  for (size_t i = 0; i < n; i++) {
    for (int k = 0; k < 4; k++) { /* a point on a node needs only w of that node */
      if (spots[i].shape[k] != 0.0) {
        c->slot[2 * spots[i].element + k] = 1;
      }
    }
  }
  for (size_t i = 0; i < all; i++) {
    const bool used = c->slot[i] != 0;
    c->slot[i] = used ? c->used : -1;
    if (used) {
      c->node[c->used] = (int)(i / 2);
      c->slope[c->used++] = (int)(i % 2);
    }
  }
  c->y = tw_alloc((size_t)s->mesh.nodes * 4 * (size_t)c->used, sizeof *c->y);
  c->give = tw_alloc((size_t)c->used * (size_t)c->used, sizeof *c->give);
  return c->y == NULL || c->give == NULL ? TW_NO_MEMORY : TW_OK;
}

static void column_set_free(column_set *c)
{
  tw_free(c->slot);
  tw_free(c->y);
  tw_free(c->give);
}

static size_t row_of(const tw_statics *s, const column_set *c, int used)
{
  return (size_t)(c->node[used] * tw_ring_per_node(s->n) + c->slope[used]);
}

/* y[.] -= a x[.] */
static void take(double *restrict y, double a, const double *restrict x, size_t count)
{
  for (size_t c = 0; c < count; c++) {
    y[c] -= a * x[c];
  }
}

/* held unknowns do not move */
static bool is_held(const tw_statics *s, size_t row)
{
  for (int h = 0; h < s->held_count; h++) {
    if ((size_t)s->held[h] == row) {
      return true;
    }
  }
  return false;
}

/* give += y' y of one row, of which the first `count` columns are not zero */
static void add_row(column_set *c, const double *y, size_t count)
{
  for (size_t a = 0; a < count; a++) {
    double *restrict give = c->give + a * (size_t)c->used;
    for (size_t b = 0; b <= a; b++) {
      give[b] += y[a] * y[b];
    }
  }
}

/* all columns at once, row by row; a column begins at its own row */
static void fill_columns(const tw_statics *s, column_set *c)
{
  const size_t side = (size_t)c->used, first = row_of(s, c, 0), all = (size_t)s->k.size;
  const size_t w = (size_t)s->k.width, stride = w + 1;
  size_t begun = 0;
  memset(c->give, 0, side * side * sizeof *c->give);
  for (size_t i = first; i < all; i++) {
    const double *row = s->k.a + i * stride;
    double *mine = c->y + i * side;
    memset(mine, 0, side * sizeof *mine);
    if (begun < side && row_of(s, c, (int)begun) == i) {
      mine[begun++] = is_held(s, i) ? 0.0 : 1.0;
    }
    for (size_t j = i > first + w ? i - w : first; j < i; j++) {
      take(mine, row[j + w - i], c->y + j * side, begun);
    }
    for (size_t k = 0; k < begun; k++) {
      mine[k] /= row[w];
    }
    add_row(c, mine, begun);
  }
}

static void find_parts(const column_set *c, size_t n, spot *spots)
{
  for (size_t i = 0; i < n; i++) {
    for (int k = 0; k < 4; k++) {
      if (spots[i].shape[k] != 0.0) {
        spots[i].slot[spots[i].parts] = c->slot[2 * spots[i].element + k];
        spots[i].share[spots[i].parts++] = spots[i].shape[k];
      }
    }
  }
}

static double pair_of(const column_set *c, const spot *a, const spot *b)
{
  double sum = 0.0;
  for (int i = 0; i < a->parts; i++) {
    for (int j = 0; j < b->parts; j++) {
      const int low = a->slot[i] < b->slot[j] ? a->slot[i] : b->slot[j];
      const int high = a->slot[i] + b->slot[j] - low;
      sum += a->share[i] * b->share[j] * c->give[high * c->used + low];
    }
  }
  return sum;
}

/* cos(h angle) of every pair, stepped from one harmonic to the next */
typedef struct turns {
  double *twice, *before, *now;
} turns;

static void step_turns(turns *t, size_t pairs)
{
  for (size_t p = 0; p < pairs; p++) {
    const double next = t->twice[p] * t->now[p] - t->before[p];
    t->before[p] = t->now[p];
    t->now[p] = next;
  }
}

static void add_tail(size_t n, const spot *spots, double *out)
{
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++) {
      const double angle = spots[i].azimuth - spots[j].azimuth;
      out[i * n + j] +=
          spots[i].soft * spots[j].soft * tail(spots[i].radius, spots[j].radius, angle);
    }
  }
}

static tw_status sum_harmonics(tw_statics *s, column_set *c, size_t n, const spot *spots,
                               double *out)
{
  const size_t pairs = n * (n + 1) / 2;
  double *store = tw_alloc(3 * pairs, sizeof *store);
  if (store == NULL) {
    return TW_NO_MEMORY;
  }
  turns t = {store, store + pairs, store + 2 * pairs};
  for (size_t i = 0, p = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++, p++) {
      const double cosine = cos(spots[i].azimuth - spots[j].azimuth);
      t.twice[p] = 2.0 * cosine;
      t.before[p] = cosine;
      t.now[p] = 1.0;
    }
  }
  tw_status status = TW_OK;
  for (int h = 0; h <= TW_DISC_HARMONICS && status == TW_OK; h++) {
    if (tw_statics_harmonic(s, h)) {
      fill_columns(s, c);
      for (size_t i = 0, p = 0; i < n; i++) {
        for (size_t j = 0; j <= i; j++, p++) {
          out[i * n + j] += pair_of(c, &spots[i], &spots[j]) * t.now[p];
        }
      }
      step_turns(&t, pairs);
    } else {
      status = TW_NO_ANSWER;
    }
  }
  add_tail(n, spots, out);
  tw_free(store);
  return status;
}

static tw_status bending_compliance(const tw_disc *d, size_t n, const double *radius,
                                    const double *azimuth, double *out)
{
  tw_statics s;
  column_set c = {0};
  tw_status status = tw_statics_new(&d->lam, &d->hold, tw_fineness_graded(&d->lam, &d->hold),
                                    radius, n, TW_DISC_HARMONICS, &s);
  spot *spots = tw_alloc(n, sizeof *spots);
  if (status == TW_OK && spots != NULL) {
    find_spots(d, &s, n, radius, azimuth, spots);
    status = column_set_new(&s, n, spots, &c);
  } else {
    status = TW_NO_MEMORY;
  }
  if (status == TW_OK) {
    find_parts(&c, n, spots);
    status = sum_harmonics(&s, &c, n, spots, out);
  }
  column_set_free(&c);
  tw_free(spots);
  tw_statics_free(&s);
  return status;
}

/* flat on a rigid face: each point presses into the disc's own thickness, a plate on the bed that
 * this thickness makes; 1/(8 sqrt(k D)), and nothing at the neighbours a few thicknesses off */
static void flat_compliance(const tw_disc *d, size_t n, const double *radius, double *out)
{
  for (size_t i = 0; i < n; i++) {
    const tw_zone *z = tw_laminate_zone(&d->lam, radius[i]);
    double give = 0.0;
    for (int l = 0; l < z->layers; l++) {
      const tw_layer *layer = &z->layer[l];
      const double modulus = layer->name == TW_DISC_LAYER_CERAMIC
                                 ? d->lam.reduced.c33
                                 : layer->q11 / (1.0 - layer->squeeze * layer->squeeze);
      give += (layer->z1 - layer->z0) / modulus;
    }
    out[i * n + i] = 1.0 / (8.0 * sqrt(z->dstar / give));
  }
}

tw_status tw_disc_compliance(const tw_disc *d, size_t n, const double *radius,
                             const double *azimuth, double outside_capacitance, double *out,
                             tw_fault *fault)
{
  memset(out, 0, n * n * sizeof *out);
  tw_status status = check_points(d, n, radius, azimuth, fault);
  if (status != TW_OK || n == 0) {
    return status;
  }
  if (!(outside_capacitance >= 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.kind", "give a capacitance of zero or more",
                   "the capacitance on the disc is %g F", outside_capacitance);
  }
  if (d->lies) {
    flat_compliance(d, n, radius, out);
  } else {
    status = bending_compliance(d, n, radius, azimuth, out);
  }
  if (status != TW_OK) {
    return status == TW_NO_MEMORY
               ? tw_fail(fault, status, "", "", "no memory for the compliance of the disc")
               : tw_fail(fault, status, "support.kind", "check thicknesses and support",
                         "the equations of the loaded disc have no solution");
  }
  /* the voltage that a load makes pushes back: c - g g'/C */
  const double whole = d->mounted + outside_capacitance;
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++) {
      if (isfinite(whole) && d->mounted > 0.0 && !d->lies) {
        out[i * n + j] -=
            influence_at(d, radius[i], azimuth[i]) * influence_at(d, radius[j], azimuth[j]) / whole;
      }
      out[j * n + i] = out[i * n + j];
    }
  }
  return TW_OK;
}

tw_status tw_disc_points(const void *view, size_t n, const double *radius, const double *azimuth,
                         double *compliance, double *charge, tw_fault *fault)
{
  const tw_disc_view *v = view;
  const tw_status status = tw_disc_charge(v->disc, n, radius, azimuth, charge, fault);
  return status != TW_OK ? status
                         : tw_disc_compliance(v->disc, n, radius, azimuth, v->outside_capacitance,
                                              compliance, fault);
}
