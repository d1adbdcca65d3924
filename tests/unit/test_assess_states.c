/* What keeps a probe from being touched is a state with a name: tripped at rest, stuck, does not
 * re-arm. Requirements that need a touch are not met then, and what was left out is never met. */
#include "design_fixture.h"
#include "tripwright/probe.h"

#include <stdio.h>

static tw_assessment a;

/* assessed at 8 azimuths without map and time, against the design's own requirements */
static void assess(const tw_design *design)
{
  tw_limits limits;
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_limits_read(design, units, messages, &limits), TW_OK);
  tw_messages_free(messages);
  tw_assess_options options = tw_assess_defaults();
  options.azimuths = 8;
  options.map = options.timed = options.contributions = false;
  options.limits = &limits;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
}

static void assess_example(const char *name, const tw_set *sets, size_t count)
{
  tw_design *design = example_with(name, sets, count);
  assess(design);
  tw_design_free(design);
}

static tw_measure_state state_of(tw_measure_id id)
{
  return a.measure[id].state;
}

/* every figure that needs a touch has this state, or does not apply to the kind of probe */
static void nothing_can_be_touched(tw_measure_state expected)
{
  assert_int_equal(a.state, expected);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    const tw_measure_state state = a.measure[i].state;
    if (about->after_touch && about->needs == TW_NEEDS_STATIC) {
      assert_true(state == expected || state == TW_MEASURE_NOT_APPLICABLE);
      assert_true(a.measure[i].met != TW_MET_YES);
    } else {
      assert_true(state != expected);
    }
  }
  char sentence[TW_ASSESS_SENTENCE];
  tw_assess_sentence(&a, sentence, sizeof sentence);
  assert_non_null(strstr(sentence, tw_measure_state_sentence(expected)));
  assert_int_equal(tw_assess_verdict_of(&a), TW_ASSESS_NOT_MET);
}

/* contacts that carry 0.038 N each at rest and open below 0.05 N */
static void open_contacts_are_tripped_at_rest(void **state)
{
  (void)state;
  const tw_set sets[] = {{"preload.force", "0.1 N"}, {"seat.opening_force", "0.05 N"}};
  assess_example("gearbox-tripod", sets, 2);
  nothing_can_be_touched(TW_MEASURE_TRIPPED_AT_REST);
  assert_int_equal(a.met, 0);
  assert_int_equal(state_of(TW_M_preload_actual), TW_MEASURE_OK);
}

/* 0.297 N at rest: on either side of it, by a hundredth of a newton */
static void the_least_loaded_contact_decides(void **state)
{
  (void)state;
  const tw_set armed[] = {{"seat.opening_force", "0.28 N"}, {"seat.friction", "0"}};
  assess_example("gearbox-tripod", armed, 2);
  assert_int_equal(a.state, TW_MEASURE_OK);
  const tw_set open[] = {{"seat.opening_force", "0.31 N"}, {"seat.friction", "0"}};
  assess_example("gearbox-tripod", open, 2);
  nothing_can_be_touched(TW_MEASURE_TRIPPED_AT_REST);
}

/* the leak pulls the rest level below the network that looks at a falling signal */
static void either_of_two_thresholds_can_be_passed_at_rest(void **state)
{
  (void)state;
  const tw_set leak = {"circuit.leakage_resistance", "100 Mohm"};
  assess_example("plate-sizer", &leak, 1);
  nothing_can_be_touched(TW_MEASURE_TRIPPED_AT_REST);
  assert_non_null(strstr(a.measure[TW_M_trip_force_side].note, "-0.0"));
  assert_int_equal(state_of(TW_M_charge_per_newton), TW_MEASURE_OK);
}

/* it trips 28 mV from rest and would be released 8 mV beyond it */
static void a_circuit_that_never_lets_go_is_stuck(void **state)
{
  (void)state;
  const tw_set low = {"circuit.reference_lower", "33 kohm"};
  assess_example("pillar-indexer", &low, 1);
  nothing_can_be_touched(TW_MEASURE_STUCK);
  assert_int_equal(state_of(TW_M_threshold_voltage), TW_MEASURE_OK);
}

/* flats without a guide hold nothing sideways: however little friction there is, the carrier is not
 * brought back to its place */
