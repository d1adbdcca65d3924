/* normal_box.c: how much of a normal law of several variables lies in a box. */
#include "tripwright/batch_allot.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>
#include <math.h>

/* scores beyond which nothing is left of a normal law in double precision */
#define FAR 8.0
/* points of the quadrature of two variables, and of the lattice of more */
#define NODES   64
#define LATTICE 2039
/* of a correlation that is one but for rounding */
#define PIVOT_LEAST 1e-12

static double between(double low, double high)
{
  return high > low ? gsl_cdf_ugaussian_P(high) - gsl_cdf_ugaussian_P(low) : 0;
}

/* the second is normal about r x of the first */
static double box_of_two(const double *low, const double *high, double r)
{
  const double from = fmax(low[0], -FAR), to = fmin(high[0], FAR), s = sqrt(fmax(1 - r * r, 1e-12));
  gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(NODES);
  double sum = 0;
  for (size_t i = 0; table && to > from && i < NODES; i++) {
    double x, weight;
    gsl_integration_glfixed_point(from, to, i, &x, &weight, table);
    sum += weight * gsl_ran_ugaussian_pdf(x) * between((low[1] - r * x) / s, (high[1] - r * x) / s);
  }
  gsl_integration_glfixed_table_free(table);
  return sum;
}

/* lower triangle of the root of r; a pivot that rounding made negative is small */
static void root_of(size_t n, const double r[TW_ALLOT_RULES][TW_ALLOT_RULES],
                    double l[TW_ALLOT_RULES][TW_ALLOT_RULES])
{
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++) {
      double sum = i == j ? 1 : r[i][j];
      for (size_t k = 0; k < j; k++) {
        sum -= l[i][k] * l[j][k];
      }
      l[i][j] = i == j ? sqrt(fmax(sum, PIVOT_LEAST)) : sum / l[j][j];
    }
  }
}

/* one point of the lattice: the share left, variable by variable (Genz, J. Comput. Graph. Stat. 1
 * (1992) 141) */
static double at_point(size_t n, const double *low, const double *high,
                       double l[TW_ALLOT_RULES][TW_ALLOT_RULES], size_t point)
{
  /* roots of primes: the directions of a lattice of good spread (Richtmyer) */
  static const double prime[TW_ALLOT_RULES] = {2,  3,  5,  7,  11, 13, 17, 19,
                                               23, 29, 31, 37, 41, 43, 47, 53};
  double y[TW_ALLOT_RULES], share = 1;
  for (size_t i = 0; i < n; i++) {
    double sum = 0;
    for (size_t k = 0; k < i; k++) {
      sum += l[i][k] * y[k];
    }
    const double a = gsl_cdf_ugaussian_P((low[i] - sum) / l[i][i]);
    const double b = gsl_cdf_ugaussian_P((high[i] - sum) / l[i][i]);
    share *= fmax(b - a, 0);
    double u = fmod((double)(point + 1) * sqrt(prime[i]), 1);
    u = fabs(2 * u - 1); /* folded: smooth at the ends */
    y[i] = gsl_cdf_ugaussian_Pinv(fmin(fmax(a + u * (b - a), 1e-16), 1 - 1e-16));
  }
  return share;
}

double tw_normal_box(size_t n, const double *low, const double *high,
                     const double r[TW_ALLOT_RULES][TW_ALLOT_RULES])
{
  double l[TW_ALLOT_RULES][TW_ALLOT_RULES] = {{0}}, sum = 0;
  if (n == 0) {
    return 1;
  }
  if (n <= 2) {
    return n == 1 ? between(low[0], high[0]) : box_of_two(low, high, r[0][1]);
  }
  root_of(n, r, l);
  for (size_t k = 0; k < LATTICE; k++) {
    sum += at_point(n, low, high, l, k);
  }
  return sum / LATTICE;
}
