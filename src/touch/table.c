/* table.c: the carrier's force and charge along the direction: three laws, one face; and a curve
 * through the points of a crash.
 *
 * A touch follows the table's chords with rounded corners: its slope decides. A crash reads values:
 * monotone cubics, slopes at the knots by the weighted harmonic mean of the neighbouring chords
 * (Fritsch and Butland 1984), whose values never overshoot. Beyond the ends both go on straight.
 */
#include "engine.h"
#include <math.h>

/* a corner takes this share of the shorter chord beside it on either side: wide enough for an
 * integrator's steps, narrow enough to leave half of every chord straight (own choice) */
#define CORNER 0.25

static double chord(const double *x, const double *y, size_t i)
{
  return (y[i + 1] - y[i]) / (x[i + 1] - x[i]);
}

/* slope at a knot between chords d0 (over h0) and d1 (over h1) */
static double knot_slope(double h0, double h1, double d0, double d1)
{
  if (d0 * d1 <= 0.0) {
    return 0.0;
  }
  const double w0 = 2.0 * h1 + h0;
  const double w1 = h1 + 2.0 * h0;
  return (w0 + w1) / (w0 / d0 + w1 / d1);
}

/* one-sided three-point slope at an end, kept within the monotone region */
static double end_slope(double h0, double h1, double d0, double d1)
{
  double s = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
  if (s * d0 <= 0.0) {
    s = 0.0;
  } else if (d0 * d1 <= 0.0 && fabs(s) > 3.0 * fabs(d0)) {
    s = 3.0 * d0;
  }
  return s;
}

static double slope_at(const double *x, const double *y, size_t n, size_t i)
{
  if (n == 2) {
    return (y[1] - y[0]) / (x[1] - x[0]);
  }
  if (i == 0) {
    return end_slope(x[1] - x[0], x[2] - x[1], (y[1] - y[0]) / (x[1] - x[0]),
                     (y[2] - y[1]) / (x[2] - x[1]));
  }
  if (i == n - 1) {
    return end_slope(x[n - 1] - x[n - 2], x[n - 2] - x[n - 3],
                     (y[n - 1] - y[n - 2]) / (x[n - 1] - x[n - 2]),
                     (y[n - 2] - y[n - 3]) / (x[n - 2] - x[n - 3]));
  }
  return knot_slope(x[i] - x[i - 1], x[i + 1] - x[i], (y[i] - y[i - 1]) / (x[i] - x[i - 1]),
                    (y[i + 1] - y[i]) / (x[i + 1] - x[i]));
}

/* the last piece is the straight continuation: only f[0], f[1] and q[0], q[1] */
static void cubic(double c[4], double h, double y0, double y1, double s0, double s1)
{
  const double chord = (y1 - y0) / h;
  c[0] = y0;
  c[1] = s0;
  c[2] = (3.0 * chord - 2.0 * s0 - s1) / h;
  c[3] = (s0 + s1 - 2.0 * chord) / (h * h);
}

/* the cubic through a table at one place, for whoever has no prepared pieces */
double tw_touch_cubic_at(const double *x, const double *y, size_t n, double at)
{
  size_t low = 0;
  size_t high = n - 1;
  while (high - low > 1) {
    const size_t middle = low + (high - low) / 2;
    *(at < x[middle] ? &high : &low) = middle;
  }
  double c[4];
  const double s = at - x[low];
  cubic(c, x[low + 1] - x[low], y[low], y[low + 1], slope_at(x, y, n, low),
        slope_at(x, y, n, low + 1));
  return c[0] + s * (c[1] + s * (c[2] + s * c[3]));
}

/* one piece that begins at x with the straight lines' values and slopes */
static void add_piece(tw_touch_work *w, double x, double force, double charge, double to_force,
                      double to_charge)
{
  cubic_piece *p = &w->piece[w->pieces];
  double energy = 0.0;
  if (w->pieces > 0) {
    const cubic_piece *b = &w->piece[w->pieces - 1];
    const double h = x - b->x;
    energy = b->energy + h * (b->f[0] + h * (b->f[1] / 2.0 + h * b->f[2] / 3.0));
  }
  *p = (cubic_piece){.x = x,
                     .f = {force, to_force, 0.0, 0.0},
                     .q = {charge, to_charge, 0.0, 0.0},
                     .energy = energy};
  w->pieces++;
}

