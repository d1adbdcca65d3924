/* dense.c: small dense elimination, sizes up to the coupled group. */
#include "engine.h"

#include <math.h>

static void swap_rows(size_t n, double *a, double *b, size_t i, size_t k)
{
  for (size_t j = 0; j < n; j++) {
    const double t = a[i * n + j];
    a[i * n + j] = a[k * n + j];
    a[k * n + j] = t;
  }
  const double t = b[i];
  b[i] = b[k];
  b[k] = t;
}

bool seat_lu_solve(size_t n, double *a, double *b)
{
  /* forward elimination with row pivots, b carried along */
  for (size_t k = 0; k < n; k++) {
    size_t p = k;
    for (size_t i = k + 1; i < n; i++) {
      if (fabs(a[i * n + k]) > fabs(a[p * n + k])) {
        p = i;
      }
    }
    const double pivot = a[p * n + k];
    if (!(fabs(pivot) > 0.0) || !isfinite(pivot)) {
      return false;
    }
    if (p != k) {
      swap_rows(n, a, b, p, k);
    }
    for (size_t i = k + 1; i < n; i++) {
      const double f = a[i * n + k] / pivot;
      if (f != 0.0) {
        for (size_t j = k + 1; j < n; j++) {
          a[i * n + j] -= f * a[k * n + j];
        }
        b[i] -= f * b[k];
      }
    }
  }
  /* back substitution */
  for (size_t k = n; k-- > 0;) {
    for (size_t j = k + 1; j < n; j++) {
      b[k] -= a[k * n + j] * b[j];
    }
    b[k] /= a[k * n + k];
  }
  return true;
}

bool seat_cholesky(size_t n, double *a, size_t stride)
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

void seat_cholesky_solve(size_t n, const double *l, size_t stride, double *b)
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
