/* dense.c: small dense elimination, sizes up to the coupled group. */
#include "engine.h"

#include <math.h>

static void swap(double *a, double *b)
{
  const double t = *a;
  *a = *b;
  *b = t;
}

/* forward elimination with row pivots, right-hand sides b[count][n] carried along; inline, so that
 * a constant n unrolls */
static inline bool solve(size_t n, double *a, double *b, size_t count)
{
  for (size_t k = 0; k < n; k++) {
    size_t p = k;
    double most = fabs(a[k * n + k]);
    for (size_t i = k + 1; i < n; i++) {
      const double size = fabs(a[i * n + k]);
      if (size > most) {
        most = size;
        p = i;
      }
    }
    const double pivot = a[p * n + k];
    if (!(most > 0.0) || !isfinite(pivot)) {
      return false;
    }
    if (p != k) {
      for (size_t j = k; j < n; j++) {
        swap(&a[k * n + j], &a[p * n + j]);
      }
      for (size_t c = 0; c < count; c++) {
        swap(&b[c * n + k], &b[c * n + p]);
      }
    }
    for (size_t i = k + 1; i < n; i++) {
      const double f = a[i * n + k] / pivot;
      for (size_t j = k + 1; j < n; j++) {
        a[i * n + j] -= f * a[k * n + j];
      }
      for (size_t c = 0; c < count; c++) {
        b[c * n + i] -= f * b[c * n + k];
      }
    }
  }
  for (size_t c = 0; c < count; c++) { /* back substitution */
    for (size_t k = n; k-- > 0;) {
      for (size_t j = k + 1; j < n; j++) {
        b[c * n + k] -= a[k * n + j] * b[c * n + j];
      }
      b[c * n + k] /= a[k * n + k];
    }
  }
  return true;
}

bool tw_seat_lu_solve(size_t n, double *a, double *b)
{
  return solve(n, a, b, 1);
}

bool tw_seat_solve_six(double *a, double (*b)[SEAT_DOF], size_t count)
{
  return count == 1 ? solve(SEAT_DOF, a, b[0], 1) : solve(SEAT_DOF, a, b[0], count);
}
