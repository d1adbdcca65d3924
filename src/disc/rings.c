#include "rings.h"

#include "shape.h"
#include "tripwright/constants.h"

#include <string.h>

/* element unknowns: w1 w1' w2 w2' | u1 um u2 | v1 vm v2 */
enum { W1, S1, W2, S2, U1, UM, U2, V1, VM, V2 };

typedef double strains[6][TW_RING_DOFS]; /* er, et, g, kr, kt, krt per unknown */

/* shape values at one point of an element */
typedef struct point {
  double r, weight;           /* weight = r dr */
  double w[4], dw[4], ddw[4]; /* cubic */
  double q[3], dq[3];         /* quadratic */
} point;

static point point_at(double r1, double r2, int g)
{
  point p;
  const double h = r2 - r1, x = TW_GAUSS_X[g];
  p.r = r1 + h * x;
  p.weight = h * TW_GAUSS_W[g] * p.r;
  tw_cubic(x, h, p.w, p.dw, p.ddw);
  tw_quadratic(x, h, p.q, p.dq);
  return p;
}

/* strains = b[0] + n b[1] + n^2 b[2] */
static void strain_terms(const point *p, strains b[3])
{
  memset(b, 0, 3 * sizeof(strains));
  const double r = p->r;
  for (int i = 0; i < 4; i++) {
    b[0][3][i] = -p->ddw[i];    /* kr = -w'' */
    b[0][4][i] = -p->dw[i] / r; /* kt = -w'/r + n^2 w/r^2 */
    b[2][4][i] = p->w[i] / (r * r);
    b[1][5][i] = 2.0 * (p->dw[i] / r - p->w[i] / (r * r)); /* krt = 2 n (w'/r - w/r^2) */
  }
  for (int i = 0; i < 3; i++) {
    b[0][0][U1 + i] = p->dq[i];    /* er = u' */
    b[0][1][U1 + i] = p->q[i] / r; /* et = (u + n v)/r */
    b[1][1][V1 + i] = p->q[i] / r;
    b[0][2][V1 + i] = p->dq[i] - p->q[i] / r; /* g = v' - (n u + v)/r */
    b[1][2][U1 + i] = -p->q[i] / r;
  }
}

/* stress resultants of one strain row set: nr nt nrt mr mt mrt, between two unknowns */
static void stress_of(const tw_zone *z, strains b, int first, int end, strains out)
{
  const double a66 = (z->a11 - z->a12) / 2.0, b66 = (z->b11 - z->b12) / 2.0;
  const double d66 = (z->d11 - z->d12) / 2.0;
  for (int i = first; i < end; i++) {
    out[0][i] = z->a11 * b[0][i] + z->a12 * b[1][i] + z->b11 * b[3][i] + z->b12 * b[4][i];
    out[1][i] = z->a12 * b[0][i] + z->a11 * b[1][i] + z->b12 * b[3][i] + z->b11 * b[4][i];
    out[2][i] = a66 * b[2][i] + b66 * b[5][i];
    out[3][i] = z->b11 * b[0][i] + z->b12 * b[1][i] + z->d11 * b[3][i] + z->d12 * b[4][i];
    out[4][i] = z->b12 * b[0][i] + z->b11 * b[1][i] + z->d12 * b[3][i] + z->d11 * b[4][i];
    out[5][i] = b66 * b[2][i] + d66 * b[5][i];
  }
}

/* unknowns from `first` up to `end` */
typedef struct span {
  int first, end;
} span;

#define W_ONLY                                                                                     \
  {                                                                                                \
    W1, U1                                                                                         \
  }
#define U_ONLY                                                                                     \
  {                                                                                                \
    U1, V1                                                                                         \
  }
#define V_ONLY                                                                                     \
  {                                                                                                \
    V1, TW_RING_DOFS                                                                               \
  }
#define W_AND_U                                                                                    \
  {                                                                                                \
    W1, V1                                                                                         \
  }
#define NO_STRAIN                                                                                  \
  {                                                                                                \
    0, 0                                                                                           \
  }

/* the unknowns that move each strain, and that make each stress, for every power of n: all others
 * are zero */
