/* units_read.c: numbers with units and tolerances from text.
 *
 *   quantity  = number [unit] [tolerance] [spread]
 *   tolerance = ("±" | "+-" | "+/-") number [unit | %]
 *             | "+" number [unit] "/" "-" number [unit]   (and with the signs exchanged)
 *   spread    = normal | uniform | triangular
 * Resistances may be written 4k7, 10M, 1M0, 470R, 0R47. */
#include "tripwright/units.h"

#include "units_inside.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* a cursor over the text with everything that a complaint needs */
typedef struct reader {
  tw_units *units;
  const char *text, *p;
  const tw_unit *kind;
  tw_fault *fault;
  size_t trouble;
} reader;

#define COMPLAIN(r, hint, ...)                                                                     \
  ((r)->trouble = (size_t)((r)->p - (r)->text),                                                    \
   tw_fail((r)->fault, TW_BAD_INPUT, "", (hint), __VA_ARGS__))

static void skip_space(reader *r)
{
  while (*r->p == ' ' || *r->p == '\t') {
    r->p++;
  }
}

static bool digit(char c)
{
  return c >= '0' && c <= '9';
}

/* length of a plain decimal number at p, 0 if there is none; its exponent is included */
static size_t number_length(const char *p)
{
  const char *s = p;
  s += *s == '+' || *s == '-';
  const char *first = s;
  size_t digits = 0;
  while (digit(*s)) {
    s++, digits++;
  }
  if (*s == '.') {
    s++;
    while (digit(*s)) {
      s++, digits++;
    }
  }
  if (!digits || s == first) {
    return 0;
  }
  if (*s == 'e' || *s == 'E') {
    const char *e = s + 1;
    e += *e == '+' || *e == '-';
    if (digit(*e)) {
      while (digit(*e)) {
        e++;
      }
      s = e;
    }
  }
  return (size_t)(s - p);
}

/* ---- resistors as they are printed ----------------------------------------------------------- */

static bool is_resistance(const tw_unit *unit)
{
  /* m2 kg s-3 A-2 */
  return unit->power[0] == 2 && unit->power[1] == 1 && unit->power[2] == -3 && unit->power[3] == -2;
}

/* 4k7, 10M, 470R, 0R47: *ohms and the length, or 0 */
static size_t resistor_code(const char *p, double *ohms)
{
  static const char letters[] = "RkKMG";
  static const int exponent[] = {0, 3, 3, 6, 9};
  const char *s = p;
  char digits[TW_DIGITS];
  size_t n = 0;
  bool point = false;
  while ((digit(*s) || (*s == '.' && !point)) && n < 40) {
    point |= *s == '.';
    digits[n++] = *s++;
  }
  const char *letter = n && *s ? strchr(letters, *s) : NULL;
  if (!letter) {
    return 0;
  }
  s++;
  if (digit(*s)) {
    if (point) {
      return 0; /* 4.7k7 */
    }
    digits[n++] = '.';
    while (digit(*s) && n < 60) {
      digits[n++] = *s++;
    }
  }
  if (isalpha((unsigned char)*s)) {
    return 0; /* kohm and the like are units */
  }
  const tw_unit unit = {.scale = 1, .decimal = true, .decade = exponent[letter - letters]};
  *ohms = tw_digits_to_si(digits, n, &unit, true);
  return (size_t)(s - p);
}

/* ---- pieces ---------------------------------------------------------------------------------- */

static const char *const spread_word[] = {"normal", "uniform", "triangular"};

/* p stands where a spread word, a tolerance or the end stops the unit */
static bool unit_ends(const char *p)
{
  if (!*p || *p == '+' || strncmp(p, "±", 2) == 0) {
    return true;
  }
  if (*p == '/') { /* the second half of +a/-b */
    const char *q = p + 1;
    while (*q == ' ') {
      q++;
    }
    return *q == '-' || *q == '+';
  }
  if (*p != ' ') {
    return false;
  }
  while (*p == ' ') {
    p++;
  }
  if (*p == '-') {
    return digit(p[1]) || p[1] == '.';
  }
  for (size_t i = 0; i < 3; i++) {
    const size_t n = strlen(spread_word[i]);
    if (strncmp(p, spread_word[i], n) == 0 && (!p[n] || p[n] == ' ')) {
      return true;
    }
  }
  return false;
}

