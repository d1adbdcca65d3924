/* line.c: what happens behind the comparator: the output's pulse, the controller that looks, the
 * stop it orders, and when everything is ready again. */
#include "engine.h"
#include <math.h>

static const char *const event_names[] = {
#define X(name, text) text,
    TW_TOUCH_EVENTS(X)
#undef X
};

const char *tw_touch_event_name(tw_touch_event_kind kind)
{
  return kind >= 0 && kind < TW_EVENT_COUNT ? event_names[kind] : "unknown";
}

const char *tw_touch_state_name(tw_touch_state state)
{
  static const char *const names[] = {"ok", "no_trip", "tripped_at_rest", "not_sampled"};
  return state >= 0 && (size_t)state < sizeof names / sizeof *names ? names[state] : "unknown";
}

static double travel_at(const tw_touch_work *w, double t)
{
  double x = 0.0;
  double v = 0.0;
  double a = 0.0;
  touch_body(&w->queue[w->seg], t, &x, &v, &a);
  return x;
}

static void reach(tw_touch_one *one, tw_touch_reached what)
{
  one->reached = what > one->reached ? what : one->reached;
}

void tw_touch_record(tw_touch_work *w, tw_touch_event_kind kind, double t)
{
  tw_touch_result *r = w->result;
  tw_touch_one *one = w->one;
  if (r->event_count < TW_TOUCH_EVENT_MAX) {
    r->events[r->event_count++] = (tw_touch_event){kind, t, travel_at(w, t)};
  } else {
    r->events_dropped++;
  }
  if (kind == TW_EVENT_THRESHOLD && one->reached < TW_REACHED_THRESHOLD) {
    one->threshold = t - one->contact;
    reach(one, TW_REACHED_THRESHOLD);
  }
}

/* contact made: the first of an approach starts its clock, later ones are bounces */
void tw_touch_new_contact(tw_touch_work *w)
{
  tw_touch_record(w, TW_EVENT_CONTACT_MADE, w->t);
  if (w->go.until == TW_UNTIL_SECOND && w->which == 1 && w->one != &w->result->second) {
    w->one = &w->result->second;
    w->result->has_second = true;
    *w->one =
        (tw_touch_one){.reached = TW_REACHED_CONTACT, .feed = w->go.second_feed, .contact = w->t};
    w->result->second_not_ready = w->line;
    w->give_up_at = w->t + tw_touch_patience(&w->go, w->go.second_feed);
    w->contact_x = travel_at(w, w->t);
    return;
  }
  if (w->one->reached < TW_REACHED_OUTPUT) {
    w->one->bounces++;
  }
}

/* first instant (k + phase) Ts not before t */
static double next_look(const tw_touch_motion *go, double t)
{
  if (go->just_missed) {
    return t + go->sample_time;
  }
  if (go->sample_time <= 0.0) {
    return t;
  }
  const double k = ceil(t / go->sample_time - go->sample_phase);
  double at = (k + go->sample_phase) * go->sample_time;
  while (at < t) {
    at += go->sample_time;
  }
  return at;
}

/* an edge on the second approach before anything was touched: a false trip ends the run */
static void false_edge(tw_touch_work *w)
{
  w->result->has_second = true;
  w->result->second =
      (tw_touch_one){.state = TW_TOUCH_TRIPPED_AT_REST, .feed = w->go.second_feed, .contact = w->t};
  tw_touch_record(w, TW_EVENT_OUTPUT, w->t);
  w->finished = true;
}

static void line_on(tw_touch_work *w)
{
  tw_touch_one *one = w->one;
  w->line = true;
  w->pulse_start = w->t;
  if (w->which == 1 && one == &w->result->first) {
    false_edge(w);
    return;
  }
  const bool first = !w->seen_edge;
  if (!first) {
    one->chatter++;
    tw_touch_record(w, TW_EVENT_CHATTER, w->t);
  } else {
    w->seen_edge = true;
    one->output = w->t - one->contact;
    one->pretravel = travel_at(w, w->t) - w->contact_x;
    reach(one, TW_REACHED_OUTPUT);
    tw_touch_record(w, TW_EVENT_OUTPUT, w->t);
    if (w->go.until == TW_UNTIL_EDGE) {
      w->finished = true;
    }
  }
  if (!w->stopping) {
    w->look = next_look(&w->go, w->t);
    /* the first edge may come just before the search ends: the controller still looks at it */
    w->give_up_at = first ? most(w->give_up_at, w->look) : w->give_up_at;
  }
}

static void line_off(tw_touch_work *w)
{
  w->line = false;
  w->pulse_end = INFINITY;
  tw_touch_record(w, TW_EVENT_OUTPUT_END, w->t);
  if (w->which == 0) {
    w->result->ended = true;
    w->result->output_end = w->t;
    w->result->output_hold_time = w->t - w->result->first.output;
    w->result->ended_pressed = w->contact && !w->retracted;
  }
  if (isfinite(w->look)) { /* over before the controller looked */
    w->look = INFINITY;
    tw_touch_record(w, TW_EVENT_MISSED, w->t);
    w->one->state = TW_TOUCH_NOT_SAMPLED;
  }
}

/* the comparator's output has crossed the controller's level */
void tw_touch_raw_edge(tw_touch_work *w, bool active)
{
  w->raw = active;
  if (active) {
    if (!w->line) {
      line_on(w);
    }
    w->pulse_end = INFINITY;
    return;
  }
  const double earliest = w->pulse_start + w->m.output.minimum_pulse;
  if (w->t >= earliest) {
    line_off(w);
  } else {
    w->pulse_end = earliest;
  }
}

/* ---- timers ------------------------------------------------------------------------------------
 */

