/* Batches, ranges and slopes on models with known answers. */
#include "near.h"
#include "study_models.h"
#include "tripwright/study.h"
#include "tripwright/study_stats.h"

#include <stdatomic.h>
#include <string.h>

/* y0 = x0 x1, y1 = x0^2 + x1 but never trips for x0 < -1, y2 = log x0 (no answer for x0 <= 0),
 * y3 is not applicable */
static tw_status small_model(void *self, int worker, const double *x, double *y,
                             unsigned char *outcome, tw_fault *fault)
{
  (void)worker;
  (void)fault;
  count_build(self);
  y[0] = x[0] * x[1];
  y[1] = x[0] * x[0] + x[1];
  y[2] = log(x[0]);
  outcome[0] = TW_OUTCOME_OK;
  outcome[1] = x[0] < -1.0 ? TW_OUTCOME_NO_TRIP : TW_OUTCOME_OK;
  outcome[2] = TW_OUTCOME_OK; /* wrong on purpose where the logarithm is not finite */
  outcome[3] = TW_OUTCOME_NOT_APPLICABLE;
  return TW_OK;
}

static const tw_study_model model = {2, 4, small_model, NULL};

static tw_sampler *some_sampler(uint64_t seed)
{
  const tw_varied in[2] = {{"a", TW_LAW_NORMAL, .centre = 0.0, .minus = 2.0, .plus = 2.0},
                           {"b", TW_LAW_UNIFORM, .centre = 1.0, .minus = 0.5, .plus = 0.5}};
  tw_sampler *s = NULL;
  assert_int_equal(tw_sampler_new(in, 2, NULL, 0, seed, &s, NULL), TW_OK);
  return s;
}

static tw_builds *some_builds(uint64_t first, size_t count, const tw_sampler *s, int threads)
{
  tw_builds *b = NULL;
  assert_int_equal(tw_builds_new(first, count, 4, &b, NULL), TW_OK);
  const tw_spread_options options = {.threads = threads};
  assert_int_equal(tw_spread_run(&model, s, b, &options, NULL, NULL), TW_OK);
  assert_int_equal(tw_builds_done(b), count);
  return b;
}

static void no_answer_is_no_number(void **state)
{
  (void)state;
  const double x[2] = {-2.0, 1.0};
  double y[4];
  unsigned char outcome[4];
  assert_int_equal(tw_study_evaluate(&model, 0, x, y, outcome, NULL), TW_OK);
  assert_int_equal(outcome[0], TW_OUTCOME_OK);
  assert_int_equal(outcome[1], TW_OUTCOME_NO_TRIP);
  assert_int_equal(outcome[2], TW_OUTCOME_NO_ANSWER);
  assert_int_equal(outcome[3], TW_OUTCOME_NOT_APPLICABLE);
  assert_true(y[1] == 0.0 && y[2] == 0.0 && y[3] == 0.0);
}

