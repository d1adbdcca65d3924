/* step.c: the right-hand side and one explicit step (advance.c has what lies between its ends).
 *
 * Dormand and Prince's 5(4) pair with its continuous extension (Hairer, Norsett and Wanner, Solving
 * Ordinary Differential Equations I, II.5 and II.6). The stage's fast pole stays outside while it
 * is linear: over one step the node is the extension's quartic, and the pole's answer to a
 * polynomial is exact.
 */
#include "engine.h"
#include <math.h>

static inline double clip(double x, double limit)
{
  return x > limit ? limit : (x < -limit ? -limit : x);
}

/* force of the contact at gap d > 0 closing at rate v */
static inline double contact_force(const tw_touch_work *w, double d, double v)
{
  if (d <= 0.0) {
    return 0.0;
  }
  const double shape = w->m.contact.kind == TW_CONTACT_HERTZ ? d * sqrt(d) : d;
  const double grip = 1.0 + w->damping_d * v;
  return grip > 0.0 ? w->m.contact.stiffness * shape * grip : 0.0;
}

/* tip, stem and contact; fills f[P1], f[Q1] and returns the force on the carrier */
static inline double tip_slopes(const tw_touch_work *w, double X, double V, double A,
                                const double *y, double *f, double *contact)
{
  const tw_touch_tip *tip = &w->m.tip;
  if (w->m.contact.kind == TW_CONTACT_RIGID) {
    double g = 0.0;
    if (w->contact) { /* the tip's end is the work's surface */
      g = tip->stiffness * (X - y[XW] - y[P2]) + tip->damping * (V - y[VW] - y[Q2]);
      g = g > 0.0 ? g : 0.0;
    }
    f[P1] = 0.0;
    f[Q1] = 0.0;
    *contact = g;
    return g;
  }
  const double g = tip->stiffness * (y[P1] - y[P2]) + tip->damping * (y[Q1] - y[Q2]);
  *contact = w->contact ? contact_force(w, X - y[P1] - y[XW], V - y[Q1] - y[VW]) : 0.0;
  f[P1] = y[Q1];
  f[Q1] = (*contact - g) * w->per_tip + A;
  return g;
}

/* current into the node from the input and its clamps */
static inline double input_current(const tw_touch_work *w, double volt)
{
  const tw_touch_node *n = &w->m.node;
  if (w->clamp == 0) {
    return n->bias_current;
  }
  const double held = w->clamp > 0 ? n->clamp_high : n->clamp_low;
  return (held - volt + n->bias_current * n->clamp_resistance) /
         (n->series_resistance + n->clamp_resistance);
}

/* s = Vn - kappa Vo: (C + Cf) s' = (Vo - Vn)/Rf + Ib - ip; a fast pole that is left out lags its
 * target by u'/wa, and u' = -s'/kappa */
static inline double charge_node(const tw_touch_work *w, const double *y, double current)
{
  const double rf = w->m.stage.feedback_resistance;
  if (w->amp == AMP_EXACT || w->amp == AMP_NONE) {
    const double u = w->amp_target + w->amp_gain * y[NODE];
    const double lag =
        w->wa > 0.0 ? 1.0 - (1.0 - w->kappa) / (rf * w->total_c * w->kappa * w->wa) : 1.0;
    const double rate =
        (((1.0 - w->kappa) * u - y[NODE]) / rf + w->m.node.bias_current - current) / w->total_c;
    return rate / lag;
  }
  const double volt = y[NODE] + w->kappa * y[AMP];
  return ((y[AMP] - volt) / rf + input_current(w, volt) - current) / w->total_c;
}

static inline double node_slope(const tw_touch_work *w, const double *y, double current)
{
  const tw_touch_node *n = &w->m.node;
  if (n->sense == TW_SENSE_OPENING) {
    return w->open ? ((n->open_voltage - y[NODE]) / n->resistance + input_current(w, y[NODE])) /
                         n->capacitance
                   : 0.0;
  }
  if (w->m.stage.kind == TW_STAGE_CHARGE) {
    return charge_node(w, y, current);
  }
  const double pulled = n->output_pull * (y[OUT] - w->out_rest);
  return (current - (y[NODE] - n->bias_voltage) * w->per_r + input_current(w, y[NODE]) + pulled) *
         w->per_c;
}

