/* units_spelling.c: the grammar of a unit's spelling, checked before udunits2 sees it: udunits2
 * would also take numbers ("10 mm"), dates and logarithms, and it loses memory on syntax errors.
 *
 *   unit   = factor { (" " | "." | "*" | "/" | middle dot) factor }
 *   factor = (name | "(" unit ")" | "1") [power]
 *   power  = ["^"] ["-"] digit | superscript 2 or 3 */
#include "units_inside.h"

#include <string.h>

#define TW_UNIT_DEPTH 4

static const char *unit(const char *p, int depth);

/* bytes of one letter of a name at p, 0 if there is none */
static size_t letter(const char *p)
{
  static const char *const other[] = {"µ", "μ", "Ω", "\xe2\x84\xa6", "°"};
  if ((*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z') || *p == '_') {
    return 1;
  }
  for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) {
    if (strncmp(p, other[i], strlen(other[i])) == 0) {
      return strlen(other[i]);
    }
  }
  return 0;
}

/* past the name at p, NULL if there is none; words that udunits2 gives another meaning are none */
static const char *name(const char *p)
{
  static const char *const reserved[] = {"since", "after", "from", "ref", "per", "re"};
  const char *start = p;
  if (*p == '%') {
    return p + 1;
  }
  for (size_t n; (n = letter(p)) > 0;) {
    p += n;
  }
  for (size_t i = 0; i < sizeof reserved / sizeof reserved[0]; i++) {
    if ((size_t)(p - start) == strlen(reserved[i]) &&
        strncmp(start, reserved[i], strlen(reserved[i])) == 0) {
      return NULL;
    }
  }
  return p > start && *p != '(' ? p : NULL;
}

static const char *power(const char *p)
{
  if (strncmp(p, "²", 2) == 0 || strncmp(p, "³", 2) == 0) {
    return p + 2;
  }
  const bool caret = *p == '^';
  p += caret;
  const bool minus = *p == '-';
  p += minus;
  if (*p >= '1' && *p <= '9') {
    return p + 1;
  }
  return caret || minus ? NULL : p;
}

static const char *factor(const char *p, int depth)
{
  if (*p == '(') {
    p = depth < TW_UNIT_DEPTH ? unit(p + 1, depth + 1) : NULL;
    return p && *p == ')' ? power(p + 1) : NULL;
  }
  if (*p == '1') {
    return p + 1;
  }
  p = name(p);
  return p ? power(p) : NULL;
}

/* past the sign between two factors; p itself if there is none */
static const char *sign(const char *p)
{
  const char *start = p;
  while (*p == ' ') {
    p++;
  }
  if (*p == '.' || *p == '*' || *p == '/') {
    p++;
  } else if (strncmp(p, "·", 2) == 0) {
    p += 2;
  } else {
    return p > start && *p && *p != ')' ? p : start;
  }
  while (*p == ' ') {
    p++;
  }
  return p;
}

static const char *unit(const char *p, int depth)
{
  p = factor(p, depth);
  while (p) {
    const char *next = sign(p);
    if (next == p) {
      break;
    }
    p = factor(next, depth);
  }
  return p;
}

bool tw_unit_spelling(const char *text)
{
  const char *end = unit(text, 0);
  return end && *end == '\0';
}
