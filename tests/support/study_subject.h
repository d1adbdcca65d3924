/* study_subject.h: a design as the subject of a study: read, its limits, its study, its draws. */
#ifndef TW_TEST_STUDY_SUBJECT_H
#define TW_TEST_STUDY_SUBJECT_H

#include "tripwright/study_design.h"

typedef struct subject {
  tw_design *design;
  tw_limits limits;
  tw_study *study;
  tw_sampler *sampler;
} subject;

static inline void close_subject(subject *s)
{
  tw_sampler_free(s->sampler);
  tw_study_free(s->study);
  tw_design_free(s->design);
}

#endif
