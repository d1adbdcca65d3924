/* unit.c: the units that recordings come in, and columns named by the user. */
#include "tripwright/constants.h"
#include "tripwright/qualify_table.h"
#include "tripwright/units.h"

#include <stdio.h>
#include <string.h>

/* dividing by 1000 rounds once; multiplying by 0.001 would round twice */
static const tw_column_unit units[] = {
    {"m", TW_LENGTH, 1, 1, 0},
    {"mm", TW_LENGTH, 1, 1e3, 0},
    {"um", TW_LENGTH, 1, 1e6, 0},
    {"µm", TW_LENGTH, 1, 1e6, 0},
    {"nm", TW_LENGTH, 1, 1e9, 0},
    {"in", TW_LENGTH, 254, 1e4, 0},
    {"inch", TW_LENGTH, 254, 1e4, 0},
    {"thou", TW_LENGTH, 254, 1e7, 0},
    {"rad", TW_ANGLE, 1, 1, 0},
    {"deg", TW_ANGLE, TW_PI, 180, 0},
    {"°", TW_ANGLE, TW_PI, 180, 0},
    {"m/s", TW_SPEED, 1, 1, 0},
    {"m_s", TW_SPEED, 1, 1, 0},
    {"mm/s", TW_SPEED, 1, 1e3, 0},
    {"mm_s", TW_SPEED, 1, 1e3, 0},
    {"mm/min", TW_SPEED, 1, 6e4, 0},
    {"mm_min", TW_SPEED, 1, 6e4, 0},
    {"m/min", TW_SPEED, 1, 60, 0},
    {"m_min", TW_SPEED, 1, 60, 0},
    {"in/min", TW_SPEED, 254, 6e5, 0},
    {"in_min", TW_SPEED, 254, 6e5, 0},
    {"N", TW_FORCE, 1, 1, 0},
    {"mN", TW_FORCE, 1, 1e3, 0},
    {"gf", TW_FORCE, TW_GRAVITY, 1e3, 0},
    {"s", TW_TIME, 1, 1, 0},
    {"ms", TW_TIME, 1, 1e3, 0},
    {"us", TW_TIME, 1, 1e6, 0},
    {"µs", TW_TIME, 1, 1e6, 0},
    {"min", TW_TIME, 60, 1, 0},
    {"h", TW_TIME, 3600, 1, 0},
    {"C", TW_TEMPERATURE, 1, 1, 0},
    {"degC", TW_TEMPERATURE, 1, 1, 0},
    {"°C", TW_TEMPERATURE, 1, 1, 0},
    {"K", TW_TEMPERATURE, 1, 1, -273.15},
    {"degF", TW_TEMPERATURE, 5, 9, -160.0 / 9.0},
    {"V", TW_VOLTAGE, 1, 1, 0},
    {"mV", TW_VOLTAGE, 1, 1e3, 0},
    {"uV", TW_VOLTAGE, 1, 1e6, 0},
    {"1", TW_PURE, 1, 1, 0},
};

const tw_column_unit *tw_column_unit_named(const char *name, size_t length)
{
  for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
    if (strlen(units[i].name) == length && memcmp(units[i].name, name, length) == 0) {
      return &units[i];
    }
  }
  return NULL;
}

/* "name" or "name:unit" into one column */
static tw_status one_column(const char *text, size_t length, tw_kind kind, tw_column *out,
                            tw_fault *fault)
{
  const char *colon = memchr(text, ':', length);
  const size_t name = colon ? (size_t)(colon - text) : length;
  const size_t unit = colon ? length - name - 1 : 0;
  if (name == 0 || name >= sizeof out->name || unit >= sizeof out->unit || (colon && !unit)) {
    return tw_fail(fault, TW_BAD_INPUT, "columns", "write names as x_mm,y_mm or x:mm,y:mm",
                   "'%.*s' is not a column name, with or without a unit", (int)length, text);
  }
  *out = (tw_column){.kind = kind};
  memcpy(out->name, text, name);
  if (colon) {
    memcpy(out->unit, colon + 1, unit);
  }
  return TW_OK;
}

tw_status tw_columns_named(const char *list, tw_kind kind, tw_column *out, size_t room,
                           size_t *count, tw_fault *fault)
{
  *count = 0;
  for (const char *at = list; at;) {
    const char *comma = strchr(at, ',');
    const size_t length = comma ? (size_t)(comma - at) : strlen(at);
    if (*count == room) {
      return tw_fail(fault, TW_BAD_INPUT, "columns", "leave the others out",
                     "more than the %zu columns that can be used here", room);
    }
    const tw_status status = one_column(at, length, kind, &out[*count], fault);
    if (status != TW_OK) {
      return status;
    }
    for (size_t i = 0; i < *count; i++) {
      if (strcmp(out[i].name, out[*count].name) == 0) {
        return tw_fail(fault, TW_BAD_INPUT, "columns", "name each column once",
                       "column '%s' is named twice", out[i].name);
      }
    }
    ++*count;
    at = comma ? comma + 1 : NULL;
  }
  return TW_OK;
}
