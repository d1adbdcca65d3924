/* Batches that go on until their figures are steady: as many builds for any number of threads, from
 * a file or not, and as many as the procedure says when it is fed by hand. */
#include "near.h"
#include "study_models.h"
#include "tripwright/study_steady.h"

#include <stdatomic.h>

/* y0 = x0 + x1; y1 = x0, without an answer for one build in three; y2 never trips; y3 = 5 */
static tw_status sums(void *self, int worker, const double *x, double *y, unsigned char *outcome,
                      tw_fault *fault)
{
  (void)worker;
  (void)fault;
  count_build(self);
  y[0] = x[0] + x[1];
  y[1] = x[0];
  y[3] = 5;
  outcome[0] = outcome[3] = TW_OUTCOME_OK;
  outcome[1] = x[1] < 1.0 / 3 ? TW_OUTCOME_NO_ANSWER : TW_OUTCOME_OK;
  outcome[2] = TW_OUTCOME_NO_TRIP;
  return TW_OK;
}

static tw_sampler *sampler_of(uint64_t seed)
{
  const tw_varied in[2] = {{"a", TW_LAW_NORMAL, .centre = 1.0, .minus = 2.0, .plus = 2.0},
                           {"b", TW_LAW_UNIFORM, .centre = 0.5, .minus = 0.5, .plus = 0.5}};
  tw_sampler *s = NULL;
  assert_int_equal(tw_sampler_new(in, 2, NULL, 0, seed, &s, NULL), TW_OK);
  return s;
}

static const size_t all[4] = {0, 1, 2, 3};

typedef struct found {
  tw_builds *builds;
  tw_steady steady;
  int evaluations;
} found;

static tw_status go(const tw_steady_plan *plan, int threads, tw_steady_load load, void *self,
                    found *f)
{
  atomic_int count = 0;
  const tw_study_model model = {2, 4, sums, &count};
  tw_sampler *s = sampler_of(7);
  const tw_spread_options options = {.threads = threads, .round = 64, .self = self};
  tw_fault fault = {0};
  const tw_status status =
      tw_spread_steady(&model, s, plan, &options, load, NULL, &f->builds, &f->steady, &fault);
  f->evaluations = count;
  tw_sampler_free(s);
  return status;
}

static void drop(found *f)
{
  tw_builds_free(f->builds);
  tw_free(f->steady.output);
}

static void as_many_builds_for_any_threads(void **state)
{
  (void)state;
  const tw_steady_plan plan = {all, 4, 1, 500, 200000};
  found one, more;
  assert_int_equal(go(&plan, 1, NULL, NULL, &one), TW_OK);
  assert_true(one.steady.steady && one.steady.batches > 1);
  assert_int_equal(one.builds->count, one.steady.batches * 500);
  assert_int_equal(one.evaluations, one.builds->count);
  for (int threads = 2; threads <= 4; threads++) {
    assert_int_equal(go(&plan, threads, NULL, NULL, &more), TW_OK);
    assert_int_equal(more.builds->count, one.builds->count);
    assert_true(tw_builds_hash(more.builds) == tw_builds_hash(one.builds));
    for (int k = 0; k < 4; k++) {
      assert_true(more.steady.output[k].state.deviation == one.steady.output[k].state.deviation);
    }
    drop(&more);
  }
  drop(&one);
}

/* by hand: the numbers in order, in whole batches, and the law's own figures */
static void it_is_the_procedure_of_the_standard(void **state)
{
  (void)state;
  const size_t first[1] = {0};
  const tw_steady_plan plan = {first, 1, 1, 1000, 1000000};
  found f;
  assert_int_equal(go(&plan, 2, NULL, NULL, &f), TW_OK);
  tw_adaptive a;
  tw_adaptive_start(&a, 0.95, 1);
  a.batch = 1000;
  double values[1000];
  for (size_t i = 0; i < f.builds->count; i += 1000) {
    assert_false(a.steady); /* it did not go on longer than it must */
    for (size_t k = 0; k < 1000; k++) {
      values[k] = f.builds->y[(i + k) * 4];
    }
    tw_adaptive_add(&a, values);
  }
  assert_true(a.steady && f.steady.steady);
  assert_near(f.steady.output[0].state.deviation, a.deviation, 0);
  /* normal 1 with deviation 1, and uniform 0 .. 1: mean 1.5, deviation sqrt(1 + 1/12), within what
   * the procedure is sure of */
  assert_near(f.steady.output[0].state.all_mean, 1.5, a.tolerance);
  assert_near(a.deviation, sqrt(13.0 / 12), a.tolerance);
  drop(&f);
}

