/* logbook_ask.h: what a workshop asks its log, each question one call.
 *
 * Only current entries answer: what was corrected or withdrawn is left out. Lists are allocated for
 * the caller and freed with the function beside them. Numbers are SI. One thread a log.
 */
#ifndef TRIPWRIGHT_LOGBOOK_ASK_H
#define TRIPWRIGHT_LOGBOOK_ASK_H

#include "tripwright/design.h"
#include "tripwright/logbook.h"
#include "tripwright/logbook_learn.h"

#define TW_LOG_WORD 48 /* longest unit, step, process in an answer */

/* ---- tests ----------------------------------------------------------------------------------- */

/* First tests of one step in one month. Passed at the first test, and no adjustment of that step
 * before it. */
typedef struct tw_log_yield {
  char step[TW_LOG_WORD], month[8]; /* "2026-11"; "" over all months */
  size_t units, passed;
  tw_interval exact, jeffreys; /* 95 %: Clopper and Pearson; Jeffreys */
} tw_log_yield;
/* rows by step, then month; by_month false: one row a step */
tw_status tw_logbook_yield(tw_logbook *log, bool by_month, tw_log_yield **rows, size_t *count,
                           tw_fault *fault);

/* hours entered with a step: foreseen (hours_foreseen) and real */
typedef struct tw_log_hours {
  char step[TW_LOG_WORD];
  size_t entries;
  double real, foreseen;
} tw_log_hours;
tw_status tw_logbook_hours(tw_logbook *log, tw_log_hours **rows, size_t *count, tw_fault *fault);

/* a unit that was begun and has not left, or came back */
typedef struct tw_log_open {
  char unit[TW_LOG_WORD], since[TW_LOG_TIME], last[TW_LOG_TIME];
  char failed[TW_LOG_WORD]; /* step whose last test was not passed, or "" */
  bool returned;
} tw_log_open;
tw_status tw_logbook_open_units(tw_logbook *log, tw_log_open **rows, size_t *count,
                                tw_fault *fault);

/* ---- figures --------------------------------------------------------------------------------- */

/* One figure of one piece: the mean of its current readings, u of that mean. A piece is a unit, or
 * what the body calls `piece`. */
typedef struct tw_log_piece {
  char piece[TW_LOG_WORD];
  double value, u;
  size_t readings;
  bool has_foreseen;
  double foreseen, u_foreseen; /* as they stood with the latest reading */
} tw_log_piece;
/* in the order of first reading; filter->measure is needed */
tw_status tw_logbook_pieces(tw_logbook *log, const tw_log_filter *filter, tw_log_piece **rows,
                            size_t *count, tw_fault *fault);

/* What a process made of one kind of dimension: made minus drawn of the whole size (a radius counts
 * twice), one figure a piece and dimension. */
typedef struct tw_log_made {
  char process[TW_LOG_WORD];
  tw_way way;
  size_t n;
  double *offset;
  double u; /* root mean square of the gauge's */
} tw_log_made;
tw_status tw_logbook_made(tw_logbook *log, tw_log_made **rows, size_t *count, tw_fault *fault);
void tw_logbook_made_free(tw_log_made *rows, size_t count);

/* ---- into a design --------------------------------------------------------------------------- */

/* A process of the shop file with what the log says about it. */
typedef struct tw_log_use {
  char process[TW_LOG_WORD];
  tw_way way;
  double offset, tolerance; /* as the library or the shop file has it */
  tw_log_learned own;
  double half; /* of the next piece, the gauge taken out: the tolerance from now on */
  bool gauge_floored;
} tw_log_use;
/* For each process and kind of dimension that the design's shop file states with a tolerance and of
 * which the log has pieces. */
tw_status tw_logbook_use(tw_logbook *log, const tw_design *design, tw_log_use **rows, size_t *count,
                         tw_fault *fault);
/* put those figures into the design's processes */
tw_status tw_log_use_apply(tw_design *design, const tw_log_use *rows, size_t count,
                           tw_fault *fault);
const char *tw_way_words(tw_way way); /* "across, outside" ... */

#endif
