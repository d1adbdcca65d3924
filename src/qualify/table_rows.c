/* table_rows.c: fields to SI numbers and labels, and messages with their place. */
#include "table_inner.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- messages with their place --------------------------------------------------------------- */

void tw_reader_complain(tw_reader *r, tw_severity severity, const char *at, const char *hint,
                        const char *text)
{
  char excerpt[161];
  size_t n = 0;
  const bool has_place = at && at >= r->line.at && at <= r->line.at + r->line.length;
  const size_t offset = has_place ? (size_t)(at - r->line.at) : 0;
  /* a long line is shown only while the place is inside what is shown */
  for (; n < r->line.length && n < sizeof excerpt - 1 && offset < sizeof excerpt - 1; n++) {
    const unsigned char c = (unsigned char)r->line.at[n];
    excerpt[n] = c < 0x20 || c >= 0x7f ? (c == '\t' ? ' ' : '?') : (char)c;
  }
  excerpt[n] = '\0';
  const tw_place place = {r->name, (int)r->lines.number, has_place ? (int)offset + 1 : 0};
  tw_messages_add(r->messages, severity, place, NULL, n ? excerpt : NULL, hint, "%s", text);
  r->stopped |= tw_messages_errors(r->messages) >= TW_MESSAGE_LIMIT;
}

void tw_reader_wrong(tw_reader *r, const char *at, const char *hint, const char *format, ...)
{
  char text[240];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  tw_reader_complain(r, TW_ERROR, at, hint, text);
}

void tw_reader_no_memory(tw_reader *r)
{
  r->line.length = 0;
  tw_reader_wrong(r, NULL, "read fewer columns, or cut the file", "out of memory");
  r->stopped = r->lost = true;
}

/* ---- rows ------------------------------------------------------------------------------------ */

/* one column's array for `room` rows; false when there is no memory */
static bool grow_column(tw_reader *r, size_t c, size_t room)
{
  tw_readings *t = r->table;
  if (r->spec->column[c].kind == TW_LABEL) {
    uint32_t *larger = tw_resize(t->code[c], room, sizeof *larger);
    t->code[c] = larger ? larger : t->code[c];
    return larger != NULL;
  }
  const size_t numbers = r->spec->by_rows ? t->columns : 1;
  double *larger = tw_resize(t->number[c], room, numbers * sizeof *larger);
  t->number[c] = larger ? larger : t->number[c];
  return larger != NULL;
}

static bool grow(tw_reader *r)
{
  tw_readings *t = r->table;
  if (t->rows < r->room) {
    return true;
  }
  const size_t room = r->room ? r->room + r->room / 2 : 1024;
  for (size_t c = 0; c < (r->spec->by_rows ? 1 : t->columns); c++) {
    if (!grow_column(r, c, room)) {
      return false;
    }
  }
  if (r->spec->keep_lines) {
    uint32_t *larger = tw_resize(t->line, room, sizeof *t->line);
    if (!larger) {
      return false;
    }
    t->line = larger;
  }
  r->room = room;
  return true;
}

/* where the number of column c of the row at hand goes */
static double *place_of(const tw_reader *r, size_t c)
{
  const tw_readings *t = r->table;
  return r->spec->by_rows ? &t->number[0][t->rows * t->columns + c] : &t->number[c][t->rows];
}

/* the code of a label, a new one if it was not seen before; SIZE_MAX on failure */
static size_t label_code(tw_reader *r, size_t c, tw_slice field)
{
  tw_readings *t = r->table;
  for (size_t i = t->texts[c]; i-- > 0;) {
    if (tw_slice_is(field, t->text[c][i])) {
      return i;
    }
  }
  if (t->texts[c] == TW_TABLE_LABELS) {
    tw_reader_wrong(r, field.at, "is this the right column?",
                    "more than %d different labels in column '%s'", TW_TABLE_LABELS,
                    r->spec->column[c].name);
    r->stopped = true;
    return SIZE_MAX;
  }
  char **larger = tw_resize(t->text[c], t->texts[c] + 1, sizeof *larger);
  if (larger) {
    t->text[c] = larger;
    larger[t->texts[c]] = tw_alloc(field.length + 1, 1);
  }
  if (!larger || !larger[t->texts[c]]) {
    tw_reader_no_memory(r);
    return SIZE_MAX;
  }
  memcpy(larger[t->texts[c]], field.at, field.length);
  return t->texts[c]++;
}

