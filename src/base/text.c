/* text.c: growing text, and text in a room of fixed size. */
#include "tripwright/text.h"

#include <stdio.h>
#include <string.h>

/* characters that a growing text first has room for; then it doubles */
#define FIRST_ROOM 256

tw_text tw_text_in(char *room, size_t size)
{
  if (size > 0) {
    room[0] = '\0';
  }
  return (tw_text){.at = room, .room = size, .fixed = true};
}

static bool make_room(tw_text *t, size_t more)
{
  if (t->failed || t->length + more + 1 <= t->room) {
    return !t->failed;
  }
  size_t room = t->room ? t->room : FIRST_ROOM;
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

void tw_text_add_list(tw_text *t, const char *format, va_list list)
{
  va_list again;
  va_copy(again, list);
  const int length = vsnprintf(NULL, 0, format, list);
  const bool left = t->fixed ? t->length < t->room : length >= 0 && make_room(t, (size_t)length);
  if (length < 0) {
    t->failed = true;
  } else if (left) {
    vsnprintf(t->at + t->length, t->room - t->length, format, again);
  }
  if (length >= 0 && (left || t->fixed)) {
    t->length += (size_t)length;
  }
  va_end(again);
}

void tw_text_add(tw_text *t, const char *format, ...)
{
  va_list list;
  va_start(list, format);
  tw_text_add_list(t, format, list);
  va_end(list);
}

void tw_text_put(tw_text *t, const char *word)
{
  const size_t length = strlen(word);
  if (t->fixed) {
    tw_text_add(t, "%s", word);
  } else if (make_room(t, length)) {
    memcpy(t->at + t->length, word, length + 1);
    t->length += length;
  }
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

void tw_text_free(tw_text *t)
{
  if (!t->fixed) {
    tw_free(t->at);
  }
  *t = (tw_text){0};
}
