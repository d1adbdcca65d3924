/* Cases O17..O19 of docs/models/seat.md and H1 of docs/models/touch.md, to half a unit of the last
 * printed digit; stem stresses of seat.md section 6. */
#include "near.h"
#include "tripwright/stylus.h"

static tw_stylus_spec plain(double diameter, double length, double young)
{
  tw_stylus_spec s = {0};
  s.sections = 1;
  s.section[0] =
      (tw_stylus_section){.length = length, .diameter = diameter, .young = young, .density = 7850};
  s.ball_diameter = 2e-3;
  s.ball_density = 3900;
  s.ball_young = 400e9;
  s.ball_poisson = 0.25;
  s.work_young = 207e9;
  s.work_poisson = 0.29;
  return s;
}

static void o17_ball_in_cup(void **state)
{
  (void)state;
  const tw_hertz_pair pair = {{5.00e-3, -5.05e-3}, {210e9, 2.5e9}, {.3, .38}};
  tw_hertz h;
  assert_int_equal(tw_hertz_solve(&pair, 1, &h, NULL), TW_OK);
  print_message("O17 %.5f um, %.5g N/m, %.2f um, %.4f MPa\n", h.approach * 1e6, h.tangent,
                h.patch * 1e6, h.pressure * 1e-6);
  assert_printed(h.approach * 1e6, .51145, 1e-5);
  assert_printed(h.tangent, 2.9328e6, 1e2);
  assert_printed(h.patch * 1e6, 508.22, .01);
  assert_printed(h.pressure * 1e-6, 1.8486, 1e-4);
}

static void o18_ball_on_flat(void **state)
{
  (void)state;
  const tw_hertz_pair pair = {{1e-3, INFINITY}, {400e9, 70e9}, {.25, .33}};
  tw_hertz h;
  assert_int_equal(tw_hertz_solve(&pair, .1, &h, NULL), TW_OK);
  assert_printed(h.approach * 1e6, .10852, 1e-5);
  assert_printed(h.tangent, 1.3822e6, 1e2);
  assert_printed(h.patch * 1e6, 10.417, 1e-3);
  assert_printed(h.pressure * 1e-6, 439.97, .01);
}

static void h1_ball_on_steel(void **state)
{
  (void)state;
  const tw_hertz_pair pair = {{1e-3, INFINITY}, {400e9, 207e9}, {.25, .29}};
  tw_hertz h;
  assert_int_equal(tw_hertz_solve(&pair, .5, &h, NULL), TW_OK);
  assert_printed(.75 * h.constant / sqrt(1e-3) * 1e-9, 147.746, 1e-3);
  assert_printed(h.constant * 1e-9, 6.2295, 1e-4);
  assert_printed(h.approach * 1e6, .186071, 1e-6);
  assert_printed(h.tangent * 1e-6, 4.03073, 1e-5);
  assert_printed(h.patch * 1e6, 13.6408, 1e-4);
}

static void o19_bending(void **state)
{
  (void)state;
  tw_stylus out;
  tw_stylus_spec s = plain(1.4e-3, 40e-3, 200e9);
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_OK);
  assert_printed(.1 / out.side_stiffness * 1e6, 56.56486, 1e-5);
  s = plain(1.0e-3, 30e-3, 600e9);
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_OK);
  assert_printed(.05 / out.side_stiffness * 1e6, 15.27887, 1e-5);
}

/* MPa per newton at 35 mm: thread roots M2 and M3, stems 1.0 and 1.4 mm */
static void stem_stress(void **state)
{
  (void)state;
  static const double d[] = {1.0e-3, 1.4e-3}, neck[] = {356.5, 129.9};
  static const double root[] = {1.509e-3, 2.387e-3}, thread[] = {103.8, 26.2};
  for (size_t i = 0; i < 2; i++) {
    tw_stylus out;
    tw_stylus_spec s = plain(d[i], 35e-3, 200e9);
    s.thread_root = root[i];
    assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_OK);
    assert_printed(out.neck_stress_side * 1e-6, neck[i], .1);
    assert_printed(out.thread_stress_side * 1e-6, thread[i], .1);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(o17_ball_in_cup),  cmocka_unit_test(o18_ball_on_flat),
      cmocka_unit_test(h1_ball_on_steel), cmocka_unit_test(o19_bending),
      cmocka_unit_test(stem_stress),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