static const span MOVES[3][6] = {
    {U_ONLY, U_ONLY, V_ONLY, W_ONLY, W_ONLY, NO_STRAIN},
    {NO_STRAIN, V_ONLY, U_ONLY, NO_STRAIN, NO_STRAIN, W_ONLY},
    {NO_STRAIN, NO_STRAIN, NO_STRAIN, NO_STRAIN, W_ONLY, NO_STRAIN},
};
static const span STRESSED[3][6] = {
    {W_AND_U, W_AND_U, V_ONLY, W_AND_U, W_AND_U, V_ONLY},
    {V_ONLY, V_ONLY, W_AND_U, V_ONLY, V_ONLY, W_AND_U},
    {W_ONLY, W_ONLY, NO_STRAIN, W_ONLY, W_ONLY, NO_STRAIN},
};

/* add weight * (left' right) to a packed lower triangle; the sum over a term is symmetric */
static void add_product(double *packed, double weight, strains left, const span *moves,
                        strains right, const span *stressed)
{
  for (int s = 0; s < 6; s++) {
    for (int i = moves[s].first; i < moves[s].end; i++) {
      const double factor = weight * left[s][i];
      const int end = stressed[s].end < i + 1 ? stressed[s].end : i + 1;
      double *at = packed + i * (i + 1) / 2;
      for (int j = stressed[s].first; j < end; j++) {
        at[j] += factor * right[s][j];
      }
    }
  }
}

/* `powers` of n: 1 for n = 0 alone, 3 for all */
static void element_terms(const tw_zone *zone, double r1, double r2, double bed, int powers,
                          double *terms)
{
  for (int g = 0; g < TW_GAUSS; g++) {
    const point p = point_at(r1, r2, g);
    strains b[3], s[3];
    strain_terms(&p, b);
    for (int i = 0; i < powers; i++) {
      stress_of(zone, b[i], 0, i < 2 ? TW_RING_DOFS : U1, s[i]);
    }
    for (int i = 0; i < powers; i++) {
      for (int j = 0; j < powers; j++) {
        add_product(terms + (i + j) * TW_RING_PACKED, p.weight, b[i], MOVES[i], s[j], STRESSED[j]);
      }
    }
    /* the bed resists w alike in every harmonic */
    int at = 0;
    for (int i = 0; i < 4; i++) {
      for (int j = 0; j <= i; j++) {
        terms[at++] += p.weight * bed * p.w[i] * p.w[j];
      }
    }
  }
}

tw_status tw_ring_set_new(const tw_laminate *lam, const tw_hold *hold, const tw_mesh *mesh,
                          int most, tw_ring_set *set)
{
  *set = (tw_ring_set){.lam = lam, .hold = hold, .mesh = mesh};
  const int elements = mesh->nodes - 1;
  const size_t each = TW_RING_TERMS * TW_RING_PACKED;
  set->stiffness = tw_alloc((size_t)elements * each, sizeof *set->stiffness);
  if (set->stiffness == NULL) {
    return TW_NO_MEMORY;
  }
  for (int e = 0; e < elements; e++) {
    element_terms(mesh->zone[e], mesh->radius[e], mesh->radius[e + 1], hold->bed, most > 0 ? 3 : 1,
                  set->stiffness + (size_t)e * each);
  }
  return TW_OK;
}

void tw_ring_set_free(tw_ring_set *set)
{
  tw_free(set->stiffness);
  set->stiffness = NULL;
}

/* the element's full matrix of harmonic n */
static void element_matrix(const tw_ring_set *set, int n, int e, double k[10][10])
{
  const double *t = set->stiffness + (size_t)e * TW_RING_TERMS * TW_RING_PACKED;
  const double around = n == 0 ? 2.0 * TW_PI : TW_PI;
  const double x = n;
  int at = 0;
  for (int i = 0; i < TW_RING_DOFS; i++) {
    for (int j = 0; j <= i; j++) {
      const double *c = t + at++;
      double value = n > 0 ? c[4 * TW_RING_PACKED] : 0.0;
      for (int power = n > 0 ? 3 : 0; power >= 0; power--) {
        value = value * x + c[power * TW_RING_PACKED];
      }
      k[i][j] = k[j][i] = around * value;
    }
  }
}

