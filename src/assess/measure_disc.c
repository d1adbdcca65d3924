/* measure_disc.c: what the disc alone says. */
#include "fill.h"

#include <math.h>
#include <string.h>

static void put_value(tw_run *run, tw_measure_id id, tw_disc_value value)
{
  if (value.known) {
    tw_put(run->out, id, value.value);
  } else {
    tw_put_state(run->out, id, TW_MEASURE_NOT_APPLICABLE, "%s",
                 value.why_not ? value.why_not : "this disc has none");
  }
}

/* The void used up at rest: the definition's disc has room to bend, the fitted one has not. */
static void put_fitted(tw_run *run, tw_measure_id id, double fitted)
{
  tw_measure *m = &run->out->measure[id];
  if (m->state == TW_MEASURE_OK && isfinite(fitted)) {
    m->has_fitted = true;
    m->fitted = fitted;
    tw_put_note(run->out, id, "with room to bend; as fitted it is pressed on its backing");
  }
}

void tw_measure_as_fitted(tw_run *run)
{
  const tw_probe *probe = run->probe;
  if (probe->has_disc && probe->seat && probe->rest.backed) {
    const double charge = probe->rest.charge_gain;
    put_fitted(run, TW_M_charge_per_newton, charge);
    put_fitted(run, TW_M_voltage_per_newton, charge / probe->circuit.capacitance);
  }
}

void tw_measure_disc_room(tw_run *run)
{
  static const tw_measure_id of_disc[] = {TW_M_charge_per_newton,       TW_M_voltage_per_newton,
                                          TW_M_voltage_per_newton_open, TW_M_resonance_free,
                                          TW_M_resonance_mounted,       TW_M_resonance_loaded,
                                          TW_M_capacitance_mounted,     TW_M_ceramic_stress_ratio};
  if (!run->probe->has_disc) {
    for (size_t i = 0; i < sizeof of_disc / sizeof of_disc[0]; i++) {
      tw_put_state(run->out, of_disc[i], TW_MEASURE_NOT_APPLICABLE, "there is no disc");
    }
    return;
  }
  const tw_disc_measures *m = &run->probe->disc_measures;
  put_value(run, TW_M_charge_per_newton, m->charge_per_newton);
  put_value(run, TW_M_voltage_per_newton_open, m->voltage_per_newton_open);
  put_value(run, TW_M_capacitance_mounted, m->capacitance_mounted);
  put_value(run, TW_M_resonance_free, m->resonance_free);
  put_value(run, TW_M_resonance_mounted, m->resonance_mounted);
  put_value(run, TW_M_resonance_loaded, m->resonance_loaded);
  const tw_circuit *circuit = &run->probe->circuit;
  if (!m->charge_per_newton.known || run->probe->board.kind == TW_BOARD_CONTACT) {
    tw_put_state(run->out, TW_M_voltage_per_newton, TW_MEASURE_NOT_APPLICABLE,
                 "no circuit looks at the disc");
  } else {
    tw_put(run->out, TW_M_voltage_per_newton, m->charge_per_newton.value / circuit->capacitance);
  }
}
