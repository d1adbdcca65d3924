/* batch_allot_design.h: the tolerances of a design at least cost.
 *
 * The grades come from the shop file, the effects from builds of the study; the study's laws are
 * changed on the way and are those of the file again at the end. Model: docs/models/batch.md 3.
 */
#ifndef TRIPWRIGHT_BATCH_ALLOT_DESIGN_H
#define TRIPWRIGHT_BATCH_ALLOT_DESIGN_H

#include "tripwright/batch_allot.h"
#include "tripwright/study_design.h"

typedef struct tw_allot_ask {
  double target, own;  /* shares: of all requirements together, of each alone (0: not asked) */
  double other_cost;   /* of a unit besides the grades */
  size_t table_builds; /* read from tables for each count */
  size_t builds;       /* of the engine, for the winner */
  uint64_t seed;
  const tw_field *only; /* dimensions; NULL: all that have grades */
  size_t onlys;
} tw_allot_ask;

/* builds counted with one set of tolerances */
typedef struct tw_allot_count {
  size_t builds, good;
  double share, low, high; /* 95 % */
  double own[TW_ALLOT_RULES];
} tw_allot_count;

typedef struct tw_allot_field {
  tw_field field;
  size_t input;        /* of the study */
  double now;          /* half the zone that the file states */
  double centre;       /* middle of the zone: mean of the batch less the process's offset */
  bool moved;          /* it is not the value that the file states */
  const char *process; /* whose grades they are; NULL: grades.PATH */
} tw_allot_field;

typedef struct tw_allot_answer {
  tw_allot_problem problem;
  tw_allot_field field[TW_ALLOT_DIMS];
  tw_allotted screen; /* as the screen sees it */
  bool found;
  tw_allot_set set;      /* the answer, or the one that comes nearest */
  tw_allot_count table;  /* of the answer, from tables */
  tw_allot_count engine; /* of the answer, by the engine */
  size_t counted;        /* sets that were counted on the way */
  double shift, slope;   /* probit(counted) = shift + slope probit(screen) */
  double now_cost;       /* of the grades that hold what the file states; < 0: none does */
  tw_allot_count now;    /* the file as it is */
  bool equal_found;      /* all dimensions at the same grade reach it as well */
  tw_allot_set equal;
  tw_allot_count equal_table;
  bool looser_is[TW_ALLOT_DIMS], tighter_is[TW_ALLOT_DIMS];
  tw_allot_count looser[TW_ALLOT_DIMS], tighter[TW_ALLOT_DIMS];
  bool worst_found, squares_found;
  tw_allot_set worst, squares;
  size_t limits; /* not found: the rule that most builds miss */
} tw_allot_answer;

/* 90 %, 10 000 builds from tables, 1000 of the engine, seed 1 */
tw_allot_ask tw_allot_ask_defaults(void);
/* Allocates *out: tw_free. TW_BAD_INPUT when no toleranced dimension has grades, or no requirement
 * stands in the file; TW_CANCELLED when stopped. */
tw_status tw_allot_design(tw_study *study, const tw_allot_ask *ask, const tw_progress *progress,
                          tw_allot_answer **out, tw_fault *fault);

#endif
