/* The design behind the server: opened, tried without a trace, saved to the byte, and never written
 * over an edit made elsewhere. */
#include "page_design.h"

#include "tripwright/files.h"
#include "tripwright/serve.h"

#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static char file[64];
static tw_serve_model model;

static const char text_of_file[] =
    "# my first probe   # with a comment\n"
    "design: bench probe\n"
    "disc: {part: brass_20_6k3,   contact_face: ceramic}  # two spaces kept\n"
    "support: {kind: ledge, ledge_radius: 9.3 mm \u00b1 0.05, void_depth: 60 um}\n"
    "seat: {kind: pivot, ball_radius: 4 mm, flat_radius: 3.5 mm, flat_height: 0 mm}\n"
    "preload: {kind: force, force: 0.8 N}\n"
    "stylus: {reach: 32 mm, stem: carbide, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
    "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_micropower_oc,\n"
    "  bias_upper: 100 kohm, bias_lower: 33 kohm, bias_resistance: 10 Mohm,\n"
    "  reference_upper: 100 kohm, reference_lower: 39 kohm, feedback_resistance: 2.2 Mohm}\n"
    "requirements:\n"
    "  trip_force_side: \"<= 0.2 N\"\n";

static int setup(void **state)
{
  (void)state;
  snprintf(file, sizeof file, "/tmp/tripwright-model-XXXXXX");
  const int handle = mkstemp(file);
  assert_true(handle >= 0);
  close(handle);
  assert_int_equal(tw_file_replace(file, text_of_file, strlen(text_of_file), NULL), TW_OK);
  const tw_serve_file from = {.path = file, .units = page_all->units, .library = page_all->library};
  return tw_serve_design(&from, &model, NULL) == TW_OK ? 0 : 1;
}

static int teardown(void **state)
{
  (void)state;
  tw_serve_design_free(&model);
  return unlink(file);
}

static char *content(void)
{
  size_t n = 0;
  char *text = tw_file_text(file, &n, NULL);
  assert_non_null(text);
  return text;
}

static void assert_content(const char *expected)
{
  char *text = content();
  assert_string_equal(text, expected);
  tw_free(text);
}

static tw_status view(const char *request, json_t **out, tw_fault *fault)
{
  json_t *asked = json_loads(request, 0, NULL);
  assert_non_null(asked);
  *out = NULL;
  const tw_status status = model.view(model.self, asked, NULL, NULL, out, fault);
  json_decref(asked);
  return status;
}

static double measure(const json_t *document, const char *name)
{
  const json_t *all_of = json_object_get(json_object_get(document, "check"), "measures");
  const json_t *value = json_object_get(json_object_get(all_of, name), "value");
  assert_true(json_is_number(value));
  return json_number_value(value);
}

static void it_opens_with_every_field(void **state)
{
  (void)state;
  json_t *design = NULL;
  tw_fault fault = {0};
  assert_int_equal(model.open(model.self, &design, &fault), TW_OK);
  assert_int_equal(json_array_size(json_object_get(design, "fields")), TW_FIELD_COUNT);
  const json_t *values = json_object_get(design, "values");
  const json_t *reach = json_object_get(values, "stylus.reach");
  assert_string_equal(json_string_value(json_object_get(reach, "text")), "32 mm");
  assert_string_equal(json_string_value(json_object_get(reach, "origin")), "given");
  assert_int_equal(json_integer_value(json_object_get(reach, "line")), 7);
  const json_t *metal = json_object_get(values, "disc.metal_diameter");
  assert_string_equal(json_string_value(json_object_get(metal, "origin")), "library");
  json_decref(design);
}

static void a_try_leaves_no_trace(void **state)
{
  (void)state;
  json_t *before = NULL, *after = NULL;
  tw_fault fault = {0};
  assert_int_equal(view("{\"view\":\"first\"}", &before, &fault), TW_OK);
  assert_int_equal(
      view("{\"view\":\"first\",\"set\":{\"preload.force\":\"1.6 N\"}}", &after, &fault), TW_OK);
  assert_true(measure(after, "trip_force_side") > 1.5 * measure(before, "trip_force_side"));
  assert_non_null(strstr(json_string_value(json_object_get(after, "drawing")), "1.6 N"));
  assert_true(json_is_true(json_object_get(json_object_get(after, "check"), "refining")));
  json_decref(before);
  json_decref(after);
  assert_content(text_of_file);
}

static void a_wrong_value_names_its_field(void **state)
{
  (void)state;
  static const char *const requests[] = {
      "{\"view\":\"first\",\"set\":{\"preload.force\":\"1.6 mm\"}}",
      "{\"view\":\"first\",\"set\":{\"preload.force\":\"\"}}",
      "{\"view\":\"settled\",\"set\":{\"preload.force\":\"1,6 N\"}}",
      "{\"view\":\"disc\",\"set\":{\"preload.force\":\"1e999 N\"}}"};
  for (size_t i = 0; i < sizeof requests / sizeof requests[0]; i++) {
    json_t *out = NULL;
    tw_fault fault = {0};
    assert_int_equal(view(requests[i], &out, &fault), TW_BAD_INPUT);
    assert_string_equal(fault.field, "preload.force");
    assert_true(json_array_size(json_object_get(out, "messages")) > 0);
    json_decref(out);
  }
}

