/* study_sample.h: how the numbers of a batch are drawn.
 *
 * Each uncertain number is a tw_varied with a law; some may be correlated. Build i of a seed is a
 * pure function of seed and i: the same for any number of threads, for any split into parts and on
 * any day. Units are the caller's (SI). A tw_sampler is immutable and may be used from several
 * threads; it keeps no pointer to what it was made from. Model: docs/models/study.md 1.
 */
#ifndef TRIPWRIGHT_STUDY_SAMPLE_H
#define TRIPWRIGHT_STUDY_SAMPLE_H

#include "tripwright/base.h"

typedef enum tw_law {
  TW_LAW_FIXED,      /* always `centre` */
  TW_LAW_NORMAL,     /* limits are mean -+ 2 standard deviations; the mean is their middle */
  TW_LAW_UNIFORM,    /* between the limits */
  TW_LAW_TRIANGULAR, /* between the limits, most likely at `centre` */
  TW_LAW_BIN,        /* normal cut at the limits, without the middle: a grade whose better pieces
                        were sorted out; `hole_minus`, `hole_plus` */
  TW_LAW_DISCRETE,   /* one of `values` with its weight */
  TW_LAW_MEASURED    /* one of `values`, all equally likely: a list of measured pieces */
} tw_law;

typedef struct tw_varied {
  const char *name; /* for messages: the path of the field */
  tw_law law;
  double centre;
  double minus, plus;           /* limits centre - minus .. centre + plus, both >= 0 */
  double hole_minus, hole_plus; /* BIN: nothing between centre - hole_minus and + hole_plus */
  bool cut;                     /* the law is cut at `low` and `high` and scaled up again */
  double low, high;
  const double *values, *weights; /* DISCRETE, MEASURED; weights NULL: all equal */
  size_t count;
} tw_varied;

/* The normal scores of inputs `a` and `b` are correlated by r (Gaussian copula; of two normal
 * inputs r is the correlation itself, of others nearly). */
typedef struct tw_correlation {
  size_t a, b;
  double r; /* -1 .. 1 */
} tw_correlation;

/* Quantile of the law at 0 < u < 1: the value under which the share u of pieces lies. The input
 * must have passed tw_varied_check. */
double tw_varied_quantile(const tw_varied *input, double u);
/* TW_BAD_INPUT with the reason: limits the wrong way round, nothing left between `low` and `high`,
 * weights that are negative or all zero, an empty list, a number that is not finite */
tw_status tw_varied_check(const tw_varied *input, tw_fault *fault);
/* does it vary at all? */
bool tw_varied_varies(const tw_varied *input);

typedef struct tw_sampler tw_sampler;

/* Correlations that contradict one another are refused, naming the input at which they do and the
 * range that would be left for its last correlation. */
tw_status tw_sampler_new(const tw_varied *inputs, size_t count, const tw_correlation *correlations,
                         size_t correlation_count, uint64_t seed, tw_sampler **out,
                         tw_fault *fault);
void tw_sampler_free(tw_sampler *sampler);
size_t tw_sampler_inputs(const tw_sampler *sampler);
uint64_t tw_sampler_seed(const tw_sampler *sampler);
bool tw_sampler_varies(const tw_sampler *sampler); /* any of its inputs */

/* x[inputs] of build number `build` */
void tw_sampler_draw(const tw_sampler *sampler, uint64_t build, double *x);
/* The same from given independent uniform numbers 0 < u < 1 (may be x itself): for designs of
 * experiments. */
void tw_sampler_from_uniform(const tw_sampler *sampler, const double *u, double *x);
/* a number that changes when laws, correlations or the seed change; names do not count */
uint64_t tw_sampler_hash(const tw_sampler *sampler);

#endif
