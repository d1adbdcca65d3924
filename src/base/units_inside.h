/* units_inside.h: what the files of the unit module share. */
#ifndef TW_UNITS_INSIDE_H
#define TW_UNITS_INSIDE_H

#include "tripwright/units.h"

/* digits of a number, the most that are read */
#define TW_DIGITS 64

/* is this the spelling of a unit, whatever its names mean? */
bool tw_unit_spelling(const char *text);

/* 10^exponent, exponent 0..22: exact */
double tw_power_of_ten(int exponent);

/* digits as written times the unit, rounded once when the unit is a power of ten */
double tw_digits_to_si(const char *digits, size_t length, const tw_unit *unit, bool difference);

#endif
