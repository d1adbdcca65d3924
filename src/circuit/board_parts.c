/* board_parts.c: the parts of a board: what sits at the node, and what its output drives. */
#include "inside.h"

#include <math.h>

const tw_amplifier *tw_board_front(const tw_circuit_spec *s)
{
  const bool two = s->kind == TW_BOARD_GAIN || s->kind == TW_BOARD_CHARGE;
  return two ? &s->front : &s->comparator;
}

int tw_board_inputs(const tw_circuit_spec *s)
{
  return s->kind == TW_BOARD_COMPARATOR && s->polarity == TW_SEES_BOTH ? 2 : 1;
}

double tw_board_gain(const tw_circuit_spec *s)
{
  const double ideal = s->gain_ground > 0.0 ? 1.0 + s->gain_feedback / s->gain_ground : s->gain;
  const double open = s->front.open_loop_gain;
  return open > 0.0 ? ideal / (1.0 + ideal / open) : ideal;
}

double tw_board_pull_up_voltage(const tw_circuit_spec *s)
{
  return s->output.pull_up_voltage > 0.0 ? s->output.pull_up_voltage : s->supply;
}

double tw_board_high(const tw_circuit_spec *s)
{
  if (s->comparator.open_collector) {
    return tw_board_pull_up_voltage(s) - s->comparator.output_leakage * s->output.pull_up;
  }
  return s->supply - s->comparator.high_drop;
}

double tw_board_low(const tw_circuit_spec *s)
{
  return s->comparator.low_drop;
}

bool tw_board_is_bare_contact(const tw_circuit_spec *spec)
{
  return spec->kind == TW_BOARD_CONTACT && spec->contact_threshold > 0.0;
}

tw_source tw_board_pin(const tw_circuit_spec *s, const tw_circuit *c, int high, bool worst)
{
  const tw_output_spec *o = &s->output;
  const tw_amplifier *part = &s->comparator;
  if (tw_board_is_bare_contact(s) && !o->stage) {
    const double closed = s->contact_resistance;
    return high ? (tw_source){.voltage = c->output_tripped, .resistance = s->bias_resistance}
                : (tw_source){.voltage = c->rest_node, .resistance = closed};
  }
  const bool collector = o->stage ? o->stage_open_collector : part->open_collector;
  if (high && collector) {
    const double leak = o->stage ? 0.0 : part->output_leakage;
    return (tw_source){.voltage = tw_board_pull_up_voltage(s) - leak * o->pull_up,
                       .resistance = o->pull_up};
  }
  if (o->stage) {
    return (tw_source){.voltage = high ? s->supply - o->stage_high_drop : o->stage_low};
  }
  const double low = worst ? fmax(part->low_drop, part->low_drop_limit) : part->low_drop;
  const double drop = worst ? fmax(part->high_drop, part->high_drop_limit) : part->high_drop;
  return (tw_source){.voltage = high ? s->supply - drop : low};
}
