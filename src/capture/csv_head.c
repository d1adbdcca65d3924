/* csv_head.c: the head above the data, read upwards: unit row, name row, keys with values. */
#include "csv.h"

#include <math.h>
#include <string.h>
#include <strings.h>

struct head {
  tw_csv_layout *layout;
  tw_capture_record *record;
  tw_messages *messages;
  const tw_capture_reading *reading;
  const char *file;
  tw_csv_cell name[TW_CSV_COLUMNS];
  const tw_csv_unit *unit[TW_CSV_COLUMNS];
  const tw_csv_unit *told_value, *told_time; /* of the head's keys */
  double interval, trigger_row;
  uint64_t name_line;
  bool assumed_time, assumed_value;
};

static bool cell_is(tw_csv_cell cell, const char *word)
{
  return strlen(word) == cell.length && strncasecmp(word, cell.at, cell.length) == 0;
}

static bool cell_is_one_of(tw_csv_cell cell, const char *const *words, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    if (cell_is(cell, words[i])) {
      return true;
    }
  }
  return false;
}

static bool cell_has(tw_csv_cell cell, const char *word)
{
  const size_t n = strlen(word);
  for (size_t i = 0; i + n <= cell.length; i++) {
    if (strncasecmp(cell.at + i, word, n) == 0) {
      return true;
    }
  }
  return false;
}

static bool names_time(tw_csv_cell cell)
{
  static const char *const words[] = {"t",         "time", "zeit", "seconds", "second",
                                      "timestamp", "when", "x",    "x-axis",  "temps",
                                      "tiempo",    "date", "datum"};
  return cell_is_one_of(cell, words, sizeof words / sizeof words[0]);
}

static bool names_index(tw_csv_cell cell)
{
  static const char *const words[] = {"no",     "no.",     "nr",    "nr.",   "#",   "n", "index",
                                      "sample", "samples", "punkt", "point", "row", "i", "k"};
  return cell_is_one_of(cell, words, sizeof words / sizeof words[0]);
}

/* ---- names and units --------------------------------------------------------------------------
 */

/* cells of a line of the head that has as many as the data; a trailing blank one may be missing */
static bool full_row(const struct head *h, tw_csv_cell line, tw_csv_cell *cell)
{
  const size_t columns = h->layout->columns;
  const size_t n = tw_csv_cells(line.at, line.length, h->layout->separator, cell, TW_CSV_COLUMNS);
  if (n + 1 == columns && h->layout->kind[columns - 1] == TW_CELL_EMPTY) {
    cell[n] = (tw_csv_cell){line.at + line.length, 0};
    return true;
  }
  return n == columns;
}

static bool unit_row(struct head *h, tw_csv_cell line)
{
  tw_csv_cell cell[TW_CSV_COLUMNS];
  size_t units = 0;
  if (line.length == 0 || !full_row(h, line, cell)) {
    return false;
  }
  for (size_t c = 0; c < h->layout->columns; c++) {
    if (cell[c].length > 0 && !tw_csv_unit_named(cell[c])) {
      return false;
    }
    units += cell[c].length > 0;
  }
  for (size_t c = 0; units > 0 && c < h->layout->columns; c++) {
    h->unit[c] = tw_csv_unit_named(cell[c]);
  }
  return units > 0;
}

static bool name_row(struct head *h, tw_csv_cell line)
{
  tw_csv_cell cell[TW_CSV_COLUMNS];
  if (line.length == 0 || line.at[0] == '#' || !full_row(h, line, cell)) {
    return false;
  }
  for (size_t c = 0; c < h->layout->columns; c++) {
    double value;
    if (tw_csv_number_cell(cell[c], '.', &value) || (cell[c].length > 0 && cell[c].at[0] == '=')) {
      return false;
    }
  }
  if (h->layout->columns == 1 &&
      (memchr(line.at, '=', line.length) || memchr(line.at, ':', line.length))) {
    return false;
  }
  for (size_t c = 0; c < h->layout->columns; c++) {
    tw_csv_cell rest;
    const tw_csv_unit *unit = tw_csv_unit_in_name(cell[c], &rest);
    if (!unit && !h->unit[c] && (unit = tw_csv_unit_named(cell[c])) != NULL) {
      rest = (tw_csv_cell){cell[c].at, 0}; /* "s;node [V]": a unit alone beside names with units */
    }
    h->name[c] = unit && !h->unit[c] ? rest : cell[c];
    h->unit[c] = h->unit[c] ? h->unit[c] : unit;
  }
  return true;
}

