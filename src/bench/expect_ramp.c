/* expect_ramp.c: a force that a hand lets on or off over some time, along a course of the seat, and
 * the charge that the leak leaves of it (docs/models/bench.md, weights and hands). */
#include "expect.h"

#include <math.h>

/* of the force that is looked for, and halvings that it takes from the largest */
#define FORCE_HALVINGS 40

/* charge that a force on the course has set free; past its last row its last piece goes on */
static double charge_at(const tw_bench_course *c, double force)
{
  int i = 1;
  while (i < c->rows - 1 && c->force[i] < force) {
    i++;
  }
  const double df = c->force[i] - c->force[i - 1], dq = c->charge[i] - c->charge[i - 1];
  return c->charge[i - 1] + dq * (force - c->force[i - 1]) / df;
}

/* as the comparator sees it: a charge of the other sign does not trip, or has its own threshold */
static double seen(const tw_bench_course *c, double charge)
{
  if (c->sign != 0) {
    return c->sign * charge;
  }
  const double share = charge > 0.0 ? c->counts_plus : c->counts_minus;
  return fabs(charge) * (share > 0.0 ? share : 1.0);
}

/* What is left on the node when `more` comes evenly within a time of z time constants:
 * q' = -q/tau + more/t, so q(t) = q e^-z + more (1 - e^-z)/z. In between it runs one way only. */
static double leak(double left, double more, double z)
{
  if (z < 1e-9) {
    return left + more;
  }
  return left * exp(-z) + more * -expm1(-z) / z;
}

/* a place on the way */
typedef struct place {
  double force, charge;
} place;

/* one straight piece of the way, on to the next place; z: time constants per newton */
static void go(const tw_bench_course *c, place to, bool off, double z, place *at,
               tw_bench_left *left)
{
  left->end = leak(left->end, to.charge - at->charge, fabs(to.force - at->force) * z);
  left->peak = fmax(left->peak, off ? fabs(left->end) : seen(c, left->end));
  *at = to;
}

tw_bench_left tw_bench_ramp(const tw_bench_course *c, double force, bool off, double time,
                            double tau)
{
  tw_bench_left out = {0};
  const double z = time / tau / force;
  const place nothing = {0.0, charge_at(c, 0.0)}, whole = {force, charge_at(c, force)};
  place at = off ? whole : nothing;
  for (int k = 0; k < c->rows; k++) {
    const int row = off ? c->rows - 1 - k : k;
    const place next = {c->force[row], c->charge[row]};
    if (off ? next.force < at.force && next.force > 0.0
            : next.force > at.force && next.force < force) {
      go(c, next, off, z, &at, &out);
    }
  }
  go(c, off ? nothing : whole, off, z, &at, &out);
  out.end = off ? fabs(out.end) : seen(c, out.end);
  return out;
}

/* when nothing leaks: the first place on the course with that charge */
static double first_with(const tw_bench_course *c, double threshold)
{
  for (int i = 1; i < c->rows; i++) {
    const double q0 = seen(c, c->charge[i - 1]), q1 = seen(c, c->charge[i]);
    if (q1 >= threshold || i == c->rows - 1) {
      const double part = q1 > q0 ? (threshold - q0) / (q1 - q0) : (double)INFINITY;
      return c->force[i - 1] + part * (c->force[i] - c->force[i - 1]);
    }
  }
  return (double)INFINITY;
}

double tw_bench_least_force(const tw_bench_course *c, double threshold, double most, double time,
                            double tau)
{
  if (isinf(tau)) {
    const double force = first_with(c, threshold);
    return force <= most ? force : (double)INFINITY;
  }
  if (!(tw_bench_ramp(c, most, false, time, tau).peak >= threshold)) {
    return (double)INFINITY;
  }
  double low = 0.0, high = most;
  for (int i = 0; i < FORCE_HALVINGS; i++) {
    const double middle = 0.5 * (low + high);
    if (tw_bench_ramp(c, middle, false, time, tau).peak >= threshold) {
      high = middle;
    } else {
      low = middle;
    }
  }
  return high;
}