static inline double out_slope(const tw_touch_work *w, const double *y)
{
  const tw_touch_comparator *c = &w->m.comparator;
  if (c->kind == TW_COMPARATOR_DELAY) {
    return 0.0; /* it flips at a set instant */
  }
  const double e = tw_touch_lean(w, tw_touch_signal(w, y[NODE], y[AMP]), y[OUT]);
  if (c->kind == TW_COMPARATOR_SMOOTH) {
    const double aim = c->low + (c->high - c->low) * 0.5 * (1.0 + tanh(c->steepness * e));
    return (aim - y[OUT]) / c->time_constant;
  }
  return c->slew > 0.0 ? clip(w->wo * e, c->slew) : w->wo * e;
}

static inline void account(const tw_touch_work *w, double X, double V, const double *y, double *f,
                           touch_forces at)
{
  const tw_touch_model *m = &w->m;
  double v1 = y[Q1];
  double loss = m->carrier.damping * y[Q2] * y[Q2] + m->support.damping * y[VW] * y[VW];
  if (m->contact.kind == TW_CONTACT_RIGID) {
    v1 = V - y[VW]; /* the spring's end moves with the surface */
    if (w->contact) {
      loss += at.contact > 0.0
                  ? (at.contact - m->tip.stiffness * (X - y[XW] - y[P2])) * (v1 - y[Q2])
                  : 0.0;
    }
  } else {
    const double rate = y[Q1] - y[Q2];
    const double d = X - y[P1] - y[XW];
    loss += m->tip.damping * rate * rate;
    if (w->contact && d > 0.0) {
      const double shape = m->contact.kind == TW_CONTACT_HERTZ ? d * sqrt(d) : d;
      loss += (at.contact - m->contact.stiffness * shape) * (V - y[Q1] - y[VW]);
    }
  }
  f[DRIVEN] = (at.carrier + m->carrier.damping * y[Q2]) * V;
  f[LOST] = loss;
}

static inline void carrier_law(tw_touch_work *w, double x, double *force, double *slope)
{
  const tw_touch_carrier *c = &w->m.carrier;
  if (c->law == TW_CARRIER_LINEAR) {
    *force = c->stiffness * x;
    *slope = c->charge_per_metre;
  } else if (c->law == TW_CARRIER_TABLE && x >= 0.0) {
    double s = 0.0;
    const cubic_piece *p = tw_touch_table_piece(w, x, &s);
    *force = p->f[0] + s * (p->f[1] + s * (p->f[2] + s * p->f[3]));
    *slope = p->q[1] + s * (2.0 * p->q[2] + 3.0 * s * p->q[3]);
  } else {
    double charge = 0.0;
    double energy = 0.0;
    tw_touch_law(w, x, force, &charge, slope, &energy);
  }
}

static inline void slopes(tw_touch_work *w, double t, const double *y, double *f,
                          touch_forces *force, int size)
{
  const tw_touch_model *m = &w->m;
  double X = 0.0;
  double V = 0.0;
  double A = 0.0;
  touch_body(&w->queue[w->seg], t, &X, &V, &A);
  const double g = tip_slopes(w, X, V, A, y, f, &force->contact);
  double charge_slope = 0.0;
  carrier_law(w, y[P2], &force->carrier, &charge_slope);
  f[P2] = y[Q2];
  f[Q2] = (g - force->carrier - m->carrier.damping * y[Q2]) * w->per_carrier + A;
  f[NODE] = node_slope(w, y, charge_slope * y[Q2]);
  f[AMP] = 0.0;
  if (w->amp == AMP_DYNAMIC) {
    const double rate = w->wa * (w->amp_target + w->amp_gain * y[NODE] - y[AMP]);
    f[AMP] = w->slew_a > 0.0 ? clip(rate, w->slew_a) : rate;
  }
  if (size > OUT) {
    f[OUT] = w->out == OUT_DYNAMIC ? out_slope(w, y) : 0.0;
    f[SPARE] = 0.0;
  }
  if (size > SPARE + 1) {
    f[XW] = 0.0;
    f[VW] = 0.0;
    if (m->support.stiffness > 0.0) {
      f[XW] = y[VW];
      f[VW] = (force->contact - m->support.stiffness * y[XW] - m->support.damping * y[VW]) /
              m->support.mass;
    }
    account(w, X, V, y, f, *force);
  }
}

