/* take.c: entries from outside: new, known, or the sign of a copied log. docs/models/logbook.md 4.
 */
#include "inside.h"

#include <string.h>

tw_status tw_log_take_begin(tw_log_take *take, tw_logbook *log, tw_log_taken *taken,
                            tw_fault *fault)
{
  *take = (tw_log_take){.log = log, .taken = taken};
  *taken = (tw_log_taken){0};
  if (!log->write) {
    return tw_log_trouble(log, SQLITE_READONLY, "writing", fault);
  }
  tw_status status = tw_log_run(log, "BEGIN IMMEDIATE", "writing", fault);
  if (status != TW_OK) {
    return status;
  }
  status = tw_log_insert_prepare(log, &take->insert, fault);
  status = status == TW_OK
               ? tw_log_prepare(log, "SELECT id FROM entry WHERE writer = ?1 AND seq = ?2",
                                &take->of_number, fault)
               : status;
  return status == TW_OK ? status : tw_log_take_end(take, status, fault);
}

tw_status tw_log_take_entry(tw_log_take *take, const tw_log_entry *entry, tw_fault *fault)
{
  sqlite3_stmt *get = take->of_number;
  tw_status status = TW_OK;
  sqlite3_bind_text(get, 1, entry->writer, -1, SQLITE_STATIC);
  sqlite3_bind_int64(get, 2, entry->seq);
  const int code = sqlite3_step(get);
  const bool there = code == SQLITE_ROW;
  if (there && strcmp(tw_log_column(get, 0), entry->id) != 0) {
    status = tw_fail(fault, TW_BAD_INPUT, "",
                     "nothing was taken over; keep one of the two, enter the other's newer entries "
                     "again",
                     "a log was copied and both went on: writer %s has two entries %lld, %.12s and "
                     "%.12s",
                     entry->writer, (long long)entry->seq, tw_log_column(get, 0), entry->id);
  } else if (!there && code != SQLITE_DONE) {
    status = tw_log_trouble(take->log, code, "reading", fault);
  }
  sqlite3_reset(get);
  if (status == TW_OK && !there) {
    status = tw_log_insert(take->log, take->insert, entry, fault);
  }
  take->taken->known += status == TW_OK && there;
  take->taken->entries += status == TW_OK && !there;
  return status;
}

tw_status tw_log_take_document(tw_log_take *take, const char *sha256, const char *name,
                               int64_t bytes, const void *content, tw_fault *fault)
{
  const int before = sqlite3_total_changes(take->log->base);
  const tw_status status = tw_log_document_put(take->log, sha256, name, bytes, content, fault);
  take->taken->documents += status == TW_OK && sqlite3_total_changes(take->log->base) > before;
  return status;
}

tw_status tw_log_take_end(tw_log_take *take, tw_status status, tw_fault *fault)
{
  sqlite3_finalize(take->insert);
  sqlite3_finalize(take->of_number);
  status = tw_log_end(take->log, status, fault);
  if (status != TW_OK) {
    *take->taken = (tw_log_taken){.left_out = take->taken->left_out};
  }
  return status;
}
