/* json_identify.c: the document of `identify`: this unit, how surely it is known, whether the model
 * holds, what to measure next. */
#include "tripwright/documents.h"
#include "tripwright/identify.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *check_name(const tw_identified *d, tw_bench_id id)
{
  const tw_bench_check *c = tw_bench_find(&d->card, id);
  return c ? c->name : (size_t)id == TW_IDENTIFY_CHARGE ? "charge_per_newton" : "";
}

static json_t *reading_row(const tw_identified *d, const tw_bench_reading *r, const tw_fitted *f)
{
  const tw_bench_check *c = tw_bench_find(&d->card, r->id);
  const char *unit = c ? c->unit : "C/N";
  json_t *o = json_pack("{s:s, s:s, s:s, s:b, s:b}", "check", check_name(d, r->id), "title",
                        c ? c->title : "charge of a push, from a recording", "unit", unit, "agrees",
                        (int)f->agrees, "set_aside", (int)f->set_aside);
  if (!f->number) {
    json_object_set_new(o, "reading", json_string(r->kind == TW_READ_WORD ? r->word : "none"));
    return o;
  }
  json_object_set_new(o, "reading", tw_json_quantity(f->value, unit));
  json_object_set_new(o, "u", tw_json_number(f->u));
  json_object_set_new(o, "drawing", tw_json_number(f->drawing));
  json_object_set_new(o, "fitted", tw_json_number(f->unit));
  json_object_set_new(o, "deviations", tw_json_number(f->off));
  return o;
}

static json_t *ends_of(const double ends[3], double u)
{
  json_t *o = json_pack("{s:o, s:[o, o]}", "value", tw_json_number(ends[0]), "interval",
                        tw_json_number(ends[1]), tw_json_number(ends[2]));
  if (u >= 0) {
    json_object_set_new(o, "u", tw_json_number(u));
  }
  return o;
}

static const char *told(const tw_parameter *p)
{
  return p->bounded_below              ? "at least"
         : p->bounded_above            ? "at most"
         : p->shrink < TW_DETERMINED   ? "told"
         : p->shrink < TW_UNDETERMINED ? "partly"
                                       : "not told";
}

static json_t *parameter_row(const tw_parameter *p)
{
  json_t *o = json_pack("{s:s, s:s, s:s, s:f, s:b}", "name", p->name, "unit", p->unit, "told",
                        told(p), "shrink", p->shrink, "profile", (int)p->by_profile);
  if (p->kind == TW_PARAMETER_FIELD) {
    json_object_set_new(o, "field", json_string(p->name));
    json_object_set_new(o, "help", json_string(tw_field_of(p->field)->help));
  }
  json_object_set_new(o, "before", ends_of(p->before, -1));
  json_object_set_new(o, "after", ends_of(p->after, p->by_profile ? -1 : p->u));
  return o;
}

static json_t *foreseen_rows(const tw_identified *d)
{
  json_t *rows = json_array();
  for (size_t w = 0; w < TW_IDENTIFY_SHOWN; w++) {
    const tw_foreseen *f = &d->foreseen[w];
    const tw_bench_check *c = w < TW_BENCH_COUNT ? tw_bench_find(&d->card, (tw_bench_id)w) : NULL;
    if (!f->known || (w < TW_BENCH_COUNT && !c)) {
      continue;
    }
    json_array_append_new(
        rows, json_pack("{s:s, s:s, s:o, s:o, s:o, s:o}", "check",
                        c ? c->name : "charge_per_newton", "unit", c ? c->unit : "C/N", "drawing",
                        tw_json_number(f->drawing), "fitted", tw_json_number(f->unit), "u_before",
                        tw_json_number(f->u_before), "u", tw_json_number(f->u)));
  }
  return rows;
}

static json_t *next_rows(const tw_identified *d)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < d->next_count; i++) {
    const tw_next_check *n = &d->next[i];
    const tw_bench_check *c = tw_bench_find(&d->card, n->id);
    json_array_append_new(rows,
                          json_pack("{s:s, s:s, s:f, s:f, s:f, s:f}", "check", c->name, "title",
                                    c->title, "nats", n->nats, "minutes", n->minutes, "per_minute",
                                    n->nats / n->minutes, "width_left", n->left));
  }
  return rows;
}

