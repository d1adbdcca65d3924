/* verb_budget.c: an uncertainty budget by the GUM, by simulation, and what it decides. */
#include "readings_in.h"

#include <math.h>
#include <string.h>

struct job {
  tw_cli *cli;
  tw_budget budget;
  tw_budget_result gum;
  tw_monte_carlo simulated;
  double level;
  double limits[2]; /* -+infinity where none is given */
  json_t *document;
};

/* second-order terms that move u by more than this share of it are said */
#define TW_BEND_SAID 0.02

static bool bends(const tw_budget_result *r)
{
  return !r->second_finite || fabs(r->u_second - r->u) > TW_BEND_SAID * r->u;
}

static void say_gum(const struct job *j)
{
  FILE *out = j->cli->out;
  const tw_budget *b = &j->budget;
  const tw_budget_result *r = &j->gum;
  fprintf(out, "%s = %s\n\n", b->result[0] ? b->result : "result", b->model);
  fprintf(out, "  %-13s %12s %10s %6s %12s %12s %7s\n", "input", "value", "u", "dof", "sensitivity",
          "contribution", "share");
  for (size_t i = 0; i < r->count; i++) {
    char dof[24] = "-";
    if (isfinite(b->input[i].dof)) {
      snprintf(dof, sizeof dof, "%g", b->input[i].dof);
    }
    fprintf(out, "  %-13s %12.8g %10.4g %6s %12.5g %12.4g %5.1f %%\n", b->input[i].name,
            b->input[i].value, r->line[i].u, dof, r->line[i].sensitivity, r->line[i].contribution,
            100 * r->line[i].share);
  }
  fprintf(out, "\n  result            %.10g %s\n", r->y, b->unit);
  fprintf(out, "  u                 %.4g %s, ", r->u, b->unit);
  if (isfinite(r->dof)) {
    fprintf(out, "effective degrees of freedom %g (%.2f)\n", r->dof, r->dof_exact);
  } else {
    fprintf(out, "degrees of freedom not limited\n");
  }
  fprintf(out, "  U                 %.4g %s at %g %%, k = %.3f\n", r->expanded, b->unit,
          100 * r->level, r->k);
  if (!r->second_finite) {
    fprintf(out, "  the model has no second derivative there: u may be far off; see --simulate\n");
  } else if (bends(r)) {
    fprintf(out, "  the model bends: second-order terms would make u %.4g %s; see --simulate\n",
            r->u_second, b->unit);
  }
}

static void put_gum(struct job *j)
{
  const tw_budget *b = &j->budget;
  const tw_budget_result *r = &j->gum;
  json_t *rows = json_array();
  for (size_t i = 0; i < r->count; i++) {
    json_array_append_new(
        rows, json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "name", b->input[i].name, "value",
                        tw_json_number(b->input[i].value), "u", tw_json_number(r->line[i].u), "dof",
                        tw_json_number(b->input[i].dof), "sensitivity",
                        tw_json_number(r->line[i].sensitivity), "contribution",
                        tw_json_number(r->line[i].contribution), "share",
                        tw_json_number(r->line[i].share)));
  }
  json_object_set_new(j->document, "result", json_string(b->result));
  json_object_set_new(j->document, "model", json_string(b->model));
  json_object_set_new(j->document, "inputs", rows);
  json_object_set_new(j->document, "value", tw_json_quantity(r->y, b->unit));
  json_object_set_new(j->document, "u", tw_json_quantity(r->u, b->unit));
  json_object_set_new(j->document, "dof", tw_json_number(r->dof));
  json_object_set_new(j->document, "dof_exact", tw_json_number(r->dof_exact));
  json_object_set_new(j->document, "k", tw_json_number(r->k));
  json_object_set_new(j->document, "expanded", tw_json_quantity(r->expanded, b->unit));
  json_object_set_new(j->document, "u_second_order",
                      tw_json_quantity(r->second_finite ? r->u_second : (double)NAN, b->unit));
  json_object_set_new(j->document, "level", tw_json_number(r->level));
}

