/* The course of a crash: its figures are those of the measures, its rows add up, its curve holds
 * the energies, and stages and members stand where springs in series put them by hand. */
#include "design_fixture.h"
#include "tripwright/assess_crash.h"
#include "tripwright/probe.h"

#include <stdio.h>

static tw_course course[2];
static tw_assessment told;

static tw_assess_options quick(void)
{
  tw_assess_options options = tw_assess_defaults();
  options.map = options.timed = options.contributions = false;
  return options;
}

static void tell(const tw_design *design)
{
  const tw_assess_options options = quick();
  tw_fault fault = {0};
  assert_int_equal(tw_crash_of(design, &options, &told, course, &fault), TW_OK);
  for (int w = 0; w < 2; w++) {
    assert_true(course[w].known);
    assert_true(course[w].stages >= 2 && course[w].rows >= 2 && course[w].members >= 1);
  }
}

static const char *const examples[] = {"pillar-indexer", "gearbox-tripod", "edge-bonded",
                                       "plate-sizer", "top-face-gate"};
enum { EXAMPLES = sizeof examples / sizeof examples[0] };

/* ---- the measures ---------------------------------------------------------------------------- */

static double ratio_of(const char *name)
{
  double most = 0;
  for (int w = 0; w < 2; w++) {
    for (size_t i = 0; i < course[w].members; i++) {
      const tw_course_member *m = &course[w].member[i];
      most = strcmp(m->name, name) == 0 ? fmax(most, m->ratio) : most;
    }
  }
  return most;
}

/* what fails at the least travel of both directions */
static const char *first_of_both(void)
{
  const char *first = "nothing";
  double at = INFINITY;
  for (int w = 0; w < 2; w++) {
    const tw_course_member *m = &course[w].member[course[w].first];
    if (course[w].fails && m->fail_travel < at) {
      at = m->fail_travel;
      first = m->name;
    }
  }
  return first;
}

static void the_figures_are_those_of_the_measures(void **state)
{
  (void)state;
  for (int e = 0; e < EXAMPLES; e++) {
    tw_design *design = example_changed(examples[e], NULL);
    tell(design);
    const tw_measure *m = told.measure;
    assert_near(fmax(course[0].crash_force, course[1].crash_force), m[TW_M_crash_force].value, 0);
    assert_string_equal(first_of_both(), m[TW_M_first_to_fail].word);
    assert_near(fmax(ratio_of("stem"), ratio_of("thread")), m[TW_M_stem_stress_ratio].value, 0);
    if (m[TW_M_ceramic_stress_ratio].state == TW_MEASURE_OK) {
      assert_near(ratio_of("ceramic"), m[TW_M_ceramic_stress_ratio].value, 0);
    }
    if (m[TW_M_trip_force_side].state == TW_MEASURE_OK) {
      assert_near(course[0].trip, m[TW_M_trip_force_side].value, 0);
    }
    /* telling changes nothing */
    const tw_assess_options options = quick();
    static tw_assessment plain;
    tw_fault fault = {0};
    assert_int_equal(tw_assess(design, &options, &plain, &fault), TW_OK);
    for (int i = 0; i < TW_MEASURE_COUNT; i++) {
      assert_memory_equal(&plain.measure[i].value, &m[i].value, sizeof(double));
    }
    tw_design_free(design);
  }
}

/* ---- the rows -------------------------------------------------------------------------------- */

static void check_rows(const tw_course *c)
{
  for (size_t n = 0; n < c->rows; n++) {
    double sum = 0;
    for (size_t s = 0; s < c->stages; s++) {
      sum += c->row_stage[s][n];
      assert_true(n == 0 || c->row_stage[s][n] >= c->row_stage[s][n - 1]);
    }
    assert_rel(sum, c->row_travel[n], 1e-12);
    assert_true(n == 0 || (c->row_force[n] > c->row_force[n - 1] &&
                           c->row_travel[n] >= c->row_travel[n - 1]));
  }
  assert_near(c->row_force[0], 0, 0);
  assert_true(c->rows < TW_COURSE_ROWS); /* nothing was cut off */
}

/* a member's ratio is 1 at the force that the table names, between the rows around it */
static void check_failures(const tw_course *c)
{
  for (size_t i = 0; i < c->members; i++) {
    const tw_course_member *m = &c->member[i];
    for (size_t n = 1; n < c->rows; n++) {
      if (m->can_fail && c->row_force[n] == m->fail_force) {
        assert_rel(c->row_ratio[i][n], 1, 1e-9); /* the curve has a corner there */
      } else if (m->can_fail && c->row_force[n] > m->fail_force * (1 + 1e-9)) {
        assert_true(c->row_ratio[i][n] > 1);
      } else if (m->can_fail && c->row_force[n] < m->fail_force * (1 - 1e-9)) {
        assert_true(c->row_ratio[i][n] < 1);
      }
    }
    assert_rel(m->ratio, m->stress / m->allowable, 1e-12);
  }
}