/* take the unit's text; empty if there is none */
static void take_unit(reader *r, char *out, size_t size)
{
  const char *start = r->p;
  while (!unit_ends(r->p)) {
    r->p++;
  }
  const char *end = r->p;
  while (*start == ' ' && start < end) {
    start++;
  }
  while (end > start && end[-1] == ' ') {
    end--;
  }
  snprintf(out, size, "%.*s", (int)(end - start < (long)size ? end - start : (long)size - 1),
           start);
}

static void kind_words(const tw_unit *kind, char *out, size_t size)
{
  if (strcmp(kind->name, "1") == 0) {
    snprintf(out, size, "a plain number");
  } else {
    snprintf(out, size, "a quantity like %s", kind->name);
  }
}

static bool reciprocal(const tw_unit *a, const tw_unit *b)
{
  for (size_t i = 0; i < TW_BASE_UNITS; i++) {
    if (a->power[i] != -b->power[i]) {
      return false;
    }
  }
  return true;
}

/* a mass where a force belongs, or the other way: what a scale shows is the one, what the seat
 * feels the other; `number` as it was read, in `unit` */
static bool weight_for_force(reader *r, const char *spelling, const tw_unit *unit, double number,
                             char *hint, size_t size)
{
  tw_unit newton, gram, force;
  char name[TW_UNIT_NAME + 2], cure[48];
  if (tw_units_find(r->units, "N", &newton, NULL) != TW_OK ||
      tw_units_find(r->units, "g", &gram, NULL) != TW_OK) {
    return false;
  }
  const double si = tw_unit_to_si(unit, number, true);
  if (tw_unit_same_kind(unit, &gram) && tw_unit_same_kind(r->kind, &newton)) {
    snprintf(name, sizeof name, "%.*sf", (int)sizeof name - 2, spelling);
    const bool named =
        tw_units_find(r->units, name, &force, NULL) == TW_OK && tw_unit_same_kind(&force, &newton);
    tw_number_print(si * TW_GRAVITY, &newton, 3, cure, sizeof cure);
    if (named) {
      snprintf(hint, size, "%s is a mass: write %s, or %.6g %s for its weight", spelling, cure,
               number, name);
    } else {
      snprintf(hint, size, "%s is a mass: write %s", spelling, cure);
    }
    return true;
  }
  if (tw_unit_same_kind(unit, &newton) && tw_unit_same_kind(r->kind, &gram)) {
    tw_number_print(si / TW_GRAVITY, &gram, 3, cure, sizeof cure);
    snprintf(hint, size, "%s is a force: write the mass that pushes so hard, %s", spelling, cure);
    return true;
  }
  return false;
}

static tw_status wrong_kind(reader *r, const char *spelling, const tw_unit *unit, double number)
{
  char words[TW_UNIT_NAME + 24], hint[200];
  kind_words(r->kind, words, sizeof words);
  snprintf(hint, sizeof hint, "write it in %s", r->kind->name);
  if (strcmp(r->kind->name, "1") == 0) {
    snprintf(hint, sizeof hint, "leave the unit out");
  } else if (reciprocal(unit, r->kind)) {
    snprintf(hint, sizeof hint, "%s is the reciprocal kind; write it in %s", spelling,
             r->kind->name);
  } else if (is_resistance(r->kind) && strcmp(spelling, "m") == 0) {
    snprintf(hint, sizeof hint, "m is metre or milli; mega is M: write 10M or 10 Mohm");
  } else {
    weight_for_force(r, spelling, unit, number, hint, sizeof hint);
  }
  return COMPLAIN(r, hint, "'%s' does not fit: %s is needed", spelling, words);
}

