/* clock.h: seconds by the clock that only goes forward. */
#ifndef TW_TEST_CLOCK_H
#define TW_TEST_CLOCK_H

#include <time.h>

static inline double clock_of(clockid_t id)
{
  struct timespec t;
  clock_gettime(id, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

#endif
