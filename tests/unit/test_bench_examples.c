/* The card of whole designs: the shipped examples through disc, seat, circuit and assessment. */
#include "design_fixture.h"

#include "tripwright/bench.h"

/* the card of examples/NAME.yaml with some values set */
static void card_of(const char *name, const tw_set *sets, size_t set_count, tw_bench_card *card)
{
  tw_design *design = example_with(name, sets, set_count);
  tw_probe *probe = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_probe_new(design, &probe, &fault), TW_OK);
  tw_assess_options how = tw_assess_defaults();
  how.map = how.timed = false;
  tw_assessment *assessment = tw_alloc(1, sizeof *assessment);
  tw_bench_inputs *inputs = tw_alloc(1, sizeof *inputs);
  assert_non_null(assessment);
  assert_non_null(inputs);
  assert_int_equal(tw_assess(design, &how, assessment, &fault), TW_OK);
  const tw_bench_instruments with = tw_bench_instruments_default();
  assert_int_equal(tw_bench_inputs_from(design, probe, assessment, &with, inputs, &fault), TW_OK);
  assert_int_equal(tw_bench_card_of(inputs, &with, card, &fault), TW_OK);
  tw_free(inputs);
  tw_free(assessment);
  tw_probe_free(probe);
  tw_design_free(design);
}

static const tw_bench_check *get(const tw_bench_card *card, tw_bench_id id)
{
  const tw_bench_check *check = tw_bench_find(card, id);
  assert_non_null(check);
  return check;
}

/* every example has at least twelve checks, all of them either known or explained */
static void test_all(void **state)
{
  (void)state;
  static const char *const names[] = {"pillar-indexer", "pillar-indexer-deaf", "gearbox-tripod",
                                      "edge-bonded",    "plate-sizer",         "unit-07",
                                      "top-face-gate"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    tw_bench_card card;
    card_of(names[i], NULL, 0, &card);
    int known = 0;
    for (int k = 0; k < card.count; k++) {
      const tw_bench_check *c = &card.check[k];
      known += c->expect.known;
      assert_true(c->expect.known || c->expect.why[0] != 0);
      assert_true(!c->expect.known || !c->unit[0] ||
                  (c->expect.low <= c->expect.value && c->expect.value <= c->expect.high));
    }
    print_message("%-20s %d checks, %d with a value\n", names[i], card.count, known);
    assert_true(card.count >= 12);
    assert_true(known >= 9);
  }
}

/* the deaf one: board and disc read the same, the weight's peak does not; that is how a bench finds
 * it */
static void test_deaf(void **state)
{
  (void)state;
  tw_bench_card good, deaf;
  card_of("pillar-indexer", NULL, 0, &good);
  card_of("pillar-indexer-deaf", NULL, 0, &deaf);
  static const tw_bench_id same[] = {TW_BENCH_REST_NODE, TW_BENCH_THRESHOLD,
                                     TW_BENCH_CAPACITANCE_FREE, TW_BENCH_RESONANCE_FREE};
  for (size_t i = 0; i < sizeof same / sizeof same[0]; i++) {
    assert_rel(get(&deaf, same[i])->expect.value, get(&good, same[i])->expect.value, 1e-9);
  }
  const tw_bench_check *a = get(&good, TW_BENCH_LIFT_PEAK), *b = get(&deaf, TW_BENCH_LIFT_PEAK);
  assert_true(a->expect.known && b->expect.known);
  /* per gram, as the two cards may ask for different weights */
  double grams[2];
  assert_int_equal(sscanf(strstr(a->setting, "tip up, "), "tip up, %lf g", &grams[0]), 1);
  assert_int_equal(sscanf(strstr(b->setting, "tip up, "), "tip up, %lf g", &grams[1]), 1);
  assert_true(b->expect.value / grams[1] < 0.5 * a->expect.value / grams[0]);
}

/* what was measured on the unit has a narrow spread */
static void test_measured(void **state)
{
  (void)state;
  const tw_set sets[] = {{"measured.capacitance", "9.4 nF"}, {"measured.preload", "0.82 N +- 5 %"}};
  tw_bench_card card;
  card_of("pillar-indexer", sets, 2, &card);
  const tw_bench_check *c = get(&card, TW_BENCH_CAPACITANCE_FREE);
  assert_rel(c->expect.value, 9.4e-9, 1e-6);
  assert_rel(c->expect.high, 9.4e-9 * 1.02, 1e-6);
  const tw_bench_check *p = get(&card, TW_BENCH_PRELOAD);
  assert_rel(p->expect.value, 0.82, 1e-9);
  assert_rel(p->expect.high, 0.82 * 1.05, 1e-9);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_all),
      cmocka_unit_test(test_deaf),
      cmocka_unit_test(test_measured),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
