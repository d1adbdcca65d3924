/* How far the worst of 8 azimuths is from the worst of 24: as a study with 24 azimuths finds it. */
#include "design_fixture.h"
#include "study_subject.h"
#include "tripwright/study_fast.h"
#include "tripwright/study_run.h"

#include <stdio.h>

static void open_subject(subject *s, const char *example, int azimuths)
{
  char file[512];
  snprintf(file, sizeof file, "%s/examples/%s.yaml", TW_SOURCE_DIR, example);
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  memset(s, 0, sizeof *s);
  assert_int_equal(tw_design_read(file, &options, messages, &s->design), TW_OK);
  assert_int_equal(tw_limits_read(s->design, units, messages, &s->limits), TW_OK);
  tw_messages_free(messages);
  const tw_study_level level = {.azimuths = azimuths, .threads = 2};
  assert_int_equal(tw_study_new(s->design, units, &s->limits, &level, &s->study, NULL), TW_OK);
  assert_int_equal(tw_study_add_toleranced(s->study, NULL), TW_OK);
  assert_int_equal(tw_study_sampler(s->study, NULL, 0, 1, &s->sampler, NULL), TW_OK);
}

static tw_builds *run(const subject *s, size_t n)
{
  tw_builds *b = NULL;
  const tw_study_model model = tw_study_as_model(s->study);
  const tw_spread_options options = {.threads = 2};
  assert_int_equal(tw_builds_new(0, n, s->study->outputs, &b, NULL), TW_OK);
  assert_int_equal(tw_spread_run(&model, s->sampler, b, &options, NULL, NULL), TW_OK);
  return b;
}

static const tw_outcome ok = TW_OUTCOME_OK;

/* the largest difference over goals and builds, and of how many builds the verdict differs */
static double largest(const subject *s, const tw_builds *a, const tw_builds *b, size_t *changed)
{
  double most = 0;
  *changed = 0;
  for (size_t i = 0; i < a->count; i++) {
    bool good[2] = {true, true};
    for (size_t g = 0; g < s->study->goals; g++) {
      const size_t at = i * a->outputs + s->study->goal[g].output;
      const double *y[2] = {a->y + i * a->outputs, b->y + i * a->outputs};
      const unsigned char *outcome[2] = {a->outcome + i * a->outputs, b->outcome + i * a->outputs};
      for (int k = 0; k < 2; k++) {
        good[k] &= tw_goal_margin(&s->study->goal[g], y[k], outcome[k]) >= 0;
      }
      if (a->outcome[at] == ok && b->outcome[at] == ok && b->y[at] != 0) {
        most = fmax(most, fabs(a->y[at] - b->y[at]) / fabs(b->y[at]));
      }
    }
    *changed += good[0] != good[1];
  }
  return most;
}

static void worst_of_eight_against_worst_of_24(void **state)
{
  (void)state;
  static const char *const example[] = {"pillar-indexer", "gearbox-tripod"};
  for (int k = 0; k < 2; k++) {
    subject eight, more;
    json_t *document = NULL;
    size_t changed;
    open_subject(&eight, example[k], 8);
    open_subject(&more, example[k], 24);
    tw_builds *a = run(&eight, 10), *b = run(&more, 10);
    const double most = largest(&eight, a, b, &changed);
    assert_int_equal(tw_run_spread_document(eight.study, eight.sampler, a, &document, NULL), TW_OK);
    const json_t *coarse = json_object_get(document, "coarseness");
    const json_t *builds = json_object_get(coarse, "builds");
    assert_int_equal(json_integer_value(json_object_get(coarse, "against")), 24);
    assert_int_equal(json_integer_value(json_object_get(builds, "compared")), 10);
    assert_int_equal(json_integer_value(json_object_get(builds, "judged_otherwise")), changed);
    assert_rel(json_number_value(json_object_get(builds, "share")), most, 1e-9);
    print_message("%s: %.3g %% in builds, %.3g %% in the design itself\n", example[k], 100 * most,
                  100 * json_number_value(json_object_get(coarse, "share")));
    /* more sides find a worse one: there is a difference, and it is no order of magnitude */
    assert_true(most > 1e-3 && most < 0.5);
    json_decref(document);
    tw_builds_free(a);
    tw_builds_free(b);
    close_subject(&eight);
    close_subject(&more);
  }
}

