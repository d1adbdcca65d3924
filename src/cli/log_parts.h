/* log_parts.h: the words of `log`, and the log as other verbs write into it. */
#ifndef TW_CLI_LOG_PARTS_H
#define TW_CLI_LOG_PARTS_H

#include "verb.h"

#include "tripwright/logbook.h"
#include "tripwright/logbook_ask.h"

/* ---- the log of a command -------------------------------------------------------------------- */

/* --log FILE, else TRIPWRIGHT_LOG, else log.db in this folder */
const char *tw_cli_log_file(const tw_cli *cli);
/* open it; a failure is reported */
tw_exit tw_cli_log_open(tw_cli *cli, bool write, tw_logbook **out);
/* A quantity as it was written, "0.105 N" or "12.3 nF ± 0.1 nF", into a body: `key` (SI),
 * unit_of_KEY, and for "value" raw and u. A wrong one is reported. */
tw_exit tw_cli_log_quantity(tw_cli *cli, const char *option, const char *text, const char *key,
                            json_t *body);

/* ---- words ----------------------------------------------------------------------------------- */

typedef struct tw_log_word {
  const char *name, *operands;
  int least, most;     /* operands behind the word; most < 0: any number */
  const char *options; /* those that belong to it, with blanks around each */
  const char *about;
  tw_exit (*run)(tw_cli *cli);
} tw_log_word;

/* operand k behind the word, NULL past the last */
const char *tw_log_operand(const tw_cli *cli, int k);

tw_exit tw_log_add(tw_cli *cli);
tw_exit tw_log_correct(tw_cli *cli);
tw_exit tw_log_withdraw(tw_cli *cli);
tw_exit tw_log_history(tw_cli *cli);
tw_exit tw_log_check_file(tw_cli *cli);
tw_exit tw_log_export(tw_cli *cli);
tw_exit tw_log_import(tw_cli *cli);
tw_exit tw_log_merge(tw_cli *cli);
tw_exit tw_log_share(tw_cli *cli);
tw_exit tw_log_backup(tw_cli *cli);

tw_exit tw_log_lot(tw_cli *cli);
tw_exit tw_log_fault(tw_cli *cli);
tw_exit tw_log_instrument(tw_cli *cli);
tw_exit tw_log_measured(tw_cli *cli);
tw_exit tw_log_yields(tw_cli *cli);
tw_exit tw_log_hours_word(tw_cli *cli);
tw_exit tw_log_open_word(tw_cli *cli);
tw_exit tw_log_returns(tw_cli *cli);
tw_exit tw_log_unread(tw_cli *cli);
tw_exit tw_log_made_word(tw_cli *cli);
tw_exit tw_log_chart(tw_cli *cli);
tw_exit tw_log_agree(tw_cli *cli);
tw_exit tw_log_together(tw_cli *cli);

/* one figure over all pieces, as operand 0 and --revision, --lot ask; row is freed by the caller */
typedef struct tw_log_pieces {
  const char *measure;
  char unit[16];
  tw_log_piece *row;
  size_t count;
} tw_log_pieces;
tw_exit tw_log_pieces_of(tw_cli *cli, tw_log_pieces *out);

/* what a log says about the processes of a design; rows are freed by the caller */
tw_exit tw_log_uses_of(tw_cli *cli, const char *file, const tw_design *design, tw_log_use **rows,
                       size_t *count);
void tw_log_say_use(FILE *out, const tw_log_use *use);
json_t *tw_json_log_use(const tw_log_use *use);

/* ---- printing -------------------------------------------------------------------------------- */

/* what an entry says, in one line: "trip_force_side 0.105 N, with spring scale" */
void tw_log_words(const tw_log_entry *entry, char *out, size_t size);
/* entries as they come: text lines to cli->out, or objects into `rows` */
typedef struct tw_log_list {
  tw_cli *cli;
  json_t *rows; /* with --json */
  bool ids, units;
  size_t count;
} tw_log_list;
bool tw_log_list_entry(void *list, const tw_log_entry *entry);
/* the head of the document of a word; NULL without memory */
json_t *tw_log_document(const tw_cli *cli, const char *word);

#endif
