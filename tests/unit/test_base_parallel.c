/* The loop on several threads: every item once, failures, cancelling. */
#include "near.h"
#include "tripwright/parallel.h"

#include <stdatomic.h>
#include <string.h>

typedef struct tally {
  unsigned char seen[1000];
  atomic_int workers[TW_THREADS_MOST];
  size_t fail_from, fail_every;
} tally;

static tw_status count_items(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  tally *t = self;
  atomic_fetch_add(&t->workers[worker], 1);
  for (size_t i = first; i < first + count; i++) {
    if (t->fail_every && i >= t->fail_from && i % t->fail_every == 0) {
      return tw_fail(fault, TW_NO_ANSWER, "x", NULL, "item %zu", i);
    }
    t->seen[i]++;
  }
  return TW_OK;
}

static void every_item_once(void **state)
{
  (void)state;
  static const int threads[] = {1, 2, 4, 7};
  static const size_t chunks[] = {0, 1, 3, 999, 5000};
  for (size_t k = 0; k < 4; k++) {
    for (size_t c = 0; c < 5; c++) {
      tally t;
      memset(&t, 0, sizeof t);
      const tw_loop loop = {1000, chunks[c], threads[k], count_items, &t, "test"};
      assert_int_equal(tw_parallel(&loop, NULL, NULL), TW_OK);
      for (size_t i = 0; i < 1000; i++) {
        assert_int_equal(t.seen[i], 1);
      }
      for (int w = threads[k]; w < TW_THREADS_MOST; w++) {
        assert_int_equal(t.workers[w], 0);
      }
    }
  }
}

static void nothing_to_do_is_done(void **state)
{
  (void)state;
  tally t;
  memset(&t, 0, sizeof t);
  const tw_loop loop = {0, 0, 4, count_items, &t, NULL};
  assert_int_equal(tw_parallel(&loop, NULL, NULL), TW_OK);
}

static void lowest_failure_is_told(void **state)
{
  (void)state;
  for (int repeat = 0; repeat < 50; repeat++) {
    tally t;
    memset(&t, 0, sizeof t);
    t.fail_every = 1; /* every item fails: the first chunk is always taken, so item 0 is told */
    tw_fault fault = {0};
    const tw_loop loop = {1000, 10, 4, count_items, &t, NULL};
    assert_int_equal(tw_parallel(&loop, NULL, &fault), TW_NO_ANSWER);
    assert_string_equal(fault.text, "item 0");
    assert_string_equal(fault.field, "x");
  }
}

typedef struct patience {
  int calls, most;
  double last;
} patience;

static bool impatient(void *self, double done, const char *what)
{
  patience *p = self;
  assert_string_equal(what, "test");
  assert_true(done >= p->last && done <= 1.0);
  p->last = done;
  return ++p->calls <= p->most;
}

static void cancelling_keeps_what_is_done(void **state)
{
  (void)state;
  tally t;
  memset(&t, 0, sizeof t);
  patience p = {.most = 5};
  const tw_progress progress = {impatient, &p};
  tw_fault fault = {0};
  const tw_loop loop = {1000, 10, 1, count_items, &t, "test"};
  assert_int_equal(tw_parallel(&loop, &progress, &fault), TW_CANCELLED);
  int done = 0;
  for (size_t i = 0; i < 1000; i++) {
    done += t.seen[i];
  }
  assert_int_equal(done, 50);
  p = (patience){.most = 1000000};
  memset(&t, 0, sizeof t);
  const tw_loop again = {1000, 10, 3, count_items, &t, "test"};
  assert_int_equal(tw_parallel(&again, &progress, &fault), TW_OK);
}

static void thread_numbers_are_sane(void **state)
{
  (void)state;
  assert_true(tw_threads(0) >= 1);
  assert_int_equal(tw_threads(3), 3);
  assert_int_equal(tw_threads(100000), TW_THREADS_MOST);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_item_once),         cmocka_unit_test(nothing_to_do_is_done),
      cmocka_unit_test(lowest_failure_is_told),  cmocka_unit_test(cancelling_keeps_what_is_done),
      cmocka_unit_test(thread_numbers_are_sane),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
