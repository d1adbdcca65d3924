/* open.c: a log opened, made, or refused. */
#include "inside.h"

#include <string.h>
#include <unistd.h>

#define WAIT_MS 10000 /* for another program that writes (own choice) */

/* rollback journal, and its folder synced, before a commit counts */
#define HABITS                                                                                     \
  "PRAGMA journal_mode = DELETE; PRAGMA synchronous = EXTRA; "                                     \
  "PRAGMA cell_size_check = ON; PRAGMA foreign_keys = OFF"

static tw_status newer(const tw_logbook *log, int64_t version, tw_fault *fault)
{
  return tw_fail(fault, TW_BAD_INPUT, "", "write with the newer tripwright that made it",
                 "%.150s has schema %lld, this program writes up to %d; it can be read", log->path,
                 (long long)version, TW_LOG_SCHEMA);
}

/* whose file is it, and of which version? */
static tw_status recognise(tw_logbook *log, const tw_logbook_options *o, tw_fault *fault)
{
  int64_t application = 0, version = 0, objects = 0;
  tw_status status =
      tw_log_number(log, "SELECT count(*) FROM sqlite_master", NULL, &objects, fault);
  status = status == TW_OK ? tw_log_number(log, "PRAGMA application_id", NULL, &application, fault)
                           : status;
  status =
      status == TW_OK ? tw_log_number(log, "PRAGMA user_version", NULL, &version, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  if (objects == 0 && application == 0 && o->create) {
    return tw_log_schema_make(log, fault);
  }
  if (application != TW_LOG_APPLICATION) {
    return tw_log_trouble(log, SQLITE_NOTADB, "reading", fault);
  }
  if (version > TW_LOG_SCHEMA) {
    return log->write ? newer(log, version, fault) : TW_OK;
  }
  return version < TW_LOG_SCHEMA ? tw_log_schema_migrate(log, version, fault) : TW_OK;
}

static tw_status open_base(tw_logbook *log, const tw_logbook_options *o, tw_fault *fault)
{
  /* reading, too, opens for writing where it may: a journal that a killed program left behind has
   * to be rolled back first */
  const int flags = SQLITE_OPEN_READWRITE | (o->create ? SQLITE_OPEN_CREATE : 0);
  int code = sqlite3_open_v2(log->path, &log->base, flags, NULL);
  if (code != SQLITE_OK) {
    return tw_log_trouble(log, code, "opening", fault);
  }
  sqlite3_extended_result_codes(log->base, 1);
  sqlite3_busy_timeout(log->base, WAIT_MS);
  sqlite3_db_config(log->base, SQLITE_DBCONFIG_DEFENSIVE, 1, (int *)NULL);
  tw_status status = log->write ? tw_log_run(log, HABITS, "opening", fault) : TW_OK;
  status = status == TW_OK ? recognise(log, o, fault) : status;
  if (status == TW_OK && !log->write) {
    status = tw_log_run(log, "PRAGMA query_only = ON", "opening", fault);
  }
  if (status == TW_OK && log->write && sqlite3_db_readonly(log->base, "main")) {
    status = tw_log_trouble(log, SQLITE_READONLY, "opening", fault);
  }
  return status;
}

tw_status tw_logbook_open(const char *file, const tw_logbook_options *options, tw_logbook **out,
                          tw_fault *fault)
{
  const bool memory = strcmp(file, ":memory:") == 0;
  *out = NULL;
  if (!memory && !options->create && access(file, F_OK) != 0) {
    return tw_fail(fault, TW_NO_FILE, "", "tripwright log add makes it with the first entry",
                   "there is no log %.150s", file);
  }
  if (!memory && options->write && !options->anywhere) {
    const tw_status placed = tw_logbook_place(file, fault);
    if (placed != TW_OK) {
      return placed;
    }
  }
  tw_logbook *log = tw_alloc(1, sizeof *log);
  if (!log) {
    return tw_log_no_memory(fault);
  }
  log->path = tw_copy_text(file);
  log->state = tw_copy_text(options->state);
  log->write = options->write;
  log->memory = memory;
  tw_status status = log->path && (log->state || !options->state) ? TW_OK : tw_log_no_memory(fault);
  status = status == TW_OK ? open_base(log, options, fault) : status;
  if (status != TW_OK) {
    tw_logbook_close(log);
    return status;
  }
  *out = log;
  return TW_OK;
}

void tw_logbook_close(tw_logbook *log)
{
  if (log) {
    tw_log_writer_remember(log);
    sqlite3_close(log->base);
    tw_free(log->path);
    tw_free(log->state);
    tw_free(log);
  }
}

const char *tw_logbook_path(const tw_logbook *log)
{
  return log->path;
}
