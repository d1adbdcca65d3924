/* run_watch.c: the pace at which a running study tells what it knows. */
#include "run_watch.h"

#include <time.h>

/* s between two documents: making one takes some ms, reading one in a browser as long */
#define PACE 0.4

static double now(void)
{
  struct timespec t = {0};
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

bool tw_run_due(tw_run_pace *pace)
{
  if (!pace->watch || !pace->watch->partial) {
    return false;
  }
  const double at = now();
  if (at - pace->last < PACE) {
    return false;
  }
  pace->last = at;
  return true;
}

void tw_run_tell(const tw_run_pace *pace, json_t *document)
{
  if (document && pace->watch && pace->watch->partial) {
    pace->watch->partial->take(pace->watch->partial->self, document);
  } else {
    json_decref(document);
  }
}

const tw_progress *tw_run_progress(const tw_run_watch *watch)
{
  return watch ? watch->progress : NULL;
}
