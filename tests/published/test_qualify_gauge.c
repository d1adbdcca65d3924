/* Gauge studies: StRD analysis of variance, the 10 x 3 x 3 example of the AIAG manual (4th edition;
 * published figures from memory, reproduced), the nested studies of the NIST/SEMATECH e-Handbook.
 */
#include "strd.h"
#include "tripwright/qualify_gauge.h"
#include "tripwright/qualify_stats.h"

#include <float.h>

static double numbers[60000];

static void strd_one_way(void **state)
{
  (void)state;
  /* `readings` magnitude and spread decide what rounding to doubles leaves: eps x / (2 s) */
  static const struct {
    const char *name;
    int last;
    double between, within, f, bound_offset, spread;
  } sets[] = {{"strd/SiRstv.dat", 85, 5.11462616000000E-02, 2.16636560000000E-01,
               1.18046237440255E+00, 196, 0.1},
              {"strd/SmLs01.dat", 249, 1.68, 1.80, 21, 1, 0.1},
              {"strd/SmLs02.dat", 1869, 0, 0, 201, 1, 0.1},
              {"strd/SmLs03.dat", 18069, 0, 0, 2001, 1, 0.1},
              {"strd/SmLs04.dat", 249, 1.68, 1.80, 21, 1e6, 0.1}};
  for (size_t k = 0; k < sizeof sets / sizeof sets[0]; k++) {
    static double x[20000];
    static uint32_t group[20000];
    const size_t n = strd_read(sets[k].name, 61, sets[k].last, numbers, 60000) / 2;
    size_t groups = 0;
    for (size_t i = 0; i < n; i++) {
      group[i] = (uint32_t)numbers[2 * i] - 1;
      x[i] = numbers[2 * i + 1];
      groups = group[i] >= groups ? group[i] + 1 : groups;
    }
    tw_one_way a;
    assert_int_equal(tw_one_way_of(x, group, n, groups, &a, NULL), TW_OK);
    const double bound = -log10(DBL_EPSILON * sets[k].bound_offset / (2 * sets[k].spread));
    print_message("%-16s F digits %.1f (bound of the data %.1f)\n", sets[k].name,
                  strd_digits(a.between.f, sets[k].f), bound);
    assert_digits(a.between.f, sets[k].f, fmin(9.0, bound));
    if (sets[k].between > 0) {
      assert_digits(a.between.squares, sets[k].between, fmin(9.0, bound));
      assert_digits(a.within.squares, sets[k].within, fmin(9.0, bound));
    }
  }
}

static size_t read_gauge(double *x, uint32_t *part, uint32_t *operator_)
{
  char path[512], line[128];
  snprintf(path, sizeof path, "%s/tests/data/forms/grr_10x3x3_a.csv", TW_SOURCE_DIR);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  size_t n = 0;
  unsigned p;
  char o;
  int trial;
  while (fgets(line, sizeof line, file)) {
    if (sscanf(line, "%u,%c,%d,%lf", &p, &o, &trial, &x[n]) == 4) {
      part[n] = p - 1;
      operator_[n++] = (uint32_t)(o - 'A');
    }
  }
  fclose(file);
  return n;
}

