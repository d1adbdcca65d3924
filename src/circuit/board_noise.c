/* board_noise.c: the noise of a whole board, counted where its threshold is counted. */
#include "inside.h"
#include "tripwright/constants.h"

#include <math.h>

/* Hz from which noise counts: slower is drift, which the budget has */
#define SEEN_FROM 0.1
/* Hz that a decision without a stated speed is taken to follow: own estimate */
#define SEEN_UNSTATED 1e6
/* a single pole's rise time times its corner: ln 9 / (2 pi) */
#define RISE_TIMES_CORNER 0.35

/* white noise of density e through the first stage's pole, or through the band alone */
static double shaped(double density, double pole, double low, double high)
{
  return pole > 0.0 ? tw_noise_one_pole_band(density, pole, low, high) : density * sqrt(high - low);
}

/* voltage noise of a part, white and 1/f */
static double of_part(const tw_amplifier *part, double pole, double low, double high)
{
  const double white = shaped(part->voltage_noise, pole, low, high);
  return part->noise_corner > 0.0
             ? hypot(white, part->voltage_noise * sqrt(part->noise_corner *
                                                       tw_noise_flicker_decades(pole, low, high)))
             : white;
}

/* of the gain network's own resistors */
static double of_network(const tw_circuit_spec *s, double pole, double low, double high)
{
  if (s->kind != TW_BOARD_GAIN || !(s->gain_ground > 0.0)) {
    return 0.0;
  }
  const double parallel = s->gain_feedback * (s->gain_ground / (s->gain_feedback + s->gain_ground));
  return shaped(sqrt(4.0 * TW_BOLTZMANN * s->temperature * parallel), pole, low, high);
}

static tw_status check(const tw_circuit_spec *s, const tw_circuit *c, double low, double high,
                       tw_fault *fault)
{
  if (!(low >= 0.0 && high > low && isfinite(high))) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.kind", "give a band such as 0 Hz to 10 kHz",
                   "a noise band from %g Hz to %g Hz does not exist", low, high);
  }
  if (!(low > 0.0) && tw_board_front(s)->noise_corner > 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.kind", "begin above zero, at 0.1 Hz for example",
                   "1/f noise from 0 Hz on has no bound");
  }
  if (!(c->capacitance > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.cable_capacitance",
                   "state the capacitance of the cable or the input",
                   "noise on a node without capacitance has no bound");
  }
  return TW_OK;
}

/* Hz up to which the comparator follows its input */
static double followed(const tw_circuit *c)
{
  if (c->comparator_bandwidth > 0.0) {
    return c->comparator_bandwidth;
  }
  return c->response_time > 0.0 ? RISE_TIMES_CORNER / c->response_time : SEEN_UNSTATED;
}

static tw_status noise_of(const tw_circuit_spec *spec, const tw_circuit *c, double low, double high,
                          tw_circuit_noise *out, tw_fault *fault)
{
  const tw_status status = check(spec, c, low, high, fault);
  if (status != TW_OK) {
    return status;
  }
  const tw_amplifier *part = tw_board_front(spec);
  const bool charge = spec->kind == TW_BOARD_CHARGE, staged = charge || spec->kind == TW_BOARD_GAIN;
  const double r = c->resistance, shaping = c->time_constant / r;
  const double noise_gain = charge ? 1.0 + c->capacitance / spec->charge_capacitance : 1.0;
  const double pole = staged ? c->front_pole : part->gain_bandwidth;
  out->low = low;
  out->high = high;
  out->voltage_stated = part->voltage_noise > 0.0;
  /* the node's own noises pass the first stage's pole as well */
  const double second = spec->kind == TW_BOARD_GAIN ? pole : 0.0;
  const double band = tw_noise_bandwidth(1.0 / (TW_TWO_PI * r * shaping), second, low, high);
  out->thermal = sqrt(4.0 * TW_BOLTZMANN * spec->temperature * r * band);
  out->shot = tw_noise_shot_density(c->bias_current) * r * sqrt(band);
  out->current = part->current_noise * r * sqrt(band);
  out->voltage =
      hypot(of_part(part, pole, low, high), of_network(spec, pole, low, high)) * noise_gain;
  if (staged && (low > 0.0 || !(spec->comparator.noise_corner > 0.0))) {
    out->comparator =
        of_part(&spec->comparator, spec->comparator.gain_bandwidth, low, high) / c->gain;
  }
  out->total = hypot(hypot(hypot(out->thermal, out->shot), hypot(out->current, out->voltage)),
                     out->comparator);
  return TW_OK;
}

tw_status tw_circuit_noise_of(const tw_circuit_spec *spec, double low, double high,
                              tw_circuit_noise *out, tw_fault *fault)
{
  *out = (tw_circuit_noise){0};
  tw_circuit c;
  const tw_status status = tw_circuit_solve(spec, &c, fault);
  return status == TW_OK ? noise_of(spec, &c, low, high, out, fault) : status;
}

tw_status tw_circuit_noise_seen(const tw_circuit_spec *spec, tw_circuit_noise *out, tw_fault *fault)
{
  *out = (tw_circuit_noise){0};
  tw_circuit c;
  const tw_status status = tw_circuit_solve(spec, &c, fault);
  return status == TW_OK
             ? noise_of(spec, &c, SEEN_FROM, fmax(followed(&c), 10.0 * SEEN_FROM), out, fault)
             : status;
}
