/* csv_layout.c: find the data first: separator, decimal mark and the first row from which three
 * rows have the same count of cells and numbers. */
#include "csv.h"

#include <string.h>

#define SAME_ROWS 3

struct lines {
  tw_csv_cell line[TW_CSV_LINES];
  size_t count;
};

static bool blank_line(tw_csv_cell line)
{
  return strspn(line.at, " \t\r") >= line.length || line.length == 0;
}

static bool skipped(tw_csv_cell line)
{
  return line.length == 0 || blank_line(line) || line.at[0] == '#';
}

/* the lines of `text` up to TW_CSV_LINES; the last one only if the text ends with it */
static void cut_lines(const char *text, size_t length, bool whole, struct lines *out)
{
  const char end_mark = memchr(text, '\n', length) ? '\n' : '\r';
  const char *at = text, *end = text + length;
  out->count = 0;
  while (at < end && out->count < TW_CSV_LINES) {
    const char *stop = memchr(at, end_mark, (size_t)(end - at));
    if (!stop && !whole) {
      return;
    }
    stop = stop ? stop : end;
    size_t n = (size_t)(stop - at);
    n -= n > 0 && at[n - 1] == '\r';
    out->line[out->count++] = (tw_csv_cell){at, n};
    at = stop + 1;
  }
}

static bool has_digit(tw_csv_cell cell)
{
  for (size_t i = 0; i < cell.length; i++) {
    if (cell.at[i] >= '0' && cell.at[i] <= '9') {
      return true;
    }
  }
  return false;
}

/* Could this be a row of data? It begins with a number or a stamp, has a number, and what is no
 * number is a word without digits. The count of columns, 0 if not; kinds into `kind`. */
static size_t row_of(tw_csv_cell line, char separator, char decimal, tw_cell_kind *kind)
{
  tw_csv_cell cell[TW_CSV_COLUMNS + 1];
  const size_t n = tw_csv_cells(line.at, line.length, separator, cell, TW_CSV_COLUMNS + 1);
  size_t numbers = 0;
  if (n > TW_CSV_COLUMNS) {
    return 0;
  }
  for (size_t c = 0; c < n; c++) {
    kind[c] = tw_csv_kind(cell[c], decimal);
    numbers += kind[c] == TW_CELL_NUMBER;
    if (kind[c] == TW_CELL_WORD && (c == 0 || has_digit(cell[c]))) {
      return 0;
    }
  }
  return numbers > 0 && (kind[0] == TW_CELL_NUMBER || kind[0] == TW_CELL_STAMP) ? n : 0;
}

struct found {
  size_t line, columns, score;
  size_t rows; /* that have this shape, of all lines at hand */
  tw_cell_kind kind[TW_CSV_COLUMNS];
};

/* do SAME_ROWS rows of one shape begin at line `k`? */
static bool begins(const struct lines *l, size_t k, char separator, char decimal, struct found *out)
{
  size_t rows = 0;
  out->columns = 0;
  for (; k < l->count && rows < SAME_ROWS; k++) {
    tw_cell_kind kind[TW_CSV_COLUMNS];
    if (skipped(l->line[k])) {
      continue;
    }
    const size_t n = row_of(l->line[k], separator, decimal, kind);
    if (n == 0 || (rows > 0 && n != out->columns)) {
      return false;
    }
    for (size_t c = 0; c < n; c++) {
      if (rows == 0 || kind[c] == TW_CELL_NUMBER || out->kind[c] == TW_CELL_EMPTY) {
        out->kind[c] = kind[c];
      }
    }
    out->columns = n;
    rows++;
  }
  out->score = 0;
  for (size_t c = 0; c < out->columns; c++) {
    out->score += out->kind[c] == TW_CELL_NUMBER || out->kind[c] == TW_CELL_STAMP;
  }
  return rows == SAME_ROWS;
}

static void count_rows(const struct lines *l, char separator, char decimal, struct found *f)
{
  tw_cell_kind kind[TW_CSV_COLUMNS];
  f->rows = 0;
  for (size_t k = f->line; k < l->count; k++) {
    f->rows += !skipped(l->line[k]) && row_of(l->line[k], separator, decimal, kind) == f->columns;
  }
}

