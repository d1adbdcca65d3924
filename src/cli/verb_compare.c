/* verb_compare.c: designs side by side: measures, margins, yield, parts and cost. */
#include "study_in.h"

#include <stdlib.h>
#include <string.h>

#define VARIANTS_MOST 8

typedef struct compare {
  int count;
  tw_cli_study s[VARIANTS_MOST];
  tw_variant variant[VARIANTS_MOST];
  /* of one file with --field: its path and its values, cut out of `text` */
  char path[80], *text;
  tw_set set[VARIANTS_MOST];
  char change[VARIANTS_MOST][128];
  int values;
  long builds;
} compare;

/* characters of the measure's name and of each variant's column; so many variants stand beside each
 * other in 80 columns, the rest follows below */
enum { NAME = 26, CELL = 18, BESIDE = 3 };

/* the variants from..to of one table */
typedef struct columns {
  size_t from, to;
} columns;

/* ---- printing ------------------------------------------------------------------------------ */

/* what one variant has to say in a row; returns out */
typedef const char *cell_text(const json_t *variant, const char *key, char *out, size_t size);

static void row_of(FILE *out, const json_t *variants, columns c, const char *name, const char *key,
                   cell_text *say)
{
  fprintf(out, "%-*s", NAME, name);
  for (size_t i = c.from; i < c.to; i++) {
    char text[64];
    fprintf(out, "%*s", CELL, say(json_array_get(variants, i), key, text, sizeof text));
  }
  fprintf(out, "\n");
}

static const char *say_value(const json_t *variant, const char *key, char *out, size_t size)
{
  const json_t *value = json_object_get(variant, key);
  if (json_is_object(value)) {
    snprintf(out, size, "%.4g h", tw_number_of(value, "value") / 3600);
  } else if (json_is_boolean(value)) {
    snprintf(out, size, "%s", json_is_true(value) ? "yes" : "no");
  } else if (json_is_number(value)) {
    snprintf(out, size, "%.4g", json_number_value(value));
  } else {
    snprintf(out, size, "-");
  }
  return out;
}

static const char *say_met(const json_t *variant, const char *key, char *out, size_t size)
{
  snprintf(out, size, "%.0f of %.0f", tw_number_of(variant, key), tw_number_of(variant, "asked"));
  return out;
}

static const char *say_margin(const json_t *variant, const char *key, char *out, size_t size)
{
  const json_t *margin = json_object_get(variant, key);
  if (json_is_number(margin)) {
    snprintf(out, size, "%+.0f %%", 100 * json_number_value(margin));
  } else {
    snprintf(out, size, "none");
  }
  return out;
}

static const char *say_yield(const json_t *variant, const char *key, char *out, size_t size)
{
  const json_t *yield = json_object_get(variant, key);
  if (!json_is_object(yield)) {
    return "-";
  }
  snprintf(out, size, "%.0f %% (%.0f .. %.0f)", 100 * tw_number_of(yield, "share"),
           100 * tw_number_of(yield, "low"), 100 * tw_number_of(yield, "high"));
  return out;
}

static void print_names(FILE *out, const json_t *variants)
{
  for (size_t i = 0; i < json_array_size(variants); i++) {
    const json_t *design = json_object_get(json_array_get(variants, i), "design");
    fprintf(out, "%c  %s, revision %s (%s)\n", (char)('A' + i), tw_text_of(design, "name"),
            tw_text_of(design, "revision"), tw_text_of(design, "file"));
    const char *change = tw_text_of(json_array_get(variants, i), "change");
    if (change[0]) {
      fprintf(out, "   with %s\n", change);
    }
  }
}

