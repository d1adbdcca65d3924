/* units_print.c: numbers with units and tolerances as text, in metric or inch units. */
#include "tripwright/units.h"

#include "units_inside.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void tw_unit_shown(tw_units *units, const tw_unit *shown, tw_system system, tw_unit *out)
{
  static const char *const pair[][2] = {
      {"um", "thou"},         {"mm", "inch"},       {"m", "ft"},          {"N", "lbf"},
      {"mm/min", "inch/min"}, {"N/mm", "lbf/inch"}, {"N/um", "lbf/thou"}, {"g", "lb"},
      {"m/s2", "ft/s2"},      {"m/s3", "ft/s3"},    {"um/K", "thou/K"},   {"nC/N", "nC/lbf"},
      {"GPa", "lbf/inch2"},   {"MPa", "lbf/inch2"}, {"um/N", "thou/lbf"}, {"V/N", "V/lbf"},
  };
  *out = *shown;
  if (system != TW_INCH) {
    return;
  }
  for (size_t i = 0; i < sizeof pair / sizeof pair[0]; i++) {
    tw_unit unit;
    if (strcmp(shown->name, pair[i][0]) == 0 &&
        tw_units_find(units, pair[i][1], &unit, NULL) == TW_OK) {
      *out = unit;
      return;
    }
  }
}

double tw_shown_beside(double value, double whole)
{
  return fabs(value) < TW_SHOWN_LEAST * fabs(whole) || value == 0 ? 0 : value;
}

bool tw_weight_beside(double si, const char *unit, double *beside, char *out, size_t size)
{
  static const tw_unit newton = {.name = "N", .scale = 1, .decimal = true},
                       gram = {.name = "g", .scale = 1e-3, .decimal = true, .decade = -3},
                       kilogram = {.name = "kg", .scale = 1, .decimal = true};
  const bool mass = strcmp(unit, "kg") == 0;
  out[0] = '\0';
  *beside = 0;
  if (!isfinite(si) || (!mass && strcmp(unit, "N") != 0)) {
    return false;
  }
  *beside = mass ? si * TW_GRAVITY : si / TW_GRAVITY;
  tw_number_print(*beside, mass ? &newton : fabs(*beside) < 1.0 ? &gram : &kilogram, 3, out, size);
  return true;
}

/* "d.ddde-5" with its exponent moved by `shift`, written out for sizes that people write out */
static void place_point(const char *scientific, int shift, char *out, size_t size)
{
  char digits[32] = "";
  size_t n = 0;
  const bool negative = scientific[0] == '-';
  const char *e = strchr(scientific, 'e');
  for (const char *p = scientific; p < e; p++) {
    if (*p >= '0' && *p <= '9' && n + 1 < sizeof digits) {
      digits[n++] = *p;
    }
  }
  while (n > 1 && digits[n - 1] == '0') {
    n--;
  }
  digits[n] = '\0';
  const int exponent = (int)strtol(e + 1, NULL, 10) + shift;
  const char *sign = negative ? "-" : "";
  if (strcmp(digits, "0") == 0) {
    snprintf(out, size, "%s0", sign);
  } else if (exponent < -5 || exponent > 8) {
    snprintf(out, size, "%s%c%s%se%d", sign, digits[0], n > 1 ? "." : "", digits + 1, exponent);
  } else if (exponent < 0) {
    snprintf(out, size, "%s0.%.*s%s", sign, -exponent - 1, "00000", digits);
  } else if ((size_t)exponent + 1 >= n) {
    snprintf(out, size, "%s%s%.*s", sign, digits, exponent + 1 - (int)n, "000000000");
  } else {
    snprintf(out, size, "%s%.*s.%s", sign, exponent + 1, digits, digits + exponent + 1);
  }
}

/* digits of si in `unit`; if digits is 0 as few as read back the same number. In a unit that is a
 * power of ten the decimal point is moved in the text, so that nothing is rounded twice. */
static void print_digits(double si, const tw_unit *unit, int digits, bool difference, char *out,
                         size_t size)
{
  char scientific[48];
  const bool moved = unit->decimal && (difference || unit->offset == 0);
  const double number = moved ? si : tw_unit_from_si(unit, si, difference);
  const int shift = moved ? -unit->decade : 0;
  for (int p = digits > 0 ? digits : 1; p <= 17; p++) {
    snprintf(scientific, sizeof scientific, "%.*e", p - 1, number);
    if (digits > 0 || (moved && strtod(scientific, NULL) == si)) {
      break;
    }
    place_point(scientific, 0, out, size);
    if (!moved && tw_digits_to_si(out, strlen(out), unit, difference) == si) {
      break;
    }
  }
  place_point(scientific, shift, out, size);
}

static const char *suffix(const tw_unit *unit)
{
  return strcmp(unit->name, "1") == 0 ? "" : unit->name;
}

int tw_number_print(double si, const tw_unit *unit, int digits, char *out, size_t size)
{
  char number[48];
  print_digits(si, unit, digits, false, number, sizeof number);
  const char *name = suffix(unit);
  return snprintf(out, size, "%s%s%s", number, *name ? " " : "", name);
}

int tw_quantity_print(const tw_quantity *quantity, const tw_unit *unit, int digits, char *out,
                      size_t size)
{
  static const char *const word[] = {"", " uniform", " triangular"};
  const tw_tolerance *t = &quantity->tolerance;
  char value[96], plus[48], minus[48];
  tw_number_print(quantity->number, unit, digits, value, sizeof value);
  if (!t->given) {
    return snprintf(out, size, "%s", value);
  }
  const char *name = suffix(unit), *space = *name ? " " : "";
  print_digits(t->plus, unit, digits, true, plus, sizeof plus);
  print_digits(t->minus, unit, digits, true, minus, sizeof minus);
  if (t->plus == t->minus) {
    return snprintf(out, size, "%s ± %s%s%s%s", value, plus, space, name, word[t->spread]);
  }
  return snprintf(out, size, "%s +%s%s%s/-%s%s%s%s", value, plus, space, name, minus, space, name,
                  word[t->spread]);
}

double tw_number_rounded(double si, const tw_unit *unit, int digits, int way)
{
  const double number = tw_unit_from_si(unit, si, false);
  if (number == 0 || !isfinite(number)) {
    return si;
  }
  const double step = pow(10, floor(log10(fabs(number))) + 1 - digits);
  /* a number of so many digits already stays itself */
  const double steps = number / step, near = round(steps);
  const double whole = fabs(steps - near) < 1e-9 * fabs(steps) || way == 0 ? near
                       : way > 0                                           ? ceil(steps)
                                                                           : floor(steps);
  return tw_unit_to_si(unit, whole * step, false);
}
