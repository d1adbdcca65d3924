/* rings.h: ring finite elements of one harmonic: w cubic, u and v quadratic with their middle
 * nodes eliminated, five Gauss points. A node carries w, w', u and (n > 0) v.
 * Source: docs/models/disc.md, ring elements. */
#ifndef TW_DISC_RINGS_H
#define TW_DISC_RINGS_H

#include "band.h"
#include "mesh.h"

/* stiffness of each element as a polynomial in the harmonic: built once, used for every n */
typedef struct tw_ring_set {
  const tw_laminate *lam; /* borrowed, as is all below */
  const tw_hold *hold;
  const tw_mesh *mesh;
  double *stiffness; /* per element TW_RING_TERMS x TW_RING_PACKED */
} tw_ring_set;

#define TW_RING_DOFS   10
#define TW_RING_TERMS  5
#define TW_RING_PACKED 55

/* `most`: the highest harmonic that will be asked for; 0 is nine times cheaper */
tw_status tw_ring_set_new(const tw_laminate *lam, const tw_hold *hold, const tw_mesh *mesh,
                          int most, tw_ring_set *set);
void tw_ring_set_free(tw_ring_set *set);

/* unknowns of a node: 3 for n = 0, else 4; order w, w', u, v */
static inline int tw_ring_per_node(int n)
{
  return n == 0 ? 3 : 4;
}

static inline int tw_ring_width(int n)
{
  return 2 * tw_ring_per_node(n) - 1;
}

/* Assemble harmonic n into `k` (size nodes x per_node, width as above) without constraints except
 * those at the axis and of a pinned edge. `mass` likewise (n = 0 only), or NULL. */
void tw_ring_assemble(const tw_ring_set *set, int n, tw_band *k, tw_band *mass);
/* which unknowns are held at zero, written to held[] (room for 4 a node); returns how many */
int tw_ring_held(const tw_ring_set *set, int n, int *held);
/* after a solve: give the tied unknowns the values of those that they follow */
void tw_ring_restore(const tw_ring_set *set, int n, double *x);
/* middle displacements of element e of harmonic n from the solved node values x */
void tw_ring_middle(const tw_ring_set *set, int n, int e, const double *x, double middle[2]);
/* coupling of one volt to the n = 0 unknowns: force = -p volt; p is cleared first */
void tw_ring_voltage(const tw_ring_set *set, double *p);

#endif
