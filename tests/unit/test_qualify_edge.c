/* One edge, before and after the tip table: by hand, and against made walls. */
#include "near.h"
#include "tripwright/edge.h"
#include "tripwright/qualify_tip.h"
#include "tripwright/random.h"

#define UM  1e-6
#define DEG (3.14159265358979323846 / 180.0)

static void by_hand(void **state)
{
  (void)state;
  /* early by 4 to 12 um, 0.3 um scatter, table known to 0.4 um: 12 + 0.6; 2 x 0.5 */
  const tw_edge_parts parts = {4 * UM, 12 * UM, 0.3 * UM, 0.4 * UM};
  tw_found_edge e;
  assert_int_equal(tw_edge_of(&parts, &e, NULL), TW_OK);
  assert_near(e.before, 12.6 * UM, 1e-18);
  assert_near(e.after, 1.0 * UM, 1e-18);
  /* late is as wrong as early */
  const tw_edge_parts late = {-12 * UM, 4 * UM, 0.3 * UM, 0};
  assert_int_equal(tw_edge_of(&late, &e, NULL), TW_OK);
  assert_near(e.before, 12.6 * UM, 1e-18);
  assert_near(e.after, 0.6 * UM, 1e-18);
  const tw_edge_parts bad[] = {{NAN, 0, 0, 0}, {0, INFINITY, 0, 0}, {0, 0, -1, 0}, {0, 0, 0, -1}};
  for (size_t i = 0; i < 4; i++) {
    assert_int_equal(tw_edge_of(&bad[i], &e, NULL), TW_BAD_INPUT);
  }
}

/* effective radius of a made probe: a ball of 6 mm that trips 7 um early, with three lobes */
static double made(double azimuth)
{
  return 3e-3 - 7 * UM + 2.5 * UM * cos(3 * azimuth - 1);
}

/* 40 made probes, each with a table of its own: of the single edges that they find, the share
 * within `after` is that of k = 2, and all lie within `before` if the table is left away */
static void holds_for_made_edges(void **state)
{
  (void)state;
  static tw_tip tip;
  double within = 0, all = 0, without = 0, foreseen = 0;
  for (unsigned k = 0; k < 40; k++) {
    tw_random random;
    double point[72];
    tw_random_start(&random, 5, k);
    for (int i = 0; i < 36; i++) {
      const double at = i * 10 * DEG;
      const double rho = 25e-3 - made(at + 180 * DEG) + 0.4 * UM * tw_random_normal(&random);
      point[2 * i] = rho * cos(at);
      point[2 * i + 1] = rho * sin(at);
    }
    assert_int_equal(tw_tip_from_points(point, 36, TW_RING, 50e-3, 0, 6, 0, &tip, NULL), TW_OK);
    tw_found_edge e;
    assert_int_equal(tw_tip_edge(&tip, 6e-3, &e, NULL), TW_OK);
    assert_rel(e.before, 10.3 * UM, 0.12); /* 7 + 2.5 early, and 2 x 0.4 */
    foreseen += e.after / 40;
    for (int i = 0; i < 50; i++) {
      const double azimuth = i * 7.2 * DEG;
      const double late = made(azimuth) + 0.4 * UM * tw_random_normal(&random);
      double radius, u;
      assert_true(tw_tip_radius(&tip, azimuth, &radius, &u));
      within += fabs(late - radius) <= e.after;
      without += fabs(late - 3e-3) <= e.before;
      all++;
    }
  }
  print_message("within after %.1f %%, within before %.1f %%\n", 100 * within / all,
                100 * without / all);
  assert_near(within / all, 0.95, 0.02);
  assert_true(without / all > 0.99);
  /* what a design foresees with the same scatter */
  const tw_edge_parts parts = {4.5 * UM, 9.5 * UM, 0.4 * UM, tw_edge_table_u(0.4 * UM, 36, 6)};
  tw_found_edge e;
  assert_int_equal(tw_edge_of(&parts, &e, NULL), TW_OK);
  assert_rel(e.after, foreseen, 0.05);
}

static void without_the_ball_there_is_no_before(void **state)
{
  (void)state;
  static tw_tip tip;
  tip = (tw_tip){.kind = TW_TIP_HARMONICS, .count = 1, .residual_s = 0.3 * UM};
  tip.row[0] = (tw_tip_row){.a = 2.99e-3, .u = 0.4 * UM};
  tw_found_edge e;
  assert_int_equal(tw_tip_edge(&tip, (double)NAN, &e, NULL), TW_OK);
  assert_true(isnan(e.before));
  assert_near(e.after, 1.0 * UM, 1e-15);
  assert_int_equal(tw_tip_edge(&tip, 6e-3, &e, NULL), TW_OK);
  assert_near(e.before, 10.6 * UM, 1e-15);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(by_hand),
      cmocka_unit_test(holds_for_made_edges),
      cmocka_unit_test(without_the_ball_there_is_no_before),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
