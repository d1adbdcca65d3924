/* verb_remedy.c: the smallest change that meets every requirement. */
#include "study_in.h"

#include <stdlib.h>
#include <string.h>

#define NAMES_MOST 64
#define NAME_SIZE  64

typedef struct remedy {
  tw_cli_study s;
  tw_levers *levers;
  tw_remedies found;
  long builds, budget, apply, wanted;
  double safety, yield;
  char keep_word[NAMES_MOST][NAME_SIZE], free_word[NAMES_MOST][NAME_SIZE];
  json_t *document;
} remedy;

/* ---- printing ------------------------------------------------------------------------------ */

static void print_time(FILE *out, double seconds)
{
  if (seconds >= 86400) {
    fprintf(out, "%.3g days", seconds / 86400);
  } else {
    fprintf(out, "%.3g hours", seconds / 3600);
  }
}

static void print_margin(FILE *out, const json_t *margin)
{
  if (json_is_number(margin)) {
    fprintf(out, "%+.0f %%", 100 * json_number_value(margin));
  } else {
    fprintf(out, "none");
  }
}

static void print_change(const remedy *r, const json_t *one, const char *title)
{
  FILE *out = r->s.cli->out;
  const json_t *changes = json_object_get(one, "changes");
  const json_t *rules = json_object_get(one, "requirements");
  fprintf(out, "\n%s\n", title);
  for (size_t i = 0; i < json_array_size(changes); i++) {
    const json_t *c = json_array_get(changes, i);
    fprintf(out, "    %s: %s -> %s   (%s)\n", tw_text_of(c, "field"),
            tw_text_of(json_object_get(c, "from"), "shown"),
            tw_text_of(json_object_get(c, "to"), "shown"), tw_text_of(c, "part"));
  }
  if (tw_number_of(one, "cost") > 0 || tw_number_of(json_object_get(one, "time"), "value") > 0) {
    fprintf(out, "    costs %.4g, takes ", tw_number_of(one, "cost"));
    print_time(out, tw_number_of(json_object_get(one, "time"), "value"));
    fprintf(out, "\n");
  }
  if (json_is_number(json_object_get(one, "yield"))) {
    fprintf(out, "    about %.0f %% of a batch would be good\n", 100 * tw_number_of(one, "yield"));
  }
  if (json_is_string(json_object_get(one, "warning"))) {
    const double more = tw_number_of(one, "new_warnings") - 1;
    fprintf(out, "    warns: %s\n", tw_text_of(one, "warning"));
    if (more > 0) {
      fprintf(out, "    and raises %.0f more that the design has not\n", more);
    }
  }
  for (size_t i = 0; i < json_array_size(rules); i++) {
    const json_t *rule = json_array_get(rules, i);
    char value[64];
    tw_cli_figure(&r->s, tw_measure_find(tw_text_of(rule, "measure")),
                  json_object_get(rule, "found"), value, sizeof value);
    fprintf(out, "      %-26s %-18s %-14s margin ", tw_text_of(rule, "measure"),
            tw_text_of(rule, "text"), value);
    print_margin(out, json_object_get(rule, "margin_before"));
    fprintf(out, " -> ");
    print_margin(out, json_object_get(rule, "margin"));
    fprintf(out, "\n");
  }
}

static void print_none(const remedy *r)
{
  FILE *out = r->s.cli->out;
  const json_t *e = json_object_get(r->document, "exclusion");
  fprintf(out, "No change was found that meets every requirement%s.\n",
          json_is_true(json_object_get(r->document, "complete")) ? "; all were tried" : "");
  if (json_is_object(e) && strcmp(tw_text_of(e, "one"), tw_text_of(e, "other")) == 0) {
    fprintf(out, "%s cannot be met within these ranges: its best margin is ", tw_text_of(e, "one"));
    print_margin(out, json_object_get(e, "together"));
    fprintf(out, ".\n");
  } else if (json_is_object(e)) {
    fprintf(out, "%s and %s exclude each other: the best that both have together is a margin of ",
            tw_text_of(e, "one"), tw_text_of(e, "other"));
    print_margin(out, json_object_get(e, "together"));
    fprintf(out, ", alone ");
    print_margin(out, json_object_get(e, "one_alone"));
    fprintf(out, " and ");
    print_margin(out, json_object_get(e, "other_alone"));
    fprintf(out, ".\n");
  }
  if (json_is_object(json_object_get(r->document, "nearest"))) {
    print_change(r, json_object_get(r->document, "nearest"), "What comes nearest");
  }
}

