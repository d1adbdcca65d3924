/* units_system.c: the unit system over udunits2, and units as plain values.
 *
 * udunits2 parses through static variables, so every call into it is made under one lock. A unit
 * that was once parsed stays in a small table (the newest of each slot wins), so that reading a
 * design touches udunits2 only for spellings not seen before. */
#include "tripwright/units.h"

#include "units_inside.h"

#include <float.h>
#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <udunits2.h>

#define TW_UNIT_SLOTS 512

struct tw_units {
  ut_system *system;
  pthread_mutex_t lock;
  tw_unit slot[TW_UNIT_SLOTS]; /* name "" = empty */
};

/* udunits2 is not safe for several threads, whichever system they use */
static pthread_mutex_t parser_lock = PTHREAD_MUTEX_INITIALIZER;

/* names that udunits2 lacks: name, what it is, takes prefixes as a symbol does */
static const struct {
  const char *name, *meaning;
  bool symbol;
} trade[] = {
    {"thou", "mil", false},  {"deg", "degree", false}, {"Ohm", "ohm", true},
    {"rev", "cycle", false}, {"Ah", "A.h", true},      {"inches", "inch", false},
};

static const char *const base_symbol[TW_BASE_UNITS] = {"m",   "kg", "s",   "A",   "K",
                                                       "mol", "cd", "rad", "rtHz"};

static bool map_unit(const char *name, ut_unit *unit, bool symbol)
{
  const ut_status status = symbol ? ut_map_symbol_to_unit(name, UT_ASCII, unit)
                                  : ut_map_name_to_unit(name, UT_ASCII, unit);
  return status == UT_SUCCESS;
}

static bool add_trade_units(ut_system *system)
{
  for (size_t i = 0; i < sizeof trade / sizeof trade[0]; i++) {
    ut_unit *unit = ut_parse(system, trade[i].meaning, UT_ASCII);
    const bool done = unit && map_unit(trade[i].name, unit, trade[i].symbol);
    ut_free(unit);
    if (!done) {
      return false;
    }
  }
  /* square root of a hertz, for noise: a base unit of its own */
  ut_unit *root = ut_new_base_unit(system);
  const bool done = root && map_unit("rtHz", root, true) &&
                    ut_map_unit_to_symbol(root, "rtHz", UT_ASCII) == UT_SUCCESS;
  ut_free(root);
  return done;
}

tw_status tw_units_new(tw_units **out, tw_fault *fault)
{
  *out = NULL;
  tw_units *units = tw_alloc(1, sizeof *units);
  if (!units) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "out of memory");
  }
  pthread_mutex_lock(&parser_lock);
  ut_set_error_message_handler(ut_ignore);
  units->system = ut_read_xml(NULL);
  const bool ready = units->system && add_trade_units(units->system);
  pthread_mutex_unlock(&parser_lock);
  if (!ready || pthread_mutex_init(&units->lock, NULL) != 0) {
    pthread_mutex_lock(&parser_lock);
    ut_free_system(units->system);
    pthread_mutex_unlock(&parser_lock);
    tw_free(units);
    return tw_fail(fault, TW_NO_FILE, "", "install udunits2 with its data files",
                   "the data base of units could not be read");
  }
  *out = units;
  return TW_OK;
}

void tw_units_free(tw_units *units)
{
  if (!units) {
    return;
  }
  pthread_mutex_lock(&parser_lock);
  ut_free_system(units->system);
  pthread_mutex_unlock(&parser_lock);
  pthread_mutex_destroy(&units->lock);
  tw_free(units);
}

/* ---- taking a udunits2 unit apart ------------------------------------------------------------ */

static ut_visitor visitor(void);

static ut_status visit_basic(const ut_unit *unit, void *arg)
{
  tw_unit *out = arg;
  const char *symbol = ut_get_symbol(unit, UT_ASCII);
  for (size_t b = 0; symbol && b < TW_BASE_UNITS; b++) {
    if (strcmp(symbol, base_symbol[b]) == 0) {
      out->power[b]++;
      return UT_SUCCESS;
    }
  }
  return UT_VISIT_ERROR;
}

