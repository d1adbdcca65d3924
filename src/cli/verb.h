/* verb.h: the frame in which every verb of the command line stands.
 *
 * A verb is a row: name, operands, one line of help, its options, and a function that gets a
 * tw_cli and returns an exit code. Results go to cli->out, messages to cli->err. The same rows
 * make the help, the man page and the shell completion. A verb may use include/tripwright/ and
 * nothing else of the rooms below.
 */
#ifndef TW_CLI_VERB_H
#define TW_CLI_VERB_H

#include "tripwright/base.h"
#include "tripwright/design.h"
#include "tripwright/documents.h"
#include "tripwright/page.h"
#include "tripwright/parts.h"

#include <jansson.h>
#include <stdio.h>

typedef enum tw_exit {
  TW_EXIT_DONE = 0,      /* done, every requirement met */
  TW_EXIT_NOT_MET = 1,   /* done, but a requirement is not met */
  TW_EXIT_USAGE = 2,     /* the command line is wrong */
  TW_EXIT_INPUT = 3,     /* a file or a value is wrong */
  TW_EXIT_NO_ANSWER = 4, /* no numerical answer, with the reason */
  TW_EXIT_FILE = 5,      /* file or network */
  TW_EXIT_INTERNAL = 70, /* a fault of the program */
  TW_EXIT_INTERRUPTED = 130
} tw_exit;

/* the exit code that belongs to a status */
tw_exit tw_exit_of(tw_status status);
/* 0 when every requirement was judged and is met; no numerical answer for something that was asked
 * goes before a missed requirement */
tw_exit tw_cli_verdict(const tw_assessment *assessment);
/* What a document's `state` means, where it has a `sentence`, with cause, cure and the field to
 * change; else false, and nothing printed. */
bool tw_cli_print_state(FILE *out, const json_t *document, const char *indent);
/* a document's `state`: ok, an answer about the design (1), or no numerical answer (4) */
tw_exit tw_cli_state_exit(const char *state);

/* One option. `argument` NULL: a switch. `repeat`: may be given several times. */
typedef struct tw_option {
  const char *name;     /* without the dashes */
  const char *argument; /* what stands behind it in the help, e.g. "FILE" */
  const char *help;
  bool repeat;
} tw_option;

typedef struct tw_cli tw_cli;

/* which of the common options a verb takes */
enum {
  TW_TAKES_JSON = 1,
  TW_TAKES_CSV = 2,
  TW_TAKES_DESIGN = 4, /* --set, --shop, --parts, --units */
  TW_TAKES_A_FILE = 8, /* reads its operand more than once: no standard input */
  TW_GIVES_A_FILE = 16 /* what it prints is a file of its own, not text to read in a terminal */
};

typedef struct tw_verb {
  const char *name;
  const char *operands;     /* as shown in the help: "FILE", "A B [C...]", "" */
  int least, most;          /* how many operands; most < 0: any number */
  const char *summary;      /* one line */
  const char *details;      /* a paragraph or two for --help and the man page; may be NULL */
  const tw_option *options; /* ends with a row whose name is NULL; may be NULL */
  unsigned takes;
  tw_exit (*run)(tw_cli *cli);
} tw_verb;

typedef struct tw_said {
  char print[64][TW_FINGERPRINT];
  size_t count;
} tw_said;

/* One command as it was given. Texts live as long as argv. */
struct tw_cli {
  const tw_verb *verb;
  FILE *out, *err;
  int count; /* operands */
  const char *const *operand;
  int given_count;
  struct tw_given {
    const tw_option *option;
    const char *text;
  } * given;            /* options in the order of the command line */
  tw_units *units;      /* loaded when first asked for: tw_cli_units */
  tw_library *library;  /* tw_cli_library */
  const tw_set *also;   /* one more --set for the design read next; NULL: none */
  tw_design *last;      /* a copy of the design read last: where its fields stand */
  struct tw_said *said; /* messages are said once, whichever design of several they come from */
  struct tw_told {
    bool anything, memory; /* an error was printed; memory ran out */
  } * told;
};

/* ---- options ------------------------------------------------------------------------------- */

