/* formula.h: a formula over named inputs, with exact first and second derivatives. */
#ifndef TW_QUALIFY_FORMULA_H
#define TW_QUALIFY_FORMULA_H

#include "tripwright/base.h"

#define TW_FORMULA_STEPS 200
#define TW_FORMULA_DEPTH 64

typedef struct tw_step {
  unsigned char what; /* operation, see formula.c */
  unsigned char input;
  double number;
} tw_step;

typedef struct tw_formula {
  size_t steps, depth;
  tw_step step[TW_FORMULA_STEPS];
} tw_formula;

/* f, df/dx_i, df/dx_j, d2f/dx_i dx_j */
typedef struct tw_dual {
  double f, i, j, ij;
} tw_dual;

/* `column` (may be NULL) takes the place of the mistake in the text, from 1 */
tw_status tw_formula_read(const char *text, const char *const *name, size_t names, tw_formula *out,
                          size_t *column, tw_fault *fault);
double tw_formula_value(const tw_formula *formula, const double *x);
tw_dual tw_formula_dual(const tw_formula *formula, const double *x, size_t i, size_t j);
bool tw_formula_uses(const tw_formula *formula, size_t input);

#endif
