/* prepare.c: defaults, and the constants of a run that follow from model, motion and modes. */
#include "engine.h"
#include "tripwright/constants.h"
#include <math.h>
#include <string.h>

tw_touch_model tw_touch_model_default(void)
{
  tw_touch_model m = {0};
  m.contact.damping = 0.3;
  m.contact.damping_limit = 1e4;
  m.stage.gain = 1.0;
  m.comparator.input_weight = -1.0;
  m.comparator.rest_high = true;
  m.tolerance = 3e-7;
  m.step_limit = 2000000;
  return m;
}

tw_touch_motion tw_touch_motion_default(void)
{
  return (tw_touch_motion){.acceleration = 0.5,
                           .jerk = 50.0,
                           .sample_time = 1e-3,
                           .latency = 1e-3,
                           .dwell = 20e-3,
                           .retract_feed = 5e-3,
                           .retract_acceleration = 0.5,
                           .retract_distance = 1e-3,
                           .pause = 20e-3,
                           .second_feed = 1e-3,
                           .give_up = 0.15,
                           .ready_band = 0.1,
                           .ready_hold = 2e-3,
                           .settle_limit = 1.0,
                           .until = TW_UNTIL_EDGE};
}

double tw_touch_hertz(double radius, double modulus_1, double poisson_1, double modulus_2,
                      double poisson_2)
{
  const double soft =
      (1.0 - poisson_1 * poisson_1) / modulus_1 + (1.0 - poisson_2 * poisson_2) / modulus_2;
  return 4.0 / 3.0 * sqrt(radius) / soft;
}

/* D of this approach: constant, or 3 (1 - e^2)/(4 v), both bounded */
void tw_touch_set_feed(tw_touch_work *w, double feed)
{
  const tw_touch_contact *c = &w->m.contact;
  double d = c->damping;
  if (c->restitution > 0.0) {
    d = 3.0 * (1.0 - c->restitution * c->restitution) / (4.0 * feed);
  }
  w->damping_d = fmin(d, c->damping_limit);
}

/* input behind the series resistor, and where the stage's pole runs to */
void tw_touch_set_modes(tw_touch_work *w)
{
  const tw_touch_node *n = &w->m.node;
  const tw_touch_stage *s = &w->m.stage;
  const double rs = n->series_resistance;
  const double rd = n->clamp_resistance;
  w->pin_0 = n->bias_current * rs;
  w->pin_gain = 1.0;
  if (w->clamp != 0) {
    const double held = w->clamp > 0 ? n->clamp_high : n->clamp_low;
    w->pin_0 = rs * (n->bias_current * rd + held) / (rs + rd);
    w->pin_gain = rd / (rs + rd);
  }
  if (s->kind == TW_STAGE_GAIN) {
    w->amp_target = n->bias_voltage + s->gain * (w->pin_0 + s->offset - n->bias_voltage);
    w->amp_gain = s->gain * w->pin_gain;
  } else if (s->kind == TW_STAGE_CHARGE) {
    w->amp_target = (n->bias_voltage + s->offset) / w->kappa;
    w->amp_gain = -1.0 / w->kappa;
  }
}

static void set_stage(tw_touch_work *w)
{
  const tw_touch_stage *s = &w->m.stage;
  const double wu = TW_TWO_PI * s->bandwidth;
  w->slew_a = s->slew;
  w->amp_low = s->low;
  w->amp_high = s->high;
  w->amp = s->kind == TW_STAGE_NONE || s->bandwidth == 0.0 ? AMP_NONE : AMP_EXACT;
  if (s->kind == TW_STAGE_GAIN) {
    w->wa = wu / s->gain;
  } else if (s->kind == TW_STAGE_CHARGE) {
    w->total_c = w->m.node.capacitance + s->feedback_capacitance;
    w->kappa = s->feedback_capacitance / w->total_c;
    w->wa = wu * w->kappa;
  }
}

/* absolute parts of the tolerance, each from the design's own size */
static void set_floors(tw_touch_work *w)
{
  const double v = w->go.feed;
  const double tol = w->m.tolerance;
  const double swing = w->m.comparator.high - w->m.comparator.low;
  const double gain = w->m.stage.kind == TW_STAGE_GAIN ? w->m.stage.gain : 1.0;
  double volt = w->levels.threshold > 0.0 ? w->levels.threshold : swing;
  if (w->m.stage.kind == TW_STAGE_CHARGE) {
    volt *= w->kappa; /* the node's share of the output's threshold */
  }
  for (int i = 0; i < STATES; i++) {
    w->weight[i] = 1.0;
  }
  /* the tip's own ringing reaches the disc weakened by ks/(m2 w^2), some hundred times */
  w->weight[P1] = w->weight[Q1] = 0.03;
  w->weight[SPARE] = w->weight[DRIVEN] = w->weight[LOST] = 0.0;
  w->floor[SPARE] = w->floor[DRIVEN] = w->floor[LOST] = 1.0;
  w->floor[P1] = w->floor[P2] = w->floor[XW] = tol * v * 1e-4; /* what it travels in 0.1 ms */
  w->floor[Q1] = w->floor[Q2] = w->floor[VW] = tol * v * 0.3;
  w->floor[NODE] = tol * volt * 0.03;
  w->floor[AMP] = tol * volt * gain * 0.3;
  w->floor[OUT] = tol * swing * 1e-3;
}

