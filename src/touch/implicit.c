/* implicit.c: the step for the quiet part of a touch.
 *
 * Once the tip's ringing on its contact has died away, an explicit step is still held down to that
 * ringing's period. The linearly implicit Euler rule, repeated with 1, 2, 3, 4 sub-steps and
 * extrapolated (Hairer and Wanner, Solving Ordinary Differential Equations II, IV.9), has order 4,
 * follows the slow motion and damps the rest. With places taken out, each sub-step solves for two
 * or three velocities. Between its ends the step is the cubic through both values and slopes.
 */
#include "engine.h"
#include <math.h>
#include <string.h>

enum { COLUMNS = 4, BODIES = 3, MOVING = 7 };

/* the states that move here, and those of the bodies among them: tip, carrier, work */
static const int moving[MOVING] = {P1, Q1, P2, Q2, NODE, XW, VW};
static const int place[BODIES] = {P1, P2, XW};
static const int speed[BODIES] = {Q1, Q2, VW};

/* derivatives at the beginning of the step: of each body's acceleration over all speeds, places and
 * time; of the node over the carrier's speed and over itself (decay, positive) */
typedef struct slope_set {
  int bodies; /* 2, or 3 with the work on its spring */
  double speeds[BODIES][BODIES], places[BODIES][BODIES], time[BODIES];
  double kc, cc; /* contact: over its approach and over its rate */
  double to_node, decay;
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
    const cubic_piece *p = tw_touch_table_piece(w, x, &u);
    return x < 0.0 ? p->f[1] : p->f[1] + u * (2.0 * p->f[2] + 3.0 * u * p->f[3]);
  }
  if (c->law == TW_CARRIER_SOFTENING && x > c->knee) {
    return c->stiffness * exp(-(x - c->knee) / c->levelling);
  }
  return c->stiffness;
}

static void node_slopes(tw_touch_work *w, slope_set *s)
{
  const tw_touch_model *m = &w->m;
  const bool senses = m->node.sense == TW_SENSE_CHARGE;
  double force = 0.0;
  double charge = 0.0;
  double slope = 0.0;
  double energy = 0.0;
  tw_touch_law(w, w->y[P2], &force, &charge, &slope, &energy);
  if (m->stage.kind == TW_STAGE_CHARGE) {
    s->to_node = -slope / w->total_c;
    s->decay = 1.0 / (m->stage.feedback_resistance * m->stage.feedback_capacitance);
    return;
  }
  s->to_node = senses ? slope * w->per_c : 0.0;
  s->decay = senses || w->open ? w->per_r * w->per_c : 0.0;
  if (w->clamp != 0) {
    s->decay += w->per_c / (m->node.series_resistance + m->node.clamp_resistance);
  }
}

/* the work on its spring feels the contact as the tip does, from the other side */
static void work_slopes(const tw_touch_work *w, double V, double A, slope_set *s)
{
  const tw_touch_support *u = &w->m.support;
  const double per = 1.0 / u->mass;
  s->speeds[0][2] = -s->cc * w->per_tip;
  s->places[0][2] = -s->kc * w->per_tip;
  s->speeds[2][0] = -s->cc * per;
  s->places[2][0] = -s->kc * per;
  s->speeds[2][2] = -(s->cc + u->damping) * per;
  s->places[2][2] = -(s->kc + u->stiffness) * per;
  s->time[2] = (s->kc * V + s->cc * A) * per;
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
  slope_set s = {.bodies = m->support.stiffness > 0.0 ? 3 : 2};
  contact_slopes(w, X - y[P1] - y[XW], V - y[Q1] - y[VW], &s);
  const double k2 = carrier_stiffness(w, y[P2]);
  const double ks = m->tip.stiffness;
  const double cs = m->tip.damping;
  s.speeds[0][0] = -(s.cc + cs) * w->per_tip;
  s.speeds[0][1] = cs * w->per_tip;
  s.speeds[1][0] = cs * w->per_carrier;
  s.speeds[1][1] = -(cs + m->carrier.damping) * w->per_carrier;
  s.places[0][0] = -(s.kc + ks) * w->per_tip;
  s.places[0][1] = ks * w->per_tip;
  s.places[1][0] = ks * w->per_carrier;
  s.places[1][1] = -(ks + k2) * w->per_carrier;
  s.time[0] = (s.kc * V + s.cc * A) * w->per_tip + seg->j;
  s.time[1] = seg->j;
  if (s.bodies == 3) {
    work_slopes(w, V, A, &s);
  }
  node_slopes(w, &s);
  return s;
}

/* one linearly implicit Euler step, velocities first: [1 - h J_q - h^2 J_p] dq =
 * h f + h^2 (J_p q + f_t); the matrix is close to diagonal, so elimination needs no exchange */
