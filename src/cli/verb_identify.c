/* verb_identify.c: what this unit is, from readings on the bench. */
#include "bench_in.h"
#include "capture_readings.h"
#include "unit_file.h"

#include "tripwright/identify.h"

#include <math.h>
#include <string.h>

/* checks that are named under what to measure next, when not all are asked for */
#define NEXT_SHOWN 6

typedef struct job {
  tw_cli *cli;
  tw_design *design;
  tw_bench_in in;
  tw_bench_card *card;
  tw_identified *found;
  tw_unit_values *values;
  tw_identify_options options;
  tw_bench_instruments with;
} job;

/* ---- printing ------------------------------------------------------------------------------ */

static const char *figure(const json_t *number, const char *unit, char *out, size_t size)
{
  if (!json_is_number(number)) {
    snprintf(out, size, "-");
    return out;
  }
  return tw_show(json_number_value(number), unit, out, size);
}

static void print_reading(FILE *out, const json_t *row)
{
  char a[48], b[48], c[48], d[48];
  const char *unit = tw_text_of(row, "unit");
  const json_t *reading = json_object_get(row, "reading");
  if (!json_is_object(reading)) {
    fprintf(out, "  %-20s %-10s %s\n", tw_text_of(row, "check"), json_string_value(reading),
            json_is_true(json_object_get(row, "agrees")) ? "as the unit fitted"
                                                         : "not what the unit fitted shows");
    return;
  }
  fprintf(out, "  %-20s %-10s ± %-9s %-10s %-10s %+5.1f%s\n", tw_text_of(row, "check"),
          figure(json_object_get(reading, "value"), unit, a, sizeof a),
          tw_show_digits(2 * tw_number_of(row, "u"), unit, 2, b, sizeof b),
          figure(json_object_get(row, "drawing"), unit, c, sizeof c),
          figure(json_object_get(row, "fitted"), unit, d, sizeof d),
          tw_plain_zero(tw_number_of(row, "deviations"), 1),
          json_is_true(json_object_get(row, "set_aside")) ? "  set aside" : "");
}

static void print_ends(const json_t *ends, const char *unit, const char *told, char *out,
                       size_t size)
{
  char a[48], b[48], c[48];
  const json_t *interval = json_object_get(ends, "interval");
  figure(json_object_get(ends, "value"), unit, a, sizeof a);
  figure(json_array_get(interval, 0), unit, b, sizeof b);
  figure(json_array_get(interval, 1), unit, c, sizeof c);
  if (strcmp(told, "at least") == 0) {
    snprintf(out, size, "at least %s", b);
  } else if (strcmp(told, "at most") == 0) {
    snprintf(out, size, "at most %s", c);
  } else {
    snprintf(out, size, "%s (%s .. %s)", a, b, c);
  }
}

/* those that the readings told, at least in part; then the names of the others */
static void print_parameters(FILE *out, const json_t *rows)
{
  char before[160], after[160];
  size_t others = 0;
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *p = json_array_get(rows, i);
    const char *unit = tw_text_of(p, "unit"), *told = tw_text_of(p, "told");
    if (strcmp(told, "not told") == 0) {
      others++;
      continue;
    }
    print_ends(json_object_get(p, "before"), unit, "", before, sizeof before);
    print_ends(json_object_get(p, "after"), unit, told, after, sizeof after);
    fprintf(out, "  %-28s %s%s\n    before %s\n", tw_text_of(p, "name"), after,
            strcmp(told, "partly") == 0 ? ", in part" : "", before);
  }
  for (size_t i = 0, n = 0; i < json_array_size(rows); i++) {
    const json_t *p = json_array_get(rows, i);
    if (strcmp(tw_text_of(p, "told"), "not told") == 0) {
      fprintf(out, "%s%s", n == 0 ? "Not determined by these readings: " : ", ",
              tw_text_of(p, "name"));
      n++;
    }
  }
  fprintf(out, "%s", others ? ".\n" : "");
}

