/* spread_winback.h: `spread`: what can still be set right when the parts are made. */
#ifndef TW_CLI_SPREAD_WINBACK_H
#define TW_CLI_SPREAD_WINBACK_H

#include "study_in.h"

#define TW_WINBACK_OPTIONS                                                                         \
  {"as-built", NULL, "leave out what adjusting at assembly would win back", false},                \
  {                                                                                                \
    "pair", "N", "also: measure discs and resistors and pair them in lots of N", false             \
  }

typedef struct tw_cli_winback {
  long lot; /* 0: no pairing */
  tw_adjustment adjustment[TW_STUDY_ADJUSTMENTS];
  size_t count;
} tw_cli_winback;

/* reads the options and adds the adjustments' inputs: before the sampler is made */
tw_exit tw_cli_winback_read(tw_cli_study *s, tw_cli_winback *out);
/* computes and puts "win_back" into the document; TW_CANCELLED and failures pass through */
tw_status tw_cli_winback_add(tw_cli_study *s, const tw_cli_winback *w, const tw_sampler *sampler,
                             const tw_builds *builds, json_t *document, tw_fault *fault);
void tw_cli_winback_print(const tw_cli_study *s, const json_t *document);

#endif
