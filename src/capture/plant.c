/* plant.c: a released weight seen through node, lead and input, in closed form
 * (docs/models/capture.md 2). */
#include "act.h"
#include "complex_of.h"

#include <math.h>

void tw_plant_direct(double tau, tw_plant *out)
{
  *out = (tw_plant){.poles = 1, .rate = {1 / tau}, .weight = {1}};
}

void tw_plant_coupled(double node, double bias, double input, double coupling, tw_plant *out)
{
  const double g = 1 / bias, in = 1 / input;
  const double a = -(g + in) / node, b = in / node, c = in / coupling;
  /* eigenvalues of [a b; c -c], both real and negative: a passive network of R and C */
  const double half = (a - c) / 2, root = sqrt((a + c) * (a + c) / 4 + b * c);
  const double fast = half - root, slow = half + root;
  const double start = 1 / node, slope = (a - c) / node;
  const double slow_weight = (slope - fast * start) / (slow - fast);
  *out =
      (tw_plant){.poles = 2, .rate = {-fast, -slow}, .weight = {start - slow_weight, slow_weight}};
}

/* mean over [t - cut, t] of e^(s u) for u > 0, while the cut lasts */
static double complex during(double complex s, double t, double cut)
{
  return t > 0 ? (cexp(s * t) - 1) / (s * cut) : 0;
}

/* mean over the cut of e^(-s u), which makes the same of e^(s t) afterwards */
static double complex smear(double complex s, double cut)
{
  const double complex x = s * cut;
  return cabs(x) < 1e-4 ? 1 - x / 2 : (1 - cexp(-x)) / x;
}

void tw_course_set(const tw_plant *plant, double cut, double a, double w, tw_course *out)
{
  const double complex s = CMPLX(-a, w);
  double complex own = 0;
  *out = (tw_course){.plant = *plant, .cut = cut, .a = a, .w = w};
  for (size_t k = 0; k < plant->poles; k++) {
    const double r = plant->rate[k];
    const double complex share = plant->weight[k] * r / (r + s);
    out->edge[k] = creal(smear(CMPLX(-r, 0), cut));
    out->share[k][0] = creal(share);
    out->share[k][1] = cimag(share);
    own += plant->weight[k] * s / (r + s);
  }
  const double complex mean = smear(s, cut);
  out->own[0] = creal(own);
  out->own[1] = cimag(own);
  out->smear[0] = creal(mean);
  out->smear[1] = cimag(mean);
}

void tw_course_at(const tw_course *c, double t, double *step, double ring[2])
{
  const bool over = t >= c->cut;
  double complex own, both;
  *step = ring[0] = ring[1] = 0;
  if (t <= 0) {
    return;
  }
  if (over) {
    const double size = exp(-c->a * t);
    own = CMPLX(size * cos(c->w * t), size * sin(c->w * t)) * CMPLX(c->smear[0], c->smear[1]);
  } else {
    own = during(CMPLX(-c->a, c->w), t, c->cut);
  }
  both = CMPLX(c->own[0], c->own[1]) * own;
  for (size_t k = 0; k < c->plant.poles; k++) {
    const double r = c->plant.rate[k];
    const double decay = over ? exp(-r * t) * c->edge[k] : creal(during(CMPLX(-r, 0), t, c->cut));
    *step += c->plant.weight[k] * decay;
    both += CMPLX(c->share[k][0], c->share[k][1]) * decay;
  }
  ring[0] = creal(both);
  ring[1] = cimag(both);
}