/* consistent mass of n = 0: m0 (w^2 + u^2) + 2 m1 u b + m2 b^2, b = -w' */
static void element_mass(const tw_zone *z, double r1, double r2, double m[10][10])
{
  memset(m, 0, 100 * sizeof(double));
  for (int g = 0; g < TW_GAUSS; g++) {
    const point p = point_at(r1, r2, g);
    const double weight = 2.0 * TW_PI * p.weight;
    for (int i = 0; i < 4; i++) {
      for (int j = 0; j < 4; j++) {
        m[i][j] += weight * (z->m0 * p.w[i] * p.w[j] + z->m2 * p.dw[i] * p.dw[j]);
      }
      for (int j = 0; j < 3; j++) {
        m[i][U1 + j] -= weight * z->m1 * p.dw[i] * p.q[j];
        m[U1 + j][i] = m[i][U1 + j];
      }
    }
    for (int i = 0; i < 3; i++) {
      for (int j = 0; j < 3; j++) {
        m[U1 + i][U1 + j] += weight * z->m0 * p.q[i] * p.q[j];
      }
    }
  }
}

/* middle unknown = -k_mm^-1 k_mc of the corners: t[c] for um, vm */
static void middle_rows(double k[10][10], int n, double t[2][10])
{
  const double a = k[UM][UM], b = n > 0 ? k[UM][VM] : 0.0, c = n > 0 ? k[VM][VM] : 1.0;
  const double det = a * c - b * b;
  for (int i = 0; i < TW_RING_DOFS; i++) {
    const double ku = k[UM][i], kv = n > 0 ? k[VM][i] : 0.0;
    t[0][i] = -(c * ku - b * kv) / det;
    t[1][i] = -(a * kv - b * ku) / det;
  }
  t[0][UM] = t[1][UM] = t[0][VM] = t[1][VM] = 0.0;
}

/* a <- t' a t for the two middle unknowns: an error of t counts only squared */
static void condense(double a[10][10], double t[2][10])
{
  for (int m = 0; m < 2; m++) {
    const int mid = m == 0 ? UM : VM;
    /* columns, then rows */
    for (int i = 0; i < TW_RING_DOFS; i++) {
      for (int j = 0; j < TW_RING_DOFS; j++) {
        if (j != UM && j != VM) {
          a[i][j] += a[i][mid] * t[m][j];
        }
      }
    }
  }
  for (int m = 0; m < 2; m++) {
    const int mid = m == 0 ? UM : VM;
    for (int j = 0; j < TW_RING_DOFS; j++) {
      for (int i = 0; i < TW_RING_DOFS; i++) {
        if (i != UM && i != VM) {
          a[i][j] += t[m][i] * a[mid][j];
        }
      }
    }
  }
}

/* unknown `slave` = factor x `master` */
static void tie(double k[10][10], int slave, int master, double factor)
{
  for (int i = 0; i < TW_RING_DOFS; i++) {
    k[i][master] += factor * k[i][slave];
  }
  for (int j = 0; j < TW_RING_DOFS; j++) {
    k[master][j] += factor * k[slave][j];
  }
}

static bool edge_slides(const tw_hold *hold)
{
  return hold->edge == TW_EDGE_FREE;
}

/* ties of the axis and of a pinned edge; the slaves are held afterwards */
static void tie_ends(const tw_ring_set *set, int n, int e, double k[10][10])
{
  const tw_hold *hold = set->hold;
  if (e == 0 && n == 1 && set->lam->hole <= 0.0 && !edge_slides(hold)) {
    tie(k, V1, U1, -1.0); /* rigid in-plane translation passes through the axis */
  }
  if (e == set->mesh->nodes - 2 && hold->edge == TW_EDGE_PINNED) {
    tie(k, U2, S2, hold->pin); /* u + pin b = 0, b = -w' */
  }
}

static void scatter(tw_band *band, int n, int e, double k[10][10])
{
  static const int ORDER[8] = {W1, S1, U1, V1, W2, S2, U2, V2};
  const int per = tw_ring_per_node(n);
  for (int a = 0; a < 2 * per; a++) {
    for (int b = 0; b <= a; b++) {
      const int i = ORDER[a < per ? a : 4 + a - per], j = ORDER[b < per ? b : 4 + b - per];
      *tw_band_at(band, e * per + a, e * per + b) += k[i][j];
    }
  }
}

