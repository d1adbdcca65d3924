/* study_in.h: what the verbs of studies share: the design with its requirements as a study, ranges
 * from the command line, figures as a person reads them. */
#ifndef TW_CLI_STUDY_IN_H
#define TW_CLI_STUDY_IN_H

#include "verb.h"

#include "tripwright/logbook_ask.h"
#include "tripwright/study_run.h"

typedef struct tw_cli_study {
  tw_cli *cli;
  tw_design *design;
  tw_limits limits;
  tw_study *study;
  tw_system system;
  tw_progress progress;
  tw_log_use *learned; /* with --log: what the processes have become */
  size_t learned_count;
} tw_cli_study;

#define TW_STUDY_OPTIONS                                                                           \
  {"azimuths", "N", "touches around the circle (8)", false},                                       \
      {"timed", NULL, "touches in time as well (slow)", false},                                    \
      {"map", NULL, "all directions as well (slow)", false},                                       \
      {"all", NULL, "every measure, not only those asked for (slower)", false},                    \
  {                                                                                                \
    "threads", "N", "how many threads (as many as there are processors)", false                    \
  }

/* Opens the study of a design file; TW_EXIT_DONE or what went wrong (reported). Close it in every
 * case. */
tw_exit tw_cli_study_open(tw_cli *cli, const char *file, tw_cli_study *s);
/* The same for a search: touches in time and all directions are added where the design misses a
 * requirement that needs them; what else is left out, the caller judges by the whole check. */
tw_exit tw_cli_study_open_judged(tw_cli *cli, const char *file, tw_cli_study *s);
void tw_cli_study_close(tw_cli_study *s);

/* the field named by the `length` bytes at `path`; TW_FIELD_COUNT after a report */
tw_field tw_cli_field(const tw_cli *cli, const char *option, const char *path, size_t length);
/* "PATH=FROM..TO": the field and both ends in SI */
bool tw_cli_range(tw_cli *cli, const char *option, const char *text, tw_field *field, double *from,
                  double *to);
/* The design of the first operand as it is read with one more --set, quietly: what cannot be built
 * so is left out (tw_lever_options); self: the tw_cli. */
tw_status tw_cli_read_with(void *self, const char *path, const char *word, tw_design **out);
/* the same with several (tw_run_remedy) */
tw_status tw_cli_read_sets(void *self, const tw_set *more, size_t count, tw_design **out);
/* a value of a measure in the unit a person reads; "no trip" and so on from its JSON */
void tw_cli_figure(const tw_cli_study *s, tw_measure_id id, const json_t *value, char *out,
                   size_t size);
/* is a column wanted: named by --measure, or (without any) a requirement's */
bool tw_cli_wanted(const tw_cli_study *s, tw_measure_id id);
/* every --measure names a measure; reported if not */
bool tw_cli_measures_exist(const tw_cli *cli);
/* "Not judged: slowest_feed (add --timed)." where the level leaves requirements out; else nothing.
 * `lead` comes first: "", "A: ". */
void tw_cli_study_left_out(FILE *out, const tw_assessment *assessment, const char *lead);
/* 1 when a requirement of the design as it is is missed */
tw_exit tw_cli_study_verdict(const tw_cli_study *s);

/* fields that vary although the file says nothing of them, with the scatter that is assumed */
void tw_cli_print_assumed(FILE *out, const tw_study *study);

#endif
