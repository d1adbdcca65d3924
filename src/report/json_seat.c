/* json_seat.c: the document of `seat`: the carrier at rest and touched from all sides. */
#include "tripwright/constants.h"
#include "tripwright/documents.h"
#include "tripwright/parallel.h"
#include "tripwright/probe.h"
#include "tripwright/seat_forms.h"

/* `state` is what the touch came to, or what keeps the probe from being touched */
static json_t *row_of(const tw_seat_touch_result *t, tw_measure_state state)
{
  const bool tripped = state == TW_MEASURE_OK;
  json_t *o = json_pack(
      "{s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:s, s:i, s:i}", "azimuth_deg",
      tw_json_number(t->azimuth / TW_DEGREE), "elevation_deg",
      tw_json_number(t->elevation / TW_DEGREE), "state", tw_measure_state_text(state), "force",
      tripped ? tw_json_number(t->force) : json_null(), "pretravel",
      tripped ? tw_json_number(t->pretravel) : json_null(), "charge",
      tripped ? tw_json_number(t->charge) : json_null(), "return_offset",
      tripped ? tw_json_number(t->return_offset) : json_null(), "mechanism",
      tw_seat_mechanism_name(t->mechanism), "open", (int)t->open, "relieved", (int)t->relieved);
  if (state == TW_MEASURE_NO_TRIP) {
    json_object_set_new(o, "searched_to", tw_json_quantity(t->searched_force, "N"));
  }
  return o;
}

/* evenly around and along the axis, or the map */
static void list_directions(size_t count, tw_seat_touch_result *touch, bool map)
{
  for (size_t i = 0; i < count; i++) {
    tw_seat_touch_result *t = &touch[i];
    if (map) {
      tw_seat_direction(i, &t->azimuth, &t->elevation);
    } else if (i + 1 < count) {
      t->azimuth = 360 * TW_DEGREE * (double)i / (double)(count - 1);
    } else {
      t->elevation = 90 * TW_DEGREE;
    }
  }
}

/* on as many threads as there are processors */
static tw_status touches(const tw_probe *probe, int azimuths, bool map, const tw_progress *progress,
                         json_t *rows, tw_seat_regime *regime, char *uneven, tw_fault *fault)
{
  const bool touchable = probe->state == TW_MEASURE_OK;
  const size_t count = map ? TW_SEAT_DIRECTIONS : (size_t)azimuths + 1;
  const int threads = tw_threads(0);
  tw_seat_touch_result *touch = tw_alloc(count, sizeof *touch);
  tw_seat_work **works = tw_probe_works(probe, threads);
  tw_status status = touch && works
                         ? TW_OK
                         : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the touches");
  if (status == TW_OK) {
    list_directions(count, touch, map);
    status =
        touchable ? tw_probe_touches(probe, works, threads, count, touch, progress, fault) : TW_OK;
  }
  for (size_t i = 0; i < count && status == TW_OK; i++) {
    const tw_measure_state state = touchable ? tw_probe_touch_state(&touch[i]) : probe->state;
    status = json_array_append_new(rows, row_of(&touch[i], state)) == 0 ? TW_OK : TW_NO_MEMORY;
  }
  if (status == TW_OK && touchable) {
    tw_seat_uneven(count, touch, uneven, TW_SEAT_UNEVEN);
  }
  *regime = tw_probe_regime(probe, status == TW_OK && touchable ? count : 0, touch);
  tw_probe_free_works(works, threads);
  tw_free(touch);
  return status;
}

static json_t *rest_of(const tw_seat_rest *rest, tw_seat_regime regime)
{
  return json_pack(
      "{s:o, s:o, s:o, s:o, s:o, s:s, s:[o, o, o], s:o, s:b, s:o, s:o, s:i, s:i}", "preload",
      tw_json_quantity(rest->preload, "N"), "interference", tw_json_quantity(rest->closing, "m"),
      "preload_rate", tw_json_quantity(rest->preload_rate, "N/m"), "friction_moment",
      tw_json_quantity(rest->friction_moment, "N m"), "regime_ratio",
      tw_json_quantity(rest->regime_ratio, "1"), "regime", tw_seat_regime_name(regime), "tip",
      tw_json_number(rest->tip[0]), tw_json_number(rest->tip[1]), tw_json_number(rest->tip[2]),
      "clearance", tw_json_quantity(rest->clearance, "m"), "backed", (int)rest->backed,
      "charge_gain", tw_json_quantity(rest->charge_gain, "C/N"), "charge_gain_free",
      tw_json_quantity(rest->charge_gain_free, "C/N"), "contacts", (int)rest->contacts, "open",
      (int)rest->open);
}

/* how far the seat force moves: with 10 um of interference, 10 K, 30 days, one turn of its screw */
static json_t *moves_of(const tw_design *design, const tw_seat_rest *rest)
{
  json_t *o = json_object();
  const double rate = rest->preload_rate;
  json_object_set_new(o, "per_10_um", tw_json_quantity(10e-6 * rate, "N"));
  json_object_set_new(
      o, "per_10_K",
      tw_json_quantity(10 * rate * tw_design_number_or(design, TW_F_preload_expansion_mismatch, 0),
                       "N"));
  const double lost = tw_design_number(design, TW_F_preload_relaxation) +
                      tw_design_tolerance(design, TW_F_preload_relaxation).plus;
  json_object_set_new(o, "after_30_days", tw_json_quantity(-lost * rest->preload, "N"));
  if (tw_design_has(design, TW_F_preload_screw_pitch)) {
    json_object_set_new(
        o, "per_turn",
        tw_json_quantity(rate * tw_design_number(design, TW_F_preload_screw_pitch), "N"));
  }
  return o;
}

static tw_status fill(const tw_design *design, const tw_probe *probe, int azimuths, bool map,
                      const tw_progress *progress, json_t *document, tw_fault *fault)
{
  json_t *rows = json_array();
  char uneven[TW_SEAT_UNEVEN] = "";
  if (!rows) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the seat");
  }
  tw_seat_regime regime;
  const tw_status status = touches(probe, azimuths, map, progress, rows, &regime, uneven, fault);
  tw_json_put_state(document, probe->state, &probe->trouble);
  json_object_set_new(document, "design", tw_json_design(design));
  json_object_set_new(document, "rest", rest_of(&probe->rest, regime));
  json_object_set_new(document, "preload_moves", moves_of(design, &probe->rest));
  json_object_set_new(document, "threshold_charge", tw_json_quantity(probe->touch.threshold, "C"));
  json_object_set_new(document, "units",
                      json_pack("{s:s, s:s, s:s, s:s}", "force", "N", "pretravel", "m", "charge",
                                "C", "return_offset", "m"));
  json_object_set_new(document, "directions", rows);
  json_object_set_new(document, "uneven", json_string(uneven));
  return status;
}

tw_status tw_document_seat(const tw_design *design, int azimuths, bool map,
                           const tw_progress *progress, json_t **out, tw_fault *fault)
{
  *out = NULL;
  tw_probe *probe = NULL;
  tw_status status = tw_probe_new(design, &probe, fault);
  if (status == TW_OK && !probe->seat) {
    status = probe->trouble.status;
    *fault = probe->trouble;
  }
  json_t *document = status == TW_OK ? tw_document_new("seat") : NULL;
  if (document) {
    status = fill(design, probe, azimuths, map, progress, document, fault);
  }
  tw_probe_free(probe);
  if (status != TW_OK || !document) {
    json_decref(document);
    return status == TW_OK ? TW_NO_MEMORY : status;
  }
  *out = document;
  return TW_OK;
}
