/* random_boards.h: boards of every kind drawn at random over the decades that a workshop meets:
 * leaks down to the bias resistor's own size, biases of either sign, loading networks, open
 * collectors, hysteresis of the part's own, shared strings, windows. */
#ifndef TW_TEST_RANDOM_BOARDS_H
#define TW_TEST_RANDOM_BOARDS_H

#include "tripwright/circuit.h"

#include <math.h>

static uint64_t board_seed;

static inline void random_boards_start(uint64_t seed)
{
  board_seed = 977 * seed + 12345;
}

/* uniform 0..1 by a fixed multiplicative sequence: the same boards everywhere */
static inline double board_uniform(void)
{
  board_seed = board_seed * 6364136223846793005u + 1442695040888963407u;
  return (double)(board_seed >> 11) / 9007199254740992.0;
}

static inline double board_decades(double low, double high)
{
  return low * pow(high / low, board_uniform());
}

static inline bool board_chance(double p)
{
  return board_uniform() < p;
}

static inline tw_amplifier random_part(bool comparator)
{
  tw_amplifier part = tw_amplifier_ideal();
  const double bias = board_chance(0.4) ? 0.0 : board_decades(1e-12, 3e-8);
  part.bias_current = board_chance(0.3) ? -bias : bias;
  part.bias_least = part.bias_current - 0.5 * bias;
  part.bias_most = part.bias_current + bias;
  part.offset = board_chance(0.5) ? 0.0 : 4e-3 * (board_uniform() - 0.5);
  part.low_drop = 0.02 * board_uniform();
  part.high_drop = board_chance(0.5) ? 0.02 : 1.4 * board_uniform();
  part.gain_bandwidth = board_decades(3e5, 1e7);
  part.slew = board_decades(3e5, 1e7);
  part.open_loop_gain = board_chance(0.5) ? 0.0 : 1e5;
  if (comparator && board_chance(0.5)) {
    part.gain_bandwidth = part.slew = part.open_loop_gain = 0.0;
    part.response_time = 1e-6;
    part.open_collector = board_chance(0.5);
    part.output_leakage = part.open_collector ? 50e-9 * board_uniform() : 0.0;
    part.own_hysteresis = board_chance(0.3) ? 6e-3 * board_uniform() : 0.0;
    part.high_drop = part.open_collector ? 0.0 : part.high_drop;
  }
  return part;
}

/* V at the comparator's input while the node rests at the bias */
static inline double board_aim(const tw_circuit_spec *s)
{
  double bias = s->bias_voltage;
  if (s->bias_kind == TW_BIAS_DIVIDER) {
    bias = s->supply * s->bias_bottom / (s->bias_top + s->bias_bottom);
  }
  return s->kind == TW_BOARD_GAIN && s->gain_leg == TW_LEG_TO_GROUND ? fmin(3.0, s->gain * bias)
                                                                     : bias;
}

static inline void draw_reference(tw_circuit_spec *s)
{
  const bool falling = s->polarity == TW_SEES_FALLING;
  const double way = falling ? -1.0 : 1.0;
  const double aim = board_aim(s) + way * board_decades(0.03, 0.6);
  s->reference = (tw_reference){.feedback = board_decades(2e5, 5e6)};
  if (s->polarity != TW_SEES_BOTH && board_chance(s->kind == TW_BOARD_COMPARATOR ? 0.15 : 0.3)) {
    s->reference.topology = TW_NON_INVERTING;
    s->reference.feedback = board_decades(1e6, 2e7);
    s->reference.input = board_decades(3e3, 3e4);
  } else if (board_chance(0.3)) {
    s->reference.input = board_decades(1e2, 1e4);
  }
  const double sum = board_decades(2e4, 2e5);
  const double part = fmin(fmax(aim / s->supply, 0.02), 0.95);
  if (board_chance(0.7)) {
    s->reference.top = sum * (1.0 - part);
    s->reference.bottom = sum * part;
  } else {
    s->reference.voltage = aim;
    s->reference.resistance = board_decades(1e3, 3e4);
  }
  if (s->polarity == TW_SEES_BOTH) {
    s->reference_falling = s->reference;
    const double down = fmax(0.02, board_aim(s) - board_decades(0.03, 0.6));
    s->reference_falling.top = sum * (1.0 - down / s->supply);
    s->reference_falling.bottom = sum * down / s->supply;
  }
}

