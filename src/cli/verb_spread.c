/* verb_spread.c: how many of a batch will work, and what those that do not have in common. */
#include "log_parts.h"
#include "spread_print.h"

#include "tripwright/study_fast.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CORRELATIONS_MOST 64
#define NAMES_SIZE        2048

/* ---- reading ------------------------------------------------------------------------------- */

/* "N" or "A..B" */
static bool read_builds(tw_cli_spread *p)
{
  const bool steady = tw_cli_has(p->s.cli, "until-steady");
  const char *text = tw_cli_text(p->s.cli, "builds", steady ? "1000000" : "200");
  const char *dots = strstr(text, "..");
  char *end = NULL, *end_last = NULL;
  p->first = dots ? strtol(text, &end, 10) : 0;
  const long last = strtol(dots ? dots + 2 : text, &end_last, 10) - (dots ? 0 : 1);
  p->count = last - p->first + 1;
  if ((dots && end != dots) || *end_last || p->first < 0 || p->count < 1 || p->count > 10000000) {
    tw_cli_usage(p->s.cli, "--builds: \"%s\" is neither a number of builds nor FIRST..LAST", text);
    return false;
  }
  return true;
}

/* "PATH,PATH=R" */
static tw_exit read_correlation(tw_cli_spread *p, const char *text, tw_correlation *c)
{
  const char *comma = strchr(text, ','), *equals = comma ? strchr(comma, '=') : NULL;
  char *end = NULL;
  tw_fault fault = {0};
  if (!equals) {
    return tw_cli_usage(p->s.cli, "--correlate: \"%s\" is not PATH,PATH=R", text);
  }
  const tw_field a = tw_cli_field(p->s.cli, "correlate", text, (size_t)(comma - text));
  const tw_field b = a == TW_FIELD_COUNT ? a
                                         : tw_cli_field(p->s.cli, "correlate", comma + 1,
                                                        (size_t)(equals - comma - 1));
  c->r = strtod(equals + 1, &end);
  if (a == TW_FIELD_COUNT || b == TW_FIELD_COUNT) {
    return TW_EXIT_USAGE;
  }
  if (end == equals + 1 || *end || !(fabs(c->r) <= 1)) {
    return tw_cli_usage(p->s.cli, "--correlate: \"%s\" is no number from -1 to 1", equals + 1);
  }
  if (tw_study_add(p->s.study, a, &c->a, &fault) != TW_OK ||
      tw_study_add(p->s.study, b, &c->b, &fault) != TW_OK) {
    return tw_cli_fault(p->s.cli, &fault);
  }
  if (tw_cli_pieces_of_file(&p->pieces, c->a) || tw_cli_pieces_of_file(&p->pieces, c->b)) {
    return tw_cli_usage(p->s.cli,
                        "--correlate: %s: the pieces of a file are drawn line by line and "
                        "correlate with nothing else",
                        text);
  }
  return TW_EXIT_DONE;
}

