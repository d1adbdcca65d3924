/* charge.c: what all acts say alike: resistance on the node, charge, what is wrong with a decay. */
#include "act.h"

#include <math.h>

#define DECAY_SAMPLES 20 /* fewest in a decay time */
#define SHORT_DECAYS  3  /* a record shorter than this ties offset and decay together */

tw_status tw_eval_memory(const tw_eval *job)
{
  return tw_fail(job->fault, TW_NO_MEMORY, "", NULL, "out of memory");
}

double tw_eval_at(const tw_eval *job, size_t k)
{
  return tw_capture_at(job->record, k);
}

const double *tw_eval_other(const tw_eval *job, size_t channel)
{
  return channel < job->record->channels ? job->record->channel[channel].value : NULL;
}

double tw_node_resistance(const tw_capture_setup *s, double *u)
{
  const double bias = s->bias_resistance, in = s->instrument.resistance;
  *u = 0;
  if (!(bias > 0)) {
    return (double)NAN;
  }
  const double g = 1 / bias + 1 / in, r = 1 / g;
  /* dR = R^2 (dG): relative parts weighed by their share of the conductance */
  const double of_bias = r / bias * s->bias_resistance_u;
  const double of_in = isfinite(in) ? r / in * (s->instrument.resistance_u / in) : 0;
  *u = r * hypot(of_bias, of_in);
  return r;
}

double tw_gain_u(const tw_eval *job)
{
  return job->setup->instrument.gain_u;
}

void tw_put_per_newton(tw_eval *job, double charge, double u_charge)
{
  const tw_capture_setup *s = job->setup;
  if (s->weights == 0 || !isfinite(charge)) {
    return;
  }
  const double force = s->weight[0] * TW_GRAVITY;
  const double value = fabs(charge) / force;
  tw_capture_feature *f = tw_put_feature(job->result, "charge_per_newton", value,
                                         hypot(u_charge / force, value * s->weight_u), "C/N");
  const bool plus = (charge > 0) == s->push;
  tw_note(f, "a push makes %s: %s", plus ? "plus" : "minus",
          s->push ? "it was set down" : "it was let go, which is the other way round");
}

void tw_put_charge(tw_eval *job, double step, double u_step, double tau, double u_tau)
{
  const tw_capture_setup *s = job->setup;
  double u_r;
  const double r = tw_node_resistance(s, &u_r);
  const double node = s->node_capacitance + s->instrument.capacitance;
  const double u_node =
      hypot(s->node_capacitance * s->node_capacitance_u, s->instrument.capacitance_u);
  const double gain = tw_gain_u(job);
  double charge = (double)NAN, u = 0;
  if (r > 0) {
    charge = step * tau / r;
    u = fabs(charge) * hypot(hypot(u_step / step, gain), hypot(u_tau / tau, u_r / r));
  } else if (node > 0) {
    charge = step * node;
    u = fabs(charge) * hypot(hypot(u_step / step, gain), u_node / node);
  }
  if (isfinite(charge)) {
    tw_note(tw_put_feature(job->result, "charge", charge, u, "C"),
            r > 0 ? "step times decay over the resistance on the node"
                  : "step times the capacitance of the node");
    tw_put_per_newton(job, charge, u);
  } else {
    tw_put_concern(
        job->result, "resistance", "say --bias-resistor, or --node-capacitance",
        "Neither the bias resistor nor the capacitance of the node is known: no charge.");
  }
  if (r > 0) {
    const double c = tau / r - s->instrument.capacitance;
    const double u_c = hypot(tau / r * hypot(u_tau / tau, u_r / r), s->instrument.capacitance_u);
    tw_capture_feature *f = tw_put_feature(job->result, "node_capacitance", c, u_c, "F");
    tw_note(f, "disc and cable, without the instrument");
    if (s->node_capacitance > 0 &&
        fabs(c - s->node_capacitance) >
            3 * hypot(u_c, s->node_capacitance * s->node_capacitance_u)) {
      tw_put_concern(job->result, "capacitance",
                     "measure the node's capacitance, check --bias-resistor",
                     "The decay asks for %.3g nF on the node, %.3g nF are stated.", 1e9 * c,
                     1e9 * s->node_capacitance);
    }
  }
}

void tw_judge_decay(tw_eval *job, double step, double tau, double after)
{
  tw_capture_result *r = job->result;
  if (tau < DECAY_SAMPLES * job->interval) {
    tw_put_concern(r, "slow", "record with a higher rate",
                   "Too slow: %.1f samples in a decay time, %d are needed.", tau / job->interval,
                   DECAY_SAMPLES);
  }
  if (after < SHORT_DECAYS * tau) {
    tw_put_concern(r, "short", "record longer after the event",
                   "Too short: %.2g decay times after the event; offset and decay hang together "
                   "below %d.",
                   after / tau, SHORT_DECAYS);
  }
  const tw_capture_feature *hum = tw_capture_feature_of(r, "hum");
  if (hum && hum->value > fabs(step) / 3) {
    tw_put_concern(r, "hum", "screen the lead, connect the shield at one end",
                   "The hum of %.3g is more than a third of the step.", hum->value);
  }
}

void tw_put_curve(tw_eval *job, const tw_sep *fit, double origin, double from, double to)
{
  tw_capture_result *r = job->result;
  for (size_t k = 0; k < TW_CAPTURE_CURVE; k++) {
    const double t = from + (to - from) * (double)k / (TW_CAPTURE_CURVE - 1);
    r->curve_t[k] = t;
    r->curve_v[k] = tw_sep_at(fit, t - origin) / job->scale;
  }
  r->curve = TW_CAPTURE_CURVE;
}
