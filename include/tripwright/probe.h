/* probe.h: the parts of one design solved once: disc, stylus, circuit and seat, fitted together.
 *
 * The order is that of the signal: the disc in its support, the stem, the board with the disc's
 * mounted capacitance, then the carrier on its seat with the disc's compliance at the electrical
 * state in which the board holds it. SI units. The caller owns what tw_probe_new returns and frees
 * it with tw_probe_free; a tw_probe is immutable, each thread takes its own tw_seat_work.
 */
#ifndef TRIPWRIGHT_PROBE_H
#define TRIPWRIGHT_PROBE_H

#include "tripwright/assess.h"
#include "tripwright/base.h"
#include "tripwright/circuit.h"
#include "tripwright/design.h"
#include "tripwright/disc.h"
#include "tripwright/seat.h"
#include "tripwright/stylus.h"
#include "tripwright/touch.h"
#include "tripwright/touch_judge.h"

typedef struct tw_probe {
  bool has_disc; /* false: contacts that open, no disc */
  tw_disc_spec disc_spec;
  tw_disc *disc;
  tw_disc_measures disc_measures;
  double outside_capacitance; /* F, what hangs on the disc; TW_DISC_SHORT for a charge amplifier */

  tw_stylus_spec stylus_spec;
  tw_stylus stylus;

  tw_circuit_spec board;
  tw_circuit circuit;

  tw_seat_spec seat_spec;
  tw_seat_model *seat;
  tw_seat_rest rest;
  tw_seat_options touch; /* how a quasi-static touch ends in this circuit */
  bool sign_assumed;     /* poling unknown: the sign that a push along the axis gives is taken as
                            the one that the circuit sees */
  /* TW_MEASURE_OK: armed and ready to be touched. TRIPPED_AT_REST, STUCK: no touch can be judged;
   * NO_ANSWER: the seat does not balance, and `seat` is NULL. The reason and the field to change
   * stand in `trouble`, whose status is then not TW_OK. */
  tw_measure_state state;
  tw_fault trouble;
} tw_probe;

/* Solve the parts of a design. TW_BAD_INPUT names the field, TW_NO_ANSWER says what has none. */
tw_status tw_probe_new(const tw_design *design, tw_probe **out, tw_fault *fault);
/* the same without the resonances of the disc free and mounted, which no touch needs */
tw_status tw_probe_new_to_touch(const tw_design *design, tw_probe **out, tw_fault *fault);
void tw_probe_free(tw_probe *probe);

/* ---- many directions ------------------------------------------------------------------------- */

/* A workspace for each of `threads` threads; NULL: no memory. Freed with tw_probe_free_works. */
tw_seat_work **tw_probe_works(const tw_probe *probe, int threads);
void tw_probe_free_works(tw_seat_work **works, int threads);

/* Touch `count` directions whose azimuth and elevation (rad) are set in `touch`, on `threads`
 * threads. Where the seat repeats, one direction of each kind is touched and the others are its
 * pictures (docs/models/seat.md 1), so that the answer does not depend on which one it was. A
 * direction without balance has state TW_SEAT_NO_ANSWER; other errors end the outing. */
tw_status tw_probe_touches(const tw_probe *probe, tw_seat_work **works, int threads, size_t count,
                           tw_seat_touch_result *touch, const tw_progress *progress,
                           tw_fault *fault);

/* what a touch came to: OK, NO_TRIP, TRIPPED_AT_REST, NO_REARM or NO_ANSWER */
tw_measure_state tw_probe_touch_state(const tw_seat_touch_result *touch);
/* the same of a touch in time */
tw_measure_state tw_probe_timed_state(tw_touch_state state);
/* How friction lets the carrier come back: the worst of the rule at rest and of the touches that
 * tripped. */
tw_seat_regime tw_probe_regime(const tw_probe *probe, size_t count,
                               const tw_seat_touch_result *touch);

/* ---- one direction in time ------------------------------------------------------------------- */

#define TW_PROBE_ROWS 96
/* rows of a touch's table in which a holder on its hold-down gives way */
#define TW_PROBE_HOLD_ROWS 12

