/* verb_spread.c: how many of a batch will work, and what those that do not have in common. */
#include "pieces_in.h"
#include "spread_steady.h"
#include "spread_winback.h"

#include "tripwright/study_fast.h"
#include "tripwright/study_store.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CORRELATIONS_MOST 64
#define NAMES_SIZE        2048

typedef struct spread {
  tw_cli_study s;
  tw_pieces pieces;
  tw_cli_steady steady;
  tw_cli_winback winback;
  tw_sampler *sampler;
  tw_builds *builds;
  tw_store *store;
  long first, count, seed;
  json_t *document;
} spread;

static const char *text_of(const json_t *object, const char *key)
{
  const char *text = json_string_value(json_object_get(object, key));
  return text ? text : "";
}

static double number_of(const json_t *object, const char *key)
{
  return json_number_value(json_object_get(object, key));
}

/* 1 when no build is good */
static tw_exit verdict(const spread *p)
{
  const json_t *all = json_object_get(json_object_get(p->document, "yield"), "all");
  return p->s.study->goals > 0 && number_of(all, "builds") > 0 && number_of(all, "good") < 1
             ? TW_EXIT_NOT_MET
             : TW_EXIT_DONE;
}

/* ---- printing ------------------------------------------------------------------------------ */

static void print_share(FILE *out, const char *name, const char *text, const json_t *share)
{
  fprintf(out, "  %-26s %-18s %5.1f %%  (%.1f .. %.1f %%)  %lld of %lld\n", name, text,
          100 * number_of(share, "share"), 100 * number_of(share, "low"),
          100 * number_of(share, "high"),
          (long long)json_integer_value(json_object_get(share, "good")),
          (long long)json_integer_value(json_object_get(share, "builds")));
}

static void print_yield(const spread *p)
{
  FILE *out = p->s.cli->out;
  const json_t *yield = json_object_get(p->document, "yield");
  const json_t *each = json_object_get(yield, "each");
  fprintf(out, "\nHow many are good (95 %% sure: between)\n");
  for (size_t i = 0; i < json_array_size(each); i++) {
    const json_t *one = json_array_get(each, i);
    print_share(out, text_of(one, "measure"), text_of(one, "text"), one);
  }
  print_share(out, "all of them", "", json_object_get(yield, "all"));
}

static void print_quantile(const spread *p, tw_measure_id id, const json_t *q)
{
  char value[64], low[64], high[64];
  tw_cli_figure(&p->s, id, json_object_get(q, "value"), value, sizeof value);
  if (json_is_null(json_object_get(q, "low"))) {
    fprintf(p->s.cli->out, "   %5.0f %%  %-12s (an interval needs %lld builds)\n",
            100 * number_of(q, "p"), value,
            (long long)json_integer_value(json_object_get(q, "needed")));
    return;
  }
  tw_cli_figure(&p->s, id, json_object_get(q, "low"), low, sizeof low);
  tw_cli_figure(&p->s, id, json_object_get(q, "high"), high, sizeof high);
  fprintf(p->s.cli->out, "   %5.0f %%  %-12s (%s .. %s)\n", 100 * number_of(q, "p"), value, low,
          high);
}

static void print_measures(const spread *p)
{
  FILE *out = p->s.cli->out;
  const json_t *list = json_object_get(p->document, "measures");
  fprintf(out, "\nWhat share of the builds stays under (95 %% sure: between)\n");
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i);
    const tw_measure_id id = tw_measure_find(text_of(one, "name"));
    if (!tw_cli_wanted(&p->s, id)) {
      continue;
    }
    fprintf(out, "  %s", text_of(one, "name"));
    const char *const state[] = {"no_trip", "no_answer", "not_applicable"};
    const char *const says[] = {"do not trip", "without an answer", "to which it does not apply"};
    for (int k = 0; k < 3; k++) {
      const long long n = (long long)json_integer_value(json_object_get(one, state[k]));
      if (n > 0) {
        fprintf(out, ", %lld %s", n, says[k]);
      }
    }
    fprintf(out, "\n");
    for (size_t q = 0; q < json_array_size(json_object_get(one, "quantiles")); q++) {
      print_quantile(p, id, json_array_get(json_object_get(one, "quantiles"), q));
    }
  }
}

