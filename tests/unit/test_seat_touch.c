/* What a touch promises: contributions that add up, no trip as an answer, independence of order,
 * curve and touch agreeing, release, wrench, polarity, gravity, preload of every kind. */
#include "seat_models.h"
#include "seat_scenes.h"

#include <string.h>

/* options as a design has them: charge from before each touch */
static tw_seat_options options(double threshold)
{
  tw_seat_options o;
  tw_seat_options_default(&o);
  o.threshold = threshold;
  return o;
}

static double sum(const double *a, size_t n)
{
  double s = 0;
  for (size_t i = 0; i < n; i++) {
    s += a[i];
  }
  return s;
}

static void contributions_add_up(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(.2, .2);
  s.hertz = 6e9;
  s.points = 3;
  s.friction_socket = s.friction_flat = .1;
  tw_seat_model *m = model(&s);
  tw_seat_work *w = tw_seat_work_new(m);
  const tw_seat_options o = options(scene_threshold(.05, 3e-3));
  static tw_seat_touch_result r[TW_SEAT_DIRECTIONS];
  assert_int_equal(tw_seat_map(m, w, 0, TW_SEAT_DIRECTIONS, &o, r, NULL), TW_OK);
  double worst_f = 0, worst_x = 0;
  for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i++) {
    assert_int_equal(r[i].state, TW_SEAT_TRIPPED);
    assert_true(r[i].force_part[TW_SEAT_DEAD_ZONE] > 0);
    assert_true(r[i].travel_part[TW_SEAT_TIP] > 0);
    worst_f = fmax(worst_f, fabs(sum(r[i].force_part, TW_SEAT_FORCE_PARTS) - r[i].force));
    worst_x = fmax(worst_x, fabs(sum(r[i].travel_part, TW_SEAT_TRAVEL_PARTS) - r[i].pretravel));
  }
  print_message("contributions: off by at most %.1e N and %.1e m over %d directions\n", worst_f,
                worst_x, TW_SEAT_DIRECTIONS);
  assert_true(worst_f < 1e-9 && worst_x < 1e-9 * 1e-3);
  tw_seat_work_free(w);
  tw_seat_model_free(m);
}

static void order_of_directions_does_not_matter(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.2, .2);
  tw_seat_model *m = model(&s);
  tw_seat_work *w = tw_seat_work_new(m), *other = tw_seat_work_new(m);
  const tw_seat_options o = options(scene_threshold(.05, 3e-3));
  static tw_seat_touch_result a[TW_SEAT_DIRECTIONS], b[TW_SEAT_DIRECTIONS];
  assert_int_equal(tw_seat_map(m, w, 0, TW_SEAT_DIRECTIONS, &o, a, NULL), TW_OK);
  for (size_t i = TW_SEAT_DIRECTIONS; i-- > 0;) { /* backwards, one by one, another workspace */
    assert_int_equal(tw_seat_map(m, other, i, 1, &o, &b[i], NULL), TW_OK);
  }
  for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i++) {
    assert_memory_equal(&a[i].force, &b[i].force, sizeof a[i].force);
    assert_memory_equal(&a[i].pretravel, &b[i].pretravel, sizeof a[i].pretravel);
    assert_memory_equal(a[i].force_part, b[i].force_part, sizeof a[i].force_part);
  }
  double azimuth, elevation;
  tw_seat_direction(TW_SEAT_DIRECTIONS - 1, &azimuth, &elevation);
  assert_near(elevation, scene_rad(90), 1e-15);
  tw_seat_direction(25, &azimuth, &elevation);
  assert_near(azimuth, scene_rad(15), 1e-15);
  assert_near(elevation, scene_rad(15), 1e-15);
  tw_seat_work_free(w);
  tw_seat_work_free(other);
  tw_seat_model_free(m);
}

/* the ring is round: so must the answers be */
static void symmetry(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.2, .2);
  const tw_seat_options o = options(scene_threshold(.05, 3e-3));
  const scene_touch a = scene_run(&s, 0, 0, &o);
  for (double az = 30; az < 360; az += 30) {
    const scene_touch b = scene_run(&s, az, 0, &o);
    assert_rel(b.t.force, a.t.force, 1e-6);
    assert_rel(b.t.coordinate, a.t.coordinate, 1e-5);
  }
}

