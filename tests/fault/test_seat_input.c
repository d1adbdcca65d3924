/* Bad seats: every number of a spec as NaN, infinity, negative; contradictions; nothing that holds;
 * and the n-th allocation failing. Nothing may be NaN, nothing may leak. */
#include "near.h"
#include "seat_scenes.h"
#include "tripwright/stylus.h"

#include <stddef.h>
#include <string.h>

typedef struct number {
  const char *field;
  size_t offset;
} number;

#define NUMBER(path, member)                                                                       \
  {                                                                                                \
    path, offsetof(tw_seat_spec, member)                                                           \
  }

static const number numbers[] = {
    NUMBER("stylus.reach", reach),
    NUMBER("seat.contact", point_azimuth),
    NUMBER("seat.flatness", lobe_height),
    NUMBER("seat.eccentricity", eccentricity),
    NUMBER("seat.eccentricity_azimuth", eccentricity_azimuth),
    NUMBER("seat.ball_radius", ball_radius),
    NUMBER("seat.flat_radius", flat_radius),
    NUMBER("seat.flat_height", flat_height),
    NUMBER("seat.socket_angle", socket_angle),
    NUMBER("seat.socket_stiffness", socket_stiffness),
    NUMBER("seat.friction_socket", friction_socket),
    NUMBER("seat.friction_flat", friction_flat),
    NUMBER("seat.presliding_socket", presliding_socket),
    NUMBER("seat.presliding_flat", presliding_flat),
    NUMBER("preload.force", force),
    NUMBER("preload.loop_stiffness", loop_stiffness),
    NUMBER("preload.relaxation", relaxation),
    NUMBER("support.void_depth", void_depth),
    NUMBER("stylus.stem_diameter", side_stiffness),
    NUMBER("stylus.stem_diameter", axial_stiffness),
    NUMBER("stylus.ball_diameter", hertz),
    NUMBER("environment", gravity[2]),
};

static void refused(const tw_seat_spec *s, const char *field)
{
  tw_seat_model *m = (tw_seat_model *)1;
  tw_fault fault;
  memset(&fault, 0, sizeof fault);
  const tw_status status = tw_seat_model_new(s, &m, &fault);
  if (status != TW_BAD_INPUT || strcmp(fault.field, field) != 0) {
    print_error("%s: status %d, field %s, %s\n", field, (int)status, fault.field, fault.text);
  }
  assert_int_equal(status, TW_BAD_INPUT);
  assert_null(m);
  assert_string_equal(fault.field, field);
  assert_true(strlen(fault.text) > 0 && strlen(fault.hint) > 0);
}

static void every_number(void **state)
{
  (void)state;
  static const double wrong[] = {NAN, INFINITY, -INFINITY};
  for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
    for (size_t k = 0; k < 3; k++) {
      tw_seat_spec s = scene_pivot(.2, .2);
      memcpy((char *)&s + numbers[i].offset, &wrong[k], sizeof wrong[k]);
      refused(&s, numbers[i].field);
    }
  }
}

