/* The search for a fault: threads change nothing, and it can be stopped. */
#include "design_fixture.h"
#include "tripwright/bench_suspect.h"

#include <math.h>

static tw_design *design;
static tw_suspicion *found, *other;

static int open_one(void **state)
{
  const int opened = open_all(state);
  design = good_design(tw_design_template(TW_SEAT_TRIPOD), TW_NEED_ALL);
  found = tw_alloc(1, sizeof *found);
  other = tw_alloc(1, sizeof *other);
  return opened || !design || !found || !other;
}

static int close_one(void **state)
{
  tw_free(found);
  tw_free(other);
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

static void threads_change_nothing(void **state)
{
  (void)state;
  const tw_bench_reading reading[] = {
      {.id = TW_BENCH_WEIGHT_SIDE, .value = 1.7 * shown(TW_BENCH_WEIGHT_SIDE)}};
  assert_int_equal(look(reading, 1, 1, found, NULL), TW_OK);
  assert_int_equal(look(reading, 1, 3, other, NULL), TW_OK);
  assert_true(found->suspects > 1 && found->explaining > 1 && found->tests > 0);
  assert_int_equal(found->suspects, other->suspects);
  for (size_t i = 0; i < found->suspects; i++) {
    const tw_suspect *a = &found->suspect[i], *b = &other->suspect[i];
    assert_int_equal(a->field, b->field);
    assert_near(a->then, b->then, 0);
    assert_near(a->misfit, b->misfit, 0);
    /* the best first, and each explains what it says it does */
    assert_true(a->explains == (a->worst <= TW_SUSPECT_FITS));
    assert_true(isfinite(a->then) && isfinite(a->misfit));
  }
  for (size_t i = 1; i < found->tests; i++) {
    assert_true(found->test[i].apart <= found->test[i - 1].apart);
  }
}

static bool stop(void *self, double done, const char *what)
{
  (void)done;
  (void)what;
  return --*(int *)self > 0;
}

static void it_can_be_stopped(void **state)
{
  (void)state;
  int left = 20;
  const tw_progress progress = {stop, &left};
  const tw_bench_reading reading = {.id = TW_BENCH_WEIGHT_SIDE, .value = 0.5};
  tw_fault fault = {0};
  assert_int_equal(tw_bench_suspect(design, units, NULL, &reading, 1, 1, &progress, found, &fault),
                   TW_CANCELLED);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(threads_change_nothing),
      cmocka_unit_test(it_can_be_stopped),
  };
  return cmocka_run_group_tests(tests, open_one, close_one);
}