static void no_trip_is_an_answer(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.2, .2);
  tw_seat_options o = options(scene_threshold(50, 3e-3));
  o.search_force = .5;
  const scene_touch r = scene_run(&s, 0, 0, &o);
  assert_int_equal(r.status, TW_OK);
  assert_int_equal(r.t.state, TW_SEAT_NO_TRIP);
  assert_int_equal(r.t.mechanism, TW_SEAT_NONE);
  assert_true(r.t.searched_force >= .5 * (1 - 1e-9) ||
              r.t.searched_travel >= o.search_travel * (1 - 1e-9));
  assert_near(sum(r.t.force_part, TW_SEAT_FORCE_PARTS), 0, 0);
}

/* a circuit that sees one sign only: the axial push gives plus */
static void polarity(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(0, 0);
  tw_seat_options o = options(scene_threshold(.05, 3e-3));
  o.polarity = 1;
  assert_int_equal(scene_run(&s, 0, 90, &o).t.state, TW_SEAT_TRIPPED);
  o.polarity = -1;
  const scene_touch r = scene_run(&s, 0, 90, &o);
  assert_int_equal(r.t.state, TW_SEAT_NO_TRIP);
}

static void curve_meets_touch(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.2, .2);
  tw_seat_model *m = model(&s);
  tw_seat_work *w = tw_seat_work_new(m);
  const tw_seat_options o = options(scene_threshold(.05, 3e-3));
  tw_seat_touch_result t;
  assert_int_equal(tw_seat_touch(m, w, .4, .2, &o, &t, NULL), TW_OK);
  /* three rows whose middle one is the trip */
  enum { rows = 101 };
  static tw_seat_row row[rows];
  assert_int_equal(tw_seat_curve(m, w, .4, .2, &o, 2 * t.pretravel, rows, row, NULL), TW_OK);
  assert_rel(row[rows / 2].force, t.force, 1e-3);
  assert_rel(row[rows / 2].charge, t.charge, 2e-2);
  assert_near(row[0].force, 0, 0);
  assert_near(row[0].charge, 0, 0);
  for (int i = 1; i < rows; i++) {
    assert_true(row[i].force > row[i - 1].force && row[i].tip > row[i - 1].tip);
    assert_near(row[i].travel,
                row[i].tip + row[i].force * (cos(.2) * cos(.2) / s.side_stiffness +
                                             sin(.2) * sin(.2) / s.axial_stiffness),
                1e-11);
  }
  tw_seat_work_free(w);
  tw_seat_model_free(m);
}

/* a weight hung on the tip along the axis: pushed with more than the preload, let go */
static void release(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(0, 0);
  tw_seat_model *m = model(&s);
  tw_seat_work *w = tw_seat_work_new(m);
  const tw_seat_options o = options(scene_threshold(.05, 3e-3));
  double charge;
  assert_int_equal(tw_seat_release(m, w, 0, scene_rad(90), 1.5, &o, &charge, NULL), TW_OK);
  /* the disc bore 1.5 N and bears 1 N again */
  assert_rel(charge, -scene_threshold(.5, 3e-3), 1e-6);
  tw_seat_work_free(w);
  tw_seat_model_free(m);
}

/* an acceleration along the axis only changes how disc and socket share the preload */
static void wrench(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.2, .2);
  tw_seat_model *m = model(&s);
  tw_seat_work *w = tw_seat_work_new(m);
  tw_seat_options o = options(1);
  o.friction = false;
  tw_seat_row row;
  tw_seat_ring ring;
  assert_int_equal(tw_seat_ring_of(tw_seat_plate_points, &scene_plate, 3e-3, 24, &ring, NULL),
                   TW_OK);
  const double up[6] = {0, 0, .2, 0, 0, 0};
  assert_int_equal(tw_seat_wrench(m, w, up, &o, &row, NULL), TW_OK);
  const double share = ring.axial / (ring.axial + 3e6);
  print_message("push of .2 N: disc gains %.6f N, share of stiffness gives %.6f\n",
                row.disc_load - 1, .2 * share);
  assert_rel(row.disc_load - 1, .2 * share, 1e-6);
  assert_rel(row.charge, scene_threshold(row.disc_load - 1, 3e-3), 1e-6);
  /* a socket that sticks takes more of it */
  o.friction = true;
  assert_int_equal(tw_seat_wrench(m, w, up, &o, &row, NULL), TW_OK);
  assert_true(row.disc_load - 1 < .2 * share);
  tw_seat_work_free(w);
  tw_seat_model_free(m);
}

