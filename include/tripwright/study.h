/* study.h: one model evaluated many times: batches, ranges, slopes.
 *
 * A study knows its model only as a function from input numbers to output numbers, each output with
 * an outcome; what they mean (fields, measures, units) is the caller's. The function is called from
 * several threads at once, each with its own worker number. What is computed is the same for any
 * number of threads. Laws and draws: study_sample.h; statistics: study_stats.h; the search for the
 * smallest change: study_remedy.h; the file that outlives a stop: study_store.h. Model:
 * docs/models/study.md.
 */
#ifndef TRIPWRIGHT_STUDY_H
#define TRIPWRIGHT_STUDY_H

#include "tripwright/base.h"
#include "tripwright/study_sample.h"

/* ---- model --------------------------------------------------------------------------------- */

/* what became of one output of one build */
typedef enum tw_outcome {
  TW_OUTCOME_NONE, /* not computed */
  TW_OUTCOME_OK,
  TW_OUTCOME_NO_TRIP,        /* it never trips: worse than any number */
  TW_OUTCOME_NOT_APPLICABLE, /* this kind of probe has no such thing */
  TW_OUTCOME_NO_ANSWER,      /* the numerics failed */
  /* it cannot be touched: as bad as no trip (assess.h has the sentences) */
  TW_OUTCOME_TRIPPED_AT_REST,
  TW_OUTCOME_STUCK,
  TW_OUTCOME_NO_REARM
} tw_outcome;
const char *tw_outcome_text(tw_outcome outcome);

typedef struct tw_study_model {
  size_t inputs, outputs;
  /* Fill y[outputs] and outcome[outputs] (a tw_outcome each) for x[inputs]. TW_NO_ANSWER and
   * TW_BAD_INPUT mean that this point has no answer at all (an impossible build); any other status
   * than TW_OK stops the study. No allocation is wanted here. */
  tw_status (*evaluate)(void *self, int worker, const double *x, double *y, unsigned char *outcome,
                        tw_fault *fault);
  void *self;
} tw_study_model;

/* Evaluate one point; outputs without an answer get the number 0, so that no NaN or infinity comes
 * out. The status is TW_OK unless the study has to stop. */
tw_status tw_study_evaluate(const tw_study_model *model, int worker, const double *x, double *y,
                            unsigned char *outcome, tw_fault *fault);
/* the same for n points x[n][inputs] on several threads */
tw_status tw_study_points(const tw_study_model *model, size_t n, const double *x, double *y,
                          unsigned char *outcome, int threads, const tw_progress *progress,
                          tw_fault *fault);

/* ---- limits -------------------------------------------------------------------------------- */

/* what an output must keep to */
typedef struct tw_goal {
  const char *name; /* for messages */
  size_t output;
  bool has_low, has_high;
  double low, high;
} tw_goal;

/* (high - y)/|high|, (y - low)/|low|, or the smaller of both; a limit of 0 is compared in absolute
 * numbers. Without a number (no trip, no answer, not applicable) it is -HUGE_VAL. >= 0: the limit
 * is kept. */
double tw_goal_margin(const tw_goal *limit, const double *y, const unsigned char *outcome);
/* the smallest of n margins, and whose it is (may be NULL) */
double tw_goals_margin(const tw_goal *limits, size_t n, const double *y,
                       const unsigned char *outcome, size_t *worst);

/* ---- batches ------------------------------------------------------------------------------- */

/* builds first .. first + count - 1 of a sampler and what became of them */
typedef struct tw_builds {
  uint64_t first;
  size_t count, outputs;
  double *y;              /* count x outputs */
  unsigned char *outcome; /* count x outputs, TW_OUTCOME_NONE where not computed */
} tw_builds;

tw_status tw_builds_new(uint64_t first, size_t count, size_t outputs, tw_builds **out,
                        tw_fault *fault);
void tw_builds_free(tw_builds *builds);
bool tw_builds_has(const tw_builds *builds, size_t index); /* computed? */
size_t tw_builds_done(const tw_builds *builds);
/* One number for all computed builds, whatever their order: equal for any number of threads, for
 * parts that were merged, and after a stop and resumption. */
uint64_t tw_builds_hash(const tw_builds *builds);
/* put the builds of `part` into `builds`; builds in both must agree to the bit (TW_BAD_INPUT) */
tw_status tw_builds_merge(tw_builds *builds, const tw_builds *part, tw_fault *fault);

