/* table_pattern.c: may the library have this expression? */
#include "table_inner.h"

#include <stdlib.h>
#include <string.h>

/* The library writes {m,n} out in full, nested ones multiplied, before it looks at a line. So many
 * pieces cost milliseconds and a few MB; a few 100,000 took 20 s and all memory there was. */
#define TW_PATTERN_PIECES 1000.0
#define TW_PATTERN_LENGTH 1000
#define TW_PATTERN_DEPTH  30

struct pattern {
  const char *at;
  int depth;
  const char *problem, *cure;
};

static double alternatives(struct pattern *p);

/* behind the ] of a bracket expression; its first ] and those of [:digit:] are of it */
static const char *behind_bracket(const char *at)
{
  at += *at == '^';
  at += *at == ']';
  while (*at && *at != ']') {
    if (*at == '[' && at[1] && strchr(":.=", at[1])) {
      const char kind[3] = {at[1], ']', '\0'}, *end = strstr(at + 2, kind);
      at = end ? end + 2 : at + strlen(at);
    } else {
      at++;
    }
  }
  return at + (*at != '\0');
}

/* how often the piece before may come: the larger number of {m,n}; the library keeps * and + short
 */
static double repeats(struct pattern *p)
{
  double times = 1.0;
  while (*p->at == '*' || *p->at == '+' || *p->at == '?' || *p->at == '{') {
    if (*p->at == '{') {
      char *end;
      const double low = strtod(p->at + 1, &end);
      const double high = *end == ',' ? strtod(end + 1, &end) : low;
      times *= high > low ? high : low + 1.0;
      const char *close = strchr(p->at, '}');
      p->at = close ? close : p->at + strlen(p->at) - 1;
    }
    p->at++;
  }
  return times;
}

static double piece(struct pattern *p)
{
  double size = 1.0;
  if (*p->at == '(') {
    p->at++;
    size = alternatives(p) + 1.0;
    p->at += *p->at == ')';
  } else if (*p->at == '[') {
    p->at = behind_bracket(p->at + 1);
  } else {
    if (*p->at == '\\' && p->at[1] >= '1' && p->at[1] <= '9') {
      p->problem = "the expression refers back to a group (\\1)";
      p->cure = "write it out: extended expressions do not refer back";
    }
    p->at += *p->at == '\\' && p->at[1] ? 2 : 1;
  }
  return size * repeats(p);
}

static double alternatives(struct pattern *p)
{
  double size = 0.0;
  if (++p->depth > TW_PATTERN_DEPTH) {
    p->problem = "the expression is nested too deeply";
    p->cure = "fewer ( ) inside one another";
    p->at += strlen(p->at);
  }
  while (*p->at && *p->at != ')') {
    size += piece(p);
  }
  p->depth--;
  return size;
}

bool tw_pattern_fits(const char *text, const char **problem, const char **cure)
{
  struct pattern p = {.at = text};
  *problem = NULL;
  if (strlen(text) > TW_PATTERN_LENGTH) {
    *problem = "the expression is longer than 1000 characters";
    *cure = "name only what stands round the numbers";
    return false;
  }
  double size = 0.0;
  while (*p.at && !p.problem) { /* a ) without a ( is left to the library */
    size += alternatives(&p);
    p.at += *p.at == ')';
  }
  if (!p.problem && size > TW_PATTERN_PIECES) {
    p.problem = "the repeats {m,n} of the expression multiply to more than 1000 pieces";
    p.cure = "write + or * in place of the large ones";
  }
  *problem = p.problem;
  *cure = p.cure;
  return !p.problem;
}
