/* spread_print.c: a batch in words: how many are good, between what values, what fails and why. */
#include "spread_print.h"

#include <math.h>
#include <string.h>

tw_exit tw_cli_spread_verdict(const tw_cli_spread *p)
{
  const json_t *all = json_object_get(json_object_get(p->document, "yield"), "all");
  return p->s.study->goals > 0 && tw_number_of(all, "builds") > 0 && tw_number_of(all, "good") < 1
             ? TW_EXIT_NOT_MET
             : TW_EXIT_DONE;
}

static void print_share(FILE *out, const char *name, const char *text, const json_t *share)
{
  fprintf(out, "  %-24s %-13s %5.1f %% (%.1f .. %.1f %%) %lld of %lld\n", name, text,
          100 * tw_number_of(share, "share"), 100 * tw_number_of(share, "low"),
          100 * tw_number_of(share, "high"),
          (long long)json_integer_value(json_object_get(share, "good")),
          (long long)json_integer_value(json_object_get(share, "builds")));
}

static void print_yield(const tw_cli_spread *p)
{
  FILE *out = p->s.cli->out;
  const json_t *yield = json_object_get(p->document, "yield");
  const json_t *each = json_object_get(yield, "each");
  fprintf(out, "\nHow many are good (95 %% sure: between)\n");
  for (size_t i = 0; i < json_array_size(each); i++) {
    const json_t *one = json_array_get(each, i);
    print_share(out, tw_text_of(one, "measure"), tw_text_of(one, "text"), one);
  }
  print_share(out, p->s.study->nominal.left_out ? "all that are judged" : "all of them", "",
              json_object_get(yield, "all"));
}

static void print_quantile(const tw_cli_spread *p, tw_measure_id id, const json_t *q)
{
  char value[64], low[64], high[64];
  tw_cli_figure(&p->s, id, json_object_get(q, "value"), value, sizeof value);
  if (json_is_null(json_object_get(q, "low"))) {
    fprintf(p->s.cli->out, "   %5.0f %%  %-12s (an interval needs %lld builds)\n",
            100 * tw_number_of(q, "p"), value,
            (long long)json_integer_value(json_object_get(q, "needed")));
    return;
  }
  tw_cli_figure(&p->s, id, json_object_get(q, "low"), low, sizeof low);
  tw_cli_figure(&p->s, id, json_object_get(q, "high"), high, sizeof high);
  fprintf(p->s.cli->out, "   %5.0f %%  %-12s (%s .. %s)\n", 100 * tw_number_of(q, "p"), value, low,
          high);
}

static void print_measures(const tw_cli_spread *p)
{
  FILE *out = p->s.cli->out;
  const json_t *list = json_object_get(p->document, "measures");
  fprintf(out, "\nWhat share of the builds stays under (95 %% sure: between)\n");
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i);
    const tw_measure_id id = tw_measure_find(tw_text_of(one, "name"));
    if (!tw_cli_wanted(&p->s, id)) {
      continue;
    }
    fprintf(out, "  %s", tw_text_of(one, "name"));
    static const char *const state[] = {"no_trip",        "tripped_at_rest", "stuck",
                                        "does_not_rearm", "no_answer",       "not_applicable"};
    static const char *const says[] = {"do not trip",        "tripped at rest",
                                       "stuck once tripped", "do not re-arm",
                                       "without an answer",  "to which it does not apply"};
    for (size_t k = 0; k < sizeof state / sizeof state[0]; k++) {
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
static void print_coarse_builds(const tw_cli_spread *p, const json_t *coarse)
{
  const json_t *builds = json_object_get(coarse, "builds");
  if (!json_is_object(builds)) {
    return;
  }
  const double most = tw_number_of(builds, "share"), n = tw_number_of(builds, "compared");
  char text[120] = "within 0.01 % of";
  if (most >= 1e-4) {
    snprintf(text, sizeof text, "up to %.2g %% (%s) from", 100 * most,
             tw_text_of(builds, "measure"));
  }
  fprintf(p->s.cli->out,
          "In %.0f build%s the worst of %d azimuths is %s the worst of %.0f; %.0f would be judged "
          "otherwise.\n",
          n, n == 1 ? "" : "s", p->s.study->level.azimuths, text, tw_number_of(coarse, "against"),
          tw_number_of(builds, "judged_otherwise"));
}

static void print_failures(const tw_cli_spread *p)
{
  FILE *out = p->s.cli->out;
  const json_t *list = json_object_get(p->document, "failures");
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i), *fields = json_object_get(one, "fields");
    const long long failing = (long long)json_integer_value(json_object_get(one, "failing"));
    fprintf(out, "%s  %s: %lld build%s", i == 0 ? "\nWhat the failed builds have in common\n" : "",
            tw_text_of(one, "measure"), failing, failing == 1 ? "" : "s");
    for (size_t k = 0; k < json_array_size(fields); k++) {
      const json_t *f = json_array_get(fields, k);
      fprintf(out, "%s%s %s by %.1f deviations", k ? ", " : ": ", tw_text_of(f, "field"),
              tw_number_of(f, "shift") > 0 ? "large" : "small", fabs(tw_number_of(f, "shift")));
    }
    fprintf(out, "\n");
  }
  if (tw_cli_spread_verdict(p) != TW_EXIT_DONE) {
    fprintf(out,
            "  No build is good: `tripwright check` shows the design itself, `tripwright remedy` "
            "looks for the smallest change.\n");
  }
  const json_t *why = json_object_get(p->document, "impossible");
  if (json_is_object(why)) {
    fprintf(out, "\nBuild %lld has no answer at all: %s%s%s\n",
            (long long)json_integer_value(json_object_get(why, "build")), tw_text_of(why, "field"),
            tw_text_of(why, "field")[0] ? ": " : "", tw_text_of(why, "text"));
  }
  const json_t *unanswered = json_object_get(p->document, "unanswered");
  for (size_t i = 0; i < json_array_size(unanswered); i++) {
    const json_t *one = json_array_get(unanswered, i);
    fprintf(out, "%s  %s: %.0f build%s without an answer, counted as not good; build %.0f: %s\n",
            i == 0 ? "\nWhat could not be computed\n" : "", tw_text_of(one, "measure"),
            tw_number_of(one, "builds"), tw_number_of(one, "builds") == 1 ? "" : "s",
            tw_number_of(one, "build"), tw_text_of(one, "text"));
  }
  const json_t *coarse = json_object_get(p->document, "coarseness");
  if (json_is_object(coarse)) {
    const double share = tw_number_of(coarse, "share");
    fprintf(out, "\nFor the design itself these %d azimuths in fixed load steps are ",
            p->s.study->level.azimuths);
    if (share < 1e-4) {
      fprintf(out, "no different from 24 azimuths in fine ones (under 0.01 %% in any "
                   "requirement).\n");
    } else {
      fprintf(out,
              "%.2g %% from 24 azimuths in fine ones in %s, more than in any other requirement.\n",
              100 * share, tw_text_of(coarse, "measure"));
    }
    print_coarse_builds(p, coarse);
  }
}

