/* Figures of a crash and of the machine's own moves against computations by hand: two springs for a
 * push along the axis, the series of docs/models/seat.md 2 for moments in a plate, statics of a
 * plate that leaves its disc, and one crash for every view. */
#include "design_fixture.h"
#include "tripwright/assess_crash.h"
#include "tripwright/probe.h"
#include "tripwright/seat_forms.h"

#include <stdlib.h>

static const double pi = 3.14159265358979323846;
static tw_assessment told;
static tw_course course[2];

static void assess(const tw_design *design, bool timed)
{
  tw_assess_options options = tw_assess_defaults();
  options.map = options.contributions = false;
  options.timed = timed;
  tw_fault fault = {0};
  assert_int_equal(tw_crash_of(design, &options, &told, course, &fault), TW_OK);
}

static const char *warning_with(const char *piece)
{
  for (int i = 0; i < told.warnings; i++) {
    if (strstr(told.warning[i].text, piece)) {
      return told.warning[i].text;
    }
  }
  return NULL;
}

/* ---- a push along the axis ------------------------------------------------------------------- */

/* Carrier between two springs: the disc above it (K, its ring stiffness) and the socket under it
 * (k_s). A push F moves it by F/(K + k_s): the disc gets K/(K + k_s) of it, until the socket's
 * preload P_0 = F k_s/(K + k_s) is gone. */
static void a_push_is_shared_by_two_springs(void **state)
{
  (void)state;
  static const char *const socket[] = {"0.2 N/um", "3 N/um", "20 N/um"};
  for (size_t i = 0; i < 3; i++) {
    char text[80];
    snprintf(text, sizeof text, "seat.socket_stiffness=%s", socket[i]);
    const char *const changes[] = {text, NULL};
    tw_design *design = example_changed("pillar-indexer", changes);
    tw_probe *probe = NULL;
    assert_int_equal(tw_probe_new(design, &probe, NULL), TW_OK);
    tw_seat_work *work = tw_seat_work_new(probe->seat);
    double bypass = 0, lift = 0;
    assert_int_equal(tw_probe_bypass(probe, work, &bypass, &lift, NULL), TW_OK);
    const double disc = probe->disc_measures.stiffness_open.value,
                 under = tw_design_number(design, TW_F_seat_socket_stiffness);
    /* three points of the example's seat are softer together than the ring: within 3 % */
    assert_rel(1 - bypass, disc / (disc + under), 0.03);
    assert_rel(lift, probe->rest.preload * (disc + under) / under, 0.03);

    /* the machine's own move: threshold over S x share x m a x 2 (a step on an undamped spring) */
    tw_shaken shaken[3];
    assert_int_equal(tw_probe_shake_move(design, probe, work, NULL, shaken, NULL), TW_OK);
    double a[3], jerk[3];
    tw_probe_acceleration(design, a, jerk);
    const double push = probe->seat_spec.mass * a[2];
    const double volt = fabs(probe->rest.charge_gain) * probe->circuit.charge_gain;
    const double frequency = probe->disc_measures.resonance_loaded.value;
    const double t = jerk[2] > 0 ? a[2] / jerk[2] : 0;
    const double up = t > 0 ? 1 + fabs(sin(pi * t * frequency) / (pi * t * frequency)) : 2;
    assert_true(push * up < lift);
    assert_rel(shaken[2].margin,
               probe->circuit.threshold_voltage / (volt * (1 - bypass) * push * up), 1e-9);
    tw_seat_work_free(work);
    tw_probe_free(probe);
    tw_design_free(design);
  }
}

/* past lift-off the disc gets what is above the socket's share; a probe without a socket all of it
 */
static void past_lift_off_the_disc_gets_the_rest(void **state)
{
  (void)state;
  tw_shake s = {.mass = 0.01,
                .height = 0,
                .arm = 3e-3,
                .volt_per_newton = 0.5,
                .threshold = 0.05,
                .resonance = {1000, 1000, 1000},
                .damping = 0.05,
                .bypass = 0.9,
                .lift_force = 0.05};
  tw_shaken out[3];
  const double jerk[3] = {0, 0, 0};
  /* 2 m a = 0.04 N, below lift-off: a tenth; 0.2 N: 0.2 - 0.9 x 0.05 */
  const double small[3] = {2, 2, 2}, large[3] = {10, 10, 10};
  assert_int_equal(tw_shake_move(&s, small, jerk, out, NULL), TW_OK);
  assert_rel(out[2].node, 0.5 * 0.004, 1e-12);
  assert_int_equal(tw_shake_move(&s, large, jerk, out, NULL), TW_OK);
  assert_rel(out[2].node, 0.5 * 0.155, 1e-12);
  s.bypass = s.lift_force = 0;
  assert_int_equal(tw_shake_move(&s, small, jerk, out, NULL), TW_OK);
  assert_rel(out[2].node, 0.5 * 0.04, 1e-12);
  s.bypass = 1.5;
  tw_fault fault = {0};
  assert_int_equal(tw_shake_move(&s, small, jerk, out, &fault), TW_BAD_INPUT);
}

