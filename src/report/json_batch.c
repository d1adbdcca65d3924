/* json_batch.c: what a batch costs and what to order for it. */
#include "tripwright/documents_batch.h"
#include "tripwright/study_stats.h"

#include <math.h>
#include <string.h>

/* what of the shares of failing units is known from where; 95 % */
static json_t *basis_of(const tw_batch_basis *basis)
{
  if (basis->builds == 0) {
    return json_pack("{s:s}", "from",
                     basis->stated ? "stated share" : "nothing: all taken as good");
  }
  double low, high;
  tw_yield_interval(basis->good, basis->builds, 0.95, &low, &high);
  return json_pack("{s:s, s:I, s:I, s:f, s:f, s:f}", "from", "builds of the batch", "builds",
                   (json_int_t)basis->builds, "good", (json_int_t)basis->good, "share",
                   (double)basis->good / (double)basis->builds, "low", low, "high", high);
}

static json_t *head_of(const char *name, const tw_design *design, const tw_batch *batch,
                       const tw_batch_basis *basis)
{
  json_t *d = tw_document_new(name);
  json_object_set_new(d, "design", tw_json_design(design));
  json_object_set_new(d, "currency", json_string(tw_design_text(design, TW_F_costs_currency)));
  json_object_set_new(d, "hour", tw_json_number(tw_design_number_or(design, TW_F_costs_hour, 0)));
  json_object_set_new(d, "good", json_integer(batch->good));
  json_object_set_new(d, "sure", tw_json_number(batch->sure));
  json_object_set_new(d, "starts", json_integer(batch->starts));
  json_object_set_new(d, "chance", tw_json_number(batch->chance));
  json_object_set_new(d, "share", tw_json_number(batch->share));
  json_object_set_new(d, "starts_per_good", tw_json_number(batch->starts_per_good));
  json_object_set_new(d, "requirements", basis_of(basis));
  return d;
}

static json_t *line_of(const tw_batch_line *l)
{
  json_t *one = json_pack(
      "{s:s, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "step", l->name,
      "enter", l->need, "setup", tw_json_quantity(l->setup, "s"), "attended",
      tw_json_quantity(l->attended, "s"), "machine", tw_json_quantity(l->machine, "s"), "test",
      tw_json_quantity(l->test, "s"), "parts", tw_json_number(l->parts), "material",
      tw_json_number(l->material), "fails", tw_json_number(l->fails), "passes",
      tw_json_number(l->work.passes), "reworks", tw_json_number(l->outcome.reworks), "yield",
      tw_json_number(l->outcome.yield), "cost", tw_json_number(l->parts + l->outcome.cost),
      "cost_per_good", tw_json_number(l->good));
  if (l->test > 0) {
    json_object_set_new(one, "without_test",
                        json_pack("{s:o, s:o}", "bad_sold", tw_json_number(l->bad_without),
                                  "cost_per_truly_good", tw_json_number(l->truly_without)));
  }
  return one;
}

static json_t *ready_of(const tw_ready *r)
{
  return json_pack("{s:o, s:o, s:o}", "network", tw_json_quantity(r->days * 86400, "s"), "at_least",
                   tw_json_quantity(r->at_least * 86400, "s"), "at_most",
                   tw_json_quantity(r->at_most * 86400, "s"));
}

static json_t *tasks_of(const tw_batch *batch)
{
  json_t *list = json_array();
  for (size_t i = 0; i < batch->tasks; i++) {
    const tw_task *t = &batch->task[i];
    json_array_append_new(list,
                          json_pack("{s:s, s:o, s:o, s:o, s:b, s:b}", "task", t->name, "time",
                                    tw_json_quantity(t->days * 86400, "s"), "start",
                                    tw_json_quantity(batch->last.start[i] * 86400, "s"), "slack",
                                    tw_json_quantity(batch->last.slack[i] * 86400, "s"), "critical",
                                    batch->last.critical[i], "by_hand", t->hands));
  }
  return list;
}

