/* trial.h: which figures a default decides; inside the room only. */
#ifndef TW_ASSESS_TRIAL_H
#define TW_ASSESS_TRIAL_H

#include "fill.h"

/* Every default that is a guess and that the static figures of the design of `run` read is put to
 * both ends of that tolerance; `assumes` and `assumes_share` of a measure in run->out are set where
 * one of them moves it by more than TW_BASIS_MOVES. `tried` tells which measures a trial computes.
 * TW_NO_MEMORY, TW_CANCELLED at worst. */
tw_status tw_trial(tw_run *run, tw_measure_set *tried, tw_fault *fault);

#endif