static ut_status visit_product(const ut_unit *unit, int count, const ut_unit *const *basic,
                               const int *powers, void *arg)
{
  (void)unit;
  tw_unit *out = arg;
  for (int i = 0; i < count; i++) {
    tw_unit one = {0};
    if (abs(powers[i]) > 100 || visit_basic(basic[i], &one) != UT_SUCCESS) {
      return UT_VISIT_ERROR;
    }
    for (size_t b = 0; b < TW_BASE_UNITS; b++) {
      const int sum = out->power[b] + one.power[b] * powers[i];
      if (abs(sum) > 100) {
        return UT_VISIT_ERROR;
      }
      out->power[b] = (signed char)sum;
    }
  }
  return UT_SUCCESS;
}

static ut_status visit_galilean(const ut_unit *unit, double scale, const ut_unit *underlying,
                                double offset, void *arg)
{
  (void)unit;
  /* this = scale * (underlying) + offset, in units of `underlying`: si = scale * (n + offset) */
  tw_unit inner = {.scale = 1};
  const ut_visitor calls = visitor();
  const ut_status status = ut_accept_visitor(underlying, &calls, &inner);
  tw_unit *out = arg;
  out->scale = scale * inner.scale;
  out->offset = inner.offset + offset * out->scale;
  memcpy(out->power, inner.power, sizeof out->power);
  return status;
}

static ut_status visit_timestamp(const ut_unit *unit, const ut_unit *time, double origin, void *arg)
{
  (void)unit, (void)time, (void)origin, (void)arg;
  return UT_VISIT_ERROR;
}

static ut_status visit_logarithmic(const ut_unit *unit, double base, const ut_unit *reference,
                                   void *arg)
{
  (void)unit, (void)base, (void)reference, (void)arg;
  return UT_VISIT_ERROR;
}

static ut_visitor visitor(void)
{
  return (ut_visitor){visit_basic, visit_product, visit_galilean, visit_timestamp,
                      visit_logarithmic};
}

/* scale = 10^decade exactly as the compiler reads it? */
static void find_decade(tw_unit *unit)
{
  const double guess = round(log10(unit->scale));
  if (!(fabs(guess) <= 40)) {
    return;
  }
  char text[16];
  snprintf(text, sizeof text, "1e%d", (int)guess);
  const double power = strtod(text, NULL);
  if (fabs(unit->scale / power - 1) < 4 * DBL_EPSILON) {
    unit->scale = power;
    unit->decade = (int)guess;
    unit->decimal = true;
  }
}

/* parse with udunits2; the lock is held */
static bool parse(ut_system *system, const char *spelling, tw_unit *out)
{
  ut_unit *unit = ut_parse(system, spelling, UT_UTF8);
  if (!unit) {
    return false;
  }
  *out = (tw_unit){.scale = 1};
  const ut_visitor calls = visitor();
  const bool known = ut_accept_visitor(unit, &calls, out) == UT_SUCCESS;
  ut_free(unit);
  if (!known || !isfinite(out->scale) || !isfinite(out->offset) || out->scale <= 0) {
    return false;
  }
  find_decade(out);
  return true;
}

/* ---- finding --------------------------------------------------------------------------------- */

static size_t slot_of(const char *name)
{
  uint32_t hash = 2166136261u; /* FNV-1a */
  for (; *name; name++) {
    hash = (hash ^ (unsigned char)*name) * 16777619u;
  }
  return hash % TW_UNIT_SLOTS;
}