static void print_together(FILE *out, const json_t *rows)
{
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *names = json_object_get(json_array_get(rows, i), "parameters");
    fprintf(out, "%s", i == 0 ? "Told only together: " : "; ");
    for (size_t k = 0; k < json_array_size(names); k++) {
      fprintf(out, "%s%s", k == 0 ? "" : " with ", json_string_value(json_array_get(names, k)));
    }
  }
  fprintf(out, "%s", json_array_size(rows) ? ".\n" : "");
}

static void print_next(FILE *out, const json_t *document)
{
  const json_t *rows = json_object_get(document, "next"),
               *width = json_object_get(document, "about_width");
  if (json_is_string(json_object_get(document, "about"))) {
    fprintf(out, "\n%s is known to ± %.2g %%; before the readings ± %.2g %%.\n",
            tw_text_of(document, "about"), 100 * json_number_value(json_array_get(width, 1)),
            100 * json_number_value(json_array_get(width, 0)));
  }
  for (size_t i = 0; i < json_array_size(rows) && i < NEXT_SHOWN; i++) {
    const json_t *n = json_array_get(rows, i);
    fprintf(out, "%s  %-20s %2.0f min, leaves %.0f %% of the width\n",
            i == 0 ? "\nWhat to measure next, the most telling a minute first\n" : "",
            tw_text_of(n, "check"), tw_number_of(n, "minutes"),
            100 * tw_number_of(n, "width_left"));
  }
  if (json_array_size(rows) == 0) {
    fprintf(out, "\nNo other check of the card tells anything more worth its time.\n");
  }
}

static void print(const job *j, const json_t *document)
{
  FILE *out = j->cli->out;
  const json_t *readings = json_object_get(document, "readings");
  fprintf(out, "%s\n", tw_design_name(j->design));
  (void)tw_cli_print_state(out, document, "");
  fprintf(out, "%s\n", tw_text_of(document, "verdict"));
  if (json_array_size(readings) > 0) {
    fprintf(out, "\n  %-20s %-10s %-11s %-10s %-10s %s\n", "reading", "", "", "drawing", "unit",
            "off (u)");
  }
  for (size_t i = 0; i < json_array_size(readings); i++) {
    print_reading(out, json_array_get(readings, i));
  }
  if (json_is_true(json_object_get(document, "holds")) && json_array_size(readings) > 0) {
    fprintf(out, "\nThis unit; in brackets where it lies in 95 of 100\n");
    print_parameters(out, json_object_get(document, "parameters"));
    print_together(out, json_object_get(document, "together"));
  }
  print_next(out, document);
}

/* ---- verb ---------------------------------------------------------------------------------- */

/* --about: a measure of check, or a check of the card */
static tw_exit read_about(job *j)
{
  const char *about = tw_cli_text(j->cli, "about", NULL);
  if (!about) {
    return TW_EXIT_DONE;
  }
  for (int i = 0; i < j->card->count; i++) {
    if (strcmp(j->card->check[i].name, about) == 0) {
      j->options.about_check = true;
      j->options.check = j->card->check[i].id;
      if (j->card->check[i].word || !j->card->check[i].expect.known) {
        return tw_cli_usage(j->cli, "--about: %s has no number on this card", about);
      }
      return TW_EXIT_DONE;
    }
  }
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *m = tw_measure_about((tw_measure_id)i);
    if (strcmp(m->name, about) == 0) {
      j->options.about_measure = true;
      j->options.measure = (tw_measure_id)i;
      return strcmp(m->unit, "word") == 0
                 ? tw_cli_usage(j->cli, "--about: %s is a word, not a number", about)
                 : TW_EXIT_DONE;
    }
  }
  return tw_cli_usage(j->cli,
                      "--about: \"%s\" is no measure of tripwright check and no check of "
                      "the card (tripwright expect --csv lists those)",
                      about);
}

