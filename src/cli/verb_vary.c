/* verb_vary.c: one or two fields over a range: every measure, and where requirements are crossed.
 */
#include "study_in.h"

#include <string.h>

typedef struct vary {
  tw_cli_study s;
  tw_range range[2];
  double values[2][TW_RUN_COUNTS]; /* whole numbers of a count */
  int ranges;
  json_t *document;
} vary;

/* ---- printing ------------------------------------------------------------------------------ */

/* so many columns stand beside each other in 80; the rest follows below */
enum { POINT_COLUMNS = 3 };

/* the k-th measure that is listed; TW_MEASURE_COUNT past the last */
static tw_measure_id listed(const vary *v, int k)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (tw_cli_wanted(&v->s, (tw_measure_id)i) && k-- == 0) {
      return (tw_measure_id)i;
    }
  }
  return TW_MEASURE_COUNT;
}

/* one row of columns `from`..; the row's own is NULL for the heading. The column behind the last
 * measure names what is missed most. */
static void print_row(const vary *v, const json_t *point, int from)
{
  FILE *out = v->s.cli->out;
  fprintf(out, "%-14s", point ? tw_text_of(json_object_get(point, "at"), "shown") : "");
  for (int k = from; k < from + POINT_COLUMNS; k++) {
    const tw_measure_id id = listed(v, k);
    const bool last = id == TW_MEASURE_COUNT;
    char text[64] = "";
    if (last) {
      const bool met = point && json_is_true(json_object_get(point, "met"));
      snprintf(text, sizeof text, "%s",
               !point ? "missed most"
               : met  ? "-"
                      : tw_text_of(point, "worst"));
    } else if (point) {
      const char *name = tw_measure_about(id)->name;
      tw_cli_figure(&v->s, id, json_object_get(json_object_get(point, "measures"), name), text,
                    sizeof text);
    } else {
      snprintf(text, sizeof text, "%s", tw_measure_about(id)->name);
    }
    fprintf(out, last ? "  %s" : " %21s", text);
    if (last) {
      break;
    }
  }
  fprintf(out, "\n");
}

static void print_points(const vary *v)
{
  const json_t *points = json_object_get(v->document, "points");
  for (int from = 0; from == 0 || listed(v, from - 1) != TW_MEASURE_COUNT; from += POINT_COLUMNS) {
    fprintf(v->s.cli->out, "\n");
    print_row(v, NULL, from);
    for (size_t p = 0; p < json_array_size(points); p++) {
      print_row(v, json_array_get(points, p), from);
    }
  }
}

static void print_crossings(const vary *v)
{
  FILE *out = v->s.cli->out;
  const json_t *list = json_object_get(v->document, "crossings");
  fprintf(out, "\n%s\n",
          json_array_size(list) ? "Where requirements are crossed"
                                : "No requirement is crossed within this range.");
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *c = json_array_get(list, i);
    fprintf(out, "  %-26s %-18s met %s %s\n", tw_text_of(c, "measure"), tw_text_of(c, "text"),
            tw_text_of(c, "met"), tw_text_of(json_object_get(c, "at"), "shown"));
  }
}

/* one letter a point: "." all met, else the requirement that is missed most */
static void print_map(const vary *v)
{
  FILE *out = v->s.cli->out;
  const json_t *points = json_object_get(v->document, "points");
  const size_t columns = v->range[1].count;
  for (size_t p = 0; p < json_array_size(points); p++) {
    const json_t *point = json_array_get(points, p);
    const json_t *at = json_object_get(point, "at");
    if (p % columns == 0) {
      fprintf(out, "\n%14s ", tw_text_of(json_array_get(at, 0), "shown"));
    }
    char letter = '.';
    for (size_t g = 0; g < v->s.study->goals; g++) {
      if (!json_is_true(json_object_get(point, "met")) &&
          strcmp(tw_text_of(point, "worst"), v->s.study->goal[g].name) == 0) {
        letter = (char)('a' + g);
      }
    }
    fprintf(out, " %c", letter);
  }
  fprintf(out, "\n\nacross: %s from %s to %s\n.  every requirement is met\n",
          v->s.study->input[v->range[1].input].path,
          tw_text_of(json_array_get(json_object_get(json_array_get(points, 0), "at"), 1), "shown"),
          tw_text_of(json_array_get(json_object_get(json_array_get(points, columns - 1), "at"), 1),
                     "shown"));
  for (size_t g = 0; g < v->s.study->goals; g++) {
    fprintf(out, "%c  %s is missed most\n", (char)('a' + g), v->s.study->goal[g].name);
  }
}

