/* schema.c: the tables of a log, older ones brought up to date. docs/models/logbook.md 1. */
#include "inside.h"

#include "tripwright/files.h"

#include <limits.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* an index over a key of the bodies that have it */
#define KEY_INDEX(key)                                                                             \
  "CREATE INDEX entry_" key " ON entry(json_extract(body, '$." key "')) "                          \
  "WHERE json_extract(body, '$." key "') IS NOT NULL"

/* one object of the schema: its statement stands in the file as it stands here; since which schema
 */
static const struct {
  const char *name, *sql;
  int since;
} object[] = {
    {"entry",
     "CREATE TABLE entry(id TEXT PRIMARY KEY NOT NULL, writer TEXT NOT NULL, seq INTEGER NOT NULL, "
     "clock INTEGER NOT NULL, at TEXT NOT NULL, kind TEXT NOT NULL, unit TEXT, "
     "replaces TEXT REFERENCES entry(id), body TEXT NOT NULL, UNIQUE(writer, seq)) STRICT",
     1},
    {"document",
     "CREATE TABLE document(sha256 TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL, "
     "bytes INTEGER NOT NULL, content BLOB) STRICT",
     1},
    {"entry_order", "CREATE INDEX entry_order ON entry(clock, writer, seq)", 1},
    {"entry_unit", "CREATE INDEX entry_unit ON entry(unit, clock, writer, seq)", 1},
    {"entry_kind", "CREATE INDEX entry_kind ON entry(kind, clock, writer, seq)", 1},
    {"entry_replaces", "CREATE INDEX entry_replaces ON entry(replaces) WHERE replaces IS NOT NULL",
     1},
    {"entry_no_update",
     "CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN "
     "SELECT RAISE(ABORT, 'entries are never changed'); END",
     1},
    {"entry_no_delete",
     "CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN "
     "SELECT RAISE(ABORT, 'entries are never deleted'); END",
     1},
    {"document_no_update",
     "CREATE TRIGGER document_no_update BEFORE UPDATE ON document BEGIN "
     "SELECT RAISE(ABORT, 'documents are never changed'); END",
     1},
    {"document_no_delete",
     "CREATE TRIGGER document_no_delete BEFORE DELETE ON document BEGIN "
     "SELECT RAISE(ABORT, 'documents are never deleted'); END",
     1},
    {"entry_measure", KEY_INDEX("measure"), 2},
    {"entry_lot", KEY_INDEX("lot"), 2},
    {"entry_fault", KEY_INDEX("fault"), 2},
    {"entry_revision", KEY_INDEX("revision"), 2},
    {"entry_instrument", KEY_INDEX("instrument"), 2},
    {"entry_process", KEY_INDEX("process"), 2},
    {"entry_hours", KEY_INDEX("hours"), 2},
    {"entry_gone",
     "CREATE INDEX entry_gone ON entry(unit, kind) WHERE kind IN ('shipped', 'returned')", 2},
};
enum { OBJECTS = sizeof object / sizeof object[0] };

static tw_status sign(const tw_logbook *log, tw_fault *fault)
{
  char sql[100];
  snprintf(sql, sizeof sql, "PRAGMA application_id = %d; PRAGMA user_version = %d",
           TW_LOG_APPLICATION, TW_LOG_SCHEMA);
  return tw_log_run(log, sql, "writing", fault);
}

tw_status tw_log_schema_make(tw_logbook *log, tw_fault *fault)
{
  tw_status status = tw_log_run(log, "BEGIN IMMEDIATE", "writing", fault);
  if (status != TW_OK) {
    return status;
  }
  /* two that make the same log at once: the second finds it made */
  int64_t tables = 0;
  status = tw_log_number(log, "SELECT count(*) FROM sqlite_master", NULL, &tables, fault);
  for (int i = 0; status == TW_OK && tables == 0 && i < OBJECTS; i++) {
    status = tw_log_run(log, object[i].sql, "writing", fault);
  }
  status = status == TW_OK && tables == 0 ? sign(log, fault) : status;
  return tw_log_end(log, status, fault);
}

