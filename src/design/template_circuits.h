/* template_circuits.h: circuits of the starting files. The threshold of each lies well above what
 * the sheets of its parts leave uncertain (`circuit` prints the budget), and its leak is slow
 * enough for the feed of the file. */
#ifndef TW_DESIGN_TEMPLATE_CIRCUITS_H
#define TW_DESIGN_TEMPLATE_CIRCUITS_H

#define CIRCUIT_COMPARATOR                                                                         \
  "circuit: {kind: comparator, supply: 3.3 V, amplifier: comparator_micropower_oc,\n"              \
  "          bias_resistance: 1M0, bias_upper: 47k, bias_lower: 15k, reference_upper: 39k,\n"      \
  "          reference_lower: 15k, feedback_resistance: 1M0, clamp: rails,\n"                      \
  "          series_resistance: 10k}\n"                                                            \
  "output: {kind: open_collector, active: low}\n"

/* an input that takes next to no current: ten times the bias resistor, a tenth of the leak */
#define CIRCUIT_COMPARATOR_SLOW                                                                    \
  "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_cmos_pp, bias_resistance: "      \
  "10M,\n"                                                                                         \
  "          bias_upper: 100k, bias_lower: 33k, reference_upper: 100k, reference_lower: 39k,\n"    \
  "          feedback_resistance: 2M2, clamp: rails, series_resistance: 10k}\n"

#define CIRCUIT_COMPARATOR_BOTH                                                                    \
  "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_cmos_pp, polarity: both,\n"      \
  "          bias_resistance: 10M, bias_upper: 100k, bias_lower: 100k, reference_upper: 91k,\n"    \
  "          reference_lower: 100k, feedback_resistance: 2M2, clamp: rails,\n"                     \
  "          series_resistance: 10k}\n"

/* the charge of these is gone sooner than the machine leaves the work */
#define CIRCUIT_HELD                                                                               \
  "output: {minimum_pulse: 30 ms}     # longer than the machine rests on the work\n"

#define CIRCUIT_GAIN                                                                               \
  "circuit: {kind: gain, supply: 5 V, stage: opamp_bipolar_single, amplifier: "                    \
  "comparator_cmos_pp,\n"                                                                          \
  "          gain_upper: 100k, gain_lower: 47k, bias_resistance: 330k, bias_upper: 100k,\n"        \
  "          bias_lower: 33k, reference_upper: 100k, reference_lower: 56k,\n"                      \
  "          feedback_resistance: 2M2, clamp: rails, series_resistance: 10k}\n" CIRCUIT_HELD

#define CIRCUIT_GAIN_BOTH                                                                          \
  "circuit: {kind: gain, supply: 5 V, stage: opamp_bipolar_single, amplifier: "                    \
  "comparator_cmos_pp,\n"                                                                          \
  "          gain_upper: 100k, gain_lower: 47k, bias_resistance: 220k, bias_upper: 100k,\n"        \
  "          bias_lower: 100k, reference_upper: 75k, reference_lower: 100k, polarity: both,\n"     \
  "          feedback_resistance: 2M2, clamp: rails, series_resistance: 10k}\n" CIRCUIT_HELD

#define CIRCUIT_CHARGE                                                                             \
  "circuit: {kind: charge, supply: 5 V, stage: opamp_bipolar_single, amplifier: "                  \
  "comparator_cmos_pp,\n"                                                                          \
  "          charge_capacitance: 10 nF, charge_resistance: 1M0, bias_upper: 100k,\n"               \
  "          bias_lower: 100k, reference_upper: 100k, reference_lower: 62k,\n"                     \
  "          feedback_resistance: 2M2, polarity: falling}   # a charge amplifier turns the "       \
  "sign\n" CIRCUIT_HELD

#define CIRCUIT_CHARGE_BOTH                                                                        \
  "circuit: {kind: charge, supply: 5 V, stage: opamp_bipolar_single, amplifier: "                  \
  "comparator_cmos_pp,\n"                                                                          \
  "          charge_capacitance: 10 nF, charge_resistance: 1M0, bias_upper: 100k,\n"               \
  "          bias_lower: 100k, reference_upper: 82k, reference_lower: 100k,\n"                     \
  "          feedback_resistance: 2M2, polarity: both}\n" CIRCUIT_HELD

/* the bias lies under the lowest falling threshold that a gate of the sheet has */
#define CIRCUIT_GATE_WITH(bias_resistance)                                                         \
  "circuit: {kind: gate, supply: 5 V, amplifier: gate_hc14, bias_resistance: " bias_resistance     \
  ",\n"                                                                                            \
  "          bias_upper: 100k, bias_lower: 18k, clamp: rails, series_resistance: "                 \
  "10k}\n" CIRCUIT_HELD
#define CIRCUIT_GATE CIRCUIT_GATE_WITH("1M0")

#define CIRCUIT_CONTACT                                                                            \
  "circuit: {kind: contact, supply: 5 V, contact_pull_up: 10k, contact_threshold: 10k}\n"          \
  "output: {kind: push_pull, active: high}\n"

#endif
