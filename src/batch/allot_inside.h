/* allot_inside.h: a design's problem of tolerances while it is solved. */
#ifndef TW_BATCH_ALLOT_INSIDE_H
#define TW_BATCH_ALLOT_INSIDE_H

#include "tripwright/batch_allot_design.h"

typedef struct allot {
  tw_study *study;
  const tw_allot_ask *ask;
  tw_allot_answer *answer;
  const tw_progress *progress;
  tw_fault *fault;
  struct tw_fast *tables;        /* the study's own, while the engine counts */
  tw_varied law[TW_FIELD_COUNT]; /* of the file */
} allot;

/* the dimensions with their grades, the tables, and the moments at the middle grades */
tw_status tw_allot_open(allot *a, size_t checks);
/* the laws of the file again */
void tw_allot_close(allot *a);
/* dimensions of the problem; TW_BAD_INPUT when there is none */
tw_status tw_allot_dims(allot *a);
/* a set's laws into the study; NULL: those of the file */
void tw_allot_laws(allot *a, const tw_allot_set *set);
/* builds with a set (NULL: as the file says) from tables; by the engine */
tw_status tw_allot_count_set(allot *a, const tw_allot_set *set, size_t builds, tw_allot_count *out);
tw_status tw_allot_by_engine(allot *a, const tw_allot_set *set, tw_allot_count *out);
/* builds of the study with the laws that it has; free *out */
tw_status tw_allot_builds(allot *a, size_t builds, tw_builds **out);

#endif
