/* Which screws and trimmers a design has, how far they go, and what they win back of a batch. */
#include "design_fixture.h"
#include "tripwright/study_design.h"

#include <stdio.h>
#include <stdlib.h>

/* a pivot probe without preload and circuit: those differ from test to test */
#define BODY                                                                                       \
  "disc: {metal_diameter: 20 mm, metal_thickness: 0.3 mm, ceramic_diameter: 14 mm,\n"              \
  "       ceramic_thickness: 0.3 mm, contact_face: ceramic}\n"                                     \
  "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 60 um}\n"                              \
  "seat: {kind: pivot, ball_radius: 3.5 mm, flat_radius: 3 mm, flat_height: 0 mm, friction: "      \
  "0.1}\n"                                                                                         \
  "stylus: {reach: 32 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"                           \
  "output: {kind: open_collector}\n"                                                               \
  "requirements: {tip_runout: \"<= 20 um\", trip_force_side: \"<= 0.1 N\"}\n"
#define CIRCUIT                                                                                    \
  "circuit: {kind: comparator, supply: 3.3 V, amplifier: comparator_micropower_oc,\n"              \
  "          bias_resistance: 1M0, bias_upper: 47k, bias_lower: 15k, reference_upper: 39k,\n"      \
  "          reference_lower: 15k, feedback_resistance: 1M0"

typedef struct subject {
  tw_design *design;
  tw_limits limits;
  tw_study *study;
  tw_adjustment list[TW_STUDY_ADJUSTMENTS];
  size_t count;
} subject;

static void open_subject(subject *s, const char *more)
{
  char text[3000];
  snprintf(text, sizeof text, "%s%s", BODY, more);
  memset(s, 0, sizeof *s);
  s->design = good_design(text, TW_NEED_ALL);
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_limits_read(s->design, units, messages, &s->limits), TW_OK);
  tw_messages_free(messages);
  /* only what the requirements ask for */
  tw_measure_set wanted = {0};
  wanted.has[TW_M_tip_runout] = wanted.has[TW_M_trip_force_side] = true;
  const tw_study_level level = {.threads = 2, .wanted = &wanted};
  tw_fault fault = {0};
  if (tw_study_new(s->design, units, &s->limits, &level, &s->study, &fault) != TW_OK) {
    fail_msg("%s", fault.text);
  }
  assert_int_equal(tw_study_add_toleranced(s->study, NULL), TW_OK);
  assert_int_equal(tw_study_adjustments(s->study, s->list, &s->count, NULL), TW_OK);
}

static void close_subject(subject *s)
{
  tw_study_free(s->study);
  tw_design_free(s->design);
}

static void is_adjustment(const subject *s, size_t k, tw_field field, double down, double up,
                          double step)
{
  assert_true(k < s->count);
  assert_int_equal(s->study->input[s->list[k].input].field, field);
  assert_rel(s->list[k].down, down, 1e-12);
  assert_near(s->list[k].up, up, 1e-12 * down);
  assert_rel(s->list[k].step, step, 1e-12);
}

static void without_screws_there_is_nothing_to_turn(void **state)
{
  (void)state;
  subject s;
  open_subject(&s, "preload: {force: 0.8 N}\n" CIRCUIT "}\n");
  assert_int_equal(s.count, 0);
  close_subject(&s);
}

static void each_adjustment_has_its_range(void **state)
{
  (void)state;
  subject s;
  /* one turn of 0.5 mm in steps of five degrees; a trimmer of 2k half of it either way in
   * hundredths; a radial screw of 0.4 mm pitch brings the tip in by its own travel */
  open_subject(&s, "preload: {kind: spring, spring_rate: 0.4 N/mm, travel: 2 mm, screw_pitch: 0.5 "
                   "mm}\n"
                   "housing: {tip_offset: 0.1 mm ± 0.1 uniform, screw_pitch: 0.4 mm}\n" CIRCUIT
                   ", trimmer: 2k}\n");
  assert_int_equal(s.count, 3);
  is_adjustment(&s, 0, TW_F_preload_travel, 0.5e-3, 0.5e-3, 0.5e-3 / 72);
  is_adjustment(&s, 1, TW_F_circuit_reference_lower, 1000, 1000, 20);
  is_adjustment(&s, 2, TW_F_housing_tip_offset, 0.4e-3, 0, 0.4e-3 / 72);
  assert_rel(s.list[2].least, 0.2e-3 / 72, 1e-12); /* half a step stays */
  close_subject(&s);
  /* an axial screw tips the probe: drop over radius; a force without a known spring goes by half */
  open_subject(&s,
               "preload: {force: 0.8 N, screw_pitch: 0.5 mm}\n"
               "housing: {tip_offset: 0.1 mm ± 0.1 uniform, screws: axial, screw_pitch: 0.5 mm, "
               "screw_radius: 12 mm, screw_height: 85 mm}\n" CIRCUIT "}\n");
  assert_int_equal(s.count, 2);
  is_adjustment(&s, 0, TW_F_preload_force, 0.4, 0.4, 0.04);
  is_adjustment(&s, 1, TW_F_housing_tip_offset, 0.5e-3 * 85 / 12, 0, 0.5e-3 * 85 / 12 / 72);
  close_subject(&s);
}

