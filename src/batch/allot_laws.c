/* allot_laws.c: tolerances at least cost for costs that follow a law, by Lagrange's multiplier. */
#include "tripwright/batch_allot.h"

#include <math.h>

/* steps of halving: beyond, a double does not change any more */
#define HALVINGS 200

void tw_allot_power(const double *slope, const double *b, size_t n, int power, double total,
                    bool worst_case, double *t)
{
  double sum = 0;
  for (size_t i = 0; i < n; i++) {
    const double a = fabs(slope[i]);
    t[i] = pow(b[i] / (worst_case ? a : a * a), 1.0 / (power + (worst_case ? 1 : 2)));
    sum += worst_case ? a * t[i] : a * a * t[i] * t[i];
  }
  const double scale = total / (worst_case ? sum : sqrt(sum));
  for (size_t i = 0; i < n; i++) {
    t[i] *= scale;
  }
}

/* b m exp(-m t) = lambda a^2 t falls on the left and rises on the right */
static double at_multiplier(double a, double b, double m, double lambda, double least, double most)
{
  double low = least, high = most;
  for (int k = 0; k < HALVINGS; k++) {
    const double t = (low + high) / 2;
    if (b * m * exp(-m * t) > lambda * a * a * t) {
      low = t;
    } else {
      high = t;
    }
  }
  return (low + high) / 2;
}

bool tw_allot_exponential(const double *slope, const double *b, const double *m,
                          const double *least, const double *most, size_t n, double total,
                          double *t)
{
  double tight = 0, loose = 0;
  for (size_t i = 0; i < n; i++) {
    tight += slope[i] * slope[i] * least[i] * least[i];
    loose += slope[i] * slope[i] * most[i] * most[i];
    t[i] = most[i];
  }
  if (tight > total * total) {
    return false;
  }
  if (loose <= total * total) {
    return true;
  }
  double low = -700, high = 700; /* ln lambda */
  for (int k = 0; k < HALVINGS; k++) {
    const double lambda = exp((low + high) / 2);
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
      t[i] = at_multiplier(slope[i], b[i], m[i], lambda, least[i], most[i]);
      sum += slope[i] * slope[i] * t[i] * t[i];
    }
    if (sum > total * total) {
      low = (low + high) / 2;
    } else {
      high = (low + high) / 2;
    }
  }
  return true;
}
