/* circuit_in_time.h: the solved board for a touch in time, and its parts for a circuit simulator.
 *
 * Plain numbers in, plain numbers out, SI units; nothing is kept, and every function may be called
 * from several threads at once. The caller owns the file that the netlist goes to.
 */
#ifndef TRIPWRIGHT_CIRCUIT_IN_TIME_H
#define TRIPWRIGHT_CIRCUIT_IN_TIME_H

#include "tripwright/circuit.h"

#include <stdio.h>

/* The solved board as a touch in time meets it, for a comparator's input that rises or `falls`: the
 * same node, rest level, threshold and release as in tw_circuit, in the form of touch.h. */
typedef struct tw_circuit_in_time {
  double emf, resistance, capacitance; /* node: V to which it returns without `current`, ohm, F */
  double current;                      /* A into the node from the inputs and, held by a charge
                                        * amplifier, from its leak */
  double pull;                         /* S: A into the node per volt that the comparator's output
                                        * leaves its level at rest */
  double stage_offset; /* V at the gain stage's input that gives its level at rest */
  double feedback_capacitance, feedback_resistance; /* charge amplifier, its finite gain counted */
  /* e = reference + input_weight x signal + output_weight x output, 0 at trip and at release */
  bool rest_high;
  double reference, input_weight, output_weight;
} tw_circuit_in_time;
tw_circuit_in_time tw_circuit_in_time_of(const tw_circuit_spec *spec, const tw_circuit *solved,
                                         bool falls);

/* The board's parts as lines of a SPICE netlist: charge comes as v(i) microamperes, positive raises
 * the comparator's input; sig is the signal, o the comparator's output. `rest_high` chooses the
 * comparator of TW_SEES_BOTH. Returns the level of sig that trips. Not for contacts. */
double tw_circuit_netlist(const tw_circuit_spec *spec, const tw_circuit *solved, bool rest_high,
                          FILE *out);

#endif
