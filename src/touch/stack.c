/* stack.c: a chain of signed lengths: what is left at worst, and by the root of the squares. */
#include "tripwright/touch_crash.h"

#include <math.h>

tw_status tw_stack_of(const tw_stack_link *links, size_t count, double least, double *share,
                      tw_stack *out, tw_fault *fault)
{
  *out = (tw_stack){0};
  if (count == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "stack.chain", "give name and signed length of each link",
                   "the chain is empty");
  }
  double squares = 0.0;
  tw_stack sum = {0};
  for (size_t i = 0; i < count; i++) {
    const tw_stack_link *l = &links[i];
    if (!isfinite(l->length) || !(l->minus >= 0.0) || !(l->plus >= 0.0) ||
        !isfinite(l->minus + l->plus)) {
      return tw_fail(fault, TW_BAD_INPUT, "stack.chain", "a length, and tolerances of 0 or more",
                     "link %zu (%s) is not usable", i + 1, l->name ? l->name : "");
    }
    const double half = 0.5 * (l->plus + l->minus);
    sum.nominal += l->length;
    sum.worst_low += l->length - l->minus;
    sum.worst_high += l->length + l->plus;
    sum.mean += l->length + 0.5 * (l->plus - l->minus);
    squares += half * half;
  }
  for (size_t i = 0; share && i < count; i++) {
    const double half = 0.5 * (links[i].plus + links[i].minus);
    share[i] = squares > 0.0 ? half * half / squares : 0.0;
  }
  sum.spread = sqrt(squares);
  sum.rss_low = sum.mean - sum.spread;
  sum.rss_high = sum.mean + sum.spread;
  sum.clearance = sum.worst_low - least;
  sum.rss_clearance = sum.rss_low - least;
  sum.fits = sum.clearance >= 0.0;
  sum.fits_rss = sum.rss_clearance >= 0.0;
  *out = sum;
  return TW_OK;
}