static void one_hash_for_all_threads(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(2026);
  tw_builds *alone = some_builds(0, 3000, s, 1);
  const uint64_t hash = tw_builds_hash(alone);
  static const int threads[] = {2, 3, 4};
  for (int t = 0; t < 3; t++) {
    tw_builds *b = some_builds(0, 3000, s, threads[t]);
    assert_true(tw_builds_hash(b) == hash);
    tw_builds_free(b);
  }
  /* in parts that are merged, in any order */
  tw_builds *whole = NULL;
  assert_int_equal(tw_builds_new(0, 3000, 4, &whole, NULL), TW_OK);
  static const uint64_t firsts[] = {2000, 0, 900};
  static const size_t counts[] = {1000, 1000, 1100};
  for (int p = 0; p < 3; p++) {
    tw_builds *part = some_builds(firsts[p], counts[p], s, 2);
    assert_int_equal(tw_builds_merge(whole, part, NULL), TW_OK);
    tw_builds_free(part);
  }
  assert_true(tw_builds_hash(whole) == hash);
  /* a part of another seed is refused and changes nothing before it */
  tw_sampler *other = some_sampler(7);
  tw_builds *wrong = some_builds(100, 5, other, 1);
  tw_fault fault = {0};
  assert_int_equal(tw_builds_merge(whole, wrong, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.text, "build 100 differs between the parts");
  assert_true(tw_builds_hash(whole) == hash);
  /* one bit matters */
  whole->y[4 * 1234] = nextafter(whole->y[4 * 1234], 1e9);
  assert_true(tw_builds_hash(whole) != hash);
  tw_builds_free(wrong);
  tw_builds_free(whole);
  tw_builds_free(alone);
  tw_sampler_free(other);
  tw_sampler_free(s);
}

/* golden number: the same on every machine of one byte order and with every library version that
 * rounds its elementary functions alike; the model uses none */
static tw_status plain_model(void *self, int worker, const double *x, double *y,
                             unsigned char *outcome, tw_fault *fault)
{
  (void)self;
  (void)worker;
  (void)fault;
  y[0] = x[0] * x[0] - 3.0 * x[1];
  outcome[0] = TW_OUTCOME_OK;
  return TW_OK;
}

static void golden_hash(void **state)
{
  (void)state;
  const tw_varied in[2] = {{"a", TW_LAW_UNIFORM, .centre = 0.0, .minus = 2.0, .plus = 2.0},
                           {"b", TW_LAW_UNIFORM, .centre = 1.0, .minus = 0.5, .plus = 0.5}};
  const tw_study_model plain = {2, 1, plain_model, NULL};
  tw_sampler *s = NULL;
  tw_builds *b = NULL;
  assert_int_equal(tw_sampler_new(in, 2, NULL, 0, 1, &s, NULL), TW_OK);
  assert_int_equal(tw_builds_new(0, 10000, 1, &b, NULL), TW_OK);
  assert_int_equal(tw_spread_run(&plain, s, b, NULL, NULL, NULL), TW_OK);
  print_message("golden hash %016llx\n", (unsigned long long)tw_builds_hash(b));
  assert_true(tw_builds_hash(b) == UINT64_C(0x30479ae06930292f));
  tw_builds_free(b);
  tw_sampler_free(s);
}

static bool stop_after_some(void *self, double done, const char *what)
{
  (void)done;
  (void)what;
  return --*(int *)self > 0;
}

typedef struct saving {
  size_t saved, fail_at;
} saving;

static tw_status save_some(void *self, const tw_builds *builds, size_t index, size_t count,
                           tw_fault *fault)
{
  saving *s = self;
  for (size_t i = index; i < index + count; i++) {
    s->saved += tw_builds_has(builds, i);
  }
  return s->fail_at && s->saved >= s->fail_at
             ? tw_fail(fault, TW_NO_FILE, "", NULL, "the disk is full")
             : TW_OK;
}

static void stopping_keeps_and_resuming_completes(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(2026);
  tw_builds *alone = some_builds(0, 1000, s, 1), *b = NULL;
  assert_int_equal(tw_builds_new(0, 1000, 4, &b, NULL), TW_OK);
  int patience = 300;
  const tw_progress progress = {stop_after_some, &patience};
  saving kept = {0, 0};
  const tw_spread_options options = {2, 64, save_some, &kept};
  assert_int_equal(tw_spread_run(&model, s, b, &options, &progress, NULL), TW_CANCELLED);
  const size_t done = tw_builds_done(b);
  assert_true(done > 0 && done < 1000);
  assert_int_equal(kept.saved, done);
  assert_int_equal(tw_spread_run(&model, s, b, &options, NULL, NULL), TW_OK);
  assert_true(tw_builds_hash(b) == tw_builds_hash(alone));
  /* a failing save stops the study and tells why */
  tw_builds_free(b);
  assert_int_equal(tw_builds_new(0, 1000, 4, &b, NULL), TW_OK);
  kept = (saving){0, 500};
  tw_fault fault = {0};
  assert_int_equal(tw_spread_run(&model, s, b, &options, NULL, &fault), TW_NO_FILE);
  assert_string_equal(fault.text, "the disk is full");
  assert_true(tw_builds_done(b) >= 500 && tw_builds_done(b) < 1000);
  tw_builds_free(b);
  tw_builds_free(alone);
  tw_sampler_free(s);
}

static void nothing_varies_is_told(void **state)
{
  (void)state;
  const tw_varied in[2] = {{"a", TW_LAW_NORMAL, .centre = 1.0}, {"b", TW_LAW_FIXED, .centre = 1.0}};
  tw_sampler *s = NULL;
  tw_builds *b = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_sampler_new(in, 2, NULL, 0, 1, &s, NULL), TW_OK);
  assert_int_equal(tw_builds_new(0, 10, 4, &b, NULL), TW_OK);
  assert_int_equal(tw_spread_run(&model, s, b, NULL, NULL, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "no field has a tolerance"));
  tw_builds_free(b);
  tw_sampler_free(s);
  assert_int_equal(tw_builds_new(0, 0, 4, &b, &fault), TW_BAD_INPUT);
  /* one build is a study too */
  s = some_sampler(1);
  b = some_builds(5, 1, s, 4);
  assert_int_equal(b->count, 1);
  tw_builds_free(b);
  tw_sampler_free(s);
}

