/* What the load steps leave in force and travel of a touch, against converged runs: `step_error`
 * bounds it. Designs of all families with sliding contacts, directions from the side and askew. */
#include "design_fixture.h"
#include "random_designs.h"
#include "tripwright/probe.h"

#include <stdlib.h>

#define SEED 20261129 /* any */
/* converged: the limit of two first-order runs with this many steps and half as many */
#define STEPS 512

static const double degree = 3.14159265358979323846 / 180;

static uint64_t designs(void)
{
  const char *prove = getenv("TW_PROVE");
  return prove != NULL && prove[0] == '1' ? 400 : 60;
}

typedef struct tally {
  int touches, exact, moved, beyond;
  double most_error, most_share, most_said;
} tally;

static bool touch(const tw_probe *probe, tw_seat_work *work, double azimuth, double elevation,
                  size_t steps, tw_seat_touch_result *out)
{
  tw_seat_options options = probe->touch;
  options.steps = steps;
  return tw_seat_touch(probe->seat, work, azimuth, elevation, &options, out, NULL) == TW_OK &&
         out->state == TW_SEAT_TRIPPED;
}

static double limit(double half, double whole)
{
  return whole + (whole - half);
}

static void one(const tw_probe *probe, tw_seat_work *work, const random_draw *draw, double azimuth,
                double elevation, tally *t)
{
  tw_seat_touch_result said, half, whole;
  if (!touch(probe, work, azimuth, elevation, 0, &said) ||
      !touch(probe, work, azimuth, elevation, STEPS / 2, &half) ||
      !touch(probe, work, azimuth, elevation, STEPS, &whole)) {
    return;
  }
  const double force = fabs(said.force / limit(half.force, whole.force) - 1);
  const double travel = fabs(said.pretravel / limit(half.pretravel, whole.pretravel) - 1);
  const double error = fmax(force, travel);
  t->touches++;
  t->exact += error < 1e-7;
  t->moved += error >= 1e-7;
  t->most_error = fmax(t->most_error, error);
  t->most_share = fmax(t->most_share, error / said.step_error);
  t->most_said = fmax(t->most_said, said.step_error);
  if (error > said.step_error) {
    t->beyond++;
    random_draw_print(draw);
    print_message("azimuth %.0f elevation %.0f: error %.2e, step_error %.2e\n", azimuth / degree,
                  elevation / degree, error, said.step_error);
  }
}

static void all_directions(const tw_probe *probe, const random_draw *draw, tally *t)
{
  static const double azimuth[] = {0, 20, 50, 90, 135, 220}, elevation[] = {0, 30, 60};
  tw_seat_work *work = tw_seat_work_new(probe->seat);
  for (size_t i = 0; i < sizeof azimuth / sizeof azimuth[0]; i++) {
    const double e = elevation[i % 3];
    one(probe, work, draw, azimuth[i] * degree, e * degree, t);
  }
  tw_seat_work_free(work);
}

static void random_seats(void **state)
{
  (void)state;
  tally t = {0};
  for (uint64_t i = 0; i < designs(); i++) {
    random_draw draw;
    tw_probe *probe = NULL;
    tw_design *design = random_design(units, library, SEED, i, "", &draw);
    assert_non_null(design);
    if (tw_probe_new_to_touch(design, &probe, NULL) == TW_OK && probe->trouble.status == TW_OK) {
      all_directions(probe, &draw, &t);
    }
    tw_probe_free(probe);
    tw_design_free(design);
  }
  print_message(
      "%d touches, %d exact, %d move with the steps; largest error %.2e, largest share of "
      "step_error %.2f; beyond it %d\n",
      t.touches, t.exact, t.moved, t.most_error, t.most_share, t.beyond);
  assert_int_equal(t.beyond, 0);
  /* a bound that says nothing would hold as well */
  assert_true(t.moved > 10 && t.most_share > 0.1);
  /* nor one without limits: it says 0.10 to 0.14 at most in four seeds */
  assert_true(t.most_said <= 0.2);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(random_seats),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
