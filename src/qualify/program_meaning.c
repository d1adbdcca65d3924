/* program_meaning.c: what the common words mean, and what may not stand where.
 * Words that word_meanings.def does not know are a controller's own. */
#include "program_inner.h"
#include "tripwright/text.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- meanings --------------------------------------------------------------------------------
 */

enum {
  IS_MM = 1 << 0,
  IS_INCH = 1 << 1,
  IS_SETTING = 1 << 2, /* harmless setting that a program of straight moves wants */
  IS_LENGTH = 1 << 3,  /* tool length on, or off */
  IS_OFFSET = 1 << 4,  /* work offset */
  IS_STRAIGHT = 1 << 5,
  IS_PROBE = 1 << 6,
  IS_DWELL = 1 << 7,
  IS_STOP = 1 << 8,
  IS_END = 1 << 9,
  IS_SPINDLE_STOP = 1 << 10,
  IS_ORIENT = 1 << 11,
  IS_QUIET = 1 << 12,    /* coolant off */
  IS_ARGUMENT = 1 << 13, /* P, Q, R, D, E, L, K, N: no move of its own */
  IS_TRIP = 1 << 14,     /* a parameter set to a trip position */
  IS_FILE = 1 << 15,     /* percent sign, program number */
  IS_WRONG = 1 << 16,    /* nothing that a program of touches may hold */
  IS_UNKNOWN = 1 << 17,
  IS_TOOL_LENGTH = 1 << 18 /* H, the number of a length */
};

static const struct {
  char letter;
  int tenths;
  unsigned is;
  const char *means;
} meanings[] = {
#define W(letter, tenths, is, means) {#letter[0], tenths, is, means},
#include "word_meanings.def"
#undef W
};

/* ---- words out of a text ---------------------------------------------------------------------
 */

struct word {
  char text[40];
  unsigned is;
  char letter; /* 0: no letter with a number */
  int tenths;
  const char *means;
};

static void know(struct word *w, char letter, double number)
{
  w->letter = letter;
  w->tenths = fabs(number) < 1e5 ? (int)lround(10.0 * number) : -1;
  w->is = IS_UNKNOWN;
  for (size_t i = 0; i < sizeof meanings / sizeof meanings[0]; i++) {
    if (meanings[i].letter == letter && 10.0 * number == (double)meanings[i].tenths) {
      w->is = meanings[i].is;
      w->means = meanings[i].means;
    }
  }
  static const char *const other[][2] = {{"XYZABCUVWIJ", "a position of an axis"},
                                         {"S", "a spindle speed"},
                                         {"F", "a feed"},
                                         {"T", "a tool"}};
  for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) {
    if (strchr(other[i][0], letter)) {
      w->is = IS_WRONG;
      w->means = other[i][1];
    }
  }
  if (strchr("PQRDELKN", letter)) {
    w->is = IS_ARGUMENT;
  } else if (letter == 'H') {
    w->is = IS_TOOL_LENGTH;
  } else if (letter == 'O') {
    w->is = IS_FILE;
  }
}

/* "#{p} = #5061": how long, 0 if it is no such setting */
static size_t trip_setting(const char *at)
{
  const char *c = at + 1;
  if (*c == '{') {
    c += strspn(c, "{pqr}");
  } else {
    c += strspn(c, "0123456789");
  }
  c += strspn(c, " \t");
  if (*c++ != '=') {
    return 0;
  }
  c += strspn(c, " \t");
  const bool trip =
      strncmp(c, "#506", 4) == 0 && c[4] >= '1' && c[4] <= '3' && !isdigit((unsigned char)c[5]);
  return trip ? (size_t)(c + 5 - at) : 0;
}

/* the next word, or false at the end */
static bool next(const char **at, struct word *out)
{
  const char *c = *at + strspn(*at, " \t|");
  *out = (struct word){.is = IS_UNKNOWN};
  if (!*c) {
    return false;
  }
  size_t length = *c == '#' ? trip_setting(c) : 0;
  out->is = length ? IS_TRIP : IS_UNKNOWN;
  if (length == 0 && (*c == '=' || strncmp(c, "#{", 2) == 0)) {
    length = *c == '=' ? 1 : strcspn(c, "}") + (strchr(c, '}') ? 1 : 0);
    out->is = IS_ARGUMENT; /* of a setting; what it is set to is looked at */
  }
  if (length == 0 && *c == '%') {
    length = 1;
    out->is = IS_FILE;
  }
  if (length == 0 && *c == '{') {
    length = strcspn(c, "}") + 1;
    length = length > strlen(c) ? strlen(c) : length;
    out->is = IS_ARGUMENT;
  }
  const char letter = (char)toupper((unsigned char)*c);
  if (length == 0 && letter >= 'A' && letter <= 'Z' && c[1] == '{') {
    length = 1 + strcspn(c + 1, "}") + (strchr(c, '}') ? 1 : 0);
    know(out, letter, NAN);
  }
  const size_t digits = strspn(c + 1, "+-.0123456789");
  if (length == 0 && letter >= 'A' && letter <= 'Z' && digits > 0) {
    char number[24];
    snprintf(number, sizeof number, "%.*s", (int)(digits < 20 ? digits : 20), c + 1);
    length = 1 + digits;
    know(out, letter, strtod(number, NULL));
  }
  if (length == 0) {
    length = strcspn(c, " \t|");
  }
  snprintf(out->text, sizeof out->text, "%.*s", (int)length, c);
  *at = c + length;
  return true;
}

