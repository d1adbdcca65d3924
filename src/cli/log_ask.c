/* log_ask.c: what a workshop asks its log. */
#include "log_parts.h"

#include "tripwright/logbook_ask.h"

#include <string.h>

/* ---- lists of entries ------------------------------------------------------------------------ */

/* entries that fit, under a title; the document has the same */
static tw_exit list_entries(tw_cli *cli, const char *word, const char *title,
                            const tw_log_filter *filter)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  const tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const bool json = tw_cli_has(cli, "json");
  tw_log_list list = {
      .cli = cli, .rows = json ? json_array() : NULL, .ids = tw_cli_has(cli, "ids"), .units = true};
  if (!json) {
    fprintf(cli->out, "%s\n", title);
  }
  const tw_status status = tw_logbook_each(log, filter, tw_log_list_entry, &list, &fault);
  tw_logbook_close(log);
  if (status != TW_OK) {
    json_decref(list.rows);
    return tw_cli_fault(cli, &fault);
  }
  if (json) {
    json_t *document = tw_log_document(cli, word);
    json_object_set_new(document, "entries", list.rows);
    return tw_cli_print_json(cli, document);
  }
  if (list.count == 0) {
    fprintf(cli->out, "  nothing in the log\n");
  }
  return TW_EXIT_DONE;
}

tw_exit tw_log_lot(tw_cli *cli)
{
  char title[120];
  const tw_log_filter filter = {.lot = tw_log_operand(cli, 0), .current = true};
  snprintf(title, sizeof title, "Lot %.100s", filter.lot);
  return list_entries(cli, "lot", title, &filter);
}

tw_exit tw_log_fault(tw_cli *cli)
{
  char title[120];
  const tw_log_filter filter = {.fault = tw_log_operand(cli, 0), .current = true};
  snprintf(title, sizeof title, "Fault: %.100s", filter.fault);
  return list_entries(cli, "fault", title, &filter);
}

tw_exit tw_log_instrument(tw_cli *cli)
{
  char title[120];
  const char *name = tw_log_operand(cli, 0);
  const tw_log_filter filter = {.instrument = name, .wrong_instrument = !name, .current = true};
  snprintf(title, sizeof title, name ? "Read with %.100s" : "Read with an instrument found wrong",
           name);
  return list_entries(cli, "instrument", title, &filter);
}

/* ---- one figure over all units --------------------------------------------------------------- */

static json_t *piece_json(const tw_log_piece *p)
{
  json_t *row = json_pack("{s:s, s:f, s:f, s:I}", "piece", p->piece, "value", p->value, "u", p->u,
                          "readings", (json_int_t)p->readings);
  if (p->has_foreseen) {
    json_object_set_new(row, "foreseen", json_real(p->foreseen));
    json_object_set_new(row, "u_foreseen", json_real(p->u_foreseen));
  }
  return row;
}

static bool note_unit(void *self, const tw_log_entry *entry)
{
  char *unit = self;
  const char *text = json_string_value(json_object_get(entry->body, "unit_of_value"));
  snprintf(unit, 16, "%.15s", text ? text : "1");
  return !text;
}

tw_exit tw_log_pieces_of(tw_cli *cli, tw_log_pieces *out)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  *out = (tw_log_pieces){.measure = tw_log_operand(cli, 0), .unit = "1"};
  const tw_log_filter filter = {.measure = out->measure,
                                .revision = tw_cli_text(cli, "revision", NULL),
                                .lot = tw_cli_text(cli, "lot", NULL)};
  const tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  tw_status status = tw_logbook_pieces(log, &filter, &out->row, &out->count, &fault);
  const tw_log_filter any = {.measure = out->measure};
  status = status == TW_OK ? tw_logbook_each(log, &any, note_unit, out->unit, &fault) : status;
  tw_logbook_close(log);
  if (status == TW_OK && out->count == 0) {
    status = tw_fail(&fault, TW_BAD_INPUT, "", "log history shows what there is",
                     "the log has no reading of %.60s", out->measure);
  }
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

tw_exit tw_log_measured(tw_cli *cli)
{
  tw_log_pieces p;
  const tw_exit code = tw_log_pieces_of(cli, &p);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  double *x = tw_alloc(p.count, sizeof *x);
  tw_moments m = {.n = p.count};
  json_t *rows = tw_cli_has(cli, "json") ? json_array() : NULL;
  char text[48];
  for (size_t i = 0; x && i < p.count; i++) {
    x[i] = p.row[i].value;
    if (rows) {
      json_array_append_new(rows, piece_json(&p.row[i]));
    } else {
      fprintf(cli->out, "%-8s %s\n", p.row[i].piece, tw_show(x[i], p.unit, text, sizeof text));
    }
  }
  const bool spread = x && p.count > 1 && tw_moments_of(x, p.count, 0.95, &m, NULL) == TW_OK;
  tw_exit result = TW_EXIT_DONE;
  if (rows) {
    json_t *document = tw_log_document(cli, "measured");
    json_object_set_new(document, "measure", json_string(p.measure));
    json_object_set_new(document, "unit", json_string(p.unit));
    json_object_set_new(document, "mean", spread ? json_real(m.mean) : json_null());
    json_object_set_new(document, "s", spread ? json_real(m.s) : json_null());
    json_object_set_new(document, "pieces", rows);
    result = tw_cli_print_json(cli, document);
  } else if (spread) {
    char s[48];
    fprintf(cli->out, "%zu pieces: mean %s, s %s\n", p.count,
            tw_show(m.mean, p.unit, text, sizeof text), tw_show(m.s, p.unit, s, sizeof s));
  }
  tw_free(x);
  tw_free(p.row);
  return result;
}

