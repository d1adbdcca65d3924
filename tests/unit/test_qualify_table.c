/* The table reader: what it reads, and what it refuses with place and cure. */
#include "near.h"
#include "tripwright/qualify_table.h"
#include "tripwright/random.h"

#include <stdlib.h>
#include <string.h>

static tw_messages *messages;
static tw_readings *table;

static int fresh(void **state)
{
  (void)state;
  messages = tw_messages_new();
  table = NULL;
  return 0;
}

static int clean(void **state)
{
  (void)state;
  tw_readings_free(table);
  tw_messages_free(messages);
  return 0;
}

static tw_status read_text(const char *text, const char *columns, tw_kind kind)
{
  tw_column column[8];
  size_t count;
  assert_int_equal(tw_columns_named(columns, kind, column, 8, &count, NULL), TW_OK);
  const tw_readings_spec spec = {.column = column, .columns = count, .keep_lines = true};
  return tw_readings_read_text("log.csv", text, strlen(text), &spec, messages, &table);
}

/* the first message holds this text, and has a hint */
static void assert_says(const char *what)
{
  assert_true(tw_messages_count(messages) > 0);
  char text[1024];
  tw_message_print(tw_messages_at(messages, 0), text, sizeof text);
  if (!strstr(text, what) || !strstr(text, "hint: ")) {
    print_error("wanted '%s' with a hint, got\n%s", what, text);
    fail();
  }
}

static void refuse(const char *text, const char *columns, tw_kind kind, const char *what)
{
  assert_int_equal(read_text(text, columns, kind), TW_BAD_INPUT);
  assert_null(table);
  assert_says(what);
  clean(NULL);
  fresh(NULL);
}

static void reads_commas_and_units(void **state)
{
  (void)state;
  assert_int_equal(read_text("# bench\n\nx_mm, y [um] ,feed_mm_min,note\r\n"
                             "1.5,2000,60,\"a, b\"\r\n-0.25,3,600,c\r\n",
                             "x_mm,y [um],feed_mm_min", TW_ANY),
                   TW_OK);
  assert_int_equal(table->rows, 2);
  assert_near(table->number[0][0], 1.5e-3, 0);
  assert_near(table->number[1][0], 2e-3, 0);
  assert_near(table->number[2][1], 0.01, 1e-18);
  assert_near(table->number[0][1], -0.25e-3, 0);
  assert_int_equal(table->line[1], 5);
}

static void reads_blanks_semicolons_numbers(void **state)
{
  (void)state;
  assert_int_equal(read_text("  a   b\n 1\t 2 \n3 4", "b:thou", TW_LENGTH), TW_OK);
  assert_near(table->number[0][1], 4 * 25.4e-6, 1e-20);
  assert_int_equal(tw_messages_count(messages), 1); /* no line end at the end: a warning */
  clean(NULL);
  fresh(NULL);
  assert_int_equal(read_text("a;b;c\n1;;2\n", "a,c", TW_PURE), TW_OK);
  assert_near(table->number[1][0], 2, 0);
  clean(NULL);
  fresh(NULL);
  assert_int_equal(read_text("a,a\n1,2\n", "#2", TW_PURE), TW_OK);
  assert_near(table->number[0][0], 2, 0);
}

static void reads_without_heading(void **state)
{
  (void)state;
  const tw_column column[] = {{"#2", "mm", TW_LENGTH, false}};
  const tw_readings_spec spec = {.column = column, .columns = 1, .no_heading = true};
  const char text[] = "1 2\n3 4\n";
  assert_int_equal(tw_readings_read_text("t", text, strlen(text), &spec, messages, &table), TW_OK);
  assert_int_equal(table->rows, 2);
  assert_near(table->number[0][0], 2e-3, 0);
}

static void reads_row_by_row(void **state)
{
  (void)state;
  const tw_column column[] = {{"b", "mm", TW_LENGTH, false}, {"a", "um", TW_LENGTH, false}};
  const tw_readings_spec spec = {.column = column, .columns = 2, .by_rows = true};
  char text[80000] = "a,b\n";
  size_t length = strlen(text);
  for (int i = 0; i < 5000; i++) {
    length += (size_t)snprintf(text + length, sizeof text - length, "%d,%d\n", i, 2 * i);
  }
  assert_int_equal(tw_readings_read_text("t", text, length, &spec, messages, &table), TW_OK);
  assert_int_equal(table->rows, 5000);
  for (int i = 0; i < 5000; i++) {
    assert_near(table->number[0][2 * i], 2 * i / 1e3, 0);
    assert_near(table->number[0][2 * i + 1], i / 1e6, 0);
  }
  assert_null(table->number[1]);
}

