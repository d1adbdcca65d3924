/* extremes.h: which touch from the side is the hardest, softest, longest, shortest; inside the
 * room. */
#ifndef TW_ASSESS_EXTREMES_H
#define TW_ASSESS_EXTREMES_H

#include "fill.h"

/* Fill run->extreme from the touches of the sides, all of which trip, and from touches between them
 * that are made for it, run->between of them at run->between_first. Errors: TW_NO_MEMORY. */
tw_status tw_find_extremes(tw_run *run, tw_fault *fault);

#endif
