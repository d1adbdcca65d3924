/* window.c: between which feeds a probe works, by root finding with the touch itself. */
#include "edge.h"
#include "engine.h"
#include "stopping.h"
#include "tripwright/circuit_forms.h"
#include <math.h>

/* relative width at which a search for a feed ends */
#define FEED_PLACE 1e-4

const char *tw_window_reason_text(tw_window_reason reason)
{
  static const char *const text[] = {
      "the charge leaks away faster than it comes",
      "the bias current alone can hold the node off the threshold",
      "still good at the end of the search",
      "the machine does not stop within the overtravel",
      "the output's pulse is over before the controller looks",
      "no feed trips it",
  };
  return reason >= 0 && (size_t)reason < sizeof text / sizeof *text ? text[reason] : "unknown";
}

/* e' = e with the input's zero moved by `by` of the way from rest to the trip */
tw_touch_model tw_touch_shifted(const tw_touch_model *model, const tw_touch_levels *levels,
                                double by)
{
  tw_touch_model m = *model;
  m.comparator.reference -= m.comparator.input_weight * by * (levels->trip - levels->rest);
  return m;
}

typedef struct search {
  const tw_touch_model *model;
  const tw_window_ask *ask;
  tw_touch_work *work;
  tw_touch_levels levels;
  tw_touch_motion motion;
  double overtravel;
  int touches;
} search;

/* does it trip at this feed? */
static tw_status trips_at(search *s, const tw_touch_model *m, double feed, touch_edge *edge,
                          bool *trips, tw_fault *fault)
{
  tw_touch_motion go = s->motion;
  tw_touch_result r;
  go.feed = feed;
  go.until = TW_UNTIL_EDGE;
  s->touches++;
  const tw_status status = tw_touch_run(m, &go, s->work, NULL, &r, fault);
  *trips = status == TW_OK && r.first.state == TW_TOUCH_OK;
  /* a touch that ends at the trip does not say by how much it would have passed it */
  touch_edge_tell(edge, feed, *trips, *trips ? 0.0 : r.first.closest);
  return status;
}

/* upwards until something trips, by what the last feeds foretell; edge->above stays 0: nothing does
 */
static tw_status climb(search *s, const tw_touch_model *m, touch_edge *edge, tw_fault *fault)
{
  tw_status status = TW_OK;
  while (status == TW_OK && !(edge->above > 0.0) && edge->below < s->ask->feed_most) {
    const double foretold = 1.02 * touch_edge_foretold(edge);
    const double up = least(1.5, most(1.1, foretold / edge->below));
    bool trips = false;
    status = trips_at(s, m, least(up * edge->below, s->ask->feed_most), edge, &trips, fault);
  }
  return status;
}

/* downwards until it does not trip, or to the slowest feed that is looked at */
static tw_status descend(search *s, const tw_touch_model *m, touch_edge *edge, tw_fault *fault)
{
  tw_status status = TW_OK;
  double down = 1.04;
  while (status == TW_OK && !(edge->below > 0.0) && edge->above > s->ask->feed_least) {
    bool trips = false;
    status = trips_at(s, m, most(edge->above / down, s->ask->feed_least), edge, &trips, fault);
    down *= down;
  }
  return status;
}

/* *found: some feed trips; then *feed is the slowest one. `guess` is where the search begins. */
static tw_status slowest_feed(search *s, const tw_touch_model *m, double guess, bool *found,
                              double *feed, tw_fault *fault)
{
  const double begin = least(most(1.02 * guess, s->ask->feed_least), s->ask->feed_most);
  touch_edge edge = {0};
  bool trips = false;
  *found = false;
  tw_status status = trips_at(s, m, begin, &edge, &trips, fault);
  if (status == TW_OK) {
    status = trips ? descend(s, m, &edge, fault) : climb(s, m, &edge, fault);
  }
  while (status == TW_OK && edge.below > 0.0 && edge.above > edge.below * (1.0 + FEED_PLACE)) {
    status = trips_at(s, m, touch_edge_next(&edge, FEED_PLACE), &edge, &trips, fault);
  }
  *found = edge.above > 0.0;
  *feed = edge.above;
  return status;
}

/* A root is one place where no turns into yes. Ripple on a slow ramp may trip it below that again,
 * here and there: no feed to rely on, but one to name. */
static tw_status look_below(search *s, tw_window *out, tw_fault *fault)
{
  static const double share[] = {0.99, 0.95};
  tw_status status = TW_OK;
  for (size_t i = 0; i < sizeof share / sizeof *share && status == TW_OK && !out->gap; i++) {
    touch_edge ignored = {0};
    const double feed = share[i] * out->slowest;
    if (feed > s->ask->feed_least) {
      status = trips_at(s, s->model, feed, &ignored, &out->gap, fault);
    }
    if (out->gap) {
      out->gap_low = feed;
      out->gap_high = out->slowest;
      out->gap_reason = TW_WINDOW_LEAK;
    }
  }
  return status;
}

