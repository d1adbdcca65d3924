/* result.c: features, concerns and marks put together, within their room. */
#include "signal.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

tw_capture_feature *tw_put_feature(tw_capture_result *r, const char *name, double value, double u,
                                   const char *unit)
{
  static const tw_capture_feature none = {0};
  if (r->features == TW_CAPTURE_FEATURES || !isfinite(value)) {
    r->spare = none; /* what does not exist is not put; a note on it goes nowhere */
    return &r->spare;
  }
  tw_capture_feature *f = &r->feature[r->features++];
  *f = none;
  snprintf(f->name, sizeof f->name, "%s", name);
  snprintf(f->unit, sizeof f->unit, "%s", unit);
  f->value = value;
  f->u = isfinite(u) ? u : 0;
  return f;
}

void tw_put_word_feature(tw_capture_result *r, const char *name, double value, const char *word)
{
  tw_capture_feature *f = tw_put_feature(r, name, value, 0, "");
  snprintf(f->word, sizeof f->word, "%s", word);
}

void tw_put_concern(tw_capture_result *r, const char *word, const char *hint, const char *format,
                    ...)
{
  if (r->concerns == TW_CAPTURE_CONCERNS) {
    return;
  }
  tw_capture_concern *c = &r->concern[r->concerns++];
  snprintf(c->word, sizeof c->word, "%s", word);
  snprintf(c->hint, sizeof c->hint, "%s", hint);
  va_list list;
  va_start(list, format);
  vsnprintf(c->text, sizeof c->text, format, list);
  va_end(list);
}

void tw_put_mark(tw_capture_result *r, double t, double y, const char *text)
{
  if (r->marks < TW_CAPTURE_MARKS && isfinite(t)) {
    tw_capture_mark *m = &r->mark[r->marks++];
    m->t = t;
    m->y = y;
    snprintf(m->text, sizeof m->text, "%s", text);
  }
}

void tw_note(tw_capture_feature *f, const char *format, ...)
{
  va_list list;
  va_start(list, format);
  vsnprintf(f->note, sizeof f->note, format, list);
  va_end(list);
}

const tw_capture_feature *tw_capture_feature_of(const tw_capture_result *result, const char *name)
{
  for (size_t i = 0; i < result->features; i++) {
    if (strcmp(result->feature[i].name, name) == 0) {
      return &result->feature[i];
    }
  }
  return NULL;
}
