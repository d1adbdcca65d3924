/* json_check.c: the document of `check`: every measure with its rule, margin, basis and parts. */
#include "tripwright/documents.h"

#include <string.h>

static json_t *parts_of(const tw_measure *measure)
{
  json_t *parts = json_array();
  for (int i = 0; i < measure->contributions; i++) {
    json_array_append_new(parts,
                          json_pack("{s:s, s:o}", "cause", measure->contribution[i].cause, "value",
                                    tw_json_number(measure->contribution[i].value)));
  }
  return parts;
}

static json_t *limit_of(const tw_limit *limit)
{
  if (!limit || !limit->given) {
    return json_null();
  }
  switch (limit->rule) {
  case TW_RULE_MOST:
    return tw_json_number(limit->high);
  case TW_RULE_LEAST:
    return tw_json_number(limit->low);
  case TW_RULE_WITHIN:
    return json_pack("[o, o]", tw_json_number(limit->low), tw_json_number(limit->high));
  case TW_RULE_IS:
    return json_string(limit->word);
  }
  return json_null();
}

json_t *tw_json_measure(tw_measure_id id, const tw_measure *measure, const tw_limit *limit)
{
  const tw_measure_info *about = tw_measure_about(id);
  const bool ok = measure->state == TW_MEASURE_OK, word = strcmp(about->unit, "word") == 0;
  const bool ruled = limit && limit->given;
  json_t *value =
      !ok ? json_null() : (word ? json_string(measure->word) : tw_json_number(measure->value));
  json_t *o = json_pack(
      "{s:o, s:s, s:s, s:s?, s:o, s:o, s:o, s:s, s:o}", "value", value, "unit",
      word ? "" : about->unit, "state", tw_measure_state_text(measure->state), "rule",
      ruled ? limit->text : NULL, "limit", limit_of(limit), "met",
      measure->met == TW_MET_NO_RULE ? json_null() : json_boolean(measure->met == TW_MET_YES),
      "margin", ok && ruled && !word ? tw_json_number(measure->margin) : json_null(), "basis",
      tw_basis_text(measure->basis), "contributions", parts_of(measure));
  if (ok && measure->has_at) {
    json_object_set_new(o, "at", tw_json_quantity(measure->at_deg, "deg"));
  }
  if (ok && measure->has_least) {
    json_object_set_new(o, "least", tw_json_number(measure->least));
    json_object_set_new(o, "least_at", tw_json_quantity(measure->least_at_deg, "deg"));
  }
  if (ok && measure->has_band) {
    json_object_set_new(
        o, "band",
        json_pack("[o, o]", tw_json_number(measure->band[0]), tw_json_number(measure->band[1])));
  }
  if (ok && measure->has_fitted) {
    json_object_set_new(o, "as_fitted", tw_json_number(measure->fitted));
  }
  if (measure->state == TW_MEASURE_NO_TRIP) {
    json_object_set_new(o, "searched_to", tw_json_quantity(measure->searched_to, "N"));
  }
  if (measure->assumes) {
    json_object_set_new(o, "assumes", json_string(measure->assumes));
  }
  if (measure->note[0]) {
    json_object_set_new(o, "note", json_string(measure->note));
  }
  return o;
}

static json_t *not_judged(const tw_design *design)
{
  tw_not_judged each[TW_NOT_JUDGED];
  const size_t count = tw_assess_not_judged(design, each);
  json_t *list = json_array();
  for (size_t i = 0; i < count; i++) {
    json_array_append_new(list, json_pack("{s:s, s:s}", "what", each[i].what, "why", each[i].why));
  }
  return list;
}

json_t *tw_json_verdict(const tw_assessment *a)
{
  char sentence[TW_ASSESS_SENTENCE];
  json_t *left_out = json_array();
  tw_assess_sentence(a, sentence, sizeof sentence);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (a->measure[i].left_out) {
      json_array_append_new(left_out, json_string(tw_measure_about((tw_measure_id)i)->name));
    }
  }
  return json_pack("{s:s, s:s, s:s, s:i, s:i, s:o}", "verdict",
                   tw_assess_verdict_text(tw_assess_verdict_of(a)), "sentence", sentence, "state",
                   tw_measure_state_text(a->state), "asked", a->asked, "met", a->met, "left_out",
                   left_out);
}

json_t *tw_document_check(const tw_design *design, const tw_assessment *assessment,
                          const tw_limits *limits)
{
  json_t *document = tw_document_new("check");
  json_t *measures = json_object(), *warnings = json_array();
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *measure = &assessment->measure[i];
    if (measure->state != TW_MEASURE_NOT_COMPUTED) {
      json_object_set_new(
          measures, tw_measure_about((tw_measure_id)i)->name,
          tw_json_measure((tw_measure_id)i, measure, limits ? &limits->of[i] : NULL));
    }
  }
  for (int i = 0; i < assessment->warnings; i++) {
    json_array_append_new(warnings, json_pack("{s:s, s:s}", "text", assessment->warning[i].text,
                                              "field", assessment->warning[i].field));
  }
  json_object_set_new(document, "design", tw_json_design(design));
  json_object_set_new(document, "verdict", tw_json_verdict(assessment));
  json_object_set_new(document, "measures", measures);
  json_object_set_new(document, "warnings", warnings);
  json_object_set_new(document, "not_judged", not_judged(design));
  return document;
}