/* ---- which feeds are good ----------------------------------------------------------------------
 */

/* Feeds that are tried between both ends: close to the slow one, where ripple on the ramp matters,
 * then by this ratio. A gap narrower than that may stay unseen. */
static const double NEAR_SLOW[] = {1.0 + 2.0 * FEED_PLACE, 1.02, 1.05, 1.1, 1.2, 1.4};
#define NEAR        (sizeof NEAR_SLOW / sizeof *NEAR_SLOW)
#define PLACE_RATIO 1.6
#define PLACES_MOST 48

typedef struct place {
  double feed;
  bool good;            /* trips, is seen, and the machine stands within the overtravel */
  tw_window_reason why; /* it is not good */
  double overtravel, force;
} place;

static tw_status look_at(search *s, double feed, place *out, tw_fault *fault)
{
  tw_touch_one one;
  *out = (place){.feed = feed, .why = TW_WINDOW_LEAK};
  s->touches++;
  const tw_status status =
      touch_worst_stop(s->model, &s->motion, s->ask->jitter, feed, s->work, &one, fault);
  if (status != TW_OK || one.reached < TW_REACHED_OUTPUT) {
    return status;
  }
  out->overtravel = one.overtravel;
  out->force = one.peak_force;
  out->why = one.reached < TW_REACHED_STOP_END ? TW_WINDOW_MISSED : TW_WINDOW_OVERTRAVEL;
  out->good = one.reached >= TW_REACHED_STOP_END && one.overtravel <= s->overtravel;
  return status;
}

static tw_status look_along(search *s, double from, place *row, size_t *count, tw_fault *fault)
{
  const double most_feed = s->ask->feed_most;
  tw_status status = TW_OK;
  double feed = 0.0;
  *count = 0;
  for (size_t i = 0; feed < most_feed && i < PLACES_MOST && status == TW_OK; i++) {
    feed = i < NEAR ? from * NEAR_SLOW[i] : feed * PLACE_RATIO;
    /* the last two steps are not narrower than half a step */
    feed = feed * sqrt(PLACE_RATIO) > most_feed || i + 1 == PLACES_MOST ? most_feed : feed;
    status = look_at(s, feed, &row[(*count)++], fault);
  }
  return status;
}

/* the widest row of good feeds on a scale of ratios; first > last: there is none */
static void widest_good(const place *row, size_t count, size_t *first, size_t *last)
{
  double widest = -1.0;
  *first = 1;
  *last = 0;
  for (size_t i = 0; i < count; i++) {
    if (!row[i].good || (i > 0 && row[i - 1].good)) {
      continue;
    }
    size_t end = i;
    while (end + 1 < count && row[end + 1].good) {
      end++;
    }
    const double width = log(row[end].feed / row[i].feed);
    if (width > widest) {
      widest = width;
      *first = i;
      *last = end;
    }
  }
}

/* the edge between a good feed and one that is not; both come back next to it */
static tw_status close_in(search *s, place *good, place *bad, tw_fault *fault)
{
  const bool up = bad->feed > good->feed;
  touch_edge edge = {.below = up ? good->feed : bad->feed, .above = up ? bad->feed : good->feed};
  tw_status status = TW_OK;
  while (status == TW_OK && edge.above > edge.below * (1.0 + FEED_PLACE)) {
    place at;
    status = look_at(s, touch_edge_next(&edge, FEED_PLACE), &at, fault);
    touch_edge_tell(&edge, at.feed, at.good != up, up ? at.overtravel / s->overtravel : 0.0);
    *(at.good ? good : bad) = at;
  }
  return status;
}

/* another good feed outside the range: what lies between is named */
static void name_gap(const place *row, size_t count, size_t first, size_t last, tw_window *out)
{
  for (size_t i = 0; i < count && !out->gap; i++) {
    if (!row[i].good || (i >= first && i <= last)) {
      continue;
    }
    out->gap = true;
    out->gap_low = i < first ? row[i].feed : out->fastest;
    out->gap_high = i < first ? out->slowest : row[i].feed;
    out->gap_reason = row[i < first ? first - 1 : last + 1].why;
  }
}

/* the range of good feeds from the slowest that trips on */
static tw_status good_range(search *s, tw_window *out, tw_fault *fault)
{
  place row[PLACES_MOST];
  size_t count = 0;
  size_t first = 0;
  size_t last = 0;
  tw_status status = look_along(s, out->slowest, row, &count, fault);
  if (status != TW_OK) {
    return status;
  }
  widest_good(row, count, &first, &last);
  if (first > last) { /* fastest stays 0 */
    out->fast_reason = row[0].why;
    return TW_OK;
  }
  place good = row[last];
  out->fast_reason = TW_WINDOW_SEARCHED;
  if (last + 1 < count) {
    place bad = row[last + 1];
    status = close_in(s, &good, &bad, fault);
    out->fast_reason = bad.why;
  }
  out->fastest = good.feed;
  out->overtravel = good.overtravel;
  out->force = good.force;
  if (status == TW_OK && first > 0) {
    place slow = row[first];
    place bad = row[first - 1];
    status = close_in(s, &slow, &bad, fault);
    out->slowest = slow.feed;
    out->slow_reason = bad.why;
  }
  name_gap(row, count, first, last, out);
  return status;
}

