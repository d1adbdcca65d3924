/* Studies behind the page: the same numbers as the functions of the study room give, told while
 * they grow, stopped with what was done kept; wrong options by name; other designs of the folder by
 * their listed name only. */
#include "page_design.h"

#include "tripwright/files.h"
#include "tripwright/serve.h"
#include "tripwright/study_run.h"

#include <math.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64], file[96];
static tw_serve_model model;

static const char text_of_file[] =
    "design: bench probe\n"
    "disc: {part: brass_20_6k3, contact_face: ceramic}\n"
    "support: {kind: ledge, ledge_radius: 9.3 mm ± 0.05, void_depth: 60 um +20 um/-0}\n"
    "seat: {kind: pivot, ball_radius: 4 mm, flat_radius: 3.5 mm, flat_height: 0 mm,\n"
    "  friction: 0.15 ± 0.05}\n"
    "preload: {kind: force, force: 0.8 N ± 0.1}\n"
    "stylus: {reach: 32 mm, stem: carbide, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
    "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_micropower_oc,\n"
    "  bias_upper: 100 kohm, bias_lower: 33 kohm, bias_resistance: 10 Mohm,\n"
    "  reference_upper: 100 kohm, reference_lower: 39 kohm, feedback_resistance: 2.2 Mohm}\n"
    "requirements:\n"
    "  trip_force_side: \"<= 0.15 N\"\n"
    "  pretravel_side: \"<= 1 mm\"\n";

static void put(const char *name, const char *text)
{
  char path[160];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  assert_int_equal(tw_file_replace(path, text, strlen(text), NULL), TW_OK);
}

static int setup(void **state)
{
  (void)state;
  snprintf(folder, sizeof folder, "/tmp/tripwright-studies-XXXXXX");
  assert_non_null(mkdtemp(folder));
  snprintf(file, sizeof file, "%s/probe.yaml", folder);
  put("probe.yaml", text_of_file);
  const tw_serve_file from = {.path = file, .units = page_all->units, .library = page_all->library};
  return tw_serve_design(&from, &model, NULL) == TW_OK ? 0 : 1;
}

static int teardown(void **state)
{
  char command[128];
  (void)state;
  tw_serve_design_free(&model);
  snprintf(command, sizeof command, "rm -r '%s'", folder);
  return system(command);
}

/* ---- who looks on --------------------------------------------------------------------------- */

typedef struct onlooker {
  int told, stop_after; /* documents; 0: never */
  json_int_t first;     /* builds in the first */
  json_t *last;
} onlooker;

static void take(void *self, json_t *document)
{
  onlooker *o = self;
  if (o->told++ == 0) {
    o->first = json_integer_value(json_object_get(document, "builds"));
  }
  json_decref(o->last);
  o->last = document;
}

static bool tick(void *self, double done, const char *what)
{
  const onlooker *o = self;
  assert_true(done >= 0.0 && done <= 1.0 + 1e-9);
  (void)what;
  return o->stop_after == 0 || o->told < o->stop_after;
}

static tw_status ask(const char *request, onlooker *o, json_t **out, tw_fault *fault)
{
  json_error_t error;
  json_t *asked = json_loads(request, 0, &error);
  if (!asked) {
    fail_msg("%s: %s", request, error.text);
  }
  *out = NULL;
  const tw_progress progress = {tick, o};
  const tw_page_partial partial = {take, o};
  const tw_status status =
      model.view(model.self, asked, o ? &progress : NULL, o ? &partial : NULL, out, fault);
  json_decref(asked);
  return status;
}

static json_t *answer_of(const char *request)
{
  json_t *out = NULL;
  tw_fault fault = {0};
  if (ask(request, NULL, &out, &fault) != TW_OK) {
    fail_msg("%s: %s: %s", request, fault.field, fault.text);
  }
  return out;
}

static json_int_t whole(const json_t *document, const char *key)
{
  const json_t *value = json_object_get(document, key);
  assert_true(json_is_integer(value));
  return json_integer_value(value);
}

/* ---- the tests ------------------------------------------------------------------------------ */