static inline void draw_string(tw_circuit_spec *s)
{
  if (s->kind == TW_BOARD_CHARGE || s->polarity == TW_SEES_BOTH || !(s->reference.top > 0.0) ||
      s->reference.topology == TW_NON_INVERTING) {
    return;
  }
  s->bias_kind = TW_BIAS_STRING;
  s->string_middle = 0.1 * s->reference.bottom * (0.2 + board_uniform());
  s->gain_leg = TW_LEG_TO_BIAS;
}

/* a Schmitt gate in the comparator's place, the bias on its armed side */
static inline void draw_gate(tw_circuit_spec *s)
{
  tw_amplifier *part = &s->comparator;
  part->gain_bandwidth = part->slew = part->open_loop_gain = part->own_hysteresis = 0.0;
  part->offset = 0.0;
  part->open_collector = false;
  part->response_time = 1e-6;
  s->gate_rise = 0.45 + 0.2 * board_uniform();
  s->gate_fall = s->gate_rise - 0.1 - 0.15 * board_uniform();
  s->gate_band = 0.08;
  s->reference = (tw_reference){.topology = TW_INVERTING};
  s->bias_kind = TW_BIAS_VOLTAGE;
  s->bias_voltage =
      s->supply * (s->polarity == TW_SEES_FALLING ? s->gate_rise + 0.1 : s->gate_fall - 0.1);
}

static inline tw_circuit_spec random_board(int i)
{
  static const tw_circuit_kind kinds[] = {TW_BOARD_COMPARATOR, TW_BOARD_GAIN, TW_BOARD_CHARGE};
  tw_circuit_spec s = tw_circuit_spec_default();
  s.kind = kinds[i % 3];
  s.polarity = (tw_polarity)(i / 3 % 3);
  s.supply = 3.0 + 9.0 * board_uniform();
  s.disc_capacitance = board_decades(1e-9, 1e-7);
  s.cable_capacitance = board_decades(1e-12, 1e-9);
  s.bias_resistance = board_decades(5e4, 2e7);
  s.leak_resistance = board_chance(0.4) ? 0.0 : board_decades(3e6, 1e10);
  s.bias_voltage = s.supply * (0.15 + 0.5 * board_uniform());
  if (board_chance(0.5)) {
    s.bias_kind = TW_BIAS_DIVIDER;
    s.bias_top = board_decades(1e4, 2e5);
    s.bias_bottom = s.bias_top * (0.25 + board_uniform());
  }
  s.series_resistance = board_chance(0.5) ? 0.0 : board_decades(1e3, 5e4);
  s.front = random_part(false);
  s.comparator = random_part(true);
  s.output.pull_up = board_decades(2e3, 2e4);
  s.gain = board_decades(1.5, 30.0);
  s.gain_ground = board_chance(0.5) ? 1e4 : 0.0;
  s.gain_feedback = s.gain_ground * (s.gain - 1.0);
  s.gain_leg = board_chance(0.2) ? TW_LEG_TO_GROUND : TW_LEG_TO_BIAS;
  s.charge_capacitance = board_decades(5e-10, 2e-8);
  s.charge_resistance = board_decades(1e6, 1e8);
  draw_reference(&s);
  if (board_chance(0.15)) {
    draw_string(&s);
  } else if (s.kind == TW_BOARD_COMPARATOR && s.polarity != TW_SEES_BOTH && board_chance(0.3)) {
    draw_gate(&s);
  }
  return s;
}

#endif
