/* Laws, correlation and repeatability of the builds of a batch. */
#include "near.h"
#include "tripwright/parallel.h"
#include "tripwright/study_sample.h"

#include <gsl/gsl_cdf.h>
#include <string.h>

/* mean, deviation and least and largest of n builds of one input */
typedef struct moments {
  double mean, deviation, least, most;
} moments;

static moments drawn(const tw_varied *input, size_t n)
{
  tw_sampler *s = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_sampler_new(input, 1, NULL, 0, 7, &s, &fault), TW_OK);
  moments m = {0.0, 0.0, HUGE_VAL, -HUGE_VAL};
  double square = 0.0;
  for (size_t i = 0; i < n; i++) {
    double x;
    tw_sampler_draw(s, i, &x);
    const double before = x - m.mean;
    m.mean += before / (double)(i + 1);
    square += before * (x - m.mean);
    m.least = fmin(m.least, x);
    m.most = fmax(m.most, x);
  }
  m.deviation = sqrt(square / (double)(n - 1));
  tw_sampler_free(s);
  return m;
}

#define N 100000

/* closed forms: uniform width/sqrt 12; triangle with top c between a and b: mean (a + b + c)/3,
 * variance (a^2 + b^2 + c^2 - ab - ac - bc)/18; five standard errors of N builds are allowed */
static void laws_have_their_moments(void **state)
{
  (void)state;
  const double error = 5.0 / sqrt((double)N);
  moments m = drawn(&(tw_varied){"n", TW_LAW_NORMAL, .centre = 10.0, .minus = 0.4, .plus = 0.4}, N);
  assert_near(m.mean, 10.0, 0.2 * error);
  assert_near(m.deviation, 0.2, 0.2 * error);
  m = drawn(&(tw_varied){"a", TW_LAW_NORMAL, .centre = 10.0, .minus = 0.0, .plus = 0.4}, N);
  assert_near(m.mean, 10.2, 0.1 * error);
  assert_near(m.deviation, 0.1, 0.1 * error);
  m = drawn(&(tw_varied){"u", TW_LAW_UNIFORM, .centre = 1.0, .minus = 1.0, .plus = 2.0}, N);
  assert_near(m.mean, 1.5, 0.87 * error);
  assert_near(m.deviation, 3.0 / sqrt(12.0), 0.87 * error);
  assert_true(m.least > 0.0 && m.most < 3.0 && m.least < 0.001 && m.most > 2.999);
  m = drawn(&(tw_varied){"t", TW_LAW_TRIANGULAR, .centre = 1.0, .minus = 1.0, .plus = 3.0}, N);
  assert_near(m.mean, 5.0 / 3.0, 0.85 * error);
  assert_near(m.deviation, sqrt((16.0 + 1.0 - 4.0) / 18.0), 0.85 * error);
  m = drawn(&(tw_varied){"t", TW_LAW_TRIANGULAR, .centre = 0.0, .minus = 0.0, .plus = 3.0}, N);
  assert_near(m.mean, 1.0, 0.71 * error);
  assert_true(m.least > 0.0 && m.most < 3.0);
}

/* a normal cut at one standard deviation each side: deviation 0.539560 sigma, from
 * 1 - 2 phi(1)/(2 Phi(1) - 1) */
static void cut_laws_stay_between_their_cuts(void **state)
{
  (void)state;
  tw_varied in = {"c",         TW_LAW_NORMAL, .centre = 0.0, .minus = 2.0,
                  .plus = 2.0, .cut = true,   .low = -1.0,   .high = 1.0};
  moments m = drawn(&in, N);
  const double phi = exp(-0.5) / sqrt(2.0 * 3.14159265358979323846);
  const double share = gsl_cdf_ugaussian_P(1.0) - gsl_cdf_ugaussian_P(-1.0);
  assert_near(m.deviation, sqrt(1.0 - 2.0 * phi / share), 0.01);
  assert_true(m.least >= -1.0 && m.most <= 1.0);
  /* far out in the upper tail, where the distribution rounds to 1: mean of the tail beyond 6.5 */
  in.low = 6.5;
  in.high = 9.0;
  m = drawn(&in, 20000);
  assert_true(m.least >= 6.5 && m.most <= 9.0);
  assert_near(m.mean, 6.6477, 0.01); /* phi(6.5)/Q(6.5) = 6.64765 */
  in.law = TW_LAW_UNIFORM;
  in.minus = in.plus = 10.0;
  m = drawn(&in, 20000);
  assert_near(m.mean, 7.75, 0.03);
  in.law = TW_LAW_TRIANGULAR;
  in.centre = 8.0;
  m = drawn(&in, 20000);
  assert_true(m.least >= 6.5 && m.most <= 9.0);
}

