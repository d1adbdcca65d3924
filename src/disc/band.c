#include "band.h"

#include <math.h>
#include <string.h>

bool tw_band_factor(tw_band *k)
{
  const int w = k->width, stride = w + 1;
  for (int i = 0; i < k->size; i++) {
    double *row = k->a + (size_t)i * (size_t)stride; /* row[c - i + w] */
    const int low = i > w ? i - w : 0;
    for (int j = low; j <= i; j++) {
      const double *other = k->a + (size_t)j * (size_t)stride;
      const int from = j - w > low ? j - w : low;
      double sum = row[j - i + w];
      for (int c = from; c < j; c++) {
        sum -= row[c - i + w] * other[c - j + w];
      }
      if (j < i) {
        row[j - i + w] = sum / other[w];
      } else {
        if (!(sum > 0.0) || !isfinite(sum)) {
          return false;
        }
        row[w] = sqrt(sum);
      }
    }
  }
  return true;
}

void tw_band_solve(const tw_band *l, double *x, int first)
{
  const int w = l->width, stride = w + 1;
  /* x = l \ x */
  for (int i = first; i < l->size; i++) {
    const double *row = l->a + (size_t)i * (size_t)stride;
    const int low = i - w > first ? i - w : first;
    double sum = x[i];
    for (int c = low; c < i; c++) {
      sum -= row[c - i + w] * x[c];
    }
    x[i] = sum / row[w];
  }
  /* x = l' \ x */
  for (int i = l->size - 1; i >= 0; i--) {
    const double *row = l->a + (size_t)i * (size_t)stride;
    const int low = i > w ? i - w : 0;
    x[i] /= row[w];
    for (int c = low; c < i; c++) {
      x[c] -= row[c - i + w] * x[i];
    }
  }
}

void tw_band_times(const tw_band *k, const double *x, double *y)
{
  memset(y, 0, (size_t)k->size * sizeof *y);
  for (int i = 0; i < k->size; i++) {
    const int low = i > k->width ? i - k->width : 0;
    for (int j = low; j < i; j++) {
      const double a = *tw_band_at(k, i, j);
      y[i] += a * x[j];
      y[j] += a * x[i];
    }
    y[i] += *tw_band_at(k, i, i) * x[i];
  }
}

void tw_band_fix(tw_band *k, int row)
{
  for (int j = row - k->width; j <= row + k->width; j++) {
    if (j >= 0 && j < k->size) {
      *(j <= row ? tw_band_at(k, row, j) : tw_band_at(k, j, row)) = 0.0;
    }
  }
  *tw_band_at(k, row, row) = 1.0;
}
