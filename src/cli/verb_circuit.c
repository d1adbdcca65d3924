/* verb_circuit.c: the board: levels, thresholds, error budget, noise, output; and which resistor
 * gives what is wanted. */
#include "verb.h"

#include "tripwright/assess.h"
#include "tripwright/circuit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- the figures ----------------------------------------------------------------------------- */

/* the largest voltage of a group, with which its small ones are compared */
static double most_volts(const json_t *group)
{
  double most = 0;
  const char *name;
  json_t *o;
  json_object_foreach((json_t *)(uintptr_t)group, name, o)
  {
    if (strcmp(tw_text_of(o, "unit"), "V") == 0) {
      most = fmax(most, fabs(tw_number_of(o, "value")));
    }
  }
  return most;
}

static void print_figures(FILE *out, const char *title, const json_t *group)
{
  if (!group) {
    return;
  }
  fprintf(out, "\n%s\n", title);
  const char *name;
  json_t *o;
  const double volts = most_volts(group);
  json_object_foreach((json_t *)(uintptr_t)group, name, o)
  {
    char text[64];
    if (json_is_string(o) && !strstr(name, "_unit")) { /* each figure carries its own unit here */
      fprintf(out, "  %-20s %s\n", name, json_string_value(o));
    } else if (json_object_get(o, "value")) {
      const char *unit = tw_text_of(o, "unit");
      const double value = tw_number_of(o, "value");
      fprintf(out, "  %-20s %s\n", name,
              tw_show_digits(strcmp(unit, "V") == 0 ? tw_shown_beside(value, volts) : value, unit,
                             4, text, sizeof text));
    }
  }
}

static void print_causes(FILE *out, const json_t *budget)
{
  const json_t *rows = json_object_get(budget, "causes");
  double most = 0;
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    most = fmax(most, json_number_value(json_object_get(r, "down")));
  }
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    const double down = json_number_value(json_object_get(r, "down")),
                 up = json_number_value(json_object_get(r, "up"));
    if (down > 0 || up > 0) {
      char a[32], b[32], bar[32];
      fprintf(out, "    %-32s -%-10s +%-10s %s\n", json_string_value(json_object_get(r, "cause")),
              tw_show(down, "V", a, sizeof a), tw_show(up, "V", b, sizeof b),
              tw_bar(most > 0 ? down / most : 0, 16, bar, sizeof bar));
    }
  }
}

/* a loss of less than half a thousandth is none to speak of */
#define TW_LOSS_SHOWN 0.9995

static void print_signal(FILE *out, const json_t *rows)
{
  if (json_array_size(rows) > 0) {
    fprintf(out, "\nThe signal, for one newton along the axis\n");
  }
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i);
    char text[32], lost[32] = "";
    const double left = tw_number_of(r, "left");
    if (left < TW_LOSS_SHOWN) {
      snprintf(lost, sizeof lost, ": %.3g %% lost", 100 * (1 - left));
    }
    fprintf(out, "  %-14s %12s  %s%s\n", json_string_value(json_object_get(r, "stage")),
            tw_show(json_number_value(json_object_get(r, "value")),
                    json_string_value(json_object_get(r, "unit")), text, sizeof text),
            json_string_value(json_object_get(r, "says")), lost);
  }
}

static void print_text(FILE *out, const json_t *document)
{
  fprintf(out, "Circuit: %s\n", json_string_value(json_object_get(document, "kind")));
  print_figures(out, "Levels", json_object_get(document, "levels"));
  print_figures(out, "Contact", json_object_get(document, "contact"));
  const json_t *budget = json_object_get(document, "budget");
  print_figures(out, "Error budget at the threshold", budget);
  print_causes(out, budget);
  print_figures(out, "Noise", json_object_get(document, "noise"));
  print_figures(out, "A knock on the tip", json_object_get(document, "knock"));
  print_figures(out, "Output at the controller", json_object_get(document, "output"));
  print_figures(out, "Link", json_object_get(document, "link"));
  print_signal(out, json_object_get(document, "signal"));
  const json_t *warnings = json_object_get(document, "warnings");
  for (size_t i = 0; i < json_array_size(warnings); i++) {
    const json_t *w = json_array_get(warnings, i);
    fprintf(out, "%s  - %s [%s]\n", i == 0 ? "\nWarnings\n" : "",
            json_string_value(json_object_get(w, "text")),
            json_string_value(json_object_get(w, "field")));
  }
}

/* ---- --want ---------------------------------------------------------------------------------- */

typedef struct wish {
  const tw_design *design;
  tw_measure_id measure;
  tw_field field;
  tw_progress progress;
  int trials;
} wish;

/* of a threshold the sign says whether it is armed: at zero and below the unit is tripped at rest
 */
static bool is_signed(const wish *w)
{
  return w->measure == TW_M_threshold_voltage;
}

