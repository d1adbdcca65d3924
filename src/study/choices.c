/* choices.c: inputs that are words: which row of the library a field names. */
#include "choices.h"

#include <math.h>
#include <string.h>

void tw_study_choices_free(tw_study_choice *choice, size_t choices)
{
  for (size_t i = 0; choice && i < choices; i++) {
    tw_free(choice[i].word);
    tw_design_free(choice[i].design);
    tw_free(choice[i].differs);
  }
  tw_free(choice);
}

static bool same_text(const char *a, const char *b)
{
  return a == b || (a && b && strcmp(a, b) == 0);
}

static bool same_value(const tw_value *a, const tw_value *b)
{
  const bool numbers = a->number == b->number || (isnan(a->number) && isnan(b->number));
  return (a->origin == TW_ORIGIN_UNSET) == (b->origin == TW_ORIGIN_UNSET) && numbers &&
         a->tolerance.given == b->tolerance.given && a->tolerance.minus == b->tolerance.minus &&
         a->tolerance.plus == b->tolerance.plus && same_text(a->text, b->text);
}

/* the fields in which the design with another word differs */
static bool list_differences(const tw_design *base, tw_study_choice *c)
{
  c->differs = tw_alloc(TW_FIELD_COUNT, sizeof *c->differs);
  for (int i = 0; c->differs && i < TW_FIELD_COUNT; i++) {
    const tw_field field = (tw_field)i;
    if (!same_value(tw_design_value(base, field), tw_design_value(c->design, field))) {
      c->differs[c->count++] = field;
    }
  }
  return c->differs;
}

tw_status tw_study_add_choice(tw_study *study, tw_field field, tw_study_choice *choice,
                              size_t choices, size_t now, size_t *input, tw_fault *fault)
{
  bool room = true;
  for (size_t i = 0; i < choices && room; i++) {
    room = !choice[i].design || list_differences(study->design, &choice[i]);
  }
  if (!room) {
    tw_study_choices_free(choice, choices);
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the study");
  }
  *input = study->inputs++;
  study->now[*input] = (double)now;
  study->input[*input] = (tw_study_input){
      .field = field,
      .path = tw_field_of(field)->path,
      .si = "",
      .now = (double)now,
      .most = (double)(choices - 1),
      .law = {.name = tw_field_of(field)->path, .law = TW_LAW_FIXED, .centre = (double)now},
      .choice = choice,
      .choices = choices};
  return TW_OK;
}

bool tw_study_choose(const tw_study *study, const double *x, tw_design *own)
{
  bool chosen = false;
  for (size_t k = 0; k < study->inputs; k++) {
    const tw_study_input *in = &study->input[k];
    if (!in->choice || x[k] == study->now[k]) {
      continue;
    }
    const size_t place = (size_t)fmin(fmax(round(x[k]), 0), (double)(in->choices - 1));
    const tw_study_choice *c = &in->choice[place];
    for (size_t i = 0; c->design && i < c->count; i++) {
      tw_design_take(own, c->design, c->differs[i]);
    }
    chosen = true;
  }
  return chosen;
}

double tw_study_moved(const tw_study *study, size_t k, double x, const tw_design *own)
{
  const tw_study_input *in = &study->input[k];
  const double there = tw_design_number_or(own, in->field, in->now);
  return there == in->now ? x : x + (there - in->now);
}
