/* inside.h: what the files of a study share; inside the room only. */
#ifndef TW_STUDY_INSIDE_H
#define TW_STUDY_INSIDE_H

#include "tripwright/study_design.h"

/* load steps of a touch: assess.h says what they cost */
#define TW_STUDY_SEAT_STEPS 8

/* what a design of the study is assessed with */
tw_assess_options tw_study_assess_options(const tw_study *study);
/* what is asked of a measure; an empty limit when nothing is */
const tw_limit *tw_study_limit(const tw_study *study, tw_measure_id id);
/* One build by the engine. The assessment is the worker's own and stands until its next build;
 * `directions` may be NULL (assess.h). TW_NO_ANSWER and TW_BAD_INPUT: an impossible build. */
tw_status tw_study_engine(tw_study *study, int worker, const double *x, tw_direction *directions,
                          const tw_assessment **result, tw_fault *fault);
/* the outputs of an assessment */
void tw_study_take(const tw_study *study, const tw_assessment *result, double *y,
                   unsigned char *outcome);

#endif
