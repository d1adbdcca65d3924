/* The delay that readings show is taken where the pretravel is steady; every view takes the same.
 */
#include "design_fixture.h"
#include "tripwright/assess.h"
#include "tripwright/documents.h"
#include "tripwright/probe.h"

#include <jansson.h>

#define MM_MIN (1e-3 / 60)
#define STEADY 0.1 /* share of the pretravel: CONSTANT_WITHIN of probe_window.c */

static tw_design *plate_sizer(const char *feeds, tw_messages *messages)
{
  const tw_set set = {"machine.feeds", feeds};
  const tw_read_options read = {
      .units = units, .library = library, .need = TW_NEED_ALL, .sets = &set, .set_count = 1};
  tw_design *design = NULL;
  assert_int_equal(
      tw_design_read(TW_SOURCE_DIR "/examples/plate-sizer.yaml", &read, messages, &design), TW_OK);
  return design;
}

static tw_measure delay_of(const tw_design *design)
{
  tw_measure_set wanted = {{0}};
  wanted.has[TW_M_apparent_delay] = true;
  tw_assess_options options = tw_assess_defaults();
  static tw_assessment a;
  options.wanted = &wanted;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
  return a.measure[TW_M_apparent_delay];
}

static double number(const json_t *o, const char *key)
{
  return json_number_value(json_object_get(json_object_get(o, key), "value"));
}

/* latched = pretravel + v c with c = half a look and the latency, and x <= pretravel <= (1 + s) x:
 * the slope of the least-squares line differs from c by at most s x/2 sum|v - m| / sum (v - m)^2 */
static void slope_is_bounded(void **state)
{
  (void)state;
  tw_messages *messages = tw_messages_new();
  tw_design *design = plate_sizer("[137, 150, 200, 800, 1000, 1500, 2000, 3000]", messages);
  json_t *document = NULL;
  assert_int_equal(tw_document_feeds(design, 0, 0, &document, NULL), TW_OK);
  const json_t *rows = json_object_get(document, "rows");
  const double steady = number(json_object_get(document, "window"), "calibrate_at");
  double v[8], mean = 0, x = INFINITY, apart = 0, squares = 0;
  size_t n = 0;
  for (size_t i = 0; i < json_array_size(rows); i++) {
    const json_t *row = json_array_get(rows, i);
    const double feed = json_number_value(json_object_get(row, "feed"));
    if (feed >= steady) {
      v[n++] = feed;
      mean += feed;
      x = fmin(x, json_number_value(json_object_get(row, "pretravel")));
    }
  }
  mean /= (double)n;
  for (size_t i = 0; i < n; i++) {
    apart += fabs(v[i] - mean);
    squares += (v[i] - mean) * (v[i] - mean);
  }
  const json_t *used = json_object_get(document, "apparent_delay_feeds");
  assert_int_equal(n, 5);
  assert_int_equal(json_integer_value(json_object_get(used, "count")), 5);
  assert_rel(number(used, "from"), 800 * MM_MIN, 1e-12);
  assert_rel(number(used, "to"), 3000 * MM_MIN, 1e-12);
  const double constant = 0.5e-3 + tw_design_number(design, TW_F_machine_latency);
  const double delay = number(document, "apparent_delay");
  const double bound = STEADY * x / 2 * apart / squares;
  print_message("from %.0f mm/min: %.4f ms, constant part %.4f ms, bound +- %.4f ms\n",
                steady / MM_MIN, delay * 1e3, constant * 1e3, bound * 1e3);
  assert_true(fabs(delay - constant) <= bound);
  assert_true(delay > 0);
  json_decref(document);
  tw_design_free(design);
  tw_messages_free(messages);
}

/* the plate is the same all round, so that its worst side is any */
static void every_view_says_the_same(void **state)
{
  (void)state;
  tw_messages *messages = tw_messages_new();
  tw_design *design = plate_sizer("[200, 800, 1500, 3000]", messages);
  json_t *document = NULL;
  assert_int_equal(tw_document_feeds(design, 0, 0, &document, NULL), TW_OK);
  const tw_measure said = delay_of(design);
  assert_int_equal(said.state, TW_MEASURE_OK);
  assert_rel(said.value, number(document, "apparent_delay"), 1e-3);
  assert_non_null(strstr(said.note, "3 feeds from 800 to 3000 mm/min"));
  json_decref(document);
  tw_design_free(design);
  tw_messages_free(messages);
}

static void too_few_is_said(void **state)
{
  (void)state;
  static const char *const feeds[] = {"[150, 200, 300, 500, 1000]", "[150, 200]", "[20, 30]"};
  static const char trip[] = "1 trip there", none[] = "0 trip there";
  for (size_t i = 0; i < sizeof feeds / sizeof feeds[0]; i++) {
    tw_messages *messages = tw_messages_new();
    tw_design *design = plate_sizer(feeds[i], messages);
    const tw_measure said = delay_of(design);
    assert_int_equal(said.state, TW_MEASURE_NO_ANSWER);
    assert_non_null(strstr(said.note, i == 0 ? trip : none));
    tw_design_free(design);
    tw_messages_free(messages);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(slope_is_bounded),
      cmocka_unit_test(every_view_says_the_same),
      cmocka_unit_test(too_few_is_said),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
