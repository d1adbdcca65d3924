/* Univariate NIST StRD sets, and handbook figures of small-sample statistics. */
#include "strd.h"
#include "tripwright/qualify_stats.h"

#include <float.h>

/* NIST StRD, certified values as printed in the files. `least` is 9 digits unless the set itself
 * forbids it: where readings share a large offset, rounding them to doubles alone moves s by up to
 * half a unit in the last place of the readings, so the bound is -log10(eps max|x| / (2 s)),
 * computed below and asserted to explain every exception. */
static void strd_univariate(void **state)
{
  (void)state;
  static const struct {
    const char *name;
    int first;
    size_t n;
    double mean, s, lag_one;
  } sets[] = {
      {"strd/Lottery.dat", 41, 218, 518.958715596330, 291.699727470969, -0.120948622967393},
      {"strd/Lew.dat", 40, 200, -177.435, 277.332168044316, -0.307304800605679},
      {"strd/Michelso.dat", 31, 100, 299.8524, 0.0790105478190518, 0.535199668621283},
      {"strd/NumAcc1.dat", 46, 3, 10000002, 1, -0.5},
      {"strd/NumAcc2.dat", 45, 1001, 1.2, 0.1, -0.999},
      {"strd/NumAcc3.dat", 44, 1001, 1000000.2, 0.1, -0.999},
  };
  for (size_t k = 0; k < sizeof sets / sizeof sets[0]; k++) {
    static double x[2000];
    const size_t n = strd_read(sets[k].name, sets[k].first, 0, x, 2000);
    assert_int_equal(n, sets[k].n);
    tw_moments m;
    assert_int_equal(tw_moments_of(x, n, 0.95, &m, NULL), TW_OK);
    const double spread_bound = -log10(DBL_EPSILON * fabs(sets[k].mean) / (2.0 * sets[k].s));
    const double least = fmin(9.0, spread_bound);
    print_message("%-18s digits: mean %.1f, s %.1f, lag-1 %.1f (bound of the data %.1f)\n",
                  sets[k].name, strd_digits(m.mean, sets[k].mean), strd_digits(m.s, sets[k].s),
                  strd_digits(m.lag_one, sets[k].lag_one), spread_bound);
    assert_digits(m.mean, sets[k].mean, 14.0);
    assert_digits(m.s, sets[k].s, least);
    assert_digits(m.lag_one, sets[k].lag_one, least);
  }
}

/* c4 and the factors on s: standard tables (ASTM STP 15D factors c4; chi-squared), computed to the
 * digits shown with 40-digit arithmetic for docs/models/qualify.md 1 */
static void small_sample_factors(void **state)
{
  (void)state;
  assert_printed(tw_c4(5), 0.939986, 1e-6);
  assert_printed(tw_c4(10), 0.972659, 1e-6);
  assert_printed(tw_c4(20), 0.986934, 1e-6);
  static const struct {
    size_t n;
    double low, high, t;
  } rows[] = {{5, 0.59913, 2.87356, 0},  {10, 0.68784, 1.82561, 2.26216},
              {20, 0.76049, 1.46057, 0}, {36, 0.81108, 1.30444, 0},
              {3, 0, 0, 4.30265},        {6, 0, 0, 2.57058},
              {17, 0, 0, 2.11991}};
  for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
    double x[40];
    for (size_t i = 0; i < rows[k].n; i++) {
      x[i] = (double)i;
    }
    tw_moments m;
    assert_int_equal(tw_moments_of(x, rows[k].n, 0.95, &m, NULL), TW_OK);
    if (rows[k].low > 0.0) {
      assert_printed(m.s_interval.low / m.s, rows[k].low, 1e-5);
      assert_printed(m.s_interval.high / m.s, rows[k].high, 1e-5);
    }
    if (rows[k].t > 0.0) {
      assert_printed((m.mean_interval.high - m.mean) / m.s_of_mean, rows[k].t, 1e-5);
    }
  }
}

/* Eleven touches of a tool-length switch (softsolder.com, 2010-12-07): mean, s, range as stated
 * there or recomputed from its readings, and the 0.666 um grid that the readings lie on. */