static void contradictions(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(.2, .2);
  s.flat_radius = 6e-3; /* larger than the ball */
  refused(&s, "seat.flat_radius");
  s = scene_pivot(.2, .2);
  s.force = 0;
  refused(&s, "preload.force");
  s = scene_pivot(.2, .2);
  s.socket_stiffness = 0;
  refused(&s, "seat.socket_stiffness");
  s = scene_pivot(.2, .2);
  s.points = 2;
  refused(&s, "seat.contact");
  s = scene_pivot(.2, .2);
  s.points = 100;
  refused(&s, "seat.contact");
  s = scene_pivot(.2, .2);
  s.socket_points = 2;
  refused(&s, "seat.socket_points");
  s = scene_pivot(.2, .2);
  s.socket_points = 500;
  refused(&s, "seat.socket_points");
  s = scene_pivot(.2, .2);
  s.disc_points = NULL;
  refused(&s, "disc");
  s = scene_pivot(.2, .2);
  s.ball_radius = 12e-3;
  s.flat_radius = 9.6e-3; /* outside the disc's support */
  refused(&s, "seat.flat_radius");
  s = scene_pivot(.2, .2);
  s.preload = TW_SEAT_BY_TABLE;
  refused(&s, "preload.table");
  s = scene_pivot(.2, .2);
  s.preload = TW_SEAT_BY_SPRING;
  refused(&s, "seat.spring_rate");
  s = scene_pivot(.2, .2);
  s.void_depth = 50e-6;
  refused(&s, "support.void_radius");
  s = scene_pivot(.2, .2);
  s.void_depth = 50e-6;
  s.void_radius = 9e-3;
  s.points = 40;
  refused(&s, "seat.contact");
  s = scene_tripod(true);
  s.pitch_radius = 0;
  refused(&s, "seat.pitch_radius");
  s = scene_tripod(true);
  s.seat_stiffness = 0;
  refused(&s, "seat.stiffness");
  s = scene_tripod(true);
  s.vee_angle = 2;
  refused(&s, "seat.vee_angle");
  tw_seat_spec_default(TW_SEATED_BONDED, &s);
  s.reach = .04;
  refused(&s, "seat.bond_radius");
  tw_seat_spec_default((tw_seat_kind)99, &s);
  s.reach = .04;
  refused(&s, "seat.kind");
}

/* a disc that answers nonsense */
static tw_status singular(const void *disc, size_t n, const double *radius, const double *azimuth,
                          double *compliance, double *charge, tw_fault *fault)
{
  (void)disc, (void)radius, (void)azimuth, (void)fault;
  for (size_t i = 0; i < n * n; i++) {
    compliance[i] = 1e-5; /* all points move alike: only one of them can be told apart */
  }
  memset(charge, 0, n * sizeof *charge);
  return TW_OK;
}

static tw_status not_a_number(const void *disc, size_t n, const double *radius,
                              const double *azimuth, double *compliance, double *charge,
                              tw_fault *fault)
{
  (void)disc, (void)radius, (void)azimuth, (void)fault;
  for (size_t i = 0; i < n * n; i++) {
    compliance[i] = NAN;
  }
  memset(charge, 0, n * sizeof *charge);
  return TW_OK;
}

static void impossible_discs(void **state)
{
  (void)state;
  tw_seat_spec s = scene_pivot(.2, .2);
  s.disc_points = singular;
  refused(&s, "disc");
  s.disc_points = not_a_number;
  refused(&s, "disc");
}

/* weight that lifts the carrier off its seat: no balance, and it is said why */
static void cannot_seat(void **state)
{
  (void)state;
  tw_seat_spec s = scene_tripod(true);
  s.mass = 1;
  s.gravity[2] = 9.80665;
  tw_seat_model *m = NULL;
  tw_fault fault = {0};
  assert_int_equal(tw_seat_model_new(&s, &m, &fault), TW_NO_ANSWER);
  print_message("%s: %s\n", fault.field, fault.text);
  assert_string_equal(fault.field, "preload");
  assert_true(strlen(fault.hint) > 0);
  assert_null(m);
}

/* three flats without guide or friction hold nothing sideways */
static void nothing_holds_sideways(void **state)
{
  (void)state;
  tw_seat_spec s = scene_tripod(false);
  s.guided = false;
  tw_seat_options o = scene_options(1, 0);
  o.metric = TW_SEAT_BY_OPENING;
  scene_touch r = scene_run(&s, 0, 0, &o);
  /* it slides along with the tip: no force, no trip */
  assert_int_equal(r.status, TW_OK);
  assert_int_equal(r.t.state, TW_SEAT_NO_TRIP);
  assert_true(r.t.searched_force < 1e-6);
  assert_rel(r.t.searched_travel, o.search_travel, 1e-9);
  /* friction does */
  s.friction_socket = .3;
  r = scene_run(&s, 0, 0, &o);
  assert_int_equal(r.status, TW_OK);
  assert_int_equal(r.t.state, TW_SEAT_TRIPPED);
}

