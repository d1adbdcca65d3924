/* numerics.h: the few general numerical tools that several rooms need inside their loops, where a
 * library's solver with its own memory would cost more than the work.
 *
 * Plain arrays, no allocation, no state; thread-safe. Fits, distributions, roots by name and
 * eigenvalues come from GSL.
 */
#ifndef TRIPWRIGHT_NUMERICS_H
#define TRIPWRIGHT_NUMERICS_H

#include <stdbool.h>
#include <stddef.h>

/* for qsort: ascending doubles, none of them NaN */
int tw_compare_doubles(const void *a, const void *b);

/* does the place looked for lie above x? */
typedef bool (*tw_lies_above)(const void *self, double x);
/* Halve the bracket *low..*high until it is no wider than `width` times *high, or `most` times. The
 * ends keep their sides: *low is below the place, *high is not. */
void tw_bisect(tw_lies_above above, const void *self, double width, int most, double *low,
               double *high);

/* Lower Cholesky factor in place of a symmetric matrix whose lower triangle is given row by row
 * with `stride`; false when it is not positive definite. */
bool tw_cholesky(size_t n, double *a, size_t stride);
/* b <- (l l')^-1 b */
void tw_cholesky_solve(size_t n, const double *l, size_t stride, double *b);

#endif
