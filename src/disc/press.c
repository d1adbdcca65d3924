/* press.c: a ring load on a disc over a void with a one-sided backing: the complementarity
 * 0 <= contact force, 0 <= gap, their product zero, on the nodes of the ring elements.
 * Source: docs/models/disc.md, void. */
#include "solved.h"
#include "tripwright/constants.h"
#include "tripwright/numerics.h"

#include <string.h>

#define NO_BACKING       1.0 /* m: further than any disc can bend */
#define BACKING_ELEMENTS 64

struct tw_backing {
  tw_statics s; /* n = 0, factored; its x is not used after building */
  int count;
  int *node;
  double *radius, *gap, *influence; /* count */
  double *give;                     /* count: of the floor under the node's ring, m/N */
  double *c;                        /* count x count, short circuit */
};

double tw_disc_gap(const tw_disc *d, double radius)
{
  const tw_disc_spec *s = &d->spec;
  const double reach = s->void_radius > 0.0 ? s->void_radius : d->hold.support;
  if (s->void_depth <= 0.0 || d->hold.support <= 0.0 || radius > reach) {
    return NO_BACKING;
  }
  return radius <= s->ceramic_radius ? s->void_depth - tw_disc_into_void(s) : s->void_depth;
}

void tw_backing_free(tw_backing *b)
{
  if (b != NULL) {
    tw_statics_free(&b->s);
    tw_free(b->node);
    tw_free(b->radius);
    tw_free(b->c);
    tw_free(b);
  }
}

/* the floor under the ring of disc that belongs to a node */
static double floor_give(const tw_disc *d, const tw_mesh *mesh, int i)
{
  const double r = mesh->radius[i];
  const double in = i > 0 ? (r + mesh->radius[i - 1]) / 2.0 : r;
  const double out = (r + mesh->radius[i + 1]) / 2.0;
  const double k = d->spec.backing_stiffness;
  return k > 0.0 ? 1.0 / (k * TW_PI * (out * out - in * in)) : 0.0;
}

/* nodes that can touch: under the void, off the support */
static void find_candidates(const tw_disc *d, tw_backing *b)
{
  const tw_mesh *mesh = &b->s.mesh;
  for (int i = 0; i < mesh->nodes; i++) {
    const double r = mesh->radius[i];
    const bool held = fabs(r - d->hold.support) <= 1e-9 * r;
    if (!held && r < d->hold.support && tw_disc_gap(d, r) < NO_BACKING) {
      b->node[b->count] = i;
      b->radius[b->count] = r;
      b->gap[b->count] = tw_disc_gap(d, r);
      b->influence[b->count] = tw_disc_bend(d, r, NULL);
      b->give[b->count++] = floor_give(d, mesh, i);
    }
  }
}

static tw_status build(tw_disc *d, tw_backing *b)
{
  const tw_status status =
      tw_statics_new(&d->lam, &d->hold, tw_fineness_even(&d->lam, &d->hold, BACKING_ELEMENTS),
                     &d->spec.contact_radius, 1, 0, &b->s);
  if (status != TW_OK) {
    return status;
  }
  const size_t nodes = (size_t)b->s.mesh.nodes;
  b->node = tw_alloc(nodes, sizeof *b->node);
  b->radius = tw_alloc(4 * nodes, sizeof *b->radius);
  if (b->node == NULL || b->radius == NULL) {
    return TW_NO_MEMORY;
  }
  b->gap = b->radius + nodes;
  b->influence = b->gap + nodes;
  b->give = b->influence + nodes;
  find_candidates(d, b);
  const size_t m = (size_t)b->count;
  b->c = tw_alloc(m * m, sizeof *b->c);
  if (b->c == NULL) {
    return TW_NO_MEMORY;
  }
  if (!tw_statics_harmonic(&b->s, 0)) {
    return TW_NO_ANSWER;
  }
  for (size_t j = 0; j < m; j++) {
    tw_statics_clear(&b->s);
    b->s.x[3 * b->node[j]] = 1.0;
    tw_statics_solve(&b->s, 3 * b->node[j]);
    for (size_t i = 0; i < m; i++) {
      b->c[i * m + j] = b->s.x[3 * b->node[i]];
    }
  }
  return TW_OK;
}

tw_status tw_backing_new(tw_disc *d)
{
  d->backing = tw_alloc(1, sizeof *d->backing);
  return d->backing == NULL ? TW_NO_MEMORY : build(d, d->backing);
}

/* ---- the contact problem ------------------------------------------------------------------- */

