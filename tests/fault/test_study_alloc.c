/* Every allocation of a study fails once: the status says so, nothing leaks, nothing crashes.
 * (NLopt and SQLite take their own memory, which is not counted.) */
#include "near.h"
#include "study_models.h"
#include "tripwright/study.h"
#include "tripwright/study_remedy.h"
#include "tripwright/study_stats.h"
#include "tripwright/study_steady.h"
#include "tripwright/study_store.h"
#include "tripwright/study_winback.h"

#include <stdlib.h>
#include <unistd.h>

static const tw_study_model model = {2, 1, product_of_two, NULL};
static const tw_varied inputs[2] = {{"a", TW_LAW_UNIFORM, .centre = 1.0, .minus = 0.5, .plus = 0.5},
                                    {"b", TW_LAW_NORMAL, .centre = 2.0, .minus = 0.5, .plus = 0.5}};

/* run `work` with the n-th allocation failing for n = 1, 2, ... until it goes through */
static void fail_each(tw_status (*work)(tw_fault *fault))
{
  int failures = 0;
  for (long n = 1; n < 1000; n++) {
    tw_fault fault = {0};
    tw_alloc_fail_at(n, false);
    const tw_status status = work(&fault);
    tw_alloc_fail_at(0, false);
    if (status == TW_OK) {
      assert_true(failures > 0);
      return;
    }
    assert_int_equal(status, TW_NO_MEMORY);
    assert_int_equal(fault.status, TW_NO_MEMORY);
    assert_true(fault.text[0] != '\0');
    failures++;
  }
  fail_msg("it never went through");
}

static tw_status spread(tw_fault *fault)
{
  static const tw_correlation c = {0, 1, 0.5};
  tw_sampler *s = NULL;
  tw_builds *b = NULL;
  tw_standout out[2];
  tw_outcomes column = {0};
  static const tw_goal limit = {"y", 0, .has_high = true, .high = 2.0};
  tw_status status = tw_sampler_new(inputs, 2, &c, 1, 1, &s, fault);
  status = status ? status : tw_builds_new(0, 20, 1, &b, fault);
  status = status ? status : tw_spread_run(&model, s, b, NULL, NULL, fault);
  status = status ? status : tw_builds_outcomes(b, 0, &column, fault);
  status = status ? status : tw_builds_standouts(b, s, &limit, out, NULL, fault);
  tw_outcomes_free(&column);
  tw_builds_free(b);
  tw_sampler_free(s);
  return status;
}

static tw_status vary(tw_fault *fault)
{
  static const double x0[2] = {1.0, 2.0}, step[2] = {0.01, 0.01};
  static const size_t chosen[2] = {0, 1};
  const tw_range a = {.input = 0, .from = 0.5, .to = 2.0, .count = 4};
  const tw_range b = {.input = 1, .from = 0.5, .to = 2.0, .count = 4};
  const tw_goal limit = {"y", 0, .has_high = true, .high = 1.0};
  double y[16];
  unsigned char outcome[16];
  tw_crossing crossing[TW_CROSSINGS_MOST];
  tw_edge *edges = NULL;
  tw_slope slope[2];
  size_t n;
  tw_status status =
      tw_vary_one(&model, x0, &a, &limit, 1, 1e-6, 2, NULL, y, outcome, crossing, &n, fault);
  status = status ? status
                  : tw_vary_two(&model, x0, &a, &b, &limit, 1, 1e-6, 2, NULL, y, outcome, &edges,
                                &n, fault);
  status = status ? status : tw_study_slopes(&model, x0, chosen, step, 2, 2, NULL, slope, fault);
  tw_free(edges);
  return status;
}

static tw_status indices(tw_fault *fault)
{
  const tw_sobol_plan plan = {2, 32, 1};
  double y[128], u[2];
  tw_index index[2];
  for (size_t i = 0; i < 128; i++) {
    tw_sobol_point(&plan, i, u);
    y[i] = u[0] + u[1];
  }
  return tw_sobol_indices(&plan, y, 0.95, 20, index, NULL, NULL, fault);
}

