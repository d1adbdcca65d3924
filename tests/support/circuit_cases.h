/* circuit_cases.h: boards that several circuit tests share: the three circuits of
 * docs/models/touch.md 1 (a generic bipolar op-amp at 5 V) and variations. */
#ifndef TW_TEST_CIRCUIT_CASES_H
#define TW_TEST_CIRCUIT_CASES_H

#include "tripwright/circuit.h"

static inline tw_amplifier case_bipolar(double bias)
{
  tw_amplifier part = tw_amplifier_ideal();
  part.name = "a bipolar dual";
  part.bias_current = bias;
  part.bias_least = bias;
  part.bias_most = bias;
  part.low_drop = 0.005;
  part.high_drop = 1.5;
  part.gain_bandwidth = 0.7e6;
  part.slew = 0.3e6;
  return part;
}

/* what all three share: 20 nF, 2 nC/N */
static inline tw_circuit_spec case_common(void)
{
  tw_circuit_spec s = tw_circuit_spec_default();
  s.disc_capacitance = 20e-9;
  s.charge_per_newton = 2e-9;
  s.temperature = 300.0;
  s.front = case_bipolar(20e-9);
  s.comparator = case_bipolar(0.0);
  s.reference = (tw_reference){.top = 27e3, .bottom = 10e3, .feedback = 1e6};
  return s;
}

/* (i) straight onto the comparator: bias 62k/15k through 1M, reference 39k, 10k, 1M */
static inline tw_circuit_spec case_direct(double bias)
{
  tw_circuit_spec s = case_common();
  s.kind = TW_BOARD_COMPARATOR;
  s.bias_kind = TW_BIAS_DIVIDER;
  s.bias_top = 62e3;
  s.bias_bottom = 15e3;
  s.bias_resistance = 1e6;
  s.comparator = case_bipolar(bias);
  s.reference = (tw_reference){.top = 39e3, .bottom = 10e3, .feedback = 1e6};
  return s;
}

/* (ii) 10.1 times, bias 1M to 1.0 V */
static inline tw_circuit_spec case_gain(void)
{
  tw_circuit_spec s = case_common();
  s.kind = TW_BOARD_GAIN;
  s.bias_voltage = 1.0;
  s.bias_resistance = 1e6;
  s.gain = 10.1;
  return s;
}

/* (iii) charge amplifier, 2.2 nF and 10M about 1.4 V */
static inline tw_circuit_spec case_charge(void)
{
  tw_circuit_spec s = case_common();
  s.kind = TW_BOARD_CHARGE;
  s.bias_voltage = 1.4;
  s.charge_capacitance = 2.2e-9;
  s.charge_resistance = 10e6;
  return s;
}

/* three closed contacts in a row under 10k from the supply, with a comparator */
static inline tw_circuit_spec case_contact(void)
{
  tw_circuit_spec s = case_common();
  s.kind = TW_BOARD_CONTACT;
  s.bias_kind = TW_BIAS_SUPPLY;
  s.bias_resistance = 10e3;
  s.contact_resistance = 1.5;
  s.cable_capacitance = 200e-12;
  return s;
}

#endif
