/* advance.c: one step, explicit or implicit, and what lies between its ends. */
#include "engine.h"
#include <math.h>

/* the node over the step in powers of theta */
static void node_polynomial(tw_touch_work *w)
{
  const double h = w->step;
  const double d = w->y1[NODE] - w->y[NODE];
  const double r3 = h * w->k[0][NODE] - d;
  const double r4 = d - h * w->k[6][NODE] - r3;
  const double r5 = w->implicit ? 0.0
                                : h * (-12715105075.0 / 11282082432.0 * w->k[0][NODE] +
                                       87487479700.0 / 32700410799.0 * w->k[2][NODE] -
                                       10690763975.0 / 1880347072.0 * w->k[3][NODE] +
                                       701980252875.0 / 199316789632.0 * w->k[4][NODE] -
                                       1453857185.0 / 822651844.0 * w->k[5][NODE] +
                                       69997945.0 / 29380423.0 * w->k[6][NODE]);
  w->np[0] = w->y[NODE];
  w->np[1] = d + r3;
  w->np[2] = -r3 + r4 + r5;
  w->np[3] = -r4 - 2.0 * r5;
  w->np[4] = r5;
}

/* J_k = int_0^1 e^(-z(1-s)) s^k ds: forward recurrence for large z, series for small */
static void moments(double z, double decay, double j[5])
{
  if (z > 2.0) {
    j[0] = (1.0 - decay) / z;
    for (int k = 1; k < 5; k++) {
      j[k] = (1.0 - k * j[k - 1]) / z;
    }
    return;
  }
  for (int k = 0; k < 5; k++) {
    double term = 1.0 / (k + 1);
    j[k] = term;
    for (int i = 2; i < 30 && fabs(term) > 1e-17 * j[k]; i++) {
      term *= -z / (k + i);
      j[k] += term;
    }
  }
}

/* a' = wa (u - a) with u = target + gain x node(theta): exact at theta */
double tw_touch_amp_at(tw_touch_work *w, double theta)
{
  if (w->amp != AMP_EXACT) {
    return tw_touch_at(w, AMP, theta);
  }
  const double z = w->wa * w->step * theta;
  if (z <= 0.0) {
    return w->y[AMP];
  }
  const double decay = exp(-z);
  double j[5];
  moments(z, decay, j);
  double power = 1.0;
  double sum = w->amp_target * j[0];
  for (int k = 0; k < 5; k++) {
    sum += w->amp_gain * w->np[k] * power * j[k];
    power *= theta;
  }
  return decay * w->y[AMP] + z * sum;
}

double tw_touch_try(tw_touch_work *w, double h)
{
  double error = 0.0;
  if (w->implicit) {
    w->carried = tw_touch_is_wide(w) ? STATES : AMP;
    error = tw_touch_try_implicit(w, h);
  } else {
    error = tw_touch_try_explicit(w, h);
  }
  w->step = h;
  w->dense = false;
  w->amp1 = w->y1[AMP];
  if (w->amp == AMP_EXACT && error <= 1.0) {
    node_polynomial(w);
    w->amp1 = tw_touch_amp_at(w, 1.0);
    w->y1[AMP] = w->amp1;
  }
  return error;
}

void tw_touch_dense(tw_touch_work *w)
{
  if (w->dense) {
    return;
  }
  const double h = w->step;
  for (int i = w->carried; i < STATES; i++) {
    w->r[0][i] = w->y[i];
    w->r[1][i] = w->r[2][i] = w->r[3][i] = w->r[4][i] = 0.0;
  }
  for (int i = 0; i < w->carried; i++) {
    const double d = w->y1[i] - w->y[i];
    const double r3 = h * w->k[0][i] - d;
    w->r[0][i] = w->y[i];
    w->r[1][i] = d;
    w->r[2][i] = r3;
    w->r[3][i] = d - h * w->k[6][i] - r3;
    w->r[4][i] = w->implicit ? 0.0
                             : h * (-12715105075.0 / 11282082432.0 * w->k[0][i] +
                                    87487479700.0 / 32700410799.0 * w->k[2][i] -
                                    10690763975.0 / 1880347072.0 * w->k[3][i] +
                                    701980252875.0 / 199316789632.0 * w->k[4][i] -
                                    1453857185.0 / 822651844.0 * w->k[5][i] +
                                    69997945.0 / 29380423.0 * w->k[6][i]);
  }
  w->dense = true;
}

double tw_touch_at(tw_touch_work *w, int state, double theta)
{
  tw_touch_dense(w);
  const double s = 1.0 - theta;
  return w->r[0][state] +
         theta * (w->r[1][state] +
                  s * (w->r[2][state] + theta * (w->r[3][state] + s * w->r[4][state])));
}