static void a_malformed_request_is_refused(void **state)
{
  (void)state;
  static const char *const requests[] = {"{}",
                                         "{\"view\":3}",
                                         "{\"view\":\"nothing\"}",
                                         "{\"view\":\"first\",\"set\":[]}",
                                         "{\"view\":\"first\",\"set\":{\"preload.force\":3}}",
                                         "{\"view\":\"first\",\"set\":{\"no.such.field\":\"1\"}}"};
  for (size_t i = 0; i < sizeof requests / sizeof requests[0]; i++) {
    json_t *out = NULL;
    tw_fault fault = {0};
    assert_int_equal(view(requests[i], &out, &fault), TW_BAD_INPUT);
    assert_true(fault.text[0] != '\0');
    json_decref(out);
  }
  /* a sheet of any size is drawn on one that can be */
  json_t *out = NULL;
  assert_int_equal(
      view("{\"view\":\"first\",\"sheet\":{\"width\":-1e9,\"height\":1e300}}", &out, NULL), TW_OK);
  json_decref(out);
}

static tw_status save(const char *path, const char *value, const char *print, bool *conflict)
{
  json_t *request = json_pack("{s:{s:s}, s:s}", "set", path, value, "fingerprint", print);
  json_t *out = NULL;
  tw_fault fault = {0};
  *conflict = false;
  const tw_status status = model.save(model.self, request, conflict, &out, &fault);
  json_decref(request);
  json_decref(out);
  return status;
}

static void saving_changes_the_value_and_nothing_else(void **state)
{
  (void)state;
  char print[TW_FINGERPRINT];
  bool conflict;
  model.fingerprint(model.self, print);
  assert_int_equal(save("support.ledge_radius", "9.25 mm", print, &conflict), TW_OK);
  assert_false(conflict);
  char *text = content();
  const char *old = "9.3 mm \u00b1 0.05";
  const size_t at = (size_t)(strstr(text_of_file, old) - text_of_file);
  assert_memory_equal(text, text_of_file, at);
  assert_memory_equal(text + at, "9.25 mm", 7);
  assert_string_equal(text + at + 7, text_of_file + at + strlen(old));
  tw_free(text);
}

static void an_edit_made_elsewhere_is_never_overwritten(void **state)
{
  (void)state;
  char print[TW_FINGERPRINT], now[TW_FINGERPRINT];
  bool conflict;
  model.fingerprint(model.self, print);
  char *other = content();
  memcpy(strstr(other, "32 mm"), "36 mm", 5);
  assert_int_equal(tw_file_replace(file, other, strlen(other), NULL), TW_OK);
  model.fingerprint(model.self, now);
  assert_string_not_equal(print, now);
  assert_int_equal(save("preload.force", "1 N", print, &conflict), TW_OK);
  assert_true(conflict);
  assert_content(other);
  assert_int_equal(save("preload.force", "1 N", now, &conflict), TW_OK);
  assert_false(conflict);
  tw_free(other);
}

static void a_wrong_value_is_never_written(void **state)
{
  (void)state;
  char print[TW_FINGERPRINT];
  bool conflict;
  model.fingerprint(model.self, print);
  assert_int_equal(save("preload.force", "1 mm", print, &conflict), TW_BAD_INPUT);
  assert_int_equal(save("preload.farce", "1 N", print, &conflict), TW_BAD_INPUT);
  assert_int_equal(save("stylus.reach", "3 mm}\nseat: {", print, &conflict), TW_BAD_INPUT);
  assert_content(text_of_file);
  assert_int_equal(chmod(file, 0600), 0);
  assert_int_equal(save("preload.force", "1 N", print, &conflict), TW_OK);
  struct stat stat_of_file;
  assert_int_equal(stat(file, &stat_of_file), 0);
  assert_int_equal(stat_of_file.st_mode & 0777, 0600);
}

static void a_file_that_is_gone_or_broken_still_opens(void **state)
{
  (void)state;
  json_t *design = NULL;
  char print[TW_FINGERPRINT];
  tw_fault fault = {0};
  assert_int_equal(tw_file_replace(file, "design: [", 9, NULL), TW_OK);
  assert_int_equal(model.open(model.self, &design, &fault), TW_OK);
  assert_true(json_array_size(json_object_get(design, "messages")) > 0);
  assert_int_equal(json_object_size(json_object_get(design, "values")), 0);
  json_decref(design);
  unlink(file);
  model.fingerprint(model.self, print);
  assert_string_equal(print, "0000000000000000");
  assert_int_equal(model.open(model.self, &design, &fault), TW_OK);
  json_decref(design);
  assert_int_equal(tw_file_replace(file, "x", 1, NULL), TW_OK);
}

static void every_view_answers(void **state)
{
  (void)state;
  for (size_t i = 0; i < tw_page_view_count(); i++) {
    char request[64];
    json_t *out = NULL;
    tw_fault fault = {0};
    if (tw_page_is_study(tw_page_view_name(i))) {
      continue; /* tests/unit/test_serve_studies.c */
    }
    snprintf(request, sizeof request, "{\"view\":\"%s\"}", tw_page_view_name(i));
    const tw_status status = view(request, &out, &fault);
    if (status != TW_OK) {
      fail_msg("%s: %s", tw_page_view_name(i), fault.text);
    }
    json_decref(out);
  }
  json_t *out = NULL;
  assert_int_equal(view("{\"view\":\"report\"}", &out, NULL), TW_OK);
  assert_non_null(strstr(json_string_value(json_object_get(out, "html")), "report-data"));
  assert_null(strstr(json_string_value(json_object_get(out, "html")), "tripwright.spread/1"));
  json_decref(out);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
#define WITH(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
      WITH(it_opens_with_every_field),
      WITH(a_try_leaves_no_trace),
      WITH(a_wrong_value_names_its_field),
      WITH(a_malformed_request_is_refused),
      WITH(saving_changes_the_value_and_nothing_else),
      WITH(an_edit_made_elsewhere_is_never_overwritten),
      WITH(a_wrong_value_is_never_written),
      WITH(a_file_that_is_gone_or_broken_still_opens),
      WITH(every_view_answers),
  };
  return cmocka_run_group_tests(tests, page_design_setup_all, page_design_teardown);
}