static void print_csv(const vary *v)
{
  FILE *out = v->s.cli->out;
  const tw_study *study = v->s.study;
  const json_t *points = json_object_get(v->document, "points");
  for (int r = 0; r < v->ranges; r++) {
    fprintf(out, "%s (%s),", study->input[v->range[r].input].path,
            study->input[v->range[r].input].si);
  }
  for (size_t j = 0; j < study->outputs; j++) {
    const tw_measure_info *about = tw_measure_about(study->measure[j]);
    fprintf(out, "%s (%s),", about->name, about->unit);
  }
  fprintf(out, "margin,met\n");
  for (size_t p = 0; p < json_array_size(points); p++) {
    const json_t *point = json_array_get(points, p), *at = json_object_get(point, "at");
    for (int r = 0; r < v->ranges; r++) {
      const json_t *one = json_is_array(at) ? json_array_get(at, (size_t)r) : at;
      fprintf(out, "%.10g,", json_number_value(json_object_get(one, "value")));
    }
    for (size_t j = 0; j < study->outputs; j++) {
      const json_t *value =
          json_object_get(json_object_get(json_object_get(point, "measures"),
                                          tw_measure_about(study->measure[j])->name),
                          "value");
      if (json_is_number(value)) {
        fprintf(out, "%.10g,", json_number_value(value));
      } else {
        fprintf(out, "%s,", json_is_true(value) ? "yes" : json_is_false(value) ? "no" : "");
      }
    }
    const json_t *margin = json_object_get(point, "margin");
    if (json_is_number(margin)) {
      fprintf(out, "%.6g", json_number_value(margin));
    }
    fprintf(out, ",%s\n", json_is_true(json_object_get(point, "met")) ? "yes" : "no");
  }
}

/* ---- reading ---------------------------------------------------------------------------- */

static tw_exit read_ranges(vary *v)
{
  tw_cli *cli = v->s.cli;
  const char *text;
  tw_fault fault = {0};
  const bool two = tw_cli_text_at(cli, "field", 1) != NULL;
  long points = two ? 11 : 21;
  if (!tw_cli_text(cli, "field", NULL) || tw_cli_text_at(cli, "field", 2)) {
    return tw_cli_usage(cli, "--field PATH=FROM..TO is needed once or twice");
  }
  if (!tw_cli_count(cli, "points", 2, 1000, &points)) {
    return TW_EXIT_USAGE;
  }
  for (; v->ranges < 2 && (text = tw_cli_text_at(cli, "field", v->ranges)) != NULL; v->ranges++) {
    tw_range *range = &v->range[v->ranges];
    tw_field field;
    double from, to;
    if (!tw_cli_range(cli, "field", text, &field, &from, &to)) {
      return TW_EXIT_USAGE;
    }
    if (tw_run_range(v->s.study, field, from, to, (size_t)points, tw_cli_has(cli, "log"),
                     v->values[v->ranges], range, &fault) != TW_OK) {
      return tw_cli_fault(cli, &fault);
    }
  }
  if (two && v->range[0].input == v->range[1].input) {
    return tw_cli_usage(cli, "--field: name two different fields");
  }
  return TW_EXIT_DONE;
}

static tw_exit print(vary *v)
{
  tw_cli *cli = v->s.cli;
  if (tw_cli_has(cli, "json")) {
    json_t *document = v->document;
    v->document = NULL;
    return tw_cli_print_json(cli, document);
  }
  if (tw_cli_has(cli, "csv")) {
    print_csv(v);
    return TW_EXIT_DONE;
  }
  fprintf(cli->out, "%s%s%s; %s\n", v->s.study->input[v->range[0].input].path,
          v->ranges == 2 ? " against " : "",
          v->ranges == 2 ? v->s.study->input[v->range[1].input].path : "",
          tw_text_of(v->document, "level"));
  if (v->ranges == 1) {
    print_points(v);
    print_crossings(v);
  } else {
    print_map(v);
  }
  return TW_EXIT_DONE;
}

static tw_exit run(tw_cli *cli)
{
  vary *v = tw_alloc(1, sizeof *v);
  if (!v) {
    return TW_EXIT_INTERNAL;
  }
  tw_fault fault = {0};
  tw_exit code = tw_cli_study_open(cli, cli->operand[0], &v->s);
  if (code == TW_EXIT_DONE) {
    code = read_ranges(v);
  }
  if (code == TW_EXIT_DONE) {
    const tw_run_watch watch = {&v->s.progress, NULL};
    const tw_status status =
        tw_run_vary(v->s.study, v->range, v->ranges, &watch, &v->document, &fault);
    code = status == TW_OK          ? print(v)
           : status == TW_CANCELLED ? TW_EXIT_INTERRUPTED
                                    : tw_cli_fault(cli, &fault);
  }
  json_decref(v->document);
  tw_cli_study_close(&v->s);
  tw_free(v);
  return code;
}

static const tw_option options[] = {
    {"field", "PATH=FROM..TO", "the field and its range; twice for a map of two", true},
    {"points", "N", "points of each range (21; 11 of two)", false},
    {"log", NULL, "steps are ratios", false},
    {"measure", "NAME", "a column of the table (those with requirements)", true},
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_vary = {
    .name = "vary",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "one or two fields over a range; where requirements are crossed",
    .details = "Every other value stays as the file says. With --json or --csv all measures are "
               "given at every point.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_CSV | TW_TAKES_DESIGN,
    .run = run,
};
