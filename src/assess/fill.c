/* fill.c: values, states and reasons into an assessment. No number that is not finite gets in. */
#include "fill.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

bool tw_wants_one(const tw_run *run, tw_measure_id id)
{
  return !run->options->wanted || run->options->wanted->has[id];
}

bool tw_wants(const tw_run *run, const tw_measure_id *id, size_t count)
{
  for (size_t i = 0; i < count; i++) {
    if (tw_wants_one(run, id[i])) {
      return true;
    }
  }
  return false;
}

void tw_put(tw_assessment *out, tw_measure_id id, double value)
{
  tw_measure *m = &out->measure[id];
  if (!isfinite(value)) {
    tw_put_state(out, id, TW_MEASURE_NO_ANSWER, "the figure is not finite");
    return;
  }
  m->state = TW_MEASURE_OK;
  m->value = value;
}

void tw_put_word(tw_assessment *out, tw_measure_id id, const char *word)
{
  out->measure[id].state = TW_MEASURE_OK;
  out->measure[id].word = word;
}

void tw_put_state(tw_assessment *out, tw_measure_id id, tw_measure_state state, const char *format,
                  ...)
{
  tw_measure *m = &out->measure[id];
  m->state = state;
  va_list list;
  va_start(list, format);
  vsnprintf(m->note, sizeof m->note, format, list);
  va_end(list);
}

void tw_put_note(tw_assessment *out, tw_measure_id id, const char *format, ...)
{
  va_list list;
  va_start(list, format);
  vsnprintf(out->measure[id].note, sizeof out->measure[id].note, format, list);
  va_end(list);
}

void tw_put_fault(tw_assessment *out, tw_measure_id id, const tw_fault *fault)
{
  tw_put_state(out, id, TW_MEASURE_NO_ANSWER, "%s", fault->text);
}

void tw_put_band(tw_assessment *out, tw_measure_id id, double low, double high)
{
  tw_measure *m = &out->measure[id];
  m->has_band = isfinite(low) && isfinite(high);
  m->band[0] = m->has_band ? low : 0;
  m->band[1] = m->has_band ? high : 0;
}

void tw_put_part(tw_assessment *out, tw_measure_id id, const char *cause, double value)
{
  tw_measure *m = &out->measure[id];
  if (m->contributions < TW_CONTRIBUTIONS) {
    m->contribution[m->contributions++] = (tw_contribution){cause, value};
  }
}

void tw_warn(tw_assessment *out, const char *path, const char *format, ...)
{
  if (out->warnings >= TW_WARNINGS) {
    return;
  }
  tw_warning *w = &out->warning[out->warnings++];
  snprintf(w->field, sizeof w->field, "%s", path);
  va_list list;
  va_start(list, format);
  vsnprintf(w->text, sizeof w->text, format, list);
  va_end(list);
}
