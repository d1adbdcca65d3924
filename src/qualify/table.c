/* table.c: from lines to a table. */
#include "table_inner.h"

#include "tripwright/files.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>

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

static bool all_numbers(const tw_reader *r)
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
static bool cut(tw_reader *r, char separator, size_t *count)
{
  bool open_quote;
  *count = tw_fields_cut(r->line, separator, r->field, &open_quote);
  if (open_quote) {
    tw_reader_wrong(r, r->field[*count - 1].at, "close it on the same line",
                    "a quote is not closed");
    return false;
  }
  if (*count > TW_TABLE_FIELDS) {
    tw_reader_wrong(r, NULL, "is the separator right? cut out the columns that you need",
                    "more than %d fields in one line", TW_TABLE_FIELDS);
    r->stopped = true;
    return false;
  }
  return true;
}

static void say_wrong_count(tw_reader *r, size_t count)
{
  const char *end = r->line.at + r->line.length;
  if (r->lines.open_ended) {
    tw_reader_wrong(r, end, "the file seems to be cut short: fetch it again, or take this line out",
                    "the last line has %zu of %zu fields", count, r->fields);
  } else if (count > r->fields) {
    tw_reader_wrong(r, r->field[r->fields].at,
                    "are there decimal commas? write points; quote text with commas",
                    "%zu fields, but the heading has %zu", count, r->fields);
  } else {
    tw_reader_wrong(r, end, "put in what is missing; an empty field still needs its separator",
                    "%zu fields, but the heading has %zu", count, r->fields);
  }
}

static void take_line(tw_reader *r, bool *headed, char *separator)
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
      tw_reader_wrong(r, r->line.at,
                      "add a line with names and units, or say that there is no heading",
                      "the first line is all numbers where the names of the columns should be");
      r->stopped = true;
      return;
    }
    tw_reader_settle_columns(r, !r->spec->no_heading);
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
  tw_reader_take_row(r);
  tw_reader_watch_summary(r);
}

/* the line is a row if the expression matches; its groups are the fields */
static void take_matching_line(tw_reader *r, char *copy)
{
  regmatch_t match[TW_GROUPS + 1];
  if (r->line.length > TW_TABLE_TRIED) {
    tw_reader_wrong(r, NULL, "is this the log? cut such lines out first",
                    "the expression is not tried on lines longer than %d characters",
                    TW_TABLE_TRIED);
    r->stopped = true;
    return;
  }
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
  tw_reader_take_row(r);
}

static bool start_pattern(tw_reader *r)
{
  const char *problem, *cure;
  if (!tw_pattern_fits(r->spec->pattern, &problem, &cure)) {
    tw_reader_wrong(r, NULL, cure, "%s", problem);
    return false;
  }
  const int code = regcomp(&r->pattern, r->spec->pattern, REG_EXTENDED);
  if (code != 0) {
    char why[120];
    regerror(code, &r->pattern, why, sizeof why);
    tw_reader_wrong(r, NULL, "POSIX extended syntax: [0-9]+, (...), no \\d",
                    "the expression is wrong: %s", why);
    return false;
  }
  r->has_pattern = true;
  r->fields = r->pattern.re_nsub;
  if (r->fields == 0 || r->fields > TW_GROUPS) {
    tw_reader_wrong(r, NULL, "put ( ) round each number",
                    "the expression has %zu groups; 1 to %d are needed", r->fields, TW_GROUPS);
    return false;
  }
  tw_reader_settle_columns(r, false);
  return tw_messages_errors(r->messages) == 0;
}

/* what can be wrong with the stream itself */
static void say_stream_failure(tw_reader *r)
{
  r->line.length = 0;
  if (r->lines.too_long) {
    tw_reader_wrong(r, NULL, "is this a text table? its lines may be up to 1 MiB long",
                    "a line longer than %zu characters", TW_TABLE_LINE);
  } else if (r->lines.no_memory) {
    tw_reader_no_memory(r);
  }
}

