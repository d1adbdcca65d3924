/* board_noise.c: the noise of a whole board, counted where its threshold is counted. */
#include "board.h"

#include <math.h>

/* white noise of density e through the first stage's pole, or through the band alone */
static double shaped(double density, double pole, double low, double high)
{
  return pole > 0.0 ? tw_noise_one_pole_band(density, pole, low, high) : density * sqrt(high - low);
}

/* voltage noise density at the part's input, the gain network's own resistors included */
static double input_density(const tw_circuit_spec *s, const tw_amplifier *part)
{
  double parallel = 0.0;
  if (s->kind == TW_BOARD_GAIN && s->gain_ground > 0.0) {
    parallel = s->gain_feedback * (s->gain_ground / (s->gain_feedback + s->gain_ground));
  }
  return sqrt(part->voltage_noise * part->voltage_noise +
              4.0 * TW_BOLTZMANN * s->temperature * parallel);
}

tw_status tw_circuit_noise_of(const tw_circuit_spec *spec, double low, double high,
                              tw_circuit_noise *out, tw_fault *fault)
{
  *out = (tw_circuit_noise){0};
  if (!(low >= 0.0 && high > low && isfinite(high))) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.kind", "give a band such as 0 Hz to 10 kHz",
                   "a noise band from %g Hz to %g Hz does not exist", low, high);
  }
  tw_circuit c;
  const tw_status status = tw_circuit_solve(spec, &c, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!(c.capacitance > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.cable_capacitance",
                   "state the capacitance of the cable or the input",
                   "noise on a node without capacitance has no bound");
  }
  const tw_amplifier *part = tw_board_front(spec);
  const bool charge = spec->kind == TW_BOARD_CHARGE;
  const double r = c.resistance, shaping = c.time_constant / r;
  const double noise_gain = charge ? 1.0 + c.capacitance / spec->charge_capacitance : 1.0;
  const double pole = spec->kind == TW_BOARD_GAIN || charge ? c.front_pole : part->gain_bandwidth;
  out->low = low;
  out->voltage_stated = part->voltage_noise > 0.0;
  out->high = high;
  /* the node's own noises pass the first stage's pole as well */
  const double second = spec->kind == TW_BOARD_GAIN ? pole : 0.0;
  const double band = tw_noise_bandwidth(1.0 / (2.0 * acos(-1.0) * r * shaping), second, low, high);
  out->thermal = sqrt(4.0 * TW_BOLTZMANN * spec->temperature * r * band);
  out->shot = tw_noise_shot_density(c.bias_current) * r * sqrt(band);
  out->current = part->current_noise * r * sqrt(band);
  out->voltage = shaped(input_density(spec, part) * noise_gain, pole, low, high);
  out->total = hypot(hypot(out->thermal, out->shot), hypot(out->current, out->voltage));
  return TW_OK;
}
