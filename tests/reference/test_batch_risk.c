/* Risks of a decision from a reading: the cases Z01 to Z05 of tests/data/batch_cases.json,
 * and a simulation. */
#include "batch_cases.h"
#include "tripwright/batch_risk.h"
#include "tripwright/random.h"

static void is_case(const tw_risks *r, const char *id, const char *path, double relative)
{
  char key[100];
  const struct {
    const char *name;
    double value;
  } row[] = {
      {"R_C", r->consumer}, {"R_P", r->producer}, {"accepted", r->accepted}, {"bad", r->bad}};
  for (size_t i = 0; i < 4; i++) {
    snprintf(key, sizeof key, "outputs%s%s/%s", path[0] ? "/" : "", path, row[i].name);
    assert_rel(row[i].value, case_number(id, key), relative);
  }
}

static void resistors(void **state)
{
  (void)state;
  const tw_unit_prior prior = {TW_PRIOR_NORMAL, 1500, 0.12, 0};
  const tw_conform_limits limits = {true, true, case_number("Z01", "inputs/limits/0"),
                                    case_number("Z01", "inputs/limits/1")};
  tw_risks r;
  assert_int_equal(tw_risks_of(&prior, 0.04, &limits, 0, &r, NULL), TW_OK);
  is_case(&r, "Z01", "no guard", SIX);
  assert_int_equal(tw_risks_of(&prior, 0.04, &limits, 0.02, &r, NULL), TW_OK);
  is_case(&r, "Z01", "guard 0.02", SIX);
  assert_rel(r.bad_of_accepted, r.consumer / r.accepted, 1e-12);
}

static void gamma_prior(void **state)
{
  (void)state;
  const tw_unit_prior prior = {TW_PRIOR_GAMMA, 1, 0.5, 0};
  const tw_conform_limits limits = {.has_high = true, .high = case_number("Z02", "inputs/limit")};
  tw_risks r;
  assert_int_equal(tw_risks_of(&prior, 0.25, &limits, 0, &r, NULL), TW_OK);
  is_case(&r, "Z02", "accept up to 2", SIX);
  assert_int_equal(tw_risks_of(&prior, 0.25, &limits, 0.2, &r, NULL), TW_OK);
  is_case(&r, "Z02", "accept up to 1.8", SIX);
}

static void guard_of_a_risk(void **state)
{
  (void)state;
  const tw_unit_prior prior = {TW_PRIOR_NORMAL, 0.098, 0.0086, 0};
  const tw_conform_limits limits = {.has_high = true, .high = case_number("Z03", "inputs/limit")};
  const double u = case_number("Z03", "inputs/u");
  double guard;
  for (size_t i = 0; i < 2; i++) {
    const double wanted = case_of("Z03", "inputs/wanted/#", i);
    assert_int_equal(tw_guard_for(&prior, u, &limits, wanted, false, &guard, NULL), TW_OK);
    assert_rel(guard, case_of("Z03", "outputs/guard_joint/#", i), FIVE);
    assert_int_equal(tw_guard_for(&prior, u, &limits, wanted, true, &guard, NULL), TW_OK);
    assert_rel(guard, case_of("Z03", "outputs/guard_among_accepted/#", i), FIVE);
  }
  tw_risks r;
  assert_int_equal(tw_risks_of(&prior, u, &limits, TW_GUARD_SCORE * u, &r, NULL), TW_OK);
  assert_rel(1 - r.accepted, case_number("Z03", "outputs/rejected_with_1645u"), FIVE);
  /* a batch that is good anyhow: the guard may be negative */
  const tw_unit_prior fine = {TW_PRIOR_NORMAL, 0.08, 0.003, 0};
  assert_int_equal(tw_guard_for(&fine, u, &limits, 0.01, false, &guard, NULL), TW_OK);
  assert_true(guard < 0);
}

