/* causes_parts.h: what the search for one or two causes shares; inside the room only. */
#ifndef TW_IDENTIFY_CAUSES_PARTS_H
#define TW_IDENTIFY_CAUSES_PARTS_H

#include "inner.h"
#include "tripwright/identify_causes.h"

#define READINGS_MOST TW_BENCH_COUNT

/* one or two things wrong, and what the readings then leave */
typedef struct guess {
  size_t causes;
  tw_cause cause[2];
  bool answers;               /* there is such a unit */
  double left[READINGS_MOST]; /* reading by reading: what is shown over what was read, raw */
  bool missing[READINGS_MOST];
  double misfit, worst, cost;
} guess;

typedef struct cause_hunt {
  unit_model m; /* at z = 0: the unit in the middle of what is known of it */
  const tw_causes_options *options;
  const tw_bench_reading *reading;
  size_t readings;
  size_t order[READINGS_MOST]; /* of the readings: what rests on less comes first */
  size_t quick;                /* so many of them need no weights */
  rows r;                      /* in that order; words have no row */
  double *lower;               /* [r.count][r.count] Cholesky factor of what scatters */
  bool weighed;                /* cards with the weights that trip */
  guess sound;
  size_t cards;
} cause_hunt;

/* the covariance of what scatters, as its factor; needs the Jacobian at z = 0 */
tw_status tw_causes_scatter(cause_hunt *h, const double *jacobian, const shown *centre,
                            tw_fault *fault);
/* independent deviations of the readings; out[r.count]; those past the quick ones only if weighed
 */
void tw_causes_whiten(const cause_hunt *h, const double *left, double *out);
/* misfit, worst and cost from what is left */
void tw_causes_judge(const cause_hunt *h, guess *g);
/* what a deviation counts: its square, and past a contradiction its logarithm */
double tw_causes_counts(double off);

/* one card with these things wrong */
tw_status tw_causes_try(cause_hunt *h, int worker, guess *g, tw_fault *fault);
/* many cards on all threads */
tw_status tw_causes_try_all(cause_hunt *h, guess *g, size_t count, const char *what,
                            tw_fault *fault);

/* the single causes over their range: *out of *count guesses, by field, then by value; freed by the
 * caller */
tw_status tw_causes_curves(cause_hunt *h, guess **out, size_t *count, tw_fault *fault);
/* the best `most` pairs from the sums of two curves; returns how many */
size_t tw_causes_pairs(const cause_hunt *h, const guess *curve, size_t count, guess *out,
                       size_t most);
/* a second scan on top of the best single causes; adds to the list of pairs */
tw_status tw_causes_on_top(cause_hunt *h, const guess *curve, size_t count, guess *out,
                           size_t *pairs, size_t most, tw_fault *fault);
/* the best values of each of them */
tw_status tw_causes_solve(cause_hunt *h, guess *g, size_t count, tw_fault *fault);

#endif
