/* json_base.c: what every document begins with, and numbers that are never NaN. */
#include "tripwright/documents.h"

#include <math.h>
#include <stdio.h>

json_t *tw_json_number(double value)
{
  return isfinite(value) ? json_real(value) : json_null();
}

json_t *tw_json_quantity(double value, const char *unit)
{
  return json_pack("{s:o, s:s}", "value", tw_json_number(value), "unit", unit);
}

json_t *tw_document_new(const char *name)
{
  char schema[64];
  snprintf(schema, sizeof schema, "tripwright.%s/1", name);
  return json_pack("{s:s, s:{s:s, s:s}}", "schema", schema, "tool", "version", TW_VERSION, "flags",
                   "-ffp-contract=off");
}

void tw_json_put_state(json_t *document, tw_measure_state state, const tw_fault *why)
{
  json_object_set_new(document, "state", json_string(tw_measure_state_text(state)));
  if (state == TW_MEASURE_OK) {
    return;
  }
  json_object_set_new(document, "sentence", json_string(tw_measure_state_sentence(state)));
  if (why && why->text[0]) {
    json_object_set_new(document, "why", json_string(why->text));
    json_object_set_new(document, "field", json_string(why->field));
    json_object_set_new(document, "hint", json_string(why->hint));
  }
}

json_t *tw_json_design(const tw_design *design)
{
  return json_pack("{s:s?, s:s?, s:s?}", "name", tw_design_name(design), "revision",
                   tw_design_revision(design), "file", tw_design_file(design));
}
