/* The instruments of the bench and what can be done there: rows with a source, own ones from the
 * shop file, words for acts. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
/* cmocka needs the above */
#include "tripwright/capture.h"

#include <cmocka.h>

static tw_units *units;
static tw_library *library;

static int start(void **state)
{
  (void)state;
  tw_messages *m = tw_messages_new();
  const bool fine = tw_units_new(&units, NULL) == TW_OK &&
                    tw_library_load(TW_SOURCE_DIR "/parts", units, m, &library) == TW_OK;
  tw_messages_free(m);
  return fine ? 0 : 1;
}

static int end(void **state)
{
  (void)state;
  tw_library_free(library);
  tw_units_free(units);
  return 0;
}

static void instruments_say_where_they_are_from(void **state)
{
  (void)state;
  assert_true(tw_library_count(library, TW_KIND_INSTRUMENT) >= 5);
  for (size_t i = 0; i < tw_library_count(library, TW_KIND_INSTRUMENT); i++) {
    const tw_row *row = tw_library_row(library, TW_KIND_INSTRUMENT, i);
    assert_non_null(strstr(tw_row_source(row), "from memory"));
  }
}

static void a_sound_card_loads_and_couples(void **state)
{
  (void)state;
  tw_capture_instrument in;
  tw_fault fault;
  assert_int_equal(tw_capture_instrument_of(library, "sound_card", &in, &fault), TW_OK);
  assert_true(in.resistance > 10e3 && in.resistance < 47e3 && in.coupling > 1e-6);
  assert_true(isnan(in.full_scale) && in.known);
  assert_int_equal(tw_capture_instrument_of(library, "sound_crad", &in, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.hint, "did you mean sound_card?"));
}

static void the_shop_has_its_own(void **state)
{
  (void)state;
  char path[] = "/tmp/tw_shop_XXXXXX";
  const int fd = mkstemp(path);
  FILE *f = fdopen(fd, "w");
  fputs("machine: {feed: 200 mm/min}\ninstruments:\n  - id: my_scope\n    name: ours\n"
        "    resistance: 9.9 Mohm ± 1 %\n    capacitance: 13 pF\n    source: its sheet\n",
        f);
  fclose(f);
  tw_messages *m = tw_messages_new();
  assert_int_equal(tw_library_add_shop(library, TW_KIND_INSTRUMENT, path, units, m), TW_OK);
  tw_capture_instrument in;
  assert_int_equal(tw_capture_instrument_of(library, "my_scope", &in, NULL), TW_OK);
  assert_true(fabs(in.resistance - 9.9e6) < 1);
  assert_true(fabs(in.resistance_u - 9.9e4 / sqrt(3.0)) < 1);
  /* a second time: the id is taken */
  assert_int_equal(tw_library_add_shop(library, TW_KIND_INSTRUMENT, path, units, m), TW_BAD_INPUT);
  tw_messages_free(m);
  remove(path);
}

static void acts_have_words(void **state)
{
  (void)state;
  for (int a = 0; a < TW_CAPTURE_ACT_COUNT; a++) {
    assert_int_equal(tw_capture_act_named(tw_capture_act_word((tw_capture_act)a)), a);
    assert_true(strlen(tw_capture_act_sentence((tw_capture_act)a)) > 10);
  }
  assert_int_equal(tw_capture_act_named("tap"), TW_CAPTURE_RING_DOWN);
  assert_int_equal(tw_capture_act_named("jump"), TW_CAPTURE_ACT_COUNT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(instruments_say_where_they_are_from),
      cmocka_unit_test(a_sound_card_loads_and_couples),
      cmocka_unit_test(the_shop_has_its_own),
      cmocka_unit_test(acts_have_words),
  };
  return cmocka_run_group_tests(tests, start, end);
}