static void the_rows_add_up_and_cross_one_where_the_member_fails(void **state)
{
  (void)state;
  for (int e = 0; e < EXAMPLES; e++) {
    tw_design *design = example_changed(examples[e], NULL);
    tell(design);
    for (int w = 0; w < 2; w++) {
      check_rows(&course[w]);
      check_failures(&course[w]);
    }
    tw_design_free(design);
  }
}

/* integral of the force over a stage's own travel along the curve, by trapezia */
static double energy_under(const tw_course *c, size_t stage)
{
  double sum = 0;
  for (size_t n = 1; n < c->rows; n++) {
    sum += 0.5 * (c->row_force[n] + c->row_force[n - 1]) *
           (c->row_stage[stage][n] - c->row_stage[stage][n - 1]);
  }
  return sum;
}

static void the_area_under_the_curve_is_the_energy(void **state)
{
  (void)state;
  tw_design *design = example_changed("pillar-indexer", NULL);
  tell(design);
  for (int w = 0; w < 2; w++) {
    const tw_course *c = &course[w];
    assert_false(c->fails);
    assert_rel(c->row_travel[c->rows - 1], c->travel, 1e-9);
    double all = 0;
    for (size_t s = 0; s < c->stages; s++) {
      assert_rel(energy_under(c, s), c->stage[s].energy, 3e-3);
      all += c->stage[s].energy;
    }
    assert_rel(all, c->energy, 1e-12);
  }
  tw_design_free(design);
}

/* ---- by hand --------------------------------------------------------------------------------- */

/* glued foot along the axis: stem and disc are two springs in series until the void is used up */
static void two_springs_in_series_by_hand(void **state)
{
  (void)state;
  tw_design *design = example_changed("edge-bonded", NULL);
  tell(design);
  tw_probe *probe = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_probe_new(design, &probe, &fault), TW_OK);
  const tw_course *c = &course[1];
  const double stem = probe->stylus.axial_stiffness,
               disc = probe->disc_measures.stiffness_open.value, gap = probe->rest.clearance;
  assert_near(c->stage[1].gives_at, 0, 1e-9);
  assert_int_equal(c->first_stage, c->stages); /* nothing holds at first */
  assert_true(c->stage[1].has_stop);
  assert_rel(c->stage[1].limit, gap, 1e-12);
  assert_rel(c->stage[1].stop_force, disc * gap, 1e-9);
  assert_rel(c->stage[1].stop_travel, gap + disc * gap / stem, 1e-9);
  assert_true(c->fails);
  const tw_course_member *ceramic = &c->member[c->first];
  assert_string_equal(ceramic->name, "ceramic");
  assert_rel(ceramic->fail_travel, ceramic->fail_force * (1 / stem + 1 / disc), 1e-9);
  assert_near(c->crash_force, ceramic->fail_force, 0);
  /* the stop takes what comes after the void: the disc carries no more than that */
  assert_rel(ceramic->load, disc * gap, 1e-9);
  tw_probe_free(probe);
  tw_design_free(design);
}

static void the_holder_gives_before_the_disc_and_the_order_is_told(void **state)
{
  (void)state;
  tw_design *design = example_changed("pillar-indexer", NULL);
  tell(design);
  const tw_course *c = &course[1];
  assert_int_equal(c->stages, 3);
  assert_string_equal(c->stage[2].name, "holder on its hold-down");
  assert_int_equal(c->first_stage, 1); /* the seat under its preload */
  assert_true(c->stage[2].gives_at > c->stage[1].gives_at);
  assert_string_equal(c->mark[0].name, "the trip");
  assert_string_equal(c->mark[1].name, "the holder lifts");
  assert_near(c->mark[1].force, c->stage[2].gives_at, 0);
  for (size_t i = 0; i < c->marks; i++) {
    assert_false(c->mark[i].late);
  }
  tw_design_free(design);
}

/* a comparator that is tripped at rest has no touch, so no crash is computed: it says why */
static void what_has_no_answer_says_why(void **state)
{
  (void)state;
  tw_design *design = example_changed("pillar-indexer", NULL);
  tw_design_put(design, TW_F_preload_force, 40);
  tw_design_put(design, TW_F_housing_stop_stiffness, 0);
  const tw_assess_options options = quick();
  tw_fault fault = {0};
  assert_int_equal(tw_crash_of(design, &options, &told, course, &fault), TW_OK);
  for (int w = 0; w < 2; w++) {
    assert_false(course[w].known);
    assert_true(strlen(course[w].why) > 10);
    assert_true(strlen(course[w].name) > 0);
  }
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_figures_are_those_of_the_measures),
      cmocka_unit_test(the_rows_add_up_and_cross_one_where_the_member_fails),
      cmocka_unit_test(the_area_under_the_curve_is_the_energy),
      cmocka_unit_test(two_springs_in_series_by_hand),
      cmocka_unit_test(the_holder_gives_before_the_disc_and_the_order_is_told),
      cmocka_unit_test(what_has_no_answer_says_why),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
