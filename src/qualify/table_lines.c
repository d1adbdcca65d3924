/* table_lines.c: a stream cut into lines, a line cut into fields. */
#include "table_inner.h"

#include <string.h>

#define TW_BUFFER ((size_t)1 << 16)

bool tw_lines_start(tw_lines *lines, tw_source source)
{
  *lines = (tw_lines){.source = source, .buffer = tw_alloc(TW_BUFFER, 1), .size = TW_BUFFER};
  return lines->buffer != NULL;
}

void tw_lines_end(tw_lines *lines)
{
  tw_free(lines->buffer);
  lines->buffer = NULL;
}

/* move what is left to the front, make room, read on; false when nothing came */
static bool fill(tw_lines *l)
{
  if (l->drained) {
    return false;
  }
  if (l->begin > 0) {
    memmove(l->buffer, l->buffer + l->begin, l->end - l->begin);
    l->end -= l->begin;
    l->begin = 0;
  }
  if (l->end == l->size) {
    if (l->size >= TW_TABLE_LINE) {
      l->too_long = true;
      return false;
    }
    char *larger = tw_resize(l->buffer, l->size * 2, 1);
    if (!larger) {
      l->no_memory = true;
      return false;
    }
    l->buffer = larger;
    l->size *= 2;
  }
  const size_t got =
      l->source.read(l->source.self, l->buffer + l->end, l->size - l->end, &l->failed);
  l->end += got;
  l->bytes += got;
  l->drained = got == 0;
  return got > 0;
}

bool tw_lines_next(tw_lines *l, tw_slice *line)
{
  size_t looked = 0;
  const char *end = NULL;
  do {
    const char *from = l->buffer + l->begin + looked;
    end = memchr(from, '\n', l->end - l->begin - looked);
    looked = l->end - l->begin;
  } while (!end && fill(l));
  if (l->failed || l->too_long || l->no_memory) {
    l->number++;
    return false;
  }
  if (!end && l->begin == l->end) {
    return false;
  }
  l->open_ended = !end;
  line->at = l->buffer + l->begin;
  line->length = end ? (size_t)(end - line->at) : l->end - l->begin;
  l->begin += line->length + (end != NULL);
  if (line->length > 0 && line->at[line->length - 1] == '\r') {
    line->length--;
  }
  if (++l->number == 1 && line->length >= 3 && memcmp(line->at, "\xEF\xBB\xBF", 3) == 0) {
    line->at += 3; /* byte order mark */
    line->length -= 3;
  }
  return true;
}

static bool is_blank(char c)
{
  return c == ' ' || c == '\t';
}

/* blanks off both ends, then one pair of quotes */
static tw_slice trimmed(tw_slice s)
{
  while (s.length > 0 && is_blank(s.at[0])) {
    s.at++;
    s.length--;
  }
  while (s.length > 0 && is_blank(s.at[s.length - 1])) {
    s.length--;
  }
  if (s.length >= 2 && s.at[0] == '"' && s.at[s.length - 1] == '"') {
    s.at++;
    s.length -= 2;
  }
  return s;
}

/* end of the field that starts at `at`: the separator or the end of the line, quotes respected */
static const char *field_end(const char *at, const char *end, char separator, bool *open_quote)
{
  const char *p = at;
  while (p < end && is_blank(*p) && *p != separator) {
    p++;
  }
  if (p < end && *p == '"') {
    for (p++; p < end && *p != '"'; p++) {
    }
    *open_quote = p == end;
  }
  if (separator == ' ') {
    while (p < end && !is_blank(*p)) {
      p++;
    }
    return p;
  }
  const char *found = p < end ? memchr(p, separator, (size_t)(end - p)) : NULL;
  return found ? found : end;
}

size_t tw_fields_cut(tw_slice line, char separator, tw_slice *field, bool *open_quote)
{
  const char *at = line.at, *end = line.at + line.length;
  size_t count = 0;
  *open_quote = false;
  for (;;) {
    if (separator == ' ') {
      while (at < end && is_blank(*at)) {
        at++;
      }
      if (at == end) {
        return count;
      }
    }
    if (count == TW_TABLE_FIELDS) {
      return count + 1;
    }
    const char *stop = field_end(at, end, separator, open_quote);
    field[count++] = trimmed((tw_slice){at, (size_t)(stop - at)});
    if (stop == end) {
      return count;
    }
    at = stop + 1;
  }
}

bool tw_slice_is(tw_slice s, const char *text)
{
  return s.length == strlen(text) && memcmp(s.at, text, s.length) == 0;
}