/* Tramming: an offset of 0 .. 0.2 mm runs out by 0 .. 0.4 mm, of which a twentieth is within 20 um;
 * a turn of a radial screw brings every tip home to half a step: 2 x 3.5 um. Axial screws in steps
 * of 49 um leave +-25 um: 49 um of runout, so that only those within 20 um as built are good. */
static void tramming_wins_back_what_the_screws_resolve(void **state)
{
  (void)state;
  static const char *const screws[2] = {
      "housing: {tip_offset: 0.1 mm ± 0.1 uniform, screw_pitch: 0.5 mm}\n",
      "housing: {tip_offset: 0.1 mm ± 0.1 uniform, screws: axial, screw_pitch: 0.5 mm,\n"
      "          screw_radius: 12 mm, screw_height: 85 mm}\n"};
  for (int k = 0; k < 2; k++) {
    char more[2000];
    subject s;
    tw_sampler *sampler = NULL;
    tw_builds *builds = NULL;
    tw_winback w;
    snprintf(more, sizeof more, "preload: {force: 0.8 N}\n%s%s}\n", screws[k], CIRCUIT);
    open_subject(&s, more);
    assert_int_equal(tw_study_sampler(s.study, NULL, 0, 1, &sampler, NULL), TW_OK);
    assert_int_equal(tw_builds_new(0, 80, s.study->outputs, &builds, NULL), TW_OK);
    const tw_study_model model = tw_study_as_model(s.study);
    assert_int_equal(tw_spread_run(&model, sampler, builds, NULL, NULL, NULL), TW_OK);
    /* tip_runout alone */
    const tw_goal *goal = s.study->goal;
    for (size_t g = 0; g < s.study->goals; g++) {
      goal = strcmp(s.study->goal[g].name, "tip_runout") == 0 ? &s.study->goal[g] : goal;
    }
    const tw_winback_batch batch = {&model, sampler, builds, goal, 1, 2};
    assert_int_equal(tw_winback_adjust(&batch, &s.list[0], 1, NULL, &w, NULL), TW_OK);
    assert_true(w.before >= 1 && w.before <= 12);
    if (k == 0) {
      assert_int_equal(w.good, 80);
      assert_true(w.lowest >= -0.2e-3);
    } else {
      /* a whole number of steps may by chance end within 10 um of the axis: a fifth does */
      assert_true(w.good < 40);
    }
    tw_builds_free(builds);
    tw_sampler_free(sampler);
    close_subject(&s);
  }
}

static void discs_and_resistors_are_told_apart(void **state)
{
  (void)state;
  subject s;
  bool disc[TW_FIELD_COUNT], resistors[TW_FIELD_COUNT];
  open_subject(&s, "preload: {force: 0.8 N ± 0.1}\n" CIRCUIT "}\n");
  assert_true(tw_study_pairs(s.study, disc, resistors));
  for (size_t k = 0; k < s.study->inputs; k++) {
    const char *path = s.study->input[k].path;
    assert_int_equal(disc[k], strncmp(path, "disc.", 5) == 0);
    assert_true(resistors[k] == (strstr(path, "_upper") || strstr(path, "_lower") ||
                                 strstr(path, "resistance") || strstr(path, "pull_up")) ||
                !tw_varied_varies(&s.study->input[k].law) || strstr(path, "leakage") ||
                strstr(path, "supply"));
  }
  close_subject(&s);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(without_screws_there_is_nothing_to_turn),
      cmocka_unit_test(each_adjustment_has_its_range),
      cmocka_unit_test(tramming_wins_back_what_the_screws_resolve),
      cmocka_unit_test(discs_and_resistors_are_told_apart),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