static void bad_options(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.2, .2);
  tw_seat_model *m = NULL;
  assert_int_equal(tw_seat_model_new(&s, &m, NULL), TW_OK);
  tw_seat_work *w = tw_seat_work_new(m);
  tw_seat_touch_result r;
  tw_seat_row row[2];
  double charge;
  tw_fault fault;
  for (int k = 0; k < 9; k++) {
    tw_seat_options o = scene_options(.05, 1);
    double azimuth = 0;
    switch (k) {
    case 0:
      o.threshold = 0;
      break;
    case 1:
      o.threshold = NAN;
      break;
    case 2:
      azimuth = NAN;
      break;
    case 3:
      o.overtravel = -1;
      break;
    case 4:
      o.search_force = 0;
      break;
    case 5:
      o.search_travel = INFINITY;
      break;
    case 6:
      o.opening_force = -1;
      break;
    case 7:
      o.prior_touches = 1000;
      break;
    default:
      o.steps = 10000000;
      break;
    }
    assert_int_equal(tw_seat_touch(m, w, azimuth, 0, &o, &r, &fault), TW_BAD_INPUT);
    assert_int_equal(tw_seat_curve(m, w, azimuth, 0, &o, 1e-4, 2, row, &fault), TW_BAD_INPUT);
  }
  const tw_seat_options o = scene_options(.05, 1);
  assert_int_equal(tw_seat_curve(m, w, 0, 0, &o, NAN, 2, row, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_seat_curve(m, w, 0, 0, &o, 1e-4, 1, row, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_seat_release(m, w, 0, 0, -1, &o, &charge, &fault), TW_BAD_INPUT);
  const double wrench[6] = {0, 0, NAN, 0, 0, 0};
  assert_int_equal(tw_seat_wrench(m, w, wrench, &o, row, &fault), TW_BAD_INPUT);
  /* more than the preload holds */
  const double pull[6] = {0, 0, -1e4, 0, 0, 0};
  const tw_status status = tw_seat_wrench(m, w, pull, &o, row, &fault);
  assert_true(status == TW_OK || status == TW_NO_ANSWER);
  tw_seat_work_free(w);
  tw_seat_model_free(m);
  tw_seat_work_free(NULL);
  tw_seat_model_free(NULL);
}

static void parts_of_nonsense(void **state)
{
  (void)state;
  tw_seat_contact c = {.normal = {0, 0, 2}, .stiffness = 1e6};
  tw_seat_parts p = {.contact = &c, .contacts = 1, .length = .01};
  tw_seat_model *m = NULL;
  tw_fault fault;
  assert_int_equal(tw_seat_model_from_parts(&p, &m, &fault), TW_BAD_INPUT);
  c.normal[2] = 1;
  c.friction = .2; /* without a tangential stiffness */
  assert_int_equal(tw_seat_model_from_parts(&p, &m, &fault), TW_BAD_INPUT);
  c.friction = 0;
  p.load[2] = 1; /* pulled off its only contact */
  assert_int_equal(tw_seat_model_from_parts(&p, &m, &fault), TW_NO_ANSWER);
  p.contacts = 0;
  assert_int_equal(tw_seat_model_from_parts(&p, &m, &fault), TW_BAD_INPUT);
  p.contacts = TW_SEAT_CONTACTS + 1;
  assert_int_equal(tw_seat_model_from_parts(&p, &m, &fault), TW_BAD_INPUT);
  assert_null(m);
}

/* every allocation fails once: TW_NO_MEMORY each time, nothing kept */
static void allocations(void **state)
{
  (void)state;
  const tw_seat_spec s = scene_pivot(.2, .2);
  tw_seat_model *m = NULL;
  tw_alloc_fail_at(0, false); /* count from here */
  assert_int_equal(tw_seat_model_new(&s, &m, NULL), TW_OK);
  const long count = tw_alloc_seen();
  assert_true(count >= 3);
  for (long n = 1; n <= count; n++) {
    tw_seat_model *none = NULL;
    tw_fault fault = {0};
    tw_alloc_fail_at(n, false);
    const tw_status status = tw_seat_model_new(&s, &none, &fault);
    tw_alloc_fail_at(0, false);
    assert_int_equal(status, TW_NO_MEMORY);
    assert_int_equal(fault.status, TW_NO_MEMORY);
    assert_null(none);
  }
  tw_alloc_fail_at(1, false);
  assert_null(tw_seat_work_new(m));
  tw_alloc_fail_at(0, false);
  /* and none at all while touching */
  tw_seat_work *w = tw_seat_work_new(m);
  const tw_seat_options o = scene_options(scene_threshold(.05, 3e-3), 1);
  tw_seat_touch_result r;
  tw_alloc_fail_at(0, false); /* count from here */
  assert_int_equal(tw_seat_touch(m, w, 0, 0, &o, &r, NULL), TW_OK);
  assert_int_equal(tw_alloc_seen(), 0);
  tw_seat_work_free(w);
  tw_seat_model_free(m);
}

static tw_stylus_spec stem(void)
{
  tw_stylus_spec s = {0};
  s.sections = 1;
  s.section[0] =
      (tw_stylus_section){.length = .03, .diameter = 1e-3, .young = 600e9, .density = 14900};
  s.ball_diameter = 2e-3;
  s.ball_density = 3900;
  s.ball_young = 400e9;
  s.ball_poisson = .25;
  s.work_young = 207e9;
  s.work_poisson = .29;
  return s;
}

static void bad_stems(void **state)
{
  (void)state;
  static const double wrong[] = {NAN, 0, -1};
  for (int i = 0; i < 10; i++) {
    for (int k = 0; k < 3; k++) {
      tw_stylus_spec s = stem();
      double *const member[] = {&s.section[0].length,  &s.section[0].diameter, &s.section[0].young,
                                &s.section[0].density, &s.ball_diameter,       &s.ball_density,
                                &s.ball_young,         &s.work_young,          &s.section[0].bore,
                                &s.thread_root};
      if ((i >= 8) && wrong[k] == 0) {
        continue; /* no bore, no thread: allowed */
      }
      *member[i] = wrong[k];
      tw_stylus out;
      tw_fault fault = {0};
      assert_int_equal(tw_stylus_solve(&s, &out, &fault), TW_BAD_INPUT);
      assert_true(strlen(fault.field) > 0 && strlen(fault.text) > 0 && strlen(fault.hint) > 0);
    }
  }
  tw_stylus_spec s = stem();
  tw_stylus out;
  s.sections = 0;
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_BAD_INPUT);
  s.sections = TW_STYLUS_SECTIONS + 1;
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_BAD_INPUT);
  s = stem();
  s.section[0].bore = 1e-3;
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_BAD_INPUT);
  const tw_hertz_pair same = {{1e-3, -1e-3}, {1e9, 1e9}, {.3, .3}};
  tw_hertz h;
  assert_int_equal(tw_hertz_solve(&same, 1, &h, NULL), TW_BAD_INPUT);
  const tw_hertz_pair rigid = {{1e-3, 1e-3}, {INFINITY, INFINITY}, {.3, .3}};
  assert_int_equal(tw_hertz_solve(&rigid, 1, &h, NULL), TW_BAD_INPUT);
  const tw_hertz_pair good = {{1e-3, 1e-3}, {1e9, 1e9}, {.3, .3}};
  assert_int_equal(tw_hertz_solve(&good, NAN, &h, NULL), TW_BAD_INPUT);
  assert_int_equal(tw_hertz_solve(&good, -1, &h, NULL), TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_number),
      cmocka_unit_test(contradictions),
      cmocka_unit_test(impossible_discs),
      cmocka_unit_test(cannot_seat),
      cmocka_unit_test(nothing_holds_sideways),
      cmocka_unit_test(bad_options),
      cmocka_unit_test(parts_of_nonsense),
      cmocka_unit_test(allocations),
      cmocka_unit_test(bad_stems),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
