/* log_enter.c: results of other verbs on their way into the log. */
#include "log_enter.h"

#include "tripwright/logbook.h"

#include <math.h>
#include <string.h>

enum { FIGURES_MOST = 400 };

/* 95 % of a normal law lies within so many standard deviations */
#define NORMAL_95 1.959963984540054

struct tw_log_entering {
  size_t count;
  struct {
    const char *kind;
    json_t *body;
  } row[FIGURES_MOST];
};

bool tw_cli_log_options(const tw_cli *cli)
{
  if (tw_cli_has(cli, "log") && !tw_cli_has(cli, "unit")) {
    tw_cli_usage(cli, "--log needs --unit: which unit was measured?");
    return false;
  }
  if (!tw_cli_has(cli, "log") && (tw_cli_has(cli, "unit") || tw_cli_has(cli, "at"))) {
    tw_cli_usage(cli, "--%s belongs to --log", tw_cli_has(cli, "unit") ? "unit" : "at");
    return false;
  }
  return true;
}

tw_log_entering *tw_cli_log_begin(const tw_cli *cli)
{
  return tw_cli_has(cli, "log") ? tw_alloc(1, sizeof(tw_log_entering)) : NULL;
}

void tw_cli_log_other(tw_log_entering *e, const char *kind, json_t *body)
{
  if (!e || e->count == FIGURES_MOST) {
    json_decref(body);
    return;
  }
  e->row[e->count].kind = kind;
  e->row[e->count++].body = body;
}

json_t *tw_cli_log_figure(tw_log_entering *e, const char *measure, double value, const char *unit,
                          double u)
{
  if (!e || e->count == FIGURES_MOST || !isfinite(value)) {
    return NULL;
  }
  json_t *body = json_pack("{s:s, s:f, s:s}", "measure", measure, "value", value, "unit_of_value",
                           unit[0] ? unit : "1");
  if (isfinite(u) && u > 0.0) {
    json_object_set_new(body, "u", json_real(u));
  }
  tw_cli_log_other(e, tw_log_kind_word(TW_LOG_READING), body);
  return body;
}

/* half of its 95 % interval over 1.96; 0: not known */
static double u_of(const tw_figure_row *f)
{
  return f->has_interval && f->level == 0.95
             ? (f->interval.high - f->interval.low) / 2.0 / NORMAL_95
             : 0.0;
}

void tw_cli_log_record(tw_log_entering *e, const char *prefix, const tw_record *record)
{
  for (size_t i = 0; e && i < record->figures; i++) {
    const tw_figure_row *f = &record->figure[i];
    char name[160];
    snprintf(name, sizeof name, "%s %.120s", prefix, f->name);
    json_t *body = tw_cli_log_figure(e, name, f->value, f->unit, u_of(f));
    if (body && f->has_foreseen) {
      json_object_set_new(body, "foreseen", json_real(f->foreseen));
      json_object_set_new(body, "u_foreseen", json_real(0.0));
    }
  }
  bool any = false;
  const tw_verdict verdict = e ? tw_record_verdict(record, &any) : TW_PROVEN;
  if (any) {
    tw_cli_log_other(e, tw_log_kind_word(TW_LOG_TEST),
                     json_pack("{s:s, s:b}", "step", prefix, "passed", verdict == TW_PROVEN));
  }
}

void tw_cli_log_drop(tw_log_entering *e)
{
  for (size_t i = 0; e && i < e->count; i++) {
    json_decref(e->row[i].body);
  }
  tw_free(e);
}

static tw_status keep(tw_logbook *log, tw_log_entering *e, const char *document, tw_fault *fault)
{
  char sha256[TW_SHA256_TEXT];
  if (!document || strcmp(document, "-") == 0) {
    return TW_OK;
  }
  const tw_status status = tw_logbook_keep(log, document, sha256, fault);
  const char *slash = strrchr(document, '/');
  for (size_t i = 0; status == TW_OK && i < e->count; i++) {
    json_object_set_new(e->row[i].body, "document", json_string(sha256));
    json_object_set_new(e->row[i].body, "document_name", json_string(slash ? slash + 1 : document));
  }
  return status;
}

static tw_status write_all(tw_cli *cli, tw_log_entering *e, const char *document, tw_fault *fault)
{
  tw_logbook *log = NULL;
  tw_log_draft *draft = tw_alloc(e->count, sizeof *draft);
  const tw_logbook_options options = {.write = true, .create = true};
  tw_status status = draft ? tw_logbook_open(tw_cli_text(cli, "log", NULL), &options, &log, fault)
                           : tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
  status = status == TW_OK ? keep(log, e, document, fault) : status;
  for (size_t i = 0; status == TW_OK && i < e->count; i++) {
    draft[i] = (tw_log_draft){.kind = e->row[i].kind,
                              .unit = tw_cli_text(cli, "unit", NULL),
                              .at = tw_cli_text(cli, "at", NULL),
                              .body = e->row[i].body};
  }
  status = status == TW_OK ? tw_logbook_append(log, draft, e->count, NULL, fault) : status;
  tw_logbook_close(log);
  tw_free(draft);
  return status;
}

tw_exit tw_cli_log_enter(tw_cli *cli, tw_log_entering *e, const char *document)
{
  tw_fault fault = {0};
  tw_exit code = TW_EXIT_DONE;
  if (!tw_cli_has(cli, "log")) {
    return code;
  }
  if (!e) {
    tw_fail(&fault, TW_NO_MEMORY, "", NULL, "out of memory");
    return tw_cli_fault(cli, &fault);
  }
  if (write_all(cli, e, document, &fault) == TW_OK) {
    fprintf(cli->err, "entered into %s: %zu of unit %s\n", tw_cli_text(cli, "log", ""), e->count,
            tw_cli_text(cli, "unit", ""));
  } else {
    code = tw_cli_fault(cli, &fault);
    fprintf(cli->err, "  the result above is not in the log\n");
  }
  tw_cli_log_drop(e);
  return code;
}
