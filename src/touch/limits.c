/* limits.c: what is refused before a touch, and what is said when it takes too many steps. */
#include "engine.h"
#include <math.h>

/* one number of the model: where it is, what it may be */
typedef enum rule { ABOVE_ZERO, ZERO_OR_MORE, ANY } rule;

typedef struct number_rule {
  double value;
  rule rule;
  const char *field, *name;
} number_rule;

static tw_status check_number(const number_rule *n, tw_fault *fault)
{
  if (!isfinite(n->value)) {
    return tw_fail(fault, TW_BAD_INPUT, n->field, "give a plain number", "%s is not a number",
                   n->name);
  }
  if (n->rule == ABOVE_ZERO && n->value <= 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, n->field, "give a value above zero",
                   "%s is %g: a touch in time needs it above zero", n->name, n->value);
  }
  if (n->rule == ZERO_OR_MORE && n->value < 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, n->field, "give zero or more", "%s is negative: %g",
                   n->name, n->value);
  }
  return TW_OK;
}

static tw_status check_numbers(const number_rule *rules, size_t count, tw_fault *fault)
{
  for (size_t i = 0; i < count; i++) {
    const tw_status status = check_number(&rules[i], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

#define CHECK(rules, fault) check_numbers((rules), sizeof(rules) / sizeof *(rules), (fault))

static tw_status check_table(const tw_touch_carrier *c, tw_fault *fault)
{
  const char *const hint = "x and force must rise from the first row to the last, from 0, 0";
  if (c->table_count < 2 || c->table_count > TW_TOUCH_TABLE_MAX || !c->table_x || !c->table_force ||
      !c->table_charge) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.kind", "give 2 to 1024 rows of x, force and charge",
                   "the carrier's table has %zu rows", c->table_count);
  }
  if (c->table_x[0] != 0.0 || c->table_force[0] != 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.kind", hint,
                   "the carrier's table does not begin at 0, 0");
  }
  for (size_t i = 0; i < c->table_count; i++) {
    if (!isfinite(c->table_x[i]) || !isfinite(c->table_force[i]) || !isfinite(c->table_charge[i])) {
      return tw_fail(fault, TW_BAD_INPUT, "seat.kind", hint, "row %zu is not a number", i + 1);
    }
    if (i > 0 && !(c->table_x[i] > c->table_x[i - 1])) {
      return tw_fail(fault, TW_BAD_INPUT, "seat.kind", hint, "x does not rise at row %zu", i + 1);
    }
    if (i > 0 && !(c->table_force[i] > c->table_force[i - 1])) {
      return tw_fail(fault, TW_BAD_INPUT, "seat.kind", hint, "the force does not rise at row %zu",
                     i + 1);
    }
  }
  return TW_OK;
}

static tw_status check_mechanics(const tw_touch_model *m, tw_fault *fault)
{
  const bool rigid = m->contact.kind == TW_CONTACT_RIGID;
  const bool table = m->carrier.law == TW_CARRIER_TABLE;
  const bool soft = m->carrier.law == TW_CARRIER_SOFTENING;
  const bool rests = m->support.stiffness > 0.0 || m->support.mass > 0.0;
  const number_rule rules[] = {
      {m->tip.mass, rigid ? ZERO_OR_MORE : ABOVE_ZERO, "stylus.ball_diameter", "the tip's mass"},
      {m->contact.stiffness, rigid ? ANY : ABOVE_ZERO, "stylus.ball_modulus",
       "the contact's stiffness"},
      {m->contact.damping, ZERO_OR_MORE, "stylus.contact_damping", "the contact's damping"},
      {m->contact.damping_limit, ZERO_OR_MORE, "stylus.contact_damping",
       "the bound of the contact's damping"},
      {m->contact.restitution, ZERO_OR_MORE, "stylus.contact_damping", "the restitution"},
      {m->tip.stiffness, ABOVE_ZERO, "stylus.stem_diameter", "the stem's stiffness"},
      {m->tip.damping, ZERO_OR_MORE, "stylus.damping_ratio", "the stem's damping"},
      {m->carrier.mass, ABOVE_ZERO, "seat.carrier_mass", "the carrier's mass"},
      {m->carrier.stiffness, table ? ANY : ABOVE_ZERO, "disc.part", "the carrier's stiffness"},
      {m->carrier.charge_per_metre, ANY, "disc.part", "the charge per metre"},
      {m->carrier.knee, soft ? ZERO_OR_MORE : ANY, "seat.kind", "the knee of the softening law"},
      {m->carrier.levelling, soft ? ABOVE_ZERO : ANY, "seat.kind", "the levelling travel"},
      {m->carrier.damping, ZERO_OR_MORE, "seat.damping_ratio", "the carrier's damping"},
      {m->support.mass, rests ? ABOVE_ZERO : ZERO_OR_MORE, "machine.work_stiffness",
       "the mass of work and table"},
      {m->support.stiffness, rests ? ABOVE_ZERO : ZERO_OR_MORE, "machine.work_stiffness",
       "the stiffness of work and table"},
      {m->support.damping, ZERO_OR_MORE, "machine.work_stiffness", "the damping of work and table"},
  };
  const tw_status status = CHECK(rules, fault);
  if (status != TW_OK) {
    return status;
  }
  if (m->contact.restitution > 1.0) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.contact_damping", "between 0 and 1",
                   "the restitution is above 1");
  }
  return table ? check_table(&m->carrier, fault) : TW_OK;
}