/* ---- moments in a plate, by the series of docs/models/seat.md 2 -------------------------------
 */

/* B_m of a unit load at b (support's radius 1): A + B = -f, and no moment at the rim */
static double rim_share(int m, double b, double nu)
{
  double f, slope, bend; /* of the singular part at the rim: value, first, second derivative */
  if (m == 0) {          /* (r^2 + b^2) ln r + b^2 */
    f = b * b;
    slope = 1 + b * b;
    bend = 3 - b * b;
    return -(bend + nu * slope) / (2 * (1 + nu));
  }
  if (m == 1) { /* -r b - b^3/(2 r) - 2 r b ln r */
    f = -b - b * b * b / 2;
    slope = -b + b * b * b / 2 - 2 * b;
    bend = -b * b * b - 2 * b;
  } else {
    const double p = pow(b, m), c = 1.0 / (m * (m - 1.0)), d = b * b / (m * (m + 1.0));
    const double e = 2.0 - m, g = -(double)m;
    f = p * (c - d);
    slope = p * (c * e - d * g);
    bend = p * (c * e * (e - 1) - d * g * (g - 1));
  }
  const double right = -(bend + nu * (slope - m * m * f));
  return (right + (1 - nu) * m * (m - 1) * f) /
         ((m + 2) * (m + 1) + nu * (m + 2 - m * m) - (1 - nu) * m * (m - 1));
}

/* mean of the two moments at r, phi under a unit point load at b, 0; `d` is their distance */
static double moment_at(double r, double phi, double d, double b, double nu)
{
  double sum = 4 * log(d) + 4;
  for (int m = 0; m < 200; m++) {
    sum += 4 * (m + 1) * rim_share(m, b, nu) * pow(r, m) * cos(m * phi);
  }
  return -(1 + nu) / (16 * pi) * sum;
}

/* the series gives Roark's figures at the centre: an even patch has ln r_0 - 1/2 in its middle */
static void the_series_gives_the_moment_under_a_patch(void **state)
{
  (void)state;
  const double patch = 0.02, nu = 0.3;
  assert_rel(moment_at(0, 0, patch * exp(-0.5), 1e-9, nu),
             ((1 + nu) * log(1 / patch) + 1) / (4 * pi), 1e-6);
}

/* Three points share a push: the moment under one of them is a third of its own and what the two
 * others give there. The rule "a third as a point, the rest as a ring" is 11 to 21 % above it. With
 * the whole newton under one point it would be 1.6 to 3.4 times as much. */
static void points_share_a_push(void **state)
{
  (void)state;
  static const double at[] = {0.2, 0.3158, 0.45};
  const double nu = 0.3, patch = 0.02 * exp(-0.5);
  for (size_t i = 0; i < 3; i++) {
    const double b = at[i];
    const double ring = tw_crash_ring_moment(nu, b, 1);
    const double point = moment_at(b, 0, patch, b, nu);
    for (int n = 2; n <= 6; n++) {
      double exact = point / n;
      for (int k = 1; k < n; k++) {
        const double phi = 2 * pi * k / n;
        exact += moment_at(b, phi, 2 * b * sin(phi / 2), b, nu) / n;
      }
      const double rule = ring + (point - ring) / n;
      assert_true(rule > 1.1 * exact && rule < 1.21 * exact);
      assert_true(point > 1.5 * exact);
    }
  }
}

/* ... and so the crash of a pivot on three points has it; on a ring no point's share */
static void the_crash_shares_along_the_axis(void **state)
{
  (void)state;
  const char *const ring[] = {"seat.contact=ring", NULL};
  double per_newton[3];
  tw_design *design = example_changed("pillar-indexer", NULL);
  assess(design, false);
  for (int w = 0; w < 2; w++) {
    const tw_course_member *m = &course[w].member[2];
    assert_string_equal(m->name, "ceramic");
    per_newton[w] = m->stress / m->load;
  }
  tw_design_free(design);
  design = example_changed("pillar-indexer", ring);
  assess(design, false);
  per_newton[2] = course[1].member[2].stress / course[1].member[2].load;
  tw_design_free(design);
  /* one point sideways, a third of it along the axis, and two thirds of the ring */
  assert_rel(per_newton[1], (per_newton[0] + 2 * per_newton[2]) / 3, 1e-9);
  assert_true(per_newton[0] > 1.5 * per_newton[1]);
}

