/* four_threads.h: the same work on four threads at once, none of which may find anything wrong. */
#ifndef TW_TEST_FOUR_THREADS_H
#define TW_TEST_FOUR_THREADS_H

#include "near.h"

#include <pthread.h>

/* `work` gets a long to count what is wrong in */
static inline void on_four_threads(void *(*work)(void *wrong))
{
  pthread_t thread[4];
  long wrong[4] = {0};
  for (int i = 0; i < 4; i++) {
    assert_int_equal(pthread_create(&thread[i], NULL, work, &wrong[i]), 0);
  }
  for (int i = 0; i < 4; i++) {
    pthread_join(thread[i], NULL);
    assert_int_equal(wrong[i], 0);
  }
}

#endif