/* ---- keys -------------------------------------------------------------------------------------
 */

/* "7.69231e-05 s", "50 ns", "2 MSa/s", "10X": number and what follows it */
static bool quantity(const struct head *h, tw_csv_cell cell, double *value, tw_csv_cell *rest)
{
  const char *end = cell.at + cell.length;
  const char *p = tw_csv_number(cell.at, end, h->layout->decimal, value);
  if (!p) {
    p = tw_csv_number(cell.at, end, '.', value);
  }
  if (!p) {
    return false;
  }
  while (p < end && *p == ' ') {
    p++;
  }
  *rest = (tw_csv_cell){p, (size_t)(end - p)};
  return true;
}

static void take_interval(struct head *h, double value, tw_csv_cell rest)
{
  const tw_csv_unit *unit = tw_csv_unit_named(rest);
  const double scale = unit && unit->of == TW_OF_TIME ? unit->scale
                       : h->told_time                 ? h->told_time->scale
                                                      : 1;
  h->interval = value * scale;
}

static void take_rate(struct head *h, double value, tw_csv_cell rest)
{
  const char first = rest.length > 0 ? rest.at[0] : '\0';
  const double scale = first == 'k' ? 1e3 : first == 'M' ? 1e6 : first == 'G' ? 1e9 : 1;
  h->interval = value > 0 ? 1 / (value * scale) : (double)NAN;
}

static void take_trigger(struct head *h, double value, tw_csv_cell rest)
{
  if (rest.length > 0 && rest.at[0] == '%') {
    h->record->told_pretrigger = value / 100;
  } else if (rest.length == 0) {
    h->trigger_row = value;
  }
}

static void take_key(struct head *h, tw_csv_cell key, tw_csv_cell value)
{
  double number;
  tw_csv_cell rest;
  if (cell_has(key, "unit") || cell_has(key, "einheit")) {
    const tw_csv_unit *unit = tw_csv_unit_named(value);
    if (unit) {
      *(unit->of == TW_OF_TIME ? &h->told_time : &h->told_value) = unit;
    }
    return;
  }
  if (!quantity(h, value, &number, &rest)) {
    return;
  }
  if (cell_has(key, "interval") || cell_is(key, "dt") || cell_has(key, "increment") ||
      cell_has(key, "intervall")) {
    take_interval(h, number, rest);
  } else if (cell_has(key, "rate")) {
    take_rate(h, number, rest);
  } else if (cell_has(key, "trigger") && !cell_has(key, "level")) {
    take_trigger(h, number, rest);
  } else if (cell_has(key, "attenuation") || cell_has(key, "probe")) {
    h->record->told_attenuation = number;
  } else if (cell_has(key, "record length")) {
    h->record->told_rows = number;
  }
}

static void key_line(struct head *h, tw_csv_cell line)
{
  while (line.length > 0 && (line.at[0] == '#' || line.at[0] == ' ' || line.at[0] == '%')) {
    line.at++;
    line.length--;
  }
  for (const char *mark = (const char[]){h->layout->separator, '=', ':', ';', '\t', ',', '\0'};
       *mark; mark++) {
    tw_csv_cell cell[3];
    if (memchr(line.at, *mark, line.length) &&
        tw_csv_cells(line.at, line.length, *mark, cell, 3) >= 2) {
      take_key(h, cell[0], cell[1]);
      return;
    }
  }
}

/* ---- roles ------------------------------------------------------------------------------------
 */

static bool may_be_axis(const struct head *h, size_t c)
{
  const tw_csv_unit *unit = h->unit[c];
  return unit && (unit->of == TW_OF_TIME || unit->of == TW_OF_HERTZ || unit->of == TW_OF_ANGLE ||
                  unit->of == TW_OF_WEIGHT);
}

/* the column of the abscissa; columns when there is none */
static size_t find_axis(const struct head *h)
{
  const tw_csv_layout *l = h->layout;
  size_t first = l->columns;
  for (size_t c = 0; c < l->columns; c++) {
    if (l->kind[c] == TW_CELL_STAMP) {
      return c;
    }
    if (first == l->columns && l->kind[c] == TW_CELL_NUMBER && !names_index(h->name[c])) {
      first = c;
    }
  }
  if (first < l->columns && l->columns > 1 &&
      (may_be_axis(h, first) || names_time(h->name[first]) || h->reading->time_unit[0])) {
    return first;
  }
  return l->columns;
}

