/* zone_inner.h: points seen from the least-squares centre, for the zone searches. */
#ifndef TW_QUALIFY_ZONE_INNER_H
#define TW_QUALIFY_ZONE_INNER_H

#include "tripwright/qualify_fit.h"

/* least and greatest distance of n points (x, y in pairs) from (cx, cy) */
void tw_zone_radii(const double *at, size_t n, double cx, double cy, double *least,
                   double *greatest);
/* smallest circle round n points; centre[2], radius; shuffles `at`. Never fails for n >= 1. */
void tw_zone_smallest(double *at, size_t n, double centre[2], double *radius);

/* Branch and bound for the minimum zone (`minimum`) or the largest inscribed circle; the centre is
 * sought within `half` of 0 in x and y. `at` is reordered. */
typedef struct tw_zone_search {
  double *at;
  size_t n;
  bool minimum;
  double half, scale;
  double centre[2], value, bound;
} tw_zone_search;
tw_status tw_zone_branch(tw_zone_search *search, tw_fault *fault);

#endif