static void print_overview(FILE *out, const json_t *variants, columns c)
{
  static const struct {
    const char *name, *key;
    cell_text *say;
  } rows[] = {{"requirements met", "met", say_met},
              {"smallest margin", "margin", say_margin},
              {"good of a batch", "yield", say_yield},
              {"parts listed", "parts", say_value},
              {"operations", "operations", say_value},
              {"work", "work", say_value},
              {"cost", "cost", say_value},
              {"wait for the slowest part", "lead_time", say_value},
              {"not beaten in everything", "efficient", say_value}};
  fprintf(out, "\n%-*s", NAME, "");
  for (size_t i = c.from; i < c.to; i++) {
    fprintf(out, "%*c", CELL, (char)('A' + i));
  }
  fprintf(out, "\n");
  for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
    row_of(out, variants, c, rows[r].name, rows[r].key, rows[r].say);
  }
}

/* "+" gained, "-" lost against the first, "!" a requirement that is missed */
static void print_measures(const compare *c, FILE *out, const json_t *rows, columns beside)
{
  fprintf(out, "\n");
  for (size_t r = 0; r < json_array_size(rows); r++) {
    const json_t *row = json_array_get(rows, r), *each = json_object_get(row, "variants");
    const tw_measure_id id = tw_measure_find(tw_text_of(row, "measure"));
    fprintf(out, "%-*s", NAME, tw_text_of(row, "measure"));
    for (size_t i = beside.from; i < beside.to; i++) {
      const json_t *one = json_array_get(each, i);
      const json_t *value = json_object_get(one, "value");
      char text[64], full[80];
      const int gained = (int)json_integer_value(json_object_get(one, "gained"));
      tw_cli_figure(&c->s[i], id, json_is_null(value) ? one : value, text, sizeof text);
      if (json_is_string(value)) {
        snprintf(text, sizeof text, "%s", json_string_value(value));
      }
      snprintf(full, sizeof full, "%s %s%s", text,
               gained > 0   ? "+"
               : gained < 0 ? "-"
                            : " ",
               json_is_false(json_object_get(one, "met")) ? "!" : " ");
      fprintf(out, "%*s", CELL, full);
    }
    fprintf(out, "\n");
  }
}

static tw_exit print(const compare *c, tw_cli *cli)
{
  json_t *document = tw_document_compare(c->variant, (size_t)c->count);
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, document);
  }
  const json_t *variants = json_object_get(document, "variants");
  for (int i = 0; i < c->count; i++) {
    const char lead[] = {(char)('A' + i), ':', ' ', '\0'};
    tw_cli_study_left_out(cli->out, &c->s[i].study->nominal, lead);
  }
  print_names(cli->out, variants);
  const size_t count = json_array_size(variants);
  for (size_t from = 0; from < count; from += BESIDE) {
    const columns beside = {from, from + BESIDE < count ? from + BESIDE : count};
    print_overview(cli->out, variants, beside);
    print_measures(c, cli->out, json_object_get(document, "measures"), beside);
  }
  fprintf(cli->out, "\n+ gained, - lost against A; ! a requirement that is missed\n");
  json_decref(document);
  return TW_EXIT_DONE;
}

/* ---- the verb ------------------------------------------------------------------------------ */

/* "PATH=A,B,C" into the path and its values; spaces about a value do not count */
static tw_exit cut_field(compare *c, tw_cli *cli, const char *given)
{
  const char *equals = strchr(given, '=');
  if (!equals || equals == given || !(c->text = tw_copy_text(equals + 1))) {
    return tw_cli_usage(cli, "--field: \"%s\" is not PATH=A,B...", given);
  }
  const tw_field field = tw_cli_field(cli, "field", given, (size_t)(equals - given));
  if (field == TW_FIELD_COUNT) {
    return TW_EXIT_USAGE;
  }
  snprintf(c->path, sizeof c->path, "%.*s", (int)(equals - given), given);
  for (char *at = c->text; at; c->values++) {
    char *comma = strchr(at, ','), *end = comma ? comma : at + strlen(at);
    while (*at == ' ') {
      at++;
    }
    while (end > at && end[-1] == ' ') {
      end--;
    }
    if (end <= at) {
      return tw_cli_usage(cli, "--field: a value of %s is missing in \"%s\"", c->path, given);
    }
    if (c->values == VARIANTS_MOST) {
      return tw_cli_usage(cli, "--field: compare at most %d values", VARIANTS_MOST);
    }
    *end = '\0';
    c->set[c->values] = (tw_set){c->path, at};
    snprintf(c->change[c->values], sizeof c->change[0], "%s=%s", c->path, at);
    at = comma ? comma + 1 : NULL;
  }
  return c->values > 1 ? TW_EXIT_DONE
                       : tw_cli_usage(cli, "--field: name two values or more, %s=A,B", c->path);
}