static void crossed_study(void **state)
{
  (void)state;
  double x[100];
  uint32_t part[100], op[100];
  const size_t n = read_gauge(x, part, op);
  assert_int_equal(n, 90);
  tw_gauge g;
  const tw_gauge_rules pool = {0.05, 0}, never = {1.0, 0};
  assert_int_equal(tw_gauge_crossed(x, part, op, n, 10, 3, pool, &g, NULL), TW_OK);
  assert_printed(g.part.squares, 88.3619, 1e-4);
  assert_printed(g.operator_.squares, 3.1673, 1e-4);
  assert_printed(g.interaction.squares, 0.3590, 1e-4);
  assert_printed(g.error.squares, 2.7589, 1e-4);
  assert_printed(g.error.squares, 2.758933, 1e-6);
  assert_printed(g.total.squares, 94.6471, 1e-4);
  assert_printed(g.part.mean_square, 9.81799, 1e-5);
  assert_printed(g.operator_.mean_square, 1.58363, 1e-5);
  assert_printed(g.interaction.mean_square, 0.01994, 1e-5);
  assert_printed(g.error.mean_square, 0.04598, 1e-5);
  assert_near(g.error.dof, 60, 0);
  assert_printed(g.f_error[0], 213.52, 0.01);
  assert_printed(g.f_error[1], 34.44, 0.01);
  assert_printed(g.f_error[2], 0.434, 0.001);
  assert_true(g.pooled);
  assert_printed(g.ev, 0.199933, 1e-6);
  assert_printed(g.av, 0.226838, 1e-6);
  /* sqrt(0.199933^2 + 0.226838^2) = 0.302372; the remembered sixth digit, 0.302373, cannot be */
  assert_printed(g.grr, 0.302372, 1e-6);
  assert_printed(g.pv, 1.042327, 1e-6);
  assert_printed(g.tv, 1.0853, 1e-4);
  assert_printed(g.percent_grr, 27.9, 0.1);
  assert_near(g.ndc, 4, 0);
  /* 1.41 PV/GRR = 4.8605; with the unrounded sqrt 2 it is 4.8751: the list has the latter */
  assert_printed(g.ndc_exact * sqrt(2) / 1.41, 4.875, 1e-3);

  assert_int_equal(tw_gauge_crossed(x, part, op, n, 10, 3, never, &g, NULL), TW_OK);
  assert_false(g.pooled);
  assert_printed(g.ev, 0.214435, 1e-6);
  assert_printed(g.av, 0.228304, 1e-6);
  assert_printed(g.grr, 0.313217, 1e-6);
  assert_printed(g.percent_grr, 28.75, 0.01);
  assert_true(g.negative); /* the interaction's variance comes out below zero */

  x[0] = (double)NAN;
  assert_int_equal(tw_gauge_crossed(x, part, op, n, 10, 3, pool, &g, NULL), TW_BAD_INPUT);
  tw_fault fault;
  assert_int_equal(tw_gauge_crossed(x + 1, part + 1, op + 1, n - 1, 10, 3, pool, &g, &fault),
                   TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "part 1, operator 1"));
}

static void average_and_range(void **state)
{
  (void)state;
  double x[100];
  uint32_t part[100], op[100];
  const size_t n = read_gauge(x, part, op);
  /* the factors as printed on gagerandr.com, VariableRandR_Xbar, against the computed ones; the
   * printed D4 2.58 is an old rounding of 2.5746 */
  tw_range_factors f;
  assert_int_equal(tw_range_factors_for(10, 3, 3, &f, NULL), TW_OK);
  assert_printed(f.k1, 0.5908, 1e-4);
  assert_printed(f.k2, 0.5231, 1e-4);
  assert_printed(f.k3, 0.3146, 1e-4);
  assert_near(f.d4, 2.5746, 1e-4);
  const tw_range_factors printed = {0.5908, 0.5231, 0.3146, 2.58};
  tw_gauge_ranges r;
  assert_int_equal(tw_gauge_average_range(x, part, op, n, 10, 3, &printed, &r, NULL), TW_OK);
  assert_printed(r.mean_range, 0.34167, 1e-5);
  assert_printed(r.operator_range, 0.44467, 1e-5);
  assert_printed(r.part_range, 3.51111, 1e-5);
  assert_printed(r.range_limit, 0.8815, 1e-4);
  assert_printed(r.ev, 0.20186, 1e-5);
  assert_printed(r.av, 0.22967, 1e-5);
  assert_printed(r.grr, 0.30577, 1e-5);
  assert_printed(r.pv, 1.1046, 1e-4);
  /* printed 1.14614 comes from rounded parts: sqrt(0.30577^2 + 1.1046^2) */
  assert_near(r.tv, 1.14614, 1e-5);
  assert_printed(r.percent_grr, 26.68, 0.01);
  assert_near(r.ndc, 5, 0);
  assert_int_equal(r.beyond, 1); /* part 4, operator B: 0.01, 1.03, 0.20 */
}

