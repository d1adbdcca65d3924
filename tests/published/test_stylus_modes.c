/* First bending mode and stiffness of stems against published closed forms: the cantilever of
 * Blevins / Timoshenko (1.87510407^2, from memory), its tip-mass characteristic equation solved
 * here, and the stepped cantilever of Roark by superposition. */
#include "near.h"
#include "tripwright/stylus.h"

#define PI 3.14159265358979323846

static tw_stylus_spec plain(double ball_density)
{
  tw_stylus_spec s = {0};
  s.sections = 1;
  s.section[0] =
      (tw_stylus_section){.length = .03, .diameter = 1.5e-3, .young = 600e9, .density = 14900};
  s.ball_diameter = 2e-3;
  s.ball_density = ball_density;
  s.ball_young = 400e9;
  s.ball_poisson = .25;
  s.work_young = 207e9;
  s.work_poisson = .29;
  return s;
}

static double beam_frequency(const tw_stylus_section *p, double k)
{
  const double ei = p->young * PI * pow(p->diameter, 4) / 64;
  const double m = p->density * PI * p->diameter * p->diameter / 4;
  return k * k / (2 * PI * p->length * p->length) * sqrt(ei / m);
}

static void cantilever_without_ball(void **state)
{
  (void)state;
  tw_stylus out;
  const tw_stylus_spec s = plain(1e-9);
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_OK);
  const double exact = beam_frequency(&s.section[0], 1.8751040687119611);
  print_message("cantilever %.4f Hz, exact %.4f Hz (%.1e)\n", out.first_mode, exact,
                out.first_mode / exact - 1);
  assert_rel(out.first_mode, exact, 1e-5);
  /* a quarter of the stem's mass at the tip, nearly: 33/140 by Rayleigh, .2427 exactly */
  assert_rel(out.tip_mass / out.stem_mass, 3 / pow(1.8751040687119611, 4), 1e-4);
}

/* 1 + cos k cosh k = r k (sin k cosh k - cos k sinh k), r = tip mass over beam mass */
static double tip_mass_root(double r)
{
  double low = .1, high = 1.9;
  for (int i = 0; i < 200; i++) {
    const double k = .5 * (low + high);
    const double f = 1 + cos(k) * cosh(k) - r * k * (sin(k) * cosh(k) - cos(k) * sinh(k));
    low = f > 0 ? k : low;
    high = f > 0 ? high : k;
  }
  return .5 * (low + high);
}

static void cantilever_with_ball(void **state)
{
  (void)state;
  static const double density[] = {1000, 3900, 15000, 200000};
  for (int i = 0; i < 4; i++) {
    tw_stylus out;
    const tw_stylus_spec s = plain(density[i]);
    assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_OK);
    const double exact =
        beam_frequency(&s.section[0], tip_mass_root(out.ball_mass / out.stem_mass));
    print_message("ball %.4f of the stem: %.4f Hz, exact %.4f\n", out.ball_mass / out.stem_mass,
                  out.first_mode, exact);
    assert_rel(out.first_mode, exact, 1e-5);
  }
}

/* a section cut in pieces is the same section */
static void cutting_changes_nothing(void **state)
{
  (void)state;
  tw_stylus whole, cut;
  tw_stylus_spec s = plain(3900);
  assert_int_equal(tw_stylus_solve(&s, &whole, NULL), TW_OK);
  s.sections = 4;
  for (int i = 0; i < 4; i++) {
    s.section[i] = s.section[0];
  }
  for (int i = 0; i < 4; i++) {
    s.section[i].length = .03 * (i + 1) / 10;
  }
  assert_int_equal(tw_stylus_solve(&s, &cut, NULL), TW_OK);
  assert_rel(cut.side_stiffness, whole.side_stiffness, 1e-12);
  assert_rel(cut.axial_stiffness, whole.axial_stiffness, 1e-12);
  assert_rel(cut.side_slope, whole.side_slope, 1e-12);
  assert_rel(cut.stem_mass, whole.stem_mass, 1e-12);
  assert_rel(cut.mass_centre, whole.mass_centre, 1e-12);
  assert_rel(cut.neck_stress_side, whole.neck_stress_side, 1e-12);
  assert_rel(cut.first_mode, whole.first_mode, 1e-5);
}

