/* A design's batch: what the shop file says reaches the figures, and what it says wrongly is told
 * with its place. */
#include "design_fixture.h"
#include "tripwright/batch_cost.h"

#define HEAD                                                                                       \
  "costs: {hour: 36, overhead: 10 %, overhead_hour: 5, failed_unit: 100, hours_a_day: 8 h}\n"      \
  "processes:\n"                                                                                   \
  "  turn: {setup: 1 h, unit: 20 min, attended: 10 min, machine_rate: 6, learn: 80 %}\n"           \
  "parts:\n"                                                                                       \
  "  carrier: {cost: 2, process: turn}\n"                                                          \
  "  disc: {price: [{from: 1, each: 2}, {from: 10, each: 1}], pack: 5, shipping: 4, per_unit: "    \
  "2,\n"                                                                                           \
  "    good: 90 %, lead_time: 10 day}\n"

#define STEPS                                                                                      \
  "steps:\n"                                                                                       \
  "  turn: {process: turn, parts: carrier}\n"                                                      \
  "  fit: {parts: [disc], unit: 30 min, test: 10 min, pass: 90 %, wait: 1 day}\n"                  \
  "  test: {unit: 0 min, test: 20 min, reads: [trip_force_side], after: [turn, fit]}\n"

static tw_batch *batch_of(const tw_design *design, double share)
{
  const tw_batch_ask ask = {.good = 10, .sure = 0.95, .has_share = true, .share = share};
  tw_batch *batch = NULL;
  tw_fault fault = {0};
  if (tw_batch_make(design, &ask, &batch, &fault) != TW_OK) {
    fail_msg("%s", fault.text);
  }
  return batch;
}

/* the same sums by hand: 36 an hour, 6 an hour of the lathe */
static void figures(void **state)
{
  (void)state;
  tw_design *design = good_design(HEAD STEPS, TW_NEED_NOTHING);
  tw_batch *b = batch_of(design, 0.8);
  assert_int_equal(b->lines, 3);
  /* learning: ten units of which the first takes 10 minutes */
  const tw_learning law = {TW_LEARN_UNIT, 600, 0.8, 0};
  assert_rel(b->line[0].attended, tw_learning_total(&law, 1, 10) / 10, 1e-12);
  assert_rel(b->line[0].machine, 1200, 1e-12);
  assert_rel(b->line[0].work.work, b->line[0].attended / 100 + 2, 1e-12);
  assert_rel(b->line[1].work.work, 18, 1e-12);
  assert_rel(b->line[1].work.test, 6, 1e-12);
  assert_rel(b->line[1].outcome.yield, 0.9, 1e-12);
  assert_rel(b->line[2].outcome.yield, 0.8, 1e-12);
  assert_rel(b->share, 0.72, 1e-12);
  assert_rel(b->setups, 36, 1e-12);
  /* cost along the chain, with the parts as they were bought */
  double v = b->line[0].parts + b->line[0].outcome.cost;
  v = (v + b->line[1].parts + b->line[1].outcome.cost) / 0.9;
  v = (v + b->line[2].outcome.cost) / 0.8;
  assert_rel(b->per_good, v, 1e-12);
  assert_rel(b->lot.per_good, v + 36 / (b->starts * 0.72), 1e-12);
  assert_rel(b->overhead, 0.1 * b->lot.per_good + 5 * (b->attended + 360) / 3600, 1e-9);
  tw_free(b);
  tw_design_free(design);
}

/* what must enter, what must be ordered: never less than a simulation needs */
static void numbers(void **state)
{
  (void)state;
  tw_design *design = good_design(HEAD STEPS, TW_NEED_NOTHING);
  tw_batch *b = batch_of(design, 0.8);
  const tw_share_known all = {.share = 0.72};
  assert_true(b->starts >= tw_order_least(&all, 10, 0.95));
  assert_true(b->line[2].need < b->line[1].need && b->line[1].need <= b->line[0].need);
  assert_true(b->chance >= 0.95);
  const tw_batch_part *disc = &b->part[1];
  assert_string_equal(disc->part->name, "disc");
  assert_int_equal(disc->need, 2 * b->line[1].need);
  assert_true(disc->order > disc->need);
  assert_int_equal(disc->buy.count % 5, 0);
  assert_rel(disc->buy.pay, disc->buy.count + 4, 1e-12);
  /* waiting for discs, fitting, the day of the cure, the test: nothing else is on the way */
  assert_true(b->first.days > 11 && b->first.days < 11.5);
  assert_true(b->last.at_most > b->first.at_most);
  tw_free(b);
  tw_design_free(design);
}

/* a test left out: cheaper to make, but what it found is sold */
static void tests_left_out(void **state)
{
  (void)state;
  tw_design *design = good_design(HEAD STEPS, TW_NEED_NOTHING);
  tw_batch *b = batch_of(design, 0.8);
  assert_near(b->bad, 0, 1e-12);
  assert_rel(b->line[2].bad_without, 0.2, 1e-12);
  assert_true(b->line[2].truly_without > b->truly); /* a bad unit sold costs 100 */
  tw_free(b);
  tw_design_free(design);
}

