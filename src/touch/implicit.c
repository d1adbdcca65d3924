/* implicit.c: the step for the quiet part of a touch.
 *
 * Once the tip's ringing on its contact has died away, an explicit step is still held down to that
 * ringing's period. The linearly implicit Euler rule, repeated with 1, 2, 3, 4 sub-steps and
 * extrapolated (Hairer and Wanner, Solving Ordinary Differential Equations II, IV.9), has order 4,
 * follows the slow motion and damps the rest. With velocities taken out, each sub-step solves a
 * two by two system. Between its ends the step is the cubic through both values and slopes.
 */
#include "engine.h"
#include <math.h>
#include <string.h>

enum { COLUMNS = 4, MOVING = NODE + 1 };

/* derivatives of the forces at the beginning of the step */
typedef struct slope_set {
  double kc, cc;         /* contact: over its approach and over its rate */
  double k2;             /* carrier */
  double to_node, decay; /* node: over q2, over itself (positive) */
  double time[2];        /* of q1', q2' by time alone */
  double qq[2][2], qp[2][2];
} slope_set;

static void contact_slopes(const tw_touch_work *w, double d, double rate, slope_set *s)
{
  const tw_touch_contact *c = &w->m.contact;
  const double grip = 1.0 + w->damping_d * rate;
  s->kc = s->cc = 0.0;
  if (!w->contact || d <= 0.0 || grip <= 0.0) {
    return;
  }
  const bool hertz = c->kind == TW_CONTACT_HERTZ;
  const double root = hertz ? sqrt(d) : 1.0;
  s->kc = c->stiffness * (hertz ? 1.5 * root : 1.0) * grip;
  s->cc = c->stiffness * d * root * w->damping_d;
}

static double carrier_stiffness(tw_touch_work *w, double x)
{
  const tw_touch_carrier *c = &w->m.carrier;
  if (c->law == TW_CARRIER_TABLE) {
    double u = 0.0;
    const cubic_piece *p = touch_table_piece(w, x, &u);
    return x < 0.0 ? p->f[1] : p->f[1] + u * (2.0 * p->f[2] + 3.0 * u * p->f[3]);
  }
  if (c->law == TW_CARRIER_SOFTENING && x > c->knee) {
    return c->stiffness * exp(-(x - c->knee) / c->levelling);
  }
  return c->stiffness;
}

static slope_set slopes_of(tw_touch_work *w)
{
  const tw_touch_model *m = &w->m;
  const double *y = w->y;
  const segment *seg = &w->queue[w->seg];
  double X = 0.0;
  double V = 0.0;
  double A = 0.0;
  touch_body(seg, w->t, &X, &V, &A);
  slope_set s;
  contact_slopes(w, X - y[P1], V - y[Q1], &s);
  s.k2 = carrier_stiffness(w, y[P2]);
  const double ks = m->tip.stiffness;
  const double cs = m->tip.damping;
  s.qq[0][0] = -(s.cc + cs) * w->per_tip;
  s.qq[0][1] = cs * w->per_tip;
  s.qq[1][0] = cs * w->per_carrier;
  s.qq[1][1] = -(cs + m->carrier.damping) * w->per_carrier;
  s.qp[0][0] = -(s.kc + ks) * w->per_tip;
  s.qp[0][1] = ks * w->per_tip;
  s.qp[1][0] = ks * w->per_carrier;
  s.qp[1][1] = -(ks + s.k2) * w->per_carrier;
  s.time[0] = (s.kc * V + s.cc * A) * w->per_tip + seg->j;
  s.time[1] = seg->j;
  /* the node is driven by q2 in proportion; its own decay is slow */
  double force = 0.0;
  double charge = 0.0;
  double slope = 0.0;
  double energy = 0.0;
  touch_law(w, y[P2], &force, &charge, &slope, &energy);
  const bool senses = m->node.sense == TW_SENSE_CHARGE;
  if (m->stage.kind == TW_STAGE_CHARGE) {
    s.to_node = -slope / w->total_c;
    s.decay = 1.0 / (m->stage.feedback_resistance * m->stage.feedback_capacitance);
  } else {
    s.to_node = senses ? slope * w->per_c : 0.0;
    s.decay = senses || w->open ? w->per_r * w->per_c : 0.0;
  }
  return s;
}

