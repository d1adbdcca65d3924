/* spread_winback.c: `spread`: what can still be set right when the parts are made. */
#include "spread_winback.h"

#include <string.h>

tw_exit tw_cli_winback_read(tw_cli_study *s, tw_run_winback *out)
{
  tw_fault fault = {0};
  long lot = 0;
  *out = (tw_run_winback){0};
  if (!tw_cli_count(s->cli, "pair", 2, 200, &lot)) {
    return TW_EXIT_USAGE;
  }
  out->lot = (size_t)lot;
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

/* ---- printing ------------------------------------------------------------------------------ */

static long long whole(const json_t *object, const char *key)
{
  return (long long)json_integer_value(json_object_get(object, key));
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
  print_share(out, tw_text_of(one, "name"), one);
  fprintf(out, "    %s by -%s .. +%s in steps of %s", tw_text_of(one, "field"),
          tw_text_of(json_object_get(one, "down"), "shown"),
          tw_text_of(json_object_get(one, "up"), "shown"),
          tw_text_of(json_object_get(one, "step"), "shown"));
  if (json_is_object(json_object_get(one, "lowest"))) {
    fprintf(out, "; used %s .. %s", tw_text_of(json_object_get(one, "lowest"), "shown"),
            tw_text_of(json_object_get(one, "highest"), "shown"));
  }
  fprintf(out, "\n");
}

/* which disc to which board; long lists are for --json */
static void print_pairs(FILE *out, const json_t *pairs)
{
  enum { SHOWN = 48, ON_A_LINE = 3 };
  const size_t count = json_array_size(pairs);
  fprintf(out, "    Which disc goes to which board (build numbers; ! misses a requirement)");
  for (size_t i = 0; i < count && i < SHOWN; i++) {
    const json_t *one = json_array_get(pairs, i);
    char text[64];
    snprintf(text, sizeof text, "disc %lld to board %lld%s", whole(one, "disc"),
             whole(one, "board"), json_is_true(json_object_get(one, "good")) ? "" : " !");
    fprintf(out, "%s%-24s", i % ON_A_LINE ? " " : "\n      ", text);
  }
  if (count > SHOWN) {
    fprintf(out, "\n      %zu more: --json lists them all", count - SHOWN);
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
    print_pairs(out, json_object_get(pairing, "pairs"));
  }
}
