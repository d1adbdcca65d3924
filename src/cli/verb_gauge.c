/* verb_gauge.c: gauge studies: parts crossed with conditions, or days within runs. */
#include "readings_in.h"

#include <math.h>
#include <string.h>

enum { READING, PART, CONDITION, RUN, DAY, COLUMNS };
static const tw_wanted wanted[COLUMNS] = {
    [READING] = {"reading", TW_ANY, false},
    [PART] = {"part", TW_LABEL, false},
    [CONDITION] = {"operator", TW_LABEL, false},
    [RUN] = {"run", TW_LABEL, false},
    [DAY] = {"day", TW_LABEL, false},
};

struct job {
  tw_cli *cli;
  tw_recording in;
  const char *unit; /* SI */
  double per;       /* what is shown: value * per in `shown` */
  const char *shown;
};

static const uint32_t *codes(const struct job *j, int column)
{
  return j->in.table->code[j->in.at[column]];
}

static size_t code_count(const struct job *j, int column)
{
  return j->in.table->texts[j->in.at[column]];
}

/* a row that is held against no other has no F: 0 and 1 stand for that in the engine */
static bool tested(const tw_anova_row *r)
{
  return r->f > 0.0 || r->p < 1.0;
}

static json_t *row_json(const tw_anova_row *r)
{
  return json_pack("{s:o, s:o, s:o, s:o, s:o}", "squares", tw_json_number(r->squares), "dof",
                   tw_json_number(r->dof), "mean_square", tw_json_number(r->mean_square), "f",
                   tw_json_number(tested(r) ? r->f : (double)NAN), "p",
                   tw_json_number(tested(r) ? r->p : (double)NAN));
}

static void say_row(const struct job *j, const char *name, const tw_anova_row *r)
{
  const double square = j->per * j->per;
  fprintf(j->cli->out, "  %-16s %14.6g %6.0f %14.6g", name, r->squares * square, r->dof,
          r->mean_square * square);
  if (tested(r)) {
    fprintf(j->cli->out, " %10.3f %9.4f\n", r->f, r->p);
  } else {
    fprintf(j->cli->out, " %10s %9s\n", "-", "-");
  }
}

static void say_share(const struct job *j, const char *name, double s, double percent)
{
  fprintf(j->cli->out, "  %-38s %12.5g %-3s %8.2f %%\n", name, s * j->per, j->shown, percent);
}

/* does the study say how far the mounting, or whatever was changed, moves the readings? */
static bool reproducibility_stated(const tw_gauge *g)
{
  return g->operators > 1;
}

/* the trade's bands are for the whole of GRR: with one condition, or repeats that are all the same,
 * they would call good what nobody looked at */
static const char *band_of(const tw_gauge *g)
{
  return !(g->ev > 0.0) ? "the repeats are all the same: the resolution hides the spread, so "
                          "nothing is said of the gauge"
         : !reproducibility_stated(g)
             ? "one condition only: the share is of repeatability alone, so nothing is said of the "
               "gauge"
         : g->percent_grr < 10  ? "below 10 %: good (custom of the trade, AIAG)"
         : g->percent_grr <= 30 ? "10 to 30 %: may do (custom of the trade, AIAG)"
                                : "above 30 %: not fit (custom of the trade, AIAG)";
}

