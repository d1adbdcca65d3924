/* Compliance and charge of points: against the exact series of a uniform plate, symmetry, sign and
 * definiteness, sums that must agree with the centred ring, the open state. */
#include "disc_scenes.h"

#include <string.h>
#include <time.h>

#define PI   3.14159265358979323846
#define MOST 60

/* ---- the exact series of a uniform plate (docs/models/seat.md: d^2 ln d and its images) ------ */

static double free_part(int m, double r, double b)
{
  if (m == 0) {
    return (r * r + b * b) * log(r) + b * b;
  }
  if (m == 1) {
    return -r * b - b * b * b / (2.0 * r) - 2.0 * r * b * log(r);
  }
  return pow(b, m) * (pow(r, 2 - m) / (m * (m - 1.0)) - b * b * pow(r, -m) / (m * (m + 1.0)));
}

/* value, first and second derivative of the free part at the edge r = 1 */
static void at_edge(int m, double b, double f[3])
{
  if (m == 0) {
    f[0] = b * b;
    f[1] = 1.0 + b * b;
    f[2] = 1.0 - b * b + 2.0;
  } else if (m == 1) {
    f[0] = -b - b * b * b / 2.0;
    f[1] = -b + b * b * b / 2.0 - 2.0 * b;
    f[2] = -b * b * b - 2.0 * b;
  } else {
    const double p = pow(b, m), n = m;
    f[0] = p * (1.0 / (n * (n - 1.0)) - b * b / (n * (n + 1.0)));
    f[1] = p * ((2.0 - n) / (n * (n - 1.0)) + b * b / (n + 1.0));
    f[2] = p * ((2.0 - n) * (1.0 - n) / (n * (n - 1.0)) - b * b);
  }
}

static double exact(double radius, double d, double nu, double ri, double rj, double angle)
{
  const double r = fmax(ri, rj) / radius, b = fmin(ri, rj) / radius;
  double sum = 0.0;
  for (int m = 0; m < 400; m++) {
    double f[3];
    at_edge(m, b, f);
    const double n = m;
    /* a + c = -f ; (1-nu) m (m-1) a + [(m+2)(m+1) + nu (m+2-m^2)] c = -[f'' + nu (f' - m^2 f)] */
    const double p = (1.0 - nu) * n * (n - 1.0);
    const double q = (n + 2.0) * (n + 1.0) + nu * (n + 2.0 - n * n);
    const double right = -(f[2] + nu * (f[1] - n * n * f[0]));
    const double c = (right + p * f[0]) / (q - p), a = -f[0] - c;
    sum += (free_part(m, r, b) + a * pow(r, m) + c * pow(r, m + 2)) * cos(n * angle);
  }
  return radius * radius / (8.0 * PI * d) * sum;
}

/* plate of given centre stiffness: D = k R^2 (3 + nu)/(16 pi (1 + nu)) */
static tw_disc_spec uniform(double radius, double centre, double nu)
{
  tw_disc_spec s;
  tw_disc_spec_default(&s);
  const double d = centre * radius * radius * (3.0 + nu) / (16.0 * PI * (1.0 + nu));
  s.metal_radius = radius;
  s.metal_thickness = 0.2e-3;
  s.metal.poisson = nu;
  s.metal.young = 12.0 * (1.0 - nu * nu) * d / pow(s.metal_thickness, 3.0);
  return s;
}

static void uniform_plate_is_exact(void **state)
{
  (void)state;
  const double radius = 9.5e-3, nu = 0.3, k = 3e4;
  const double d = k * radius * radius * (3.0 + nu) / (16.0 * PI * (1.0 + nu));
  const tw_disc_spec spec = uniform(radius, k, nu);
  tw_disc *disc = disc_solved(&spec);
  double worst = 0.0;
  for (int round = 0; round < 3; round++) {
    const size_t n = 24;
    double r[24], az[24], c[24 * 24];
    disc_points_of(n, round == 2 ? 5e-3 : 3e-3, round == 0 ? 0.0 : 0.37e-3, r, az);
    r[3] = round == 1 ? 0.4e-3 : r[3]; /* a point near the centre among the others */
    assert_int_equal(tw_disc_compliance(disc, n, r, az, TW_DISC_OPEN, c, NULL), TW_OK);
    for (size_t i = 0; i < n; i++) {
      for (size_t j = 0; j < n; j++) {
        const double should = exact(radius, d, nu, r[i], r[j], az[i] - az[j]);
        worst = fmax(worst, fabs(c[i * n + j] / should - 1.0));
      }
    }
  }
  print_message("points of a uniform plate against its series: worst relative error %.2e\n", worst);
  assert_near(worst, 0.0, 3e-5);
  tw_disc_free(disc);
}

