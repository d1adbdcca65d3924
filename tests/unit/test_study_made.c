/* What counts in a way beyond its margins: values that can be made, warnings, a judge, a batch, and
 * what an hour costs. */
#include "design_fixture.h"
#include "near.h"
#include "study_models.h"
#include "tripwright/study_design.h"

#include <math.h>

#define DEG (3.14159265358979323846 / 180)

static void values_can_be_made(void **state)
{
  (void)state;
  const struct {
    tw_made made;
    double now, to, coarse, fine;
  } cases[] = {
      /* the depth that a deaf probe was once told to have: 25.4 um */
      {TW_MADE_LENGTH, 3e-6, 25.4e-6, 30e-6, 26e-6},
      {TW_MADE_LENGTH, 60e-6, 25.4e-6, 25e-6, 25e-6},
      {TW_MADE_LENGTH, 0.1e-3, 0.512e-3, 0.55e-3, 0.52e-3},
      {TW_MADE_LENGTH, 6e-3, 8.49e-3, 8.5e-3, 8.5e-3},
      {TW_MADE_LENGTH, 8e-3, 18.42e-3, 18.5e-3, 18.5e-3},
      {TW_MADE_ANGLE, 35 * DEG, 41.3 * DEG, 42 * DEG, 42 * DEG},
      {TW_MADE_ANGLE, 1 * DEG, 1.52 * DEG, 1.6 * DEG, 1.55 * DEG},
      {TW_MADE_TWO, 3, 1.508, 1.5, 1.5},
      {TW_MADE_TWO, 1, 1.508, 1.6, 1.51},
      {TW_MADE_ANY, 1, 1.5081, 1.51, 1.51},
  };
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    const tw_lever lever = {.now = cases[i].now, .least = 1e-9, .most = 1e9, .made = cases[i].made};
    assert_near(tw_made_value(&lever, cases[i].to, 0, false), cases[i].coarse,
                1e-9 * cases[i].coarse);
    assert_near(tw_made_value(&lever, cases[i].to, 0, true), cases[i].fine, 1e-9 * cases[i].fine);
  }
  /* where the range ends between two steps the last one inside it is meant */
  const tw_lever lever = {.now = 3e-6, .least = 1e-6, .most = 28e-6, .made = TW_MADE_LENGTH};
  assert_near(tw_made_value(&lever, 26e-6, 0, false), 25e-6, 1e-15);
}

/* ---- a model on paper: y = a b, wanted at least 1 -------------------------------------------- */

static const tw_study_model model = {2, 1, product_of_two, NULL};
static const tw_lever levers[2] = {
    {.name = "a", .input = 0, .part = 0, .now = 0.5, .least = 0.1, .most = 5, .made = TW_MADE_TWO},
    {.name = "b", .input = 1, .part = 1, .now = 1.0, .least = 0.1, .most = 5, .made = TW_MADE_TWO}};
static const tw_remake remakes[2] = {{"quick", 1, 1, false}, {"slow", 2, 2, false}};
static const tw_goal goal = {"y", 0, .has_low = true, .low = 1};

static tw_remedies find(const double *x0, tw_remedy_options options, double safety)
{
  static tw_lever own[2];
  memcpy(own, levers, sizeof own);
  own[0].now = x0[0];
  own[1].now = x0[1];
  const tw_remedy_problem p = {&model, x0, own, 2, remakes, 2, &goal, 1, safety};
  tw_remedies out;
  options.wanted = 2;
  assert_int_equal(tw_remedy_search(&p, &options, NULL, &out, NULL), TW_OK);
  return out;
}

/* lever a raises a warning */
static tw_status warns_of_a(void *self, tw_remedy *remedy, bool *good, tw_fault *fault)
{
  (void)self;
  (void)fault;
  for (size_t i = 0; i < remedy->changes; i++) {
    remedy->warnings = remedy->change[i].lever == 0 ? 1 : remedy->warnings;
  }
  *good = remedy->changes > 0;
  return TW_OK;
}

static void a_new_warning_stands_behind(void **state)
{
  (void)state;
  const double x0[2] = {0.5, 1};
  const tw_remedies plain = find(x0, (tw_remedy_options){0}, 0);
  assert_int_equal(plain.remedy[0].change[0].lever, 0);
  const tw_remedies out = find(x0, (tw_remedy_options){.judge = warns_of_a}, 0);
  assert_true(out.count >= 2 && out.judged);
  assert_int_equal(out.remedy[0].change[0].lever, 1);
  assert_int_equal(out.remedy[0].warnings, 0);
  assert_int_equal(out.remedy[1].warnings, 1);
}

/* the whole check wants a tenth more than the model knows of, and never lever a */
static tw_status wants_more(void *self, tw_remedy *remedy, bool *good, tw_fault *fault)
{
  (void)self;
  (void)fault;
  *good = remedy->changes == 1 && remedy->change[0].lever == 1 && remedy->change[0].to >= 2.2;
  return TW_OK;
}

