/* program_words.c: the words of a controller, and the file that names them. */
#include "inner.h"
#include "program_inner.h"
#include "tripwright/text.h"

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TW_WORDS_FILE ((size_t)1 << 16)

void tw_words_start(tw_words *out)
{
  *out = (tw_words){
      .name = "NIST RS274/NGC",
      .units = "G21",
      .setup = "G17 G40 G49 G61 G80 G90 G94",
      .work_offset = "G54",
      .straight = "G1",
      .probe = "G38.2",
      .record = "#{p} = #5061|#{q} = #5062|#{r} = #5063",
      .spindle_stop = "M5",
      .dwell = "G4 P{seconds}",
      .pause = "M0",
      .end = "M30",
      .comment_open = "(",
      .comment_close = ")",
      .first_parameter = 1000,
      .last_parameter = 4999,
  };
}

static const struct {
  const char *key;
  size_t at, room;
} texts[] = {
#define WORD(key)                                                                                  \
  {                                                                                                \
#key, offsetof(tw_words, key), sizeof(((tw_words *)0)->key)                                    \
  }
    WORD(name),          WORD(units),       WORD(setup),     WORD(straight), WORD(probe),
    WORD(guarded),       WORD(record),      WORD(check),     WORD(orient),   WORD(spindle_stop),
    WORD(dwell),         WORD(pause),       WORD(begin),     WORD(end),      WORD(comment_open),
    WORD(comment_close), WORD(work_offset), WORD(own_words),
#undef WORD
};
#define TW_TEXTS (sizeof texts / sizeof texts[0])

struct words_reader {
  const char *name;
  tw_messages *messages;
  tw_words *out;
  int line;
  int set_at[TW_TEXTS]; /* line of each key, 0 if it was left as it was */
};

static int line_of(const void *self, const char *key)
{
  const struct words_reader *r = self;
  for (size_t i = 0; i < TW_TEXTS; i++) {
    if (strcmp(texts[i].key, key) == 0) {
      return r->set_at[i];
    }
  }
  return 0;
}

static void wrong(struct words_reader *r, const char *hint, const char *what, const char *word)
{
  tw_messages_add(r->messages, TW_ERROR, (tw_place){r->name, r->line, 1}, NULL, NULL, hint,
                  "%s '%.60s'", what, word);
}

static bool set_parameter(const char *key, const char *value, tw_words *out, bool *good)
{
  const bool first = strcmp(key, "first_parameter") == 0;
  if (!first && strcmp(key, "last_parameter") != 0) {
    return false;
  }
  char *end;
  const unsigned long number = strtoul(value, &end, 10);
  *good = *value >= '0' && *value <= '9' && *end == '\0' && number > 0 && number < 1000000;
  *(first ? &out->first_parameter : &out->last_parameter) = (unsigned)number;
  return true;
}

static void set(struct words_reader *r, const char *key, const char *value)
{
  bool good = true;
  if (strcmp(key, "inches") == 0) {
    r->out->inches = strcmp(value, "yes") == 0;
    if (!r->out->inches && strcmp(value, "no") != 0) {
      wrong(r, "write yes or no", "inches cannot be", value);
    }
    return;
  }
  if (set_parameter(key, value, r->out, &good)) {
    if (!good) {
      wrong(r, "a whole number above 0", "not a parameter number", value);
    }
    return;
  }
  const char *known[TW_TEXTS];
  for (size_t i = 0; i < TW_TEXTS; i++) {
    known[i] = texts[i].key;
    if (strcmp(texts[i].key, key) == 0) {
      if (r->set_at[i] > 0) {
        wrong(r, "leave one of the two lines", "named twice:", key);
      }
      r->set_at[i] = r->line;
      if (strlen(value) >= texts[i].room) {
        wrong(r, "shorten it", "too long", value);
      } else {
        snprintf((char *)r->out + texts[i].at, texts[i].room, "%s", value);
      }
      return;
    }
  }
  char hint[120];
  const char *near = tw_nearest_name(key, known, TW_TEXTS);
  snprintf(hint, sizeof hint, "did you mean '%s'?", near ? near : "probe");
  wrong(r, hint, "no such word", key);
}

