/* table_heading.c: which field is which column, and in what unit. */
#include "table_inner.h"
#include "tripwright/text.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- heading --------------------------------------------------------------------------------- */

/* the unit part of a heading: "x_mm", "x [mm]", "x (mm)"; NULL if it has none that is known */
static const tw_column_unit *unit_in(tw_slice name)
{
  const char *end = name.at + name.length;
  if (name.length > 2 && (end[-1] == ']' || end[-1] == ')')) {
    const char open = end[-1] == ']' ? '[' : '(';
    for (const char *p = end - 1; p > name.at; p--) {
      if (*p == open) {
        return tw_column_unit_named(p + 1, (size_t)(end - 1 - p - 1));
      }
    }
    return NULL;
  }
  /* the longest known ending: feed_mm_min is mm_min, not min */
  for (const char *p = name.at; p < end; p++) {
    const tw_column_unit *unit =
        *p == '_' ? tw_column_unit_named(p + 1, (size_t)(end - p - 1)) : NULL;
    if (unit) {
      return unit;
    }
  }
  return NULL;
}

/* is the unit right for what the column is read as? */
static bool suits(tw_kind kind, const tw_column_unit *unit)
{
  return kind == TW_ANY || unit->kind == kind;
}

static const char *kind_words(tw_kind kind)
{
  static const char *const words[] = {
      "a number without unit", "a length",  "an angle", "a speed", "a force", "a time",
      "a temperature",         "a voltage", "a number", "a label"};
  return words[kind];
}

/* the unit of column c: the user's, or the heading's; both must agree */
static void settle_unit(tw_reader *r, size_t c, tw_slice heading)
{
  static const tw_column_unit pure = {"1", TW_PURE, 1, 1, 0};
  const tw_column *column = &r->spec->column[c];
  if (column->kind == TW_LABEL) {
    r->table->unit[c] = pure;
    return;
  }
  const tw_column_unit *given =
      column->unit[0] ? tw_column_unit_named(column->unit, strlen(column->unit)) : NULL;
  const tw_column_unit *shown = heading.length ? unit_in(heading) : NULL;
  if (column->unit[0] && !given) {
    tw_reader_wrong(r, heading.at,
                    "known: m mm um nm in thou rad deg m/s mm/s mm/min N mN gf s ms min C K V",
                    "column '%s': '%s' is not a unit", column->name, column->unit);
    return;
  }
  if (given && shown && strcmp(given->name, shown->name) != 0 &&
      (given->kind != shown->kind || given->times * shown->over != shown->times * given->over)) {
    tw_reader_wrong(r, heading.at, "take the unit away from the one that is wrong",
                    "column '%s' is headed in %s, but you say %s", column->name, shown->name,
                    given->name);
    return;
  }
  const tw_column_unit *unit = given ? given : shown;
  if (!unit && column->kind != TW_PURE && column->kind != TW_ANY) {
    tw_reader_wrong(r, heading.at, "name it in the heading (x_mm) or beside the name (x:mm)",
                    "column '%s' is %s, but has no unit", column->name, kind_words(column->kind));
    return;
  }
  if (unit && !suits(column->kind, unit)) {
    tw_reader_wrong(r, heading.at, "is this the right column?",
                    "column '%s' is in %s, which is not %s", column->name, unit->name,
                    kind_words(column->kind));
    return;
  }
  r->table->unit[c] = unit ? *unit : pure;
}

/* "#12" to 11; false for a name */
static bool numbered(const char *name, size_t *index)
{
  if (name[0] != '#' || !isdigit((unsigned char)name[1])) {
    return false;
  }
  char *end;
  errno = 0;
  const unsigned long n = strtoul(name + 1, &end, 10);
  *index = n - 1;
  return *end == '\0' && errno == 0 && n > 0;
}

/* five or more words, none with a digit, an underscore or a colon as names with units have them, or
 * a field of several words: a line of text, not the names of columns */
static bool reads_like_text(const tw_reader *r)
{
  bool named = false, several = false;
  for (size_t f = 0; f < r->fields; f++) {
    size_t blanks = 0;
    for (size_t i = 0; i < r->field[f].length; i++) {
      const char c = r->field[f].at[i];
      named = named || c == '_' || c == ':' || isdigit((unsigned char)c);
      blanks += c == ' ';
    }
    several = several || blanks >= 3;
  }
  return !named && (several || r->fields >= 5);
}

static void say_no_such_column(tw_reader *r, const char *name)
{
  if (reads_like_text(r)) {
    if (!r->stopped) { /* once, whatever the number of columns that are asked for */
      tw_reader_wrong(r, r->line.at, "is this the file with the readings?",
                      "a line of text where the names of the columns should be");
    }
    r->stopped = true;
    return;
  }
  char list[160];
  tw_text text = tw_text_in(list, sizeof list);
  for (size_t f = 0; f < r->fields && text.length + 40 < sizeof list; f++) {
    tw_text_add(&text, "%s%.*s", f ? ", " : "",
                (int)(r->field[f].length < 30 ? r->field[f].length : 30), r->field[f].at);
  }
  char hint[200];
  snprintf(hint, sizeof hint, "the heading has: %s", list);
  tw_reader_wrong(r, r->line.at, hint, "no column is called '%s'", name);
}

/* find every wanted column among the fields of the heading (or by number where there is none) */
void tw_reader_settle_columns(tw_reader *r, bool has_heading)
{
  for (size_t c = 0; c < r->spec->columns; c++) {
    const tw_column *column = &r->spec->column[c];
    size_t found = SIZE_MAX, doubled = 0;
    const bool by_number = numbered(column->name, &found);
    for (size_t f = 0; !by_number && has_heading && f < r->fields; f++) {
      if (tw_slice_is(r->field[f], column->name)) {
        doubled += found != SIZE_MAX;
        found = f;
      }
    }
    if (doubled) {
      tw_reader_wrong(r, r->field[found].at, "name it by its number, as #3",
                      "two columns are called '%s'", column->name);
    } else if (found == SIZE_MAX && !has_heading) {
      tw_reader_wrong(r, NULL, "without a heading columns are named #1, #2, ...",
                      "column '%s' cannot be found without a heading", column->name);
    } else if (found == SIZE_MAX) {
      say_no_such_column(r, column->name);
    } else if (found >= r->fields) {
      tw_reader_wrong(
          r, NULL, r->has_pattern ? "put one more pair of () round it" : "count them in the line",
          "column %s: there are only %zu fields", column->name, r->fields);
    } else {
      r->index[c] = found;
      settle_unit(r, c, has_heading ? r->field[found] : (tw_slice){0});
    }
  }
}
