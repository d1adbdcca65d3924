/* pieces_in.c: laws of a batch from the command line. */
#include "pieces_in.h"

#include "tripwright/files.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define VALUES_MOST 100000
#define LINE_MOST   2000

/* ---- one list ------------------------------------------------------------------------------ */

/* a list of room for `count` values as an input of the study; NULL after a report */
static struct tw_pieces_list *new_list(tw_cli_study *s, tw_pieces *p, tw_field field, int file,
                                       size_t count)
{
  tw_fault fault = {0};
  size_t input;
  if (p->lists == TW_PIECES_LISTS) {
    tw_cli_usage(s->cli, "--pieces: more than %d lists", TW_PIECES_LISTS);
    return NULL;
  }
  if (tw_study_add(s->study, field, &input, &fault) != TW_OK) {
    tw_cli_fault(s->cli, &fault);
    return NULL;
  }
  for (size_t i = 0; i < p->lists; i++) {
    if (p->list[i].input == input) {
      tw_cli_usage(s->cli, "--pieces: two lists for %s", tw_field_of(field)->path);
      return NULL;
    }
  }
  struct tw_pieces_list *list = &p->list[p->lists++];
  *list = (struct tw_pieces_list){
      .input = input, .file = file, .value = tw_alloc(count, sizeof(double))};
  return list->value ? list : NULL;
}

static tw_status unit_of(tw_cli_study *s, tw_field field, tw_unit *unit, tw_fault *fault)
{
  const tw_field_info *about = tw_field_of(field);
  return tw_units_find(s->cli->units, about->type == TW_TYPE_QUANTITY ? about->unit : "1", unit,
                       fault);
}

