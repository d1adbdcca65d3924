/* budget_inner.h: the model of a budget, ready to run. */
#ifndef TW_QUALIFY_BUDGET_INNER_H
#define TW_QUALIFY_BUDGET_INNER_H

#include "formula.h"
#include "tripwright/qualify_budget.h"

tw_status tw_budget_formula(const tw_budget *budget, tw_formula *out, tw_fault *fault);
/* lower Cholesky factor of the correlations; false: not positive definite */
bool tw_budget_factor(const tw_budget *budget, double factor[TW_INPUT_MOST][TW_INPUT_MOST]);

#endif
