/* backup.c: a copy in one step, checked before it takes its name. */
#include "inside.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

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

tw_status tw_logbook_backup(tw_logbook *log, const char *file, tw_fault *fault)
{
  char temporary[PATH_MAX];
  if (access(file, F_OK) == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "", "choose another name, such as one with the date",
                   "%.150s is there already", file);
  }
  snprintf(temporary, sizeof temporary, "%s.part", file);
  unlink(temporary);
  tw_status status = tw_log_vacuum_into(log, temporary, fault);
  status = status == TW_OK ? check_copy(temporary, fault) : status;
  if (status == TW_OK) {
    status = tw_log_rename_synced(temporary, file, fault);
  }
  if (status != TW_OK) {
    unlink(temporary);
  }
  return status;
}