/* how far the worst of these azimuths is from the worst of more, in some builds */
static void print_coarse_builds(const spread *p, const json_t *coarse)
{
  const json_t *builds = json_object_get(coarse, "builds");
  if (!json_is_object(builds)) {
    return;
  }
  const double most = number_of(builds, "share"), n = number_of(builds, "compared");
  char text[120] = "within 0.01 % of";
  if (most >= 1e-4) {
    snprintf(text, sizeof text, "up to %.2g %% (%s) from", 100 * most, text_of(builds, "measure"));
  }
  fprintf(p->s.cli->out,
          "In %.0f build%s the worst of %d azimuths is %s the worst of %.0f; %.0f would be judged "
          "otherwise.\n",
          n, n == 1 ? "" : "s", p->s.study->level.azimuths, text, number_of(coarse, "against"),
          number_of(builds, "judged_otherwise"));
}

static void print_failures(const spread *p)
{
  FILE *out = p->s.cli->out;
  const json_t *list = json_object_get(p->document, "failures");
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i), *fields = json_object_get(one, "fields");
    const long long failing = (long long)json_integer_value(json_object_get(one, "failing"));
    fprintf(out, "%s  %s: %lld build%s", i == 0 ? "\nWhat stands out in those that fail\n" : "",
            text_of(one, "measure"), failing, failing == 1 ? "" : "s");
    for (size_t k = 0; k < json_array_size(fields); k++) {
      const json_t *f = json_array_get(fields, k);
      fprintf(out, "%s%s %s by %.1f deviations", k ? ", " : ": ", text_of(f, "field"),
              number_of(f, "shift") > 0 ? "large" : "small", fabs(number_of(f, "shift")));
    }
    fprintf(out, "\n");
  }
  if (verdict(p) != TW_EXIT_DONE) {
    fprintf(out,
            "  No build is good: `tripwright check` shows the design itself, `tripwright remedy` "
            "looks for\n  the least change.\n");
  }
  const json_t *why = json_object_get(p->document, "impossible");
  if (json_is_object(why)) {
    fprintf(out, "\nBuild %lld has no answer at all: %s%s%s\n",
            (long long)json_integer_value(json_object_get(why, "build")), text_of(why, "field"),
            text_of(why, "field")[0] ? ": " : "", text_of(why, "text"));
  }
  const json_t *unanswered = json_object_get(p->document, "unanswered");
  for (size_t i = 0; i < json_array_size(unanswered); i++) {
    const json_t *one = json_array_get(unanswered, i);
    fprintf(out, "%s  %s: %.0f build%s without an answer, counted as not good; build %.0f: %s\n",
            i == 0 ? "\nWhat could not be computed\n" : "", text_of(one, "measure"),
            number_of(one, "builds"), number_of(one, "builds") == 1 ? "" : "s",
            number_of(one, "build"), text_of(one, "text"));
  }
  const json_t *coarse = json_object_get(p->document, "coarseness");
  if (json_is_object(coarse)) {
    const double share = number_of(coarse, "share");
    fprintf(out, "\nFor the design itself these %d azimuths in fixed load steps are ",
            p->s.study->level.azimuths);
    if (share < 1e-4) {
      fprintf(out, "no different from 24\nazimuths in fine ones (under 0.01 %% in any "
                   "requirement).\n");
    } else {
      fprintf(out,
              "%.2g %% from 24 azimuths in fine ones\nin %s, more than in any other requirement.\n",
              100 * share, text_of(coarse, "measure"));
    }
    print_coarse_builds(p, coarse);
  }
}

/* fields drawn among pieces, or from a grade whose better pieces are gone */
static void print_lists(const spread *p)
{
  const json_t *list = json_object_get(p->document, "inputs");
  FILE *out = p->s.cli->out;
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i);
    const char *law = text_of(one, "law");
    const bool bin = strcmp(law, "bin") == 0;
    if (bin || strcmp(law, "measured") == 0 || strcmp(law, "discrete") == 0) {
      fprintf(out, "  %s: %s\n", text_of(one, "field"),
              bin ? "of a grade from which the better was sorted out"
                  : "drawn among the pieces of --pieces");
    }
  }
}

/* fields whose mean the shop file's processes shift */
static void print_processes(const spread *p)
{
  const json_t *list = json_object_get(p->document, "inputs");
  FILE *out = p->s.cli->out;
  bool any = false;
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i);
    if (json_is_string(json_object_get(one, "process"))) {
      const json_t *offset = json_object_get(one, "offset");
      fprintf(out, "%s  %-26s %-14s %s%s%s\n",
              any ? "" : "\nMade with the offsets of the processes (shop file)\n",
              text_of(one, "field"), text_of(one, "process"),
              number_of(offset, "value") > 0 ? "+" : "", text_of(offset, "shown"),
              json_is_true(json_object_get(one, "spread_of_process")) ? ", spread of the process"
                                                                      : "");
      any = true;
    }
  }
}

