/* Form fits against published and listed solutions (mm). The lists were made for this project by
 * 40-digit Gauss-Newton, eigenvectors and exhaustive search over support sets, on the coordinates
 * exactly as printed in tests/data/forms. */
#include "points.h"
#include "tripwright/qualify_fit.h"
#include "tripwright/random.h"

#include <string.h>

static double point[4096];

static tw_fit fit(const char *name, tw_form form, size_t dimensions)
{
  const size_t count = points_read(name, point, 4096);
  tw_fit f;
  tw_fault fault = {0};
  if (tw_fit_form(form, point, count / dimensions, dimensions, NULL, &f, &fault) != TW_OK) {
    print_error("%s: %s\n", name, fault.text);
    fail();
  }
  return f;
}

/* Gander, Golub, Strebel, BIT 34 (1994) 558; SciPy Cookbook, least-squares circle (both from
 * memory, to the printed digits; the longer ones computed) */
static void published_circles(void **state)
{
  (void)state;
  tw_fit f = fit("circle6_published.csv", TW_CIRCLE, 2);
  assert_printed(f.centre[0], 4.7398, 1e-4);
  assert_printed(f.centre[1], 2.9835, 1e-4);
  assert_printed(f.radius, 4.7142, 1e-4);
  assert_near(f.centre[0], 4.739782410906, 1e-11);
  assert_near(f.centre[1], 2.983532699292, 1e-11);
  assert_near(f.radius, 4.714226037792, 1e-11);
  assert_near(f.squares, 1.22759907818, 1e-11);
  f = fit("circle6b_published.csv", TW_CIRCLE, 2);
  assert_printed(f.centre[0], 10.50009, 1e-5);
  assert_printed(f.centre[1], 9.65995, 1e-5);
  assert_printed(f.radius, 23.33353, 1e-5);
  assert_near(f.centre[0], 10.500086213944, 1e-11);
  assert_near(f.centre[1], 9.659949505836, 1e-11);
  assert_near(f.radius, 23.333527646183, 1e-11);
  assert_near(f.squares, 7.71185223882, 1e-10);
}

static void listed_circles_and_spheres(void **state)
{
  (void)state;
  static const struct {
    const char *name;
    tw_form form;
    size_t dimensions;
    double centre[3], radius, form_error;
  } rows[] = {
      {"ring36_50mm.csv",
       TW_CIRCLE,
       2,
       {99.99990639960, -199.99993551612},
       24.99998638034,
       0.00683221131},
      {"ring12_20mm.csv",
       TW_CIRCLE,
       2,
       {4.99965755989, 7.00020932343},
       9.99987221738,
       0.00861068416},
      {"ring8_form.csv",
       TW_CIRCLE,
       2,
       {0.00903420959, -0.00708458538},
       29.99483461170,
       0.05856130094},
      {"arc60_9pt.csv",
       TW_CIRCLE,
       2,
       {-0.00238081794, -0.00140320130},
       40.00135860829,
       0.00128383352},
      {"sphere25_25mm.csv",
       TW_SPHERE,
       3,
       {9.99975213760, 20.00003125791, -30.00004028898},
       12.50006244671,
       0.00370999640},
      {"sphere5_calib.csv",
       TW_SPHERE,
       3,
       {-50.00033997110, 35.00169364399, -120.00051618875},
       10.00104733792,
       0.00170053524},
  };
  for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
    const tw_fit f = fit(rows[k].name, rows[k].form, rows[k].dimensions);
    for (size_t d = 0; d < rows[k].dimensions; d++) {
      assert_near(f.centre[d], rows[k].centre[d], 1e-9);
    }
    assert_near(f.radius, rows[k].radius, 1e-9);
    assert_near(f.form_error, rows[k].form_error, 1e-9);
  }
}

