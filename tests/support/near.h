/* near.h: near-equality that fails on NaN and prints both numbers, for cmocka tests. */
#ifndef TW_TEST_NEAR_H
#define TW_TEST_NEAR_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka wants the four above first */
#include <cmocka.h>
#include <math.h>
#include <stdio.h>

/* |value - expected| <= tolerance, absolute; written so that NaN fails */
#define assert_near(value, expected, tolerance)                                                    \
  tw_near_((value), (expected), (tolerance), 0.0, #value, __FILE__, __LINE__)

/* |value - expected| <= relative * |expected| */
#define assert_rel(value, expected, relative)                                                      \
  tw_near_((value), (expected), 0.0, (relative), #value, __FILE__, __LINE__)

/* to half a unit of the last printed digit: `digit` is that digit's weight */
#define assert_printed(value, expected, digit)                                                     \
  tw_near_((value), (expected), 0.5000001 * (digit), 0.0, #value, __FILE__, __LINE__)

static inline void tw_near_(double value, double expected, double absolute, double relative,
                            const char *what, const char *file, int line)
{
  const double allowed = absolute + relative * fabs(expected);
  if (!(fabs(value - expected) <= allowed)) {
    print_error("%s = %.12g, expected %.12g, off by %.3g, allowed %.3g\n", what, value, expected,
                value - expected, allowed);
    _fail(file, line);
  }
}

#endif
