/* verb_order.c: how many pieces to order so that enough units are good. */
#include "batch_in.h"

static void print_parts(FILE *out, const json_t *d)
{
  const json_t *parts = json_object_get(d, "parts");
  fprintf(out, "\n%-22s%8s%8s%8s%8s%11s%12s\n", "part", "good", "in hand", "order", "buy", "pay",
          "lead time");
  for (size_t i = 0; i < json_array_size(parts); i++) {
    const json_t *p = json_array_get(parts, i);
    fprintf(out, "%-22.22s%8.0f%8.0f%8.0f%8.0f%11.2f%7.3g days\n", tw_text_of(p, "part"),
            tw_number_of(p, "need"), tw_number_of(p, "have"), tw_number_of(p, "order"),
            tw_number_of(p, "buy"), tw_number_of(p, "pay"),
            tw_number_of(json_object_get(p, "lead_time"), "value") / 86400);
  }
  fprintf(out, "%-22s%43.2f %s\n", "all", tw_number_of(d, "pay"), tw_text_of(d, "currency"));
  fprintf(out, "\ngood: pieces for all units that must enter the part's step; order: so many that\n"
               "enough of them can be used; buy: with packs and steps of the price.\n");
  fprintf(out, "Chance that everything is enough at once: %.1f %%%s.\n",
          100 * tw_number_of(d, "chance"),
          json_is_true(json_object_get(d, "cheapest_proven"))
              ? ""
              : "; a cheaper choice of numbers may exist");
}

static void print_steps(FILE *out, const json_t *d)
{
  const json_t *steps = json_object_get(d, "steps");
  fprintf(out, "\nUnits that must enter:");
  for (size_t i = 0; i < json_array_size(steps); i++) {
    const json_t *s = json_array_get(steps, i);
    fprintf(out, "%s %s %.0f", i ? "," : "", tw_text_of(s, "step"), tw_number_of(s, "enter"));
  }
  fprintf(out, ".\n");
}

static tw_exit run(tw_cli *cli)
{
  tw_cli_batch b = {0};
  tw_exit code = tw_cli_batch_open(cli, &b);
  if (code == TW_EXIT_DONE) {
    json_t *d = tw_document_order(b.s.design, b.batch, &b.basis);
    if (tw_cli_has(cli, "json")) {
      code = tw_cli_print_json(cli, d);
    } else {
      tw_cli_batch_head(cli->out, d);
      print_steps(cli->out, d);
      print_parts(cli->out, d);
      tw_cli_batch_idle(cli->out, d);
      json_decref(d);
    }
  }
  tw_cli_batch_close(&b);
  return code;
}

static const tw_option options[] = {
    TW_BATCH_OPTIONS,
    TW_STUDY_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_order = {
    .name = "order",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "how many pieces to order so that enough units are good",
    .details = "Counts the units that must start, and for each part the pieces that must be "
               "ordered, so that the wanted number is good with 95 % for all of them at once. "
               "parts.NAME.good (or seen_good and seen_bad) is the share of pieces that can be "
               "used; have, per_unit, pack, price and shipping count as well.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_DESIGN,
    .run = run,
};
