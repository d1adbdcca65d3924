/* backup.c: a copy in one step, checked before it takes its name. */
#include "inside.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static tw_status vacuum_into(const tw_logbook *log, const char *file, tw_fault *fault)
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

/* the copy is whole, by its own check */
static tw_status check_copy(const char *file, tw_fault *fault)
{
  tw_logbook *copy = NULL;
  tw_log_health health;
  tw_messages *messages = tw_messages_new();
  tw_status status =
      messages ? tw_logbook_open(file, &(tw_logbook_options){.write = false}, &copy, fault)
               : tw_log_no_memory(fault);
  status = status == TW_OK ? tw_log_check_copy(copy, messages, &health, fault) : status;
  if (status == TW_OK && health.troubles > 0) {
    status = tw_fail(fault, TW_BAD_INPUT, "", "tripwright log check says what is damaged",
                     "the log is damaged: %s", tw_messages_at(messages, 0)->text);
  }
  tw_logbook_close(copy);
  tw_messages_free(messages);
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

tw_status tw_logbook_backup(tw_logbook *log, const char *file, tw_fault *fault)
{
  char temporary[PATH_MAX];
  if (access(file, F_OK) == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "", "choose another name, such as one with the date",
                   "%.150s is there already", file);
  }
  snprintf(temporary, sizeof temporary, "%s.part", file);
  unlink(temporary);
  tw_status status = vacuum_into(log, temporary, fault);
  status = status == TW_OK ? check_copy(temporary, fault) : status;
  if (status == TW_OK) {
    sync_file(temporary);
    if (rename(temporary, file) != 0) {
      status = tw_fail(fault, TW_NO_FILE, "", NULL, "%.150s: %s", file, strerror(errno));
    }
  }
  if (status != TW_OK) {
    unlink(temporary);
  }
  return status;
}