/* one linearly implicit Euler step: (1 - h J) dy = h f + h^2 f_t, velocities first */
static void euler(const slope_set *s, const double y[MOVING], const double f[STATES], double h,
                  double out[MOVING])
{
  const double h2 = h * h;
  const double a = 1.0 - h * s->qq[0][0] - h2 * s->qp[0][0];
  const double b = -h * s->qq[0][1] - h2 * s->qp[0][1];
  const double c = -h * s->qq[1][0] - h2 * s->qp[1][0];
  const double d = 1.0 - h * s->qq[1][1] - h2 * s->qp[1][1];
  const double r0 = h * f[Q1] + h2 * (s->qp[0][0] * y[Q1] + s->qp[0][1] * y[Q2] + s->time[0]);
  const double r1 = h * f[Q2] + h2 * (s->qp[1][0] * y[Q1] + s->qp[1][1] * y[Q2] + s->time[1]);
  const double det = a * d - b * c;
  const double dq1 = (r0 * d - b * r1) / det;
  const double dq2 = (a * r1 - c * r0) / det;
  out[Q1] = y[Q1] + dq1;
  out[Q2] = y[Q2] + dq2;
  out[P1] = y[P1] + h * out[Q1];
  out[P2] = y[P2] + h * out[Q2];
  out[NODE] = y[NODE] + h * (f[NODE] + s->to_node * dq2) / (1.0 + h * s->decay);
}

/* n sub-steps over h from the step's beginning */
static void substeps(tw_touch_work *w, const slope_set *s, int n, double h, double out[MOVING])
{
  double y[STATES];
  double f[STATES];
  touch_forces force;
  memcpy(y, w->y, sizeof y);
  memcpy(f, w->k[0], sizeof f);
  const double sub = h / n;
  for (int i = 0; i < n; i++) {
    if (i > 0) {
      touch_slopes(w, w->t + i * sub, y, f, &force);
    }
    euler(s, y, f, sub, out);
    memcpy(y, out, MOVING * sizeof *out);
  }
}

bool touch_may_be_implicit(const tw_touch_work *w)
{
  const tw_touch_model *m = &w->m;
  return m->contact.kind != TW_CONTACT_RIGID && m->support.stiffness == 0.0 && !m->energy &&
         w->out != OUT_DYNAMIC && w->amp != AMP_DYNAMIC && w->clamp == 0;
}

/* rate at which the tip moves on its contact now, 1/s: what holds an explicit step down */
double touch_contact_rate(const tw_touch_work *w)
{
  double X = 0.0;
  double V = 0.0;
  double A = 0.0;
  touch_body(&w->queue[w->seg], w->t, &X, &V, &A);
  slope_set s;
  contact_slopes(w, X - w->y[P1], V - w->y[Q1], &s);
  const double ring = sqrt((s.kc + w->m.tip.stiffness) * w->per_tip);
  return most(ring, 0.5 * (s.cc + w->m.tip.damping) * w->per_tip);
}

double touch_try_implicit(tw_touch_work *w, double h)
{
  const slope_set s = slopes_of(w);
  double table[COLUMNS][MOVING];
  double before[MOVING] = {0.0};
  for (int j = 0; j < COLUMNS; j++) {
    double fresh[MOVING];
    substeps(w, &s, j + 1, h, fresh);
    /* T(j,k+1) = T(j,k) + (T(j,k) - T(j-1,k)) / (n_j/n_(j-k-1) - 1) */
    for (int k = 0; k < j; k++) {
      const double ratio = (double)(j + 1) / (double)(j - k);
      for (int i = 0; i < MOVING; i++) {
        const double old = table[k][i];
        table[k][i] = fresh[i];
        fresh[i] += (fresh[i] - old) / (ratio - 1.0);
        before[i] = table[k][i];
      }
    }
    memcpy(table[j], fresh, sizeof fresh);
  }
  double worst = 0.0;
  memcpy(w->y1, w->y, sizeof w->y1);
  for (int i = 0; i < MOVING; i++) {
    const double y1 = table[COLUMNS - 1][i];
    const double scale = w->floor[i] + w->m.tolerance * most(fabs(w->y[i]), fabs(y1));
    const double part = w->weight[i] * fabs(y1 - before[i]) / scale;
    worst = part > worst || part != part ? part : worst;
    w->y1[i] = y1;
  }
  if (worst <= 1.0) {
    touch_slopes(w, w->t + h, w->y1, w->k[6], &w->force1);
  }
  return worst;
}
