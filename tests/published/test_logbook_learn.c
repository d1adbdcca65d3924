/* The cases L01 to L08 of tests/data/batch_cases.json, each to its digits. They were computed with
 * NumPy and SciPy by another author; the file says how. */
#include "near.h"
#include "tripwright/logbook_learn.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#define SIX  1e-6 /* relative: six digits are right to a unit of the seventh */
#define FIVE 1e-5

static json_t *file;

static const json_t *part(const char *id, const char *key)
{
  size_t i;
  json_t *one;
  json_array_foreach(json_object_get(file, "cases"), i, one)
  {
    if (strcmp(json_string_value(json_object_get(one, "id")), id) == 0) {
      return json_object_get(one, key);
    }
  }
  fail_msg("no case %s", id);
  return NULL;
}

static double number(const json_t *object, const char *key)
{
  const json_t *value = json_object_get(object, key);
  assert_true(json_is_number(value));
  return json_number_value(value);
}

static size_t numbers(const json_t *array, double *out, size_t most)
{
  const size_t n = json_array_size(array);
  assert_true(n <= most);
  for (size_t i = 0; i < n; i++) {
    out[i] = json_number_value(json_array_get(array, i));
  }
  return n;
}

static void assert_digits(double value, double wanted, double relative)
{
  assert_near(value, wanted, relative * (fabs(wanted) + 1e-300));
}

static void test_l01(void **state)
{
  (void)state;
  const json_t *in = part("L01", "inputs"), *out = part("L01", "outputs");
  assert_int_equal(json_array_size(in), 2);
  for (size_t k = 0; k < json_array_size(in); k++) {
    const json_t *a = json_array_get(in, k), *b = json_array_get(out, k);
    double x[16];
    const size_t n = numbers(json_object_get(a, "x"), x, 16);
    const tw_prior prior = {number(a, "m0"), number(a, "s0"), number(a, "k0"), number(a, "nu0")};
    tw_log_learned own;
    assert_int_equal(tw_learn(x, n, &prior, &own, NULL), TW_OK);
    assert_digits(own.mean, number(b, "mean"), SIX);
    assert_digits(own.scale, number(b, "scale"), SIX);
    assert_digits(own.dof, number(b, "nu"), SIX);
    assert_digits(own.pieces, number(b, "k"), SIX);
    assert_digits(own.half_next_piece, number(b, "half_next_piece"), SIX);
    assert_digits(own.scale_of_mean, number(b, "scale_of_mean"), SIX);
    assert_false(own.doubted);
  }
  const tw_prior usual = tw_prior_of(20, 10);
  assert_near(usual.scale, 5, 0);
  assert_near(usual.pieces, 1, 0);
  assert_near(usual.dof, 4, 0);
}

static void test_l02(void **state)
{
  (void)state;
  double x[16];
  const size_t n = numbers(json_object_get(part("L02", "inputs"), "x"), x, 16);
  const json_t *out = part("L02", "outputs");
  tw_individuals c;
  assert_int_equal(tw_individuals_of(x, n, &c, NULL), TW_OK);
  assert_digits(c.centre, number(out, "centre"), SIX);
  assert_digits(c.moving_range, number(out, "mr"), SIX);
  assert_digits(c.upper, number(out, "upper"), SIX);
  assert_digits(c.lower, number(out, "lower"), SIX);
  assert_digits(c.moving_range_upper, number(out, "mr_upper"), SIX);
  assert_digits(TW_CHART_D2, number(out, "d2"), SIX);
  assert_digits(c.moving_range_upper / c.moving_range, number(out, "D4"), SIX);
  assert_digits(c.centre + 3 * c.moving_range / 1.128, number(out, "upper_with_1128"), SIX);
}

static void test_l03(void **state)
{
  (void)state;
  const json_t *in = part("L03", "inputs"), *out = part("L03", "outputs");
  double x[32], wanted[32], limit[8], value[32], half[32];
  const size_t n = numbers(json_object_get(in, "x"), x, 32);
  const tw_ewma chart = {number(in, "weight"), number(in, "L"), number(in, "target"),
                         number(in, "s"), 0};
  size_t outside;
  assert_int_equal(tw_ewma_of(&chart, x, n, value, half, &outside, NULL), TW_OK);
  assert_int_equal(numbers(json_object_get(out, "values"), wanted, 32), n);
  for (size_t i = 0; i < n; i++) {
    assert_digits(value[i], wanted[i], SIX);
  }
  const size_t limits = numbers(json_object_get(out, "first_limits"), limit, 8);
  for (size_t i = 0; i < limits; i++) {
    assert_digits(half[i], limit[i], SIX);
  }
  assert_digits(tw_ewma_steady(&chart), number(out, "steady_limit"), SIX);
  assert_digits(value[n - 1], number(out, "last"), SIX);
  assert_true(json_is_null(json_object_get(out, "first_outside")));
  assert_true(outside == SIZE_MAX);
}

