/* budget_read.c: a budget from its file: three kinds of lines, then a table. */
#include "budget_inner.h"
#include "inner.h"
#include "tripwright/qualify_table.h"
#include "tripwright/text.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TW_BUDGET_FILE  ((size_t)1 << 20)
#define TW_CORRELATIONS 64

struct pair {
  char a[32], b[32];
  double r;
  int line;
};

struct head {
  const char *name;
  tw_messages *messages;
  tw_budget *out;
  struct pair pair[TW_CORRELATIONS];
  size_t pairs;
  int model_line, result_line; /* 0: none yet */
};

static void wrong(struct head *h, int line, int column, const char *hint, const char *text)
{
  tw_messages_add(h->messages, TW_ERROR, (tw_place){h->name, line, column}, NULL, NULL, hint, "%s",
                  text);
}

/* is this "word: rest"? the rest without blanks round it, cut to `room` */
static bool line_says(const char *line, const char *word, char *rest, size_t room, bool *fits)
{
  const size_t length = strlen(word);
  if (strncmp(line, word, length) != 0 || line[length] != ':') {
    return false;
  }
  const char *from = line + length + 1;
  while (*from == ' ' || *from == '\t') {
    from++;
  }
  size_t n = strlen(from);
  while (n > 0 && (from[n - 1] == ' ' || from[n - 1] == '\t' || from[n - 1] == '\r')) {
    n--;
  }
  *fits = n < room;
  n = *fits ? n : room - 1;
  memcpy(rest, from, n);
  rest[n] = '\0';
  return true;
}

/* a line that may stand once; false with a message the second time */
static bool once(struct head *h, const char *what, int line, int *first)
{
  if (*first) {
    char text[80];
    snprintf(text, sizeof text, "a second %s; the first is in line %d", what, *first);
    wrong(h, line, 1, "take one of them out", text);
    return false;
  }
  *first = line;
  return true;
}

static void take_result(struct head *h, const char *rest, int line)
{
  char more[2];
  const int words = sscanf(rest, "%31s %15s %1s", h->out->result, h->out->unit, more);
  if (words < 1) {
    wrong(h, line, 1, "write: result: NAME UNIT", "the result has no name");
  } else if (words > 2) {
    wrong(h, line, 1, "write: result: NAME UNIT; up to 31 and 15 characters, no blank in either",
          "a result is a name and a unit");
  }
}

static bool same_pair(const struct pair *p, const struct pair *q)
{
  return (strcmp(p->a, q->a) == 0 && strcmp(p->b, q->b) == 0) ||
         (strcmp(p->a, q->b) == 0 && strcmp(p->b, q->a) == 0);
}

static void take_correlation(struct head *h, const char *rest, int line)
{
  struct pair p = {.line = line};
  char number[64], more[2];
  for (size_t k = 0; k < h->pairs; k++) {
    if (sscanf(rest, "%31s %31s", p.a, p.b) == 2 && same_pair(&p, &h->pair[k])) {
      char text[120];
      snprintf(text, sizeof text, "a second correlation of %s and %s; the first is in line %d",
               h->pair[k].a, h->pair[k].b, h->pair[k].line);
      wrong(h, line, 1, "take one of them out", text);
      return;
    }
  }
  if (sscanf(rest, "%31s %31s %63s %1s", p.a, p.b, number, more) != 3 ||
      !tw_number_read(number, strlen(number), &p.r)) {
    wrong(h, line, 1, "write: correlation: A B 0.5", "two names and a number are needed here");
  } else if (h->pairs == TW_CORRELATIONS) {
    wrong(h, line, 1, "leave out those near zero", "too many correlations");
  } else {
    h->pair[h->pairs++] = p;
  }
}

/* "word:" in front of any comma: a head line with a word that is not known */
static bool unknown_head(const char *line, char *word, size_t room)
{
  size_t n = 0;
  while (isalpha((unsigned char)line[n])) {
    n++;
  }
  if (n == 0 || line[n] != ':') {
    return false;
  }
  snprintf(word, room, "%.*s", (int)(n < 31 ? n : 31), line);
  return true;
}

/* take a head line out of the text, leaving a comment of the same length; false: not one */
static bool take_head_line(struct head *h, char *line, int number)
{
  char rest[TW_MODEL_LENGTH];
  bool fits = true;
  if (line_says(line, "model", rest, sizeof rest, &fits)) {
    line[0] = '#';
    if (once(h, "model", number, &h->model_line)) {
      memcpy(h->out->model, rest, sizeof rest);
    }
  } else if (line_says(line, "result", rest, sizeof rest, &fits)) {
    line[0] = '#';
    if (once(h, "result", number, &h->result_line)) {
      take_result(h, rest, number);
    }
  } else if (line_says(line, "correlation", rest, sizeof rest, &fits)) {
    line[0] = '#';
    take_correlation(h, rest, number);
  } else if (unknown_head(line, rest, sizeof rest)) {
    char text[96];
    line[0] = '#';
    snprintf(text, sizeof text, "a line '%.40s:' is not known", rest);
    wrong(h, number, 1, "model, result and correlation are; then the table", text);
  } else {
    return false;
  }
  if (!fits) {
    wrong(h, number, 1, "split it, or shorten the names", "the line is too long");
  }
  return true;
}

