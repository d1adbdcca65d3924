/* run_watch.h: what is known so far is told a few times a second, not at every build. */
#ifndef TW_REPORT_RUN_WATCH_H
#define TW_REPORT_RUN_WATCH_H

#include "tripwright/study_run.h"

typedef struct tw_run_pace {
  const tw_run_watch *watch;
  double last; /* s, monotonic; 0: nothing told yet */
} tw_run_pace;

/* Somebody looks, and it is time to tell again. */
bool tw_run_due(tw_run_pace *pace);
/* hand over a document, if anybody looks; NULL is passed over */
void tw_run_tell(const tw_run_pace *pace, json_t *document);
/* the progress of a watch, which may be NULL */
const tw_progress *tw_run_progress(const tw_run_watch *watch);

#endif