/* pairs, all together and exclusion are all reached: the limits exclude each other */
static tw_status remedy(tw_fault *fault)
{
  static const double x0[2] = {1.0, 2.0};
  static const tw_remake part = {"part", 1.0, 1.0, false};
  static const tw_lever levers[2] = {
      {.name = "a", .input = 0, .now = 1.0, .least = 0.5, .most = 4.0},
      {.name = "b", .input = 1, .now = 2.0, .least = 1.0, .most = 4.0}};
  static const tw_goal limits[2] = {{"y", 0, .has_high = true, .high = 1.0},
                                    {"y", 0, .has_low = true, .low = 1.5}};
  const tw_remedy_problem p = {&model, x0, levers, 2, &part, 1, limits, 2, 0.0};
  tw_remedies out;
  const tw_status status = tw_remedy_search(&p, NULL, NULL, &out, fault);
  assert_true(status != TW_OK || out.exclusion.found);
  return status;
}

static tw_status store(tw_fault *fault)
{
  char path[] = "/tmp/study_alloc_XXXXXX";
  const int file = mkstemp(path);
  assert_true(file >= 0);
  close(file);
  const tw_store_key key = {"design", 1, 2, "engine", "y", 1};
  tw_store *s = NULL;
  const tw_status status = tw_store_open(path, &key, &s, fault);
  tw_store_close(s);
  unlink(path);
  return status;
}

static tw_status steady(tw_fault *fault)
{
  static const size_t output[1] = {0};
  static const tw_steady_plan plan = {output, 1, 1, 20, 60};
  tw_sampler *s = NULL;
  tw_builds *b = NULL;
  tw_steady out = {0};
  tw_status status = tw_sampler_new(inputs, 2, NULL, 0, 1, &s, fault);
  status = status ? status
                  : tw_spread_steady(&model, s, &plan, &(tw_spread_options){.threads = 1}, NULL,
                                     NULL, &b, &out, fault);
  tw_free(out.output);
  tw_builds_free(b);
  tw_sampler_free(s);
  return status;
}

/* turning a screw and pairing */
static tw_status winback(tw_fault *fault)
{
  static const tw_goal limit = {"y", 0, .has_high = true, .high = 1.9};
  static const tw_adjustment screw = {"screw", 1, 0.2, 0.2, 0.01, 0, 10};
  static const bool first[2] = {true, false}, second[2] = {false, true};
  tw_sampler *s = NULL;
  tw_builds *b = NULL;
  tw_winback out;
  tw_status status = tw_sampler_new(inputs, 2, NULL, 0, 1, &s, fault);
  status = status ? status : tw_builds_new(0, 12, 1, &b, fault);
  status = status ? status : tw_spread_run(&model, s, b, NULL, NULL, fault);
  const tw_winback_batch batch = {&model, s, b, &limit, 1, 2};
  status = status ? status : tw_winback_adjust(&batch, &screw, 1, NULL, &out, fault);
  status = status ? status : tw_winback_pair(&batch, first, second, 4, NULL, &out, fault);
  tw_builds_free(b);
  tw_sampler_free(s);
  return status;
}

#define CASE(work)                                                                                 \
  static void work##_survives(void **state)                                                        \
  {                                                                                                \
    (void)state;                                                                                   \
    fail_each(work);                                                                               \
  }
CASE(spread)
CASE(vary)
CASE(indices)
CASE(remedy)
CASE(store)
CASE(steady)
CASE(winback)

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(spread_survives),  cmocka_unit_test(vary_survives),
      cmocka_unit_test(indices_survives), cmocka_unit_test(remedy_survives),
      cmocka_unit_test(store_survives),   cmocka_unit_test(steady_survives),
      cmocka_unit_test(winback_survives),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
