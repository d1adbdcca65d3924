/* fit.c: lines broken to the width of the terminal, and its colours. */
#define _DEFAULT_SOURCE /* TIOCGWINSZ */
#include "fit.h"

#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

int tw_fit_width(FILE *out)
{
  struct winsize size;
  const int fd = fileno(out);
  if (fd < 0 || !isatty(fd) || ioctl(fd, TIOCGWINSZ, &size) != 0 || size.ws_col == 0) {
    return TW_FIT_WIDTH;
  }
  return size.ws_col < TW_FIT_LEAST ? TW_FIT_LEAST : (int)size.ws_col;
}

bool tw_fit_coloured(FILE *out)
{
  const char *no = getenv("NO_COLOR"), *term = getenv("TERM");
  const int fd = fileno(out);
  return fd >= 0 && isatty(fd) && !(no && no[0]) && term && strcmp(term, "dumb") != 0;
}

/* ---- breaking -------------------------------------------------------------------------------- */

/* signs of `bytes` bytes of UTF-8, each one column wide here */
static int columns_of(const char *text, size_t bytes)
{
  int n = 0;
  for (size_t i = 0; i < bytes; i++) {
    n += ((unsigned char)text[i] & 0xc0) != 0x80;
  }
  return n;
}

/* a continued line stands under the last column of its first one that leaves it some room: columns
 * are two blanks or more apart */
static int indent_of(const char *line, size_t length, int width)
{
  const int first = (int)strspn(line, " ");
  int indent = first > 0 ? first + 2 : 0; /* a paragraph at the margin stays there */
  for (size_t i = (size_t)first; i + 2 < length; i++) {
    const bool gap = line[i] == ' ' && line[i + 1] == ' ' && line[i + 2] != ' ';
    const int at = columns_of(line, i + 2);
    if (gap && at <= width / 2) {
      indent = at;
    }
  }
  return indent < width / 2 ? indent : first < width / 4 ? first + 2 : 2;
}

/* bytes of `line` that fit into `width` columns, ending before a blank; the whole first word when
 * not even that fits */
static size_t piece(const char *line, size_t length, int width)
{
  size_t end = 0;
  const size_t start = strspn(line, " ");
  for (size_t i = start; i <= length; i++) {
    const bool stop = i == length || (line[i] == ' ' && i > start && line[i - 1] != ' ');
    if (stop && (columns_of(line, i) <= width || end == 0)) {
      end = i;
    }
  }
  return end;
}

/* ---- colour ---------------------------------------------------------------------------------- */

#define RED   "\033[31;1m"
#define GREEN "\033[32m"
#define BOLD  "\033[1m"
#define PLAIN "\033[0m"

static const struct {
  const char *word, *colour;
} words[] = {
    {"NOT MET", RED},    {"FAILS", RED},     {"TOO FAR", RED},
    {"no trip", RED},    {"  met ", GREEN},  {"are not met", RED},
    {"is not met", RED}, {"are met", GREEN}, {"is met", GREEN},
};

static void put_coloured(const char *line, size_t length, FILE *out)
{
  for (size_t i = 0; i < length;) {
    size_t taken = 0;
    for (size_t w = 0; w < sizeof words / sizeof words[0] && !taken; w++) {
      const size_t n = strlen(words[w].word);
      if (i + n <= length && strncmp(line + i, words[w].word, n) == 0) {
        fprintf(out, "%s%s%s", words[w].colour, words[w].word, PLAIN);
        taken = n;
      }
    }
    if (!taken) {
      fputc(line[i], out);
      taken = 1;
    }
    i += taken;
  }
}

/* a heading stands alone at the margin, with an empty line before it */
static bool is_heading(const char *line, size_t length, bool after_empty)
{
  return after_empty && length > 0 && line[0] != ' ' && line[length - 1] != '.' &&
         line[length - 1] != ';';
}

static void put(const char *line, size_t length, bool coloured, bool heading, FILE *out)
{
  if (!coloured) {
    fwrite(line, 1, length, out);
  } else if (heading) {
    fprintf(out, BOLD "%.*s" PLAIN, (int)length, line);
  } else {
    put_coloured(line, length, out);
  }
  fputc('\n', out);
}

/* ---- whole ----------------------------------------------------------------------------------- */

void tw_fit_print(const char *text, int width, bool coloured, FILE *out)
{
  bool after_empty = false;
  while (*text) {
    size_t length = strcspn(text, "\n");
    const char *next = text + length + (text[length] == '\n');
    while (length > 0 && text[length - 1] == ' ') {
      length--;
    }
    const bool heading = is_heading(text, length, after_empty);
    const int indent = indent_of(text, length, width);
    after_empty = length == 0;
    int room = width;
    for (bool more = true; more;) {
      const size_t n = columns_of(text, length) <= room ? length : piece(text, length, room);
      put(text, n, coloured, heading, out);
      text += n;
      length -= n;
      const size_t blanks = length ? strspn(text, " ") : 0;
      text += blanks;
      length -= blanks;
      more = length > 0;
      room = width - indent;
      if (more) {
        fprintf(out, "%*s", indent, "");
      }
    }
    text = next;
  }
}
