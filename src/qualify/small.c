/* small.c: Cholesky, Jacobi and vectors of three. */
#include "small.h"

#include <math.h>
#include <string.h>

bool tw_small_cholesky(double *a, size_t n)
{
  for (size_t j = 0; j < n; j++) {
    const double whole = a[j * n + j];
    for (size_t k = 0; k < j; k++) {
      a[j * n + j] -= a[j * n + k] * a[j * n + k];
    }
    /* what is left of the diagonal must be more than rounding */
    if (!(a[j * n + j] > 1e-15 * whole)) {
      return false;
    }
    a[j * n + j] = sqrt(a[j * n + j]);
    for (size_t i = j + 1; i < n; i++) {
      for (size_t k = 0; k < j; k++) {
        a[i * n + j] -= a[i * n + k] * a[j * n + k];
      }
      a[i * n + j] /= a[j * n + j];
    }
  }
  return true;
}

void tw_small_solve(const double *a, size_t n, double *x)
{
  for (size_t i = 0; i < n; i++) {
    for (size_t k = 0; k < i; k++) {
      x[i] -= a[i * n + k] * x[k];
    }
    x[i] /= a[i * n + i];
  }
  for (size_t i = n; i-- > 0;) {
    for (size_t k = i + 1; k < n; k++) {
      x[i] -= a[k * n + i] * x[k];
    }
    x[i] /= a[i * n + i];
  }
}

/* one rotation that zeroes m[p][q]; rows of v turn along */
static void rotate(double *m, double *v, size_t n, size_t p, size_t q)
{
  const double off = m[p * n + q];
  if (off == 0.0) {
    return;
  }
  const double theta = (m[q * n + q] - m[p * n + p]) / (2.0 * off);
  const double t = (theta >= 0.0 ? 1.0 : -1.0) / (fabs(theta) + sqrt(theta * theta + 1.0));
  const double c = 1.0 / sqrt(t * t + 1.0), s = t * c;
  for (size_t k = 0; k < n; k++) {
    const double kp = m[k * n + p], kq = m[k * n + q];
    m[k * n + p] = c * kp - s * kq;
    m[k * n + q] = s * kp + c * kq;
  }
  for (size_t k = 0; k < n; k++) {
    const double pk = m[p * n + k], qk = m[q * n + k];
    m[p * n + k] = c * pk - s * qk;
    m[q * n + k] = s * pk + c * qk;
    const double vp = v[p * n + k], vq = v[q * n + k];
    v[p * n + k] = c * vp - s * vq;
    v[q * n + k] = s * vp + c * vq;
  }
  m[p * n + q] = m[q * n + p] = 0.0;
}

void tw_small_eigen(const double *a, size_t n, double *value, double *v)
{
  double m[9];
  memcpy(m, a, n * n * sizeof *m);
  for (size_t i = 0; i < n * n; i++) {
    v[i] = i % (n + 1) == 0 ? 1.0 : 0.0;
  }
  for (int sweep = 0; sweep < 60; sweep++) {
    for (size_t p = 0; p + 1 < n; p++) {
      for (size_t q = p + 1; q < n; q++) {
        rotate(m, v, n, p, q);
      }
    }
  }
  for (size_t i = 0; i < n; i++) {
    value[i] = m[i * n + i];
  }
  for (size_t i = 0; i + 1 < n; i++) {
    for (size_t j = i + 1; j < n; j++) {
      if (value[j] < value[i]) {
        const double swap = value[i];
        value[i] = value[j];
        value[j] = swap;
        for (size_t k = 0; k < n; k++) {
          const double row = v[i * n + k];
          v[i * n + k] = v[j * n + k];
          v[j * n + k] = row;
        }
      }
    }
  }
}

double tw_small_dot(const double *a, const double *b, size_t n)
{
  double sum = 0.0;
  for (size_t k = 0; k < n; k++) {
    sum += a[k] * b[k];
  }
  return sum;
}

void tw_small_cross(const double a[3], const double b[3], double out[3])
{
  out[0] = a[1] * b[2] - a[2] * b[1];
  out[1] = a[2] * b[0] - a[0] * b[2];
  out[2] = a[0] * b[1] - a[1] * b[0];
}

double tw_small_length(const double *a, size_t n)
{
  double length = 0.0;
  for (size_t k = 0; k < n; k++) {
    length = hypot(length, a[k]);
  }
  return length;
}
