/* program_check.c: everything that makes a plan unsafe, each with its reason. */
#include "program_inner.h"
#include "tripwright/constants.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define MM     1e3
#define MM_MIN 6e4
/* NIST RS274/NGC: a probing move that starts within 0.01 inch of its target is an error */
#define TW_PROBE_SHORTEST 0.254e-3
#define TW_FEED_MOST      0.5 /* m/s: 30 m/min, beyond any positioning with a probe */
/* below this a touch of a few millimetres takes minutes, and the digits of a feed run out */
#define TW_FEED_LEAST (1.0 / MM_MIN)

static const char *const test_names[] = {"repeat", "feeds", "ring", "sphere", "offset", "drift"};

const char *tw_program_test_name(tw_program_test test)
{
  return (size_t)test < sizeof test_names / sizeof test_names[0] ? test_names[test] : NULL;
}

bool tw_program_test_named(const char *name, tw_program_test *out)
{
  for (size_t i = 0; i < sizeof test_names / sizeof test_names[0]; i++) {
    if (strcmp(name, test_names[i]) == 0) {
      *out = (tw_program_test)i;
      return true;
    }
  }
  return false;
}

void tw_plan_start(tw_program_test test, tw_plan *out)
{
  const double nowhere = (double)NAN;
  *out = (tw_plan){.test = test,
                   .contact = {nowhere, nowhere, nowhere},
                   .azimuth = nowhere,
                   .elevation = 0.0,
                   .diameter = nowhere,
                   .tip_diameter = nowhere,
                   .top = nowhere,
                   .clearance = nowhere,
                   .approach = 3e-3,
                   .placement = 0.2e-3,
                   .back_off = 1e-3,
                   .feed_position = 500.0 / MM_MIN,
                   .feed_first = 100.0 / MM_MIN,
                   .feed_touch = 50.0 / MM_MIN,
                   .feed_limit = 1000.0 / MM_MIN,
                   .overtravel = nowhere,
                   .deceleration = nowhere,
                   .touches = test == TW_TEST_RING     ? 36
                              : test == TW_TEST_FEEDS  ? 5
                              : test == TW_TEST_OFFSET ? 12
                                                       : 10,
                   .turns = 4,
                   .interval = 60.0,
                   .floor = nowhere,
                   .travel = {{nowhere, nowhere}, {nowhere, nowhere}, {nowhere, nowhere}}};
}

void tw_program_refuse(struct tw_checking *c, const char *field, const char *hint,
                       const char *format, ...)
{
  char text[240];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  tw_messages_add(c->messages, TW_ERROR, (tw_place){0}, field, NULL, hint, "%s", text);
}

#define refuse tw_program_refuse

static bool finite_positive(double value)
{
  return isfinite(value) && value > 0.0;
}

/* numbers that must be there at all; false: do not look further */
static bool check_given(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const bool round =
      p->test == TW_TEST_RING || p->test == TW_TEST_SPHERE || p->test == TW_TEST_OFFSET;
  const struct {
    const char *field, *hint;
    double value;
    bool needed, positive;
  } rows[] = {
      {"at", "where the controlled point is at contact, or the centre", p->contact[0], true, false},
      {"at", "where the controlled point is at contact, or the centre", p->contact[1], true, false},
      {"at", "where the controlled point is at contact, or the centre", p->contact[2], true, false},
      {"azimuth", "direction of the force on the tip, from +X towards +Y", p->azimuth, !round,
       false},
      {"elevation", "0 sideways, 90 straight down on to the work", p->elevation, !round, false},
      {"diameter", "of the ring or sphere", p->diameter, round, true},
      {"tip-diameter", "of the ball tip", p->tip_diameter, true, true},
      {"top", "height of the highest part of artefact and clamps", p->top, true, false},
      {"clearance", "a height at which nothing is in the way", p->clearance, true, false},
      {"approach", "a few millimetres", p->approach, true, true},
      {"placement", "how well you know where the surface is", p->placement, true, true},
      {"back-off", "about a millimetre", p->back_off, true, true},
      {"position-feed", "500 mm/min is cautious", p->feed_position, true, true},
      {"first-feed", "100 mm/min is cautious", p->feed_first, true, true},
      {"feed", "50 mm/min is cautious", p->feed_touch, p->test != TW_TEST_FEEDS, true},
      {"feed-limit", "the fastest that this probe may be moved", p->feed_limit, true, true},
      {"overtravel", "what probe and stop allow past the trip", p->overtravel, true, true},
      {"deceleration", "of the machine, from its manual or a trial", p->deceleration, true, true},
  };
  bool all = true;
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    if (rows[i].needed &&
        !(rows[i].positive ? finite_positive(rows[i].value) : isfinite(rows[i].value))) {
      if (i == 0 || i > 2 || isfinite(p->contact[0])) {
        refuse(c, rows[i].field, rows[i].hint,
               isnan(rows[i].value) ? "is not given" : "must be a positive number");
      }
      all = false;
    }
  }
  if (!(p->latency >= 0.0) || !isfinite(p->latency) || !(p->reach >= 0.0) || !isfinite(p->reach)) {
    refuse(c, "latency", "0 if not known; better the controller's cycle time",
           "latency and reach are zero or positive");
    all = false;
  }
  return all;
}

