/* statics.h: one mesh, one harmonic at a time, factored and ready to be loaded. */
#ifndef TW_DISC_STATICS_H
#define TW_DISC_STATICS_H

#include "rings.h"

typedef struct tw_statics {
  tw_mesh mesh;
  tw_ring_set set;
  tw_band k; /* factor of harmonic n after tw_statics_harmonic */
  double *x; /* nodes x 4: load before, displacement after tw_statics_solve */
  double *p; /* nodes x 3 */
  int n;
  int *held, held_count;
} tw_statics;

/* TW_NO_MEMORY; `most` is the highest harmonic wanted; `lam` and `hold` are borrowed for the life
 * of `s` */
tw_status tw_statics_new(const tw_laminate *lam, const tw_hold *hold, tw_fineness fineness,
                         const double *extra, size_t count, int most, tw_statics *s);
void tw_statics_free(tw_statics *s);
/* assemble harmonic n, not factored, nothing held: for lifts by given displacements */
void tw_statics_assemble(tw_statics *s, int n);
/* hold what is held and factor; false if the disc is held nowhere */
bool tw_statics_factor(tw_statics *s);
/* both of the above */
bool tw_statics_harmonic(tw_statics *s, int n);
void tw_statics_clear(tw_statics *s);
/* add a load cos(n theta) whose work on w is `amount` x w(radius) */
void tw_statics_load(tw_statics *s, double radius, double amount);
/* `first`: no load before this unknown */
void tw_statics_solve(tw_statics *s, int first);
double tw_statics_w(const tw_statics *s, double radius);
/* u, slope and their derivatives inside element e at the part `x` (0..1) of its length; n = 0 */
tw_local tw_statics_local(const tw_statics *s, int e, double x);

#endif
