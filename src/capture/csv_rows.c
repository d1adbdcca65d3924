/* csv_rows.c: the rows of a CSV, a block at a time, through a buffer of fixed size. */
#include "csv.h"

#include <math.h>
#include <string.h>

#define BUFFER         (4 * TW_CAPTURE_LINE)
#define SECONDS_OF_DAY 86400.0

struct csv {
  tw_rows rows; /* first: a tw_rows is this */
  tw_bytes *bytes;
  tw_csv_layout layout;
  char end_mark;
  uint64_t line, missing_line, missing_rows;
  size_t at, filled;
  bool ended, past_first;
  double scale[TW_CSV_COLUMNS]; /* of this row: a unit column may change it */
  double axis_scale;
  uint64_t lines[TW_STREAM_BLOCK]; /* of the rows given last */
  char *buffer;
};

static struct csv *csv_of(tw_rows *rows)
{
  return (struct csv *)rows;
}

static uint64_t line_of(const tw_rows *rows, size_t row)
{
  return ((const struct csv *)rows)->lines[row];
}

/* more bytes behind what is left of the buffer */
static bool fill(struct csv *c)
{
  if (c->ended) {
    return false;
  }
  memmove(c->buffer, c->buffer + c->at, c->filled - c->at);
  c->filled -= c->at;
  c->at = 0;
  const size_t n = tw_bytes_read(c->bytes, c->buffer + c->filled, BUFFER - c->filled);
  c->filled += n;
  c->ended = c->filled < BUFFER;
  return n > 0;
}

/* the next line; length -1: no more, -2: longer than a line may be */
static const char *next_line(struct csv *c, ptrdiff_t *length)
{
  for (;;) {
    const char *at = c->buffer + c->at;
    const char *stop = memchr(at, c->end_mark, c->filled - c->at);
    if (!stop && !c->ended) {
      if (c->filled - c->at >= TW_CAPTURE_LINE) {
        *length = -2;
        return at;
      }
      if (fill(c) || c->ended) {
        continue;
      }
    }
    if (!stop && c->at == c->filled) {
      *length = -1;
      return at;
    }
    *length = stop ? stop - at : (ptrdiff_t)(c->filled - c->at);
    c->at += (size_t)*length + (stop != NULL);
    c->line++;
    *length -= *length > 0 && at[*length - 1] == '\r';
    return at;
  }
}

static tw_status not_a_number(struct csv *c, tw_csv_cell cell)
{
  char text[32];
  size_t n = 0;
  for (; n < cell.length && n + 1 < sizeof text; n++) {
    const unsigned char b = (unsigned char)cell.at[n];
    text[n] = b >= ' ' && b < 127 ? (char)b : '?';
  }
  text[n] = '\0';
  return tw_refuse(c->rows.messages, c->rows.name, c->line,
                   "take the text out, or cut the file there; nothing was left out silently",
                   "text among the numbers: \"%s\"", text);
}

static tw_status wrong_count(struct csv *c, const char *at, size_t length, size_t count)
{
  static const char marks[] = {',', ';', '\t'};
  for (size_t i = 0; i < sizeof marks; i++) {
    tw_csv_cell cell[TW_CSV_COLUMNS];
    if (marks[i] != c->layout.separator &&
        tw_csv_cells(at, length, marks[i], cell, TW_CSV_COLUMNS) == c->layout.columns &&
        c->layout.columns > 1) {
      return tw_refuse(c->rows.messages, c->rows.name, c->line,
                       "two files were joined, or a line was edited: export it again",
                       "the separator changes here from %s to %s",
                       c->layout.separator == '\t' ? "tab" : (char[]){c->layout.separator, '\0'},
                       marks[i] == '\t' ? "tab" : (char[]){marks[i], '\0'});
    }
  }
  tw_csv_cell first;
  double value;
  if (tw_csv_cells(at, length, '\n', &first, 1) == 1 && first.length > 0 &&
      !tw_csv_number(first.at, first.at + first.length, c->layout.decimal, &value)) {
    return not_a_number(c, first);
  }
  return tw_refuse(c->rows.messages, c->rows.name, c->line,
                   "the file was cut or edited here: export it again", "%zu cell%s in place of %zu",
                   count, count == 1 ? "" : "s", c->layout.columns);
}

