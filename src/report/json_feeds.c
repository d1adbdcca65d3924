/* json_feeds.c: pretravel against feed in one direction, the feeds between which it works, delay.
 */
#include "tripwright/constants.h"
#include "tripwright/documents.h"
#include "tripwright/probe.h"
#include "tripwright/touch_judge.h"

#include <math.h>

static void put(json_t *object, const char *name, double value, const char *unit)
{
  json_object_set_new(object, name, tw_json_quantity(value, unit));
}

static json_t *rows_of(const tw_window_row *row, size_t count)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < count; i++) {
    const bool ok = row[i].state == TW_TOUCH_OK;
    json_array_append_new(
        rows, json_pack("{s:o, s:s, s:o, s:o, s:o, s:o}", "feed", tw_json_number(row[i].feed),
                        "state", tw_touch_state_name(row[i].state), "t_output",
                        ok ? tw_json_number(row[i].output) : json_null(), "pretravel",
                        ok ? tw_json_number(row[i].pretravel) : json_null(), "latched",
                        ok ? tw_json_number(row[i].latched) : json_null(), "overtravel",
                        ok ? tw_json_number(row[i].overtravel) : json_null()));
  }
  return rows;
}

static json_t *window_of(const tw_window *w)
{
  json_t *o = json_object();
  json_object_set_new(o, "trips", json_boolean(w->trips));
  if (w->trips) {
    put(o, "slowest_feed", w->slowest, "m/s");
    put(o, "slowest_feed_with_margin", w->margin_trips ? w->slowest_margin : (double)NAN, "m/s");
    put(o, "slowest_feed_static", w->slowest_static, "m/s");
    put(o, "slowest_feed_bias", w->slowest_bias, "m/s");
    put(o, "fastest_feed", w->fastest, "m/s");
    put(o, "calibrate_at", w->calibrate, "m/s");
    put(o, "force_at_fastest", w->force, "N");
    json_object_set_new(o, "open", json_boolean(w->open));
    if (w->gap) {
      json_object_set_new(o, "gap",
                          json_pack("{s:o, s:o, s:s}", "from", tw_json_quantity(w->gap_low, "m/s"),
                                    "to", tw_json_quantity(w->gap_high, "m/s"), "why",
                                    tw_window_reason_text(w->gap_reason)));
    }
    json_object_set_new(o, "touches", json_integer(w->touches));
  }
  json_object_set_new(o, "slow_end", json_string(tw_window_reason_text(w->slow_reason)));
  json_object_set_new(o, "fast_end", json_string(tw_window_reason_text(w->fast_reason)));
  return o;
}

static void put_rows(json_t *document, const tw_window_row *row, size_t count)
{
  json_object_set_new(document, "rows", rows_of(row, count));
  json_object_set_new(document, "units",
                      json_pack("{s:s, s:s, s:s, s:s, s:s}", "feed", "m/s", "t_output", "s",
                                "pretravel", "m", "latched", "m", "overtravel", "m"));
}

/* with the feeds it was taken from, or why there is none */
static void put_delay(json_t *document, const tw_apparent_delay *delay, const tw_fault *why)
{
  put(document, "apparent_delay", why ? (double)NAN : delay->seconds, "s");
  if (why) {
    json_object_set_new(document, "apparent_delay_why", json_string(why->text));
    return;
  }
  json_t *feeds = json_object();
  put(feeds, "from", delay->from, "m/s");
  put(feeds, "to", delay->to, "m/s");
  json_object_set_new(feeds, "count", json_integer((json_int_t)delay->rows));
  json_object_set_new(document, "apparent_delay_feeds", feeds);
}

static tw_status machine_of(const tw_design *design, const tw_probe *probe,
                            const tw_probe_touch *touch, tw_touch_motion *motion, tw_link *link,
                            tw_fault *fault)
{
  tw_link_spec spec;
  tw_status status =
      tw_probe_motion(design, probe, tw_design_number(design, TW_F_machine_feed), motion, fault);
  status = status == TW_OK ? tw_link_from_design(design, &spec, fault) : status;
  status = status == TW_OK ? tw_link_of(&spec, &probe->board, 0, link, fault) : status;
  if (status == TW_OK) {
    tw_probe_search(probe, touch, motion);
  }
  return status;
}

