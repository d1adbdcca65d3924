/* window.c: between which feeds a probe works, by root finding with the touch itself. */
#include "edge.h"
#include "engine.h"
#include "tripwright/circuit_forms.h"
#include "tripwright/touch_judge.h"
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
  double overtravel;
} search;

/* does it trip at this feed before the overtravel is used up? */
static tw_status trips_at(const search *s, const tw_touch_model *m, double feed, touch_edge *edge,
                          bool *trips, tw_fault *fault)
{
  tw_touch_motion go = *s->ask->motion;
  tw_touch_result r;
  go.feed = feed;
  go.until = TW_UNTIL_EDGE;
  go.give_up = s->overtravel / feed;
  const tw_status status = tw_touch_run(m, &go, s->work, NULL, &r, fault);
  *trips = status == TW_OK && r.first.state == TW_TOUCH_OK;
  /* a touch that ends at the trip does not say by how much it would have passed it */
  touch_edge_tell(edge, feed, *trips, *trips ? 0.0 : r.first.closest);
  return status;
}

/* upwards until something trips, by what the last feeds foretell; edge->above stays 0: nothing does
 */
static tw_status climb(const search *s, const tw_touch_model *m, touch_edge *edge, tw_fault *fault)
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
static tw_status descend(const search *s, const tw_touch_model *m, touch_edge *edge,
                         tw_fault *fault)
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
static tw_status slowest_feed(const search *s, const tw_touch_model *m, double guess, bool *found,
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

/* the stop after a sample that has just missed the edge */
static tw_status worst_stop(const tw_touch_model *m, const tw_touch_motion *motion, double jitter,
                            double feed, tw_touch_work *work, tw_touch_one *edge,
                            tw_touch_one *stopped, tw_fault *fault)
{
  tw_touch_motion go = *motion;
  tw_touch_result r;
  go.feed = feed;
  go.until = TW_UNTIL_EDGE;
  tw_status status = tw_touch_run(m, &go, work, NULL, &r, fault);
  *edge = *stopped = r.first;
  if (status != TW_OK || r.first.state != TW_TOUCH_OK) {
    return status;
  }
  go.until = TW_UNTIL_STOP;
  go.latency += jitter;
  if (go.sample_time > 0.0) {
    const double periods = r.first.output / go.sample_time;
    const double phase = periods - floor(periods) - 1e-6;
    go.sample_phase = phase < 0.0 ? phase + 1.0 : phase;
  }
  status = tw_touch_run(m, &go, work, NULL, &r, fault);
  *stopped = r.first;
  return status;
}

/* is this feed safe, and if not, why */
static tw_status safe_at(const search *s, double feed, touch_edge *edge, bool *safe, tw_window *out,
                         tw_fault *fault)
{
  tw_touch_motion go = *s->ask->motion;
  tw_touch_one tripped;
  tw_touch_one stopped;
  go.give_up = most(s->overtravel / feed, go.sample_time) + 2.0 * go.sample_time;
  const tw_status status =
      worst_stop(s->model, &go, s->ask->jitter, feed, s->work, &tripped, &stopped, fault);
  const bool stops = stopped.reached >= TW_REACHED_STOP_END;
  *safe = false;
  if (status != TW_OK) {
    return status;
  }
  if (!stops) {
    out->fast_reason = tripped.state == TW_TOUCH_OK ? TW_WINDOW_MISSED : TW_WINDOW_OVERTRAVEL;
  } else if (stopped.overtravel > s->overtravel) {
    out->fast_reason = TW_WINDOW_OVERTRAVEL;
  } else {
    *safe = true;
    out->overtravel = stopped.overtravel;
    out->force = stopped.peak_force;
  }
  touch_edge_tell(edge, feed, !*safe, stops ? stopped.overtravel / s->overtravel : 0.0);
  return status;
}

static tw_status fastest_feed(const search *s, tw_window *out, tw_fault *fault)
{
  touch_edge edge = {0};
  bool safe = false;
  tw_status status = safe_at(s, out->slowest * (1.0 + 2.0 * FEED_PLACE), &edge, &safe, out, fault);
  if (status != TW_OK || !safe) {
    return status; /* fastest stays 0 */
  }
  status = safe_at(s, s->ask->feed_most, &edge, &safe, out, fault);
  if (status == TW_OK && safe) {
    out->fastest = s->ask->feed_most;
    out->fast_reason = TW_WINDOW_SEARCHED;
    return TW_OK;
  }
  while (status == TW_OK && edge.above > edge.below * (1.0 + FEED_PLACE)) {
    status = safe_at(s, touch_edge_next(&edge, FEED_PLACE), &edge, &safe, out, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  out->fastest = edge.below;
  /* reason and figures at the two sides of the end */
  const double no = edge.above;
  status = safe_at(s, no, &edge, &safe, out, fault);
  if (status == TW_OK) {
    const tw_window_reason why = out->fast_reason;
    status = safe_at(s, out->fastest, &edge, &safe, out, fault);
    out->fast_reason = why;
  }
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
      !(ask->jitter >= 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.feeds", "give shares and currents of 0 or more",
                   "a margin, a bias current or a jitter is not usable");
  }
  return TW_OK;
}

/* from which feed on the pretravel hardly changes: u ln(u/(u-1)) = 1 + within */
static tw_status calibrate_feed(const tw_window_ask *ask, tw_window *out, tw_fault *fault)
{
  double u = 0.0;
  const tw_status status = tw_feed_for_ratio(1.0 + ask->within, &u, fault);
  out->calibrate =
      status == TW_OK && out->slowest_static > 0.0 ? u * out->slowest_static : out->slowest;
  out->calibrate_inside = out->calibrate <= out->fastest;
  return status;
}

tw_status tw_touch_window(const tw_window_way *way, const tw_window_ask *ask, tw_touch_work *work,
                          tw_window *out, tw_fault *fault)
{
  *out = (tw_window){.slow_reason = TW_WINDOW_NEVER, .fast_reason = TW_WINDOW_NEVER};
  search s = {.model = way->model, .ask = ask, .work = work, .overtravel = way->overtravel};
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
  const tw_touch_model late = tw_touch_shifted(way->model, &s.levels, ask->threshold_margin);
  bool found = false;
  const double from = most(s.levels.slowest, out->slowest) * (1.0 + ask->threshold_margin);
  status = slowest_feed(&s, &late, from, &found, &out->slowest_margin, fault);
  if (status != TW_OK) {
    return status;
  }
  out->slow_reason = out->slowest <= ask->feed_least ? TW_WINDOW_SEARCHED : TW_WINDOW_LEAK;
  if (out->slowest_bias > out->slowest_margin) {
    out->slowest_margin = out->slowest_bias;
    out->slow_reason = TW_WINDOW_BIAS;
  }
  status = fastest_feed(&s, out, fault);
  out->open = found && out->fastest > 0.0 && out->slowest_margin <= out->fastest;
  return status == TW_OK ? calibrate_feed(ask, out, fault) : status;
}

/* ---- pretravel against feed --------------------------------------------------------------------
 */

tw_status tw_touch_feeds(const tw_touch_model *model, const tw_touch_motion *motion, double jitter,
                         tw_touch_work *work, tw_window_row *rows, size_t count, tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    tw_window_row *row = &rows[i];
    const double feed = row->feed;
    tw_touch_one edge;
    tw_touch_one stopped;
    *row = (tw_window_row){.feed = feed};
    const tw_status status = worst_stop(model, motion, jitter, feed, work, &edge, &stopped, fault);
    if (status != TW_OK) {
      return status;
    }
    row->state = edge.state != TW_TOUCH_OK ? edge.state : stopped.state;
    if (edge.state == TW_TOUCH_OK) {
      row->output = edge.output;
      row->pretravel = edge.pretravel;
      row->latched =
          edge.pretravel + feed * (0.5 * motion->sample_time + motion->latency + 0.5 * jitter);
      row->overtravel = stopped.overtravel;
    }
  }
  return TW_OK;
}

tw_status tw_touch_delay(const tw_window_row *rows, size_t count, double lowest,
                         tw_apparent_delay *out, tw_fault *fault)
{
  double n = 0.0;
  double mean_v = 0.0;
  double mean_x = 0.0;
  *out = (tw_apparent_delay){0};
  for (size_t i = 0; i < count; i++) {
    if (rows[i].state == TW_TOUCH_OK && rows[i].feed >= lowest) {
      n += 1.0;
      mean_v += (rows[i].feed - mean_v) / n;
      mean_x += (rows[i].latched - mean_x) / n;
    }
  }
  double vv = 0.0;
  double vx = 0.0;
  for (size_t i = 0; i < count; i++) {
    if (rows[i].state == TW_TOUCH_OK && rows[i].feed >= lowest) {
      vv += (rows[i].feed - mean_v) * (rows[i].feed - mean_v);
      vx += (rows[i].feed - mean_v) * (rows[i].latched - mean_x);
    }
  }
  if (n < 2.0 || !(vv > 0.0)) {
    return tw_fail(fault, TW_NO_ANSWER, "machine.feeds", "give two feeds or more that trip",
                   "a slope needs two different feeds that trip; there are %.0f", n);
  }
  out->seconds = vx / vv;
  out->intercept = mean_x - out->seconds * mean_v;
  out->rows = (size_t)n;
  for (size_t i = 0; i < count; i++) {
    if (rows[i].state == TW_TOUCH_OK && rows[i].feed >= lowest) {
      out->residual =
          most(out->residual, fabs(rows[i].latched - out->intercept - out->seconds * rows[i].feed));
    }
  }
  return TW_OK;
}
