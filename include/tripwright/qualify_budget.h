/* qualify_budget.h: uncertainty budgets, by the GUM and by Monte Carlo, and what they decide.
 *
 * A budget is a model (a formula), inputs with their spreads and degrees of freedom, and
 * correlations. Numbers are in the user's own consistent units; the result's unit is only carried
 * along. Plain structs of the caller's; thread-safe. Sources: JCGM 100:2008 (GUM), JCGM 101:2008
 * (propagation of distributions), JCGM 106:2012 (conformity), ISO 14253-1 (decision rule; clauses
 * from memory). docs/models/qualify.md 7 and 8.
 */
#ifndef TRIPWRIGHT_QUALIFY_BUDGET_H
#define TRIPWRIGHT_QUALIFY_BUDGET_H

#include "tripwright/base.h"

#define TW_INPUT_MOST   24
#define TW_MODEL_LENGTH 400

typedef enum tw_input_kind {
  TW_INPUT_STANDARD,    /* width is u itself; Student's t with dof degrees of freedom */
  TW_INPUT_RECTANGULAR, /* width is the half-width; u = a / sqrt 3 */
  TW_INPUT_TRIANGULAR,  /* u = a / sqrt 6 */
  TW_INPUT_ARCSINE,     /* u = a / sqrt 2 */
  TW_INPUT_EXPANDED     /* u = width / k */
} tw_input_kind;

typedef struct tw_input {
  char name[32];
  double value, width, k, dof; /* dof: infinity if not limited; k only for expanded */
  tw_input_kind kind;
} tw_input;

typedef struct tw_budget {
  char result[32], unit[16], model[TW_MODEL_LENGTH];
  size_t count;
  tw_input input[TW_INPUT_MOST];
  double correlation[TW_INPUT_MOST][TW_INPUT_MOST]; /* 1 on the diagonal */
} tw_budget;

/* Read a budget file: lines "result: NAME UNIT", "model: FORMULA", "correlation: A B r", then a
 * table with the heading name,value,spread,kind,dof (kind: standard, rectangular, triangular,
 * arcsine, expanded:2; dof empty: not limited). Formula: + - * / ^ ( ), pi, sqrt exp log sin cos
 * tan atan abs. Errors go to `messages` with their place. */
tw_status tw_budget_read(const char *path, tw_messages *messages, tw_budget *out);
tw_status tw_budget_read_text(const char *name, const char *text, size_t length,
                              tw_messages *messages, tw_budget *out);
/* an empty budget, correlations set to none */
void tw_budget_start(tw_budget *out);
/* checks names, spreads, correlations, and that the model can be read */
tw_status tw_budget_check(const tw_budget *budget, tw_fault *fault);
double tw_input_u(const tw_input *input);

typedef struct tw_budget_line {
  double sensitivity, u, contribution; /* |c| u */
  double share;                        /* c^2 u^2 over the sum of them */
} tw_budget_line;

typedef struct tw_budget_result {
  double y, u, dof_exact, dof; /* dof: lower whole number, GUM G.4.1 */
  double level, k, expanded;   /* U = t(dof) u */
  double second_order;         /* variance that second-order terms add, with correlation; reported,
                                  not in u; 0 where the model has no second derivatives */
  double u_second;             /* sqrt(u^2 + second_order) */
  bool second_finite;          /* false: the second-order terms have no number here */
  size_t count;
  tw_budget_line line[TW_INPUT_MOST];
} tw_budget_result;
/* exact derivatives (hyper-dual numbers); the third ones, for second_order, by central differences
 * of the exact second ones */
tw_status tw_budget_gum(const tw_budget *budget, double level, tw_budget_result *out,
                        tw_fault *fault);