/* the log as it was, beside it, before anything is changed */
static tw_status keep_old(tw_logbook *log, int64_t from, tw_fault *fault)
{
  char file[PATH_MAX], part[PATH_MAX + 8];
  snprintf(file, sizeof file, "%s.schema-%lld", log->path, (long long)from);
  if (log->memory || access(file, F_OK) == 0) {
    return TW_OK;
  }
  snprintf(part, sizeof part, "%s.part", file);
  unlink(part);
  const tw_status status = tw_log_vacuum_into(log, part, fault);
  return status == TW_OK ? tw_log_rename_synced(part, file, fault) : status;
}

/* everything that came after schema `from`; ids and bodies stay as they are */
static tw_status add_since(tw_logbook *log, int64_t from, tw_fault *fault)
{
  tw_status status = tw_log_run(log, "BEGIN IMMEDIATE", "writing", fault);
  if (status != TW_OK) {
    return status;
  }
  /* another program may have done it meanwhile */
  int64_t now = 0;
  status = tw_log_number(log, "PRAGMA user_version", NULL, &now, fault);
  for (int i = 0; status == TW_OK && now == from && i < OBJECTS; i++) {
    status = object[i].since > from ? tw_log_run(log, object[i].sql, "writing", fault) : TW_OK;
  }
  status = status == TW_OK && now == from ? sign(log, fault) : status;
  return tw_log_end(log, status, fault);
}

/* a log that is only read stays as it is: a copy in memory is brought up to date */
static tw_status into_memory(tw_logbook *log, tw_fault *fault)
{
  sqlite3 *copy = NULL;
  int code = sqlite3_open(":memory:", &copy);
  sqlite3_backup *work =
      code == SQLITE_OK ? sqlite3_backup_init(copy, "main", log->base, "main") : NULL;
  code = work ? sqlite3_backup_step(work, -1) : sqlite3_errcode(copy);
  if (work) {
    sqlite3_backup_finish(work);
  }
  if (code != SQLITE_DONE) {
    sqlite3_close(copy);
    return tw_log_trouble(log, code, "reading", fault);
  }
  sqlite3_close(log->base);
  log->base = copy;
  return TW_OK;
}

tw_status tw_log_schema_migrate(tw_logbook *log, int64_t from, tw_fault *fault)
{
  if (from < 1) {
    return tw_fail(fault, TW_BAD_INPUT, "", "name another file",
                   "%.150s: there is no schema %lld of a log", log->path, (long long)from);
  }
  const tw_status status = log->write ? keep_old(log, from, fault) : into_memory(log, fault);
  return status == TW_OK ? add_since(log, from, fault) : status;
}

tw_status tw_log_schema_check(tw_logbook *log, tw_messages *messages, size_t *troubles,
                              tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  tw_status status =
      tw_log_prepare(log, "SELECT sql FROM sqlite_master WHERE name = ?1", &get, fault);
  for (int i = 0; status == TW_OK && i < OBJECTS; i++) {
    sqlite3_bind_text(get, 1, object[i].name, -1, SQLITE_STATIC);
    const int code = sqlite3_step(get);
    if (code != SQLITE_ROW && code != SQLITE_DONE) {
      status = tw_log_trouble(log, code, "reading", fault);
    } else if (code == SQLITE_DONE || strcmp(tw_log_column(get, 0), object[i].sql) != 0) {
      tw_messages_add(messages, TW_ERROR, (tw_place){.file = log->path}, NULL, NULL,
                      "export the log and import it into a new one",
                      code == SQLITE_DONE ? "%s is missing in the schema"
                                          : "%s in the schema is not what it was made as",
                      object[i].name);
      (*troubles)++;
    }
    sqlite3_reset(get);
  }
  sqlite3_finalize(get);
  return status;
}
