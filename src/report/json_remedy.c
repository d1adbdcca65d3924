/* json_remedy.c: the smallest changes that keep every requirement. */
#include "tripwright/documents_study.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct answer {
  const tw_study *study;
  const tw_levers *levers;
} answer;

bool tw_change_text(const tw_study *study, const tw_levers *levers, const tw_change *change,
                    char *out, size_t size)
{
  const tw_study_input *in = &study->input[levers->lever[change->lever].input];
  if (in->choice) {
    const double place = fmin(fmax(round(change->to), 0), (double)(in->choices - 1));
    snprintf(out, size, "%s", in->choice[(size_t)place].word);
    return true;
  }
  const tw_field_info *about = tw_field_of(in->field);
  const tw_quantity value = {
      change->to, in->cell
                      ? tw_design_table(study->design, in->field)->cells[in->row * 2 + 1].tolerance
                      : tw_design_tolerance(study->design, in->field)};
  tw_unit unit;
  const char *kind = in->cell ? "mm" : about->type == TW_TYPE_QUANTITY ? about->unit : "1";
  if (tw_units_find(study->units, kind, &unit, NULL) != TW_OK) {
    return false;
  }
  tw_quantity_print(&value, &unit, 6, out, size);
  return true;
}

static json_t *change(const answer *a, const tw_change *c)
{
  const tw_lever *lever = &a->levers->lever[c->lever];
  char text[160] = "";
  (void)tw_change_text(a->study, a->levers, c, text, sizeof text);
  return json_pack("{s:s, s:s, s:o, s:o, s:s}", "field", lever->name, "part",
                   a->levers->remake[lever->part].name, "from",
                   tw_json_input(a->study, lever->input, lever->now), "to",
                   tw_json_input(a->study, lever->input, c->to), "text", text);
}

/* margins before and after; the study's own model says them */
static json_t *margins(const answer *a, const tw_remedy *remedy)
{
  tw_study *study = (tw_study *)(uintptr_t)a->study;
  const tw_study_model model = tw_study_as_model(study);
  double x[TW_FIELD_COUNT], y[2][TW_MEASURE_COUNT];
  unsigned char outcome[2][TW_MEASURE_COUNT];
  json_t *list = json_array();
  memcpy(x, study->now, sizeof x);
  bool good = tw_study_evaluate(&model, 0, x, y[0], outcome[0], NULL) == TW_OK;
  for (size_t i = 0; i < remedy->changes; i++) {
    x[a->levers->lever[remedy->change[i].lever].input] = remedy->change[i].to;
  }
  good = good && tw_study_evaluate(&model, 0, x, y[1], outcome[1], NULL) == TW_OK;
  for (size_t g = 0; good && g < study->goals; g++) {
    json_t *after = tw_json_goal(study, g, y[1], outcome[1]);
    json_object_set_new(after, "margin_before",
                        tw_json_number(tw_goal_margin(&study->goal[g], y[0], outcome[0])));
    json_array_append_new(list, after);
  }
  return list;
}

static json_t *remedy_of(const answer *a, const tw_remedy *remedy)
{
  json_t *changes = json_array(), *parts = json_array();
  for (size_t i = 0; i < remedy->changes; i++) {
    json_array_append_new(changes, change(a, &remedy->change[i]));
  }
  for (size_t p = 0; p < a->levers->remakes; p++) {
    for (size_t i = 0; i < remedy->changes; i++) {
      if (a->levers->lever[remedy->change[i].lever].part == p) {
        json_array_append_new(parts, json_string(a->levers->remake[p].name));
        break;
      }
    }
  }
  json_t *one = json_pack("{s:o, s:o, s:o, s:f, s:f, s:o, s:s, s:o}", "changes", changes, "parts",
                          parts, "time", tw_json_quantity(remedy->time, "s"), "cost", remedy->cost,
                          "size", remedy->size, "margin", tw_json_number(remedy->margin), "worst",
                          a->study->goal[remedy->worst].name, "requirements", margins(a, remedy));
  if (remedy->has_yield) {
    json_object_set_new(one, "yield", tw_json_number(remedy->yield));
  }
  json_object_set_new(one, "judged", json_boolean(remedy->judged));
  json_object_set_new(one, "new_warnings", json_integer(remedy->warnings));
  if (remedy->warnings > 0) {
    json_object_set_new(one, "warning", json_string(remedy->warning));
  }
  return one;
}

static json_t *exclusion(const answer *a, const tw_exclusion *e)
{
  if (!e->found) {
    return json_null();
  }
  return json_pack("{s:s, s:s, s:o, s:o, s:o}", "one", a->study->goal[e->a].name, "other",
                   a->study->goal[e->b].name, "together", tw_json_number(e->margin), "one_alone",
                   tw_json_number(e->alone_a), "other_alone", tw_json_number(e->alone_b));
}

json_t *tw_document_remedy(const tw_study *study, const tw_levers *levers,
                           const tw_remedies *remedies)
{
  const answer a = {study, levers};
  char level[64];
  tw_study_level_text(study, level, sizeof level);
  json_t *document = tw_document_new("remedy"), *list = json_array(), *parts = json_array();
  for (size_t i = 0; i < remedies->count; i++) {
    json_array_append_new(list, remedy_of(&a, &remedies->remedy[i]));
  }
  for (size_t p = 0; p < levers->remakes; p++) {
    const tw_remake *r = &levers->remake[p];
    json_array_append_new(parts,
                          json_pack("{s:s, s:f, s:o, s:b}", "part", r->name, "cost", r->cost,
                                    "time", tw_json_quantity(r->time, "s"), "fixed", r->fixed));
  }
  const bool nearest = remedies->count == 0 && !remedies->met && remedies->nearest.changes > 0;
  json_object_set_new(document, "design", tw_json_design(study->design));
  json_object_set_new(document, "level", json_string(level));
  json_object_set_new(document, "met", json_boolean(remedies->met));
  json_object_set_new(document, "margin", tw_json_number(remedies->margin));
  json_object_set_new(document, "worst",
                      study->goals ? json_string(study->goal[remedies->worst].name) : json_null());
  json_object_set_new(document, "levers", json_integer((json_int_t)tw_levers_free_ones(levers)));
  json_object_set_new(document, "parts", parts);
  json_object_set_new(document, "remedies", list);
  json_object_set_new(document, "nearest",
                      nearest ? remedy_of(&a, &remedies->nearest) : json_null());
  json_object_set_new(document, "exclusion", exclusion(&a, &remedies->exclusion));
  json_object_set_new(document, "evaluations", json_integer((json_int_t)remedies->evaluations));
  json_object_set_new(document, "judged", json_boolean(remedies->judged));
  json_object_set_new(document, "eased", json_boolean(remedies->eased));
  json_object_set_new(document, "refused", json_integer((json_int_t)remedies->refused));
  json_object_set_new(document, "short_of_yield", json_integer((json_int_t)remedies->short_of));
  if (remedies->has_yield) {
    json_object_set_new(document, "yield", tw_json_number(remedies->yield));
  }
  json_object_set_new(document, "complete", json_boolean(remedies->complete));
  return document;
}
