/* documents_capture.h: a recording and what was recognised in it, as JSON.
 *
 * As documents.h says it: SI, a new object owned by the caller, null where a number does not exist.
 */
#ifndef TRIPWRIGHT_DOCUMENTS_CAPTURE_H
#define TRIPWRIGHT_DOCUMENTS_CAPTURE_H

#include "tripwright/capture.h"

#include <jansson.h>

/* {file, kind, found, rows, interval, act, sentence, recognised, weight, azimuth, feed, push,
 * channel, features: [{name, value, u, unit, word, bound, note}], concerns: [{word, text, hint}],
 * marks, fit, model: {t, v}}; NULL without memory */
json_t *tw_json_capture(const tw_capture_record *record, const tw_capture_result *result);

#endif
