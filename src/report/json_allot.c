/* json_allot.c: tolerances at least cost. */
#include "tripwright/documents_batch.h"

#include <math.h>

static json_t *count_of(const tw_allot_count *c)
{
  return json_pack("{s:I, s:I, s:f, s:f, s:f}", "builds", (json_int_t)c->builds, "good",
                   (json_int_t)c->good, "share", c->share, "low", c->low, "high", c->high);
}

/* one grade looser or tighter: what it costs more and how many are good then */
static json_t *step_of(const tw_allot_answer *a, size_t i, int step, bool is,
                       const tw_allot_count *count)
{
  const tw_allot_dim *d = &a->problem.dim[i];
  const size_t g = a->set.grade[i];
  return is ? json_pack("{s:f, s:f, s:f}", "hold", d->hold[(int)g + step], "cost",
                        d->cost[(int)g + step] - d->cost[g], "yield", count->share - a->table.share)
            : json_null();
}

static json_t *dim_of(const tw_study *study, const tw_allot_answer *a, size_t i)
{
  const tw_allot_dim *d = &a->problem.dim[i];
  const tw_allot_field *f = &a->field[i];
  const char *unit = study->input[f->input].si;
  json_t *grades = json_array();
  for (size_t g = 0; g < d->grades; g++) {
    json_array_append_new(grades, json_pack("{s:f, s:f}", "hold", d->hold[g], "cost", d->cost[g]));
  }
  return json_pack("{s:s, s:s?, s:o, s:o, s:o, s:i, s:f, s:s, s:b, s:o, s:o, s:o}", "field",
                   d->name, "process", f->process, "now", tw_json_quantity(f->now, unit), "centre",
                   tw_json_quantity(f->centre, unit), "hold",
                   tw_json_quantity(d->hold[a->set.grade[i]], unit), "grade", a->set.grade[i],
                   "cost", d->cost[a->set.grade[i]], "unit", unit, "let_go", a->set.grade[i] == 0,
                   "grades", grades, "looser", step_of(a, i, -1, a->looser_is[i], &a->looser[i]),
                   "tighter", step_of(a, i, 1, a->tighter_is[i], &a->tighter[i]));
}

static json_t *set_cost(bool found, const tw_allot_set *set)
{
  return found ? json_real(set->cost) : json_null();
}

json_t *tw_document_allot(const tw_study *study, const tw_allot_ask *ask, const tw_allot_answer *a)
{
  json_t *d = tw_document_new("allot"), *dims = json_array(), *rules = json_array();
  for (size_t i = 0; i < a->problem.dims; i++) {
    json_array_append_new(dims, dim_of(study, a, i));
  }
  for (size_t r = 0; r < a->problem.rules; r++) {
    json_array_append_new(rules, json_pack("{s:s, s:f}", "requirement", a->problem.rule[r].name,
                                           "yield", a->table.own[r]));
  }
  json_object_set_new(d, "design", tw_json_design(study->design));
  json_object_set_new(d, "currency",
                      json_string(tw_design_text(study->design, TW_F_costs_currency)));
  json_object_set_new(d, "target", tw_json_number(ask->target));
  json_object_set_new(d, "found", json_boolean(a->found));
  json_object_set_new(d, "sets", json_integer((json_int_t)a->screen.sets));
  json_object_set_new(d, "counted", json_integer((json_int_t)a->counted));
  json_object_set_new(d, "cost", tw_json_number(a->set.cost));
  json_object_set_new(d, "cost_now", a->now_cost < 0 ? json_null() : json_real(a->now_cost));
  json_object_set_new(d, "now", count_of(&a->now));
  json_object_set_new(d, "table", count_of(&a->table));
  json_object_set_new(d, "engine", count_of(&a->engine));
  json_object_set_new(d, "dimensions", dims);
  json_object_set_new(d, "requirements", rules);
  json_object_set_new(d, "limited_by",
                      a->found ? json_null() : json_string(a->problem.rule[a->limits].name));
  json_object_set_new(d, "equal_grades",
                      a->equal_found ? json_pack("{s:f, s:o}", "cost", a->equal.cost, "table",
                                                 count_of(&a->equal_table))
                                     : json_null());
  json_object_set_new(d, "worst_case_cost", set_cost(a->worst_found, &a->worst));
  json_object_set_new(d, "root_of_squares_cost", set_cost(a->squares_found, &a->squares));
  json_object_set_new(d, "screen", json_pack("{s:f, s:f}", "shift", a->shift, "slope", a->slope));
  if (a->screen.per_good_cost < HUGE_VAL && ask->other_cost > 0) {
    json_object_set_new(d, "least_per_good",
                        json_pack("{s:f, s:f, s:f}", "cost_per_good", a->screen.per_good_cost,
                                  "cost", a->screen.per_good.cost, "yield",
                                  a->screen.per_good_yield));
  }
  return d;
}
