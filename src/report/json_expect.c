/* json_expect.c: the document of `expect`: the bench card, with what was measured beside it. */
#include "tripwright/bench_suspect.h"
#include "tripwright/documents.h"

#include <math.h>
#include <string.h>

/* a measured field of the design stands beside the check of the same thing */
static const struct {
  tw_bench_id id;
  tw_field field;
} measured[] = {
    {TW_BENCH_SUPPLY_CURRENT, TW_F_measured_supply_current},
    {TW_BENCH_REST_NODE, TW_F_measured_rest_voltage},
    {TW_BENCH_CAPACITANCE_FREE, TW_F_measured_capacitance},
    {TW_BENCH_CAPACITANCE_MOUNTED, TW_F_measured_capacitance_mounted},
    {TW_BENCH_RESONANCE_FREE, TW_F_measured_resonance_free},
    {TW_BENCH_RESONANCE_MOUNTED, TW_F_measured_resonance_mounted},
    {TW_BENCH_PRELOAD, TW_F_measured_preload},
    {TW_BENCH_DECAY, TW_F_measured_decay_time},
    {TW_BENCH_WEIGHT_SIDE, TW_F_measured_trip_force_side},
    {TW_BENCH_WEIGHT_AXIAL, TW_F_measured_trip_force_axial},
};

static void put_measured(json_t *o, const tw_design *design, const tw_bench_check *check)
{
  for (size_t i = 0; i < sizeof measured / sizeof measured[0]; i++) {
    if (measured[i].id != check->id || !tw_design_has(design, measured[i].field)) {
      continue;
    }
    double value = tw_design_number(design, measured[i].field);
    /* weights are read in kilograms, forces are stated in newton */
    if (strcmp(check->unit, "kg") == 0) {
      value /= TW_GRAVITY;
    }
    const double low = check->loads ? check->shown_low : check->expect.low,
                 high = check->loads ? check->shown_high : check->expect.high;
    json_object_set_new(o, "measured", tw_json_number(value));
    json_object_set_new(o, "reads",
                        json_string(value < low    ? "low"
                                    : value > high ? "high"
                                                   : "as expected"));
  }
}

/* the force of a weight, the weight of a force, where weights or a scale are used */
static void put_beside(json_t *o, const char *key, double value, const char *unit)
{
  double beside;
  char text[48];
  if (tw_weight_beside(value, unit, &beside, text, sizeof text)) {
    json_object_set_new(o, key,
                        json_pack("{s:o, s:s, s:s}", "value", tw_json_number(beside), "unit",
                                  strcmp(unit, "kg") == 0 ? "N" : "kg", "text", text));
  }
}

static json_t *row_of(const tw_design *design, const tw_bench_check *c)
{
  json_t *o =
      json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "check", c->name, "title", c->title, "point",
                c->point, "instrument", c->instrument, "setting", c->setting, "unit", c->unit);
  if (c->word) {
    json_object_set_new(o, "word", json_string(c->word));
  } else if (c->expect.known) {
    json_object_set_new(o, "value", tw_json_number(c->expect.value));
    json_object_set_new(
        o, "band",
        json_pack("[o, o]", tw_json_number(c->expect.low), tw_json_number(c->expect.high)));
    put_beside(o, "beside", c->expect.value, c->unit);
  } else {
    json_object_set_new(o, "value", json_null());
    json_object_set_new(o, "why", json_string(c->expect.why));
  }
  if (c->loads) {
    json_object_set_new(o, "shown", tw_json_number(c->shown));
    json_object_set_new(
        o, "shown_band",
        json_pack("[o, o]", tw_json_number(c->shown_low), tw_json_number(c->shown_high)));
    put_beside(o, "shown_beside", c->shown, c->unit);
    json_object_set_new(o, "loading", json_string(c->loading));
  }
  json_object_set_new(o, "if_low", json_string(c->if_low ? c->if_low : ""));
  json_object_set_new(o, "if_high", json_string(c->if_high ? c->if_high : ""));
  json_object_set_new(o, "minutes", json_real(c->minutes));
  if (c->note[0]) {
    json_object_set_new(o, "note", json_string(c->note));
  }
  put_measured(o, design, c);
  return o;
}

tw_status tw_document_expect(const tw_design *design, json_t **out, tw_fault *fault)
{
  *out = NULL;
  tw_bench_card *card = tw_alloc(1, sizeof *card);
  tw_status status = card ? tw_bench_card_from(design, NULL, 0, card, fault)
                          : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the card");
  json_t *document = status == TW_OK ? tw_document_new("expect") : NULL;
  if (document) {
    json_t *rows = json_array();
    for (int i = 0; i < card->count; i++) {
      json_array_append_new(rows, row_of(design, &card->check[i]));
    }
    json_object_set_new(document, "design", tw_json_design(design));
    tw_json_put_state(document, card->state, &card->trouble);
    json_object_set_new(document, "checks", rows);
  }
  tw_free(card);
  *out = document;
  return status;
}
