/* spread_winback.c: `spread`: what can still be set right when the parts are made. */
#include "spread_winback.h"

#include <string.h>

tw_exit tw_cli_winback_read(tw_cli_study *s, tw_cli_winback *out)
{
  tw_fault fault = {0};
  *out = (tw_cli_winback){0};
  if (!tw_cli_count(s->cli, "pair", 2, 200, &out->lot)) {
    return TW_EXIT_USAGE;
  }
  if (tw_cli_has(s->cli, "as-built") && out->lot > 0) {
    return tw_cli_usage(s->cli, "--pair and --as-built exclude each other");
  }
  const tw_status status = tw_study_adjustments(s->study, out->adjustment, &out->count, &fault);
  if (tw_cli_has(s->cli, "fast") && out->lot > 0) {
    return tw_cli_usage(s->cli, "--pair and --fast exclude each other: pairing needs the engine");
  }
  /* the tables of the fast level run along what varies, not along what is turned */
  if (tw_cli_has(s->cli, "as-built") || tw_cli_has(s->cli, "fast")) {
    out->count = 0; /* the inputs stay: a file of builds is the same with and without */
  }
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(s->cli, &fault);
}

/* ---- computing ----------------------------------------------------------------------------- */

static tw_status add_adjustments(tw_cli_study *s, const tw_cli_winback *w,
                                 const tw_winback_batch *batch, json_t *document, tw_fault *fault)
{
  tw_winback alone[TW_STUDY_ADJUSTMENTS], together;
  tw_status status = TW_OK;
  for (size_t k = 0; k < w->count && status == TW_OK; k++) {
    status = tw_winback_adjust(batch, &w->adjustment[k], 1, &s->progress, &alone[k], fault);
  }
  if (status == TW_OK && w->count > 1) {
    status = tw_winback_adjust(batch, w->adjustment, w->count, &s->progress, &together, fault);
  }
  if (status == TW_OK) {
    json_object_set_new(
        document, "win_back",
        tw_json_winback(s->study, w->adjustment, alone, w->count, w->count > 1 ? &together : NULL));
  }
  return status;
}

static tw_status add_pairing(tw_cli_study *s, const tw_cli_winback *w,
                             const tw_winback_batch *batch, json_t *document, tw_fault *fault)
{
  bool disc[TW_FIELD_COUNT], resistors[TW_FIELD_COUNT];
  tw_winback pairing;
  if (!tw_study_pairs(s->study, disc, resistors)) {
    return tw_fail(fault, TW_BAD_INPUT, NULL,
                   "give the disc's values a tolerance, or lists with --pieces",
                   "--pair: disc or resistors do not vary, so there is nothing to pair");
  }
  const tw_status status =
      tw_winback_pair(batch, disc, resistors, (size_t)w->lot, &s->progress, &pairing, fault);
  if (status == TW_OK) {
    json_object_set_new(json_object_get(document, "win_back"), "pairing",
                        tw_json_pairing(s->study, disc, resistors, (size_t)w->lot, &pairing));
  }
  return status;
}

tw_status tw_cli_winback_add(tw_cli_study *s, const tw_cli_winback *w, const tw_sampler *sampler,
                             const tw_builds *builds, json_t *document, tw_fault *fault)
{
  const tw_study_model model = tw_study_as_model(s->study);
  const tw_winback_batch batch = {.model = &model,
                                  .sampler = sampler,
                                  .builds = builds,
                                  .goals = s->study->goal,
                                  .goal_count = s->study->goals,
                                  .threads = s->study->level.threads};
  if ((w->count == 0 && w->lot == 0) || s->study->goals == 0) {
    return TW_OK;
  }
  tw_status status = add_adjustments(s, w, &batch, document, fault);
  if (status == TW_OK && w->lot > 0) {
    status = add_pairing(s, w, &batch, document, fault);
  }
  return status;
}

/* ---- printing ------------------------------------------------------------------------------ */

static long long whole(const json_t *object, const char *key)
{
  return (long long)json_integer_value(json_object_get(object, key));
}

static const char *text_of(const json_t *object, const char *key)
{
  const char *text = json_string_value(json_object_get(object, key));
  return text ? text : "";
}

static void print_share(FILE *out, const char *name, const json_t *one)
{
  fprintf(out, "  %-26s %-18s %5.1f %%  (%.1f .. %.1f %%)  %lld of %lld", name, "",
          100 * json_number_value(json_object_get(one, "share")),
          100 * json_number_value(json_object_get(one, "low")),
          100 * json_number_value(json_object_get(one, "high")), whole(one, "good"),
          whole(one, "builds"));
  if (whole(one, "evaluations") > 0) {
    fprintf(out, ", %lld evaluations", whole(one, "evaluations"));
  }
  fprintf(out, "\n");
}

static void print_adjustment(FILE *out, const json_t *one)
{
  print_share(out, text_of(one, "name"), one);
  fprintf(out, "    %s by -%s .. +%s in steps of %s", text_of(one, "field"),
          text_of(json_object_get(one, "down"), "shown"),
          text_of(json_object_get(one, "up"), "shown"),
          text_of(json_object_get(one, "step"), "shown"));
  if (json_is_object(json_object_get(one, "lowest"))) {
    fprintf(out, "; used %s .. %s", text_of(json_object_get(one, "lowest"), "shown"),
            text_of(json_object_get(one, "highest"), "shown"));
  }
  fprintf(out, "\n");
}

void tw_cli_winback_print(const tw_cli_study *s, const json_t *document)
{
  FILE *out = s->cli->out;
  const json_t *w = json_object_get(document, "win_back");
  const json_t *list = json_object_get(w, "adjustments"), *pairing = json_object_get(w, "pairing");
  if (!w) {
    return;
  }
  fprintf(out, "\nWhat can be set right at assembly: good afterwards (95 %% sure: between)\n");
  if (json_is_object(json_object_get(w, "as_built"))) {
    print_share(out, "as built", json_object_get(w, "as_built"));
  }
  for (size_t k = 0; k < json_array_size(list); k++) {
    print_adjustment(out, json_array_get(list, k));
  }
  if (whole(json_array_get(list, 0), "unknown") > 0) {
    fprintf(out, "  (%lld without an answer are left as they are)\n",
            whole(json_array_get(list, 0), "unknown"));
  }
  if (json_is_object(json_object_get(w, "together"))) {
    print_share(out, "all of these", json_object_get(w, "together"));
  }
  if (json_is_object(pairing)) {
    char name[64];
    snprintf(name, sizeof name, "pairing in lots of %lld", whole(pairing, "lot"));
    print_share(out, name, pairing);
    fprintf(out, "    discs with resistors (%zu and %zu values measured of each), as built %lld\n",
            json_array_size(json_object_get(pairing, "disc")),
            json_array_size(json_object_get(pairing, "resistors")), whole(pairing, "before"));
  }
}
