/* verb_seat.c: the carrier on its seat: at rest, and touched from all sides. */
#include "tripwright/constants.h"
#include "verb.h"

#include <math.h>
#include <string.h>

static double of(const json_t *row, const char *key)
{
  return json_number_value(json_object_get(row, key));
}

static const char *word(const json_t *row, const char *key)
{
  const char *text = json_string_value(json_object_get(row, key));
  return text ? text : "";
}

static void print_csv(FILE *out, const json_t *rows)
{
  fprintf(out, "azimuth_deg,elevation_deg,state,force_N,pretravel_m,charge_C,return_offset_m,"
               "mechanism\n");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    fprintf(out, "%.12g,%.12g,%s,", of(r, "azimuth_deg"), of(r, "elevation_deg"), word(r, "state"));
    if (strcmp(word(r, "state"), "ok") == 0) {
      fprintf(out, "%.17g,%.17g,%.17g,%.17g,", of(r, "force"), of(r, "pretravel"), of(r, "charge"),
              of(r, "return_offset"));
    } else {
      fprintf(out, ",,,,");
    }
    fprintf(out, "%s\n", word(r, "mechanism"));
  }
}

/* ---- the rose: seen down the spindle, X to the right, Y up ---------------------------------- */

enum { ROSE_ROWS = 21, ROSE_COLUMNS = 43 };

static void print_rose(FILE *out, const json_t *rows, const char *key, const char *unit)
{
  char cell[ROSE_ROWS][ROSE_COLUMNS + 1];
  double most = 0;
  for (int r = 0; r < ROSE_ROWS; r++) {
    memset(cell[r], ' ', ROSE_COLUMNS);
    cell[r][ROSE_COLUMNS] = '\0';
  }
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *row = json_array_get(rows, i);
    most = of(row, "elevation_deg") < 1e-6 ? fmax(most, of(row, key)) : most;
  }
  cell[ROSE_ROWS / 2][ROSE_COLUMNS / 2] = '+';
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *row = json_array_get(rows, i);
    if (of(row, "elevation_deg") > 1e-6) {
      continue;
    }
    const bool ok = strcmp(word(row, "state"), "ok") == 0;
    const double share = ok && most > 0 ? of(row, key) / most : 1;
    const double a = of(row, "azimuth_deg") * TW_PI / 180;
    const int column = (int)lround(ROSE_COLUMNS / 2 + share * (ROSE_COLUMNS / 2) * cos(a));
    const int line = (int)lround(ROSE_ROWS / 2 - share * (ROSE_ROWS / 2) * sin(a));
    cell[line][column] = ok ? 'o' : 'x';
  }
  char text[32];
  fprintf(out, "\n%s by azimuth, seen down the spindle (X right, Y up); rim = %s%s\n", key,
          tw_show(most, unit, text, sizeof text), "; x: no trip");
  for (int r = 0; r < ROSE_ROWS; r++) {
    fprintf(out, "  %s%s\n", cell[r], r == ROSE_ROWS / 2 ? " X" : "");
  }
}

static void figure(FILE *out, const json_t *rest, const char *key)
{
  const json_t *o = json_object_get(rest, key);
  char text[48];
  fprintf(out, "  %-20s %s\n", key,
          tw_show(json_number_value(json_object_get(o, "value")),
                  json_string_value(json_object_get(o, "unit")), text, sizeof text));
}

/* by how much the seat force changes: a change has a sign and is none itself */
static void print_moves(FILE *out, const json_t *moves)
{
  static const struct {
    const char *key, *with;
  } each[] = {{"per_10_um", "10 um more interference"},
              {"per_10_K", "10 K warmer"},
              {"after_30_days", "30 days"},
              {"per_turn", "one turn of its screw"}};
  for (size_t i = 0; i < sizeof each / sizeof each[0]; i++) {
    const json_t *value = json_object_get(json_object_get(moves, each[i].key), "value");
    char name[48], text[48];
    if (value) {
      const double change = json_number_value(value);
      snprintf(name, sizeof name, "with %s", each[i].with);
      fprintf(out, "  change of preload %-30s %s%s\n", name, change > 0 ? "+" : "",
              tw_show(change, "N", text, sizeof text));
    }
  }
}

/* as a person reads it: "tripped at rest" */
static const char *words_of(const char *state)
{
  for (int i = 0; i <= TW_MEASURE_NO_REARM; i++) {
    if (strcmp(state, tw_measure_state_text((tw_measure_state)i)) == 0) {
      return tw_measure_state_words((tw_measure_state)i);
    }
  }
  return state;
}

