/* json_compare.c: designs side by side: measures, margins, yield, parts, cost. */
#include "tripwright/documents_study.h"

#include <math.h>
#include <string.h>

#define AIMS 5
#define HOUR 3600.0 /* s */

/* money for the work of all parts, at costs.hour */
static double work_cost(const tw_variant *v, double seconds)
{
  return seconds / HOUR * tw_design_number_or(v->design, TW_F_costs_hour, 0);
}

/* what a variant is judged by, less is better; a missing figure is NAN */
static void aims(const tw_variant *v, double *aim)
{
  double least = HUGE_VAL;
  aim[1] = aim[2] = aim[3] = 0;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *m = &v->assessment->measure[i];
    if (m->met == TW_MET_NO && m->state != TW_MEASURE_OK) {
      least = -HUGE_VAL;
    } else if (m->met != TW_MET_NO_RULE) {
      least = fmin(least, m->word ? (m->met == TW_MET_YES ? 1.0 : -1.0) : m->margin);
    }
  }
  for (size_t p = 0; p < tw_design_parts(v->design); p++) {
    const tw_part *part = tw_design_part(v->design, p);
    aim[1] += part->cost;
    aim[2] += part->hours;
    aim[3] = fmax(aim[3], part->lead_time);
  }
  aim[1] += work_cost(v, aim[2]);
  aim[0] = -least;
  aim[4] = v->yield < 0 ? 0 : -v->yield;
}

static bool beats(const double *a, const double *b)
{
  bool better = false;
  for (int i = 0; i < AIMS; i++) {
    if (a[i] > b[i]) {
      return false;
    }
    better = better || a[i] < b[i];
  }
  return better;
}

static json_t *variant_of(const tw_variant *v, const double *aim, bool efficient)
{
  int operations = 0;
  for (size_t p = 0; p < tw_design_parts(v->design); p++) {
    operations += tw_design_part(v->design, p)->operations;
  }
  json_t *one = json_pack("{s:o, s:i, s:i, s:o, s:I, s:i, s:f, s:o, s:o, s:b}", "design",
                          tw_json_design(v->design), "asked", v->assessment->asked, "met",
                          v->assessment->met, "margin", tw_json_number(-aim[0]), "parts",
                          (json_int_t)tw_design_parts(v->design), "operations", operations, "cost",
                          aim[1] - work_cost(v, aim[2]), "work", tw_json_quantity(aim[2], "s"),
                          "lead_time", tw_json_quantity(aim[3], "s"), "efficient", efficient);
  json_object_set_new(one, "work_cost", json_real(work_cost(v, aim[2])));
  json_object_set_new(one, "cost_with_work", json_real(aim[1]));
  if (v->change) {
    json_object_set_new(one, "change", json_string(v->change));
  }
  json_object_set_new(one, "verdict", tw_json_verdict(v->assessment));
  json_object_set_new(one, "yield",
                      v->yield < 0 ? json_null()
                                   : json_pack("{s:f, s:f, s:f}", "share", v->yield, "low",
                                               v->yield_low, "high", v->yield_high));
  return one;
}

/* -1 worse than the first variant, 0 the same, 1 better; by the way the requirement points, or by
 * what is usually wanted */
static int gained(const tw_variant *v, const tw_variant *first, tw_measure_id id)
{
  const tw_measure *a = &first->assessment->measure[id], *b = &v->assessment->measure[id];
  if (a->met != TW_MET_NO_RULE && b->met != TW_MET_NO_RULE && a->met != b->met) {
    return b->met == TW_MET_YES ? 1 : -1;
  }
  if (a->state != TW_MEASURE_OK || b->state != TW_MEASURE_OK || a->word || b->word) {
    return 0;
  }
  const double step = fabs(b->value) - fabs(a->value);
  if (fabs(step) <= 1e-3 * fabs(a->value)) {
    return 0;
  }
  const tw_better better = tw_measure_about(id)->better;
  return better == TW_BETTER_NONE ? 0 : (step > 0) == (better == TW_BETTER_MORE) ? 1 : -1;
}

static json_t *row(const tw_variant *variant, size_t count, tw_measure_id id)
{
  json_t *each = json_array();
  bool any = false;
  for (size_t i = 0; i < count; i++) {
    const tw_measure *m = &variant[i].assessment->measure[id];
    json_t *one = tw_json_measure(id, m, &variant[i].limits->of[id]);
    json_object_set_new(one, "gained", json_integer(gained(&variant[i], &variant[0], id)));
    json_array_append_new(each, one);
    any = any || (m->state != TW_MEASURE_NOT_COMPUTED && m->state != TW_MEASURE_NOT_APPLICABLE);
  }
  if (!any) {
    json_decref(each);
    return NULL;
  }
  return json_pack("{s:s, s:o}", "measure", tw_measure_about(id)->name, "variants", each);
}

json_t *tw_document_compare(const tw_variant *variant, size_t count)
{
  json_t *document = tw_document_new("compare"), *variants = json_array(), *rows = json_array();
  for (size_t i = 0; i < count; i++) {
    double own[AIMS], other[AIMS];
    bool efficient = true;
    aims(&variant[i], own);
    for (size_t k = 0; k < count; k++) {
      aims(&variant[k], other);
      efficient = efficient && !(k != i && beats(other, own));
    }
    json_array_append_new(variants, variant_of(&variant[i], own, efficient));
  }
  for (int id = 0; id < TW_MEASURE_COUNT; id++) {
    json_t *one = row(variant, count, (tw_measure_id)id);
    if (one) {
      json_array_append_new(rows, one);
    }
  }
  json_object_set_new(document, "variants", variants);
  json_object_set_new(document, "measures", rows);
  return document;
}
