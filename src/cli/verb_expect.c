/* verb_expect.c: the bench card: what each test point should show, and what a wrong value means. */
#include "bench_in.h"
#include "log_enter.h"

#include <math.h>
#include <string.h>

static void show_band(const json_t *row, const char *value, const char *band, const char *beside,
                      char *out, size_t size)
{
  const json_t *ends = json_object_get(row, band), *other = json_object_get(row, beside);
  const char *unit = tw_text_of(row, "unit");
  char a[40], b[40], c[40];
  tw_show(tw_number_of(row, value), unit, a, sizeof a);
  tw_show(json_number_value(json_array_get(ends, 0)), unit, b, sizeof b);
  tw_show(json_number_value(json_array_get(ends, 1)), unit, c, sizeof c);
  snprintf(out, size, "%s%s%s  (%s .. %s)", a, other ? ", that is " : "", tw_text_of(other, "text"),
           b, c);
}

static void print_row(FILE *out, const json_t *row, size_t number)
{
  char text[160];
  fprintf(out, "%2zu. %s\n", number, tw_text_of(row, "title"));
  fprintf(out, "    at %s, with %s", tw_text_of(row, "point"), tw_text_of(row, "instrument"));
  fprintf(out, "%s%s\n", tw_text_of(row, "setting")[0] ? ": " : "", tw_text_of(row, "setting"));
  if (json_object_get(row, "word")) {
    fprintf(out, "    expect %s\n", tw_text_of(row, "word"));
  } else if (json_is_null(json_object_get(row, "value"))) {
    fprintf(out, "    no figure: %s\n", tw_text_of(row, "why"));
  } else {
    show_band(row, "value", "band", "beside", text, sizeof text);
    fprintf(out, "    expect %s\n", text);
  }
  if (json_object_get(row, "shown")) {
    show_band(row, "shown", "shown_band", "shown_beside", text, sizeof text);
    fprintf(out, "    the instrument will show %s: %s\n", text, tw_text_of(row, "loading"));
  }
  if (json_object_get(row, "measured")) {
    fprintf(out, "    measured on this unit: %s, %s\n",
            tw_show(tw_number_of(row, "measured"), tw_text_of(row, "unit"), text, sizeof text),
            tw_text_of(row, "reads"));
  }
  if (json_object_get(row, "read")) {
    fprintf(out, "    read: %s, %s\n", tw_text_of(row, "read"), tw_text_of(row, "read_is"));
  }
  if (tw_text_of(row, "if_low")[0]) {
    fprintf(out, "    if low:  %s\n", tw_text_of(row, "if_low"));
  }
  if (tw_text_of(row, "if_high")[0]) {
    fprintf(out, "    if high: %s\n", tw_text_of(row, "if_high"));
  }
  if (tw_text_of(row, "note")[0]) {
    fprintf(out, "    %s\n", tw_text_of(row, "note"));
  }
}

static void print_csv(FILE *out, const json_t *rows)
{
  fprintf(out, "check,value,low,high,unit,shown\n");
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *r = json_array_get(rows, i), *band = json_object_get(r, "band");
    if (json_object_get(r, "word")) {
      fprintf(out, "%s,%s,,,,\n", tw_text_of(r, "check"), tw_text_of(r, "word"));
    } else if (band) {
      fprintf(out, "%s,%.9g,%.9g,%.9g,%s,", tw_text_of(r, "check"), tw_number_of(r, "value"),
              json_number_value(json_array_get(band, 0)),
              json_number_value(json_array_get(band, 1)), tw_text_of(r, "unit"));
      if (json_object_get(r, "shown")) {
        fprintf(out, "%.9g", tw_number_of(r, "shown"));
      }
      fprintf(out, "\n");
    } else {
      fprintf(out, "%s,,,,%s,\n", tw_text_of(r, "check"), tw_text_of(r, "unit"));
    }
  }
}

/* ---- what was read ------------------------------------------------------------------------- */

/* outside of where a good unit may lie, by more than the reading may be off */
static tw_reads judge(const tw_bench_reading *r, const tw_bench_shown *s)
{
  if (r->kind == TW_READ_WORD) {
    return s->word && strcmp(s->word, r->word) == 0 ? TW_READS_AS_EXPECTED : TW_READS_OTHER;
  }
  if (r->kind == TW_READ_NONE || !s->known) {
    return TW_READS_OTHER;
  }
  const double off = 2.0 * r->u;
  return r->value < s->low - off    ? TW_READS_LOW
         : r->value > s->high + off ? TW_READS_HIGH
                                    : TW_READS_AS_EXPECTED;
}

/* "spring scale or kitchen scale" of an instrument that goes on to say how */
static json_t *instrument_of(const tw_bench_check *c)
{
  return json_stringn(c->instrument, strcspn(c->instrument, ":"));
}

