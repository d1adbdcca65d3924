/* Any doubles as points: every fit gives finite figures, or says why not; zones hold all points. */
#include "fuzz_main.h"
#include "tripwright/qualify_fit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(bool true_thing, const char *what)
{
  if (!true_thing) {
    fprintf(stderr, "broken: %s\n", what);
    abort();
  }
}

static void try_zones(const double *p, size_t n)
{
  for (int zone = TW_ZONE_LEAST_SQUARES; zone <= TW_ZONE_INSCRIBED; zone++) {
    tw_zone_fit z;
    tw_fault fault = {0};
    if (tw_fit_zone((tw_zone)zone, p, n, &z, &fault) != TW_OK) {
      must(fault.text[0] && fault.hint[0], "cause and cure");
      continue;
    }
    must(isfinite(z.radius) && isfinite(z.centre[0]) && isfinite(z.roundness) && z.inner <= z.outer,
         "finite zone");
  }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  /* first byte: how the numbers are made, raw or tame */
  if (size < 2) {
    return 0;
  }
  static double p[192];
  size_t count = 0;
  for (size_t at = 1; count < 192; count++) {
    if (data[0] & 1) {
      if (at + 8 > size) {
        break;
      }
      memcpy(&p[count], data + at, 8);
      at += 8;
    } else {
      if (at + 2 > size) {
        break;
      }
      p[count] = 1e-6 * (data[at] * 256 + data[at + 1]);
      at += 2;
    }
  }
  for (int form = TW_LINE; form <= TW_CYLINDER; form++) {
    const size_t dimensions = form == TW_CIRCLE ? 2 : 3;
    tw_fit f;
    tw_fault fault = {0};
    if (tw_fit_form((tw_form)form, p, count / dimensions, dimensions, NULL, &f, &fault) != TW_OK) {
      must(fault.text[0] && fault.hint[0], "cause and cure");
      continue;
    }
    must(isfinite(f.centre[0]) && isfinite(f.radius) && isfinite(f.rms) && isfinite(f.form_error) &&
             isfinite(f.centre_u[0]) && isfinite(f.radius_u),
         tw_form_name((tw_form)form));
  }
  try_zones(p, count / 2 < 40 ? count / 2 : 40);
  return 0;
}