/* the document of the page against the study done by hand */
static void a_spread_is_the_one_of_the_study_room(void **state)
{
  (void)state;
  const tw_read_options options = {
      .units = page_all->units, .library = page_all->library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  tw_limits limits;
  tw_study *study = NULL;
  tw_sampler *sampler = NULL;
  tw_builds *builds = NULL;
  tw_fault fault = {0};
  const tw_measure_set asked = {.has[TW_M_trip_force_side] = true,
                                .has[TW_M_pretravel_side] = true};
  const tw_study_level level = {.azimuths = 8, .threads = 1, .wanted = &asked};
  assert_int_equal(tw_design_read(file, &options, messages, &design), TW_OK);
  assert_int_equal(tw_limits_read(design, page_all->units, messages, &limits), TW_OK);
  assert_int_equal(tw_study_new(design, page_all->units, &limits, &level, &study, &fault), TW_OK);
  assert_int_equal(tw_study_add_toleranced(study, &fault), TW_OK);
  assert_int_equal(tw_study_sampler(study, NULL, 0, 5, &sampler, &fault), TW_OK);
  assert_int_equal(tw_builds_new(0, 50, study->outputs, &builds, &fault), TW_OK);
  const tw_study_model by_hand = tw_study_as_model(study);
  const tw_spread_options alone = {.threads = 1};
  assert_int_equal(tw_spread_run(&by_hand, sampler, builds, &alone, NULL, &fault), TW_OK);
  char hash[24];
  snprintf(hash, sizeof hash, "%016llx", (unsigned long long)tw_builds_hash(builds));

  onlooker o = {0};
  json_t *out = NULL;
  assert_int_equal(
      ask("{\"view\":\"spread\",\"study\":{\"builds\":50,\"seed\":5}}", &o, &out, &fault), TW_OK);
  assert_string_equal(json_string_value(json_object_get(out, "schema")), "tripwright.spread/1");
  assert_string_equal(json_string_value(json_object_get(out, "hash")), hash);
  assert_int_equal(whole(out, "builds"), 50);
  assert_int_equal(whole(out, "seed"), 5);
  assert_true(json_is_object(json_object_get(out, "coarseness")));
  /* told while it grew */
  assert_true(o.told >= 1 && o.first > 0 && o.first < 50);
  json_decref(o.last);
  json_decref(out);
  tw_builds_free(builds);
  tw_sampler_free(sampler);
  tw_study_free(study);
  tw_design_free(design);
  tw_messages_free(messages);
}

static void classes_hold_every_number(void **state)
{
  (void)state;
  json_t *out = answer_of("{\"view\":\"spread\",\"study\":{\"builds\":64,\"all\":true}}"), *one;
  size_t i, with = 0;
  json_array_foreach(json_object_get(out, "measures"), i, one)
  {
    const json_t *histogram = json_object_get(one, "histogram"), *count;
    json_int_t sum = 0;
    size_t k;
    if (!json_is_object(histogram)) {
      continue; /* all alike */
    }
    const json_t *counts = json_object_get(histogram, "counts");
    json_array_foreach((json_t *)(uintptr_t)counts, k, count)
    {
      sum += json_integer_value(count);
    }
    assert_int_equal(sum, whole(one, "numbers"));
    const size_t classes = json_array_size(counts);
    assert_int_equal(classes, (size_t)ceil(2 * cbrt((double)sum)));
    /* the outer classes hold the least and the largest number */
    assert_true(json_integer_value(json_array_get(counts, 0)) > 0);
    assert_true(json_integer_value(json_array_get(counts, classes - 1)) > 0);
    with++;
  }
  assert_true(with >= 4);
  json_decref(out);
}

static void a_stop_keeps_what_was_done(void **state)
{
  (void)state;
  onlooker o = {.stop_after = 2};
  json_t *out = NULL;
  tw_fault fault = {0};
  assert_int_equal(ask("{\"view\":\"spread\",\"study\":{\"builds\":100000}}", &o, &out, &fault),
                   TW_CANCELLED);
  assert_non_null(out);
  assert_true(whole(out, "builds") >= whole(o.last, "builds"));
  assert_true(whole(out, "builds") < 100000);
  json_decref(o.last);
  json_decref(out);
}

static void two_fields_give_a_grid_with_its_edges(void **state)
{
  (void)state;
  onlooker o = {0};
  json_t *out = NULL;
  tw_fault fault = {0};
  assert_int_equal(ask("{\"view\":\"vary\",\"study\":{\"fields\":[\"preload.force=0.4..1.6N\","
                       "\"seat.flat_radius=2.5..4.5mm\"],\"points\":4}}",
                       &o, &out, &fault),
                   TW_OK);
  assert_int_equal(json_array_size(json_object_get(out, "points")), 16);
  assert_true(json_array_size(json_object_get(out, "edges")) >= 2);
  const json_t *rule = json_array_get(json_object_get(out, "requirements"), 0);
  assert_string_equal(json_string_value(json_object_get(rule, "measure")), "trip_force_side");
  assert_near(json_number_value(json_object_get(rule, "most")), 0.15, 1e-12);
  assert_true(json_is_null(json_object_get(rule, "least")));
  assert_true(o.told >= 1);
  assert_int_equal(json_array_size(json_object_get(o.last, "points")), 16); /* some still empty */
  json_decref(o.last);
  json_decref(out);
}

static void drivers_say_what_moves_what(void **state)
{
  (void)state;
  json_t *out = answer_of("{\"view\":\"drivers\",\"study\":{\"fields\":[\"preload.force\"]}}");
  const json_t *field = json_array_get(json_object_get(out, "fields"), 0);
  const json_t *entry = json_array_get(json_object_get(field, "requirements"), 0);
  assert_string_equal(json_string_value(json_object_get(field, "field")), "preload.force");
  /* more force trips later: the margin shrinks; one tolerance is 0.1 N of 0.8 N, and the trip
   * force goes with it, so the margin moves by slope x 0.1 N / 0.15 N */
  const double moves = json_number_value(json_object_get(entry, "moves"));
  const double slope = json_number_value(json_object_get(entry, "slope"));
  assert_true(moves < 0.0);
  assert_rel(moves, -slope * 0.1 / 0.15, 1e-9);
  json_decref(out);
}

static void a_remedy_is_written_as_it_would_stand_in_the_file(void **state)
{
  (void)state;
  put("probe.yaml", text_of_file);
  json_t *out = answer_of("{\"view\":\"remedy\",\"set\":{\"preload.force\":\"1.6 N ± 0.1\"},"
                          "\"study\":{\"budget\":150,\"keep\":[\"stylus\"]}}");
  const json_t *list = json_object_get(out, "remedies");
  assert_true(json_array_size(list) >= 1);
  const json_t *change = json_array_get(json_object_get(json_array_get(list, 0), "changes"), 0);
  const char *field = json_string_value(json_object_get(change, "field"));
  const char *text = json_string_value(json_object_get(change, "text"));
  assert_true(strlen(text) > 2);
  /* tried as an edit of the page, it is taken, and the requirement is met at the study's level */
  char request[256];
  snprintf(request, sizeof request,
           "{\"view\":\"remedy\",\"set\":{\"preload.force\":\"1.6 N ± 0.1\",\"%s\":\"%s\"},"
           "\"study\":{\"budget\":10}}",
           field, text);
  json_t *after = answer_of(request);
  print_message("%s: %s: margin %g\n", field, text,
                json_number_value(json_object_get(after, "margin")));
  assert_true(json_number_value(json_object_get(after, "margin")) > -1e-4);
  json_decref(after);
  json_decref(out);
}

static void a_wrong_option_is_named(void **state)
{
  (void)state;
  static const struct {
    const char *request, *field, *says;
  } cases[] = {
      {"\"view\":\"spread\",\"study\":{\"builds\":0}", "study.builds", "from 1 to 100000"},
      {"\"view\":\"spread\",\"study\":{\"builds\":1000000000000}", "study.builds", "100000"},
      {"\"view\":\"spread\",\"study\":{\"builds\":2.5}", "study.builds", "whole number"},
      {"\"view\":\"spread\",\"study\":{\"fast\":1}", "study.fast", "true or false"},
      {"\"view\":\"spread\",\"study\":{\"pair\":1}", "study.pair", "from 2 to 200"},
      {"\"view\":\"spread\",\"study\":{\"pair\":4,\"fast\":true}", "study.pair", "pairing needs"},
      {"\"view\":\"suspect\",\"study\":{}", "study.readings", "no reading"},
      {"\"view\":\"suspect\",\"study\":{\"readings\":[1]}", "study.readings", "no reading"},
      {"\"view\":\"suspect\",\"study\":{\"readings\":{\"decay\":1}}", "study.readings.decay",
       "not a text"},
      {"\"view\":\"suspect\",\"study\":{\"readings\":{\"decay\":\"3 mV\"}}", "study.readings.decay",
       "does not fit"},
      {"\"view\":\"suspect\",\"study\":{\"readings\":{\"decai\":\"3 ms\"}}", "study.readings.",
       "no check"},
      {"\"view\":\"report\",\"with\":{\"suspect\":{\"readings\":{}}}", "with", "no study named"},
      {"\"view\":\"spread\",\"study\":{\"builds\":\"many\"}", "study.builds", "whole number"},
      {"\"view\":\"spread\",\"study\":{\"bilds\":20}", "study.bilds", "no option"},
      {"\"view\":\"spread\",\"study\":[]", "study", "not an object"},
      {"\"view\":\"spread\",\"study\":{\"seed\":-1}", "study.seed", "from 0"},
      {"\"view\":\"spread\",\"study\":{\"azimuths\":2}", "study.azimuths", "from 3"},
      {"\"view\":\"spread\",\"study\":{\"timed\":1}", "study.timed", "true or false"},
      {"\"view\":\"vary\"", "study.fields", "name one field"},
      {"\"view\":\"vary\",\"study\":{\"fields\":[\"preload.farce=1..2N\"]}", "study.fields",
       "no field \"preload.farce\""},
      {"\"view\":\"vary\",\"study\":{\"fields\":[\"preload.force=1..2mm\"]}", "study.fields", ""},
      {"\"view\":\"vary\",\"study\":{\"fields\":[\"preload.force=2..1N\"]}", "preload.force",
       "no range"},
      {"\"view\":\"vary\",\"study\":{\"fields\":[\"preload.force\"]}", "study.fields",
       "PATH=FROM..TO"},
      {"\"view\":\"vary\",\"study\":{\"fields\":[\"preload.force=1..2N\",\"preload.force=1..2N\"]}",
       "study.fields", "two different"},
      {"\"view\":\"vary\",\"study\":{\"fields\":[3]}", "study.fields", "list of texts"},
      {"\"view\":\"vary\",\"study\":{\"fields\":[\"preload.force=1..2N\"],\"points\":1000000}",
       "study.points", "from 2 to 201"},
      {"\"view\":\"drivers\",\"study\":{\"global\":3}", "study.global", "from 16"},
      {"\"view\":\"drivers\",\"study\":{\"fields\":[\"no.such\"]}", "study.fields", "no field"},
      {"\"view\":\"remedy\",\"study\":{\"keep\":[\"engine\"]}", "study.keep", "no part"},
      {"\"view\":\"remedy\",\"study\":{\"safety\":1.5}", "study.safety", "share"},
      {"\"view\":\"remedy\",\"study\":{\"ranges\":[\"preload.force=1\"]}", "study.ranges", "PATH"},
      {"\"view\":\"compare\"", "", "nothing to compare"},
      {"\"view\":\"compare\",\"study\":{\"files\":[\"../probe.yaml\"]}", "study.files",
       "no design of that name"},
      {"\"view\":\"report\",\"with\":{\"spraed\":{}}", "with", "no study named"},
      {"\"view\":\"report\",\"with\":{\"spread\":{\"builds\":0}}", "study.builds", "from 1"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    char request[256];
    json_t *out = NULL;
    tw_fault fault = {0};
    snprintf(request, sizeof request, "{%s}", cases[i].request);
    const tw_status status = ask(request, NULL, &out, &fault);
    if (status != TW_BAD_INPUT || strcmp(fault.field, cases[i].field) != 0 ||
        !strstr(fault.text, cases[i].says)) {
      fail_msg("%s: status %d, field \"%s\", text \"%s\"", request, (int)status, fault.field,
               fault.text);
    }
    json_decref(out);
  }
}

static void tried_stands_beside_saved(void **state)
{
  (void)state;
  json_t *out =
      answer_of("{\"view\":\"compare\",\"set\":{\"preload.force\":\"1.6 N\"},\"study\":{}}");
  const json_t *variants = json_object_get(out, "variants");
  assert_int_equal(json_array_size(variants), 2);
  assert_int_equal(whole(json_array_get(variants, 0), "met"), 2);
  const json_t *rows = json_object_get(out, "measures"), *row;
  size_t i;
  json_array_foreach((json_t *)(uintptr_t)rows, i, row)
  {
    if (strcmp(json_string_value(json_object_get(row, "measure")), "trip_force_side") == 0) {
      const json_t *each = json_object_get(row, "variants");
      assert_int_equal(whole(json_array_get(each, 1), "gained"), -1);
      assert_true(json_number_value(json_object_get(json_array_get(each, 1), "value")) >
                  1.5 * json_number_value(json_object_get(json_array_get(each, 0), "value")));
    }
  }
  json_decref(out);
}

/* only names that were listed, of plain files that may be designs */
static void other_designs_by_their_listed_name(void **state)
{
  (void)state;
  char link[128];
  put("stiffer.yaml", text_of_file);
  put("notes.txt", "not a design");
  put("shop.yaml", "machine: {feed: 200 mm/min}\n");
  put(".hidden.yaml", text_of_file);
  snprintf(link, sizeof link, "%s/link.yaml", folder);
  assert_int_equal(symlink("/etc/passwd", link), 0);
  json_t *design = NULL, *out = NULL;
  tw_fault fault = {0};
  assert_int_equal(model.open(model.self, &design, &fault), TW_OK);
  const json_t *names = json_object_get(design, "siblings");
  assert_int_equal(json_array_size(names), 1);
  assert_string_equal(json_string_value(json_array_get(names, 0)), "stiffer.yaml");
  json_decref(design);
  static const char *const refused[] = {"link.yaml",
                                        "shop.yaml",
                                        ".hidden.yaml",
                                        "notes.txt",
                                        "/etc/passwd",
                                        "../../etc/passwd",
                                        "probe.yaml",
                                        "./stiffer.yaml",
                                        "stiffer.yaml/",
                                        "stiffer.yaml\\n",
                                        "",
                                        "STIFFER.YAML"};
  for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
    char request[160];
    snprintf(request, sizeof request, "{\"view\":\"compare\",\"study\":{\"files\":[\"%s\"]}}",
             refused[i]);
    assert_int_equal(ask(request, NULL, &out, &fault), TW_BAD_INPUT);
    assert_string_equal(fault.field, "study.files");
    json_decref(out);
  }
  out = answer_of("{\"view\":\"compare\",\"study\":{\"files\":[\"stiffer.yaml\"]}}");
  const json_t *other = json_array_get(json_object_get(out, "variants"), 1);
  assert_non_null(
      strstr(json_string_value(json_object_get(json_object_get(other, "design"), "file")),
             "stiffer.yaml"));
  json_decref(out);
  /* one that cannot be read says so by its name */
  put("stiffer.yaml", "design: [\n");
  assert_int_equal(
      ask("{\"view\":\"compare\",\"study\":{\"files\":[\"stiffer.yaml\"]}}", NULL, &out, &fault),
      TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "stiffer.yaml: "));
  json_decref(out);
}