typedef struct tw_spread_options {
  int threads;
  size_t round; /* builds between two calls of `save`; 0: 256 */
  /* called by the calling thread with the builds index .. index + count - 1 of which the new ones
   * are to be kept; may be NULL */
  tw_status (*save)(void *self, const tw_builds *builds, size_t index, size_t count,
                    tw_fault *fault);
  void *self;
} tw_spread_options;

/* Compute the builds that are missing. After TW_CANCELLED or a failure what is done stands in
 * `builds` and was saved. TW_BAD_INPUT when no input varies. */
tw_status tw_spread_run(const tw_study_model *model, const tw_sampler *sampler, tw_builds *builds,
                        const tw_spread_options *options, const tw_progress *progress,
                        tw_fault *fault);

/* One output over the computed builds: sorted numbers, builds that never trip (they count as worse
 * than any number) and builds left out (not applicable, no answer). */
typedef struct tw_outcomes {
  double *sorted;
  size_t numbers, no_trip, no_answer, not_applicable;
  size_t tripped_at_rest, stuck, does_not_rearm;
} tw_outcomes;
tw_status tw_builds_outcomes(const tw_builds *builds, size_t output, tw_outcomes *out,
                             tw_fault *fault);
void tw_outcomes_free(tw_outcomes *column);

/* How builds that break a limit differ in one input from all builds: difference of the means in
 * standard deviations of the input, and that over its standard error (sign: + the failing ones have
 * more). Zero when none or all fail. */
typedef struct tw_standout {
  double shift, score;
} tw_standout;
/* standout[inputs] for failing builds of `limit`; `failing` may be NULL */
tw_status tw_builds_standouts(const tw_builds *builds, const tw_sampler *sampler,
                              const tw_goal *limit, tw_standout *standout, size_t *failing,
                              tw_fault *fault);

/* ---- ranges -------------------------------------------------------------------------------- */

/* One input over a range, or over listed values. */
typedef struct tw_range {
  size_t input;
  double from, to;
  size_t count; /* points, >= 2 (>= 1 for a list) */
  bool logarithmic;
  const double *values; /* the listed values, ascending; else NULL */
} tw_range;

tw_status tw_range_check(const tw_range *range, const char *name, tw_fault *fault);
double tw_range_value(const tw_range *range, size_t index);

/* where a limit begins or ceases to hold along a range */
typedef struct tw_crossing {
  size_t limit;
  double at; /* input value, within `within` of the true place */
  double within;
  bool enters;  /* true: kept above `at`, broken below */
  size_t after; /* it lies between points `after` and `after` + 1 */
} tw_crossing;

#define TW_CROSSINGS_MOST 64

/* Vary one input of x0: y and outcome [count x outputs] at the points, and every change of a limit
 * from kept to broken between neighbours, located by bisection to `precision` of the range (not
 * between listed values, where `at` is their middle). *crossings holds up to TW_CROSSINGS_MOST. */
tw_status tw_vary_one(const tw_study_model *model, const double *x0, const tw_range *range,
                      const tw_goal *limits, size_t limit_count, double precision, int threads,
                      const tw_progress *progress, double *y, unsigned char *outcome,
                      tw_crossing *crossings, size_t *crossing_count, tw_fault *fault);

/* One edge of the grid of two ranges on which a limit changes. */
typedef struct tw_edge {
  size_t limit;
  double a, b; /* values of the two inputs */
} tw_edge;

/* Vary two inputs: y and outcome [first->count x second->count x outputs], second fastest; edges on
 * which limits change, located by bisection, in the order of the grid (allocated: tw_free). */
tw_status tw_vary_two(const tw_study_model *model, const double *x0, const tw_range *first,
                      const tw_range *second, const tw_goal *limits, size_t limit_count,
                      double precision, int threads, const tw_progress *progress, double *y,
                      unsigned char *outcome, tw_edge **edges, size_t *edge_count, tw_fault *fault);

/* ---- slopes -------------------------------------------------------------------------------- */

typedef struct tw_slope {
  bool known;
  double slope; /* dy/dx at x0 */
  double error; /* estimate of its error */
  bool has_elasticity;
  double elasticity; /* x/y dy/dx: per cent of y for one per cent of x */
} tw_slope;

/* Slopes of all outputs against the inputs named by `chosen` (n of them): central differences over
 * step[k] and half of it, extrapolated; one-sided where one side has no answer. slope[n][outputs].
 */
tw_status tw_study_slopes(const tw_study_model *model, const double *x0, const size_t *chosen,
                          const double *step, size_t n, int threads, const tw_progress *progress,
                          tw_slope *slope, tw_fault *fault);

#endif