/* ---- tests, hours, open units ---------------------------------------------------------------- */

static json_t *interval_json(tw_interval i)
{
  return json_pack("[f, f]", i.low, i.high);
}

static void say_yield(FILE *out, const tw_log_yield *y)
{
  fprintf(out, "%-12s %-8s %zu of %zu: %.0f %%  (exact %.0f .. %.0f, Jeffreys %.0f .. %.0f)\n",
          y->step, y->month, y->passed, y->units, 100.0 * (double)y->passed / (double)y->units,
          100.0 * y->exact.low, 100.0 * y->exact.high, 100.0 * y->jeffreys.low,
          100.0 * y->jeffreys.high);
}

/* the product over steps; rows over all months */
static double rolled(const tw_log_yield *row, size_t count)
{
  double share = 1.0;
  for (size_t i = 0; i < count; i++) {
    share *= (double)row[i].passed / (double)row[i].units;
  }
  return share;
}

tw_exit tw_log_yields(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_log_yield *row = NULL, *all = NULL;
  size_t count = 0, steps = 0;
  tw_fault fault = {0};
  const tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  tw_status status = tw_logbook_yield(log, true, &row, &count, &fault);
  status = status == TW_OK ? tw_logbook_yield(log, false, &all, &steps, &fault) : status;
  tw_logbook_close(log);
  json_t *rows = tw_cli_has(cli, "json") ? json_array() : NULL;
  tw_exit result = status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
  for (size_t i = 0; status == TW_OK && i < count; i++) {
    if (rows) {
      json_array_append_new(
          rows, json_pack("{s:s, s:s, s:I, s:I, s:o, s:o}", "step", row[i].step, "month",
                          row[i].month, "units", (json_int_t)row[i].units, "passed",
                          (json_int_t)row[i].passed, "clopper_pearson", interval_json(row[i].exact),
                          "jeffreys", interval_json(row[i].jeffreys)));
    } else {
      say_yield(cli->out, &row[i]);
    }
  }
  if (status == TW_OK && rows) {
    json_t *document = tw_log_document(cli, "yield");
    json_object_set_new(document, "level", json_real(TW_LEARN_LEVEL));
    json_object_set_new(document, "rows", rows);
    json_object_set_new(document, "rolled", steps ? json_real(rolled(all, steps)) : json_null());
    result = tw_cli_print_json(cli, document);
  } else if (status == TW_OK && steps == 0) {
    fprintf(cli->out, "The log has no test of a unit.\n");
  } else if (status == TW_OK) {
    fprintf(cli->out, "Through all %zu step%s at the first test: %.0f %%\n", steps,
            steps == 1 ? "" : "s", 100.0 * rolled(all, steps));
  }
  tw_free(row);
  tw_free(all);
  return result;
}

tw_exit tw_log_hours_word(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_log_hours *row = NULL;
  size_t count = 0;
  tw_fault fault = {0};
  const tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status = tw_logbook_hours(log, &row, &count, &fault);
  tw_logbook_close(log);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  json_t *rows = tw_cli_has(cli, "json") ? json_array() : NULL;
  for (size_t i = 0; i < count; i++) {
    if (rows) {
      json_array_append_new(rows, json_pack("{s:s, s:I, s:f, s:f}", "step", row[i].step, "entries",
                                            (json_int_t)row[i].entries, "hours", row[i].real,
                                            "hours_foreseen", row[i].foreseen));
    } else {
      fprintf(cli->out, "%-16s %.4g h in %zu entries, foreseen %.4g h\n",
              row[i].step[0] ? row[i].step : "no step named", row[i].real, row[i].entries,
              row[i].foreseen);
    }
  }
  tw_free(row);
  if (rows) {
    json_t *document = tw_log_document(cli, "hours");
    json_object_set_new(document, "rows", rows);
    return tw_cli_print_json(cli, document);
  }
  if (count == 0) {
    fprintf(cli->out, "The log has no hours.\n");
  }
  return TW_EXIT_DONE;
}

static void say_open(FILE *out, const tw_log_open *o)
{
  fprintf(out, "%-8s since %.10s, last entry %.10s", o->unit, o->since, o->last);
  if (o->failed[0]) {
    fprintf(out, ": waits for %s to pass\n", o->failed);
  } else {
    fprintf(out, ": %s\n", o->returned ? "came back" : "waits for its next step");
  }
}

