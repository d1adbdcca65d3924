/* points.h: reads a small CSV of coordinates (after its heading) for tests of the form fits. */
#ifndef TW_TEST_POINTS_H
#define TW_TEST_POINTS_H

#include "near.h"

#include <stdlib.h>

static inline size_t points_read(const char *name, double *out, size_t room)
{
  char path[512], line[512];
  snprintf(path, sizeof path, "%s/tests/data/forms/%s", TW_SOURCE_DIR, name);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  size_t count = 0;
  assert_non_null(fgets(line, sizeof line, file));
  while (fgets(line, sizeof line, file)) {
    char *at = line, *end;
    for (double v = strtod(at, &end); end != at; v = strtod(at, &end)) {
      assert_true(count < room);
      out[count++] = v;
      at = *end == ',' ? end + 1 : end;
    }
  }
  fclose(file);
  return count;
}

#endif