static void reads_labels_and_empty_fields(void **state)
{
  (void)state;
  const tw_column column[] = {{"who", "", TW_LABEL, false}, {"v", "", TW_PURE, true}};
  const tw_readings_spec spec = {.column = column, .columns = 2};
  const char text[] = "who,v\nA,1\n\"B, b\",\nA,3\n";
  assert_int_equal(tw_readings_read_text("t", text, strlen(text), &spec, messages, &table), TW_OK);
  assert_int_equal(table->texts[0], 2);
  assert_string_equal(table->text[0][1], "B, b");
  assert_int_equal(table->code[0][2], 0);
  assert_true(isnan(table->number[1][1]));
}

static void picks_lines_by_expression(void **state)
{
  (void)state;
  const tw_column column[] = {{"#2", "mm", TW_LENGTH, false}, {"#1", "mm", TW_LENGTH, false}};
  tw_readings_spec spec = {.column = column, .columns = 2};
  spec.pattern = "trip at X(-?[0-9.]+) +Y(-?[0-9.]+)";
  const char text[] = "boot, 1\n12:00 trip at X1.25 Y-3\nidle\n12:01 trip at X-2 Y4.5 # ok\n";
  assert_int_equal(tw_readings_read_text("t", text, strlen(text), &spec, messages, &table), TW_OK);
  assert_int_equal(table->rows, 2);
  assert_int_equal(table->passed_by, 2);
  assert_near(table->number[0][0], -3e-3, 0);
  assert_near(table->number[1][1], -2e-3, 0);
  clean(NULL);
  fresh(NULL);
  spec.pattern = "nothing ([0-9]+) ([0-9]+)";
  assert_int_equal(tw_readings_read_text("t", text, strlen(text), &spec, messages, &table),
                   TW_BAD_INPUT);
  assert_says("no line matches");
  clean(NULL);
  fresh(NULL);
  spec.pattern = "([0-9]+";
  assert_int_equal(tw_readings_read_text("t", text, strlen(text), &spec, messages, &table),
                   TW_BAD_INPUT);
  assert_says("the expression is wrong");
  clean(NULL);
  fresh(NULL);
  spec.pattern = "X([0-9.]+)";
  assert_int_equal(tw_readings_read_text("t", text, strlen(text), &spec, messages, &table),
                   TW_BAD_INPUT);
  assert_says("only 1 fields");
}

static void refuses_with_place_and_cure(void **state)
{
  (void)state;
  refuse("x_mm,y_mm\n1,2\n", "z_mm", TW_LENGTH, "log.csv:1:1: error: no column is called 'z_mm'");
  refuse("x,y\n1,2\n", "x", TW_LENGTH,
         "log.csv:1:1: error: column 'x' is a length, but has no unit");
  refuse("x_mm\n1\n", "x_mm:um", TW_LENGTH, "headed in mm, but you say um");
  refuse("x_N\n1\n", "x_N", TW_LENGTH, "is in N, which is not a length");
  refuse("x\n1\n", "x:furlong", TW_LENGTH, "'furlong' is not a unit");
  refuse("x,x\n1,2\n", "x:mm", TW_LENGTH, "two columns are called 'x'");
  refuse("1,2\n3,4\n", "#1:mm", TW_LENGTH, "the first line is all numbers");
  refuse("x,y\n1.5,2\n1,5,2\n", "x:mm", TW_LENGTH, "log.csv:3:5: error: 3 fields");
  refuse("x;y\n1,5;2\n", "x:mm", TW_LENGTH,
         "log.csv:2:1: error: '1,5' in column 'x' has a decimal comma");
  refuse("x y\n1 2\n3 nan\n", "y:mm", TW_LENGTH,
         "log.csv:3:3: error: 'nan' in column 'y' is not a reading");
  refuse("x,y\n1,-Inf\n", "y:mm", TW_LENGTH, "is not a reading");
  refuse("x,y\n1,\n", "y:mm", TW_LENGTH, "column 'y' is empty here");
  refuse("x,y\n1,2mm\n", "y:mm", TW_LENGTH, "'2mm' in column 'y' is not a number");
  refuse("x,y\n1,1e999\n", "y:mm", TW_LENGTH, "too large");
  refuse("x,y\n1,0x10\n", "y:mm", TW_LENGTH, "is not a number");
  refuse("x,y\n1,2\n3", "y:mm", TW_LENGTH, "log.csv:3:2: error: the last line has 1 of 2 fields");
  refuse("x,y\n1\n2,3\n", "y:mm", TW_LENGTH, "log.csv:2:2: error: 1 fields");
  refuse("x,y\n\"1,2\n", "x", TW_LABEL, "a quote is not closed");
  refuse("x,y\n", "x:mm", TW_LENGTH, "there is no row of readings");
  refuse("", "x:mm", TW_LENGTH, "there is no row of readings");
  refuse("# only\n# comments\n", "x:mm", TW_LENGTH, "there is no row of readings");
}

