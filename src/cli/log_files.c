/* log_files.c: a log checked, saved, passed on and joined with others. */
#include "log_parts.h"

#include <string.h>

/* messages, counts and exit code of what was taken over */
static tw_exit say_taken(tw_cli *cli, const char *word, const tw_log_taken *taken)
{
  if (tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, word);
    json_object_set_new(document, "entries", json_integer((json_int_t)taken->entries));
    json_object_set_new(document, "documents", json_integer((json_int_t)taken->documents));
    json_object_set_new(document, "known", json_integer((json_int_t)taken->known));
    json_object_set_new(document, "left_out", json_integer((json_int_t)taken->left_out));
    const tw_exit code = tw_cli_print_json(cli, document);
    return code == TW_EXIT_DONE && taken->left_out ? TW_EXIT_INPUT : code;
  }
  fprintf(cli->out, "new entries: %zu, new documents: %zu, already here: %zu, left out: %zu\n",
          taken->entries, taken->documents, taken->known, taken->left_out);
  return taken->left_out ? TW_EXIT_INPUT : TW_EXIT_DONE;
}

/* open, with a list for messages, which are printed at the end */
static tw_exit begin(tw_cli *cli, bool write, tw_logbook **log, tw_messages **messages)
{
  *messages = NULL;
  const tw_exit code = tw_cli_log_open(cli, write, log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  *messages = tw_messages_new();
  if (!*messages) {
    tw_logbook_close(*log);
    return TW_EXIT_INTERNAL;
  }
  return TW_EXIT_DONE;
}

static void end(tw_cli *cli, tw_logbook *log, tw_messages *messages)
{
  tw_cli_messages(cli, messages);
  tw_messages_free(messages);
  tw_logbook_close(log);
}

/* ---- check ----------------------------------------------------------------------------------- */

static tw_exit say_health(tw_cli *cli, const tw_log_health *health)
{
  if (tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, "check");
    json_object_set_new(document, "entries", json_integer((json_int_t)health->entries));
    json_object_set_new(document, "documents", json_integer((json_int_t)health->documents));
    json_object_set_new(document, "writers", json_integer((json_int_t)health->writers));
    json_object_set_new(document, "troubles", json_integer((json_int_t)health->troubles));
    json_object_set_new(document, "whole", json_boolean(health->troubles == 0));
    const tw_exit code = tw_cli_print_json(cli, document);
    return code == TW_EXIT_DONE && health->troubles ? TW_EXIT_INPUT : code;
  }
  fprintf(cli->out, "%zu entries of %zu writer%s, %zu document%s: %s\n", health->entries,
          health->writers, health->writers == 1 ? "" : "s", health->documents,
          health->documents == 1 ? "" : "s",
          health->troubles ? "damaged, see above" : "the log is whole");
  return health->troubles ? TW_EXIT_INPUT : TW_EXIT_DONE;
}

tw_exit tw_log_check_file(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_messages *messages = NULL;
  tw_log_health health;
  tw_fault fault = {0};
  tw_exit code = begin(cli, false, &log, &messages);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status = tw_logbook_check(log, messages, &health, &fault);
  end(cli, log, messages);
  return status == TW_OK ? say_health(cli, &health) : tw_cli_fault(cli, &fault);
}

/* ---- export, backup -------------------------------------------------------------------------- */

tw_exit tw_log_export(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_messages *messages = NULL;
  size_t lines = 0;
  tw_fault fault = {0};
  tw_exit code = begin(cli, false, &log, &messages);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const char *file = tw_log_operand(cli, 0);
  const tw_status status = tw_logbook_export(log, file, messages, &lines, &fault);
  const bool damaged = tw_messages_errors(messages) > 0;
  end(cli, log, messages);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, "export");
    json_object_set_new(document, "file", json_string(file));
    json_object_set_new(document, "lines", json_integer((json_int_t)lines));
    code = tw_cli_print_json(cli, document);
  } else {
    fprintf(cli->out, "%zu lines written to %s\n", lines, file);
  }
  return code == TW_EXIT_DONE && damaged ? TW_EXIT_INPUT : code;
}

tw_exit tw_log_backup(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_fault fault = {0};
  tw_exit code = tw_cli_log_open(cli, false, &log);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const char *file = tw_log_operand(cli, 0);
  const tw_status status = tw_logbook_backup(log, file, &fault);
  const size_t count = tw_logbook_count(log);
  tw_logbook_close(log);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (tw_cli_has(cli, "json")) {
    json_t *document = tw_log_document(cli, "backup");
    json_object_set_new(document, "file", json_string(file));
    json_object_set_new(document, "entries", json_integer((json_int_t)count));
    return tw_cli_print_json(cli, document);
  }
  fprintf(cli->out,
          "%zu entries saved in %s and checked\n"
          "Large documents stand in the folder keep beside the log: copy it too.\n",
          count, file);
  return TW_EXIT_DONE;
}

/* ---- import, merge, share -------------------------------------------------------------------- */

typedef tw_status take_file(tw_logbook *log, const char *file, tw_messages *messages,
                            tw_log_taken *taken, tw_fault *fault);

static tw_exit take_files(tw_cli *cli, const char *word, take_file *take)
{
  tw_logbook *log = NULL;
  tw_messages *messages = NULL;
  tw_log_taken all = {0}, one;
  tw_fault fault = {0};
  tw_exit code = begin(cli, true, &log, &messages);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  tw_status status = TW_OK;
  const char *file;
  for (int k = 0; status == TW_OK && (file = tw_log_operand(cli, k)) != NULL; k++) {
    status = take(log, file, messages, &one, &fault);
    all.entries += one.entries;
    all.documents += one.documents;
    all.known += one.known;
    all.left_out += one.left_out;
  }
  end(cli, log, messages);
  return status == TW_OK ? say_taken(cli, word, &all) : tw_cli_fault(cli, &fault);
}

tw_exit tw_log_import(tw_cli *cli)
{
  return take_files(cli, "import", tw_logbook_import);
}

tw_exit tw_log_merge(tw_cli *cli)
{
  return take_files(cli, "merge", tw_logbook_merge);
}

tw_exit tw_log_share(tw_cli *cli)
{
  tw_logbook *log = NULL;
  tw_messages *messages = NULL;
  tw_log_taken taken;
  size_t given = 0;
  tw_fault fault = {0};
  const tw_exit code = begin(cli, true, &log, &messages);
  if (code != TW_EXIT_DONE) {
    return code;
  }
  const tw_status status =
      tw_logbook_share(log, tw_log_operand(cli, 0), messages, &given, &taken, &fault);
  end(cli, log, messages);
  if (status != TW_OK) {
    return tw_cli_fault(cli, &fault);
  }
  if (!tw_cli_has(cli, "json")) {
    fprintf(cli->out, "passed on: %zu\n", given);
  }
  return say_taken(cli, "share", &taken);
}