/* ---- what may stand where --------------------------------------------------------------------
 */

#define IN_HEAD (IS_MM | IS_INCH | IS_SETTING | IS_LENGTH | IS_OFFSET | IS_SPINDLE_STOP | IS_QUIET)

static const struct {
  const char *key;
  size_t at;
  unsigned may, must;
  const char *hint;
} slots[] = {
#define SLOT(key, may, must, hint)                                                                 \
  {                                                                                                \
#key, offsetof(tw_words, key), may, must, hint                                                 \
  }
    SLOT(begin, IN_HEAD | IS_FILE, 0, "only settings, a percent sign or a program number"),
    SLOT(units, IS_MM | IS_INCH, IS_MM | IS_INCH, "G21 for millimetres, G20 with inches = yes"),
    SLOT(setup, IN_HEAD | IS_TOOL_LENGTH, 0, "settings only: G17 G40 G49 G61 G80 G90 G94"),
    SLOT(work_offset, IS_OFFSET, 0, "G54 to G59, or nothing"),
    SLOT(straight, IS_STRAIGHT, IS_STRAIGHT, "the word for a straight move at a feed: G1"),
    SLOT(probe, IS_PROBE, IS_PROBE, "a move that stops on contact: G38.2"),
    SLOT(guarded, 0, 0,
         "a word of the controller's own: it stops on contact, and is no error without one"),
    SLOT(record, IS_TRIP | IS_ARGUMENT, 0, "#{p} = #5061|#{q} = #5062|#{r} = #5063"),
    SLOT(check, IS_STOP | IS_ARGUMENT, 0, "a word that ends the program if the probe is tripped"),
    SLOT(orient, IS_ORIENT | IS_ARGUMENT, IS_ORIENT, "M19 R{angle}"),
    SLOT(spindle_stop, IS_SPINDLE_STOP | IS_QUIET, IS_SPINDLE_STOP, "M5"),
    SLOT(dwell, IS_DWELL | IS_ARGUMENT, IS_DWELL, "G4 P{seconds}"),
    SLOT(pause, IS_STOP, IS_STOP, "M0"),
    SLOT(end, IS_END | IS_SPINDLE_STOP | IS_QUIET | IS_FILE, IS_END, "M30 or M2"),
#undef SLOT
};

struct meaning {
  const tw_words *words;
  tw_messages *messages;
  const tw_words_lines *lines;
  bool vouched_only; /* unknown words must be among own_words */
};

static void refuse(const struct meaning *m, const char *key, const char *hint, const char *format,
                   ...) __attribute__((format(printf, 4, 5)));
static void refuse(const struct meaning *m, const char *key, const char *hint, const char *format,
                   ...)
{
  char text[240];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  const int line = m->lines ? m->lines->line_of(m->lines->self, key) : 0;
  const tw_place place = {m->lines ? m->lines->file : NULL, line, line ? 1 : 0};
  tw_messages_add(m->messages, TW_ERROR, place, m->lines ? NULL : key, NULL, hint, "%s", text);
}

static bool same_word(const char *a, const char *b)
{
  while (*a && tolower((unsigned char)*a) == tolower((unsigned char)*b)) {
    a++;
    b++;
  }
  return *a == *b;
}

/* is the word among those of a list? */
static bool listed(const char *list, const char *text)
{
  struct word own;
  while (next(&list, &own)) {
    if (same_word(own.text, text)) {
      return true;
    }
  }
  return false;
}

/* all meanings in one text */
static unsigned meaning_of(const char *text)
{
  unsigned all = 0;
  struct word w;
  while (next(&text, &w)) {
    all |= w.is;
  }
  return all;
}

static bool has_word(const char *text, char letter, int tenths)
{
  struct word w;
  while (next(&text, &w)) {
    if (w.letter == letter && w.tenths == tenths) {
      return true;
    }
  }
  return false;
}

/* the letter with any number, or what stands for one */
static bool has_letter(const char *text, char letter)
{
  struct word w;
  while (next(&text, &w)) {
    if (w.letter == letter) {
      return true;
    }
  }
  return false;
}

static void check_unit(const struct meaning *m, const char *key, const struct word *w)
{
  const bool inches = m->words->inches;
  if ((w->is & IS_MM && inches) || (w->is & IS_INCH && !inches)) {
    refuse(m, key, inches ? "write G20 as the unit, or inches = no" : "write inches = yes, too",
           "'%s = %s' means %s, but positions are written in %s: all moves would be 25.4 times too "
           "%s",
           key, w->text, w->means, inches ? "inches" : "millimetres", inches ? "short" : "long");
  }
}