/* d2 and D4 of control-chart tables (ASTM STP 15D; from memory): 1.128, 1.693, 2.059, 2.326 */
static void range_constants(void **state)
{
  (void)state;
  static const double d2[] = {1.128, 1.693, 2.059, 2.326, 2.534},
                      d4[] = {3.267, 2.575, 2.282, 2.114, 2.004};
  for (size_t n = 2; n <= 6; n++) {
    tw_range_factors f;
    assert_int_equal(tw_range_factors_for(10, 3, n, &f, NULL), TW_OK);
    assert_printed(1.0 / f.k1, d2[n - 2], 1e-3);
    assert_near(f.d4, d4[n - 2], 1.0e-3);
  }
}

/* e-Handbook 2.4.4.2/2.4.4.3: check standard 140, probe 2362, twelve days in two runs */
static void nested_check_standard(void **state)
{
  (void)state;
  const size_t n = strd_read("nist-handbook/MPC441.DAT", 26, 37, numbers, 60000) / 10;
  assert_int_equal(n, 12);
  uint32_t block[12] = {0}, run[12];
  double mean[12], s[12], dof[12];
  for (size_t i = 0; i < n; i++) {
    run[i] = (uint32_t)numbers[10 * i] - 1;
    mean[i] = numbers[10 * i + 7];
    s[i] = numbers[10 * i + 8];
    dof[i] = numbers[10 * i + 9];
  }
  tw_nested r;
  assert_int_equal(tw_nested_of(block, run, mean, s, dof, n, 6, &r, NULL), TW_OK);
  assert_printed(r.s1, 0.07871, 1e-5);
  assert_near(r.dof1, 60, 0);
  assert_printed(r.s2, 0.02742, 1e-5);
  assert_near(r.dof2, 10, 0);
  assert_printed(r.s3, 0.02885, 1e-5);
  assert_near(r.dof3, 1, 0);
  tw_moments m;
  assert_int_equal(tw_moments_of(mean, 6, 0.95, &m, NULL), TW_OK);
  assert_printed(m.mean, 96.0357, 1e-4);
  assert_printed(m.s, 0.02728, 1e-5);
  assert_int_equal(tw_moments_of(mean + 6, 6, 0.95, &m, NULL), TW_OK);
  assert_printed(m.mean, 96.0765, 1e-4);
  assert_printed(m.s, 0.02756, 1e-5);
}

/* e-Handbook 2.6.1: probe 2362 over five check standards; the type-B table of MPC64 prints 0.0362
 * and 0.0197 (rounded from 0.0196) */
static void nested_case_study(void **state)
{
  (void)state;
  const size_t rows = strd_read("nist-handbook/MPC61.DAT", 51, 0, numbers, 60000) / 9;
  uint32_t block[100], run[100];
  double mean[100], s[100], dof[100];
  size_t n = 0;
  for (size_t i = 0; i < rows; i++) {
    const double *v = numbers + 9 * i;
    if (v[2] == 2362) {
      run[n] = (uint32_t)v[0] - 1;
      block[n] = (uint32_t)v[1] - 138;
      mean[n] = v[7];
      s[n] = v[8];
      dof[n++] = 5;
    }
  }
  assert_int_equal(n, 60);
  tw_nested r;
  assert_int_equal(tw_nested_of(block, run, mean, s, dof, n, 6, &r, NULL), TW_OK);
  assert_printed(r.s1, 0.0729, 1e-4);
  assert_near(r.dof1, 300, 0);
  assert_printed(r.s2, 0.0362, 1e-4);
  assert_near(r.dof2, 50, 0);
  assert_printed(r.s3, 0.0196, 1e-4);
  assert_near(r.dof3, 5, 0);
}