static json_t *lot_of(const tw_lot *lot)
{
  return json_pack("{s:o, s:o, s:o, s:o, s:i, s:i, s:i}", "cost", tw_json_number(lot->cost),
                   "cost_per_good", tw_json_number(lot->per_good), "cost_per_good_one_lot",
                   tw_json_number(lot->one_lot), "none_good", tw_json_number(lot->none), "low",
                   lot->low, "middle", lot->middle, "high", lot->high);
}

/* parts of the file that no step takes */
static json_t *idle_of(const tw_design *design, const tw_batch *batch)
{
  json_t *list = json_array();
  for (size_t i = 0; i < tw_design_parts(design); i++) {
    const tw_part *part = tw_design_part(design, i);
    bool taken = part->state == TW_PART_FITTED;
    for (size_t k = 0; k < batch->parts; k++) {
      taken = taken || batch->part[k].part == part;
    }
    if (!taken) {
      json_array_append_new(list, json_string(part->name));
    }
  }
  return list;
}

json_t *tw_document_cost(const tw_design *design, const tw_batch *batch,
                         const tw_batch_basis *basis)
{
  json_t *d = head_of("cost", design, batch, basis), *steps = json_array();
  for (size_t k = 0; k < batch->lines; k++) {
    json_array_append_new(steps, line_of(&batch->line[k]));
  }
  json_object_set_new(d, "steps", steps);
  json_object_set_new(d, "parts_without_step", idle_of(design, batch));
  json_object_set_new(d, "cost_per_good", tw_json_number(batch->per_good));
  json_object_set_new(d, "setups", tw_json_number(batch->setups));
  json_object_set_new(d, "setup_time", tw_json_quantity(batch->setup_time, "s"));
  json_object_set_new(d, "direct_per_good", tw_json_number(batch->lot.per_good));
  json_object_set_new(d, "overhead_per_good", tw_json_number(batch->overhead));
  json_object_set_new(d, "attended_per_good", tw_json_quantity(batch->attended, "s"));
  json_object_set_new(d, "machine_per_good", tw_json_quantity(batch->machine, "s"));
  json_object_set_new(d, "bad_sold", tw_json_number(batch->bad));
  json_object_set_new(d, "cost_per_truly_good", tw_json_number(batch->truly));
  json_object_set_new(d, "lot", lot_of(&batch->lot));
  json_object_set_new(d, "ready_first", ready_of(&batch->first));
  json_object_set_new(d, "ready_all", ready_of(&batch->last));
  json_object_set_new(d, "tasks", tasks_of(batch));
  return d;
}

json_t *tw_document_order(const tw_design *design, const tw_batch *batch,
                          const tw_batch_basis *basis)
{
  json_t *d = head_of("order", design, batch, basis), *parts = json_array(), *steps = json_array();
  for (size_t i = 0; i < batch->parts; i++) {
    const tw_batch_part *p = &batch->part[i];
    json_array_append_new(parts, json_pack("{s:s, s:s, s:i, s:i, s:i, s:i, s:o, s:o, s:o}", "part",
                                           p->part->name, "step", batch->line[p->line].name, "need",
                                           p->need, "have", p->have, "order", p->order, "buy",
                                           p->buy.count, "pay", tw_json_number(p->buy.pay),
                                           "pay_for_need_only", tw_json_number(p->buy.pay_for_need),
                                           "lead_time", tw_json_quantity(p->part->lead_time, "s")));
  }
  for (size_t k = 0; k < batch->lines; k++) {
    json_array_append_new(steps, json_pack("{s:s, s:i, s:o}", "step", batch->line[k].name, "enter",
                                           batch->line[k].need, "yield",
                                           tw_json_number(batch->line[k].outcome.yield)));
  }
  json_object_set_new(d, "steps", steps);
  json_object_set_new(d, "parts", parts);
  json_object_set_new(d, "parts_without_step", idle_of(design, batch));
  json_object_set_new(d, "pay", tw_json_number(batch->pay));
  json_object_set_new(d, "cheapest_proven", json_boolean(batch->proven));
  return d;
}
