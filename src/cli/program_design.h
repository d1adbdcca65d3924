/* program_design.h: `program --design FILE`: what a design says of its touches. */
#ifndef TW_CLI_PROGRAM_DESIGN_H
#define TW_CLI_PROGRAM_DESIGN_H

#include "verb.h"

#include "tripwright/qualify_program.h"

/* what the finished plan is held against; all 0 without a design */
typedef struct tw_program_design {
  bool given;
  bool trips_sideways, trips_along; /* along: straight into the probe */
  double slowest, fastest;          /* m/s: the design trips, and stops in time, between these */
  double ready;                     /* s from withdrawal until the next touch can be seen */
  double looks;                     /* s between two looks of the controller at its input */
  char name[100];
} tw_program_design;

/* Take feeds, tip, stylus, machine and kind of output from the design of --design into the plan,
 * before the options, which go first. */
tw_exit tw_program_design_take(tw_cli *cli, tw_plan *plan, tw_program_design *out);
/* the plan with its options against the design; every reason is reported */
tw_exit tw_program_design_check(const tw_cli *cli, const tw_plan *plan,
                                const tw_program_design *design);

#endif
