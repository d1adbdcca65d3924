/* qualify_stats.h: how good is it, from readings alone.
 *
 * Summary figures, each with its formula in its name (s, 2s, 4s, range), intervals, checks of the
 * readings themselves, error against feed, drift, trips that came or did not, and the positioning
 * figures after the method of ISO 230-2. Readings in any one unit; results in the same unit. Sums
 * are kept in extended precision. Nothing is dropped from the readings: what looks odd is shown.
 * All results are plain structs of the caller's; arrays inside are freed with the named function.
 */
#ifndef TRIPWRIGHT_QUALIFY_STATS_H
#define TRIPWRIGHT_QUALIFY_STATS_H

#include "tripwright/base.h"

/* ---- one series ------------------------------------------------------------------------------ */

typedef struct tw_interval {
  double low, high;
} tw_interval;

/* docs/models/qualify.md 1. s has n - 1; the interval of the mean is Student's, that of s from
 * chi-squared, both for normal readings at `level`. */
typedef struct tw_moments {
  size_t n;
  double mean, s, two_s, four_s, range, least, greatest;
  double s_of_mean;  /* s / sqrt n */
  double c4;         /* mean of s over sigma for n normal readings */
  double s_unbiased; /* s / c4 */
  double lag_one;    /* autocorrelation at lag 1; 0 when all readings are equal */
  double level;
  tw_interval mean_interval, s_interval;
} tw_moments;

/* n >= 2, all finite, 0 < level < 1; else TW_BAD_INPUT with the place of the reading */
tw_status tw_moments_of(const double *reading, size_t n, double level, tw_moments *out,
                        tw_fault *fault);

/* sqrt(2/(n-1)) Gamma(n/2)/Gamma((n-1)/2), n >= 2 */
double tw_c4(size_t n);

/* where sigma is when s was found with dof degrees of freedom: s sqrt(dof/chi2), equal tails */
tw_interval tw_s_interval(double s, double dof, double level);

/* mean range of n normal readings over sigma, n >= 2 */
double tw_d2(size_t n);
/* interval of the range that n such touches show on average: d2(n) times that of sigma */
tw_interval tw_range_interval(const tw_moments *moments);

/* the wrapped-up sum of squares about the mean, and the mean, in extended precision */
void tw_sums_of(const double *reading, size_t n, long double *mean, long double *squares);

/* ---- checks of a series ---------------------------------------------------------------------- */

/* Is there a step on which all readings lie? Found only where it can be shown: equal readings
 * repeat, or more differences are whole multiples than chance allows (docs/models/qualify.md 2). */
typedef struct tw_step_found {
  bool found, limits; /* limits: step > s/2, so s says as much of the step as of the probe */
  double step;
  size_t distinct;
} tw_step_found;
tw_status tw_step_of(const double *reading, size_t n, tw_step_found *out, tw_fault *fault);

#define TW_ODD_MOST 16
/* Readings far from the rest: |0.6745 (x - median)| > 3.5 MAD (Iglewicz and Hoaglin 1993), and
 * Grubbs' test of the farthest. */
typedef struct tw_odd_ones {
  size_t count; /* how many; the first TW_ODD_MOST are listed */
  size_t index[TW_ODD_MOST];
  double score[TW_ODD_MOST];
  double median, spread; /* score = (x - median)/spread, spread = MAD/0.6745 */
  size_t farthest;
  double grubbs, grubbs_limit; /* G and its two-sided 5 % limit; limit 0 when n < 3 */
} tw_odd_ones;
tw_status tw_odd_ones_of(const double *reading, size_t n, tw_odd_ones *out, tw_fault *fault);

/* Does the series run away, or jump? slope per reading by least squares with the two-sided
 * probability of as large a t under no trend; the largest step between two successive halves, its
 * probability multiplied by the number of places tried (Bonferroni). n >= 4. */
typedef struct tw_run_checks {
  double slope, slope_p;
  size_t step_after; /* the step is behind this many readings; 0: none tried */
  double step, step_p;
  bool trend, jump; /* p < 0.01 */
} tw_run_checks;
tw_status tw_run_checks_of(const double *reading, size_t n, tw_run_checks *out, tw_fault *fault);

/* Readings first..first+length that come again to the last digit from `again` on; found: by chance
 * less than once in a hundred series that has none, from how often any two readings are equal.
 * Looked for in up to 5000 readings. */
typedef struct tw_repeated_run {
  bool found;
  size_t length, first, again;
} tw_repeated_run;
void tw_repeated_run_of(const double *reading, size_t n, tw_repeated_run *out);
/* Is the last reading the mean of those before it, rounded? Readings in the unit they were written
 * in. True only where it has more decimals than any other, or where chance would hit the mean less
 * than once in a hundred times. */
bool tw_closes_with_mean(const double *reading, size_t n);

/* Difference of the means of two series (up and down, before and after) with Welch's interval. */
typedef struct tw_difference {
  double difference, u, dof;
  tw_interval interval;
  bool significant; /* the interval keeps clear of 0 */
} tw_difference;
tw_status tw_difference_of(const double *a, size_t na, const double *b, size_t nb, double level,
                           tw_difference *out, tw_fault *fault);

/* ---- groups: direction, feed, condition -------------------------------------------------------
 */

typedef struct tw_group {
  uint32_t code;
  tw_moments moments;
} tw_group;

