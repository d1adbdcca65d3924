/* The card's weights against the touch in time at the same pace: random pivots; the tip is pushed
 * through a spring much softer than the seat, so that the force rises evenly as a hand lets it on.
 * A weight 5 % above the card's trips within the hand's time, one 5 % below it does not
 * (docs/models/bench.md, weights and hands). */
#include "design_fixture.h"
#include "tripwright/bench_suspect.h"
#include "tripwright/random.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define GRAVITY 9.80665

static double between(tw_random *r, double low, double high)
{
  return low * pow(high / low, tw_random_uniform(r));
}

/* level, on a thread that pulls towards -Y: the posture in which the touch is asked as well */
static tw_design *random_design(tw_random *r)
{
  char text[1600];
  snprintf(text, sizeof text,
           "disc: {part: brass_20_6k3, contact_face: ceramic, poling: plus}\n"
           "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 300 um}\n"
           "seat: {kind: pivot, ball_radius: 4 mm, flat_radius: %.3g mm, flat_height: 0 mm,\n"
           "  socket_angle: 35 deg, friction: %.3g, carrier_mass: %.3g g}\n"
           "preload: {kind: force, force: %.3g N}\n"
           "environment: {orientation: up}\n"
           "stylus: {reach: %.3g mm, stem: carbide, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
           "circuit: {kind: comparator, supply: 3.3 V, amplifier: comparator_micropower_oc,\n"
           "  bias_upper: 100k, bias_lower: 33k, bias_resistance: %.3g Mohm,\n"
           "  reference_upper: 100k, reference_lower: 43k, feedback_resistance: 2M2}\n"
           "output: {kind: open_collector, pull_up: 47k}\n",
           between(r, 2.5, 4.0), between(r, 0.05, 0.2), between(r, 2.0, 8.0), between(r, 0.5, 2.0),
           between(r, 20.0, 60.0), between(r, 1.0, 10.0));
  return good_design(text, TW_NEED_ALL);
}

/* does it trip while the force rises to that of `kg` in `time` s? */
static bool trips(const tw_probe_touch *touch, double kg, double time)
{
  tw_touch_model model = touch->model;
  tw_touch_motion motion = tw_touch_motion_default();
  tw_touch_result result;
  tw_fault fault = {0};
  tw_touch_work *work = tw_touch_work_new();
  const double seat = touch->force[1] / touch->x[1];
  model.contact =
      (tw_touch_contact){.kind = TW_CONTACT_LINEAR, .stiffness = 1e-4 * seat, .damping = 0};
  motion.feed = kg * GRAVITY / model.contact.stiffness / time;
  motion.until = TW_UNTIL_EDGE;
  motion.give_up = 1.2 * time;
  const tw_status status = tw_touch_run(&model, &motion, work, NULL, &result, &fault);
  if (status != TW_OK) {
    fail_msg("%s: %s", fault.field, fault.text);
  }
  tw_touch_work_free(work);
  return result.first.reached >= TW_REACHED_THRESHOLD && result.first.threshold <= 1.02 * time;
}

static void weights_are_those_of_the_touch(void **state)
{
  (void)state;
  const char *prove = getenv("TW_PROVE");
  const int designs = prove && prove[0] == '1' ? 300 : 12;
  const tw_bench_instruments with = tw_bench_instruments_default();
  tw_bench_card *card = tw_alloc(1, sizeof *card);
  int compared = 0;
  for (int i = 0; i < designs; i++) {
    tw_random r;
    tw_random_start(&r, 12, (uint64_t)i);
    tw_design *design = random_design(&r);
    tw_probe *probe = NULL;
    tw_probe_touch *touch = tw_alloc(1, sizeof *touch);
    tw_fault fault = {0};
    assert_int_equal(tw_bench_card_from(design, &with, 1, card, &fault), TW_OK);
    assert_int_equal(tw_probe_new_to_touch(design, &probe, &fault), TW_OK);
    tw_seat_work *work = tw_seat_work_new(probe->seat);
    const tw_bench_check *check = tw_bench_find(card, TW_BENCH_WEIGHT_AXIAL);
    if (check->expect.known &&
        tw_probe_touch_of(design, probe, work, 0.0, acos(-1.0) / 2.0, touch, &fault) == TW_OK) {
      /* the touch's own table is coarse past the trip, where a hand needs it fine */
      tw_seat_touch_result seat;
      assert_int_equal(
          tw_seat_touch(probe->seat, work, 0.0, acos(-1.0) / 2.0, &probe->touch, &seat, &fault),
          TW_OK);
      assert_int_equal(tw_probe_rows(probe->seat, &probe->touch, work, &seat, 4.0, touch, &fault),
                       TW_OK);
      const double kg = check->loads ? check->shown : check->expect.value;
      print_message("%3d: %.2f g at once, %.2f g by hand\n", i, 1e3 * check->expect.value,
                    1e3 * kg);
      assert_true(trips(touch, 1.05 * kg, with.hand_time));
      assert_false(trips(touch, 0.95 * kg, with.hand_time));
      assert_true(check->expect.low < check->expect.value &&
                  check->expect.value < check->expect.high);
      compared++;
    }
    tw_seat_work_free(work);
    tw_probe_free(probe);
    tw_free(touch);
    tw_design_free(design);
  }
  tw_free(card);
  assert_true(compared * 10 >= designs * 9);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(weights_are_those_of_the_touch)};
  return cmocka_run_group_tests_name("weights of the card", tests, open_all, close_all);
}
