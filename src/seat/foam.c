/* foam.c: nominal stress of foam under compression, and a measured table in its place
 * (docs/models/seat.md 6). */
#include "engine.h"

#include "tripwright/seat_forms.h"

#include <math.h>

static tw_status outside(tw_fault *fault, double strain, double end)
{
  return tw_fail(fault, TW_BAD_INPUT, "holddown", "compress the foam less",
                 "foam strain %.3g is outside 0 .. %.3g", strain, end);
}

/* Elastic, plateau, densification (Gibson and Ashby, from memory), joined at the plateau's start:
 * E = Es r^2, s_el = 0.05 Es r^2 (1 + sqrt r)^2, e_el = s_el/E, e_D = 1 - 1.4 r, and past e_el
 * s = s_el (e_D - e_el)/(e_D - e). */
tw_status tw_foam_cellular_stress(const tw_foam_cellular *foam, double strain, double *stress,
                                  tw_fault *fault)
{
  const double r = foam->relative_density, root = 1.0 + sqrt(fmax(r, 0.0));
  if (!(r > 0.0 && r < 0.3 && foam->solid_young > 0.0 && isfinite(foam->solid_young))) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown", "give a relative density of 0 .. 0.3",
                   "the foam's modulus or density is not usable");
  }
  const double young = foam->solid_young * r * r, plateau = 0.05 * young * root * root;
  const double yield = plateau / young, full = 1.0 - 1.4 * r;
  if (!(strain >= 0.0 && strain < full)) {
    return outside(fault, strain, full);
  }
  *stress = strain < yield ? young * strain : plateau * (full - yield) / (full - strain);
  return TW_OK;
}

/* lateral nominal stress of stretch l along and t across, and its slope in ln t */
static double lateral(const tw_foam_hyper *f, double l, double t, double *slope)
{
  const double j = l * t * t;
  double sum = 0.0;
  *slope = 0.0;
  for (size_t i = 0; i < f->terms; i++) {
    const double beta = f->poisson[i] / (1.0 - 2.0 * f->poisson[i]);
    const double a = pow(t, f->alpha[i]), b = pow(j, -f->alpha[i] * beta);
    sum += f->mu[i] / f->alpha[i] * (a - b);
    *slope += f->mu[i] * (a + 2.0 * beta * b);
  }
  return sum;
}

/* W = sum 2 mu/al^2 [l1^al + l2^al + l3^al - 3 + (J^(-al be) - 1)/be], be = nu/(1 - 2 nu); the
 * lateral stretch makes the lateral stress vanish (with one term t = l^(-be/(1+2 be))). */
tw_status tw_foam_hyper_stress(const tw_foam_hyper *f, double strain, double *stress,
                               tw_fault *fault)
{
  bool usable = f->terms >= 1 && f->terms <= TW_FOAM_TERMS;
  for (size_t i = 0; usable && i < f->terms; i++) {
    usable = f->mu[i] > 0.0 && f->alpha[i] > 0.0 && isfinite(f->mu[i] + f->alpha[i]) &&
             f->poisson[i] >= 0.0 && f->poisson[i] < 0.5;
  }
  if (!usable) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown", "give mu, alpha > 0 and 0 <= nu < 0.5",
                   "the foam's constants are not usable");
  }
  if (!(strain >= 0.0 && strain < 1.0)) {
    return outside(fault, strain, 1.0);
  }
  const double l = 1.0 - strain;
  double log_t = 0.0; /* rising in ln t: Newton */
  for (int it = 0; it < 100; it++) {
    double slope;
    const double step = lateral(f, l, exp(log_t), &slope) / slope;
    log_t -= step;
    if (fabs(step) < 1e-16) {
      break;
    }
  }
  const double t = exp(log_t), j = l * t * t;
  double sum = 0.0;
  for (size_t i = 0; i < f->terms; i++) {
    const double beta = f->poisson[i] / (1.0 - 2.0 * f->poisson[i]);
    sum += f->mu[i] / f->alpha[i] * (pow(l, f->alpha[i]) - pow(j, -f->alpha[i] * beta));
  }
  *stress = -2.0 / l * sum;
  return isfinite(*stress) ? TW_OK : outside(fault, strain, 1.0);
}

tw_status tw_force_table(const double *travel, const double *force, size_t points, double at,
                         double *value, double *rate, tw_fault *fault)
{
  seat_spring s = {.points = points, .start = at};
  if (points < 2 || points > TW_SEAT_TABLE) {
    return tw_fail(fault, TW_BAD_INPUT, "preload.table", "give 2 to 24 rows of travel and force",
                   "the table has %zu rows", points);
  }
  for (size_t i = 0; i < points; i++) {
    if (!isfinite(travel[i]) || !isfinite(force[i]) ||
        (i > 0 && !(travel[i] > travel[i - 1] && force[i] >= force[i - 1]))) {
      return tw_fail(fault, TW_BAD_INPUT, "preload.table",
                     "travel must rise from row to row and force must not fall",
                     "row %zu of the force table is not usable", i + 1);
    }
    s.travel[i] = travel[i];
    s.table[i] = force[i];
  }
  if (!(at >= travel[0] && at <= travel[points - 1])) {
    return tw_fail(fault, TW_BAD_INPUT, "preload.table", "measure the table further",
                   "travel %.4g mm is outside the table, %.4g .. %.4g mm", at * 1e3,
                   travel[0] * 1e3, travel[points - 1] * 1e3);
  }
  double slope, area;
  tw_seat_table_slopes(points, s.travel, s.table, s.slope);
  *value = tw_seat_spring_force(&s, 0.0, &slope, &area);
  if (rate != NULL) {
    *rate = slope;
  }
  return TW_OK;
}