/* 5 % resistors from which the 1 % ones were taken */
static void bin_has_a_hole(void **state)
{
  (void)state;
  const tw_varied in = {"r",          TW_LAW_BIN,         .centre = 1000.0, .minus = 50.0,
                        .plus = 50.0, .hole_minus = 10.0, .hole_plus = 10.0};
  tw_sampler *s = NULL;
  assert_int_equal(tw_sampler_new(&in, 1, NULL, 0, 1, &s, NULL), TW_OK);
  size_t left = 0;
  for (size_t i = 0; i < 20000; i++) {
    double x;
    tw_sampler_draw(s, i, &x);
    assert_true(fabs(x - 1000.0) >= 10.0 && fabs(x - 1000.0) <= 50.0);
    left += x < 1000.0;
  }
  assert_near((double)left / 20000.0, 0.5, 0.018);
  tw_sampler_free(s);
}

static void lists_are_drawn_by_weight(void **state)
{
  (void)state;
  static const double values[] = {1.0, 2.0, 4.0}, weights[] = {1.0, 0.0, 3.0};
  tw_varied in = {"d", TW_LAW_DISCRETE, .values = values, .weights = weights, .count = 3};
  moments m = drawn(&in, 40000);
  assert_near(m.mean, 3.25, 0.033);
  in.law = TW_LAW_MEASURED;
  m = drawn(&in, 40000);
  assert_near(m.mean, 7.0 / 3.0, 0.033);
  /* the ends of the uniform numbers reach the ends of the list, and only values with weight */
  in.law = TW_LAW_DISCRETE;
  assert_near(tw_varied_quantile(&in, 0x1p-53), 1.0, 0.0);
  assert_near(tw_varied_quantile(&in, 0.2500001), 4.0, 0.0);
  assert_near(tw_varied_quantile(&in, 1.0 - 0x1p-53), 4.0, 0.0);
}

static void correlation_comes_out(void **state)
{
  (void)state;
  const tw_varied in[3] = {{"a", TW_LAW_NORMAL, .centre = 1.0, .minus = 2.0, .plus = 2.0},
                           {"free", TW_LAW_UNIFORM, .centre = 0.0, .minus = 1.0, .plus = 1.0},
                           {"b", TW_LAW_NORMAL, .centre = -3.0, .minus = 1.0, .plus = 1.0}};
  const tw_correlation c = {0, 2, -0.8};
  tw_sampler *s = NULL;
  assert_int_equal(tw_sampler_new(in, 3, &c, 1, 11, &s, NULL), TW_OK);
  double ab = 0.0, af = 0.0, aa = 0.0, bb = 0.0;
  for (size_t i = 0; i < N; i++) {
    double x[3];
    tw_sampler_draw(s, i, x);
    const double a = x[0] - 1.0, b = x[2] + 3.0;
    ab += a * b;
    af += a * x[1];
    aa += a * a;
    bb += b * b;
  }
  assert_near(ab / sqrt(aa * bb), -0.8, 5.0 * 0.36 / sqrt((double)N));
  assert_near(af / sqrt(aa * N / 3.0), 0.0, 5.0 / sqrt((double)N));
  assert_near(sqrt(aa / N), 1.0, 5.0 / sqrt((double)N));
  tw_sampler_free(s);
}

