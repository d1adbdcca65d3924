/* page_study_ask.h: the options of a study as the page sends them, read with messages that name
 * them.
 */
#ifndef TW_REPORT_PAGE_STUDY_ASK_H
#define TW_REPORT_PAGE_STUDY_ASK_H

#include "tripwright/study_run.h"

#define TW_ASK_NAMES 64

/* every name in the object is one of `known` (ended by NULL) or of those all studies have */
tw_status tw_ask_known(const json_t *ask, const char *const *known, tw_fault *fault);
/* a whole number from least to most; `fallback` when it is not given */
tw_status tw_ask_count(const json_t *ask, const char *name, long least, long most, long fallback,
                       size_t *out, tw_fault *fault);
/* true or false; false when it is not given */
tw_status tw_ask_flag(const json_t *ask, const char *name, bool *out, tw_fault *fault);
/* a number from 0 up to, without, 1; 0 when it is not given */
tw_status tw_ask_share(const json_t *ask, const char *name, double *out, tw_fault *fault);
/* a list of texts, at most TW_ASK_NAMES, which live as long as `ask` */
tw_status tw_ask_texts(const json_t *ask, const char *name, const char **out, size_t *count,
                       tw_fault *fault);
/* give a fault the name of the option that caused it; returns its status */
tw_status tw_ask_blame(const char *name, tw_status status, tw_fault *fault);

#endif