/* e-Handbook 2.4.4.4: five sums of squares of 60 degrees of freedom each pool to 0.10290 */
static void pooling(void **state)
{
  (void)state;
  static const double ss[] = {0.48115, 0.69209, 0.48483, 1.21752, 0.30076};
  uint32_t block[5] = {0, 0, 0, 0, 0}, run[5] = {0, 0, 0, 0, 0};
  double mean[5] = {1, 2, 3, 4, 5}, s[5], dof[5];
  double sum = 0;
  for (int i = 0; i < 5; i++) {
    s[i] = sqrt(ss[i] / 60);
    dof[i] = 60;
    sum += ss[i];
  }
  assert_printed(sum, 3.17635, 1e-5);
  tw_nested r;
  assert_int_equal(tw_nested_of(block, run, mean, s, dof, 5, 6, &r, NULL), TW_OK);
  assert_near(r.s1, 0.10290, 1e-5);
}

/* e-Handbook 2.4.5.5: two configurations of probe 2062, differences over wafers and days */
static void bias(void **state)
{
  (void)state;
  const size_t n = strd_read("nist-handbook/MPC536.DAT", 26, 0, numbers, 60000) / 5;
  assert_int_equal(n, 29);
  double d[2][40];
  for (size_t i = 0; i < n; i++) {
    d[0][i] = numbers[5 * i + 3];
    d[1][i] = numbers[5 * i + 4];
  }
  tw_bias b;
  assert_int_equal(tw_bias_of(d[0], n, &b, NULL), TW_OK);
  assert_printed(b.mean, -0.003834, 1e-6);
  assert_printed(b.s, 0.005145, 1e-6);
  assert_printed(b.t, -4.01, 0.01);
  assert_true(b.significant);
  assert_int_equal(tw_bias_of(d[1], n, &b, NULL), TW_OK);
  assert_printed(b.mean, 0.004886, 1e-6);
  assert_printed(b.s, 0.004004, 1e-6);
  assert_printed(b.t, 6.57, 0.01);
}

/* nested readings: s1 and s2 from the readings equal those from the daily summaries */
static void readings_give_the_same(void **state)
{
  (void)state;
  double x[48], mean[8], s[8], dof[8];
  uint32_t run[48], day[48], block[8] = {0}, run_of[8];
  for (uint32_t i = 0; i < 48; i++) {
    run[i] = i / 24;
    day[i] = i / 6 % 4;
    x[i] = 10 + 0.3 * run[i] + 0.1 * sin(3.0 * (i / 6)) + 0.02 * cos(7.0 * i);
  }
  for (size_t k = 0; k < 8; k++) {
    tw_moments m;
    assert_int_equal(tw_moments_of(x + 6 * k, 6, 0.95, &m, NULL), TW_OK);
    mean[k] = m.mean;
    s[k] = m.s;
    dof[k] = 5;
    run_of[k] = (uint32_t)k / 4;
  }
  tw_nested a, b;
  assert_int_equal(tw_nested_of(block, run_of, mean, s, dof, 8, 6, &a, NULL), TW_OK);
  assert_int_equal(tw_nested_readings(x, run, day, 48, &b, NULL), TW_OK);
  assert_near(a.s1, b.s1, 1e-15);
  assert_near(a.s2, b.s2, 1e-15);
  assert_near(a.s3, b.s3, 1e-15);
  assert_near(a.days_s, b.days_s, 1e-15);
  assert_near(a.runs_s * a.runs_s, b.s3 * b.s3 - b.s2 * b.s2 / 4, 1e-15);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(strd_one_way),
      cmocka_unit_test(crossed_study),
      cmocka_unit_test(average_and_range),
      cmocka_unit_test(range_constants),
      cmocka_unit_test(nested_check_standard),
      cmocka_unit_test(nested_case_study),
      cmocka_unit_test(pooling),
      cmocka_unit_test(bias),
      cmocka_unit_test(readings_give_the_same),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