/* with a yield asked for: how it stands */
static void print_yield(const remedy *r)
{
  if (r->found.has_yield) {
    fprintf(r->s.cli->out,
            "About %.0f %% of a batch would be good as the design is; %.4g %% are asked for.\n",
            100 * r->found.yield, 100 * r->yield);
  }
}

/* what the search took for good and the whole check, or the batch, did not */
static void print_left_out(const remedy *r)
{
  FILE *out = r->s.cli->out;
  if (r->found.refused > 0) {
    fprintf(out, "%zu that looked good in the search failed the whole check: left out.\n",
            r->found.refused);
  }
  if (r->found.short_of > 0) {
    fprintf(out, "%zu meet every requirement but not the share of a batch: left out.\n",
            r->found.short_of);
  }
}

static void print_ways(const remedy *r, size_t ways)
{
  FILE *out = r->s.cli->out;
  fprintf(out, "%zu way%s to meet every requirement, sorted by time and cost\n", ways,
          ways == 1 ? "" : "s");
  fprintf(out, r->found.judged ? "(each passes the whole check, in time and over all directions)\n"
                               : "(as the search sees it; check each)\n");
  if (r->found.eased) {
    fprintf(out, "No way keeps a margin of %.4g %% in all of them; %s less.\n", 100 * r->safety,
            ways == 1 ? "this one keeps" : "these keep");
  }
}

static void print_text(const remedy *r)
{
  FILE *out = r->s.cli->out;
  const json_t *list = json_object_get(r->document, "remedies");
  if (r->found.met) {
    fprintf(out, "Every requirement is met already; the smallest margin is ");
    print_margin(out, json_object_get(r->document, "margin"));
    fprintf(out, " (%s).\n", tw_text_of(r->document, "worst"));
  } else if (json_array_size(list) == 0) {
    print_none(r);
  } else {
    print_ways(r, json_array_size(list));
  }
  print_yield(r);
  print_left_out(r);
  for (size_t i = 0; i < json_array_size(list); i++) {
    char title[32];
    snprintf(title, sizeof title, "%zu.", i + 1);
    print_change(r, json_array_get(list, i), title);
  }
  const size_t may = tw_levers_free_ones(r->levers);
  fprintf(out, "\n%zu value%s may be changed", may, may == 1 ? "" : "s");
  size_t fixed = 0;
  for (size_t p = 0; p < r->levers->remakes; p++) {
    if (r->levers->remake[p].fixed) {
      fprintf(out, "%s%s", fixed++ ? ", " : "; fixed: ", r->levers->remake[p].name);
    }
  }
  fprintf(out, ".\n");
  if (r->levers->unknown > 0) {
    fprintf(out,
            "Of %zu parts the file states neither cost nor time (parts.NAME), so these count "
            "as nothing.\n",
            r->levers->unknown);
  }
}

/* ---- reading ------------------------------------------------------------------------------- */

static bool read_share(const tw_cli *cli, const char *option, double *share)
{
  const char *text = tw_cli_text(cli, option, NULL);
  char *end = NULL;
  if (!text) {
    return true;
  }
  double value = strtod(text, &end);
  if (*end == '%') {
    value /= 100;
    end++;
  }
  if (end == text || *end || !(value >= 0 && value < 1)) {
    tw_cli_usage(cli, "--%s: \"%s\" is no share such as 0.1 or 10%%", option, text);
    return false;
  }
  *share = value;
  return true;
}