typedef struct press {
  const tw_disc *d;
  const tw_backing *b;
  size_t m;
  double *store;
  double *column; /* m: deflection at the candidates per newton of load */
  double *rate;   /* m: change of the contact forces per newton */
  double *lambda; /* m */
  double *matrix; /* active x active */
  int *active;
  bool *touching;
  size_t touches;
  double own, influence; /* at the load: deflection and volts per newton and volt */
  double softening;      /* 1/C of the open state, 0 when short */
} press;

/* compliance between candidates in the electrical state asked for */
static double between(const press *p, size_t i, size_t j)
{
  return p->b->c[i * p->m + j] - p->softening * p->b->influence[i] * p->b->influence[j];
}

/* the same with the floor's own give where i and j are one */
static double floor_and_disc(const press *p, size_t i, size_t j)
{
  return between(p, i, j) + (i == j ? p->b->give[i] : 0.0);
}

/* a = l l' of the touching ones */
static bool factor_active(press *p)
{
  for (size_t i = 0; i < p->touches; i++) {
    for (size_t j = 0; j <= i; j++) {
      p->matrix[i * p->m + j] = floor_and_disc(p, (size_t)p->active[i], (size_t)p->active[j]);
    }
  }
  return tw_cholesky(p->touches, p->matrix, p->m);
}

static void solve_active(const press *p, double *x)
{
  tw_cholesky_solve(p->touches, p->matrix, p->m, x);
}

/* gap left at candidate i under the load and the contact forces */
static double gap_left(const press *p, size_t i, double force)
{
  double w = p->column[i] * force;
  for (size_t a = 0; a < p->touches; a++) {
    w -= between(p, i, (size_t)p->active[a]) * p->lambda[a];
  }
  return p->b->gap[i] - w;
}

static bool solve_touching(press *p, double force)
{
  p->touches = 0;
  for (size_t i = 0; i < p->m; i++) {
    if (p->touching[i]) {
      p->active[p->touches++] = (int)i;
    }
  }
  if (!factor_active(p)) {
    return false;
  }
  for (size_t a = 0; a < p->touches; a++) {
    const size_t i = (size_t)p->active[a];
    p->lambda[a] = p->column[i] * force - p->b->gap[i];
    p->rate[a] = p->column[i];
  }
  solve_active(p, p->lambda);
  solve_active(p, p->rate);
  return true;
}

/* block principal pivoting: flip all that are wrong, or only the last one when that does not help
 * (then it must end: the matrix is positive definite) */
static bool pivot(press *p, double force)
{
  size_t best = p->m + 1;
  int patience = 10;
  for (int round = 0; round < 2000; round++) {
    if (!solve_touching(p, force)) {
      return false;
    }
    size_t wrong = 0, last = 0, a = 0;
    bool *flip = p->touching + p->m;
    for (size_t i = 0; i < p->m; i++) {
      flip[i] = p->touching[i] ? p->lambda[a++] < -1e-12 * force
                               : gap_left(p, i, force) < -1e-10 * p->b->gap[i];
      if (flip[i]) {
        wrong++;
        last = i;
      }
    }
    if (wrong == 0) {
      return true;
    }
    if (wrong < best) {
      best = wrong;
      patience = 10;
    } else if (patience > 0) {
      patience--;
    }
    for (size_t i = 0; i < p->m; i++) {
      if (flip[i] && (patience > 0 || i == last)) {
        p->touching[i] = !p->touching[i];
      }
    }
  }
  return false;
}

/* the load's column, from the kept factor, without touching the shared state */
static void load_column(press *p, double radius, double *x)
{
  const tw_statics *s = &p->b->s;
  double v[4];
  const int e = tw_mesh_shape(&s->mesh, radius, v, NULL);
  memset(x, 0, (size_t)s->k.size * sizeof *x);
  x[3 * e] = v[0];
  x[3 * e + 1] = v[1];
  x[3 * e + 3] = v[2];
  x[3 * e + 4] = v[3];
  for (int i = 0; i < s->held_count; i++) {
    x[s->held[i]] = 0.0;
  }
  tw_band_solve(&s->k, x, 0);
  p->own = v[0] * x[3 * e] + v[1] * x[3 * e + 1] + v[2] * x[3 * e + 3] + v[3] * x[3 * e + 4];
  p->own -= p->softening * p->influence * p->influence;
  for (size_t i = 0; i < p->m; i++) {
    p->column[i] = x[3 * p->b->node[i]] - p->softening * p->influence * p->b->influence[i];
  }
}

