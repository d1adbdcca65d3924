/* inner.h: what the files of the room identify share. */
#ifndef TW_IDENTIFY_INNER_H
#define TW_IDENTIFY_INNER_H

#include "tripwright/identify.h"
#include "tripwright/parallel.h"

#include <stddef.h>

/* what a card shows of everything that can be asked of it */
typedef struct shown {
  bool known[TW_IDENTIFY_SHOWN];
  double value[TW_IDENTIFY_SHOWN];
} shown;

/* one thread's own */
typedef struct room {
  tw_design *design;
  tw_bench_card card;
  tw_bench_inputs inputs;
  tw_assessment forces;
} room;

typedef struct unit_model {
  const tw_design *design;
  tw_units *units;
  tw_bench_instruments with; /* the test weight is that of the drawing's card */
  int threads;
  const tw_progress *progress;
  size_t parameters;
  tw_parameter *parameter;
  bool asked[TW_IDENTIFY_SHOWN]; /* what has to be on the card */
  room *room;                    /* [threads] */
  tw_bench_inputs around;        /* of the place whose neighbours are asked for */
  tw_assessment forces;          /* the same: directions of the weights */
  size_t cards;
} unit_model;

/* the parameters of a unit of this design, with what is known of them before (prior) */
tw_status tw_unit_parameters(const tw_design *design, tw_units *units, double hand_time,
                             tw_parameter *parameter, size_t *count, tw_fault *fault);
/* the value of a parameter z prior deviations from its centre, and back */
double tw_parameter_at(const tw_parameter *p, double z);
double tw_parameter_z(const tw_parameter *p, double value);
/* put it into a design (not the hand) */
void tw_parameter_put(const tw_design *drawn, const tw_parameter *p, double value, tw_design *own);

tw_status tw_unit_model_new(unit_model *m, tw_fault *fault);
void tw_unit_model_free(unit_model *m);
/* what the unit at z[parameters] shows; a unit that cannot be is TW_OK with nothing known */
tw_status tw_unit_shows(unit_model *m, const double *z, shown *out, tw_fault *fault);
/* derivatives [what][parameter] of what the card shows, per prior deviation, by central differences
 * around z; 0 where a side has no figure */
tw_status tw_unit_jacobian(unit_model *m, const double *z, double *jacobian, tw_fault *fault);
/* the same of one measure of `check` */
tw_status tw_unit_measure_slope(unit_model *m, const double *z, tw_measure_id id, double *slope,
                                double *value, tw_fault *fault);
/* units with only parameter k moved: z[k] takes each of at[count]; out[count] */
tw_status tw_unit_slice(unit_model *m, const double *z, size_t k, const double *at, size_t count,
                        shown *out, tw_fault *fault);

/* ---- the fit ---- */

/* readings as rows of a least squares problem */
typedef struct rows {
  size_t count;
  size_t what[TW_BENCH_COUNT]; /* check of each */
  double value[TW_BENCH_COUNT], u[TW_BENCH_COUNT];
  bool ratio[TW_BENCH_COUNT]; /* compared by the logarithm */
  bool off[TW_BENCH_COUNT];   /* left out */
} rows;

/* what is left of row i, in its uncertainty; a figure that is not there is a contradiction */
double tw_row_left(const rows *r, size_t i, const shown *s);
/* slope of that along one parameter when what is shown has the slope `slope` */
double tw_row_slope(const rows *r, size_t i, const shown *s, double slope);

typedef struct fit {
  double z[TW_IDENTIFY_MOST];
  shown shown;
  double jacobian[TW_IDENTIFY_SHOWN * TW_IDENTIFY_MOST]; /* of what is shown, at `about` */
  double about[TW_IDENTIFY_MOST];
  bool has_jacobian;
  double chi_square;
} fit;

/* From z of `f` to the best place; huber: readings further off than two uncertainties pull less. */
tw_status tw_unit_fit(unit_model *m, const rows *r, bool huber, fit *f, tw_fault *fault);

/* ---- after the fit ---- */

/* covariance of z, singular values and what they say; `f` has a Jacobian at its z */
tw_status tw_unit_posterior(const unit_model *m, const rows *r, const fit *f, tw_identified *out,
                            tw_fault *fault);
/* ends of a parameter that the normal picture does not fit, by a profile */
tw_status tw_unit_profile(unit_model *m, const rows *r, const fit *f, size_t k, tw_identified *out,
                          tw_fault *fault);
/* what each check shows, and how surely, before and after */
void tw_unit_foresee(const unit_model *m, const shown *drawn, const fit *f, tw_identified *out);
/* the checks not read yet, the most telling a minute first */
void tw_unit_next(const unit_model *m, const fit *f, const double *about, tw_identified *out);

#endif