/* the moment at a ring of p cos phi is what the series gives for m = 1 */
static void a_tilted_ring_by_the_series(void **state)
{
  (void)state;
  static const double at[] = {0.1, 0.3, 0.6, 0.9};
  const double nu = 0.34;
  for (size_t i = 0; i < 4; i++) {
    /* a point load's m = 1 part is p cos phi with p = 1/(pi b), twice that of an even newton;
     * w = cos phi/(8 pi) x (f_1(r; b) + A r + B r^3), twice over, inside f_1 = -r b - r^3/(2 b) - 2
     * r b ln b; only r^3 has a moment: -(6 + 2 nu) r */
    const double b = at[i], B = rim_share(1, b, nu);
    const double moment = -(6 + 2 * nu) * b * (B - 1 / (2 * b)) / (8 * pi) / 2;
    assert_rel(tw_crash_tilt_moment(nu, b, 1), moment, 1e-9);
  }
}

/* ---- a plate leaves its disc ----------------------------------------------------------------- */

static void a_plate_on_its_disc_has_a_crash_of_its_own(void **state)
{
  (void)state;
  tw_design *design = example_changed("plate-sizer", NULL);
  assess(design, false);
  const double rate = tw_design_number(design, TW_F_seat_spring_rate);
  const double preload = told.measure[TW_M_preload_actual].value;
  /* the spring alone: S + rate x travel, the stem's give beside it */
  assert_rel(course[1].force, preload + rate * course[1].travel, 3e-3);
  const tw_course_member *ceramic = &course[1].member[1];
  assert_string_equal(ceramic->name, "ceramic");
  assert_near(ceramic->load, 0, 0);
  assert_false(ceramic->can_fail);
  /* sideways it stands on one edge: F L/a */
  assert_rel(course[0].member[1].load,
             course[0].force * tw_design_number(design, TW_F_stylus_reach) /
                 tw_design_number(design, TW_F_seat_tipping_radius),
             1e-12);
  tw_design_free(design);
}

/* ---- one crash for every view ---------------------------------------------------------------- */

/* the feeds end where the crash has its first failure, and the touch at the fastest stands there */
static void feeds_and_crash_have_one_room(void **state)
{
  (void)state;
  tw_design *design = example_changed("edge-bonded", NULL);
  assess(design, true);
  const double fails = course[1].member[course[1].first].fail_travel;
  tw_probe *probe = NULL;
  assert_int_equal(tw_probe_new(design, &probe, NULL), TW_OK);
  tw_seat_work *work = tw_seat_work_new(probe->seat);
  const double fastest = told.measure[TW_M_fastest_feed].value;
  tw_probe_touch *touch = malloc(sizeof *touch);
  tw_touch_work *time = tw_touch_work_new();
  tw_touch_motion motion;
  assert_int_equal(tw_probe_touch_of(design, probe, work, 0, pi / 2, touch, NULL), TW_OK);
  assert_near(touch->room, fails, 0);
  assert_string_equal(touch->room_why, "ceramic");
  assert_int_equal(tw_probe_motion(design, probe, fastest, &motion, NULL), TW_OK);
  tw_window_row row = {.feed = fastest};
  assert_int_equal(tw_touch_feeds(&touch->model, &motion, 0, time, &row, 1, NULL), TW_OK);
  assert_rel(row.overtravel, touch->room, 2e-3);

  /* the approach is faster than that: said */
  assert_true(tw_design_number(design, TW_F_machine_approach_feed) > fastest);
  assert_non_null(warning_with("approach feed of 300 mm/min is above the fastest feed"));
  tw_touch_work_free(time);
  free(touch);
  tw_seat_work_free(work);
  tw_probe_free(probe);
  tw_design_free(design);
}

