/* verb_drivers.c: which dimension is to blame: what each value does to each requirement. */
#include "study_in.h"

#include <math.h>
#include <string.h>

typedef struct drivers {
  tw_cli_study s;
  long rows;
  tw_run_drivers found;
} drivers;

/* ---- printing ------------------------------------------------------------------------------ */

static double moved(const drivers *d, size_t k, size_t g)
{
  return tw_driver_moves(d->s.study, d->found.slope, k, g);
}

/* below this share of the limit a margin is as good as used up */
#define MARGIN_LEAST 0.01

/* the share of the margin that is there which one tolerance eats, of the requirement for which that
 * is most */
static double eaten(const drivers *d, size_t k)
{
  const tw_study *study = d->s.study;
  double most = 0;
  for (size_t g = 0; g < study->goals; g++) {
    const tw_measure_id id = study->measure[study->goal[g].output];
    const double margin = study->nominal.measure[id].margin;
    const double share = fabs(moved(d, k, g)) / fmax(margin, MARGIN_LEAST);
    most = share > most ? share : most;
  }
  return most;
}

static double largest(const drivers *d, size_t k)
{
  double most = 0;
  for (size_t g = 0; g < d->s.study->goals; g++) {
    const double m = fabs(moved(d, k, g));
    most = m > most ? m : most;
  }
  return most;
}

/* is it known of every requirement? what is not known is not nothing */
static bool all_known(const drivers *d, size_t k)
{
  bool known = true;
  for (size_t g = 0; g < d->s.study->goals; g++) {
    known = known && !isnan(moved(d, k, g));
  }
  return known;
}

/* inputs by the share of a margin that their tolerance eats */
static void order(const drivers *d, size_t *by)
{
  for (size_t k = 0; k < d->s.study->inputs; k++) {
    size_t at = k;
    while (at > 0 && eaten(d, by[at - 1]) < eaten(d, k)) {
      by[at] = by[at - 1];
      at--;
    }
    by[at] = k;
  }
}

/* a change that is under half a thousandth of the limit is a dot */
#define QUIET 5e-4
/* so many requirements stand beside each other in 80 columns; the rest follows below */
enum { GOAL_COLUMNS = 5 };

static bool silent(const drivers *d, size_t k)
{
  return largest(d, k) < QUIET && all_known(d, k);
}

static void print_row(const drivers *d, size_t k, size_t from, size_t to)
{
  FILE *out = d->s.cli->out;
  fprintf(out, "%-32s%7.0f%%", d->s.study->input[k].path, 100 * eaten(d, k));
  for (size_t g = from; g < to; g++) {
    const double m = moved(d, k, g);
    if (isnan(m)) {
      fprintf(out, "%8s", "?");
    } else if (fabs(m) < QUIET) {
      fprintf(out, "%8s", ".");
    } else {
      fprintf(out, "%+8.1f", 100 * m);
    }
  }
  fprintf(out, "\n");
}

static void print_columns(const drivers *d, const size_t *by, size_t from)
{
  FILE *out = d->s.cli->out;
  const tw_study *study = d->s.study;
  const size_t to = from + GOAL_COLUMNS < study->goals ? from + GOAL_COLUMNS : study->goals;
  fprintf(out, "\n%-32s%8s", "", "eats");
  for (size_t g = from; g < to; g++) {
    fprintf(out, "%8c", (char)('A' + g));
  }
  fprintf(out, "\n");
  for (size_t i = 0; i < study->inputs; i++) {
    if (!silent(d, by[i])) {
      print_row(d, by[i], from, to);
    }
  }
}

/* dimensions that are made, have no tolerance in the file and so were not tried */
static void print_untried(const drivers *d)
{
  FILE *out = d->s.cli->out;
  int count = 0;
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const tw_field_info *info = tw_field_of((tw_field)f);
    const tw_value *v = tw_design_value(d->s.design, (tw_field)f);
    const bool made = info->tolerance == TW_TOLERANCE_LENGTH && info->part[0] &&
                      v->origin != TW_ORIGIN_UNSET && v->number != 0 && !v->tolerance.given &&
                      tw_design_applies(d->s.design, (tw_field)f);
    bool tried = false;
    for (size_t k = 0; k < d->s.study->inputs; k++) {
      tried = tried || strcmp(d->s.study->input[k].path, info->path) == 0;
    }
    if (made && !tried) {
      fprintf(out, "%s%s",
              count++ ? ", " : "Made without a stated tolerance, not tried: ", info->path);
    }
  }
  fprintf(out, "%s", count ? ".\n" : "");
}

