/* messages.c: the list of messages, their printed form, and the nearest known name. */
#include "tripwright/base.h"
#include "tripwright/text.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

struct tw_messages {
  size_t kept, errors;
  bool lost;
  tw_message list[2 * TW_MESSAGE_LIMIT]; /* errors fill at most the first half of the room */
  size_t kept_errors;
};

tw_messages *tw_messages_new(void)
{
  return tw_alloc(1, sizeof(tw_messages));
}

void tw_messages_free(tw_messages *messages)
{
  if (!messages) {
    return;
  }
  for (size_t i = 0; i < messages->kept; i++) {
    tw_message *m = &messages->list[i];
    tw_free(m->file);
    tw_free(m->field);
    tw_free(m->text);
    tw_free(m->hint);
    tw_free(m->excerpt);
  }
  tw_free(messages);
}

/* room is shared: at most TW_MESSAGE_LIMIT errors and as many warnings and notes */
static bool has_room(const tw_messages *messages, tw_severity severity)
{
  const size_t others = messages->kept - messages->kept_errors;
  return severity == TW_ERROR ? messages->kept_errors < TW_MESSAGE_LIMIT
                              : others < TW_MESSAGE_LIMIT;
}

static char *copy_or_lose(tw_messages *messages, const char *text)
{
  char *copy = tw_copy_text(text);
  if (text && !copy) {
    messages->lost = true;
  }
  return copy;
}

void tw_messages_add(tw_messages *messages, tw_severity severity, tw_place place, const char *field,
                     const char *excerpt, const char *hint, const char *format, ...)
{
  if (!messages) {
    return;
  }
  messages->errors += severity == TW_ERROR;
  if (!has_room(messages, severity)) {
    return;
  }
  char text[512];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  tw_message *m = &messages->list[messages->kept++];
  messages->kept_errors += severity == TW_ERROR;
  m->severity = severity;
  m->line = place.line;
  m->column = place.column;
  m->file = copy_or_lose(messages, place.file);
  m->field = copy_or_lose(messages, field && field[0] ? field : NULL);
  m->text = copy_or_lose(messages, text);
  m->hint = copy_or_lose(messages, hint && hint[0] ? hint : NULL);
  m->excerpt = copy_or_lose(messages, excerpt);
}

void tw_messages_add_fault(tw_messages *messages, const tw_fault *fault, tw_place place,
                           const char *excerpt)
{
  tw_messages_add(messages, TW_ERROR, place, fault->field, excerpt, fault->hint, "%s", fault->text);
}

size_t tw_messages_count(const tw_messages *messages)
{
  return messages ? messages->kept : 0;
}

size_t tw_messages_errors(const tw_messages *messages)
{
  return messages ? messages->errors : 0;
}

bool tw_messages_lost(const tw_messages *messages)
{
  return messages && messages->lost;
}

const tw_message *tw_messages_at(const tw_messages *messages, size_t index)
{
  return messages && index < messages->kept ? &messages->list[index] : NULL;
}

int tw_message_print(const tw_message *message, char *out, size_t size)
{
  static const char *const word[] = {"error", "warning", "note"};
  tw_text text = tw_text_in(out, size);
  if (message->file) {
    tw_text_add(&text, "%s:", message->file);
    if (message->line > 0) {
      tw_text_add(&text, "%d:", message->line);
      if (message->column > 0) {
        tw_text_add(&text, "%d:", message->column);
      }
    }
    tw_text_add(&text, " ");
  }
  tw_text_add(&text, "%s: ", word[message->severity]);
  if (message->field) {
    tw_text_add(&text, "%s: ", message->field);
  }
  tw_text_add(&text, "%s\n", message->text ? message->text : "(out of memory)");
  if (message->excerpt) {
    tw_text_add(&text, "  %s\n", message->excerpt);
    if (message->column > 0 && (size_t)message->column <= strlen(message->excerpt) + 1) {
      tw_text_add(&text, "  ");
      for (int i = 1; i < message->column; i++) {
        tw_text_add(&text, "%c", message->excerpt[i - 1] == '\t' ? '\t' : ' ');
      }
      tw_text_add(&text, "^\n");
    }
  }
  if (message->hint) {
    tw_text_add(&text, "  hint: %s\n", message->hint);
  }
  return (int)text.length;
}

/* Levenshtein distance, cut off for long words: names here are short */
#define TW_NAME_LENGTH 64
static size_t distance(const char *a, const char *b)
{
  const size_t n = strlen(a), m = strlen(b);
  if (n >= TW_NAME_LENGTH || m >= TW_NAME_LENGTH) {
    return TW_NAME_LENGTH;
  }
  size_t row[TW_NAME_LENGTH + 1];
  for (size_t j = 0; j <= m; j++) {
    row[j] = j;
  }
  for (size_t i = 1; i <= n; i++) {
    size_t diagonal = row[0];
    row[0] = i;
    for (size_t j = 1; j <= m; j++) {
      const bool same = tolower((unsigned char)a[i - 1]) == tolower((unsigned char)b[j - 1]);
      size_t best = diagonal + !same;
      best = row[j] + 1 < best ? row[j] + 1 : best;
      best = row[j - 1] + 1 < best ? row[j - 1] + 1 : best;
      diagonal = row[j];
      row[j] = best;
    }
  }
  return row[m];
}

const char *tw_nearest_name(const char *word, const char *const *names, size_t count)
{
  const char *nearest = NULL;
  size_t best = strlen(word) / 3 + 2; /* farther than this is another word */
  for (size_t i = 0; i < count; i++) {
    const size_t d = distance(word, names[i]);
    if (d < best) {
      best = d;
      nearest = names[i];
    }
  }
  return nearest;
}
