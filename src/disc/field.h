/* field.h: the exact n = 0 state of a zoned disc under voltage, a ring load or a temperature.
 * In each segment u = c1 r + c2/r + au r ln r and slope b = -w' = c3 r + c4/r + ab r ln r.
 * Source: docs/models/disc.md, zones. */
#ifndef TW_DISC_FIELD_H
#define TW_DISC_FIELD_H

#include "laminate.h"

#define TW_DISC_SEGMENTS (TW_DISC_ZONES + 3)

typedef enum tw_edge { TW_EDGE_FREE, TW_EDGE_PINNED, TW_EDGE_CLAMPED } tw_edge;

/* where the disc is held, as the equations see it */
typedef struct tw_hold {
  double outer;   /* m, the disc counts up to here */
  tw_edge edge;   /* at `outer` */
  double pin;     /* z of a pinned edge */
  double support; /* m, ring that cannot move along the axis; < 0 = none */
  double bed;     /* Pa/m, elastic bed under everything */
  bool unbent;    /* lies flat: cannot bend at all */
  double stuck;   /* m, held flat from here to the edge (free to slide); 0 = nowhere */
} tw_hold;

typedef struct tw_action {
  double volt, kelvin;
  double force, radius; /* ring load towards the ceramic */
} tw_action;

typedef struct tw_segment {
  const tw_zone *zone;
  double inner, outer;
  double c1, c2, c3, c4, au, ab;
  double w0; /* w = w0 - integral of the slope */
} tw_segment;

typedef struct tw_disc_field {
  int count;
  tw_segment segment[TW_DISC_SEGMENTS];
} tw_disc_field;

/* u, slope b, their derivatives and w at one radius */
typedef struct tw_local {
  double u, b, du, db, w;
  const tw_zone *zone;
} tw_local;

/* false if the equations are singular (not for checked specs). `hold->bed` is not used here. */
bool tw_disc_field_solve(const tw_laminate *lam, const tw_hold *hold, tw_action action,
                         tw_disc_field *field);
tw_local tw_disc_field_at(const tw_disc_field *field, double radius);
/* the same from a stated side of a border: `inward` = as the limit from smaller radii */
tw_local tw_disc_field_side(const tw_disc_field *field, double radius, bool inward);
/* charge gathered on the electrode beside blocked x volt: -2 pi e [r (u + zc b)] */
double tw_disc_field_charge(const tw_laminate *lam, const tw_disc_field *field);

#endif
