/* touch_crash.h: what gives way when the machine does not stop, and whether the stack fits.
 *
 * A crash is a row of things in series between the ball and the spindle (stem, seat, backing stop,
 * holder on its hold-down, swivel limit, hard stop): the same force runs through all, their travels
 * at the tip add up. Plain numbers in SI, inputs borrowed for the call, results are the caller's;
 * no function keeps anything, all may run in several threads. Equations, sources, limits:
 * docs/models/crash.md.
 */
#ifndef TRIPWRIGHT_TOUCH_CRASH_H
#define TRIPWRIGHT_TOUCH_CRASH_H

#include "tripwright/base.h"

/* ---- stages in series ---------------------------------------------------------------------------
 */

typedef enum tw_crash_law {
  TW_CRASH_SPRING, /* rigid until gives_at, then gives_at + stiffness x */
  TW_CRASH_TABLE,  /* force over travel, rising in both, monotone cubic, unloading apart */
  TW_CRASH_EXACT   /* force_of(self, travel), never falling */
} tw_crash_law;

/* forces and travels along the direction, at the tip; everything below in N and m */
typedef struct tw_crash_stage {
  const char *name, *field;
  tw_crash_law law;
  double gives_at, stiffness;
  const double *travel, *force, *unloading; /* table; unloading force at the same travels or NULL */
  size_t count;
  double (*force_of)(const void *self, double travel);
  const void *self;
  double reach;          /* exact law: travel up to which force_of holds (then it is solid) */
  double limit;          /* travel at which it meets a stop; 0 = none (a table's end is one) */
  double stop_stiffness; /* of that stop, > 0 where a limit, a table or a reach can be met */
} tw_crash_stage;

/* something that may break: stress per newton of the load that a stage's own law carries (its stop
 * takes the rest), times `share`; or, with load_of, of a load that depends on that stage's travel;
 * or, with load_under, on the force that runs through all stages (then `share` counts as well)
 */
typedef struct tw_crash_member {
  const char *name, *field;
  size_t stage;
  bool whole; /* carries the whole force, stops or not (a stem) */
  double share;
  double (*load_of)(const void *self, double travel);
  const void *self;
  double stress_per_newton;                             /* Pa/N */
  double allowable;                                     /* Pa */
  double (*load_under)(const void *self, double force); /* goes before load_of; NULL: none */
} tw_crash_member;

#define TW_CRASH_STAGES  12
#define TW_CRASH_MEMBERS 12

typedef struct tw_crash {
  double force;                         /* N at the end of the travel */
  double travel[TW_CRASH_STAGES];       /* m of each stage; their sum is the travel asked for */
  bool stopped[TW_CRASH_STAGES];        /* it stands on its stop */
  double energy[TW_CRASH_STAGES];       /* J taken up */
  double kept[TW_CRASH_STAGES];         /* J not given back (separate unloading) */
  double total;                         /* J */
  double stress[TW_CRASH_MEMBERS];      /* Pa */
  double ratio[TW_CRASH_MEMBERS];       /* stress over allowable */
  bool can_fail[TW_CRASH_MEMBERS];      /* some force brings it to its allowable */
  double fail_force[TW_CRASH_MEMBERS];  /* N, that force */
  double fail_travel[TW_CRASH_MEMBERS]; /* m of total travel then */
  bool fails;                           /* something does within the travel asked for */
  size_t first;                         /* member that reaches its allowable at the least travel */
  bool has_first;
} tw_crash;

/* Drive the tip in by `travel` m. TW_BAD_INPUT names the stage's field; TW_NO_ANSWER when nothing
 * can give way that far. */
tw_status tw_crash_run(const tw_crash_stage *stages, size_t stage_count,
                       const tw_crash_member *members, size_t member_count, double travel,
                       tw_crash *out, tw_fault *fault);

/* force on the whole row at a travel, and back: the curve for a picture */
tw_status tw_crash_force(const tw_crash_stage *stages, size_t count, double travel, double *force,
                         tw_fault *fault);

/* The same row the other way round: the total travel under `force` N, and the own travel of each
 * stage (`each` NULL or `count` numbers). Errors as tw_crash_run. */
tw_status tw_crash_travel(const tw_crash_stage *stages, size_t count, double force, double *each,
                          double *total, tw_fault *fault);

