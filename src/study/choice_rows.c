/* choice_rows.c: which rows of the library could stand where another one does. */
#include "choices.h"

#include <string.h>

#define ROWS_MOST 60

/* is `word` one of the words of "stem, ball"? */
static bool has_word(const char *list, const char *word)
{
  const size_t n = strlen(word);
  for (const char *at = list; at && (at = strstr(at, word)) != NULL; at += n) {
    const bool starts = at == list || at[-1] == ' ' || at[-1] == ',';
    if (starts && (at[n] == '\0' || at[n] == ',' || at[n] == ' ')) {
      return true;
    }
  }
  return false;
}

static bool same_word(const tw_row *a, const tw_row *b, const char *key)
{
  const char *x = tw_row_text(a, key), *y = tw_row_text(b, key);
  return x && y && strcmp(x, y) == 0;
}

/* could `row` be bought instead of `own`? */
static bool fits(tw_field field, tw_part_kind kind, const tw_row *own, const tw_row *row)
{
  tw_quantity q;
  switch (kind) {
  case TW_KIND_AMPLIFIER:
    return same_word(own, row, "kind");
  case TW_KIND_MATERIAL:
    return (field == TW_F_stylus_stem && has_word(tw_row_text(row, "use"), "stem")) ||
           (field == TW_F_stylus_ball && has_word(tw_row_text(row, "use"), "ball"));
  case TW_KIND_SPRING:
    return tw_row_number(row, "rate", &q);
  case TW_KIND_DISC:
  case TW_KIND_FOAM:
  case TW_KIND_INSTRUMENT:
    return true;
  default:
    return false; /* a ceramic comes with its disc */
  }
}

static bool add(tw_study_choice *list, size_t *n, const char *word, tw_design *design)
{
  list[*n] = (tw_study_choice){.word = tw_copy_text(word), .design = design};
  return list[(*n)++].word;
}

/* one word: left out when the file cannot be read with it */
static tw_status try_word(const tw_lever_options *options, tw_field field, const char *word,
                          tw_study_choice *list, size_t *n)
{
  tw_design *design = NULL;
  const tw_status status =
      options->read_with(options->self, tw_field_of(field)->path, word, &design);
  if (status == TW_BAD_INPUT) {
    return TW_OK;
  }
  if (status != TW_OK) {
    return status;
  }
  return add(list, n, word, design) ? TW_OK : TW_NO_MEMORY;
}

/* the list goes to the caller when it holds a choice */
static tw_status hand_over(tw_status status, tw_field field, tw_study_choice *list, size_t n,
                           tw_study_choice **choice, size_t *choices, tw_fault *fault)
{
  if (status != TW_OK || n < 2) {
    tw_study_choices_free(list, n);
    return status == TW_OK ? TW_OK
                           : tw_fail(fault, status, tw_field_of(field)->path, NULL,
                                     "other words for this field could not be tried");
  }
  *choice = list;
  *choices = n;
  return TW_OK;
}

tw_status tw_study_rows(const tw_study *study, const tw_lever_options *options, tw_field field,
                        tw_study_choice **choice, size_t *choices, size_t *now, tw_fault *fault)
{
  tw_part_kind kind;
  const char *word = tw_design_text(study->design, field);
  *choice = NULL;
  *choices = 0;
  if (!word || !tw_field_names_row(field, &kind)) {
    return TW_OK;
  }
  const tw_row *own = tw_library_find(options->library, kind, word);
  tw_study_choice *list = tw_alloc(ROWS_MOST, sizeof *list);
  tw_status status = list ? TW_OK : TW_NO_MEMORY;
  size_t n = 0;
  for (size_t i = 0;
       own && status == TW_OK && n < ROWS_MOST && i < tw_library_count(options->library, kind);
       i++) {
    const tw_row *row = tw_library_row(options->library, kind, i);
    if (row == own) {
      *now = n;
      status = add(list, &n, word, NULL) ? TW_OK : TW_NO_MEMORY;
    } else if (fits(field, kind, own, row)) {
      status = try_word(options, field, tw_row_id(row), list, &n);
    }
  }
  return hand_over(status, field, list, n, choice, choices, fault);
}

bool tw_study_turns(tw_field field)
{
  return field == TW_F_disc_poling || field == TW_F_circuit_polarity;
}

tw_status tw_study_turned(const tw_study *study, const tw_lever_options *options, tw_field field,
                          tw_study_choice **choice, size_t *choices, size_t *now, tw_fault *fault)
{
  const tw_choice_set set = tw_field_of(field)->set;
  const int own = tw_design_choice(study->design, field);
  const int first = field == TW_F_disc_poling ? TW_POLING_UNKNOWN + 1 : 0;
  *choice = NULL;
  *choices = 0;
  if (own < first) {
    return TW_OK; /* a disc that nobody has pushed yet is wired the right way round */
  }
  tw_study_choice *list = tw_alloc(ROWS_MOST, sizeof *list);
  tw_status status = list ? TW_OK : TW_NO_MEMORY;
  size_t n = 0;
  for (int i = first; status == TW_OK && tw_choice_word(set, i); i++) {
    const char *word = tw_choice_word(set, i);
    if (i == own) {
      *now = n;
      status = add(list, &n, word, NULL) ? TW_OK : TW_NO_MEMORY;
    } else {
      status = try_word(options, field, word, list, &n);
    }
  }
  return hand_over(status, field, list, n, choice, choices, fault);
}