/* a ceramic made of brass on a brass plate is a brass plate of both thicknesses, though stretching
 * and bending are coupled in every harmonic because z counts from the lower half */
static void two_layers_of_one_metal(void **state)
{
  (void)state;
  const double radius = 10e-3;
  tw_disc_spec s = disc_named("D20A");
  const double e = s.metal.young, nu = s.metal.poisson, t = 0.4e-3;
  s.ceramic_radius = radius;
  s.ceramic.s11 = s.ceramic.s33 = 1.0 / e;
  s.ceramic.s12 = s.ceramic.s13 = -nu / e;
  s.ceramic.d31 = -1e-18;
  tw_disc *disc = disc_solved(&s);
  const double d = e * t * t * t / (12.0 * (1.0 - nu * nu));
  double r[24], az[24], c[24 * 24], worst = 0.0;
  disc_points_of(24, 3e-3, 0.37e-3, r, az);
  assert_int_equal(tw_disc_compliance(disc, 24, r, az, TW_DISC_SHORT, c, NULL), TW_OK);
  for (size_t i = 0; i < 24; i++) {
    for (size_t j = 0; j < 24; j++) {
      const double should = exact(radius, d, nu, r[i], r[j], az[i] - az[j]);
      worst = fmax(worst, fabs(c[i * 24 + j] / should - 1.0));
    }
  }
  print_message("coupled layers of one metal: worst relative error %.2e\n", worst);
  assert_near(worst, 0.0, 3e-5);
  tw_disc_free(disc);
}

/* docs/models/seat.md, case of the uniform plate: K0, K1, K2 of a ring of 24 points at 3 mm,
 * K_m = 24/eigenvalue, and the stiffness under one point */
static void ring_stiffness_of_the_plate(void **state)
{
  (void)state;
  const tw_disc_spec spec = uniform(9.5e-3, 3e4, 0.3);
  tw_disc *disc = disc_solved(&spec);
  double r[24], az[24], c[24 * 24];
  disc_points_of(24, 3e-3, 0.0, r, az);
  assert_int_equal(tw_disc_compliance(disc, 24, r, az, TW_DISC_SHORT, c, NULL), TW_OK);
  double eigen[3] = {0};
  for (int m = 0; m < 3; m++) {
    for (size_t j = 0; j < 24; j++) {
      eigen[m] += c[j] * cos(m * az[j]);
    }
  }
  assert_rel(24.0 / eigen[0], 42850.07, 2e-5);
  assert_rel(24.0 / eigen[1], 512039.8, 2e-5);
  assert_rel(24.0 / eigen[2], 2786187.0, 1e-4);
  assert_rel(1.0 / c[0], 35224.6, 2e-5);
  tw_disc_free(disc);
}

/* Cholesky: true if positive definite */
static bool definite(size_t n, const double *c)
{
  static double l[MOST * MOST];
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++) {
      double sum = c[i * n + j];
      for (size_t k = 0; k < j; k++) {
        sum -= l[i * n + k] * l[j * n + k];
      }
      if (i == j && !(sum > 0.0)) {
        return false;
      }
      l[i * n + j] = i == j ? sqrt(sum) : sum / l[j * n + j];
    }
  }
  return true;
}