static tw_exit write_unit(job *j)
{
  const char *path = tw_cli_text(j->cli, "write", NULL);
  if (!path) {
    return TW_EXIT_DONE;
  }
  if (!j->found->holds) {
    fprintf(j->cli->err, "%s is not written: the model does not hold for this unit\n", path);
    return TW_EXIT_NOT_MET;
  }
  if (j->values->count == 0) {
    fprintf(j->cli->err, "%s is not written: the readings tell nothing that a file could say\n",
            path);
    return TW_EXIT_NOT_MET;
  }
  const tw_exit code = tw_unit_file_write(j->cli, j->design, j->values, path);
  if (code == TW_EXIT_DONE && !tw_cli_has(j->cli, "json")) {
    fprintf(j->cli->out, "\n%s: %zu values of this unit.\n", path, j->values->count);
  }
  return code;
}

static tw_exit find(job *j)
{
  tw_fault fault = {0};
  const tw_progress progress = tw_cli_progress(j->cli);
  j->options.progress = &progress;
  j->found = tw_alloc(1, sizeof *j->found);
  j->values = tw_alloc(1, sizeof *j->values);
  tw_status status = j->found && j->values
                         ? tw_identify(j->design, tw_cli_units(j->cli), &j->options, j->in.reading,
                                       j->in.readings, j->found, &fault)
                         : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
  if (status == TW_OK && j->found->holds) {
    status = tw_identify_values(j->design, tw_cli_units(j->cli), j->found, j->values, &fault);
  }
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(j->cli, &fault);
}

static tw_exit tell(job *j)
{
  json_t *document = tw_document_identify(j->design, j->in.reading, j->found, j->values,
                                          tw_cli_text(j->cli, "about", NULL));
  tw_fault fault = {0};
  if (!document) {
    tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
    return tw_cli_fault(j->cli, &fault);
  }
  tw_exit code = j->found->holds ? TW_EXIT_DONE : TW_EXIT_NOT_MET;
  if (tw_cli_has(j->cli, "json")) {
    const tw_exit printed = tw_cli_print_json(j->cli, json_incref(document));
    code = printed == TW_EXIT_DONE ? code : printed;
  } else {
    print(j, document);
  }
  json_decref(document);
  return code;
}

static tw_exit run(tw_cli *cli)
{
  job j = {.cli = cli};
  tw_fault fault = {0};
  tw_exit code = tw_cli_units(cli) ? tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &j.design)
                                   : TW_EXIT_USAGE;
  if (code == TW_EXIT_DONE) {
    j.card = tw_alloc(1, sizeof *j.card);
    const tw_status status = j.card ? tw_bench_card_from(j.design, NULL, 0, j.card, &fault)
                                    : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
    j.in = (tw_bench_in){.cli = cli, .card = j.card, .may_be_none = true};
    code = status == TW_OK ? tw_bench_in_read(&j.in) : tw_cli_fault(cli, &fault);
  }
  j.with = tw_bench_instruments_default();
  j.options.instruments = &j.with;
  code = code == TW_EXIT_DONE ? tw_capture_readings(&j.in, j.design, &j.with) : code;
  code = code == TW_EXIT_DONE ? read_about(&j) : code;
  code = code == TW_EXIT_DONE ? find(&j) : code;
  code = code == TW_EXIT_DONE ? tell(&j) : code;
  if (code == TW_EXIT_DONE || code == TW_EXIT_NOT_MET) {
    const tw_exit written = write_unit(&j);
    code = written == TW_EXIT_DONE ? code : written;
  }
  tw_free(j.in.file);
  tw_free(j.found);
  tw_free(j.values);
  tw_free(j.card);
  tw_design_free(j.design);
  return code;
}

static const tw_option options[] = {
    TW_BENCH_IN_OPTIONS,
    TW_CAPTURE_READINGS_OPTIONS,
    {"about", "NAME",
     "order the next checks by what they tell about this measure of check, or this check of the "
     "card",
     false},
    {"write", "UNIT.yaml", "write a file of this unit, based on the design", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_identify = {
    .name = "identify",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "readings from the bench to what this unit is, and how surely",
    .details =
        "Fits the values of one unit to what was read: tolerances and scatter of bought parts are "
        "what is known before, the bench card (tripwright expect) says what each unit would show. "
        "Gives the values with their 95 % limits, what the readings cannot tell, whether the "
        "model holds for this unit, which reading disagrees, and what to measure next. Without "
        "readings it says what to measure first. Exit code 1 means that the model does not hold.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
