/* parallel.c: a loop on several threads; chunks are taken from one counter. */
#include "tripwright/parallel.h"

#include <assert.h>
#include <pthread.h>
#include <stdatomic.h>
#include <time.h>
#include <unistd.h>

typedef struct shared {
  const tw_loop *loop;
  size_t chunk;
  atomic_size_t next; /* first item not handed out */
  atomic_size_t done; /* items finished */
  atomic_bool stop;
  pthread_mutex_t lock; /* guards the three below */
  pthread_cond_t ended;
  int running; /* threads beside the caller's that have not ended */
  size_t failed_at;
  tw_status status;
  tw_fault fault;
} shared;

typedef struct thread {
  shared *all;
  int worker;
  pthread_t id;
} thread;

int tw_threads(int wanted)
{
  long count = wanted;
  if (wanted <= 0) {
    count = sysconf(_SC_NPROCESSORS_ONLN);
  }
  if (count < 1) {
    count = 1;
  }
  return count > TW_THREADS_MOST ? TW_THREADS_MOST : (int)count;
}

/* the failure with the lowest item is the one that counts */
static void note_failure(shared *all, size_t first, tw_status status, const tw_fault *fault)
{
  atomic_store(&all->stop, true);
  pthread_mutex_lock(&all->lock);
  if (all->status == TW_OK || first < all->failed_at) {
    all->failed_at = first;
    all->status = status;
    all->fault = *fault;
  }
  pthread_mutex_unlock(&all->lock);
}

/* take one chunk and do it; false when there is nothing left to do */
static bool one_chunk(shared *all, int worker)
{
  const size_t count = all->loop->count;
  if (atomic_load(&all->stop)) {
    return false;
  }
  const size_t first = atomic_fetch_add(&all->next, all->chunk);
  if (first >= count) {
    return false;
  }
  const size_t here = count - first < all->chunk ? count - first : all->chunk;
  tw_fault fault = {0};
  const tw_status status = all->loop->work(all->loop->self, worker, first, here, &fault);
  if (status != TW_OK) {
    note_failure(all, first, status, &fault);
    return false;
  }
  atomic_fetch_add(&all->done, here);
  return true;
}

static void *run_thread(void *self)
{
  thread *own = self;
  while (one_chunk(own->all, own->worker)) {
  }
  pthread_mutex_lock(&own->all->lock);
  own->all->running--;
  pthread_cond_signal(&own->all->ended);
  pthread_mutex_unlock(&own->all->lock);
  return NULL;
}

/* false: the caller asked to stop */
static bool tick(const shared *all, const tw_progress *progress)
{
  const double count = all->loop->count ? (double)all->loop->count : 1.0;
  return tw_progress_tick(progress, (double)atomic_load(&all->done) / count,
                          all->loop->what ? all->loop->what : "");
}

/* wait for the other threads, telling the progress now and then; true if asked to stop */
static bool wait_for_others(shared *all, const tw_progress *progress, bool cancelled)
{
  pthread_mutex_lock(&all->lock);
  while (all->running > 0) {
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_nsec += 50000000;
    if (until.tv_nsec >= 1000000000) {
      until.tv_nsec -= 1000000000;
      until.tv_sec++;
    }
    pthread_cond_timedwait(&all->ended, &all->lock, &until);
    if (all->running > 0 && !cancelled) {
      pthread_mutex_unlock(&all->lock);
      cancelled = !tick(all, progress);
      if (cancelled) {
        atomic_store(&all->stop, true);
      }
      pthread_mutex_lock(&all->lock);
    }
  }
  pthread_mutex_unlock(&all->lock);
  return cancelled;
}

/* the caller's own share; true if asked to stop */
static bool own_share(shared *all, const tw_progress *progress)
{
  do {
    if (!tick(all, progress)) {
      atomic_store(&all->stop, true);
      return true;
    }
  } while (one_chunk(all, 0));
  return false;
}

tw_status tw_parallel(const tw_loop *loop, const tw_progress *progress, tw_fault *fault)
{
  assert(loop->work);
  if (loop->count == 0) {
    return TW_OK;
  }
  int threads = tw_threads(loop->threads);
  if ((size_t)threads > loop->count) {
    threads = (int)loop->count;
  }
  shared all = {.loop = loop, .chunk = loop->chunk};
  if (all.chunk == 0) {
    all.chunk = loop->count / ((size_t)threads * 4) + 1;
  }
  pthread_mutex_init(&all.lock, NULL);
  pthread_cond_init(&all.ended, NULL);
  /* a thread that cannot be started leaves its share to the others */
  thread own[TW_THREADS_MOST];
  int started = 1;
  for (; started < threads; started++) {
    own[started] = (thread){.all = &all, .worker = started};
    pthread_mutex_lock(&all.lock);
    all.running++;
    pthread_mutex_unlock(&all.lock);
    if (pthread_create(&own[started].id, NULL, run_thread, &own[started]) != 0) {
      pthread_mutex_lock(&all.lock);
      all.running--;
      pthread_mutex_unlock(&all.lock);
      break;
    }
  }
  bool cancelled = own_share(&all, progress);
  cancelled = wait_for_others(&all, progress, cancelled);
  for (int i = 1; i < started; i++) {
    pthread_join(own[i].id, NULL);
  }
  pthread_mutex_destroy(&all.lock);
  pthread_cond_destroy(&all.ended);
  if (all.status != TW_OK) {
    if (fault) {
      *fault = all.fault;
    }
    return all.status;
  }
  if (cancelled && atomic_load(&all.done) < loop->count) {
    return tw_fail(fault, TW_CANCELLED, "", "what is done is kept", "stopped on request");
  }
  return TW_OK;
}
