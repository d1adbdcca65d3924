/* budget_inner.h: the model of a budget, ready to run, and what its correlations tie together. */
#ifndef TW_QUALIFY_BUDGET_INNER_H
#define TW_QUALIFY_BUDGET_INNER_H

#include "formula.h"
#include "tripwright/qualify_budget.h"

tw_status tw_budget_formula(const tw_budget *budget, tw_formula *out, tw_fault *fault);
/* lower Cholesky factor of the correlations; false: not positive definite */
bool tw_budget_factor(const tw_budget *budget, double factor[TW_INPUT_MOST][TW_INPUT_MOST]);

/* first input of the group that input i is correlated with, directly or through others; i itself
 * when it stands alone */
size_t tw_budget_group(const tw_budget *budget, size_t i);
/* Correlated inputs are readings taken together, so they have one number of degrees of freedom:
 * TW_OK, or which two differ. docs/models/qualify.md 7 says why. */
tw_status tw_budget_check_groups(const tw_budget *budget, tw_fault *fault);
/* variance that the group led by input i adds to the result; 0 for inputs that do not lead one */
double tw_budget_group_variance(const tw_budget *budget, const tw_budget_result *result, size_t i);
/* Variance that the second-order terms add, for jointly normal inputs; not finite where the model
 * has no second derivatives. `result` has its sensitivities and u already. */
double tw_budget_second_order(const tw_budget *budget, const tw_formula *formula, const double *x,
                              const double *u, const tw_budget_result *result);

#endif
