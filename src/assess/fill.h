/* fill.h: how a measure gets its value or the reason why it has none; inside the room only. */
#ifndef TW_ASSESS_FILL_H
#define TW_ASSESS_FILL_H

#include "tripwright/assess.h"
#include "tripwright/assess_crash.h"
#include "tripwright/probe.h"

/* what is sought over all azimuths at elevation 0, and how many touches between the grid's points
 * that may take */
enum { TW_FORCE_MOST, TW_FORCE_LEAST, TW_TRAVEL_MOST, TW_TRAVEL_LEAST, TW_EXTREMES };
enum { TW_BETWEEN = 32 };

/* everything one assessment works with */
/* a few sides in the place of all: for the trials */
enum { TW_FEW_SIDES = 2 };
typedef struct tw_few {
  double azimuth[TW_FEW_SIDES];                 /* rad */
  tw_seat_touch_result touch[TW_FEW_SIDES + 1]; /* and the axis: what came of them */
  bool known;                                   /* they stand there already */
} tw_few;

typedef struct tw_run {
  tw_few *few; /* NULL: all sides, evenly spaced */
  const tw_design *design;
  const tw_assess_options *options;
  const tw_probe *probe;
  double latched; /* m, mean travel until the position is recorded, worst side, machine.feed */
  int threads;
  tw_seat_work **works; /* one a thread */
  tw_seat_work *work;   /* the first of them */
  tw_assessment *out;
  /* quasi-static touches: `side` at elevation 0, evenly spaced; then the pole */
  tw_seat_touch_result *touch;
  size_t touches, sides, pole;
  tw_seat_touch_result *sphere;     /* the 25 points after them, when the map is asked for */
  size_t between_first, between;    /* touches between the sides, behind all others */
  size_t extreme[TW_EXTREMES];      /* which touch is it */
  size_t worst_force, worst_travel; /* the largest of them again */
  bool sides_trip, tripped;         /* every side trips; and the pole too */
  tw_course *course;                /* two, to be told; or NULL */
  struct tw_crash_way *crash;       /* sideways, along the axis; laid down when first asked for */
  tw_fault crash_why;               /* status not TW_OK: the crash has no answer */
} tw_run;

/* is the side with the shortest travel another than the one with the longest; sides that all trip
 */
bool tw_softest_differs(const tw_run *run);

/* is one of `count` measures asked for */
bool tw_wants(const tw_run *run, const tw_measure_id *id, size_t count);
bool tw_wants_one(const tw_run *run, tw_measure_id id);

void tw_put(tw_assessment *out, tw_measure_id id, double value);
void tw_put_word(tw_assessment *out, tw_measure_id id, const char *word);
void tw_put_state(tw_assessment *out, tw_measure_id id, tw_measure_state state, const char *format,
                  ...) __attribute__((format(printf, 4, 5)));
void tw_put_note(tw_assessment *out, tw_measure_id id, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void tw_put_fault(tw_assessment *out, tw_measure_id id, const tw_fault *fault);
void tw_put_band(tw_assessment *out, tw_measure_id id, double low, double high);
void tw_put_part(tw_assessment *out, tw_measure_id id, const char *cause, double value);
/* `path` is the field to change */
void tw_warn(tw_assessment *out, const char *path, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

void tw_measure_disc_room(tw_run *run);
/* what the carrier at rest shows without a touch: needs a seat */
void tw_measure_rest(tw_run *run);
/* charge and voltage per newton of a disc pressed on its backing: needs a seat */
void tw_measure_as_fitted(tw_run *run);
/* what the holder and the stack show without a crash */
void tw_measure_holder(tw_run *run);
/* what the link adds, without a touch */
tw_status tw_measure_link(tw_run *run, tw_fault *fault);
tw_status tw_measure_circuit_room(tw_run *run, tw_fault *fault);
tw_status tw_measure_seat_room(tw_run *run, tw_fault *fault);
tw_status tw_measure_timed(tw_run *run, tw_fault *fault);
/* one edge, from the figures above; is it asked for; what it needs is asked for, too */
void tw_measure_edge(tw_run *run);
bool tw_wants_edge(const tw_run *run);
void tw_edge_asks(tw_measure_set *wanted);
tw_status tw_measure_crash(tw_run *run, tw_fault *fault);
void tw_warn_all(const tw_run *run);
void tw_warn_sign(const tw_run *run);
/* what every figure rests on: the defaults that it read are tried at both ends of their tolerance
 * (docs/models/assess.md 6); without `trial` only what the figures are made of is looked at */
tw_status tw_put_basis(tw_run *run, bool trial, tw_fault *fault);

#endif
