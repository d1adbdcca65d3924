/* tripwright.h: every public header at once, for programs that link libtripwright.
 *
 * Units, owners and threads are told at the top of each header; docs/develop/tour.md says which
 * room each belongs to. May be included from C++ as well: the names keep their C linkage.
 */
#ifndef TRIPWRIGHT_TRIPWRIGHT_H
#define TRIPWRIGHT_TRIPWRIGHT_H

/* what the headers below take from others, before C linkage is asked for */
#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#ifdef __cplusplus
extern "C" {
#endif

#include "tripwright/assess.h"
#include "tripwright/assess_crash.h"
#include "tripwright/base.h"
#include "tripwright/batch.h"
#include "tripwright/batch_allot.h"
#include "tripwright/batch_allot_design.h"
#include "tripwright/batch_build.h"
#include "tripwright/batch_certificate.h"
#include "tripwright/batch_cost.h"
#include "tripwright/batch_order.h"
#include "tripwright/batch_risk.h"
#include "tripwright/bench.h"
#include "tripwright/bench_suspect.h"
#include "tripwright/capture.h"
#include "tripwright/circuit.h"
#include "tripwright/circuit_forms.h"
#include "tripwright/circuit_in_time.h"
#include "tripwright/constants.h"
#include "tripwright/design.h"
#include "tripwright/design_shop.h"
#include "tripwright/digest.h"
#include "tripwright/disc.h"
#include "tripwright/documents.h"
#include "tripwright/documents_batch.h"
#include "tripwright/documents_capture.h"
#include "tripwright/documents_study.h"
#include "tripwright/drawing.h"
#include "tripwright/edge.h"
#include "tripwright/files.h"
#include "tripwright/identify.h"
#include "tripwright/identify_causes.h"
#include "tripwright/logbook.h"
#include "tripwright/logbook_ask.h"
#include "tripwright/logbook_learn.h"
#include "tripwright/numerics.h"
#include "tripwright/page.h"
#include "tripwright/parallel.h"
#include "tripwright/parts.h"
#include "tripwright/probe.h"
#include "tripwright/qualify.h"
#include "tripwright/qualify_budget.h"
#include "tripwright/qualify_fit.h"
#include "tripwright/qualify_gauge.h"
#include "tripwright/qualify_program.h"
#include "tripwright/qualify_record.h"
#include "tripwright/qualify_stats.h"
#include "tripwright/qualify_table.h"
#include "tripwright/qualify_tip.h"
#include "tripwright/qualify_tram.h"
#include "tripwright/random.h"
#include "tripwright/report.h"
#include "tripwright/report_build.h"
#include "tripwright/report_certificate.h"
#include "tripwright/seat.h"
#include "tripwright/seat_forms.h"
#include "tripwright/serve.h"
#include "tripwright/study.h"
#include "tripwright/study_design.h"
#include "tripwright/study_fast.h"
#include "tripwright/study_remedy.h"
#include "tripwright/study_run.h"
#include "tripwright/study_sample.h"
#include "tripwright/study_stats.h"
#include "tripwright/study_steady.h"
#include "tripwright/study_store.h"
#include "tripwright/study_winback.h"
#include "tripwright/stylus.h"
#include "tripwright/text.h"
#include "tripwright/touch.h"
#include "tripwright/touch_crash.h"
#include "tripwright/touch_forms.h"
#include "tripwright/touch_judge.h"
#include "tripwright/units.h"

#ifdef __cplusplus
}
#endif

#endif
