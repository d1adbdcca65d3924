/* Static sign and sign in time: over kinds of circuit, networks, polarities, poling and the side on
 * which the disc is pushed, a touch that trips in the static figures trips in time at a brisk feed,
 * and one that does not trip there does not in time either. A disc of known poling trips with one
 * of the two polarities and with `both`, and with the other one the warning names the field. */
#include "design_fixture.h"

#include "tripwright/assess.h"
#include "tripwright/probe.h"

#include <stdio.h>

#define STAGE                                                                                      \
  "stage_class: amplifier\n  stage_drive: push_pull\n  stage_offset: 0 mV\n"                       \
  "  stage_bias_current: 0 nA\n  stage_low: 10 mV\n  stage_high: 10 mV\n"                          \
  "  stage_bandwidth: 1 MHz\n  stage_slew: 0.6 V/us"

static const char *const kinds[] = {
    "  kind: comparator\n  bias_resistance: 10 Mohm\n",
    "  kind: gain\n  bias_resistance: 10 Mohm\n  gain: 3\n",
    "  kind: charge\n  charge_capacitance: 22 nF\n  charge_resistance: 10 Mohm\n",
};
static const char *const networks[] = {"inverting", "non_inverting"};
static const char *const polarities[] = {"rising", "falling", "both"};
static const char *const polings[] = {"plus", "minus", "unknown"};
static const char *const faces[] = {"metal", "ceramic"};

static tw_design *made(int kind, int network, int polarity, int poling, int face)
{
  char text[3000];
  /* 2.5 V at rest; the threshold 0.15 V to the side that is seen. What feeds a non-inverting node
   * back would hold it tripped with less than 0.33 Gohm: 5 V through it into 10 Mohm. */
  const char *reference = polarity == 1 ? "2.35 V" : "2.65 V";
  snprintf(text, sizeof text,
           "design: a\n"
           "disc: {part: brass_20_6k3, contact_face: %s, poling: %s}\n"
           "support: {kind: rim, void_depth: 400 um}\n"
           "seat: {kind: bonded, bond_radius: 1.5 mm, carrier_mass: 1 g}\n"
           "stylus: {reach: 20 mm, stem: carbide, stem_diameter: 1 mm, ball_diameter: 2 mm}\n"
           "machine: {feed: 200 mm/min}\n"
           "circuit:\n%s"
           "  supply: 5 V +- 0 %%\n  amplifier: comparator_cmos_pp\n  %s\n"
           "  schmitt: %s\n  polarity: %s\n  bias_voltage: 2.5 V\n  reference: %s\n"
           "  reference_resistance: 1 kohm\n  feedback_resistance: %s\n  input_resistance: 1 kohm\n"
           "  clamp: rails\n  series_resistance: 10 kohm\n",
           faces[face], polings[poling], kinds[kind], kind ? STAGE : "", networks[network],
           polarities[polarity], reference, network && kind == 0 ? "1 Gohm" : "1 Mohm");
  return good_design(text, TW_NEED_ALL);
}

static bool trips_in_time(const tw_design *d, const tw_probe *probe, tw_seat_work *work)
{
  static tw_probe_touch touch;
  tw_fault fault = {0};
  if (tw_probe_touch_of(d, probe, work, 0, acos(-1.0) / 2, &touch, &fault) != TW_OK) {
    return false;
  }
  tw_touch_motion go;
  assert_int_equal(tw_probe_motion(d, probe, 200.0 / 60e3, &go, &fault), TW_OK);
  go.until = TW_UNTIL_EDGE;
  tw_touch_work *w = tw_touch_work_new();
  tw_touch_result r;
  assert_int_equal(tw_touch_run(&touch.model, &go, w, NULL, &r, &fault), TW_OK);
  tw_touch_work_free(w);
  return r.first.state == TW_TOUCH_OK;
}

static bool warns_of_sign(const tw_design *d)
{
  tw_assess_options options = tw_assess_defaults();
  options.contributions = options.map = options.timed = false;
  tw_assessment *a = tw_alloc(1, sizeof *a);
  tw_fault fault = {0};
  assert_int_equal(tw_assess(d, &options, a, &fault), TW_OK);
  bool said = false;
  for (int i = 0; i < a->warnings; i++) {
    said |= strstr(a->warning[i].text, "wrong sign") != NULL;
  }
  tw_free(a);
  return said;
}

/* does it trip, static and in time alike? */
static bool one(int kind, int network, int polarity, int poling, int face)
{
  tw_design *d = made(kind, network, polarity, poling, face);
  tw_probe *probe = NULL;
  tw_fault fault = {0};
  if (tw_probe_new(d, &probe, &fault) != TW_OK || probe->trouble.status != TW_OK) {
    print_error("%s: %s\n", fault.field, probe ? probe->trouble.text : fault.text);
    fail();
  }
  tw_seat_work *work = tw_seat_work_new(probe->seat);
  tw_seat_touch_result touch;
  assert_int_equal(
      tw_seat_touch(probe->seat, work, 0, acos(-1.0) / 2, &probe->touch, &touch, &fault), TW_OK);
  const bool rests = touch.state == TW_SEAT_TRIPPED;
  const bool moves = trips_in_time(d, probe, work);
  if (rests != moves) {
    print_error("%s%s %s %s %s: static %d, in time %d\n", kinds[kind], networks[network],
                polarities[polarity], polings[poling], faces[face], rests, moves);
    fail();
  }
  tw_seat_work_free(work);
  tw_probe_free(probe);
  /* the sentence stands exactly where the sign is to blame */
  if (warns_of_sign(d) == rests) {
    print_error("%s%s %s %s %s: trips %d\n", kinds[kind], networks[network], polarities[polarity],
                polings[poling], faces[face], rests);
    fail();
  }
  tw_design_free(d);
  return rests;
}

static void test_signs(void **state)
{
  (void)state;
  for (int kind = 0; kind < 3; kind++) {
    for (int network = 0; network < 2; network++) {
      for (int poling = 0; poling < 3; poling++) {
        for (int face = 0; face < 2; face++) {
          const bool window = !(network == 1 && kind == 0); /* refused: it would pull two ways */
          const bool up = one(kind, network, 0, poling, face);
          const bool down = one(kind, network, 1, poling, face);
          const bool both = window ? one(kind, network, 2, poling, face) : true;
          assert_true(both);
          assert_true(poling == 2 ? up && down : up != down);
        }
      }
    }
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_signs)};
  return cmocka_run_group_tests(tests, open_all, close_all);
}
