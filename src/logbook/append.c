/* append.c: entries added, all of a call or none. docs/models/logbook.md 3. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

tw_status tw_log_insert_prepare(const tw_logbook *log, sqlite3_stmt **out, tw_fault *fault)
{
  return tw_log_prepare(log,
                        "INSERT INTO entry(id, writer, seq, clock, at, kind, unit, replaces, body) "
                        "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                        out, fault);
}

static void bind_maybe(sqlite3_stmt *insert, int column, const char *text)
{
  if (text) {
    sqlite3_bind_text(insert, column, text, -1, SQLITE_STATIC);
  } else {
    sqlite3_bind_null(insert, column);
  }
}

tw_status tw_log_insert(const tw_logbook *log, sqlite3_stmt *insert, const tw_log_entry *entry,
                        tw_fault *fault)
{
  char *body = NULL;
  tw_status status = tw_canonical(entry->body, &body, fault);
  if (status == TW_OK) {
    sqlite3_bind_text(insert, 1, entry->id, -1, SQLITE_STATIC);
    sqlite3_bind_text(insert, 2, entry->writer, -1, SQLITE_STATIC);
    sqlite3_bind_int64(insert, 3, entry->seq);
    sqlite3_bind_int64(insert, 4, entry->clock);
    sqlite3_bind_text(insert, 5, entry->at, -1, SQLITE_STATIC);
    sqlite3_bind_text(insert, 6, entry->kind, -1, SQLITE_STATIC);
    bind_maybe(insert, 7, entry->unit);
    bind_maybe(insert, 8, entry->replaces);
    sqlite3_bind_text(insert, 9, body, -1, SQLITE_STATIC);
    status = tw_log_done(log, insert, "writing", fault);
    sqlite3_clear_bindings(insert);
  }
  tw_free(body);
  return status;
}

/* ---- drafts ---------------------------------------------------------------------------------- */

/* the keys that a kind needs */
static tw_status check_needs(const tw_log_draft *draft, tw_fault *fault)
{
  static const char *const needs[] = {
#define X(id, word, needs, about) needs,
      TW_LOG_KINDS(X)
#undef X
  };
  const tw_log_kind kind = tw_log_kind_named(draft->kind);
  if (kind == TW_LOG_KIND_COUNT) {
    return tw_fail(fault, TW_BAD_INPUT, "", "see tripwright log --help for the kinds",
                   "there is no kind of entry \"%.40s\"", draft->kind);
  }
  for (const char *at = needs[kind]; *at;) {
    char key[32];
    const size_t length = strcspn(at, " ");
    snprintf(key, sizeof key, "%.*s", (int)length, at);
    if (!json_object_get(draft->body, key)) {
      return tw_fail(fault, TW_BAD_INPUT, "", "give it with the entry", "%s: %s is missing",
                     draft->kind, key);
    }
    at += length + strspn(at + length, " ");
  }
  return TW_OK;
}

static tw_status check_draft(const tw_logbook *log, const tw_log_draft *draft, tw_fault *fault)
{
  const char *key;
  json_t *value;
  if (!json_is_object(draft->body) || !draft->kind) {
    return tw_fail(fault, TW_BAD_INPUT, "", NULL, "an entry is an object with a kind");
  }
  json_object_foreach((json_t *)(uintptr_t)draft->body, key, value)
  {
    if (tw_log_reserved(key)) {
      return tw_fail(fault, TW_BAD_INPUT, "", "choose another name for it",
                     "\"%s\" belongs to the entry itself, not to what it says", key);
    }
  }
  if (draft->at && !tw_log_time_is_right(draft->at)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "write 2026-11-29 or 2026-11-29T12:00:00Z (UTC)",
                   "\"%.40s\" is no date", draft->at);
  }
  if (draft->unit && !draft->unit[0]) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give the unit's number", "the unit has no name");
  }
  int64_t there = 0;
  tw_status status = check_needs(draft, fault);
  if (status == TW_OK && draft->replaces) {
    status = tw_log_number(log, "SELECT count(*) FROM entry WHERE id = ?1", draft->replaces, &there,
                           fault);
    if (status == TW_OK && there == 0) {
      status = tw_fail(fault, TW_BAD_INPUT, "", "tripwright log history UNIT --ids lists them",
                       "there is no entry %.64s to correct", draft->replaces);
    }
  }
  return status;
}

static tw_status next_numbers(tw_logbook *log, int64_t *seq, int64_t *clock, tw_fault *fault)
{
  tw_status status = tw_log_writer(log, fault);
  status = status == TW_OK
               ? tw_log_number(log, "SELECT coalesce(max(seq), 0) FROM entry WHERE writer = ?1",
                               log->writer, seq, fault)
               : status;
  return status == TW_OK
             ? tw_log_number(log, "SELECT coalesce(max(clock), 0) FROM entry", NULL, clock, fault)
             : status;
}

static tw_status append_one(tw_logbook *log, sqlite3_stmt *insert, const tw_log_draft *draft,
                            int64_t seq, int64_t clock, char id[TW_SHA256_TEXT], tw_fault *fault)
{
  tw_log_entry entry = {.seq = seq,
                        .clock = clock,
                        .kind = draft->kind,
                        .unit = draft->unit,
                        .replaces = draft->replaces,
                        .body = draft->body};
  tw_status status = check_draft(log, draft, fault);
  if (status != TW_OK) {
    return status;
  }
  snprintf(entry.writer, sizeof entry.writer, "%s", log->writer);
  if (draft->at) {
    snprintf(entry.at, sizeof entry.at, "%s", draft->at);
  } else {
    tw_log_now(entry.at);
  }
  status = tw_log_entry_id(&entry, entry.id, fault);
  status = status == TW_OK ? tw_log_insert(log, insert, &entry, fault) : status;
  if (status == TW_OK && id) {
    memcpy(id, entry.id, sizeof entry.id);
  }
  return status;
}

tw_status tw_logbook_append(tw_logbook *log, const tw_log_draft *draft, size_t count,
                            char (*ids)[TW_SHA256_TEXT], tw_fault *fault)
{
  sqlite3_stmt *insert = NULL;
  int64_t seq = 0, clock = 0;
  if (!log->write) {
    return tw_log_trouble(log, SQLITE_READONLY, "writing", fault);
  }
  tw_status status = tw_log_run(log, "BEGIN IMMEDIATE", "writing", fault);
  if (status != TW_OK) {
    return status;
  }
  status = next_numbers(log, &seq, &clock, fault);
  status = status == TW_OK ? tw_log_insert_prepare(log, &insert, fault) : status;
  for (size_t i = 0; status == TW_OK && i < count; i++) {
    status = append_one(log, insert, &draft[i], seq + 1 + (int64_t)i, clock + 1 + (int64_t)i,
                        ids ? ids[i] : NULL, fault);
  }
  sqlite3_finalize(insert);
  status = tw_log_end(log, status, fault);
  if (status == TW_OK) {
    log->written = seq + (int64_t)count;
  }
  return status;
}
