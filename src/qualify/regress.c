/* regress.c: linear least squares by Householder QR in extended precision. */
#include "inner.h"
#include "regress_inner.h"

#include <float.h>
#include <math.h>
#include <string.h>

/* a column whose part across the others is smaller than this, of its own length, is not there:
 * the readings are doubles, so nothing below their rounding can be meant */
#define TW_SAME_COLUMN ((long double)DBL_EPSILON)

/* column k of the n x p array a becomes a Householder vector below the diagonal; the diagonal of R
 * goes to d[k]; the remaining columns are reflected */
static void reflect_column(long double *a, size_t n, size_t p, size_t k, long double *d)
{
  long double norm = 0.0L;
  for (size_t i = k; i < n; i++) {
    norm += a[i * p + k] * a[i * p + k];
  }
  norm = sqrtl(norm);
  d[k] = a[k * p + k] > 0.0L ? -norm : norm;
  if (norm == 0.0L) {
    return;
  }
  /* v = x - d e_k; H = I - v v^T / (d (d - x_k)) */
  a[k * p + k] -= d[k];
  const long double scale = -d[k] * a[k * p + k];
  for (size_t j = k + 1; j < p; j++) {
    long double dot = 0.0L;
    for (size_t i = k; i < n; i++) {
      dot += a[i * p + k] * a[i * p + j];
    }
    for (size_t i = k; i < n; i++) {
      a[i * p + j] -= dot / scale * a[i * p + k];
    }
  }
}

/* y <- Q^T y */
static void apply_reflections(const long double *a, size_t n, size_t p, const long double *d,
                              long double *y)
{
  for (size_t k = 0; k < p; k++) {
    const long double scale = -d[k] * a[k * p + k];
    long double dot = 0.0L;
    for (size_t i = k; i < n; i++) {
      dot += a[i * p + k] * y[i];
    }
    for (size_t i = k; i < n; i++) {
      y[i] -= dot / scale * a[i * p + k];
    }
  }
}

/* R b = y, R above the diagonal of a with diagonal d */
static void back_substitute(const long double *a, size_t p, const long double *d, long double *y)
{
  for (size_t k = p; k-- > 0;) {
    for (size_t j = k + 1; j < p; j++) {
      y[k] -= a[k * p + j] * y[j];
    }
    y[k] /= d[k];
  }
}

/* inverse <- R^-1, upper triangle */
static void invert_triangle(const long double *a, size_t p, const long double *d, long double *r)
{
  for (size_t c = 0; c < p; c++) {
    for (size_t k = 0; k < p; k++) {
      r[k * p + c] = k == c ? 1.0L : 0.0L;
    }
    for (size_t k = c + 1; k-- > 0;) {
      for (size_t j = k + 1; j <= c; j++) {
        r[k * p + c] -= a[k * p + j] * r[j * p + c];
      }
      r[k * p + c] /= d[k];
    }
  }
}

/* |R|_1 |R^-1|_1 */
static long double condition_of(const long double *a, const long double *d, const long double *r,
                                size_t p)
{
  long double largest = 0.0L, largest_inverse = 0.0L;
  for (size_t c = 0; c < p; c++) {
    long double sum = fabsl(d[c]), sum_inverse = fabsl(r[c * p + c]);
    for (size_t k = 0; k < c; k++) {
      sum += fabsl(a[k * p + c]);
      sum_inverse += fabsl(r[k * p + c]);
    }
    largest = fmaxl(largest, sum);
    largest_inverse = fmaxl(largest_inverse, sum_inverse);
  }
  return largest * largest_inverse;
}

/* (X^T X)^-1 = D R^-1 R^-T D, D the column scales */
static void inverse_of_normal(const long double *r, const long double *scale, size_t p,
                              long double *inverse)
{
  for (size_t i = 0; i < p; i++) {
    for (size_t j = 0; j < p; j++) {
      long double sum = 0.0L;
      for (size_t k = i > j ? i : j; k < p; k++) {
        sum += r[i * p + k] * r[j * p + k];
      }
      inverse[i * p + j] = sum * scale[i] * scale[j];
    }
  }
}

static long double column_scale(const long double *x, size_t n, size_t p, size_t column)
{
  long double norm = 0.0L;
  for (size_t i = 0; i < n; i++) {
    norm = hypotl(norm, x[i * p + column]);
  }
  return norm > 0.0L ? 1.0L / norm : 0.0L;
}

/* residual <- y - X b, and its sum of squares */
static long double residual_of(const long double *x, const long double *y, size_t n, size_t p,
                               const long double *b, long double *residual)
{
  long double squares = 0.0L;
  for (size_t i = 0; i < n; i++) {
    residual[i] = y[i];
    for (size_t j = 0; j < p; j++) {
      residual[i] -= x[i * p + j] * b[j];
    }
    squares += residual[i] * residual[i];
  }
  return squares;
}

