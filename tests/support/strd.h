/* strd.h: reads the numbers of a NIST StRD file (lines first..last) and counts right digits. */
#ifndef TW_TEST_STRD_H
#define TW_TEST_STRD_H

#include "near.h"

#include <stdlib.h>
#include <string.h>

/* tests/data/NAME, open for reading */
static inline FILE *strd_open(const char *name)
{
  char path[512];
  snprintf(path, sizeof path, "%s/tests/data/%s", TW_SOURCE_DIR, name);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  return file;
}

/* numbers of lines first..last into out[]; returns how many; last 0: to the end */
static inline size_t strd_read(const char *name, int first, int last, double *out, size_t room)
{
  char line[512];
  FILE *file = strd_open(name);
  size_t count = 0;
  for (int number = 1; fgets(line, sizeof line, file); number++) {
    if (number < first || (last && number > last)) {
      continue;
    }
    char *at = line, *end;
    for (double v = strtod(at, &end); end != at; v = strtod(at, &end)) {
      assert_true(count < room);
      out[count++] = v;
      at = end;
    }
  }
  fclose(file);
  return count;
}

/* log relative error: how many digits are right, 15 at most */
static inline double strd_digits(double value, double certified)
{
  if (value == certified) {
    return 15.0;
  }
  const double off = certified != 0.0 ? fabs(value - certified) / fabs(certified) : fabs(value);
  return fmin(15.0, -log10(off));
}

#define assert_digits(value, certified, least)                                                     \
  do {                                                                                             \
    const double digits_ = strd_digits((value), (certified));                                      \
    if (!(digits_ >= (least))) {                                                                   \
      print_error("%s: %.15g, certified %.15g: %.1f digits, wanted %.1f\n", #value,                \
                  (double)(value), (double)(certified), digits_, (double)(least));                 \
      _fail(__FILE__, __LINE__);                                                                   \
    }                                                                                              \
  } while (0)

#endif