/* what is compared: several files, or one file with several values of a field */
static tw_exit read_variants(compare *c, tw_cli *cli)
{
  const char *field = tw_cli_text(cli, "field", NULL);
  if (!field) {
    return cli->count > 1 ? TW_EXIT_DONE
                          : tw_cli_usage(cli, "name a second design, or --field PATH=A,B...");
  }
  if (cli->count > 1) {
    return tw_cli_usage(cli, "--field compares values in one file; name only one");
  }
  return cut_field(c, cli, field);
}

static tw_exit open_one(compare *c, tw_cli *cli, int i)
{
  cli->also = c->values ? &c->set[i] : NULL;
  const tw_exit code = tw_cli_study_open(cli, cli->operand[c->values ? 0 : i], &c->s[i]);
  cli->also = NULL;
  if (code != TW_EXIT_DONE && c->values) {
    fprintf(cli->err, "  in variant %c: %s\n", 'A' + i, c->change[i]);
  }
  return code;
}

static tw_exit open_all(compare *c, tw_cli *cli)
{
  tw_fault fault = {0};
  const int count = c->values ? c->values : cli->count;
  for (int i = 0; i < count; i++) {
    c->count = i + 1;
    const tw_exit code = open_one(c, cli, i);
    if (code != TW_EXIT_DONE) {
      return code;
    }
    c->variant[i] = (tw_variant){.design = c->s[i].design,
                                 .limits = &c->s[i].limits,
                                 .assessment = &c->s[i].study->nominal,
                                 .yield = -1,
                                 .change = c->values ? c->change[i] : NULL};
    const tw_status status = c->builds > 0 ? tw_run_yield(c->s[i].study, (size_t)c->builds,
                                                          &c->s[i].progress, &c->variant[i], &fault)
                                           : TW_OK;
    if (status != TW_OK) {
      return status == TW_CANCELLED ? TW_EXIT_INTERRUPTED : tw_cli_fault(cli, &fault);
    }
  }
  return TW_EXIT_DONE;
}

static tw_exit run(tw_cli *cli)
{
  compare *c = tw_alloc(1, sizeof *c);
  if (!c) {
    return TW_EXIT_INTERNAL;
  }
  tw_exit code = TW_EXIT_USAGE;
  if (tw_cli_count(cli, "builds", 1, 1000000, &c->builds)) {
    code = read_variants(c, cli);
  }
  if (code == TW_EXIT_DONE) {
    code = open_all(c, cli);
  }
  if (code == TW_EXIT_DONE) {
    code = print(c, cli);
  }
  for (int i = 0; i < c->count; i++) {
    tw_cli_study_close(&c->s[i]);
  }
  tw_free(c->text);
  tw_free(c);
  return code;
}

static const tw_option options[] = {
    {"field", "PATH=A,B...", "values of one field in one file instead of several files", false},
    {"builds", "N", "draw N builds of each for the share that is good", false},
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_compare = {
    .name = "compare",
    .operands = "A [B...]",
    .least = 1,
    .most = VARIANTS_MOST,
    .summary = "designs side by side: measures, margins, yield, parts and cost",
    .details = "Seats, circuits and links may be of different kinds. Each is compared with its own "
               "requirements; what is gained or lost is against the first. With --field one "
               "file is compared with each of the values in turn: --field disc.part=a,b,c.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