/* two steps, by superposition of cantilevers (Roark, beams, from memory): the end of the thick
 * part gives deflection and slope, the thin one adds its own */
static void stepped_stem(void **state)
{
  (void)state;
  tw_stylus_spec s = plain(3900);
  s.sections = 2;
  s.section[0].length = .012;
  s.section[0].diameter = 1e-3;
  s.section[1] = s.section[0];
  s.section[1].length = .02;
  s.section[1].diameter = 1.8e-3;
  tw_stylus out;
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_OK);
  const double e = 600e9, i1 = PI * 1e-12 / 64, i2 = PI * pow(1.8e-3, 4) / 64, a = .012, b = .02;
  const double end = b * b * b / (3 * e * i2) + a * b * b / (2 * e * i2);
  const double slope = b * b / (2 * e * i2) + a * b / (e * i2);
  const double total = end + slope * a + a * a * a / (3 * e * i1);
  assert_rel(1 / out.side_stiffness, total, 1e-12);
  assert_rel(out.side_slope, slope + a * a / (2 * e * i1), 1e-12);
  assert_rel(1 / out.axial_stiffness, a / (e * PI * 1e-6 / 4) + b / (e * PI * 1.8e-3 * 1.8e-3 / 4),
             1e-12);
  /* stress: 32 F x/(pi d^3) at the root side of each; here the thin one governs */
  const double thin = 32 * a / (PI * 1e-9), thick = 32 * (a + b) / (PI * pow(1.8e-3, 3));
  assert_rel(out.neck_stress_side, fmax(thin, thick), 1e-12);
  assert_int_equal(out.neck_section, thin > thick ? 0 : 1);
  /* along a slanted direction the compliances add by squares of its parts */
  assert_rel(1 / tw_stylus_along(&out, PI / 6),
             .75 / out.side_stiffness + .25 / out.axial_stiffness, 1e-12);
}

static void hollow_stem(void **state)
{
  (void)state;
  tw_stylus_spec s = plain(3900);
  s.section[0].bore = .9e-3;
  tw_stylus out;
  assert_int_equal(tw_stylus_solve(&s, &out, NULL), TW_OK);
  const double i = PI * (pow(1.5e-3, 4) - pow(.9e-3, 4)) / 64;
  assert_rel(out.side_stiffness, 3 * 600e9 * i / pow(.03, 3), 1e-12);
  assert_rel(out.neck_stress_side, .03 * .75e-3 / i, 1e-12);
}

/* shear: Timoshenko's beam, deflection P L/(kappa G A) beside bending, kappa of a round section at
 * nu 0.3 is 0.8864 (Cowper 1966, from memory) */
static void short_stem(void **state)
{
  (void)state;
  tw_stylus_spec s = plain(3900);
  tw_stylus bends, shears;
  assert_int_equal(tw_stylus_solve(&s, &bends, NULL), TW_OK);
  s.section[0].poisson = .3;
  assert_int_equal(tw_stylus_solve(&s, &shears, NULL), TW_OK);
  const double shear = .03 / (600e9 / 2.6 * PI * 1.5e-3 * 1.5e-3 / 4);
  const double kappa = shear / (1 / shears.side_stiffness - 1 / bends.side_stiffness);
  assert_printed(kappa, .8864, 1e-4);
  assert_rel(kappa, 7.8 / 8.8, 1e-9);
  s.section[0].poisson = NAN;
  assert_int_equal(tw_stylus_solve(&s, &shears, NULL), TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(cantilever_without_ball),
      cmocka_unit_test(cantilever_with_ball),
      cmocka_unit_test(cutting_changes_nothing),
      cmocka_unit_test(stepped_stem),
      cmocka_unit_test(hollow_stem),
      cmocka_unit_test(short_stem),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