/* lengths, accelerations and times beyond what they can be: a slip of the unit. Common practice, no
 * source. */
static void check_sizes(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const struct {
    const char *field, *hint;
    double value, most, shown;
    const char *unit;
  } rows[] = {
      {"diameter", "of the ring or sphere", p->diameter, 1.0, MM, "mm"},
      {"tip-diameter", "of the ball tip", p->tip_diameter, 50e-3, MM, "mm"},
      {"approach", "a few millimetres", p->approach, 0.1, MM, "mm"},
      {"placement", "find the surface by hand first", p->placement, 10e-3, MM, "mm"},
      {"back-off", "about a millimetre", p->back_off, 50e-3, MM, "mm"},
      {"overtravel", "what probe and stop allow past the trip", p->overtravel, 50e-3, MM, "mm"},
      {"reach", "free length of the stylus", p->reach, 1.0, MM, "mm"},
      {"deceleration", "from the machine's manual or a trial; 0.5 m/s2 is cautious",
       p->deceleration, 20.0, 1.0, "m/s2"},
      {"latency", "from the trip to the start of braking", p->latency, 1.0, 1e3, "ms"},
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    if (rows[i].value > rows[i].most) {
      refuse(c, rows[i].field, rows[i].hint, "%g %s is more than can be; at most %g %s",
             rows[i].value * rows[i].shown, rows[i].unit, rows[i].most * rows[i].shown,
             rows[i].unit);
    }
  }
}

static void check_feed(struct tw_checking *c, const char *field, double feed, bool touching,
                       double run)
{
  const tw_plan *p = c->plan;
  if (!finite_positive(feed) || feed > TW_FEED_MOST) {
    refuse(c, field, "above zero, and at most 30000 mm/min", "%g mm/min cannot be a feed",
           feed * MM_MIN);
    return;
  }
  if (feed < TW_FEED_LEAST) {
    refuse(c, field, "1 mm/min is the slowest that is written",
           "%.3g mm/min would be written as no feed at all, or nearly", feed * MM_MIN);
    return;
  }
  if (feed > p->feed_limit) {
    refuse(c, field, "slow down", "%g mm/min is above the limit of %g mm/min", feed * MM_MIN,
           p->feed_limit * MM_MIN);
  }
  if (!touching) {
    return;
  }
  /* should the surface come early and the trip be missed, the move ends 2 placements past it */
  const double stop = tw_stopping_distance(p, feed), need = 2.0 * p->placement + stop;
  if (!(need < p->overtravel)) {
    refuse(c, field, "slow down, or place the artefact better",
           "at %g mm/min the tip can go %.3f mm past the surface (stopping %.3f, placement %.3f "
           "twice); "
           "the overtravel is %.3f mm",
           feed * MM_MIN, need * MM, stop * MM, p->placement * MM, p->overtravel * MM);
  }
  const double run_up = feed * feed / (2.0 * p->deceleration);
  if (!(run - p->placement > run_up)) {
    refuse(
        c, field, "start further away, or slow down",
        "at %g mm/min the machine needs %.3f mm to reach its feed, but the surface can be %.3f mm "
        "away",
        feed * MM_MIN, run_up * MM, (run - p->placement) * MM);
  }
}

