/* touch_crash.h: the crash of a design, told in text, as JSON or as the curve for a table. */
#ifndef TW_CLI_TOUCH_CRASH_H
#define TW_CLI_TOUCH_CRASH_H

#include "verb.h"

/* `touch FILE --crash` */
tw_exit tw_cli_crash(tw_cli *cli, const tw_design *design);

#endif