/* a reading that is missing: its row counts, and the end of the file tells how many */
static void missing(struct csv *c)
{
  if (c->missing_rows++ == 0) {
    c->missing_line = c->line;
  }
}

static tw_status take_axis(struct csv *c, size_t column, tw_csv_cell cell, double *out)
{
  double days;
  const bool stamp = c->layout.kind[column] == TW_CELL_STAMP;
  if (stamp && tw_csv_stamp(cell, &days, out)) {
    *out += SECONDS_OF_DAY * (days - c->layout.first_day);
    return TW_OK;
  }
  if (!stamp && tw_csv_number_cell(cell, c->layout.decimal, out)) {
    *out *= c->axis_scale;
    return TW_OK;
  }
  *out = (double)NAN;
  if (!tw_csv_missing(cell)) {
    return not_a_number(c, cell);
  }
  missing(c);
  return TW_OK;
}

/* any row: with quotes, stamps, unit words, missing readings */
static tw_status slow_row(struct csv *c, const char *at, size_t length, double *out)
{
  tw_csv_cell cell[TW_CSV_COLUMNS + 1];
  const tw_csv_layout *l = &c->layout;
  const size_t n = tw_csv_cells(at, length, l->separator, cell, TW_CSV_COLUMNS + 1);
  double *value = out + l->axis;
  size_t channel = 0;
  if (n != l->columns) {
    return wrong_count(c, at, length, n);
  }
  for (size_t k = 0; k < n; k++) {
    if (l->role[k] == TW_COL_AXIS && take_axis(c, k, cell[k], out) != TW_OK) {
      return TW_BAD_INPUT;
    }
    if (l->role[k] == TW_COL_VALUE) {
      double *v = &value[channel++];
      if (!tw_csv_number_cell(cell[k], l->decimal, v)) {
        if (!tw_csv_missing(cell[k])) {
          return not_a_number(c, cell[k]);
        }
        *v = (double)NAN;
        missing(c);
      }
      *v *= l->scale[k];
    }
    if (l->role[k] == TW_COL_UNIT) {
      const tw_csv_unit *unit = tw_csv_unit_named(cell[k]);
      if (!unit || channel == 0) {
        return not_a_number(c, cell[k]);
      }
      value[channel - 1] *= unit->scale;
    }
  }
  return TW_OK;
}

/* a row of bare numbers; false: read it the slow way */
static bool fast_row(const struct csv *c, const char *at, const char *end, double *out)
{
  const tw_csv_layout *l = &c->layout;
  const char *p = at;
  double *value = out + l->axis;
  for (size_t k = 0; k < l->columns; k++) {
    double number;
    while (p < end && *p == ' ') {
      p++;
    }
    if (l->kind[k] == TW_CELL_EMPTY) {
      if (p != end && *p != l->separator) {
        return false;
      }
    } else {
      p = tw_csv_number(p, end, l->decimal, &number);
      if (!p) {
        return false;
      }
      if (l->role[k] == TW_COL_VALUE) {
        *value++ = number * l->scale[k];
      } else if (l->role[k] == TW_COL_AXIS) {
        *out = number * c->axis_scale;
      }
    }
    if (k + 1 < l->columns) {
      if (p == end || *p != l->separator) {
        return false;
      }
      p++;
    }
  }
  return p == end;
}

static tw_status end_of_rows(struct csv *c)
{
  if (c->missing_rows == 0) {
    return TW_OK;
  }
  return tw_refuse(c->rows.messages, c->rows.name, c->missing_line,
                   "set a range that holds the signal, record again, or cut the file there",
                   "not a number (overload or a gap), here first and in %llu reading%s altogether",
                   (unsigned long long)c->missing_rows, c->missing_rows == 1 ? "" : "s");
}

