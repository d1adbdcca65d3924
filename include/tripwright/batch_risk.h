/* batch_risk.h: what a decision from a reading with uncertainty risks (JCGM 106).
 *
 * One quantity, limits, a batch as what is known before (the prior), a reading with a standard
 * uncertainty u of a normal law. Joint figures are shares of all units; conditional ones of those
 * accepted. Thread-safe; SI of the caller. Equations and sources: docs/models/batch.md 5.
 */
#ifndef TRIPWRIGHT_BATCH_RISK_H
#define TRIPWRIGHT_BATCH_RISK_H

#include "tripwright/base.h"

typedef enum tw_prior_law { TW_PRIOR_NORMAL, TW_PRIOR_GAMMA, TW_PRIOR_STUDENT } tw_prior_law;

/* what is known of a unit of the batch before it is measured */
typedef struct tw_unit_prior {
  tw_prior_law law;
  double mean, sd; /* NORMAL, GAMMA; STUDENT: location and scale */
  double dof;      /* STUDENT */
} tw_unit_prior;

typedef struct tw_conform_limits {
  bool has_low, has_high;
  double low, high;
} tw_conform_limits;

typedef struct tw_risks {
  double consumer; /* accepted and bad, of all units */
  double producer; /* rejected and good, of all */
  double accepted, bad;
  double bad_of_accepted, good_of_rejected; /* conditional; 0 where there are none */
} tw_risks;

/* accepted are readings within the limits drawn in by `guard` (negative: let out) */
tw_status tw_risks_of(const tw_unit_prior *prior, double u, const tw_conform_limits *limits,
                      double guard, tw_risks *out, tw_fault *fault);
/* The guard with which the consumer's risk, of all or of those accepted, is `wanted`. It may be
 * negative with a good batch; a caller clips it at 0. TW_NO_ANSWER when no guard within 10 u and
 * half the zone reaches it. */
tw_status tw_guard_for(const tw_unit_prior *prior, double u, const tw_conform_limits *limits,
                       double wanted, bool of_accepted, double *guard, tw_fault *fault);

/* one-sided guard of 5 %: the normal score of 0.95 */
#define TW_GUARD_SCORE 1.6448536269514722

/* this unit after its reading: mean, u, chance that it conforms; prior NULL: by the reading alone.
 * A normal prior only (TW_BAD_INPUT else). */
typedef struct tw_unit_known {
  double mean, u, conforms;
} tw_unit_known;
tw_status tw_unit_after(const tw_unit_prior *prior, double reading, double u,
                        const tw_conform_limits *limits, tw_unit_known *out, tw_fault *fault);

#endif
