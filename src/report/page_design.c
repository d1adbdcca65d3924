/* page_design.c: the fields with their values as the page's form needs them. */
#include "page_values.h"
#include "tripwright/assess.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

void tw_fingerprint(const void *data, size_t size, char out[TW_FINGERPRINT])
{
  const unsigned char *bytes = data;
  uint64_t h = UINT64_C(0xcbf29ce484222325);
  for (size_t i = 0; i < size; i++) {
    h = (h ^ bytes[i]) * UINT64_C(0x100000001b3);
  }
  snprintf(out, TW_FINGERPRINT, "%016" PRIx64, h);
}

/* ---- the table ------------------------------------------------------------------------------ */

static json_t *choices_of(tw_choice_set set)
{
  json_t *list = json_array();
  for (size_t i = 0; set != TW_SET_NONE && i < tw_choice_count(set); i++) {
    json_array_append_new(list, json_pack("{s:s, s:s}", "word", tw_choice_word(set, (int)i), "help",
                                          tw_choice_help(set, (int)i)));
  }
  return list;
}

static json_t *field_of(tw_field field)
{
  static const char *const types[] = {"quantity", "number", "count", "choice", "text", "table"};
  static const char *const tolerances[] = {"", "length", "percent", "absolute"};
  const tw_field_info *f = tw_field_of(field);
  const bool must = strcmp(f->fallback, TW_MUST) == 0;
  const bool unset = strcmp(f->fallback, TW_UNSET) == 0;
  return json_pack("{s:s, s:s, s:s, s:o, s:b, s:f, s:f, s:s, s:s, s:s, s:o, s:s, s:s}", "path",
                   f->path, "type", types[f->type], "unit", f->unit, "fallback",
                   must || unset ? json_null() : json_string(f->fallback), "must", (int)must,
                   "least", f->least, "most", f->most, "tolerance", tolerances[f->tolerance],
                   "part", f->part, "when", f->when, "choices", choices_of(f->set), "help", f->help,
                   "source", f->source);
}

static json_t *all_fields(void)
{
  json_t *list = json_array();
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    json_array_append_new(list, field_of((tw_field)i));
  }
  return list;
}

static json_t *all_measures(void)
{
  static const char *const better[] = {"less", "more", ""};
  json_t *list = json_array();
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *m = tw_measure_about((tw_measure_id)i);
    json_array_append_new(list, json_pack("{s:s, s:s, s:s, s:s, s:s, s:i}", "name", m->name, "unit",
                                          m->unit, "better", better[m->better], "help", m->help,
                                          "section", m->section, "rounds",
                                          tw_measure_rounds((tw_measure_id)i)));
  }
  return list;
}

static json_t *all_views(void)
{
  json_t *list = json_array();
  for (size_t i = 0; i < tw_page_view_count(); i++) {
    json_array_append_new(list, json_string(tw_page_view_name(i)));
  }
  return list;
}

json_t *tw_page_design(const tw_design *design, const char *file, const char *fingerprint,
                       const char *date, tw_units *units, tw_system system,
                       const tw_messages *messages)
{
  char day[16];
  const char *slash = strrchr(file, '/');
  return json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "name",
                   design ? tw_design_name(design) : "a design that cannot be read", "revision",
                   design ? tw_design_revision(design) : "", "file", slash ? slash + 1 : file,
                   "fingerprint", fingerprint, "version", TW_VERSION, "date",
                   date ? date : tw_page_today(day), "fields", all_fields(), "measures",
                   all_measures(), "views", all_views(), "values",
                   tw_page_values(design, units, system), "requirements",
                   tw_page_requirements(design), "messages", tw_page_messages(messages));
}