static void columns_count_what_is_no_number(void **state)
{
  (void)state;
  tw_sampler *s = some_sampler(3);
  tw_builds *b = some_builds(0, 4000, s, 2);
  tw_outcomes c;
  assert_int_equal(tw_builds_outcomes(b, 1, &c, NULL), TW_OK);
  /* x0 is N(0, 1): below -1 in 15.87 % of builds */
  assert_near((double)c.no_trip / 4000.0, 0.1587, 0.025);
  assert_int_equal(c.no_trip + c.numbers, 4000);
  for (size_t i = 1; i < c.numbers; i++) {
    assert_true(c.sorted[i - 1] <= c.sorted[i]);
  }
  tw_outcomes_free(&c);
  assert_int_equal(tw_builds_outcomes(b, 3, &c, NULL), TW_OK);
  assert_int_equal(c.not_applicable, 4000);
  tw_outcomes_free(&c);
  /* builds that break y0 <= 1 have x0 far up; b matters less */
  const tw_goal limit = {"y0", 0, .has_high = true, .high = 1.0};
  tw_standout out[2];
  size_t failing;
  assert_int_equal(tw_builds_standouts(b, s, &limit, out, &failing, NULL), TW_OK);
  assert_true(failing > 400 && failing < 1000);
  assert_true(out[0].shift > 1.2 && out[0].score > 20.0);
  assert_true(out[1].shift > 0.0 && out[1].shift < 0.5);
  const tw_goal never = {"y3", 3, .has_high = true, .high = 1.0};
  assert_int_equal(tw_builds_standouts(b, s, &never, out, &failing, NULL), TW_OK);
  assert_int_equal(failing, 4000); /* asked of something that there is not */
  assert_true(out[0].score == 0.0);
  tw_builds_free(b);
  tw_sampler_free(s);
}

static void margins(void **state)
{
  (void)state;
  const double y[2] = {0.2, -3.0};
  const unsigned char ok[2] = {TW_OUTCOME_OK, TW_OUTCOME_OK};
  const unsigned char bad[2] = {TW_OUTCOME_NO_TRIP, TW_OUTCOME_NOT_APPLICABLE};
  const tw_goal most = {"a", 0, .has_high = true, .high = 0.25};
  const tw_goal least = {"b", 1, .has_low = true, .low = -2.0};
  const tw_goal within = {"c", 0, .has_low = true, .has_high = true, .low = 0.1, .high = 0.25};
  const tw_goal zero = {"d", 0, .has_high = true, .high = 0.0};
  assert_near(tw_goal_margin(&most, y, ok), 0.2, 1e-15);
  assert_near(tw_goal_margin(&least, y, ok), -0.5, 1e-15);
  assert_near(tw_goal_margin(&within, y, ok), 0.2, 1e-15);
  assert_near(tw_goal_margin(&zero, y, ok), -0.2, 1e-15);
  assert_true(tw_goal_margin(&most, y, bad) == -HUGE_VAL);
  assert_true(tw_goal_margin(&least, y, bad) == -HUGE_VAL);
  const tw_goal both[2] = {most, least};
  size_t worst;
  assert_near(tw_goals_margin(both, 2, y, ok, &worst), -0.5, 1e-15);
  assert_int_equal(worst, 1);
}

