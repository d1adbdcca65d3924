/* What a process of the shop file does to the sizes that are drawn for a batch. */
#include "design_fixture.h"
#include "design_texts.h"
#include "tripwright/study_design.h"

/* a probe whose carrier is turned and whose support is printed; the hollow states a tolerance, the
 * ball's radius and the ledge state none, the reach belongs to a part without a process */
static const char probe[] =
    "disc: {metal_diameter: 20 mm, metal_thickness: 0.3 mm, ceramic_diameter: 14 mm,\n"
    "       ceramic_thickness: 0.3 mm, contact_face: ceramic}\n"
    "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 60 um +20 um/-0}\n" TEXT_PIVOT_REST
    "housing: {length: 50 mm}\n"
    "parts: {carrier: {process: turn}, support: {process: print}}\n"
    "processes:\n"
    "  turn: {offset_xy: 20 um ± 10 um uniform}\n"
    "  print: {offset_xy: 100 um, offset_hole: -200 um ± 80 um, offset_z: 5 um ± 50 um}\n";

static void a_process_counts_for_its_parts_and_kinds(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  const tw_process *process = NULL;
  tw_quantity made;
  /* a radius takes half of what the whole size takes */
  assert_true(tw_design_making(d, TW_F_seat_ball_radius, &process, &made));
  assert_string_equal(process->name, "turn");
  assert_near(made.number, 10e-6, 1e-15);
  assert_near(made.tolerance.plus, 5e-6, 1e-15);
  assert_int_equal(made.tolerance.spread, TW_SPREAD_UNIFORM);
  assert_true(tw_design_making(d, TW_F_support_ledge_radius, &process, &made));
  assert_near(made.number, -100e-6, 1e-15);
  assert_true(tw_design_making(d, TW_F_support_void_depth, &process, &made));
  assert_near(made.number, 5e-6, 1e-15);
  /* the housing's process is named by housing.process, print unless stated */
  assert_true(tw_design_making(d, TW_F_housing_length, &process, &made));
  assert_string_equal(process->name, "print");
  /* turning states nothing about heights; the stylus is bought; nobody drew the opening; a
   * resistor is no length; without the key nothing is guessed from the outer sizes */
  assert_false(tw_design_making(d, TW_F_seat_flat_height, &process, &made));
  assert_false(tw_design_making(d, TW_F_stylus_reach, &process, &made));
  assert_false(tw_design_making(d, TW_F_housing_opening_diameter, &process, &made));
  assert_false(tw_design_making(d, TW_F_circuit_bias_upper, &process, &made));
  tw_design_free(d);
}

static const tw_study_input *input_of(const tw_study *study, tw_field field)
{
  for (size_t k = 0; k < study->inputs; k++) {
    if (study->input[k].field == field) {
      return &study->input[k];
    }
  }
  fail_msg("%s does not vary", tw_field_of(field)->path);
  return NULL;
}

/* mean and standard deviation of an input over the first builds of seed 1 */
static void moments_of(const tw_study *study, tw_field field, double *mean, double *deviation)
{
  const size_t k = (size_t)(input_of(study, field) - study->input), n = 4000;
  tw_sampler *sampler = NULL;
  double x[TW_FIELD_COUNT], square = 0;
  assert_int_equal(tw_study_sampler(study, NULL, 0, 1, &sampler, NULL), TW_OK);
  *mean = 0;
  for (size_t i = 0; i < n; i++) {
    tw_sampler_draw(sampler, i, x);
    const double step = x[k] - *mean;
    *mean += step / (double)(i + 1);
    square += step * (x[k] - *mean);
  }
  *deviation = sqrt(square / (double)(n - 1));
  tw_sampler_free(sampler);
}

static void drawn_sizes_have_the_offset_and_the_spread(void **state)
{
  (void)state;
  tw_design *d = good_design(probe, TW_NEED_ALL);
  const tw_study_level level = {.threads = 1};
  tw_study *study = NULL;
  double mean, deviation;
  assert_int_equal(tw_study_new(d, units, NULL, &level, &study, NULL), TW_OK);
  assert_int_equal(tw_study_add_toleranced(study, NULL), TW_OK);
  /* uniform 3.51 mm ± 5 um of the process: 5/sqrt(3) = 2.887 um; the mean of 4000 is within 4 of
   * its standard errors */
  const tw_study_input *ball = input_of(study, TW_F_seat_ball_radius);
  assert_true(ball->process_spread);
  assert_near(ball->now, 3.5e-3, 1e-15);
  moments_of(study, TW_F_seat_ball_radius, &mean, &deviation);
  assert_near(mean, 3.51e-3, 4 * 2.887e-6 / sqrt(4000));
  assert_rel(deviation, 2.887e-6, 0.05);
  /* the stated tolerance stays: 60 .. 80 um is normal about 70 with deviation 5, and 5 deeper */
  const tw_study_input *hollow = input_of(study, TW_F_support_void_depth);
  assert_false(hollow->process_spread);
  moments_of(study, TW_F_support_void_depth, &mean, &deviation);
  assert_near(mean, 75e-6, 4 * 5e-6 / sqrt(4000));
  assert_rel(deviation, 5e-6, 0.05);
  /* normal -100 um ± 40 um on a radius */
  moments_of(study, TW_F_support_ledge_radius, &mean, &deviation);
  assert_near(mean, 9.2e-3, 4 * 20e-6 / sqrt(4000));
  assert_rel(deviation, 20e-6, 0.05);
  tw_study_free(study);
  tw_design_free(d);
}

/* every length is sorted in, or is one of those that no single piece makes to a size */
static void every_length_has_a_kind(void **state)
{
  (void)state;
  static const char *const none[] = {
      "disc.bond_thickness",    "disc.silver_thickness", "disc.ceramic_eccentricity",
      "housing.screw_height",   "housing.travel_side",   "housing.travel_axial",
      "board.component_height", "link.cable_length",     "preload.interference",
      "preload.travel",         "holddown.height",       "holddown.play",
      "seat.flatness",          "seat.eccentricity",     "seat.edge_radius",
      "seat.carrier_height",    "housing.tip_offset"};
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    const tw_dimension d = tw_field_dimension((tw_field)i);
    bool left_out = false;
    for (size_t k = 0; k < sizeof none / sizeof none[0]; k++) {
      left_out |= strcmp(info->path, none[k]) == 0;
    }
    if (info->tolerance == TW_TOLERANCE_LENGTH && (d.way == TW_WAY_NONE) != left_out) {
      fail_msg("%s: which kind of dimension is it?", info->path);
    }
    if (d.way != TW_WAY_NONE) {
      assert_int_equal(info->tolerance, TW_TOLERANCE_LENGTH);
      const bool radius = strstr(info->path, "radius") != NULL;
      assert_near(d.share, radius ? 0.5 : 1, 0);
    }
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_process_counts_for_its_parts_and_kinds),
      cmocka_unit_test(drawn_sizes_have_the_offset_and_the_spread),
      cmocka_unit_test(every_length_has_a_kind),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