static void matrices_are_symmetric_and_definite(void **state)
{
  (void)state;
  static const tw_disc_support KINDS[] = {TW_DISC_RIM,   TW_DISC_PINNED,     TW_DISC_CLAMPED,
                                          TW_DISC_LEDGE, TW_DISC_FOUNDATION, TW_DISC_FLAT};
  double r[MOST], az[MOST], c[MOST * MOST];
  for (size_t k = 0; k < sizeof KINDS / sizeof *KINDS; k++) {
    for (int open = 0; open < 2; open++) {
      tw_disc_spec s = disc_named("D20A");
      s.support = KINDS[k];
      s.ledge_radius = 9.3e-3;
      s.foundation_stiffness = 1e10;
      s.ceramic_eccentricity = 0.3e-3;
      tw_disc *disc = disc_solved(&s);
      const size_t n = MOST;
      disc_points_of(n, 3e-3, 0.2e-3, r, az);
      assert_int_equal(
          tw_disc_compliance(disc, n, r, az, open ? TW_DISC_OPEN : TW_DISC_SHORT, c, NULL), TW_OK);
      for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < n; j++) {
          assert_true(c[i * n + j] == c[j * n + i]);
        }
      }
      assert_true(definite(n, c));
      tw_disc_free(disc);
    }
  }
}

/* many points share a load as a ring: the mean deflection is the ring's, short and open */
static void points_add_up_to_the_ring(void **state)
{
  (void)state;
  static const tw_disc_support KINDS[] = {TW_DISC_RIM, TW_DISC_PINNED, TW_DISC_CLAMPED,
                                          TW_DISC_LEDGE, TW_DISC_FOUNDATION};
  for (size_t k = 0; k < sizeof KINDS / sizeof *KINDS; k++) {
    tw_disc_spec s = disc_named("D20A");
    s.support = KINDS[k];
    s.ledge_radius = 9.0e-3;
    s.foundation_stiffness = 1e10;
    s.electrode_radius = 6.4e-3;
    tw_disc *disc = disc_solved(&s);
    tw_disc_ring ring;
    assert_int_equal(tw_disc_at(disc, 2.3e-3, &ring, NULL), TW_OK);
    const size_t n = 48;
    double r[48], az[48], c[48 * 48], q[48];
    disc_points_of(n, 2.3e-3, 0.0, r, az);
    double soft[2] = {0}, charge = 0.0;
    for (int open = 0; open < 2; open++) {
      assert_int_equal(
          tw_disc_compliance(disc, n, r, az, open ? TW_DISC_OPEN : TW_DISC_SHORT, c, NULL), TW_OK);
      for (size_t j = 0; j < n; j++) {
        soft[open] += c[j] / (double)n;
      }
    }
    assert_int_equal(tw_disc_charge(disc, n, r, az, q, NULL), TW_OK);
    for (size_t j = 0; j < n; j++) {
      charge += q[j] / (double)n;
    }
    /* harmonic 48 of the points is left over: 2e-5 of the deflection */
    assert_rel(soft[0], ring.deflection, 1e-4);
    assert_rel(1.0 / soft[1], ring.stiffness_open, 1e-4);
    assert_rel(charge, ring.charge, 1e-10);
    tw_disc_free(disc);
  }
}

/* borders that all but meet (support beside the ceramic's edge, fringe ending at it) do not upset
 * the ring elements */
static void slivers(void **state)
{
  (void)state;
  static const double BESIDE[] = {0.0, 1e-12, 1e-10, 1e-8, 3e-7, 2e-6, -1e-10, -1e-7};
  double hertz = 0.0;
  for (size_t k = 0; k < sizeof BESIDE / sizeof *BESIDE; k++) {
    tw_disc_spec s = disc_named("D20A");
    s.support = TW_DISC_LEDGE;
    s.ledge_radius = 7e-3 + BESIDE[k];
    s.electrode_radius = 7e-3 - 0.46 * 0.2e-3 + BESIDE[k];
    tw_disc *disc = disc_solved(&s);
    tw_disc_ring ring;
    double r[48], az[48], c[48 * 48], mean = 0.0;
    disc_points_of(48, 3e-3, 0.0, r, az);
    assert_int_equal(tw_disc_at(disc, 3e-3, &ring, NULL), TW_OK);
    assert_int_equal(tw_disc_compliance(disc, 48, r, az, TW_DISC_OPEN, c, NULL), TW_OK);
    for (size_t j = 0; j < 48; j++) {
      mean += c[j] / 48.0;
    }
    assert_rel(1.0 / mean, ring.stiffness_open, 3e-4);
    tw_disc_measures m;
    assert_int_equal(tw_disc_measure(disc, TW_DISC_OPEN, &m, NULL), TW_OK);
    hertz = k == 0 ? m.resonance_mounted.value : hertz;
    assert_rel(m.resonance_mounted.value, hertz, 1e-3);
    tw_disc_free(disc);
  }
}

