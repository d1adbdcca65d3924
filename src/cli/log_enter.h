/* log_enter.h: `--log FILE` of the verbs that measure: their results become entries. */
#ifndef TW_CLI_LOG_ENTER_H
#define TW_CLI_LOG_ENTER_H

#include "verb.h"

#include "tripwright/qualify_record.h"

#define TW_LOG_ENTER_OPTIONS                                                                       \
  {"log", "FILE", "also enter the result into this unit log", false},                              \
      {"unit", "NAME", "the unit that was measured, for --log", false},                            \
  {                                                                                                \
    "at", "DATE", "when it was, UTC, for --log (default: now)", false                              \
  }

/* Readings on their way into the log. */
typedef struct tw_log_entering tw_log_entering;

/* Are the options right: --log with --unit and back? Reported if not. To be asked before work
 * begins. */
bool tw_cli_log_options(const tw_cli *cli);
/* NULL without --log, or without memory (then lost in tw_cli_log_enter) */
tw_log_entering *tw_cli_log_begin(const tw_cli *cli);
/* one figure, SI; the answer is its body, to add to (borrowed); NULL when `e` is NULL */
json_t *tw_cli_log_figure(tw_log_entering *e, const char *measure, double value, const char *unit,
                          double u);
/* any other kind of entry; `body` is taken over */
void tw_cli_log_other(tw_log_entering *e, const char *kind, json_t *body);
/* The figures of a record that have an uncertainty known by law or interval, as "PREFIX NAME", with
 * what was foreseen; and its decision, if it has one, as a test. */
void tw_cli_log_record(tw_log_entering *e, const char *prefix, const tw_record *record);
/* Keep `document` ("-" or NULL: none), name it in each body, append everything at once, say so on
 * cli->err, free `e`. What cannot be written is reported; the result is printed before. */
tw_exit tw_cli_log_enter(tw_cli *cli, tw_log_entering *e, const char *document);
void tw_cli_log_drop(tw_log_entering *e);

#endif
