/* crash_way.h: one direction of a crash as a row of stages and members, solved; inside the room. */
#ifndef TW_ASSESS_CRASH_WAY_H
#define TW_ASSESS_CRASH_WAY_H

#include "hold.h"
#include "tripwright/assess_crash.h"

enum { TW_SWIVEL_ROWS = 128 };

/* one direction of a crash, with all that its stages borrow */
typedef struct tw_crash_way {
  const char *name;
  bool sideways;
  tw_hold hold;
  tw_crash_pivot pivot;
  double swivel_most; /* rad */
  tw_crash_swivel swivel[TW_SWIVEL_ROWS];
  tw_crash_stage stage[TW_CRASH_STAGES];
  bool open[TW_CRASH_STAGES]; /* its law ends where it was not laid down further: no stop */
  size_t stages, seat;        /* `seat`: index of the stage that loads the disc */
  tw_crash_member member[TW_CRASH_MEMBERS];
  size_t members;
  size_t ceramic; /* index of the member, or TW_CRASH_MEMBERS */
  tw_crash result;
  double trip;               /* N */
  double azimuth, elevation; /* rad, of the touch that gave it */
  double travel;             /* m asked for */
} tw_crash_way;

/* "sideways", "along the axis" */
const char *tw_crash_way_name(bool sideways);
/* Lay the row down from the design (`name` and `sideways` are set; stages point into `way`: do not
 * copy it) and drive the tip in by housing.travel_side or travel_axial. Errors as tw_crash_run. */
tw_status tw_crash_way_run(tw_run *run, tw_crash_way *way, tw_fault *fault);
/* N at the end of the travel, or where the first part fails: past that there is no model */
double tw_crash_way_force(const tw_crash_way *way);
/* trip, holder lifts, ceramic, stem: what should come one after the other; returns how many of
 * TW_COURSE_MARKS there are */
size_t tw_crash_way_marks(const tw_crash_way *way, tw_crash_mark mark[TW_COURSE_MARKS]);
/* tell what is known of it */
tw_status tw_crash_way_course(const tw_crash_way *way, tw_course *out, tw_fault *fault);

#endif