static void a_report_holds_the_studies_asked_for(void **state)
{
  (void)state;
  json_t *with =
      answer_of("{\"view\":\"report\",\"with\":{\"spread\":{\"builds\":20,\"seed\":3}}}");
  const char *html = json_string_value(json_object_get(with, "html"));
  assert_non_null(strstr(html, "tripwright.spread/1"));
  assert_non_null(strstr(html, "\"asked\":{\"builds\":20,\"seed\":3}"));
  assert_null(strstr(html, "tripwright.drivers/1"));
  json_decref(with);
}

static void what_takes_long_is_known(void **state)
{
  (void)state;
  static const struct {
    const char *request;
    bool is;
  } cases[] = {{"{\"view\":\"spread\"}", true},
               {"{\"view\":\"compare\"}", true},
               {"{\"view\":\"touch\"}", false},
               {"{\"view\":\"settled\"}", false},
               {"{\"view\":\"report\"}", false},
               {"{\"view\":\"report\",\"with\":{}}", true},
               {"{}", false},
               {"{\"view\":7}", false}};
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    json_t *request = json_loads(cases[i].request, 0, NULL);
    assert_int_equal(model.takes_long(model.self, request), cases[i].is);
    json_decref(request);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
#define WITH(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
      WITH(a_spread_is_the_one_of_the_study_room),
      WITH(classes_hold_every_number),
      WITH(a_stop_keeps_what_was_done),
      WITH(two_fields_give_a_grid_with_its_edges),
      WITH(drivers_say_what_moves_what),
      WITH(a_remedy_is_written_as_it_would_stand_in_the_file),
      WITH(a_wrong_option_is_named),
      WITH(tried_stands_beside_saved),
      WITH(other_designs_by_their_listed_name),
      WITH(a_report_holds_the_studies_asked_for),
      WITH(what_takes_long_is_known),
  };
  return cmocka_run_group_tests(tests, page_design_setup_all, page_design_teardown);
}
