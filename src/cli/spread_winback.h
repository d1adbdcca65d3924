/* spread_winback.h: `spread`: what can still be set right when the parts are made. */
#ifndef TW_CLI_SPREAD_WINBACK_H
#define TW_CLI_SPREAD_WINBACK_H

#include "study_in.h"

#include "tripwright/study_run.h"

#define TW_WINBACK_OPTIONS                                                                         \
  {"as-built", NULL, "leave out what adjusting at assembly would win back", false},                \
  {                                                                                                \
    "pair", "N", "also: measure discs and resistors and pair them in lots of N", false             \
  }

/* reads the options and adds the adjustments' inputs: before the sampler is made */
tw_exit tw_cli_winback_read(tw_cli_study *s, tw_run_winback *out);
void tw_cli_winback_print(const tw_cli_study *s, const json_t *document);

#endif
