/* print.c: a design as text: one value, or all of it with the origin of each value. */
#include "inside.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* text through a sink; stops at the first refusal */
typedef struct printer {
  const tw_design *design;
  tw_units *units;
  tw_system system;
  const tw_sink *sink;
  int column; /* characters since the line began */
  bool stopped;
} printer;

#define TW_ORIGIN_COLUMN 44

static void put(printer *p, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void put(printer *p, const char *format, ...)
{
  char text[TW_WORD_LIMIT + 200];
  va_list list;
  va_start(list, format);
  const int n = vsnprintf(text, sizeof text, format, list);
  va_end(list);
  const size_t length = n < 0 ? 0 : (size_t)n < sizeof text ? (size_t)n : sizeof text - 1;
  p->stopped = p->stopped || !p->sink->put(p->sink->self, text, length);
  const char *line = strrchr(text, '\n');
  p->column =
      line ? tw_characters(line + 1, strlen(line + 1)) : p->column + tw_characters(text, length);
}

static void shown_unit(const printer *p, const char *name, tw_unit *out)
{
  tw_unit unit = {.name = "1", .scale = 1, .decimal = true};
  (void)tw_units_find(p->units, name, &unit, NULL);
  tw_unit_shown(p->units, &unit, p->system, out);
}

int tw_design_print_value(const tw_design *design, tw_field field, tw_units *units,
                          tw_system system, char *out, size_t size)
{
  const tw_field_info *info = tw_field_of(field);
  const tw_value *v = tw_design_value(design, field);
  const printer p = {.units = units, .system = system};
  if (v->origin == TW_ORIGIN_UNSET) {
    return snprintf(out, size, "unset");
  }
  switch (info->type) {
  case TW_TYPE_CHOICE:
    return snprintf(out, size, "%s", tw_choice_word(info->set, (int)v->number));
  case TW_TYPE_COUNT:
    return snprintf(out, size, "%d", (int)v->number);
  case TW_TYPE_TEXT:
    return snprintf(out, size, "%s", v->text ? v->text : "");
  case TW_TYPE_TABLE:
    return snprintf(out, size, "%zu rows", v->table ? v->table->rows : (size_t)0);
  default:
    break;
  }
  tw_unit unit;
  shown_unit(&p, info->unit, &unit);
  const tw_quantity q = {v->number, v->tolerance};
  return tw_quantity_print(&q, &unit, system == TW_METRIC ? 0 : 6, out, size);
}

/* ---- text that reads back
 * ------------------------------------------------------------------------ */

/* always in double quotes: any text */
static void put_quoted(printer *p, const char *text)
{
  put(p, "\"");
  for (const char *c = text; *c; c++) {
    if (*c == '"' || *c == '\\') {
      put(p, "\\%c", *c);
    } else if ((unsigned char)*c < 0x20) {
      put(p, "\\x%02X", (unsigned)(unsigned char)*c);
    } else {
      put(p, "%c", *c);
    }
  }
  put(p, "\"");
}

/* unit name of column c of "mm travel|N force"; false for words */
static bool column_unit(const char *columns, size_t c, char *out, size_t size)
{
  const char *p = columns;
  for (; c > 0 && (p = strchr(p, '|')); c--) {
    p++;
  }
  const char *end = p ? p + strcspn(p, "|") : columns;
  while (p && end > p && *end != ' ') {
    end--;
  }
  snprintf(out, size, "%.*s", p ? (int)(end - p) : 0, p ? p : "");
  return strcmp(out, "text") != 0;
}

static void put_table(printer *p, const tw_field_info *info, const tw_table *table)
{
  put(p, "[");
  for (size_t i = 0; i < table->rows; i++) {
    put(p, "%s[", i ? ", " : "");
    for (size_t c = 0; c < table->columns; c++) {
      const tw_cell *cell = &table->cells[i * table->columns + c];
      char name[TW_UNIT_NAME], text[160];
      put(p, "%s", c ? ", " : "");
      if (!column_unit(info->unit, c, name, sizeof name)) {
        put_quoted(p, cell->text);
        continue;
      }
      tw_unit unit;
      shown_unit(p, name, &unit);
      const tw_quantity q = {cell->number, cell->tolerance};
      tw_quantity_print(&q, &unit, p->system == TW_METRIC ? 0 : 6, text, sizeof text);
      put(p, "%s", text);
    }
    put(p, "]");
  }
  put(p, "]");
}

static void put_origin(printer *p, const tw_value *v)
{
  const int gap = TW_ORIGIN_COLUMN - p->column;
  put(p, "%*s# %s", gap > 2 ? gap : 2, "", tw_origin_word(v->origin));
  if (v->origin > TW_ORIGIN_LIBRARY && v->place.line > 0) {
    put(p, ", %s:%d", v->place.file, v->place.line);
  }
  put(p, "\n");
}

static void put_field(printer *p, tw_field field, const char *key, const char *indent)
{
  const tw_field_info *info = tw_field_of(field);
  const tw_value *v = tw_design_value(p->design, field);
  put(p, "%s%s: ", indent, key);
  if (info->type == TW_TYPE_TABLE && v->table) {
    put_table(p, info, v->table);
  } else if (info->type == TW_TYPE_TEXT) {
    put_quoted(p, v->text ? v->text : "");
  } else {
    char text[200];
    tw_design_print_value(p->design, field, p->units, p->system, text, sizeof text);
    put(p, "%s", text);
  }
  put_origin(p, v);
}

static bool worth_printing(const tw_design *d, tw_field field)
{
  return tw_design_has(d, field) &&
         (tw_design_applies(d, field) || tw_design_value(d, field)->origin >= TW_ORIGIN_GIVEN);
}

static void put_groups(printer *p)
{
  int open = -1;
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field field = (tw_field)i;
    const char *path = tw_field_of(field)->path;
    const int g = tw_group_of(path);
    if (!worth_printing(p->design, field)) {
      continue;
    }
    if (g < 0) {
      put_field(p, field, path, "");
      continue;
    }
    if (g != open) {
      put(p, "%s:\n", tw_group_name(g));
      open = g;
    }
    put_field(p, field, strchr(path, '.') + 1, "  ");
  }
}

