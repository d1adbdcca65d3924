/* log_add.c: entries by hand, corrected and withdrawn. */
#include "log_parts.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* option that stands under a key of the body */
typedef enum body_kind { TEXT, NUMBER, YES_NO, QUANTITY } body_kind;
static const struct {
  const char *option, *key;
  body_kind kind;
} rows[] = {
    {"revision", "revision", TEXT},
    {"lot", "lot", TEXT},
    {"piece", "piece", TEXT},
    {"foreseen", "foreseen", QUANTITY},
    {"hours-foreseen", "hours_foreseen", NUMBER},
    {"part", "part", TEXT},
    {"measure", "measure", TEXT},
    {"value", "value", QUANTITY},
    {"with", "instrument", TEXT},
    {"step", "step", TEXT},
    {"passed", "passed", YES_NO},
    {"what", "what", TEXT},
    {"fault", "fault", TEXT},
    {"process", "process", TEXT},
    {"drawn", "drawn", QUANTITY},
    {"hours", "hours", NUMBER},
    {"requirement", "requirement", TEXT},
    {"to", "to", TEXT},
    {"why", "why", TEXT},
    {"note", "note", TEXT},
    {"wrong", "instrument_wrong", TEXT},
};

static tw_exit put_number(tw_cli *cli, const char *option, const char *text, const char *key,
                          json_t *body)
{
  char *end = NULL;
  errno = 0;
  const double value = strtod(text, &end);
  if (errno || end == text || *end || json_object_set_new(body, key, json_real(value)) != 0) {
    return tw_cli_usage(cli, "--%s: \"%s\" is no number", option, text);
  }
  return TW_EXIT_DONE;
}

static tw_exit put_yes_no(tw_cli *cli, const char *option, const char *text, const char *key,
                          json_t *body)
{
  const bool yes = strcmp(text, "yes") == 0;
  if (!yes && strcmp(text, "no") != 0) {
    return tw_cli_usage(cli, "--%s: \"%s\" is not yes or no", option, text);
  }
  json_object_set_new(body, key, json_boolean(yes));
  return TW_EXIT_DONE;
}

static tw_exit put_text(tw_cli *cli, const char *option, const char *text, const char *key,
                        json_t *body)
{
  if (!text[0] || json_object_set_new(body, key, json_string(text)) != 0) {
    return tw_cli_usage(cli, "--%s: the text is empty or no UTF-8", option);
  }
  return TW_EXIT_DONE;
}

/* the body as the options say it */
static tw_exit body_of(tw_cli *cli, json_t *body)
{
  tw_exit code = TW_EXIT_DONE;
  for (size_t i = 0; code == TW_EXIT_DONE && i < sizeof rows / sizeof rows[0]; i++) {
    const char *text = tw_cli_text(cli, rows[i].option, NULL);
    if (!text) {
      continue;
    }
    switch (rows[i].kind) {
    case TEXT:
      code = put_text(cli, rows[i].option, text, rows[i].key, body);
      break;
    case NUMBER:
      code = put_number(cli, rows[i].option, text, rows[i].key, body);
      break;
    case YES_NO:
      code = put_yes_no(cli, rows[i].option, text, rows[i].key, body);
      break;
    case QUANTITY:
      code = tw_cli_log_quantity(cli, rows[i].option, text, rows[i].key, body);
      break;
    }
  }
  return code;
}

