/* stopping.h: one touch up to standstill at the worst sample phase; inside the room only. */
#ifndef TW_TOUCH_STOPPING_H
#define TW_TOUCH_STOPPING_H

#include "tripwright/touch_judge.h"

/* `jitter` (s, full width of the link's delay) counts as latency; one touch; no trip and a pulse
 * that the controller missed are states of *out */
tw_status tw_touch_worst_stop(const tw_touch_model *model, const tw_touch_motion *motion,
                              double jitter, double feed, tw_touch_work *work, tw_touch_one *out,
                              tw_fault *fault);

#endif
