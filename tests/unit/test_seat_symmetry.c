/* How seats repeat: the order and the mirror of every family, what spoils them, and that the
 * picture of a touch is the touch itself. */
#include "seat_models.h"
#include "seat_scenes.h"

#include <string.h>

static const double pi = 3.14159265358979323846;

static tw_seat_symmetry symmetry_of(const tw_seat_spec *s)
{
  tw_seat_model *m = model(s);
  tw_seat_symmetry out;
  tw_seat_symmetry_of(m, &out);
  tw_seat_model_free(m);
  return out;
}

static void assert_symmetry(const char *name, const tw_seat_spec *s, size_t order, bool mirrored)
{
  const tw_seat_symmetry got = symmetry_of(s);
  print_message("%s: order %zu, %s\n", name, got.order, got.mirrored ? "mirrored" : "not mirrored");
  assert_int_equal(got.order, order);
  assert_int_equal(got.mirrored, mirrored);
}

static void families(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(.2, .2);
  for (size_t points = 3; points <= 8; points++) {
    char name[32];
    s.points = points;
    s.socket_points = 2 * points;
    snprintf(name, sizeof name, "pivot on %zu points", points);
    assert_symmetry(name, &s, points, true);
  }
  /* three points in a socket of twelve */
  s.points = 3;
  s.socket_points = 12;
  assert_symmetry("three in twelve", &s, 3, true);
  s.points = 4;
  s.socket_points = 9;
  assert_symmetry("four in nine", &s, 1, true);
}

static void spoiled(void **state)
{
  (void)state;
  const double at = pi / 6; /* of a point on the disc, and of one of the twelve in the socket */
  tw_seat_spec s = scene_pivot(.2, .2);
  s.points = 3;
  s.point_azimuth = at;
  s.mass = 5e-3;
  s.mass_height = 4e-3;
  s.gravity[2] = -9.81;
  assert_symmetry("hanging", &s, 3, true);
  s.gravity[2] = 0;
  s.gravity[0] = 9.81 * cos(at);
  s.gravity[1] = 9.81 * sin(at);
  assert_symmetry("lying, a point up", &s, 1, true);
  s.gravity[0] = 9.81 * cos(at + 0.1);
  s.gravity[1] = 9.81 * sin(at + 0.1);
  assert_symmetry("lying askew", &s, 1, false);
  memset(s.gravity, 0, sizeof s.gravity);
  s.point_azimuth = 0.2;
  assert_symmetry("points beside those of the socket", &s, 3, false);
  s.point_azimuth = at;
  s.points = 24;
  s.socket_points = 24;
  assert_symmetry("ring", &s, 24, true);
  s.lobe_height = 0.5e-6;
  s.lobes = 2;
  s.lobe_azimuth = at;
  assert_symmetry("ring of two lobes", &s, 2, true);
  s.lobes = 3;
  s.lobe_azimuth = at + 0.03;
  assert_symmetry("three lobes beside the points", &s, 3, false);
  s.lobe_height = 0;
  s.points = 3;
  s.socket_points = 12;
  s.eccentricity = 0.1e-3;
  s.eccentricity_azimuth = at + pi / 3;
  assert_symmetry("eccentric in the plane of a point", &s, 1, true);
  s.eccentricity_azimuth = at + 0.1;
  assert_symmetry("eccentric beside it", &s, 1, false);
}

/* every direction of the map against the touch that stands for it */
static void pictures_are_touches(void **state)
{
  (void)state;
  static tw_seat_touch_result r[TW_SEAT_DIRECTIONS], picture;
  static size_t first[TW_SEAT_DIRECTIONS];
  for (int friction = 0; friction < 2; friction++) {
    tw_seat_spec s = scene_pivot(.2, .2);
    s.hertz = 6e9;
    s.points = 3;
    s.socket_points = 12;
    s.point_azimuth = 0.1;
    s.friction_socket = s.friction_flat = friction ? .1 : 0;
    tw_seat_model *m = model(&s);
    tw_seat_work *w = tw_seat_work_new(m);
    tw_seat_options o;
    tw_seat_options_default(&o);
    o.threshold = scene_threshold(.05, 3e-3);
    assert_int_equal(tw_seat_map(m, w, 0, TW_SEAT_DIRECTIONS, &o, r, NULL), TW_OK);
    tw_seat_alike(m, TW_SEAT_DIRECTIONS, r, first);
    size_t kinds = 0;
    double force = 0, travel = 0, back = 0;
    for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i++) {
      assert_true(first[i] <= i && first[first[i]] == first[i]);
      kinds += first[i] == i;
      picture = (tw_seat_touch_result){.azimuth = r[i].azimuth, .elevation = r[i].elevation};
      tw_seat_carry_over(m, &r[first[i]], &picture);
      assert_near(picture.azimuth, r[i].azimuth, 0);
      assert_int_equal(picture.state, r[i].state);
      assert_int_equal(picture.open, r[i].open);
      force = fmax(force, fabs(picture.force / r[i].force - 1));
      travel = fmax(travel, fabs(picture.pretravel / r[i].pretravel - 1));
      back = fmax(back, hypot(picture.return_tip[0] - r[i].return_tip[0],
                              picture.return_tip[1] - r[i].return_tip[1]));
    }
    print_message("%s friction: %zu kinds of %d directions; force off by %.1e, pretravel %.1e, "
                  "return %.1e m\n",
                  friction ? "with" : "without", kinds, TW_SEAT_DIRECTIONS, force, travel, back);
    /* the points lie beside those of the socket: no mirror, eight of each row */
    assert_int_equal(kinds, 6 * 8 + 1);
    assert_true(force < 1e-7 && travel < 1e-7 && back < 1e-12);
    tw_seat_work_free(w);
    tw_seat_model_free(m);
  }
}

/* the points on a plane: five of each row, as the sectors meet there */
static void folds(void **state)
{
  (void)state;
  static tw_seat_touch_result r[TW_SEAT_DIRECTIONS];
  static size_t first[TW_SEAT_DIRECTIONS];
  tw_seat_spec s = scene_pivot(.2, .2);
  s.points = 3;
  s.socket_points = 12;
  tw_seat_model *m = model(&s);
  size_t kinds = 0;
  for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i++) {
    tw_seat_direction(i, &r[i].azimuth, &r[i].elevation);
  }
  tw_seat_alike(m, TW_SEAT_DIRECTIONS, r, first);
  for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i++) {
    kinds += first[i] == i;
  }
  assert_int_equal(kinds, 6 * 5 + 1);
  tw_seat_model_free(m);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(families),
      cmocka_unit_test(spoiled),
      cmocka_unit_test(pictures_are_touches),
      cmocka_unit_test(folds),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
