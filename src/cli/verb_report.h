/* verb_report.h: the report's text, for the verbs that need it. */
#ifndef TW_CLI_VERB_REPORT_H
#define TW_CLI_VERB_REPORT_H

#include "verb.h"

#include "tripwright/drawing.h"

/* The report of the design of the first operand with the studies asked for, {NAME: {options}} or
 * NULL; *html is the caller's. A failure is reported. */
tw_exit tw_cli_report(tw_cli *cli, const tw_design *design, const tw_drawing_options *drawing,
                      const char *date, const json_t *studies, char **html);

/* --date of a verb that has it; false (reported) when it is not a day; absent leaves *date */
bool tw_cli_date(const tw_cli *cli, const char **date);

#endif
