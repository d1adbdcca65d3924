/* text.h: a text put together piece by piece: one that grows, or one in a room of fixed size.
 *
 * A growing text starts as {0}; after a failed allocation it says so in `failed` and every later
 * call does nothing: ask once, at the end, with tw_text_take. A text in a fixed room
 * (tw_text_in) is always zero-ended; what does not fit is cut, and `length` counts on as snprintf's
 * does. One thread a text.
 */
#ifndef TRIPWRIGHT_TEXT_H
#define TRIPWRIGHT_TEXT_H

#include "tripwright/base.h"

#include <stdarg.h>

typedef struct tw_text {
  char *at; /* NULL: nothing yet */
  size_t length, room;
  bool fixed, failed;
} tw_text;

/* an empty text in `room`; size may be 0 */
tw_text tw_text_in(char *room, size_t size);
void tw_text_add(tw_text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));
void tw_text_add_list(tw_text *text, const char *format, va_list list)
    __attribute__((format(printf, 2, 0)));
/* the text as it is, without a format */
void tw_text_put(tw_text *text, const char *word);
/* hand a growing text over (owned by the caller, tw_free; NULL if an allocation failed), start anew
 */
char *tw_text_take(tw_text *text);
void tw_text_free(tw_text *text);

#endif
