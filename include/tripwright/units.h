/* units.h: numbers with units and tolerances, read and written.
 *
 * Everything inside is SI; a unit stands only in text. A tw_units is the loaded unit system: load
 * it once (about ten milliseconds), use it from any number of threads (calls are guarded inside),
 * free it at the end; all other objects that were made with it need it to live longer than they
 * do. Spellings of the trade beside those of the SI: thou, mil, inch, deg, gf, rpm, ohm, kohm,
 * Mohm, nV/rtHz, and resistor values such as 4k7, 10M, 1M0 (m and M are told apart).
 */
#ifndef TRIPWRIGHT_UNITS_H
#define TRIPWRIGHT_UNITS_H

#include "tripwright/base.h"
#include "tripwright/constants.h"

typedef struct tw_units tw_units;

/* One unit as a plain value: si = number * scale + offset. `power` are the exponents of the base
 * units (m kg s A K mol cd rad sqrt(Hz)); two units are of the same kind when all agree, so that
 * reciprocals (s and Hz) and angles against plain numbers are told apart. */
#define TW_UNIT_NAME  40
#define TW_BASE_UNITS 9
typedef struct tw_unit {
  char name[TW_UNIT_NAME];
  double scale, offset;
  int decade; /* scale is 10^decade, if `decimal`; keeps 0.15 mm exactly 0.15e-3 */
  bool decimal;
  signed char power[TW_BASE_UNITS];
} tw_unit;

/* Load the unit system. TW_NO_FILE when its data base is missing, TW_NO_MEMORY. */
tw_status tw_units_new(tw_units **out, tw_fault *fault);
void tw_units_free(tw_units *units);

/* The unit with this spelling; TW_BAD_INPUT with cause and cure when there is none. */
tw_status tw_units_find(tw_units *units, const char *spelling, tw_unit *out, tw_fault *fault);

/* SI value of `number` in `unit`, and back; offsets (degC) are left out for a `difference`. */
double tw_unit_to_si(const tw_unit *unit, double number, bool difference);
double tw_unit_from_si(const tw_unit *unit, double si, bool difference);
bool tw_unit_same_kind(const tw_unit *a, const tw_unit *b);
/* the SI unit of the same kind, by the name that documents use; "" if it has none of its own */
const char *tw_unit_si_name(tw_units *units, const tw_unit *unit);

/* how a value is spread between its limits value - minus and value + plus; normal: the middle of
 * the limits is the mean and their distance four standard deviations; unless stated: normal */
typedef enum tw_spread { TW_SPREAD_NORMAL, TW_SPREAD_UNIFORM, TW_SPREAD_TRIANGULAR } tw_spread;

/* value - minus .. value + plus, both >= 0, SI; given = false means that none was stated */
typedef struct tw_tolerance {
  bool given;
  tw_spread spread;
  double minus, plus;
} tw_tolerance;

typedef struct tw_quantity {
  double number; /* SI */
  tw_tolerance tolerance;
} tw_quantity;

/* Read "20 um +15 um/-0 normal", "9.3 mm ± 0.05", "4k7", "0.15 +- 10 %" of the kind of `unit`.
 * A number without unit is refused unless `unit` is dimensionless. TW_BAD_INPUT with cause and
 * cure in `fault`; `*at` (may be NULL) is the byte of `text` where the trouble starts. Not finite
 * results are refused. */
tw_status tw_quantity_read(tw_units *units, const char *text, const tw_unit *unit, tw_quantity *out,
                           size_t *at, tw_fault *fault);

/* which unit stands in for a metric one when a person reads: metric, or inch, thou, lbf... */
typedef enum tw_system { TW_METRIC, TW_INCH } tw_system;
/* The unit in which to show values whose table unit is `shown`: itself, or for TW_INCH the trade's
 * counterpart (um -> thou, mm -> inch, N -> lbf, mm/min -> inch/min ...) if it has one. */
void tw_unit_shown(tw_units *units, const tw_unit *shown, tw_system system, tw_unit *out);

/* What is printed of `value` beside `whole`, a figure of the same kind with which it is compared: 0
 * when it is below TW_SHOWN_LEAST of it. Less than that is what rounding leaves of the successive
 * runs of a solver (relative tolerances of 1e-9 to 1e-12), and says nothing about the probe. Never
 * minus zero. */
#define TW_SHOWN_LEAST 1e-6
double tw_shown_beside(double value, double whole);

/* What stands beside a figure that is read with weights or a scale: for kilograms the force ("0.118
 * N"), for newtons the weight ("12 g", from 1 kg "1.2 kg"); *beside is that figure in SI. False,
 * and an empty text, for every other unit. */
bool tw_weight_beside(double si, const char *unit, double *beside, char *out, size_t size);

/* "9.3 mm": `digits` significant digits (17 keeps every bit, 0 = as few as give the same number
 * back), no padding; the length as snprintf returns it. */
int tw_number_print(double si, const tw_unit *unit, int digits, char *out, size_t size);
/* the same with its tolerance, as tw_quantity_read reads it back */
int tw_quantity_print(const tw_quantity *quantity, const tw_unit *unit, int digits, char *out,
                      size_t size);
/* `si` rounded to `digits` digits in `unit`: way +1 up, -1 down, 0 to the nearest; for limits that
 * must still hold as they are printed */
double tw_number_rounded(double si, const tw_unit *unit, int digits, int way);

#endif
