/* schmitt.c: both thresholds of a comparator with feedback, from node equations with loading.
 *
 * Whatever the network, the difference between the inputs is base + share o + weight v for output
 * o and signal v; the output goes high where it is positive.
 */
#include "inside.h"

#include <math.h>

/* the reference as a voltage behind a resistance */
typedef struct tap {
  double voltage, resistance;
} tap;

static bool is_divider(const tw_reference *reference)
{
  return reference->top > 0.0;
}

static tap tap_of(const tw_reference *reference, double supply)
{
  if (is_divider(reference)) {
    const double sum = reference->top + reference->bottom;
    return (tap){.voltage = supply * (reference->bottom / sum),
                 .resistance = reference->top * (reference->bottom / sum)};
  }
  return (tap){.voltage = reference->voltage, .resistance = reference->resistance};
}

static tw_status refuse(tw_fault *fault, const char *field, const char *what, double value)
{
  return tw_fail(fault, TW_BAD_INPUT, field, "give a resistance above zero",
                 "%s is %g ohm: no such resistor", what, value);
}

/* zero is allowed where a wire is; below that nothing is */
static bool wire_or_more(double resistance)
{
  return resistance >= 0.0 && isfinite(resistance);
}

static tw_status check_network(const tw_reference *r, const tw_switching *at, tw_fault *fault)
{
  if (!wire_or_more(r->top) || (is_divider(r) && !(r->bottom > 0.0 && isfinite(r->bottom)))) {
    return refuse(fault, r->top >= 0.0 ? "circuit.reference_lower" : "circuit.reference_upper",
                  "the reference divider", r->top >= 0.0 ? r->bottom : r->top);
  }
  if (!wire_or_more(r->feedback)) {
    return refuse(fault, "circuit.feedback_resistance", "the feedback", r->feedback);
  }
  if (!wire_or_more(r->input) || !wire_or_more(at->source)) {
    return refuse(fault, "circuit.input_resistance", "the input lead",
                  r->input < 0.0 ? r->input : at->source);
  }
  if (!wire_or_more(r->resistance) || !wire_or_more(r->ground) || !wire_or_more(at->pull_up)) {
    return refuse(fault, "circuit.reference_resistance", "a resistor of the reference",
                  fmin(r->resistance, fmin(r->ground, at->pull_up)));
  }
  const double volts[] = {
      r->voltage, r->ground_voltage,   at->supply,         at->high,         at->low,
      at->offset, at->pull_up_voltage, at->own_hysteresis, at->bias_current, at->extra_current};
  for (size_t i = 0; i < sizeof volts / sizeof volts[0]; i++) {
    if (!isfinite(volts[i])) {
      return tw_fail(fault, TW_BAD_INPUT, "circuit.reference", "give a number",
                     "a voltage or current of the comparator is no number");
    }
  }
  if (!(at->high > at->low) || !(at->own_hysteresis >= 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "circuit.amplifier",
                   "raise the supply or take a part that swings further",
                   "the comparator's high level (%g V) is not above its low one (%g V)", at->high,
                   at->low);
  }
  return TW_OK;
}

void tw_schmitt_drive(const tw_reference *r, const tw_switching *at, int high, double *level,
                      double *conductance)
{
  const bool off = high && at->pull_up > 0.0;
  const double through = r->feedback + (off ? at->pull_up : 0.0);
  *level = !high ? at->low : off ? at->pull_up_voltage : at->high;
  *conductance = r->feedback > 0.0 ? 1.0 / through : 0.0;
}

/* + input: (V_t/R_t + o/R_f + I)/(1/R_t + 1/R_f), written for R_t = 0 as well */
static void inverting_state(const tw_reference *r, const tw_switching *at, int high,
                            tw_thresholds *out)
{
  const tap from = tap_of(r, at->supply);
  double level, conductance;
  tw_schmitt_drive(r, at, high, &level, &conductance);
  const double weight = 1.0 / (1.0 + from.resistance * conductance);
  const double current = at->bias_current + at->extra_current;
  const double base = (from.voltage + current * from.resistance) * weight;
  const double lead = at->bias_current * (r->input + at->source);
  const double own = (high ? 0.5 : -0.5) * at->own_hysteresis;
  out->share[high] = from.resistance * conductance * weight;
  out->base[high] = base + at->offset - lead + own;
  out->weight[high] = -1.0;
  *(high ? &out->tap_high : &out->tap_low) = base + out->share[high] * level;
}

/* + input: (v/R_1 + o/R_2 + V_g/R_g + I)/(1/R_1 + 1/R_2 + 1/R_g); - input: reference + I R_m */
static void non_inverting_state(const tw_reference *r, const tw_switching *at, int high,
                                tw_thresholds *out)
{
  const tap from = tap_of(r, at->supply);
  double level, conductance;
  tw_schmitt_drive(r, at, high, &level, &conductance);
  const double lead = r->input + at->source;
  const double ground = r->ground > 0.0 ? 1.0 / r->ground : 0.0;
  const double weight = 1.0 / (1.0 + lead * (conductance + ground));
  const double minus = from.voltage + (at->bias_current + at->extra_current) * from.resistance;
  const double own = (high ? 0.5 : -0.5) * at->own_hysteresis;
  out->share[high] = lead * conductance * weight;
  out->base[high] =
      lead * (r->ground_voltage * ground + at->bias_current) * weight - minus - at->offset + own;
  out->weight[high] = weight;
  *(high ? &out->tap_high : &out->tap_low) = minus;
}

/* the signal at which the difference is zero with the output where it is */
static double crossing(const tw_reference *r, const tw_switching *at, const tw_thresholds *t,
                       int high)
{
  double level, conductance;
  tw_schmitt_drive(r, at, high, &level, &conductance);
  return -(t->base[high] + t->share[high] * level) / t->weight[high];
}

tw_status tw_schmitt(const tw_reference *reference, const tw_switching *at, tw_thresholds *out,
                     tw_fault *fault)
{
  const tw_status status = check_network(reference, at, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_thresholds){0};
  for (int high = 0; high < 2; high++) {
    if (reference->topology == TW_INVERTING) {
      inverting_state(reference, at, high, out);
    } else {
      non_inverting_state(reference, at, high, out);
    }
  }
  /* an inverting output is high below its upper threshold, the other one is low there */
  const int before_rise = reference->topology == TW_INVERTING ? 1 : 0;
  out->rise = crossing(reference, at, out, before_rise);
  out->fall = crossing(reference, at, out, 1 - before_rise);
  out->hysteresis = out->rise - out->fall;
  if (out->hysteresis < -1e-12 * (fabs(out->rise) + fabs(out->fall))) {
    return tw_fail(fault, TW_BAD_INPUT, "output.pull_up",
                   "pull up to a voltage above the reference",
                   "the pull-up (%g V) lies below the reference: the feedback works backwards",
                   at->pull_up_voltage);
  }
  return TW_OK;
}
