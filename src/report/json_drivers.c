/* json_drivers.c: which field moves which requirement, and how much. */
#include "tripwright/documents_study.h"

#include <math.h>

double tw_driver_moves(const tw_study *study, const tw_slope *slope, size_t input, size_t goal)
{
  const tw_goal *g = &study->goal[goal];
  const tw_slope *s = &slope[input * study->outputs + g->output];
  const double half = 0.5 * (study->input[input].law.minus + study->input[input].law.plus);
  const double limit = fabs(g->has_high ? g->high : g->low);
  const double change = s->slope * (half > 0 ? half : 0.01 * fabs(study->now[input]));
  return s->known ? (g->has_high ? -change : change) / (limit > 0 ? limit : 1) : (double)NAN;
}

/* slope, its error, what a tolerance does; and the shares of the scatter */
static json_t *entry(const tw_study *study, const tw_slope *slope, const tw_index *index, size_t k,
                     size_t g)
{
  const tw_goal *goal = &study->goal[g];
  const tw_slope *s = &slope[k * study->outputs + goal->output];
  const tw_study_input *in = &study->input[k];
  json_t *one = json_pack("{s:s, s:b}", "measure", goal->name, "known", s->known);
  if (s->known) {
    const double half = 0.5 * (in->law.minus + in->law.plus);
    json_object_set_new(one, "slope", tw_json_number(s->slope));
    json_object_set_new(one, "error", tw_json_number(s->error));
    json_object_set_new(one, "elasticity",
                        s->has_elasticity ? tw_json_number(s->elasticity) : json_null());
    json_object_set_new(one, "by_tolerance",
                        half > 0
                            ? tw_json_quantity(s->slope * half,
                                               tw_measure_about(study->measure[goal->output])->unit)
                            : json_null());
    json_object_set_new(one, "moves", tw_json_number(tw_driver_moves(study, slope, k, g)));
  }
  if (index) {
    const tw_index *i = &index[g * study->inputs + k];
    json_object_set_new(one, "first",
                        json_pack("{s:o, s:o, s:o}", "value", tw_json_number(i->first), "low",
                                  tw_json_number(i->first_low), "high",
                                  tw_json_number(i->first_high)));
    json_object_set_new(one, "total",
                        json_pack("{s:o, s:o, s:o}", "value", tw_json_number(i->total), "low",
                                  tw_json_number(i->total_low), "high",
                                  tw_json_number(i->total_high)));
  }
  return one;
}

json_t *tw_document_drivers(const tw_study *study, const tw_slope *slope, const tw_index *index,
                            size_t rows, size_t used)
{
  char level[64];
  tw_study_level_text(study, level, sizeof level);
  json_t *document = tw_document_new("drivers"), *list = json_array(), *asked = json_array();
  for (size_t g = 0; g < study->goals; g++) {
    json_array_append_new(asked, tw_json_requirement(study, g));
  }
  for (size_t k = 0; k < study->inputs; k++) {
    json_t *each = json_array();
    for (size_t g = 0; g < study->goals; g++) {
      json_array_append_new(each, entry(study, slope, index, k, g));
    }
    json_array_append_new(list,
                          json_pack("{s:s, s:o, s:o}", "field", study->input[k].path, "now",
                                    tw_json_input(study, k, study->now[k]), "requirements", each));
  }
  json_object_set_new(document, "design", tw_json_design(study->design));
  json_object_set_new(document, "level", json_string(level));
  json_object_set_new(document, "rows", json_integer((json_int_t)rows));
  json_object_set_new(document, "used", json_integer((json_int_t)used));
  json_object_set_new(document, "requirements", asked);
  json_object_set_new(document, "fields", list);
  return document;
}
