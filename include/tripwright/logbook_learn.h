/* logbook_learn.h: what a log teaches: own offset and scatter, charts, yields, foreseen against
 * measured.
 *
 * Pure functions of numbers in any one unit; results in the same unit, plain structs of the
 * caller's. Nothing is allocated that outlives a call; safe from several threads. Equations and
 * sources: docs/models/logbook.md 8 to 12.
 */
#ifndef TRIPWRIGHT_LOGBOOK_LEARN_H
#define TRIPWRIGHT_LOGBOOK_LEARN_H

#include "tripwright/base.h"
#include "tripwright/qualify_stats.h"

/* ---- own offset and scatter ------------------------------------------------------------------ */

/* What is known before the first piece: offset `mean`, worth so many pieces, and standard deviation
 * `scale`, worth so many degrees of freedom. */
typedef struct tw_prior {
  double mean, scale;
  double pieces, dof;
} tw_prior;
/* of a library's figure offset +- tolerance: the tolerance is two standard deviations, the figure
 * is worth one piece and four degrees of freedom */
tw_prior tw_prior_of(double offset, double tolerance);

typedef struct tw_log_learned {
  size_t n;
  double mean, scale;     /* of the pieces to come */
  double pieces, dof;     /* prior and own together */
  double scale_of_mean;   /* scale / sqrt(pieces) */
  double half_next_piece; /* mean -+ this holds the next piece with TW_LEARN_COVER */
  tw_interval mean_interval, scale_interval; /* 95 % */
  bool doubted; /* the pieces scatter so much more than the prior says (below 1 %) that
                   its scatter was taken for one degree of freedom only */
} tw_log_learned;

#define TW_LEARN_COVER 0.9544997361036416 /* two standard deviations of a normal law */
#define TW_LEARN_LEVEL 0.95               /* of the intervals */

/* normal-inverse-chi-squared; n = 0 gives the prior. TW_BAD_INPUT: not finite, prior.scale not
 * above zero. */
tw_status tw_learn(const double *x, size_t n, const tw_prior *prior, tw_log_learned *out,
                   tw_fault *fault);
/* Scatter of the pieces without that of the gauge: sqrt(scale^2 - u^2), at least u/2; *floored
 * tells that the gauge hides it. */
double tw_without_gauge(double scale, double u, bool *floored);

/* What is left of a normal law when pieces more than `limit` standard deviations above its mean
 * were never logged. */
typedef struct tw_cut_normal {
  double mean_shift; /* standard deviations */
  double sd_ratio, share_kept;
} tw_cut_normal;
tw_cut_normal tw_cut_normal_of(double limit);

/* ---- charts ---------------------------------------------------------------------------------- */

#define TW_CHART_D2 1.1283791670955126 /* 2/sqrt(pi): mean range of two over sigma, exact */

/* Individuals and moving range over a series in the order of making, n >= 2. */
typedef struct tw_individuals {
  size_t n;
  double centre, s;
  double moving_range;       /* mean of |x_i - x_(i-1)| */
  double upper, lower;       /* centre +- 3 moving_range/d2 */
  double moving_range_upper; /* 3.266532 moving_range */
  double t_upper, t_lower;   /* centre +- t s sqrt(1 + 1/n): a new piece is outside in 0.27 % */
} tw_individuals;
#define TW_CHART_KNOWN 40 /* units from which the moving range is enough */
tw_status tw_individuals_of(const double *x, size_t n, tw_individuals *out, tw_fault *fault);

/* z = w x + (1 - w) z, from the target on. value and half (may be NULL) hold n; half is L s times
 * what the standard deviation has grown to by then. Where target and s come from so many pieces and
 * are not known, t takes the place of L and the target's own 1/pieces is added to the variance. */
typedef struct tw_ewma {
  double weight, limits; /* w, L */
  double target, s;
  size_t pieces; /* from which they come; 0: they are known */
} tw_ewma;
#define TW_EWMA_WEIGHT 0.2
/* L: with t limits beside it fewer than one false call in 100 pieces, and a shift of two standard
 * deviations seen within 8 pieces in 90 %, from 20 pieces on (unit_test_logbook_cover) */
#define TW_EWMA_LIMITS 2.7
tw_status tw_ewma_of(const tw_ewma *chart, const double *x, size_t n, double *value, double *half,
                     size_t *first_outside, tw_fault *fault);
double tw_ewma_steady(const tw_ewma *chart); /* half of the limits in the long run */
/* pieces until the first one outside, on average, with steady limits and a shift in standard
 * deviations; integral equation (Crowder 1987) on 200 Gauss points */
tw_status tw_ewma_run_length(double weight, double limits, double shift, double *out,
                             tw_fault *fault);

/* ---- shares, correlation --------------------------------------------------------------------- */

/* equal tails of Beta(good + 1/2, n - good + 1/2); the end at 0 or n is 0 or 1 */
tw_status tw_jeffreys_of(size_t good, size_t n, double level, tw_interval *out, tw_fault *fault);

/* r with Fisher's interval at 95 %; n >= 4 */
typedef struct tw_going_together {
  size_t n;
  double r;
  tw_interval interval;
  bool shown; /* the interval leaves out 0 */
} tw_going_together;
tw_status tw_going_together_of(const double *a, const double *b, size_t n, tw_going_together *out,
                               tw_fault *fault);

/* ---- foreseen against measured --------------------------------------------------------------- */

typedef struct tw_agreement {
  size_t n;
  double chi2, p;             /* of all differences against none */
  double bias, u_bias;        /* weighted mean of measured - foreseen; u enlarged by Birge */
  double birge;               /* sqrt(chi2_about/(n - 1)); 0 for n = 1 */
  double chi2_about, p_about; /* about the bias */
  size_t within;              /* |z| <= 2 about no bias: what the tool's own intervals promise */
  tw_interval within_share;   /* of that share, 95 %, Clopper and Pearson */
} tw_agreement;
/* z (may be NULL) holds n: (measured - foreseen)/sqrt(um^2 + sf^2). TW_BAD_INPUT: both
 * uncertainties of a unit are zero, or something is not finite. */
tw_status tw_agreement_of(const double *measured, const double *foreseen, const double *u_measured,
                          const double *u_foreseen, size_t n, double *z, tw_agreement *out,
                          tw_fault *fault);

#endif
