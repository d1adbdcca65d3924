/* The slowest feed as a bound: over all that a touch may push, in both ways that decide, the same
 * figure as the touch in time has. */
#include "design_fixture.h"
#include "random_designs.h"
#include "tripwright/assess.h"
#include "tripwright/probe.h"

#include <stdlib.h>

#define SEED 20261130 /* any */

static const double degree = 3.14159265358979323846 / 180;

static uint64_t designs(void)
{
  const char *prove = getenv("TW_PROVE");
  return prove != NULL && prove[0] == '1' ? 600 : 40;
}

/* V_T/(R q') with the steepest chord between any two rows of the curve, without the touch's own
 * arithmetic: stem and work in series */
static double by_rows(const tw_probe_touch *touch, const tw_touch_levels *levels)
{
  const tw_touch_model *m = &touch->model;
  const double work = m->support.stiffness, stem = m->tip.stiffness;
  double most = 0;
  for (size_t i = 1; i < m->carrier.table_count; i++) {
    const double charge = touch->charge[i] - touch->charge[i - 1];
    const double force = touch->force[i] - touch->force[i - 1];
    const double machine =
        touch->x[i] - touch->x[i - 1] + force / stem + (work > 0 ? force / work : 0);
    most = fmax(most, (levels->charge < 0 ? -charge : charge) / machine);
  }
  return levels->threshold / (levels->resistance * most);
}

static bool bound_at(const tw_design *design, const tw_probe *probe, double azimuth,
                     double elevation, double *bound)
{
  static tw_probe_touch touch;
  tw_touch_levels levels;
  tw_seat_work *work = tw_seat_work_new(probe->seat);
  const tw_status status = tw_probe_touch_of(design, probe, work, azimuth, elevation, &touch, NULL);
  tw_seat_work_free(work);
  if (status != TW_OK) {
    return false;
  }
  assert_int_equal(tw_touch_levels_of(&touch.model, &levels, NULL), TW_OK);
  *bound = levels.slope_most != 0 ? by_rows(&touch, &levels) : 0;
  /* none: already past the threshold at rest, or a charge of the other sign */
  assert_true(isfinite(*bound));
  assert_true(*bound > 0 || !levels.armed || !levels.reachable);
  return true;
}

static bool one(const tw_design *design, const random_draw *draw)
{
  tw_measure_set wanted = {{0}};
  static tw_assessment a;
  tw_assess_options options = tw_assess_defaults();
  wanted.has[TW_M_slowest_feed_static] = wanted.has[TW_M_pretravel_side] = true;
  options.wanted = &wanted;
  options.map = options.timed = options.contributions = false;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
  const tw_measure *said = &a.measure[TW_M_slowest_feed_static];
  const tw_measure *side = &a.measure[TW_M_pretravel_side];
  if (said->state != TW_MEASURE_OK) {
    return false;
  }
  tw_probe *probe = NULL;
  double axis = 0, sideways = 0;
  assert_int_equal(tw_probe_new_to_touch(design, &probe, NULL), TW_OK);
  assert_true(bound_at(design, probe, 0, 90 * degree, &axis));
  const bool both = side->state == TW_MEASURE_OK &&
                    bound_at(design, probe, side->has_at ? side->at_deg * degree : 0, 0, &sideways);
  /* the softest side as well, where it is another */
  double softest = 0;
  if (both && side->has_least && side->value - side->least > 1e-3 * side->value) {
    assert_true(bound_at(design, probe, side->least_at_deg * degree, 0, &softest));
  }
  const double bound = both ? fmax(fmax(axis, sideways), softest) : axis;
  if (fabs(said->value / bound - 1) > 1e-6) {
    random_draw_print(draw);
    print_message("said %.6g, bound %.6g m/s\n", said->value, bound);
  }
  assert_rel(said->value, bound, 1e-6);
  tw_probe_free(probe);
  return true;
}

static void the_touch_has_the_same_bound(void **state)
{
  (void)state;
  int held = 0;
  for (uint64_t i = 0; i < designs(); i++) {
    random_draw draw;
    tw_design *design = random_design(units, library, SEED, i, "", &draw);
    assert_non_null(design);
    held += one(design, &draw);
    tw_design_free(design);
  }
  print_message("%d bounds\n", held);
  assert_true(held > 15);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_touch_has_the_same_bound),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