static void flats_are_not_full(void **state)
{
  (void)state;
  const tw_set flat[] = {{"seat.contact", "flat"}, {"seat.friction", "0.05"}};
  assess_example("gearbox-tripod", flat, 2);
  const tw_measure *m = &a.measure[TW_M_seating_regime];
  assert_true(m->state != TW_MEASURE_OK || strcmp(m->word, "full") != 0);
  tw_probe *probe = NULL;
  tw_design *design = example_with("gearbox-tripod", flat, 2);
  assert_int_equal(tw_probe_new_to_touch(design, &probe, NULL), TW_OK);
  assert_int_equal(probe->rest.regime, TW_SEAT_PARTIAL);
  tw_probe_free(probe);
  tw_design_free(design);
  assess_example("gearbox-tripod", NULL, 0);
  assert_string_equal(a.measure[TW_M_seating_regime].word, "full");
}

/* friction keeps contacts off after the first touch: armed after assembly, not for the second */
static void contacts_that_stay_open_do_not_rearm(void **state)
{
  (void)state;
  const tw_set sets[] = {{"seat.friction", "0.9"}, {"seat.opening_force", "0.25 N"}};
  assess_example("gearbox-tripod", sets, 2);
  assert_int_equal(a.state, TW_MEASURE_OK);
  assert_int_equal(state_of(TW_M_trip_force_side), TW_MEASURE_NO_REARM);
  assert_int_equal(state_of(TW_M_return_offset), TW_MEASURE_NO_REARM);
  assert_int_equal(a.measure[TW_M_return_offset].met, TW_MET_NO);
  assert_int_equal(tw_assess_verdict_of(&a), TW_ASSESS_NOT_MET);
}

/* how the tip comes back, and what is left under the disc, is not known where a side stays deaf */
static void a_deaf_side_has_no_return_and_no_clearance(void **state)
{
  (void)state;
  assess_example("pillar-indexer-deaf", NULL, 0);
  assert_int_equal(state_of(TW_M_trip_force_axial), TW_MEASURE_OK);
  assert_int_equal(state_of(TW_M_return_offset), TW_MEASURE_NO_TRIP);
  assert_int_equal(a.measure[TW_M_return_offset].met, TW_MET_NO);
  assert_int_equal(state_of(TW_M_void_clearance_at_trip), TW_MEASURE_NO_TRIP);
  assert_int_equal(a.measure[TW_M_void_clearance_at_trip].met, TW_MET_NO);
}

/* the rule at rest says full at 0.38, the touches leave the carrier off */
static void the_regime_is_the_worse_of_rule_and_touches(void **state)
{
  (void)state;
  const tw_set friction = {"seat.friction", "0.38"};
  tw_design *design = example_with("pillar-indexer", &friction, 1);
  tw_probe *probe = NULL;
  assert_int_equal(tw_probe_new_to_touch(design, &probe, NULL), TW_OK);
  assert_int_equal(probe->rest.regime, TW_SEAT_FULL);
  tw_probe_free(probe);
  assess(design);
  assert_true(a.measure[TW_M_return_offset].value > 25e-6);
  assert_string_equal(a.measure[TW_M_seating_regime].word, "partial");
  assert_int_equal(a.measure[TW_M_seating_regime].met, TW_MET_NO);
  tw_design_free(design);
}

/* a disc pressed on its backing is judged by what it gives there */
static void a_backed_disc_is_judged_as_fitted(void **state)
{
  (void)state;
  assess_example("pillar-indexer-deaf", NULL, 0);
  tw_measure m = a.measure[TW_M_charge_per_newton];
  assert_true(m.has_fitted && fabs(m.fitted) < 0.2 * fabs(m.value));
  const tw_measure *v = &a.measure[TW_M_voltage_per_newton];
  assert_rel(v->fitted / m.fitted, v->value / m.value, 1e-9);
  const tw_limit least = {.given = true, .rule = TW_RULE_LEAST, .low = 0.5 * fabs(m.value)};
  tw_measure_judge(TW_M_charge_per_newton, &least, &m);
  assert_int_equal(m.met, TW_MET_NO);
  assess_example("pillar-indexer", NULL, 0);
  assert_false(a.measure[TW_M_charge_per_newton].has_fitted);
}

