/* Any text as a quantity: refused with a cause inside the text, or a finite number that prints and
 * reads back. */
#include "fuzz_main.h"
#include "tripwright/units.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static tw_units *units;

static void must(bool true_thing, const char *what)
{
  if (!true_thing) {
    fprintf(stderr, "broken: %s\n", what);
    abort();
  }
}

static void try_kind(const char *text, const char *kind)
{
  tw_unit unit;
  tw_quantity q, back;
  tw_fault fault = {0};
  size_t at = 0;
  must(tw_units_find(units, kind, &unit, NULL) == TW_OK, kind);
  if (tw_quantity_read(units, text, &unit, &q, &at, &fault) != TW_OK) {
    must(fault.text[0] && at <= strlen(text), "a refusal has cause and place");
    return;
  }
  must(isfinite(q.number) && isfinite(q.tolerance.plus) && isfinite(q.tolerance.minus) &&
           q.tolerance.plus >= 0 && q.tolerance.minus >= 0,
       "finite numbers");
  char printed[200];
  tw_quantity_print(&q, &unit, 0, printed, sizeof printed);
  must(tw_quantity_read(units, printed, &unit, &back, NULL, &fault) == TW_OK, printed);
  /* kelvin above zero are added to degrees: the last bit may be lost there */
  must(back.number == q.number ||
           (unit.offset != 0 && fabs(back.number - q.number) < 1e-12 + 4e-16 * fabs(q.number)),
       printed);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  if (!units) {
    must(tw_units_new(&units, NULL) == TW_OK, "units");
  }
  char text[257];
  const size_t length = size < 256 ? size : 256;
  memcpy(text, data, length);
  text[length] = '\0';
  static const char *const kind[] = {"mm", "kohm", "1", "degC", "nV/rtHz"};
  for (size_t i = 0; i < sizeof kind / sizeof kind[0]; i++) {
    try_kind(text, kind[i]);
  }
  return 0;
}
