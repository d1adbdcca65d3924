/* The n-th allocation fails while a fault is sought: the answer is "out of memory", never a crash,
 * a leak (the sanitizer build looks) or a list of suspects that lacks one. */
#include "design_fixture.h"
#include "tripwright/bench_suspect.h"

static void memory_runs_out(void **state)
{
  (void)state;
  tw_design *design = good_design(tw_design_template(TW_SEAT_TRIPOD), TW_NEED_ALL);
  static tw_suspicion found;
  const tw_bench_reading reading = {.id = TW_BENCH_WEIGHT_SIDE, .value = 0.5};
  long failures = 0;
  for (long n = 1;; n = n < 8 ? n + 1 : 3 * n) {
    tw_fault fault = {0};
    tw_alloc_fail_at(n, true);
    const tw_status status =
        tw_bench_suspect(design, units, NULL, &reading, 1, 1, NULL, &found, &fault);
    const long seen = tw_alloc_seen();
    tw_alloc_fail_at(0, false);
    if (seen < n) {
      assert_int_equal(status, TW_OK);
      break;
    }
    if (status != TW_NO_MEMORY) {
      fail_msg("allocation %ld of %ld: %s %s", n, seen, tw_status_text(status), fault.text);
    }
    failures++;
  }
  print_message("%ld allocations failed, one at a time\n", failures);
  assert_true(failures > 10);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(memory_runs_out),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
