/* spread_print.h: what `spread` holds, and how it is told. */
#ifndef TW_CLI_SPREAD_PRINT_H
#define TW_CLI_SPREAD_PRINT_H

#include "pieces_in.h"
#include "spread_steady.h"
#include "spread_winback.h"

#include "tripwright/study_store.h"

typedef struct tw_cli_spread {
  tw_cli_study s;
  tw_pieces pieces;
  tw_cli_steady steady;
  tw_run_winback winback;
  tw_sampler *sampler;
  tw_builds *builds;
  tw_store *store;
  long first, count, seed;
  json_t *document;
} tw_cli_spread;

/* 1 when no build is good */
tw_exit tw_cli_spread_verdict(const tw_cli_spread *spread);
/* the document, as text or JSON */
tw_exit tw_cli_spread_print(const tw_cli_spread *spread);

#endif
