/* inside.h: what the files of the circuit room share: the parts of a board, and the board solved
 * with a current that the spec does not name. */
#ifndef TW_CIRCUIT_INSIDE_H
#define TW_CIRCUIT_INSIDE_H

#include "tripwright/circuit.h"

/* a divider or voltage as an emf behind a resistance */
typedef struct tw_source {
  double voltage, resistance;
} tw_source;

/* the part whose input sits at the node */
const tw_amplifier *tw_board_front(const tw_circuit_spec *spec);
/* how many inputs of that part hang on the node: two comparators of TW_SEES_BOTH do */
int tw_board_inputs(const tw_circuit_spec *spec);
/* 1 + feedback/ground, or the gain as given, with the open-loop gain's loss */
double tw_board_gain(const tw_circuit_spec *spec);
/* levels of the comparator's output */
double tw_board_high(const tw_circuit_spec *spec);
double tw_board_low(const tw_circuit_spec *spec);
/* V to which an open collector is pulled */
double tw_board_pull_up_voltage(const tw_circuit_spec *spec);
/* the pin that drives the line: emf behind a resistance, low (0) or high (1); `worst` takes the far
 * end of the part's levels */
tw_source tw_board_pin(const tw_circuit_spec *spec, const tw_circuit *solved, int high, bool worst);
/* kind contact without a comparator */
bool tw_board_is_bare_contact(const tw_circuit_spec *spec);

/* what the feedback resistor sees with the output low (0) or high (1): level and conductance; an
 * open collector that is off is its pull-up */
void tw_schmitt_drive(const tw_reference *reference, const tw_switching *at, int high,
                      double *level, double *conductance);

/* tw_circuit_solve without tw_circuit_check, with `stray` amperes into the node (clamp leakage,
 * slow drift): what the budget turns its knobs on. Fails only where the numbers cannot be solved.
 */
tw_status tw_board_solve(const tw_circuit_spec *spec, double stray, tw_circuit *out,
                         tw_fault *fault);

#endif