typedef struct tw_monte_carlo {
  size_t trials;
  double y, u, level;
  double low, high; /* probabilistically symmetric */
  double shortest_low, shortest_high;
  double tolerance;         /* 0.5 10^l, JCGM 101 7.9.2 */
  bool u_exists;            /* false: an input has 2 degrees of freedom or fewer, so u has no
                               limit, and neither u nor y is held to the tolerance */
  bool settled;             /* 2 s of each figure over the batches <= tolerance */
  double off_low, off_high; /* GUM interval against this one */
  bool gum_holds;           /* both <= tolerance: JCGM 101 clause 8 */
  uint64_t seed;
  double lower, upper; /* limits that the trials were held against, -+infinity for none */
  size_t within;       /* trials that kept them */
} tw_monte_carlo;
/* Batches of 10^4 trials until the figures are stable to `digits` digits of u (JCGM 101 7.9.4), at
 * most `most` trials. Batch b takes stream b of the seed. */
tw_status tw_budget_simulate(const tw_budget *budget, double level, int digits, size_t most,
                             uint64_t seed, const tw_progress *progress, tw_monte_carlo *out,
                             tw_fault *fault);
/* the same, with the trials held against limits[0]..limits[1] (either may be infinite) */
tw_status tw_budget_simulate_against(const tw_budget *budget, double level, int digits, size_t most,
                                     uint64_t seed, const double limits[2],
                                     const tw_progress *progress, tw_monte_carlo *out,
                                     tw_fault *fault);

/* ---- decision ----------------------------------------------------------------------------------
 */

typedef enum tw_verdict { TW_PROVEN, TW_NOT_PROVEN, TW_DISPROVEN } tw_verdict;
const char *tw_verdict_text(tw_verdict verdict);

/* What is known of a figure, so that it can be held against a limit. docs/models/qualify.md 8. */
typedef enum tw_figure_law_kind {
  TW_LAW_NONE,    /* nothing: no decision */
  TW_LAW_STUDENT, /* (true - value)/u is Student's t with dof; normal with dof infinite */
  TW_LAW_SPREAD,  /* value is a multiple of an s with dof: dof (value/true)^2 is chi-squared */
  TW_LAW_SHARE    /* events in n tries: binomial */
} tw_figure_law_kind;

typedef struct tw_figure_law {
  tw_figure_law_kind kind;
  double value, u, dof; /* u: student only */
  size_t events, n;     /* share only; value is then events / n */
} tw_figure_law;

typedef struct tw_decision {
  double probability;             /* that the true value is within the limits */
  double accept_low, accept_high; /* results between these prove it; NaN where there is no limit,
                                     for shares and for simulated results */
  tw_verdict verdict;             /* by probability, limit `level` */
  tw_verdict by_expanded;         /* older rule: limits moved by U = 2 u; where no u describes the
                                     figure, its 95 % interval against the limits */
} tw_decision;
/* Value with standard uncertainty u >= 0, taken as normal, against lower and upper (either may be
 * -+infinity); level: conformance probability wanted, 0.95 usual (figure from memory) */
tw_status tw_decide(double value, double u, double lower, double upper, double level,
                    tw_decision *out, tw_fault *fault);
/* The same by the law of the figure. TW_NO_ANSWER where the law says nothing: no law, or a spread
 * or u of zero found from readings, which only says that their resolution hid it. */
tw_status tw_decide_by(const tw_figure_law *law, double lower, double upper, double level,
                       tw_decision *out, tw_fault *fault);
/* By the trials of a simulation and the limits it was held against; what is not clear of `level` by
 * two standard deviations of the count is not proven. */
tw_status tw_decide_simulated(const tw_monte_carlo *simulated, double level, tw_decision *out,
                              tw_fault *fault);
/* "0.9512"; "above 0.9999" and "below 0.0001" where rounding would say certain or impossible */
void tw_probability_text(double probability, int decimals, char *out, size_t size);
/* "chi-squared with 4 degrees of freedom": the law in words, at most `size` characters */
void tw_law_text(const tw_figure_law *law, char *out, size_t size);

#endif
