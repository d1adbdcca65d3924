/* text.c: growing text, and whole small files. */
#include "text.h"
#include "tripwright/files.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static bool make_room(tw_text *t, size_t more)
{
  if (t->failed || t->length + more + 1 <= t->room) {
    return !t->failed;
  }
  size_t room = t->room ? t->room : 256;
  while (room < t->length + more + 1) {
    room *= 2;
  }
  char *larger = tw_resize(t->at, room, 1);
  if (!larger) {
    t->failed = true;
    return false;
  }
  t->at = larger;
  t->room = room;
  return true;
}

void tw_text_add(tw_text *t, const char *format, ...)
{
  va_list list, again;
  va_start(list, format);
  va_copy(again, list);
  const int length = vsnprintf(NULL, 0, format, list);
  va_end(list);
  if (length < 0) {
    t->failed = true;
  } else if (make_room(t, (size_t)length)) {
    vsnprintf(t->at + t->length, (size_t)length + 1, format, again);
    t->length += (size_t)length;
  }
  va_end(again);
}

char *tw_text_take(tw_text *t)
{
  char *at = t->at;
  if (t->failed) {
    tw_free(at);
    at = NULL;
  } else if (!at) {
    at = tw_copy_text("");
  }
  *t = (tw_text){0};
  return at;
}

tw_status tw_text_of_file(const char *path, size_t most, tw_messages *messages, char **out,
                          size_t *length)
{
  tw_fault fault = {0};
  *out = NULL;
  const tw_status status = tw_file_read(path, most, &fault, out, length);
  if (status == TW_NO_FILE && fault.hint[0] == '\0') {
    snprintf(fault.hint, sizeof fault.hint, "is the name right, and may you read it?");
  }
  if (status != TW_OK) { /* the text names the file */
    tw_messages_add_fault(messages, &fault, (tw_place){NULL, 0, 0}, NULL);
  }
  return status;
}
