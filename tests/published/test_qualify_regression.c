/* Linear and nonlinear NIST StRD sets. Certified values are read from the files' own headers. */
#include "strd.h"
#include "tripwright/qualify_stats.h"

#include <float.h>

static double numbers[8000];

/* certified parameters and their deviations: lines "B0 value deviation" */
static size_t certified_linear(const char *name, double *b, double *u, double *s)
{
  char line[512];
  FILE *file = strd_open(name);
  size_t p = 0;
  *s = (double)NAN;
  while (fgets(line, sizeof line, file)) {
    int which;
    double value, deviation;
    if (sscanf(line, " B%d %lf %lf", &which, &value, &deviation) == 3) {
      b[p] = value;
      u[p++] = deviation;
    }
    const char *word = strstr(line, "Standard Deviation");
    if (word && isnan(*s) && p > 0) {
      sscanf(word + strlen("Standard Deviation"), "%lf", s);
    }
  }
  fclose(file);
  return p;
}

/* What rounding the readings to doubles does to the answer: the same set again with every x and y
 * moved by up to half a unit in its last place. The digits that survive are the bound of the set.
 */
static double data_bound(const double *x, const double *y, size_t n, size_t degree,
                         const tw_regression *fit)
{
  static double mx[2000], my[2000];
  double least = 15.0;
  for (int round = 0; round < 8; round++) {
    unsigned bits = 12345u + 977u * (unsigned)round;
    for (size_t i = 0; i < n; i++) {
      bits = bits * 1103515245u + 12345u;
      mx[i] = x[i] * (1.0 + ((bits >> 16 & 1u) ? 1 : -1) * 0.5 * DBL_EPSILON);
      bits = bits * 1103515245u + 12345u;
      my[i] = y[i] * (1.0 + ((bits >> 16 & 1u) ? 1 : -1) * 0.5 * DBL_EPSILON);
    }
    tw_regression moved;
    assert_int_equal(tw_regress_polynomial(mx, my, n, degree, &moved, NULL), TW_OK);
    for (size_t j = 0; j <= degree; j++) {
      least = fmin(least, strd_digits(moved.b[j], fit->b[j]));
    }
  }
  return least;
}

static void strd_polynomials(void **state)
{
  (void)state;
  /* residual deviation 0 is certified for the exact sets: then it must be as small as rounding */
  static const struct {
    const char *name;
    int last;
    size_t degree;
    double least;
  } sets[] = {{"strd/Norris.dat", 96, 1, 9.0},
              {"strd/Wampler1.dat", 81, 5, 9.0},
              {"strd/Wampler2.dat", 81, 5, 9.0},
              {"strd/Filip.dat", 142, 10, 0.0 /* ill-conditioned: the bound below */}};
  for (size_t k = 0; k < sizeof sets / sizeof sets[0]; k++) {
    static double x[2000], y[2000];
    double b[12], u[12], s;
    const size_t p = certified_linear(sets[k].name, b, u, &s);
    assert_int_equal(p, sets[k].degree + 1);
    const size_t n = strd_read(sets[k].name, 61, sets[k].last, numbers, 8000) / 2;
    for (size_t i = 0; i < n; i++) {
      y[i] = numbers[2 * i];
      x[i] = numbers[2 * i + 1];
    }
    tw_regression r;
    assert_int_equal(tw_regress_polynomial(x, y, n, sets[k].degree, &r, NULL), TW_OK);
    const double bound = data_bound(x, y, n, sets[k].degree, &r);
    if (k == 0) {
      assert_digits(r.r_squared, 0.999993745883712, 14.0); /* printed in the file */
    }
    double least = 15.0;
    for (size_t j = 0; j < p; j++) {
      least = fmin(least, strd_digits(r.b[j], b[j]));
      if (u[j] > 0.0) {
        assert_digits(r.u[j], u[j], fmin(9.0, bound - 1.0));
      }
    }
    print_message("%-18s digits %.1f, bound of the data %.1f, condition %.2g\n", sets[k].name,
                  least, bound, r.condition);
    assert_true(least >= (sets[k].least > 0.0 ? sets[k].least : bound - 1.0));
    if (s > 0.0) {
      assert_digits(r.s, s, 9.0);
    } else {
      assert_true(r.s < 1e-9);
    }
  }
}

static void strd_no_intercept(void **state)
{
  (void)state;
  const size_t n = strd_read("strd/NoInt1.dat", 61, 71, numbers, 8000) / 2;
  double x[32], y[32];
  for (size_t i = 0; i < n; i++) {
    y[i] = numbers[2 * i];
    x[i] = numbers[2 * i + 1];
  }
  tw_regression r;
  assert_int_equal(tw_regress(x, y, n, 1, &r, NULL), TW_OK);
  assert_digits(r.b[0], 2.07438016528926, 14.0);
  assert_digits(r.u[0], 0.165289256198347E-01, 13.0);
  assert_digits(r.s, 3.56753034006338, 13.0);
  assert_digits(r.r_squared, 0.999365492298663, 14.0); /* about zero: no constant */
}

