/* timed.h: what the touches in time of one assessment share; inside the room only. */
#ifndef TW_ASSESS_TIMED_H
#define TW_ASSESS_TIMED_H

#include "fill.h"
#include "tripwright/touch_judge.h"

/* SOFT is the side with the shortest travel: the force of the trip is less there, but so is the
 * charge that a millimetre gives, and a slow touch can fail there first. The window alone looks at
 * it. */
enum { TW_TIMED_SIDE, TW_TIMED_AXIS, TW_TIMED_SOFT, TW_TIMED_WAYS };

/* Filled before the runs, which read it from several threads; each run has its own workspace and
 * fills measures of its own. */
typedef struct tw_timed {
  tw_run *run;
  tw_probe_touch *way[TW_TIMED_WAYS]; /* NULL: does not trip in this direction, or nobody asks */
  double feed, approach;              /* m/s */
  double history; /* m, the first touch of a seat that was shaken home against the next, sideways */
  tw_link link;
  tw_touch_motion motion[TW_TIMED_WAYS]; /* of the touch that counts, both ways */
  tw_window window[TW_TIMED_WAYS];
} tw_timed;

/* is the window of feeds asked for */
bool tw_timed_wants_window(const tw_timed *timed);
/* the window of one way, kept in timed->window */
tw_status tw_timed_window(tw_timed *timed, int way, tw_touch_work *work, tw_fault *fault);
/* slowest and fastest feed of all ways */
void tw_timed_put_window(tw_timed *timed);

#endif
