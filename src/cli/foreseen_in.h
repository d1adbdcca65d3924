/* foreseen_in.h: `--foreseen DESIGN`: what a design foresees beside what was measured. */
#ifndef TW_CLI_FORESEEN_IN_H
#define TW_CLI_FORESEEN_IN_H

#include "verb.h"

#include "tripwright/assess.h"
#include "tripwright/qualify_record.h"

#define TW_FORESEEN_OPTION                                                                         \
  {                                                                                                \
    "foreseen", "DESIGN", "beside it what this design file foresees", false                        \
  }

/* what a figure of the record is held against: times the measure, in SI */
typedef struct tw_foreseen_pair {
  const char *figure; /* the end of its name, behind a group */
  tw_measure_id measure;
  double times;
} tw_foreseen_pair;

/* Put beside each figure of the record what the design of --foreseen says, with the design's name
 * among the conditions; what it has no answer for is a note. Without the option nothing happens. */
tw_exit tw_cli_foreseen(tw_cli *cli, const tw_foreseen_pair *pair, size_t count, tw_record *record);
/* does a figure's name end in this one, as a word of its own? */
bool tw_cli_figure_named(const tw_figure_row *figure, const char *name);

#endif