static void crossings_are_found(void **state)
{
  (void)state;
  const double x0[2] = {0.0, 1.0};
  const tw_range range = {.input = 0, .from = -3.0, .to = 3.0, .count = 13};
  /* y1 = x^2 + 1 <= 3.25 holds for -1 <= x <= 1.5 (it never trips below -1); y0 = x >= 0.3 */
  const tw_goal limits[2] = {{"y1", 1, .has_high = true, .high = 3.25},
                             {"y0", 0, .has_low = true, .low = 0.3}};
  double y[13 * 4];
  unsigned char outcome[13 * 4];
  tw_crossing c[TW_CROSSINGS_MOST];
  size_t n;
  assert_int_equal(
      tw_vary_one(&model, x0, &range, limits, 2, 1e-9, 2, NULL, y, outcome, c, &n, NULL), TW_OK);
  assert_int_equal(n, 3);
  assert_near(c[0].at, -1.0, 1e-8);
  assert_true(c[0].enters && c[0].limit == 0 && c[0].after == 3);
  assert_near(c[1].at, 0.3, 1e-8);
  assert_true(c[1].enters && c[1].limit == 1);
  assert_near(c[2].at, 1.5, 1e-8);
  assert_true(!c[2].enters && c[2].limit == 0);
  assert_near(y[4 * 12], 3.0, 0.0);
  /* between listed values the middle is given, not searched */
  static const double list[] = {0.1, 0.2, 0.4};
  const tw_range listed = {.input = 0, .count = 3, .values = list};
  assert_int_equal(
      tw_vary_one(&model, x0, &listed, &limits[1], 1, 1e-9, 1, NULL, y, outcome, c, &n, NULL),
      TW_OK);
  assert_int_equal(n, 1);
  assert_near(c[0].at, 0.3, 1e-12);
  assert_near(c[0].within, 0.1, 1e-12);
}

static void logarithmic_ranges(void **state)
{
  (void)state;
  const tw_range range = {.input = 0, .from = 1e-3, .to = 10.0, .count = 5, .logarithmic = true};
  assert_near(tw_range_value(&range, 1), 1e-2, 1e-16);
  assert_near(tw_range_value(&range, 4), 10.0, 0.0);
  tw_fault fault = {0};
  const tw_range wrong = {.input = 0, .from = 0.0, .to = 10.0, .count = 5, .logarithmic = true};
  assert_int_equal(tw_range_check(&range, "x", &fault), TW_OK);
  assert_int_equal(tw_range_check(&wrong, "x", &fault), TW_BAD_INPUT);
  const tw_range backwards = {.input = 0, .from = 2.0, .to = 1.0, .count = 5};
  assert_int_equal(tw_range_check(&backwards, "x", &fault), TW_BAD_INPUT);
  static const double twice[] = {1.0, 1.0};
  const tw_range list = {.input = 0, .count = 2, .values = twice};
  assert_int_equal(tw_range_check(&list, "x", &fault), TW_BAD_INPUT);
}