bool tw_cli_has(const tw_cli *cli, const char *option);
/* the (last) text of an option, or `otherwise`; a switch has none (a verb may have a switch of the
 * name that is an option of another, as vary --log and spread --log) */
const char *tw_cli_text(const tw_cli *cli, const char *option, const char *otherwise);
/* the k-th text of a repeated option, NULL past the last */
const char *tw_cli_text_at(const tw_cli *cli, const char *option, int k);
/* a whole number within least..most; a wrong one is reported and false returned */
bool tw_cli_count(const tw_cli *cli, const char *option, long least, long most, long *number);
/* a quantity such as "200 mm/min" in the dimension of `unit`, in SI; a wrong one is reported and
 * false returned; absent leaves *number as it is */
bool tw_cli_quantity(tw_cli *cli, const char *option, const char *unit, double *number);
/* report a wrong use of the command line, with where to look */
tw_exit tw_cli_usage(const tw_cli *cli, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
/* report a fault ("FILE:line:column: error: field: text", hint; the place is that of the field in
 * the design read last) and return its exit code */
tw_exit tw_cli_fault(const tw_cli *cli, const tw_fault *fault);

/* ---- design -------------------------------------------------------------------------------- */

/* the unit system and the library of parts, loaded once; a failure is reported and NULL given */
tw_units *tw_cli_units(tw_cli *cli);
tw_library *tw_cli_library(tw_cli *cli);
/* metric or inch, after --units; false (reported) for another word */
bool tw_cli_system(const tw_cli *cli, tw_system *system);
/* how a design is read after --set, --shop and --parts, for `needs` of TW_NEED_...; `sets` has room
 * for all --set options; a wrong --set is reported */
tw_exit tw_cli_read_options(tw_cli *cli, unsigned needs, tw_set *sets, tw_read_options *options);
/* sets that tw_cli_read_options filled */
void tw_cli_free_sets(tw_set *sets, size_t count);
/* read a design with those options; prints its messages; TW_EXIT_DONE and *out on success, owned
 * by the caller */
tw_exit tw_cli_design(tw_cli *cli, const char *file, unsigned needs, tw_design **out);

/* Read a design with those options and assess it; TW_EXIT_DONE, or what went wrong (reported). The
 * caller owns both in every case: NULL, tw_design_free, tw_free. */
tw_exit tw_cli_assessed(tw_cli *cli, const char *file, const tw_assess_options *options,
                        tw_design **design, tw_assessment **out);

/* ---- output -------------------------------------------------------------------------------- */

/* print the document and free it */
tw_exit tw_cli_print_json(const tw_cli *cli, json_t *document);
/* a text of a document, "" when it has none; a number, 0 when it has none */
const char *tw_text_of(const json_t *object, const char *key);
double tw_number_of(const json_t *object, const char *key);
/* print all messages to cli->err */
void tw_cli_messages(const tw_cli *cli, const tw_messages *messages);

/* value with three significant figures and the handiest prefix: "0.123 N", "70.3 um", "12.9 nC/N";
 * unit is SI; returns out */
char *tw_show(double value, const char *unit, char *out, size_t size);
/* the same with as many figures as asked */
char *tw_show_digits(double value, const char *unit, int digits, char *out, size_t size);

/* `value`, or a plain 0 where `decimals` places show nothing of it: no "-0.0" */
double tw_plain_zero(double value, int decimals);

/* a bar of `width` cells filled from 0 to `fraction` (clamped), for terminals; returns out */
char *tw_bar(double fraction, int width, char *out, size_t size);

/* ---- progress ------------------------------------------------------------------------------ */

/* prints to the terminal after a second of work; false after Ctrl-C */
tw_progress tw_cli_progress(tw_cli *cli);
bool tw_cli_interrupted(void);

/* ---- the table ----------------------------------------------------------------------------- */

extern const tw_verb *const tw_verbs[]; /* ends with NULL; the order of the help */
extern const tw_option tw_common_json[], tw_common_csv[], tw_common_design[];
void tw_help(const tw_verb *verb, FILE *out); /* NULL: the whole command */
void tw_man_page(FILE *out);
void tw_completion(FILE *out);
int tw_cli_main(int argc, char **argv, FILE *out, FILE *err);

#endif
