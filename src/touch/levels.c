/* levels.c: the static side of a touch model: rest, trip and release levels, the charge a fast
 * touch must bring, and the ramp that just reaches the threshold. */
#include "engine.h"
#include <math.h>

/* rest voltage of the node and of the comparator's input; *wanted is where the stage would stand if
 * its output had no limits: from there a change of the node counts */
static void rest_levels(const tw_touch_model *m, tw_touch_levels *out, double *wanted)
{
  const tw_touch_node *n = &m->node;
  const tw_touch_stage *s = &m->stage;
  if (s->kind == TW_STAGE_CHARGE) {
    out->rest_node = n->bias_voltage + s->offset;
    out->rest = out->rest_node - n->bias_current * s->feedback_resistance;
    out->resistance = s->feedback_resistance;
    *wanted = out->rest;
    return;
  }
  out->resistance = n->resistance;
  out->rest_node = n->sense == TW_SENSE_OPENING ? n->closed_voltage
                                                : n->bias_voltage + n->bias_current * n->resistance;
  const double pin = out->rest_node + n->bias_current * n->series_resistance;
  out->rest = *wanted = pin;
  if (s->kind == TW_STAGE_GAIN) {
    out->rest = *wanted = n->bias_voltage + s->gain * (pin + s->offset - n->bias_voltage);
    if (s->high > s->low) {
      out->rest = fmin(fmax(out->rest, s->low), s->high);
    }
  }
}

/* inputs at which e = 0 with the output at rest, and tripped */
static void switching_levels(const tw_touch_model *m, tw_touch_levels *out)
{
  const tw_touch_comparator *c = &m->comparator;
  const double at_rest = c->rest_high ? c->high : c->low;
  const double tripped = c->rest_high ? c->low : c->high;
  const double sign = c->rest_high ? 1.0 : -1.0;
  out->trip = -(c->reference + c->output_weight * at_rest) / c->input_weight;
  out->release = -(c->reference + c->output_weight * tripped) / c->input_weight;
  const double e = c->reference + c->input_weight * out->rest;
  out->armed = sign * (e + c->output_weight * at_rest) > 0.0;
  /* the tripped output may pull the rest level along */
  const double gain = m->stage.kind == TW_STAGE_GAIN ? m->stage.gain : 1.0;
  const double pulled = m->node.output_pull * (tripped - at_rest) * m->node.resistance * gain;
  out->rearms = sign * (e + c->input_weight * pulled + c->output_weight * tripped) > 0.0;
}

/* force, charge and slopes of the carrier without a prepared table: straight pieces suffice for a
 * search, the caller refines with the prepared cubics only when it runs */
static double law_force(const tw_touch_carrier *c, double x)
{
  if (c->law == TW_CARRIER_SOFTENING && x > c->knee) {
    return c->stiffness * (c->knee - c->levelling * expm1(-(x - c->knee) / c->levelling));
  }
  return c->stiffness * x;
}

static double law_stiffness(const tw_touch_carrier *c, double x)
{
  if (c->law == TW_CARRIER_SOFTENING && x > c->knee) {
    return c->stiffness * exp(-(x - c->knee) / c->levelling);
  }
  return c->stiffness;
}

/* spring in front of the carrier: stem and work */
static double front_stiffness(const tw_touch_model *m)
{
  const double k = m->tip.stiffness;
  return m->support.stiffness > 0.0 ? k * m->support.stiffness / (k + m->support.stiffness) : k;
}

static void travel_by_law(const tw_touch_model *m, tw_touch_levels *out)
{
  const tw_touch_carrier *c = &m->carrier;
  const double x = out->charge / c->charge_per_metre;
  out->reachable = x > 0.0 && isfinite(x);
  if (!out->reachable) {
    return;
  }
  out->travel = x;
  out->force = law_force(c, x);
  out->slope = c->charge_per_metre;
  const double ks = front_stiffness(m);
  out->slope_most = c->charge_per_metre * ks / (ks + law_stiffness(c, x));
}

/* the first chord on which the charge is reached; steepest chord of the whole table, seen by the
 * machine: a slow touch whose charge leaks away goes on past the place of a fast one */
static void travel_by_table(const tw_touch_model *m, tw_touch_levels *out)
{
  const tw_touch_carrier *c = &m->carrier;
  const double sign = out->charge < 0.0 ? -1.0 : 1.0;
  const double ks = front_stiffness(m);
  const double q0 = c->table_charge[0];
  double most = 0.0;
  for (size_t i = 0; i + 1 < c->table_count; i++) {
    const double dx = c->table_x[i + 1] - c->table_x[i];
    const double dq = c->table_charge[i + 1] - c->table_charge[i];
    const double df = c->table_force[i + 1] - c->table_force[i];
    most = fmax(most, sign * dq / dx * ks / (ks + df / dx));
    const double left = sign * (out->charge - (c->table_charge[i] - q0));
    if (!out->reachable && sign * dq > 0.0 && left <= sign * dq) {
      const double part = left / (sign * dq);
      out->reachable = true;
      out->travel = c->table_x[i] + part * dx;
      out->force = c->table_force[i] + part * df;
      out->slope = out->charge / out->travel;
    }
  }
  out->slope_most = sign * most;
}

tw_status tw_touch_levels_of(const tw_touch_model *model, tw_touch_levels *out, tw_fault *fault)
{
  *out = (tw_touch_levels){0};
  const tw_status status = tw_touch_check(model, fault);
  if (status != TW_OK) {
    return status;
  }
  double from = 0.0;
  rest_levels(model, out, &from);
  switching_levels(model, out);
  const double change = out->trip - from;
  if (model->node.sense == TW_SENSE_OPENING) {
    out->threshold = fabs(change);
    out->travel = model->node.open_at;
    out->reachable = change * (model->node.open_voltage - out->rest) > 0.0;
    return TW_OK;
  }
  if (model->stage.kind == TW_STAGE_CHARGE) {
    out->threshold = fabs(change);
    out->charge = model->stage.feedback_capacitance * change;
  } else {
    const double gain = model->stage.kind == TW_STAGE_GAIN ? model->stage.gain : 1.0;
    out->threshold = fabs(change / gain);
    out->charge = model->node.capacitance * change / gain;
  }
  if (!out->armed) {
    return TW_OK;
  }
  if (model->carrier.law == TW_CARRIER_TABLE) {
    travel_by_table(model, out);
  } else {
    travel_by_law(model, out);
  }
  if (out->slope_most != 0.0) {
    out->slowest = out->threshold / (out->resistance * fabs(out->slope_most));
  }
  return TW_OK;
}