/* fields drawn among pieces, or from a grade whose better pieces are gone */
static void print_lists(const tw_cli_spread *p)
{
  const json_t *list = json_object_get(p->document, "inputs");
  FILE *out = p->s.cli->out;
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i);
    const char *law = tw_text_of(one, "law");
    const bool bin = strcmp(law, "bin") == 0;
    if (bin || strcmp(law, "measured") == 0 || strcmp(law, "discrete") == 0) {
      fprintf(out, "  %s: %s\n", tw_text_of(one, "field"),
              bin ? "of a grade from which the better pieces were already picked out"
                  : "drawn among the pieces of --pieces");
    }
  }
}

/* fields whose mean the shop file's processes shift */
static void print_processes(const tw_cli_spread *p)
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
              tw_text_of(one, "field"), tw_text_of(one, "process"),
              tw_number_of(offset, "value") > 0 ? "+" : "", tw_text_of(offset, "shown"),
              json_is_true(json_object_get(one, "spread_of_process")) ? ", spread of the process"
                                                                      : "");
      any = true;
    }
  }
}

/* what the fast level leaves out, as far as it was seen */
static void print_fast(const tw_cli_spread *p)
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
      tw_number_of(fast, "checked"), tw_number_of(fast, "engine_builds"));
  for (size_t i = 0; i < json_array_size(list); i++) {
    const json_t *one = json_array_get(list, i);
    fprintf(out, "  %-26s half within %.2g %%, 95 of 100 within %.2g %%, all within %.2g %%\n",
            tw_text_of(one, "measure"), 100 * tw_number_of(one, "median"),
            100 * tw_number_of(one, "p95"), 100 * tw_number_of(one, "largest"));
  }
  fprintf(out, "  judged otherwise than by the engine: %.0f of %.0f\n",
          tw_number_of(fast, "judged_otherwise"),
          tw_number_of(fast, "checked") - tw_number_of(fast, "unseen"));
  if (tw_number_of(fast, "unseen") > 0) {
    fprintf(
        out,
        "  %.0f trip or answer otherwise than the middle of the batch, which the fast level cannot "
        "see: use the engine\n",
        tw_number_of(fast, "unseen"));
  }
}

tw_exit tw_cli_spread_print(const tw_cli_spread *p)
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
  tw_cli_study_left_out(cli->out, &p->s.study->nominal, "");
  fprintf(cli->out, "%zu build%s (%ld .. %ld of seed %ld, %zu values vary); %s\n", done,
          done == 1 ? "" : "s", p->first, p->first + p->count - 1, p->seed, varying,
          tw_text_of(p->document, "level"));
  print_lists(p);
  print_processes(p);
  tw_cli_print_assumed(cli->out, p->s.study);
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