static void put_requirements(printer *p)
{
  const size_t n = tw_design_requirements(p->design);
  put(p, "%s", n ? "requirements:\n" : "");
  for (size_t i = 0; i < n; i++) {
    const tw_requirement *q = tw_design_requirement(p->design, i);
    put(p, "  %s: ", q->name);
    put_quoted(p, q->text);
    put(p, "  # %s:%d\n", q->place.file, q->place.line);
  }
}

static void put_parts(printer *p)
{
  static const char *const state[] = {"open", "ordered", "in_hand", "fitted"};
  const size_t n = tw_design_parts(p->design);
  put(p, "%s", n ? "parts:\n" : "");
  for (size_t i = 0; i < n; i++) {
    const tw_part *part = tw_design_part(p->design, i);
    put(p, "  %s: {state: %s, lead_time: %.17g day, cost: %.17g, hours: %.17g h, operations: %d",
        part->name, state[part->state], part->lead_time / 86400, part->cost, part->hours / 3600,
        part->operations);
    if (part->process) {
      put(p, ", process: ");
      put_quoted(p, part->process);
    }
    put(p, "}  # %s:%d\n", part->place.file, part->place.line);
  }
}

static void put_processes(printer *p)
{
  const size_t n = tw_design_processes(p->design);
  tw_unit mm;
  shown_unit(p, "mm", &mm);
  put(p, "%s", n ? "processes:\n" : "");
  for (size_t i = 0; i < n; i++) {
    const tw_process *q = tw_design_process(p->design, i);
    const struct {
      const char *key;
      const tw_quantity *offset;
      bool has;
    } row[] = {{"offset_xy", &q->offset_xy, q->has.xy},
               {"offset_hole", &q->offset_hole, q->has.hole},
               {"offset_place", &q->offset_place, q->has.place},
               {"offset_z", &q->offset_z, q->has.z}};
    bool any = false;
    put(p, "  %s: {", q->name);
    for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
      char text[160];
      if (row[k].has) {
        tw_quantity_print(row[k].offset, &mm, 0, text, sizeof text);
        put(p, "%s%s: %s", any ? ", " : "", row[k].key, text);
        any = true;
      }
    }
    put(p, "}  # %s:%d\n", q->place.file, q->place.line);
  }
}

tw_status tw_design_print_flat(const tw_design *design, tw_units *units, tw_system system,
                               const tw_sink *sink)
{
  printer p = {.design = design, .units = units, .system = system, .sink = sink};
  put(&p, "# %s%s%s, merged: value  # origin, place\n", tw_design_file(design),
      tw_design_base(design) ? " on " : "", tw_design_base(design) ? tw_design_base(design) : "");
  put_groups(&p);
  put_requirements(&p);
  put_parts(&p);
  put_processes(&p);
  return p.stopped ? TW_CANCELLED : TW_OK;
}
