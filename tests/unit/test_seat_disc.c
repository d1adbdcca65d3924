/* The seat on the real laminate: compliance and charge from the disc room, and the void under the
 * disc used up: how deaf the probe becomes, engine against the disc's own solution. */
#include "near.h"
#include "seat_scenes.h"
#include "tripwright/disc.h"

static tw_disc *disc_new(double void_depth)
{
  tw_disc_spec d;
  tw_disc_spec_default(&d);
  d.metal_radius = 10e-3;
  d.metal_thickness = 0.2e-3;
  d.ceramic_radius = 7e-3;
  d.ceramic_thickness = 0.2e-3;
  d.contact_face = TW_DISC_CERAMIC_FACE;
  d.contact_radius = 3e-3;
  d.support = TW_DISC_LEDGE;
  d.ledge_radius = 9.5e-3;
  d.void_depth = void_depth;
  tw_disc *disc = NULL;
  tw_fault fault = {0};
  const tw_status status = tw_disc_new(&d, &disc, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return disc;
}

static tw_seat_spec on_disc(const tw_disc_view *view, double void_depth)
{
  tw_seat_spec s = scene_pivot(0, 0);
  s.disc_points = tw_disc_points;
  s.disc = view;
  s.void_depth = void_depth;
  s.void_radius = 9.5e-3;
  return s;
}

/* axial stiffness, tilt and gain of the engine's ring are those of the disc room */
static void ring_on_laminate(void **state)
{
  (void)state;
  tw_disc *disc = disc_new(0);
  static const double outside[] = {TW_DISC_OPEN, TW_DISC_SHORT};
  tw_disc_ring at;
  double tilt, half;
  assert_int_equal(tw_disc_at(disc, 3e-3, &at, NULL), TW_OK);
  assert_int_equal(tw_disc_tilt(disc, 3e-3, &tilt, &half, NULL), TW_OK);
  for (int k = 0; k < 2; k++) {
    const tw_disc_view view = {disc, outside[k]};
    tw_seat_ring ring;
    assert_int_equal(tw_seat_ring_of(tw_disc_points, &view, 3e-3, 24, &ring, NULL), TW_OK);
    const double axial = k == 0 ? at.stiffness_open : at.stiffness_short;
    print_message("%s: K0 %.1f, disc %.1f N/m; tilt %.4f, disc %.4f N m/rad; gain %.3f nC/N\n",
                  k == 0 ? "open" : "short", ring.axial, axial, ring.tilt, 1 / tilt,
                  at.charge * 1e9);
    assert_rel(ring.axial, axial, 2e-3);
    assert_rel(ring.tilt, 1 / tilt, 2e-2); /* 24 points for a ring, in a pattern with direction */
    const tw_seat_spec s = on_disc(&view, 0);
    tw_seat_model *m = NULL;
    assert_int_equal(tw_seat_model_new(&s, &m, NULL), TW_OK);
    tw_seat_rest rest;
    tw_seat_rest_of(m, &rest);
    assert_rel(rest.charge_gain, at.charge, 1e-6);
    assert_false(rest.has_backing);
    tw_seat_model_free(m);
  }
  tw_disc_free(disc);
}

/* void deeper than the deflection: nothing changes but that its clearance is told */
static void deep_void(void **state)
{
  (void)state;
  tw_disc *disc = disc_new(60e-6);
  const tw_disc_view view = {disc, TW_DISC_OPEN};
  const tw_seat_spec s = on_disc(&view, 60e-6), none = on_disc(&view, 0);
  tw_seat_model *m = NULL;
  tw_seat_rest rest;
  tw_disc_backed backed;
  assert_int_equal(tw_seat_model_new(&s, &m, NULL), TW_OK);
  tw_seat_rest_of(m, &rest);
  assert_int_equal(tw_disc_press(disc, 3e-3, 1.0, TW_DISC_OPEN, &backed, NULL), TW_OK);
  print_message("60 um void at 1 N: clearance %.3f um, disc %.3f um\n", rest.clearance * 1e6,
                backed.clearance * 1e6);
  assert_true(rest.has_backing && !rest.backed);
  assert_rel(rest.clearance, backed.clearance, 2e-3);
  const tw_seat_options o = scene_options(.05 * fabs(rest.charge_gain), 0);
  const scene_touch a = scene_run(&s, 0, 0, &o), b = scene_run(&none, 0, 0, &o);
  assert_int_equal(a.t.state, TW_SEAT_TRIPPED);
  /* the disc's mesh has other nodes when it is asked for other points */
  assert_rel(a.t.force, b.t.force, 1e-5);
  assert_rel(a.t.pretravel, b.t.pretravel, 1e-5);
  tw_seat_model_free(m);
  tw_disc_free(disc);
}

/* charge of all that presses on the disc at rest, carrier and floor */
static double charge_at_rest(const tw_seat_model *m, const tw_disc *disc)
{
  double radius[TW_SEAT_GROUP], azimuth[TW_SEAT_GROUP], load[TW_SEAT_GROUP], q[TW_SEAT_GROUP];
  tw_seat_work *w = tw_seat_work_new(m);
  const size_t n = tw_seat_disc_loads(m, w, radius, azimuth, load);
  assert_int_equal(tw_disc_charge(disc, n, radius, azimuth, q, NULL), TW_OK);
  double sum = 0;
  for (size_t i = 0; i < n; i++) {
    sum += q[i] * load[i];
  }
  tw_seat_work_free(w);
  return sum;
}

/* void used up at rest: charge and gain as in the disc's own axisymmetric solution, which has the
 * floor as a continuum where the engine has rings of points */
static void void_used_up(void **state)
{
  (void)state;
  static const double preload[] = {1.5, 2, 3, 5, 8};
  tw_disc *disc = disc_new(10e-6);
  const tw_disc_view view = {disc, TW_DISC_OPEN};
  for (int k = 0; k < 5; k++) {
    tw_seat_spec s = on_disc(&view, 10e-6);
    s.force = preload[k];
    tw_seat_model *m = NULL;
    tw_seat_rest rest;
    tw_disc_backed backed;
    assert_int_equal(tw_seat_model_new(&s, &m, NULL), TW_OK);
    tw_seat_rest_of(m, &rest);
    assert_int_equal(tw_disc_press(disc, 3e-3, preload[k], TW_DISC_OPEN, &backed, NULL), TW_OK);
    const double seat = charge_at_rest(m, disc);
    print_message("10 um void, %.1f N: charge %.2f nC, disc's own %.2f; gain left %.3f (%.3f)\n",
                  preload[k], seat * 1e9, backed.charge * 1e9,
                  rest.charge_gain / rest.charge_gain_free,
                  backed.charge_slope / rest.charge_gain_free);
    /* pressed flat out to 2 mm the rings of points are coarse */
    assert_rel(seat, backed.charge, preload[k] > 5 ? .02 : .01);
    assert_int_equal(rest.backed, backed.backing_force > 0);
    assert_near(rest.charge_gain / rest.charge_gain_free,
                backed.charge_slope / rest.charge_gain_free, .03);
    tw_seat_model_free(m);
  }
  tw_disc_free(disc);
}

/* the deaf probe: the same seat over a deep and over a shallow void */
static void deaf(void **state)
{
  (void)state;
  tw_disc *deep = disc_new(60e-6), *shallow = disc_new(5e-6);
  const tw_disc_view views[] = {{deep, TW_DISC_OPEN}, {shallow, TW_DISC_OPEN}};
  static const double depth[] = {60e-6, 5e-6};
  double gain[2], force[2];
  for (int k = 0; k < 2; k++) {
    const tw_seat_spec s = on_disc(&views[k], depth[k]);
    const tw_seat_options o = scene_options(.05 * 106e-9, 0);
    const scene_touch r = scene_run(&s, 0, 90, &o);
    assert_int_equal(r.status, TW_OK);
    gain[k] = fabs(r.rest.charge_gain);
    force[k] = r.t.state == TW_SEAT_TRIPPED ? r.t.force : -1;
    print_message("void %.0f um: gain %.2f nC/N, clearance %.1f um, axial trip %.3f N%s\n",
                  depth[k] * 1e6, gain[k] * 1e9, r.rest.clearance * 1e6, force[k],
                  r.rest.backed ? ", void used up" : "");
    assert_int_equal(r.rest.backed, k == 1);
  }
  print_message("deaf by a factor of %.0f\n", gain[0] / gain[1]);
  assert_true(gain[0] / gain[1] > 5);
  assert_true(force[1] < 0 || force[1] > force[0] + .1);
  tw_disc_free(deep);
  tw_disc_free(shallow);
}

/* three points over a floor: mirror images and thirds of a turn stay alike */
static void floor_adds_no_lobes(void **state)
{
  (void)state;
  tw_disc *disc = disc_new(5e-6);
  const tw_disc_view view = {disc, TW_DISC_OPEN};
  tw_seat_spec s = on_disc(&view, 5e-6);
  s.points = 3;
  const tw_seat_options o = scene_options(2e-9, 0);
  const scene_touch a = scene_run(&s, 40, 0, &o), mirror = scene_run(&s, -40, 0, &o);
  const scene_touch third = scene_run(&s, 160, 0, &o);
  assert_true(a.rest.backed);
  assert_int_equal(a.t.state, TW_SEAT_TRIPPED);
  print_message("over a used-up void: %.6f, mirrored %.6f, a third on %.6f N\n", a.t.force,
                mirror.t.force, third.t.force);
  assert_rel(mirror.t.force, a.t.force, 1e-5);
  assert_rel(third.t.force, a.t.force, 1e-5);
  tw_disc_free(disc);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(ring_on_laminate),    cmocka_unit_test(deep_void),
      cmocka_unit_test(void_used_up),        cmocka_unit_test(deaf),
      cmocka_unit_test(floor_adds_no_lobes),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