static json_t *together_rows(const tw_identified *d)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < d->together_count; i++) {
    const tw_together *t = &d->together[i];
    json_t *names = json_array(), *shares = json_array();
    for (size_t k = 0; k < t->count; k++) {
      json_array_append_new(names, json_string(d->parameter[t->parameter[k]].name));
      json_array_append_new(shares, tw_json_number(t->share[k]));
    }
    json_array_append_new(rows, json_pack("{s:f, s:o, s:o}", "singular", t->singular, "parameters",
                                          names, "shares", shares));
  }
  return rows;
}

/* "0.03", "less than 1e-9" */
static const char *chance(double p, char out[32])
{
  if (p < 1e-9) {
    snprintf(out, 32, "less than 1e-9");
  } else {
    snprintf(out, 32, "%.1g", p);
  }
  return out;
}

/* what the chi-square says, in one sentence */
static void sentence(const tw_identified *d, char *out, size_t size)
{
  char with[32], without[32];
  chance(d->probability, with);
  chance(d->probability_without, without);
  const char *who = d->worst >= 0 ? check_name(d, d->fitted[d->worst].id) : "";
  if (d->numbers == 0) {
    snprintf(out, size, "Nothing was read: this is what the drawing alone says.");
  } else if (d->probability >= TW_IDENTIFY_HOLDS && d->worst < 0) {
    snprintf(out, size, "The model holds: such readings come by chance in %.0f of 100 such units.",
             100 * d->probability);
  } else if (d->probability >= TW_IDENTIFY_HOLDS) {
    snprintf(out, size,
             "The model holds, but %s lies apart: without it the probability is %s in place of %s.",
             who, without, with);
  } else if (d->holds) {
    snprintf(out, size,
             "%s disagrees with all other readings and was set aside: the probability is %s "
             "without it, %s with it. Read it again.",
             who, without, with);
  } else {
    snprintf(out, size,
             "The model does not hold: such readings come by chance with a probability of %s. "
             "Something is wrong that no tolerance covers; tripwright suspect looks for it.",
             with);
  }
}

static json_t *values_of(const tw_unit_values *values)
{
  json_t *rows = json_array();
  for (size_t i = 0; i < values->count; i++) {
    json_array_append_new(
        rows, json_pack("{s:s, s:s}", "field", values->set[i].path, "text", values->set[i].text));
  }
  return rows;
}

json_t *tw_document_identify(const tw_design *design, const tw_bench_reading *reading,
                             const tw_identified *d, const tw_unit_values *values,
                             const char *about)
{
  json_t *document = tw_document_new("identify");
  json_t *rows = json_array(), *parameters = json_array();
  char text[400];
  for (size_t i = 0; i < d->readings; i++) {
    json_array_append_new(rows, reading_row(d, &reading[i], &d->fitted[i]));
  }
  for (size_t k = 0; k < d->parameters; k++) {
    json_array_append_new(parameters, parameter_row(&d->parameter[k]));
  }
  sentence(d, text, sizeof text);
  json_object_set_new(document, "design", tw_json_design(design));
  tw_json_put_state(document, d->card.state, &d->card.trouble);
  json_object_set_new(document, "holds", json_boolean(d->holds));
  json_object_set_new(document, "verdict", json_string(text));
  json_object_set_new(document, "chi_square", tw_json_number(d->chi_square));
  json_object_set_new(document, "degrees_of_freedom", json_integer((json_int_t)d->numbers));
  json_object_set_new(document, "probability", tw_json_number(d->probability));
  json_object_set_new(document, "disagrees",
                      d->worst >= 0 ? json_string(check_name(d, d->fitted[d->worst].id))
                                    : json_null());
  json_object_set_new(document, "probability_without", tw_json_number(d->probability_without));
  json_object_set_new(document, "readings", rows);
  json_object_set_new(document, "parameters", parameters);
  json_object_set_new(document, "together", together_rows(d));
  json_object_set_new(document, "foreseen", foreseen_rows(d));
  json_object_set_new(document, "about", about ? json_string(about) : json_null());
  if (about) {
    json_object_set_new(
        document, "about_width",
        json_pack("[o, o]", tw_json_number(d->asked_before), tw_json_number(d->asked_after)));
  }
  json_object_set_new(document, "next", next_rows(d));
  json_object_set_new(document, "unit_file", values_of(values));
  json_object_set_new(document, "cards", json_integer((json_int_t)d->cards));
  return document;
}
