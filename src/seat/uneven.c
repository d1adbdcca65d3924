/* uneven.c: which sideways directions trip harder, which softer, and why, in words. */
#include "tripwright/constants.h"
#include "tripwright/seat.h"

#include <math.h>
#include <stdio.h>

/* forces nearer than this share of the larger one are told as alike: hands and scales see no less
 */
#define ALIKE 0.01
/* rounding between directions that are pictures of each other */
#define SAME 1e-9
/* rad; above it a direction is no longer a sideways one */
#define LEVEL 1e-6

static double degrees(double radians)
{
  return radians * 180 / TW_PI;
}

/* what happens at the seat when this touch trips */
static const char *points_of(const tw_seat_touch_result *t)
{
  static const char *const words[] = {
      "no point opens before it trips", "one point opens first", "two points share the lift-off",
      "three points share the lift-off", "more than three points share the lift-off"};
  const size_t most = sizeof words / sizeof words[0] - 1;
  return words[t->relieved < most ? t->relieved : most];
}

static bool is_side(const tw_seat_touch_result *t)
{
  return fabs(t->elevation) < LEVEL;
}

/* the first direction sideways that does not trip, NULL when there is none */
static const tw_seat_touch_result *deaf(size_t count, const tw_seat_touch_result *touch)
{
  for (size_t i = 0; i < count; i++) {
    if (is_side(&touch[i]) && touch[i].state == TW_SEAT_NO_TRIP) {
      return &touch[i];
    }
  }
  return NULL;
}

static const tw_seat_touch_result *extreme(size_t count, const tw_seat_touch_result *touch,
                                           bool hardest)
{
  const tw_seat_touch_result *best = NULL;
  for (size_t i = 0; i < count; i++) {
    const tw_seat_touch_result *t = &touch[i];
    if (is_side(t) && t->state == TW_SEAT_TRIPPED &&
        (!best ||
         (hardest ? t->force > best->force * (1 + SAME) : t->force < best->force * (1 - SAME)))) {
      best = t;
    }
  }
  return best;
}

bool tw_seat_uneven(size_t count, const tw_seat_touch_result *touch, char *out, size_t size)
{
  const tw_seat_touch_result *none = deaf(count, touch), *hard = extreme(count, touch, true),
                             *soft = extreme(count, touch, false);
  out[0] = '\0';
  if (!hard || !(soft->force > 0)) {
    return false;
  }
  if (none) {
    snprintf(out, size, "no trip at azimuth %.0f deg; softest at %.0f deg: %s",
             degrees(none->azimuth), degrees(soft->azimuth), points_of(soft));
  } else if (hard->force - soft->force < ALIKE * hard->force) {
    snprintf(out, size, "alike from every side (within %.0f %%): %s", 100 * ALIKE, points_of(hard));
  } else if (hard->relieved == soft->relieved) {
    snprintf(
        out, size,
        "hardest at azimuth %.0f deg (%.2g times the softest, at %.0f deg): the lever differs; "
        "in both %s",
        degrees(hard->azimuth), hard->force / soft->force, degrees(soft->azimuth), points_of(hard));
  } else {
    snprintf(out, size,
             "hardest at azimuth %.0f deg (%.2g times the softest): %s; softest at %.0f deg: %s",
             degrees(hard->azimuth), hard->force / soft->force, points_of(hard),
             degrees(soft->azimuth), points_of(soft));
  }
  return true;
}
