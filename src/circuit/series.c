/* series.c: preferred values after IEC 60063, E3 to E192, over all decades.
 *
 * E24 and below are a historic list; from E48 on the members are 10^(i/N) rounded to three figures
 * with the one exception 920. (The rule is from memory; test_circuit_series holds it against the
 * lists of docs/models/circuit.md 6.)
 */
#include "tripwright/circuit_forms.h"

#include <assert.h>
#include <math.h>

static const int e24[24] = {10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
                            33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91};

bool tw_series_exists(int series)
{
  return series == 3 || series == 6 || series == 12 || series == 24 || series == 48 ||
         series == 96 || series == 192;
}

int tw_series_member(int series, int index)
{
  assert(tw_series_exists(series) && index >= 0 && index < series);
  if (series <= 24) {
    return e24[index * (24 / series)];
  }
  /* every coarser series is a part of E192, so that its one exception stands in one place */
  const int i = index * (192 / series);
  return i == 185 ? 920 : (int)lround(100.0 * pow(10.0, (double)i / 192.0));
}

/* the n-th member counted through the decades, n = 0 is 1.0 ohm (or farad) */
static double member_at(int series, long n)
{
  long decade = n / series;
  long index = n % series;
  if (index < 0) {
    index += series;
    decade -= 1;
  }
  const double figures = (double)tw_series_member(series, (int)index);
  const long power = decade - (series <= 24 ? 1 : 2);
  /* dividing by an exact power of ten keeps 0.47 and 4.7 the nearest doubles to their text */
  return power >= 0 ? figures * pow(10.0, (double)power) : figures / pow(10.0, (double)-power);
}

/* the number of the largest member <= value */
static long floor_number(int series, double value)
{
  long n = (long)floor(log10(value) * series);
  while (member_at(series, n) > value * (1.0 + 1e-12)) {
    n--;
  }
  while (member_at(series, n + 1) <= value * (1.0 + 1e-12)) {
    n++;
  }
  return n;
}

static tw_status check_value(int series, double value, tw_fault *fault)
{
  if (!tw_series_exists(series)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "use E3, E6, E12, E24, E48, E96 or E192",
                   "there is no series E%d of preferred values", series);
  }
  if (!(value >= 1e-30 && value <= 1e30)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give a value above zero",
                   "%g has no preferred value near it", value);
  }
  return TW_OK;
}

tw_status tw_series_nearest(int series, double value, tw_nearest by, double *nearest,
                            tw_fault *fault)
{
  const tw_status status = check_value(series, value, fault);
  if (status != TW_OK) {
    return status;
  }
  const long n = floor_number(series, value);
  const double below = member_at(series, n), above = member_at(series, n + 1);
  const bool up =
      by == TW_NEAREST_RATIO ? value / below > above / value : value - below > above - value;
  *nearest = up ? above : below;
  return TW_OK;
}

tw_status tw_series_step(int series, double value, int steps, double *member, tw_fault *fault)
{
  const tw_status status = check_value(series, value, fault);
  if (status != TW_OK) {
    return status;
  }
  *member = member_at(series, floor_number(series, value) + steps);
  return TW_OK;
}

size_t tw_series_between(int series, double low, double high, double *out, size_t room)
{
  if (check_value(series, low, NULL) != TW_OK || check_value(series, high, NULL) != TW_OK ||
      low > high) {
    return 0;
  }
  long n = floor_number(series, low);
  if (member_at(series, n) < low * (1.0 - 1e-12)) {
    n++;
  }
  size_t count = 0;
  for (; member_at(series, n) <= high * (1.0 + 1e-12); n++, count++) {
    if (count < room) {
      out[count] = member_at(series, n);
    }
  }
  return count;
}
