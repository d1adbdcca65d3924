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

#endif
