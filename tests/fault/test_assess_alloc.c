/* The n-th allocation fails while a design is read and assessed: the answer is always "out of
 * memory", never a crash, a leak (the sanitizer build looks) or a figure that lacks a part.
 * Reading fails at every n; the assessment at every n with TW_PROVE=1, otherwise at a stride of
 * primes, so that each of its parts is met in every run. */
#include "design_fixture.h"
#include "tripwright/assess.h"

#include <stdio.h>
#include <stdlib.h>

static const char *const examples[] = {"pillar-indexer", "gearbox-tripod", "edge-bonded",
                                       "plate-sizer",    "unit-07",        "top-face-gate"};
enum { EXAMPLES = sizeof examples / sizeof examples[0] };

static bool long_run(void)
{
  return getenv("TW_PROVE") != NULL;
}

/* what a run leaves behind; freed by the caller */
typedef struct trial {
  const char *file;
  const tw_design *read; /* for the assessment alone */
  tw_assess_options options;
  tw_fault fault;
} trial;

/* file to design to limits */
static tw_status read_it(trial *t)
{
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  tw_status status = TW_NO_MEMORY;
  if (messages) {
    status = tw_design_read(t->file, &options, messages, &design);
    assert_true((status == TW_OK) == (design != NULL));
    if (status == TW_OK) {
      tw_limits limits;
      status = tw_limits_read(design, units, messages, &limits);
      assert_true(status != TW_OK || limits.count >= 0);
    }
  }
  tw_design_free(design);
  tw_messages_free(messages);
  return status;
}

static tw_status assess_it(trial *t)
{
  static tw_assessment a;
  const tw_status status = tw_assess(t->read, &t->options, &a, &t->fault);
  if (status == TW_OK) {
    for (int i = 0; i < TW_MEASURE_COUNT; i++) {
      /* a want of memory must not pass for a want of an answer */
      assert_null(strstr(a.measure[i].note, tw_status_text(TW_NO_MEMORY)));
    }
  }
  return status;
}

/* run `work` with allocation 1, 1 + step, 1 + 2 step ... failing until it needs no more; how many
 */
static long fail_each(tw_status (*work)(trial *), trial *t, long step, bool always)
{
  long failures = 0;
  for (long n = 1;; n += step) {
    t->fault = (tw_fault){0};
    tw_alloc_fail_at(n, always);
    const tw_status status = work(t);
    const long seen = tw_alloc_seen();
    tw_alloc_fail_at(0, false);
    if (seen < n) {
      assert_int_equal(status, TW_OK);
      return failures;
    }
    if (status != TW_NO_MEMORY) {
      fail_msg("%s: allocation %ld of %ld: %s %s", t->file, n, seen, tw_status_text(status),
               t->fault.text);
    }
    failures++;
  }
}

static void file_of(const char *name, char *out, size_t size)
{
  snprintf(out, size, "%s/examples/%s.yaml", TW_SOURCE_DIR, name);
}

static void every_allocation_of_reading(void **state)
{
  (void)state;
  for (int e = 0; e < EXAMPLES; e++) {
    char file[600];
    file_of(examples[e], file, sizeof file);
    trial t = {.file = file};
    const long once = fail_each(read_it, &t, 1, false);
    const long from = fail_each(read_it, &t, 1, true);
    print_message("%s: %ld allocations of reading, each failed alone and with all after it\n",
                  examples[e], once);
    assert_true(once > 4 && from == once);
  }
}

/* allocations of one whole assessment */
static long count_all(trial *t)
{
  tw_alloc_fail_at(0, false);
  assert_int_equal(assess_it(t), TW_OK);
  return tw_alloc_seen();
}

static void allocations_of(const tw_assess_options *options, long runs)
{
  for (int e = 0; e < EXAMPLES; e++) {
    char file[600];
    file_of(examples[e], file, sizeof file);
    const tw_read_options reading = {.units = units, .library = library, .need = TW_NEED_ALL};
    tw_messages *messages = tw_messages_new();
    tw_design *design = NULL;
    assert_int_equal(tw_design_read(file, &reading, messages, &design), TW_OK);
    tw_messages_free(messages);
    trial t = {.file = file, .read = design, .options = *options};
    const long all = count_all(&t);
    const long step = long_run() || all <= runs ? 1 : all / runs + 1;
    const long failed = fail_each(assess_it, &t, step, false);
    print_message("%s: %ld allocations of assessing, %ld failed\n", examples[e], all, failed);
    assert_true(failed >= (all - 1) / step);
    tw_design_free(design);
  }
}

static void allocations_of_statics(void **state)
{
  (void)state;
  tw_assess_options options = tw_assess_defaults();
  options.azimuths = 4;
  options.threads = 1; /* so that the n-th allocation is always the same */
  options.map = options.timed = false;
  allocations_of(&options, 12);
}

static void allocations_in_time(void **state)
{
  (void)state;
  tw_assess_options options = tw_assess_defaults();
  options.azimuths = 4;
  options.threads = 1; /* so that the n-th allocation is always the same */
  options.map = false;
  allocations_of(&options, 2);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_allocation_of_reading),
      cmocka_unit_test(allocations_of_statics),
      cmocka_unit_test(allocations_in_time),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