/* A touch model with the tables it points to: do not copy it, the tables lie inside. */
typedef struct tw_probe_touch {
  tw_touch_model model;
  double x[TW_PROBE_ROWS + TW_PROBE_HOLD_ROWS], force[TW_PROBE_ROWS + TW_PROBE_HOLD_ROWS],
      charge[TW_PROBE_ROWS + TW_PROBE_HOLD_ROWS];
  double pretravel; /* m, quasi-static, of this direction */
  double room;      /* m that it may run on: housing.travel_side or travel_axial, or less where a
                       part would fail in a crash that way, or a swivel meets its limit */
  const char *room_why; /* what ends it, static text */
  double course;   /* m past first contact for which the seat's curve is known and the housing has
                      room: a touch that has not tripped there does not trip */
  double searched; /* N, how far was looked when it does not trip there; else 0 */
  tw_measure_state state; /* why there is nothing to run in time, when that is TW_NO_ANSWER */
} tw_probe_touch;

/* The touch along one direction (rad): force and charge against the carrier's travel from the
 * seat's curve, effective masses, node, stages and comparator from the circuit. TW_NO_ANSWER when
 * the seat has no curve or does not trip in this direction. Source: docs/models/touch.md 8. */
tw_status tw_probe_touch_of(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                            double azimuth, double elevation, tw_probe_touch *out, tw_fault *fault);
/* Force and charge of a seat's course past its trip into the rows of `out` and the model's table;
 * `touch` is that direction's touch with the same options; half the rows lie within `fine`
 * pretravels. TW_NO_ANSWER: no curve. */
tw_status tw_probe_rows(const tw_seat_model *seat, const tw_seat_options *options,
                        tw_seat_work *work, const tw_seat_touch_result *touch, double fine,
                        tw_probe_touch *out, tw_fault *fault);
/* the machine of a design: feed, stop, sampling, latency with the link's, retract */
tw_status tw_probe_motion(const tw_design *design, const tw_probe *probe, double feed,
                          tw_touch_motion *out, tw_fault *fault);
/* How far this touch looks for its trip, and how long its node may take to settle, into the motion
 * of its machine: every touch of a design, whoever runs it, looks equally far. */
void tw_probe_search(const tw_probe *probe, const tw_probe_touch *touch, tw_touch_motion *motion);

/* the feeds between which the direction of `touch` works (tw_touch_window), as every view says it
 */
tw_status tw_probe_window(const tw_design *design, const tw_probe *probe,
                          const tw_probe_touch *touch, double elevation, tw_touch_work *work,
                          tw_window *out, tw_fault *fault);

#define TW_PROBE_FEEDS 24 /* of machine.feeds that are looked at */
/* the feeds of machine.feeds, how many */
size_t tw_probe_feeds(const tw_design *design, tw_window_row row[TW_PROBE_FEEDS]);
/* The delay that a line through these touched rows looks like, as every view says it: over the
 * feeds from half of machine.feed on at which the pretravel is constant (window.calibrate).
 * TW_NO_ANSWER with a sentence when fewer than two of them trip; out->rows says how many do. */
tw_status tw_probe_delay(const tw_design *design, const tw_probe_touch *touch,
                         const tw_window_row *row, size_t count, tw_apparent_delay *out,
                         tw_fault *fault);

/* ---- pushed along the axis --------------------------------------------------------------------
 */

/* Of a small force along the axis the share that passes the disc by, through the seat's other
 * contacts (0: the disc gets all of it), and the force (N) that lifts the carrier off them, past
 * which the disc gets all; 0 when nothing passes by. TW_NO_MEMORY at worst. */
tw_status tw_probe_bypass(const tw_probe *probe, tw_seat_work *work, double *bypass, double *lift,
                          tw_fault *fault);

/* ---- shaken ---------------------------------------------------------------------------------- */

/* The probe as acceleration sees it: masses, dead zone, signal. `dead_moment` (N m about X and Y,
 * as touches there gave it) may be NULL: then it is touched. Not for opening contacts. */
tw_status tw_probe_shake_of(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                            const double dead_moment[2], tw_shake *out, tw_fault *fault);
/* acceleration and jerk of the machine along X, Y, Z */
void tw_probe_acceleration(const tw_design *design, double acceleration[3], double jerk[3]);
/* Opening contacts under an acceleration along X, Y, Z (a move, a knock, the amplitude of a
 * vibration slow against the carrier): its inertia against the force that opens them. */
tw_status tw_probe_shake_contacts(const tw_probe *probe, tw_seat_work *work,
                                  const double acceleration[3], tw_shaken out[3], tw_fault *fault);
/* the machine's own moves along X, Y, Z; for opening contacts inertia against the touch's force */
tw_status tw_probe_shake_move(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                              const double dead_moment[2], tw_shaken out[3], tw_fault *fault);

#endif