size_t tw_solve_least_squares(const long double *x, const long double *y, size_t n, size_t p,
                              long double *work, long double *b, long double *squares,
                              long double *condition, long double *inverse)
{
  long double *a = work, *residual = work + n * p;
  long double scale[TW_FIT_MOST], d[TW_FIT_MOST], r[TW_FIT_MOST * TW_FIT_MOST];
  for (size_t j = 0; j < p; j++) {
    scale[j] = column_scale(x, n, p, j);
    for (size_t i = 0; i < n; i++) {
      a[i * p + j] = x[i * p + j] * scale[j];
    }
  }
  for (size_t k = 0; k < p; k++) {
    reflect_column(a, n, p, k, d);
    if (!(fabsl(d[k]) > TW_SAME_COLUMN)) {
      return k;
    }
  }
  /* b = D R^-1 Q^T y */
  memcpy(residual, y, n * sizeof *residual);
  apply_reflections(a, n, p, d, residual);
  back_substitute(a, p, d, residual);
  for (size_t j = 0; j < p; j++) {
    b[j] = residual[j] * scale[j];
  }
  *squares = residual_of(x, y, n, p, b, residual);
  invert_triangle(a, p, d, r);
  *condition = condition_of(a, d, r, p);
  if (inverse) {
    inverse_of_normal(r, scale, p, inverse);
  }
  return p;
}

/* ---- the public face ------------------------------------------------------------------------- */

static double r_squared(const long double *x, const long double *y, size_t n, size_t p,
                        long double squares)
{
  bool constant = true;
  long double mean = 0.0L, total = 0.0L;
  for (size_t i = 0; i < n; i++) {
    constant &= x[i * p] == x[0];
    mean += y[i] / (long double)n;
  }
  mean = constant ? mean : 0.0L;
  for (size_t i = 0; i < n; i++) {
    total += (y[i] - mean) * (y[i] - mean);
  }
  return total > 0.0L ? (double)(1.0L - squares / total) : 0.0;
}

static tw_status regress_extended(const long double *x, const long double *y, size_t n, size_t p,
                                  tw_regression *out, tw_fault *fault)
{
  long double *work = tw_alloc(n * (p + 2), sizeof *work);
  if (!work) {
    return tw_no_memory(fault);
  }
  long double b[TW_FIT_MOST], squares, condition, inverse[TW_FIT_MOST * TW_FIT_MOST];
  const size_t column = tw_solve_least_squares(x, y, n, p, work, b, &squares, &condition, inverse);
  tw_free(work);
  if (column < p) {
    return tw_fail(fault, TW_NO_ANSWER, "columns", "vary it by itself in the test, or leave it out",
                   "column %zu cannot be separated from those before it", column + 1);
  }
  *out = (tw_regression){.n = n, .p = p, .squares = (double)squares, .dof = (double)(n - p)};
  out->condition = (double)condition;
  out->r_squared = r_squared(x, y, n, p, squares);
  const long double variance = squares / (long double)(n - p);
  out->s = (double)sqrtl(variance);
  for (size_t i = 0; i < p; i++) {
    out->b[i] = (double)b[i];
    out->u[i] = (double)sqrtl(variance * inverse[i * p + i]);
    for (size_t j = 0; j < p; j++) {
      out->covariance[i * p + j] = (double)(variance * inverse[i * p + j]);
    }
    if (!isfinite(out->b[i]) || !isfinite(out->u[i])) {
      return tw_fail(fault, TW_NO_ANSWER, "columns", "are the units right?",
                     "the numbers overflow");
    }
  }
  return TW_OK;
}

static tw_status check_size(size_t n, size_t p, tw_fault *fault)
{
  if (p == 0 || p > TW_FIT_MOST) {
    return tw_fail(fault, TW_BAD_INPUT, "columns", "fit fewer at a time",
                   "%zu coefficients; 1 to %d can be fitted", p, TW_FIT_MOST);
  }
  if (n <= p) {
    return tw_fail(fault, TW_BAD_INPUT, "readings", "take more readings",
                   "%zu readings for %zu coefficients leave nothing to judge the fit by", n, p);
  }
  return TW_OK;
}

/* room for n x p conditions and n readings, once the numbers given are found to be finite */
static tw_status take_room(const double *x, size_t conditions, const double *y, size_t n, size_t p,
                           long double **wide, tw_fault *fault)
{
  tw_status status = check_size(n, p, fault);
  status = status == TW_OK ? tw_all_finite(x, conditions, "condition", fault) : status;
  status = status == TW_OK ? tw_all_finite(y, n, "reading", fault) : status;
  if (status != TW_OK) {
    return status;
  }
  *wide = tw_alloc(n * (p + 1), sizeof **wide);
  return *wide ? TW_OK : tw_no_memory(fault);
}

tw_status tw_regress(const double *x, const double *y, size_t n, size_t p, tw_regression *out,
                     tw_fault *fault)
{
  long double *wide = NULL;
  tw_status status = take_room(x, n * p, y, n, p, &wide, fault);
  if (status != TW_OK) {
    return status;
  }
  for (size_t i = 0; i < n * p; i++) {
    wide[i] = (long double)x[i];
  }
  for (size_t i = 0; i < n; i++) {
    wide[n * p + i] = (long double)y[i];
  }
  status = regress_extended(wide, wide + n * p, n, p, out, fault);
  tw_free(wide);
  return status;
}

tw_status tw_regress_polynomial(const double *x, const double *y, size_t n, size_t degree,
                                tw_regression *out, tw_fault *fault)
{
  const size_t p = degree + 1;
  long double *wide = NULL;
  tw_status status = take_room(x, n, y, n, p, &wide, fault);
  if (status != TW_OK) {
    return status;
  }
  for (size_t i = 0; i < n; i++) {
    long double power = 1.0L;
    for (size_t j = 0; j < p; j++) {
      wide[i * p + j] = power;
      power *= (long double)x[i];
    }
    wide[n * p + i] = (long double)y[i];
  }
  status = regress_extended(wide, wide + n * p, n, p, out, fault);
  tw_free(wide);
  return status;
}
