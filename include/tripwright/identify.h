/* identify.h: what this unit is, from readings on the bench.
 *
 * A design says what was drawn, with tolerances and the scatter of bought parts: that is what is
 * known of a unit before anything is read (the prior). Readings of the bench card narrow it down.
 * The most likely values, how sure they are, what the readings cannot tell, whether the model holds
 * at all and which reading disagrees come from one fit of the card itself, as its instruments show
 * it: nothing is taken back through an instrument. SI units. A tw_identified is a plain value of
 * the caller's without pointers into anything but constants. Equations: docs/models/identify.md.
 */
#ifndef TRIPWRIGHT_IDENTIFY_H
#define TRIPWRIGHT_IDENTIFY_H

#include "tripwright/bench_suspect.h"
#include "tripwright/design.h"
#include "tripwright/units.h"

#define TW_IDENTIFY_MOST 64 /* parameters of one unit */
/* what the card is asked for: its checks, and the charge per newton behind them */
#define TW_IDENTIFY_CHARGE TW_BENCH_COUNT
#define TW_IDENTIFY_SHOWN  (TW_BENCH_COUNT + 1)

typedef enum tw_parameter_kind {
  TW_PARAMETER_FIELD,     /* a number of the design */
  TW_PARAMETER_STIFFNESS, /* of all the disc's layers over what its row says: all resonances */
  TW_PARAMETER_HAND       /* s in which this hand lets a weight down */
} tw_parameter_kind;

/* how well the readings know a parameter: standard deviation after over before */
#define TW_DETERMINED   0.7 /* below: they tell it */
#define TW_UNDETERMINED 0.9 /* above: they say nothing of it */

typedef struct tw_parameter {
  tw_parameter_kind kind;
  tw_field field;                    /* of FIELD */
  const char *name;                  /* its path, "disc stiffness", "hand time" */
  const char *unit;                  /* SI, "" for a plain number */
  bool ratio;                        /* its spread is a factor: normal in the logarithm */
  bool board;                        /* moves nothing but the board */
  double centre, sd;                 /* prior: value, and sd of it, or of its logarithm */
  double least, most;                /* it cannot lie outside */
  double before[3], after[3];        /* value and the ends of 95 % before and after the readings */
  double u;                          /* standard uncertainty after, of the value */
  double shrink;                     /* standard deviation after over before */
  bool by_profile;                   /* the ends come from a profile: one-sided */
  bool bounded_below, bounded_above; /* one-sided: only this end is an answer */
} tw_parameter;

/* what of one reading */
typedef struct tw_fitted {
  tw_bench_id id;
  bool number;     /* else a word or none: compared, not fitted */
  bool agrees;     /* a word that the fitted unit shows too */
  bool set_aside;  /* it disagrees with all others and was left out */
  double value, u; /* the reading and its standard uncertainty */
  double drawing;  /* what the design as drawn shows */
  double unit;     /* what the fitted unit shows */
  double off;      /* what is left, in standard uncertainties of the reading */
} tw_fitted;

/* what the card shows of a check, before and after the readings (standard uncertainties) */
typedef struct tw_foreseen {
  bool known;
  double drawing, unit; /* of the design's own values; of the fitted unit */
  double u_before, u;   /* from the parameters alone */
} tw_foreseen;

/* a check that was not read yet, and what it would tell */
typedef struct tw_next_check {
  tw_bench_id id;
  double nats;    /* 1/2 ln(1 + g S g / u^2) after those before it in the list were read */
  double minutes; /* of bench time */
  double left;    /* width of what is asked for, over that before it was read */
} tw_next_check;

/* parameters that the readings tell only together: which, and how much of each */
#define TW_TOGETHER_MOST 8
typedef struct tw_together {
  double singular; /* of the whitened Jacobian: below 1 the prior speaks */
  size_t count;
  size_t parameter[4];
  double share[4];
} tw_together;

typedef struct tw_identified {
  tw_bench_card card; /* of the design as drawn */
  size_t readings, numbers;
  tw_fitted fitted[TW_BENCH_COUNT];
  size_t parameters;
  tw_parameter parameter[TW_IDENTIFY_MOST];
  double covariance[TW_IDENTIFY_MOST * TW_IDENTIFY_MOST]; /* [parameters][parameters], of
                                                             parameters over their prior sd */
  double chi_square, probability; /* readings and prior at the best place; of one as large by chance
                                     with as many degrees of freedom as readings */
  double probability_without;     /* the same without the reading that disagrees most */
  int worst;                      /* which that is, -1: none stands out */
  bool holds;                     /* probability at least TW_IDENTIFY_HOLDS */
  size_t together_count;
  tw_together together[TW_TOGETHER_MOST];
  tw_foreseen foreseen[TW_IDENTIFY_SHOWN];
  size_t next_count;
  tw_next_check next[TW_BENCH_COUNT];
  double asked_before, asked_after; /* width (2 u over the value) of what is asked for */
  size_t cards;                     /* computed */
} tw_identified;

/* the model is said not to hold below this probability (common practice, no source) */
#define TW_IDENTIFY_HOLDS 0.01

typedef struct tw_identify_options {
  const tw_bench_instruments *instruments; /* NULL: the usual ones */
  int threads;                             /* 0: as many as there are processors */
  const tw_progress *progress;
  /* what the next check is to tell: all parameters alike, a measure of `check`, or a check of the
   * card (TW_IDENTIFY_SHOWN and TW_MEASURE_COUNT: none) */
  bool about_check, about_measure;
  tw_bench_id check;
  tw_measure_id measure;
} tw_identify_options;

/* Fit the unit. A reading whose id is TW_IDENTIFY_CHARGE is the charge per newton of a recording.
 * No reading at all gives the prior and what to measure first. TW_BAD_INPUT: two readings of one
 * check, a check that this card does not have, a number where a word is read; the design itself;
 * TW_NO_ANSWER: the card of the design has no figures to start from. */
tw_status tw_identify(const tw_design *design, tw_units *units, const tw_identify_options *options,
                      const tw_bench_reading *reading, size_t readings, tw_identified *out,
                      tw_fault *fault);

/* What the unit's own file says beside the drawing: path and text of each value, with its 95 %
 * limits as tolerance; only what the readings told. `store` holds the texts. */
#define TW_UNIT_VALUES 48
typedef struct tw_unit_values {
  size_t count;
  tw_set set[TW_UNIT_VALUES];
  char store[TW_UNIT_VALUES][64];
} tw_unit_values;
tw_status tw_identify_values(const tw_design *design, tw_units *units, const tw_identified *found,
                             tw_unit_values *out, tw_fault *fault);

#endif
