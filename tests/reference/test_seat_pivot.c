/* Pivot cases of docs/models/seat.md: O10..O14 and the rows of its table (section 8), engine
 * against the reference run, 0.5 % (the table to half a unit of its last digit where that is more).
 */
#include "near.h"
#include "seat_scenes.h"

#define ENGINE 0.005

static scene_touch touch(const tw_seat_spec *s, double load, double azimuth, double elevation,
                         size_t prior)
{
  const tw_seat_options o = scene_options(scene_threshold(load, s->flat_radius), prior);
  const scene_touch r = scene_run(s, azimuth, elevation, &o);
  if (r.status != TW_OK) {
    print_error("%s: %s\n", r.fault.field, r.fault.text);
  }
  assert_int_equal(r.status, TW_OK);
  assert_int_equal(r.t.state, TW_SEAT_TRIPPED);
  return r;
}

/* F (N), x and carrier part of x (um) */
static void expect(const char *id, const scene_touch *r, double force, double x, double carrier)
{
  const double coordinate = r->t.coordinate * 1e6;
  const double stem = r->t.travel_part[TW_SEAT_STEM] * 1e6;
  print_message("%-22s F %.5f (%.5f) N  x %.3f (%.3f)  carrier %.3f (%.3f) um  open %zu\n", id,
                r->t.force, force, coordinate, x, coordinate - stem, carrier, r->t.open);
  assert_rel(r->t.force, force, ENGINE);
  assert_rel(coordinate, x, ENGINE);
  assert_rel(coordinate - stem, carrier, ENGINE);
}

static void o10_frictionless(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(0, 0);
  const scene_touch r = touch(&s, 0.05, 0, 0, 1);
  expect("O10 mu 0", &r, 0.06962, 83.467, 70.340);
  assert_int_equal(r.t.open, 17);
  assert_int_equal(r.t.mechanism, TW_SEAT_BY_LIFTOFF);
  /* no charge at all before lift-off, which comes at P0 a/2 */
  assert_rel(r.t.force_part[TW_SEAT_DEAD_ZONE] * 0.04, tw_seat_ring_liftoff(1.0, 3e-3), 1e-6);
}

static void o11_friction(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(0.2, 0.2);
  const scene_touch r = touch(&s, 0.05, 0, 0, 1);
  expect("O11 mu .2", &r, 0.12309, 93.676, 70.467);
  assert_rel(r.t.return_offset * 1e6, 36.425, ENGINE);
  assert_rel(r.t.coordinate - r.t.pretravel, r.t.return_offset, 1e-9);
  assert_int_equal(r.rest.regime, TW_SEAT_PARTIAL);
}

static void o12_larger_flat(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(0, 0);
  s.flat_radius = 4e-3;
  s.flat_height = 3e-3;
  s.force = 2.0;
  const scene_touch r = touch(&s, 0.1, 0, 0, 1);
  expect("O12 a 4 P0 2 T .1", &r, 0.17452, 140.260, 107.353);
}

static void o13_axial(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(0, 0);
  const scene_touch r = touch(&s, 0.05, 0, 90, 1);
  expect("O13 Z", &r, 1.05002, 1.213, 1.167);
}

static void o14_eccentric(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(0, 0);
  s.eccentricity = 0.5e-3;
  scene_touch r = touch(&s, 0.05, 0, 0, 1);
  print_message("O14 tip at rest %.3f um\n", r.rest.tip[0] * 1e6);
  assert_rel(r.rest.tip[0] * 1e6, -10.219, ENGINE);
  assert_rel(r.t.force, 0.07284, ENGINE);
  assert_rel(r.t.coordinate * 1e6, 86.824, ENGINE);
  r = touch(&s, 0.05, 180, 0, 1);
  assert_rel(r.t.coordinate * 1e6, 79.854, ENGINE);
}

/* half a unit of the printed digit, or 0.5 % where that is more */
static double within(double value, double digit)
{
  return fmax(0.5000001 * digit, ENGINE * fabs(value));
}

typedef struct row {
  const char *name;
  double force, x, carrier, residual; /* N, um; < 0: not given */
  double digit;                       /* of force */
} row;

