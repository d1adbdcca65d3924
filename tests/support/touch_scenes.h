/* touch_scenes.h: the touches that tests and benchmarks share.
 *
 * The base probe: tip 1 g on 5e4 N/m, carrier 5 g on a disc of 1e5 N/m and 2 nC/N, ball of 1 mm
 * radius on steel, node of 20 nF; three circuits on 5 V: a comparator directly on the node, a gain
 * stage of 10.1 before it, a charge amplifier before it. All mechanical values are estimates.
 */
#ifndef TW_TOUCH_SCENES_H
#define TW_TOUCH_SCENES_H

#include "tripwright/touch.h"
#include <math.h>

#define SCENE_MM_MIN (1e-3 / 60.0)

static inline double scene_parallel(double a, double b)
{
  return a * b / (a + b);
}

/* inverting comparator: divider top/bottom from `supply`, `feedback` from the output */
static inline void scene_comparator(tw_touch_model *m, double top, double bottom, double feedback)
{
  const double g = 1.0 / top + 1.0 / bottom + 1.0 / feedback;
  m->comparator = (tw_touch_comparator){.kind = TW_COMPARATOR_REGENERATIVE,
                                        .reference = 5.0 / top / g,
                                        .input_weight = -1.0,
                                        .output_weight = 1.0 / (feedback * g),
                                        .low = 5e-3,
                                        .high = 3.5,
                                        .rest_high = true,
                                        .bandwidth = 0.7e6,
                                        .slew = 0.3e6};
  m->output.logic_level = 1.5;
}

static inline tw_touch_model scene_mechanics(void)
{
  tw_touch_model m = tw_touch_model_default();
  m.contact.stiffness = tw_touch_hertz(1e-3, 400e9, 0.25, 207e9, 0.29);
  m.tip = (tw_touch_tip){1e-3, 5e4, 2.0 * 0.05 * sqrt(5e4 * 1e-3)};
  m.carrier.mass = 5e-3;
  m.carrier.stiffness = 1e5;
  m.carrier.charge_per_metre = 2e-9 * 1e5;
  m.carrier.damping = 2.0 * 0.05 * sqrt(1e5 * 5e-3);
  m.node.capacitance = 20e-9;
  m.node.bias_current = 20e-9;
  return m;
}

/* circuit 1 (direct), 2 (gain), 3 (charge) */
static inline tw_touch_model scene_circuit(int circuit)
{
  tw_touch_model m = scene_mechanics();
  if (circuit == 1) {
    m.node.bias_voltage = 5.0 * 15.0 / 77.0;
    m.node.resistance = 1e6 + scene_parallel(62e3, 15e3);
    scene_comparator(&m, 39e3, 10e3, 1e6);
    return m;
  }
  scene_comparator(&m, 27e3, 10e3, 1e6);
  m.stage = (tw_touch_stage){.kind = circuit == 2 ? TW_STAGE_GAIN : TW_STAGE_CHARGE,
                             .gain = 10.1,
                             .bandwidth = 0.7e6,
                             .slew = 0.3e6,
                             .low = 5e-3,
                             .high = 3.5,
                             .feedback_capacitance = 2.2e-9,
                             .feedback_resistance = 10e6};
  m.node.bias_voltage = circuit == 2 ? 1.0 : 1.4;
  m.node.resistance = 1e6;
  return m;
}

static inline tw_touch_model scene_restitution(int circuit)
{
  tw_touch_model m = scene_circuit(circuit);
  m.contact.restitution = 0.7;
  return m;
}

static inline tw_touch_motion scene_feed(double mm_min)
{
  tw_touch_motion go = tw_touch_motion_default();
  go.feed = mm_min * SCENE_MM_MIN;
  return go;
}

/* body-frame touch with a softening carrier, a pole and a smooth comparator: 'A' or 'B' */
static inline tw_touch_model scene_smooth(char circuit)
{
  tw_touch_model m = tw_touch_model_default();
  m.contact.stiffness = 6.0e9;
  m.contact.damping = 0.0;
  m.tip = (tw_touch_tip){0.5e-3, 2e5, 2.0};
  m.carrier.mass = 8e-3;
  m.carrier.law = TW_CARRIER_SOFTENING;
  m.carrier.stiffness = 2e5;
  m.carrier.knee = 0.8e-6;
  m.carrier.levelling = 2.0e-6;
  m.carrier.damping = 20.0;
  const bool a = circuit == 'A';
  m.carrier.charge_per_metre = a ? 0.02 : 0.002;
  m.node.capacitance = a ? 33e-9 : 10e-9;
  m.node.resistance = a ? 100e3 : 1e6;
  m.node.bias_voltage = 0.5;
  const double pole = a ? 10e3 : 3e3;
  m.stage = (tw_touch_stage){.kind = TW_STAGE_GAIN, .gain = 10.0, .bandwidth = 10.0 * pole};
  const double r1 = a ? 10e3 : 22e3;
  const double r2 = 100e3;
  m.comparator = (tw_touch_comparator){.kind = TW_COMPARATOR_SMOOTH,
                                       .reference = a ? -1.30 : -2.00,
                                       .input_weight = r2 / (r1 + r2),
                                       .output_weight = r1 / (r1 + r2),
                                       .low = a ? 0.02 : 0.15,
                                       .high = a ? 4.98 : 3.50,
                                       .rest_high = false,
                                       .steepness = 1e4,
                                       .time_constant = 1e-6};
  m.output.logic_level = 0.5 * (m.comparator.low + m.comparator.high);
  return m;
}

#endif
