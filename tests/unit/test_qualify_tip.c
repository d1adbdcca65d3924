/* Tip tables: made touches of a known probe, out to text and back, and points corrected. */
#include "near.h"
#include "tripwright/qualify_tip.h"
#include "tripwright/random.h"

#include <string.h>

#define DEG (3.14159265358979323846 / 180.0)
#define N   72

/* recorded positions inside a ring: wall at D/2, effective radius r(az) = 3 mm + 2 um cos 3 az */
static double made_radius(double azimuth)
{
  return 3e-3 + 2e-6 * cos(3 * azimuth - 40 * DEG);
}

static void touches(tw_feature feature, double size, double scatter, double *point)
{
  tw_random random;
  tw_random_start(&random, 8, feature);
  for (int i = 0; i < N; i++) {
    const double at = 360.0 * i / N * DEG, azimuth = feature == TW_RING ? at + 180 * DEG : at;
    const double r = made_radius(azimuth) + scatter * tw_random_normal(&random);
    const double rho = feature == TW_RING ? size / 2 - r : size / 2 + r;
    point[2 * i] = 0.12 + rho * cos(at);
    point[2 * i + 1] = -0.05 + rho * sin(at);
  }
}

static void ring_and_boss_give_the_tip(void **state)
{
  (void)state;
  static double point[2 * N];
  static tw_tip tip;
  for (int f = 0; f < 2; f++) {
    const tw_feature feature = f ? TW_BOSS : TW_RING;
    touches(feature, 0.05, 0.0, point);
    assert_int_equal(tw_tip_from_points(point, N, feature, 0.05, 0.2e-6, 6, 0, &tip, NULL), TW_OK);
    assert_near(tip.diameter, 6e-3, 1e-9);
    for (int a = 0; a < 360; a += 7) {
      double radius, u;
      assert_true(tw_tip_radius(&tip, a * DEG, &radius, &u));
      assert_near(radius, made_radius(a * DEG), 2e-9);
      assert_true(u >= 0.1e-6);
    }
  }
}

static void bins_follow_and_gaps_are_refused(void **state)
{
  (void)state;
  static double point[2 * N];
  static tw_tip tip;
  touches(TW_RING, 0.05, 0.0, point);
  assert_int_equal(tw_tip_from_points(point, N, TW_RING, 0.05, 0, 0, 24, &tip, NULL), TW_OK);
  assert_int_equal(tip.count, 24);
  double radius, u;
  assert_true(tw_tip_radius(&tip, 100 * DEG, &radius, &u));
  assert_near(radius, made_radius(100 * DEG),
              0.4e-6); /* straight lines between bins of 15 degrees */
  assert_int_equal(tw_tip_from_points(point, N, TW_RING, 0.05, 0, 0, 72, &tip, NULL), TW_BAD_INPUT);
  /* four bins of 90 degrees do not cover what lies between them */
  assert_int_equal(tw_tip_from_points(point, N, TW_RING, 0.05, 0, 0, 4, &tip, NULL), TW_OK);
  assert_false(tw_tip_radius(&tip, 45 * DEG, &radius, &u));
  assert_true(tw_tip_radius(&tip, 90 * DEG, &radius, &u));
}

static void uncertainty_is_as_large_as_the_scatter_says(void **state)
{
  (void)state;
  static double point[2 * N];
  static tw_tip tip;
  touches(TW_RING, 0.05, 0.5e-6, point);
  assert_int_equal(tw_tip_from_points(point, N, TW_RING, 0.05, 0, 6, 0, &tip, NULL), TW_OK);
  assert_rel(tip.residual_s, 0.5e-6, 0.25);
  double radius, u;
  assert_true(tw_tip_radius(&tip, 1.0, &radius, &u));
  /* mean: s/sqrt n; five harmonics of variance 2 s^2/n each */
  assert_rel(u, tip.residual_s * sqrt((1 + 5 * 2.0) / N), 0.02);
  assert_rel(tip.diameter_u, 2 * tip.residual_s / sqrt(N), 0.2);
}

/* a point touched on a wall at x = 80 mm, from inside, with offset, another feed and a turned
 * spindle, comes back to the wall */