/* names given one by one or in a list with commas; the words are kept in `word` */
static bool read_names(const tw_cli *cli, const tw_design *design, const char *option,
                       char word[NAMES_MOST][NAME_SIZE], const char **names, size_t *count)
{
  const char *text;
  for (int k = 0; (text = tw_cli_text_at(cli, option, k)) != NULL; k++) {
    while (*text && *count < NAMES_MOST) {
      const size_t length = strcspn(text, ",");
      snprintf(word[*count], NAME_SIZE, "%.*s", (int)(length < NAME_SIZE ? length : NAME_SIZE),
               text);
      if (!tw_run_part_known(design, word[*count])) {
        tw_cli_usage(cli, "--%s: there is no part and no field \"%s\"", option, word[*count]);
        return false;
      }
      names[*count] = word[*count];
      ++*count;
      text += length + (text[length] == ',');
    }
  }
  return true;
}

static tw_exit prepare(remedy *r)
{
  tw_cli *cli = r->s.cli;
  tw_lever_range range[NAMES_MOST];
  const char *frees[NAMES_MOST], *keeps[NAMES_MOST], *text;
  tw_lever_options options = {.range = range,
                              .free_part = frees,
                              .keep = keeps,
                              .library = tw_cli_library(r->s.cli),
                              .read_with = tw_cli_read_with,
                              .links = true,
                              .self = r->s.cli};
  tw_fault fault = {0};
  const tw_run_remedy usual = tw_run_remedy_defaults();
  r->builds = (long)usual.builds;
  r->budget = (long)usual.budget;
  r->wanted = (long)usual.wanted;
  r->safety = usual.safety;
  if (!tw_cli_count(cli, "builds", 10, 100000, &r->builds) ||
      !tw_cli_count(cli, "budget", 10, 10000000, &r->budget) ||
      !tw_cli_count(cli, "wanted", 1, TW_REMEDIES_MOST, &r->wanted) ||
      !tw_cli_count(cli, "apply", 1, TW_REMEDIES_MOST, &r->apply) ||
      !read_share(cli, "safety", &r->safety) || !read_share(cli, "yield", &r->yield)) {
    return TW_EXIT_USAGE;
  }
  if (r->s.study->goals == 0) {
    return tw_cli_usage(cli, "the file has no requirements, so there is nothing to meet");
  }
  if (!read_names(cli, r->s.design, "free", r->free_word, frees, &options.frees) ||
      !read_names(cli, r->s.design, "keep", r->keep_word, keeps, &options.keeps)) {
    return TW_EXIT_USAGE;
  }
  for (; options.ranges < NAMES_MOST &&
         (text = tw_cli_text_at(cli, "range", (int)options.ranges)) != NULL;
       options.ranges++) {
    tw_lever_range *own = &range[options.ranges];
    if (!tw_cli_range(cli, "range", text, &own->field, &own->least, &own->most)) {
      return TW_EXIT_USAGE;
    }
  }
  return tw_study_levers(r->s.study, &options, &r->levers, &fault) == TW_OK
             ? TW_EXIT_DONE
             : tw_cli_fault(cli, &fault);
}

static tw_status search(remedy *r, tw_fault *fault)
{
  const tw_run_remedy how = {.builds = (size_t)r->builds,
                             .budget = (size_t)r->budget,
                             .wanted = (size_t)r->wanted,
                             .safety = r->safety,
                             .yield = r->yield,
                             .strict = tw_cli_has(r->s.cli, "safety"),
                             .read_sets = tw_cli_read_sets,
                             .reader = r->s.cli};
  const tw_run_watch watch = {&r->s.progress, NULL};
  return tw_run_remedy_make(r->s.study, r->levers, &how, &watch, &r->found, fault);
}

/* ---- --apply ------------------------------------------------------------------------------- */