static void what_the_judge_refuses_is_no_way(void **state)
{
  (void)state;
  const double x0[2] = {0.5, 1};
  const tw_remedies out = find(x0, (tw_remedy_options){.judge = wants_more}, 0);
  assert_int_equal(out.count, 1);
  assert_int_equal(out.remedy[0].change[0].lever, 1);
  assert_true(out.remedy[0].change[0].to >= 2.2 && out.remedy[0].judged);
  assert_true(out.refused >= 1);
}

/* half of a batch at the limit itself, all of it a fifth further in */
static tw_status batch(void *self, const double *x, double *yield, tw_fault *fault)
{
  (void)self;
  (void)fault;
  *yield = fmin(fmax(0.5 + 2.5 * (x[0] * x[1] - 1), 0), 1);
  return TW_OK;
}

static void a_yield_is_a_condition(void **state)
{
  (void)state;
  const double x0[2] = {1, 1}; /* every limit is kept, with nothing to spare */
  const tw_remedies plain = find(x0, (tw_remedy_options){0}, 0);
  assert_true(plain.met);
  const tw_remedies out = find(x0, (tw_remedy_options){.yield = batch, .yield_wanted = 0.95}, 0);
  assert_false(out.met);
  assert_near(out.yield, 0.5, 1e-12);
  assert_true(out.count >= 1);
  for (size_t i = 0; i < out.count; i++) {
    assert_true(out.remedy[i].yield >= 0.95);
  }
}

static void ways_aim_at_a_margin(void **state)
{
  (void)state;
  const double low[2] = {0.5, 1}, just[2] = {1.01, 1};
  const tw_remedies out = find(low, (tw_remedy_options){.allowance = 0.05}, 0.05);
  assert_true(out.count >= 1 && out.remedy[0].margin >= 0.05 && !out.eased);
  /* the design itself need not have it, unless it is asked for */
  assert_true(find(just, (tw_remedy_options){.allowance = 0.05}, 0.05).met);
  assert_false(find(just, (tw_remedy_options){0}, 0.05).met);
  /* five times the design is as far as it goes: 25 at most, so a margin of 30 is out of reach */
  const tw_remedies less = find(low, (tw_remedy_options){.allowance = 30}, 30);
  assert_true(less.count >= 1 && less.eased && less.remedy[0].margin < 30);
}

/* ---- hours ------------------------------------------------------------------------------------
 */

static const char text[] =
    "seat: {kind: tripod, contact: vee, pitch_radius: 8 mm, vee_angle: 45 deg, friction: 0.15,\n"
    "       opening_force: 0.02 N, spring_rate: 0.5 N/mm}\n"
    "preload: {force: 1 N}\n"
    "stylus: {reach: 40 mm, stem_diameter: 1.5 mm, ball_diameter: 2 mm}\n"
    "circuit: {kind: contact, supply: 5 V, contact_pull_up: 10k, contact_threshold: 10k}\n"
    "output: {kind: push_pull, active: high}\n"
    "requirements: {trip_force_side: \"<= 0.1 N\"}\n"
    "parts: {stylus: {cost: 30, hours: 2 h}, carrier: {cost: 12, hours: 4 h}}\n";

static double cost_of(const char *rate, const char *part)
{
  char whole[1500];
  snprintf(whole, sizeof whole, "%s%s", text, rate);
  tw_design *design = good_design(whole, TW_NEED_ALL);
  tw_limits limits;
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_limits_read(design, units, messages, &limits), TW_OK);
  tw_messages_free(messages);
  const tw_study_level level = {.threads = 1};
  tw_study *study = NULL;
  tw_levers *made = NULL;
  assert_int_equal(tw_study_new(design, units, &limits, &level, &study, NULL), TW_OK);
  const tw_lever_options options = {0};
  assert_int_equal(tw_study_levers(study, &options, &made, NULL), TW_OK);
  double cost = -1;
  for (size_t i = 0; i < made->remakes; i++) {
    cost = strcmp(made->remake[i].name, part) == 0 ? made->remake[i].cost : cost;
  }
  tw_levers_free(made);
  tw_study_free(study);
  tw_design_free(design);
  return cost;
}

static void an_hour_costs_its_rate(void **state)
{
  (void)state;
  assert_near(cost_of("", "stylus"), 30, 1e-9);
  assert_near(cost_of("", "carrier"), 12, 1e-9);
  /* with 40 an hour the carrier is the dearer one: 12 + 4 h x 40 against 30 + 2 h x 40 */
  assert_near(cost_of("costs: {hour: 40}\n", "stylus"), 110, 1e-9);
  assert_near(cost_of("costs: {hour: 40}\n", "carrier"), 172, 1e-9);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(values_can_be_made),
      cmocka_unit_test(a_new_warning_stands_behind),
      cmocka_unit_test(what_the_judge_refuses_is_no_way),
      cmocka_unit_test(a_yield_is_a_condition),
      cmocka_unit_test(ways_aim_at_a_margin),
      cmocka_unit_test(an_hour_costs_its_rate),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