/* --document FILE: kept, and named in the body */
static tw_exit keep_document(tw_cli *cli, tw_logbook *log, json_t *body)
{
  const char *file = tw_cli_text(cli, "document", NULL);
  char sha256[TW_SHA256_TEXT];
  tw_fault fault = {0};
  if (!file) {
    return TW_EXIT_DONE;
  }
  if (tw_logbook_keep(log, file, sha256, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  const char *slash = strrchr(file, '/');
  json_object_set_new(body, "document", json_string(sha256));
  json_object_set_new(body, "document_name", json_string(slash ? slash + 1 : file));
  return TW_EXIT_DONE;
}

static tw_exit say_added(tw_cli *cli, const tw_log_draft *draft, size_t count,
                         char (*ids)[TW_SHA256_TEXT], const char *word)
{
  if (tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, word), *list = json_array();
    for (size_t i = 0; i < count; i++) {
      json_array_append_new(list, json_string(ids[i]));
    }
    json_object_set_new(document, "ids", list);
    return tw_cli_print_json(cli, document);
  }
  fprintf(cli->out, "entered: %s%s%s\n", draft->kind, draft->unit ? ", unit " : "",
          draft->unit ? draft->unit : "");
  if (tw_cli_has(cli, "ids")) {
    fprintf(cli->out, "id %s\n", ids[0]);
  }
  return TW_EXIT_DONE;
}

static tw_exit append(tw_cli *cli, tw_logbook *log, const tw_log_draft *draft, size_t count,
                      const char *word)
{
  char ids[4][TW_SHA256_TEXT];
  tw_fault fault = {0};
  if (tw_logbook_append(log, draft, count, ids, &fault) != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  return say_added(cli, draft, count, ids, word);
}

tw_exit tw_log_add(tw_cli *cli)
{
  const char *kind = tw_log_operand(cli, 0);
  if (tw_log_kind_named(kind) == TW_LOG_KIND_COUNT) {
    return tw_cli_usage(cli, "there is no kind of entry \"%s\"", kind);
  }
  if (tw_log_kind_named(kind) == TW_LOG_WITHDRAWAL) {
    return tw_cli_usage(cli, "write log withdraw ID --why TEXT");
  }
  tw_logbook *log = NULL;
  tw_exit code = tw_cli_log_open(cli, true, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  json_t *body = json_object();
  code = body_of(cli, body);
  code = code == TW_EXIT_DONE ? keep_document(cli, log, body) : code;
  if (code == TW_EXIT_DONE) {
    const tw_log_draft draft = {.kind = kind,
                                .unit = tw_log_operand(cli, 1),
                                .at = tw_cli_text(cli, "at", NULL),
                                .body = body};
    code = append(cli, log, &draft, 1, "add");
  }
  json_decref(body);
  tw_logbook_close(log);
  return code;
}

/* ---- corrections ----------------------------------------------------------------------------- */

typedef struct found {
  size_t count;
  char id[TW_SHA256_TEXT], replaces[TW_SHA256_TEXT], rival[TW_SHA256_TEXT];
  char *kind, *unit;
  json_t *body;
} found;

static bool take_found(void *self, const tw_log_entry *entry)
{
  found *f = self;
  if (f->count++ == 0) {
    memcpy(f->id, entry->id, sizeof f->id);
    snprintf(f->replaces, sizeof f->replaces, "%s", entry->replaces ? entry->replaces : "");
    f->kind = tw_copy_text(entry->kind);
    f->unit = tw_copy_text(entry->unit);
    f->body = json_deep_copy(entry->body);
  }
  return f->count < 2;
}

/* another correction of the same entry that holds as well: the new one settles it */
static bool take_rival(void *self, const tw_log_entry *entry)
{
  found *f = self;
  if (entry->replaces && strcmp(entry->replaces, f->replaces) == 0 && strcmp(entry->id, f->id)) {
    memcpy(f->rival, entry->id, sizeof f->rival);
    return false;
  }
  return true;
}

/* an id or its first digits name one entry */
static tw_exit find_one(tw_cli *cli, tw_logbook *log, found *f)
{
  const char *id = tw_log_operand(cli, 0);
  tw_fault fault = {0};
  if (strlen(id) < 6 || strspn(id, "0123456789abcdef") != strlen(id)) {
    return tw_cli_usage(cli, "\"%s\" is no id; log history UNIT --ids lists them", id);
  }
  tw_status status = tw_logbook_each(log, &(tw_log_filter){.id = id}, take_found, f, &fault);
  if (status == TW_OK && f->count != 1) {
    status = tw_fail(&fault, TW_BAD_INPUT, "", "log history UNIT --ids lists them",
                     f->count ? "more than one entry begins with %s" : "there is no entry %s", id);
  }
  if (status == TW_OK && f->replaces[0]) {
    status = tw_logbook_each(log, &(tw_log_filter){.current = true}, take_rival, f, &fault);
  }
  return status == TW_OK ? TW_EXIT_DONE : tw_cli_fault(cli, &fault);
}

static tw_exit replace(tw_cli *cli, bool withdraw)
{
  tw_logbook *log = NULL;
  found f = {.count = 0};
  tw_exit code = tw_cli_log_open(cli, true, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  code = find_one(cli, log, &f);
  json_t *body = withdraw ? json_object() : json_incref(f.body), *settled = json_object();
  code = code == TW_EXIT_DONE ? body_of(cli, body) : code;
  code = code == TW_EXIT_DONE ? keep_document(cli, log, body) : code;
  if (code == TW_EXIT_DONE) {
    json_object_set_new(settled, "why", json_string("settled by a later correction"));
    const char *at = tw_cli_text(cli, "at", NULL), *gone = tw_log_kind_word(TW_LOG_WITHDRAWAL);
    const tw_log_draft draft[] = {
        {.kind = withdraw ? gone : f.kind,
         .unit = f.unit,
         .replaces = f.id,
         .at = at,
         .body = body},
        {.kind = gone, .unit = f.unit, .replaces = f.rival, .at = at, .body = settled}};
    code =
        append(cli, log, draft, f.rival[0] && !withdraw ? 2 : 1, withdraw ? "withdraw" : "correct");
  }
  json_decref(body);
  json_decref(settled);
  json_decref(f.body);
  tw_free(f.kind);
  tw_free(f.unit);
  tw_logbook_close(log);
  return code;
}

tw_exit tw_log_correct(tw_cli *cli)
{
  return replace(cli, false);
}

tw_exit tw_log_withdraw(tw_cli *cli)
{
  return replace(cli, true);
}
