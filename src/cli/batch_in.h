/* batch_in.h: what the verbs of a batch share: the design as a batch, with the share of good units
 * from builds or as stated. */
#ifndef TW_CLI_BATCH_IN_H
#define TW_CLI_BATCH_IN_H

#include "study_in.h"

#include "tripwright/documents_batch.h"

typedef struct tw_cli_batch {
  tw_cli_study s;
  tw_builds *builds;
  tw_batch *batch;
  tw_batch_basis basis;
} tw_cli_batch;

#define TW_BATCH_OPTIONS                                                                           \
  {"good", "N", "units that must be good (10)", false},                                            \
      {"sure", "SHARE", "with what chance they are (95%)", false},                                 \
      {"share", "SHARE", "of a batch that meets every requirement, instead of builds", false},     \
      {"builds", "N", "builds from which that share is counted (200)", false},                     \
  {                                                                                                \
    "made", "N", "units made before this lot, for learning (0)", false                             \
  }

/* a share such as 0.1 or 10%; a wrong one is reported and false returned, absent it stays */
bool tw_cli_share(const tw_cli *cli, const char *option, double *share);
/* Reads the design and makes its batch; TW_EXIT_DONE or what went wrong (reported). Close it in
 * every case. */
tw_exit tw_cli_batch_open(tw_cli *cli, tw_cli_batch *b);
void tw_cli_batch_close(tw_cli_batch *b);
/* "183 of 200 builds meet every requirement (87 .. 95 %)" and how many start */
void tw_cli_batch_head(FILE *out, const json_t *document);
/* parts of the file that no step takes */
void tw_cli_batch_idle(FILE *out, const json_t *document);

#endif
