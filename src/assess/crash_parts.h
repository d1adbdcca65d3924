/* crash_parts.h: one direction of a crash as a row of stages and members, solved; inside the room.
 */
#ifndef TW_ASSESS_CRASH_PARTS_H
#define TW_ASSESS_CRASH_PARTS_H

#include "hold.h"
#include "tripwright/assess_crash.h"

enum { TW_SWIVEL_ROWS = 128 };

/* the room's own constants of a crash; docs/models/crash.md 1 has their reasons */
#define TW_CRASH_SWIVEL_MOST  0.35 /* rad, how far a swivel without a limit is followed */
#define TW_CRASH_VOID_STOP    20.0 /* a disc on its backing over the free one, stiffness */
#define TW_CRASH_VOID_LEAST   1e-3 /* least share of the rest clearance that is left at lift-off */
#define TW_CRASH_STIFF        1e6  /* N/m, stands for a seat that does not give */
#define TW_CRASH_SLOPE_LEAST  1e-3 /* N/m, of a seat that gives without more force */
#define TW_CRASH_SPRING_LEAST 1.0  /* N/m, stands for a dead load */
#define TW_CRASH_SLOPE_TRAVEL                                                                      \
  5e-5                               /* m, over which the slope of a side that never trips is read \
                                      */
#define TW_CRASH_SLOPE_PRETRAVEL 1.5 /* pretravels, the same where it trips */

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
  /* the load on the disc: N at rest, share of a small push, N that lifts the carrier, N at which
   * the void is used up, load per newton of a push that tips the carrier */
  double preload, kept, lift, load_most, lever;
  double (*load_under)(const void *self, double force); /* NULL: the swivel's edge load */
  tw_fault untold; /* status not TW_OK: a layer of the disc has no stress, and why */
} tw_crash_way;

/* "sideways", "along the axis" */
const char *tw_crash_way_name(bool sideways);
/* Lay the row down from the design (`name` and `sideways` are set; stages point into `way`: do not
 * copy it) and drive the tip in along `touch` by housing.travel_side or travel_axial. Errors as
 * tw_crash_run. */
tw_status tw_crash_way_run(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                           const tw_seat_touch_result *touch, tw_crash_way *way, tw_fault *fault);
/* both ways of an assessment, once; kept in run->crash. Errors: TW_NO_MEMORY; what has no answer is
 * kept in run->crash_why. */
tw_status tw_crash_ways(tw_run *run, tw_fault *fault);
/* stress over allowable that the load at rest alone gives; 0 when there is no disc */
double tw_crash_rest_ratio(const tw_crash_way *way);

/* the exact swivel at evenly spaced angles, once; between them straight (a ten-thousandth off) */
void tw_crash_swivel_tabulate(tw_crash_way *way);
/* force at the tip by its travel, of a way that is tabulated */
double tw_crash_swivel_force(const void *self, double travel);
/* load on the disc at the swivel's edge, by its travel */
double tw_crash_swivel_load(const void *self, double travel);
/* fill in how the disc is loaded this way */
tw_status tw_crash_disc_load(const tw_probe *probe, tw_seat_work *work, tw_crash_way *way,
                             tw_fault *fault);
/* ceramic and plate as members of the row; way->ceramic is set */
tw_status tw_crash_add_disc(const tw_design *design, const tw_probe *probe, tw_crash_way *way,
                            tw_fault *fault);
/* Pa/N: largest tension of a layer under a newton shared by `points` alike points on a circle
 * (infinite: a ring). Errors as tw_disc_stresses. */
tw_status tw_crash_layer_stress(const tw_probe *probe, tw_disc_layer layer, double radius,
                                double patch, double points, double *stress, tw_fault *fault);
/* one of N points that share a newton: its own share as a point, the others as a ring */
double tw_crash_shared(double ring, double point, double points);
/* N at the end of the travel, or where the first part fails: past that there is no model */
double tw_crash_way_force(const tw_crash_way *way);
/* trip, holder lifts, ceramic, stem: what should come one after the other; returns how many of
 * TW_COURSE_MARKS there are */
size_t tw_crash_way_marks(const tw_crash_way *way, tw_crash_mark mark[TW_COURSE_MARKS]);
/* tell what is known of it */
tw_status tw_crash_way_course(const tw_crash_way *way, tw_course *out, tw_fault *fault);

#endif
