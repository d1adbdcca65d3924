/* The n-th allocation fails, for every n: reading, library, editing, printing end in order. */
#include "design_fixture.h"

#include <stdio.h>

/* run `work` with the n-th allocation failing until it needs fewer; each run must say "out of
 * memory" and leave nothing behind (the sanitizer build looks for leaks) */
static long fail_each(tw_status (*work)(void))
{
  for (long n = 1;; n++) {
    tw_alloc_fail_at(n, false);
    const tw_status status = work();
    const long seen = tw_alloc_seen();
    tw_alloc_fail_at(0, false);
    if (seen < n) {
      assert_int_equal(status, TW_OK);
      return n - 1;
    }
    if (status != TW_NO_MEMORY) {
      fail_msg("allocation %ld of %ld: status %d", n, seen, (int)status);
    }
  }
}

static const char probe[] = "design: all of it\n"
                            "disc: {part: brass_20_6k3}\n"
                            "support: {kind: ledge, ledge_radius: 9.3 mm}\n"
                            "seat: {kind: pivot, ball_radius: 5 mm, flat_radius: 3 mm}\n"
                            "preload: {kind: table, travel: 0.5 mm, table: [[0, 0], [1, 1]]}\n"
                            "requirements: {trip_force_side: \"<= 1 N\"}\n"
                            "parts: {board: {state: open}}\n"
                            "processes: {print: {offset_xy: 0.1 mm}}\n";

static tw_status read_probe(void)
{
  const tw_set sets[] = {{"seat.friction", "0.1"}, {"machine.feeds", "[1, 2]"}};
  const tw_read_options options = {
      .units = units, .library = library, .need = TW_NEED_DISC, .sets = sets, .set_count = 2};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  tw_status status = TW_NO_MEMORY;
  if (messages) {
    status = tw_design_parse(probe, strlen(probe), NULL, &options, messages, &design);
    assert_true((status == TW_OK) == (design != NULL));
    if (status == TW_OK) {
      tw_design *clone = tw_design_clone(design);
      status = clone ? TW_OK : TW_NO_MEMORY;
      tw_design_free(clone);
    }
  }
  tw_design_free(design);
  tw_messages_free(messages);
  return status;
}

static tw_status read_wrong_file(void)
{
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  tw_status status = TW_NO_MEMORY;
  if (messages) {
    status = tw_design_read(TW_SOURCE_DIR "/tests/cli/bad/flat_outside_ledge.yaml", &options,
                            messages, &design);
    status = status == TW_BAD_INPUT ? TW_OK : status;
  }
  assert_null(design);
  tw_messages_free(messages);
  return status;
}

static tw_status load_library(void)
{
  tw_messages *messages = tw_messages_new();
  tw_library *loaded = NULL;
  tw_status status = TW_NO_MEMORY;
  if (messages) {
    status = tw_library_load(TW_SOURCE_DIR "/parts", units, messages, &loaded);
    assert_true((status == TW_OK) == (loaded != NULL));
  }
  tw_library_free(loaded);
  tw_messages_free(messages);
  return status;
}

static tw_status edit_text(void)
{
  const tw_set sets[] = {{"disc.part", "brass_27_4k6"}, {"holddown.kind", "none"}};
  char *out = NULL;
  tw_fault fault;
  const tw_status status = tw_design_edit(probe, strlen(probe), 2, sets, &fault, &out);
  tw_free(out);
  return status;
}

static void every_allocation_may_fail(void **state)
{
  (void)state;
  static const struct {
    const char *name;
    tw_status (*work)(void);
  } row[] = {{"read a design", read_probe},
             {"read a wrong design", read_wrong_file},
             {"load the library", load_library},
             {"edit", edit_text}};
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    const long n = fail_each(row[i].work);
    print_message("%s: %ld allocations, each failed once\n", row[i].name, n);
    assert_true(n > 3);
  }
}

/* which piece meets the end of the arena's block depends on the length of the text before it: a
 * growing comment lets every piece be the one that finds no memory */
static size_t padding;

static tw_status read_padded(void)
{
  static char text[sizeof probe + 20000];
  const size_t length = sizeof probe - 1;
  memcpy(text, probe, length);
  text[length] = '#';
  memset(text + length + 1, 'x', padding);
  text[length + 1 + padding] = '\n';
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_DISC};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status =
      messages ? tw_design_parse(text, length + padding + 2, NULL, &options, messages, &design)
               : TW_NO_MEMORY;
  assert_true((status == TW_OK) == (design != NULL));
  tw_design_free(design);
  tw_messages_free(messages);
  return status;
}

static void wherever_a_block_ends(void **state)
{
  (void)state;
  for (padding = 0; padding < 16384; padding += 48) {
    assert_true(fail_each(read_padded) > 3);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_allocation_may_fail),
                                     cmocka_unit_test(wherever_a_block_ends)};
  return cmocka_run_group_tests(tests, open_all, close_all);
}
