/* edge.h: where along a scale of ratios a yes turns into a no; inside the room only.
 *
 * The search knows one place on either side and closes in on the edge. Where the tried places also
 * say how far they were from it (a measure that is 1 at the edge), the next place is the one that
 * the last two foretell; every third is the middle, so that a measure that misleads costs little.
 */
#ifndef TW_TOUCH_EDGE_H
#define TW_TOUCH_EDGE_H

#include <stdbool.h>

typedef struct touch_edge {
  double below, above;   /* places (> 0) on either side; 0: none yet */
  double at[2], size[2]; /* logarithms of the last two places and of their measures */
  int known;             /* how many of these there are */
  int tries;
} touch_edge;

/* a place has been tried; `measure` <= 0: it tells nothing */
void tw_touch_edge_tell(touch_edge *edge, double place, bool is_above, double measure);
/* where the edge is by what is known; 0: nothing foretells it */
double tw_touch_edge_foretold(const touch_edge *edge);
/* the next place to try, between both sides, to come within the share `width` of the edge */
double tw_touch_edge_next(touch_edge *edge, double width);

#endif
