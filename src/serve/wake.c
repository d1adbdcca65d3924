/* wake.c: the clock, and an exchange that has its reply. */
#include "parts.h"

#include <time.h>

double tw_serve_now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

void tw_wake(tw_exchange *exchange, unsigned code, char *reply)
{
  exchange->code = reply ? code : MHD_HTTP_INTERNAL_SERVER_ERROR;
  exchange->reply = reply;
  exchange->stage = TW_READY;
  MHD_resume_connection(exchange->connection);
}
