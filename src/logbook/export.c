/* export.c: a log as JSON lines, of a damaged one as much as can be read. docs/models/logbook.md 5.
 */
#include "base64.h"
#include "inside.h"

#include "tripwright/files.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct tw_log_out {
  FILE *file;
  tw_messages *messages;
  size_t lines;
} tw_log_out;

tw_status tw_log_put_line(FILE *out, json_t *object, tw_fault *fault)
{
  char *text = NULL;
  const tw_status status = object ? tw_canonical(object, &text, fault) : tw_log_no_memory(fault);
  if (status == TW_OK) {
    fprintf(out, "%s\n", text);
  }
  tw_free(text);
  json_decref(object);
  return status;
}

static tw_status put_object(tw_log_out *out, json_t *object, tw_fault *fault)
{
  const tw_status status = tw_log_put_line(out->file, object, fault);
  out->lines += status == TW_OK;
  return status;
}

static void missing(const tw_log_out *out, const tw_logbook *log, const char *text)
{
  tw_messages_add(out->messages, TW_ERROR, (tw_place){.file = log->path}, NULL, NULL,
                  "take what is missing from a backup or from another writer's log", "%s", text);
}

/* ---- entries --------------------------------------------------------------------------------- */

/* a row that says what it was written as, or a message */
static tw_status put_row(tw_log_out *out, tw_logbook *log, sqlite3_stmt *get, tw_fault *fault)
{
  tw_log_entry entry;
  json_t *body = NULL;
  char id[TW_SHA256_TEXT] = "", text[160];
  tw_status status = tw_log_row(log, get, &entry, &body, NULL);
  status = status == TW_OK ? tw_log_entry_id(&entry, id, NULL) : status;
  if (status == TW_OK && strcmp(id, entry.id) == 0) {
    status = put_object(out, tw_log_entry_json(&entry), fault);
  } else {
    snprintf(text, sizeof text, "entry %.12s is damaged and left out", entry.id);
    missing(out, log, text);
    status = TW_OK;
  }
  json_decref(body);
  return status;
}

/* rows from one end until the end or until a page cannot be read; *last is the last that could */
static tw_status put_rows(tw_log_out *out, tw_logbook *log, const char *sql, int64_t beyond,
                          int64_t *last, bool *damaged, tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = tw_log_prepare(log, sql, &get, fault);
  *damaged = false;
  if (status != TW_OK) {
    return status;
  }
  sqlite3_bind_int64(get, 1, beyond);
  for (int code; status == TW_OK && (code = sqlite3_step(get)) != SQLITE_DONE;) {
    if ((code & 0xff) == SQLITE_CORRUPT) {
      *damaged = true;
      break;
    }
    if (code != SQLITE_ROW) {
      status = tw_log_trouble(log, code, "reading", fault);
      break;
    }
    *last = sqlite3_column_int64(get, 9);
    status = put_row(out, log, get, fault);
  }
  sqlite3_finalize(get);
  return status;
}

#define FORWARD                                                                                    \
  "SELECT " TW_LOG_COLUMNS ", e.rowid FROM entry e NOT INDEXED WHERE e.rowid > ?1 ORDER BY "       \
  "e.rowid"
#define BACKWARD                                                                                   \
  "SELECT " TW_LOG_COLUMNS                                                                         \
  ", e.rowid FROM entry e NOT INDEXED WHERE e.rowid > ?1 ORDER BY e.rowid DESC"

static tw_status put_entries(tw_log_out *out, tw_logbook *log, tw_fault *fault)
{
  int64_t last = 0, first = 0;
  bool damaged, again;
  char text[160];
  tw_status status = put_rows(out, log, FORWARD, 0, &last, &damaged, fault);
  if (status == TW_OK && damaged) {
    status = put_rows(out, log, BACKWARD, last, &first, &again, fault);
    snprintf(text, sizeof text, "pages are damaged: of entries %lld to %lld some cannot be read",
             (long long)last + 1, (long long)(first ? first - 1 : last + 1));
    missing(out, log, text);
  }
  return status;
}

/* ---- documents ------------------------------------------------------------------------------- */

json_t *tw_log_document_object(sqlite3_stmt *get)
{
  const void *content = sqlite3_column_blob(get, 3);
  json_t *object =
      json_pack("{s:s, s:s, s:I}", "sha256", tw_log_column(get, 0), "name", tw_log_column(get, 1),
                "bytes", (json_int_t)sqlite3_column_int64(get, 2));
  char *text = content ? tw_base64_of(content, (size_t)sqlite3_column_bytes(get, 3)) : NULL;
  if (object && content &&
      (!text || json_object_set_new(object, "content", json_string(text)) != 0)) {
    json_decref(object);
    object = NULL;
  }
  tw_free(text);
  return object;
}

static tw_status put_documents(tw_log_out *out, tw_logbook *log, tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = tw_log_prepare(
      log, "SELECT sha256, name, bytes, content FROM document ORDER BY sha256", &get, fault);
  for (int code; status == TW_OK && (code = sqlite3_step(get)) != SQLITE_DONE;) {
    if ((code & 0xff) == SQLITE_CORRUPT) {
      missing(out, log, "pages of documents are damaged");
      break;
    }
    status = code == SQLITE_ROW ? put_object(out, tw_log_document_object(get), fault)
                                : tw_log_trouble(log, code, "reading", fault);
  }
  sqlite3_finalize(get);
  return status;
}

tw_status tw_logbook_export(tw_logbook *log, const char *file, tw_messages *messages, size_t *lines,
                            tw_fault *fault)
{
  char *text = NULL;
  size_t length = 0;
  tw_log_out out = {.file = open_memstream(&text, &length), .messages = messages};
  if (!out.file) {
    return tw_log_no_memory(fault);
  }
  tw_status status = put_entries(&out, log, fault);
  status = status == TW_OK ? put_documents(&out, log, fault) : status;
  const bool lost = ferror(out.file) != 0;
  if ((fclose(out.file) != 0 || lost) && status == TW_OK) {
    status = tw_log_no_memory(fault);
  }
  status = status == TW_OK ? tw_file_replace(file, text, length, fault) : status;
  *lines = out.lines;
  free(text);
  return status;
}
