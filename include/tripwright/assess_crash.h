/* assess_crash.h: the course of a crash of one design, sideways and along the axis.
 *
 * What touch_crash.h computes for a row of stages, laid down from a design: which stage gives when,
 * what each member carries, where it would fail, and the curve of force against travel. SI units,
 * forces and travels at the tip and along the direction of the touch, travel from first contact.
 * The structures are plain values of the caller; texts in them are static, fields are paths of the
 * design. Several threads may work on different designs. Equations and limits:
 * docs/models/crash.md.
 */
#ifndef TRIPWRIGHT_ASSESS_CRASH_H
#define TRIPWRIGHT_ASSESS_CRASH_H

#include "tripwright/assess.h"
#include "tripwright/touch_crash.h"

#define TW_COURSE_ROWS  192
#define TW_COURSE_MARKS 4

/* one stage of the row: when it begins to give, when it meets its stop, where it stands at the end
 */
typedef struct tw_course_stage {
  const char *name, *field;
  double gives_at, gives_travel; /* N, and m of total travel then */
  bool has_stop;
  double limit;                   /* m of its own travel up to the stop */
  double stop_force, stop_travel; /* N and m of total travel when it meets it */
  bool far;            /* past what the other stages are known for: stop_travel is a lower bound */
  double travel;       /* m of its own at the end */
  bool stopped;        /* it stands on its stop then */
  double energy, kept; /* J taken up until then, and not given back */
} tw_course_stage;

/* one part that may break */
typedef struct tw_course_member {
  const char *name, *field;
  double load;              /* N that it carries at the end of the travel */
  double stress, allowable; /* Pa at that load */
  double ratio;             /* stress over allowable */
  bool can_fail;            /* some force brings it to its allowable */
  double fail_force, fail_travel;
  bool far; /* it does so past what the stages are known for: fail_travel is a lower bound */
} tw_course_member;

/* what should come one after the other: trip, holder lifts, ceramic, stem */
typedef struct tw_course_mark {
  const char *name, *field;
  double force;
  bool late; /* not above the mark before it: the order is broken */
} tw_course_mark;

/* the course in one direction */
typedef struct tw_course {
  const char *name; /* "sideways", "along the axis" */
  bool known;
  char why[240]; /* why not, when not known */

  double azimuth, elevation; /* rad: the side of the largest trip force; the pole */
  double trip;               /* N, 0 when this direction does not trip */
  double travel, force;      /* m asked for (housing.travel_side, _axial), N at its end */
  double energy, kept;       /* J at its end */
  size_t stages, members, marks;
  tw_course_stage stage[TW_CRASH_STAGES];
  tw_course_member member[TW_CRASH_MEMBERS];
  tw_course_mark mark[TW_COURSE_MARKS];
  size_t first_stage; /* what gives first of all that holds at first; stages when nothing does */
  bool fails;         /* a member reaches its allowable within the travel */
  size_t first;       /* which one first, or `members` when none ever does */
  double crash_force; /* N at the end, or where the first part fails */

  /* the curve, from 0 to the end of the travel; where a part fails, to twice the travel then */
  size_t rows;
  double row_travel[TW_COURSE_ROWS], row_force[TW_COURSE_ROWS];
  double row_stage[TW_CRASH_STAGES][TW_COURSE_ROWS];  /* m of each stage; they add up */
  double row_ratio[TW_CRASH_MEMBERS][TW_COURSE_ROWS]; /* stress over allowable of each member */
} tw_course;

/* Assess a design as tw_assess does, and tell the course of its crash: course[0] sideways in the
 * direction of the largest trip force, course[1] along the axis. The figures are those of the
 * measures crash_force, first_to_fail and the stress ratios. A course that has no answer (a part
 * without a usable stiffness, a probe tripped at rest) is not `known` and says why. Errors as
 * tw_assess. */
tw_status tw_crash_of(const tw_design *design, const tw_assess_options *options,
                      tw_assessment *assessment, tw_course course[2], tw_fault *fault);

#endif
