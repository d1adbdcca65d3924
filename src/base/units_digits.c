/* units_digits.c: digits as they are written, times a unit. */
#include "units_inside.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

double tw_digits_to_si(const char *digits, size_t length, const tw_unit *unit, bool difference)
{
  char text[TW_DIGITS + 16];
  if (length > TW_DIGITS) {
    return (double)NAN;
  }
  memcpy(text, digits, length);
  text[length] = '\0';
  const char *e = strpbrk(text, "eE");
  if (unit->decimal && (!e || labs(strtol(e + 1, NULL, 10)) < 400)) {
    /* move the exponent instead of multiplying: 0.15 mm is exactly what 0.15e-3 is */
    const long exponent = (e ? strtol(e + 1, NULL, 10) : 0) + unit->decade;
    const size_t mantissa = e ? (size_t)(e - text) : length;
    snprintf(text + mantissa, sizeof text - mantissa, "e%ld", exponent);
    return strtod(text, NULL) + (difference ? 0 : unit->offset);
  }
  return tw_unit_to_si(unit, strtod(text, NULL), difference);
}
