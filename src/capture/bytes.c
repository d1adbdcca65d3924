/* bytes.c: bytes of a file or of memory; refusals with their place. */
#include "stream.h"

#include <limits.h>
#include <stdarg.h>
#include <string.h>

size_t tw_bytes_read(tw_bytes *bytes, void *out, size_t most)
{
  if (bytes->file) {
    return fread(out, 1, most, bytes->file);
  }
  const size_t left = (size_t)bytes->size - bytes->at;
  const size_t n = most < left ? most : left;
  if (n > 0) {
    memcpy(out, bytes->memory + bytes->at, n);
  }
  bytes->at += n;
  return n;
}

bool tw_bytes_seek(tw_bytes *bytes, uint64_t at)
{
  if (at > bytes->size) {
    return false;
  }
  if (bytes->file) {
    return at <= LONG_MAX && fseek(bytes->file, (long)at, SEEK_SET) == 0;
  }
  bytes->at = (size_t)at;
  return true;
}

tw_status tw_refuse(tw_messages *messages, const char *file, uint64_t line, const char *hint,
                    const char *format, ...)
{
  char text[400];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  const tw_place place = {file, line < INT_MAX ? (int)line : INT_MAX, 0};
  tw_messages_add(messages, TW_ERROR, place, NULL, NULL, hint, "%s", text);
  return TW_BAD_INPUT;
}
