/* schema.c: a JSON schema of the design file, made from the table. */
#include "inside.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

typedef struct writer {
  const tw_sink *sink;
  bool stopped;
} writer;

static void put(writer *w, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void put(writer *w, const char *format, ...)
{
  char text[1024];
  va_list list;
  va_start(list, format);
  const int n = vsnprintf(text, sizeof text, format, list);
  va_end(list);
  const size_t length = n < 0 ? 0 : (size_t)n < sizeof text ? (size_t)n : sizeof text - 1;
  w->stopped = w->stopped || !w->sink->put(w->sink->self, text, length);
}

static void put_string(writer *w, const char *text)
{
  put(w, "\"");
  for (const char *c = text; *c; c++) {
    if (*c == '"' || *c == '\\') {
      put(w, "\\%c", *c);
    } else if ((unsigned char)*c < 0x20) {
      put(w, "\\u%04x", (unsigned)(unsigned char)*c);
    } else {
      put(w, "%c", *c);
    }
  }
  put(w, "\"");
}

static void put_answers(writer *w, const tw_field_info *info)
{
  put(w, "\"type\": \"string\", ");
  if (info->set == TW_SET_CONTACT) { /* `points N` */
    put(w, "\"pattern\": \"^(points( [0-9]+)?|ring|flat|vee)$\", ");
    return;
  }
  put(w, "\"enum\": [");
  for (size_t i = 0; i < tw_choice_count(info->set); i++) {
    put(w, "%s", i ? ", " : "");
    put_string(w, tw_choice_word(info->set, (int)i));
  }
  put(w, "], ");
}

static void put_field(writer *w, const tw_field_info *info, const char *key)
{
  put(w, "        ");
  put_string(w, key);
  put(w, ": {");
  switch (info->type) {
  case TW_TYPE_CHOICE:
    put_answers(w, info);
    break;
  case TW_TYPE_COUNT:
    put(w, "\"type\": \"integer\", \"minimum\": %g, \"maximum\": %g, ", info->least, info->most);
    break;
  case TW_TYPE_TABLE:
    put(w, "\"type\": \"array\", \"x-columns\": ");
    put_string(w, info->unit);
    put(w, ", ");
    break;
  case TW_TYPE_TEXT:
    put(w, "\"type\": [\"string\", \"number\"], ");
    break;
  default:
    put(w, "\"type\": [\"string\", \"number\"], \"x-unit\": ");
    put_string(w, info->unit);
    put(w, ", \"x-least\": %.17g, \"x-most\": %.17g, ", info->least, info->most);
    break;
  }
  if (strcmp(info->fallback, TW_MUST) != 0 && strcmp(info->fallback, TW_UNSET) != 0) {
    put(w, "\"default\": ");
    put_string(w, info->fallback);
    put(w, ", ");
  }
  put(w, "\"description\": ");
  put_string(w, info->help);
  put(w, "}");
}

static void put_group(writer *w, int g)
{
  const char *group = tw_group_name(g);
  const size_t length = strlen(group);
  bool first = true;
  put(w,
      ",\n    \"%s\": {\n      \"type\": \"object\",\n      \"additionalProperties\": false,\n"
      "      \"properties\": {\n",
      group);
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    if (strncmp(info->path, group, length) == 0 && info->path[length] == '.') {
      put(w, "%s", first ? "" : ",\n");
      put_field(w, info, info->path + length + 1);
      first = false;
    }
  }
  put(w, "\n      }\n    }");
}

tw_status tw_design_print_schema(const tw_sink *sink)
{
  writer w = {.sink = sink};
  put(&w,
      "{\n  \"$schema\": \"https://json-schema.org/draft/2020-12/schema\",\n"
      "  \"title\": \"tripwright design\",\n  \"type\": \"object\",\n"
      "  \"additionalProperties\": false,\n  \"properties\": {\n"
      "    \"based_on\": {\"type\": \"string\"},\n"
      "    \"design\": {\"type\": [\"string\", \"number\"]},\n"
      "    \"revision\": {\"type\": [\"string\", \"number\"]},\n"
      "    \"notes\": {\"type\": [\"string\", \"number\"]},\n"
      "    \"requirements\": {\"type\": \"object\", "
      "\"additionalProperties\": {\"type\": \"string\"}},\n"
      "    \"parts\": {\"type\": \"object\", \"additionalProperties\": {\"type\": \"object\"}},\n"
      "    \"processes\": {\"type\": \"object\", "
      "\"additionalProperties\": {\"type\": \"object\"}},\n"
      "    \"steps\": {\"type\": \"object\", \"additionalProperties\": {\"type\": \"object\"}},\n"
      "    \"grades\": {\"type\": \"object\", \"additionalProperties\": {\"type\": \"array\"}}");
  for (int g = 0; g < tw_group_count(); g++) {
    put_group(&w, g);
  }
  put(&w, "\n  }\n}\n");
  return w.stopped ? TW_CANCELLED : TW_OK;
}
