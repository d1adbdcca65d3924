/* spring.c: a spring with a constant rate, or one read from a measured table. */
#include "engine.h"

#include <math.h>

/* Slopes of the monotone cubic through (x, y): weighted harmonic mean of the two secants, zero
 * where they change sign (Fritsch and Butland, from memory). */
void tw_seat_table_slopes(size_t n, const double *x, const double *y, double *slope)
{
  if (n < 2) {
    return;
  }
  for (size_t i = 1; i + 1 < n; i++) {
    const double h0 = x[i] - x[i - 1], h1 = x[i + 1] - x[i];
    const double s0 = (y[i] - y[i - 1]) / h0, s1 = (y[i + 1] - y[i]) / h1;
    const double w0 = 2.0 * h1 + h0, w1 = h1 + 2.0 * h0;
    slope[i] = s0 * s1 > 0.0 ? (w0 + w1) / (w0 / s0 + w1 / s1) : 0.0;
  }
  slope[0] = (y[1] - y[0]) / (x[1] - x[0]);
  slope[n - 1] = (y[n - 1] - y[n - 2]) / (x[n - 1] - x[n - 2]);
}

/* force, rate and integral from the segment's start of the cubic through two points */
static double hermite(double h, const double y[2], const double m[2], double t, double *rate,
                      double *area)
{
  const double c2 = 3.0 * (y[1] - y[0]) - h * (2.0 * m[0] + m[1]);
  const double c3 = 2.0 * (y[0] - y[1]) + h * (m[0] + m[1]);
  *rate = m[0] + (2.0 * c2 * t + 3.0 * c3 * t * t) / h;
  *area = h * t * (y[0] + t * (h * m[0] / 2.0 + t * (c2 / 3.0 + t * c3 / 4.0)));
  return y[0] + t * (h * m[0] + t * (c2 + t * c3));
}

/* force at compression z; straight on past either end of the table */
static double table_force(const seat_spring *p, double z, double *rate, double *area)
{
  const size_t last = p->points - 1;
  double sum = 0.0;
  size_t i = 0;
  if (z <= p->travel[0]) {
    const double d = z - p->travel[0];
    *rate = p->slope[0];
    *area = d * (p->table[0] + 0.5 * d * p->slope[0]);
    return p->table[0] + d * p->slope[0];
  }
  while (i < last && z > p->travel[i + 1]) {
    double r, a;
    (void)hermite(p->travel[i + 1] - p->travel[i], p->table + i, p->slope + i, 1.0, &r, &a);
    sum += a;
    i++;
  }
  if (i == last) {
    const double d = z - p->travel[last];
    *rate = p->slope[last];
    *area = sum + d * (p->table[last] + 0.5 * d * p->slope[last]);
    return p->table[last] + d * p->slope[last];
  }
  const double h = p->travel[i + 1] - p->travel[i];
  const double f = hermite(h, p->table + i, p->slope + i, (z - p->travel[i]) / h, rate, area);
  *area += sum;
  return f;
}

double tw_seat_spring_force(const seat_spring *spring, double s, double *rate, double *energy)
{
  if (spring->points >= 2) {
    double area;
    const double f = table_force(spring, spring->start - s, rate, &area);
    *energy = area; /* d(area)/ds = -f, as for a spring */
    return f;
  }
  *rate = spring->rate;
  *energy = -spring->force * s + 0.5 * spring->rate * s * s;
  return spring->force - spring->rate * s;
}
