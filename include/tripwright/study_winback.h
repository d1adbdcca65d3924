/* study_winback.h: what can still be set right when the parts are made.
 *
 * An adjustment moves one input of a finished build by turns of a screw or a trimmer, until the
 * worst of its margins is best; pairing decides which disc goes with which resistors before
 * anything is assembled. Both start from a batch that was computed (study.h) and tell how many of
 * it would then be good. The result does not depend on the number of threads. Inputs are in the
 * caller's units (SI). Model: docs/models/study.md 10.
 */
#ifndef TRIPWRIGHT_STUDY_WINBACK_H
#define TRIPWRIGHT_STUDY_WINBACK_H

#include "tripwright/study.h"

/* a screw or a trimmer: the input may go from where the build has it down to x - down, up to x +
 * up, in whole steps, and stays within least .. most */
typedef struct tw_adjustment {
  const char *name;
  size_t input;
  double down, up; /* >= 0 */
  double step;     /* > 0: what a hand can tell apart */
  double least, most;
} tw_adjustment;

/* the batch as it was computed, and what must hold */
typedef struct tw_winback_batch {
  const tw_study_model *model;
  const tw_sampler *sampler;
  const tw_builds *builds;
  const tw_goal *goals;
  size_t goal_count;
  int threads;
} tw_winback_batch;

typedef struct tw_winback {
  size_t builds, before, good; /* computed builds; good as built; good afterwards */
  size_t unknown;              /* of an adjustment: builds without an answer, left as they are */
  size_t evaluations;
  bool used;              /* of one adjustment: any build was won back by it */
  double lowest, highest; /* moves of the builds that it won back */
} tw_winback;

/* most evaluations for one build and one adjustment */
#define TW_WINBACK_SCAN    9
#define TW_WINBACK_HALVING 5
#define TW_WINBACK_ROUNDS  2 /* of several adjustments, one after the other */

/* Each build that is known not to be good has its input searched for the place with the best worst
 * margin: 9 places over the range, the nearest first, until one is good; then 5 halvings about the
 * best. Several adjustments are searched one after the other, twice. */
tw_status tw_winback_adjust(const tw_winback_batch *batch, const tw_adjustment *adjustments,
                            size_t count, const tw_progress *progress, tw_winback *out,
                            tw_fault *fault);

/* Pairing in lots of `lot` builds, in the order of their numbers: the inputs marked in first[] (of
 * one part, such as a disc) of each build of the lot are tried with those marked in second[] (of
 * the other, such as resistors) of each; all other inputs stand at their medians, because nobody
 * knows them yet. The pairs are chosen so that most are foreseen to be good, then for the largest
 * sum of margins (each within -1 .. 1), and then built: with everything else as it is in the build
 * whose second part it has. lot x lot + lot evaluations a lot. Needs two builds or more. */
tw_status tw_winback_pair(const tw_winback_batch *batch, const bool *first, const bool *second,
                          size_t lot, const tw_progress *progress, tw_winback *out,
                          tw_fault *fault);

/* The same, with the list: `pair` has room for as many as there are builds and gets out->builds of
 * them, in the order of the boards. */
typedef struct tw_pair {
  uint64_t board, disc; /* numbers of builds: whose second part, and whose first it gets */
  bool good;            /* as built together */
} tw_pair;
tw_status tw_winback_pair_list(const tw_winback_batch *batch, const bool *first, const bool *second,
                               size_t lot, const tw_progress *progress, tw_pair *pair,
                               tw_winback *out, tw_fault *fault);

/* The assignment of n rows to n columns with the largest sum of value[row x n + column] (shortest
 * augmenting paths with potentials, n^3 steps): column_of[row]. `scratch` has room for
 * 2 (n + 1) numbers and 3 (n + 1) indices. Of equal sums the one found first. */
void tw_assign(const double *value, size_t n, size_t *column_of, double *scratch, size_t *indices);

#endif