static void euler(const slope_set *s, const double y[STATES], const double f[STATES], double h,
                  double out[STATES])
{
  const int n = s->bodies;
  const double h2 = h * h;
  double a[BODIES][BODIES];
  double r[BODIES];
  for (int i = 0; i < n; i++) {
    r[i] = h * f[speed[i]] + h2 * s->time[i];
    for (int k = 0; k < n; k++) {
      a[i][k] = (i == k ? 1.0 : 0.0) - h * s->speeds[i][k] - h2 * s->places[i][k];
      r[i] += h2 * s->places[i][k] * y[speed[k]];
    }
  }
  for (int i = 0; i < n; i++) {
    for (int j = i + 1; j < n; j++) {
      const double part = a[j][i] / a[i][i];
      for (int k = i; k < n; k++) {
        a[j][k] -= part * a[i][k];
      }
      r[j] -= part * r[i];
    }
  }
  for (int i = n - 1; i >= 0; i--) {
    for (int k = i + 1; k < n; k++) {
      r[i] -= a[i][k] * r[k];
    }
    r[i] /= a[i][i];
    out[speed[i]] = y[speed[i]] + r[i];
    out[place[i]] = y[place[i]] + h * out[speed[i]];
  }
  out[NODE] = y[NODE] + h * (f[NODE] + s->to_node * r[1]) / (1.0 + h * s->decay);
}

/* n sub-steps over h from the step's beginning */
static void substeps(tw_touch_work *w, const slope_set *s, int n, double h, double y[STATES])
{
  double f[STATES];
  double next[STATES];
  touch_forces force;
  memcpy(y, w->y, STATES * sizeof *y);
  memcpy(f, w->k[0], sizeof f);
  memcpy(next, y, sizeof next);
  const double sub = h / n;
  for (int i = 0; i < n; i++) {
    if (i > 0) {
      tw_touch_slopes(w, w->t + i * sub, y, f, &force);
    }
    euler(s, y, f, sub, next);
    memcpy(y, next, sizeof next);
  }
}

bool tw_touch_may_be_implicit(const tw_touch_work *w)
{
  const tw_touch_model *m = &w->m;
  return m->contact.kind != TW_CONTACT_RIGID && !m->energy && w->out != OUT_DYNAMIC &&
         w->amp != AMP_DYNAMIC && (w->clamp == 0 || m->stage.kind != TW_STAGE_CHARGE);
}

/* rate at which the tip moves on its contact now, 1/s: what holds an explicit step down */
double tw_touch_contact_rate(const tw_touch_work *w)
{
  double X = 0.0;
  double V = 0.0;
  double A = 0.0;
  touch_body(&w->queue[w->seg], w->t, &X, &V, &A);
  slope_set s = {0};
  contact_slopes(w, X - w->y[P1] - w->y[XW], V - w->y[Q1] - w->y[VW], &s);
  const double ring = sqrt((s.kc + w->m.tip.stiffness) * w->per_tip);
  return most(ring, 0.5 * (s.cc + w->m.tip.damping) * w->per_tip);
}

/* Bodies that ring no more follow the wall: their speeds are then what the places make of them, and
 * the extrapolation loses an order on such slaved states. Places and node are held to the full
 * tolerance; speeds count this much, lest they stray. */
static double weight_of(const tw_touch_work *w, int state)
{
  const bool is_speed = state == Q1 || state == Q2 || state == VW;
  return is_speed ? 0.003 * w->weight[Q2] : w->weight[state];
}

double tw_touch_try_implicit(tw_touch_work *w, double h)
{
  const slope_set s = slopes_of(w);
  double table[COLUMNS][STATES];
  double before[STATES] = {0.0};
  for (int j = 0; j < COLUMNS; j++) {
    double fresh[STATES];
    substeps(w, &s, j + 1, h, fresh);
    /* T(j,k+1) = T(j,k) + (T(j,k) - T(j-1,k)) / (n_j/n_(j-k-1) - 1) */
    for (int k = 0; k < j; k++) {
      const double ratio = (double)(j + 1) / (double)(j - k);
      for (int n = 0; n < MOVING; n++) {
        const int i = moving[n];
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
  for (int n = 0; n < MOVING; n++) {
    const int i = moving[n];
    const double y1 = table[COLUMNS - 1][i];
    const double scale = w->floor[i] + w->m.tolerance * most(fabs(w->y[i]), fabs(y1));
    const double part = weight_of(w, i) * fabs(y1 - before[i]) / scale;
    worst = part > worst || part != part ? part : worst;
    w->y1[i] = y1;
  }
  if (worst <= 1.0) {
    tw_touch_slopes(w, w->t + h, w->y1, w->k[6], &w->force1);
  }
  return worst;
}