static bool read_kind(const char *text, tw_input *in)
{
  static const struct {
    const char *name;
    tw_input_kind kind;
  } kinds[] = {{"standard", TW_INPUT_STANDARD},
               {"rectangular", TW_INPUT_RECTANGULAR},
               {"triangular", TW_INPUT_TRIANGULAR},
               {"arcsine", TW_INPUT_ARCSINE}};
  for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
    if (strcmp(kinds[i].name, text) == 0) {
      in->kind = kinds[i].kind;
      return true;
    }
  }
  in->kind = TW_INPUT_EXPANDED;
  return strncmp(text, "expanded:", 9) == 0 && tw_number_read(text + 9, strlen(text + 9), &in->k);
}

static void take_rows(struct head *h, const tw_readings *t)
{
  if (t->rows > TW_INPUT_MOST) {
    wrong(h, 0, 0, "put small ones together", "more than 24 inputs");
    return;
  }
  for (size_t i = 0; i < t->rows; i++) {
    tw_input *in = &h->out->input[h->out->count++];
    const char *name = t->text[0][t->code[0][i]], *kind = t->text[3][t->code[3][i]];
    snprintf(in->name, sizeof in->name, "%s", name);
    in->value = t->number[1][i];
    in->width = t->number[2][i];
    in->dof = isnan(t->number[4][i]) ? (double)INFINITY : t->number[4][i];
    if (strlen(name) >= sizeof in->name) {
      wrong(h, (int)t->line[i], 1, "up to 31 characters", "the name is too long");
    }
    if (!read_kind(kind, in)) {
      wrong(h, (int)t->line[i], 0, "standard, rectangular, triangular, arcsine, or expanded:2",
            "the kind of spread is not known");
    }
  }
}

static size_t find_input(const tw_budget *b, const char *name)
{
  size_t i = 0;
  while (i < b->count && strcmp(b->input[i].name, name) != 0) {
    i++;
  }
  return i;
}

static void set_correlations(struct head *h)
{
  for (size_t k = 0; k < h->pairs; k++) {
    const size_t a = find_input(h->out, h->pair[k].a), b = find_input(h->out, h->pair[k].b);
    if (a == b || a == h->out->count || b == h->out->count) {
      wrong(h, h->pair[k].line, 1, "use the names of two inputs",
            "a correlation with no such input");
      continue;
    }
    h->out->correlation[a][b] = h->out->correlation[b][a] = h->pair[k].r;
  }
}

static tw_status take_table(struct head *h, const char *text, size_t length)
{
  static const tw_column columns[] = {{"name", "", TW_LABEL, false},
                                      {"value", "", TW_PURE, false},
                                      {"spread", "", TW_PURE, false},
                                      {"kind", "", TW_LABEL, false},
                                      {"dof", "", TW_PURE, true}};
  const tw_readings_spec spec = {.column = columns, .columns = 5, .keep_lines = true};
  tw_readings *table;
  const tw_status status = tw_readings_read_text(h->name, text, length, &spec, h->messages, &table);
  if (status == TW_OK) {
    take_rows(h, table);
  }
  tw_readings_free(table);
  return status;
}

tw_status tw_budget_read_text(const char *name, const char *text, size_t length,
                              tw_messages *messages, tw_budget *out)
{
  tw_budget_start(out);
  char *copy = tw_alloc(length + 1, 1);
  struct head *h = tw_alloc(1, sizeof *h);
  if (!copy || !h) {
    tw_free(copy);
    tw_free(h);
    return TW_NO_MEMORY;
  }
  memcpy(copy, text, length);
  *h = (struct head){.name = name, .messages = messages, .out = out};
  const size_t before = tw_messages_errors(messages);
  int number = 0;
  for (char *line = copy; line && *line; number++) {
    char *end = strchr(line, '\n');
    if (end) {
      *end = '\0';
    }
    take_head_line(h, line, number + 1);
    if (end) {
      *end = '\n';
    }
    line = end ? end + 1 : NULL;
  }
  tw_status status =
      tw_messages_errors(messages) > before ? TW_BAD_INPUT : take_table(h, copy, length);
  if (status == TW_OK && out->model[0] == '\0') {
    wrong(h, 0, 0, "write a line: model: a + b * c", "there is no model");
  }
  if (status == TW_OK && tw_messages_errors(messages) == before) {
    set_correlations(h);
    tw_fault fault;
    status = tw_messages_errors(messages) > before ? TW_BAD_INPUT : tw_budget_check(out, &fault);
    if (status != TW_OK && tw_messages_errors(messages) == before) {
      tw_messages_add_fault(messages, &fault, (tw_place){name, 0, 0}, NULL);
    }
  }
  status = status == TW_OK && tw_messages_errors(messages) > before ? TW_BAD_INPUT : status;
  tw_free(copy);
  tw_free(h);
  return status;
}

tw_status tw_budget_read(const char *path, tw_messages *messages, tw_budget *out)
{
  char *text;
  size_t length;
  tw_status status = tw_text_of_file(path, TW_BUDGET_FILE, messages, &text, &length);
  status = status == TW_OK ? tw_budget_read_text(path, text, length, messages, out) : status;
  tw_free(text);
  return status;
}