static tw_status fill(const tw_design *design, const tw_probe *probe, const tw_probe_touch *touch,
                      double elevation, tw_touch_work *work, json_t *document, tw_fault *fault)
{
  tw_window_row row[TW_PROBE_FEEDS];
  const size_t count = tw_probe_feeds(design, row);
  tw_touch_motion motion;
  tw_link link;
  tw_window window;
  tw_status status = machine_of(design, probe, touch, &motion, &link, fault);
  status = status == TW_OK ? tw_touch_feeds(&touch->model, &motion, link.latency_jitter, work, row,
                                            count, fault)
                           : status;
  status = status == TW_OK ? tw_probe_window(design, probe, touch, elevation, work, &window, fault)
                           : status;
  if (status != TW_OK) {
    return status;
  }
  tw_apparent_delay delay;
  tw_fault why = {0};
  put_rows(document, row, count);
  json_object_set_new(document, "window", window_of(&window));
  status = tw_probe_delay(design, touch, row, count, &delay, &why);
  put_delay(document, &delay, status == TW_OK ? NULL : &why);
  return TW_OK;
}

/* a direction that does not trip however slowly it is pushed, or a probe that cannot be touched, is
 * an answer */
static void fill_never(const tw_design *design, const tw_probe_touch *touch, tw_measure_state state,
                       const tw_fault *why, json_t *document)
{
  tw_window_row row[TW_PROBE_FEEDS] = {0};
  const tw_window none = {.slow_reason = TW_WINDOW_NEVER, .fast_reason = TW_WINDOW_NEVER};
  const bool told = state == TW_MEASURE_NO_TRIP || state == TW_MEASURE_TRIPPED_AT_REST;
  const size_t count = told ? tw_probe_feeds(design, row) : 0;
  for (size_t i = 0; i < count; i++) {
    row[i].state = state == TW_MEASURE_NO_TRIP ? TW_TOUCH_NO_TRIP : TW_TOUCH_TRIPPED_AT_REST;
  }
  put_rows(document, row, count);
  json_object_set_new(document, "window", window_of(&none));
  put_delay(document, NULL, why);
  if (state == TW_MEASURE_NO_TRIP) {
    put(document, "searched_to", touch->searched, "N");
  }
}

tw_status tw_document_feeds(const tw_design *design, double azimuth, double elevation, json_t **out,
                            tw_fault *fault)
{
  *out = NULL;
  tw_probe *probe = NULL;
  tw_status status = tw_probe_new(design, &probe, fault);
  tw_measure_state state = probe ? probe->state : TW_MEASURE_NO_ANSWER;
  if (status == TW_OK && state != TW_MEASURE_OK) {
    *fault = probe->trouble;
    status = fault->status;
  }
  tw_seat_work *seat = status == TW_OK ? tw_seat_work_new(probe->seat) : NULL;
  tw_touch_work *work = tw_touch_work_new();
  tw_probe_touch *touch = tw_alloc(1, sizeof *touch);
  json_t *document = tw_document_new("feeds");
  if (status == TW_OK && !(seat && work && touch && document)) {
    status = tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory");
  }
  if (document) {
    json_object_set_new(document, "design", tw_json_design(design));
    put(document, "azimuth", azimuth / TW_DEGREE, "deg");
    put(document, "elevation", elevation / TW_DEGREE, "deg");
  }
  if (status == TW_OK) {
    status = tw_probe_touch_of(design, probe, seat, azimuth, elevation, touch, fault);
    state = touch->state;
  }
  if (status == TW_OK) {
    tw_json_put_state(document, state, NULL);
    status = fill(design, probe, touch, elevation, work, document, fault);
  } else if (document && status == TW_NO_ANSWER && state != TW_MEASURE_NO_ANSWER) {
    /* nothing to be run at any feed is an answer */
    tw_json_put_state(document, state, fault);
    fill_never(design, touch, state, fault, document);
    status = TW_OK;
  }
  tw_free(touch);
  tw_touch_work_free(work);
  tw_seat_work_free(seat);
  tw_probe_free(probe);
  if (status != TW_OK) {
    json_decref(document);
    document = NULL;
  }
  *out = document;
  return status;
}