/* each state but ok and no trip that a direction has, once, as a sentence */
static void print_states(FILE *out, const json_t *rows)
{
  for (int i = TW_MEASURE_NO_TRIP + 1; i <= TW_MEASURE_NO_REARM; i++) {
    int count = 0;
    for (size_t k = 0; k < json_array_size(rows); k++) {
      count += strcmp(word(json_array_get(rows, k), "state"),
                      tw_measure_state_text((tw_measure_state)i)) == 0;
    }
    if (count > 0) {
      fprintf(out, "\n%s: %d of %zu directions. %s\n", tw_measure_state_words((tw_measure_state)i),
              count, json_array_size(rows), tw_measure_state_sentence((tw_measure_state)i));
    }
  }
}

static bool any_trips(const json_t *rows)
{
  for (size_t i = 0; i < json_array_size(rows); i++) {
    if (strcmp(word(json_array_get(rows, i), "state"), tw_measure_state_text(TW_MEASURE_OK)) == 0) {
      return true;
    }
  }
  return false;
}

/* no balance goes before what cannot be touched */
static tw_exit verdict(const json_t *document)
{
  const json_t *rows = json_object_get(document, "directions");
  tw_exit code = tw_cli_state_exit(word(document, "state"));
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const char *state = word(json_array_get(rows, i), "state");
    /* a direction that does not trip is what this verb is there to show */
    if (strcmp(state, tw_measure_state_text(TW_MEASURE_NO_TRIP)) != 0) {
      const tw_exit own = tw_cli_state_exit(state);
      code = own > code ? own : code;
    }
  }
  return code;
}

static void print_text(FILE *out, const json_t *document)
{
  const json_t *rest = json_object_get(document, "rest"),
               *rows = json_object_get(document, "directions");
  const bool told = tw_cli_print_state(out, document, "");
  fprintf(out, "%s", told ? "\n" : "");
  fprintf(out, "At rest\n");
  static const char *const shown[] = {"preload",         "interference", "preload_rate",
                                      "friction_moment", "regime_ratio", "charge_gain"};
  for (size_t i = 0; i < sizeof shown / sizeof shown[0]; i++) {
    figure(out, rest, shown[i]);
  }
  print_moves(out, json_object_get(document, "preload_moves"));
  fprintf(out, "  %-20s %s\n", "seating_regime", word(rest, "regime"));
  if (told) {
    return; /* there is nothing to touch */
  }
  fprintf(out, "\nTouches\n  %8s %9s %12s %12s %14s  %s\n", "azimuth", "elevation", "force",
          "pretravel", "return_offset", "how it trips");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    char f[32], p[32] = "-", b[32] = "-";
    snprintf(f, sizeof f, "%s", words_of(word(r, "state")));
    if (strcmp(word(r, "state"), "ok") == 0) {
      tw_show(of(r, "force"), "N", f, sizeof f);
      tw_show(of(r, "pretravel"), "m", p, sizeof p);
      tw_show(tw_shown_beside(of(r, "return_offset"), of(r, "pretravel")), "m", b, sizeof b);
    }
    fprintf(out, "  %8.0f %9.0f %12s %12s %14s  %s\n", of(r, "azimuth_deg"), of(r, "elevation_deg"),
            f, p, b, word(r, "mechanism"));
  }
  if (tw_text_of(document, "uneven")[0]) {
    fprintf(out, "  sideways: %s\n", tw_text_of(document, "uneven"));
  }
  print_states(out, rows);
  if (any_trips(rows)) {
    print_rose(out, rows, "force", "N");
    print_rose(out, rows, "pretravel", "m");
  }
}

static tw_exit run(tw_cli *cli)
{
  tw_design *design = NULL;
  long azimuths = 8;
  if (!tw_cli_count(cli, "azimuths", 3, 360, &azimuths)) {
    return TW_EXIT_USAGE;
  }
  tw_exit code = tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &design);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_progress progress = tw_cli_progress(cli);
  const bool map = tw_cli_has(cli, "directions");
  json_t *document = NULL;
  tw_fault fault = {0};
  const tw_status status =
      tw_document_seat(design, (int)azimuths, map, &progress, &document, &fault);
  tw_design_free(design);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  code = verdict(document);
  if (tw_cli_has(cli, "json")) {
    const tw_exit printed = tw_cli_print_json(cli, document);
    return printed == TW_EXIT_DONE ? code : printed;
  }
  if (tw_cli_has(cli, "csv")) {
    print_csv(cli->out, json_object_get(document, "directions"));
  } else {
    print_text(cli->out, document);
  }
  json_decref(document);
  return code;
}

static const tw_option options[] = {
    {"directions", NULL,
     "the whole map: azimuth 0, 15 .. 345 at elevation 0, 15 .. 75, and the "
     "pole",
     false},
    {"azimuths", "N", "how many azimuths without --directions (default 8)", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_seat = {
    .name = "seat",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "the carrier on its seat: at rest, and touched from all sides",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_CSV | TW_TAKES_DESIGN,
    .run = run,
};