static tw_exit apply(remedy *r)
{
  tw_cli *cli = r->s.cli;
  tw_read_options options;
  tw_remedy_words words;
  if (r->apply > (long)r->found.count) {
    return tw_cli_usage(cli, "--apply: there are only %zu ways to choose from", r->found.count);
  }
  tw_set *given = tw_alloc((size_t)cli->given_count + 1, sizeof *given);
  if (!given) {
    return TW_EXIT_INTERNAL;
  }
  const tw_exit code = tw_cli_read_options(cli, TW_NEED_ALL, given, &options);
  const tw_remedy *chosen = &r->found.remedy[r->apply - 1];
  if (code != TW_EXIT_DONE || !tw_remedy_words_make(r->s.study, r->levers, chosen, &words)) {
    tw_cli_free_sets(given, code == TW_EXIT_DONE ? options.set_count : 0);
    return code == TW_EXIT_DONE ? TW_EXIT_INTERNAL : code;
  }
  tw_messages *messages = tw_messages_new();
  const tw_status status =
      messages ? tw_design_write(r->s.design, words.count, words.set, &options, messages)
               : TW_NO_MEMORY;
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  for (size_t i = 0; i < words.count && status == TW_OK; i++) {
    fprintf(cli->err, "written to %s: %s: %s\n", tw_design_file(r->s.design), words.set[i].path,
            words.text[i]);
  }
  tw_cli_free_sets(given, options.set_count);
  tw_remedy_words_free(&words);
  return tw_exit_of(status);
}

/* ---- the verb ------------------------------------------------------------------------------ */

static tw_exit answer(remedy *r, tw_status status)
{
  tw_cli *cli = r->s.cli;
  r->document = tw_document_remedy(r->s.study, r->levers, &r->found);
  tw_exit code = r->found.met ? TW_EXIT_DONE : TW_EXIT_NOT_MET;
  if (tw_cli_has(cli, "json")) {
    json_t *document = r->document;
    r->document = NULL;
    const tw_exit printed = tw_cli_print_json(cli, document);
    code = printed == TW_EXIT_DONE ? code : printed;
  } else {
    print_text(r);
  }
  if (status == TW_CANCELLED) {
    fprintf(cli->err, "interrupted: this is what was found until then\n");
    return TW_EXIT_INTERRUPTED;
  }
  return r->apply > 0 ? apply(r) : code;
}

static tw_exit run(tw_cli *cli)
{
  remedy *r = tw_alloc(1, sizeof *r);
  if (!r) {
    return TW_EXIT_INTERNAL;
  }
  tw_fault fault = {0};
  tw_exit code = tw_cli_study_open_judged(cli, cli->operand[0], &r->s);
  if (code == TW_EXIT_DONE) {
    code = prepare(r);
  }
  if (code == TW_EXIT_DONE) {
    const tw_status status = search(r, &fault);
    code =
        status == TW_OK || status == TW_CANCELLED ? answer(r, status) : tw_cli_fault(cli, &fault);
  }
  json_decref(r->document);
  tw_levers_free(r->levers);
  tw_cli_study_close(&r->s);
  tw_free(r);
  return code;
}

static const tw_option options[] = {
    {"range", "PATH=A..B", "how far a value may be changed (a tenth to ten times)", true},
    {"keep", "NAMES", "parts or fields that stay as they are: board,housing", true},
    {"free", "PART", "a part that may be changed though it is ordered or in hand", true},
    {"safety", "SHARE", "the margin wanted of every requirement (ways aim at 5%)", false},
    {"yield", "SHARE", "the share of a batch that must be good, now and after", false},
    {"builds", "N", "builds from which --yield is judged (60)", false},
    {"wanted", "N", "go on to more changes together until there are N ways (1)", false},
    {"budget", "N", "about how many designs to try (1500)", false},
    {"apply", "N", "write the N-th way into the file", false},
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_remedy = {
    .name = "remedy",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "the smallest change that meets every requirement",
    .details = "Values that the file itself states and that belong to a part may move; resistors "
               "stay in their series. Parts that are ordered, in hand or fitted (parts.NAME.state) "
               "stay as they are. Single changes are tried first, then pairs, then triples.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