void tw_ring_assemble(const tw_ring_set *set, int n, tw_band *band, tw_band *mass)
{
  const tw_mesh *mesh = set->mesh;
  memset(band->a, 0, tw_band_length(band->size, band->width) * sizeof(double));
  if (mass != NULL) {
    memset(mass->a, 0, tw_band_length(mass->size, mass->width) * sizeof(double));
  }
  for (int e = 0; e + 1 < mesh->nodes; e++) {
    double k[10][10], t[2][10];
    element_matrix(set, n, e, k);
    middle_rows(k, n, t);
    condense(k, t);
    tie_ends(set, n, e, k);
    scatter(band, n, e, k);
    if (mass != NULL) {
      double m[10][10];
      element_mass(mesh->zone[e], mesh->radius[e], mesh->radius[e + 1], m);
      condense(m, t); /* the middle follows its neighbours as it does at rest */
      tie_ends(set, n, e, m);
      scatter(mass, n, e, m);
    }
  }
}

int tw_ring_held(const tw_ring_set *set, int n, int *held)
{
  const tw_hold *hold = set->hold;
  const int per = tw_ring_per_node(n), edge = (set->mesh->nodes - 1) * per;
  const bool slides = edge_slides(hold);
  int count = 0;
  if (set->lam->hole > 0.0) {
    if (n == 1 && slides) {
      held[count++] = 2; /* no rigid shift in the plane */
    }
  } else if (n == 0) {
    held[count++] = 1;
    held[count++] = 2;
  } else if (n == 1) {
    held[count++] = 0;
    held[count++] = 3; /* v = -u by the tie, or both zero */
    if (slides) {
      held[count++] = 2;
    }
  } else {
    for (int i = 0; i < 4; i++) {
      held[count++] = i;
    }
  }
  if (hold->stuck > 0.0) {
    for (int i = tw_mesh_node(set->mesh, hold->stuck); i < set->mesh->nodes; i++) {
      held[count++] = i * per;
      held[count++] = i * per + 1;
    }
  } else if (hold->support >= 0.0) {
    held[count++] = tw_mesh_node(set->mesh, hold->support) * per;
  }
  if (hold->edge == TW_EDGE_CLAMPED) {
    held[count++] = edge + 1;
  }
  if (!slides) {
    held[count++] = edge + 2; /* pinned: follows the slope by the tie */
    if (n > 0) {
      held[count++] = edge + 3;
    }
  }
  return count;
}

void tw_ring_restore(const tw_ring_set *set, int n, double *x)
{
  const tw_hold *hold = set->hold;
  const int per = tw_ring_per_node(n), edge = (set->mesh->nodes - 1) * per;
  if (n == 1 && set->lam->hole <= 0.0 && !edge_slides(hold)) {
    x[3] = -x[2];
  }
  if (hold->edge == TW_EDGE_PINNED) {
    x[edge + 2] = hold->pin * x[edge + 1];
  }
}

void tw_ring_middle(const tw_ring_set *set, int n, int e, const double *x, double middle[2])
{
  static const int ORDER[8] = {W1, S1, U1, V1, W2, S2, U2, V2};
  double k[10][10], t[2][10];
  element_matrix(set, n, e, k);
  middle_rows(k, n, t);
  const int per = tw_ring_per_node(n);
  middle[0] = middle[1] = 0.0;
  for (int a = 0; a < 2 * per; a++) {
    const int i = ORDER[a < per ? a : 4 + a - per];
    middle[0] += t[0][i] * x[e * per + a];
    middle[1] += t[1][i] * x[e * per + a];
  }
}

void tw_ring_voltage(const tw_ring_set *set, double *p)
{
  const tw_laminate *lam = set->lam;
  memset(p, 0, (size_t)set->mesh->nodes * 3 * sizeof *p);
  if (lam->electrode <= lam->hole) {
    return;
  }
  /* p . x = 2 pi e [r (u + zc b)] between the electrode's borders, b = -w' */
  const double edge = 2.0 * TW_PI * lam->reduced.e;
  const int outer = tw_mesh_node(set->mesh, fmin(lam->electrode, set->hold->outer));
  const double ro = set->mesh->radius[outer];
  p[3 * outer + 2] += edge * ro;
  p[3 * outer + 1] -= edge * ro * lam->zc;
  if (lam->hole > 0.0) {
    p[2] -= edge * lam->hole;
    p[1] += edge * lam->hole * lam->zc;
  }
  if (set->hold->edge == TW_EDGE_PINNED && outer == set->mesh->nodes - 1) {
    p[3 * outer + 1] += set->hold->pin * p[3 * outer + 2]; /* u of the edge follows the slope */
  }
}
