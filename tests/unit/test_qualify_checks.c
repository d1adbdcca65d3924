/* Checks of series, differences, feed, drift, warming, records: made readings with known answers.
 */
#include "near.h"
#include "tripwright/qualify.h"
#include "tripwright/random.h"

#include <string.h>

static void refuses_bad_series(void **state)
{
  (void)state;
  const double x[] = {1, 2, (double)NAN};
  tw_moments m;
  tw_fault f;
  assert_int_equal(tw_moments_of(x, 1, 0.95, &m, &f), TW_BAD_INPUT);
  assert_non_null(strstr(f.text, "1 reading: no spread"));
  assert_int_equal(tw_moments_of(x, 3, 0.95, &m, &f), TW_BAD_INPUT);
  assert_non_null(strstr(f.text, "reading 3"));
  assert_int_equal(tw_moments_of(x, 2, 1.5, &m, &f), TW_BAD_INPUT);
  const double big[] = {1e308, -1e308};
  assert_int_equal(tw_moments_of(big, 2, 0.95, &m, &f), TW_NO_ANSWER);
  const double same[] = {3, 3, 3};
  assert_int_equal(tw_moments_of(same, 3, 0.95, &m, &f), TW_OK);
  assert_near(m.s, 0, 0);
}

static void finds_a_step_only_where_there_is_one(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 1, 1);
  int found = 0, wrong = 0;
  for (int set = 0; set < 500; set++) {
    double x[12], fine[12];
    for (int i = 0; i < 12; i++) {
      const double r = 5e-6 + 1e-6 * tw_random_normal(&random);
      fine[i] = r;
      x[i] = round(r / 0.8e-6) * 0.8e-6;
    }
    tw_step_found s;
    if (tw_step_of(x, 12, &s, NULL) == TW_OK && s.found) {
      found += fabs(s.step - 0.8e-6) < 1e-9 || fabs(s.step - 1.6e-6) < 1e-9;
    }
    assert_int_equal(tw_step_of(fine, 12, &s, NULL), TW_OK);
    wrong += s.found;
  }
  assert_true(found > 480);
  assert_int_equal(wrong, 0);
}

static void shows_the_odd_one(void **state)
{
  (void)state;
  double x[] = {1.0, 1.1, 0.9, 1.05, 0.95, 1.02, 0.98, 3.0, 1.0, 1.01};
  tw_odd_ones o;
  assert_int_equal(tw_odd_ones_of(x, 10, &o, NULL), TW_OK);
  assert_int_equal(o.count, 1);
  assert_int_equal(o.index[0], 7);
  assert_int_equal(o.farthest, 7);
  assert_true(o.grubbs > o.grubbs_limit);
  /* Grubbs (1969), two-sided 5 %, n = 10: 2.290 */
  assert_near(o.grubbs_limit, 2.290, 0.001);
  x[7] = 1.08;
  assert_int_equal(tw_odd_ones_of(x, 10, &o, NULL), TW_OK);
  assert_int_equal(o.count, 0);
}

/* no trend, no jump: at most about 1 % each of 2000 sets; with them: nearly always */
static void trends_and_jumps(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 2, 1);
  int trend = 0, jump = 0, trend_seen = 0, jump_seen = 0;
  for (int set = 0; set < 2000; set++) {
    double flat[15], sloped[15], stepped[15];
    for (int i = 0; i < 15; i++) {
      flat[i] = tw_random_normal(&random);
      sloped[i] = flat[i] + 0.4 * i;
      stepped[i] = flat[i] + (i >= 6 ? 4 : 0);
    }
    tw_run_checks c;
    assert_int_equal(tw_run_checks_of(flat, 15, &c, NULL), TW_OK);
    trend += c.trend;
    jump += c.jump;
    assert_int_equal(tw_run_checks_of(sloped, 15, &c, NULL), TW_OK);
    trend_seen += c.trend;
    assert_int_equal(tw_run_checks_of(stepped, 15, &c, NULL), TW_OK);
    jump_seen += c.jump && c.step_after >= 5 && c.step_after <= 7;
  }
  assert_true(trend <= 36 && trend >= 6); /* 20 expected, 3.6 standard deviations */
  assert_true(jump <= 36);                /* Bonferroni: fewer than 20 */
  assert_true(trend_seen > 1900);
  assert_true(jump_seen > 1900);
}