/* what was left out is neither met nor missed, and the sentence names it */
static void what_was_left_out_is_not_met(void **state)
{
  (void)state;
  tw_design *design = example_with("pillar-indexer", NULL, 0);
  tw_limits limits = {0};
  limits.of[TW_M_trip_force_side] =
      (tw_limit){.given = true, .rule = TW_RULE_MOST, .high = 1, .text = "<= 1 N"};
  limits.of[TW_M_pretravel_variation_3d] = limits.of[TW_M_slowest_feed] =
      limits.of[TW_M_trip_force_side];
  tw_assess_options options = tw_assess_defaults();
  options.azimuths = 8;
  options.map = options.timed = options.contributions = false;
  options.limits = &limits;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
  assert_int_equal(a.asked, 3);
  assert_int_equal(a.met, 1);
  assert_int_equal(a.left_out, 2);
  assert_int_equal(tw_assess_verdict_of(&a), TW_ASSESS_LEFT_OUT);
  char sentence[TW_ASSESS_SENTENCE];
  tw_assess_sentence(&a, sentence, sizeof sentence);
  assert_string_equal(sentence,
                      "1 of 3 requirements is met, 2 were not judged: pretravel_variation_3d, "
                      "slowest_feed (all directions and touches in time were left out).");
  limits.of[TW_M_trip_force_side].high = 1e-3;
  assert_int_equal(tw_assess(design, &options, &a, NULL), TW_OK);
  assert_int_equal(tw_assess_verdict_of(&a), TW_ASSESS_NOT_MET);
  tw_assess_sentence(&a, sentence, sizeof sentence);
  assert_non_null(strstr(sentence, "1 of 3 requirements is not met, 2 were not judged"));
  tw_design_free(design);
}

/* no balance is no verdict about the design */
static void no_answer_goes_first(void **state)
{
  (void)state;
  a = (tw_assessment){.asked = 2};
  a.measure[TW_M_trip_force_side] = (tw_measure){.state = TW_MEASURE_NO_ANSWER, .met = TW_MET_NO};
  a.measure[TW_M_trip_force_axial] = (tw_measure){.state = TW_MEASURE_STUCK, .met = TW_MET_NO};
  assert_int_equal(tw_assess_verdict_of(&a), TW_ASSESS_NO_ANSWER);
  a.measure[TW_M_trip_force_side].state = TW_MEASURE_NO_TRIP;
  assert_int_equal(tw_assess_verdict_of(&a), TW_ASSESS_NOT_MET);
}

/* the table: what is touched in time or from all sides needs a touch; each state has its words */
static void the_tables_are_whole(void **state)
{
  (void)state;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    assert_true(about->needs == TW_NEEDS_STATIC || about->after_touch);
  }
  for (int i = 0; i <= TW_MEASURE_NO_REARM; i++) {
    const tw_measure_state s = (tw_measure_state)i;
    assert_true(tw_measure_state_text(s)[0] && tw_measure_state_words(s)[0]);
    assert_true(s == TW_MEASURE_OK || strchr(tw_measure_state_sentence(s), '.') != NULL);
    for (int k = 0; k < i; k++) {
      assert_string_not_equal(tw_measure_state_text(s), tw_measure_state_text((tw_measure_state)k));
    }
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(open_contacts_are_tripped_at_rest),
      cmocka_unit_test(the_least_loaded_contact_decides),
      cmocka_unit_test(either_of_two_thresholds_can_be_passed_at_rest),
      cmocka_unit_test(a_circuit_that_never_lets_go_is_stuck),
      cmocka_unit_test(flats_are_not_full),
      cmocka_unit_test(contacts_that_stay_open_do_not_rearm),
      cmocka_unit_test(a_deaf_side_has_no_return_and_no_clearance),
      cmocka_unit_test(the_regime_is_the_worse_of_rule_and_touches),
      cmocka_unit_test(a_backed_disc_is_judged_as_fitted),
      cmocka_unit_test(what_was_left_out_is_not_met),
      cmocka_unit_test(no_answer_goes_first),
      cmocka_unit_test(the_tables_are_whole),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