static void strip(char **text)
{
  while (**text == ' ' || **text == '\t') {
    ++*text;
  }
  size_t n = strlen(*text);
  while (n > 0 && strchr(" \t\r", (*text)[n - 1])) {
    (*text)[--n] = '\0';
  }
}

static void take_line(struct words_reader *r, char *line)
{
  strip(&line);
  if (line[0] == '\0' || (line[0] == '#' && (line[1] == ' ' || line[1] == '\0'))) {
    return;
  }
  char *equals = strchr(line, '=');
  if (!equals) {
    wrong(r, "write: probe = G38.2", "this is not 'key = value':", line);
    return;
  }
  *equals = '\0';
  char *value = equals + 1;
  strip(&line);
  strip(&value);
  set(r, line, value);
}

/* the placeholders that a word may hold */
static void check_places(struct words_reader *r, const char *key, const char *word, const char *may)
{
  for (const char *open = strchr(word, '{'); open; open = strchr(open + 1, '{')) {
    const char *close = strchr(open, '}');
    char name[24] = "";
    if (close && close - open - 1 < 20) {
      snprintf(name, sizeof name, " %.*s ", (int)(close - open - 1), open + 1);
    }
    if (!name[0] || !strstr(may, name)) {
      r->line = 0;
      wrong(r, "known: {n} {p} {q} {r} in record and check, {angle} in orient, {seconds} in dwell",
            key, open);
      return;
    }
  }
}

static void check_words(struct words_reader *r)
{
  const tw_words *w = r->out;
  r->line = 0;
  if (!w->units[0] || !w->straight[0] || !w->probe[0] || !w->record[0] || !w->end[0] ||
      !w->comment_open[0] || !w->pause[0] || !w->spindle_stop[0]) {
    wrong(r,
          "units, straight, probe, record, spindle_stop, pause, end and comment_open cannot be "
          "empty",
          "a word is missing in", w->name);
  }
  if (w->last_parameter < w->first_parameter + 2) {
    wrong(r, "three parameters a touch", "last_parameter is below first_parameter in", w->name);
  }
  for (size_t i = 0; i < TW_TEXTS; i++) {
    static const struct {
      const char *key, *may;
    } open[] = {{"record", " n  p  q  r "},
                {"check", " n "},
                {"orient", " angle "},
                {"dwell", " seconds "}};
    const char *may = "";
    for (size_t k = 0; k < sizeof open / sizeof open[0]; k++) {
      may = strcmp(open[k].key, texts[i].key) == 0 ? open[k].may : may;
    }
    check_places(r, texts[i].key, (const char *)w + texts[i].at, may);
  }
  if (w->orient[0] && !strstr(w->orient, "{angle}")) {
    wrong(r, "for example M19 R{angle}", "orient does not say where {angle} goes:", w->orient);
  }
}

tw_status tw_words_read_text(const char *name, const char *text, size_t length,
                             tw_messages *messages, tw_words *out)
{
  tw_words_start(out);
  char *copy = tw_alloc(length + 1, 1);
  if (!copy) {
    return TW_NO_MEMORY;
  }
  memcpy(copy, text, length);
  const size_t before = tw_messages_errors(messages);
  struct words_reader r = {.name = name, .messages = messages, .out = out};
  if (strlen(copy) != length) {
    wrong(&r, "save it as plain text", "a zero byte in", name);
  }
  for (char *line = copy; line;) {
    char *end = strchr(line, '\n');
    if (end) {
      *end = '\0';
    }
    r.line++;
    take_line(&r, line);
    line = end ? end + 1 : NULL;
  }
  check_words(&r);
  tw_words_meaning(out, &(tw_words_lines){name, line_of, &r}, true, messages);
  tw_free(copy);
  return tw_messages_errors(messages) > before ? TW_BAD_INPUT : TW_OK;
}

tw_status tw_words_read(const char *path, tw_messages *messages, tw_words *out)
{
  char *text;
  size_t length;
  tw_status status = tw_text_of_file(path, TW_WORDS_FILE, messages, &text, &length);
  status = status == TW_OK ? tw_words_read_text(path, text, length, messages, out) : status;
  tw_free(text);
  return status;
}
