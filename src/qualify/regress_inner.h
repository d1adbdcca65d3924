/* regress_inner.h: the extended-precision least-squares solver behind every straight fit here. */
#ifndef TW_QUALIFY_REGRESS_INNER_H
#define TW_QUALIFY_REGRESS_INNER_H

#include "tripwright/qualify_stats.h"

/* min |y - X b|, X (n x p, row by row, left as it is). `work` holds n (p + 2) long doubles.
 * b, the residual sum of squares, the condition of the scaled columns and (X^T X)^-1 (p x p, may be
 * NULL) come out. Returns p, or the first column that cannot be told from those before it. */
size_t tw_solve_least_squares(const long double *x, const long double *y, size_t n, size_t p,
                              long double *work, long double *b, long double *squares,
                              long double *condition, long double *inverse);

#endif