typedef struct tw_groups {
  size_t count;
  tw_group *group; /* in order of first appearance */
  double s_pooled, dof_pooled;
  tw_interval s_interval; /* of the pooled s */
  double s_largest;
  double cochran, cochran_p; /* largest s^2 over the sum, with a bound on its probability */
} tw_groups;

/* code[i] < codes says to which group reading i belongs; every group needs two readings */
tw_status tw_groups_of(const double *reading, const uint32_t *code, size_t n, size_t codes,
                       double level, tw_groups *out, tw_fault *fault);
void tw_groups_free(tw_groups *groups);

/* ---- trips that came or did not ---------------------------------------------------------------
 */

/* count of events in n tries, with the exact interval of Clopper and Pearson (1934) */
typedef struct tw_share {
  size_t events, n;
  double share;
  tw_interval interval;
} tw_share;
tw_status tw_share_of(size_t events, size_t n, double level, tw_share *out, tw_fault *fault);

/* ---- regression -------------------------------------------------------------------------------
 */

#define TW_FIT_MOST 16
/* y = X b by Householder QR with column scaling in extended precision (Golub and Van Loan 5.2).
 * condition: 1-norm estimate for the scaled columns. */
typedef struct tw_regression {
  size_t n, p;
  double b[TW_FIT_MOST], u[TW_FIT_MOST];
  double covariance[TW_FIT_MOST * TW_FIT_MOST]; /* scaled by s^2 */
  double s, squares;                            /* residual standard deviation, sum of squares */
  double dof, r_squared, condition;
} tw_regression;

/* X row by row (n x p); n > p, p <= TW_FIT_MOST. TW_NO_ANSWER when columns cannot be told apart;
 * the message names the column. r_squared is about the mean when column 0 is constant, else about
 * zero. */
tw_status tw_regress(const double *x, const double *y, size_t n, size_t p, tw_regression *out,
                     tw_fault *fault);
/* y = b0 + b1 x + ... + b_degree x^degree, the powers taken in extended precision */
tw_status tw_regress_polynomial(const double *x, const double *y, size_t n, size_t degree,
                                tw_regression *out, tw_fault *fault);

/* value and, if `slope` is not NULL, d value / d b[0..p) of a model at data row i */
typedef double tw_model(const void *self, size_t i, const double *b, double *slope);

/* Nonlinear least squares (trust region with geodesic acceleration; GSL multifit_nlinear), refined
 * by Gauss-Newton steps in extended precision. b holds the start. TW_NO_ANSWER when it does not
 * settle. */
tw_status tw_fit_model(tw_model *model, const void *self, const double *y, size_t n, size_t p,
                       const double *start, tw_regression *out, tw_fault *fault);

/* ---- error against feed -----------------------------------------------------------------------
 */

/* error = offset + delay feed. curved_p: probability of as large a second-order term when the
 * delay is constant; below 0.01 the delay itself depends on the feed. */
typedef struct tw_feed_error {
  double offset, offset_u, delay, delay_u, covariance, s, dof;
  tw_interval delay_interval, offset_interval;
  double curved, curved_p;
  bool bent;
} tw_feed_error;
/* error in m and feed in m/s give the delay in s; at least 3 readings at 2 feeds */
tw_status tw_feed_error_of(const double *feed, const double *error, size_t n, double level,
                           tw_feed_error *out, tw_fault *fault);

/* ---- drift ------------------------------------------------------------------------------------
 */

/* reading = start + rate (t - t0) + per_degree (T - mean T); temperature may be NULL */
typedef struct tw_drift {
  double start, rate, rate_u, per_degree, per_degree_u, s, dof;
  tw_interval rate_interval, per_degree_interval;
  double range; /* of the readings as they are */
} tw_drift;
tw_status tw_drift_of(const double *time, const double *temperature, const double *reading,
                      size_t n, double level, tw_drift *out, tw_fault *fault);
/* warming up: reading = start + rise (1 - exp(-(t - t0)/settle)) */
typedef struct tw_warming {
  double start, rise, settle, rise_u, settle_u, s, dof;
} tw_warming;
tw_status tw_warming_of(const double *time, const double *reading, size_t n, tw_warming *out,
                        tw_fault *fault);

/* ---- positions, after the method of ISO 230-2 --------------------------------------------------
 */

/* Clause wording from memory, so reports say "after the method of" (docs/models/qualify.md 4). */
typedef struct tw_positions {
  double reversal;                             /* B */
  double repeatability_up, repeatability_down; /* largest 4s, one direction */
  double repeatability;                        /* R, both directions */
  double systematic_up, systematic_down;       /* E of each direction */
  double systematic, mean_deviation;           /* E, M */
  double accuracy, accuracy_up, accuracy_down; /* A */
} tw_positions;
/* position[i] < positions, up[i]: approach from below; every position needs two runs in each
 * direction that it has at all; with one direction only the reversal is 0 */
tw_status tw_positions_of(const uint32_t *position, const bool *up, const double *deviation,
                          size_t n, size_t positions, tw_positions *out, tw_fault *fault);

/* ---- intervals by resampling ------------------------------------------------------------------
 */

/* a figure of readings, given by index into the caller's data; must be thread-safe */
typedef double tw_figure(const void *self, const size_t *index, size_t n);
/* Percentile interval of `figure` over `repeats` resamples of n indices (Efron 1979). */
tw_status tw_bootstrap(tw_figure *figure, const void *self, size_t n, size_t repeats, uint64_t seed,
                       double level, tw_interval *out, tw_fault *fault);

#endif