static tw_status check_node(const tw_touch_model *m, tw_fault *fault)
{
  const tw_touch_node *n = &m->node;
  const bool charge = m->stage.kind == TW_STAGE_CHARGE;
  const bool opening = n->sense == TW_SENSE_OPENING;
  const number_rule rules[] = {
      {n->capacitance, ABOVE_ZERO, "disc.part", "the node's capacitance"},
      {n->resistance, charge ? ZERO_OR_MORE : ABOVE_ZERO, "circuit.bias_resistance",
       "the node's resistance"},
      {n->bias_voltage, ANY, "circuit.bias_voltage", "the bias voltage"},
      {n->bias_current, ANY, "circuit.amplifier", "the bias current"},
      {n->series_resistance, ZERO_OR_MORE, "circuit.series_resistance", "the series resistance"},
      {n->clamp_resistance, ZERO_OR_MORE, "circuit.clamp", "the clamps' resistance"},
      {n->clamp_low, ANY, "circuit.clamp", "the lower clamp"},
      {n->clamp_high, ANY, "circuit.clamp", "the upper clamp"},
      {n->open_at, opening ? ABOVE_ZERO : ANY, "seat.kind",
       "the travel at which the contact opens"},
      {n->close_at, ANY, "seat.kind", "the travel at which the contact closes"},
      {n->open_voltage, ANY, "circuit.supply", "the voltage of the open contact"},
      {n->closed_voltage, ANY, "circuit.supply", "the voltage of the closed contact"},
  };
  const tw_status status = CHECK(rules, fault);
  if (status != TW_OK) {
    return status;
  }
  if (n->clamped && !(n->clamp_high > n->clamp_low)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.clamp", "upper above lower",
                   "the clamps are the wrong way round");
  }
  if (n->clamped && !(n->series_resistance + n->clamp_resistance > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.series_resistance",
                   "give a series resistance, or the clamps' own",
                   "clamps without any resistance would need an infinite current");
  }
  if (opening && charge) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.kind", "use a comparator on the node",
                   "an opening contact cannot drive a charge amplifier");
  }
  if (opening && !(n->close_at <= n->open_at)) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.kind", "close_at at or under open_at",
                   "the contact would close before it opens");
  }
  return TW_OK;
}

static tw_status check_stage(const tw_touch_stage *s, tw_fault *fault)
{
  const bool charge = s->kind == TW_STAGE_CHARGE;
  const number_rule rules[] = {
      {s->gain, s->kind == TW_STAGE_GAIN ? ABOVE_ZERO : ANY, "circuit.gain", "the gain"},
      {s->bandwidth, ZERO_OR_MORE, "circuit.stage", "the stage's bandwidth"},
      {s->slew, ZERO_OR_MORE, "circuit.stage", "the stage's slew rate"},
      {s->low, ANY, "circuit.stage", "the stage's lower limit"},
      {s->high, ANY, "circuit.stage", "the stage's upper limit"},
      {s->offset, ANY, "circuit.stage", "the stage's offset"},
      {s->feedback_capacitance, charge ? ABOVE_ZERO : ANY, "circuit.charge_capacitance",
       "the feedback capacitance"},
      {s->feedback_resistance, charge ? ABOVE_ZERO : ANY, "circuit.charge_resistance",
       "the feedback resistance"},
  };
  return CHECK(rules, fault);
}

