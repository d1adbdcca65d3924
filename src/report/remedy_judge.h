/* remedy_judge.h: the judge of ways within the report room. */
#ifndef TW_REMEDY_JUDGE_H
#define TW_REMEDY_JUDGE_H

#include "tripwright/study_run.h"

typedef struct tw_remedy_judge {
  const tw_study *study;
  const tw_levers *levers;
  const tw_run_remedy *how;
  tw_assessment *before, *after; /* NULL: nothing can be read again, nobody judges */
} tw_remedy_judge;

tw_status tw_remedy_assess(const tw_design *design, const tw_limits *limits,
                           const tw_progress *progress, tw_assessment *out, tw_fault *fault);
tw_status tw_remedy_judge_new(const tw_study *study, const tw_levers *levers,
                              const tw_run_remedy *how, tw_remedy_judge *out, tw_fault *fault);
void tw_remedy_judge_free(tw_remedy_judge *judge);
/* for tw_remedy_options */
tw_status tw_remedy_judge_way(void *self, tw_remedy *remedy, bool *good, tw_fault *fault);

#endif