static bool starts_like_nan(tw_slice f)
{
  const size_t sign = f.length > 0 && (f.at[0] == '-' || f.at[0] == '+');
  char word[4] = "";
  for (size_t i = 0; i < 3 && sign + i < f.length; i++) {
    word[i] = (char)tolower((unsigned char)f.at[sign + i]);
  }
  return strcmp(word, "nan") == 0 || strcmp(word, "inf") == 0;
}

static void say_no_number(tw_reader *r, tw_slice f, const char *column)
{
  const int shown = (int)(f.length < 40 ? f.length : 40);
  if (f.length == 0) {
    tw_reader_wrong(r, f.at, "put the number in, or take the row out", "column '%s' is empty here",
                    column);
  } else if (memchr(f.at, ',', f.length)) {
    tw_reader_wrong(r, f.at, "write the decimal point as a point: 12.5",
                    "'%.*s' in column '%s' has a decimal comma", shown, f.at, column);
  } else if (starts_like_nan(f)) {
    tw_reader_wrong(r, f.at, "leave the field empty where there is no reading",
                    "'%.*s' in column '%s' is not a reading", shown, f.at, column);
  } else {
    tw_reader_wrong(r, f.at,
                    "digits, one point, and e with an exponent; the unit belongs in the heading",
                    "'%.*s' in column '%s' is not a number, or too large", shown, f.at, column);
  }
}

/* field to SI number */
static bool read_number(tw_reader *r, size_t c, tw_slice f, double *out)
{
  const tw_column *column = &r->spec->column[c];
  const tw_column_unit *unit = &r->table->unit[c];
  double value;
  if (f.length == 0 && column->may_be_empty) {
    *out = (double)NAN;
    return true;
  }
  if (!tw_number_read(f.at, f.length, &value)) {
    say_no_number(r, f, column->name);
    return false;
  }
  *out = value * unit->times / unit->over + unit->plus;
  if (!isfinite(*out)) {
    say_no_number(r, f, column->name);
    return false;
  }
  return true;
}

/* is column `field` of the line one that was asked for? */
static bool is_wanted(const tw_reader *r, size_t field)
{
  for (size_t c = 0; c < r->table->columns; c++) {
    if (r->index[c] == field) {
      return true;
    }
  }
  return false;
}

void tw_reader_watch_summary(tw_reader *r)
{
  static const char *const words[] = {"mean", "average", "avg",   "median",
                                      "sum",  "total",   "stdev", "stddev"};
  for (size_t f = 0; f < r->fields && r->fields > r->table->columns; f++) {
    char word[sizeof r->summary_word] = "";
    for (size_t i = 0; i < r->field[f].length && i + 1 < sizeof word; i++) {
      word[i] = (char)tolower((unsigned char)r->field[f].at[i]);
    }
    for (size_t k = 0; isalpha((unsigned char)word[0]) && k < sizeof words / sizeof words[0]; k++) {
      if (strcmp(word, words[k]) == 0 && !is_wanted(r, f)) {
        if (r->summaries++ == 0) {
          r->summary_line = r->lines.number;
          memcpy(r->summary_word, word, sizeof word);
        }
        return;
      }
    }
  }
  r->summaries = 0; /* a reading follows: the word was no closing row */
}

/* the fields at hand become one row; a bad row is left out and counted as an error */
void tw_reader_take_row(tw_reader *r)
{
  tw_readings *t = r->table;
  if (t->rows >= TW_TABLE_ROWS || !grow(r)) {
    tw_reader_no_memory(r);
    return;
  }
  for (size_t c = 0; c < t->columns && !r->stopped; c++) {
    const tw_slice f = r->field[r->index[c]];
    if (r->spec->column[c].kind == TW_LABEL) {
      const size_t code = label_code(r, c, f);
      if (code == SIZE_MAX) {
        return;
      }
      t->code[c][t->rows] = (uint32_t)code;
    } else if (!read_number(r, c, f, place_of(r, c))) {
      return;
    }
  }
  if (t->line) {
    t->line[t->rows] = r->lines.number;
  }
  t->rows++;
}
