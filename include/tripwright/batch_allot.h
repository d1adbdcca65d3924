/* batch_allot.h: which tolerance each dimension may have, so that enough units are good at the
 * least cost.
 *
 * Plain problems first (slopes, grades, limits), then a design's. Costs are money a unit; a hold is
 * half a zone, in the unit of its dimension; shares 0..1. Thread-safe. Equations and sources:
 * docs/models/batch.md 3.
 */
#ifndef TRIPWRIGHT_BATCH_ALLOT_H
#define TRIPWRIGHT_BATCH_ALLOT_H

#include "tripwright/base.h"

/* ---- ISO 286 --------------------------------------------------------------------------------- */

/* standard tolerance unit of a size (m) as the formula gives it, um; 0 outside 0..500 mm */
double tw_iso_unit_um(double size);
/* i times the grade's number of units, um; grades 5..16, else 0 */
double tw_iso_formula_um(double size, int grade);
/* the whole zone as the standard's table prints it, m; 0 outside */
double tw_iso_zone(double size, int grade);

/* ---- laws of cost ------------------------------------------------------------------------------
 */

/* Tolerances t[n] that cost least in all when each costs b/t^power, so that the requirement moves
 * by no more than `total`: root of the sum of squares of slope x t, or their plain sum (worst
 * case). */
void tw_allot_power(const double *slope, const double *b, size_t n, int power, double total,
                    bool worst_case, double *t);
/* the same for b exp(-m t), within least..most, root of the sum of squares; false when even the
 * least ones move it too far */
bool tw_allot_exponential(const double *slope, const double *b, const double *m,
                          const double *least, const double *most, size_t n, double total,
                          double *t);

/* ---- grades ------------------------------------------------------------------------------------
 */

#define TW_ALLOT_DIMS   12
#define TW_ALLOT_GRADES 8
#define TW_ALLOT_RULES  16
/* sets of grades that are looked through */
#define TW_ALLOT_SETS (1u << 20)

typedef struct tw_allot_dim {
  const char *name;
  size_t grades; /* loosest first */
  double hold[TW_ALLOT_GRADES], cost[TW_ALLOT_GRADES];
  double share; /* standard deviation of a piece over its hold: 1/2 for a normal law */
  double base;  /* standard deviation with which the rules' moments below were found */
} tw_allot_dim;

/* one requirement: moments with every dimension at its base, and how it goes with each dimension
 * about the middle of the batch: slope d + half d^2 */
typedef struct tw_allot_rule {
  const char *name;
  double mean, variance, third; /* third central moment */
  bool has_low, has_high;
  double low, high;
  double slope[TW_ALLOT_DIMS], half[TW_ALLOT_DIMS];
  /* for the two sums of a drawing office: value at the middle, what other inputs add */
  double middle, other_sum, other_squares;
} tw_allot_rule;

typedef struct tw_allot_problem {
  size_t dims, rules;
  tw_allot_dim dim[TW_ALLOT_DIMS];
  tw_allot_rule rule[TW_ALLOT_RULES];
  double covariance[TW_ALLOT_RULES][TW_ALLOT_RULES]; /* at the base; the diagonal is not read */
  double other_cost; /* of a unit besides the grades, for the cost of a good one */
  double target;     /* share of all requirements together */
  double own;        /* of each alone; 0: not asked */
} tw_allot_problem;

typedef struct tw_allot_set {
  unsigned char grade[TW_ALLOT_DIMS];
  double cost;
} tw_allot_set;

/* own yields of the rules (own[rules], may be NULL) and the yield of all together */
double tw_allot_screen(const tw_allot_problem *problem, const tw_allot_set *set, double *own);
/* does the set keep every limit when all tolerances add up (worst case), or as root of squares? */
bool tw_allot_keeps(const tw_allot_problem *problem, const tw_allot_set *set, bool worst_case);

/* all sets by rising cost; TW_BAD_INPUT for more than TW_ALLOT_SETS; free with tw_free */
tw_status tw_allot_sets(const tw_allot_problem *problem, tw_allot_set **out, size_t *count,
                        tw_fault *fault);

typedef struct tw_allotted {
  bool found;
  tw_allot_set set;
  double yield;
  double own[TW_ALLOT_RULES];
  size_t sets, alike; /* of all; of the same cost that reach it as well */
  tw_allot_set best;  /* nothing reaches the target: the one that comes nearest */
  double best_yield;
  double loosest_yield;
  tw_allot_set per_good; /* least cost of a good unit */
  double per_good_cost, per_good_yield;
  bool worst_found, squares_found;
  tw_allot_set worst, squares; /* cheapest after the two sums */
  double squares_yield;
  struct {
    bool is;            /* there is such a grade */
    double cost, yield; /* more than the set */
  } looser[TW_ALLOT_DIMS], tighter[TW_ALLOT_DIMS];
} tw_allotted;

/* the cheapest set by the screen; of equal ones that with the best yield */
tw_status tw_allot_search(const tw_allot_problem *problem, tw_allotted *out, tw_fault *fault);

/* share of a normal law of several variables within low..high (scores), correlation r[n][n]: exact
 * to 1e-9 for two, about 1e-4 for more */
double tw_normal_box(size_t n, const double *low, const double *high,
                     const double r[TW_ALLOT_RULES][TW_ALLOT_RULES]);

#endif
