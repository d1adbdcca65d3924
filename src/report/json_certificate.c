/* json_certificate.c: the certificate of one unit as a document. */
#include "tripwright/documents.h"
#include "tripwright/report_certificate.h"

#include <string.h>

static json_t *risks_of(const tw_certified_result *r)
{
  return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "batch_mean",
                   tw_json_number(r->batch_mean), "batch_sd", tw_json_number(r->batch_sd),
                   "consumer_of_all", tw_json_number(r->risks.consumer), "producer_of_all",
                   tw_json_number(r->risks.producer), "accepted", tw_json_number(r->risks.accepted),
                   "bad_of_accepted", tw_json_number(r->risks.bad_of_accepted), "good_of_rejected",
                   tw_json_number(r->risks.good_of_rejected));
}

static json_t *result_of(const tw_certified_result *r)
{
  const tw_measure_info *about = tw_measure_about(r->id);
  json_t *o = json_pack("{s:s, s:s, s:s, s:s}", "requirement", about->name, "limit", r->limit->text,
                        "unit", about->unit, "verdict", tw_certified_text(r->verdict));
  if (r->word) {
    json_object_set_new(o, "word", json_string(r->word));
  } else if (r->read) {
    json_object_set_new(o, "value", tw_json_number(r->value));
    json_object_set_new(o, "expanded_uncertainty", tw_json_number(2 * r->u));
    json_object_set_new(o, "guard", tw_json_number(r->guard));
    json_object_set_new(o, "conforms", tw_json_number(r->conforms));
    json_object_set_new(o, "conforms_by_reading_alone", tw_json_number(r->conforms_flat));
  }
  if (r->read) {
    json_object_set_new(o, "instrument", r->instrument ? json_string(r->instrument) : json_null());
    json_object_set_new(o, "document", r->document ? json_string(r->document) : json_null());
  }
  if (r->has_batch) {
    json_object_set_new(o, "risks", risks_of(r));
  }
  return o;
}

json_t *tw_document_certificate(const tw_certificate *c)
{
  json_t *d = tw_document_new("certificate"), *results = json_array();
  for (size_t i = 0; i < c->count; i++) {
    json_array_append_new(results, result_of(&c->result[i]));
  }
  json_object_set_new(d, "unit", json_string(c->unit));
  json_object_set_new(d, "date", json_string(c->date));
  json_object_set_new(d, "issued_by", c->issued_by ? json_string(c->issued_by) : json_null());
  json_object_set_new(d, "design", tw_json_design(c->design));
  json_object_set_new(d, "design_sha256", json_string(c->digest));
  json_object_set_new(d, "temperature", c->temperature ? json_string(c->temperature) : json_null());
  json_object_set_new(d, "replaces", c->replaces ? json_string(c->replaces) : json_null());
  json_object_set_new(d, "rule", json_string(tw_decision_text(c->ask->rule)));
  json_object_set_new(d, "wanted_risk",
                      c->ask->rule == TW_DECIDE_RISK ? json_real(c->ask->risk) : json_null());
  json_object_set_new(d, "batch_builds", json_integer((json_int_t)c->builds));
  json_object_set_new(d, "batch_agreed", json_boolean(c->ask->batch_agreed));
  json_object_set_new(d, "results", results);
  if (c->all->has_batch) {
    json_object_set_new(
        d, "all_together",
        json_pack("{s:o, s:o, s:o}", "consumer_of_all", tw_json_number(c->all->together), "at_most",
                  tw_json_number(c->all->sum), "accepted", tw_json_number(c->all->accepted)));
  }
  return d;
}