static void listed_cylinder_line_plane(void **state)
{
  (void)state;
  tw_fit f = fit("cyl24_bore.csv", TW_CYLINDER, 3);
  const double *d = f.direction, t = -f.centre[2] / d[2];
  assert_near(f.centre[0] + t * d[0], 40.0200850807, 1e-9);
  assert_near(f.centre[1] + t * d[1], -15.00993597195, 1e-9);
  assert_near(d[0], 0.00200852636, 1e-11);
  assert_near(d[1], -0.00099112741, 1e-11);
  assert_near(d[2], 0.99999749174, 1e-11);
  assert_near(f.radius, 16.000069769327, 1e-9);
  assert_rel(f.squares, 5.823370349e-5, 1e-9);

  f = fit("line8.csv", TW_LINE, 3);
  static const double centroid[] = {10.000005375, 19.999544625, 30.000167125};
  static const double along[] = {0.99993772115, 0.00997034084, -0.00501459083};
  for (int k = 0; k < 3; k++) {
    assert_near(f.centre[k], centroid[k], 1e-9);
    assert_near(f.direction[k], along[k], 1e-11);
  }
  assert_rel(f.squares, 4.541180176e-5, 1e-9);

  f = fit("plane9.csv", TW_PLANE, 3);
  static const double normal[] = {0.00102262720, -0.00200306211, 0.99999747098};
  static const double middle[] = {-30.0000002222, 60.0000007778, -80.0003341111};
  for (int k = 0; k < 3; k++) {
    assert_near(f.direction[k], normal[k], 1e-11);
    assert_near(f.centre[k], middle[k], 1e-9);
  }
  assert_near(f.form_error, 0.00286484150, 1e-10);
}

static tw_zone_fit zone(const char *name, tw_zone kind)
{
  const size_t count = points_read(name, point, 4096);
  tw_zone_fit z;
  tw_fault fault = {0};
  if (tw_fit_zone(kind, point, count / 2, &z, &fault) != TW_OK) {
    print_error("%s: %s\n", name, fault.text);
    fail();
  }
  return z;
}

static void listed_zones(void **state)
{
  (void)state;
  static const struct {
    const char *name;
    double x, y, width;
    const char *support; /* 1-based, o outer, i inner */
    double circumscribed, around, inscribed, inside;
  } rows[] = {
      {"ring36_50mm.csv", 99.999891341479, -199.999334057750, 0.00621419910571, "2o 9i 25o 31i ",
       25.002709221937, 0.00688768740, 24.997201371483, 0.00661839490},
      {"ring12_20mm.csv", 4.999755026426, 7.000422149923, 0.00837762918389, "3i 5o 7i 9o ",
       10.00383777687, 0.00853553592, 9.995678970777, 0.00843857243},
      {"ring8_form.csv", 0.005780839468, -0.001013160532, 0.0525818422135, "1o 4i 6o 8i ",
       30.017305461682, 0.05442674622, 29.966052620330, 0.09239260232},
  };
  for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
    tw_zone_fit z = zone(rows[k].name, TW_ZONE_MINIMUM);
    assert_near(z.centre[0], rows[k].x, 1e-9);
    assert_near(z.centre[1], rows[k].y, 1e-9);
    assert_near(z.roundness, rows[k].width, 1e-11);
    char support[64] = "";
    for (size_t i = 0; i < z.supports; i++) {
      snprintf(support + strlen(support), 16, "%zu%c ", z.support[i] + 1,
               z.support_outer[i] ? 'o' : 'i');
    }
    assert_string_equal(support, rows[k].support);
    assert_true(z.bound < 1e-10);
    z = zone(rows[k].name, TW_ZONE_CIRCUMSCRIBED);
    assert_near(z.radius, rows[k].circumscribed, 1e-10);
    assert_near(z.roundness, rows[k].around, 1e-9);
    z = zone(rows[k].name, TW_ZONE_INSCRIBED);
    assert_near(z.radius, rows[k].inscribed, 1e-10);
    assert_near(z.roundness, rows[k].inside, 1e-9);
  }
}