static tw_status measure_of(void *self, double value, double *result, tw_fault *fault)
{
  wish *w = self;
  /* the search takes some forty trials; the end is not known beforehand */
  if (!tw_progress_tick(&w->progress, 1 - 1 / (1 + ++w->trials / 20.0), "trying values")) {
    return tw_fail(fault, TW_CANCELLED, NULL, NULL, "cancelled");
  }
  tw_design *changed = NULL;
  tw_status status = tw_design_with(w->design, 1, &w->field, &value, &changed);
  if (status != TW_OK) {
    return tw_fail(fault, status, NULL, NULL, "no memory");
  }
  const tw_needs needs = tw_measure_about(w->measure)->needs;
  tw_assess_options options = tw_assess_defaults();
  options.contributions = false;
  options.map = needs == TW_NEEDS_MAP;
  options.timed = needs == TW_NEEDS_TIMED;
  tw_assessment *a = tw_alloc(1, sizeof *a);
  status = a ? tw_assess(changed, &options, a, fault) : TW_NO_MEMORY;
  if (status == TW_OK) {
    const tw_measure *m = &a->measure[w->measure];
    *result = is_signed(w) ? m->value : fabs(m->value);
    if (m->state != TW_MEASURE_OK) {
      status = tw_fail(fault, TW_NO_ANSWER, NULL, NULL, "%s", m->note);
    }
  }
  tw_free(a);
  tw_design_free(changed);
  return status;
}

/* "trip_force_side=0.1N" */
static bool read_want(tw_cli *cli, wish *w, tw_want *want)
{
  const char *text = tw_cli_text(cli, "want", NULL), *equals = strchr(text, '=');
  char name[64];
  if (!equals || (size_t)(equals - text) >= sizeof name) {
    tw_cli_usage(cli, "--want takes MEASURE=VALUE, such as trip_force_side=0.1N");
    return false;
  }
  memcpy(name, text, (size_t)(equals - text));
  name[equals - text] = '\0';
  w->measure = tw_measure_find(name);
  if (w->measure == TW_MEASURE_COUNT || strcmp(tw_measure_about(w->measure)->unit, "word") == 0) {
    tw_cli_usage(cli, "--want: there is no measure \"%s\" that is a number", name);
    return false;
  }
  tw_unit unit;
  tw_quantity target;
  tw_fault fault = {0};
  if (tw_units_find(cli->units, tw_measure_about(w->measure)->shown, &unit, &fault) != TW_OK ||
      tw_quantity_read(cli->units, equals + 1, &unit, &target, NULL, &fault) != TW_OK) {
    tw_cli_usage(cli, "--want: %s", fault.text);
    return false;
  }
  want->target = target.number;
  return true;
}

static bool read_free(tw_cli *cli, wish *w, tw_want *want)
{
  const char *path = tw_cli_text(cli, "free", NULL);
  w->field = path ? tw_field_find(path) : TW_FIELD_COUNT;
  if (w->field == TW_FIELD_COUNT) {
    const char *near = path ? tw_field_nearest(path) : NULL;
    tw_cli_usage(cli, "--free names the field that may change%s%s", near ? "; did you mean " : "",
                 near ? near : ", such as circuit.feedback_resistance");
    return false;
  }
  const tw_field_info *info = tw_field_of(w->field);
  tw_unit unit;
  tw_fault fault = {0};
  if (info->type != TW_TYPE_QUANTITY ||
      tw_units_find(cli->units, info->unit, &unit, &fault) != TW_OK) {
    tw_cli_usage(cli, "--free: %s is not a quantity", path);
    return false;
  }
  /* from a hundredth to a hundred times what it is, within what the field allows */
  const double now = tw_design_number_or(w->design, w->field, tw_unit_to_si(&unit, 1, false));
  want->low = fmax(now / 100, tw_unit_to_si(&unit, info->least, false));
  want->high = fmin(now * 100, tw_unit_to_si(&unit, info->most, false));
  want->low = want->low > 0 ? want->low : want->high / 1e6;
  return true;
}

static bool read_series(const tw_cli *cli, tw_want *want)
{
  const char *text = tw_cli_text(cli, "series", NULL);
  want->series = 0;
  if (!text) {
    return true;
  }
  static const int known[] = {3, 6, 12, 24, 48, 96, 192};
  for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
    char name[8];
    snprintf(name, sizeof name, "E%d", known[i]);
    want->series = strcmp(name, text) == 0 ? known[i] : want->series;
  }
  if (want->series == 0) {
    tw_cli_usage(cli, "--series: \"%s\" is none of E3, E6, E12, E24, E48, E96, E192", text);
  }
  return want->series != 0;
}