tw_exit tw_log_open_word(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_log_open *row = NULL;
  size_t count = 0;
  tw_fault fault = {0};
  const tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status = tw_logbook_open_units(log, &row, &count, &fault);
  tw_logbook_close(log);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  json_t *rows = tw_cli_has(cli, "json") ? json_array() : NULL;
  for (size_t i = 0; i < count; i++) {
    if (rows) {
      json_array_append_new(rows, json_pack("{s:s, s:s, s:s, s:s?, s:b}", "unit", row[i].unit,
                                            "since", row[i].since, "last", row[i].last, "failed",
                                            row[i].failed[0] ? row[i].failed : NULL, "returned",
                                            row[i].returned));
    } else {
      say_open(cli->out, &row[i]);
    }
  }
  tw_free(row);
  if (rows) {
    json_t *document = tw_log_document(cli, "open");
    json_object_set_new(document, "units", rows);
    return tw_cli_print_json(cli, document);
  }
  if (count == 0) {
    fprintf(cli->out, "Every unit that was begun has left.\n");
  }
  return TW_EXIT_DONE;
}

/* ---- returns --------------------------------------------------------------------------------- */

static bool collect_unit(void *self, const tw_log_entry *entry)
{
  json_t *units = self;
  return !entry->unit ||
         (!json_object_get(units, entry->unit) &&
          json_object_set_new(units, entry->unit, json_array()) == 0) ||
         json_object_get(units, entry->unit);
}

tw_exit tw_log_returns(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const bool json = tw_cli_has(cli, "json");
  json_t *units = json_object(), *entries;
  const char *unit;
  const tw_log_filter returned = {.kind = tw_log_kind_word(TW_LOG_RETURNED), .current = true};
  tw_status status = tw_logbook_each(log, &returned, collect_unit, units, &fault);
  json_object_foreach(units, unit, entries)
  {
    tw_log_list list = {.cli = cli, .rows = json ? entries : NULL, .ids = tw_cli_has(cli, "ids")};
    const tw_log_filter of_unit = {.unit = unit, .current = true};
    if (!json) {
      fprintf(cli->out, "Unit %s\n", unit);
    }
    status =
        status == TW_OK ? tw_logbook_each(log, &of_unit, tw_log_list_entry, &list, &fault) : status;
  }
  tw_logbook_close(log);
  const size_t count = json_object_size(units);
  if (status != TW_OK) {
    code = tw_cli_fault(cli, &fault);
  } else if (json) {
    json_t *document = tw_log_document(cli, "returns");
    json_object_set(document, "units", units);
    code = tw_cli_print_json(cli, document);
  } else if (count == 0) {
    fprintf(cli->out, "Nothing came back.\n");
  }
  json_decref(units);
  return code;
}

/* ---- what was never read --------------------------------------------------------------------- */

static bool mark_read(void *self, const tw_log_entry *entry)
{
  json_t *open = self;
  const char *measure = json_string_value(json_object_get(entry->body, "measure"));
  if (measure) {
    (void)json_object_del(open, measure);
  }
  return true;
}

/* names of the bench card's checks that have a figure or a word, each with its title */
static tw_exit card_checks(tw_cli *cli, const char *file, json_t *open)
{
  tw_design *design = NULL;
  json_t *card = NULL;
  tw_fault fault = {0};
  size_t i;
  json_t *check;
  const tw_exit code = tw_cli_design(cli, file, TW_NEED_ALL, &design);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status = tw_document_expect(design, &card, &fault);
  tw_design_free(design);
  json_array_foreach(json_object_get(card, "checks"), i, check)
  {
    if (json_object_get(check, "word") || json_is_number(json_object_get(check, "value"))) {
      json_object_set_new(open, tw_text_of(check, "check"),
                          json_string(tw_text_of(check, "title")));
    }
  }
  json_decref(card);
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

tw_exit tw_log_unread(tw_cli *cli)
{
  const char *unit = tw_log_operand(cli, 0), *name;
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  json_t *open = json_object(), *title;
  tw_exit code = card_checks(cli, tw_log_operand(cli, 1), open);
  code = code == TW_EXIT_DONE ? tw_cli_log_open(cli, false, &log) : code;
  if (code == TW_EXIT_DONE) {
    const tw_log_filter filter = {
        .unit = unit, .kind = tw_log_kind_word(TW_LOG_READING), .current = true};
    const tw_status status = tw_logbook_each(log, &filter, mark_read, open, &fault);
    code = status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
  }
  tw_logbook_close(log);
  if (code == TW_EXIT_DONE && tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, "unread");
    json_object_set_new(document, "unit", json_string(unit));
    json_object_set(document, "checks", open);
    code = tw_cli_print_json(cli, document);
  } else if (code == TW_EXIT_DONE) {
    fprintf(cli->out, "Unit %s: %zu check%s of the bench card never read\n", unit,
            json_object_size(open), json_object_size(open) == 1 ? "" : "s");
    json_object_foreach(open, name, title)
    {
      fprintf(cli->out, "  %-22s %s\n", name, json_string_value(title));
    }
  }
  json_decref(open);
  return code;
}
