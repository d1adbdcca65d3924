/* edge.h: how right the place of an edge is that was found by one touch.
 *
 * One figure before the tip table and one after it, from the same parts, whether a design foresees
 * them or recordings measured them. Metres. Pure functions; thread-safe. docs/models/qualify.md 11.
 */
#ifndef TRIPWRIGHT_EDGE_H
#define TRIPWRIGHT_EDGE_H

#include "tripwright/base.h"

#define TW_EDGE_COVERAGE 2.0 /* k: about 95 % for a normal scatter */

typedef struct tw_edge_parts {
  double early_least, early_most; /* ball radius less effective radius, over the directions in use:
                                     pretravel and what the machine runs on until it records */
  double repeat;                  /* standard deviation of one touch */
  double table_u; /* standard uncertainty of the table's radius, worst direction; offset included */
} tw_edge_parts;

typedef struct tw_found_edge {
  double before; /* +- about the edge, if the ball's own radius is taken in every direction: the
                    largest error stays in it, so it is added, not squared (GUM 6.3.1, note;
                    F.2.4.5) */
  double after;  /* +- with the table: k sqrt(repeat^2 + table_u^2) */
} tw_found_edge;

/* TW_BAD_INPUT: a part is not finite, or an uncertainty below zero */
tw_status tw_edge_of(const tw_edge_parts *parts, tw_found_edge *out, tw_fault *fault);
/* table_u of a table that will be made from so many even touches, harmonics 2 to `orders`: the
 * variance of 1 + 2 (orders - 1) figures over the touches. The artefact's own u is not in it. */
double tw_edge_table_u(double repeat, size_t touches, size_t orders);

#endif
