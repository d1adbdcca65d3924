/* parallel.h: one loop on several threads.
 *
 * The items 0 .. count - 1 are handed out in chunks to a few threads, of which the caller is one.
 * What is computed must not depend on who computes it: then the result is the same for any number
 * of threads. Nothing is kept between calls; several loops may run at once from different threads.
 */
#ifndef TRIPWRIGHT_PARALLEL_H
#define TRIPWRIGHT_PARALLEL_H

#include "tripwright/base.h"

#define TW_THREADS_MOST 64

typedef struct tw_loop {
  size_t count; /* items */
  size_t chunk; /* items handed out together; 0: a quarter of each thread's share */
  int threads;  /* 0: as many as there are processors */
  /* Do the items first .. first + count - 1. `worker` (0 .. threads - 1) names the thread, for its
   * own workspace. A status other than TW_OK stops the loop; `fault` is the worker's own. */
  tw_status (*work)(void *self, int worker, size_t first, size_t count, tw_fault *fault);
  void *self;
  const char *what; /* for progress */
} tw_loop;

/* how many threads such a loop would use: 1 .. TW_THREADS_MOST */
int tw_threads(int wanted);

/* Run the loop. `progress` is called by the calling thread only, between its chunks and while it
 * waits for the others (twenty times a second); false from it stops the loop after the chunks under
 * way and gives TW_CANCELLED. Of several failures the one with the lowest item is returned. */
tw_status tw_parallel(const tw_loop *loop, const tw_progress *progress, tw_fault *fault);

#endif
