/* merge.c: the union with another log. docs/models/logbook.md 4. */
#include "inside.h"

#include <string.h>

static void left_out(tw_messages *messages, const char *file, const tw_fault *why,
                     tw_log_taken *taken)
{
  tw_messages_add(messages, TW_ERROR, (tw_place){.file = file}, NULL, NULL, why->hint, "%s",
                  why->text);
  taken->left_out++;
}

static tw_status merge_entries(tw_log_take *take, tw_logbook *other, tw_messages *messages,
                               tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status =
      tw_log_prepare(other, "SELECT " TW_LOG_COLUMNS " FROM entry e ORDER BY e.rowid", &get, fault);
  for (int code; status == TW_OK && (code = sqlite3_step(get)) != SQLITE_DONE;) {
    tw_log_entry entry;
    json_t *body = NULL;
    char id[TW_SHA256_TEXT] = "";
    tw_fault why = {0};
    if (code != SQLITE_ROW) {
      status = tw_log_trouble(other, code, "reading", fault);
      break;
    }
    tw_status one = tw_log_row(other, get, &entry, &body, &why);
    one = one == TW_OK ? tw_log_entry_id(&entry, id, &why) : one;
    if (one == TW_OK && strcmp(id, entry.id) != 0) {
      one = tw_fail(&why, TW_BAD_INPUT, "", "tripwright log check names all that is damaged",
                    "entry %.12s is not what it was written as", entry.id);
    }
    if (one == TW_OK) {
      status = tw_log_take_entry(take, &entry, fault);
    } else {
      left_out(messages, other->path, &why, take->taken);
    }
    json_decref(body);
  }
  sqlite3_finalize(get);
  return status;
}

static tw_status merge_documents(tw_log_take *take, tw_logbook *other, tw_messages *messages,
                                 tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status = tw_log_prepare(
      other, "SELECT sha256, name, bytes, content FROM document ORDER BY sha256", &get, fault);
  for (int code; status == TW_OK && (code = sqlite3_step(get)) != SQLITE_DONE;) {
    if (code != SQLITE_ROW) {
      status = tw_log_trouble(other, code, "reading", fault);
      break;
    }
    const char *sha256 = tw_log_column(get, 0);
    const void *content = sqlite3_column_blob(get, 3);
    const int size = sqlite3_column_bytes(get, 3);
    char real[TW_SHA256_TEXT];
    tw_sha256(content ? content : "", (size_t)size, real);
    if (content && strcmp(real, sha256) != 0) {
      tw_fault why = {0};
      tw_fail(&why, TW_BAD_INPUT, "", "keep the file again from where it comes",
              "document %.12s (%.60s) is not what it was kept as", sha256, tw_log_column(get, 1));
      left_out(messages, other->path, &why, take->taken);
      continue;
    }
    status = tw_log_take_document(take, sha256, tw_log_column(get, 1), sqlite3_column_int64(get, 2),
                                  content, fault);
  }
  sqlite3_finalize(get);
  return status;
}

tw_status tw_logbook_merge(tw_logbook *log, const char *file, tw_messages *messages,
                           tw_log_taken *taken, tw_fault *fault)
{
  tw_logbook *other = NULL;
  tw_log_take take;
  *taken = (tw_log_taken){0};
  tw_status status = tw_logbook_open(file, &(tw_logbook_options){.write = false}, &other, fault);
  if (status != TW_OK) {
    return status;
  }
  status = tw_log_take_begin(&take, log, taken, fault);
  if (status == TW_OK) {
    status = merge_entries(&take, other, messages, fault);
    status = status == TW_OK ? merge_documents(&take, other, messages, fault) : status;
    status = tw_log_take_end(&take, status, fault);
  }
  tw_logbook_close(other);
  return status;
}