static void refuses_zero_bytes_and_long_lines(void **state)
{
  (void)state;
  const tw_column column[] = {{"x", "mm", TW_LENGTH, false}};
  const tw_readings_spec spec = {.column = column, .columns = 1};
  const char zero[] = "x,y\n1,\0\n";
  assert_int_equal(tw_readings_read_text("t", zero, sizeof zero - 1, &spec, messages, &table),
                   TW_BAD_INPUT);
  assert_says("a zero byte");
  clean(NULL);
  fresh(NULL);
  /* a million columns, in the heading or all on one long line */
  const size_t million = 1000000;
  char *text = malloc(2 * million + 2);
  assert_non_null(text);
  for (size_t i = 0; i < million; i++) {
    text[2 * i] = 'x';
    text[2 * i + 1] = ',';
  }
  text[2 * million - 1] = '\n';
  assert_int_equal(tw_readings_read_text("t", text, 2 * million, &spec, messages, &table),
                   TW_BAD_INPUT);
  assert_says("a line longer than 1048576 characters");
  clean(NULL);
  fresh(NULL);
  text[20000] = '\n';
  assert_int_equal(tw_readings_read_text("t", text, 20001, &spec, messages, &table), TW_BAD_INPUT);
  assert_says("more than 4096 fields");
  free(text);
}

static void stops_after_twenty_errors(void **state)
{
  (void)state;
  char text[1000] = "x\n";
  for (int i = 0; i < 100; i++) {
    strcat(text, "bad\n");
  }
  assert_int_equal(read_text(text, "x", TW_PURE), TW_BAD_INPUT);
  assert_int_equal(tw_messages_errors(messages), TW_MESSAGE_LIMIT);
}

static void missing_file(void **state)
{
  (void)state;
  const tw_column column[] = {{"x", "", TW_PURE, false}};
  const tw_readings_spec spec = {.column = column, .columns = 1};
  assert_int_equal(tw_readings_read("no/such/file.csv", &spec, messages, &table), TW_NO_FILE);
  assert_says("No such file");
  clean(NULL);
  fresh(NULL);
  assert_int_equal(tw_readings_read("tests", &spec, messages, &table), TW_NO_FILE);
}

/* every decimal to the nearest double: against strtod on short, long and extreme numbers */
static void numbers_are_the_nearest(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 12, 0);
  for (int i = 0; i < 200000; i++) {
    char text[64];
    const int digits = 1 + (int)tw_random_below(&random, 20);
    int n = snprintf(text, sizeof text, "%s", tw_random_below(&random, 2) ? "-" : "");
    const int point = (int)tw_random_below(&random, (uint64_t)digits + 1);
    for (int d = 0; d < digits; d++) {
      if (d == point) {
        text[n++] = '.';
      }
      text[n++] = (char)('0' + tw_random_below(&random, 10));
    }
    if (tw_random_below(&random, 3) == 0) {
      n += snprintf(text + n, 8, "e%d", (int)tw_random_below(&random, 80) - 40);
    }
    text[n] = '\0';
    double value;
    assert_true(tw_number_read(text, (size_t)n, &value));
    const double wanted = strtod(text, NULL);
    if (memcmp(&value, &wanted, sizeof value) != 0) {
      print_error("%s: %.17g, nearest %.17g\n", text, value, wanted);
      fail();
    }
  }
  static const char *const bad[] = {"",   "-",  ".",   "+.",  "1e",  "1e+", "1.2.3",
                                    "1 ", " 1", "0x1", "inf", "1,5", "--1", "1e400"};
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    double value;
    assert_false(tw_number_read(bad[i], strlen(bad[i]), &value));
  }
}

static void column_lists(void **state)
{
  (void)state;
  tw_column column[2];
  size_t count;
  tw_fault fault;
  assert_int_equal(tw_columns_named("x_mm,y:um", TW_LENGTH, column, 2, &count, &fault), TW_OK);
  assert_string_equal(column[1].unit, "um");
  assert_int_equal(tw_columns_named("x,,y", TW_LENGTH, column, 2, &count, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_columns_named("x,y,z", TW_LENGTH, column, 2, &count, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_columns_named("x,x", TW_LENGTH, column, 2, &count, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_columns_named("x:", TW_LENGTH, column, 2, &count, &fault), TW_BAD_INPUT);
}

int main(void)
{
#define T(name) cmocka_unit_test_setup_teardown(name, fresh, clean)
  const struct CMUnitTest tests[] = {
      T(reads_commas_and_units),        T(reads_blanks_semicolons_numbers),
      T(reads_without_heading),         T(reads_row_by_row),
      T(reads_labels_and_empty_fields), T(picks_lines_by_expression),
      T(refuses_with_place_and_cure),   T(refuses_zero_bytes_and_long_lines),
      T(stops_after_twenty_errors),     T(missing_file),
      T(numbers_are_the_nearest),       T(column_lists),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
