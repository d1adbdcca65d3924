/* spread_steady.h: `spread --until-steady`: as many builds as the figures need. */
#ifndef TW_CLI_SPREAD_STEADY_H
#define TW_CLI_SPREAD_STEADY_H

#include "study_in.h"

#include "tripwright/study_steady.h"

#define TW_STEADY_OPTIONS                                                                          \
  {"until-steady", "DIGITS",                                                                       \
   "go on until mean, deviation and ends no longer move in 1 or 2 figures of the deviation",       \
   false},                                                                                         \
  {                                                                                                \
    "batch", "N", "builds between two looks of --until-steady (10000, as in JCGM 101)", false      \
  }

typedef struct tw_cli_steady {
  bool asked;
  size_t output[TW_MEASURE_COUNT]; /* watched: those that are listed and have numbers */
  tw_steady_plan plan;
  tw_steady found;
} tw_cli_steady;

/* reads the options; `most` builds at the most. A wrong use is reported. */
tw_exit tw_cli_steady_read(tw_cli_study *s, size_t most, tw_cli_steady *out);
/* how many builds it took, and how sure each figure is; from "steady" of the document */
void tw_cli_steady_print(const tw_cli_study *s, const json_t *steady);

#endif