static void read_lines(tw_reader *r)
{
  char *copy = NULL, separator = ',';
  bool headed = false;
  if (r->spec->pattern) {
    copy = tw_alloc(TW_TABLE_TRIED + 1, 1);
    if (!copy) {
      tw_reader_no_memory(r);
    } else if (!start_pattern(r)) {
      r->stopped = true;
    }
  }
  while (!r->stopped && tw_lines_next(&r->lines, &r->line)) {
    const char *zero = memchr(r->line.at, '\0', r->line.length);
    if (zero) {
      tw_reader_wrong(r, zero, "save the table as plain text",
                      "a zero byte: this is not a text file");
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

/* the table closes with rows of averages: taken as readings, but said */
static void say_summary(tw_reader *r)
{
  char text[120];
  snprintf(text, sizeof text, "the table closes with a row called '%s': it was taken as a reading",
           r->summary_word);
  r->lines.number = r->summary_line;
  tw_reader_complain(r, TW_WARNING, NULL, "take the row out if it is not one", text);
}

static void finish(tw_reader *r)
{
  r->table->lines = r->lines.number;
  r->table->bytes = r->lines.bytes;
  r->line.length = 0;
  if (r->table->rows == 0 && tw_messages_errors(r->messages) == 0) {
    tw_reader_wrong(
        r, NULL,
        r->spec->pattern ? "try the expression on one line of the file" : "is this the right file?",
        r->spec->pattern ? "no line matches the expression" : "there is no row of readings");
  } else if (r->summaries > 0 && r->summaries < r->table->rows &&
             tw_messages_errors(r->messages) == 0) {
    say_summary(r);
  } else if (r->lines.open_ended && !r->stopped && tw_messages_errors(r->messages) == 0) {
    tw_reader_complain(r, TW_WARNING, NULL, "check that the file was written to its end",
                       "the last line has no line end");
  }
}

/* ---- whole tables ---------------------------------------------------------------------------- */

void tw_readings_free(tw_readings *t)
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

static tw_readings *table_new(size_t columns)
{
  tw_readings *t = tw_alloc(1, sizeof *t);
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
    tw_readings_free(t);
    return NULL;
  }
  return t;
}

static tw_status read_source(const char *name, tw_source source, const tw_readings_spec *spec,
                             tw_messages *messages, tw_readings **out)
{
  for (size_t c = 0; spec->by_rows && c < spec->columns; c++) {
    assert(spec->column[c].kind != TW_LABEL);
  }
  tw_reader r = {.name = name, .spec = spec, .messages = messages};
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
  const bool failed = r.lines.failed,
             lost = r.lines.no_memory || r.lost || tw_messages_lost(messages);
  tw_lines_end(&r.lines);
  tw_free(r.field);
  tw_free(r.index);
  if (ready && !failed && tw_messages_errors(messages) == before) {
    *out = r.table;
    return TW_OK;
  }
  tw_readings_free(r.table);
  return !ready || lost ? TW_NO_MEMORY : failed ? TW_NO_FILE : TW_BAD_INPUT;
}

static size_t read_stdio(void *self, char *out, size_t room, bool *failed)
{
  const size_t got = fread(out, 1, room, self);
  *failed = got == 0 && ferror((FILE *)self);
  return got;
}

tw_status tw_readings_read(const char *path, const tw_readings_spec *spec, tw_messages *messages,
                           tw_readings **out)
{
  *out = NULL;
  FILE *file = NULL;
  tw_fault fault = {0};
  const tw_status opened = tw_file_open(path, &fault, &file);
  if (opened != TW_OK) { /* the text names the file */
    if (fault.hint[0] == '\0') {
      snprintf(fault.hint, sizeof fault.hint, "is the name right, and may you read it?");
    }
    tw_messages_add_fault(messages, &fault, (tw_place){0}, NULL);
    return opened;
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

tw_status tw_readings_read_text(const char *name, const char *text, size_t length,
                                const tw_readings_spec *spec, tw_messages *messages,
                                tw_readings **out)
{
  tw_slice rest = {text, length};
  return read_source(name, (tw_source){read_memory, &rest}, spec, messages, out);
}
