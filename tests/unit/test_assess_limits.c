/* Requirements: how a rule is read, and how a measure is held against it. */
#include "near.h"
#include "tripwright/assess.h"
#include "tripwright/files.h"

#include <string.h>

static tw_measure measure(double value)
{
  return (tw_measure){.state = TW_MEASURE_OK, .value = value};
}

static void margins_are_shares_of_the_limit(void **state)
{
  (void)state;
  tw_limit most = {.given = true, .rule = TW_RULE_MOST, .high = 0.25};
  tw_measure m = measure(0.2);
  tw_measure_judge(TW_M_trip_force_side, &most, &m);
  assert_int_equal(m.met, TW_MET_YES);
  assert_near(m.margin, 0.2, 1e-15);
  m = measure(0.25); /* compared unrounded: the limit itself is met */
  tw_measure_judge(TW_M_trip_force_side, &most, &m);
  assert_int_equal(m.met, TW_MET_YES);
  m = measure(0.25 + 1e-12);
  tw_measure_judge(TW_M_trip_force_side, &most, &m);
  assert_int_equal(m.met, TW_MET_NO);
  tw_limit least = {.given = true, .rule = TW_RULE_LEAST, .low = 2};
  m = measure(3);
  tw_measure_judge(TW_M_false_trip_margin_z, &least, &m);
  assert_int_equal(m.met, TW_MET_YES);
  assert_near(m.margin, 0.5, 1e-15);
}

static void magnitudes_are_compared(void **state)
{
  (void)state;
  tw_limit least = {.given = true, .rule = TW_RULE_LEAST, .low = 50e-9};
  tw_measure m = measure(-88e-9); /* the sign is that of the poling */
  tw_measure_judge(TW_M_charge_per_newton, &least, &m);
  assert_int_equal(m.met, TW_MET_YES);
}

static void no_trip_is_not_met_and_no_rule_is_neither(void **state)
{
  (void)state;
  tw_limit most = {.given = true, .rule = TW_RULE_MOST, .high = 1};
  tw_measure m = {.state = TW_MEASURE_NO_TRIP};
  tw_measure_judge(TW_M_trip_force_side, &most, &m);
  assert_int_equal(m.met, TW_MET_NO);
  m = measure(1);
  tw_measure_judge(TW_M_trip_force_side, NULL, &m);
  assert_int_equal(m.met, TW_MET_NO_RULE);
  m.state = TW_MEASURE_NOT_COMPUTED; /* left out on request: nothing is said about it */
  tw_measure_judge(TW_M_trip_force_side, &most, &m);
  assert_int_equal(m.met, TW_MET_NO_RULE);
}

/* a margin without any signal has no number; whatever is asked of it at least is met, nothing else
 */
static void what_nothing_bounds_meets_every_least(void **state)
{
  (void)state;
  const tw_limit least = {.given = true, .rule = TW_RULE_LEAST, .low = 2},
                 most = {.given = true, .rule = TW_RULE_MOST, .high = 2};
  tw_measure m = {.state = TW_MEASURE_NOT_APPLICABLE, .endless = true};
  tw_measure_judge(TW_M_false_trip_margin_x, &least, &m);
  assert_int_equal(m.met, TW_MET_YES);
  tw_measure_judge(TW_M_false_trip_margin_x, &most, &m);
  assert_int_equal(m.met, TW_MET_NO);
  m.endless = false; /* what a probe does not have, it does not meet */
  tw_measure_judge(TW_M_false_trip_margin_x, &least, &m);
  assert_int_equal(m.met, TW_MET_NO);
}

static void words_and_ranges(void **state)
{
  (void)state;
  tw_limit is = {.given = true, .rule = TW_RULE_IS, .word = "full"};
  tw_measure m = {.state = TW_MEASURE_OK, .word = "partial"};
  tw_measure_judge(TW_M_seating_regime, &is, &m);
  assert_int_equal(m.met, TW_MET_NO);
  tw_limit within = {.given = true, .rule = TW_RULE_WITHIN, .low = 1, .high = 4};
  m = measure(2);
  tw_measure_judge(TW_M_preload_actual, &within, &m);
  assert_int_equal(m.met, TW_MET_YES);
  assert_near(m.margin, 0.5, 1e-15); /* nearer to its upper limit: (4 - 2)/4 */
  m = measure(5);
  tw_measure_judge(TW_M_preload_actual, &within, &m);
  assert_int_equal(m.met, TW_MET_NO);
  /* a charge of either sign is a charge; a stack that is 0.45 mm too long does not fit */
  tw_limit least = {.given = true, .rule = TW_RULE_LEAST, .low = 0.1};
  m = measure(-0.45);
  tw_measure_judge(TW_M_charge_per_newton, &least, &m);
  assert_int_equal(m.met, TW_MET_YES);
  tw_measure_judge(TW_M_stack_clearance, &least, &m);
  assert_int_equal(m.met, TW_MET_NO);
  assert_near(m.margin, -5.5, 1e-12);
}

static void every_measure_has_a_name_a_unit_and_help(void **state)
{
  (void)state;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    assert_int_equal(tw_measure_find(about->name), i);
    assert_true(strlen(about->help) > 10);
    assert_true(strlen(about->shown) > 0);
  }
  assert_int_equal(tw_measure_find("no_such_measure"), TW_MEASURE_COUNT);
}

/* units of the table are known, and requirements in them are read */
static void every_shown_unit_is_known(void **state)
{
  (void)state;
  tw_units *units = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_units_new(&units, &fault), TW_OK);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    tw_unit shown, si;
    assert_int_equal(tw_units_find(units, about->shown, &shown, &fault), TW_OK);
    if (strcmp(about->unit, "word") != 0) {
      const char *unit = about->unit[0] ? about->unit : "1";
      assert_int_equal(tw_units_find(units, unit, &si, &fault), TW_OK);
      assert_true(tw_unit_same_kind(&shown, &si));
    }
  }
  tw_units_free(units);
}

/* the page that fixes what the names mean names them all */
static void the_contract_names_every_measure(void **state)
{
  (void)state;
  tw_fault fault = {0};
  size_t length = 0;
  char *page = tw_file_text(TW_SOURCE_DIR "/docs/guide/contract.md", &length, &fault);
  assert_non_null(page);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const char *name = tw_measure_about((tw_measure_id)i)->name;
    if (!strstr(page, name)) {
      print_error("docs/guide/contract.md does not say what %s means\n", name);
      fail();
    }
  }
  tw_free(page);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(margins_are_shares_of_the_limit),
      cmocka_unit_test(magnitudes_are_compared),
      cmocka_unit_test(no_trip_is_not_met_and_no_rule_is_neither),
      cmocka_unit_test(what_nothing_bounds_meets_every_least),
      cmocka_unit_test(words_and_ranges),
      cmocka_unit_test(every_measure_has_a_name_a_unit_and_help),
      cmocka_unit_test(every_shown_unit_is_known),
      cmocka_unit_test(the_contract_names_every_measure),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
