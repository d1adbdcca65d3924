/* Every document gives a direction in degrees, as it was asked for or as the seat was touched. */
#include "design_fixture.h"
#include "tripwright/documents.h"

#include <math.h>

static const double degree = 3.14159265358979323846 / 180;
static tw_design *design;

static int open_design(void **state)
{
  if (open_all(state) != 0) {
    return -1;
  }
  const tw_read_options reading = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  const tw_status status =
      tw_design_read(TW_SOURCE_DIR "/examples/pillar-indexer.yaml", &reading, messages, &design);
  tw_messages_free(messages);
  return status == TW_OK ? 0 : -1;
}

static int close_design(void **state)
{
  tw_design_free(design);
  return close_all(state);
}

/* a quantity {value, unit} of a document is so many degrees */
static void is_degrees(const json_t *document, const char *key, double expected)
{
  const json_t *quantity = json_object_get(document, key);
  assert_string_equal(json_string_value(json_object_get(quantity, "unit")), "deg");
  assert_near(json_number_value(json_object_get(quantity, "value")), expected, 1e-12);
}

static void a_touch_names_its_direction(void **state)
{
  (void)state;
  const tw_touch_ask ask = {.azimuth = 75 * degree, .elevation = 20 * degree, .feed = 2e-3};
  json_t *document = NULL;
  assert_int_equal(tw_document_touch(design, &ask, &document, NULL), TW_OK);
  is_degrees(document, "azimuth", 75);
  is_degrees(document, "elevation", 20);
  json_decref(document);
}

static void feeds_name_their_direction(void **state)
{
  (void)state;
  json_t *document = NULL;
  assert_int_equal(tw_document_feeds(design, 75 * degree, 20 * degree, &document, NULL), TW_OK);
  is_degrees(document, "azimuth", 75);
  is_degrees(document, "elevation", 20);
  json_decref(document);
}

static void the_seat_is_touched_all_round(void **state)
{
  (void)state;
  json_t *document = NULL;
  assert_int_equal(tw_document_seat(design, 8, false, NULL, &document, NULL), TW_OK);
  const json_t *rows = json_object_get(document, "directions");
  assert_int_equal(json_array_size(rows), 9);
  for (size_t i = 0; i < 8; i++) {
    const json_t *azimuth = json_object_get(json_array_get(rows, i), "azimuth_deg");
    assert_near(json_number_value(azimuth), 45.0 * (double)i, 1e-12);
  }
  json_decref(document);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_touch_names_its_direction),
      cmocka_unit_test(feeds_name_their_direction),
      cmocka_unit_test(the_seat_is_touched_all_round),
  };
  return cmocka_run_group_tests(tests, open_design, close_design);
}
