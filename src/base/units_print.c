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

/* `digits` significant digits, without an exponent for sizes that people write out */
static int print_plain(double number, int digits, char *out, size_t size)
{
  const double size_of = fabs(number);
  if (size_of >= 1e-5 && size_of < 1e9) {
    char rounded[48];
    snprintf(rounded, sizeof rounded, "%.*e", digits - 1, number);
    const int exponent = (int)strtol(strchr(rounded, 'e') + 1, NULL, 10);
    if (exponent >= digits) { /* 6e+01 -> 60 */
      return snprintf(out, size, "%.0f", strtod(rounded, NULL));
    }
  }
  return snprintf(out, size, "%.*g", digits, number);
}

/* digits of si in `unit`, as few as read back the same number if digits is 0 */
static void print_digits(double si, const tw_unit *unit, int digits, bool difference, char *out,
                         size_t size)
{
  const double number = tw_unit_from_si(unit, si, difference);
  if (digits > 0) {
    print_plain(number, digits, out, size);
    return;
  }
  for (int p = 1; p <= 17; p++) {
    const int n = print_plain(number, p, out, size);
    if (n < (int)size && tw_digits_to_si(out, (size_t)n, unit, difference) == si) {
      return;
    }
  }
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