static void without_steps(void **state)
{
  (void)state;
  tw_design *design = good_design(HEAD, TW_NEED_NOTHING);
  tw_batch *b = batch_of(design, 1);
  assert_int_equal(b->lines, 2);
  assert_int_equal(b->starts, 10);
  tw_free(b);
  tw_design_free(design);
  design = good_design("costs: {hour: 30}\n", TW_NEED_NOTHING);
  const tw_batch_ask ask = {.good = 10, .sure = 0.95};
  tw_fault fault = {0};
  assert_int_equal(tw_batch_make(design, &ask, &b, &fault), TW_BAD_INPUT);
  assert_null(b);
  assert_non_null(strstr(fault.text, "neither steps nor parts"));
  tw_design_free(design);
}

static void hopeless(void **state)
{
  (void)state;
  tw_design *design = good_design(HEAD STEPS, TW_NEED_NOTHING);
  const tw_batch_ask ask = {.good = 10, .sure = 0.95, .has_share = true, .share = 0.01};
  tw_batch *b;
  tw_fault fault = {0};
  assert_int_equal(tw_batch_make(design, &ask, &b, &fault), TW_NO_ANSWER);
  assert_null(b);
  tw_design_free(design);
}

/* each text is refused with these words */
static void wrong_files(void **state)
{
  (void)state;
  static const struct {
    const char *text, *words;
  } wrong[] = {
      {"parts: {disc: {price: 2}}\n", "a list of 1 to 40 rows"},
      {"parts: {disc: {price: [{from: 10}]}}\n", "a price has `each`"},
      {"parts: {disc: {price: [{from: 10, each: 1}, {from: 5, each: 2}]}}\n", "must rise"},
      {"parts: {disc: {good: 120 %}}\n", "at most 100 %"},
      {"parts: {disc: {pack: 2.5}}\n", "a whole number"},
      {"processes: {turn: {setup: -1 h}}\n", "negative"},
      {"processes: {turn: {learn_form: both}}\n", "none of: unit, cumulative"},
      {"processes: {turn: {grades: [{hold: IT3, cost: 1}]}}\n", "IT5 to IT16"},
      {"processes: {turn: {grades: [{hold: 0 um, cost: 1}]}}\n", "half the zone"},
      {"grades: {preload.forse: [{hold: 1 N, cost: 1}]}\n", "belong to a field's path"},
      {"steps: {fit: {process: turn}}\n", "there is no process 'turn'"},
      {"steps: {fit: {parts: disc}}\n", "there is no part 'disc'"},
      {"steps: {fit: {after: test}, test: {test: 1 min}}\n", "no earlier step 'test'"},
      {"steps: {fit: {mend: 100 %, mended: 0}}\n", "repeated without end"},
      {"steps: {fit: {colour: red}}\n", "unknown key 'colour'"},
      {"steps: {fit: {parts: [a, b, c, d, e, f, g, h, i, j, k, l, m]}}\n", "up to 12 words"},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
    const tw_read_options options = {.units = units, .library = library};
    tw_messages *messages = tw_messages_new();
    tw_design *design = NULL;
    assert_int_equal(
        tw_design_parse(wrong[i].text, strlen(wrong[i].text), NULL, &options, messages, &design),
        TW_BAD_INPUT);
    assert_null(design);
    bool said = false;
    for (size_t k = 0; k < tw_messages_count(messages); k++) {
      const tw_message *m = tw_messages_at(messages, k);
      said = said || (strstr(m->text, wrong[i].words) && m->line > 0);
    }
    if (!said) {
      print_messages(messages);
      fail_msg("not said: %s (%s)", wrong[i].words, wrong[i].text);
    }
    tw_messages_free(messages);
  }
}

/* a part cannot go in twice; a step that reads what is no measure is named */
static void refused_by_the_batch(void **state)
{
  (void)state;
  static const struct {
    const char *text, *words;
  } wrong[] = {
      {HEAD "steps: {a: {parts: disc}, b: {parts: disc}}\n", "goes in at two steps"},
      {HEAD "steps: {a: {reads: [trip_farce]}}\n", "there is no measure 'trip_farce'"},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
    tw_design *design = good_design(wrong[i].text, TW_NEED_NOTHING);
    const tw_batch_ask ask = {.good = 10, .sure = 0.95};
    tw_batch *b;
    tw_fault fault = {0};
    assert_int_equal(tw_batch_make(design, &ask, &b, &fault), TW_BAD_INPUT);
    assert_non_null(strstr(fault.text, wrong[i].words));
    tw_design_free(design);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(figures),
      cmocka_unit_test(numbers),
      cmocka_unit_test(tests_left_out),
      cmocka_unit_test(without_steps),
      cmocka_unit_test(hopeless),
      cmocka_unit_test(wrong_files),
      cmocka_unit_test(refused_by_the_batch),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