static tw_exit simulate(struct job *j)
{
  long digits = 2, seed = 1, most = 5000000;
  tw_fault fault = {0};
  if (!tw_cli_count(j->cli, "digits", 1, 3, &digits) ||
      !tw_cli_count(j->cli, "seed", 0, 2000000000, &seed) ||
      !tw_cli_count(j->cli, "trials", 100000, 100000000, &most)) {
    return TW_EXIT_USAGE;
  }
  const tw_progress progress = tw_cli_progress(j->cli);
  if (tw_budget_simulate_against(&j->budget, j->level, (int)digits, (size_t)most, (uint64_t)seed,
                                 j->limits, &progress, &j->simulated, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  const tw_monte_carlo mc = j->simulated;
  const char *unit = j->budget.unit;
  const double symmetric[2] = {mc.low, mc.high}, shortest[2] = {mc.shortest_low, mc.shortest_high};
  json_object_set_new(j->document, "simulation",
                      json_pack("{s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:b, s:b, s:b}", "trials",
                                (json_int_t)mc.trials, "seed", (json_int_t)seed, "value",
                                tw_json_quantity(mc.y, unit), "u",
                                tw_json_quantity(mc.u_exists ? mc.u : (double)NAN, unit),
                                "interval", tw_json_vector(symmetric, 2, unit), "shortest",
                                tw_json_vector(shortest, 2, unit), "tolerance",
                                tw_json_quantity(mc.tolerance, unit), "settled", mc.settled,
                                "u_exists", mc.u_exists, "gum_holds", mc.gum_holds));
  if (!tw_cli_has(j->cli, "json")) {
    FILE *out = j->cli->out;
    fprintf(out, "\nSimulated (JCGM 101), %zu trials, seed %ld\n\n", mc.trials, seed);
    fprintf(out, "  result            %.10g %s\n", mc.y, unit);
    if (mc.u_exists) {
      fprintf(out, "  u                 %.4g %s\n", mc.u, unit);
    } else {
      fprintf(out,
              "  u                 does not exist: an input has two degrees of freedom or fewer\n");
    }
    fprintf(out, "  %g %% interval     %.10g to %.10g %s\n", 100 * mc.level, mc.low, mc.high, unit);
    fprintf(out, "  shortest          %.10g to %.10g %s\n", mc.shortest_low, mc.shortest_high,
            unit);
    fprintf(out, "  %s\n",
            mc.settled ? "settled" : "NOT settled: allow more --trials, or fewer --digits");
    fprintf(out, "  the GUM's interval %s to %.2g %s\n", mc.gum_holds ? "agrees" : "does NOT agree",
            mc.tolerance, unit);
  }
  return TW_EXIT_DONE;
}

static bool read_limits(struct job *j)
{
  j->limits[0] = -(double)INFINITY;
  j->limits[1] = (double)INFINITY;
  return tw_cli_number(j->cli, "lower", -1e300, 1e300, &j->limits[0]) &&
         tw_cli_number(j->cli, "upper", -1e300, 1e300, &j->limits[1]);
}

/* by the simulation when it ran, else by Student's t with the effective degrees of freedom; `by`
 * takes the words for it */
static tw_status verdict_of(const struct job *j, double wanted, tw_decision *d, char *by,
                            size_t room, tw_fault *fault)
{
  const tw_budget_result *r = &j->gum;
  if (tw_cli_has(j->cli, "simulate")) {
    snprintf(by, room, "the simulation, %zu of %zu trials", j->simulated.within,
             j->simulated.trials);
    return tw_decide_simulated(&j->simulated, wanted, d, fault);
  }
  if (r->u == 0.0 && bends(r)) {
    return tw_fail(fault, TW_NO_ANSWER, "model", "decide with --simulate",
                   "the model is flat there, so its first-order u of 0 says nothing");
  }
  const tw_figure_law law = {.kind = TW_LAW_STUDENT, .value = r->y, .u = r->u, .dof = r->dof};
  tw_law_text(&law, by, room);
  return tw_decide_by(&law, j->limits[0], j->limits[1], wanted, d, fault);
}

static void say_decision(const struct job *j, const tw_decision *d, double wanted, const char *by)
{
  FILE *out = j->cli->out;
  fprintf(out, "\nDecision after ISO 14253-1: %s\n", tw_verdict_text(d->verdict));
  char probability[24];
  tw_probability_text(d->probability, 5, probability, sizeof probability);
  fprintf(out, "  probability of conformance %s, wanted %g\n", probability, wanted);
  fprintf(out, "  by %s\n", by);
  if (tw_cli_has(j->cli, "simulate")) {
    fprintf(out, "  by the simulated %g %% interval: %s\n", 100 * j->simulated.level,
            tw_verdict_text(d->by_expanded));
    return;
  }
  fprintf(out, "  by U = 2u: %s\n", tw_verdict_text(d->by_expanded));
  if (bends(&j->gum)) {
    fprintf(out, "  the model bends, and the probability does not know it: decide with "
                 "--simulate\n");
  }
}

static tw_exit decide(struct job *j)
{
  double wanted = 0.95;
  char by[96];
  tw_decision d;
  tw_fault fault = {0};
  if (!tw_cli_number(j->cli, "probability", 0.5001, 0.999999, &wanted)) {
    return TW_EXIT_USAGE;
  }
  if (verdict_of(j, wanted, &d, by, sizeof by, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  json_object_set_new(
      j->document, "decision",
      json_pack("{s:o, s:o, s:o, s:o, s:o, s:s, s:s, s:s}", "lower", tw_json_number(j->limits[0]),
                "upper", tw_json_number(j->limits[1]), "probability", tw_json_number(d.probability),
                "accept_low", tw_json_number(d.accept_low), "accept_high",
                tw_json_number(d.accept_high), "verdict", tw_verdict_text(d.verdict), "by_expanded",
                tw_verdict_text(d.by_expanded), "decided_by", by));
  if (!tw_cli_has(j->cli, "json")) {
    say_decision(j, &d, wanted, by);
  }
  return d.verdict == TW_PROVEN ? TW_EXIT_DONE : TW_EXIT_NOT_MET;
}

/* options that only say something beside another one */
static tw_exit check_options(struct job *j)
{
  static const char *const simulated[] = {"digits", "trials", "seed"};
  const bool limited = tw_cli_has(j->cli, "upper") || tw_cli_has(j->cli, "lower");
  for (size_t k = 0; k < sizeof simulated / sizeof simulated[0]; k++) {
    if (tw_cli_has(j->cli, simulated[k]) && !tw_cli_has(j->cli, "simulate")) {
      return tw_cli_usage(j->cli, "--%s belongs to --simulate", simulated[k]);
    }
  }
  if (tw_cli_has(j->cli, "probability") && !limited) {
    return tw_cli_usage(j->cli, "--probability belongs to --lower or --upper");
  }
  if (!read_limits(j)) {
    return TW_EXIT_USAGE;
  }
  if (limited && !(j->limits[0] < j->limits[1])) {
    return tw_cli_usage(j->cli, "--lower %g is not below --upper %g", j->limits[0], j->limits[1]);
  }
  return TW_EXIT_DONE;
}

static tw_exit work(struct job *j)
{
  tw_fault fault = {0};
  const tw_exit fit = check_options(j);
  if (fit != TW_EXIT_DONE) {
    return fit;
  }
  tw_messages *messages = tw_messages_new();
  const tw_status status =
      messages ? tw_budget_read(j->cli->operand[0], messages, &j->budget) : TW_NO_MEMORY;
  tw_cli_messages(j->cli, messages);
  tw_messages_free(messages);
  if (status != TW_OK) {
    return tw_exit_of(status);
  }
  if (tw_budget_gum(&j->budget, j->level, &j->gum, &fault) != TW_OK) {
    return tw_cli_fault(j->cli, &fault);
  }
  put_gum(j);
  if (!tw_cli_has(j->cli, "json")) {
    say_gum(j);
  }
  tw_exit code = tw_cli_has(j->cli, "simulate") ? simulate(j) : TW_EXIT_DONE;
  if (code == TW_EXIT_DONE && (tw_cli_has(j->cli, "upper") || tw_cli_has(j->cli, "lower"))) {
    code = decide(j);
  }
  return code;
}

static tw_exit run(tw_cli *cli)
{
  struct job *j = tw_alloc(1, sizeof *j);
  if (!j) {
    return TW_EXIT_INTERNAL;
  }
  *j = (struct job){.cli = cli, .level = 0.95};
  j->document = tw_document_new("budget");
  tw_exit code = !j->document                                          ? TW_EXIT_INTERNAL
                 : tw_cli_number(cli, "level", 0.5, 0.9999, &j->level) ? work(j)
                                                                       : TW_EXIT_USAGE;
  if (tw_cli_has(cli, "json") && (code == TW_EXIT_DONE || code == TW_EXIT_NOT_MET)) {
    const tw_exit printed = tw_cli_print_json(cli, json_incref(j->document));
    code = printed == TW_EXIT_DONE ? code : printed;
  }
  json_decref(j->document);
  tw_free(j);
  return code;
}

static const tw_option options[] = {
    {"level", "SHARE", "coverage of U and of the intervals (default 0.95)", false},
    {"simulate", NULL, "also by Monte Carlo (JCGM 101)", false},
    {"digits", "N", "figures of u that the simulation must settle (default 2)", false},
    {"trials", "N", "at most so many (default 5000000)", false},
    {"seed", "N", "of the random numbers (default 1)", false},
    {"lower", "NUMBER", "limit, in the result's unit", false},
    {"upper", "NUMBER", "limit, in the result's unit", false},
    {"probability", "SHARE", "of conformance that proves it (default 0.95)", false},
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_budget = {
    .name = "budget",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "uncertainty budget: GUM, simulation, decision against limits",
    .details =
        "The file has lines \"result: NAME UNIT\", \"model: FORMULA\" and, if need be, "
        "\"correlation: A B r\", then a table name,value,spread,kind,dof with kind standard, "
        "rectangular, triangular, arcsine or expanded:K. All numbers in units that fit "
        "together.",
    .options = options,
    .takes = TW_TAKES_JSON,
    .run = run,
};
