/* verb_drivers.c: which dimension is to blame: what each value does to each requirement. */
#include "study_in.h"

#include <math.h>
#include <string.h>

typedef struct drivers {
  tw_cli_study s;
  tw_slope *slope; /* inputs x outputs */
  tw_index *index; /* goals x inputs, NULL: not asked */
  long rows;
  size_t used;                     /* rows, of the goal with the fewest */
  size_t usable[TW_MEASURE_COUNT]; /* rows of each goal */
  char why[TW_MEASURE_COUNT][240]; /* a goal without indices: why not */
} drivers;

/* ---- computing ----------------------------------------------------------------------------- */

/* half the tolerance, or a hundredth of the value */
static tw_status slopes(drivers *d, tw_fault *fault)
{
  tw_study *study = d->s.study;
  const tw_study_model model = tw_study_as_model(study);
  size_t chosen[TW_FIELD_COUNT];
  double step[TW_FIELD_COUNT];
  for (size_t k = 0; k < study->inputs; k++) {
    const double half = 0.5 * (study->input[k].law.minus + study->input[k].law.plus);
    chosen[k] = k;
    step[k] = half > 0 ? 0.5 * half : 0.01 * fabs(study->now[k]);
  }
  d->slope = tw_alloc(study->inputs * study->outputs, sizeof *d->slope);
  if (!d->slope) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the slopes");
  }
  return tw_study_slopes(&model, study->now, chosen, step, study->inputs, study->level.threads,
                         &d->s.progress, d->slope, fault);
}

/* rows with a point without a number are left out and counted */
static tw_status all_indices(drivers *d, const tw_sobol_plan *plan, const double *y,
                             const unsigned char *outcome, tw_fault *fault)
{
  const tw_study *study = d->s.study;
  const size_t n = tw_sobol_points(plan);
  double *column = tw_alloc(n, sizeof *column);
  tw_status status = column ? TW_OK : TW_NO_MEMORY;
  d->used = (size_t)d->rows;
  for (size_t g = 0; g < study->goals && status == TW_OK; g++) {
    const size_t output = study->goal[g].output;
    double variance;
    tw_fault none = {0};
    for (size_t i = 0; i < n; i++) {
      const size_t at = i * study->outputs + output;
      column[i] = outcome[at] == TW_OUTCOME_OK ? y[at] : HUGE_VAL;
    }
    status = tw_sobol_indices(plan, column, 0.95, 400, d->index + g * study->inputs, &variance,
                              &d->usable[g], &none);
    if (status == TW_NO_ANSWER || status == TW_BAD_INPUT) {
      /* too few rows, or it does not vary: indices of zero */
      snprintf(d->why[g], sizeof d->why[g], "%s", none.text);
      status = TW_OK;
    } else if (status != TW_OK && fault) {
      *fault = none;
    }
    d->used = d->usable[g] < d->used ? d->usable[g] : d->used;
  }
  tw_free(column);
  return status;
}

static tw_status indices(drivers *d, tw_fault *fault)
{
  tw_study *study = d->s.study;
  const tw_study_model model = tw_study_as_model(study);
  const tw_sobol_plan plan = {study->inputs, (size_t)d->rows, 1};
  const size_t n = tw_sobol_points(&plan);
  tw_sampler *sampler = NULL;
  double *x = tw_alloc(n * study->inputs, sizeof *x), *y = tw_alloc(n * study->outputs, sizeof *y);
  unsigned char *outcome = tw_alloc(n * study->outputs, 1);
  d->index = tw_alloc(study->goals * study->inputs + 1, sizeof *d->index);
  tw_status status = x && y && outcome && d->index
                         ? tw_study_sampler(study, NULL, 0, 1, &sampler, fault)
                         : TW_NO_MEMORY;
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    tw_sobol_point(&plan, i, x + i * study->inputs);
    tw_sampler_from_uniform(sampler, x + i * study->inputs, x + i * study->inputs);
  }
  if (status == TW_OK) {
    status = tw_study_points(&model, n, x, y, outcome, study->level.threads, &d->s.progress, fault);
  }
  if (status == TW_OK) {
    status = all_indices(d, &plan, y, outcome, fault);
  }
  tw_sampler_free(sampler);
  tw_free(x);
  tw_free(y);
  tw_free(outcome);
  return status;
}