static void eleven_touches(void **state)
{
  (void)state;
  double read[44];
  size_t n = 0;
  char path[512], line[128];
  snprintf(path, sizeof path, "%s/tests/data/forms/touch11.csv", TW_SOURCE_DIR);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  while (fgets(line, sizeof line, file)) {
    const char *comma = strchr(line, ',');
    if (comma && line[0] >= '0' && line[0] <= '9') {
      read[n++] = strtod(comma + 1, NULL);
    }
  }
  fclose(file);
  assert_int_equal(n, 11);
  tw_moments m;
  assert_int_equal(tw_moments_of(read, n, 0.95, &m, NULL), TW_OK);
  assert_printed(m.mean, 26.304408, 1e-6);
  assert_printed(m.s * 1e3, 0.84680, 1e-5);
  assert_printed(m.range * 1e3, 1.997, 1e-3);
  assert_printed(m.two_s * 1e3, 1.69361, 1e-5);
  assert_printed(m.four_s * 1e3, 3.38721, 1e-5);
  tw_step_found step;
  assert_int_equal(tw_step_of(read, n, &step, NULL), TW_OK);
  assert_true(step.found);
  assert_true(step.limits);
  assert_near(step.step * 1e3, 0.666, 0.001);
}

/* ten readings of a made-up gauge, figures by 40-digit arithmetic */
static void ten_readings(void **state)
{
  (void)state;
  static const double x[] = {24.99929, 24.99931, 25.00040, 24.99862, 24.99991,
                             24.99865, 25.00066, 25.00012, 25.00081, 24.99970};
  tw_moments m;
  assert_int_equal(tw_moments_of(x, 10, 0.95, &m, NULL), TW_OK);
  assert_printed(m.mean, 24.999747, 1e-6);
  assert_printed(m.s * 1e3, 0.7768318851, 1e-10);
  assert_printed(m.range * 1e3, 2.19, 0.01);
}

/* positioning figures after the method of ISO 230-2, um, by hand from the definitions */
static void positions(void **state)
{
  (void)state;
  static const double x[] = {1.2, .8,  1.0, 1.1, .9,  3.4,  3.1, 3.3,  3.6, 3.1,
                             5.0, 5.5, 5.1, 5.2, 4.7, -1.0, -.7, -1.1, -.8, -.9,
                             .6,  .9,  .5,  .7,  .8,  2.4,  2.0, 2.6,  2.3, 2.2};
  uint32_t place[30];
  bool up[30];
  for (uint32_t i = 0; i < 30; i++) {
    place[i] = i % 15 / 5;
    up[i] = i < 15;
  }
  tw_positions p;
  assert_int_equal(tw_positions_of(place, up, x, 30, 3, &p, NULL), TW_OK);
  assert_printed(p.reversal, 2.8, 0.1);
  assert_printed(p.repeatability_up, 1.1661904, 1e-7);
  assert_printed(p.repeatability_down, 0.8944272, 1e-7);
  assert_printed(p.repeatability, 3.8303088, 1e-7);
  assert_printed(p.systematic, 6.0, 0.1);
  assert_printed(p.mean_deviation, 3.65, 0.01);
  assert_printed(p.accuracy, 6.8993230, 1e-7);
}

/* Clopper and Pearson: 0 of n has the upper limit 1 - 0.025^(1/n); the "rule of three" */
static void shares(void **state)
{
  (void)state;
  tw_share s;
  assert_int_equal(tw_share_of(0, 30, 0.95, &s, NULL), TW_OK);
  assert_near(s.interval.high, 1.0 - pow(0.025, 1.0 / 30.0), 1e-12);
  assert_near(s.interval.low, 0.0, 0.0);
  assert_int_equal(tw_share_of(30, 30, 0.95, &s, NULL), TW_OK);
  assert_near(s.interval.low, pow(0.025, 1.0 / 30.0), 1e-12);
  assert_int_equal(tw_share_of(3, 2, 0.95, &s, NULL), TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(strd_univariate), cmocka_unit_test(small_sample_factors),
      cmocka_unit_test(eleven_touches),  cmocka_unit_test(ten_readings),
      cmocka_unit_test(positions),       cmocka_unit_test(shares),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
