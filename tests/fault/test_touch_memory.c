/* A touch without memory or disk: said, not crashed. */
#include "near.h"
#include "touch_scenes.h"

static void no_memory(void **state)
{
  (void)state;
  tw_alloc_fail_at(1, true);
  tw_touch_work *w = tw_touch_work_new();
  assert_null(w);
  tw_touch_work_free(w);
  tw_fault fault = {0};
  const tw_touch_model m = scene_circuit(1);
  const tw_touch_motion go = scene_feed(100);
  FILE *f = tmpfile();
  assert_non_null(f);
  assert_int_equal(tw_touch_netlist(&m, &go, 1e-3, 1e-6, f, &fault), TW_NO_MEMORY);
  assert_int_equal(fault.status, TW_NO_MEMORY);
  fclose(f);
  tw_alloc_fail_at(0, false);
}

static void full_disk(void **state)
{
  (void)state;
  FILE *f = fopen("/dev/full", "w");
  if (!f) {
    print_message("SKIPPED: no /dev/full here\n");
    skip();
  }
  tw_fault fault = {0};
  const tw_touch_model m = scene_circuit(1);
  const tw_touch_motion go = scene_feed(100);
  assert_int_equal(tw_touch_netlist(&m, &go, 1e-3, 1e-6, f, &fault), TW_NO_FILE);
  fclose(f);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(no_memory), cmocka_unit_test(full_disk)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