/* sqrt(Hz) is how data sheets write it */
static bool spell(const char *spelling, char *out, size_t size)
{
  static const char *const root[] = {"sqrt(Hz)", "√Hz", "rt(Hz)"};
  const size_t length = strlen(spelling);
  if (length >= size) {
    return false;
  }
  memcpy(out, spelling, length + 1);
  for (size_t i = 0; i < sizeof root / sizeof root[0]; i++) {
    char *at = strstr(out, root[i]);
    if (at) {
      const size_t cut = strlen(root[i]);
      memcpy(at, "rtHz", 4);
      memmove(at + 4, at + cut, strlen(at + cut) + 1);
    }
  }
  return true;
}

static tw_status unknown_unit(const char *spelling, tw_fault *fault)
{
  const char *hint = "write for instance mm, um, N, kohm, nF or deg";
  if (strcmp(spelling, "M") == 0 || strcmp(spelling, "k") == 0) {
    hint = "write the unit after the prefix: kohm, Mohm";
  } else if (strchr(spelling, ',')) {
    hint = "a comma has no place here";
  }
  return tw_fail(fault, TW_BAD_INPUT, "", hint, "'%.40s' is no unit that is known", spelling);
}

tw_status tw_units_find(tw_units *units, const char *spelling, tw_unit *out, tw_fault *fault)
{
  char name[TW_UNIT_NAME];
  if (!spelling[0] || !spell(spelling, name, sizeof name) || !tw_unit_spelling(name)) {
    return unknown_unit(spelling, fault);
  }
  tw_unit *slot = &units->slot[slot_of(name)];
  pthread_mutex_lock(&units->lock);
  bool found = strcmp(slot->name, name) == 0;
  if (found) {
    *out = *slot;
  }
  pthread_mutex_unlock(&units->lock);
  if (found) {
    return TW_OK;
  }
  pthread_mutex_lock(&parser_lock);
  found = parse(units->system, name, out);
  pthread_mutex_unlock(&parser_lock);
  if (!found) {
    return unknown_unit(spelling, fault);
  }
  memcpy(out->name, name, sizeof name);
  pthread_mutex_lock(&units->lock);
  *slot = *out;
  pthread_mutex_unlock(&units->lock);
  return TW_OK;
}

/* ---- using ----------------------------------------------------------------------------------- */

double tw_unit_to_si(const tw_unit *unit, double number, bool difference)
{
  /* dividing by an exact power of ten rounds once, multiplying by its inverse twice */
  const double scaled = unit->decimal && unit->decade < 0 && unit->decade >= -22
                            ? number / tw_power_of_ten(-unit->decade)
                            : number * unit->scale;
  return difference ? scaled : scaled + unit->offset;
}

double tw_unit_from_si(const tw_unit *unit, double si, bool difference)
{
  const double shifted = difference ? si : si - unit->offset;
  return unit->decimal && unit->decade < 0 && unit->decade >= -22
             ? shifted * tw_power_of_ten(-unit->decade)
             : shifted / unit->scale;
}

double tw_power_of_ten(int exponent)
{
  double power = 1; /* exact up to 10^22 */
  for (int i = 0; i < exponent; i++) {
    power *= 10;
  }
  return power;
}

bool tw_unit_same_kind(const tw_unit *a, const tw_unit *b)
{
  return memcmp(a->power, b->power, sizeof a->power) == 0;
}

const char *tw_unit_si_name(tw_units *units, const tw_unit *unit)
{
  static const char *const names[] = {"m",    "N",   "V",   "F",     "ohm",  "Hz",      "s",
                                      "kg",   "Pa",  "rad", "m/s",   "A",    "K",       "m/s2",
                                      "m/s3", "N/m", "K/s", "kg/m3", "1/Pa", "C",       "C/N",
                                      "F/m",  "s/m", "1/K", "m/K",   "Pa/m", "C/(m2.K)"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    tw_unit si;
    if (tw_units_find(units, names[i], &si, NULL) == TW_OK && tw_unit_same_kind(&si, unit) &&
        si.scale == 1 && si.offset == 0) {
      return names[i];
    }
  }
  return "";
}
