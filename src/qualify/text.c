/* text.c: growing text, and whole small files. */
#include "text.h"

#include <errno.h>
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

static void say(tw_messages *messages, const char *path, const char *hint, const char *what)
{
  tw_messages_add(messages, TW_ERROR, (tw_place){path, 0, 0}, NULL, NULL, hint, "%s", what);
}

tw_status tw_text_of_file(const char *path, size_t most, tw_messages *messages, char **out,
                          size_t *length)
{
  *out = NULL;
  *length = 0;
  FILE *file = fopen(path, "rb");
  if (!file) {
    say(messages, path, "is the name right, and may you read it?", strerror(errno));
    return TW_NO_FILE;
  }
  char *text = tw_alloc(most + 1, 1);
  const size_t got = text ? fread(text, 1, most, file) : 0;
  tw_status status = !text ? TW_NO_MEMORY : ferror(file) ? TW_NO_FILE : TW_OK;
  if (status == TW_NO_FILE) {
    say(messages, path, "is it a file?", strerror(errno));
  } else if (status == TW_OK && got == most) {
    say(messages, path, "is this the right file?", "the file is too large");
    status = TW_BAD_INPUT;
  }
  fclose(file);
  if (status != TW_OK) {
    tw_free(text);
    return status;
  }
  text[got] = '\0';
  *out = text;
  *length = got;
  return TW_OK;
}