/* a row of the table is a first touch from assembly; its residual is what that touch leaves */
static void expect_row(const tw_seat_spec *s, double load, double elevation, const row *e)
{
  const scene_touch r = touch(s, load, 0, elevation, 0);
  /* the table's x counts from the undisplaced carrier: seated, it stands lower */
  const double se = sin(scene_rad(elevation));
  const double x = (r.t.coordinate + (elevation < 90 ? r.rest.tip[2] * se : 0.0)) * 1e6;
  const double carrier = x - r.t.travel_part[TW_SEAT_STEM] * 1e6;
  print_message("%-18s F %.4f (%.4f) x %.2f (%.2f) carrier %.2f", e->name, r.t.force, e->force, x,
                e->x, carrier);
  assert_near(r.t.force, e->force, within(e->force, e->digit));
  assert_near(x, e->x, within(e->x, e->x < 100 ? 0.1 : 1));
  if (e->carrier >= 0) {
    assert_near(carrier, e->carrier, within(e->carrier, e->carrier < 100 ? 0.1 : 1));
  }
  if (e->residual >= 0) {
    const scene_touch after = touch(s, load, 0, elevation, 1);
    print_message(" residual %.2f (%.2f)", after.t.return_offset * 1e6, e->residual);
    assert_near(after.t.return_offset * 1e6, e->residual,
                within(e->residual, e->residual < 100 ? 0.1 : 1));
  }
  print_message("\n");
}

static void table_preload(void **state)
{
  (void)state;
  static const double p0[] = {0.3, 0.6, 1, 2, 3};
  static const row e[] = {{"P0 .3", .0432, 45.5, 37.3, 10.9, 1e-4},
                          {"P0 .6", .0782, 67.1, 52.4, 21.9, 1e-4},
                          {"P0 1", .1231, 93.7, 70.5, 36.4, 1e-4},
                          {"P0 2", .2320, 156, 112, 72.9, 1e-4},
                          {"P0 3", .3375, 215, 151, 109, 1e-4}};
  for (size_t i = 0; i < 5; i++) {
    tw_seat_spec s = scene_pivot(0.2, 0.2);
    s.force = p0[i];
    expect_row(&s, 0.05, 0, &e[i]);
  }
  static const row smooth[] = {{"mu 0 P0 .3", .0254, 42.1, -1, 0, 1e-4},
                               {"mu 0 P0 1", .0696, 83.5, -1, 0, 1e-4},
                               {"mu 0 P0 3", .1821, 185, -1, 0, 1e-4}};
  static const double ps[] = {0.3, 1, 3};
  for (size_t i = 0; i < 3; i++) {
    tw_seat_spec s = scene_pivot(0, 0);
    s.force = ps[i];
    expect_row(&s, 0.05, 0, &smooth[i]);
  }
}

static void table_threshold_and_flat(void **state)
{
  (void)state;
  static const double load[] = {.02, .1, .2};
  static const row e[] = {{"T .02", .1139, 74.2, -1, 36.4, 1e-4},
                          {"T .1", .1331, 119.8, -1, 36.4, 1e-4},
                          {"T .2", .1488, 166.4, -1, 36.4, 1e-4}};
  for (size_t i = 0; i < 3; i++) {
    const tw_seat_spec s = scene_pivot(0.2, 0.2);
    expect_row(&s, load[i], 0, &e[i]);
  }
  static const double a[] = {3.5e-3, 4e-3, 4.5e-3};
  static const row f[] = {{"a 3.5", .1302, 86.8, -1, 27.2, 1e-4},
                          {"a 4", .1356, 79.4, -1, 20.6, 1e-4},
                          {"a 4.5", .1395, 72.1, -1, 15.0, 1e-4}};
  for (size_t i = 0; i < 3; i++) {
    tw_seat_spec s = scene_pivot(0.2, 0.2);
    s.flat_radius = a[i];
    s.flat_height = sqrt(25e-6 - a[i] * a[i]);
    expect_row(&s, 0.05, 0, &f[i]);
  }
  static const row low[] = {{"a 3 h 0", .1007, 89.0, -1, 20.3, 1e-4},
                            {"a 4 h 0", .1184, 75.7, -1, 13.4, 1e-4}};
  for (size_t i = 0; i < 2; i++) {
    tw_seat_spec s = scene_pivot(0.2, 0.2);
    s.flat_radius = i == 0 ? 3e-3 : 4e-3;
    s.flat_height = 0;
    expect_row(&s, 0.05, 0, &low[i]);
  }
}

