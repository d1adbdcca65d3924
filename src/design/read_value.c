/* read_value.c: one value of the design from one node of the tree. */
#include "inside.h"
#include "tripwright/text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TW_ROW_LIMIT 2000

void tw_reading_say(tw_reading *r, tw_severity severity, tw_place place, const char *field,
                    const char *hint, const char *format, ...)
{
  char text[400], excerpt[160];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  const char *line = NULL;
  for (size_t i = 0; place.file && i < r->store->source_count; i++) {
    if (r->store->source[i].file == place.file) {
      line = tw_source_line(&r->store->source[i], place.line, excerpt, sizeof excerpt);
    }
  }
  tw_messages_add(r->messages, severity, place, field, line, hint, "%s", text);
}

void *tw_reading_take(tw_reading *r, size_t size)
{
  void *piece = tw_arena_take(r->store->arena, size);
  r->no_memory |= !piece;
  return piece;
}

const char *tw_reading_keep(tw_reading *r, const char *text)
{
  const char *copy = tw_arena_text(r->store->arena, text, strlen(text));
  r->no_memory |= !copy;
  return copy;
}

tw_place tw_reading_place(const tw_reading *r, const tw_node *node)
{
  return (tw_place){r->source->file, node->line, node->column};
}

/* the place of byte `at` of a scalar's text */
static tw_place place_inside(const tw_reading *r, const tw_node *node, size_t at)
{
  tw_place place = tw_reading_place(r, node);
  if (place.line > 0) {
    place.column += node->quoted + tw_characters(node->text, at);
  }
  return place;
}

static const char *kind_words(tw_node_kind kind)
{
  return kind == TW_NODE_MAP ? "a group of keys" : kind == TW_NODE_LIST ? "a list" : "a value";
}

/* ---- quantities ------------------------------------------------------------------------------ */

static bool find_unit(tw_reading *r, const char *path, const char *name, tw_unit *unit)
{
  tw_fault fault = {0};
  if (tw_units_find(r->options->units, name, unit, &fault) == TW_OK) {
    return true;
  }
  tw_reading_say(r, TW_ERROR, (tw_place){0}, path, NULL, "table: %s", fault.text);
  return false;
}

static bool scalar_only(tw_reading *r, const char *path, const tw_node *node)
{
  if (node->kind != TW_NODE_SCALAR) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), path,
                   "write it on one line after the key", "%s stands where one value is expected",
                   kind_words(node->kind));
    return false;
  }
  if (!node->text[0]) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), path, "give a value or remove the key",
                   "no value after the key");
    return false;
  }
  return true;
}

static bool quantity_of(tw_reading *r, const char *path, const tw_unit *unit, const tw_node *node,
                        tw_quantity *out)
{
  tw_fault fault = {0};
  size_t at = 0;
  if (tw_quantity_read(r->options->units, node->text, unit, out, &at, &fault) != TW_OK) {
    tw_reading_say(r, TW_ERROR, place_inside(r, node, at), path, fault.hint, "%s", fault.text);
    return false;
  }
  return true;
}

bool tw_read_quantity(tw_reading *r, const char *path, const char *unit, const tw_node *node,
                      tw_quantity *out)
{
  tw_unit u;
  return scalar_only(r, path, node) && find_unit(r, path, unit, &u) &&
         quantity_of(r, path, &u, node, out);
}

/* room at a limit for the last rounding, relative to that limit alone */
#define TW_LIMIT_ROUNDING 1e-9
/* M written as m */
#define TW_MEGA_OVER_MILLI 1e9

static bool between(const tw_field_info *info, double shown)
{
  return shown >= info->least - TW_LIMIT_ROUNDING * fabs(info->least) &&
         shown <= info->most + TW_LIMIT_ROUNDING * fabs(info->most);
}

/* the usual slip of a prefix: the value would do if its m were an M, or the reverse */
static bool prefix_slip(const tw_field_info *info, const char *text, double shown)
{
  const char *letter = text + strcspn(text, "mM");
  return (*letter == 'm' && letter[1] > ' ' && between(info, shown * TW_MEGA_OVER_MILLI)) ||
         (*letter == 'M' && between(info, shown / TW_MEGA_OVER_MILLI));
}

/* the text with its first m and M exchanged */
static void exchange_prefix(const char *text, char *out, size_t size)
{
  const size_t at = strcspn(text, "mM");
  snprintf(out, size, "%s", text);
  if (at + 1 < size && out[at]) {
    out[at] = out[at] == 'm' ? 'M' : 'm';
  }
}

