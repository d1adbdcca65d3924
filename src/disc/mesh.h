/* mesh.h: the radii on which the ring elements stand. */
#ifndef TW_DISC_MESH_H
#define TW_DISC_MESH_H

#include "field.h"

typedef struct tw_mesh {
  int nodes;            /* elements = nodes - 1 */
  int capacity;         /* of `radius` and `zone` */
  double *radius;       /* rising */
  const tw_zone **zone; /* of the element that starts at each node; borrowed from the laminate */
} tw_mesh;

/* How fine: elements no longer than `longest`, and no longer than r/8 with a floor of `shortest`
 * (shortest = longest: even). */
typedef struct tw_fineness {
  double longest, shortest;
} tw_fineness;

/* elements a radius asks for; an elastic bed needs a third of its bending length */
tw_fineness tw_fineness_even(const tw_laminate *lam, const tw_hold *hold, int elements);
tw_fineness tw_fineness_graded(const tw_laminate *lam, const tw_hold *hold);

/* Nodes at every border, at the support, at the edge and at extra[count] (those nearer than a
 * fiftieth of the longest element to another node are left out). TW_NO_MEMORY. */
tw_status tw_mesh_new(const tw_laminate *lam, const tw_hold *hold, tw_fineness fineness,
                      const double *extra, size_t count, tw_mesh *mesh);
void tw_mesh_free(tw_mesh *mesh);
/* index of the node at `radius`, or the nearest one */
int tw_mesh_node(const tw_mesh *mesh, double radius);
/* the element that holds `radius` and the four cubic shape values there (w, w' at its two ends);
 * `slopes` likewise for w', or NULL */
int tw_mesh_shape(const tw_mesh *mesh, double radius, double values[4], double slopes[4]);

#endif