double tw_touch_next_timer(const tw_touch_work *w)
{
  double t = w->queue[w->seg].end;
  t = least(t, least(w->look, w->stop_at));
  t = least(t, least(w->pulse_end, w->flip_at));
  return least(t, least(w->give_up_at, w->settle_at));
}

static void controller_looks(tw_touch_work *w)
{
  w->look = INFINITY;
  w->one->state = TW_TOUCH_OK;
  w->one->sample = w->t - w->one->contact;
  reach(w->one, TW_REACHED_SAMPLE);
  tw_touch_record(w, TW_EVENT_SAMPLE, w->t);
  w->give_up_at = INFINITY;
  w->stopping = true;
  w->stop_at = w->t + w->go.latency;
}

static void begin_stop(tw_touch_work *w)
{
  w->stop_at = INFINITY;
  w->one->stop_start = w->t - w->one->contact;
  reach(w->one, TW_REACHED_STOP_START);
  tw_touch_queue_after_stop(w, w->t);
}

/* a segment's beginning: what it means */
static void begin_segment(tw_touch_work *w, const segment *s)
{
  tw_touch_one *one = w->one;
  if (s->tag < 0) {
    return;
  }
  tw_touch_record(w, (tw_touch_event_kind)s->tag, w->t);
  switch (s->tag) {
  case TW_EVENT_STOP_END:
    one->stop_end = w->t - one->contact;
    one->overtravel = s->x - w->contact_x;
    reach(one, TW_REACHED_STOP_END);
    w->finished = w->go.until == TW_UNTIL_STOP;
    break;
  case TW_EVENT_RETRACT:
    w->retracted = true;
    break;
  case TW_EVENT_RETRACTED:
    w->settling = true;
    w->settle_at = w->t + w->go.settle_limit;
    break;
  case TW_EVENT_APPROACH:
    w->which = 1;
    w->retracted = w->settling = w->stopping = w->seen_edge = false;
    w->is_ready = false;
    w->settle_at = INFINITY;
    w->settled_at = -1.0;
    w->off_before = 0.0;
    tw_touch_set_feed(w, w->go.second_feed);
    w->give_up_at = w->t + tw_touch_patience(&w->go, w->go.second_feed) +
                    2.0 * w->go.retract_distance / w->go.second_feed;
    break;
  default:
    break;
  }
}

static void give_up(tw_touch_work *w)
{
  tw_touch_one *one = w->one;
  if (one->reached < TW_REACHED_OUTPUT) {
    one->state = TW_TOUCH_NO_TRIP;
  }
  one->searched_time = w->t - one->contact;
  one->searched_travel = travel_at(w, w->t) - w->contact_x;
  w->finished = true;
}

static void flip(tw_touch_work *w)
{
  const tw_touch_comparator *c = &w->m.comparator;
  w->flip_at = INFINITY;
  w->out = w->flip_high ? OUT_HIGH : OUT_LOW;
  w->y[OUT] = w->flip_high ? c->high : c->low;
  if (w->flip_high == c->rest_high) {
    w->tripped_input = false;
  }
  tw_touch_raw_edge(w, w->flip_high != c->rest_high);
}

/* everything that is due now; the order at one instant is fixed */
void tw_touch_timers(tw_touch_work *w)
{
  if (w->t >= w->flip_at) {
    flip(w);
  }
  if (w->t >= w->look) {
    controller_looks(w);
  }
  if (w->t >= w->pulse_end) {
    line_off(w);
  }
  if (w->t >= w->stop_at) {
    begin_stop(w);
    begin_segment(w, &w->queue[0]);
  }
  while (!w->finished && w->t >= w->queue[w->seg].end && w->seg + 1 < w->segs) {
    w->seg++;
    begin_segment(w, &w->queue[w->seg]);
  }
  if (w->t >= w->give_up_at) {
    give_up(w);
  }
  if (w->t >= w->settle_at) {
    w->finished = true;
  }
}

/* when a signal that dies away came into its band, between the ends of two steps: by the logarithm
 */
static double entered(const tw_touch_work *w, double off, double band)
{
  const double before = w->off_before;
  if (!(before > band) || !(band > 0.0) || !(off < before)) {
    return w->t;
  }
  const double share = off > 0.0 ? log(before / band) / log(before / off) : 0.0;
  return w->off_at + share * (w->t - w->off_at);
}

/* settled: the signal has stayed within its band around rest, untouched and released */
static bool has_settled(tw_touch_work *w)
{
  const double signal = tw_touch_signal(w, w->y[NODE], w->y[AMP]);
  const double band = w->go.ready_band * fabs(w->levels.trip - w->levels.rest);
  const double off = fabs(signal - w->levels.rest);
  const bool in_band = !w->contact && !w->line && !w->raw && off <= band;
  if (!in_band) {
    w->settled_at = -1.0;
  } else if (w->settled_at < 0.0) {
    w->settled_at = entered(w, off, band);
  }
  w->off_before = off;
  w->off_at = w->t;
  return in_band && w->t - w->settled_at >= w->go.ready_hold;
}

/* after the retract: note when all is ready; the last touch of a run ends there */
void tw_touch_watch_ready(tw_touch_work *w)
{
  if (!w->retracted) {
    return;
  }
  if (!w->is_ready && has_settled(w)) {
    w->is_ready = true;
    tw_touch_record(w, TW_EVENT_READY, w->settled_at);
    if (w->which == 0) {
      w->result->ready = true;
      w->result->ready_time = w->settled_at - w->lost_at;
    }
  }
  const bool last = w->which == 1 || w->go.until != TW_UNTIL_SECOND;
  if (w->is_ready && w->settling && last) {
    w->finished = true;
  }
}
