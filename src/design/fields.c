/* fields.c: the table of parameters and the sets of answers, made from their .def files. */
#include "tripwright/design.h"

#include <assert.h>
#include <string.h>

static const tw_field_info table[] = {
#define TW_FIELD(id, path, TYPE, unit, fallback, least, most, TOL, DEFAULT, part, when, SET, help, \
                 source)                                                                           \
  {#id,                                                                                            \
   path,                                                                                           \
   TW_TYPE_##TYPE,                                                                                 \
   unit,                                                                                           \
   fallback,                                                                                       \
   least,                                                                                          \
   most,                                                                                           \
   TW_TOLERANCE_##TOL,                                                                             \
   TW_DEFAULT_##DEFAULT,                                                                           \
   part,                                                                                           \
   when,                                                                                           \
   TW_SET_##SET,                                                                                   \
   help,                                                                                           \
   source},
#include "tripwright/fields.def"
};

/* lengths of the paths: most candidates differ already there */
static const unsigned char path_length[] = {
#define TW_FIELD(id, path, TYPE, unit, fallback, least, most, TOL, DEFAULT, part, when, SET, help, \
                 source)                                                                           \
  sizeof path - 1,
#include "tripwright/fields.def"
};

const tw_field_info *tw_field_of(tw_field field)
{
  assert((size_t)field < TW_FIELD_COUNT);
  return &table[field];
}

tw_field tw_field_find(const char *path)
{
  const size_t length = strlen(path);
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    if (path_length[i] == length && memcmp(table[i].path, path, length) == 0) {
      return (tw_field)i;
    }
  }
  return TW_FIELD_COUNT;
}

const char *tw_field_nearest(const char *path)
{
  const char *names[TW_FIELD_COUNT];
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    names[i] = table[i].path;
  }
  return tw_nearest_name(path, names, TW_FIELD_COUNT);
}

/* ---- answers --------------------------------------------------------------------------------- */

typedef struct answer {
  const char *word, *help;
} answer;

#define ROW(SET, NAME, word, help) {word, help},
#define SET_TABLE(SET)             static const answer answers_##SET[] = {TW_CHOICES_##SET(ROW)};
TW_CHOICE_SETS(SET_TABLE)

static const answer *const set_table[] = {NULL,
#define SET_ROW(SET) answers_##SET,
                                          TW_CHOICE_SETS(SET_ROW)};

static const size_t set_count[] = {0,
#define SET_SIZE(SET) sizeof answers_##SET / sizeof answers_##SET[0],
                                   TW_CHOICE_SETS(SET_SIZE)};

size_t tw_choice_count(tw_choice_set set)
{
  return (size_t)set < TW_SET_COUNT ? set_count[set] : 0;
}

static const answer *find_answer(tw_choice_set set, int choice)
{
  return choice >= 0 && (size_t)choice < tw_choice_count(set) ? &set_table[set][choice] : NULL;
}

const char *tw_choice_word(tw_choice_set set, int choice)
{
  const answer *a = find_answer(set, choice);
  return a ? a->word : NULL;
}

const char *tw_choice_help(tw_choice_set set, int choice)
{
  const answer *a = find_answer(set, choice);
  return a ? a->help : NULL;
}

int tw_choice_find(tw_choice_set set, const char *word)
{
  for (size_t i = 0; i < tw_choice_count(set); i++) {
    if (strcmp(set_table[set][i].word, word) == 0) {
      return (int)i;
    }
  }
  return -1;
}