static void gravity(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(0, 0);
  s.mass = .01;
  s.mass_height = -.01;
  const tw_seat_options o = options(scene_threshold(.05, 3e-3));
  const double none = scene_run(&s, 0, 90, &o).t.force;
  s.gravity[2] = -9.80665;
  const double down = scene_run(&s, 0, 90, &o).t.force;
  s.gravity[2] = 9.80665;
  const double up = scene_run(&s, 0, 90, &o).t.force;
  /* upright the weight must be lifted too */
  assert_rel(down - none, .01 * 9.80665, .01);
  assert_rel(none - up, .01 * 9.80665, .01);
  s.gravity[2] = 0;
  s.gravity[0] = 9.80665; /* sideways, it hangs over by weight x height / tilt stiffness */
  tw_seat_model *m = model(&s);
  tw_seat_rest rest;
  tw_seat_rest_of(m, &rest);
  tw_seat_ring ring;
  assert_int_equal(tw_seat_ring_of(tw_seat_plate_points, &scene_plate, 3e-3, 24, &ring, NULL),
                   TW_OK);
  assert_rel(rest.tip[0], .01 * 9.80665 * .01 * .04 / ring.tilt, .01);
  tw_seat_model_free(m);
}

static tw_seat_rest rest_of(const tw_seat_spec *s)
{
  tw_seat_model *m = model(s);
  tw_seat_rest r;
  tw_seat_rest_of(m, &r);
  tw_seat_model_free(m);
  return r;
}

/* P0 = delta / (1/K0 + 1/k_loop + 1/k_socket) x (1 - relaxation), and back */
static void preload_kinds(void **state)
{
  (void)state;
  tw_seat_ring ring;
  assert_int_equal(tw_seat_ring_of(tw_seat_plate_points, &scene_plate, 3e-3, 24, &ring, NULL),
                   TW_OK);
  tw_seat_spec s = scene_pivot(0, 0);
  s.preload = TW_SEAT_BY_INTERFERENCE;
  s.interference = 30e-6;
  s.loop_stiffness = 2e5;
  s.relaxation = .1;
  const double rate = 1 / (1 / ring.axial + 1 / 2e5 + 1 / 3e6);
  tw_seat_rest r = rest_of(&s);
  print_message("interference 30 um: P0 %.6f N, closed form %.6f; rate %.1f (%.1f) N/m\n",
                r.preload, .9 * 30e-6 * rate, r.preload_rate, rate);
  assert_rel(r.preload, .9 * 30e-6 * rate, 1e-8);
  assert_rel(r.preload_rate, rate, 1e-8);
  assert_rel(r.closing, .9 * 30e-6, 1e-12);
  /* a force of that size closes by the same way */
  s.preload = TW_SEAT_BY_FORCE;
  s.force = 30e-6 * rate;
  const tw_seat_rest f = rest_of(&s);
  assert_rel(f.closing, r.closing, 1e-8);
  assert_rel(f.preload, r.preload, 1e-8);
  /* a soft spring in the loop takes the rate */
  s.preload = TW_SEAT_BY_SPRING;
  s.loop_stiffness = 0;
  s.relaxation = 0;
  s.spring_rate = 1000;
  s.force = 1;
  r = rest_of(&s);
  assert_rel(r.preload, 1, 1e-9);
  assert_rel(r.preload_rate, 1 / (1 / ring.axial + 1 / 1000. + 1 / 3e6), 1e-8);
  /* the same spring as a table */
  s.preload = TW_SEAT_BY_TABLE;
  s.table_points = 3;
  for (int i = 0; i < 3; i++) {
    s.table_travel[i] = 1e-3 * i;
    s.table_force[i] = 1.0 * i;
  }
  s.interference = 1e-3;
  const tw_seat_rest t = rest_of(&s);
  assert_rel(t.preload, r.preload, 1e-9);
  assert_rel(t.preload_rate, r.preload_rate, 1e-8);
}

