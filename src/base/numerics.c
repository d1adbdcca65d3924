/* numerics.c: order, bisection and the dense Cholesky factor. */
#include "tripwright/numerics.h"

#include <math.h>

int tw_compare_doubles(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

void tw_bisect(tw_lies_above above, const void *self, double width, int most, double *low,
               double *high)
{
  for (int i = 0; i<most && * high - *low> width * *high; i++) {
    const double middle = 0.5 * (*low + *high);
    *(above(self, middle) ? low : high) = middle;
  }
}

bool tw_cholesky(size_t n, double *a, size_t stride)
{
  for (size_t j = 0; j < n; j++) {
    double *aj = a + j * stride;
    for (size_t i = 0; i < j; i++) {
      /* l_ji = (a_ji - l_j . l_i) / l_ii */
      const double *ai = a + i * stride;
      double s = aj[i];
      for (size_t k = 0; k < i; k++) {
        s -= aj[k] * ai[k];
      }
      aj[i] = s / ai[i];
    }
    double d = aj[j];
    for (size_t k = 0; k < j; k++) {
      d -= aj[k] * aj[k];
    }
    if (!(d > 0.0) || !isfinite(d)) {
      return false;
    }
    aj[j] = sqrt(d);
  }
  return true;
}

void tw_cholesky_solve(size_t n, const double *l, size_t stride, double *b)
{
  for (size_t i = 0; i < n; i++) { /* l y = b */
    for (size_t k = 0; k < i; k++) {
      b[i] -= l[i * stride + k] * b[k];
    }
    b[i] /= l[i * stride + i];
  }
  for (size_t i = n; i-- > 0;) { /* l' x = y */
    for (size_t k = i + 1; k < n; k++) {
      b[i] -= l[k * stride + i] * b[k];
    }
    b[i] /= l[i * stride + i];
  }
}