static tw_exit prepare(tw_cli_spread *p)
{
  tw_cli *cli = p->s.cli;
  tw_correlation correlation[CORRELATIONS_MOST];
  size_t n = 0;
  tw_fault fault = {0};
  const char *text;
  p->seed = 1;
  long checks = 200;
  if (!read_builds(p) || !tw_cli_count(cli, "seed", 0, 2147483647, &p->seed) ||
      !tw_cli_count(cli, "checks", 20, 100000, &checks)) {
    return TW_EXIT_USAGE;
  }
  if (tw_cli_has(cli, "checks") && !tw_cli_has(cli, "fast")) {
    return tw_cli_usage(cli, "--checks belongs to --fast");
  }
  if (tw_cli_has(cli, "merge") && !tw_cli_has(cli, "study")) {
    return tw_cli_usage(cli, "--merge needs --study FILE to merge into");
  }
  tw_exit code = tw_cli_steady_read(&p->s, (size_t)p->count, &p->steady);
  if (code == TW_EXIT_DONE && p->steady.asked && p->first > 0) {
    return tw_cli_usage(cli, "--until-steady begins with build 0: give --builds N as the most");
  }
  if (code == TW_EXIT_DONE) {
    code = tw_cli_pieces(&p->s, &p->pieces);
  }
  if (code == TW_EXIT_DONE && tw_study_add_toleranced(p->s.study, &fault) != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  }
  if (code == TW_EXIT_DONE) {
    code = tw_cli_sorted_out(&p->s);
  }
  if (code == TW_EXIT_DONE) {
    code = tw_cli_pieces_together(&p->s, &p->pieces, correlation, &n, CORRELATIONS_MOST);
  }
  if (code == TW_EXIT_DONE) {
    code = tw_cli_winback_read(&p->s, &p->winback);
  }
  if (code != TW_EXIT_DONE) {
    return code;
  }
  for (int k = 0; (text = tw_cli_text_at(cli, "correlate", k)) != NULL; k++) {
    if (n == CORRELATIONS_MOST) {
      return tw_cli_usage(cli, "--correlate: more than %d correlations", CORRELATIONS_MOST);
    }
    code = read_correlation(p, text, &correlation[n++]);
    if (code != TW_EXIT_DONE) {
      return code;
    }
  }
  tw_status status =
      tw_study_sampler(p->s.study, correlation, n, (uint64_t)p->seed, &p->sampler, &fault);
  if (status == TW_OK && tw_cli_has(cli, "fast")) {
    status = tw_study_hasten(p->s.study, p->sampler, (size_t)checks, &p->s.progress, &fault);
  }
  if (status == TW_OK && !p->steady.asked) {
    status = tw_builds_new((uint64_t)p->first, (size_t)p->count, p->s.study->outputs, &p->builds,
                           &fault);
  }
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

static tw_exit open_store(tw_cli_spread *p)
{
  tw_cli *cli = p->s.cli;
  const char *file = tw_cli_text(cli, "study", NULL), *part;
  char names[NAMES_SIZE], level[64];
  tw_fault fault = {0};
  if (!file) {
    return TW_EXIT_DONE;
  }
  tw_study_names(p->s.study, names, sizeof names);
  tw_study_level_text(p->s.study, level, sizeof level);
  const tw_store_key key = {.design = tw_design_name(p->s.design),
                            .design_hash = tw_study_hash(p->s.study),
                            .sampler_hash = tw_sampler_hash(p->sampler),
                            .level = level,
                            .outputs = names,
                            .output_count = p->s.study->outputs};
  tw_status status = tw_store_open(file, &key, &p->store, &fault);
  for (int k = 0; status == TW_OK && (part = tw_cli_text_at(cli, "merge", k)) != NULL; k++) {
    status = tw_store_merge(p->store, part, &fault);
  }
  if (status == TW_OK && p->builds) {
    status = tw_store_load(p->store, p->builds, &fault);
  }
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

/* ---- the verb ------------------------------------------------------------------------------ */

static tw_status load(void *store, tw_builds *builds, tw_fault *fault)
{
  return tw_store_load(store, builds, fault);
}

/* the builds, as many as were asked for or as many as it takes */
static tw_status make_builds(tw_cli_spread *p, tw_fault *fault)
{
  const tw_study_model model = tw_study_as_model(p->s.study);
  const tw_spread_options options = {.threads = p->s.study->level.threads,
                                     .round = 64,
                                     .save = p->store ? tw_store_save : NULL,
                                     .self = p->store};
  if (!p->steady.asked) {
    return tw_spread_run(&model, p->sampler, p->builds, &options, &p->s.progress, fault);
  }
  const tw_status status =
      tw_spread_steady(&model, p->sampler, &p->steady.plan, &options, p->store ? load : NULL,
                       &p->s.progress, &p->builds, &p->steady.found, fault);
  p->count = p->builds ? (long)p->builds->count : 0;
  return status;
}

/* what the log made of the processes, before anything else is said */
static void put_learned(tw_cli_spread *p)
{
  const bool json = tw_cli_has(p->s.cli, "json");
  json_t *rows = json && tw_cli_has(p->s.cli, "log") ? json_array() : NULL;
  for (size_t i = 0; i < p->s.learned_count; i++) {
    if (rows) {
      json_array_append_new(rows, tw_json_log_use(&p->s.learned[i]));
    } else {
      tw_log_say_use(p->s.cli->out, &p->s.learned[i]);
    }
  }
  if (rows) {
    json_object_set_new(p->document, "learned", rows);
  }
}

static tw_exit compute(tw_cli_spread *p)
{
  tw_fault fault = {0};
  tw_status status = make_builds(p, &fault);
  if ((status != TW_OK && status != TW_CANCELLED) || !p->builds) {
    return tw_cli_fault(p->s.cli, &fault);
  }
  if (tw_run_spread_document(p->s.study, p->sampler, p->builds, &p->document, &fault) != TW_OK) {
    return tw_cli_fault(p->s.cli, &fault);
  }
  put_learned(p);
  if (p->steady.asked) {
    json_object_set_new(p->document, "steady",
                        tw_json_steady(p->s.study, &p->steady.plan, &p->steady.found));
  }
  if (status == TW_OK) {
    status = tw_run_winback_add(p->s.study, &p->winback, p->sampler, p->builds, &p->s.progress,
                                p->document, &fault);
    if (status != TW_OK && status != TW_CANCELLED) {
      return tw_cli_fault(p->s.cli, &fault);
    }
  }
  tw_exit code = tw_cli_spread_print(p);
  code = code == TW_EXIT_DONE ? tw_cli_spread_verdict(p) : code;
  if (status == TW_CANCELLED) {
    fprintf(p->s.cli->err, "interrupted: these are the builds that were done%s\n",
            p->store ? "; the same command goes on from here" : "");
    return TW_EXIT_INTERRUPTED;
  }
  return code;
}

static tw_exit run(tw_cli *cli)
{
  tw_cli_spread *p = tw_alloc(1, sizeof *p);
  if (!p) {
    return TW_EXIT_INTERNAL;
  }
  tw_exit code = tw_cli_study_open(cli, cli->operand[0], &p->s);
  if (code == TW_EXIT_DONE) {
    code = prepare(p);
  }
  if (code == TW_EXIT_DONE) {
    code = open_store(p);
  }
  if (code == TW_EXIT_DONE) {
    code = compute(p);
  }
  json_decref(p->document);
  tw_store_close(p->store);
  tw_builds_free(p->builds);
  tw_sampler_free(p->sampler);
  tw_cli_pieces_free(&p->pieces);
  tw_free(p->steady.found.output);
  tw_cli_study_close(&p->s);
  tw_free(p);
  return code;
}

static const tw_option options[] = {
    {"builds", "N|A..B", "how many (200), or builds A to B, so that parts can be merged", false},
    {"seed", "N", "another seed is another batch (1)", false},
    {"correlate", "A,B=R", "two fields go together: correlation R from -1 to 1", true},
    TW_PIECES_OPTIONS,
    TW_STEADY_OPTIONS,
    TW_WINBACK_OPTIONS,
    {"fast", NULL,
     "interpolate builds from engine tables; reports the error, leaves out what can be set at "
     "assembly",
     false},
    {"checks", "N", "builds on which --fast is compared with the engine (200)", false},
    {"study", "FILE", "keep the builds in FILE: stopped work goes on from there", false},
    {"merge", "FILE", "add the builds of another study file", true},
    {"measure", "NAME", "a measure to list (those with requirements)", true},
    {"log", "FILE", "take own offset and scatter of the processes from this unit log", false},
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_spread = {
    .name = "spread",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "how many of a batch will be good, with the tolerances of the file",
    .details = "Every value with a tolerance is drawn anew for each build; resistors without one "
               "have circuit.resistor_tolerance. Build number i of a seed is the same on any day "
               "and for any number of threads.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