/* unit text behind the number at `digits` -> unit of the right kind */
static tw_status find_unit(reader *r, const char *digits, const char *spelling, tw_unit *unit)
{
  tw_fault why = {0};
  if (tw_units_find(r->units, spelling, unit, &why) != TW_OK) {
    const char *hint = why.hint;
    if (is_resistance(r->kind)) {
      hint = "write for instance 4k7, 10M, 470 ohm, 4.7 kohm";
    }
    return COMPLAIN(r, hint, "%s", why.text);
  }
  return tw_unit_same_kind(unit, r->kind) ? TW_OK
                                          : wrong_kind(r, spelling, unit, strtod(digits, NULL));
}

/* number [unit] of r->kind. `fallback` is the unit of a number that has none (NULL: it must have
 * one unless the kind is plain); *unit is the unit used; `percent` (if allowed) says that it stands
 * for a share of the value. */
static tw_status take_number(reader *r, const tw_unit *fallback, bool difference, tw_unit *unit,
                             bool *percent, bool *bare, double *si)
{
  skip_space(r);
  double ohms = 0;
  const size_t code = is_resistance(r->kind) ? resistor_code(r->p, &ohms) : 0;
  if (code) {
    r->p += code;
    char rest[TW_UNIT_NAME];
    const char *after = r->p;
    take_unit(r, rest, sizeof rest);
    if (rest[0] && strcmp(rest, "ohm") != 0 && strcmp(rest, "Ω") != 0 && strcmp(rest, "Ohm") != 0) {
      r->p = after;
      return COMPLAIN(r, "", "'%s' has no place after a resistor value", rest);
    }
    *unit = (tw_unit){.name = "ohm", .scale = 1, .decimal = true};
    memcpy(unit->power, r->kind->power, sizeof unit->power);
    *si = ohms;
    return TW_OK;
  }
  const size_t length = number_length(r->p);
  if (!length) {
    if (*r->p == '\0') {
      return COMPLAIN(r, "", "a number is missing");
    }
    return COMPLAIN(r, "a number comes first, then its unit: 9.3 mm", "'%.24s' is no number", r->p);
  }
  if (length > TW_DIGITS) {
    return COMPLAIN(r, "", "the number has more than %d characters", TW_DIGITS);
  }
  const char *digits = r->p;
  r->p += length;
  if (*r->p == ',' && digit(r->p[1])) {
    return COMPLAIN(r, "write a decimal point: 9.3", "a comma inside a number");
  }
  const char *at_unit = r->p;
  char spelling[TW_UNIT_NAME];
  take_unit(r, spelling, sizeof spelling);
  const char *after = r->p;
  r->p = at_unit; /* complaints point at the unit */
  skip_space(r);
  if (!spelling[0]) {
    if (bare) {
      *bare = true;
    }
    if (!fallback && strcmp(r->kind->name, "1") != 0) {
      char hint[80];
      snprintf(hint, sizeof hint, "write for instance %.*s %s", (int)length, digits, r->kind->name);
      return COMPLAIN(r, hint, "the unit is missing");
    }
    *unit = fallback ? *fallback : *r->kind;
  } else if (percent && strcmp(spelling, "%") == 0) {
    *percent = true;
    *unit = (tw_unit){.name = "%", .scale = 0.01, .decimal = true, .decade = -2};
  } else {
    const tw_status status = find_unit(r, digits, spelling, unit);
    if (status != TW_OK) {
      return status;
    }
  }
  *si = tw_digits_to_si(digits, length, unit, difference);
  r->p = digits;
  if (!isfinite(*si) || fabs(*si) > 1e200) {
    return COMPLAIN(r, "", "the number is too large");
  }
  r->p = after;
  return TW_OK;
}

/* ---- tolerances ------------------------------------------------------------------------------ */