static void ring_and_sphere_tests(void **state)
{
  (void)state;
  tw_probing_error e;
  size_t count = points_read("ring36_50mm.csv", point, 4096);
  const tw_artefact ring = {50.0, 0, 0.0006, 0.0002}, sphere = {25.0, 0, 0.0001, 0.00005};
  assert_int_equal(tw_ring_test(point, count / 2, &ring, &e, NULL), TW_OK);
  assert_true(e.pattern_ok);
  assert_near(e.form_error, 0.00683221131, 1e-9);
  assert_printed(e.size_error, -0.00002724, 1e-8);
  /* the list takes the nominal 10 degree steps; at the true angles k = 2 is 0.02 nm less */
  double angle[36], residual[36];
  for (int i = 0; i < 36; i++) {
    angle[i] = i * 3.14159265358979323846 / 18;
    residual[i] = hypot(point[2 * i] - e.fit.centre[0], point[2 * i + 1] - e.fit.centre[1]);
  }
  tw_harmonics nominal;
  assert_int_equal(tw_harmonics_of(angle, residual, 36, 17, &nominal, NULL), TW_OK);
  assert_printed(nominal.amplitude[2] * 1e3, 0.7681, 1e-4);
  assert_printed(nominal.amplitude[3] * 1e3, 2.6294, 1e-4);
  assert_near(e.lobes.amplitude[2] * 1e3, nominal.amplitude[2] * 1e3, 1e-4);
  assert_near(e.lobes.amplitude[3] * 1e3, nominal.amplitude[3] * 1e3, 1e-4);
  assert_near(e.u_form, hypot(0.0003, 0.0002), 1e-15);
  count = points_read("sphere25_25mm.csv", point, 4096);
  assert_int_equal(tw_sphere_test(point, count / 3, &sphere, &e, NULL), TW_OK);
  assert_true(e.pattern_ok);
  assert_printed(e.size_error, 0.00012489, 1e-8);
  assert_near(e.form_error, 0.00370999640, 1e-9);
  point[0] += 3.0; /* a point out of its place in the pattern */
  assert_int_equal(tw_sphere_test(point, count / 3, &sphere, &e, NULL), TW_OK);
  assert_false(e.pattern_ok);
}

static void listed_harmonics(void **state)
{
  (void)state;
  const double pi = 3.14159265358979323846;
  double angle[24], radius[24];
  assert_int_equal(points_read("fourier24.csv", point, 4096), 48);
  for (int i = 0; i < 24; i++) {
    angle[i] = point[2 * i] * pi / 180;
    radius[i] = point[2 * i + 1];
  }
  tw_harmonics h;
  assert_int_equal(tw_harmonics_of(angle, radius, 24, 0, &h, NULL), TW_OK);
  assert_int_equal(h.orders, 11);
  assert_true(h.even);
  assert_near(h.mean, 10.0, 1e-9);
  static const struct {
    int k;
    double um, deg;
  } waves[] = {{1, 5.0, 30}, {2, 2.0, 100}, {3, 3.0, 315}, {5, 1.0, 170}};
  for (int i = 0; i < 4; i++) {
    assert_near(h.amplitude[waves[i].k] * 1e3, waves[i].um, 1e-6);
    assert_near(h.phase[waves[i].k] * 180 / pi, waves[i].deg, 1e-4);
  }
  assert_printed(tw_harmonics_rest(&h, angle, radius, 1) * 1e3, 9.410243, 1e-6);
  assert_printed(tw_harmonics_rest(&h, angle, radius, 0) * 1e3, 12.825005, 1e-6);
  assert_int_equal(tw_harmonics_of(angle, radius, 4, 3, &h, NULL), TW_BAD_INPUT);
}

/* ---- made points ------------------------------------------------------------------------------
 */

/* a circle of known residuals: pairs of points at +-e on the same direction leave the solution at
 * the made one, far from the origin and on short arcs too */