/* a holder that lifts limits the force of a touch, as it limits that of a crash */
static void the_holder_gives_way_in_a_touch(void **state)
{
  (void)state;
  tw_design *design = example_changed("pillar-indexer", NULL);
  assess(design, false);
  tw_probe *probe = NULL;
  assert_int_equal(tw_probe_new(design, &probe, NULL), TW_OK);
  tw_seat_work *work = tw_seat_work_new(probe->seat);
  tw_probe_touch *touch = malloc(sizeof *touch);
  for (int w = 0; w < 2; w++) {
    assert_int_equal(
        tw_probe_touch_of(design, probe, work, course[w].azimuth, course[w].elevation, touch, NULL),
        TW_OK);
    const tw_course *c = &course[w];
    const size_t n = touch->model.carrier.table_count;
    assert_true(touch->x[n - 1] > 0.5 * c->travel);
    /* from the force of the table's last row to the travel that the crash has there, less stem */
    for (size_t i = n - 4; i < n; i++) {
      size_t k = 1;
      while (k + 1 < c->rows && c->row_force[k] < touch->force[i]) {
        k++;
      }
      if (c->row_force[k] < touch->force[i]) {
        continue;
      }
      const double share =
          (touch->force[i] - c->row_force[k - 1]) / (c->row_force[k] - c->row_force[k - 1]);
      const double before = c->row_travel[k - 1] - c->row_stage[0][k - 1],
                   after = c->row_travel[k] - c->row_stage[0][k];
      assert_rel(touch->x[i], before + share * (after - before), 0.08);
    }
  }
  free(touch);
  tw_seat_work_free(work);
  tw_probe_free(probe);
  tw_design_free(design);
}

/* a layer whose stress has no answer is named, and the crash does without it */
static void a_layer_without_a_stress_is_told(void **state)
{
  (void)state;
  static const char text[] =
      "design: flat\n"
      "disc: {part: brass_20_6k3, contact_face: metal, poling: plus}\n"
      "support: {kind: flat}\n"
      "seat: {kind: bonded, bond_radius: 1.5 mm}\n"
      "stylus: {reach: 20 mm, stem: carbide, stem_diameter: 1 mm, ball_diameter: 2 mm}\n"
      "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_cmos_pp, bias_upper: 100 "
      "kohm,"
      " bias_lower: 33 kohm, bias_resistance: 10 Mohm, reference_upper: 100 kohm,"
      " reference_lower: 39 kohm, feedback_resistance: 2.2 Mohm}\n";
  const tw_read_options reading = {
      .units = units, .library = library, .need = TW_NEED_ALL, .no_shop = true};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  const tw_status status =
      tw_design_parse(text, sizeof text - 1, "flat", &reading, messages, &design);
  print_messages(messages);
  tw_messages_free(messages);
  assert_int_equal(status, TW_OK);
  assess(design, false);
  assert_int_equal(told.measure[TW_M_ceramic_stress_ratio].state, TW_MEASURE_NO_ANSWER);
  assert_int_equal(told.measure[TW_M_crash_force].state, TW_MEASURE_OK);
  assert_non_null(strstr(told.measure[TW_M_ceramic_stress_ratio].note, "no bending stress"));
  assert_non_null(warning_with("The crash leaves the disc out"));
  tw_design_free(design);
}

/* a preload that breaks the ceramic by itself is said, one that does not is not */
static void a_preload_that_breaks_the_ceramic_is_said(void **state)
{
  (void)state;
  tw_design *design = example_changed("pillar-indexer", NULL);
  assess(design, false);
  assert_null(warning_with("alone brings the ceramic"));
  tw_design_free(design);
  const char *const heavy[] = {"disc.allowable_tension=1 MPa", "preload.force=3 N",
                               "support.void_depth=400 um", NULL};
  design = example_changed("pillar-indexer", heavy);
  assess(design, false);
  assert_non_null(warning_with("alone brings the ceramic"));
  const tw_course *c = &course[1];
  assert_true(c->fails && c->member[c->first].fail_travel < 1e-6);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_push_is_shared_by_two_springs),
      cmocka_unit_test(past_lift_off_the_disc_gets_the_rest),
      cmocka_unit_test(the_series_gives_the_moment_under_a_patch),
      cmocka_unit_test(points_share_a_push),
      cmocka_unit_test(the_crash_shares_along_the_axis),
      cmocka_unit_test(a_tilted_ring_by_the_series),
      cmocka_unit_test(a_plate_on_its_disc_has_a_crash_of_its_own),
      cmocka_unit_test(feeds_and_crash_have_one_room),
      cmocka_unit_test(the_holder_gives_way_in_a_touch),
      cmocka_unit_test(a_layer_without_a_stress_is_told),
      cmocka_unit_test(a_preload_that_breaks_the_ceramic_is_said),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
