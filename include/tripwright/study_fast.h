/* study_fast.h: builds without the engine: tables along every field that varies, made by the
 * engine.
 *
 * A batch of a hundred thousand needs no hundred thousand touches. Force, travel and return offset
 * of each direction, and every other output, are tabulated along each varying field from a few
 * builds of the engine; a build is then the product (or the sum, whichever of the two is nearer) of
 * what its fields do one by one. What that leaves out is measured: the tables are held against the
 * engine on builds of the same study, and the difference is part of the answer. Model:
 * docs/models/study.md 8.
 */
#ifndef TRIPWRIGHT_STUDY_FAST_H
#define TRIPWRIGHT_STUDY_FAST_H

#include "tripwright/study_design.h"

typedef struct tw_fast tw_fast;

/* one output against the engine, over the builds of the check that have a number in both */
typedef struct tw_fast_error {
  size_t builds;
  double median, most_of_them, most; /* |fast/engine - 1|: median, 95 %, largest */
} tw_fast_error;

typedef struct tw_fast_check {
  size_t builds;           /* of the engine, held against the tables */
  size_t unseen;           /* of them without trip or answer: the tables see neither */
  size_t judged_otherwise; /* of the rest: one kept all goals, the other did not */
  size_t engine_builds;    /* spent on tables and check together */
  tw_fast_error error[TW_MEASURE_COUNT]; /* of each output */
} tw_fast_check;

/* Make the tables of the study's inputs over the laws they have now, and check them on the builds
 * 0 .. checks - 1 of the sampler; from then on tw_study_as_model gives the fast level. Builds are
 * taken to trip where the middle of the batch trips; the check counts those that do not.
 * TW_NO_ANSWER when the middle of the batch is an impossible build. */
tw_status tw_study_hasten(tw_study *study, const tw_sampler *sampler, size_t checks,
                          const tw_progress *progress, tw_fault *fault);
/* what the check found; NULL when the study goes through the engine */
const tw_fast_check *tw_study_fast_check(const tw_study *study);

tw_study_model tw_fast_as_model(tw_study *study);
void tw_fast_free(tw_fast *fast);

#endif