/* a pair of opposite forces on the ring leans it as the tilt compliance says */
static void moment_leans_the_ring(void **state)
{
  (void)state;
  const tw_disc_spec s = disc_named("D20A");
  tw_disc *disc = disc_solved(&s);
  const size_t n = 48;
  double r[48], az[48], c[48 * 48], w = 0.0, tilt, half;
  disc_points_of(n, 2e-3, 0.0, r, az);
  assert_int_equal(tw_disc_compliance(disc, n, r, az, TW_DISC_SHORT, c, NULL), TW_OK);
  for (size_t j = 0; j < n; j++) { /* unit moment: forces 2 cos/(n a) */
    w += c[j] * 2.0 * cos(az[j]) / ((double)n * 2e-3);
  }
  assert_int_equal(tw_disc_tilt(disc, 2e-3, &tilt, &half, NULL), TW_OK);
  assert_rel(w / 2e-3, tilt, 1e-3);
  tw_disc_free(disc);
}

/* docs/models/disc.md, force pattern: three legs of a 20 mm disc, and a pure moment */
static void force_pattern(void **state)
{
  (void)state;
  const tw_disc_spec s = disc_named("D20A");
  tw_disc *disc = disc_solved(&s);
  const double r[3] = {2.0e-3, 2.2e-3, 3.0e-3}, az[3] = {0.0, 2.1, 4.2};
  double q[3];
  assert_int_equal(tw_disc_charge(disc, 3, r, az, q, NULL), TW_OK);
  assert_rel(q[1], 1.2133373e-7, 1e-7);
  assert_rel(0.4 * q[0] + 0.3 * q[1] + 0.5 * q[2], 1.4302725e-7, 1e-7);
  const double pair[2] = {2e-3, 2e-3}, across[2] = {0.3, 0.3 + PI};
  assert_int_equal(tw_disc_charge(disc, 2, pair, across, q, NULL), TW_OK);
  assert_near(q[0] - q[1], 0.0, 1e-22);
  tw_disc_free(disc);
}

static void refuses_points_off_the_disc(void **state)
{
  (void)state;
  const tw_disc_spec s = disc_named("D20A");
  tw_disc *disc = disc_solved(&s);
  const double bad[] = {-1e-3, 11e-3, NAN}, az[] = {0.0}, odd[] = {NAN}, good[] = {2e-3};
  double c[1];
  tw_fault fault;
  for (size_t i = 0; i < 3; i++) {
    assert_int_equal(tw_disc_compliance(disc, 1, &bad[i], az, 0.0, c, &fault), TW_BAD_INPUT);
    assert_string_equal(fault.field, "seat.flat_radius");
  }
  assert_int_equal(tw_disc_charge(disc, 1, good, odd, c, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_disc_compliance(disc, 1, good, az, -1.0, c, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_disc_compliance(disc, 0, good, az, 0.0, c, &fault), TW_OK);
  tw_disc_free(disc);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(uniform_plate_is_exact),
      cmocka_unit_test(two_layers_of_one_metal),
      cmocka_unit_test(ring_stiffness_of_the_plate),
      cmocka_unit_test(matrices_are_symmetric_and_definite),
      cmocka_unit_test(points_add_up_to_the_ring),
      cmocka_unit_test(slivers),
      cmocka_unit_test(moment_leans_the_ring),
      cmocka_unit_test(force_pattern),
      cmocka_unit_test(refuses_points_off_the_disc),
  };
  return cmocka_run_group_tests_name("disc points", tests, NULL, NULL);
}
