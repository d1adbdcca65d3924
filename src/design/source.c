/* source.c: the text of a file: is it text at all, and where do its lines start. */
#include "source.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

/* length of the UTF-8 character at p, 0 if it is none */
static size_t character(const unsigned char *p, size_t left)
{
  if (p[0] < 0x80) {
    return 1;
  }
  const size_t n = p[0] >= 0xf0 ? 4 : p[0] >= 0xe0 ? 3 : 2;
  if (p[0] < 0xc2 || p[0] > 0xf4 || n > left) {
    return 0;
  }
  for (size_t i = 1; i < n; i++) {
    if ((p[i] & 0xc0) != 0x80) {
      return 0;
    }
  }
  /* overlong forms, surrogates, past the last code point */
  const bool wrong = (p[0] == 0xe0 && p[1] < 0xa0) || (p[0] == 0xed && p[1] > 0x9f) ||
                     (p[0] == 0xf0 && p[1] < 0x90) || (p[0] == 0xf4 && p[1] > 0x8f);
  return wrong ? 0 : n;
}

/* bytes of the line break at p, 0 if there is none; the breaks that YAML 1.1 parsers count */
static size_t line_break(const char *p, const char *end)
{
  if (*p == '\r') {
    return p + 1 < end && p[1] == '\n' ? 2 : 1;
  }
  if (*p == '\n') {
    return 1;
  }
  if ((unsigned char)*p < 0x80) {
    return 0; /* the rest are no ASCII */
  }
  if (end - p >= 2 && memcmp(p, "\xc2\x85", 2) == 0) {
    return 2;
  }
  const bool wide =
      end - p >= 3 && (memcmp(p, "\xe2\x80\xa8", 3) == 0 || memcmp(p, "\xe2\x80\xa9", 3) == 0);
  return wide ? 3 : 0;
}

/* refuse what is no text; place of the first wrong byte */
static tw_status check_text(const char *file, const char *text, size_t length,
                            tw_messages *messages)
{
  int line = 1, column = 1;
  for (size_t i = 0; i < length;) {
    const unsigned char c = (unsigned char)text[i];
    const size_t n = character((const unsigned char *)text + i, length - i);
    const bool control = (c < 0x20 && c != '\t' && c != '\n' && c != '\r') || c == 0x7f;
    if (!n || control) {
      tw_messages_add(messages, TW_ERROR, (tw_place){file, line, column}, NULL, NULL,
                      "save it as plain text in UTF-8",
                      n ? "control character 0x%02x: this is no text file"
                        : "byte 0x%02x: this is no UTF-8 text",
                      c);
      return TW_BAD_INPUT;
    }
    const size_t brk = line_break(text + i, text + length);
    if (brk) {
      line++;
      column = 1;
    } else {
      column++;
    }
    i += brk ? brk : n;
  }
  return TW_OK;
}

tw_status tw_source_take(tw_arena *arena, const char *file, const char *text, size_t length,
                         tw_messages *messages, tw_source *out)
{
  *out = (tw_source){0};
  if (length > TW_FILE_LIMIT) {
    tw_messages_add(messages, TW_ERROR, (tw_place){file, 0, 0}, NULL, NULL, NULL,
                    "the file has more than %zu bytes", TW_FILE_LIMIT);
    return TW_BAD_INPUT;
  }
  const tw_status status = check_text(file, text, length, messages);
  if (status != TW_OK) {
    return status;
  }
  const char *end = text + length;
  size_t lines = 1;
  for (const char *p = text; p < end;) {
    const size_t brk = line_break(p, end);
    lines += brk > 0;
    p += brk ? brk : 1;
  }
  size_t *line = tw_arena_take(arena, lines * sizeof *line);
  out->text = tw_arena_text(arena, text, length);
  out->file = tw_arena_text(arena, file, strlen(file));
  if (!line || !out->text || !out->file) {
    return TW_NO_MEMORY;
  }
  size_t k = 0;
  /* the first line starts after a byte order mark */
  line[k++] = length >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
  for (const char *p = text; p < end;) {
    const size_t brk = line_break(p, end);
    p += brk ? brk : 1;
    if (brk) {
      line[k++] = (size_t)(p - text);
    }
  }
  out->length = length;
  out->line = line;
  out->lines = lines;
  return TW_OK;
}

const char *tw_source_line(const tw_source *source, int line, char *out, size_t size)
{
  if (!source->text || line < 1 || (size_t)line > source->lines) {
    return NULL;
  }
  const size_t start = source->line[line - 1];
  size_t end = (size_t)line < source->lines ? source->line[line] : source->length;
  while (end > start && (source->text[end - 1] == '\n' || source->text[end - 1] == '\r')) {
    end--;
  }
  if (end - start >= size) {
    return NULL;
  }
  memcpy(out, source->text + start, end - start);
  out[end - start] = '\0';
  return out;
}

size_t tw_source_byte(const tw_source *source, int line, int column, tw_cursor *last)
{
  if (line < 1 || (size_t)line > source->lines) {
    return source->length;
  }
  if (last->line != line || last->column > column) {
    *last = (tw_cursor){.line = line, .column = 1, .byte = source->line[line - 1]};
  }
  while (last->column < column && last->byte < source->length) {
    last->byte +=
        character((const unsigned char *)source->text + last->byte, source->length - last->byte);
    last->column++;
  }
  return last->byte;
}

int tw_characters(const char *text, size_t bytes)
{
  int count = 0;
  for (size_t i = 0; i < bytes && text[i]; i++) {
    count += ((unsigned char)text[i] & 0xc0) != 0x80;
  }
  return count;
}

const tw_node *tw_node_child(const tw_node *map, const char *key)
{
  if (!map || map->kind != TW_NODE_MAP) {
    return NULL;
  }
  for (const tw_node *n = map->first; n; n = n->next) {
    if (strcmp(n->key, key) == 0) {
      return n;
    }
  }
  return NULL;
}

uint64_t tw_text_hash(const char *text, size_t length)
{
  uint64_t hash = 14695981039346656037u; /* FNV-1a, 64 bit */
  for (size_t i = 0; i < length; i++) {
    hash = (hash ^ (unsigned char)text[i]) * 1099511628211u;
  }
  return hash;
}
