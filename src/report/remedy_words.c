/* remedy_words.c: a remedy as it is written into the file. */
#include "tripwright/documents_study.h"
#include "tripwright/text.h"

#include <stdio.h>
#include <string.h>

enum { WORD_SIZE = 160 };

/* the length of one row of stack.chain after the changes */
static double length_of(const tw_study *study, const tw_levers *levers, const tw_remedy *remedy,
                        size_t row, double now)
{
  for (size_t i = 0; i < remedy->changes; i++) {
    const tw_study_input *in = &study->input[levers->lever[remedy->change[i].lever].input];
    now = in->cell && in->row == row ? remedy->change[i].to : now;
  }
  return now;
}

/* the whole of stack.chain with the changed lengths, as it stands in a file; NULL without memory */
static char *chain_text(const tw_study *study, const tw_levers *levers, const tw_remedy *remedy)
{
  const tw_table *chain = tw_design_table(study->design, TW_F_stack_chain);
  tw_text out = {0};
  tw_unit mm;
  if (tw_units_find(study->units, "mm", &mm, NULL) != TW_OK) {
    return NULL;
  }
  for (size_t row = 0; row < chain->rows; row++) {
    const tw_cell *cell = &chain->cells[row * chain->columns];
    const tw_quantity length = {length_of(study, levers, remedy, row, cell[1].number),
                                cell[1].tolerance};
    char text[WORD_SIZE];
    tw_quantity_print(&length, &mm, 6, text, sizeof text);
    /* quotes, where the word would be read as something else */
    const char *quote = strpbrk(cell[0].text, ",:[]{}#&*!|>'%@`") ? "\"" : "";
    tw_text_add(&out, "%s[%s%.200s%s, %s]", row ? ", " : "[", quote, cell[0].text, quote, text);
  }
  tw_text_put(&out, "]");
  return tw_text_take(&out);
}

static bool add_word(tw_remedy_words *out, const char *path, char *text)
{
  out->set[out->count] = (tw_set){path, text};
  out->text[out->count++] = text;
  return text;
}

bool tw_remedy_words_make(const tw_study *study, const tw_levers *levers, const tw_remedy *remedy,
                          tw_remedy_words *out)
{
  bool good = true, chain = false;
  *out = (tw_remedy_words){0};
  for (size_t i = 0; i < remedy->changes && good; i++) {
    const tw_lever *lever = &levers->lever[remedy->change[i].lever];
    if (study->input[lever->input].cell) {
      good = chain || add_word(out, "stack.chain", chain_text(study, levers, remedy));
      chain = true;
    } else {
      char text[WORD_SIZE];
      good = tw_change_text(study, levers, &remedy->change[i], text, sizeof text) &&
             add_word(out, lever->name, tw_copy_text(text));
    }
  }
  if (!good) {
    tw_remedy_words_free(out);
  }
  return good;
}

void tw_remedy_words_free(tw_remedy_words *words)
{
  for (size_t i = 0; i < words->count; i++) {
    tw_free(words->text[i]);
  }
  *words = (tw_remedy_words){0};
}
