/* assign.c: who goes with whom so that the sum is largest. */
#include "tripwright/study_winback.h"

#include <math.h>

/* Shortest augmenting paths with potentials u, v (Kuhn 1955; Jonker & Volgenant, Computing 38
 * (1987) 325): row r and column c are matched only where cost = u[r] + v[c], and u[r] + v[c] never
 * exceeds the cost elsewhere. Rows and columns from 1; column 0 holds the row that is being placed.
 */
void tw_assign(const double *value, size_t n, size_t *column_of, double *scratch, size_t *indices)
{
  double *v = scratch, *slack = &scratch[n + 1];
  size_t *row_at = indices, *from = &indices[n + 1], *seen = &indices[2 * (n + 1)];
  for (size_t c = 0; c <= n; c++) {
    v[c] = 0;
    row_at[c] = 0;
  }
  for (size_t r = 1; r <= n; r++) {
    size_t at = 0;
    row_at[0] = r;
    for (size_t c = 0; c <= n; c++) {
      slack[c] = HUGE_VAL;
      seen[c] = 0;
      from[c] = 0;
    }
    /* the shortest path from row r to a free column; u is kept inside the differences */
    double length = 0;
    do {
      seen[at] = 1;
      const size_t row = row_at[at];
      const double own = at ? -value[(row - 1) * n + at - 1] - v[at] : 0;
      size_t next = 0;
      for (size_t c = 1; c <= n; c++) {
        if (seen[c]) {
          continue;
        }
        const double path = length + (-value[(row - 1) * n + c - 1] - v[c]) - own;
        if (path < slack[c]) {
          slack[c] = path;
          from[c] = at;
        }
        if (next == 0 || slack[c] < slack[next]) {
          next = c;
        }
      }
      length = slack[next];
      at = next;
    } while (row_at[at] != 0);
    for (size_t c = 1; c <= n; c++) {
      if (seen[c]) {
        v[c] += slack[c] - length;
      }
    }
    while (at) {
      row_at[at] = row_at[from[at]];
      at = from[at];
    }
  }
  for (size_t c = 1; c <= n; c++) {
    column_of[row_at[c] - 1] = c - 1;
  }
}