/* within least..most of the table */
static bool in_range(tw_reading *r, const tw_field_info *info, const tw_unit *unit,
                     const tw_node *node, double si)
{
  const double shown = tw_unit_from_si(unit, si, false);
  if (between(info, shown)) {
    return true;
  }
  char value[64], least[64], most[64], hint[240];
  if (prefix_slip(info, node->text, shown)) {
    /* as written: in the table's unit it would be 1e-9 of something */
    exchange_prefix(node->text, value, sizeof value);
    snprintf(hint, sizeof hint, "m means milli, M mega: did you mean %s? %s", value, info->help);
    snprintf(value, sizeof value, "%s", node->text);
  } else {
    snprintf(hint, sizeof hint, "%s", info->help);
    tw_number_print(si, unit, 6, value, sizeof value);
  }
  tw_number_print(tw_unit_to_si(unit, info->least, false), unit, 6, least, sizeof least);
  tw_number_print(tw_unit_to_si(unit, info->most, false), unit, 6, most, sizeof most);
  tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), info->path, hint,
                 "%s is not between %s and %s", value, least, most);
  return false;
}

static bool read_number(tw_reading *r, const tw_field_info *info, const tw_node *node, tw_value *v)
{
  tw_unit unit;
  tw_quantity q;
  if (!find_unit(r, info->path, info->unit, &unit) ||
      !quantity_of(r, info->path, &unit, node, &q) || !in_range(r, info, &unit, node, q.number)) {
    return false;
  }
  v->number = q.number;
  v->tolerance = q.tolerance;
  return true;
}

static bool read_count(tw_reading *r, const tw_field_info *info, const tw_node *node, tw_value *v)
{
  char *end;
  const long n = strtol(node->text, &end, 10);
  const bool plain = node->text[0] >= '0' && node->text[0] <= '9' && !*end;
  if (!plain || (double)n < info->least || (double)n > info->most) {
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), info->path, info->help,
                   "'%.40s' is no whole number from %g to %g", node->text, info->least, info->most);
    return false;
  }
  v->number = (double)n;
  return true;
}

/* ---- choices --------------------------------------------------------------------------------- */

static void wrong_choice(tw_reading *r, const tw_field_info *info, const tw_node *node)
{
  const char *names[64];
  char list[240];
  tw_text text = tw_text_in(list, sizeof list);
  const size_t count = tw_choice_count(info->set);
  for (size_t i = 0; i < count && i < 64; i++) {
    names[i] = tw_choice_word(info->set, (int)i);
    tw_text_add(&text, "%s%s", i ? ", " : "", names[i]);
  }
  const char *near = tw_nearest_name(node->text, names, count);
  char hint[80] = "";
  if (near) {
    snprintf(hint, sizeof hint, "did you mean '%s'?", near);
  }
  tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), info->path, hint, "'%.40s' is none of: %s",
                 node->text, list);
}

/* "points N" is a choice and a count in one */
static bool points_and_count(tw_reading *r, const tw_node *node, tw_value *v)
{
  if (strncmp(node->text, "points ", 7) != 0) {
    return false;
  }
  tw_node count = *node;
  count.text = node->text + 7;
  count.column += node->line ? 7 : 0;
  tw_read_value(r, TW_F_seat_contact_points, &count);
  v->number = TW_CONTACT_POINTS;
  return true;
}

static bool read_choice(tw_reading *r, tw_field field, const tw_node *node, tw_value *v)
{
  const tw_field_info *info = tw_field_of(field);
  const int choice = tw_choice_find(info->set, node->text);
  if (choice >= 0) {
    v->number = choice;
    return true;
  }
  if (info->set == TW_SET_CONTACT && points_and_count(r, node, v)) {
    return true;
  }
  wrong_choice(r, info, node);
  return false;
}

/* ---- tables ---------------------------------------------------------------------------------- */

#define TW_COLUMN_LIMIT 4
typedef struct column {
  bool text;
  tw_unit unit;
} column;

/* "mm travel|N force" */
static size_t table_columns(tw_reading *r, const tw_field_info *info, column *out)
{
  size_t n = 0;
  for (const char *p = info->unit; *p && n < TW_COLUMN_LIMIT; n++) {
    const char *bar = strchr(p, '|');
    const char *end = bar ? bar : p + strlen(p);
    const char *space = end;
    while (space > p && *space != ' ') {
      space--;
    }
    char name[TW_UNIT_NAME];
    snprintf(name, sizeof name, "%.*s", (int)(space - p), p);
    out[n].text = strcmp(name, "text") == 0;
    if (!out[n].text && !find_unit(r, info->path, name, &out[n].unit)) {
      return 0;
    }
    p = *end ? end + 1 : end;
  }
  return n;
}