/* r = 1 makes two inputs one; r = -1 mirrors them */
static void full_correlation_is_allowed(void **state)
{
  (void)state;
  const tw_varied in[3] = {{"a", TW_LAW_UNIFORM, .centre = 0.0, .minus = 1.0, .plus = 1.0},
                           {"b", TW_LAW_UNIFORM, .centre = 0.0, .minus = 2.0, .plus = 2.0},
                           {"c", TW_LAW_UNIFORM, .centre = 0.0, .minus = 1.0, .plus = 1.0}};
  const tw_correlation c[3] = {{0, 1, 1.0}, {0, 2, -1.0}, {1, 2, -1.0}};
  tw_sampler *s = NULL;
  assert_int_equal(tw_sampler_new(in, 3, c, 3, 5, &s, NULL), TW_OK);
  for (size_t i = 0; i < 100; i++) {
    double x[3];
    tw_sampler_draw(s, i, x);
    assert_near(x[1], 2.0 * x[0], 1e-12);
    assert_near(x[2], -x[0], 1e-12);
  }
  tw_sampler_free(s);
}

static void contradictions_are_refused(void **state)
{
  (void)state;
  const tw_varied in[3] = {{"disc", TW_LAW_NORMAL, .centre = 0.0, .minus = 1.0, .plus = 1.0},
                           {"ledge", TW_LAW_NORMAL, .centre = 0.0, .minus = 1.0, .plus = 1.0},
                           {"void", TW_LAW_NORMAL, .centre = 0.0, .minus = 1.0, .plus = 1.0}};
  tw_correlation c[3] = {{0, 1, 0.9}, {0, 2, 0.9}, {1, 2, -0.9}};
  tw_sampler *s = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_sampler_new(in, 3, c, 3, 5, &s, &fault), TW_BAD_INPUT);
  assert_null(s);
  assert_string_equal(fault.field, "void");
  /* 0.81 -+ sqrt(1 - 0.81)^2 = 0.81 -+ 0.19 */
  assert_string_equal(fault.text, "its correlation -0.9 with ledge contradicts the others, which "
                                  "leave 0.62 to 1");
  c[2].r = 0.63;
  assert_int_equal(tw_sampler_new(in, 3, c, 3, 5, &s, &fault), TW_OK);
  tw_sampler_free(s);
  c[2].r = 0.61;
  assert_int_equal(tw_sampler_new(in, 3, c, 3, 5, &s, &fault), TW_BAD_INPUT);
  c[0].r = c[1].r = 1.0;
  c[2].r = 0.5;
  assert_int_equal(tw_sampler_new(in, 3, c, 3, 5, &s, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "which leave only 1"));
  c[2] = (tw_correlation){1, 0, 0.2};
  assert_int_equal(tw_sampler_new(in, 3, c, 3, 5, &s, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "two correlations"));
  c[0] = (tw_correlation){1, 1, 0.5};
  assert_int_equal(tw_sampler_new(in, 3, c, 1, 5, &s, &fault), TW_BAD_INPUT);
  c[0] = (tw_correlation){0, 1, (double)NAN};
  assert_int_equal(tw_sampler_new(in, 3, c, 1, 5, &s, &fault), TW_BAD_INPUT);
}

static void wrong_inputs_are_refused(void **state)
{
  (void)state;
  static const double empty[1], minus[] = {-1.0}, zero[] = {0.0}, one[] = {1.0};
  const tw_varied wrong[] = {
      {"x", TW_LAW_NORMAL, .centre = (double)NAN},
      {"x", TW_LAW_NORMAL, .centre = 0.0, .minus = -1.0, .plus = 1.0},
      {"x", TW_LAW_UNIFORM, .centre = 0.0, .minus = 1.0, .plus = HUGE_VAL},
      {"x", TW_LAW_UNIFORM, .minus = 1.0, .plus = 1.0, .cut = true, .low = 2.0, .high = 3.0},
      {"x", TW_LAW_NORMAL, .minus = 1.0, .plus = 1.0, .cut = true, .low = 1.0, .high = 0.0},
      {"x", TW_LAW_NORMAL, .minus = 1.0, .plus = 1.0, .cut = true, .low = 50.0, .high = 51.0},
      {"x", TW_LAW_FIXED, .centre = 3.0, .cut = true, .low = 0.0, .high = 1.0},
      {"x", TW_LAW_BIN, .minus = 1.0, .plus = 1.0, .hole_minus = 2.0, .hole_plus = 0.5},
      {"x", TW_LAW_BIN, .minus = 1.0, .plus = 1.0, .hole_minus = 1.0, .hole_plus = 1.0},
      {"x", TW_LAW_MEASURED, .values = empty, .count = 0},
      {"x", TW_LAW_DISCRETE, .values = one, .weights = minus, .count = 1},
      {"x", TW_LAW_DISCRETE, .values = one, .weights = zero, .count = 1},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
    tw_sampler *s = NULL;
    tw_fault fault = {0};
    assert_int_equal(tw_sampler_new(&wrong[i], 1, NULL, 0, 0, &s, &fault), TW_BAD_INPUT);
    assert_string_equal(fault.field, "x");
    assert_true(fault.text[0] != '\0' && fault.hint[0] != '\0');
  }
}

