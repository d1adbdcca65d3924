/* The search for a fault: what it refuses, and how readings are weighed. That it finds faults:
 * tests/reference/test_bench_suspect.c; threads: test_bench_threads.c. */
#include "design_fixture.h"
#include "tripwright/bench_suspect.h"

#include <math.h>

static tw_design *design;
static tw_suspicion *found;

static int open_one(void **state)
{
  const int opened = open_all(state);
  design = good_design(tw_design_template(TW_SEAT_TRIPOD), TW_NEED_ALL);
  found = tw_alloc(1, sizeof *found);
  return opened || !design || !found;
}

static int close_one(void **state)
{
  tw_free(found);
  tw_design_free(design);
  return close_all(state);
}

static tw_status look(const tw_bench_reading *reading, size_t n, int threads, tw_suspicion *out,
                      tw_fault *fault)
{
  return tw_bench_suspect(design, units, NULL, reading, n, threads, NULL, out, fault);
}

/* what the card shows of a check */
static double shown(tw_bench_id id)
{
  tw_bench_card *card = tw_alloc(1, sizeof *card);
  tw_bench_shown all[TW_BENCH_COUNT];
  assert_int_equal(tw_bench_card_from(design, NULL, 0, card, NULL), TW_OK);
  tw_bench_shown_of(card, all);
  tw_free(card);
  assert_true(all[id].known);
  return all[id].value;
}

static void a_good_unit(void **state)
{
  (void)state;
  const tw_bench_reading reading[] = {
      {.id = TW_BENCH_WEIGHT_SIDE, .value = shown(TW_BENCH_WEIGHT_SIDE)},
      {.id = TW_BENCH_OUTPUT_REST, .kind = TW_READ_WORD, .word = "low"}};
  assert_int_equal(look(reading, 2, 1, found, NULL), TW_OK);
  assert_int_equal(found->out, 0);
  assert_int_equal(found->suspects, 0);
  assert_int_equal(found->tried, 0);
  assert_near(found->misfit, 0, 1e-12);
}

/* a reading that is less sure is explained by less of a fault, or by none */
static void surer_readings_count_more(void **state)
{
  (void)state;
  tw_bench_reading reading = {.id = TW_BENCH_WEIGHT_SIDE,
                              .value = 1.2 * shown(TW_BENCH_WEIGHT_SIDE)};
  reading.u = 0.2 * reading.value;
  assert_int_equal(look(&reading, 1, 0, found, NULL), TW_OK);
  const double unsure = found->misfit;
  reading.u = 0.002 * reading.value;
  assert_int_equal(look(&reading, 1, 0, found, NULL), TW_OK);
  assert_true(unsure < 1 && found->misfit > 3 * unsure);
}

static void what_is_refused(void **state)
{
  (void)state;
  const tw_bench_reading twice[] = {{.id = TW_BENCH_WEIGHT_SIDE, .value = 0.01},
                                    {.id = TW_BENCH_WEIGHT_SIDE, .value = 0.02}};
  const tw_bench_reading none_such = {.id = TW_BENCH_CAPACITANCE_FREE, .value = 1e-9};
  const tw_bench_reading word = {.id = TW_BENCH_WEIGHT_SIDE, .kind = TW_READ_WORD, .word = "high"};
  const tw_bench_reading number = {.id = TW_BENCH_OUTPUT_REST, .value = 1};
  const struct {
    const tw_bench_reading *reading;
    size_t count;
    const char *text;
  } wrong[] = {{twice, 0, "no reading"},
               {twice, 2, "read twice"},
               {&none_such, 1, "does not have one of the checks"},
               {&word, 1, "a word, not a number"},
               {&number, 1, "no word"}};
  for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
    tw_fault fault = {0};
    assert_int_equal(look(wrong[i].reading, wrong[i].count, 1, found, &fault), TW_BAD_INPUT);
    assert_non_null(strstr(fault.text, wrong[i].text));
    assert_true(fault.hint[0] != '\0');
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_good_unit),
      cmocka_unit_test(surer_readings_count_more),
      cmocka_unit_test(what_is_refused),
  };
  return cmocka_run_group_tests(tests, open_one, close_one);
}
