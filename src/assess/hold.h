/* hold.h: the holder on its hold-down as a law of force against lift; inside the room only. */
#ifndef TW_ASSESS_HOLD_H
#define TW_ASSESS_HOLD_H

#include "fill.h"
#include "tripwright/seat_forms.h"
#include "tripwright/touch_crash.h"

enum { TW_HOLD_ROWS = 48 };

/* One crash stage for the holder, in a direction; the tables live here. */
typedef struct tw_hold {
  bool has;
  double home; /* N, hold-down with the holder at home, along the axis */
  tw_crash_stage stage;
  double travel[TW_HOLD_ROWS], force[TW_HOLD_ROWS], back[TW_HOLD_ROWS];
  tw_foam_cellular cellular;
  tw_foam_hyper hyper;
} tw_hold;

/* The hold-down of a design sideways at the ball, or along the axis. holddown.kind none gives
 * has = false. Source: docs/models/crash.md. */
tw_status tw_hold_of(const tw_design *design, bool sideways, tw_hold *out, tw_fault *fault);

#endif