static void up_and_down_differ(void **state)
{
  (void)state;
  const double up[] = {5, 5.1, 4.9, 5.05}, down[] = {4, 4.2, 3.9, 4.1, 4.05};
  tw_difference d;
  assert_int_equal(tw_difference_of(up, 4, down, 5, 0.95, &d, NULL), TW_OK);
  /* by scipy.stats.ttest_ind(up, down, equal_var=False) */
  assert_near(d.difference, 0.9625, 1e-12);
  assert_rel(d.difference / d.u, 14.639030187115464, 1e-12);
  assert_true(d.significant);
}

static void groups_pool_and_stand_out(void **state)
{
  (void)state;
  double x[30];
  uint32_t code[30];
  tw_random random;
  tw_random_start(&random, 3, 1);
  for (uint32_t i = 0; i < 30; i++) {
    code[i] = i % 3;
    x[i] = code[i] + (code[i] == 1 ? 6 : 1) * tw_random_normal(&random);
  }
  tw_groups g;
  assert_int_equal(tw_groups_of(x, code, 30, 3, 0.95, &g, NULL), TW_OK);
  double pooled = 0;
  for (int k = 0; k < 3; k++) {
    assert_int_equal(g.group[k].moments.n, 10);
    pooled += g.group[k].moments.s * g.group[k].moments.s / 3;
  }
  assert_near(g.s_pooled, sqrt(pooled), 1e-12);
  assert_near(g.dof_pooled, 27, 0);
  assert_true(g.cochran_p < 0.01);
  tw_groups_free(&g);
  code[0] = 3; /* one reading alone */
  tw_fault f;
  assert_int_equal(tw_groups_of(x, code, 30, 4, 0.95, &g, &f), TW_BAD_INPUT);
}

static void feed_gives_offset_and_delay(void **state)
{
  (void)state;
  double feed[20], error[20];
  for (int i = 0; i < 20; i++) {
    feed[i] = (30 + 100 * (i % 5)) / 6e4;
    error[i] = 2e-6 + 1.5e-3 * feed[i] + 1e-8 * ((i * 7) % 5 - 2);
  }
  tw_feed_error e;
  assert_int_equal(tw_feed_error_of(feed, error, 20, 0.95, &e, NULL), TW_OK);
  assert_near(e.delay, 1.5e-3, 4 * e.delay_u + 1e-12);
  assert_near(e.offset, 2e-6, 4 * e.offset_u + 1e-14);
  assert_false(e.bent);
  /* 1 ms is 1 um at 60 mm/min and 6.667 um at 400 */
  assert_printed(1e-3 * 60 / 6e4 * 1e6, 1.000, 1e-3);
  assert_printed(1e-3 * 400 / 6e4 * 1e6, 6.667, 1e-3);
  for (int i = 0; i < 20; i++) {
    error[i] += 0.5 * feed[i] * feed[i];
  }
  assert_int_equal(tw_feed_error_of(feed, error, 20, 0.95, &e, NULL), TW_OK);
  assert_true(e.bent);
  for (int i = 0; i < 20; i++) {
    feed[i] = 1e-3;
  }
  tw_fault f;
  assert_int_equal(tw_feed_error_of(feed, error, 20, 0.95, &e, &f), TW_BAD_INPUT);
  assert_non_null(strstr(f.text, "one feed"));
}

