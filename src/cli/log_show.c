/* log_show.c: entries in words, and the history of a unit. */
#include "log_parts.h"

#include <string.h>

static void add(char *out, size_t size, const char *lead, const char *text)
{
  const size_t used = strlen(out);
  if (text && text[0] && used < size) {
    snprintf(out + used, size - used, "%s%s%s", used ? ", " : "", lead, text);
  }
}

static const char *text_at(const tw_log_entry *entry, const char *key)
{
  return json_string_value(json_object_get(entry->body, key));
}

static void add_quantity(const tw_log_entry *entry, char *out, size_t size)
{
  const json_t *value = json_object_get(entry->body, "value");
  const char *unit = text_at(entry, "unit_of_value"), *raw = text_at(entry, "raw");
  const size_t used = strlen(out);
  if (raw) {
    snprintf(out + used, size - used, " %s", raw);
  } else if (json_is_number(value)) {
    char shown[48];
    tw_show(json_number_value(value), unit ? unit : "1", shown, sizeof shown);
    snprintf(out + used, size - used, " %s", shown);
  } else if (json_is_string(value)) {
    snprintf(out + used, size - used, " %s", json_string_value(value));
  }
}

/* key, what stands before its text */
static const struct {
  const char *key, *lead;
} rows[] = {
    {"revision", "revision "},
    {"name", ""},
    {"lot", "lot "},
    {"part", ""},
    {"step", ""},
    {"what", ""},
    {"fault", "fault "},
    {"process", "made by "},
    {"instrument", "with "},
    {"requirement", "for "},
    {"to", "to "},
    {"why", ""},
    {"document_name", "file "},
    {"note", ""},
};

void tw_log_words(const tw_log_entry *entry, char *out, size_t size)
{
  out[0] = '\0';
  add(out, size, "", text_at(entry, "measure"));
  if (out[0]) {
    add_quantity(entry, out, size);
  }
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    add(out, size, rows[i].lead, text_at(entry, rows[i].key));
  }
  const json_t *passed = json_object_get(entry->body, "passed");
  if (json_is_boolean(passed)) {
    add(out, size, "", json_is_true(passed) ? "passed" : "not passed");
  }
}

bool tw_log_list_entry(void *self, const tw_log_entry *entry)
{
  tw_log_list *list = self;
  char words[400];
  list->count++;
  if (list->rows) {
    json_t *object = tw_log_entry_json(entry);
    json_object_set_new(object, "replaced", json_boolean(entry->replaced));
    json_array_append_new(list->rows, object);
    return true;
  }
  FILE *out = list->cli->out;
  tw_log_words(entry, words, sizeof words);
  if (list->ids) {
    fprintf(out, "%.12s  ", entry->id);
  }
  fprintf(out, "%.10s  ", entry->at);
  if (list->units) {
    fprintf(out, "%-6s  ", entry->unit ? entry->unit : "-");
  }
  fprintf(out, "%-10s  %s%s%s\n", entry->kind, words, entry->replaces ? " (corrects)" : "",
          entry->replaced ? " (replaced)" : "");
  return true;
}

tw_exit tw_log_history(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const char *unit = tw_log_operand(cli, 0);
  const bool json = tw_cli_has(cli, "json");
  tw_log_list list = {.cli = cli,
                      .rows = json ? json_array() : NULL,
                      .ids = tw_cli_has(cli, "ids"),
                      .units = !unit};
  const tw_log_filter filter = {.unit = unit, .current = tw_cli_has(cli, "current")};
  if (!json && unit) {
    fprintf(cli->out, "Unit %s\n", unit);
  }
  const tw_status status = tw_logbook_each(log, &filter, tw_log_list_entry, &list, &fault);
  tw_logbook_close(log);
  if (status != TW_OK) {
    json_decref(list.rows);
    return tw_cli_fault(cli, &fault);
  }
  if (json) {
    json_t *document = tw_log_document(cli, "history");
    json_object_set_new(document, "unit", unit ? json_string(unit) : json_null());
    json_object_set_new(document, "entries", list.rows);
    return tw_cli_print_json(cli, document);
  }
  if (list.count == 0) {
    fprintf(cli->out, "The log has no entry%s%s.\n", unit ? " of unit " : "", unit ? unit : "");
  }
  return TW_EXIT_DONE;
}
