/* Messages, memory and names of the base room. */
#include "near.h"
#include "tripwright/base.h"

#include <string.h>

static void prints_place_caret_and_hint(void **state)
{
  (void)state;
  tw_messages *m = tw_messages_new();
  const tw_place place = {"probe.yaml", 12, 3};
  tw_messages_add(m, TW_ERROR, place, "seat.flat_radius", "  flat_radius: 30 mm", "make it smaller",
                  "30 mm is larger than the ball radius %d mm", 5);
  char text[512];
  tw_message_print(tw_messages_at(m, 0), text, sizeof text);
  assert_string_equal(text, "probe.yaml:12:3: error: seat.flat_radius: 30 mm is larger than the "
                            "ball radius 5 mm\n    flat_radius: 30 mm\n    ^\n"
                            "  hint: make it smaller\n");
  tw_messages_free(m);
}

static void errors_past_the_limit_are_counted(void **state)
{
  (void)state;
  tw_messages *m = tw_messages_new();
  for (int i = 0; i < 3 * TW_MESSAGE_LIMIT; i++) {
    tw_messages_add(m, TW_ERROR, (tw_place){0}, NULL, NULL, NULL, "error %d", i);
  }
  tw_messages_add(m, TW_WARNING, (tw_place){0}, NULL, NULL, NULL, "still room");
  assert_int_equal(tw_messages_errors(m), 3 * TW_MESSAGE_LIMIT);
  assert_int_equal(tw_messages_count(m), TW_MESSAGE_LIMIT + 1);
  tw_messages_free(m);
}

static void nth_allocation_fails(void **state)
{
  (void)state;
  tw_alloc_fail_at(2, false);
  void *first = tw_alloc(1, 8), *second = tw_alloc(1, 8), *third = tw_alloc(1, 8);
  tw_alloc_fail_at(0, false);
  assert_non_null(first);
  assert_null(second);
  assert_non_null(third);
  assert_null(tw_alloc(SIZE_MAX / 2, 8));
  tw_free(first);
  tw_free(third);
}

static void nearest_name_is_close_or_none(void **state)
{
  (void)state;
  static const char *const names[] = {"ledge_radius", "void_depth", "kind"};
  assert_string_equal(tw_nearest_name("ledge_radus", names, 3), "ledge_radius");
  assert_string_equal(tw_nearest_name("Void_depth", names, 3), "void_depth");
  assert_null(tw_nearest_name("supercalifragilistic", names, 3));
}

static void arena_pieces_are_apart(void **state)
{
  (void)state;
  tw_arena *arena = tw_arena_new();
  char *a = tw_arena_text(arena, "first", 5), *big = tw_arena_take(arena, 100000);
  memset(big, 1, 100000);
  char *b = tw_arena_text(arena, "second", 6);
  assert_string_equal(a, "first");
  assert_string_equal(b, "second");
  tw_arena_free(arena);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(prints_place_caret_and_hint),
      cmocka_unit_test(errors_past_the_limit_are_counted),
      cmocka_unit_test(nth_allocation_fails),
      cmocka_unit_test(nearest_name_is_close_or_none),
      cmocka_unit_test(arena_pieces_are_apart),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