static void drift_by_time_and_temperature(void **state)
{
  (void)state;
  double t[40], c[40], x[40];
  for (int i = 0; i < 40; i++) {
    t[i] = 60.0 * i;
    c[i] = 20 + sin(i / 4.0);
    x[i] = 1e-3 + 2e-9 * t[i] + 3e-6 * (c[i] - 20) + 1e-8 * ((i * 11) % 7 - 3);
  }
  tw_drift d;
  assert_int_equal(tw_drift_of(t, c, x, 40, 0.95, &d, NULL), TW_OK);
  assert_near(d.rate, 2e-9, 5 * d.rate_u);
  assert_near(d.per_degree, 3e-6, 5 * d.per_degree_u);
  assert_true(d.rate_interval.low < 2e-9 && d.rate_interval.high > 2e-9);
  for (int i = 0; i < 40; i++) {
    c[i] = 20 + t[i] / 1000;
  }
  tw_fault f;
  assert_int_equal(tw_drift_of(t, c, x, 40, 0.95, &d, &f), TW_NO_ANSWER);
  assert_non_null(strstr(f.text, "change together"));
  assert_int_equal(tw_drift_of(t, NULL, x, 40, 0.95, &d, &f), TW_OK);
}

static void warming_up(void **state)
{
  (void)state;
  double t[30], x[30];
  for (int i = 0; i < 30; i++) {
    t[i] = 100 + 60.0 * i;
    x[i] = 5e-3 + 8e-6 * (1 - exp(-(t[i] - 100) / 400)) + 1e-8 * ((i * 5) % 7 - 3);
  }
  tw_warming w;
  assert_int_equal(tw_warming_of(t, x, 30, &w, NULL), TW_OK);
  assert_near(w.rise, 8e-6, 5 * w.rise_u);
  assert_near(w.settle, 400, 5 * w.settle_u);
  for (int i = 0; i < 30; i++) {
    x[i] = 1e-9 * t[i];
  }
  tw_fault f;
  assert_int_equal(tw_warming_of(t, x, 30, &w, &f), TW_NO_ANSWER);
}

static double mean_figure(const void *self, const size_t *index, size_t n)
{
  const double *x = self;
  double sum = 0;
  for (size_t i = 0; i < n; i++) {
    sum += x[index[i]] / (double)n;
  }
  return sum;
}

static void bootstrap_of_a_mean(void **state)
{
  (void)state;
  double x[50];
  tw_random random;
  tw_random_start(&random, 4, 1);
  for (int i = 0; i < 50; i++) {
    x[i] = tw_random_normal(&random);
  }
  tw_interval b;
  assert_int_equal(tw_bootstrap(mean_figure, x, 50, 2000, 9, 0.95, &b, NULL), TW_OK);
  tw_moments m;
  tw_moments_of(x, 50, 0.95, &m, NULL);
  assert_near(b.low, m.mean - 1.96 * m.s_of_mean, 0.1 * m.s_of_mean * 3);
  assert_near(b.high, m.mean + 1.96 * m.s_of_mean, 0.1 * m.s_of_mean * 3);
  assert_int_equal(tw_bootstrap(mean_figure, x, 1, 2000, 9, 0.95, &b, NULL), TW_BAD_INPUT);
}

/* pretravel of a rigid three-seat probe (docs/models/qualify.md 11): the lobes that the harmonics
 * must find. F0 1.5 N, rho 8 mm, E 600 GPa, L 50 mm, d 2 mm. */
static void three_seat_lobes(void **state)
{
  (void)state;
  const double pi = 3.14159265358979323846;
  static const struct {
    double reach, diameter, low, high, mean, third, sixth;
    double force_low, force_high;
  } rows[] = {{50e-3, 2e-3, 10.6103, 21.2207, 13.3436, 3.6713, 1.3918, 0.12, 0.24},
              {30e-3, 1.5e-3, 12.0722, 24.1444, 0, 0, 0, 0.2, 0.4}};
  for (int k = 0; k < 2; k++) {
    const double rho = 8e-3, f0 = 1.5, reach = rows[k].reach;
    const double i = pi * pow(rows[k].diameter, 4) / 64, give = pow(reach, 3) / (3 * 600e9 * i);
    static double angle[3600], travel[3600];
    double least = 1e9, most = 0;
    for (int a = 0; a < 3600; a++) {
      angle[a] = a * pi / 1800;
      double lever = 0;
      for (int s = 0; s < 3; s++) {
        lever = fmax(lever, cos(angle[a] - s * 2 * pi / 3));
      }
      const double force = f0 / (2 * reach / rho * lever);
      least = fmin(least, force);
      most = fmax(most, force);
      travel[a] = force * give;
    }
    assert_near(least, rows[k].force_low, 1e-9);
    assert_near(most, rows[k].force_high, 1e-9);
    assert_printed(least * give * 1e6, rows[k].low, 1e-4);
    assert_printed(most * give * 1e6, rows[k].high, 1e-4);
    tw_harmonics h;
    assert_int_equal(tw_harmonics_of(angle, travel, 3600, 12, &h, NULL), TW_OK);
    if (k == 0) {
      assert_printed(h.mean * 1e6, 13.3436, 1e-4);
      assert_printed(h.amplitude[3] * 1e6, 3.6713, 1e-4);
      assert_printed(h.amplitude[6] * 1e6, 1.3918, 1e-4);
    }
    assert_near(h.amplitude[2], 0, 1e-15);
  }
  /* 45 degrees of elevation at azimuth 0 */
  assert_printed(1.5 / (sin(pi / 4) + 2 * 50.0 / 8 * cos(pi / 4)), 0.157135, 1e-6);
}

