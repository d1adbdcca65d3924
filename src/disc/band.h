/* band.h: a symmetric positive definite matrix of small bandwidth, lower triangle by rows. */
#ifndef TW_DISC_BAND_H
#define TW_DISC_BAND_H

#include <stdbool.h>
#include <stddef.h>

/* row i keeps the columns i - width .. i; a[i * (width + 1) + width] is the diagonal */
typedef struct tw_band {
  int size, width;
  double *a; /* borrowed */
} tw_band;

static inline size_t tw_band_length(int size, int width)
{
  return (size_t)size * (size_t)(width + 1);
}

static inline double *tw_band_at(const tw_band *k, int row, int column)
{
  return &k->a[(size_t)row * (size_t)(k->width + 1) + (size_t)(column - row + k->width)];
}

/* k = l l', in place; false if it is not positive definite */
bool tw_band_factor(tw_band *k);
/* x = k^-1 x from the factor; `first`: x is zero before it */
void tw_band_solve(const tw_band *l, double *x, int first);
/* y = k x, before factoring */
void tw_band_times(const tw_band *k, const double *x, double *y);
/* clear row and column, 1 on the diagonal */
void tw_band_fix(tw_band *k, int row);

#endif