static void table_friction(void **state)
{
  (void)state;
  static const double mu[][2] = {{0, 0}, {.1, .1}, {.2, .2}, {.3, .2}, {.4, .2}, {.4, .4}};
  static const row e[] = {
      {"mu 0/0", .0696, 83.5, -1, 0, 1e-4},      {"mu .1/.1", .0962, 88.5, -1, 17.5, 1e-4},
      {"mu .2/.2", .1231, 93.7, -1, 36.4, 1e-4}, {"mu .3/.2", .1381, 96.3, -1, -1, 1e-4},
      {"mu .4/.2", .1514, 98.4, -1, -1, 1e-4},   {"mu .4/.4", .1777, 104.1, -1, -1, 1e-4}};
  static const double residual[] = {0, 17.5, 36.4, 59.3, 116, 101};
  for (size_t i = 0; i < 6; i++) {
    const tw_seat_spec s = scene_pivot(mu[i][0], mu[i][1]);
    expect_row(&s, 0.05, 0, &e[i]);
    /* what is left after the first touch, even where the next one starts tripped */
    tw_seat_options o = scene_options(scene_threshold(0.05, 3e-3), 1);
    o.steps = 64; /* a locked seat keeps some of what the steps leave: 0.3 % at eight of them */
    const scene_touch r = scene_run(&s, 0, 0, &o);
    assert_int_equal(r.status, TW_OK);
    print_message("  residual %.2f (%.2f) um, %s\n", r.t.return_offset * 1e6, residual[i],
                  tw_seat_regime_name(r.rest.regime));
    assert_near(r.t.return_offset * 1e6, residual[i],
                within(residual[i], residual[i] < 100 ? 0.1 : 1));
  }
}

static void table_disc_stem_elevation(void **state)
{
  (void)state;
  static const double k[] = {2e4, 5e4};
  static const row e[] = {{"k 2e4", .1231, 128.6, -1, 54.6, 1e-4},
                          {"k 5e4", .1231, 65.7, -1, 21.9, 1e-4}};
  for (size_t i = 0; i < 2; i++) {
    tw_seat_plate p = scene_plate;
    p.centre_stiffness = k[i];
    tw_seat_spec s = scene_pivot(0.2, 0.2);
    s.disc = &p;
    expect_row(&s, 0.05, 0, &e[i]);
  }
  static const double young[] = {200e9, 600e9, 600e9, 380e9};
  static const double d[] = {1.4e-3, 1.0e-3, 2.0e-3, 1.4e-3};
  static const row f[] = {{"steel 1.4", .1231, 140.1, -1, -1, 1e-4},
                          {"carbide 1", .1231, 159.6, -1, -1, 1e-4},
                          {"carbide 2", .1231, 76.0, -1, -1, 1e-4},
                          {"ceramic 1.4", .1231, 107.1, -1, -1, 1e-4}};
  for (size_t i = 0; i < 4; i++) {
    tw_seat_spec s = scene_pivot(0.2, 0.2);
    scene_stem(&s, young[i], d[i]);
    expect_row(&s, 0.05, 0, &f[i]);
  }
  static const double el[] = {30, 60, 75, 90};
  static const row g[] = {{"e 30", .1396, 80.2, -1, -1, 1e-4},
                          {"e 60", .2337, 45.4, -1, -1, 1e-4},
                          {"e 75", .4264, 22.7, -1, -1, 1e-4},
                          {"e 90", 1.050, 1.21, -1, -1, 1e-3}};
  for (size_t i = 0; i < 4; i++) {
    const tw_seat_spec s = scene_pivot(0.2, 0.2);
    expect_row(&s, 0.05, el[i], &g[i]);
  }
}

static void table_axial(void **state)
{
  (void)state;
  static const double p0[] = {.3, 1, 3};
  static const row e[] = {{"Z P0 .3", .3501, 1.18, -1, -1, 1e-4},
                          {"Z P0 1", 1.0500, 1.21, -1, -1, 1e-4},
                          {"Z P0 3", 3.0501, 1.30, -1, -1, 1e-4}};
  for (size_t i = 0; i < 3; i++) {
    tw_seat_spec s = scene_pivot(0.2, 0.2);
    s.force = p0[i];
    expect_row(&s, 0.05, 90, &e[i]);
  }
  tw_seat_spec soft = scene_pivot(0.2, 0.2);
  soft.socket_stiffness = 3e5;
  static const row f = {"Z soft socket", .5305, 1.19, -1, -1, 1e-4};
  expect_row(&soft, 0.05, 90, &f);
}

