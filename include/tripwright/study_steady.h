/* study_steady.h: a batch that goes on until its figures no longer move (JCGM 101, 7.9).
 *
 * Builds are taken in whole batches, in the order of their numbers; after each one the adaptive
 * procedure of study_stats.h is fed with every output that is watched. How many builds are taken is
 * therefore a function of model, laws, seed and plan alone: the same for any number of threads, and
 * whether builds were computed now or come from a file. Model: docs/models/study.md 3.
 */
#ifndef TRIPWRIGHT_STUDY_STEADY_H
#define TRIPWRIGHT_STUDY_STEADY_H

#include "tripwright/study.h"
#include "tripwright/study_stats.h"

typedef struct tw_steady_plan {
  const size_t *outputs; /* which outputs are watched */
  size_t count;
  int digits;   /* significant figures of the standard deviation, 1 or 2 */
  size_t batch; /* builds a batch; 0: as the standard says, 10^4 */
  size_t most;  /* stop here at the latest: at least two batches */
} tw_steady_plan;

typedef struct tw_steady_output {
  tw_adaptive state; /* over the builds that gave a number */
  size_t numbers;
} tw_steady_output;

typedef struct tw_steady {
  bool steady;    /* all watched outputs are */
  size_t batches; /* of builds */
  size_t batch;
  tw_steady_output *output; /* count; free with tw_free */
} tw_steady;

/* Puts stored builds into the range of `builds`; may be NULL. */
typedef tw_status (*tw_steady_load)(void *self, tw_builds *builds, tw_fault *fault);

/* Run builds 0, 1, ... until everything watched is steady or plan->most is reached. An output is
 * fed with its numbers only: builds that do not trip or have no answer are passed over, and a batch
 * of it is full when as many numbers have come. An output without any number is not waited for.
 * `load` and options->save have the same `self`. *builds and out->output belong to the caller, also
 * after TW_CANCELLED or a failure (what was done stands in *builds; NULL before the first). */
tw_status tw_spread_steady(const tw_study_model *model, const tw_sampler *sampler,
                           const tw_steady_plan *plan, const tw_spread_options *options,
                           tw_steady_load load, const tw_progress *progress, tw_builds **builds,
                           tw_steady *out, tw_fault *fault);

#endif