/* ---- printing ------------------------------------------------------------------------------ */

/* change of the margin by one tolerance: what a requirement gains or loses */
static double moved(const drivers *d, size_t k, size_t g)
{
  const tw_study *study = d->s.study;
  const tw_goal *goal = &study->goal[g];
  const tw_slope *s = &d->slope[k * study->outputs + goal->output];
  const double half = 0.5 * (study->input[k].law.minus + study->input[k].law.plus);
  const double limit = fabs(goal->has_high ? goal->high : goal->low);
  const double change = s->slope * (half > 0 ? half : 0.01 * fabs(study->now[k]));
  return s->known ? (goal->has_high ? -change : change) / (limit > 0 ? limit : 1) : (double)NAN;
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

/* inputs by the most that they move any margin */
static void order(const drivers *d, size_t *by)
{
  for (size_t k = 0; k < d->s.study->inputs; k++) {
    size_t at = k;
    while (at > 0 && largest(d, by[at - 1]) < largest(d, k)) {
      by[at] = by[at - 1];
      at--;
    }
    by[at] = k;
  }
}

static void print_table(const drivers *d)
{
  FILE *out = d->s.cli->out;
  const tw_study *study = d->s.study;
  size_t by[TW_FIELD_COUNT], silent = 0;
  order(d, by);
  fprintf(out,
          "What one tolerance upwards (1 %% where there is none) does to each margin, in %% of the "
          "limit\n\n");
  for (size_t g = 0; g < study->goals; g++) {
    fprintf(out, "  %c  %s %s\n", (char)('A' + g), study->goal[g].name,
            d->s.limits.of[study->measure[study->goal[g].output]].text);
  }
  fprintf(out, "\n%-34s", "");
  for (size_t g = 0; g < study->goals; g++) {
    fprintf(out, "%9c", (char)('A' + g));
  }
  fprintf(out, "\n");
  for (size_t i = 0; i < study->inputs; i++) {
    if (largest(d, by[i]) < 5e-4) {
      silent++;
      continue;
    }
    fprintf(out, "%-34s", study->input[by[i]].path);
    for (size_t g = 0; g < study->goals; g++) {
      const double m = moved(d, by[i], g);
      if (isnan(m)) {
        fprintf(out, "%9s", "?");
      } else if (fabs(m) < 5e-4) {
        fprintf(out, "%9s", ".");
      } else {
        fprintf(out, "%+9.1f", 100 * m);
      }
    }
    fprintf(out, "\n");
  }
  if (silent) {
    fprintf(out, "%zu more move no margin by 0.05 %%.\n", silent);
  }
}

static void print_indices(const drivers *d)
{
  FILE *out = d->s.cli->out;
  const tw_study *study = d->s.study;
  for (size_t g = 0; d->index && g < study->goals; g++) {
    fprintf(out, "\nShare of the scatter of %s (%ld rows, %zu usable)\n%36s%-24s%s\n",
            study->goal[g].name, d->rows, d->usable[g], "", "alone", "with all its interactions");
    if (d->why[g][0]) {
      fprintf(out, "  none: %s\n", d->why[g]);
    }
    for (size_t k = 0; k < study->inputs; k++) {
      const tw_index *i = &d->index[g * study->inputs + k];
      if (i->total >= 0.02 || i->first >= 0.02) {
        fprintf(out, "  %-32s %4.0f %% (%.0f .. %.0f)      %4.0f %% (%.0f .. %.0f)\n",
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
  tw_fault fault = {0};
  tw_status status = slopes(d, &fault);
  if (status == TW_OK && d->rows > 0) {
    status = indices(d, &fault);
  }
  if (status == TW_CANCELLED) {
    return TW_EXIT_INTERRUPTED;
  }
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(
        cli, tw_document_drivers(d->s.study, d->slope, d->index, (size_t)d->rows, d->used));
  }
  print_table(d);
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
  tw_free(d->slope);
  tw_free(d->index);
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
