/* identify_causes.h: one thing wrong, or two together, that explain what was read.
 *
 * The bench room's search (bench_suspect.h) takes one value to be wrong and each reading for
 * itself. Here the readings are taken together: what scatter and tolerances of a sound unit do to
 * all of them at once is known (identify.h), so that a capacitance that is large in one reading and
 * not in the next is no scatter. Single causes and pairs stand in one order. SI units; the result
 * is a plain value of the caller's. Method and limits: docs/models/identify.md 6.
 */
#ifndef TRIPWRIGHT_IDENTIFY_CAUSES_H
#define TRIPWRIGHT_IDENTIFY_CAUSES_H

#include "tripwright/identify.h"

typedef struct tw_cause {
  tw_field field;
  double now, then; /* in the file; where it explains most (SI, or a choice) */
} tw_cause;

typedef struct tw_explanation {
  size_t causes; /* 1 or 2 */
  tw_cause cause[2];
  double misfit; /* what is left, as a sum of squares of independent deviations */
  double cost;   /* with what it takes that such a thing, or two of them, go wrong */
  double chance; /* of this one among those that are listed */
  double worst;  /* the largest deviation that is left */
  bool explains; /* worst is TW_SUSPECT_FITS or less, as for one suspect */
  int like;      /* the first one listed that every check read shows alike; itself: -1 */
} tw_explanation;

#define TW_EXPLANATIONS 12

typedef struct tw_explanations {
  size_t count;
  tw_explanation of[TW_EXPLANATIONS]; /* the likeliest first */
  double misfit;                      /* of a sound unit */
  size_t cards;
} tw_explanations;

typedef struct tw_causes_options {
  const tw_bench_instruments *instruments; /* NULL: the usual ones */
  int threads;
  const tw_progress *progress;
  /* [TW_FIELD_COUNT] how often the shop has seen each go wrong; NULL: all alike */
  const double *frequency;
} tw_causes_options;

/* TW_BAD_INPUT as tw_identify. */
tw_status tw_identify_causes(const tw_design *design, tw_units *units,
                             const tw_causes_options *options, const tw_bench_reading *reading,
                             size_t readings, tw_explanations *out, tw_fault *fault);

#endif
