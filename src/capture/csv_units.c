/* csv_units.c: cells of a line, and the few units that instruments write. */
#include "csv.h"

#include "tripwright/constants.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#define GRAM (1e-3 * TW_GRAVITY) /* N: a weight is read as the force it makes */

/* spelled exactly so, except the words from `seconds` on, which are told apart without case */
static const tw_csv_unit units[] = {
    {"s", TW_OF_TIME, 1, "s"},
    {"ms", TW_OF_TIME, 1e-3, "s"},
    {"us", TW_OF_TIME, 1e-6, "s"},
    {"\xC2\xB5s", TW_OF_TIME, 1e-6, "s"},
    {"\xCE\xBCs", TW_OF_TIME, 1e-6, "s"},
    {"\xB5s", TW_OF_TIME, 1e-6, "s"},
    {"ns", TW_OF_TIME, 1e-9, "s"},
    {"min", TW_OF_TIME, 60, "s"},
    {"V", TW_OF_VOLT, 1, "V"},
    {"mV", TW_OF_VOLT, 1e-3, "V"},
    {"uV", TW_OF_VOLT, 1e-6, "V"},
    {"\xC2\xB5V", TW_OF_VOLT, 1e-6, "V"},
    {"\xCE\xBCV", TW_OF_VOLT, 1e-6, "V"},
    {"\xB5V", TW_OF_VOLT, 1e-6, "V"},
    {"nV", TW_OF_VOLT, 1e-9, "V"},
    {"kV", TW_OF_VOLT, 1e3, "V"},
    {"A", TW_OF_AMPERE, 1, "A"},
    {"mA", TW_OF_AMPERE, 1e-3, "A"},
    {"uA", TW_OF_AMPERE, 1e-6, "A"},
    {"nA", TW_OF_AMPERE, 1e-9, "A"},
    {"Hz", TW_OF_HERTZ, 1, "Hz"},
    {"kHz", TW_OF_HERTZ, 1e3, "Hz"},
    {"MHz", TW_OF_HERTZ, 1e6, "Hz"},
    {"deg", TW_OF_ANGLE, TW_DEGREE, "rad"},
    {"\xC2\xB0", TW_OF_ANGLE, TW_DEGREE, "rad"},
    {"rad", TW_OF_ANGLE, 1, "rad"},
    {"N", TW_OF_WEIGHT, 1, "N"},
    {"mN", TW_OF_WEIGHT, 1e-3, "N"},
    {"g", TW_OF_WEIGHT, GRAM, "N"},
    {"kg", TW_OF_WEIGHT, 1e3 * GRAM, "N"},
    {"mg", TW_OF_WEIGHT, 1e-3 * GRAM, "N"},
    {"gf", TW_OF_WEIGHT, GRAM, "N"},
    {"cN", TW_OF_WEIGHT, 1e-2, "N"},
    {"%", TW_OF_SHARE, 1e-2, "1"},
    {"FS", TW_OF_SHARE, 1, "1"},
    {"m", TW_OF_OTHER, 1, "m"},
    {"mm", TW_OF_OTHER, 1e-3, "m"},
    {"ohm", TW_OF_OTHER, 1, "ohm"},
    {"K", TW_OF_OTHER, 1, "K"},
    {"F", TW_OF_OTHER, 1, "F"},
    {"seconds", TW_OF_TIME, 1, "s"},
    {"second", TW_OF_TIME, 1, "s"},
    {"sec", TW_OF_TIME, 1, "s"},
    {"sekunden", TW_OF_TIME, 1, "s"},
    {"sekunde", TW_OF_TIME, 1, "s"},
    {"milliseconds", TW_OF_TIME, 1e-3, "s"},
    {"volt", TW_OF_VOLT, 1, "V"},
    {"volts", TW_OF_VOLT, 1, "V"},
    {"hertz", TW_OF_HERTZ, 1, "Hz"},
    {"degrees", TW_OF_ANGLE, TW_DEGREE, "rad"},
    {"grad", TW_OF_ANGLE, TW_DEGREE, "rad"},
    {"gram", TW_OF_WEIGHT, GRAM, "N"},
    {"grams", TW_OF_WEIGHT, GRAM, "N"},
    {"gramm", TW_OF_WEIGHT, GRAM, "N"},
    {"newton", TW_OF_WEIGHT, 1, "N"},
};

/* shortest word that may be written in any case: V and v, s and S are not words */
#define WORD_LENGTH 3

static tw_csv_cell inside(tw_csv_cell cell, char open, char close)
{
  if (cell.length >= 2 && cell.at[0] == open && cell.at[cell.length - 1] == close) {
    return (tw_csv_cell){cell.at + 1, cell.length - 2};
  }
  return cell;
}

static tw_csv_cell trimmed(tw_csv_cell cell)
{
  while (cell.length > 0 && (cell.at[0] == ' ' || cell.at[0] == '\t')) {
    cell.at++;
    cell.length--;
  }
  while (cell.length > 0 && strchr(" \t\r", cell.at[cell.length - 1])) {
    cell.length--;
  }
  return cell;
}

const tw_csv_unit *tw_csv_unit_named(tw_csv_cell cell)
{
  cell = trimmed(inside(inside(trimmed(cell), '(', ')'), '[', ']'));
  for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
    const size_t n = strlen(units[i].name);
    if (n == cell.length &&
        (memcmp(units[i].name, cell.at, n) == 0 || (n >= WORD_LENGTH && units[i].name[0] >= 'a' &&
                                                    strncasecmp(units[i].name, cell.at, n) == 0))) {
      return &units[i];
    }
  }
  return NULL;
}

/* the last byte of `marks` in the cell */
static const char *last_of(tw_csv_cell cell, const char *marks)
{
  for (size_t i = cell.length; i-- > 0;) {
    if (cell.at[i] && strchr(marks, cell.at[i])) {
      return cell.at + i;
    }
  }
  return NULL;
}

const tw_csv_unit *tw_csv_unit_in_name(tw_csv_cell cell, tw_csv_cell *name)
{
  *name = cell;
  const char *mark = last_of(cell, "[(/_ ");
  if (!mark || mark == cell.at) {
    return NULL;
  }
  const size_t before = (size_t)(mark - cell.at);
  const bool bracket = *mark == '[' || *mark == '(';
  const size_t skip = bracket ? 0 : 1;
  const tw_csv_cell rest = {mark + skip, cell.length - before - skip};
  const tw_csv_unit *unit = tw_csv_unit_named(rest);
  if (unit) {
    *name = trimmed((tw_csv_cell){cell.at, before});
  }
  return unit;
}

size_t tw_csv_cells(const char *at, size_t length, char separator, tw_csv_cell *out, size_t room)
{
  size_t n = 0;
  const char *end = at + length;
  while (n < room) {
    const char *stop = at;
    const char *p = at;
    while (p < end && *p == ' ') {
      p++;
    }
    if (p < end && *p == '"') {
      const char *close = memchr(p + 1, '"', (size_t)(end - p - 1));
      stop = close ? close + 1 : end;
    }
    while (stop < end && *stop != separator) {
      stop++;
    }
    out[n++] = trimmed(inside(trimmed((tw_csv_cell){at, (size_t)(stop - at)}), '"', '"'));
    if (stop >= end) {
      break;
    }
    at = stop + 1;
  }
  return n;
}