/* "10.6 nF", or a bare number in the unit of the heading (may be "") */
static tw_status read_value(tw_cli_study *s, tw_field field, const char *text, const char *heading,
                            double *out, tw_fault *fault)
{
  const tw_field_info *about = tw_field_of(field);
  char full[160], low[48], high[48], *end = NULL;
  tw_unit unit;
  tw_quantity q;
  (void)strtod(text, &end);
  const bool bare = end != text && *end == '\0';
  snprintf(full, sizeof full, "%.80s %.60s", text, bare ? heading : "");
  tw_status status = unit_of(s, field, &unit, fault);
  if (status == TW_OK) {
    status = tw_quantity_read(s->cli->units, full, &unit, &q, NULL, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  const double least = tw_unit_to_si(&unit, about->least, false);
  const double most = tw_unit_to_si(&unit, about->most, false);
  if (!(q.number >= least && q.number <= most)) {
    tw_number_print(least, &unit, 4, low, sizeof low);
    tw_number_print(most, &unit, 4, high, sizeof high);
    return tw_fail(fault, TW_BAD_INPUT, about->path, NULL, "%.60s is not between %s and %s", text,
                   low, high);
  }
  *out = q.number;
  return TW_OK;
}

static void set_law(tw_cli_study *s, const struct tw_pieces_list *list)
{
  tw_study_input *in = &s->study->input[list->input];
  in->law = (tw_varied){.name = in->path,
                        .law = list->weight ? TW_LAW_DISCRETE : TW_LAW_MEASURED,
                        .centre = in->now,
                        .values = list->value,
                        .weights = list->weight,
                        .count = list->count};
}

/* ---- PATH=A,B*3,... ------------------------------------------------------------------------ */

static bool read_weight(char *item, double *weight)
{
  char *star = strrchr(item, '*'), *end = NULL;
  *weight = 1;
  if (!star) {
    return true;
  }
  *weight = strtod(star + 1, &end);
  *star = '\0';
  return end != star + 1 && *end == '\0' && isfinite(*weight) && *weight >= 0;
}

/* ascending, so that a correlation with another field means something */
static void sort_list(struct tw_pieces_list *list)
{
  for (size_t i = 1; i < list->count; i++) {
    const double value = list->value[i], weight = list->weight[i];
    size_t k = i;
    for (; k > 0 && list->value[k - 1] > value; k--) {
      list->value[k] = list->value[k - 1];
      list->weight[k] = list->weight[k - 1];
    }
    list->value[k] = value;
    list->weight[k] = weight;
  }
}

static tw_exit read_inline(tw_cli_study *s, tw_pieces *p, const char *text)
{
  const char *at = strchr(text, '=') + 1;
  const tw_field field = tw_cli_field(s->cli, "pieces", text, (size_t)(at - 1 - text));
  size_t items = 1;
  for (const char *c = at; *c; c++) {
    items += *c == ',';
  }
  if (field == TW_FIELD_COUNT) {
    return TW_EXIT_USAGE;
  }
  struct tw_pieces_list *list = new_list(s, p, field, -1, items);
  if (!list || !(list->weight = tw_alloc(items, sizeof(double)))) {
    return TW_EXIT_INPUT;
  }
  bool weighted = false;
  for (size_t i = 0; i < items; i++) {
    char item[120];
    tw_fault fault = {0};
    const size_t length = strcspn(at, ",");
    snprintf(item, sizeof item, "%.*s", (int)(length < sizeof item ? length : sizeof item - 1), at);
    if (!read_weight(item, &list->weight[i]) ||
        read_value(s, field, item, "", &list->value[i], &fault) != TW_OK) {
      return tw_cli_usage(s->cli, "--pieces %s: value %zu: %s%s%s", tw_field_of(field)->path, i + 1,
                          fault.text[0] ? fault.text : "write the count after *: 43k*12",
                          fault.hint[0] ? "; " : "", fault.hint);
    }
    weighted |= list->weight[i] != 1;
    at += length + (at[length] == ',');
    list->count++;
  }
  sort_list(list);
  if (!weighted) {
    tw_free(list->weight);
    list->weight = NULL;
  }
  set_law(s, list);
  return TW_EXIT_DONE;
}

/* ---- FILE ---------------------------------------------------------------------------------- */

/* a table being read: its columns are the lists from `first` on */
typedef struct table {
  tw_cli_study *s;
  tw_pieces *p;
  const char *file;
  int number; /* which file */
  size_t line, rows, first;
  char separator;
  struct {
    tw_field field;
    char unit[60];
  } column[TW_PIECES_LISTS];
} table;

static char *trimmed(char *text)
{
  text += strspn(text, " \t");
  for (size_t n = strlen(text); n > 0 && strchr(" \t\r", text[n - 1]); n--) {
    text[n - 1] = '\0';
  }
  return text;
}

/* cuts the next cell off *rest; NULL when there is none */
static char *next_cell(const table *t, char **rest)
{
  if (!*rest) {
    return NULL;
  }
  char *cell = *rest, *end = strchr(cell, t->separator);
  if (end) {
    *end = '\0';
  }
  *rest = end ? end + 1 : NULL;
  return trimmed(cell);
}

static tw_exit wrong(const table *t, const char *field, const char *why, const char *hint)
{
  fprintf(t->s->cli->err, "%s:%zu: error: %s%s%s\n", t->file, t->line, field, field[0] ? ": " : "",
          why);
  if (hint && hint[0]) {
    fprintf(t->s->cli->err, "  hint: %s\n", hint);
  }
  return TW_EXIT_INPUT;
}

/* "measured.capacitance nF" */
static tw_exit read_heading(table *t, char *line, size_t rows)
{
  t->separator = strchr(line, ';') ? ';' : strchr(line, '\t') ? '\t' : ',';
  t->first = t->p->lists;
  char *rest = line, *cell;
  while ((cell = next_cell(t, &rest)) != NULL) {
    char *blank = strpbrk(cell, " \t");
    const size_t k = t->p->lists - t->first;
    if (blank) {
      *blank = '\0';
    }
    const tw_field field = tw_field_find(cell);
    if (field == TW_FIELD_COUNT) {
      const char *near = tw_field_nearest(cell);
      char hint[200];
      snprintf(hint, sizeof hint, "%s%.80s%s",
               near ? "did you mean '"
                    : "a heading is a field and "
                      "its unit: measured.",
               near ? near : "capacitance nF", near ? "'?" : "");
      return wrong(t, "", "this column heading is not a field", hint);
    }
    if (!new_list(t->s, t->p, field, t->number, rows)) {
      return TW_EXIT_INPUT;
    }
    t->column[k].field = field;
    snprintf(t->column[k].unit, sizeof t->column[k].unit, "%s", blank ? trimmed(blank + 1) : "");
  }
  return TW_EXIT_DONE;
}

static tw_exit read_row(table *t, char *line)
{
  char *rest = line, *cell;
  size_t k = 0;
  const size_t columns = t->p->lists - t->first;
  for (; (cell = next_cell(t, &rest)) != NULL && k < columns; k++) {
    struct tw_pieces_list *list = &t->p->list[t->first + k];
    tw_fault fault = {0};
    if (read_value(t->s, t->column[k].field, cell, t->column[k].unit, &list->value[list->count],
                   &fault) != TW_OK) {
      return wrong(t, tw_field_of(t->column[k].field)->path, fault.text, fault.hint);
    }
    list->count++;
  }
  if (k < columns || cell) {
    return wrong(t, "", "the line has fewer or more values than columns",
                 "every piece needs all of its values; leave out a piece that has not all");
  }
  t->rows++;
  return TW_EXIT_DONE;
}

static tw_exit read_lines(table *t, char *text, size_t rows)
{
  tw_exit code = TW_EXIT_DONE;
  bool headed = false;
  for (char *line = text, *next; line && code == TW_EXIT_DONE; line = next) {
    next = strchr(line, '\n');
    if (next) {
      *next++ = '\0';
    }
    t->line++;
    char *own = trimmed(line);
    if (*own == '\0' || *own == '#') {
      continue;
    }
    if (strlen(own) > LINE_MOST) {
      return wrong(t, "", "the line is too long", NULL);
    }
    code = headed ? read_row(t, own) : read_heading(t, own, rows);
    headed = true;
  }
  if (code == TW_EXIT_DONE && t->rows == 0) {
    return wrong(t, "", "the file has no piece",
                 "the first line names the fields, each further line is a piece");
  }
  for (size_t i = t->first; headed && code == TW_EXIT_DONE && i < t->p->lists; i++) {
    set_law(t->s, &t->p->list[i]);
  }
  return code;
}

static tw_exit read_file(tw_cli_study *s, tw_pieces *p, const char *file, int number)
{
  tw_fault fault = {0};
  size_t length, rows = 1;
  char *text = NULL;
  if (tw_file_read(file, 10000000, &fault, &text, &length) != TW_OK) {
    return tw_cli_fault(s->cli, &fault);
  }
  for (size_t i = 0; i < length; i++) {
    rows += text[i] == '\n';
    text[i] = text[i] ? text[i] : ' ';
  }
  table t = {.s = s, .p = p, .file = file, .number = number, .first = p->lists};
  const tw_exit code = rows > VALUES_MOST ? wrong(&t, "", "more than 100000 lines", NULL)
                                          : read_lines(&t, text, rows);
  tw_free(text);
  return code;
}

/* ---- all of them --------------------------------------------------------------------------- */

tw_exit tw_cli_pieces(tw_cli_study *s, tw_pieces *out)
{
  const char *text;
  tw_exit code = TW_EXIT_DONE;
  *out = (tw_pieces){0};
  for (int k = 0; code == TW_EXIT_DONE && (text = tw_cli_text_at(s->cli, "pieces", k)); k++) {
    code = strchr(text, '=') ? read_inline(s, out, text) : read_file(s, out, text, k);
  }
  return code;
}

void tw_cli_pieces_free(tw_pieces *pieces)
{
  for (size_t i = 0; i < pieces->lists; i++) {
    tw_free(pieces->list[i].value);
    tw_free(pieces->list[i].weight);
  }
  *pieces = (tw_pieces){0};
}

tw_exit tw_cli_pieces_together(const tw_cli_study *s, const tw_pieces *pieces, tw_correlation *c,
                               size_t *count, size_t most)
{
  for (size_t i = 0; i < pieces->lists; i++) {
    for (size_t j = 0; j < i; j++) {
      if (pieces->list[i].file < 0 || pieces->list[i].file != pieces->list[j].file) {
        continue;
      }
      if (*count == most) {
        return tw_cli_usage(s->cli, "--pieces: too many columns and correlations together");
      }
      c[(*count)++] = (tw_correlation){pieces->list[j].input, pieces->list[i].input, 1};
    }
  }
  return TW_EXIT_DONE;
}

bool tw_cli_pieces_of_file(const tw_pieces *pieces, size_t input)
{
  for (size_t i = 0; i < pieces->lists; i++) {
    if (pieces->list[i].input == input && pieces->list[i].file >= 0) {
      return true;
    }
  }
  return false;
}

tw_exit tw_cli_sorted_out(tw_cli_study *s)
{
  const char *text;
  for (int k = 0; (text = tw_cli_text_at(s->cli, "sorted-out", k)) != NULL; k++) {
    const char *equals = strchr(text, '=');
    tw_fault fault = {0};
    size_t input;
    char *end = NULL;
    if (!equals) {
      return tw_cli_usage(s->cli,
                          "--sorted-out: \"%s\" is not PATH=SHARE, such as "
                          "circuit.bias_upper=1%%",
                          text);
    }
    const tw_field field = tw_cli_field(s->cli, "sorted-out", text, (size_t)(equals - text));
    if (field == TW_FIELD_COUNT) {
      return TW_EXIT_USAGE;
    }
    if (tw_study_add(s->study, field, &input, &fault) != TW_OK) {
      return tw_cli_fault(s->cli, &fault);
    }
    tw_study_input *in = &s->study->input[input];
    double hole = strtod(equals + 1, &end) / 100 * fabs(in->now);
    if (end == equals + 1 || strcmp(end, "%") != 0) {
      if (read_value(s, field, equals + 1, "", &hole, &fault) != TW_OK) {
        return tw_cli_usage(s->cli, "--sorted-out: %s", fault.text);
      }
    }
    if (in->law.law != TW_LAW_NORMAL) {
      return tw_cli_usage(s->cli, "--sorted-out: %s has no normal tolerance to sort from",
                          tw_field_of(field)->path);
    }
    in->law.law = TW_LAW_BIN;
    in->law.cut = false;
    in->law.hole_minus = in->law.hole_plus = hole;
  }
  return TW_EXIT_DONE;
}
