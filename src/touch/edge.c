/* edge.c: the search for a feed at which an answer changes. */
#include "edge.h"
#include <math.h>

void tw_touch_edge_tell(touch_edge *edge, double place, bool is_above, double measure)
{
  *(is_above ? &edge->above : &edge->below) = place;
  if (!(measure > 0.0) || !isfinite(measure)) {
    return;
  }
  if (edge->known == 2) {
    edge->at[0] = edge->at[1];
    edge->size[0] = edge->size[1];
    edge->known = 1;
  }
  edge->at[edge->known] = log(place);
  edge->size[edge->known++] = log(measure);
}

/* straight through the last two on logarithmic scales; with one alone, in proportion */
double tw_touch_edge_foretold(const touch_edge *edge)
{
  if (edge->known == 0) {
    return 0.0;
  }
  const int last = edge->known - 1;
  double slope = 1.0;
  if (edge->known == 2) {
    slope = (edge->size[1] - edge->size[0]) / (edge->at[1] - edge->at[0]);
  }
  const double place = exp(edge->at[last] - edge->size[last] / slope);
  return isfinite(place) && slope > 0.0 ? place : 0.0;
}

double tw_touch_edge_next(touch_edge *edge, double width)
{
  const double middle = sqrt(edge->below * edge->above);
  const double foretold = tw_touch_edge_foretold(edge);
  edge->tries++;
  if (edge->tries % 3 == 0 || !(foretold > edge->below) || !(foretold < edge->above)) {
    return middle;
  }
  /* a little past it from the farther side, so that two tries that hold close the search */
  const double past = 1.0 + 0.4 * width;
  const double place =
      edge->above > foretold * (1.0 + 0.5 * width) ? foretold * past : foretold / past;
  return place > edge->below && place < edge->above ? place : middle;
}