static void strd_longley(void **state)
{
  (void)state;
  double b[12], u[12], s, x[16 * 7], y[16];
  assert_int_equal(certified_linear("strd/Longley.dat", b, u, &s), 7);
  assert_int_equal(strd_read("strd/Longley.dat", 61, 76, numbers, 8000), 16 * 7);
  for (size_t i = 0; i < 16; i++) {
    y[i] = numbers[7 * i];
    x[7 * i] = 1.0;
    memcpy(x + 7 * i + 1, numbers + 7 * i + 1, 6 * sizeof *x);
  }
  tw_regression r;
  assert_int_equal(tw_regress(x, y, 16, 7, &r, NULL), TW_OK);
  double least = 15.0;
  for (size_t j = 0; j < 7; j++) {
    least = fmin(least, strd_digits(r.b[j], b[j]));
    assert_digits(r.b[j], b[j], 9.0);
    assert_digits(r.u[j], u[j], 9.0);
  }
  assert_digits(r.s, 304.854073561965, 9.0);
  assert_digits(r.r_squared, 0.995479004577296, 13.0);
  print_message("strd/Longley.dat   digits %.1f, condition %.2g\n", least, r.condition);
}

/* ---- nonlinear ------------------------------------------------------------------------------- */

static const double *at(const void *self, size_t i)
{
  return (const double *)self + 3 * i; /* x1, x2, y */
}

/* Each model with its derivatives, written from the formula printed in the file. */
static double misra_a(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], e = exp(-b[1] * x);
  if (g) {
    g[0] = 1 - e, g[1] = b[0] * x * e;
  }
  return b[0] * (1 - e);
}

static double misra_b(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], q = 1 + b[1] * x / 2;
  if (g) {
    g[0] = 1 - 1 / (q * q), g[1] = b[0] * x / (q * q * q);
  }
  return b[0] * (1 - 1 / (q * q));
}

static double misra_c(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], q = 1 + 2 * b[1] * x;
  if (g) {
    g[0] = 1 - 1 / sqrt(q), g[1] = b[0] * x / (q * sqrt(q));
  }
  return b[0] * (1 - 1 / sqrt(q));
}

static double misra_d(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], q = 1 + b[1] * x;
  if (g) {
    g[0] = b[1] * x / q, g[1] = b[0] * x / (q * q);
  }
  return b[0] * b[1] * x / q;
}

static double chwirut(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], e = exp(-b[0] * x), q = b[1] + b[2] * x;
  if (g) {
    g[0] = -x * e / q, g[1] = -e / (q * q), g[2] = -x * e / (q * q);
  }
  return e / q;
}

static double danwood(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], q = pow(x, b[1]);
  if (g) {
    g[0] = q, g[1] = b[0] * q * log(x);
  }
  return b[0] * q;
}

static double enso(const void *d, size_t i, const double *b, double *g)
{
  const double w = 6.28318530717958647692 * at(d, i)[0];
  if (g) {
    g[0] = 1, g[1] = cos(w / 12), g[2] = sin(w / 12);
  }
  double sum = b[0] + b[1] * cos(w / 12) + b[2] * sin(w / 12);
  for (int k = 3; k < 9; k += 3) {
    const double c = cos(w / b[k]), s = sin(w / b[k]);
    sum += b[k + 1] * c + b[k + 2] * s;
    if (g) {
      g[k] = (b[k + 1] * s - b[k + 2] * c) * w / (b[k] * b[k]), g[k + 1] = c, g[k + 2] = s;
    }
  }
  return sum;
}

static double gauss(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], e = exp(-b[1] * x);
  if (g) {
    g[0] = e, g[1] = -b[0] * x * e;
  }
  double sum = b[0] * e;
  for (int k = 2; k < 8; k += 3) {
    const double z = (x - b[k + 1]) / b[k + 2], q = exp(-z * z);
    sum += b[k] * q;
    if (g) {
      g[k] = q, g[k + 1] = 2 * b[k] * q * z / b[k + 2], g[k + 2] = g[k + 1] * z;
    }
  }
  return sum;
}

static double lanczos(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0];
  double sum = 0;
  for (int k = 0; k < 6; k += 2) {
    const double e = exp(-b[k + 1] * x);
    sum += b[k] * e;
    if (g) {
      g[k] = e, g[k + 1] = -b[k] * x * e;
    }
  }
  return sum;
}

static double nelson(const void *d, size_t i, const double *b, double *g)
{
  const double x1 = at(d, i)[0], x2 = at(d, i)[1], e = exp(-b[2] * x2);
  if (g) {
    g[0] = 1, g[1] = -x1 * e, g[2] = b[1] * x1 * x2 * e;
  }
  return b[0] - b[1] * x1 * e;
}

