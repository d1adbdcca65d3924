/* schema.c: the tables of a log, older ones brought up to date. docs/models/logbook.md 1. */
#include "inside.h"

#include "tripwright/files.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* one object of the schema: its statement stands in the file as it stands here */
static const struct {
  const char *name, *sql;
} object[] = {
    {"entry",
     "CREATE TABLE entry(id TEXT PRIMARY KEY NOT NULL, writer TEXT NOT NULL, seq INTEGER NOT NULL, "
     "clock INTEGER NOT NULL, at TEXT NOT NULL, kind TEXT NOT NULL, unit TEXT, "
     "replaces TEXT REFERENCES entry(id), body TEXT NOT NULL, UNIQUE(writer, seq)) STRICT"},
    {"document", "CREATE TABLE document(sha256 TEXT PRIMARY KEY NOT NULL, name TEXT NOT NULL, "
                 "bytes INTEGER NOT NULL, content BLOB) STRICT"},
    {"entry_order", "CREATE INDEX entry_order ON entry(clock, writer, seq)"},
    {"entry_unit", "CREATE INDEX entry_unit ON entry(unit, clock, writer, seq)"},
    {"entry_kind", "CREATE INDEX entry_kind ON entry(kind, clock, writer, seq)"},
    {"entry_replaces", "CREATE INDEX entry_replaces ON entry(replaces) WHERE replaces IS NOT NULL"},
    {"entry_no_update", "CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN "
                        "SELECT RAISE(ABORT, 'entries are never changed'); END"},
    {"entry_no_delete", "CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN "
                        "SELECT RAISE(ABORT, 'entries are never deleted'); END"},
    {"document_no_update", "CREATE TRIGGER document_no_update BEFORE UPDATE ON document BEGIN "
                           "SELECT RAISE(ABORT, 'documents are never changed'); END"},
    {"document_no_delete", "CREATE TRIGGER document_no_delete BEFORE DELETE ON document BEGIN "
                           "SELECT RAISE(ABORT, 'documents are never deleted'); END"},
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

tw_status tw_log_schema_migrate(tw_logbook *log, int64_t from, tw_fault *fault)
{
  return tw_fail(fault, TW_BAD_INPUT, "", "name another file",
                 "%.150s: there is no schema %lld of a log", log->path, (long long)from);
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
