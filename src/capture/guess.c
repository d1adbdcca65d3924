/* guess.c: what a recording looks like, when nobody says what was done. */
#include "signal.h"

#include <math.h>

#define LOOK      65536 /* samples that are looked at */
#define TWO_LEVEL 0.9   /* share of the samples near an end of the range */
#define NEAR      0.15  /* of the range */
#define SLOW      0.05  /* s between readings: a meter */
#define DEAD_TIME 0.08  /* s */
#define RINGS     0.25  /* how far the swings to the other side reach, of the first */

/* near one end or the other nearly all the time */
static bool two_level(const double *v, size_t n, size_t *crossings)
{
  double least = v[0], most = v[0];
  for (size_t i = 0; i < n; i++) {
    least = fmin(least, v[i]);
    most = fmax(most, v[i]);
  }
  const double span = most - least, middle = least + span / 2;
  size_t near = 0, low = 0, high = 0;
  bool up = v[0] > middle;
  *crossings = 0;
  for (size_t i = 0; i < n; i++) {
    low += v[i] < least + NEAR * span;
    high += v[i] > most - NEAR * span;
    near += v[i] < least + NEAR * span || v[i] > most - NEAR * span;
    if (up ? v[i] < least + 0.4 * span : v[i] > least + 0.6 * span) {
      up = !up;
      ++*crossings;
    }
  }
  return span > 0 && (double)near > TWO_LEVEL * (double)n && low > n / 50 && high > n / 50;
}

/* does it swing to both sides of its rest? */
static bool swings(const double *v, size_t n)
{
  double level, sigma, least = 0, most = 0;
  if (!tw_level(v, n, &level, &sigma)) {
    return false;
  }
  for (size_t i = 0; i < n; i++) {
    least = fmin(least, v[i] - level);
    most = fmax(most, v[i] - level);
  }
  return fmin(-least, most) > RINGS * fmax(-least, most);
}

static tw_capture_act of_events(const tw_capture_record *r, const double *v, size_t n)
{
  size_t at[8], count;
  double noise, level, sigma;
  if (!tw_jumps(v, n, (size_t)(DEAD_TIME / r->interval), 8, at, &count, &noise) ||
      !tw_level(v, n, &level, &sigma)) {
    return TW_CAPTURE_UNKNOWN;
  }
  double most = 0;
  for (size_t i = 0; i < n; i++) {
    most = fmax(most, fabs(v[i] - level));
  }
  /* a record without rest: the middle deviation is a good part of the largest */
  if (sigma > 0.4 * most) {
    double hz;
    return tw_line(v, n, r->interval, 100, 0.45 / r->interval, &hz) && hz > 100 &&
                   sigma > 0.6 * most
               ? TW_CAPTURE_TONE
               : TW_CAPTURE_REST;
  }
  if (count == 0 || most < 6 * sigma) {
    return TW_CAPTURE_REST;
  }
  if (swings(v, n)) {
    return TW_CAPTURE_RING_DOWN;
  }
  return count > 1 ? TW_CAPTURE_WEIGHT_SERIES : TW_CAPTURE_THREAD_CUT;
}

tw_capture_act tw_capture_guess(const tw_capture_record *r)
{
  size_t crossings = 0;
  const size_t n = r->samples < LOOK ? r->samples : LOOK;
  switch (r->axis) {
  case TW_AXIS_FREQUENCY:
    return TW_CAPTURE_SWEEP;
  case TW_AXIS_ANGLE:
    return TW_CAPTURE_DIRECTIONS;
  case TW_AXIS_WEIGHT:
    return TW_CAPTURE_WEIGHT_TABLE;
  case TW_AXIS_STAMPS:
    return TW_CAPTURE_METER_DECAY;
  case TW_AXIS_TIME:
    break;
  }
  if (r->interval > SLOW) {
    return TW_CAPTURE_METER_DECAY;
  }
  if (r->channels == 2 && two_level(r->channel[1].value, n, &crossings) &&
      !two_level(r->channel[0].value, n, &crossings) && r->interval > 1e-4) {
    return TW_CAPTURE_RAMP;
  }
  if (two_level(r->channel[0].value, n, &crossings)) {
    return crossings == 1 ? TW_CAPTURE_EDGE : TW_CAPTURE_BOUNCE;
  }
  if (r->channels == 2 && r->channel[0].unit[0] == '1') {
    return TW_CAPTURE_SWEEP;
  }
  return of_events(r, r->channel[0].value, n);
}