/* with 24 azimuths there is nothing to compare the builds with */
static void nothing_is_finer_than_24(void **state)
{
  (void)state;
  subject s;
  json_t *document = NULL;
  open_subject(&s, "gearbox-tripod", 24);
  tw_builds *b = run(&s, 2);
  assert_int_equal(tw_run_spread_document(s.study, s.sampler, b, &document, NULL), TW_OK);
  assert_null(json_object_get(json_object_get(document, "coarseness"), "builds"));
  json_decref(document);
  tw_builds_free(b);
  close_subject(&s);
}

/* the fast level does not come into it: its tables are made for their own azimuths */
static void the_engine_tells_it_of_the_fast_level_too(void **state)
{
  (void)state;
  subject s;
  json_t *document[2] = {NULL, NULL};
  double share[2];
  open_subject(&s, "pillar-indexer", 8);
  for (int fast = 0; fast < 2; fast++) {
    if (fast) {
      assert_int_equal(tw_study_hasten(s.study, s.sampler, 4, NULL, NULL), TW_OK);
    }
    tw_builds *b = run(&s, 10);
    assert_int_equal(tw_run_spread_document(s.study, s.sampler, b, &document[fast], NULL), TW_OK);
    const json_t *builds = json_object_get(json_object_get(document[fast], "coarseness"), "builds");
    share[fast] = json_number_value(json_object_get(builds, "share"));
    tw_builds_free(b);
    json_decref(document[fast]);
  }
  assert_rel(share[1], share[0], 1e-12);
  close_subject(&s);
}

/* Builds without an answer are told with the first one's reason. The deaf example never trips,
 * which is an answer; here its outcome is written over, and the reason is the engine's own. */
static void what_has_no_answer_is_told_with_its_reason(void **state)
{
  (void)state;
  subject s;
  json_t *document = NULL;
  char why[240];
  open_subject(&s, "pillar-indexer-deaf", 8);
  const size_t j = tw_study_output(s.study, TW_M_trip_force_side);
  assert_int_equal(tw_study_why(s.study, s.study->now, j, why, sizeof why, NULL), TW_OK);
  assert_non_null(strstr(why, "does not trip"));
  const size_t fine = tw_study_output(s.study, TW_M_seating_regime);
  assert_int_equal(tw_study_why(s.study, s.study->now, fine, why, sizeof why, NULL), TW_OK);
  assert_string_equal(why, "");
  tw_builds *b = run(&s, 3);
  b->outcome[1 * b->outputs + j] = b->outcome[2 * b->outputs + j] = TW_OUTCOME_NO_ANSWER;
  assert_int_equal(tw_run_spread_document(s.study, s.sampler, b, &document, NULL), TW_OK);
  const json_t *list = json_object_get(document, "unanswered");
  assert_int_equal(json_array_size(list), 1);
  const json_t *one = json_array_get(list, 0);
  assert_string_equal(json_string_value(json_object_get(one, "measure")), "trip_force_side");
  assert_int_equal(json_integer_value(json_object_get(one, "builds")), 2);
  assert_int_equal(json_integer_value(json_object_get(one, "build")), 1);
  assert_non_null(strstr(json_string_value(json_object_get(one, "text")), "does not trip"));
  json_decref(document);
  tw_builds_free(b);
  close_subject(&s);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(worst_of_eight_against_worst_of_24),
      cmocka_unit_test(nothing_is_finer_than_24),
      cmocka_unit_test(what_has_no_answer_is_told_with_its_reason),
      cmocka_unit_test(the_engine_tells_it_of_the_fast_level_too),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
