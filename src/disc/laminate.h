/* laminate.h: a disc as annular zones, each with the stiffness of its stack of layers. z counts
 * from the metal's mid-plane towards the ceramic. Source: docs/models/disc.md, laminate. */
#ifndef TW_DISC_LAMINATE_H
#define TW_DISC_LAMINATE_H

#include "tripwright/disc.h"

/* fringe field at the edge of a smaller electrode, in ceramic thicknesses: fitted to a 2-D field
 * model; the classical value for a half-plane is 2 ln 2 / pi = 0.44 */
#define TW_DISC_FRINGE 0.46
#define TW_DISC_ZONES  5
#define TW_DISC_LAYERS 4

/* ceramic that is free to change its thickness and alike in its plane */
typedef struct tw_reduced {
  double q11, q12; /* Pa */
  double e;        /* e31*, C/m2 */
  double eps;      /* eps33*, F/m */
  double e33, c13, c33;
} tw_reduced;

/* one layer of one zone */
typedef struct tw_layer {
  tw_disc_layer name;
  double z0, z1;   /* m */
  double q11, q12; /* Pa, membrane */
  double density, expansion;
  double squeeze; /* -dSz/dS: thickness strain per area strain (c13/c33 or nu/(1-nu)) */
} tw_layer;

/* N = A eps + B kappa + np V - nt T and M likewise; the 66 terms are (11 - 12)/2 */
typedef struct tw_zone {
  double inner, outer;
  double a11, a12, b11, b12, d11, d12;
  double np, mp;     /* per volt */
  double nt, mt;     /* per kelvin */
  double m0, m1, m2; /* inertia: sum of density x (1, z, z^2) */
  double dstar;      /* d11 - b11^2/a11 */
  bool ceramic, electrode;
  int layers;
  tw_layer layer[TW_DISC_LAYERS];
} tw_zone;

typedef struct tw_laminate {
  int count;
  tw_zone zone[TW_DISC_ZONES];
  tw_reduced reduced;
  double electrode; /* effective radius, fringe included */
  double hole;
  double zc;      /* height of the ceramic's mid-plane */
  double blocked; /* F */
} tw_laminate;

tw_reduced tw_reduce(const tw_disc_ceramic *ceramic);
/* zones from the centre (or the hole) to the metal's edge; `spec` is taken as checked */
void tw_laminate_build(const tw_disc_spec *spec, tw_laminate *laminate);
/* the zone that holds `radius`; on a border the inner one */
const tw_zone *tw_laminate_zone(const tw_laminate *laminate, double radius);

#endif