static void say_crossed(const struct job *j, const tw_gauge *g)
{
  FILE *out = j->cli->out;
  fprintf(out, "Gauge study: %zu parts, %zu condition%s, %zu trials\n\n", g->parts, g->operators,
          g->operators == 1 ? "" : "s", g->trials);
  fprintf(out, "  %-16s %14s %6s %14s %10s %9s\n", "", "squares", "dof", "mean square", "F", "p");
  say_row(j, "part", &g->part);
  if (g->operators > 1) {
    say_row(j, "condition", &g->operator_);
    say_row(j, "interaction", &g->interaction);
  }
  say_row(j, "error", &g->error);
  if (g->operators > 1) {
    fprintf(out, "  the interaction is %s\n", g->pooled ? "pooled with the error" : "kept");
  }
  fprintf(out, "\n");
  say_share(j, "repeatability EV", g->ev, g->percent_ev);
  if (reproducibility_stated(g)) {
    say_share(j, "reproducibility AV (condition)", g->av, g->percent_av);
  } else {
    fprintf(out, "  %-38s not stated: measure under two conditions or more\n",
            "reproducibility AV (condition)");
  }
  if (!g->pooled && g->operators > 1) {
    say_share(j, "interaction", g->interaction_s, g->tv > 0 ? 100 * g->interaction_s / g->tv : 0);
  }
  say_share(j, "GRR = sqrt(EV2 + AV2 + interaction2)", g->grr, g->percent_grr);
  say_share(j, "parts PV", g->pv, g->percent_pv);
  say_share(j, "all TV", g->tv, 100.0);
  if (g->tolerance_percent > 0.0) {
    fprintf(out, "  6 GRR over the tolerance %.2f %%\n", g->tolerance_percent);
  }
  if (g->ev > 0.0) {
    fprintf(out, "  distinct categories 1.41 PV/GRR, rounded down: %g\n", g->ndc);
  } else {
    fprintf(out, "  distinct categories: not stated\n");
  }
  fprintf(out, "  %s\n", band_of(g));
  if (g->negative) {
    fprintf(out, "  a variance came out below zero and was taken as zero\n");
  }
}

/* the width of the tolerance, for readings that are lengths */
static tw_exit read_tolerance(const struct job *j, double *tolerance)
{
  if (!tw_cli_has(j->cli, "tolerance")) {
    return TW_EXIT_DONE;
  }
  if (j->in.table->unit[j->in.at[READING]].kind != TW_LENGTH) {
    return tw_cli_usage(j->cli, "--tolerance is a length, but the readings are not: name their "
                                "unit, as in --reading x:mm");
  }
  if (!tw_cli_quantity(j->cli, "tolerance", "mm", tolerance)) {
    return TW_EXIT_USAGE;
  }
  return *tolerance > 0.0 ? TW_EXIT_DONE
                          : tw_cli_usage(j->cli, "--tolerance: the full width is above zero");
}

