/* sql.c: SQLite in words: what it says becomes cause and cure. */
#include "inside.h"

#include <string.h>

tw_status tw_log_no_memory(tw_fault *fault)
{
  return tw_fail(fault, TW_NO_MEMORY, "", NULL, "out of memory");
}

tw_status tw_log_trouble(const tw_logbook *log, int code, const char *doing, tw_fault *fault)
{
  const char *path = log->path;
  switch (code & 0xff) {
  case SQLITE_NOMEM:
    return tw_log_no_memory(fault);
  case SQLITE_FULL:
    return tw_fail(fault, TW_NO_FILE, "", "make room and enter it again",
                   "%.150s: the disk is full; what was entered before is safe", path);
  case SQLITE_IOERR:
    return tw_fail(fault, TW_NO_FILE, "", "is there room on the disk? then enter it again",
                   "%.100s: %s failed (%.60s); what was entered before is safe", path, doing,
                   sqlite3_errmsg(log->base));
  case SQLITE_NOTADB:
    return tw_fail(fault, TW_BAD_INPUT, "", "name the log; this file is left as it is",
                   "%.150s is no log", path);
  case SQLITE_CORRUPT:
    return tw_fail(fault, TW_BAD_INPUT, "",
                   "tripwright log check says what; log export saves what can be read; then import "
                   "that, or a backup, into a new log",
                   "%.150s is damaged", path);
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    return tw_fail(fault, TW_NO_FILE, "", "wait for the other program and enter it again",
                   "%.150s is being written by another program", path);
  case SQLITE_READONLY:
  case SQLITE_CANTOPEN:
  case SQLITE_PERM:
    return tw_fail(fault, TW_NO_FILE, "", "is the folder there, and may it be written to?",
                   "%.150s cannot be opened%s", path, log->write ? " for writing" : "");
  case SQLITE_CONSTRAINT:
    return tw_fail(fault, TW_BAD_INPUT, "", "a log is only added to; write a correction",
                   "%.120s: refused: %.80s", path, sqlite3_errmsg(log->base));
  default:
    return tw_fail(fault, TW_NO_FILE, "", NULL, "%.120s: %s: %.80s", path, doing,
                   sqlite3_errmsg(log->base));
  }
}

tw_status tw_log_run(const tw_logbook *log, const char *sql, const char *doing, tw_fault *fault)
{
  const int code = sqlite3_exec(log->base, sql, NULL, NULL, NULL);
  return code == SQLITE_OK ? TW_OK : tw_log_trouble(log, code, doing, fault);
}

tw_status tw_log_prepare(const tw_logbook *log, const char *sql, sqlite3_stmt **out,
                         tw_fault *fault)
{
  const int code = sqlite3_prepare_v2(log->base, sql, -1, out, NULL);
  return code == SQLITE_OK ? TW_OK : tw_log_trouble(log, code, "reading", fault);
}

tw_status tw_log_number(const tw_logbook *log, const char *sql, const char *text, int64_t *out,
                        tw_fault *fault)
{
  sqlite3_stmt *get = NULL;
  *out = 0;
  tw_status status = tw_log_prepare(log, sql, &get, fault);
  if (status == TW_OK) {
    if (text) {
      sqlite3_bind_text(get, 1, text, -1, SQLITE_STATIC);
    }
    const int code = sqlite3_step(get);
    if (code == SQLITE_ROW) {
      *out = sqlite3_column_int64(get, 0);
    } else if (code != SQLITE_DONE) {
      status = tw_log_trouble(log, code, "reading", fault);
    }
  }
  sqlite3_finalize(get);
  return status;
}

tw_status tw_log_done(const tw_logbook *log, sqlite3_stmt *statement, const char *doing,
                      tw_fault *fault)
{
  const int code = sqlite3_step(statement);
  const tw_status status = code == SQLITE_DONE ? TW_OK : tw_log_trouble(log, code, doing, fault);
  sqlite3_reset(statement);
  return status;
}

tw_status tw_log_end(const tw_logbook *log, tw_status status, tw_fault *fault)
{
  if (status == TW_OK) {
    status = tw_log_run(log, "COMMIT", "writing", fault);
  }
  if (status != TW_OK && !sqlite3_get_autocommit(log->base)) {
    sqlite3_exec(log->base, "ROLLBACK", NULL, NULL, NULL);
  }
  return status;
}

const char *tw_log_column(sqlite3_stmt *statement, int column)
{
  const unsigned char *text = sqlite3_column_text(statement, column);
  return text ? (const char *)text : "";
}
