/* table.c: from lines to columns of SI numbers and labels. */
#include "table_inner.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TW_GROUPS 32 /* groups of the user's expression */

struct reader {
  const char *name;
  const tw_table_spec *spec;
  tw_messages *messages;
  tw_table *table;
  tw_lines lines;
  tw_slice line;       /* the line at hand */
  tw_slice *field;     /* its fields */
  size_t *index;       /* field of each column */
  size_t fields, room; /* fields in the heading; rows there is room for */
  regex_t pattern;
  bool has_pattern, stopped;
};

/* ---- messages with their place --------------------------------------------------------------- */

static void complain(struct reader *r, tw_severity severity, const char *at, const char *hint,
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

static void wrong(struct reader *r, const char *at, const char *hint, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
static void wrong(struct reader *r, const char *at, const char *hint, const char *format, ...)
{
  char text[240];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  complain(r, TW_ERROR, at, hint, text);
}

static void no_memory(struct reader *r)
{
  r->line.length = 0;
  wrong(r, NULL, "read fewer columns, or cut the file", "out of memory");
  r->stopped = true;
}

/* ---- heading --------------------------------------------------------------------------------- */

/* the unit part of a heading: "x_mm", "x [mm]", "x (mm)"; NULL if it has none that is known */
static const tw_unit *unit_in(tw_slice name)
{
  const char *end = name.at + name.length;
  if (name.length > 2 && (end[-1] == ']' || end[-1] == ')')) {
    const char open = end[-1] == ']' ? '[' : '(';
    for (const char *p = end - 1; p > name.at; p--) {
      if (*p == open) {
        return tw_unit_named(p + 1, (size_t)(end - 1 - p - 1));
      }
    }
    return NULL;
  }
  /* the longest known ending: feed_mm_min is mm_min, not min */
  for (const char *p = name.at; p < end; p++) {
    const tw_unit *unit = *p == '_' ? tw_unit_named(p + 1, (size_t)(end - p - 1)) : NULL;
    if (unit) {
      return unit;
    }
  }
  return NULL;
}

/* is the unit right for what the column is read as? */
static bool suits(tw_kind kind, const tw_unit *unit)
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
static void settle_unit(struct reader *r, size_t c, tw_slice heading)
{
  static const tw_unit pure = {"1", TW_PURE, 1, 1, 0};
  const tw_column *column = &r->spec->column[c];
  if (column->kind == TW_LABEL) {
    r->table->unit[c] = pure;
    return;
  }
  const tw_unit *given = column->unit[0] ? tw_unit_named(column->unit, strlen(column->unit)) : NULL;
  const tw_unit *shown = heading.length ? unit_in(heading) : NULL;
  if (column->unit[0] && !given) {
    wrong(r, heading.at, "known: m mm um nm in thou rad deg m/s mm/s mm/min N mN gf s ms min C K V",
          "column '%s': '%s' is not a unit", column->name, column->unit);
    return;
  }
  if (given && shown && strcmp(given->name, shown->name) != 0 &&
      (given->kind != shown->kind || given->times * shown->over != shown->times * given->over)) {
    wrong(r, heading.at, "take the unit away from the one that is wrong",
          "column '%s' is headed in %s, but you say %s", column->name, shown->name, given->name);
    return;
  }
  const tw_unit *unit = given ? given : shown;
  if (!unit && column->kind != TW_PURE && column->kind != TW_ANY) {
    wrong(r, heading.at, "name it in the heading (x_mm) or beside the name (x:mm)",
          "column '%s' is %s, but has no unit", column->name, kind_words(column->kind));
    return;
  }
  if (unit && !suits(column->kind, unit)) {
    wrong(r, heading.at, "is this the right column?", "column '%s' is in %s, which is not %s",
          column->name, unit->name, kind_words(column->kind));
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

static bool same_text(tw_slice s, const char *text)
{
  return s.length == strlen(text) && memcmp(s.at, text, s.length) == 0;
}

static void say_no_such_column(struct reader *r, const char *name)
{
  char list[160];
  size_t used = 0;
  list[0] = '\0';
  for (size_t f = 0; f < r->fields && used + 40 < sizeof list; f++) {
    used +=
        (size_t)snprintf(list + used, sizeof list - used, "%s%.*s", f ? ", " : "",
                         (int)(r->field[f].length < 30 ? r->field[f].length : 30), r->field[f].at);
  }
  char hint[200];
  snprintf(hint, sizeof hint, "the heading has: %s", list);
  wrong(r, r->line.at, hint, "no column is called '%s'", name);
}

/* find every wanted column among the fields of the heading (or by number where there is none) */
static void settle_columns(struct reader *r, bool has_heading)
{
  for (size_t c = 0; c < r->spec->columns; c++) {
    const tw_column *column = &r->spec->column[c];
    size_t found = SIZE_MAX, doubled = 0;
    const bool by_number = numbered(column->name, &found);
    for (size_t f = 0; !by_number && has_heading && f < r->fields; f++) {
      if (same_text(r->field[f], column->name)) {
        doubled += found != SIZE_MAX;
        found = f;
      }
    }
    if (doubled) {
      wrong(r, r->field[found].at, "name it by its number, as #3", "two columns are called '%s'",
            column->name);
    } else if (found == SIZE_MAX && !has_heading) {
      wrong(r, NULL, "without a heading columns are named #1, #2, ...",
            "column '%s' cannot be found without a heading", column->name);
    } else if (found == SIZE_MAX) {
      say_no_such_column(r, column->name);
    } else if (found >= r->fields) {
      wrong(r, NULL, r->has_pattern ? "put one more pair of () round it" : "count them in the line",
            "column %s: there are only %zu fields", column->name, r->fields);
    } else {
      r->index[c] = found;
      settle_unit(r, c, has_heading ? r->field[found] : (tw_slice){0});
    }
  }
}

/* ---- rows ------------------------------------------------------------------------------------ */

static bool grow(struct reader *r)
{
  tw_table *t = r->table;
  if (t->rows < r->room) {
    return true;
  }
  const size_t room = r->room ? r->room + r->room / 2 : 1024;
  for (size_t c = 0; c < t->columns; c++) {
    void *larger = r->spec->column[c].kind == TW_LABEL
                       ? tw_resize(t->code[c], room, sizeof *t->code[c])
                       : tw_resize(t->number[c], room, sizeof *t->number[c]);
    if (!larger) {
      return false;
    }
    if (r->spec->column[c].kind == TW_LABEL) {
      t->code[c] = larger;
    } else {
      t->number[c] = larger;
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

/* the code of a label, a new one if it was not seen before; SIZE_MAX on failure */
static size_t label_code(struct reader *r, size_t c, tw_slice field)
{
  tw_table *t = r->table;
  for (size_t i = t->texts[c]; i-- > 0;) {
    if (same_text(field, t->text[c][i])) {
      return i;
    }
  }
  if (t->texts[c] == TW_TABLE_LABELS) {
    wrong(r, field.at, "is this the right column?", "more than %d different labels in column '%s'",
          TW_TABLE_LABELS, r->spec->column[c].name);
    r->stopped = true;
    return SIZE_MAX;
  }
  char **larger = tw_resize(t->text[c], t->texts[c] + 1, sizeof *larger);
  if (larger) {
    t->text[c] = larger;
    larger[t->texts[c]] = tw_alloc(field.length + 1, 1);
  }
  if (!larger || !larger[t->texts[c]]) {
    no_memory(r);
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

static void say_no_number(struct reader *r, tw_slice f, const char *column)
{
  const int shown = (int)(f.length < 40 ? f.length : 40);
  if (f.length == 0) {
    wrong(r, f.at, "put the number in, or take the row out", "column '%s' is empty here", column);
  } else if (memchr(f.at, ',', f.length)) {
    wrong(r, f.at, "write the decimal point as a point: 12.5",
          "'%.*s' in column '%s' has a decimal comma", shown, f.at, column);
  } else if (starts_like_nan(f)) {
    wrong(r, f.at, "leave the field empty where there is no reading",
          "'%.*s' in column '%s' is not a reading", shown, f.at, column);
  } else {
    wrong(r, f.at, "digits, one point, and e with an exponent; the unit belongs in the heading",
          "'%.*s' in column '%s' is not a number, or too large", shown, f.at, column);
  }
}

/* field to SI number */
static bool read_number(struct reader *r, size_t c, tw_slice f, double *out)
{
  const tw_column *column = &r->spec->column[c];
  const tw_unit *unit = &r->table->unit[c];
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

/* the fields at hand become one row; a bad row is left out and counted as an error */
static void take_row(struct reader *r)
{
  tw_table *t = r->table;
  if (t->rows >= TW_TABLE_ROWS || !grow(r)) {
    no_memory(r);
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
    } else if (!read_number(r, c, f, &t->number[c][t->rows])) {
      return;
    }
  }
  if (t->line) {
    t->line[t->rows] = r->lines.number;
  }
  t->rows++;
}

/* ---- lines ----------------------------------------------------------------------------------- */

static bool is_comment_or_empty(tw_slice line)
{
  size_t i = 0;
  while (i < line.length && (line.at[i] == ' ' || line.at[i] == '\t')) {
    i++;
  }
  return i == line.length || line.at[i] == '#';
}

static char separator_in(tw_slice line)
{
  static const char order[] = {',', ';', '\t'};
  for (size_t i = 0; i < sizeof order; i++) {
    if (memchr(line.at, order[i], line.length)) {
      return order[i];
    }
  }
  return ' ';
}

static bool all_numbers(const struct reader *r)
{
  double value;
  for (size_t f = 0; f < r->fields; f++) {
    if (!tw_number_read(r->field[f].at, r->field[f].length, &value)) {
      return false;
    }
  }
  return r->fields > 0;
}

/* cut the line at hand; false with a message if it cannot be a row */
static bool cut(struct reader *r, char separator, size_t *count)
{
  bool open_quote;
  *count = tw_fields_cut(r->line, separator, r->field, &open_quote);
  if (open_quote) {
    wrong(r, r->field[*count - 1].at, "close it on the same line", "a quote is not closed");
    return false;
  }
  if (*count > TW_TABLE_FIELDS) {
    wrong(r, NULL, "is the separator right? cut out the columns that you need",
          "more than %d fields in one line", TW_TABLE_FIELDS);
    r->stopped = true;
    return false;
  }
  return true;
}

static void say_wrong_count(struct reader *r, size_t count)
{
  const char *end = r->line.at + r->line.length;
  if (r->lines.open_ended) {
    wrong(r, end, "the file seems to be cut short: fetch it again, or take this line out",
          "the last line has %zu of %zu fields", count, r->fields);
  } else if (count > r->fields) {
    wrong(r, r->field[r->fields].at,
          "are there decimal commas? write points; quote text with commas",
          "%zu fields, but the heading has %zu", count, r->fields);
  } else {
    wrong(r, end, "put in what is missing; an empty field still needs its separator",
          "%zu fields, but the heading has %zu", count, r->fields);
  }
}

static void take_line(struct reader *r, bool *headed, char *separator)
{
  if (is_comment_or_empty(r->line)) {
    return;
  }
  size_t count;
  if (!*headed) {
    *separator = r->spec->separator ? r->spec->separator : separator_in(r->line);
    *headed = true;
    if (!cut(r, *separator, &r->fields)) {
      r->stopped = true;
      return;
    }
    if (!r->spec->no_heading && all_numbers(r)) {
      wrong(r, r->line.at, "add a line with names and units, or say that there is no heading",
            "the first line is all numbers where the names of the columns should be");
      r->stopped = true;
      return;
    }
    settle_columns(r, !r->spec->no_heading);
    r->stopped |= tw_messages_errors(r->messages) > 0;
    if (!r->spec->no_heading || r->stopped) {
      return;
    }
  }
  if (!cut(r, *separator, &count)) {
    return;
  }
  if (count != r->fields) {
    say_wrong_count(r, count);
    return;
  }
  take_row(r);
}

/* the line is a row if the expression matches; its groups are the fields */
static void take_matching_line(struct reader *r, char *copy)
{
  regmatch_t match[TW_GROUPS + 1];
  memcpy(copy, r->line.at, r->line.length);
  copy[r->line.length] = '\0';
  if (regexec(&r->pattern, copy, TW_GROUPS + 1, match, 0) != 0) {
    r->table->passed_by++;
    return;
  }
  for (size_t g = 0; g < r->fields; g++) {
    const regmatch_t m = match[g + 1];
    r->field[g] = m.rm_so < 0 ? (tw_slice){r->line.at, 0}
                              : (tw_slice){r->line.at + m.rm_so, (size_t)(m.rm_eo - m.rm_so)};
  }
  take_row(r);
}

static bool start_pattern(struct reader *r)
{
  const int code = regcomp(&r->pattern, r->spec->pattern, REG_EXTENDED);
  if (code != 0) {
    char why[120];
    regerror(code, &r->pattern, why, sizeof why);
    wrong(r, NULL, "POSIX extended syntax: [0-9]+, (...), no \\d", "the expression is wrong: %s",
          why);
    return false;
  }
  r->has_pattern = true;
  r->fields = r->pattern.re_nsub;
  if (r->fields == 0 || r->fields > TW_GROUPS) {
    wrong(r, NULL, "put ( ) round each number", "the expression has %zu groups; 1 to %d are needed",
          r->fields, TW_GROUPS);
    return false;
  }
  settle_columns(r, false);
  return tw_messages_errors(r->messages) == 0;
}

/* what can be wrong with the stream itself */
static void say_stream_failure(struct reader *r)
{
  r->line.length = 0;
  if (r->lines.too_long) {
    wrong(r, NULL, "is this a text table? its lines may be up to 1 MiB long",
          "a line longer than %zu characters", TW_TABLE_LINE);
  } else if (r->lines.no_memory) {
    no_memory(r);
  }
}

static void read_lines(struct reader *r)
{
  char *copy = NULL, separator = ',';
  bool headed = false;
  if (r->spec->pattern) {
    copy = tw_alloc(TW_TABLE_LINE + 1, 1);
    if (!copy) {
      no_memory(r);
    } else if (!start_pattern(r)) {
      r->stopped = true;
    }
  }
  while (!r->stopped && tw_lines_next(&r->lines, &r->line)) {
    const char *zero = memchr(r->line.at, '\0', r->line.length);
    if (zero) {
      wrong(r, zero, "save the table as plain text", "a zero byte: this is not a text file");
      r->stopped = true;
    } else if (copy) {
      take_matching_line(r, copy);
    } else {
      take_line(r, &headed, &separator);
    }
  }
  say_stream_failure(r);
  tw_free(copy);
}

static void finish(struct reader *r)
{
  r->table->lines = r->lines.number;
  r->table->bytes = r->lines.bytes;
  r->line.length = 0;
  if (r->table->rows == 0 && tw_messages_errors(r->messages) == 0) {
    wrong(r, NULL,
          r->spec->pattern ? "try the expression on one line of the file"
                           : "is this the right file?",
          r->spec->pattern ? "no line matches the expression" : "there is no row of readings");
  } else if (r->lines.open_ended && !r->stopped && tw_messages_errors(r->messages) == 0) {
    complain(r, TW_WARNING, NULL, "check that the file was written to its end",
             "the last line has no line end");
  }
}

/* ---- whole tables ---------------------------------------------------------------------------- */

void tw_table_free(tw_table *t)
{
  if (!t) {
    return;
  }
  for (size_t c = 0; c < t->columns; c++) {
    if (t->number) {
      tw_free(t->number[c]);
    }
    if (t->code) {
      tw_free(t->code[c]);
    }
    for (size_t i = 0; t->text && t->texts && i < t->texts[c]; i++) {
      tw_free(t->text[c][i]);
    }
    if (t->text) {
      tw_free(t->text[c]);
    }
  }
  tw_free(t->number);
  tw_free(t->code);
  tw_free(t->text);
  tw_free(t->texts);
  tw_free(t->unit);
  tw_free(t->line);
  tw_free(t);
}

static tw_table *table_new(size_t columns)
{
  tw_table *t = tw_alloc(1, sizeof *t);
  if (!t) {
    return NULL;
  }
  t->columns = columns;
  t->number = tw_alloc(columns, sizeof *t->number);
  t->code = tw_alloc(columns, sizeof *t->code);
  t->text = tw_alloc(columns, sizeof *t->text);
  t->texts = tw_alloc(columns, sizeof *t->texts);
  t->unit = tw_alloc(columns, sizeof *t->unit);
  if (!t->number || !t->code || !t->text || !t->texts || !t->unit) {
    tw_table_free(t);
    return NULL;
  }
  return t;
}

static tw_status read_source(const char *name, tw_source source, const tw_table_spec *spec,
                             tw_messages *messages, tw_table **out)
{
  struct reader r = {.name = name, .spec = spec, .messages = messages};
  *out = NULL;
  r.table = table_new(spec->columns);
  r.field = tw_alloc(TW_TABLE_FIELDS + 1, sizeof *r.field);
  r.index = tw_alloc(spec->columns, sizeof *r.index);
  const bool ready = r.table && r.field && r.index && tw_lines_start(&r.lines, source);
  const size_t before = tw_messages_errors(messages);
  if (ready) {
    read_lines(&r);
    finish(&r);
  }
  if (r.has_pattern) {
    regfree(&r.pattern);
  }
  const bool failed = r.lines.failed, lost = r.lines.no_memory;
  tw_lines_end(&r.lines);
  tw_free(r.field);
  tw_free(r.index);
  if (ready && !failed && tw_messages_errors(messages) == before) {
    *out = r.table;
    return TW_OK;
  }
  tw_table_free(r.table);
  return !ready || lost ? TW_NO_MEMORY : failed ? TW_NO_FILE : TW_BAD_INPUT;
}

static size_t read_stdio(void *self, char *out, size_t room, bool *failed)
{
  const size_t got = fread(out, 1, room, self);
  *failed = got == 0 && ferror((FILE *)self);
  return got;
}

tw_status tw_table_read(const char *path, const tw_table_spec *spec, tw_messages *messages,
                        tw_table **out)
{
  *out = NULL;
  FILE *file = fopen(path, "rb");
  if (!file) {
    tw_messages_add(messages, TW_ERROR, (tw_place){path, 0, 0}, NULL, NULL,
                    "is the name right, and may you read it?", "cannot open: %s", strerror(errno));
    return TW_NO_FILE;
  }
  const tw_status status = read_source(path, (tw_source){read_stdio, file}, spec, messages, out);
  if (status == TW_NO_FILE) {
    tw_messages_add(messages, TW_ERROR, (tw_place){path, 0, 0}, NULL, NULL,
                    "is it a file, and is the disk well?", "cannot read: %s", strerror(errno));
  }
  fclose(file);
  return status;
}

static size_t read_memory(void *self, char *out, size_t room, bool *failed)
{
  tw_slice *rest = self;
  const size_t n = rest->length < room ? rest->length : room;
  *failed = false;
  if (n > 0) {
    memcpy(out, rest->at, n);
  }
  rest->at += n;
  rest->length -= n;
  return n;
}

tw_status tw_table_read_text(const char *name, const char *text, size_t length,
                             const tw_table_spec *spec, tw_messages *messages, tw_table **out)
{
  tw_slice rest = {text, length};
  return read_source(name, (tw_source){read_memory, &rest}, spec, messages, out);
}