static tw_status next(tw_rows *rows, double *out, size_t *count)
{
  struct csv *c = csv_of(rows);
  const size_t width = c->layout.channels + c->layout.axis;
  *count = 0;
  while (*count < TW_STREAM_BLOCK) {
    ptrdiff_t length;
    const char *at = next_line(c, &length);
    if (length == -2) {
      return tw_refuse(rows->messages, rows->name, c->line + 1, "one row a line",
                       "a line of more than %u bytes", TW_CAPTURE_LINE);
    }
    if (length == -1) {
      return *count > 0 ? TW_OK : end_of_rows(c);
    }
    c->lines[*count] = c->line;
    if (fast_row(c, at, at + length, out)) {
      out += width;
      ++*count;
      continue;
    }
    tw_csv_cell cell;
    if (length == 0 || at[0] == '#' ||
        (tw_csv_cells(at, (size_t)length, '\n', &cell, 1) == 1 && cell.length == 0)) {
      continue;
    }
    if (slow_row(c, at, (size_t)length, out) != TW_OK) {
      return TW_BAD_INPUT;
    }
    out += width;
    ++*count;
  }
  return TW_OK;
}

static tw_status again(tw_rows *rows)
{
  struct csv *c = csv_of(rows);
  c->at = c->filled = 0;
  c->ended = false;
  c->line = c->layout.line - 1;
  c->missing_rows = 0;
  return tw_bytes_seek(c->bytes, c->layout.offset)
             ? TW_OK
             : tw_refuse(rows->messages, rows->name, 0, "", "the file cannot be read twice");
}

static void close_csv(tw_rows *rows)
{
  struct csv *c = csv_of(rows);
  tw_free(c->buffer);
  tw_free(c);
}

static void set_up(struct csv *c, tw_bytes *bytes, tw_messages *messages)
{
  tw_csv_layout *l = &c->layout;
  c->rows.channels = l->channels;
  c->rows.axis = l->axis;
  c->rows.again = again;
  c->rows.next = next;
  c->rows.line = line_of;
  c->rows.close = close_csv;
  c->rows.messages = messages;
  c->rows.name = bytes->name;
  c->bytes = bytes;
  c->axis_scale = 1;
  for (size_t k = 0; k < l->columns; k++) {
    if (l->role[k] == TW_COL_AXIS) {
      c->axis_scale = l->scale[k];
      c->rows.stamps = l->kind[k] == TW_CELL_STAMP;
      c->rows.wraps_a_day = c->rows.stamps && l->first_day <= 0;
      /* the last digit written; stamps carry milliseconds as a rule */
      c->rows.quantum = l->kind[k] == TW_CELL_STAMP ? 1e-3 : pow(10, -l->decimals) * l->scale[k];
      if (l->exponent) {
        c->rows.quantum = 0;
        c->rows.relative = pow(10, -l->decimals);
      }
    }
  }
}

tw_status tw_csv_open(tw_bytes *bytes, const tw_capture_reading *reading, tw_messages *messages,
                      tw_capture_record *record, tw_rows **out)
{
  struct csv *c = tw_alloc(1, sizeof *c);
  char *buffer = tw_alloc(1, BUFFER + 1);
  *out = NULL;
  if (!c || !buffer) {
    tw_free(c);
    tw_free(buffer);
    return TW_NO_MEMORY;
  }
  c->buffer = buffer;
  const size_t n = tw_bytes_read(bytes, buffer, TW_CSV_HEAD);
  /* a byte order mark is no part of the first name */
  const size_t mark = n >= 3 && memcmp(buffer, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
  buffer[n] = '\0';
  c->end_mark = memchr(buffer, '\n', n) ? '\n' : '\r';
  const tw_status status = tw_csv_layout_find(buffer + mark, n - mark, reading, bytes->name,
                                              messages, record, &c->layout);
  if (status != TW_OK) {
    close_csv(&c->rows);
    return status;
  }
  c->layout.offset += mark;
  set_up(c, bytes, messages);
  *out = &c->rows;
  return TW_OK;
}
