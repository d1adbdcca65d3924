/* verb_expect.c: the bench card: what each test point should show, and what a wrong value means. */
#include "verb.h"

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

static tw_exit run(tw_cli *cli)
{
  tw_design *design = NULL;
  tw_exit code = tw_cli_design(cli, cli->operand[0], TW_NEED_ALL, &design);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  json_t *document = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_document_expect(design, &document, &fault);
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
                        "solvents have data\nsheets of their own; local rules go first.\n");
    }
    json_decref(document);
  }
  tw_design_free(design);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  return tw_cli_has(cli, "json") ? tw_cli_print_json(cli, document) : TW_EXIT_DONE;
}

const tw_verb tw_verb_expect = {
    .name = "expect",
    .operands = "FILE",
    .least = 1,
    .most = 1,
    .summary = "the bench card: what each test point should show, and what a wrong value means",
    .takes = TW_TAKES_JSON | TW_TAKES_CSV | TW_TAKES_DESIGN,
    .run = run,
};
