/* hold.h: the holder on its hold-down as a law of force against lift; inside the room only. */
#ifndef TW_ASSESS_HOLD_H
#define TW_ASSESS_HOLD_H

#include "fill.h"
#include "tripwright/seat_forms.h"
#include "tripwright/touch_crash.h"

enum { TW_HOLD_ROWS = 48 };

/* rad of elevation from which a touch is one along the axis: a crash knows only the two */
#define TW_UPRIGHT 1.2

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

/* N at which the holder begins to lift */
double tw_hold_lifts(const tw_hold *hold);
/* let the holder give way in the table of a touch that is laid down */
tw_status tw_probe_hold(const tw_design *design, double elevation, tw_probe_touch *touch,
                        tw_fault *fault);

/* m of travel that a touch may run on by its crash, and what ends it (static text); a crash without
 * an answer leaves the housing's travel. Errors: TW_NO_MEMORY. */
tw_status tw_crash_room(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                        const tw_seat_touch_result *touch, double *room, const char **why,
                        tw_fault *fault);

#endif