static void far_and_short(void **state)
{
  (void)state;
  static const struct {
    double x, y, radius, arc; /* mm, degrees */
    double tolerance;
  } rows[] = {{0, 0, 10, 360, 1e-12},    {1e4, -2e4, 10, 360, 2e-11}, {500, 300, 25, 60, 1e-11},
              {500, 300, 25, 20, 1e-10}, {1e3, 0, 400, 10, 1e-8},     {0, 0, 40, 5, 1e-8}};
  for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
    const int n = 40;
    for (int i = 0; i < n; i++) {
      const double t = rows[k].arc / 57.29577951308232 * (i / 2 + 0.5) / (n / 2);
      const double r = rows[k].radius + (i % 2 ? 1e-6 : -1e-6) * rows[k].radius / 10;
      point[2 * i] = rows[k].x + r * cos(t);
      point[2 * i + 1] = rows[k].y + r * sin(t);
    }
    tw_fit f;
    assert_int_equal(tw_fit_form(TW_CIRCLE, point, (size_t)n, 2, NULL, &f, NULL), TW_OK);
    /* +-e in pairs is stationary to first order in e/r: second order is 1e-14 of the radius */
    assert_near(f.centre[0], rows[k].x, rows[k].tolerance);
    assert_near(f.centre[1], rows[k].y, rows[k].tolerance);
    assert_near(f.radius, rows[k].radius, rows[k].tolerance);
  }
}

static double width_about(double x, double y, size_t n, double *radius_in, double *radius_out)
{
  double low = 1e300, high = 0;
  for (size_t i = 0; i < n; i++) {
    const double d = hypot(point[2 * i] - x, point[2 * i + 1] - y);
    low = fmin(low, d);
    high = fmax(high, d);
  }
  *radius_in = low;
  *radius_out = high;
  return high - low;
}

/* centre equidistant from a and b, and from c and d; false if the bisectors are parallel */
static int bisectors_meet(size_t a, size_t b, size_t c, size_t d, double *x, double *y)
{
  const double *p = point;
  const double ax = p[2 * b] - p[2 * a], ay = p[2 * b + 1] - p[2 * a + 1];
  const double cx = p[2 * d] - p[2 * c], cy = p[2 * d + 1] - p[2 * c + 1];
  const double ra = (ax * (p[2 * a] + p[2 * b]) + ay * (p[2 * a + 1] + p[2 * b + 1])) / 2;
  const double rc = (cx * (p[2 * c] + p[2 * d]) + cy * (p[2 * c + 1] + p[2 * d + 1])) / 2;
  const double det = ax * cy - ay * cx;
  if (fabs(det) < 1e-12) {
    return 0;
  }
  *x = (ra * cy - ay * rc) / det;
  *y = (ax * rc - ra * cx) / det;
  return 1;
}

/* Every pair of pairs (which includes every triple: pairs that share a point) is tried as support:
 * the best of all is the exact answer for minimum zone, smallest and largest circle. */
static void exhaustive(size_t n, double *minimum, double *around, double *inside)
{
  *minimum = *around = 1e300;
  *inside = 0;
  for (size_t a = 0; a < n; a++) {
    for (size_t b = a + 1; b < n; b++) {
      double low, high;
      const double mx = (point[2 * a] + point[2 * b]) / 2,
                   my = (point[2 * a + 1] + point[2 * b + 1]) / 2;
      width_about(mx, my, n, &low, &high);
      *around = fmin(*around, high);
      for (size_t c = a; c < n; c++) {
        for (size_t d = c + 1; d < n; d++) {
          double x, y;
          if ((c == a && d <= b) || !bisectors_meet(a, b, c, d, &x, &y)) {
            continue;
          }
          const double width = width_about(x, y, n, &low, &high);
          *minimum = fmin(*minimum, width);
          *around = fmin(*around, high);
          /* inscribed: three on the circle with the centre between them */
          const size_t third = c == a || c == b ? d : d == a || d == b ? c : n;
          if (third < n && fabs(hypot(point[2 * a] - x, point[2 * a + 1] - y) - low) < 1e-9) {
            const size_t t[3] = {a, b, third};
            int left = 0;
            for (int i = 0; i < 3; i++) {
              const double *p = point + 2 * t[i], *q = point + 2 * t[(i + 1) % 3];
              left += (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]) > 0 ? 1 : -1;
            }
            *inside = abs(left) == 3 ? fmax(*inside, low) : *inside;
          }
        }
      }
    }
  }
}

