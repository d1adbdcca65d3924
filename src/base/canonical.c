/* canonical.c: the one text of a JSON value. */
#include "tripwright/digest.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
  DIGITS_MOST = 17, /* decimal digits that give any double back */
  PLAIN_LEAST = -6, /* 0.000001 is plain, 1e-7 is not: RFC 8785, ECMA-262 6.1.6.1.20 */
  PLAIN_MOST = 15,  /* from 1e15 on with an exponent */
  DEPTH_MOST = 64   /* values within values; no body of this program has more than a few */
};

/* ---- numbers ------------------------------------------------------------------------------- */

/* fewest digits d1 d2 ... with |x| = d1.d2... 10^exponent; their number */
static int fewest_digits(double x, char digits[DIGITS_MOST + 1], int *exponent)
{
  char text[40];
  /* of up to 15 digits at most one number gives x back, so that fewer need not be tried; only below
   * the normal range may several do */
  for (int n = fabs(x) < DBL_MIN ? 1 : DBL_DIG; n <= DIGITS_MOST; n++) {
    snprintf(text, sizeof text, "%.*e", n - 1, fabs(x));
    if (strtod(text, NULL) == fabs(x)) {
      break;
    }
  }
  int count = 0;
  for (const char *at = text; *at && *at != 'e'; at++) {
    if (*at != '.') {
      digits[count++] = *at;
    }
  }
  while (count > 1 && digits[count - 1] == '0') {
    count--;
  }
  digits[count] = '\0';
  *exponent = atoi(strchr(text, 'e') + 1);
  return count;
}

static void write_real(FILE *out, double x)
{
  char digits[DIGITS_MOST + 1];
  int exponent;
  if (x == 0.0) {
    fputc('0', out);
    return;
  }
  const int count = fewest_digits(x, digits, &exponent);
  fputs(x < 0.0 ? "-" : "", out);
  if (exponent < PLAIN_LEAST || exponent >= PLAIN_MOST) {
    fprintf(out, "%c%s%se%+d", digits[0], count > 1 ? "." : "", digits + 1, exponent);
  } else if (exponent < 0) {
    fprintf(out, "0.%.*s%s", -exponent - 1, "00000", digits);
  } else if (count <= exponent + 1) {
    fprintf(out, "%s%.*s", digits, exponent + 1 - count, "000000000000000");
  } else {
    fprintf(out, "%.*s.%s", exponent + 1, digits, digits + exponent + 1);
  }
}

/* ---- texts --------------------------------------------------------------------------------- */

static void write_text(FILE *out, const char *text, size_t length)
{
  static const char masked[] = "\"\\\b\f\n\r\t", letter[] = "\"\\bfnrt";
  fputc('"', out);
  for (size_t i = 0; i < length; i++) {
    const char *mask = text[i] ? strchr(masked, text[i]) : NULL;
    if (mask) {
      fprintf(out, "\\%c", letter[mask - masked]);
    } else if ((unsigned char)text[i] < 0x20) {
      fprintf(out, "\\u%04x", (unsigned)text[i]);
    } else {
      fputc(text[i], out);
    }
  }
  fputc('"', out);
}

/* ---- values -------------------------------------------------------------------------------- */

static tw_status write_value(FILE *out, const json_t *value, int depth, tw_fault *fault);

static int by_bytes(const void *a, const void *b)
{
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static tw_status write_object(FILE *out, const json_t *object, int depth, tw_fault *fault)
{
  const size_t count = json_object_size(object);
  const char **name = tw_alloc(count ? count : 1, sizeof *name), *key;
  if (!name) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  size_t n = 0;
  json_t *value;
  json_object_foreach((json_t *)(uintptr_t)object, key, value)
  {
    name[n++] = key;
  }
  qsort(name, n, sizeof *name, by_bytes);
  tw_status status = TW_OK;
  fputc('{', out);
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    fputs(i ? "," : "", out);
    write_text(out, name[i], strlen(name[i]));
    fputc(':', out);
    status = write_value(out, json_object_get(object, name[i]), depth + 1, fault);
  }
  fputc('}', out);
  tw_free(name);
  return status;
}

static tw_status write_array(FILE *out, const json_t *array, int depth, tw_fault *fault)
{
  tw_status status = TW_OK;
  fputc('[', out);
  for (size_t i = 0; i < json_array_size(array) && status == TW_OK; i++) {
    fputs(i ? "," : "", out);
    status = write_value(out, json_array_get(array, i), depth + 1, fault);
  }
  fputc(']', out);
  return status;
}

static tw_status write_value(FILE *out, const json_t *value, int depth, tw_fault *fault)
{
  if (!value) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  if (depth > DEPTH_MOST) {
    return tw_fail(fault, TW_BAD_INPUT, "", "a value may hold values 64 deep",
                   "values within values too deep");
  }
  switch (json_typeof(value)) {
  case JSON_OBJECT:
    return write_object(out, value, depth, fault);
  case JSON_ARRAY:
    return write_array(out, value, depth, fault);
  case JSON_STRING:
    write_text(out, json_string_value(value), json_string_length(value));
    break;
  case JSON_INTEGER:
    fprintf(out, "%" JSON_INTEGER_FORMAT, json_integer_value(value));
    break;
  case JSON_REAL:
    write_real(out, json_real_value(value));
    break;
  case JSON_TRUE:
  case JSON_FALSE:
    fputs(json_is_true(value) ? "true" : "false", out);
    break;
  case JSON_NULL:
    fputs("null", out);
    break;
  }
  return TW_OK;
}

tw_status tw_canonical(const json_t *value, char **out, tw_fault *fault)
{
  char *text = NULL;
  size_t length = 0;
  *out = NULL;
  FILE *f = open_memstream(&text, &length);
  if (!f) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  tw_status status = write_value(f, value, 0, fault);
  const bool lost = ferror(f) != 0;
  if ((fclose(f) != 0 || lost) && status == TW_OK) {
    status = tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  if (status == TW_OK) {
    *out = tw_copy_text(text);
    status = *out ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  }
  free(text);
  return status;
}

tw_status tw_canonical_sha256(const json_t *value, char id[TW_SHA256_TEXT], char **text,
                              tw_fault *fault)
{
  char *own = NULL;
  const tw_status status = tw_canonical(value, &own, fault);
  if (status == TW_OK) {
    tw_sha256(own, strlen(own), id);
  }
  if (text) {
    *text = own;
  } else {
    tw_free(own);
  }
  return status;
}