/* eccentric flat: trip coordinates from the tip's own rest, friction .2: a first harmonic */
static void table_eccentric(void **state)
{
  (void)state;
  static const double e[] = {.1e-3, .2e-3, .5e-3}, range[] = {1.53, 3.06, 7.65};
  for (size_t i = 0; i < 3; i++) {
    tw_seat_spec s = scene_pivot(0.2, 0.2);
    s.eccentricity = e[i];
    const scene_touch along = touch(&s, 0.05, 0, 0, 0), against = touch(&s, 0.05, 180, 0, 0);
    const double got = (along.t.coordinate - against.t.coordinate) * 1e6;
    print_message("e %.1f mm: range %.3f (%.2f) um, rest %.3f um, from the axis %.2f and %.2f\n",
                  e[i] * 1e3, got, range[i], along.rest.tip[0] * 1e6,
                  (along.t.coordinate + along.rest.tip[0]) * 1e6,
                  (against.t.coordinate - against.rest.tip[0]) * 1e6);
    assert_near(got, range[i], within(range[i], 0.01));
    if (i == 1) {
      assert_printed(along.rest.tip[0] * 1e6, -4.09, 0.01);
    }
    if (i == 2) {
      assert_rel(1e6 * (along.t.coordinate + along.rest.tip[0]), 87.17, ENGINE);
      assert_rel(1e6 * (against.t.coordinate - against.rest.tip[0]), 99.96, ENGINE);
    }
  }
}

/* imperfect rings: range of the trip coordinate over the azimuth at mu .2 */
static double range_over_azimuth(const tw_seat_spec *s, double step)
{
  double most = 0, least = 1;
  for (double az = 0; az < 360; az += step) {
    const scene_touch r = touch(s, 0.05, az, 0, 0);
    most = fmax(most, r.t.coordinate);
    least = fmin(least, r.t.coordinate);
  }
  return (most - least) * 1e6;
}

static void table_imperfect(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(0.2, 0.2);
  s.points = 3;
  const scene_touch a = touch(&s, 0.05, 0, 0, 0), b = touch(&s, 0.05, 60, 0, 0);
  print_message("3 points: %.2f .. %.2f um (83 .. 108)\n", b.t.coordinate * 1e6,
                a.t.coordinate * 1e6);
  assert_printed(b.t.coordinate * 1e6, 83, 1);
  assert_printed(a.t.coordinate * 1e6, 108, 1);
  s.points = 6;
  const double six = range_over_azimuth(&s, 15);
  s.points = 24;
  s.lobes = 2;
  s.lobe_height = 1e-6;
  const double two = range_over_azimuth(&s, 15);
  s.lobe_height = 10e-6;
  const double two10 = range_over_azimuth(&s, 15);
  s.lobes = 3;
  s.lobe_height = 1e-6;
  const double three = range_over_azimuth(&s, 15);
  print_message("6 points %.2f (2.8), 2 lobes 1 um %.2f (11.8), 10 um %.1f (54), 3 lobes 1 um %.2f "
                "(20.8) um\n",
                six, two, two10, three);
  assert_near(six, 2.8, 0.1);
  assert_near(two, 11.8, 0.1);
  assert_near(two10, 54, 0.5);
  assert_near(three, 20.8, 0.1);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(o10_frictionless),
      cmocka_unit_test(o11_friction),
      cmocka_unit_test(o12_larger_flat),
      cmocka_unit_test(o13_axial),
      cmocka_unit_test(o14_eccentric),
      cmocka_unit_test(table_preload),
      cmocka_unit_test(table_threshold_and_flat),
      cmocka_unit_test(table_friction),
      cmocka_unit_test(table_disc_stem_elevation),
      cmocka_unit_test(table_axial),
      cmocka_unit_test(table_eccentric),
      cmocka_unit_test(table_imperfect),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
