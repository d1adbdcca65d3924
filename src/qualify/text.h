/* text.h: a text that grows; after a failed allocation it stays empty and says so. */
#ifndef TW_QUALIFY_TEXT_H
#define TW_QUALIFY_TEXT_H

#include "tripwright/base.h"

typedef struct tw_text {
  char *at;
  size_t length, room;
  bool failed;
} tw_text;

void tw_text_add(tw_text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* hand the text over (NULL if an allocation failed) and start anew */
char *tw_text_take(tw_text *text);
/* a whole file up to `most` bytes, zero-ended; messages say what went wrong */
tw_status tw_text_of_file(const char *path, size_t most, tw_messages *messages, char **out,
                          size_t *length);

#endif