static void zero_tolerance_is_the_value(void **state)
{
  (void)state;
  const tw_varied in = {"x", TW_LAW_NORMAL, .centre = 3.25};
  assert_false(tw_varied_varies(&in));
  const moments m = drawn(&in, 10);
  assert_near(m.mean, 3.25, 0.0);
  assert_near(m.deviation, 0.0, 0.0);
}

typedef struct batch {
  tw_sampler *sampler;
  double (*x)[3];
} batch;

static tw_status draw_some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  (void)worker;
  (void)fault;
  const batch *b = self;
  for (size_t i = first; i < first + count; i++) {
    tw_sampler_draw(b->sampler, i, b->x[i]);
  }
  return TW_OK;
}

static void builds_do_not_depend_on_threads(void **state)
{
  (void)state;
  static double one[5000][3], four[5000][3];
  const tw_varied in[3] = {{"a", TW_LAW_NORMAL, .centre = 0.0, .minus = 1.0, .plus = 2.0},
                           {"b", TW_LAW_TRIANGULAR, .centre = 5.0, .minus = 1.0, .plus = 1.0},
                           {"c", TW_LAW_UNIFORM, .centre = 0.0, .minus = 1.0, .plus = 1.0}};
  const tw_correlation c = {2, 0, 0.4};
  tw_sampler *s = NULL;
  assert_int_equal(tw_sampler_new(in, 3, &c, 1, 42, &s, NULL), TW_OK);
  batch b = {s, one};
  const tw_loop alone = {5000, 0, 1, draw_some, &b, ""};
  assert_int_equal(tw_parallel(&alone, NULL, NULL), TW_OK);
  b.x = four;
  const tw_loop shared = {5000, 7, 4, draw_some, &b, ""};
  assert_int_equal(tw_parallel(&shared, NULL, NULL), TW_OK);
  assert_memory_equal(one, four, sizeof one);
  const uint64_t hash = tw_sampler_hash(s);
  tw_sampler_free(s);
  /* the hash sees seed, laws and correlation, not names */
  assert_int_equal(tw_sampler_new(in, 3, &c, 1, 43, &s, NULL), TW_OK);
  assert_true(tw_sampler_hash(s) != hash);
  tw_sampler_free(s);
  tw_varied other[3] = {in[0], in[1], in[2]};
  other[1].name = "another name";
  assert_int_equal(tw_sampler_new(other, 3, &c, 1, 42, &s, NULL), TW_OK);
  assert_true(tw_sampler_hash(s) == hash);
  tw_sampler_free(s);
  other[1].plus = 1.0000001;
  assert_int_equal(tw_sampler_new(other, 3, &c, 1, 42, &s, NULL), TW_OK);
  assert_true(tw_sampler_hash(s) != hash);
  tw_sampler_free(s);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(laws_have_their_moments),
      cmocka_unit_test(cut_laws_stay_between_their_cuts),
      cmocka_unit_test(bin_has_a_hole),
      cmocka_unit_test(lists_are_drawn_by_weight),
      cmocka_unit_test(correlation_comes_out),
      cmocka_unit_test(full_correlation_is_allowed),
      cmocka_unit_test(contradictions_are_refused),
      cmocka_unit_test(wrong_inputs_are_refused),
      cmocka_unit_test(zero_tolerance_is_the_value),
      cmocka_unit_test(builds_do_not_depend_on_threads),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
