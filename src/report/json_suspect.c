/* json_suspect.c: the document of `suspect`: readings against the card, what explains them, and
 * what would tell the explanations apart. */
#include "tripwright/documents.h"

#include <string.h>

static json_t *shown_of(const tw_bench_shown *s, const char *unit)
{
  if (!s->there) {
    return json_null();
  }
  if (s->word) {
    return json_string(s->word);
  }
  return s->known ? tw_json_quantity(s->value, unit) : json_string("none");
}

static json_t *reading_row(const tw_suspicion *s, const tw_bench_reading *r, size_t i)
{
  const tw_bench_check *c = tw_bench_find(&s->card, r->id);
  tw_bench_shown shown[TW_BENCH_COUNT];
  tw_bench_shown_of(&s->card, shown);
  json_t *o = json_pack("{s:s, s:s, s:s, s:s, s:f}", "check", c->name, "title", c->title, "unit",
                        c->unit, "reads", tw_reads_text(s->reads[i]), "deviations", s->off[i]);
  json_object_set_new(o, "reading",
                      r->kind == TW_READ_NUMBER ? tw_json_quantity(r->value, c->unit)
                      : r->kind == TW_READ_WORD ? json_string(r->word)
                                                : json_string("none"));
  json_object_set_new(o, "expected", shown_of(&shown[r->id], c->unit));
  if (shown[r->id].known && !shown[r->id].word) {
    json_object_set_new(
        o, "band",
        json_pack("[o, o]", tw_json_number(shown[r->id].low), tw_json_number(shown[r->id].high)));
  }
  return o;
}

/* SI with its unit and the text as the file would have it, or the word of a choice */
static json_t *value_of(tw_units *units, tw_system system, tw_field field, double value)
{
  const tw_field_info *about = tw_field_of(field);
  tw_unit own = {.scale = 1}, unit = {.scale = 1};
  char shown[64];
  if (about->type == TW_TYPE_CHOICE) {
    const char *word = tw_choice_word(about->set, (int)value);
    return json_pack("{s:s, s:s, s:s}", "value", word ? word : "", "unit", "", "shown",
                     word ? word : "");
  }
  if (about->type == TW_TYPE_QUANTITY) {
    (void)tw_units_find(units, about->unit, &own, NULL);
    tw_unit_shown(units, &own, system, &unit);
  }
  tw_number_print(value, &unit, 3, shown, sizeof shown);
  return json_pack("{s:o, s:s, s:s}", "value", tw_json_number(value), "unit",
                   about->type == TW_TYPE_QUANTITY ? tw_unit_si_name(units, &own) : "1", "shown",
                   shown);
}

static json_t *suspect_row(tw_units *units, tw_system system, const tw_suspicion *s,
                           const tw_suspect *one)
{
  const tw_field_info *about = tw_field_of(one->field);
  json_t *o = json_pack("{s:s, s:s, s:s, s:b, s:f, s:f}", "field", about->path, "part", about->part,
                        "help", about->help, "explains", (int)one->explains, "misfit", one->misfit,
                        "worst", one->worst);
  json_object_set_new(o, "now", value_of(units, system, one->field, one->now));
  json_object_set_new(o, "then", value_of(units, system, one->field, one->then));
  json_t *shown = json_object();
  for (int i = 0; i < s->card.count; i++) {
    const tw_bench_check *c = &s->card.check[i];
    json_object_set_new(shown, c->name, shown_of(&one->shown[c->id], c->unit));
  }
  json_object_set_new(o, "shown", shown);
  return o;
}

json_t *tw_document_suspect(const tw_design *design, tw_units *units, tw_system system,
                            const tw_bench_reading *reading, const tw_suspicion *s)
{
  json_t *document = tw_document_new("suspect");
  json_t *rows = json_array(), *suspects = json_array(), *tests = json_array();
  for (size_t i = 0; i < s->readings; i++) {
    json_array_append_new(rows, reading_row(s, &reading[i], i));
  }
  for (size_t i = 0; i < s->suspects; i++) {
    json_array_append_new(suspects, suspect_row(units, system, s, &s->suspect[i]));
  }
  for (size_t i = 0; i < s->tests; i++) {
    const tw_bench_check *c = tw_bench_find(&s->card, s->test[i].id);
    if (c) {
      json_array_append_new(tests, json_pack("{s:s, s:s, s:s, s:f}", "check", c->name, "title",
                                             c->title, "unit", c->unit, "apart", s->test[i].apart));
    }
  }
  json_object_set_new(document, "design", tw_json_design(design));
  tw_json_put_state(document, s->card.state, &s->card.trouble);
  json_object_set_new(document, "out", json_integer((json_int_t)s->out));
  json_object_set_new(document, "misfit", tw_json_number(s->misfit));
  json_object_set_new(document, "readings", rows);
  json_object_set_new(document, "suspects", suspects);
  json_object_set_new(document, "explaining", json_integer((json_int_t)s->explaining));
  json_object_set_new(document, "tests", tests);
  json_object_set_new(document, "cards", json_integer((json_int_t)s->tried));
  return document;
}

static json_t *fault_row(tw_units *units, tw_system system, const tw_cause *c)
{
  const tw_field_info *about = tw_field_of(c->field);
  json_t *o =
      json_pack("{s:s, s:s, s:s}", "field", about->path, "part", about->part, "help", about->help);
  json_object_set_new(o, "now", value_of(units, system, c->field, c->now));
  json_object_set_new(o, "then", value_of(units, system, c->field, c->then));
  return o;
}

void tw_json_put_causes(json_t *document, tw_units *units, tw_system system,
                        const tw_explanations *causes)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < causes->count; i++) {
    const tw_explanation *e = &causes->of[i];
    json_t *faults = json_array();
    for (size_t c = 0; c < e->causes; c++) {
      json_array_append_new(faults, fault_row(units, system, &e->cause[c]));
    }
    json_t *row = json_pack("{s:o, s:o, s:o, s:o, s:o, s:b}", "faults", faults, "misfit",
                            tw_json_number(e->misfit), "cost", tw_json_number(e->cost), "chance",
                            tw_json_number(e->chance), "worst", tw_json_number(e->worst),
                            "explains", (int)e->explains);
    json_object_set_new(row, "like", e->like < 0 ? json_null() : json_integer(e->like + 1));
    json_array_append_new(rows, row);
  }
  json_object_set_new(document, "causes", rows);
  json_object_set_new(document, "causes_misfit", tw_json_number(causes->misfit));
  json_object_set_new(document, "causes_cards", json_integer((json_int_t)causes->cards));
}
