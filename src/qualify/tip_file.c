/* tip_file.c: the tip table as text, out and in. */
#include "inner.h"
#include "tripwright/qualify_table.h"
#include "tripwright/qualify_tip.h"
#include "tripwright/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define TW_TIP_FILE ((size_t)1 << 20)
#define TW_MM       1e3
#define TW_MM_MIN   6e4
#define TW_TIP_FORM 2 /* form 1 had the offset with the other sign */

static const char heading[] = "kind,at,a_mm,b_mm,u_mm";

/* ---- out
 * ------------------------------------------------------------------------------------------- */

/* the conditions may hold no line ends, or they would end their line */
static void add_words(tw_text *t, const char *key, const char *words)
{
  tw_text_add(t, "# %s: ", key);
  for (const char *c = words; *c; c++) {
    tw_text_add(t, "%c", *c == '\n' || *c == '\r' ? ' ' : *c);
  }
  tw_text_add(t, "\n");
}

tw_status tw_tip_write(const tw_tip *tip, char **text, tw_fault *fault)
{
  tw_text t = {0};
  tw_text_add(&t, "# tip table, form %d\n", TW_TIP_FORM);
  add_words(&t, "stylus", tip->stylus);
  add_words(&t, "date", tip->date);
  add_words(&t, "filter", tip->filter);
  add_words(&t, "from", tip->from);
  tw_text_add(&t, "# feed_mm_min: %.10g\n# approach_mm: %.10g\n", tip->feed * TW_MM_MIN,
              tip->approach * TW_MM);
  tw_text_add(&t, "# feed_range_mm_min: %.10g %.10g\n", tip->feed_low * TW_MM_MIN,
              tip->feed_high * TW_MM_MIN);
  tw_text_add(&t, "# delay_ms: %.10g %.10g\n", tip->delay * 1e3, tip->delay_u * 1e3);
  tw_text_add(&t, "# diameter_mm: %.10g %.10g\n", tip->diameter * TW_MM, tip->diameter_u * TW_MM);
  tw_text_add(&t, "# offset_mm is from the spindle axis to the ball, spindle at 0\n");
  tw_text_add(&t, "# offset_mm: %.10g %.10g %.10g\n", tip->offset[0] * TW_MM,
              tip->offset[1] * TW_MM, tip->offset_u * TW_MM);
  tw_text_add(&t, "# residual_s_mm: %.10g\n%s\n", tip->residual_s * TW_MM, heading);
  for (size_t i = 0; i < tip->count; i++) {
    const tw_tip_row *r = &tip->row[i];
    if (tip->kind == TW_TIP_BINS) {
      tw_text_add(&t, "bin,%.10g,%.10g,0,%.10g\n", r->azimuth * 180.0 / TW_PI, r->a * TW_MM,
                  r->u * TW_MM);
    } else {
      tw_text_add(&t, "harmonic,%u,%.10g,%.10g,%.10g\n", r->order, r->a * TW_MM, r->b * TW_MM,
                  r->u * TW_MM);
    }
  }
  *text = tw_text_take(&t);
  return *text ? TW_OK : tw_no_memory(fault);
}

/* ---- in
 * -------------------------------------------------------------------------------------------- */

struct key {
  const char *name;
  char *words; /* either words of `room` characters, */
  size_t room;
  double *number[3]; /* or up to three numbers, divided by `over` */
  double over;
  bool seen;
};

static bool read_numbers(const char *text, struct key *k)
{
  for (int i = 0; i < 3 && k->number[i]; i++) {
    while (*text == ' ') {
      text++;
    }
    const size_t length = strcspn(text, " \r");
    if (!tw_number_read(text, length, k->number[i])) {
      return false;
    }
    *k->number[i] /= k->over;
    text += length;
  }
  return text[strspn(text, " \r")] == '\0';
}

/* "# key: value" into its place; false only if the value is wrong */
static bool take_condition(const char *line, struct key *key, size_t keys)
{
  for (size_t i = 0; i < keys; i++) {
    const size_t length = strlen(key[i].name);
    if (strncmp(line, "# ", 2) != 0 || strncmp(line + 2, key[i].name, length) != 0 ||
        line[2 + length] != ':') {
      continue;
    }
    const char *value = line + 3 + length;
    value += strspn(value, " ");
    key[i].seen = true;
    if (!key[i].words) {
      return read_numbers(value, &key[i]);
    }
    const size_t size = strcspn(value, "\r");
    if (size >= key[i].room) {
      return false;
    }
    memcpy(key[i].words, value, size);
    key[i].words[size] = '\0';
    return true;
  }
  return true;
}

static void wrong(tw_messages *m, const char *name, int line, const char *hint, const char *text)
{
  tw_messages_add(m, TW_ERROR, (tw_place){name, line, line ? 1 : 0}, NULL, NULL, hint, "%s", text);
}