static void test_l04(void **state)
{
  (void)state;
  const json_t *in = part("L04", "inputs"), *out = part("L04", "outputs");
  double shift[4];
  const size_t shifts = numbers(json_object_get(in, "shift_sd"), shift, 4);
  const json_t *pairs = json_object_get(in, "pairs");
  for (size_t k = 0; k < json_array_size(pairs); k++) {
    double pair[2], wanted[4];
    assert_int_equal(numbers(json_array_get(pairs, k), pair, 2), 2);
    assert_int_equal(numbers(json_array_get(out, k), wanted, 4), shifts);
    for (size_t i = 0; i < shifts; i++) {
      double length;
      assert_int_equal(tw_ewma_run_length(pair[0], pair[1], shift[i], &length, NULL), TW_OK);
      assert_digits(length, wanted[i], FIVE);
    }
  }
}

static void test_l05(void **state)
{
  (void)state;
  const json_t *in = part("L05", "inputs"), *out = part("L05", "outputs");
  const double level = number(in, "level");
  const json_t *list = json_object_get(in, "good_of");
  for (size_t k = 0; k < json_array_size(list); k++) {
    double pair[2], exact[2], jeffreys[2];
    numbers(json_array_get(list, k), pair, 2);
    numbers(json_object_get(json_array_get(out, k), "clopper_pearson"), exact, 2);
    numbers(json_object_get(json_array_get(out, k), "jeffreys"), jeffreys, 2);
    tw_share share;
    tw_interval interval;
    assert_int_equal(tw_share_of((size_t)pair[0], (size_t)pair[1], level, &share, NULL), TW_OK);
    assert_int_equal(tw_jeffreys_of((size_t)pair[0], (size_t)pair[1], level, &interval, NULL),
                     TW_OK);
    assert_digits(share.interval.low, exact[0], SIX);
    assert_digits(share.interval.high, exact[1], SIX);
    assert_digits(interval.low, jeffreys[0], SIX);
    assert_digits(interval.high, jeffreys[1], SIX);
  }
}

static void test_l06(void **state)
{
  (void)state;
  double c[16], q[16];
  const json_t *in = part("L06", "inputs"), *out = part("L06", "outputs");
  const size_t n = numbers(json_object_get(in, "C_nF"), c, 16);
  assert_int_equal(numbers(json_object_get(in, "charge_nC"), q, 16), n);
  tw_going_together g;
  assert_int_equal(tw_going_together_of(c, q, n, &g, NULL), TW_OK);
  assert_digits(g.r, number(out, "r"), SIX);
  assert_digits(g.interval.low, number(out, "low"), SIX);
  assert_digits(g.interval.high, number(out, "high"), SIX);
  assert_true(g.shown);
  assert_int_equal(tw_going_together_of(c, q, 3, &g, NULL), TW_BAD_INPUT);
}

static void test_l07(void **state)
{
  (void)state;
  double m[8], f[8], um[8], uf[8], z[8], wanted[8];
  const json_t *in = part("L07", "inputs"), *out = part("L07", "outputs");
  const size_t n = numbers(json_object_get(in, "measured"), m, 8);
  numbers(json_object_get(in, "foreseen"), f, 8);
  numbers(json_object_get(in, "u_measured"), um, 8);
  numbers(json_object_get(in, "u_foreseen"), uf, 8);
  numbers(json_object_get(out, "z"), wanted, 8);
  tw_agreement a;
  assert_int_equal(tw_agreement_of(m, f, um, uf, n, z, &a, NULL), TW_OK);
  for (size_t i = 0; i < n; i++) {
    assert_digits(z[i], wanted[i], SIX);
  }
  assert_digits(a.chi2, number(out, "chi2"), SIX);
  assert_digits(a.p, number(out, "p"), SIX);
  assert_digits(a.bias, number(out, "common_bias"), SIX);
  assert_digits(a.u_bias, number(out, "u_bias"), SIX);
  assert_digits(a.chi2_about, number(out, "chi2_about_bias"), SIX);
  assert_digits(a.p_about, number(out, "p_about_bias"), SIX);
  assert_int_equal(a.within, 3);
}

static void test_l08(void **state)
{
  (void)state;
  const json_t *out = part("L08", "outputs");
  const tw_cut_normal cut =
      tw_cut_normal_of(number(part("L08", "inputs"), "limit_above_mean_in_sd"));
  assert_digits(cut.mean_shift, number(out, "mean_shift_sd"), SIX);
  assert_digits(cut.sd_ratio, number(out, "sd_ratio"), SIX);
  assert_digits(cut.share_kept, number(out, "share_kept"), SIX);
}

static int open_cases(void **state)
{
  (void)state;
  file = json_load_file(TW_SOURCE_DIR "/tests/data/batch_cases.json", 0, NULL);
  return file ? 0 : -1;
}

static int close_cases(void **state)
{
  (void)state;
  json_decref(file);
  return 0;
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_l01), cmocka_unit_test(test_l02), cmocka_unit_test(test_l03),
      cmocka_unit_test(test_l04), cmocka_unit_test(test_l05), cmocka_unit_test(test_l06),
      cmocka_unit_test(test_l07), cmocka_unit_test(test_l08),
  };
  return cmocka_run_group_tests(tests, open_cases, close_cases);
}