/* x y <= 1 over 0.5 .. 2 squared: every edge point lies on the hyperbola */
static void edges_lie_on_the_limit(void **state)
{
  (void)state;
  const double x0[2] = {0.0, 0.0};
  const tw_range a = {.input = 0, .from = 0.5, .to = 2.0, .count = 10};
  const tw_range b = {.input = 1, .from = 0.5, .to = 2.0, .count = 8};
  const tw_goal limit = {"y0", 0, .has_high = true, .high = 1.0};
  double y[80 * 4];
  unsigned char outcome[80 * 4];
  tw_edge *edges = NULL;
  size_t n = 0;
  assert_int_equal(
      tw_vary_two(&model, x0, &a, &b, &limit, 1, 1e-10, 2, NULL, y, outcome, &edges, &n, NULL),
      TW_OK);
  assert_true(n > 10);
  for (size_t i = 0; i < n; i++) {
    assert_near(edges[i].a * edges[i].b, 1.0, 1e-8);
  }
  /* point (i, j) stands at i x 8 + j */
  assert_near(y[4 * (3 * 8 + 5)], tw_range_value(&a, 3) * tw_range_value(&b, 5), 1e-15);
  tw_free(edges);
}

static void slopes_match_derivatives(void **state)
{
  (void)state;
  const double x0[2] = {2.0, 3.0}, step[2] = {0.02, 0.03};
  const size_t chosen[2] = {0, 1};
  tw_slope s[8];
  assert_int_equal(tw_study_slopes(&model, x0, chosen, step, 2, 2, NULL, s, NULL), TW_OK);
  assert_near(s[0].slope, 3.0, 1e-10);
  assert_near(s[0].elasticity, 1.0, 1e-10);
  assert_near(s[1].slope, 4.0, 1e-10);
  assert_near(s[2].slope, 0.5, 1e-8);
  assert_near(s[2].elasticity, 1.0 / log(2.0), 1e-8);
  assert_true(fabs(s[2].slope - 0.5) <= s[2].error + 1e-12);
  assert_false(s[3].known);
  assert_near(s[4].slope, 2.0, 1e-10);
  assert_near(s[6].slope, 0.0, 1e-10);
  /* at the edge of what has an answer, one side is enough: log x near 0 from above */
  const double edge[2] = {0.005, 1.0}, small[2] = {0.005, 0.1};
  assert_int_equal(tw_study_slopes(&model, edge, chosen, small, 1, 1, NULL, s, NULL), TW_OK);
  assert_true(s[2].known);
  assert_near(s[2].slope, 200.0, 60.0);
  assert_true(s[2].error > 10.0);
  const double none[1] = {0.0};
  assert_int_equal(tw_study_slopes(&model, edge, chosen, none, 1, 1, NULL, s, NULL), TW_BAD_INPUT);
}

static tw_status broken_model(void *self, int worker, const double *x, double *y,
                              unsigned char *outcome, tw_fault *fault)
{
  (void)self;
  (void)worker;
  (void)y;
  (void)outcome;
  if (x[0] > 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "a", NULL, "impossible");
  }
  return tw_fail(fault, TW_INTERNAL, "", NULL, "broken");
}

static void broken_models_stop_impossible_builds_do_not(void **state)
{
  (void)state;
  const tw_study_model broken = {1, 2, broken_model, NULL};
  double x = 1.0, y[2];
  unsigned char outcome[2];
  assert_int_equal(tw_study_points(&broken, 1, &x, y, outcome, 1, NULL, NULL), TW_OK);
  assert_int_equal(outcome[0], TW_OUTCOME_NO_ANSWER);
  assert_int_equal(outcome[1], TW_OUTCOME_NO_ANSWER);
  x = -1.0;
  tw_fault fault = {0};
  assert_int_equal(tw_study_points(&broken, 1, &x, y, outcome, 1, NULL, &fault), TW_INTERNAL);
  assert_string_equal(fault.text, "broken");
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(no_answer_is_no_number),
      cmocka_unit_test(one_hash_for_all_threads),
      cmocka_unit_test(golden_hash),
      cmocka_unit_test(stopping_keeps_and_resuming_completes),
      cmocka_unit_test(nothing_varies_is_told),
      cmocka_unit_test(columns_count_what_is_no_number),
      cmocka_unit_test(margins),
      cmocka_unit_test(crossings_are_found),
      cmocka_unit_test(logarithmic_ranges),
      cmocka_unit_test(edges_lie_on_the_limit),
      cmocka_unit_test(slopes_match_derivatives),
      cmocka_unit_test(broken_models_stop_impossible_builds_do_not),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