static void show_in(const tw_cli *cli, const char *unit_name, double si, char *out, size_t size)
{
  tw_unit unit;
  tw_fault fault;
  if (tw_units_find(cli->units, unit_name, &unit, &fault) == TW_OK) {
    tw_number_print(si, &unit, 4, out, size);
  } else {
    snprintf(out, size, "%.4g", si);
  }
}

static json_t *want_json(const wish *w, const tw_want *want, const tw_want_answer *a)
{
  json_t *rows = json_array(), *roots = json_array();
  for (int i = 0; i < a->rows; i++) {
    json_array_append_new(
        rows, json_pack("{s:o, s:o, s:b}", "value", tw_json_number(a->row[i].value), "result",
                        a->row[i].has_result ? tw_json_number(a->row[i].result) : json_null(),
                        "best", (int)(i == a->best)));
  }
  for (int i = 0; i < a->roots; i++) {
    json_array_append_new(roots, tw_json_number(a->root[i]));
  }
  json_t *document = tw_document_new("circuit.want");
  json_object_set_new(document, "measure", json_string(tw_measure_about(w->measure)->name));
  json_object_set_new(document, "field", json_string(tw_field_of(w->field)->path));
  json_object_set_new(document, "target", tw_json_number(want->target));
  json_object_set_new(document, "exact", roots);
  json_object_set_new(document, "rows", rows);
  return document;
}

static void print_want(const tw_cli *cli, const wish *w, const tw_want *want,
                       const tw_want_answer *a)
{
  const tw_measure_info *about = tw_measure_about(w->measure);
  const tw_field_info *info = tw_field_of(w->field);
  char target[48], value[48], result[48];
  show_in(cli, about->shown, want->target, target, sizeof target);
  fprintf(cli->out, "%s = %s", about->name, target);
  for (int i = 0; i < a->roots; i++) {
    show_in(cli, info->unit, a->root[i], value, sizeof value);
    fprintf(cli->out, "%s %s = %s", i ? " or" : ": exact", info->path, value);
  }
  fprintf(cli->out, "\n\n  %-16s %s\n", info->path, about->name);
  for (int i = 0; i < a->rows; i++) {
    show_in(cli, info->unit, a->row[i].value, value, sizeof value);
    snprintf(result, sizeof result, "no result");
    if (a->row[i].has_result) {
      show_in(cli, about->shown, a->row[i].result, result, sizeof result);
    }
    const bool tripped = is_signed(w) && a->row[i].has_result && a->row[i].result <= 0;
    fprintf(cli->out, "  %-16s %-16s%s\n", value, result,
            i == a->best ? " <- nearest"
            : tripped    ? " tripped at rest"
                         : "");
  }
  if (a->jumps) {
    fprintf(cli->out, "\nThe measure jumps past the target: no value meets it exactly.\n");
  }
}

static tw_exit run_want(tw_cli *cli, const tw_design *design)
{
  wish w = {.design = design, .progress = tw_cli_progress(cli)};
  tw_want want = {.measure = measure_of, .self = &w, .rows = 7};
  if (!read_want(cli, &w, &want) || !read_free(cli, &w, &want) || !read_series(cli, &want)) {
    return TW_EXIT_USAGE;
  }
  want.positive = is_signed(&w);
  tw_want_answer answer;
  tw_fault fault = {0};
  const tw_status status = tw_want_solve(&want, &answer, &fault);
  if (tw_cli_interrupted()) {
    return TW_EXIT_INTERRUPTED;
  }
  if (status != TW_OK && status != TW_NO_ANSWER) {
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    const tw_exit code = tw_cli_print_json(cli, want_json(&w, &want, &answer));
    return code == TW_EXIT_DONE ? tw_exit_of(status) : code;
  }
  print_want(cli, &w, &want, &answer);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

static tw_exit run_figures(tw_cli *cli, const tw_design *design)
{
  json_t *document = NULL;
  tw_fault fault = {0};
  if (tw_document_circuit(design, &document, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, document);
  }
  print_text(cli->out, document);
  json_decref(document);
  return TW_EXIT_DONE;
}

static tw_exit run(tw_cli *cli)
{
  tw_design *design = NULL;
  if (tw_cli_has(cli, "want") != tw_cli_has(cli, "free")) {
    return tw_cli_usage(cli, "--want and --free go together");
  }
  tw_exit code = tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &design);
  if (code == TW_EXIT_DONE) {
    code = tw_cli_has(cli, "want") ? run_want(cli, design) : run_figures(cli, design);
  }
  tw_design_free(design);
  return code;
}

static const tw_option options[] = {
    {"want", "MEASURE=VALUE", "find the value of --free that gives this", false},
    {"free", "PATH", "the field that may change", false},
    {"series", "E24", "list real values of this preferred series around the answer", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_circuit = {
    .name = "circuit",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "levels, thresholds, error budget, noise; which resistor gives what is wanted",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
