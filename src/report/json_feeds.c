/* json_feeds.c: pretravel against feed in one direction, the feeds between which it works, delay.
 */
#include "tripwright/documents.h"
#include "tripwright/probe.h"
#include "tripwright/touch_judge.h"

#include <math.h>

enum { ROWS = 24 };

static void put(json_t *object, const char *name, double value, const char *unit)
{
  json_object_set_new(object, name, tw_json_quantity(value, unit));
}

static size_t feeds_of(const tw_design *design, tw_window_row row[ROWS])
{
  const tw_table *table = tw_design_table(design, TW_F_machine_feeds);
  size_t count = 0;
  for (size_t i = 0; table && i < table->rows && count < ROWS; i++) {
    row[count++].feed = table->cells[i * table->columns].number;
  }
  return count;
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
    put(o, "slowest_feed_with_margin", w->slowest_margin, "m/s");
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

static tw_status fill(const tw_design *design, const tw_probe *probe, const tw_probe_touch *touch,
                      double elevation, tw_touch_work *work, json_t *document, tw_fault *fault)
{
  tw_window_row row[ROWS] = {0};
  const size_t count = feeds_of(design, row);
  tw_touch_motion motion;
  tw_link_spec spec;
  tw_link link;
  tw_status status =
      tw_probe_motion(design, probe, tw_design_number(design, TW_F_machine_feed), &motion, fault);
  status = status == TW_OK ? tw_link_from_design(design, &spec, fault) : status;
  status = status == TW_OK ? tw_link_of(&spec, &probe->board, 0, &link, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  tw_probe_search(probe, touch, &motion);
  status = tw_touch_feeds(&touch->model, &motion, link.latency_jitter, work, row, count, fault);
  tw_window window;
  status = status == TW_OK ? tw_probe_window(design, probe, touch, elevation, work, &window, fault)
                           : status;
  if (status != TW_OK) {
    return status;
  }
  tw_apparent_delay delay;
  json_object_set_new(document, "rows", rows_of(row, count));
  json_object_set_new(document, "units",
                      json_pack("{s:s, s:s, s:s, s:s, s:s}", "feed", "m/s", "t_output", "s",
                                "pretravel", "m", "latched", "m", "overtravel", "m"));
  json_object_set_new(document, "window", window_of(&window));
  const bool known = tw_touch_delay(row, count, 0.5 * motion.feed, &delay, NULL) == TW_OK;
  put(document, "apparent_delay", known ? delay.seconds : (double)NAN, "s");
  return TW_OK;
}

tw_status tw_document_feeds(const tw_design *design, double azimuth, double elevation, json_t **out,
                            tw_fault *fault)
{
  *out = NULL;
  tw_probe *probe = NULL;
  tw_status status = tw_probe_new(design, &probe, fault);
  if (status == TW_OK && probe->trouble.status != TW_OK) {
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
  if (status == TW_OK) {
    json_object_set_new(document, "design", tw_json_design(design));
    status = tw_probe_touch_of(design, probe, seat, azimuth, elevation, touch, fault);
  }
  status = status == TW_OK ? fill(design, probe, touch, elevation, work, document, fault) : status;
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
