/* csv_number.c: numbers and stamps as instruments write them. */
#include "csv.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* powers of ten that a double holds exactly: m / 10^k is then the nearest double for m < 2^53 */
static const double exact_tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                    1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                    1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
#define EXACT_TEN   22
#define EXACT_WHOLE ((uint64_t)1 << 53)
#define SLOW_LENGTH 64 /* longest number that is written out */

/* by the library, for the rare long ones */
static const char *slow_number(const char *at, const char *end, char decimal, double *out)
{
  char copy[SLOW_LENGTH + 1];
  size_t n = 0;
  while (n < SLOW_LENGTH && at + n < end && at[n] && strchr("+-.,0123456789eE", at[n])) {
    if (at[n] == ',' && decimal != ',') {
      break;
    }
    copy[n] = at[n] == decimal ? '.' : at[n];
    n++;
  }
  copy[n] = '\0';
  char *stop;
  *out = strtod(copy, &stop);
  return stop > copy && isfinite(*out) ? at + (stop - copy) : NULL;
}

/* the exponent behind e or E at `p`; *p is moved past it */
static bool exponent(const char **p, const char *end, int *out)
{
  const char *q = *p + 1;
  bool minus = false;
  int e = 0;
  if (q < end && (*q == '-' || *q == '+')) {
    minus = *q++ == '-';
  }
  if (q == end || !isdigit((unsigned char)*q)) {
    return false;
  }
  for (; q < end && isdigit((unsigned char)*q); q++) {
    e = e < 10000 ? 10 * e + (*q - '0') : e;
  }
  *out = minus ? -e : e;
  *p = q;
  return true;
}

const char *tw_csv_number(const char *at, const char *end, char decimal, double *out)
{
  const char *p = at;
  const bool minus = p < end && *p == '-';
  p += p < end && (*p == '-' || *p == '+');
  uint64_t whole = 0;
  const char *digits = p;
  for (; p < end && (unsigned)(*p - '0') < 10u; p++) {
    whole = 10 * whole + (uint64_t)(*p - '0');
  }
  ptrdiff_t count = p - digits;
  int tens = 0;
  if (p < end && *p == decimal) {
    const char *behind = ++p;
    for (; p < end && (unsigned)(*p - '0') < 10u; p++) {
      whole = 10 * whole + (uint64_t)(*p - '0');
    }
    tens = -(int)(p - behind < 10000 ? p - behind : 10000);
    count += p - behind;
  }
  if (count == 0) {
    return NULL;
  }
  int e = 0;
  if (p < end && (*p == 'e' || *p == 'E') && !exponent(&p, end, &e)) {
    return NULL;
  }
  tens += e;
  if (count > 18 || whole >= EXACT_WHOLE || tens > EXACT_TEN || tens < -EXACT_TEN) {
    return slow_number(at, end, decimal, out);
  }
  const double value =
      tens < 0 ? (double)whole / exact_tens[-tens] : (double)whole * exact_tens[tens];
  *out = minus ? -value : value;
  return p;
}

bool tw_csv_number_cell(tw_csv_cell cell, char decimal, double *out)
{
  const char *end = cell.at + cell.length;
  return cell.length > 0 && tw_csv_number(cell.at, end, decimal, out) == end;
}

int tw_csv_decimals(tw_csv_cell cell, char decimal)
{
  const char *mark = memchr(cell.at, decimal, cell.length);
  int n = 0;
  for (const char *p = mark ? mark + 1 : NULL;
       p && p < cell.at + cell.length && isdigit((unsigned char)*p); p++) {
    n++;
  }
  return n;
}

bool tw_csv_missing(tw_csv_cell cell)
{
  static const char *const words[] = {"nan",  "inf",      "+inf", "-inf", "ol",
                                      "ovld", "overload", "ovf",  "-nan", "infinity",
                                      "n/a",  "na",       "---",  "--",   "-"};
  if (cell.length == 0) {
    return true;
  }
  for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
    if (strlen(words[i]) == cell.length && strncasecmp(words[i], cell.at, cell.length) == 0) {
      return true;
    }
  }
  return strspn(cell.at, "-") >= cell.length;
}

