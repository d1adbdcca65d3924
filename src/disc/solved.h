/* solved.h: what a tw_disc holds once it is solved. */
#ifndef TW_DISC_SOLVED_H
#define TW_DISC_SOLVED_H

#include "statics.h"

typedef struct tw_backing tw_backing; /* press.c */

/* w and w' at the nodes of a mesh that is kept */
typedef struct tw_profile {
  tw_mesh mesh;
  double *value; /* 2 a node; NULL = no profile */
} tw_profile;

struct tw_disc {
  tw_disc_spec spec;
  tw_laminate lam;
  tw_hold hold;
  double reach;          /* m, loads stand inside this radius */
  bool supported;        /* something holds it along the axis */
  bool lies;             /* on a rigid flat without a hole: cannot bend */
  double side;           /* +1 if the carrier pushes towards the ceramic, else -1 */
  double sign;           /* of the charge, from the poling */
  tw_disc_field volt;    /* the state for one volt (not with an elastic bed) */
  double mounted;        /* F, 0 without ceramic */
  double free;           /* F */
  tw_profile bed;        /* w for one volt on an elastic bed */
  double edge_u, edge_b; /* of that state at the edge */
  tw_profile shift;      /* per volt and metre of eccentricity, times cos(azimuth) */
  tw_backing *backing;   /* NULL = none */
};

/* w towards the ceramic and slope b = -w' for one volt, without thickness effects */
double tw_disc_bend(const tw_disc *disc, double radius, double *slope);
/* change of thickness for one volt at `radius`, outer face against metal face */
double tw_disc_swell(const tw_disc *disc, double radius);
/* factor from influence to charge of a push: side x sign */
static inline double tw_disc_turn(const tw_disc *disc)
{
  return disc->side * disc->sign;
}
/* why the disc cannot take a load at `radius`, as a fault; TW_OK if it can */
tw_status tw_disc_can_carry(const tw_disc *disc, double radius, tw_fault *fault);
/* exact state under one newton at `radius`, volt given (not with an elastic bed) */
bool tw_disc_loaded_field(const tw_disc *disc, double radius, double volt, tw_disc_field *field);

void tw_profile_free(tw_profile *profile);
/* copies w and w' out of a solved harmonic and takes over its mesh */
tw_status tw_profile_take(tw_statics *statics, tw_profile *profile);
double tw_profile_at(const tw_profile *profile, double radius, double *slope);

tw_status tw_shift_solve(tw_disc *disc); /* eccentric.c */
tw_status tw_backing_new(tw_disc *disc); /* press.c */
void tw_backing_free(tw_backing *backing);

#endif