static void record_as_text_and_json(void **state)
{
  (void)state;
  tw_record *r = tw_record_new("repeatability of a \"shop\" probe");
  assert_non_null(r);
  tw_record_condition(r, "feed", "60 mm/min");
  tw_figure_row *f =
      tw_record_figure(r, "repeatability, side", 0.8e-6, "m", "um", 1e6, "2s, n = 10");
  f->has_interval = true;
  f->interval = (tw_interval){0.55e-6, 1.46e-6};
  f->level = 0.95;
  f->has_foreseen = true;
  f->foreseen = 0.6e-6;
  bool any;
  tw_record_verdict(r, &any);
  assert_false(any);
  assert_int_equal(tw_record_decide(r, 0.1e-6, -(double)INFINITY, 1e-6, 0.95, NULL), TW_OK);
  assert_int_equal(tw_record_verdict(r, &any), TW_PROVEN);
  tw_record_figure(r, "offset", 5e-6, "m", "um", 1e6, "(c0 - c180)/2");
  assert_int_equal(tw_record_decide(r, 0.1e-6, -(double)INFINITY, 1e-6, 0.95, NULL), TW_OK);
  assert_int_equal(tw_record_verdict(r, &any), TW_DISPROVEN);
  tw_record_note(r, "reading %d stands out", 4);
  tw_record_caution(r, "a probe is never a safety device");
  const double rose[] = {0, 1e-6, 1, 2e-6};
  tw_record_plot(r, "rose", "azimuth, rad", "residual, m", true, rose, 2);
  assert_true(tw_record_whole(r));
  char *text;
  assert_int_equal(tw_record_text(r, &text, NULL), TW_OK);
  assert_non_null(strstr(text, "2s, n = 10"));
  assert_non_null(strstr(text, "foreseen by the design 0.6 um"));
  assert_non_null(strstr(text, "Decision: non-conformity proven"));
  tw_free(text);
  assert_int_equal(tw_record_json(r, &text, NULL), TW_OK);
  assert_non_null(strstr(text, "{\"title\":\"repeatability of a \\\"shop\\\" "
                               "probe\",\"conditions\":{\"feed\":\"60 mm/min\"}"));
  assert_non_null(strstr(text, "\"limits\":[null,"));
  assert_non_null(
      strstr(text, "\"points\":[[0,9.9999999999999995e-07],[1,1.9999999999999999e-06]]"));
  assert_null(strstr(text, "inf"));
  tw_free(text);
  tw_record_free(r);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(refuses_bad_series),
      cmocka_unit_test(finds_a_step_only_where_there_is_one),
      cmocka_unit_test(shows_the_odd_one),
      cmocka_unit_test(trends_and_jumps),
      cmocka_unit_test(up_and_down_differ),
      cmocka_unit_test(groups_pool_and_stand_out),
      cmocka_unit_test(feed_gives_offset_and_delay),
      cmocka_unit_test(drift_by_time_and_temperature),
      cmocka_unit_test(warming_up),
      cmocka_unit_test(bootstrap_of_a_mean),
      cmocka_unit_test(three_seat_lobes),
      cmocka_unit_test(record_as_text_and_json),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