static void points_come_back_to_the_wall(void **state)
{
  (void)state;
  static double point[2 * N];
  static tw_tip tip;
  touches(TW_RING, 0.05, 0.0, point);
  assert_int_equal(tw_tip_from_points(point, N, TW_RING, 0.05, 0, 6, 0, &tip, NULL), TW_OK);
  tip.feed = 60 / 6e4;
  tip.feed_low = 30 / 6e4;
  tip.feed_high = 500 / 6e4;
  tip.delay = 1e-3;
  tip.delay_u = 0.05e-3;
  tip.offset[0] = 7e-6;
  tip.offset[1] = -2e-6;
  tip.offset_u = 0.2e-6;
  const double feed = 400 / 6e4, azimuth = 180 * DEG, spindle = 90 * DEG;
  tw_touched t = {.azimuth = azimuth, .feed = feed, .spindle = spindle, .u = 0.3e-6};
  /* true tip centre at the trip: wall - r, the lobes turned with the spindle; the machine has run
   * on by (feed - 60) delay; the recorded spindle position lacks the turned offset R(90)(7, -2) =
   * (2, 7) um */
  t.at[0] = 0.08 - made_radius(azimuth - spindle) + (feed - tip.feed) * tip.delay - 2e-6;
  t.at[1] = 0.01 - 7e-6;
  tw_surface s;
  assert_int_equal(tw_tip_apply(&tip, &t, &s, NULL), TW_OK);
  assert_near(s.at[0], 0.08, 3e-9);
  assert_near(s.at[1], 0.01, 1e-12);
  double radius, u;
  tw_tip_radius(&tip, azimuth, &radius, &u);
  assert_rel(
      s.u,
      sqrt(0.3e-6 * 0.3e-6 + u * u + 0.2e-6 * 0.2e-6 + pow((feed - tip.feed) * tip.delay_u, 2)),
      1e-12);
  tw_fault fault;
  t.feed = 600 / 6e4;
  assert_int_equal(tw_tip_apply(&tip, &t, &s, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "30 to 500 mm/min"));
  tip.feed_high = tip.feed_low = 0;
  assert_int_equal(tw_tip_apply(&tip, &t, &s, &fault), TW_BAD_INPUT);
  t.feed = tip.feed;
  t.azimuth = (double)NAN;
  assert_int_equal(tw_tip_apply(&tip, &t, &s, &fault), TW_BAD_INPUT);
}

static void effective_diameters(void **state)
{
  (void)state;
  tw_diameter d;
  assert_int_equal(tw_effective_diameter(TW_RING, 50e-3, 3e-7, 44.013e-3, 4e-7, &d, NULL), TW_OK);
  assert_near(d.value, 5.987e-3, 1e-15);
  assert_near(d.u, 5e-7, 1e-15);
  assert_int_equal(tw_effective_diameter(TW_BLOCK, 20e-3, 0, 25.99e-3, 0, &d, NULL), TW_OK);
  assert_near(d.value, 5.99e-3, 1e-15);
  assert_int_equal(tw_effective_diameter(TW_BLOCK, 20e-3, 0, 14e-3, 0, &d, NULL), TW_NO_ANSWER);
  assert_int_equal(tw_effective_diameter(TW_SLOT, (double)NAN, 0, 14e-3, 0, &d, NULL),
                   TW_BAD_INPUT);
}

static void text_and_back(void **state)
{
  (void)state;
  static double point[2 * N];
  static tw_tip tip, back;
  for (int bins = 0; bins < 2; bins++) {
    touches(TW_BOSS, 0.025, 0.3e-6, point);
    assert_int_equal(
        tw_tip_from_points(point, N, TW_BOSS, 0.025, 1e-7, bins ? 0 : 5, bins ? 24 : 0, &tip, NULL),
        TW_OK);
    snprintf(tip.stylus, sizeof tip.stylus, "steel 1.5 x 30, ball 6");
    snprintf(tip.filter, sizeof tip.filter, "none\nsecond line");
    tip.feed = 1e-3;
    tip.approach = 3e-3;
    tip.delay = 1.5e-3;
    tip.offset[1] = -4e-6;
    char *text;
    assert_int_equal(tw_tip_write(&tip, &text, NULL), TW_OK);
    tw_messages *m = tw_messages_new();
    assert_int_equal(tw_tip_read_text("tip.csv", text, strlen(text), m, &back), TW_OK);
    assert_string_equal(back.stylus, tip.stylus);
    assert_string_equal(back.filter, "none second line");
    assert_int_equal(back.kind, tip.kind);
    assert_int_equal(back.count, tip.count);
    assert_rel(back.delay, tip.delay, 1e-10);
    assert_rel(back.offset[1], tip.offset[1], 1e-10);
    for (int a = 0; a < 360; a += 11) {
      double r1, u1, r2, u2;
      assert_true(tw_tip_radius(&tip, a * DEG, &r1, &u1));
      assert_true(tw_tip_radius(&back, a * DEG, &r2, &u2));
      assert_rel(r2, r1, 1e-9);
      assert_rel(u2, u1, 1e-8);
    }
    /* a missing condition and a spoilt one are refused */
    char *feed = strstr(text, "# feed_mm_min");
    feed[2] = 'F';
    assert_int_equal(tw_tip_read_text("tip.csv", text, strlen(text), m, &back), TW_BAD_INPUT);
    feed[2] = 'f';
    feed[15] = 'x';
    assert_int_equal(tw_tip_read_text("tip.csv", text, strlen(text), m, &back), TW_BAD_INPUT);
    tw_messages_free(m);
    tw_free(text);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(ring_and_boss_give_the_tip),
      cmocka_unit_test(bins_follow_and_gaps_are_refused),
      cmocka_unit_test(uncertainty_is_as_large_as_the_scatter_says),
      cmocka_unit_test(points_come_back_to_the_wall),
      cmocka_unit_test(effective_diameters),
      cmocka_unit_test(text_and_back),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
