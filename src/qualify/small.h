/* small.h: the few operations on matrices of six rows or less that the form fits need. */
#ifndef TW_QUALIFY_SMALL_H
#define TW_QUALIFY_SMALL_H

#include <stdbool.h>
#include <stddef.h>

#define TW_SMALL 6

/* Cholesky in place (lower triangle of the n x n matrix a, row by row); false: not positive */
bool tw_small_cholesky(double *a, size_t n);
/* x <- A^-1 x from the factor */
void tw_small_solve(const double *a, size_t n, double *x);
/* eigenvalues ascending, eigenvectors as rows of v, of a symmetric 3 x 3 (or leading n x n, n <= 3)
 * matrix, by Jacobi rotations */
void tw_small_eigen(const double *a, size_t n, double *value, double *v);
double tw_small_dot(const double *a, const double *b, size_t n);
void tw_small_cross(const double a[3], const double b[3], double out[3]);
double tw_small_length(const double *a, size_t n);

#endif
