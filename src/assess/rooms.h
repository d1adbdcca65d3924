/* rooms.h: one design through the rooms; inside the room only. */
#ifndef TW_ASSESS_ROOMS_H
#define TW_ASSESS_ROOMS_H

#include "fill.h"

/* nothing computed yet */
void tw_rooms_clear(tw_assessment *out);
/* the probe, solved, in `own`; nothing there when the caller brought one */
tw_status tw_rooms_probe(const tw_design *design, const tw_assess_options *options, tw_probe **own,
                         tw_fault *fault);
/* every figure that the options of `run` ask for, into run->out */
tw_status tw_rooms(tw_run *run, tw_fault *fault);
/* what `run` holds, but for its probe */
void tw_rooms_free(tw_run *run);
/* The rooms alone, without basis, warnings and verdict, of a few sides; options->azimuths is
 * TW_FEW_SIDES, and there is no map. */
tw_status tw_assess_few(const tw_design *design, const tw_assess_options *options, tw_few *few,
                        tw_assessment *out, tw_fault *fault);

#endif