/* a corner: slopes turn evenly from the chord before into the chord behind */
static void add_corner(tw_touch_work *w, size_t i)
{
  const tw_touch_carrier *c = &w->m.carrier;
  const double *x = c->table_x;
  const double *f = c->table_force;
  const double *q = c->table_charge;
  const double f0 = chord(x, f, i - 1);
  const double f1 = chord(x, f, i);
  const double q0 = chord(x, q, i - 1);
  const double q1 = chord(x, q, i);
  const double e = CORNER * least(x[i] - x[i - 1], x[i + 1] - x[i]);
  add_piece(w, x[i] - e, f[i] - e * f0, q[i] - e * q0, f0, q0);
  w->piece[w->pieces - 1].f[2] = (f1 - f0) / (4.0 * e);
  w->piece[w->pieces - 1].q[2] = (q1 - q0) / (4.0 * e);
  add_piece(w, x[i] + e, f[i] + e * f1, q[i] + e * q1, f1, q1);
}

/* Chords with rounded corners. A slope never leaves what the two chords beside it give: a curve
 * with knees, as a seat's when a contact opens or a stop is met, gets no steep place that is not
 * there, and a ramp that leaks away is told by its slope alone. */
void tw_touch_table_build(tw_touch_work *w)
{
  const tw_touch_carrier *c = &w->m.carrier;
  const size_t n = c->table_count;
  w->pieces = 0;
  add_piece(w, c->table_x[0], c->table_force[0], c->table_charge[0],
            chord(c->table_x, c->table_force, 0), chord(c->table_x, c->table_charge, 0));
  for (size_t i = 1; i + 1 < n; i++) {
    add_corner(w, i);
  }
  w->hint = 0;
  w->table_end = c->table_x[n - 1];
}

const cubic_piece *tw_touch_table_piece(tw_touch_work *w, double x, double *s)
{
  size_t i = w->hint;
  while (i + 1 < w->pieces && x >= w->piece[i + 1].x) {
    i++;
  }
  while (i > 0 && x < w->piece[i].x) {
    i--;
  }
  w->hint = i;
  *s = x - w->piece[i].x;
  return &w->piece[i];
}

/* softening: k x to the knee, then k (x0 + l (1 - e^-(x-x0)/l)) */
static void softening(const tw_touch_carrier *c, double x, double *force, double *energy)
{
  const double k = c->stiffness;
  const double l = c->levelling;
  if (x <= c->knee) {
    *force = k * x;
    *energy = 0.5 * k * x * x;
    return;
  }
  const double u = x - c->knee;
  const double fall = -expm1(-u / l);
  *force = k * (c->knee + l * fall);
  *energy = 0.5 * k * c->knee * c->knee + k * (c->knee * u + l * (u - l * fall));
}

void tw_touch_law(tw_touch_work *w, double x, double *force, double *charge, double *slope,
                  double *energy)
{
  const tw_touch_carrier *c = &w->m.carrier;
  if (c->law == TW_CARRIER_TABLE) {
    double s = 0.0;
    const cubic_piece *p = tw_touch_table_piece(w, x, &s);
    if (x < 0.0) { /* pulled forward of its rest: straight on */
      *force = s * p->f[1];
      *charge = p->q[0] + s * p->q[1];
      *slope = p->q[1];
      *energy = 0.5 * p->f[1] * s * s;
      return;
    }
    *force = p->f[0] + s * (p->f[1] + s * (p->f[2] + s * p->f[3]));
    *charge = p->q[0] + s * (p->q[1] + s * (p->q[2] + s * p->q[3]));
    *slope = p->q[1] + s * (2.0 * p->q[2] + 3.0 * s * p->q[3]);
    *energy =
        p->energy + s * (p->f[0] + s * (p->f[1] / 2.0 + s * (p->f[2] / 3.0 + s * p->f[3] / 4.0)));
    return;
  }
  *charge = c->charge_per_metre * x;
  *slope = c->charge_per_metre;
  if (c->law == TW_CARRIER_SOFTENING) {
    softening(c, x, force, energy);
    return;
  }
  *force = c->stiffness * x;
  *energy = 0.5 * c->stiffness * x * x;
}