static tw_status check_comparator(const tw_touch_model *m, tw_fault *fault)
{
  const tw_touch_comparator *c = &m->comparator;
  const bool regenerative = c->kind == TW_COMPARATOR_REGENERATIVE;
  const bool smooth = c->kind == TW_COMPARATOR_SMOOTH;
  const number_rule rules[] = {
      {c->reference, ANY, "circuit.reference", "the comparator's reference"},
      {fabs(c->input_weight), ABOVE_ZERO, "circuit.reference", "the input's weight"},
      {c->output_weight, ZERO_OR_MORE, "circuit.feedback_resistance", "the feedback's share"},
      {c->bandwidth, regenerative ? ABOVE_ZERO : ANY, "circuit.amplifier",
       "the comparator's bandwidth"},
      {c->slew, ZERO_OR_MORE, "circuit.amplifier", "the comparator's slew rate"},
      {c->steepness, smooth ? ABOVE_ZERO : ANY, "circuit.amplifier", "the steepness"},
      {c->time_constant, smooth ? ABOVE_ZERO : ANY, "circuit.amplifier", "the time constant"},
      {c->delay, ZERO_OR_MORE, "circuit.amplifier", "the comparator's delay"},
      {c->high - c->low, ABOVE_ZERO, "circuit.amplifier", "the swing of the output"},
      {m->output.minimum_pulse, ZERO_OR_MORE, "output.minimum_pulse", "the minimum pulse"},
      {m->tolerance, ABOVE_ZERO, "", "the tolerance"},
  };
  const tw_status status = CHECK(rules, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(m->output.logic_level > c->low && m->output.logic_level < c->high)) {
    return tw_fail(fault, TW_BAD_INPUT, "machine.input_low", "a level within the swing",
                   "the controller's level %g V lies outside the output's swing %g to %g V",
                   m->output.logic_level, c->low, c->high);
  }
  if (m->tolerance > 1e-2 || m->tolerance < 1e-13 || m->step_limit < 1) {
    return tw_fail(fault, TW_BAD_INPUT, "", "tolerance 1e-13..1e-2, step limit 1 or more",
                   "the integration's settings are out of range");
  }
  return TW_OK;
}

tw_status tw_touch_check(const tw_touch_model *model, tw_fault *fault)
{
  tw_status status = check_mechanics(model, fault);
  if (status == TW_OK) {
    status = check_node(model, fault);
  }
  if (status == TW_OK) {
    status = check_stage(&model->stage, fault);
  }
  if (status == TW_OK) {
    status = check_comparator(model, fault);
  }
  return status;
}

tw_status tw_touch_check_motion(const tw_touch_motion *go, tw_fault *fault)
{
  const bool back = go->until >= TW_UNTIL_READY;
  const bool again = go->until == TW_UNTIL_SECOND;
  const number_rule rules[] = {
      {go->feed, ABOVE_ZERO, "machine.feed", "the feed"},
      {go->acceleration, ABOVE_ZERO, "machine.acceleration", "the acceleration of the stop"},
      {go->jerk, ZERO_OR_MORE, "machine.jerk", "the jerk of the stop"},
      {go->sample_time, ZERO_OR_MORE, "machine.sampling_interval", "the controller's period"},
      {go->sample_phase, ZERO_OR_MORE, "machine.sampling_interval", "the phase of the period"},
      {go->latency, ZERO_OR_MORE, "machine.latency", "the latency"},
      {go->dwell, ZERO_OR_MORE, "machine.dwell", "the dwell"},
      {go->retract_feed, back ? ABOVE_ZERO : ANY, "machine.retract_feed", "the retract feed"},
      {go->retract_acceleration, back ? ABOVE_ZERO : ANY, "machine.acceleration",
       "the acceleration of the retract"},
      {go->retract_distance, back ? ABOVE_ZERO : ANY, "machine.retract_distance",
       "the retract distance"},
      {go->pause, ZERO_OR_MORE, "machine.dwell", "the pause"},
      {go->second_feed, again ? ABOVE_ZERO : ANY, "machine.feed", "the second feed"},
      {go->give_up, ABOVE_ZERO, "machine.feed", "the time after which it gives up"},
      {go->search_travel, ZERO_OR_MORE, "machine.feed", "the travel after which it gives up"},
      {go->ready_band, back ? ABOVE_ZERO : ANY, "machine.dwell", "the band of readiness"},
      {go->ready_hold, ZERO_OR_MORE, "machine.dwell", "the hold of readiness"},
      {go->settle_limit, ZERO_OR_MORE, "machine.dwell", "the wait for readiness"},
  };
  return CHECK(rules, fault);
}

