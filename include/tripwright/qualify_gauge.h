/* qualify_gauge.h: gauge studies: where the spread of repeated measurements comes from.
 *
 * Readings in any one unit, each with the part measured and the condition it was measured under.
 * The condition is called operator after the trade; for a shop of one it is a re-mounting of the
 * probe, a spindle orientation or a day. Plain structs of the caller's; thread-safe.
 * docs/models/qualify.md 9.
 */
#ifndef TRIPWRIGHT_QUALIFY_GAUGE_H
#define TRIPWRIGHT_QUALIFY_GAUGE_H

#include "tripwright/base.h"

typedef struct tw_anova_row {
  double squares, dof, mean_square, f, p; /* f, p: 0 and 1 where they make no sense */
} tw_anova_row;

/* ---- one factor -------------------------------------------------------------------------------
 */

typedef struct tw_one_way {
  tw_anova_row between, within;
  double r_squared, s;
} tw_one_way;
/* group[i] < groups; at least two groups, more readings than groups */
tw_status tw_one_way_of(const double *reading, const uint32_t *group, size_t n, size_t groups,
                        tw_one_way *out, tw_fault *fault);

/* ---- crossed: every part under every operator, the same number of times ------------------------
 */

typedef struct tw_gauge {
  size_t parts, operators, trials;
  tw_anova_row part, operator_, interaction, error, total;
  double f_error[3]; /* part, operator, interaction against the error mean square */
  bool pooled;       /* interaction put into the error */
  double ev, av, interaction_s, grr, pv, tv;              /* standard deviations */
  double percent_grr, percent_ev, percent_av, percent_pv; /* of TV */
  double tolerance_percent; /* 100 x 6 GRR / tolerance; 0 without tolerance */
  double ndc_exact;         /* 1.41 PV / GRR; infinite when GRR is 0 */
  double ndc;               /* rounded down */
  bool negative;            /* a variance came out below zero and was set to zero */
} tw_gauge;

typedef struct tw_gauge_rules {
  double pool_above; /* pool when the interaction's p is above this: 0.05 or 0.25; 1: never */
  double tolerance;  /* full width, or 0 */
} tw_gauge_rules;

/* Random model. Refuses an incomplete or unbalanced study, naming the cell. */
tw_status tw_gauge_crossed(const double *reading, const uint32_t *part, const uint32_t *operator_,
                           size_t n, size_t parts, size_t operators, tw_gauge_rules rules,
                           tw_gauge *out, tw_fault *fault);

/* factors for ranges of small samples: K = 1/d2* and D4, computed from the distribution of the
 * range of normal samples; set others to follow a printed table */
typedef struct tw_range_factors {
  double k1, k2, k3, d4;
} tw_range_factors;
tw_status tw_range_factors_for(size_t parts, size_t operators, size_t trials, tw_range_factors *out,
                               tw_fault *fault);

typedef struct tw_gauge_ranges {
  tw_range_factors factors;
  double mean_range, operator_range, part_range, range_limit; /* limit D4 x mean range */
  size_t beyond;                                              /* cells with a larger range */
  double ev, av, grr, pv, tv, percent_grr, ndc_exact, ndc;
} tw_gauge_ranges;
/* average and range; factors NULL: computed ones */
tw_status tw_gauge_average_range(const double *reading, const uint32_t *part,
                                 const uint32_t *operator_, size_t n, size_t parts,
                                 size_t operators, const tw_range_factors *factors,
                                 tw_gauge_ranges *out, tw_fault *fault);

/* ---- nested: readings within days within runs
 * ---------------------------------------------------- */

/* NIST/SEMATECH e-Handbook 2.4.4: level 1 within a day, level 2 day to day, level 3 run to run */
typedef struct tw_nested {
  double s1, s2, s3, dof1, dof2, dof3;
  double days_s, runs_s; /* standard deviations of the effects, the lower levels taken out */
  double u_one;          /* of one short-term mean: sqrt of the three effects */
  bool negative;
} tw_nested;
/* From daily means with their s and degrees of freedom; block[i]: the check standard. `readings` a
 * day, to take the short term out of the day-to-day part. */
tw_status tw_nested_of(const uint32_t *block, const uint32_t *run, const double *mean,
                       const double *s, const double *dof, size_t n, double readings,
                       tw_nested *out, tw_fault *fault);
/* From single readings: day codes are distinct within a run or not, either is fine. */
tw_status tw_nested_readings(const double *reading, const uint32_t *run, const uint32_t *day,
                             size_t n, tw_nested *out, tw_fault *fault);

/* ---- bias -------------------------------------------------------------------------------------
 */

typedef struct tw_bias {
  size_t n;
  double mean, s, t, p;
  bool significant; /* p < 0.05, two-sided */
} tw_bias;
/* of differences from the reference */
tw_status tw_bias_of(const double *difference, size_t n, tw_bias *out, tw_fault *fault);

#endif
