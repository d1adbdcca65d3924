/* Any bytes as a table, with and without heading and by an expression: read, or refused with a
 * message; numbers that were read are finite where nothing may be missing. */
#include "fuzz_main.h"
#include "tripwright/qualify_table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(bool true_thing, const char *what)
{
  if (!true_thing) {
    fprintf(stderr, "broken: %s\n", what);
    abort();
  }
}

static void try_spec(const tw_readings_spec *spec, const uint8_t *data, size_t size)
{
  tw_messages *m = tw_messages_new();
  tw_readings *t;
  const tw_status status = tw_readings_read_text("f", (const char *)data, size, spec, m, &t);
  must((status == TW_OK) == (t != NULL), "a table exactly when it is fine");
  must(status == TW_OK || tw_messages_errors(m) > 0, "a refusal has a message");
  for (size_t i = 0; i < tw_messages_count(m); i++) {
    char text[2048];
    tw_message_print(tw_messages_at(m, i), text, sizeof text);
    must(tw_messages_at(m, i)->hint != NULL, text);
  }
  for (size_t c = 0; t && c < t->columns; c++) {
    for (size_t i = 0; i < t->rows; i++) {
      const bool label = spec->column[c].kind == TW_LABEL;
      must(label ? t->code[c][i] < t->texts[c]
                 : spec->column[c].may_be_empty || isfinite(t->number[c][i]),
           "a value");
    }
  }
  tw_readings_free(t);
  tw_messages_free(m);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  static const tw_column named[] = {{"x_mm", "", TW_LENGTH, false}, {"note", "", TW_LABEL, false}};
  static const tw_column numbered[] = {{"#1", "mm", TW_LENGTH, true}, {"#2", "", TW_PURE, false}};
  const tw_readings_spec specs[] = {
      {.column = named, .columns = 2, .keep_lines = true},
      {.column = numbered, .columns = 2, .no_heading = true},
      {.column = numbered, .columns = 2, .separator = ';'},
      {.column = numbered, .columns = 2, .pattern = "X(-?[0-9.]*).*Y(-?[0-9.]+)"},
  };
  for (size_t i = 0; i < sizeof specs / sizeof specs[0]; i++) {
    try_spec(&specs[i], data, size);
  }
  /* and as a number, against strtod where both take it */
  double value;
  if (size < 100 && tw_number_read((const char *)data, size, &value)) {
    char copy[101] = "";
    memcpy(copy, data, size);
    const double wanted = strtod(copy, NULL);
    must(memcmp(&value, &wanted, sizeof value) == 0, "the nearest double");
  }
  return 0;
}