/* the row of the document gets what was read, the log an entry with what was expected */
static void put_reading(json_t *rows, const tw_bench_check *c, const tw_bench_reading *r,
                        const char *raw, const tw_bench_shown *s, tw_log_entering *e)
{
  size_t i;
  json_t *row;
  json_array_foreach(rows, i, row)
  {
    if (strcmp(tw_text_of(row, "check"), c->name) == 0) {
      json_object_set_new(row, "read", json_string(raw));
      json_object_set_new(row, "read_is", json_string(tw_reads_text(judge(r, s))));
    }
  }
  if (r->kind == TW_READ_NUMBER) {
    json_t *body = tw_cli_log_figure(e, c->name, r->value, c->unit, r->u);
    if (body && s->known) {
      json_object_set_new(body, "foreseen", json_real(s->value));
      json_object_set_new(body, "u_foreseen", json_real((s->high - s->low) / 4.0));
    }
    json_object_set_new(body, "raw", json_string(raw));
    json_object_set_new(body, "instrument", instrument_of(c));
  } else {
    json_t *body =
        json_pack("{s:s, s:s, s:o}", "measure", c->name, "value",
                  r->kind == TW_READ_WORD ? r->word : "none", "instrument", instrument_of(c));
    tw_cli_log_other(e, "reading", body);
  }
}

/* --read and --readings against the card */
static tw_exit take_readings(tw_cli *cli, const tw_design *design, json_t *document)
{
  tw_bench_card *card = tw_alloc(1, sizeof *card);
  tw_bench_shown *shown = tw_alloc(TW_BENCH_COUNT, sizeof *shown);
  tw_bench_in read = {.cli = cli, .card = card};
  tw_fault fault = {0};
  tw_status status = card && shown ? tw_bench_card_from(design, NULL, 0, card, &fault)
                                   : tw_fail(&fault, TW_NO_MEMORY, "", "", "out of memory");
  tw_exit code =
      status == TW_OK && tw_cli_units(cli) ? tw_bench_in_read(&read) : tw_cli_fault(cli, &fault);
  if (code == TW_EXIT_DONE) {
    tw_log_entering *e = tw_cli_log_begin(cli);
    tw_bench_shown_of(card, shown);
    for (size_t k = 0; k < read.readings; k++) {
      const tw_bench_id id = read.reading[k].id;
      put_reading(json_object_get(document, "checks"), tw_bench_find(card, id), &read.reading[k],
                  read.raw[k], &shown[id], e);
    }
    code = tw_cli_log_enter(cli, e, NULL);
  }
  tw_free(read.file);
  tw_free(card);
  tw_free(shown);
  return code;
}

static bool options_fit(const tw_cli *cli)
{
  if (tw_cli_has(cli, "log") && !tw_cli_has(cli, "read") && !tw_cli_has(cli, "readings")) {
    tw_cli_usage(cli, "--log enters what was read: give --read or --readings");
    return false;
  }
  return tw_cli_log_options(cli);
}

static tw_exit run(tw_cli *cli)
{
  if (!options_fit(cli)) {
    return TW_EXIT_USAGE;
  }
  tw_design *design = NULL;
  tw_exit code = tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &design);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  json_t *document = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_document_expect(design, &document, &fault);
  if (status == TW_OK && document && (tw_cli_has(cli, "read") || tw_cli_has(cli, "readings"))) {
    code = take_readings(cli, design, document);
    if (code != TW_EXIT_DONE && code != TW_EXIT_FILE) { /* what is not in the log is still shown */
      json_decref(document);
      tw_design_free(design);
      return code;
    }
  }
  if (status == TW_OK && document && !tw_cli_has(cli, "json")) {
    const json_t *rows = json_object_get(document, "checks");
    if (tw_cli_has(cli, "csv")) {
      print_csv(cli->out, rows);
    } else {
      fprintf(cli->out,
              "Bench card: %s\nIn brackets: where a good unit may lie (tolerances, catalogue "
              "scatter).\n\n",
              tw_design_name(design));
      if (tw_cli_print_state(cli->out, document, "")) {
        fprintf(cli->out, "\n");
      }
      for (size_t i = 0; i < json_array_size(rows); i++) {
        print_row(cli->out, json_array_get(rows, i), i + 1);
      }
      fprintf(cli->out, "\nDisconnect the supply before you solder. Lithium cells, adhesives and "
                        "solvents have data sheets of their own; local rules go first.\n");
    }
    json_decref(document);
  }
  tw_design_free(design);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  const tw_exit printed = tw_cli_has(cli, "json") ? tw_cli_print_json(cli, document) : TW_EXIT_DONE;
  return code == TW_EXIT_DONE ? printed : code;
}

static const tw_option options[] = {
    TW_BENCH_IN_OPTIONS,
    TW_LOG_ENTER_OPTIONS,
    {NULL, NULL, NULL, false},
};

const tw_verb tw_verb_expect = {
    .name = "expect",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "the bench card: what each test point should show, and what a wrong value means",
    .details = "With --read or --readings what was read stands beside what was expected; --log "
               "enters it into the unit log.",
    .options = options,
    .takes = TW_TAKES_JSON | TW_TAKES_CSV | TW_TAKES_DESIGN,
    .run = run,
};
