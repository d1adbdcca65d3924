/* push.h: private: one push along a direction, up to an event, and back. */
#ifndef TW_SEAT_PUSH_H
#define TW_SEAT_PUSH_H

#include "engine.h"

typedef enum seat_goal { SEAT_GOAL_CHARGE, SEAT_GOAL_OPENING, SEAT_GOAL_FORCE } seat_goal;

typedef struct seat_run {
  seat_drive drive;
  const tw_seat_options *options;
  seat_goal goal;
  double target_force; /* N, for SEAT_GOAL_FORCE */
  double first;        /* m, machine coordinate of first force */
  double start[SEAT_ALL];
  bool reached;       /* the goal */
  bool at_rest;       /* already at the start */
  double estimate;    /* m, machine coordinate of the goal when it was not located exactly */
  bool watch_opening; /* also find the first contact that opens */
  bool opened;
  double open_force, open_charge;
  double most_force, most_travel, most_turn;
} seat_run;

/* free tip at w->now: charge counts from here, first force will be here */
void tw_seat_run_begin(const tw_seat_model *m, tw_seat_work *w, seat_run *run);
/* how far past the goal, or past the first opening, in units of it: < 0 before, >= 0 from there on
 */
double tw_seat_run_event(const tw_seat_model *m, const tw_seat_work *w, const seat_run *run,
                         bool opening);
/* land w->now on the event that lies between w->keep[1], where its measure is before < 0, and
 * w->now, where it is after >= 0; false when no balance is found */
bool tw_seat_run_locate(const tw_seat_model *m, tw_seat_work *w, const seat_run *run, bool opening,
                        double before, double after);
/* push until the goal, ending on it exactly (`exact`) or on the first step past it; steps of at
 * most `step`, or of the run's own choice when 0; false when no balance is found */
bool tw_seat_run_push(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double step,
                      bool exact);
/* on to machine coordinate x in `steps` even steps */
bool tw_seat_run_to(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double x, size_t steps);
/* the same in steps that grow: on past a trip */
bool tw_seat_run_on(const tw_seat_model *m, tw_seat_work *w, seat_run *run, double x, size_t steps);
/* back until the tip is free, in steps that shrink */
bool tw_seat_run_back(const tw_seat_model *m, tw_seat_work *w, seat_run *run, size_t steps);
/* m/N along the direction at w->now, stem and tip contact left out */
double tw_seat_run_compliance(const tw_seat_model *m, tw_seat_work *w, const seat_run *run);
tw_status tw_seat_run_fault(const tw_seat_model *m, tw_seat_work *w, const seat_run *run,
                            tw_fault *fault);
tw_status tw_seat_options_check(const tw_seat_options *o, double azimuth, double elevation,
                                tw_fault *fault);

#endif
