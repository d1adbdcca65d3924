/* crash_swivel.c: the exact swivel of a carrier on its flat, at evenly spaced angles. */
#include "crash_parts.h"

#include <math.h>

void tw_crash_swivel_tabulate(tw_crash_way *way)
{
  for (int i = 0; i < TW_SWIVEL_ROWS; i++) {
    tw_crash_swivel_at(&way->pivot, way->swivel_most * i / (TW_SWIVEL_ROWS - 1), &way->swivel[i]);
  }
}

/* row below `travel` and the share of the way to the next */
static int swivel_row(const tw_crash_way *way, double travel, double *share)
{
  int low = 0, high = TW_SWIVEL_ROWS - 1;
  while (high - low > 1) {
    const int middle = (low + high) / 2;
    *(way->swivel[middle].tip_travel <= travel ? &low : &high) = middle;
  }
  const double from = way->swivel[low].tip_travel, to = way->swivel[high].tip_travel;
  *share = to > from ? fmin(fmax((travel - from) / (to - from), 0), 1) : 0;
  return low;
}

double tw_crash_swivel_force(const void *self, double travel)
{
  const tw_crash_way *way = self;
  double share;
  const int i = swivel_row(way, travel, &share);
  return way->swivel[i].tip_force +
         share * (way->swivel[i + 1].tip_force - way->swivel[i].tip_force);
}

double tw_crash_swivel_load(const void *self, double travel)
{
  const tw_crash_way *way = self;
  double share;
  const int i = swivel_row(way, travel, &share);
  return way->swivel[i].edge_load +
         share * (way->swivel[i + 1].edge_load - way->swivel[i].edge_load);
}