static size_t numbers(const tw_csv_layout *l)
{
  size_t n = 0;
  for (size_t c = 0; c < l->columns; c++) {
    n += l->kind[c] == TW_CELL_NUMBER;
  }
  return n;
}

static tw_status stated_unit(const struct head *h, const char *text, const tw_csv_unit **out)
{
  if (!text[0]) {
    return TW_OK;
  }
  *out = tw_csv_unit_named((tw_csv_cell){text, strlen(text)});
  return *out ? TW_OK
              : tw_refuse(h->messages, h->file, 0, "s ms us ns V mV uV Hz kHz deg N g are known",
                          "--columns-in: \"%.15s\" is no unit that recordings have", text);
}

static tw_status axis_unit(struct head *h, size_t axis)
{
  tw_csv_layout *l = h->layout;
  if (l->kind[axis] == TW_CELL_STAMP) {
    l->axis_of = TW_OF_TIME;
    l->scale[axis] = 1;
    return TW_OK;
  }
  const tw_csv_unit *unit = h->unit[axis] ? h->unit[axis] : h->told_time;
  if (stated_unit(h, h->reading->time_unit, &unit) != TW_OK) {
    return TW_BAD_INPUT;
  }
  h->assumed_time = !unit;
  l->axis_of = unit ? unit->of : TW_OF_TIME;
  l->scale[axis] = unit ? unit->scale : 1;
  const bool time = names_time(h->name[axis]);
  if ((time && l->axis_of != TW_OF_TIME) || l->axis_of == TW_OF_VOLT ||
      l->axis_of == TW_OF_AMPERE || l->axis_of == TW_OF_OTHER || l->axis_of == TW_OF_SHARE) {
    return tw_refuse(h->messages, h->file, h->name_line,
                     "state the unit of the first column: --columns-in s,V",
                     "\"%s\" is no unit of time", unit ? unit->name : "");
  }
  return TW_OK;
}

static void keep_text(char *out, size_t size, tw_csv_cell cell)
{
  size_t n = 0;
  for (size_t i = 0; i < cell.length && n + 1 < size; i++) {
    const unsigned char c = (unsigned char)cell.at[i];
    out[n++] = c >= ' ' && c < 127 ? (char)c : '?';
  }
  out[n] = '\0';
}

static tw_status value_column(struct head *h, size_t c)
{
  tw_csv_layout *l = h->layout;
  if (l->channels == TW_CAPTURE_CHANNELS) {
    return tw_refuse(h->messages, h->file, l->line, "export fewer channels",
                     "more than %d channels", TW_CAPTURE_CHANNELS);
  }
  const tw_csv_unit *unit = h->unit[c] ? h->unit[c] : h->told_value;
  if (stated_unit(h, h->reading->value_unit, &unit) != TW_OK) {
    return TW_BAD_INPUT;
  }
  tw_capture_channel *channel = &h->record->channel[l->channels++];
  keep_text(channel->name, sizeof channel->name, h->name[c]);
  if (!channel->name[0]) {
    snprintf(channel->name, sizeof channel->name, "channel %zu", l->channels);
  }
  h->assumed_value = h->assumed_value || !unit;
  snprintf(channel->unit, sizeof channel->unit, "%s", unit ? unit->si : "V");
  l->role[c] = TW_COL_VALUE;
  l->scale[c] = unit ? unit->scale : 1;
  return TW_OK;
}

/* a column of words whose words are units says the unit of the number before it, row by row */
static void word_column(struct head *h, const tw_csv_cell *data, size_t c)
{
  const tw_csv_unit *unit = tw_csv_unit_named(data[c]);
  if (c > 0 && unit && h->layout->role[c - 1] == TW_COL_VALUE && !h->unit[c - 1]) {
    h->layout->role[c] = TW_COL_UNIT;
    h->layout->unit_of[c] = c - 1;
    snprintf(h->record->channel[h->layout->channels - 1].unit, 8, "%s", unit->si);
    h->layout->scale[c - 1] = 1;
    h->assumed_value = false;
  }
}

static bool keeps_index(const struct head *h, size_t c, size_t axis)
{
  return names_index(h->name[c]) && !h->unit[c] && c < axis && numbers(h->layout) > 1;
}