/* one side or both: number [unit|%], as a length of the value's kind */
static tw_status take_side(reader *r, double value, const tw_unit *value_unit, double *side,
                           bool *bare)
{
  tw_unit unit;
  bool percent = false;
  skip_space(r);
  const char *start = r->p;
  const tw_status status = take_number(r, value_unit, true, &unit, &percent, bare, side);
  if (status != TW_OK) {
    return status;
  }
  if (percent) {
    *side *= fabs(value);
  }
  if (*side < 0) {
    r->p = start;
    return COMPLAIN(r, "", "a tolerance is not negative");
  }
  return TW_OK;
}

/* after the first sign of "+a/-b" */
static tw_status take_pair(reader *r, bool plus_first, double value, const tw_unit *unit,
                           tw_tolerance *out)
{
  double first, second;
  bool first_bare = false, second_bare = false;
  const char *start = r->p;
  tw_status status = take_side(r, value, unit, &first, &first_bare);
  if (status != TW_OK) {
    return status;
  }
  skip_space(r);
  if (*r->p != '/') {
    return COMPLAIN(r, "write both limits, +20 um/-0, or one for both, ± 20 um",
                    "the second limit is missing");
  }
  r->p++;
  skip_space(r);
  if (*r->p != (plus_first ? '-' : '+')) {
    return COMPLAIN(r, "write +20 um/-5 um", "the second limit needs the other sign");
  }
  r->p++;
  status = take_side(r, value, unit, &second, &second_bare);
  if (status != TW_OK) {
    return status;
  }
  if (first_bare && !second_bare && first != 0 && second != 0) {
    r->p = start;
    return COMPLAIN(r, "write the unit at both limits: +20 um/-5 um",
                    "the unit of the first limit is not clear");
  }
  out->plus = plus_first ? first : second;
  out->minus = plus_first ? second : first;
  return TW_OK;
}

static tw_status take_tolerance(reader *r, double value, const tw_unit *unit, tw_tolerance *out)
{
  skip_space(r);
  size_t sign = 0;
  if (strncmp(r->p, "±", 2) == 0 || strncmp(r->p, "+-", 2) == 0) {
    sign = 2;
  } else if (strncmp(r->p, "+/-", 3) == 0) {
    sign = 3;
  }
  if (sign) {
    r->p += sign;
    const tw_status status = take_side(r, value, unit, &out->plus, NULL);
    out->minus = out->plus;
    out->given = true;
    return status;
  }
  if (*r->p == '+' || *r->p == '-') {
    const bool plus = *r->p++ == '+';
    out->given = true;
    return take_pair(r, plus, value, unit, out);
  }
  return TW_OK;
}

static tw_status take_spread(reader *r, tw_tolerance *out)
{
  skip_space(r);
  if (!*r->p) {
    return TW_OK;
  }
  for (size_t i = 0; i < 3; i++) {
    const size_t n = strlen(spread_word[i]);
    if (strncmp(r->p, spread_word[i], n) == 0 && (!r->p[n] || r->p[n] == ' ')) {
      if (!out->given) {
        return COMPLAIN(r, "write for instance ± 0.1 mm before it", "'%s' without a tolerance",
                        spread_word[i]);
      }
      out->spread = (tw_spread)i;
      r->p += n;
      skip_space(r);
      break;
    }
  }
  if (*r->p) {
    return COMPLAIN(r, "value, unit, tolerance, then normal, uniform or triangular",
                    "'%.24s' was not expected here", r->p);
  }
  return TW_OK;
}

tw_status tw_quantity_read(tw_units *units, const char *text, const tw_unit *unit, tw_quantity *out,
                           size_t *at, tw_fault *fault)
{
  reader r = {.units = units, .text = text, .p = text, .kind = unit, .fault = fault};
  tw_quantity q = {0};
  tw_unit used;
  tw_status status = take_number(&r, NULL, false, &used, NULL, NULL, &q.number);
  if (status == TW_OK) {
    status = take_tolerance(&r, q.number, &used, &q.tolerance);
  }
  if (status == TW_OK) {
    status = take_spread(&r, &q.tolerance);
  }
  if (at) {
    *at = status == TW_OK ? 0 : r.trouble;
  }
  if (status == TW_OK) {
    *out = q;
  }
  return status;
}
