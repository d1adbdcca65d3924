/* readings_in.h: recordings on the command line: columns named by options, read once. */
#ifndef TW_CLI_READINGS_IN_H
#define TW_CLI_READINGS_IN_H

#include "tripwright/qualify.h"
#include "verb.h"

/* the options that every verb reading a table takes; put them into its list */
#define TW_TABLE_OPTIONS                                                                           \
  {"separator", "SIGN", "comma, semicolon, tab or blank (default: as the heading shows)", false},  \
      {"no-heading", NULL, "the first line is data; columns are called #1, #2, ...", false},       \
  {                                                                                                \
    "lines", "EXPRESSION",                                                                         \
        "take only lines that match this POSIX extended expression; its groups ( ) are #1, #2, "   \
        "...",                                                                                     \
        false                                                                                      \
  }

/* A column wanted by a verb: the option that names it, and what it must be. */
typedef struct tw_wanted {
  const char *option; /* "reading": the text of --reading is the column's name, or NAME:UNIT */
  tw_kind kind;
  bool may_be_empty;
} tw_wanted;

#define TW_WANTED_MOST 12
/* The columns that were asked for: at[k] is the column of wanted row k, -1 if its option was not
 * given. */
typedef struct tw_recording {
  tw_readings *table;
  int at[TW_WANTED_MOST];
  const char *file;
} tw_recording;

/* Read `file` with the columns that the options name. Messages are printed. On TW_EXIT_DONE the
 * caller frees recording->table. */
tw_exit tw_cli_recording(tw_cli *cli, const char *file, const tw_wanted *wanted, size_t count,
                         tw_recording *out);
/* the numbers of a wanted column, NULL if it was not asked for */
const double *tw_recording_number(const tw_recording *recording, size_t wanted);
/* Points of `dimensions` coordinates from the columns listed in --columns, point by point; freed by
 * the caller. */
tw_exit tw_cli_points(tw_cli *cli, const char *file, const char *list, size_t least, size_t most,
                      double **point, size_t *n, size_t *dimensions);

/* a plain number within low..high; wrong ones are reported and false returned; absent: unchanged */
bool tw_cli_number(const tw_cli *cli, const char *option, double low, double high, double *number);
/* write a text to the file of option --out (or to cli->out), atomically; the text is freed */
tw_exit tw_cli_write(const tw_cli *cli, const char *option, char *text);
/* numbers as a JSON array */
json_t *tw_json_numbers(const double *value, size_t n);
/* {"value": [...], "unit": u} */
json_t *tw_json_vector(const double *value, size_t n, const char *unit);
json_t *tw_json_interval(tw_interval interval, const char *unit);
/* the record as a JSON value */
json_t *tw_json_record(const tw_record *record);

#endif