/* ---- stamps ---------------------------------------------------------------------------------- */

/* whole number of up to `most` digits; NULL if there is none */
static const char *digits_of(const char *p, const char *end, int most, int *out)
{
  int n = 0;
  *out = 0;
  for (; p < end && isdigit((unsigned char)*p) && n < most; p++, n++) {
    *out = 10 * *out + (*p - '0');
  }
  return n > 0 ? p : NULL;
}

static const char *expect(const char *p, const char *end, char c)
{
  return p && p < end && *p == c ? p + 1 : NULL;
}

/* days since 1970-01-01 of a date of the Gregorian calendar (civil-from-days, H. Hinnant's
 * "chrono-compatible low-level date algorithms") */
static double days_since_1970(int y, int m, int d)
{
  y -= m <= 2;
  const int era = (y >= 0 ? y : y - 399) / 400;
  const int yoe = y - era * 400;
  const int doy = (153 * (m + (m > 2 ? -3 : 9)) + 2) / 5 + d - 1;
  const int doe = yoe * 365 + yoe / 4 - yoe / 100 + doy;
  return 146097.0 * era + doe - 719468.0;
}

/* 2026-03-14 or 14.03.2026; NULL when it is neither */
static const char *date_of(const char *p, const char *end, double *days)
{
  int a, b, c;
  const char *q = digits_of(p, end, 4, &a);
  const char mark = q && q < end ? *q : '\0';
  if (mark != '-' && mark != '.') {
    return NULL;
  }
  q = digits_of(q + 1, end, 2, &b);
  q = expect(q, end, mark);
  q = q ? digits_of(q, end, 4, &c) : NULL;
  const int year = mark == '-' ? a : q ? c : 0;
  const int day = mark == '-' ? (q ? c : 0) : a;
  if (!q || year < 1900 || year > 2200 || b < 1 || b > 12 || day < 1 || day > 31) {
    return NULL;
  }
  *days = days_since_1970(year, b, day);
  return q;
}

/* hh:mm:ss with a fraction behind a point or a comma */
static const char *clock_of(const char *p, const char *end, double *seconds)
{
  int h, m, s;
  const char *q = expect(digits_of(p, end, 2, &h), end, ':');
  q = q ? expect(digits_of(q, end, 2, &m), end, ':') : NULL;
  q = q ? digits_of(q, end, 2, &s) : NULL;
  if (!q || h > 24 || m > 59 || s > 60) {
    return NULL;
  }
  *seconds = 3600.0 * h + 60.0 * m + s;
  if (q < end && (*q == '.' || *q == ',')) {
    double scale = 0.1;
    for (q++; q < end && isdigit((unsigned char)*q); q++, scale /= 10) {
      *seconds += scale * (*q - '0');
    }
  }
  return q;
}

bool tw_csv_stamp(tw_csv_cell cell, double *days, double *seconds)
{
  const char *p = cell.at, *end = cell.at + cell.length;
  *days = *seconds = 0;
  const char *q = date_of(p, end, days);
  if (q) {
    if (q == end || (*q != ' ' && *q != 'T')) {
      return false;
    }
    for (p = q + 1; p < end && *p == ' '; p++) {
    }
  }
  q = clock_of(p, end, seconds);
  if (q && q < end && *q == 'Z') {
    q++;
  }
  return q == end && q != NULL;
}

tw_cell_kind tw_csv_kind(tw_csv_cell cell, char decimal)
{
  double value, days;
  if (cell.length == 0) {
    return TW_CELL_EMPTY;
  }
  if (tw_csv_number_cell(cell, decimal, &value)) {
    return TW_CELL_NUMBER;
  }
  return tw_csv_stamp(cell, &days, &value) ? TW_CELL_STAMP : TW_CELL_WORD;
}
