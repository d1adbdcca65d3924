/* status.c: status words and faults. */
#include "tripwright/base.h"

#include <stdarg.h>
#include <stdio.h>

const char *tw_status_text(tw_status status)
{
  static const char *const text[] = {
#define X(name, words) words,
      TW_STATUS_TABLE(X)
#undef X
  };
  const size_t count = sizeof text / sizeof text[0];
  return (size_t)status < count ? text[status] : "unknown status";
}

tw_status tw_fail(tw_fault *fault, tw_status status, const char *field, const char *hint,
                  const char *format, ...)
{
  if (!fault) {
    return status;
  }
  fault->status = status;
  snprintf(fault->field, sizeof fault->field, "%s", field ? field : "");
  snprintf(fault->hint, sizeof fault->hint, "%s", hint ? hint : "");
  va_list list;
  va_start(list, format);
  vsnprintf(fault->text, sizeof fault->text, format, list);
  va_end(list);
  return status;
}

bool tw_progress_tick(const tw_progress *progress, double done, const char *what)
{
  return !progress || !progress->tick || progress->tick(progress->self, done, what);
}
