/* page_design.h: designs for the tests of drawing, report and server: read from an example or from
 * the templates, with the library of this source tree. */
#ifndef TW_TEST_PAGE_DESIGN_H
#define TW_TEST_PAGE_DESIGN_H

#include "near.h"

#include "tripwright/parts.h"

#include <string.h>

typedef struct page_design {
  tw_units *units;
  tw_library *library;
} page_design;

static inline int page_design_setup(void **state)
{
  static page_design all;
  tw_fault fault = {0};
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_units_new(&all.units, &fault), TW_OK);
  assert_int_equal(tw_library_load(TW_SOURCE_DIR "/parts", all.units, messages, &all.library),
                   TW_OK);
  tw_messages_free(messages);
  *state = &all;
  return 0;
}

/* for groups whose tests have a state of their own */
static page_design *page_all;

static inline int page_design_setup_all(void **state)
{
  const int result = page_design_setup(state);
  page_all = *state;
  return result;
}

static inline int page_design_teardown(void **state)
{
  page_design *all = *state;
  tw_library_free(all->library);
  tw_units_free(all->units);
  return 0;
}

/* a design from a text with up to 8 changes "path=text", ended by NULL; NULL when it is refused */
static inline tw_design *page_design_with(const page_design *all, const char *text,
                                          const char *const *changes)
{
  static char paths[8][64];
  tw_set sets[8];
  size_t n = 0;
  for (; changes && changes[n] && n < 8; n++) {
    const char *equals = strchr(changes[n], '=');
    snprintf(paths[n], sizeof paths[n], "%.*s", (int)(equals - changes[n]), changes[n]);
    sets[n] = (tw_set){paths[n], equals + 1};
  }
  const tw_read_options options = {.units = all->units,
                                   .library = all->library,
                                   .need = TW_NEED_NOTHING,
                                   .no_shop = true,
                                   .sets = sets,
                                   .set_count = n};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  tw_design_parse(text, strlen(text), NULL, &options, messages, &design);
  for (size_t i = 0; !design && i < tw_messages_count(messages); i++) {
    print_message("%s: %s\n", tw_messages_at(messages, i)->field,
                  tw_messages_at(messages, i)->text);
  }
  tw_messages_free(messages);
  return design;
}

#endif
