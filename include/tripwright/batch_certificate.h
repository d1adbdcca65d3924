/* batch_certificate.h: what is certified of one unit: its readings held against the requirements,
 * by a named rule, with the risk of the decision.
 *
 * The caller fills the results with readings; tw_certify judges them. Pointers are the caller's.
 * SI. Model: docs/models/batch.md 5.
 */
#ifndef TRIPWRIGHT_BATCH_CERTIFICATE_H
#define TRIPWRIGHT_BATCH_CERTIFICATE_H

#include "tripwright/batch_risk.h"
#include "tripwright/study_design.h"

typedef enum tw_decision_rule {
  TW_DECIDE_SIMPLE, /* the reading alone */
  TW_DECIDE_GUARD,  /* drawn in by 1.645 u */
  TW_DECIDE_RISK    /* drawn in so that the consumer's risk is the one wanted */
} tw_decision_rule;

typedef enum tw_certified {
  TW_CERTIFIED_NOT_MEASURED,
  TW_CERTIFIED_PASSES,
  TW_CERTIFIED_FAILS,
  TW_CERTIFIED_OPEN /* within the guard band: not decided */
} tw_certified;
/* "not measured", "passes", "does not pass", "not decided" */
const char *tw_certified_text(tw_certified verdict);
/* the rule in words */
const char *tw_decision_text(tw_decision_rule rule);

typedef struct tw_certified_result {
  tw_measure_id id;
  const tw_limit *limit;
  bool read;
  double value, u;  /* magnitude, as requirements compare it; standard uncertainty */
  const char *word; /* read instead of a number; or NULL */
  const char *instrument, *document; /* as the user states them; or NULL */
  /* judged */
  tw_certified verdict;
  double guard;
  double conforms, conforms_flat; /* with the batch when it is agreed; by the reading alone */
  bool has_batch;
  double batch_mean, batch_sd;
  tw_risks risks; /* of this rule over the batch; has_batch only */
} tw_certified_result;

typedef struct tw_certify_ask {
  tw_decision_rule rule;
  double risk;           /* wanted, of all units, for TW_DECIDE_RISK */
  bool batch_agreed;     /* the chance that this unit conforms uses the batch */
  const tw_study *study; /* with `builds` the batch before any sorting; NULL: no batch */
  const tw_builds *builds;
  uint64_t seed;
} tw_certify_ask;

typedef struct tw_certified_all {
  size_t read, passes, fails, open;
  bool has_batch;
  double sum; /* of the consumer's risks: by their normal laws all together is not above it */
  /* accepted in all and bad in one, of all units: counted over builds and drawn readings, so a tail
   * that is no normal one can put it above `sum` */
  double together;
  double accepted; /* in all */
} tw_certified_all;

/* TW_BAD_INPUT when a reading has no uncertainty; TW_NO_ANSWER when the rule cannot be kept. */
tw_status tw_certify(tw_certified_result *result, size_t count, const tw_certify_ask *ask,
                     tw_certified_all *all, tw_fault *fault);

#endif
