/* program_inner.h: the points to touch, shared by checks and path. */
#ifndef TW_QUALIFY_PROGRAM_INNER_H
#define TW_QUALIFY_PROGRAM_INNER_H

#include "tripwright/qualify_program.h"

/* one place to touch: start, direction of travel, distance to the nominal contact */
struct tw_place_to_touch {
  double start[3], along[3], run;
};

#define TW_PLACES_MOST 1000

struct tw_checking {
  const tw_plan *plan;
  const tw_words *words;
  tw_messages *messages;
  struct tw_place_to_touch point[TW_PLACES_MOST];
  size_t points;
};

void tw_program_refuse(struct tw_checking *c, const char *field, const char *hint,
                       const char *format, ...) __attribute__((format(printf, 4, 5)));
/* every reason against the plan; fills the points; false: refused */
bool tw_program_check(struct tw_checking *c);
/* heights, floor, travels (program_place.c) */
void tw_program_check_places(struct tw_checking *c);
/* does the tip touch from inside a ring? */
bool tw_program_in_ring(const tw_plan *plan);
void tw_program_points(struct tw_checking *c);
/* distance from the start of a first touch to the nominal contact */
double tw_program_run(const tw_plan *plan);
/* touches that get recorded */
size_t tw_program_touches(const tw_plan *plan);

/* ---- words -----------------------------------------------------------------------------------
 */

/* where a words file set each key; the file's name for messages */
typedef struct tw_words_lines {
  const char *file;
  int (*line_of)(const void *self, const char *key);
  const void *self;
} tw_words_lines;

/* Every word against its meaning (program_meaning.c). lines: NULL for words that came from no file.
 * vouched_only: words without a meaning must be among own_words. */
void tw_words_meaning(const tw_words *words, const tw_words_lines *lines, bool vouched_only,
                      tw_messages *messages);
/* the words without a meaning, blanks between them */
void tw_words_unknown(const tw_words *words, char *out, size_t room);
/* does the text hold this word, such as 'G', 49? */
bool tw_words_say(const char *text, char letter, double number);

#endif
