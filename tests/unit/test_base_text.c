/* A text put together piece by piece: growing, in a fixed room, and without memory. */
#include "near.h"

#include "tripwright/text.h"

#include <string.h>

static void grows(void **state)
{
  (void)state;
  tw_text text = {0};
  char want[4001] = "";
  for (int i = 0; i < 1000; i++) {
    tw_text_add(&text, "%03d,", i);
    snprintf(want + 4 * i, 5, "%03d,", i);
  }
  tw_text_put(&text, "50 %s");
  assert_int_equal(text.length, 4005);
  char *whole = tw_text_take(&text);
  assert_memory_equal(whole, want, 4000);
  assert_string_equal(whole + 4000, "50 %s");
  assert_null(text.at);
  tw_free(whole);
  whole = tw_text_take(&text);
  assert_string_equal(whole, "");
  tw_free(whole);
}

/* what does not fit is cut, the length counts on, nothing is written past the room */
static void is_cut(void **state)
{
  (void)state;
  char room[12];
  memset(room, '#', sizeof room);
  tw_text text = tw_text_in(room, 8);
  assert_string_equal(room, "");
  tw_text_put(&text, "abc");
  tw_text_add(&text, "-%d-", 12345);
  tw_text_put(&text, "z");
  assert_string_equal(room, "abc-123");
  assert_int_equal(text.length, 11);
  assert_int_equal(room[8], '#');
  tw_text nothing = tw_text_in(NULL, 0);
  tw_text_add(&nothing, "%s", "four");
  assert_int_equal(nothing.length, 4);
}

static void says_that_memory_ran_out(void **state)
{
  (void)state;
  tw_text text = {0};
  tw_text_put(&text, "kept");
  tw_alloc_fail_at(1, false);
  for (int i = 0; i < 100; i++) {
    tw_text_add(&text, "%d more words, ", i);
  }
  tw_alloc_fail_at(0, false);
  assert_true(text.failed);
  assert_null(tw_text_take(&text));
  assert_false(text.failed);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(grows),
      cmocka_unit_test(is_cut),
      cmocka_unit_test(says_that_memory_ran_out),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
