/* Words of a controller against their meaning in RS274/NGC and ISO 6983. */
#include "near.h"
#include "tripwright/qualify_program.h"

#include <string.h>

/* all messages for a words file, one after the other */
static tw_status read_words(const char *text, tw_words *w, char *said, size_t room)
{
  tw_messages *m = tw_messages_new();
  const tw_status status = tw_words_read_text("w", text, strlen(text), m, w);
  said[0] = '\0';
  for (size_t i = 0; i < tw_messages_count(m); i++) {
    const size_t used = strlen(said);
    tw_message_print(tw_messages_at(m, i), said + used, room - used);
  }
  tw_messages_free(m);
  return status;
}

static void what_contradicts_is_refused(void **state)
{
  (void)state;
  static const struct {
    const char *text, *said;
  } rows[] = {
      {"units = G20\n", "all moves would be 25.4 times too long"},
      {"units = G70\n", "all moves would be 25.4 times too long"},
      {"inches = yes\n", "all moves would be 25.4 times too short"},
      {"inches = yes\nunits = g 21\n", "units"},
      {"setup = G17 G40 G49 G80 G90 G94 G20\n", "25.4 times"},
      {"units = G21 G91\n", "G91 is distances, not positions"},
      {"units = M0\n", "M0 is a stop"},
      {"straight = G0\n", "G0 is rapid traverse"},
      {"straight = g00\n", "g00 is rapid traverse"},
      {"straight = G1 Z-50\n", "Z-50 is a position of an axis"},
      {"straight = G38.2\n", "a probing move"},
      {"straight = G1 S2000\n", "a spindle speed"},
      {"probe = G1\n", "it stops for nothing"},
      {"probe = G38.2 F9000\n", "F9000 is a feed"},
      {"probe = G0\n", "rapid traverse"},
      {"probe = G81\n", "a drilling cycle"},
      {"guarded = G1\n", "it stops for nothing"},
      {"guarded = G38.2\n", "an error without contact"},
      {"setup = G18 G91\n", "G18 is plane ZX"},
      {"setup = G18 G91\n", "G91 is distances, not positions"},
      {"setup = G17 G40 G49 G80 G94\n", "setup lacks G90"},
      {"setup = G17 G40 G49 G80 G90 G95\n", "feed per turn of the spindle"},
      {"setup = G17 G40 G49 G80 G90 G94 G92 X0\n", "a shift of the work's zero"},
      {"setup = G17 G41 G49 G80 G90 G94\n", "cutter compensation on"},
      {"setup = G17 G40 G80 G90 G94\n", "says nothing of the tool length"},
      {"setup = G17 G40 G43 G80 G90 G94\n", "the length of which tool"},
      {"setup = G17 G40 G49 G64 G80 G90 G94\n", "rounded corners"},
      {"setup = G17 G40 G49 G80 G90 G94 M3\n", "spindle on"},
      {"work_offset = G53\n", "machine coordinates"},
      {"work_offset = G92\n", "a shift of the work's zero"},
      {"record = G10 L2\n", "a change of stored offsets"},
      {"record = #{p} = #5021\n", "has no meaning"},
      {"check = M30\n", "M30 is end of the program"},
      {"check = M3\n", "spindle on"},
      {"orient = M3 S{angle}\n", "spindle on"},
      {"orient = M19 A{angle}\n", "a position of an axis"},
      {"spindle_stop = M3 S20000\n", "M3 is spindle on"},
      {"spindle_stop = M3 S20000\n", "S20000 is a spindle speed"},
      {"spindle_stop = M9\n", "lacks the word"},
      {"spindle_stop =\n", "a word is missing"},
      {"dwell = G4 X{seconds}\n", "a position of an axis"},
      {"pause = M1\n", "only if its switch is on"},
      {"pause =\n", "a word is missing"},
      {"end = M0\n", "M0 is a stop"},
      {"end = G0 Z0|M30\n", "rapid traverse"},
      {"end = G28|M30\n", "home position"},
      {"begin = G0 X0\n", "rapid traverse"},
      {"comment_open = G1\n", "read as words"},
      {"comment_close =\n", "do not belong together"},
      {"probe = G31\n", "has no meaning in RS274/NGC"},
      {"probe = G31\nown_words = G3\n", "G3' has a meaning"},
      {"straight = G0\nown_words = G0\n", "own_words cannot give it another"},
      {"probe = G38.2\nprobe = G38.2\n", "named twice"},
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    tw_words w;
    char said[4000];
    const tw_status status = read_words(rows[i].text, &w, said, sizeof said);
    if (status != TW_BAD_INPUT || !strstr(said, rows[i].said)) {
      print_error("%swanted: %s\nsaid: %s\n", rows[i].text, rows[i].said, said);
      fail();
    }
  }
}

static void what_agrees_is_taken(void **state)
{
  (void)state;
  static const char *const rows[] = {
      "",
      "inches = yes\nunits = G20\n",
      "inches = yes\nunits = G70\n",
      "units = G71\n",
      "units = G021\nstraight = G01\nend = M02\nspindle_stop = M05\npause = M00\n",
      "setup = G17G40G49G61.1G80G90G94\n",
      "setup = G17 G40 G43 H5 G80 G90 G94 M9\n",
      "work_offset =\n",
      "work_offset = G59.3\n",
      "orient = M19 R{angle}\n",
      "check = M0\n",
      "begin = %\nend = M30|%\n",
      "begin = O1234\n",
      "comment_open = ;\ncomment_close =\n",
      "probe = G31\nguarded = G31.1\nown_words = g31 G31.1\n",
      "record = LOG {n}\nown_words = LOG\n",
      "record = #{p}=#5061|#{q}=#5062|#{r}=#5063\n",
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    tw_words w;
    char said[4000];
    if (read_words(rows[i], &w, said, sizeof said) != TW_OK) {
      print_error("%s%s", rows[i], said);
      fail();
    }
  }
}

/* a place in the file, not only a name */
static void the_line_is_named(void **state)
{
  (void)state;
  tw_words w;
  char said[4000];
  assert_int_equal(read_words("name = mill\n# blank\nstraight = G0\n", &w, said, sizeof said),
                   TW_BAD_INPUT);
  assert_non_null(strstr(said, "w:3:1: error:"));
}

static void words_made_in_code_are_checked_too(void **state)
{
  (void)state;
  tw_words w;
  tw_messages *m = tw_messages_new();
  tw_words_start(&w);
  assert_int_equal(tw_words_check(&w, m), TW_OK);
  snprintf(w.guarded, sizeof w.guarded, "G38.3");
  assert_int_equal(tw_words_check(&w, m), TW_BAD_INPUT);
  snprintf(w.own_words, sizeof w.own_words, "G38.3");
  assert_int_equal(tw_words_check(&w, m), TW_OK);
  snprintf(w.straight, sizeof w.straight, "G0");
  assert_int_equal(tw_words_check(&w, m), TW_BAD_INPUT);
  tw_messages_free(m);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(what_contradicts_is_refused),
      cmocka_unit_test(what_agrees_is_taken),
      cmocka_unit_test(the_line_is_named),
      cmocka_unit_test(words_made_in_code_are_checked_too),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
