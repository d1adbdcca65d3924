/* points.c: charge and compliance of point loads. Source: docs/models/disc.md, points. */
#include "solved.h"

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
  double soft; /* 1/sqrt(8 pi D*) */
} spot;

/* for one harmonic: deflection at every pair of points, from the columns of the nodes they use */
typedef struct column_set {
  int *node_of; /* nodes that carry a point, ascending */
  int nodes;
  int *slot;      /* node -> place in node_of, or -1 */
  double *column; /* (2 nodes) x (2 nodes): w and w' at used nodes per unit load on w or w' */
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
    spots[i].element = tw_mesh_shape(&s->mesh, radius[i], spots[i].shape, NULL);
    const tw_zone *zone = tw_laminate_zone(&d->lam, radius[i]);
    spots[i].soft = 1.0 / sqrt(8.0 * TW_DISC_PI * zone->dstar);
  }
}

static tw_status column_set_new(const tw_statics *s, size_t n, const spot *spots, column_set *c)
{
  memset(c, 0, sizeof *c);
  const size_t all = (size_t)s->mesh.nodes;
  c->slot = tw_alloc(all, sizeof *c->slot);
  c->node_of = tw_alloc(all, sizeof *c->node_of);
  if (c->slot == NULL || c->node_of == NULL) {
    return TW_NO_MEMORY;
  }
  for (size_t i = 0; i < n; i++) {
    for (int end = 0; end < 2; end++) {
      /* a point on a node needs only that node */
      if (spots[i].shape[2 * end] != 0.0 || spots[i].shape[2 * end + 1] != 0.0) {
        c->slot[spots[i].element + end] = 1;
      }
    }
  }
  for (int i = 0; i < s->mesh.nodes; i++) {
    if (c->slot[i] != 0) {
      c->node_of[c->nodes] = i;
      c->slot[i] = c->nodes++;
    } else {
      c->slot[i] = -1;
    }
  }
  const size_t side = 2 * (size_t)c->nodes;
  c->column = tw_alloc(side * side, sizeof *c->column);
  return c->column == NULL ? TW_NO_MEMORY : TW_OK;
}

static void column_set_free(column_set *c)
{
  tw_free(c->slot);
  tw_free(c->node_of);
  tw_free(c->column);
}

/* a slope column is needed only where a point stands between nodes */
static void fill_columns(tw_statics *s, column_set *c, const bool *needs_slope)
{
  const int per = tw_ring_per_node(s->n), side = 2 * c->nodes;
  for (int j = 0; j < side; j++) {
    double *out = c->column + (size_t)j * (size_t)side;
    if (j % 2 == 1 && !needs_slope[c->node_of[j / 2]]) {
      memset(out, 0, (size_t)side * sizeof *out);
      continue;
    }
    const int unknown = c->node_of[j / 2] * per + j % 2;
    tw_statics_clear(s);
    s->x[unknown] = 1.0;
    tw_statics_solve(s, unknown);
    for (int i = 0; i < c->nodes; i++) {
      out[2 * i] = s->x[c->node_of[i] * per];
      out[2 * i + 1] = s->x[c->node_of[i] * per + 1];
    }
  }
}

static double pair_of(const column_set *c, const spot *a, const spot *b)
{
  const int side = 2 * c->nodes;
  double sum = 0.0;
  for (int j = 0; j < 4; j++) {
    const int slot_b = c->slot[b->element + j / 2];
    if (b->shape[j] == 0.0 || slot_b < 0) {
      continue;
    }
    const double *column = c->column + (size_t)(2 * slot_b + j % 2) * (size_t)side;
    for (int i = 0; i < 4; i++) {
      const int slot_a = c->slot[a->element + i / 2];
      if (a->shape[i] != 0.0 && slot_a >= 0) {
        sum += b->shape[j] * a->shape[i] * column[2 * slot_a + i % 2];
      }
    }
  }
  return sum;
}

static tw_status sum_harmonics(tw_statics *s, column_set *c, size_t n, const spot *spots,
                               const bool *needs_slope, double *out)
{
  for (int h = 0; h <= TW_DISC_HARMONICS; h++) {
    if (!tw_statics_harmonic(s, h)) {
      return TW_NO_ANSWER;
    }
    fill_columns(s, c, needs_slope);
    for (size_t i = 0; i < n; i++) {
      for (size_t j = 0; j <= i; j++) {
        const double angle = spots[i].azimuth - spots[j].azimuth;
        out[i * n + j] += pair_of(c, &spots[i], &spots[j]) * cos(h * angle);
      }
    }
  }
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++) {
      const double angle = spots[i].azimuth - spots[j].azimuth;
      out[i * n + j] +=
          spots[i].soft * spots[j].soft * tail(spots[i].radius, spots[j].radius, angle);
    }
  }
  return TW_OK;
}

static tw_status bending_compliance(const tw_disc *d, size_t n, const double *radius,
                                    const double *azimuth, double *out)
{
  tw_statics s;
  column_set c = {0};
  tw_status status =
      tw_statics_new(&d->lam, &d->hold, tw_fineness_graded(&d->lam, &d->hold), radius, n, &s);
  spot *spots = tw_alloc(n, sizeof *spots);
  bool *needs_slope = status == TW_OK ? tw_alloc((size_t)s.mesh.nodes, sizeof(bool)) : NULL;
  if (status == TW_OK && spots != NULL && needs_slope != NULL) {
    find_spots(d, &s, n, radius, azimuth, spots);
    for (size_t i = 0; i < n; i++) {
      for (int end = 0; end < 2; end++) {
        if (spots[i].shape[2 * end + 1] != 0.0) {
          needs_slope[spots[i].element + end] = true;
        }
      }
    }
    status = column_set_new(&s, n, spots, &c);
  } else {
    status = TW_NO_MEMORY;
  }
  if (status == TW_OK) {
    status = sum_harmonics(&s, &c, n, spots, needs_slope, out);
  }
  column_set_free(&c);
  tw_free(needs_slope);
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
