/* Homogeneous plates and bare piezo discs against handbook formulas: Timoshenko and
 * Woinowsky-Krieger, Theory of Plates and Shells (simply supported and clamped plate with a central
 * load, tilted rigid core replaced by a ring moment); Roark, Formulas for Stress and Strain (ring
 * load on a simply supported plate); Leissa, Vibration of Plates (frequency parameters as roots of
 * the Bessel determinants, solved here). Formulas from memory. */
#include "disc_scenes.h"

#include <gsl/gsl_sf_bessel.h>

#define PI 3.14159265358979323846

/* brass, R = 10 mm, t = 0.4 mm */
static tw_disc_spec brass_plate(tw_disc_support support)
{
  tw_disc_spec s;
  tw_disc_spec_default(&s);
  s.metal_radius = 10e-3;
  s.metal_thickness = 0.4e-3;
  s.support = support;
  return s;
}

static double rigidity(const tw_disc_spec *s)
{
  const double nu = s->metal.poisson;
  return s->metal.young * pow(s->metal_thickness, 3.0) / (12.0 * (1.0 - nu * nu));
}

/* w(0) = (3 + nu)/(1 + nu) F R^2/(16 pi D), clamped F R^2/(16 pi D) */
static void central_load(void **state)
{
  (void)state;
  tw_disc_spec s = brass_plate(TW_DISC_RIM);
  const double nu = s.metal.poisson, unit = 1e-4 / (16.0 * PI * rigidity(&s));
  tw_disc_ring ring;
  tw_disc *disc = disc_solved(&s);
  assert_int_equal(tw_disc_at(disc, 0.0, &ring, NULL), TW_OK);
  assert_rel(ring.deflection, unit * (3.0 + nu) / (1.0 + nu), 1e-12);
  assert_printed(ring.deflection, 7.831276e-06, 1e-12);
  assert_true(ring.charge == 0.0);
  tw_disc_free(disc);
  s = brass_plate(TW_DISC_CLAMPED);
  disc = disc_solved(&s);
  assert_int_equal(tw_disc_at(disc, 0.0, &ring, NULL), TW_OK);
  assert_rel(ring.deflection, unit, 1e-12);
  assert_printed(ring.deflection, 3.141889e-06, 1e-12);
  tw_disc_free(disc);
}

/* ring load F at a, simple edge: w(0) = F/(16 pi D) [(3+nu)/(1+nu) (R^2 - a^2) - 2 a^2 ln(R/a)];
 * by reciprocity it is the deflection at a under a central load, so the load stands at the centre
 * here and at a there */
static void ring_load(void **state)
{
  (void)state;
  const tw_disc_spec s = brass_plate(TW_DISC_RIM);
  const double nu = s.metal.poisson, a = 2e-3, r = 10e-3, d = rigidity(&s);
  tw_disc *disc = disc_solved(&s);
  tw_disc_backed pressed;
  assert_int_equal(tw_disc_press(disc, a, 1.0, TW_DISC_SHORT, &pressed, NULL), TW_OK);
  const double expected = 1.0 / (16.0 * PI * d) *
                          ((3.0 + nu) / (1.0 + nu) * (r * r - a * a) - 2.0 * a * a * log(r / a));
  assert_rel(pressed.centre_deflection, expected, 1e-12);
  assert_printed(pressed.centre_deflection, 7.113491e-06, 1e-12);
  /* moment inside the ring M = F/(8 pi) [2 (1+nu) ln(R/a) + (1-nu)(1 - a^2/R^2)], stress 6 M/t^2 */
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t count;
  assert_int_equal(tw_disc_stresses(disc, a, row, &count, NULL), TW_OK);
  assert_int_equal(count, 2);
  const double moment =
      1.0 / (8.0 * PI) * (2.0 * (1.0 + nu) * log(r / a) + (1.0 - nu) * (1.0 - a * a / (r * r)));
  /* the carrier pushes on the upper face: it is compressed, the other one in tension */
  assert_rel(row[0].centre_short, -6.0 * moment / (0.4e-3 * 0.4e-3), 1e-9);
  assert_rel(row[1].centre_short, 6.0 * moment / (0.4e-3 * 0.4e-3), 1e-9);
  assert_rel(row[1].peak_tension, row[1].centre_short, 1e-9);
  tw_disc_free(disc);
}

