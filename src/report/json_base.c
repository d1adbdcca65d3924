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

json_t *tw_json_design(const tw_design *design)
{
  return json_pack("{s:s?, s:s?, s:s?}", "name", tw_design_name(design), "revision",
                   tw_design_revision(design), "file", tw_design_file(design));
}