static tw_status set_roles(struct head *h, const tw_csv_cell *data, size_t axis)
{
  tw_csv_layout *l = h->layout;
  if (axis < l->columns) {
    l->role[axis] = TW_COL_AXIS;
    l->axis = true;
    l->decimals = tw_csv_decimals(data[axis], l->decimal);
    l->exponent = memchr(data[axis].at, 'e', data[axis].length) ||
                  memchr(data[axis].at, 'E', data[axis].length);
    double seconds;
    tw_csv_stamp(data[axis], &l->first_day, &seconds);
    if (axis_unit(h, axis) != TW_OK) {
      return TW_BAD_INPUT;
    }
  }
  for (size_t c = 0; c < l->columns; c++) {
    if (c == axis || keeps_index(h, c, axis)) {
      continue;
    }
    if (l->kind[c] == TW_CELL_NUMBER && value_column(h, c) != TW_OK) {
      return TW_BAD_INPUT;
    }
    if (l->kind[c] == TW_CELL_WORD) {
      word_column(h, data, c);
    }
  }
  return l->channels > 0 ? TW_OK
                         : tw_refuse(h->messages, h->file, l->line, "export the channel as well",
                                     "the rows hold one column only, and that is the time");
}

/* an interval from the option or the head, where no column tells the time */
static tw_status set_time(struct head *h)
{
  tw_csv_layout *l = h->layout;
  tw_capture_record *r = h->record;
  r->axis = !l->axis                     ? TW_AXIS_TIME
            : l->axis_of == TW_OF_HERTZ  ? TW_AXIS_FREQUENCY
            : l->axis_of == TW_OF_ANGLE  ? TW_AXIS_ANGLE
            : l->axis_of == TW_OF_WEIGHT ? TW_AXIS_WEIGHT
                                         : TW_AXIS_TIME;
  const double interval = isnan(h->reading->interval) ? h->interval : h->reading->interval;
  r->interval = interval;
  if (l->axis) {
    return TW_OK;
  }
  if (!isfinite(interval)) {
    const bool two = numbers(l) > 1;
    return tw_refuse(
        h->messages, h->file, l->line,
        two ? "say what the columns are (--columns-in s,V), or the interval (--interval "
              "\"10 us\")"
            : "say it: --interval \"10 us\", or --rate \"100 kHz\"",
        "the time is missing: no column has a unit of time, and the head names no "
        "interval and no rate");
  }
  r->start = isfinite(h->trigger_row) ? -h->trigger_row * interval : 0;
  if (isfinite(h->trigger_row)) {
    r->told_trigger = 0;
    r->told_pretrigger = (double)NAN;
  }
  return TW_OK;
}

static void say_found(const struct head *h)
{
  const tw_csv_layout *l = h->layout;
  tw_capture_record *r = h->record;
  int n = snprintf(r->found, sizeof r->found, "separator %s, decimal %s, data from line %llu, ",
                   l->separator == '\t'  ? "tab"
                   : l->separator == ';' ? "semicolon"
                                         : "comma",
                   l->decimal == '.' ? "point" : "comma", (unsigned long long)l->line);
  for (size_t c = 0; c < l->channels && n > 0 && (size_t)n < sizeof r->found; c++) {
    n += snprintf(r->found + n, sizeof r->found - (size_t)n, "%s%.24s [%s]", c ? ", " : "",
                  r->channel[c].name, r->channel[c].unit);
  }
  if (n > 0 && (size_t)n < sizeof r->found) {
    snprintf(r->found + n, sizeof r->found - (size_t)n, "%s%s",
             h->assumed_time ? "; no unit of time: s taken" : "",
             h->assumed_value ? "; no unit of the values: V taken" : "");
  }
}

tw_status tw_csv_head_read(const tw_csv_cell *line, size_t lines, const tw_csv_cell *data,
                           const tw_capture_reading *reading, const char *name,
                           tw_messages *messages, tw_capture_record *record, tw_csv_layout *out)
{
  struct head h = {.layout = out,
                   .record = record,
                   .messages = messages,
                   .reading = reading,
                   .file = name,
                   .interval = (double)NAN,
                   .trigger_row = (double)NAN};
  for (size_t c = 0; c < TW_CSV_COLUMNS; c++) {
    h.name[c] = (tw_csv_cell){"", 0};
  }
  size_t k = lines;
  while (k > 0 && line[k - 1].length == 0) {
    k--;
  }
  h.name_line = k;
  k -= k > 0 && unit_row(&h, line[k - 1]);
  k -= k > 0 && name_row(&h, line[k - 1]);
  for (size_t i = 0; i < k; i++) {
    key_line(&h, line[i]);
  }
  tw_status status = set_roles(&h, data, find_axis(&h));
  status = status == TW_OK ? set_time(&h) : status;
  if (status == TW_OK) {
    say_found(&h);
  }
  return status;
}