static tw_status press_new(const tw_disc *d, double radius, double outside, press *p)
{
  memset(p, 0, sizeof *p);
  p->d = d;
  p->b = d->backing;
  p->m = (size_t)d->backing->count;
  p->influence = tw_disc_bend(d, radius, NULL);
  p->softening = d->mounted > 0.0 && isfinite(outside) ? 1.0 / (d->mounted + outside) : 0.0;
  const size_t m = p->m;
  p->store = tw_alloc(m * (m + 3) + (size_t)p->b->s.k.size, sizeof *p->store);
  p->active = tw_alloc(m, sizeof *p->active);
  p->touching = tw_alloc(2 * m, sizeof *p->touching);
  if (p->store == NULL || p->active == NULL || p->touching == NULL) {
    return TW_NO_MEMORY;
  }
  p->column = p->store;
  p->rate = p->column + m;
  p->lambda = p->rate + m;
  p->matrix = p->lambda + m;
  load_column(p, radius, p->matrix + m * m);
  return TW_OK;
}

static void press_free(press *p)
{
  tw_free(p->store);
  tw_free(p->active);
  tw_free(p->touching);
}

static void report(const press *p, double radius, double force, tw_disc_backed *out)
{
  const tw_disc *d = p->d;
  const double turn = tw_disc_turn(d), squeeze = -d->side * tw_disc_swell(d, radius);
  double bend = p->influence * force, rate = p->influence;
  out->deflection = p->own * force;
  out->slope = p->own;
  out->clearance = NO_BACKING;
  double squeezed = 0.0, squeeze_rate = 0.0;
  for (size_t a = 0; a < p->touches; a++) {
    const size_t i = (size_t)p->active[a];
    bend -= p->b->influence[i] * p->lambda[a];
    rate -= p->b->influence[i] * p->rate[a];
    out->deflection -= p->column[i] * p->lambda[a];
    out->slope -= p->column[i] * p->rate[a];
    squeezed += p->lambda[a];
    squeeze_rate += p->rate[a];
    if (a == 0) {
      out->inner = p->b->radius[i];
    }
    out->outer = p->b->radius[i];
  }
  out->backing_force = squeezed;
  out->charge = turn * (bend + squeeze * squeezed);
  out->charge_slope = turn * (rate + squeeze * squeeze_rate);
  for (size_t i = 0; i < p->m; i++) {
    out->clearance = fmin(out->clearance, gap_left(p, i, force));
  }
  out->clearance = p->touches > 0 ? 0.0 : fmax(0.0, out->clearance);
  out->centre_deflection = p->b->gap[0] - gap_left(p, 0, force);
}

/* no void to use up: the straight line */
static tw_status press_free_disc(const tw_disc *d, double radius, double force, double outside,
                                 tw_disc_backed *out, tw_fault *fault)
{
  tw_disc_ring ring;
  const tw_status status = tw_disc_at(d, radius, &ring, fault);
  if (status != TW_OK) {
    return status;
  }
  const double bend = tw_disc_bend(d, radius, NULL);
  const double c = d->mounted > 0.0 && isfinite(outside) ? d->mounted + outside : HUGE_VAL;
  out->charge_slope = ring.charge;
  out->charge = ring.charge * force;
  out->slope = ring.unbending ? 0.0 : ring.deflection - bend * bend / c;
  out->deflection = out->slope * force;
  out->clearance = NO_BACKING;
  if (!d->lies && d->hold.bed <= 0.0) {
    tw_disc_field field;
    if (tw_disc_loaded_field(d, radius, -bend / c, &field)) {
      out->centre_deflection = force * tw_disc_field_at(&field, d->lam.hole).w;
    }
  }
  return TW_OK;
}

tw_status tw_disc_press(const tw_disc *d, double radius, double force, double outside_capacitance,
                        tw_disc_backed *out, tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  tw_status status = tw_disc_can_carry(d, radius, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(force >= 0.0 && force <= 1e6) || !(outside_capacitance >= 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "preload.force", "give a force of zero or more",
                   "a load of %g N (capacitance %g F) cannot be placed", force,
                   outside_capacitance);
  }
  if (d->backing == NULL || d->backing->count == 0) {
    return press_free_disc(d, radius, force, outside_capacitance, out, fault);
  }
  press p;
  status = press_new(d, radius, outside_capacitance, &p);
  if (status == TW_OK && !pivot(&p, force)) {
    status = TW_NO_ANSWER;
  }
  if (status == TW_OK) {
    report(&p, radius, force, out);
  }
  press_free(&p);
  return status == TW_OK ? status
         : status == TW_NO_MEMORY
             ? tw_fail(fault, status, "", "", "no memory for the disc over its void")
             : tw_fail(fault, status, "support.void_depth", "make the void deeper",
                       "the contact of the disc with its backing was not found");
}