/* ---- too many steps ----------------------------------------------------------------------------
 */

typedef struct rate {
  double per_second;
  const char *field, *what, *hint;
} rate;

/* the quickest part of the model as it stands now: the cause of small steps */
static rate quickest(const tw_touch_work *w)
{
  const tw_touch_model *m = &w->m;
  const bool rigid = m->contact.kind == TW_CONTACT_RIGID;
  const double inertia = rigid ? m->carrier.mass : m->tip.mass;
  const double force = most(w->force1.contact, 1e-3);
  double contact = 0.0;
  if (m->contact.kind == TW_CONTACT_HERTZ) {
    contact = 1.5 * cbrt(m->contact.stiffness * m->contact.stiffness * force);
  } else if (!rigid) {
    contact = m->contact.stiffness;
  }
  double k = m->carrier.stiffness;
  if (m->carrier.law == TW_CARRIER_TABLE) {
    k = w->piece[w->hint].f[1];
  }
  const double pole = w->amp == AMP_DYNAMIC ? w->wa : 0.0;
  const double clamp = w->clamp ? 1.0 / (w->m.node.capacitance *
                                         (w->m.node.series_resistance + w->m.node.clamp_resistance))
                                : 0.0;
  const double smooth =
      m->comparator.kind == TW_COMPARATOR_SMOOTH ? 1.0 / m->comparator.time_constant : 0.0;
  const double support =
      m->support.mass > 0.0 ? sqrt((m->support.stiffness + contact) / m->support.mass) : 0.0;
  const double leak = m->node.resistance > 0.0 && m->stage.kind != TW_STAGE_CHARGE
                          ? 1.0 / (m->node.resistance * m->node.capacitance)
                          : 0.0;
  const rate all[] = {
      {rigid ? 0.0 : sqrt(contact / inertia), "stylus.ball_diameter", "the tip on its contact",
       "a rigid contact leaves the tip's own ringing out"},
      {rigid ? 0.0 : w->damping_d * force / inertia, "stylus.contact_damping",
       "the damping of the contact", "use the constant form, 0.3 s/m, or a lower bound"},
      {rigid ? 0.0 : sqrt(m->tip.stiffness / inertia), "stylus.stem_diameter",
       "the tip on its stem", "a rigid contact leaves the tip's own ringing out"},
      {rigid ? 0.0 : m->tip.damping / inertia, "stylus.damping_ratio", "the damping of the stem",
       "give the damping as a ratio of a few per cent"},
      {sqrt((k + m->tip.stiffness) / m->carrier.mass), "seat.carrier_mass",
       "the carrier between disc and stem", "check the carrier's mass and the stiffnesses"},
      {(m->carrier.damping + m->tip.damping) / m->carrier.mass, "seat.damping_ratio",
       "the damping of the carrier", "give the damping as a ratio of a few per cent"},
      {support, "machine.work_stiffness", "the work on its spring",
       "leave a very stiff support out (stiffness 0)"},
      {leak, "circuit.bias_resistance", "the leak of the node", "check resistance and capacitance"},
      {clamp, "circuit.series_resistance", "the clamp", "give the series resistance"},
      {pole, "circuit.stage", "the stage's bandwidth", "check gain and bandwidth"},
      {smooth, "circuit.amplifier", "the comparator's time constant", "check its time constant"},
  };
  rate top = all[0];
  for (size_t i = 1; i < sizeof all / sizeof *all; i++) {
    top = all[i].per_second > top.per_second ? all[i] : top;
  }
  return top;
}

tw_status tw_touch_too_many(const tw_touch_work *w, tw_fault *fault)
{
  const rate r = quickest(w);
  return tw_fail(fault, TW_NO_ANSWER, r.field, r.hint,
                 "stopped after %ld steps at %.6g ms: the quickest part, %s, moves at %.3g per "
                 "second and forces steps of %.3g s",
                 w->result->steps, w->t * 1e3, r.what, r.per_second, w->h);
}