static double rat42(const void *d, size_t i, const double *b, double *g)
{
  const double x = at(d, i)[0], e = exp(b[1] - b[2] * x), q = 1 + e;
  if (g) {
    g[0] = 1 / q, g[1] = -b[0] * e / (q * q), g[2] = b[0] * x * e / (q * q);
  }
  return b[0] / q;
}

static double roszman(const void *d, size_t i, const double *b, double *g)
{
  const double pi = 3.14159265358979323846, x = at(d, i)[0], q = x - b[3];
  const double n = (q * q + b[2] * b[2]) * pi;
  if (g) {
    g[0] = 1, g[1] = -x, g[2] = -q / n, g[3] = -b[2] / n;
  }
  return b[0] - b[1] * x - atan(b[2] / q) / pi;
}

/* start 1, start 2, certified value, certified deviation of every parameter */
static size_t certified_nonlinear(const char *name, double row[][4], double *squares)
{
  char line[512];
  FILE *file = strd_open(name);
  size_t p = 0;
  while (fgets(line, sizeof line, file)) {
    int which;
    double *r = row[p];
    if (sscanf(line, " b%d = %lf %lf %lf %lf", &which, &r[0], &r[1], &r[2], &r[3]) == 5) {
      p++;
    }
    sscanf(line, "Residual Sum of Squares: %lf", squares);
  }
  fclose(file);
  return p;
}

/* The files certify eleven digits. Lanczos 1 to 3 are sums of three nearly equal exponentials: the
 * condition of the Jacobian's scaled columns times the rounding of the readings bounds what any
 * solution in doubles can reach, and is asserted as such. */
static void strd_nonlinear(void **state)
{
  (void)state;
  static const struct {
    const char *name;
    tw_model *model;
    int last;
    int columns;
    bool bounded;
  } sets[] = {
      {"strd/Misra1a.dat", misra_a, 74, 2, false},   {"strd/Misra1b.dat", misra_b, 74, 2, false},
      {"strd/Misra1c.dat", misra_c, 74, 2, false},   {"strd/Misra1d.dat", misra_d, 74, 2, false},
      {"strd/Chwirut1.dat", chwirut, 274, 2, false}, {"strd/Chwirut2.dat", chwirut, 114, 2, false},
      {"strd/DanWood.dat", danwood, 66, 2, false},   {"strd/ENSO.dat", enso, 228, 2, false},
      {"strd/Gauss1.dat", gauss, 310, 2, false},     {"strd/Gauss2.dat", gauss, 310, 2, false},
      {"strd/Gauss3.dat", gauss, 310, 2, false},     {"strd/Lanczos1.dat", lanczos, 84, 2, true},
      {"strd/Lanczos2.dat", lanczos, 84, 2, true},   {"strd/Lanczos3.dat", lanczos, 84, 2, true},
      {"strd/Nelson.dat", nelson, 188, 3, false},    {"strd/Rat42.dat", rat42, 69, 2, false},
      {"strd/Roszman1.dat", roszman, 85, 2, false},
  };
  int below = 0;
  for (size_t k = 0; k < sizeof sets / sizeof sets[0]; k++) {
    static double data[3 * 400], y[400];
    double row[12][4], squares = 0.0;
    const size_t p = certified_nonlinear(sets[k].name, row, &squares);
    const size_t columns = (size_t)sets[k].columns;
    const size_t n = strd_read(sets[k].name, 61, sets[k].last, numbers, 8000) / columns;
    for (size_t i = 0; i < n; i++) {
      y[i] = columns == 3 ? log(numbers[3 * i]) : numbers[2 * i];
      data[3 * i] = numbers[columns * i + 1];
      data[3 * i + 1] = columns == 3 ? numbers[3 * i + 2] : 0.0;
    }
    for (int start = 0; start < 2; start++) {
      double from[12];
      for (size_t j = 0; j < p; j++) {
        from[j] = row[j][start];
      }
      tw_regression r;
      tw_fault fault = {0};
      const tw_status status = tw_fit_model(sets[k].model, data, y, n, p, from, &r, &fault);
      if (status != TW_OK) {
        print_error("%s start %d: %s\n", sets[k].name, start + 1, fault.text);
      }
      assert_int_equal(status, TW_OK);
      double least = 15.0, least_u = 15.0;
      for (size_t j = 0; j < p; j++) {
        least = fmin(least, strd_digits(r.b[j], row[j][2]));
        least_u = fmin(least_u, strd_digits(r.u[j], row[j][3]));
      }
      const double bound = -log10(r.condition * DBL_EPSILON);
      print_message("%-18s start %d digits: b %.1f, deviations %.1f, squares %.1f (bound %.1f)\n",
                    sets[k].name, start + 1, least, least_u, strd_digits(r.squares, squares),
                    bound);
      below += least < 9.0;
      assert_true(least >= (sets[k].bounded ? fmin(9.0, bound) : 9.0));
    }
  }
  assert_int_equal(below, 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(strd_polynomials),
      cmocka_unit_test(strd_no_intercept),
      cmocka_unit_test(strd_longley),
      cmocka_unit_test(strd_nonlinear),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