static bool find_with(const struct lines *l, char separator, char decimal, struct found *out)
{
  for (size_t k = 0; k < l->count; k++) {
    if (!skipped(l->line[k]) && begins(l, k, separator, decimal, out)) {
      out->line = k;
      count_rows(l, separator, decimal, out);
      return true;
    }
  }
  return false;
}

/* One column with decimal commas looks like two of whole numbers; the line above tells: it has one
 * cell then. */
static bool one_column(const struct lines *l, const struct found *f)
{
  if (f->columns != 2 || f->line == 0) {
    return false;
  }
  for (size_t k = f->line; k < l->count && k < f->line + SAME_ROWS; k++) {
    if (memchr(l->line[k].at, '.', l->line[k].length)) {
      return false;
    }
  }
  const tw_csv_cell above = l->line[f->line - 1];
  return !skipped(above) && !memchr(above.at, ',', above.length);
}

static tw_status nothing(const struct lines *l, const char *name, tw_messages *messages)
{
  const size_t lines = l->count;
  if (lines <= SAME_ROWS) {
    return tw_refuse(messages, name, lines, "export the recording again",
                     "the file ends after %zu line%s, within its head: no rows of numbers", lines,
                     lines == 1 ? "" : "s");
  }
  return tw_refuse(messages, name, lines,
                   "a recording is rows of numbers with comma, semicolon or tab between them; say "
                   "--separator and --decimal if it is one",
                   "no %d rows of numbers with the same count of cells within the first %zu lines",
                   SAME_ROWS, lines);
}

static const struct {
  char separator, decimal;
} tries[] = {{'\t', '.'}, {'\t', ','}, {';', '.'}, {';', ','}, {',', '.'}, {',', ','}};

static bool best_of(const struct lines *l, const tw_capture_reading *reading, struct found *best,
                    tw_csv_layout *out)
{
  struct found f;
  best->score = 0;
  for (size_t i = 0; i < sizeof tries / sizeof tries[0]; i++) {
    if ((reading->separator && reading->separator != tries[i].separator) ||
        (reading->decimal && reading->decimal != tries[i].decimal) ||
        !find_with(l, tries[i].separator, tries[i].decimal, &f)) {
      continue;
    }
    /* whole numbers fit both decimal marks: then the one that fits more rows */
    if (f.score > best->score || (f.score == best->score && f.rows > best->rows)) {
      *best = f;
      out->separator = tries[i].separator;
      out->decimal = tries[i].decimal;
    }
  }
  if (best->score > 0 && out->separator == ',' && out->decimal == '.' && !reading->decimal &&
      !reading->separator && one_column(l, best)) {
    out->separator = ';';
    out->decimal = ',';
    return find_with(l, ';', ',', best);
  }
  return best->score > 0;
}

static tw_status take(const struct lines *l, const char *text, const struct found *f,
                      const tw_capture_reading *reading, const char *name, tw_messages *messages,
                      tw_capture_record *record, tw_csv_layout *out)
{
  tw_csv_cell data[TW_CSV_COLUMNS];
  out->columns = f->columns;
  out->line = f->line + 1;
  out->offset = (size_t)(l->line[f->line].at - text);
  memcpy(out->kind, f->kind, sizeof out->kind);
  tw_csv_cells(l->line[f->line].at, l->line[f->line].length, out->separator, data, TW_CSV_COLUMNS);
  return tw_csv_head_read(l->line, f->line, data, reading, name, messages, record, out);
}

tw_status tw_csv_layout_find(const char *text, size_t length, const tw_capture_reading *reading,
                             const char *name, tw_messages *messages, tw_capture_record *record,
                             tw_csv_layout *out)
{
  struct lines *l = tw_alloc(1, sizeof *l);
  if (!l) {
    return TW_NO_MEMORY;
  }
  memset(out, 0, sizeof *out);
  /* the text has a zero byte behind it, so that strspn ends */
  cut_lines(text, length, length < TW_CSV_HEAD, l);
  struct found best = {0};
  tw_status status = TW_OK;
  if (memchr(text, '\0', length)) {
    status = tw_refuse(messages, name, 1, "export as text (UTF-8 or Latin-1)",
                       "the file is not text: it has zero bytes");
  } else {
    status = best_of(l, reading, &best, out)
                 ? take(l, text, &best, reading, name, messages, record, out)
                 : nothing(l, name, messages);
  }
  tw_free(l);
  return status;
}
