/* in_time.c: the solved board in the form in which a touch in time meets it.
 *
 * Nothing is computed here that tw_circuit does not hold: its levels are written as the source, the
 * leak and the comparator of touch.h, so that both views rest, trip and come back at one place.
 */
#include "inside.h"
#include "tripwright/circuit_in_time.h"

#include <math.h>

/* a charge amplifier's node stands still: what leaks from it is a constant current */
static void charge_in_time(const tw_circuit *c, tw_circuit_in_time *out)
{
  out->feedback_capacitance = 1.0 / c->charge_gain;
  out->feedback_resistance = c->time_constant * c->charge_gain;
  out->emf = c->rest_node;
  out->current = (c->rest_node - c->rest) / out->feedback_resistance;
}

static void node_in_time(const tw_circuit_spec *s, const tw_circuit *c, tw_circuit_in_time *out)
{
  out->current = c->bias_current;
  out->emf = c->rest_node - c->bias_current * c->resistance;
  if (s->kind == TW_BOARD_GAIN) {
    const double pin = c->rest_node + c->bias_current * s->series_resistance;
    out->stage_offset = (c->rest - out->emf) / c->gain + out->emf - pin;
  }
}

tw_circuit_in_time tw_circuit_in_time_of(const tw_circuit_spec *s, const tw_circuit *c, bool falls)
{
  const bool second = c->polarity == TW_SEES_BOTH && falls;
  const tw_thresholds *t = second ? &c->falling : &c->rising;
  tw_circuit_in_time out = {.resistance = c->resistance, .capacitance = c->capacitance};
  if (s->kind == TW_BOARD_CHARGE) {
    charge_in_time(c, &out);
  } else {
    node_in_time(s, c, &out);
  }
  out.rest_high = t->weight[0] * (falls ? -1.0 : 1.0) < 0.0;
  const int state = out.rest_high ? 1 : 0;
  const double before = out.rest_high ? c->comparator_high : c->comparator_low;
  const double after = out.rest_high ? c->comparator_low : c->comparator_high;
  /* where the rest level goes once the output has switched */
  const double moved = c->rest_tripped - c->rest;
  if (s->kind != TW_BOARD_CHARGE) {
    out.pull = moved / c->gain / c->resistance / (after - before);
  }
  /* levels of the signal alone: the part that the threshold follows is in its weight; without a
   * stage the signal is the pin behind the series resistor, whose drop the thresholds count */
  const double stretch = c->gain / (c->gain - c->follow);
  const double pin = s->kind == TW_BOARD_COMPARATOR ? c->bias_current * s->series_resistance : 0.0;
  const double trip = second ? c->trip_falling : c->trip;
  const double release = second ? c->release_falling : c->release;
  const double settled = s->kind == TW_BOARD_CHARGE ? c->rest : c->rest_tripped;
  const double at_trip = c->rest + (trip - c->rest) * stretch + pin;
  const double at_release = settled + (release - c->rest_tripped) * stretch + pin;
  out.input_weight = t->weight[state] / stretch;
  out.output_weight = out.input_weight * (at_release - at_trip) / (before - after);
  out.reference = -out.input_weight * at_trip - out.output_weight * before;
  return out;
}
