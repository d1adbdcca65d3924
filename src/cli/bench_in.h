/* bench_in.h: readings of the bench card on the command line, for the verbs that take them. */
#ifndef TW_CLI_BENCH_IN_H
#define TW_CLI_BENCH_IN_H

#include "tripwright/bench_suspect.h"
#include "verb.h"

/* the options that say what was read; put them into a verb's list */
#define TW_BENCH_IN_OPTIONS                                                                        \
  {"read", "CHECK=VALUE",                                                                          \
   "what the instrument showed: rest_node=612mV, decay=\"4.1 ms ± 0.1\", "                        \
   "output_rest=low, weight_side=none (it does not trip)",                                         \
   true},                                                                                          \
  {                                                                                                \
    "readings", "FILE", "the same, one a line", false                                              \
  }

typedef struct tw_bench_in {
  tw_cli *cli;
  const tw_bench_card *card; /* of the design that was read */
  tw_bench_reading reading[TW_BENCH_COUNT];
  const char *raw[TW_BENCH_COUNT]; /* as it was written; of argv or of `file` */
  size_t readings;
  bool may_be_none; /* no reading at all is no wrong use */
  char *file;       /* text of --readings, cut into lines; freed by the caller */
} tw_bench_in;

/* all of --readings and --read; what is wrong is reported */
tw_exit tw_bench_in_read(tw_bench_in *in);

#endif