static tw_status check_ask(const tw_window_way *way, const tw_window_ask *ask, tw_fault *fault)
{
  if (!(ask->feed_least > 0.0) || !(ask->feed_most > ask->feed_least) ||
      !isfinite(ask->feed_most)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.feeds", "give 0 < slowest < fastest",
                   "the range of feeds is not usable");
  }
  if (!(way->overtravel > 0.0) || !isfinite(way->overtravel)) {
    return tw_fail(fault, TW_BAD_INPUT, "housing.travel_side", "give the travel of the tip",
                   "the overtravel must be above zero");
  }
  if (!(ask->threshold_margin >= 0.0 && ask->threshold_margin < 100.0) ||
      !(ask->within > 0.0 && ask->within < 10.0) || !(ask->bias_most >= 0.0) ||
      !(ask->bias_spread >= 0.0) || !(ask->jitter >= 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.feeds", "give shares and currents of 0 or more",
                   "a margin, a bias current or a jitter is not usable");
  }
  return TW_OK;
}

/* u ln(u/(u-1)) = 1 + within */
tw_status tw_touch_calibrate(double slowest_static, double within, double *feed, tw_fault *fault)
{
  double u = 0.0;
  const tw_status status = tw_feed_for_ratio(1.0 + within, &u, fault);
  *feed = status == TW_OK && slowest_static > 0.0 ? u * slowest_static : 0.0;
  return status;
}

/* A bias current that is not the nominal one moves the rest level by R dI: so much farther is the
 * threshold, as a share of itself, V_T/(R q') being the slowest ramp. */
static double bias_share(const tw_window_ask *ask, const tw_touch_levels *levels)
{
  return levels->slope_most != 0.0 && levels->slowest > 0.0
             ? ask->bias_spread / fabs(levels->slope_most) / levels->slowest
             : 0.0;
}

/* a feed that does not trip is none to calibrate at */
static tw_status calibrate_feed(const tw_window_ask *ask, tw_window *out, tw_fault *fault)
{
  const tw_status status =
      tw_touch_calibrate(out->slowest_static, ask->within, &out->calibrate, fault);
  out->calibrate = most(out->calibrate, out->slowest);
  out->calibrate_inside = out->calibrate <= out->fastest;
  return status;
}

tw_status tw_touch_window(const tw_window_way *way, const tw_window_ask *ask, tw_touch_work *work,
                          tw_window *out, tw_fault *fault)
{
  *out = (tw_window){.slow_reason = TW_WINDOW_NEVER, .fast_reason = TW_WINDOW_NEVER};
  search s = {.model = way->model,
              .ask = ask,
              .work = work,
              .motion = *ask->motion,
              .overtravel = way->overtravel};
  if (!(s.motion.search_travel > 0.0)) {
    s.motion.search_travel = way->overtravel;
  }
  tw_status status = check_ask(way, ask, fault);
  if (status == TW_OK) {
    status = tw_touch_levels_of(way->model, &s.levels, fault);
  }
  if (status != TW_OK || !s.levels.armed) {
    return status;
  }
  out->slowest_static = s.levels.slowest;
  if (s.levels.slope_most != 0.0) {
    out->slowest_bias = ask->bias_most / fabs(s.levels.slope_most);
  }
  status = slowest_feed(&s, way->model, s.levels.slowest, &out->trips, &out->slowest, fault);
  if (status != TW_OK || !out->trips) {
    return status;
  }
  /* the same with the threshold farther away: no trip there leaves no window */
  const double bias = bias_share(ask, &s.levels), farther = ask->threshold_margin + bias;
  const tw_touch_model late = tw_touch_shifted(way->model, &s.levels, farther);
  bool found = false;
  const double from = most(s.levels.slowest, out->slowest) * (1.0 + farther);
  status = slowest_feed(&s, &late, from, &found, &out->slowest_margin, fault);
  if (status != TW_OK) {
    return status;
  }
  out->slow_reason = out->slowest <= ask->feed_least ? TW_WINDOW_SEARCHED : TW_WINDOW_LEAK;
  if (bias > 1.0 + ask->threshold_margin) {
    out->slow_reason = TW_WINDOW_BIAS; /* it takes more than the threshold itself */
  }
  status = look_below(&s, out, fault);
  status = status == TW_OK ? good_range(&s, out, fault) : status;
  out->slowest_margin = most(out->slowest_margin, out->slowest);
  out->touches = s.touches;
  out->margin_trips = found;
  out->open = found && out->fastest > 0.0 && out->slowest_margin <= out->fastest;
  return status == TW_OK ? calibrate_feed(ask, out, fault) : status;
}
