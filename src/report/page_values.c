/* page_values.c: what the page's documents say of a design: messages, values, rules, the day. */
#include "page_values.h"

#include <time.h>

json_t *tw_page_messages(const tw_messages *messages)
{
  static const char *const severity[] = {"error", "warning", "note"};
  json_t *list = json_array();
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    const tw_message *m = tw_messages_at(messages, i);
    json_array_append_new(
        list, json_pack("{s:s, s:s, s:s, s:s, s:i, s:s}", "severity", severity[m->severity], "text",
                        m->text, "field", m->field ? m->field : "", "hint", m->hint ? m->hint : "",
                        "line", m->line, "excerpt", m->excerpt ? m->excerpt : ""));
  }
  return list;
}

static json_t *value_of(const tw_design *design, tw_field field, tw_units *units, tw_system system)
{
  char shown[512] = "";
  const tw_value *v = tw_design_value(design, field);
  if (tw_design_has(design, field)) {
    tw_design_print_value(design, field, units, system, shown, sizeof shown);
  }
  return json_pack(
      "{s:s?, s:s, s:s, s:b, s:i}", "text", v->text, "shown", shown, "origin",
      tw_origin_word(v->origin), "applies", (int)tw_design_applies(design, field), "line",
      v->origin == TW_ORIGIN_DEFAULT || v->origin == TW_ORIGIN_LIBRARY ? 0 : v->place.line);
}

json_t *tw_page_values(const tw_design *design, tw_units *units, tw_system system)
{
  json_t *values = json_object();
  for (int i = 0; design && i < TW_FIELD_COUNT; i++) {
    json_object_set_new(values, tw_field_of((tw_field)i)->path,
                        value_of(design, (tw_field)i, units, system));
  }
  return values;
}

const char *tw_page_today(char out[16])
{
  const time_t now = time(NULL);
  struct tm day;
  if (!localtime_r(&now, &day) || strftime(out, 16, "%Y-%m-%d", &day) == 0) {
    out[0] = '\0';
  }
  return out;
}

json_t *tw_page_requirements(const tw_design *design)
{
  json_t *names = json_array();
  for (size_t i = 0; design && i < tw_design_requirements(design); i++) {
    json_array_append_new(names, json_string(tw_design_requirement(design, i)->name));
  }
  return names;
}

tw_status tw_page_no_memory(tw_fault *fault)
{
  return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the page's figures");
}