/* free and simple edge, no nodal diameter: roots of
 * J0/J1 + I0/I1 = 2 x/(1-nu) (simple) and x [J0/J1 + I0/I1] = 2 (1-nu) (free) */
static double root(double (*f)(double x, double nu), double low, double high, double nu)
{
  for (int i = 0; i < 200; i++) {
    const double middle = (low + high) / 2.0;
    if ((f(low, nu) < 0.0) == (f(middle, nu) < 0.0)) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return (low + high) / 2.0;
}

static double simple_edge(double x, double nu)
{
  return gsl_sf_bessel_J1(x) / gsl_sf_bessel_J0(x) + gsl_sf_bessel_I1(x) / gsl_sf_bessel_I0(x) -
         2.0 * x / (1.0 - nu);
}

static double free_edge(double x, double nu)
{
  return x * (gsl_sf_bessel_J0(x) / gsl_sf_bessel_J1(x) +
              gsl_sf_bessel_I0(x) / gsl_sf_bessel_I1(x)) -
         2.0 * (1.0 - nu);
}

static double clamped_edge(double x, double nu)
{
  (void)nu;
  return gsl_sf_bessel_J0(x) * gsl_sf_bessel_I1(x) + gsl_sf_bessel_I0(x) * gsl_sf_bessel_J1(x);
}

static void frequency_parameters(void **state)
{
  (void)state;
  const double nu = 0.34;
  const double simple = pow(root(simple_edge, 2.0, 2.4, nu), 2.0);
  const double open = pow(root(free_edge, 2.8, 3.3, nu), 2.0);
  const double clamped = pow(root(clamped_edge, 3.0, 3.4, nu), 2.0);
  assert_printed(simple, 4.993441, 1e-6);
  assert_printed(open, 9.090469, 1e-6);
  assert_printed(clamped, 10.2158, 1e-4); /* Leissa's table, from memory */
  /* rotary inertia is in the elements, not in the formula: make the plate thin to compare */
  tw_disc_spec s = brass_plate(TW_DISC_RIM);
  s.metal_thickness = 0.02e-3;
  const double unit =
      sqrt(rigidity(&s) / (s.metal.density * s.metal_thickness)) / (2.0 * PI * 1e-4);
  tw_disc_vibration ask = {.outside_capacitance = TW_DISC_SHORT};
  tw_disc *disc = disc_solved(&s);
  double f;
  assert_int_equal(tw_disc_resonance(disc, ask, &f, NULL), TW_OK);
  assert_rel(f, simple * unit, 1e-5);
  ask.free_edge = true;
  assert_int_equal(tw_disc_resonance(disc, ask, &f, NULL), TW_OK);
  assert_rel(f, open * unit, 1e-5);
  tw_disc_free(disc);
  s.support = TW_DISC_CLAMPED;
  disc = disc_solved(&s);
  ask.free_edge = false;
  assert_int_equal(tw_disc_resonance(disc, ask, &f, NULL), TW_OK);
  assert_rel(f, clamped * unit, 1e-5);
  tw_disc_free(disc);
}

/* with rotary inertia, as docs/models/disc.md section 3 prints it */
static void thick_plate_frequencies(void **state)
{
  (void)state;
  const tw_disc_spec s = brass_plate(TW_DISC_RIM);
  tw_disc *disc = disc_solved(&s);
  tw_disc_vibration ask = {.outside_capacitance = TW_DISC_SHORT};
  double f;
  assert_int_equal(tw_disc_resonance(disc, ask, &f, NULL), TW_OK);
  assert_printed(f, 3434.39, 0.02);
  ask.free_edge = true;
  assert_int_equal(tw_disc_resonance(disc, ask, &f, NULL), TW_OK);
  assert_printed(f, 6246.94, 0.02);
  assert_rel(f, 6239.24, 0.002); /* the same plate in two solid finite-element codes */
  tw_disc_free(disc);
}

/* simple edge, ring moment M cos at a: W inside = c1 r + c3 r^3, outside adds 1/r and r ln r */
static double ring_moment(double radius, double a, double nu, double d)
{
  /* unknown: p r + q r^3 inside; s r + t r^3 + u/r + v r ln r outside, per unit M, scaled by R.
   * The ring load M/(pi a^2) cos gives a jump of w''' of M/(pi a^2 D) */
  const double x = a / radius, l = log(x);
  double m[6][7] = {
      {x, x * x * x, -x, -x * x * x, -1.0 / x, -x * l, 0.0},
      {1.0, 3.0 * x * x, -1.0, -3.0 * x * x, 1.0 / (x * x), -l - 1.0, 0.0},
      {0.0, 6.0 * x, 0.0, -6.0 * x, -2.0 / (x * x * x), -1.0 / x, 0.0},
      {0.0, -6.0, 0.0, 6.0, -6.0 / pow(x, 4.0), -1.0 / (x * x), 1.0},
      {0.0, 0.0, 1.0, 1.0, 1.0, 0.0, 0.0},
      /* w'' + nu (w' - w) = 0 at r = 1 */
      {0.0, 0.0, 0.0, 6.0 + 2.0 * nu, 2.0 - 2.0 * nu, 1.0 + nu, 0.0},
  };
  for (int i = 0; i < 6; i++) {
    int p = i;
    for (int k = i + 1; k < 6; k++) {
      p = fabs(m[k][i]) > fabs(m[p][i]) ? k : p;
    }
    for (int j = 0; j < 7; j++) {
      const double t = m[i][j];
      m[i][j] = m[p][j];
      m[p][j] = t;
    }
    for (int k = 0; k < 6; k++) {
      const double f = k == i ? 0.0 : m[k][i] / m[i][i];
      for (int j = i; j < 7; j++) {
        m[k][j] -= f * m[i][j];
      }
    }
  }
  const double w = m[0][6] / m[0][0] * x + m[1][6] / m[1][1] * x * x * x;
  /* jump of 1 in units of R^3/(length): w = value x R^3 M/(pi a^2 D), tilt = w/a */
  return w * pow(radius, 3.0) / (PI * a * a * d) / a;
}

static void tilted_ring(void **state)
{
  (void)state;
  const tw_disc_spec s = brass_plate(TW_DISC_RIM);
  tw_disc *disc = disc_solved(&s);
  double tilt, half;
  assert_int_equal(tw_disc_tilt(disc, 2e-3, &tilt, &half, NULL), TW_OK);
  assert_rel(tilt, ring_moment(10e-3, 2e-3, s.metal.poisson, rigidity(&s)), 2e-6);
  assert_rel(tilt, 1.476645e-01, 2e-6);
  assert_true(half == 0.0);
  tw_disc_free(disc);
}

/* strains of docs/models/disc.md section 3, a = 3 mm at r = 1 mm: 1-D and 2-D, from the stresses:
 * inside the ring both strains are equal, eps = sigma/(Q11 + Q12) */
static void hoop_strain(void **state)
{
  (void)state;
  const tw_disc_spec s = disc_named("D20A");
  tw_disc *disc = disc_solved(&s);
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t count;
  assert_int_equal(tw_disc_stresses(disc, 3e-3, row, &count, NULL), TW_OK);
  const double brass = s.metal.young / (1.0 - s.metal.poisson);
  assert_printed(row[2].centre_short / brass, 7.79331e-06, 1e-11);
  assert_printed(row[3].centre_short / brass, -4.11164e-05, 1e-10);
  assert_rel(row[2].centre_short / brass, 7.78192e-06, 0.003);
  assert_rel(row[3].centre_short / brass, -4.11030e-05, 0.001);
  tw_disc_free(disc);
}

/* A ring load on a simply supported plate (Timoshenko and Woinowsky-Krieger): with b the ring and
 * R the edge, moments F/(8 pi) times
 *   r <= b: 2 (1 + nu) ln(R/b) + (1 - nu)(1 - b^2/R^2), radial and hoop alike
 *   r >= b: radial 2 (1 + nu) ln(R/r) + (1 - nu) b^2 (1/r^2 - 1/R^2),
 *           hoop 2 (1 + nu) ln(R/r) + (1 - nu)(2 - b^2 (1/r^2 + 1/R^2));
 * stress 6 M/t^2 at the faces, tension on the side away from the load. Formula from memory. */
static void stress_along_the_radius(void **state)
{
  (void)state;
  tw_disc_spec s = brass_plate(TW_DISC_RIM);
  s.contact_radius = 4e-3;
  const double nu = s.metal.poisson, t = s.metal_thickness, edge = s.metal_radius, b = 4e-3;
  const double unit = 6.0 / (t * t) / (8.0 * PI);
  double at[11];
  tw_disc_planar inner[11], outer[11];
  for (int i = 0; i < 11; i++) {
    at[i] = edge * i / 10.0;
  }
  tw_disc *disc = disc_solved(&s);
  assert_int_equal(tw_disc_stress_along(disc, b, TW_DISC_LAYER_METAL, 11, at, inner, outer, NULL),
                   TW_OK);
  for (int i = 0; i < 11; i++) {
    const double r = fmax(at[i], b), q = b * b / (edge * edge), p = b * b / (r * r);
    const double radial = unit * (2 * (1 + nu) * log(edge / r) + (1 - nu) * (p - q));
    const double hoop = unit * (2 * (1 + nu) * log(edge / r) + (1 - nu) * (2 - p - q));
    const double far = fabs(hoop) * 1e-9;
    assert_near(fabs(inner[i].radial), fabs(radial), far);
    assert_near(fabs(inner[i].hoop), fabs(hoop), far);
    assert_near(inner[i].radial, -outer[i].radial, far);
    assert_near(inner[i].hoop, -outer[i].hoop, far);
  }
  /* and it is what the table of stresses says, centre and peak */
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t count = 0;
  assert_int_equal(tw_disc_stresses(disc, b, row, &count, NULL), TW_OK);
  for (size_t i = 0; i < count; i++) {
    const tw_disc_planar centre = row[i].outer ? outer[0] : inner[0];
    assert_rel(row[i].centre_short, centre.hoop, 1e-12);
    assert_true(row[i].peak_tension >= centre.hoop * (1 - 1e-12));
  }
  const double outside = 1.001 * edge;
  tw_fault fault = {0};
  assert_int_equal(
      tw_disc_stress_along(disc, b, TW_DISC_LAYER_METAL, 1, &outside, inner, outer, &fault),
      TW_BAD_INPUT);
  assert_int_equal(tw_disc_stress_along(disc, b, TW_DISC_LAYER_CERAMIC, 11, at, inner, outer, NULL),
                   TW_OK);
  assert_near(inner[3].hoop, 0, 0); /* there is no ceramic on this plate */
  tw_disc_free(disc);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(stress_along_the_radius),
      cmocka_unit_test(central_load),
      cmocka_unit_test(ring_load),
      cmocka_unit_test(frequency_parameters),
      cmocka_unit_test(thick_plate_frequencies),
      cmocka_unit_test(tilted_ring),
      cmocka_unit_test(hoop_strain),
  };
  return cmocka_run_group_tests_name("disc plates", tests, NULL, NULL);
}
