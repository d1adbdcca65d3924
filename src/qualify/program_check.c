/* program_check.c: everything that makes a plan unsafe, each with its reason. */
#include "program_inner.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define MM     1e3
#define MM_MIN 6e4
/* NIST RS274/NGC: a probing move that starts within 0.01 inch of its target is an error */
#define TW_PROBE_SHORTEST 0.254e-3
#define TW_FEED_MOST      0.5 /* m/s: 30 m/min, beyond any positioning with a probe */

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
                   .interval = 60.0};
}

double tw_stopping_distance(const tw_plan *plan, double feed)
{
  return feed * feed / (2.0 * plan->deceleration) + feed * plan->latency;
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
      {"tip-diameter", "of the ball tip", p->tip_diameter, round, true},
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

static void check_feed(struct tw_checking *c, const char *field, double feed, bool touching,
                       double run)
{
  const tw_plan *p = c->plan;
  if (!finite_positive(feed) || feed > TW_FEED_MOST) {
    refuse(c, field, "feeds are positive", "%g mm/min cannot be a feed", feed * MM_MIN);
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

static void check_heights(struct tw_checking *c)
{
  const tw_plan *p = c->plan;
  const double radius = 0.5 * p->tip_diameter, ball = isfinite(radius) ? radius : 0.0;
  if (!(p->clearance > p->top + ball)) {
    refuse(c, "clearance", "raise the clearance above the artefact and its clamps",
           "at %.3f mm the tip clears the top, %.3f mm, by nothing", p->clearance * MM,
           p->top * MM);
  }
  if (p->test == TW_TEST_SPHERE && !(p->top >= p->contact[2] + 0.5 * p->diameter)) {
    refuse(c, "top", "it is the highest part of all", "the top is below the top of the sphere");
  }
  double lowest = (double)INFINITY;
  for (size_t i = 0; i < c->points; i++) {
    lowest = fmin(lowest, c->point[i].start[2]);
  }
  if (lowest < p->clearance && !c->words->guarded[0] && !p->entry_secured) {
    refuse(c, "clearance",
           "name a guarded word in the words file, or make sure that the way straight "
           "down to every start is free and say entry-secured",
           "starts lie %.3f mm below the clearance, and there is no guarded move to go there",
           (p->clearance - lowest) * MM);
  }
  if (lowest < p->clearance && c->words->guarded[0] &&
      !(tw_stopping_distance(p, p->feed_position) < p->overtravel)) {
    refuse(c, "position-feed", "slow down: guarded moves run at this feed",
           "from %g mm/min a guarded move needs %.3f mm to stop; the overtravel is %.3f mm",
           p->feed_position * MM_MIN, tw_stopping_distance(p, p->feed_position) * MM,
           p->overtravel * MM);
  }
  if (p->reach > 0.0 && p->top - lowest > p->reach) {
    refuse(c, "reach", "use a longer stylus, or touch higher",
           "%.3f mm below the top is more than the stylus reaches, %.3f mm", (p->top - lowest) * MM,
           p->reach * MM);
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
           "a touch from below (elevation %.1f deg) is not made",
           p->elevation * 57.295779513082323);
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
  if (tw_messages_errors(c->messages) == before) {
    tw_program_points(c);
    check_form(c);
    check_touches(c);
    check_heights(c);
  }
  return tw_messages_errors(c->messages) == before;
}