/* what the fast level leaves out, as far as it was seen */
static void print_fast(const spread *p)
{
  FILE *out = p->s.cli->out;
  const json_t *fast = json_object_get(p->document, "fast"),
               *list = json_object_get(fast, "errors");
  if (!json_is_object(fast)) {
    return;
  }
  fprintf(
      out,
      "\nThe fast level against the engine, on %.0f builds of this batch (%.0f engine builds in "
      "all)\n",
      number_of(fast, "checked"), number_of(fast, "engine_builds"));
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i);
    fprintf(out, "  %-26s half within %.2g %%, 95 of 100 within %.2g %%, all within %.2g %%\n",
            text_of(one, "measure"), 100 * number_of(one, "median"), 100 * number_of(one, "p95"),
            100 * number_of(one, "largest"));
  }
  fprintf(out, "  judged otherwise than by the engine: %.0f of %.0f\n",
          number_of(fast, "judged_otherwise"),
          number_of(fast, "checked") - number_of(fast, "unseen"));
  if (number_of(fast, "unseen") > 0) {
    fprintf(
        out,
        "  %.0f trip or answer otherwise than the middle of the batch, which the fast level cannot "
        "see: use the engine\n",
        number_of(fast, "unseen"));
  }
}

static tw_exit print(spread *p)
{
  tw_cli *cli = p->s.cli;
  if (tw_cli_has(cli, "json")) {
    return tw_cli_print_json(cli, json_incref(p->document));
  }
  const size_t done = tw_builds_done(p->builds);
  size_t varying = 0;
  for (size_t k = 0; k < p->s.study->inputs; k++) {
    varying += tw_varied_varies(&p->s.study->input[k].law);
  }
  fprintf(cli->out, "%zu build%s (%ld .. %ld of seed %ld, %zu values vary); %s\n", done,
          done == 1 ? "" : "s", p->first, p->first + p->count - 1, p->seed, varying,
          text_of(p->document, "level"));
  print_lists(p);
  print_processes(p);
  print_yield(p);
  if (done > 1) {
    print_measures(p);
  } else {
    fprintf(cli->out, "\nOne build shows no spread: ask for --builds 60 or more.\n");
  }
  print_failures(p);
  tw_cli_winback_print(&p->s, p->document);
  print_fast(p);
  if (p->steady.asked) {
    tw_cli_steady_print(&p->s, json_object_get(p->document, "steady"));
  }
  return TW_EXIT_DONE;
}

/* ---- reading ------------------------------------------------------------------------------- */

/* "N" or "A..B" */
static bool read_builds(spread *p)
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
static tw_exit read_correlation(spread *p, const char *text, tw_correlation *c)
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

static tw_exit prepare(spread *p)
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

static tw_exit open_store(spread *p)
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
static tw_status make_builds(spread *p, tw_fault *fault)
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

static tw_exit compute(spread *p)
{
  tw_fault fault = {0};
  tw_status status = make_builds(p, &fault);
  if ((status != TW_OK && status != TW_CANCELLED) || !p->builds) {
    return tw_cli_fault(p->s.cli, &fault);
  }
  if (tw_run_spread_document(p->s.study, p->sampler, p->builds, &p->document, &fault) != TW_OK) {
    return tw_cli_fault(p->s.cli, &fault);
  }
  if (p->steady.asked) {
    json_object_set_new(p->document, "steady",
                        tw_json_steady(p->s.study, &p->steady.plan, &p->steady.found));
  }
  if (status == TW_OK) {
    status = tw_cli_winback_add(&p->s, &p->winback, p->sampler, p->builds, p->document, &fault);
    if (status != TW_OK && status != TW_CANCELLED) {
      return tw_cli_fault(p->s.cli, &fault);
    }
  }
  tw_exit code = print(p);
  code = code == TW_EXIT_DONE ? verdict(p) : code;
  if (status == TW_CANCELLED) {
    fprintf(p->s.cli->err, "interrupted: these are the builds that were done%s\n",
            p->store ? "; the same command goes on from here" : "");
    return TW_EXIT_INTERRUPTED;
  }
  return code;
}

static tw_exit run(tw_cli *cli)
{
  spread *p = tw_alloc(1, sizeof *p);
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
     "look builds up in tables that the engine makes; tells how far they are off, leaves out what "
     "can be set at assembly",
     false},
    {"checks", "N", "builds on which --fast is held against the engine (200)", false},
    {"study", "FILE", "keep the builds in FILE: stopped work goes on from there", false},
    {"merge", "FILE", "take over the builds of another such file", true},
    {"measure", "NAME", "a measure to list (those with requirements)", true},
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
