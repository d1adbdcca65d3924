/* The holder on its hold-down: its lever sideways, what a soft holder passes on to the disc, and
 * the warnings about stem, holder and dwell at both sides of their limits. */
#include "design_fixture.h"
#include "hold.h"

#include <stdio.h>
#include <stdlib.h>

static tw_design *pillar(const tw_set *sets, size_t count)
{
  const tw_read_options reading = {
      .units = units, .library = library, .need = TW_NEED_ALL, .sets = sets, .set_count = count};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status =
      tw_design_read(TW_SOURCE_DIR "/examples/pillar-indexer.yaml", &reading, messages, &design);
  if (status != TW_OK) {
    print_messages(messages);
  }
  assert_int_equal(status, TW_OK);
  tw_messages_free(messages);
  return design;
}

/* sideways and along the axis; their tables point into themselves */
static tw_hold side, axial;

static void hold_of(const tw_set *sets, size_t count)
{
  tw_design *design = pillar(sets, count);
  assert_int_equal(tw_hold_of(design, true, &side, NULL), TW_OK);
  assert_int_equal(tw_hold_of(design, false, &axial, NULL), TW_OK);
  tw_design_free(design);
}

/* the pillar's holder tips on an edge 13 mm wide, 45 mm above the ball */
static const double lever = 13.0 / 45.0;

static const tw_set spring[] = {{"holddown.kind", "spring"},
                                {"holddown.force", "20 N"},
                                {"holddown.spring_rate", "2 N/mm"},
                                {"holddown.lift_limit", "3 mm"},
                                {"holddown.flexure", "0"}};
enum { SPRING = sizeof spring / sizeof spring[0] };

/* about its edge at b the holder tips: S b = F H, and a travel x at the ball lifts it by x b/H */
static void a_spring_holds_sideways_by_its_lever(void **state)
{
  (void)state;
  hold_of(spring, SPRING);
  assert_near(side.stage.gives_at, 20 * lever, 1e-12);
  assert_near(side.stage.stiffness, 2000 * lever * lever, 1e-12);
  assert_near(side.stage.limit, 3e-3 / lever, 1e-12);
  assert_near(tw_hold_lifts(&side), 20 * lever, 1e-12);
  assert_near(axial.stage.gives_at, 20, 1e-12);
  assert_near(axial.stage.stiffness, 2000, 1e-12);
  assert_near(axial.stage.limit, 3e-3, 1e-12);
}

static void a_measured_table_holds_sideways_by_its_lever(void **state)
{
  (void)state;
  const tw_set sets[] = {{"holddown.kind", "table"},
                         {"holddown.table", "[[0 mm, 0 N], [2 mm, 6 N], [6 mm, 26 N]]"}};
  hold_of(sets, 2);
  const size_t end = axial.stage.count - 1;
  assert_near(side.home, 6, 1e-12);
  assert_near(tw_hold_lifts(&side), 6 * lever, 1e-9);
  assert_near(axial.stage.force[end], 26, 1e-9);
  assert_near(axial.stage.travel[end], 4e-3, 1e-9);
  assert_near(side.stage.force[end], 26 * lever, 1e-9);
  assert_near(side.stage.travel[end], 4e-3 / lever, 1e-9);
}

/* a ring of foam presses evenly at home: the moment about the edge is force times its distance */
static void foam_begins_sideways_at_its_lever(void **state)
{
  (void)state;
  hold_of(NULL, 0);
  assert_near(side.home, axial.home, 1e-12);
  assert_near(tw_hold_lifts(&side), side.home * lever, 1e-9);
}

static double preload_with(const char *flexure)
{
  tw_set sets[SPRING];
  memcpy(sets, spring, sizeof sets);
  sets[SPRING - 1] = (tw_set){"holddown.flexure", flexure};
  tw_design *design = pillar(sets, SPRING);
  tw_probe *probe = NULL;
  assert_int_equal(tw_probe_new(design, &probe, NULL), TW_OK);
  const double force = probe->seat_spec.force;
  tw_probe_free(probe);
  tw_design_free(design);
  return force;
}

static void a_soft_holder_passes_its_share_on(void **state)
{
  (void)state;
  assert_near(preload_with("0"), 0.8, 1e-12);
  assert_near(preload_with("0.1"), 0.8 + 0.1 * 20, 1e-12);
}

/* ---- warnings -------------------------------------------------------------------------------- */

/* how many warnings about a field the pillar has when `value` is put there, and `also` elsewhere */
static int warnings_about(const char *field, const tw_set *sets, size_t count, tw_assessment *out)
{
  tw_design *design = pillar(sets, count);
  tw_assess_options options = tw_assess_defaults();
  options.azimuths = 8;
  options.map = options.contributions = false;
  assert_int_equal(tw_assess(design, &options, out, NULL), TW_OK);
  tw_design_free(design);
  int found = 0;
  for (int i = 0; i < out->warnings; i++) {
    found += strcmp(out->warning[i].field, field) == 0;
  }
  return found;
}

static void a_thin_stem_is_warned_of(void **state)
{
  (void)state;
  static tw_assessment thin, thick;
  const tw_set sets[] = {{"stylus.thread", "none"}, {"stylus.stem_diameter", "0.8 mm"}};
  assert_int_equal(warnings_about("stylus.stem_diameter", sets, 2, &thin), 1);
  assert_true(thin.measure[TW_M_stem_stress_ratio].value > 0.7);
  assert_true(thin.measure[TW_M_stem_stress_ratio].value < 1);
  assert_int_equal(warnings_about("stylus.stem_diameter", NULL, 0, &thick), 0);
  assert_true(thick.measure[TW_M_stem_stress_ratio].value < 0.7);
}

/* 2.61 N of hold-down: mass times acceleration above half of it may lift the holder */
static void a_heavy_holder_is_warned_of(void **state)
{
  (void)state;
  static tw_assessment a;
  const tw_set heavy[] = {{"holddown.mass", "2 kg"}, {"machine.acceleration", "1 m/s^2"}},
               light[] = {{"holddown.mass", "0.5 kg"}, {"machine.acceleration", "1 m/s^2"}};
  assert_int_equal(warnings_about("holddown.kind", heavy, 2, &a), 1);
  assert_int_equal(warnings_about("holddown.kind", light, 2, &a), 0);
}

static void a_long_dwell_is_warned_of(void **state)
{
  (void)state;
  static tw_assessment a;
  const tw_set none[] = {{"machine.dwell", "0 ms"}};
  assert_int_equal(warnings_about("machine.dwell", none, 1, &a), 0);
  const double hold = a.measure[TW_M_output_hold_time].value;
  char over[40], under[40];
  snprintf(over, sizeof over, "%.6g ms", 1.1e3 * hold);
  snprintf(under, sizeof under, "%.6g ms", 0.9e3 * hold);
  const tw_set longer[] = {{"machine.dwell", over}}, shorter[] = {{"machine.dwell", under}};
  assert_int_equal(warnings_about("machine.dwell", longer, 1, &a), 1);
  assert_int_equal(warnings_about("machine.dwell", shorter, 1, &a), 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_spring_holds_sideways_by_its_lever),
      cmocka_unit_test(a_measured_table_holds_sideways_by_its_lever),
      cmocka_unit_test(foam_begins_sideways_at_its_lever),
      cmocka_unit_test(a_soft_holder_passes_its_share_on),
      cmocka_unit_test(a_thin_stem_is_warned_of),
      cmocka_unit_test(a_heavy_holder_is_warned_of),
      cmocka_unit_test(a_long_dwell_is_warned_of),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
