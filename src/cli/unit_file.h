/* unit_file.h: the file of one unit: the drawing it is based on, and what was measured on it. */
#ifndef TW_CLI_UNIT_FILE_H
#define TW_CLI_UNIT_FILE_H

#include "tripwright/identify.h"
#include "verb.h"

/* Write `path` for a unit of `design`, read as cli->operand[0]; checked before it is written. A
 * design that is itself based on a file is a unit already: its own text with the new values. */
tw_exit tw_unit_file_write(tw_cli *cli, const tw_design *design, const tw_unit_values *values,
                           const char *path);

#endif
