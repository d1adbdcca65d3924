/* Any bytes as a design file: read or refused with a message; what is read prints, and reads back
 * as the same design; an edit that is done is the edit that was asked for. */
#include "fuzz_main.h"
#include "tripwright/parts.h"
#include "tripwright/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static tw_units *units;
static tw_library *library;

static void must(bool true_thing, const char *what)
{
  if (!true_thing) {
    fprintf(stderr, "broken: %s\n", what);
    abort();
  }
}

static void open_once(void)
{
  if (!units) {
    tw_messages *messages = tw_messages_new();
    must(tw_units_new(&units, NULL) == TW_OK, "units");
    must(tw_library_load(TW_SOURCE_DIR "/parts", units, messages, &library) == TW_OK, "library");
    tw_messages_free(messages);
  }
}

static bool keep(void *self, const char *text, size_t length)
{
  tw_text_add(self, "%.*s", (int)length, text);
  return true;
}

static tw_design *read_text(const char *text, size_t length, unsigned need)
{
  const tw_read_options options = {.units = units, .library = library, .need = need};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status = tw_design_parse(text, length, NULL, &options, messages, &design);
  must((status == TW_OK) == (design != NULL), "a design with success, and only then");
  must(status == TW_OK || status == TW_BAD_INPUT, "right or wrong input, nothing else");
  must(status == TW_OK || tw_messages_errors(messages) > 0, "a refusal has its reason");
  tw_messages_free(messages);
  return design;
}

/* no number is infinite or undefined */
static void check_numbers(const tw_design *design)
{
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_value *v = tw_design_value(design, (tw_field)i);
    must(isfinite(v->number) && isfinite(v->tolerance.plus) && isfinite(v->tolerance.minus),
         tw_field_of((tw_field)i)->path);
  }
}

static void check_flat(const tw_design *design)
{
  tw_text p = {0};
  const tw_sink sink = {keep, &p};
  must(tw_design_print_flat(design, units, TW_METRIC, &sink) == TW_OK, "the flat print");
  tw_design *back = read_text(p.at, p.length, TW_NEED_NOTHING);
  if (!back) {
    fprintf(stderr, "%s", p.at);
  }
  must(back != NULL, "the flat print reads back");
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field field = (tw_field)i;
    if (tw_design_applies(design, field) || tw_design_given(design, field)) {
      const double a = tw_design_value(design, field)->number;
      const double b = tw_design_value(back, field)->number;
      /* units that are no powers of ten (mm/min, deg, h) may lose the last bit */
      must(a == b || fabs(a / b - 1) < 1e-15, tw_field_of(field)->path);
    }
  }
  tw_design_free(back);
  tw_text_free(&p);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  open_once();
  const char *text = (const char *)data;
  tw_design *design = read_text(text, size, TW_NEED_NOTHING);
  if (design) {
    check_numbers(design);
    check_flat(design);
    tw_design_free(design);
  }
  tw_design_free(read_text(text, size, TW_NEED_ALL));
  const tw_set sets[] = {{"disc.part", "brass_27_4k6"}, {"requirements.trip_force_side", ">= 1 N"}};
  char *edited = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_design_edit(text, size, 2, sets, &fault, &edited);
  must((status == TW_OK) == (edited != NULL), "an edit has its text");
  must(status == TW_OK || fault.text[0], "a refused edit has its reason");
  tw_free(edited);
  return 0;
}
