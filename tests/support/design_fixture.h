/* design_fixture.h: units and library for tests that read designs. */
#ifndef TW_TEST_DESIGN_FIXTURE_H
#define TW_TEST_DESIGN_FIXTURE_H

#include "near.h"
#include "tripwright/parts.h"

#include <string.h>

static tw_units *units;
static tw_library *library;

static void print_messages(const tw_messages *messages)
{
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    char text[1000];
    tw_message_print(tw_messages_at(messages, i), text, sizeof text);
    print_message("%s", text);
  }
}

static int open_all(void **state)
{
  (void)state;
  tw_messages *messages = tw_messages_new();
  if (tw_units_new(&units, NULL) != TW_OK) {
    return -1;
  }
  const tw_status status = tw_library_load(TW_SOURCE_DIR "/parts", units, messages, &library);
  print_messages(messages);
  tw_messages_free(messages);
  return status == TW_OK ? 0 : -1;
}

static int close_all(void **state)
{
  (void)state;
  tw_library_free(library);
  tw_units_free(units);
  return 0;
}

/* read a text that must be right, without a message */
static inline tw_design *good_design(const char *text, unsigned need)
{
  const tw_read_options options = {.units = units, .library = library, .need = need};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status = tw_design_parse(text, strlen(text), NULL, &options, messages, &design);
  print_messages(messages);
  assert_int_equal(status, TW_OK);
  assert_int_equal(tw_messages_count(messages), 0);
  tw_messages_free(messages);
  return design;
}

/* examples/NAME.yaml, which must be right, with values set */
static inline tw_design *example_with(const char *name, const tw_set *sets, size_t count)
{
  const tw_read_options options = {
      .units = units, .library = library, .need = TW_NEED_ALL, .sets = sets, .set_count = count};
  char file[600];
  snprintf(file, sizeof file, "%s/examples/%s.yaml", TW_SOURCE_DIR, name);
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status = tw_design_read(file, &options, messages, &design);
  print_messages(messages);
  tw_messages_free(messages);
  assert_int_equal(status, TW_OK);
  return design;
}

/* the same with changes "path=text", ended by NULL, four at the most; `changes` NULL: as it is */
static inline tw_design *example_changed(const char *name, const char *const *changes)
{
  enum { MOST = 4 };
  static char path[MOST][64];
  tw_set set[MOST] = {{NULL, NULL}};
  size_t count = 0;
  for (; changes && changes[count] && count < MOST; count++) {
    const char *equals = strchr(changes[count], '=');
    snprintf(path[count], sizeof path[count], "%.*s", (int)(equals - changes[count]),
             changes[count]);
    set[count] = (tw_set){path[count], equals + 1};
  }
  return example_with(name, set, count);
}

#endif
