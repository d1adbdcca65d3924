/* touch_feeds.h: the feeds of one direction, told in text. */
#ifndef TW_CLI_TOUCH_FEEDS_H
#define TW_CLI_TOUCH_FEEDS_H

#include "verb.h"

/* `touch FILE --feeds` */
void tw_cli_print_feeds(FILE *out, const json_t *document);
/* whether the document says that the direction does not trip; then that is printed */
bool tw_cli_print_never(FILE *out, const json_t *document);

#endif