static void check_slot(const struct meaning *m, size_t slot)
{
  const char *key = slots[slot].key, *text = (const char *)m->words + slots[slot].at, *at = text;
  const size_t before = tw_messages_errors(m->messages);
  struct word w;
  while (next(&at, &w)) {
    if (w.is & IS_UNKNOWN) {
      if (m->vouched_only && !listed(m->words->own_words, w.text)) {
        char hint[120];
        snprintf(hint, sizeof hint,
                 "if the controller's manual says that it does just this, write: own_words = %s",
                 w.text);
        refuse(m, key, hint, "'%s' in %s has no meaning in RS274/NGC or ISO 6983", w.text, key);
      }
    } else if (!(w.is & slots[slot].may)) {
      refuse(m, key, slots[slot].hint, "'%s = %.80s' cannot be: %s is %s", key, text, w.text,
             w.means ? w.means : "of no use there");
    } else {
      check_unit(m, key, &w);
    }
  }
  if (slots[slot].must && text[0] && tw_messages_errors(m->messages) == before &&
      !(meaning_of(text) & (slots[slot].must | IS_UNKNOWN))) {
    refuse(m, key, slots[slot].hint, "'%s = %.80s' lacks the word that does it", key, text);
  }
}

/* settings that must be made before the first move, and those that exclude each other */
static void check_settings(const struct meaning *m)
{
  static const struct {
    int tenths;
    const char *means;
  } wanted[] = {{900, "G90, absolute positions"},
                {940, "G94, feed per minute"},
                {400, "G40, cutter compensation off"},
                {800, "G80, cycles off"}};
  const tw_words *w = m->words;
  char head[200];
  snprintf(head, sizeof head, "%s %s %s", w->begin, w->units, w->setup);
  char lacks[120];
  tw_text text = tw_text_in(lacks, sizeof lacks);
  for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++) {
    if (!has_word(head, 'G', wanted[i].tenths)) {
      tw_text_add(&text, "%s%s", text.length ? "; " : "", wanted[i].means);
    }
  }
  if (lacks[0]) {
    refuse(m, "setup", "G17 G40 G49 G61 G80 G90 G94", "setup lacks %s", lacks);
  }
  const bool on = has_word(head, 'G', 430), off = has_word(head, 'G', 490);
  if (on == off) {
    refuse(m, "setup", "G49, or G43 with H and the number of the probe's length",
           on ? "setup turns the tool length on and off" : "setup says nothing of the tool length");
  } else if (on != has_letter(w->setup, 'H')) {
    refuse(m, "setup", "for example G43 H5",
           on ? "G43 without H: the length of which tool?" : "H without G43 has no use");
  }
}

static void check_comments(const struct meaning *m)
{
  const char *open = m->words->comment_open, *close = m->words->comment_close;
  for (const char *c = open; *c; c++) {
    if (isalnum((unsigned char)*c) || *c == '#' || *c == '%' || *c == ' ') {
      refuse(m, "comment_open", "( with ), or ; with nothing",
             "'comment_open = %s' would be read as words, not as a comment", open);
      return;
    }
  }
  if ((open[0] == '(') != (close[0] == ')')) {
    refuse(m, "comment_close", "( with ), or ; with nothing",
           "comment_open '%s' and comment_close '%s' do not belong together", open, close);
  }
}

static void check_own(const struct meaning *m)
{
  const char *at = m->words->own_words;
  struct word w;
  while (next(&at, &w)) {
    if (!(w.is & IS_UNKNOWN)) {
      refuse(m, "own_words", "take it out of own_words",
             "'%s' has a meaning in the standards: own_words cannot give it another", w.text);
    }
  }
}

void tw_words_meaning(const tw_words *words, const tw_words_lines *lines, bool vouched_only,
                      tw_messages *messages)
{
  const struct meaning m = {words, messages, lines, vouched_only};
  for (size_t i = 0; i < sizeof slots / sizeof slots[0]; i++) {
    check_slot(&m, i);
  }
  check_settings(&m);
  check_comments(&m);
  check_own(&m);
}

tw_status tw_words_check(const tw_words *words, tw_messages *messages)
{
  const size_t before = tw_messages_errors(messages);
  tw_words_meaning(words, NULL, true, messages);
  return tw_messages_errors(messages) > before ? TW_BAD_INPUT : TW_OK;
}

void tw_words_unknown(const tw_words *words, char *out, size_t room)
{
  tw_text text = tw_text_in(out, room);
  for (size_t i = 0; i < sizeof slots / sizeof slots[0]; i++) {
    const char *at = (const char *)words + slots[i].at;
    struct word w;
    while (next(&at, &w)) {
      const bool fits = text.length + strlen(w.text) + 2 < room;
      if (w.is & IS_UNKNOWN && fits && !listed(out, w.text)) {
        tw_text_add(&text, "%s%s", text.length ? " " : "", w.text);
      }
    }
  }
}

bool tw_words_say(const char *text, char letter, double number)
{
  return has_word(text, letter, (int)lround(10.0 * number));
}