/* a tripod's spring from a table equals the straight spring where the table is straight */
static void spring_from_table(void **state)
{
  (void)state;
  static const double travel[] = {0, 2e-3, 4e-3}, force[] = {0, 1, 2};
  tw_seat_contact c[3];
  memset(c, 0, sizeof c);
  for (int i = 0; i < 3; i++) {
    c[i].place[0] = .01 * cos(2 * SCENE_PI * i / 3);
    c[i].place[1] = .01 * sin(2 * SCENE_PI * i / 3);
    c[i].normal[2] = 1;
    c[i].stiffness = 1e6;
    c[i].senses = true;
  }
  tw_seat_spring hold[4] = {{.along = {1, 0, 0, 0, 0, 0}, .rate = 1e9},
                            {.along = {0, 1, 0, 0, 0, 0}, .rate = 1e9},
                            {.along = {0, 0, 0, 0, 0, 1}, .rate = 1e5},
                            {.along = {0, 0, -1, 0, 0, 0}, .force = 1, .rate = 500, .charge = 1}};
  tw_seat_parts p = {.contact = c,
                     .contacts = 3,
                     .spring = hold,
                     .springs = 4,
                     .tip = {0, 0, -.04},
                     .side_stiffness = 5000,
                     .axial_stiffness = 1e7,
                     .length = .01};
  double got[2][2];
  for (int k = 0; k < 2; k++) {
    if (k == 1) {
      hold[3] = (tw_seat_spring){.along = {0, 0, -1, 0, 0, 0},
                                 .travel = travel,
                                 .table = force,
                                 .points = 3,
                                 .start = 2e-3,
                                 .charge = 1};
    }
    tw_seat_model *m = NULL;
    assert_int_equal(tw_seat_model_from_parts(&p, &m, NULL), TW_OK);
    tw_seat_work *w = tw_seat_work_new(m);
    const tw_seat_options o = options(.05);
    tw_seat_touch_result t;
    assert_int_equal(tw_seat_touch(m, w, .2, 0, &o, &t, NULL), TW_OK);
    assert_int_equal(t.state, TW_SEAT_TRIPPED);
    got[k][0] = t.force;
    got[k][1] = t.pretravel;
    tw_seat_work_free(w);
    tw_seat_model_free(m);
  }
  assert_rel(got[1][0], got[0][0], 1e-7);
  assert_rel(got[1][1], got[0][1], 1e-7);
}

/* friction that locks: held charge leaves the circuit tripped; a leaking one starts anew */
static void tripped_at_rest(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.4, .4);
  tw_seat_options o = scene_options(scene_threshold(.05, 3e-3), 1);
  scene_touch r = scene_run(&s, 0, 0, &o);
  assert_int_equal(r.t.state, TW_SEAT_TRIPPED_AT_REST);
  assert_near(r.t.force, 0, 0);
  assert_near(r.t.pretravel, 0, 0);
  assert_int_equal(r.t.regime, TW_SEAT_LOCKED);
  o.from_assembly = false;
  r = scene_run(&s, 0, 0, &o);
  assert_int_equal(r.t.state, TW_SEAT_TRIPPED);
}

/* ceramic off centre: charge before lift-off on one side, against it on the other */
static tw_status tilted_gain(const void *disc, size_t n, const double *radius,
                             const double *azimuth, double *compliance, double *charge,
                             tw_fault *fault)
{
  const tw_status status =
      tw_seat_plate_points(disc, n, radius, azimuth, compliance, charge, fault);
  for (size_t i = 0; i < n; i++) {
    charge[i] += 60 * radius[i] * cos(azimuth[i]); /* C/N: Q = 60 M_y */
  }
  return status;
}

static void mechanisms(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(0, 0);
  s.disc_points = tilted_gain;
  tw_seat_options o = options(scene_threshold(.05, 3e-3));
  scene_touch r = scene_run(&s, 180, 0, &o);
  print_message("towards: %s, charge %+.4f; ", tw_seat_mechanism_name(r.t.mechanism), r.t.charge);
  assert_int_equal(r.t.mechanism, TW_SEAT_BEFORE_LIFTOFF);
  const double one_way = r.t.charge;
  r = scene_run(&s, 0, 0, &o);
  print_message("away: %s, charge %+.4f; ", tw_seat_mechanism_name(r.t.mechanism), r.t.charge);
  assert_true(r.t.charge * one_way < 0);
  r = scene_run(&s, 90, 0, &o);
  print_message("across: %s\n", tw_seat_mechanism_name(r.t.mechanism));
  assert_int_equal(r.t.mechanism, TW_SEAT_BY_LIFTOFF);
  r = scene_run(&s, 75, 0, &o); /* a quarter of the threshold has come when it lifts */
  assert_int_equal(r.t.mechanism, TW_SEAT_BOTH);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(contributions_add_up),
      cmocka_unit_test(order_of_directions_does_not_matter),
      cmocka_unit_test(symmetry),
      cmocka_unit_test(no_trip_is_an_answer),
      cmocka_unit_test(polarity),
      cmocka_unit_test(curve_meets_touch),
      cmocka_unit_test(release),
      cmocka_unit_test(wrench),
      cmocka_unit_test(gravity),
      cmocka_unit_test(preload_kinds),
      cmocka_unit_test(spring_from_table),
      cmocka_unit_test(tripped_at_rest),
      cmocka_unit_test(mechanisms),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