static tw_exit crossed(struct job *j)
{
  tw_gauge_rules rules = {.pool_above = 0.05};
  const char *pool = tw_cli_text(j->cli, "pool", "0.05");
  tw_gauge g;
  tw_fault fault = {0};
  if (strcmp(pool, "never") == 0) {
    rules.pool_above = 1.0;
  } else if (!tw_cli_number(j->cli, "pool", 0.0, 1.0, &rules.pool_above)) {
    return TW_EXIT_USAGE;
  }
  const tw_exit fit = read_tolerance(j, &rules.tolerance);
  if (fit != TW_EXIT_DONE) {
    return fit;
  }
  if (tw_gauge_crossed(tw_recording_number(&j->in, READING), codes(j, PART), codes(j, CONDITION),
                       j->in.table->rows, code_count(j, PART), code_count(j, CONDITION), rules, &g,
                       &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  if (!tw_cli_has(j->cli, "json")) {
    say_crossed(j, &g);
    return TW_EXIT_DONE;
  }
  json_t *d = tw_document_new("gauge");
  json_object_set_new(d, "study", json_string("crossed"));
  json_object_set_new(d, "anova",
                      json_pack("{s:o, s:o, s:o, s:o, s:o}", "part", row_json(&g.part), "condition",
                                row_json(&g.operator_), "interaction", row_json(&g.interaction),
                                "error", row_json(&g.error), "total", row_json(&g.total)));
  json_object_set_new(d, "pooled", json_boolean(g.pooled));
  const struct {
    const char *name;
    double value;
  } parts[] = {{"ev", g.ev},   {"av", g.av}, {"interaction", g.interaction_s},
               {"grr", g.grr}, {"pv", g.pv}, {"tv", g.tv}};
  for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
    const bool stated = reproducibility_stated(&g) || strcmp(parts[i].name, "av") != 0;
    json_object_set_new(d, parts[i].name,
                        tw_json_quantity(stated ? parts[i].value : (double)NAN, j->unit));
  }
  json_object_set_new(d, "grr_percent", tw_json_number(g.percent_grr));
  json_object_set_new(d, "tolerance_percent",
                      tw_json_number(rules.tolerance > 0.0 ? g.tolerance_percent : (double)NAN));
  json_object_set_new(d, "distinct_categories", tw_json_number(g.ndc));
  json_object_set_new(d, "reproducibility_stated", json_boolean(reproducibility_stated(&g)));
  return tw_cli_print_json(j->cli, d);
}

static tw_exit ranges(struct job *j)
{
  tw_gauge_ranges r;
  tw_fault fault = {0};
  if (tw_gauge_average_range(tw_recording_number(&j->in, READING), codes(j, PART),
                             codes(j, CONDITION), j->in.table->rows, code_count(j, PART),
                             code_count(j, CONDITION), NULL, &r, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  if (tw_cli_has(j->cli, "json")) {
    json_t *d = tw_document_new("gauge");
    json_object_set_new(d, "study", json_string("average and range"));
    json_object_set_new(d, "ev", tw_json_quantity(r.ev, j->unit));
    json_object_set_new(d, "av", tw_json_quantity(r.av, j->unit));
    json_object_set_new(d, "grr", tw_json_quantity(r.grr, j->unit));
    json_object_set_new(d, "pv", tw_json_quantity(r.pv, j->unit));
    json_object_set_new(d, "tv", tw_json_quantity(r.tv, j->unit));
    json_object_set_new(d, "grr_percent", tw_json_number(r.percent_grr));
    json_object_set_new(d, "distinct_categories", tw_json_number(r.ndc));
    return tw_cli_print_json(j->cli, d);
  }
  FILE *out = j->cli->out;
  fprintf(out, "Gauge study by average and range (K1 %.4f, ", r.factors.k1);
  if (r.factors.k2 > 0.0) { /* there is none for one condition */
    fprintf(out, "K2 %.4f, ", r.factors.k2);
  }
  fprintf(out, "K3 %.4f, D4 %.4f)\n\n", r.factors.k3, r.factors.d4);
  const double whole = r.tv > 0.0 ? 100.0 / r.tv : 0.0;
  say_share(j, "repeatability EV = mean range K1", r.ev, whole * r.ev);
  if (code_count(j, CONDITION) > 1) {
    say_share(j, "reproducibility AV", r.av, whole * r.av);
  } else {
    fprintf(out, "  %-38s not stated: measure under two conditions or more\n",
            "reproducibility AV");
  }
  say_share(j, "GRR", r.grr, r.percent_grr);
  say_share(j, "parts PV = range of parts K3", r.pv, whole * r.pv);
  if (r.ev > 0.0) {
    fprintf(out, "  distinct categories: %g\n", r.ndc);
  } else {
    fprintf(out, "  distinct categories: not stated: the repeats are all the same, so the "
                 "resolution hides the spread\n");
  }
  if (r.beyond) {
    fprintf(out, "  %zu cell%s a range above D4 times the mean range, %.5g%s%s: look at %s\n",
            r.beyond, r.beyond == 1 ? " has" : "s have", r.range_limit * j->per,
            j->shown[0] ? " " : "", j->shown, r.beyond == 1 ? "it" : "them");
  }
  return TW_EXIT_DONE;
}

static tw_exit nested(struct job *j)
{
  tw_nested r;
  tw_fault fault = {0};
  uint32_t *one = tw_alloc(j->in.table->rows, sizeof *one);
  const uint32_t *run = j->in.at[RUN] >= 0 ? codes(j, RUN) : one;
  const tw_status status = one ? tw_nested_readings(tw_recording_number(&j->in, READING), run,
                                                    codes(j, DAY), j->in.table->rows, &r, &fault)
                               : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
  tw_free(one);
  if (status != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  const struct {
    const char *key, *name;
    double value, dof;
  } rows[] = {
      {"s1", "s1, within a day", r.s1, r.dof1},     {"s2", "s2, of daily means", r.s2, r.dof2},
      {"s3", "s3, of run means", r.s3, r.dof3},     {"days", "effect of days", r.days_s, r.dof2},
      {"runs", "effect of runs", r.runs_s, r.dof3}, {"u_one", "u of one day's mean", r.u_one, 0}};
  json_t *d = tw_document_new("gauge");
  json_object_set_new(d, "study", json_string("nested"));
  if (!tw_cli_has(j->cli, "json")) {
    fprintf(j->cli->out, "Days within runs (NIST/SEMATECH e-Handbook 2.4.4)\n\n");
  }
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    json_object_set_new(d, rows[i].key, tw_json_quantity(rows[i].value, j->unit));
    if (tw_cli_has(j->cli, "json") || (rows[i].dof == 0 && i < 5)) {
      continue;
    }
    fprintf(j->cli->out, "  %-24s %12.5g %s", rows[i].name, rows[i].value * j->per, j->shown);
    if (rows[i].dof > 0) {
      fprintf(j->cli->out, ", %g degrees of freedom", rows[i].dof);
    }
    fprintf(j->cli->out, "\n");
  }
  if (tw_cli_has(j->cli, "json")) {
    return tw_cli_print_json(j->cli, d);
  }
  json_decref(d);
  if (r.negative) {
    fprintf(j->cli->out, "  a variance came out below zero and was taken as zero\n");
  }
  return TW_EXIT_DONE;
}

static void settle_unit(struct job *j)
{
  const tw_column_unit *unit = &j->in.table->unit[j->in.at[READING]];
  const bool length = unit->kind == TW_LENGTH;
  j->unit = length ? "m" : unit->kind == TW_PURE ? "1" : "SI";
  j->shown = unit->kind == TW_PURE ? "" : unit->name;
  j->per = unit->over / unit->times;
}

static tw_exit run(tw_cli *cli)
{
  struct job j = {.cli = cli};
  const bool by_day = tw_cli_has(cli, "day");
  if (!tw_cli_has(cli, "reading") ||
      (!by_day && (!tw_cli_has(cli, "part") || !tw_cli_has(cli, "operator")))) {
    return tw_cli_usage(
        cli, "name the columns: --reading x_mm --part part --operator mounting, or --reading "
             "x_mm --day day");
  }
  tw_exit code = tw_cli_recording(cli, cli->operand[0], wanted, COLUMNS, &j.in);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  settle_unit(&j);
  static const char *const crossed_only[] = {"tolerance", "pool"};
  for (size_t k = 0; k < 2; k++) {
    if (tw_cli_has(cli, crossed_only[k]) && (by_day || tw_cli_has(cli, "ranges"))) {
      tw_readings_free(j.in.table);
      return tw_cli_usage(cli, "--%s belongs to the study by analysis of variance, not to --%s",
                          crossed_only[k], by_day ? "day" : "ranges");
    }
  }
  code = by_day ? nested(&j) : tw_cli_has(cli, "ranges") ? ranges(&j) : crossed(&j);
  tw_readings_free(j.in.table);
  return code;
}

static const tw_option options[] = {
    {"reading", "COLUMN", "the readings (NAME or NAME:UNIT)", false},
    {"part", "COLUMN", "what was measured", false},
    {"operator", "COLUMN", "who measured; or the mounting, spindle orientation or day", false},
    {"tolerance", "LENGTH", "full width, for 6 GRR over it", false},
    {"pool", "P|never", "pool the interaction when its p is above this (default 0.05)", false},
    {"ranges", NULL, "by average and range instead", false},
    {"day", "COLUMN", "nested study: readings within days", false},
    {"run", "COLUMN", "... within runs", false},
    TW_TABLE_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_gauge = {
    .name = "gauge",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "gauge study: how much of the spread is the probe, the mounting, the day",
    .details = "Crossed: every part under every condition equally often. For a shop of one the "
               "\"operator\" is a re-mounting of the probe, a spindle orientation or a day.",
    .options = options,
    .takes = TW_TAKES_JSON,
    .run = run,
};