/* a file that holds some of the builds */
static tw_status from_file(void *self, tw_builds *builds, tw_fault *fault)
{
  return tw_builds_merge(builds, self, fault);
}

static void resumed_it_ends_at_the_same_build(void **state)
{
  (void)state;
  const tw_steady_plan plan = {all, 2, 1, 400, 200000};
  found whole, again;
  assert_int_equal(go(&plan, 2, NULL, NULL, &whole), TW_OK);
  /* what a stop in the second batch leaves behind */
  tw_builds *part = NULL;
  assert_int_equal(tw_builds_new(0, 530, 4, &part, NULL), TW_OK);
  assert_int_equal(tw_builds_merge(part, whole.builds, NULL), TW_OK);
  assert_int_equal(go(&plan, 3, from_file, part, &again), TW_OK);
  assert_int_equal(again.builds->count, whole.builds->count);
  assert_true(tw_builds_hash(again.builds) == tw_builds_hash(whole.builds));
  assert_int_equal(again.evaluations, whole.builds->count - 530);
  tw_builds_free(part);
  drop(&whole);
  drop(&again);
}

static void what_has_no_number_is_not_waited_for(void **state)
{
  (void)state;
  const size_t never[1] = {2}, gaps[1] = {1};
  const tw_steady_plan plan = {never, 1, 2, 100, 5000}, other = {gaps, 1, 1, 300, 200000};
  found f;
  assert_int_equal(go(&plan, 2, NULL, NULL, &f), TW_OK);
  assert_int_equal(f.steady.batches, 2);
  assert_int_equal(f.steady.output[0].numbers, 0);
  drop(&f);
  /* two of three builds give a number: the batches of numbers fill more slowly than those of
   * builds */
  assert_int_equal(go(&other, 2, NULL, NULL, &f), TW_OK);
  assert_true(f.steady.steady);
  assert_int_equal(f.steady.output[0].state.batches, f.steady.output[0].numbers / 300);
  assert_true(f.steady.output[0].state.batches < f.steady.batches);
  assert_rel((double)f.steady.output[0].numbers, (double)f.builds->count * 2 / 3, 0.1);
  drop(&f);
}

static void the_most_is_kept_to(void **state)
{
  (void)state;
  const size_t first[1] = {0};
  const tw_steady_plan plan = {first, 1, 2, 100, 450};
  found f;
  assert_int_equal(go(&plan, 2, NULL, NULL, &f), TW_OK);
  assert_false(f.steady.steady);
  assert_int_equal(f.builds->count, 400);
  drop(&f);
  const tw_steady_plan small = {first, 1, 2, 100, 150};
  assert_int_equal(go(&small, 2, NULL, NULL, &f), TW_BAD_INPUT);
  assert_null(f.builds);
  drop(&f);
  /* unless stated the batch is the standard's */
  const tw_steady_plan plain = {first, 1, 1, 0, 20000};
  assert_int_equal(go(&plain, 2, NULL, NULL, &f), TW_OK);
  assert_int_equal(f.steady.batch, 10000);
  drop(&f);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(as_many_builds_for_any_threads),
      cmocka_unit_test(it_is_the_procedure_of_the_standard),
      cmocka_unit_test(resumed_it_ends_at_the_same_build),
      cmocka_unit_test(what_has_no_number_is_not_waited_for),
      cmocka_unit_test(the_most_is_kept_to),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
