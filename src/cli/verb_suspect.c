/* verb_suspect.c: what was read on the bench, and the one thing that explains it. */
#include "bench_in.h"

#include <stdlib.h>
#include <string.h>

/* suspects that stand beside each other under what tells them apart */
#define BESIDE 4
/* readings from which two things can be told from one (own choice); causes that are listed */
#define PAIRS_NEED   6
#define CAUSES_SHOWN 5

typedef struct job {
  tw_cli *cli;
  tw_design *design;
  tw_bench_in in;
  tw_bench_card *card;
  tw_system system;
} job;

/* ---- printing ------------------------------------------------------------------------------ */

/* a quantity of the document with three figures, or its word */
static const char *shown(const json_t *value, const char *unit, char *out, size_t size)
{
  if (json_is_string(value)) {
    snprintf(out, size, "%s", json_string_value(value));
  } else if (json_is_object(value)) {
    tw_show(tw_number_of(value, "value"), unit, out, size);
  } else {
    snprintf(out, size, "-");
  }
  return out;
}

static void print_reading(FILE *out, const json_t *row)
{
  char reading[48], expected[48], low[48], high[48];
  const char *unit = tw_text_of(row, "unit");
  const json_t *band = json_object_get(row, "band");
  fprintf(out, "  %-20s %-12s", tw_text_of(row, "check"),
          shown(json_object_get(row, "reading"), unit, reading, sizeof reading));
  fprintf(out, "expected %s",
          shown(json_object_get(row, "expected"), unit, expected, sizeof expected));
  if (band) {
    fprintf(out, " (%s .. %s)",
            tw_show(json_number_value(json_array_get(band, 0)), unit, low, sizeof low),
            tw_show(json_number_value(json_array_get(band, 1)), unit, high, sizeof high));
  }
  fprintf(out, ": %s\n", tw_text_of(row, "reads"));
}

static void print_suspect(FILE *out, const json_t *one, size_t number)
{
  const json_t *now = json_object_get(one, "now"), *then = json_object_get(one, "then");
  const char *part = tw_text_of(one, "part");
  fprintf(out, " %zu. %s: %s in place of %s", number, tw_text_of(one, "field"),
          tw_text_of(then, "shown"), tw_text_of(now, "shown"));
  fprintf(out, "%s%s%s; leaves %.1f deviations\n    %s\n", part[0] ? " (" : "", part,
          part[0] ? ")" : "", tw_number_of(one, "worst"), tw_text_of(one, "help"));
}

/* "circuit.bias_resistance: 0.25 Mohm in place of 1 Mohm" for one or two */
static void print_cause(FILE *out, const json_t *one, size_t number)
{
  const json_t *faults = json_object_get(one, "faults");
  fprintf(out, " %zu. ", number);
  for (size_t i = 0; i < json_array_size(faults); i++) {
    const json_t *f = json_array_get(faults, i);
    fprintf(out, "%s%s: %s in place of %s", i ? "\n    and " : "", tw_text_of(f, "field"),
            tw_text_of(json_object_get(f, "then"), "shown"),
            tw_text_of(json_object_get(f, "now"), "shown"));
  }
  fprintf(out, "; leaves %.1f deviations\n", tw_number_of(one, "worst"));
  if (json_is_integer(json_object_get(one, "like"))) {
    fprintf(out, "    every reading shows it like number %.0f\n", tw_number_of(one, "like"));
  }
}

static void print_causes(FILE *out, const json_t *document)
{
  const json_t *causes = json_object_get(document, "causes");
  for (size_t i = 0; i < json_array_size(causes) && i < CAUSES_SHOWN; i++) {
    if (i == 0) {
      fprintf(out, "\nOne or two things wrong, all readings taken together, the likeliest first\n");
    }
    print_cause(out, json_array_get(causes, i), i + 1);
  }
}

static void print_tests(FILE *out, const json_t *document)
{
  const json_t *tests = json_object_get(document, "tests"),
               *suspects = json_object_get(document, "suspects");
  const size_t fit = (size_t)tw_number_of(document, "explaining");
  const size_t all_of_them = fit > 0 ? fit : json_array_size(suspects);
  const size_t n = all_of_them < TW_SUSPECT_BESIDE ? all_of_them : TW_SUSPECT_BESIDE;
  for (size_t i = 0; i < json_array_size(tests) && i < 5; i++) {
    const json_t *test = json_array_get(tests, i);
    fprintf(out, "%s  %-20s", i == 0 ? "\nChecks that separate them, the most useful first\n" : "",
            tw_text_of(test, "check"));
    for (size_t k = 0; k < n; k++) {
      char text[48];
      const json_t *all = json_object_get(json_array_get(suspects, k), "shown");
      fprintf(out, "%s%zu: %s", k ? "   " : " ", k + 1,
              shown(json_object_get(all, tw_text_of(test, "check")), tw_text_of(test, "unit"), text,
                    sizeof text));
    }
    fprintf(out, "\n");
  }
}

