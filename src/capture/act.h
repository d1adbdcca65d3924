/* act.h: one evaluation: the channel in volts, what was set, where results go; a function an act.
 */
#ifndef TW_CAPTURE_ACT_H
#define TW_CAPTURE_ACT_H

#include "fit.h"
#include "signal.h"

typedef struct tw_eval {
  const tw_capture_record *record;
  const tw_capture_setup *setup;
  tw_capture_result *result;
  tw_fault *fault;
  size_t channel;
  double *v; /* of that channel, volts (or shares of full scale) at the tip */
  size_t n;
  double interval, start, scale; /* scale: volts a number of the record */
  const char *unit;
} tw_eval;

tw_status tw_act_cut(tw_eval *job);
tw_status tw_act_series(tw_eval *job);
tw_status tw_act_hand(tw_eval *job);
tw_status tw_act_table(tw_eval *job);
tw_status tw_act_ring(tw_eval *job);
tw_status tw_act_sweep(tw_eval *job);
tw_status tw_act_tone(tw_eval *job);
tw_status tw_act_rest(tw_eval *job);
tw_status tw_act_edges(tw_eval *job);
tw_status tw_act_ramp(tw_eval *job);
tw_status tw_act_touches(tw_eval *job);
tw_status tw_act_meter(tw_eval *job);
tw_status tw_act_directions(tw_eval *job);

tw_status tw_eval_memory(const tw_eval *job);
/* time of sample k */
double tw_eval_at(const tw_eval *job, size_t k);
/* the other channel in volts, or NULL */
const double *tw_eval_other(const tw_eval *job, size_t channel);
/* resistance on the node: bias beside instrument; NaN when the bias is not stated. *u absolute */
double tw_node_resistance(const tw_capture_setup *setup, double *u);
/* relative standard uncertainty of gain */
double tw_gain_u(const tw_eval *job);
/* charge, charge per newton (weight k), node capacitance from step and decay; u in quadrature */
void tw_put_charge(tw_eval *job, double step, double u_step, double tau, double u_tau);
void tw_put_per_newton(tw_eval *job, double charge, double u_charge);
/* too few samples in the decay, hum against the step, record shorter than the decay */
void tw_judge_decay(tw_eval *job, double step, double tau, double after);
/* the fitted model over the samples from..to, as the result's curve; origin: time of its t = 0 */
void tw_put_curve(tw_eval *job, const tw_sep *fit, double origin, double from, double to);

/* ---- a cut through the instrument --------------------------------------------------------------
 */

/* What stands between the charge and what is seen: x(t) = sum weight_k exp(-rate_k t) for a step of
 * charge. Direct: one pole. A capacitor in series: two. */
typedef struct tw_plant {
  size_t poles;
  double rate[2], weight[2];
} tw_plant;
void tw_plant_direct(double tau, tw_plant *out);
/* C V' = Q' - V/R_b - (V - V_c)/R_in; C_c V_c' = (V - V_c)/R_in; x = V - V_c */
void tw_plant_coupled(double node, double bias, double input, double coupling, tw_plant *out);
/* What is seen of a charge that goes from 0 to 1 evenly within `cut`, with the mounted mode
 * (angular frequency w, damping a) ringing on it: what of it does not depend on time. */
typedef struct tw_course {
  tw_plant plant;
  double cut, a, w;
  double edge[2];          /* of each pole: mean of e^(r u) over the cut */
  double share[2][2];      /* weight r/(r + s), real and imaginary, of each pole */
  double own[2], smear[2]; /* sum of weight s/(r + s); mean of e^(-s u) over the cut */
} tw_course;
void tw_course_set(const tw_plant *plant, double cut, double a, double w, tw_course *out);
/* seen at t: of the step, and of the ring in its two quadratures e^-at cos wt, e^-at sin wt */
void tw_course_at(const tw_course *course, double t, double *step, double ring[2]);

typedef struct tw_cut {
  /* in */
  const double *v;
  size_t n, event, from, to; /* event: first sample beyond the noise; samples from..to are used */
  double interval, noise;
  double code, quiet;  /* the converter's step; scatter at rest without it */
  const tw_clip *clip; /* NULL: none */
  bool coupled;
  double bias, input, coupling; /* of the coupled plant */
  bool tail;                    /* the decay of an earlier event is still there */
  double cut_time;              /* s; 0: fitted */
  bool look_for_hum;
  /* out: t counts from sample `event` */
  tw_sep fit;
  double step, u_step;                     /* V; charge when coupled */
  double shape, u_shape;                   /* decay time; node capacitance when coupled */
  double ring, u_ring, damping, u_damping; /* Hz, share of critical */
  double at, u_at, cut;                    /* s from sample event */
  double hum, u_hum, hum_hz, u_hum_hz;
  double offset;
  size_t used;
  bool free_ring;
} tw_cut;
tw_status tw_cut_fit(tw_cut *cut, tw_fault *fault);
double tw_cut_at(const tw_cut *cut, double t);

#endif
