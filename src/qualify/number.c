/* number.c: decimal text to the nearest double; short decimals exactly by one operation. */
#include "tripwright/qualify_table.h"

#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* powers of ten that a double holds exactly */
static const double power_of_ten[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                      1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                      1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
#define TW_EXACT_POWER    22
#define TW_EXACT_MANTISSA (UINT64_C(1) << 53)

/* what stands before the exponent is applied: mantissa 10^scale */
struct decimal {
  uint64_t mantissa;
  long scale;
  bool negative, exact; /* exact: every digit went into the mantissa */
};

/* digits with at most one point; the number of characters, 0 if there is no digit */
static size_t scan_digits(const char *text, size_t length, struct decimal *d)
{
  size_t i = 0, digits = 0;
  bool point = false;
  for (; i < length; i++) {
    const unsigned digit = (unsigned)(unsigned char)text[i] - '0';
    if (digit > 9) {
      if (text[i] != '.' || point) {
        break;
      }
      point = true;
      continue;
    }
    digits++;
    if (d->mantissa < UINT64_MAX / 10 - 1) {
      d->mantissa = d->mantissa * 10 + digit;
      d->scale -= point;
    } else {
      d->exact = false;
      d->scale += !point;
    }
  }
  return digits ? i : 0;
}

/* "e-12": characters used, 0 if malformed */
static size_t scan_exponent(const char *text, size_t length, long *exponent)
{
  size_t i = 1;
  const bool minus = i < length && text[i] == '-';
  i += i < length && (text[i] == '-' || text[i] == '+');
  const size_t first = i;
  long value = 0;
  for (; i < length && text[i] >= '0' && text[i] <= '9'; i++) {
    value = value < 100000 ? value * 10 + (text[i] - '0') : value;
  }
  *exponent = minus ? -value : value;
  return i > first ? i : 0;
}

/* the long way, for more digits or larger powers than one exact operation takes; strtod rounds
 * correctly in glibc and musl. The decimal point of the C locale is asked for by name. */
static bool by_strtod(const char *text, size_t length, double *out)
{
  char copy[1024];
  if (length >= sizeof copy) {
    return false;
  }
  memcpy(copy, text, length);
  copy[length] = '\0';
  const locale_t plain = newlocale(LC_NUMERIC_MASK, "C", (locale_t)0);
  if (!plain) {
    return false;
  }
  const locale_t before = uselocale(plain);
  char *end;
  *out = strtod(copy, &end);
  uselocale(before);
  freelocale(plain);
  return end == copy + length && isfinite(*out);
}

bool tw_number_read(const char *text, size_t length, double *out)
{
  struct decimal d = {.exact = true};
  size_t i = length > 0 && (text[0] == '-' || text[0] == '+');
  d.negative = i && text[0] == '-';
  const size_t digits = scan_digits(text + i, length - i, &d);
  if (!digits) {
    return false;
  }
  i += digits;
  if (i < length && (text[i] == 'e' || text[i] == 'E')) {
    long exponent;
    const size_t used = scan_exponent(text + i, length - i, &exponent);
    if (!used) {
      return false;
    }
    i += used;
    d.scale += exponent;
  }
  if (i != length) {
    return false;
  }
  if (!d.exact || d.mantissa > TW_EXACT_MANTISSA || labs(d.scale) > TW_EXACT_POWER) {
    return by_strtod(text, length, out);
  }
  /* both factors are exact, so the one rounding of the operation is the right one */
  const double mantissa = (double)d.mantissa;
  const double value =
      d.scale < 0 ? mantissa / power_of_ten[-d.scale] : mantissa * power_of_ten[d.scale];
  *out = d.negative ? -value : value;
  return true;
}