static void zones_against_exhaustive_search(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 4291, 0);
  int inscribed = 0;
  for (int set = 0; set < 1000; set++) {
    const size_t n = 5 + (size_t)tw_random_below(&random, 8);
    const double form = pow(10, -4 + 3.5 * tw_random_uniform(&random)); /* of a radius of 10 */
    const double start = 6.28 * tw_random_uniform(&random);
    for (size_t i = 0; i < n; i++) {
      const double t =
          start + 6.283185307179586 * ((double)i + 0.4 * tw_random_uniform(&random)) / (double)n;
      const double r = 10 + form * tw_random_normal(&random);
      point[2 * i] = 3 + r * cos(t);
      point[2 * i + 1] = -7 + r * sin(t);
    }
    double minimum, around, inside;
    exhaustive(n, &minimum, &around, &inside);
    tw_zone_fit z;
    assert_int_equal(tw_fit_zone(TW_ZONE_MINIMUM, point, n, &z, NULL), TW_OK);
    assert_near(z.roundness, minimum, 1e-7);
    assert_int_equal(tw_fit_zone(TW_ZONE_CIRCUMSCRIBED, point, n, &z, NULL), TW_OK);
    assert_near(z.radius, around, 1e-10);
    const tw_status status = tw_fit_zone(TW_ZONE_INSCRIBED, point, n, &z, NULL);
    if (status == TW_OK) {
      inscribed++;
      assert_near(z.radius, inside, 1e-7);
    }
  }
  print_message("1000 random sets; inscribed circle held in %d of them\n", inscribed);
  assert_true(inscribed > 900);
}

/* cylinders of any direction, from exact points */
static void cylinders_every_way(void **state)
{
  (void)state;
  tw_random random;
  tw_random_start(&random, 77, 0);
  for (int set = 0; set < 60; set++) {
    double axis[3], u[3], v[3];
    for (int k = 0; k < 3; k++) {
      axis[k] = tw_random_normal(&random);
    }
    const double length = sqrt(axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]);
    for (int k = 0; k < 3; k++) {
      axis[k] /= length;
    }
    const int least = fabs(axis[0]) < fabs(axis[1]) ? 0 : 1;
    double unit[3] = {0};
    unit[least] = 1;
    u[0] = axis[1] * unit[2] - axis[2] * unit[1];
    u[1] = axis[2] * unit[0] - axis[0] * unit[2];
    u[2] = axis[0] * unit[1] - axis[1] * unit[0];
    const double lu = sqrt(u[0] * u[0] + u[1] * u[1] + u[2] * u[2]);
    for (int k = 0; k < 3; k++) {
      u[k] /= lu;
    }
    v[0] = axis[1] * u[2] - axis[2] * u[1];
    v[1] = axis[2] * u[0] - axis[0] * u[2];
    v[2] = axis[0] * u[1] - axis[1] * u[0];
    const double radius = 3 + 40 * tw_random_uniform(&random),
                 height = 2 + 60 * tw_random_uniform(&random);
    const double turn = set % 3 ? 6.283185307179586 : 2.0; /* every third: only part of the bore */
    for (int i = 0; i < 24; i++) {
      const double t = turn * (i % 8) / 8.0, h = height * (i / 8 - 1) / 2.0;
      for (int k = 0; k < 3; k++) {
        point[3 * i + k] = 100 * (k + 1) + radius * (cos(t) * u[k] + sin(t) * v[k]) + h * axis[k];
      }
    }
    tw_fit f;
    tw_fault fault = {0};
    const tw_status status = tw_fit_form(TW_CYLINDER, point, 24, 3, NULL, &f, &fault);
    if (status != TW_OK) {
      print_error("set %d: %s\n", set, fault.text);
    }
    assert_int_equal(status, TW_OK);
    assert_near(f.radius, radius, 1e-9);
    const double dot =
        f.direction[0] * axis[0] + f.direction[1] * axis[1] + f.direction[2] * axis[2];
    assert_near(fabs(dot), 1.0, 1e-12);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(published_circles),
      cmocka_unit_test(listed_circles_and_spheres),
      cmocka_unit_test(listed_cylinder_line_plane),
      cmocka_unit_test(listed_zones),
      cmocka_unit_test(ring_and_sphere_tests),
      cmocka_unit_test(listed_harmonics),
      cmocka_unit_test(far_and_short),
      cmocka_unit_test(zones_against_exhaustive_search),
      cmocka_unit_test(cylinders_every_way),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