/* the force from which a stage gives, and where it meets its stop */
typedef struct tw_crash_bounds {
  double gives_at; /* N */
  bool has_stop;
  double limit, stop_force; /* m of its own travel, N; 0 without a stop */
} tw_crash_bounds;
tw_status tw_crash_bounds_of(const tw_crash_stage *stage, tw_crash_bounds *out, tw_fault *fault);

/* the load in N that a member carries when `force` runs through the row (no checks: both have
 * passed tw_crash_run) */
double tw_crash_load(const tw_crash_stage *stages, const tw_crash_member *member, double force);

/* ---- order
 * --------------------------------------------------------------------------------------- */

/* what should come one after the other in a direction: trip, holder lifts, disc, stem ... */
typedef struct tw_crash_mark {
  const char *name, *field;
  double force; /* N at the tip */
} tw_crash_mark;

/* Each mark that is not above the one before it becomes a warning with the field to change;
 * returns how many there were. `messages` may be NULL. */
size_t tw_crash_order_warn(const char *direction, const tw_crash_mark *marks, size_t count,
                           tw_messages *messages);

/* bending at the root of a round stem: 32 L/(pi d^3), Pa/N */
double tw_crash_stem_stress(double length, double diameter);

/* ---- the holder on its hold-down
 * ------------------------------------------------------------------ */

typedef tw_status (*tw_crash_stress_fn)(const void *foam, double strain, double *stress,
                                        tw_fault *fault);

/* a foam ring that presses the holder down; the holder tips on an edge */
typedef struct tw_crash_foam_ring {
  tw_crash_stress_fn stress; /* nominal stress over strain, e.g. of seat_forms.h */
  const void *foam;
  double outer_radius, inner_radius; /* m */
  double thickness, precompression;  /* m, free and at home */
  double tipping_radius, height;     /* m: edge from the axis, ball above the edge */
} tw_crash_foam_ring;

/* N along the axis when lifted by `lift` m */
tw_status tw_crash_foam_axial(const tw_crash_foam_ring *ring, double lift, double *force,
                              tw_fault *fault);
/* N sideways at the ball when the ball has moved by `travel` m: the holder turns about its edge,
 * each part of the ring is compressed by its own amount */
tw_status tw_crash_foam_side(const tw_crash_foam_ring *ring, double travel, double *force,
                             tw_fault *fault);
/* rows 0 .. travel_end for a stage; stops early where the foam is solid, *count tells the rows */
tw_status tw_crash_foam_table(const tw_crash_foam_ring *ring, bool sideways, double travel_end,
                              size_t rows, double *travel, double *force, size_t *count,
                              tw_fault *fault);

/* ---- after the crash
 * -------------------------------------------------------------------------------- */

typedef enum tw_crash_locating {
  TW_CRASH_BY_PLAY,      /* pulled back until friction or the hole's edge holds it */
  TW_CRASH_KINEMATICALLY /* three balls in three grooves: it finds its place */
} tw_crash_locating;

typedef struct tw_crash_reseat {
  double play, by_friction; /* m: from edge to edge of the hole, mu S/k */
  double offset;            /* m, the smaller of the two */
  bool tram_again;
} tw_crash_reseat;

/* holddown in N; lateral stiffness in N/m, 0 = nothing pulls it back: the whole play */
tw_status tw_crash_reseat_of(tw_crash_locating locating, double play, double friction,
                             double holddown, double lateral_stiffness, tw_crash_reseat *out,
                             tw_fault *fault);

/* ---- axial stack
 * -------------------------------------------------------------------------------------- */

/* a link of the chain: signed length, and how far it may differ from it (both >= 0) */
typedef struct tw_stack_link {
  const char *name;
  double length, minus, plus; /* m */
} tw_stack_link;

typedef struct tw_stack {
  double nominal; /* m, what is left */
  double worst_low, worst_high;
  double mean;              /* m, with every link in the middle of its limits */
  double spread;            /* m, root of the sum of squared half widths */
  double rss_low, rss_high; /* mean -+ spread */
  double clearance;         /* worst_low - least */
  double rss_clearance;     /* rss_low - least */
  bool fits, fits_rss;
} tw_stack;

/* `share` (NULL or count numbers): part of each link in the squared spread, sum 1 */
tw_status tw_stack_of(const tw_stack_link *links, size_t count, double least, double *share,
                      tw_stack *out, tw_fault *fault);

#endif
