/* copied.c: rows that are no touches of their own: recorded twice, or a mean that closes the table.
 */
#include "inner.h"
#include "tripwright/qualify_stats.h"

#include <float.h>
#include <math.h>

/* chance below which a repeat is named: once in so many series without one */
#define TW_COPY_CHANCE 0.01
/* every pair of places is tried: beyond so many readings that would take seconds */
#define TW_COPY_MOST 5000
/* different values that a repeated run needs: a stretch of equal readings repeats itself */
#define TW_COPY_VALUES 3
/* decimals that a reading can show before rounding of doubles does */
#define TW_DECIMALS_MOST 9

static bool has_values(const double *x, size_t n, size_t wanted)
{
  double seen[TW_COPY_VALUES];
  size_t count = 0;
  for (size_t i = 0; i < n && count < wanted; i++) {
    bool known = false;
    for (size_t k = 0; k < count; k++) {
      known |= seen[k] == x[i];
    }
    if (!known) {
      seen[count++] = x[i];
    }
  }
  return count >= wanted;
}

/* longest run x[i] = x[i + shift] that does not overlap itself */
static void longest_at(const double *x, size_t n, size_t shift, tw_repeated_run *best,
                       size_t *equal)
{
  size_t run = 0;
  for (size_t i = 0; i + shift < n; i++) {
    const bool same = x[i] == x[i + shift];
    *equal += same;
    run = same ? run + 1 : 0;
    if (run > best->length && run <= shift && has_values(x + i + 1 - run, run, TW_COPY_VALUES)) {
      *best = (tw_repeated_run){.length = run, .first = i + 1 - run, .again = i + 1 - run + shift};
    }
  }
}

void tw_repeated_run_of(const double *x, size_t n, tw_repeated_run *out)
{
  size_t equal = 0;
  *out = (tw_repeated_run){0};
  if (n < 2 || n > TW_COPY_MOST) {
    return;
  }
  for (size_t shift = 1; shift < n; shift++) {
    longest_at(x, n, shift, out, &equal);
  }
  /* how often two readings are equal apart from the run itself; never less than half a pair */
  const double pairs = 0.5 * (double)n * (double)(n - 1);
  const double often = fmax((double)(equal - out->length), 0.5) / pairs;
  out->found = out->length > 0 && pairs * pow(often, (double)out->length) < TW_COPY_CHANCE;
}

/* decimals that a number shows */
static int decimals_of(double value)
{
  double scaled = fabs(value);
  int decimals = 0;
  /* converting the unit there and back costs a few last digits of the double */
  while (decimals < TW_DECIMALS_MOST &&
         fabs(scaled - round(scaled)) > 16.0 * DBL_EPSILON * scaled) {
    scaled = fabs(value) * pow(10.0, ++decimals);
  }
  return decimals;
}

bool tw_closes_with_mean(const double *x, size_t n)
{
  tw_moments m;
  if (n < 4 || tw_moments_of(x, n - 1, 0.95, &m, NULL) != TW_OK || !(m.s > 0.0)) {
    return false;
  }
  int most = 0;
  for (size_t i = 0; i + 1 < n; i++) {
    const int decimals = decimals_of(x[i]);
    most = decimals > most ? decimals : most;
  }
  const int last = decimals_of(x[n - 1]);
  const double step = pow(10.0, -(last > most ? last : most));
  /* chance that a touch lands on the step of the mean: the height of the normal curve there */
  const double chance = step / (m.s * sqrt(2.0 * TW_PI));
  const bool rounded = fabs(x[n - 1] - m.mean) <= 0.5 * step * (1.0 + 1e-6);
  return rounded && (last > most || chance < TW_COPY_CHANCE);
}