bool tw_touch_is_wide(const tw_touch_work *w)
{
  return w->m.energy || w->m.support.stiffness > 0.0;
}

void tw_touch_slopes(tw_touch_work *w, double t, const double y[STATES], double f[STATES],
                     touch_forces *force)
{
  slopes(w, t, y, f, force, tw_touch_is_wide(w) ? STATES : OUT);
  if (!tw_touch_is_wide(w)) {
    f[OUT] = w->out == OUT_DYNAMIC ? out_slope(w, y) : 0.0;
    f[SPARE] = f[XW] = f[VW] = f[DRIVEN] = f[LOST] = 0.0;
  }
}

/* ---- the pair ----------------------------------------------------------------------------------
 */

/* y1 = y + h sum a_i k_i, with the sum's terms in fixed order */
#define COMBINE(sum)                                                                               \
  for (int i = 0; i < size; i++) {                                                                 \
    y1[i] = y[i] + h * (sum);                                                                      \
  }

static inline double try_size(tw_touch_work *w, double h, const int size)
{
  double *const k1 = w->k[0], *const k2 = w->k[1], *const k3 = w->k[2], *const k4 = w->k[3];
  double *const k5 = w->k[4], *const k6 = w->k[5], *const k7 = w->k[6];
  const double *const y = w->y;
  double *const y1 = w->y1;
  const double t = w->t;
  touch_forces f;
  COMBINE(1.0 / 5 * k1[i])
  slopes(w, t + h / 5, y1, k2, &f, size);
  COMBINE(3.0 / 40 * k1[i] + 9.0 / 40 * k2[i])
  slopes(w, t + 0.3 * h, y1, k3, &f, size);
  COMBINE(44.0 / 45 * k1[i] - 56.0 / 15 * k2[i] + 32.0 / 9 * k3[i])
  slopes(w, t + 0.8 * h, y1, k4, &f, size);
  COMBINE(19372.0 / 6561 * k1[i] - 25360.0 / 2187 * k2[i] + 64448.0 / 6561 * k3[i] -
          212.0 / 729 * k4[i])
  slopes(w, t + 8.0 / 9 * h, y1, k5, &f, size);
  COMBINE(9017.0 / 3168 * k1[i] - 355.0 / 33 * k2[i] + 46732.0 / 5247 * k3[i] + 49.0 / 176 * k4[i] -
          5103.0 / 18656 * k5[i])
  slopes(w, t + h, y1, k6, &f, size);
  COMBINE(35.0 / 384 * k1[i] + 500.0 / 1113 * k3[i] + 125.0 / 192 * k4[i] - 2187.0 / 6784 * k5[i] +
          11.0 / 84 * k6[i])
  slopes(w, t + h, y1, k7, &w->force1, size);
  double worst = 0.0;
  for (int i = 0; i < size; i++) {
    const double e = h * (71.0 / 57600 * k1[i] - 71.0 / 16695 * k3[i] + 71.0 / 1920 * k4[i] -
                          17253.0 / 339200 * k5[i] + 22.0 / 525 * k6[i] - 1.0 / 40 * k7[i]);
    const double scale = w->floor[i] + w->m.tolerance * most(fabs(y[i]), fabs(y1[i]));
    const double part = w->weight[i] * fabs(e) / scale;
    worst = part > worst || part != part ? part : worst; /* NaN stays and is refused */
  }
  return worst;
}

double tw_touch_try_explicit(tw_touch_work *w, double h)
{
  if (tw_touch_is_wide(w)) {
    w->carried = STATES;
    return try_size(w, h, STATES);
  }
  if (w->out == OUT_DYNAMIC) {
    w->carried = SPARE + 1;
    return try_size(w, h, SPARE + 1);
  }
  w->carried = OUT; /* the output rests: its states stand still */
  const double error = try_size(w, h, OUT);
  w->y1[OUT] = w->y[OUT];
  return error;
}