/* a touch starts `run` before the nominal surface and aims one placement past it */
static void check_touches(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const double first = tw_program_run(p);
  check_feed(c, "position-feed", p->feed_position, false, 0.0);
  check_feed(c, "first-feed", p->feed_first, true, first);
  if (p->test == TW_TEST_FEEDS) {
    if (p->feeds < 2 || p->feeds > TW_FEEDS_MOST) {
      refuse(c, "feeds", "four feeds, spread over the range of use",
             "%zu feeds; 2 to %d are possible", p->feeds, TW_FEEDS_MOST);
    }
    for (size_t i = 0; i < p->feeds && i < TW_FEEDS_MOST; i++) {
      check_feed(c, "feeds", p->feed[i], true, p->back_off);
    }
  } else {
    check_feed(c, "feed", p->feed_touch, true, p->back_off);
  }
  if (!(p->back_off < first)) {
    refuse(c, "back-off", "back off less, or start further away",
           "the back-off of %.3f mm goes further than the start of the touch, %.3f mm",
           p->back_off * MM, first * MM);
  }
  if (!(p->back_off - p->placement > 0.0)) {
    refuse(c, "back-off", "back off by more than the placement",
           "after backing off %.3f mm the tip may still touch: the surface is known to %.3f mm",
           p->back_off * MM, p->placement * MM);
  }
  if (!(p->back_off + p->placement > TW_PROBE_SHORTEST)) {
    refuse(c, "back-off", "back off further",
           "a probing move shorter than 0.254 mm is an error "
           "(NIST RS274/NGC)");
  }
}

static void check_form(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  if (p->test == TW_TEST_RING || p->test == TW_TEST_OFFSET) {
    const double free = 0.5 * (p->diameter - p->tip_diameter);
    if (!(free > p->back_off + p->placement)) {
      refuse(c, "diameter", "use a larger ring or a smaller tip",
             "a %.3f mm tip has %.3f mm to either side in a %.3f mm ring", p->tip_diameter * MM,
             free * MM, p->diameter * MM);
    }
  } else if (p->test != TW_TEST_SPHERE &&
             !(p->elevation >= 0.0 && p->elevation <= 1.5707963267948968)) {
    refuse(c, "elevation", "0 sideways to 90 straight down",
           "a touch from below (elevation %.1f deg) is not made", p->elevation * TW_RADIAN);
  }
}

static void check_counts(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const size_t least = p->test == TW_TEST_RING ? 8 : p->test == TW_TEST_OFFSET ? 4 : 2;
  if (p->test != TW_TEST_SPHERE && (p->touches < least || p->touches > TW_PLACES_MOST)) {
    refuse(c, "touches", "ten for repeatability, 36 round a ring, 12 for each centre of offset",
           "%zu touches; %zu to %d are possible", p->touches, least, TW_PLACES_MOST);
  }
  if (p->test == TW_TEST_OFFSET && p->turns != 2 && p->turns != 4) {
    refuse(c, "turns", "two (0 and 180 degrees) or four", "%zu spindle angles", p->turns);
  }
  if (p->test == TW_TEST_DRIFT && !(p->interval >= 1.0 && p->interval <= 86400.0)) {
    refuse(c, "interval", "a minute is usual", "%g s between touches", p->interval);
  }
  const tw_words *w = c->words;
  if (p->test == TW_TEST_OFFSET && !w->orient[0] && !w->pause[0]) {
    refuse(c, "turns", "name orient or pause in the words file",
           "no word turns or stops for the spindle");
  }
  if (p->test == TW_TEST_DRIFT && !w->dwell[0]) {
    refuse(c, "interval", "name dwell in the words file", "no word waits between touches");
  }
  const size_t room = (w->last_parameter - w->first_parameter + 1) / 3;
  if (strstr(w->record, "{p}") && tw_program_touches(p) > room) {
    refuse(c, "touches", "touch less often, or record with a word of your controller's",
           "%zu touches, but parameters %u to %u hold %zu", tw_program_touches(p),
           w->first_parameter, w->last_parameter, room);
  }
}

bool tw_program_check(struct tw_checking *c)
{
  const size_t before = tw_messages_errors(c->messages);
  if (!check_given(c)) {
    return false;
  }
  check_counts(c);
  check_sizes(c);
  if (tw_messages_errors(c->messages) == before) {
    tw_program_points(c);
    check_form(c);
    check_touches(c);
    tw_program_check_places(c);
  }
  if (!c->words->pause[0]) {
    refuse(c, "pause", "name pause in the words file: M0",
           "no word stops the program before its first move");
  }
  tw_words_meaning(c->words, NULL, false, c->messages);
  return tw_messages_errors(c->messages) == before;
}
