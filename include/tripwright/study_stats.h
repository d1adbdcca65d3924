/* study_stats.h: what a batch of numbers says, and how sure it is.
 *
 * Quantiles with intervals that hold for any law, yields with exact intervals, coverage intervals
 * and the adaptive stopping of JCGM 101, sensitivity indices of Sobol'. Plain arrays in, plain
 * structs out; no global state, thread-safe. Confidence levels are shares (0.95). Equations and
 * sources: docs/models/study.md 2 to 4.
 */
#ifndef TRIPWRIGHT_STUDY_STATS_H
#define TRIPWRIGHT_STUDY_STATS_H

#include "tripwright/base.h"

/* ---- quantiles ----------------------------------------------------------------------------- */

/* Ranks (1 .. n) of the sorted values between which the quantile lies with at least `level`. */
typedef struct tw_ranks {
  bool exists;
  size_t low, high;
  double coverage; /* of a continuous law: never less than the level */
  size_t needed;   /* values from which on an interval exists */
} tw_ranks;

/* Distribution-free interval of the p-quantile from n values: the closest pair of ranks whose
 * binomial coverage reaches `level`, the better balanced of equals (David and Nagaraja, Order
 * Statistics, 7.1). 0 < p < 1, 0 < level < 1. Without a pair `exists` is false. */
tw_ranks tw_quantile_ranks(size_t n, double p, double level);

/* Estimate of the p-quantile itself: interpolated between the values at rank (n + 1) p, clamped to
 * the ends; `sorted` ascending, n > 0. (Hyndman and Fan 1996, definition 6.) */
double tw_quantile_of(const double *sorted, size_t n, double p);
/* ascending; NaN must not occur */
void tw_sort_ascending(double *values, size_t n);

/* ---- yield --------------------------------------------------------------------------------- */

/* Interval of a share of which k in n were good: Blaker's exact interval (Canad. J. Statist. 28
 * (2000) 783), which lies within that of Clopper and Pearson and never covers less than `level`.
 * n > 0, k <= n. */
void tw_yield_interval(size_t k, size_t n, double level, double *low, double *high);

/* ---- coverage intervals -------------------------------------------------------------------- */

/* Shortest interval that holds the share p of the sorted values (JCGM 101, 7.7.2 note 3):
 * y[r] .. y[r + q] with q the integer nearest to p n, at least 1. n > 1. */
void tw_shortest_interval(const double *sorted, size_t n, double p, double *low, double *high);
/* symmetric in probability: ranks as in JCGM 101, 7.7.2 */
void tw_symmetric_interval(const double *sorted, size_t n, double p, double *low, double *high);

/* The adaptive procedure of JCGM 101, 7.9: whole batches until the mean, the standard deviation
 * and both ends are steady within the tolerance that belongs to `digits` significant figures of the
 * standard deviation. */
typedef struct tw_adaptive {
  double p;       /* coverage, 0.95 */
  int digits;     /* 1 or 2 */
  size_t batch;   /* values a batch: tw_adaptive_batch gives the standard's */
  size_t batches; /* taken so far */
  /* running means and sums of squares over batches, of mean, deviation, low end, high end */
  double mean[4], square[4];
  /* over all values */
  double all_mean, all_square;
  /* after each batch */
  double tolerance;      /* half a unit of the last significant figure */
  double uncertainty[4]; /* two standard deviations of the averages over batches */
  double deviation;      /* standard deviation of all values */
  bool steady;
} tw_adaptive;

/* start; the batch size is max(100/(1 - p), 10000) as in 7.9.4 b) */
void tw_adaptive_start(tw_adaptive *adaptive, double p, int digits);
/* Add one batch of adaptive->batch values, which are sorted in place. */
void tw_adaptive_add(tw_adaptive *adaptive, double *values);
/* Half a unit of the last of `digits` significant figures of u > 0: u = c 10^l, delta = 10^l/2
 * (JCGM 101, 7.9.2); 0 for u = 0. */
double tw_numerical_tolerance(double u, int digits);

/* ---- sensitivity indices ------------------------------------------------------------------- */

/* A design of experiments for k inputs and n base rows: row r of block b is base row r of matrix A
 * (b = 0), of matrix B (b = 1), or of A with column b - 2 taken from B (b = 2 .. k + 1). */
typedef struct tw_sobol_plan {
  size_t inputs, rows;
  uint64_t seed;
} tw_sobol_plan;

size_t tw_sobol_points(const tw_sobol_plan *plan); /* rows x (inputs + 2) */
/* the independent uniform numbers u[inputs] of point `index` = block x rows + row */
void tw_sobol_point(const tw_sobol_plan *plan, size_t index, double *u);

typedef struct tw_index {
  double first, first_low, first_high; /* share of the variance of this input alone */
  double total, total_low, total_high; /* with all its interactions */
} tw_index;

/* First-order and total indices by the estimators of Jansen (Comput. Phys. Commun. 117 (1999) 35;
 * Saltelli et al., ibid. 181 (2010) 259), with percentile intervals at `level` from `resamples`
 * bootstrap draws of whole rows. `y` holds the points in order; rows with a value that is not
 * finite are left out. index[inputs]. `variance` and `used` (rows) may be NULL. TW_NO_ANSWER when
 * fewer than 16 rows are left or the result does not vary. Scratch memory is taken and freed. */
tw_status tw_sobol_indices(const tw_sobol_plan *plan, const double *y, double level,
                           size_t resamples, tw_index *index, double *variance, size_t *used,
                           tw_fault *fault);

#endif