static void print(const job *j, const json_t *document)
{
  FILE *out = j->cli->out;
  const json_t *readings = json_object_get(document, "readings"),
               *suspects = json_object_get(document, "suspects");
  const double bad = tw_number_of(document, "out"), fit = tw_number_of(document, "explaining");
  const size_t n = json_array_size(suspects);
  fprintf(out, "%s\n", tw_design_name(j->design));
  const bool told = tw_cli_print_state(out, document, "");
  fprintf(out, "%sOutside of what a good unit shows: %.0f of %zu\n\n", told ? "\n" : "", bad,
          json_array_size(readings));
  for (size_t i = 0; i < json_array_size(readings); i++) {
    print_reading(out, json_array_get(readings, i));
  }
  if (!(bad > 0)) {
    fprintf(out, "\nNothing to look for: every reading lies where %s unit may lie.\n",
            told ? "this" : "a good");
    return;
  }
  if (fit > 0) {
    fprintf(out, "\nOne thing wrong that explains all of it, the likeliest first\n");
  } else if (n > 0) {
    fprintf(out,
            "\nNo single value explains all of it: two things may be wrong, a reading may be "
            "off, or the\ncause is in no formula (dirt, a crack, a loose joint). The nearest\n");
  } else {
    fprintf(out, "\nNothing in this design explains it: look for a wrong reading, dirt, a crack, a "
                 "loose joint,\na wrong instrument setting.\n");
  }
  for (size_t i = 0; i < n && (fit == 0 || (double)i < fit); i++) {
    print_suspect(out, json_array_get(suspects, i), i + 1);
  }
  print_causes(out, document);
  print_tests(out, document);
  if (fit > 1 && json_array_size(json_object_get(document, "tests")) == 0) {
    fprintf(out, "\nNo check of the card separates these: measure the parts themselves.\n");
  }
  fprintf(out, "\nDisconnect the supply before you solder or unplug; a suspect is a place to look, "
               "not a proof.\n");
}

/* ---- verb ---------------------------------------------------------------------------------- */

/* two things are looked for when asked for, or when no single one explains enough readings to tell
 */
static bool wants_pairs(const job *j, const tw_suspicion *found)
{
  return tw_cli_has(j->cli, "pairs") ||
         (found->out > 0 && found->explaining == 0 && j->in.readings >= PAIRS_NEED);
}

static tw_status look_for_pairs(job *j, json_t *document, tw_fault *fault)
{
  const tw_progress progress = tw_cli_progress(j->cli);
  const tw_causes_options options = {.progress = &progress};
  tw_explanations *causes = tw_alloc(1, sizeof *causes);
  const tw_status status = causes ? tw_identify_causes(j->design, tw_cli_units(j->cli), &options,
                                                       j->in.reading, j->in.readings, causes, fault)
                                  : tw_fail(fault, TW_NO_MEMORY, "", "", "out of memory");
  if (status == TW_OK) {
    tw_json_put_causes(document, tw_cli_units(j->cli), j->system, causes);
  }
  tw_free(causes);
  return status;
}

static tw_exit tell(job *j, const tw_suspicion *found, json_t *document)
{
  const tw_exit code = found->out > 0 ? TW_EXIT_NOT_MET : TW_EXIT_DONE;
  if (!tw_cli_has(j->cli, "json")) {
    print(j, document);
    return code;
  }
  const tw_exit printed = tw_cli_print_json(j->cli, json_incref(document));
  return printed == TW_EXIT_DONE ? code : printed;
}

static tw_exit search(job *j)
{
  tw_suspicion *found = tw_alloc(1, sizeof *found);
  tw_fault fault = {0};
  const tw_progress progress = tw_cli_progress(j->cli);
  json_t *document = NULL;
  tw_status status = found ? tw_bench_suspect(j->design, tw_cli_units(j->cli), NULL, j->in.reading,
                                              j->in.readings, 0, &progress, found, &fault)
                           : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
  if (status == TW_OK) {
    document =
        tw_document_suspect(j->design, tw_cli_units(j->cli), j->system, j->in.reading, found);
    status = document ? TW_OK : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
  }
  if (status == TW_OK && wants_pairs(j, found)) {
    status = look_for_pairs(j, document, &fault);
  }
  const tw_exit code = status == TW_OK ? tell(j, found, document) : tw_cli_fault(j->cli, &fault);
  json_decref(document);
  tw_free(found);
  return code;
}

static tw_exit run(tw_cli *cli)
{
  job j = {.cli = cli};
  tw_fault fault = {0};
  tw_exit code = tw_cli_system(cli, &j.system) && tw_cli_units(cli)
                     ? tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &j.design)
                     : TW_EXIT_USAGE;
  if (code == TW_EXIT_DONE) {
    j.card = tw_alloc(1, sizeof *j.card);
    const tw_status status = j.card ? tw_bench_card_from(j.design, NULL, 0, j.card, &fault)
                                    : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
    j.in = (tw_bench_in){.cli = cli, .card = j.card};
    code = status == TW_OK ? tw_bench_in_read(&j.in) : tw_cli_fault(cli, &fault);
  }
  code = code == TW_EXIT_DONE ? search(&j) : code;
  tw_free(j.in.file);
  tw_free(j.card);
  tw_design_free(j.design);
  return code;
}

static const tw_option options[] = {
    TW_BENCH_IN_OPTIONS,
    {"pairs", NULL, "look for two things that are wrong together, also where one explains it",
     false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_suspect = {
    .name = "suspect",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "find the one fault that explains your bench readings",
    .details =
        "Compares what was read with the bench card (tripwright expect). Then every value of "
        "the design is made wrong in turn until the card reads as the unit does. What "
        "explains the readings is listed, and the checks that would separate the suspects. "
        "Exit code 1 means that a reading is not what a good unit shows.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