static void this_unit(void **state)
{
  (void)state;
  const tw_unit_prior prior = {TW_PRIOR_NORMAL, case_number("Z04", "inputs/batch/0"),
                               case_number("Z04", "inputs/batch/1"), 0};
  const tw_conform_limits limits = {.has_high = true, .high = case_number("Z04", "inputs/limit")};
  const double reading = case_number("Z04", "inputs/reading"), u = case_number("Z04", "inputs/u");
  tw_unit_known k;
  assert_int_equal(tw_unit_after(&prior, reading, u, &limits, &k, NULL), TW_OK);
  assert_rel(k.mean, case_number("Z04", "outputs/mean"), SIX);
  assert_rel(k.u, case_number("Z04", "outputs/u"), SIX);
  assert_rel(k.conforms, case_number("Z04", "outputs/conforms"), SIX);
  assert_int_equal(tw_unit_after(NULL, reading, u, &limits, &k, NULL), TW_OK);
  assert_rel(k.conforms, case_number("Z04", "outputs/conforms_flat"), SIX);
}

/* the law of the next piece of a batch known from five units: Student's */
static void batch_of_five(void **state)
{
  (void)state;
  const double k = case_number("Z05", "outputs/nig/k");
  const tw_unit_prior prior = {TW_PRIOR_STUDENT, case_number("Z05", "outputs/nig/mean"),
                               case_number("Z05", "outputs/nig/scale") * sqrt(1 + 1 / k),
                               case_number("Z05", "outputs/nig/nu")};
  const tw_conform_limits limits = {.has_high = true, .high = case_number("Z05", "inputs/limit")};
  tw_risks r;
  assert_int_equal(tw_risks_of(&prior, case_number("Z05", "inputs/u"), &limits, 0, &r, NULL),
                   TW_OK);
  is_case(&r, "Z05", "", FIVE);
}

/* 200 000 units drawn, measured and judged */
static void against_simulation(void **state)
{
  (void)state;
  const tw_unit_prior prior = {TW_PRIOR_NORMAL, 0.098, 0.0086, 0};
  const tw_conform_limits limits = {true, true, 0.08, 0.11};
  const double u = 0.003, guard = 0.002;
  const int n = 200000;
  int consumer = 0, producer = 0;
  tw_risks r;
  tw_random random;
  tw_random_start(&random, 3, 0);
  assert_int_equal(tw_risks_of(&prior, u, &limits, guard, &r, NULL), TW_OK);
  for (int i = 0; i < n; i++) {
    const double x = prior.mean + prior.sd * tw_random_normal(&random);
    const double reading = x + u * tw_random_normal(&random);
    const bool good = x >= limits.low && x <= limits.high;
    const bool taken = reading >= limits.low + guard && reading <= limits.high - guard;
    consumer += taken && !good;
    producer += !taken && good;
  }
  const double share = (double)consumer / n, other = (double)producer / n;
  assert_near(share, r.consumer, 3 * sqrt(r.consumer / n));
  assert_near(other, r.producer, 3 * sqrt(r.producer / n));
}

static void wrong_input(void **state)
{
  (void)state;
  const tw_unit_prior prior = {TW_PRIOR_NORMAL, 1, 0.1, 0}, none = {TW_PRIOR_NORMAL, 1, 0, 0};
  const tw_conform_limits limits = {.has_high = true, .high = 1}, no_limit = {0};
  tw_risks r;
  assert_int_equal(tw_risks_of(&none, 0.1, &limits, 0, &r, NULL), TW_BAD_INPUT);
  assert_int_equal(tw_risks_of(&prior, 0, &limits, 0, &r, NULL), TW_BAD_INPUT);
  assert_int_equal(tw_risks_of(&prior, 0.1, &no_limit, 0, &r, NULL), TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(resistors),       cmocka_unit_test(gamma_prior),
      cmocka_unit_test(guard_of_a_risk), cmocka_unit_test(this_unit),
      cmocka_unit_test(batch_of_five),   cmocka_unit_test(against_simulation),
      cmocka_unit_test(wrong_input),
  };
  return cmocka_run_group_tests(tests, open_cases, close_cases);
}