static void start_states(tw_touch_work *w)
{
  const tw_touch_levels *l = &w->levels;
  memset(w->y, 0, sizeof w->y);
  w->y[NODE] = l->rest_node;
  if (w->m.stage.kind == TW_STAGE_CHARGE) {
    w->y[NODE] = l->rest_node - w->kappa * l->rest;
  }
  w->y[AMP] = w->m.stage.kind == TW_STAGE_NONE ? 0.0 : l->rest;
  w->y[OUT] = w->out_rest = w->m.comparator.rest_high ? w->m.comparator.high : w->m.comparator.low;
  w->out = w->m.comparator.rest_high ? OUT_HIGH : OUT_LOW;
  if (w->amp == AMP_EXACT && w->m.stage.kind == TW_STAGE_GAIN && w->amp_high > w->amp_low) {
    w->amp = l->rest >= w->amp_high ? AMP_HIGH : (l->rest <= w->amp_low ? AMP_LOW : w->amp);
  }
}

/* a first step small against everything that can ring */
static double first_step(const tw_touch_work *w)
{
  const tw_touch_model *m = &w->m;
  const double tip = m->contact.kind == TW_CONTACT_RIGID ? m->carrier.mass : m->tip.mass;
  double k = m->carrier.stiffness;
  if (m->carrier.law == TW_CARRIER_TABLE) {
    k = w->piece[0].f[1];
  }
  const double fast = sqrt(m->tip.stiffness / tip + (m->tip.stiffness + k) / m->carrier.mass);
  return 0.02 / fast;
}

static void start_motion(tw_touch_work *w)
{
  w->queue[0] = (segment){0.0, INFINITY, 0.0, w->go.feed, 0.0, 0.0, -1};
  w->seg = 0;
  w->segs = 1;
  w->pulse_end = w->look = w->stop_at = w->flip_at = w->settle_at = INFINITY;
  w->give_up_at = tw_touch_patience(&w->go, w->go.feed);
  w->settled_at = -1.0;
  w->off_before = w->off_at = 0.0;
  w->raw = w->line = false;
  w->retracted = w->settling = w->stopping = w->seen_edge = w->is_ready = false;
  w->contact_x = 0.0;
  w->tripped_input = false;
  w->contact = true;
  w->open = false;
  w->clamp = 0;
  w->which = 0;
  w->t = 0.0;
  w->lost_at = 0.0;
  w->last_root = 0.5;
  w->rejected_in_a_row = 0;
  w->implicit = false;
  w->held = 0;
  w->finished = w->cancelled = false;
}

tw_status tw_touch_prepare(tw_touch_work *w, const tw_touch_model *model,
                           const tw_touch_motion *motion, tw_fault *fault)
{
  w->m = *model;
  w->go = *motion;
  if (model->energy) { /* the account is a sum over all steps and needs more digits */
    w->m.tolerance = fmin(model->tolerance, 1e-7);
  }
  w->wa = w->kappa = w->amp_target = w->amp_gain = 0.0;
  w->wo = TW_TWO_PI * model->comparator.bandwidth;
  w->per_tip = model->tip.mass > 0.0 ? 1.0 / model->tip.mass : 0.0;
  w->per_carrier = 1.0 / model->carrier.mass;
  w->per_c = 1.0 / model->node.capacitance;
  w->per_r = model->node.resistance > 0.0 ? 1.0 / model->node.resistance : 0.0;
  w->graze =
      model->comparator.kind == TW_COMPARATOR_SMOOTH ? 20.0 / model->comparator.steepness : 0.0;
  const tw_status status = tw_touch_levels_of(model, &w->levels, fault);
  if (status != TW_OK) {
    return status;
  }
  if (model->carrier.law == TW_CARRIER_TABLE) {
    tw_touch_table_build(w);
  }
  set_stage(w);
  start_motion(w);
  tw_touch_set_modes(w);
  tw_touch_set_feed(w, motion->feed);
  set_floors(w);
  start_states(w);
  w->h = first_step(w);
  return TW_OK;
}
