/* json_capture.c: a recording and its features as JSON. */
#include "tripwright/constants.h"
#include "tripwright/documents.h"
#include "tripwright/documents_capture.h"

#include <math.h>

static json_t *features_of(const tw_capture_result *r)
{
  json_t *all = json_array();
  for (size_t i = 0; i < r->features; i++) {
    const tw_capture_feature *f = &r->feature[i];
    json_t *one = json_pack("{s:s, s:o, s:o, s:s}", "name", f->name, "value",
                            tw_json_number(f->value), "u", tw_json_number(f->u), "unit", f->unit);
    if (f->word[0]) {
      json_object_set_new(one, "word", json_string(f->word));
    }
    if (f->least) {
      json_object_set_new(one, "bound", json_string("lower"));
    }
    if (f->note[0]) {
      json_object_set_new(one, "note", json_string(f->note));
    }
    json_array_append_new(all, one);
  }
  return all;
}

static json_t *concerns_of(const tw_capture_result *r)
{
  json_t *all = json_array();
  for (size_t i = 0; i < r->concerns; i++) {
    json_array_append_new(all, json_pack("{s:s, s:s, s:s}", "word", r->concern[i].word, "text",
                                         r->concern[i].text, "hint", r->concern[i].hint));
  }
  return all;
}

static json_t *marks_of(const tw_capture_result *r)
{
  json_t *all = json_array();
  for (size_t i = 0; i < r->marks; i++) {
    json_array_append_new(all, json_pack("{s:o, s:o, s:s}", "t", tw_json_number(r->mark[i].t), "v",
                                         tw_json_number(r->mark[i].y), "text", r->mark[i].text));
  }
  return all;
}

static json_t *numbers(const double *v, size_t n)
{
  json_t *all = json_array();
  for (size_t i = 0; i < n; i++) {
    json_array_append_new(all, tw_json_number(v[i]));
  }
  return all;
}

json_t *tw_json_capture(const tw_capture_record *record, const tw_capture_result *r)
{
  static const char *const axis[] = {"time", "stamps", "frequency", "angle", "weight"};
  json_t *weight = isfinite(r->weight) ? tw_json_quantity(r->weight, "kg") : json_null();
  json_t *azimuth =
      isfinite(r->azimuth) ? tw_json_quantity(r->azimuth * TW_RADIAN, "deg") : json_null();
  json_t *feed = isfinite(r->feed) ? tw_json_quantity(r->feed, "m/s") : json_null();
  json_t *fit = r->dof > 0 ? json_pack("{s:o, s:o}", "chi_squared", tw_json_number(r->chi_squared),
                                       "dof", tw_json_number(r->dof))
                           : json_null();
  json_t *o =
      json_pack("{s:s, s:s, s:s, s:s, s:I, s:I, s:o, s:s, s:s, s:b}", "file", record->file, "kind",
                record->kind, "found", record->found, "axis", axis[record->axis], "rows",
                (json_int_t)record->rows, "rows_used", (json_int_t)record->samples, "interval",
                tw_json_quantity(record->interval, "s"), "act", tw_capture_act_word(r->act),
                "sentence", tw_capture_act_sentence(r->act), "recognised", r->recognised);
  json_object_set_new(o, "weight", weight);
  json_object_set_new(o, "azimuth", azimuth);
  json_object_set_new(o, "feed", feed);
  json_object_set_new(o, "push", json_boolean(r->push));
  json_object_set_new(o, "channel", json_integer((json_int_t)r->channel + 1));
  json_object_set_new(o, "features", features_of(r));
  json_object_set_new(o, "concerns", concerns_of(r));
  json_object_set_new(o, "marks", marks_of(r));
  json_object_set_new(o, "fit", fit);
  json_object_set_new(o, "model",
                      json_pack("{s:o, s:o}", "t", numbers(r->curve_t, r->curve), "v",
                                numbers(r->curve_v, r->curve)));
  return o;
}
