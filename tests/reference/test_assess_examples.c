/* The examples through the whole chain: parts that add up, and the stories that they tell. */
#include "near.h"
#include "tripwright/assess.h"
#include "tripwright/parts.h"
#include "tripwright/probe.h"

#include <stdio.h>
#include <string.h>

typedef struct house {
  tw_units *units;
  tw_library *library;
} house;

static int open_house(void **state)
{
  static house h;
  tw_fault fault = {0};
  tw_messages *messages = tw_messages_new();
  const bool good = tw_units_new(&h.units, &fault) == TW_OK &&
                    tw_library_load(TW_SOURCE_DIR "/parts", h.units, messages, &h.library) == TW_OK;
  tw_messages_free(messages);
  *state = &h;
  return good ? 0 : -1;
}

static int close_house(void **state)
{
  house *h = *state;
  tw_library_free(h->library);
  tw_units_free(h->units);
  return 0;
}

static tw_design *read_example(const house *h, const char *name, const tw_set *sets, size_t count)
{
  char file[512];
  snprintf(file, sizeof file, "%s/examples/%s.yaml", TW_SOURCE_DIR, name);
  const tw_read_options options = {.units = h->units,
                                   .library = h->library,
                                   .need = TW_NEED_ALL,
                                   .sets = sets,
                                   .set_count = count};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  if (tw_design_read(file, &options, messages, &design) != TW_OK) {
    char text[512];
    tw_message_print(tw_messages_at(messages, 0), text, sizeof text);
    print_error("%s", text);
  }
  tw_messages_free(messages);
  assert_non_null(design);
  return design;
}

static const tw_assessment *assess(const tw_design *design)
{
  static tw_assessment a;
  tw_assess_options options = tw_assess_defaults();
  tw_fault fault = {0};
  options.azimuths = 8;
  options.map = options.timed = false;
  assert_int_equal(tw_assess(design, &options, &a, &fault), TW_OK);
  return &a;
}

static void contributions_add_up(void **state)
{
  static const char *const name[] = {"pillar-indexer", "gearbox-tripod", "edge-bonded",
                                     "plate-sizer",    "unit-07",        "top-face-gate"};
  int with_parts = 0;
  for (size_t e = 0; e < sizeof name / sizeof name[0]; e++) {
    tw_design *design = read_example(*state, name[e], NULL, 0);
    const tw_assessment *a = assess(design);
    for (int i = 0; i < TW_MEASURE_COUNT; i++) {
      const tw_measure *m = &a->measure[i];
      double sum = 0;
      for (int k = 0; k < m->contributions; k++) {
        sum += m->contribution[k].value;
      }
      if (m->contributions > 0) {
        assert_rel(sum, m->value, 1e-9);
        with_parts++;
      }
    }
    tw_design_free(design);
  }
  assert_true(with_parts >= 12);
}

/* the hollow that is too shallow: no trip sideways, by what factor, and which field */
static void the_deaf_probe_says_why(void **state)
{
  tw_design *design = read_example(*state, "pillar-indexer-deaf", NULL, 0);
  const tw_assessment *a = assess(design);
  assert_int_equal(a->measure[TW_M_trip_force_side].state, TW_MEASURE_NO_TRIP);
  assert_int_equal(a->measure[TW_M_trip_force_side].met, TW_MET_NO_RULE); /* no limits passed */
  bool told = false;
  for (int i = 0; i < a->warnings; i++) {
    told = told || (strcmp(a->warning[i].field, "support.void_depth") == 0 &&
                    strstr(a->warning[i].text, "times less charge") != NULL);
  }
  assert_true(told);
  tw_design_free(design);
}

/* a deeper void brings it back */
static void the_deaf_probe_hears_again(void **state)
{
  const tw_set deep = {"support.void_depth", "60 um"};
  tw_design *design = read_example(*state, "pillar-indexer-deaf", &deep, 1);
  assert_int_equal(assess(design)->measure[TW_M_trip_force_side].state, TW_MEASURE_OK);
  tw_design_free(design);
}

static void measured_values_replace_the_models(void **state)
{
  tw_design *design = read_example(*state, "unit-07", NULL, 0);
  const tw_assessment *a = assess(design);
  assert_rel(a->measure[TW_M_resonance_free].value, 6210, 1e-6);
  assert_rel(a->measure[TW_M_charge_per_newton].value, 79e-9, 1e-6);
  assert_rel(a->measure[TW_M_preload_actual].value, 0.74, 1e-6);
  assert_int_equal(a->measure[TW_M_charge_per_newton].basis, TW_BASIS_MEASURED);
  tw_design_free(design);
}

/* a tripped circuit and a probe that cannot trip are answers, not failures */
static void tripped_at_rest_is_an_answer(void **state)
{
  const tw_set low = {"circuit.reference_lower", "20 kohm"};
  tw_design *design = read_example(*state, "pillar-indexer", &low, 1);
  const tw_assessment *a = assess(design);
  assert_int_equal(a->measure[TW_M_trip_force_side].state, TW_MEASURE_TRIPPED_AT_REST);
  assert_int_equal(a->measure[TW_M_charge_per_newton].state, TW_MEASURE_OK);
  assert_non_null(strstr(a->measure[TW_M_trip_force_side].note, "tripped at rest"));
  tw_design_free(design);
}

/* the same design gives the same bits, whatever ran before */
static void assessments_repeat_bit_for_bit(void **state)
{
  tw_design *design = read_example(*state, "pillar-indexer", NULL, 0);
  const tw_assessment first = *assess(design);
  tw_design *other = read_example(*state, "plate-sizer", NULL, 0);
  (void)assess(other);
  const tw_assessment *again = assess(design);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    assert_memory_equal(&first.measure[i].value, &again->measure[i].value, sizeof(double));
  }
  tw_design_free(other);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(contributions_add_up),
      cmocka_unit_test(the_deaf_probe_says_why),
      cmocka_unit_test(the_deaf_probe_hears_again),
      cmocka_unit_test(measured_values_replace_the_models),
      cmocka_unit_test(tripped_at_rest_is_an_answer),
      cmocka_unit_test(assessments_repeat_bit_for_bit),
  };
  return cmocka_run_group_tests(tests, open_house, close_house);
}