static void take_conditions(const char *name, char *text, tw_messages *messages, tw_tip *out)
{
  struct key key[] = {
      {"stylus", out->stylus, sizeof out->stylus, {0}, 1, false},
      {"date", out->date, sizeof out->date, {0}, 1, false},
      {"filter", out->filter, sizeof out->filter, {0}, 1, false},
      {"from", out->from, sizeof out->from, {0}, 1, false},
      {"feed_mm_min", NULL, 0, {&out->feed}, TW_MM_MIN, false},
      {"approach_mm", NULL, 0, {&out->approach}, TW_MM, false},
      {"feed_range_mm_min", NULL, 0, {&out->feed_low, &out->feed_high}, TW_MM_MIN, false},
      {"delay_ms", NULL, 0, {&out->delay, &out->delay_u}, 1e3, false},
      {"diameter_mm", NULL, 0, {&out->diameter, &out->diameter_u}, TW_MM, false},
      {"offset_mm", NULL, 0, {&out->offset[0], &out->offset[1], &out->offset_u}, TW_MM, false},
      {"residual_s_mm", NULL, 0, {&out->residual_s}, TW_MM, false},
  };
  const size_t keys = sizeof key / sizeof key[0];
  int number = 0;
  for (char *line = text; line && *line;) {
    char *end = strchr(line, '\n');
    number++;
    if (end) {
      *end = '\0';
    }
    if (line[0] == '#' && !take_condition(line, key, keys)) {
      wrong(messages, name, number, "take it as the tool wrote it",
            "this condition cannot be read");
    }
    if (end) {
      *end = '\n';
    }
    line = end ? end + 1 : NULL;
  }
  for (size_t i = 4; i < keys; i++) {
    if (!key[i].seen) {
      char what[80];
      snprintf(what, sizeof what, "the condition '%s' is missing", key[i].name);
      wrong(messages, name, 0, "is this a tip table?", what);
    }
  }
}

/* a table of form 1 is good for all but its offset */
static void check_age(const char *name, const char *text, tw_messages *messages, const tw_tip *tip)
{
  const bool offset = tip->offset[0] != 0.0 || tip->offset[1] != 0.0;
  if (offset && strstr(text, "# tip table, form 1\n")) {
    wrong(messages, name, 1,
          "make the table again, or turn both signs of offset_mm and write form 2",
          "tables of form 1 hold the stylus offset with the wrong sign");
  }
}

static void take_rows(const char *name, const tw_readings *t, tw_messages *messages, tw_tip *out)
{
  if (t->rows > TW_TIP_ROWS) {
    wrong(messages, name, 0, "is this a tip table?", "more than 360 rows");
    return;
  }
  for (size_t i = 0; i < t->rows; i++) {
    const char *kind = t->text[0][t->code[0][i]];
    const bool bin = strcmp(kind, "bin") == 0;
    const double at = t->number[1][i];
    const bool order = at >= 0.0 && at <= 360.0 && (bin || at == floor(at));
    if ((!bin && strcmp(kind, "harmonic") != 0) || !order || t->number[4][i] < 0.0 ||
        (i > 0 && bin != (out->kind == TW_TIP_BINS))) {
      wrong(messages, name, (int)t->line[i], "kind is harmonic or bin, the same in all rows",
            "this row makes no sense");
      return;
    }
    out->kind = bin ? TW_TIP_BINS : TW_TIP_HARMONICS;
    out->row[out->count++] = (tw_tip_row){.order = bin ? 0 : (unsigned)at,
                                          .azimuth = bin ? at * TW_PI / 180.0 : 0.0,
                                          .a = t->number[2][i],
                                          .b = t->number[3][i],
                                          .u = t->number[4][i]};
  }
}

tw_status tw_tip_read_text(const char *name, const char *text, size_t length, tw_messages *messages,
                           tw_tip *out)
{
  static const tw_column columns[] = {{"kind", "", TW_LABEL, false},
                                      {"at", "", TW_PURE, false},
                                      {"a_mm", "", TW_LENGTH, false},
                                      {"b_mm", "", TW_LENGTH, false},
                                      {"u_mm", "", TW_LENGTH, false}};
  const tw_readings_spec spec = {
      .column = columns, .columns = 5, .separator = ',', .keep_lines = true};
  memset(out, 0, sizeof *out);
  char *copy = tw_alloc(length + 1, 1);
  if (!copy) {
    return TW_NO_MEMORY;
  }
  memcpy(copy, text, length);
  const size_t before = tw_messages_errors(messages);
  tw_readings *table = NULL;
  tw_status status = tw_readings_read_text(name, copy, length, &spec, messages, &table);
  if (status == TW_OK) {
    take_conditions(name, copy, messages, out);
    check_age(name, copy, messages, out);
    take_rows(name, table, messages, out);
    status = tw_messages_errors(messages) > before ? TW_BAD_INPUT : TW_OK;
  }
  tw_readings_free(table);
  tw_free(copy);
  return status;
}

tw_status tw_tip_read(const char *path, tw_messages *messages, tw_tip *out)
{
  char *text;
  size_t length;
  tw_status status = tw_text_of_file(path, TW_TIP_FILE, messages, &text, &length);
  status = status == TW_OK ? tw_tip_read_text(path, text, length, messages, out) : status;
  tw_free(text);
  return status;
}
