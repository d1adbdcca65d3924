/* copy.c: the log copied as it is in one moment, and a copy given its name. */
#include "inside.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

tw_status tw_log_vacuum_into(const tw_logbook *log, const char *file, tw_fault *fault)
{
  sqlite3_stmt *copy = NULL;
  /* it counts as writing, though not to the log */
  tw_status status = tw_log_run(log, "PRAGMA query_only = OFF", "the backup", fault);
  status = status == TW_OK ? tw_log_prepare(log, "VACUUM INTO ?1", &copy, fault) : status;
  if (status == TW_OK) {
    sqlite3_bind_text(copy, 1, file, -1, SQLITE_STATIC);
    status = tw_log_done(log, copy, "the backup", fault);
  }
  sqlite3_finalize(copy);
  if (!log->write) {
    (void)tw_log_run(log, "PRAGMA query_only = ON", "the backup", NULL);
  }
  return status;
}

static void sync_file(const char *file)
{
  FILE *f = fopen(file, "rb");
  if (f) {
    (void)fsync(fileno(f));
    fclose(f);
  }
}

tw_status tw_log_rename_synced(const char *from, const char *to, tw_fault *fault)
{
  sync_file(from);
  return rename(from, to) == 0
             ? TW_OK
             : tw_fail(fault, TW_NO_FILE, "", NULL, "%.150s: %s", to, strerror(errno));
}
