/* Every file of tests/cli/bad says exactly what its .msg holds: exit code, then messages. */
#include "design_fixture.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#define CASE_LIMIT 400
#define TEXT_LIMIT 40000

static int by_name(const void *a, const void *b)
{
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static size_t list_cases(char **names)
{
  size_t n = 0;
  DIR *dir = opendir(".");
  assert_non_null(dir);
  for (struct dirent *e; (e = readdir(dir)) && n < CASE_LIMIT;) {
    const size_t length = strlen(e->d_name);
    if (length > 5 && strcmp(e->d_name + length - 5, ".yaml") == 0) {
      names[n++] = tw_copy_text(e->d_name);
    }
  }
  closedir(dir);
  qsort(names, n, sizeof *names, by_name);
  return n;
}

static void say(const char *file, char *out)
{
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status = tw_design_read(file, &options, messages, &design);
  tw_design_free(design);
  int used = snprintf(out, TEXT_LIMIT, "exit %d\n",
                      status == TW_OK        ? 0
                      : status == TW_NO_FILE ? 5
                                             : 3);
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    used += tw_message_print(tw_messages_at(messages, i), out + used, TEXT_LIMIT - (size_t)used);
    assert_true(used < TEXT_LIMIT);
  }
  tw_messages_free(messages);
}

static void each_says_what_it_should(void **state)
{
  (void)state;
  static char got[TEXT_LIMIT], expected[TEXT_LIMIT];
  char *names[CASE_LIMIT];
  int wrong = 0;
  assert_int_equal(chdir(TW_SOURCE_DIR "/tests/cli/bad"), 0);
  const size_t n = list_cases(names);
  assert_true(n >= 60);
  for (size_t i = 0; i < n; i++) {
    char path[300];
    snprintf(path, sizeof path, "%.*s.msg", (int)strlen(names[i]) - 5, names[i]);
    FILE *f = fopen(path, "rb");
    const size_t length = f ? fread(expected, 1, sizeof expected - 1, f) : 0;
    expected[length] = '\0';
    if (f) {
      fclose(f);
    }
    say(names[i], got);
    if (strcmp(got, expected) != 0) {
      print_error("%s says\n%s\ninstead of\n%s\n", names[i], got, expected);
      wrong++;
    }
    tw_free(names[i]);
  }
  print_message("%zu wrong designs, each with its own message\n", n);
  assert_int_equal(wrong, 0);
}

/* sizes that are not kept as files */
static void too_much_is_refused(void **state)
{
  (void)state;
  static const struct {
    const char *start, *piece, *end, *says;
    size_t count;
  } row[] = {
      {"# ", "xxxxxxxxxx", "\n", "the file has more than 1048576 bytes", 110000},
      {"notes: [1", ", 1", "]\n", "too many values", 60000},
      {"design: ", "x", "\n", "this text is too long or holds a zero byte", 5000},
      {"a: ", "[", "\n", "nested too deeply", 100000},
      {"machine: {feeds: [1", ", 1", "]}\n", "a list of 1 to 2000 rows is expected", 2001},
      {"parts: {a0: {}", ", a%zu: {}", "}\n", "too many keys in one group", 501},
      {"parts: {a0: {}", ", a%zu: {}", "}\n", "more than 200 entries", 201},
  };
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    char *text = tw_alloc(row[i].count * 24 + 100, 1);
    assert_non_null(text);
    size_t used = strlen(strcpy(text, row[i].start));
    for (size_t k = 1; k <= row[i].count; k++) {
      if (strstr(row[i].piece, "%zu")) {
        used += (size_t)sprintf(text + used, ", a%zu: {}", k);
      } else {
        used += strlen(strcpy(text + used, row[i].piece));
      }
    }
    used += strlen(strcpy(text + used, row[i].end));
    const tw_read_options options = {.units = units, .library = library};
    tw_messages *messages = tw_messages_new();
    tw_design *design = NULL;
    assert_int_equal(tw_design_parse(text, used, NULL, &options, messages, &design), TW_BAD_INPUT);
    assert_string_equal(tw_messages_at(messages, 0)->text, row[i].says);
    tw_messages_free(messages);
    tw_free(text);
  }
}

static void a_missing_file_is_named(void **state)
{
  (void)state;
  char got[1000];
  say("unlike-any-other-name.yaml", got);
  assert_string_equal(got, "exit 5\nerror: unlike-any-other-name.yaml: No such file or directory\n"
                           "  hint: tripwright new FILE writes a first design\n");
  /* a file of nearly that name lies beside it */
  say("not_hole.yaml", got);
  assert_string_equal(got, "exit 5\nerror: not_hole.yaml: No such file or directory\n"
                           "  hint: did you mean not_whole.yaml?\n");
}

static void wrong_sets_name_themselves(void **state)
{
  (void)state;
  static const struct {
    tw_set set;
    const char *message;
  } row[] = {
      {{"seat.ball_radius", "5 N"},
       "--set seat.ball_radius=5 N: error: seat.ball_radius: 'N' does not fit: a quantity like mm "
       "is needed\n  hint: write it in mm\n"},
      {{"seat.bal_radius", "5 mm"},
       "--set seat.bal_radius=5 mm: error: unknown path 'seat.bal_radius'\n"
       "  hint: did you mean 'seat.ball_radius'?\n"},
      {{"requirements.trip_force_side", "0.2 N"},
       "--set requirements.trip_force_side=0.2 N: error: requirements.trip_force_side: a rule is "
       "expected: <= x, >= x, = word, or within a .. b\n"
       "  hint: write it in quotes: \"<= 0.25 N\"\n"},
      {{"parts.board.state", "lost"},
       "--set parts.board.state=lost: error: parts.board.state: 'lost' is none of: open, ordered, "
       "in_hand, fitted\n"},
      {{"seat.flat_radius", "6 mm"},
       "--set seat.flat_radius=6 mm: error: seat.flat_radius: 6 mm is larger than the ball radius "
       "5 mm (base/pivot.yaml:4)\n  hint: the flat is cut into the ball\n"},
  };
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    const tw_read_options options = {.units = units,
                                     .library = library,
                                     .need = TW_NEED_ALL,
                                     .sets = &row[i].set,
                                     .set_count = 1};
    tw_messages *messages = tw_messages_new();
    tw_design *design = NULL;
    char got[1000];
    assert_int_equal(tw_design_read("base/pivot.yaml", &options, messages, &design), TW_BAD_INPUT);
    tw_message_print(tw_messages_at(messages, 0), got, sizeof got);
    assert_string_equal(got, row[i].message);
    assert_int_equal(tw_messages_count(messages), 1);
    tw_messages_free(messages);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(each_says_what_it_should),
      cmocka_unit_test(too_much_is_refused),
      cmocka_unit_test(a_missing_file_is_named),
      cmocka_unit_test(wrong_sets_name_themselves),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
