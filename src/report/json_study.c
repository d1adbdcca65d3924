/* json_study.c: pieces that the documents of all studies share, and ranges. */
#include "tripwright/documents_study.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

json_t *tw_json_input(const tw_study *study, size_t input, double value)
{
  const tw_study_input *own = &study->input[input];
  if (own->choice) {
    const double place = fmin(fmax(round(value), 0), (double)(own->choices - 1));
    const char *word = own->choice[(size_t)place].word;
    return json_pack("{s:s, s:s, s:s}", "value", word, "unit", "", "shown", word);
  }
  const tw_field_info *about = tw_field_of(own->field);
  tw_unit unit = {.scale = 1};
  char shown[64];
  if (about->type == TW_TYPE_QUANTITY || own->cell) {
    (void)tw_units_find(study->units, own->cell ? "mm" : about->unit, &unit, NULL);
  }
  tw_number_print(value, &unit, 5, shown, sizeof shown);
  return json_pack("{s:o, s:s, s:s}", "value", tw_json_number(value), "unit", own->si, "shown",
                   shown);
}

json_t *tw_json_output(const tw_study *study, size_t output, double value, tw_outcome outcome)
{
  const tw_measure_info *about = tw_measure_about(study->measure[output]);
  if (outcome != TW_OUTCOME_OK) {
    return json_pack("{s:n, s:s, s:s}", "value", "unit", about->unit, "state",
                     tw_outcome_text(outcome));
  }
  return strcmp(about->unit, "word") == 0
             ? json_pack("{s:b, s:s}", "value", value > 0.5, "unit", about->unit)
             : tw_json_quantity(value, about->unit);
}

static const tw_limit *limit_of(const tw_study *study, size_t goal)
{
  return &study->limits->of[study->measure[study->goal[goal].output]];
}

json_t *tw_json_goal(const tw_study *study, size_t goal, const double *y,
                     const unsigned char *outcome)
{
  const size_t output = study->goal[goal].output;
  const double margin = tw_goal_margin(&study->goal[goal], y, outcome);
  return json_pack("{s:s, s:s, s:o, s:o, s:b}", "measure", study->goal[goal].name, "text",
                   limit_of(study, goal)->text, "found",
                   tw_json_output(study, output, y[output], (tw_outcome)outcome[output]), "margin",
                   tw_json_number(margin), "met", margin >= 0);
}

json_t *tw_json_requirement(const tw_study *study, size_t goal)
{
  const tw_goal *g = &study->goal[goal];
  const bool word = strcmp(tw_measure_about(study->measure[g->output])->unit, "word") == 0;
  return json_pack("{s:s, s:s, s:o, s:o}", "measure", g->name, "text", limit_of(study, goal)->text,
                   "least", g->has_low && !word ? json_real(g->low) : json_null(), "most",
                   g->has_high && !word ? json_real(g->high) : json_null());
}

/* ---- ranges -------------------------------------------------------------------------------- */

static json_t *head(const tw_study *study)
{
  json_t *document = tw_document_new("vary");
  char level[64];
  tw_study_level_text(study, level, sizeof level);
  json_object_set_new(document, "design", tw_json_design(study->design));
  json_object_set_new(document, "level", json_string(level));
  return document;
}

static json_t *point(const tw_study *study, const double *y, const unsigned char *outcome)
{
  json_t *measures = json_object();
  for (size_t j = 0; j < study->outputs; j++) {
    json_object_set_new(measures, tw_measure_about(study->measure[j])->name,
                        tw_json_output(study, j, y[j], (tw_outcome)outcome[j]));
  }
  size_t worst = 0;
  const double margin = tw_goals_margin(study->goal, study->goals, y, outcome, &worst);
  return json_pack("{s:o, s:o, s:s?, s:b}", "measures", measures, "margin", tw_json_number(margin),
                   "worst", study->goals ? study->goal[worst].name : NULL, "met", margin >= 0);
}

static json_t *requirements(const tw_study *study)
{
  json_t *list = json_array();
  for (size_t g = 0; g < study->goals; g++) {
    json_array_append_new(list, tw_json_requirement(study, g));
  }
  return list;
}

json_t *tw_document_vary(const tw_study *study, const tw_range *range, const double *y,
                         const unsigned char *outcome, const tw_crossing *crossings, size_t count)
{
  json_t *document = head(study), *points = json_array(), *crossed = json_array();
  for (size_t i = 0; i < range->count; i++) {
    json_t *one = point(study, y + i * study->outputs, outcome + i * study->outputs);
    json_object_set_new(one, "at", tw_json_input(study, range->input, tw_range_value(range, i)));
    json_array_append_new(points, one);
  }
  for (size_t i = 0; i < count; i++) {
    const tw_crossing *c = &crossings[i];
    json_array_append_new(
        crossed,
        json_pack("{s:s, s:s, s:o, s:o, s:s}", "measure", study->goal[c->limit].name, "text",
                  limit_of(study, c->limit)->text, "at", tw_json_input(study, range->input, c->at),
                  "within", tw_json_number(c->within), "met", c->enters ? "above" : "below"));
  }
  json_object_set_new(document, "field", json_string(study->input[range->input].path));
  json_object_set_new(document, "now",
                      tw_json_input(study, range->input, study->now[range->input]));
  json_object_set_new(document, "requirements", requirements(study));
  json_object_set_new(document, "points", points);
  json_object_set_new(document, "crossings", crossed);
  return document;
}

json_t *tw_document_vary_two(const tw_study *study, const tw_range *first, const tw_range *second,
                             const double *y, const unsigned char *outcome, const tw_edge *edges,
                             size_t count)
{
  json_t *document = head(study), *points = json_array(), *list = json_array();
  for (size_t i = 0; i < first->count * second->count; i++) {
    json_t *one = point(study, y + i * study->outputs, outcome + i * study->outputs);
    const size_t a = i / second->count, b = i % second->count;
    json_object_set_new(one, "at",
                        json_pack("[o, o]",
                                  tw_json_input(study, first->input, tw_range_value(first, a)),
                                  tw_json_input(study, second->input, tw_range_value(second, b))));
    json_array_append_new(points, one);
  }
  for (size_t i = 0; i < count; i++) {
    json_array_append_new(list,
                          json_pack("{s:s, s:[o, o]}", "measure", study->goal[edges[i].limit].name,
                                    "at", tw_json_input(study, first->input, edges[i].a),
                                    tw_json_input(study, second->input, edges[i].b)));
  }
  json_object_set_new(
      document, "fields",
      json_pack("[s, s]", study->input[first->input].path, study->input[second->input].path));
  json_object_set_new(document, "now",
                      json_pack("[o, o]",
                                tw_json_input(study, first->input, study->now[first->input]),
                                tw_json_input(study, second->input, study->now[second->input])));
  json_object_set_new(document, "counts",
                      json_pack("[I, I]", (json_int_t)first->count, (json_int_t)second->count));
  json_object_set_new(document, "requirements", requirements(study));
  json_object_set_new(document, "points", points);
  json_object_set_new(document, "edges", list);
  return document;
}