static bool read_cell(tw_reading *r, const tw_field_info *info, const column *c,
                      const tw_node *node, tw_cell *cell)
{
  if (!scalar_only(r, info->path, node)) {
    return false;
  }
  cell->text = tw_reading_keep(r, node->text);
  if (c->text || !cell->text) {
    return cell->text != NULL;
  }
  tw_quantity q;
  /* in a table a plain number is in the column's unit */
  char *end;
  const double plain = strtod(node->text, &end);
  if (end != node->text && !*end && strpbrk(node->text, "xXnN") == NULL) {
    q = (tw_quantity){.number = tw_unit_to_si(&c->unit, plain, false)};
    if (!isfinite(q.number)) {
      tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), info->path, NULL,
                     "the number is too large");
      return false;
    }
  } else if (!quantity_of(r, info->path, &c->unit, node, &q)) {
    return false;
  }
  cell->number = q.number;
  cell->tolerance = q.tolerance;
  return true;
}

static bool read_row(tw_reading *r, const tw_field_info *info, const column *columns, size_t n,
                     const tw_node *row, tw_cell *cells)
{
  if (row->kind == TW_NODE_SCALAR && n == 1) {
    return read_cell(r, info, columns, row, cells);
  }
  if (row->kind != TW_NODE_LIST || row->count != n) {
    char hint[120];
    snprintf(hint, sizeof hint, "write each row as [a, b] with %zu: %s", n, info->unit);
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, row), info->path, hint,
                   "a row needs %zu value%s", n, n == 1 ? "" : "s");
    return false;
  }
  size_t c = 0;
  bool good = true;
  for (const tw_node *cell = row->first; cell; cell = cell->next, c++) {
    good &= read_cell(r, info, &columns[c], cell, &cells[c]);
  }
  return good;
}

static bool read_table(tw_reading *r, const tw_field_info *info, const tw_node *node, tw_value *v)
{
  column columns[TW_COLUMN_LIMIT];
  const size_t n = table_columns(r, info, columns);
  if (!n || node->kind != TW_NODE_LIST || node->count == 0 || node->count > TW_ROW_LIMIT) {
    char hint[120];
    snprintf(hint, sizeof hint, "write [[a, b], [c, d]], each row: %s", info->unit);
    tw_reading_say(r, TW_ERROR, tw_reading_place(r, node), info->path, hint,
                   "a list of 1 to %d rows is expected", TW_ROW_LIMIT);
    return false;
  }
  tw_table *table = tw_reading_take(r, sizeof *table);
  tw_cell *cells = tw_reading_take(r, node->count * n * sizeof *cells);
  if (!table || !cells) {
    return false;
  }
  size_t i = 0;
  bool good = true;
  for (const tw_node *row = node->first; row; row = row->next, i++) {
    good &= read_row(r, info, columns, n, row, cells + i * n);
  }
  *table = (tw_table){.rows = node->count, .columns = n, .cells = cells};
  v->table = table;
  return good;
}

/* ---- any value ------------------------------------------------------------------------------- */

void tw_read_value(tw_reading *r, tw_field field, const tw_node *node)
{
  const tw_field_info *info = tw_field_of(field);
  tw_value v = {.origin = r->origin, .place = tw_reading_place(r, node)};
  if (v.origin > TW_ORIGIN_LIBRARY && strncmp(info->path, "measured.", 9) == 0) {
    v.origin = TW_ORIGIN_MEASURED;
  }
  bool good;
  if (info->type == TW_TYPE_TABLE) {
    good = read_table(r, info, node, &v);
  } else if (!scalar_only(r, info->path, node)) {
    return;
  } else if (info->type == TW_TYPE_CHOICE) {
    good = read_choice(r, field, node, &v);
  } else if (info->type == TW_TYPE_COUNT) {
    good = read_count(r, info, node, &v);
  } else if (info->type == TW_TYPE_TEXT) {
    good = true;
  } else {
    good = read_number(r, info, node, &v);
  }
  if (!good) {
    /* a wrong value is an error already: it keeps its origin so as not to be missed as well, and
     * no number, so that no comparison complains about it */
    v.number = info->type == TW_TYPE_CHOICE ? -1 : (double)NAN;
  }
  v.text = node->kind == TW_NODE_SCALAR ? tw_reading_keep(r, node->text) : "";
  v.start = node->start;
  v.length = node->end - node->start;
  r->design->value[field] = v;
}

void tw_read_text(tw_reading *r, tw_field field, const char *text, tw_place place)
{
  const tw_field_info *info = tw_field_of(field);
  const tw_source source = {.file = place.file};
  const tw_source *held = r->source;
  r->source = &source;
  if (info->type == TW_TYPE_TABLE) {
    tw_source whole;
    tw_node *node = NULL;
    tw_status status = tw_source_take(r->store->arena, place.file ? place.file : "", text,
                                      strlen(text), r->messages, &whole);
    status = status == TW_OK ? tw_source_tree(r->store->arena, &whole, r->messages, &node) : status;
    r->no_memory |= status == TW_NO_MEMORY;
    if (status == TW_OK) {
      tw_read_value(r, field, node);
    }
  } else {
    const tw_node node = {
        .kind = TW_NODE_SCALAR, .text = text, .line = place.line, .column = place.column};
    tw_read_value(r, field, &node);
  }
  r->source = held;
}