static void print_table(const drivers *d)
{
  FILE *out = d->s.cli->out;
  const tw_study *study = d->s.study;
  size_t by[TW_FIELD_COUNT], count = 0;
  order(d, by);
  fprintf(out,
          "What one tolerance upwards (1 %% where there is none) does to each margin, in %% of the "
          "limit; eats: most of any margin that it takes\n\n");
  for (size_t g = 0; g < study->goals; g++) {
    fprintf(out, "  %c  %s %s\n", (char)('A' + g), study->goal[g].name,
            d->s.limits.of[study->measure[study->goal[g].output]].text);
  }
  for (size_t from = 0; from < study->goals; from += GOAL_COLUMNS) {
    print_columns(d, by, from);
  }
  for (size_t i = 0; i < study->inputs; i++) {
    if (silent(d, by[i])) {
      fprintf(out, "%s%s",
              count++ ? ", " : "\nMove no margin by 0.05 %: ", study->input[by[i]].path);
    }
  }
  fprintf(out, "%s", count ? ".\n" : "");
  print_untried(d);
}

static void print_indices(const drivers *d)
{
  FILE *out = d->s.cli->out;
  const tw_study *study = d->s.study;
  for (size_t g = 0; d->found.index && g < study->goals; g++) {
    fprintf(out, "\nShare of the scatter of %s (%ld rows, %zu usable)\n%34s%-22s%s\n",
            study->goal[g].name, d->rows, d->found.usable[g], "", "alone",
            "with all its interactions");
    if (d->found.why[g][0]) {
      fprintf(out, "  none: %s\n", d->found.why[g]);
    }
    for (size_t k = 0; k < study->inputs; k++) {
      const tw_index *i = &d->found.index[g * study->inputs + k];
      if (i->total >= 0.02 || i->first >= 0.02) {
        fprintf(out, "  %-30s %4.0f %% (%.0f .. %.0f)    %4.0f %% (%.0f .. %.0f)\n",
                study->input[k].path, 100 * i->first, 100 * i->first_low, 100 * i->first_high,
                100 * i->total, 100 * i->total_low, 100 * i->total_high);
      }
    }
  }
}

/* ---- the verb ------------------------------------------------------------------------------ */

static tw_exit prepare(drivers *d)
{
  tw_cli *cli = d->s.cli;
  tw_fault fault = {0};
  const char *path;
  if (!tw_cli_count(cli, "global", 16, 1000000, &d->rows)) {
    return TW_EXIT_USAGE;
  }
  if (d->s.study->goals == 0) {
    return tw_cli_usage(cli, "the file has no requirements, so there is nothing to drive");
  }
  for (int k = 0; (path = tw_cli_text_at(cli, "field", k)) != NULL; k++) {
    size_t input;
    const tw_field field = tw_cli_field(cli, "field", path, strlen(path));
    if (field == TW_FIELD_COUNT) {
      return TW_EXIT_USAGE;
    }
    if (tw_study_add(d->s.study, field, &input, &fault) != TW_OK) {
      return tw_cli_fault(cli, &fault);
    }
  }
  if ((d->rows > 0 || !tw_cli_has(cli, "field")) &&
      tw_study_add_toleranced(d->s.study, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  return TW_EXIT_DONE;
}

static tw_exit compute(drivers *d)
{
  tw_cli *cli = d->s.cli;
  const tw_run_watch watch = {&d->s.progress, NULL};
  tw_fault fault = {0};
  const tw_status status =
      tw_run_drivers_make(d->s.study, (size_t)d->rows, &watch, &d->found, &fault);
  if (status == TW_CANCELLED) {
    return TW_EXIT_INTERRUPTED;
  }
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, tw_run_drivers_document(d->s.study, &d->found));
  }
  print_table(d);
  tw_cli_print_assumed(d->s.cli->out, d->s.study);
  print_indices(d);
  return TW_EXIT_DONE;
}

static tw_exit run(tw_cli *cli)
{
  drivers *d = tw_alloc(1, sizeof *d);
  if (!d) {
    return TW_EXIT_INTERNAL;
  }
  tw_exit code = tw_cli_study_open(cli, cli->operand[0], &d->s);
  if (code == TW_EXIT_DONE) {
    code = prepare(d);
  }
  if (code == TW_EXIT_DONE) {
    code = compute(d);
  }
  tw_run_drivers_free(&d->found);
  tw_cli_study_close(&d->s);
  tw_free(d);
  return code;
}

static const tw_option options[] = {
    {"field", "PATH", "look at this field (those with a tolerance)", true},
    {"global", "N", "shares of the scatter as well, from N rows (256 is a start)", false},
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_drivers = {
    .name = "drivers",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "which dimension is to blame: what each value does to each requirement",
    .details = "Slopes at the design as it is, times the tolerance of each value. --global N adds "
               "the shares of the scatter (Sobol' indices) from N times (fields + 2) builds.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
