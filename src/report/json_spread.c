/* json_spread.c: the document of a batch. */
#include "tripwright/documents_study.h"
#include "tripwright/study_fast.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct spread {
  const tw_study *study;
  const tw_sampler *sampler;
  const tw_builds *builds;
  double level;
} spread;

/* ---- yield --------------------------------------------------------------------------------- */

static json_t *share(const spread *s, size_t good, size_t n)
{
  double low = 0, high = 1;
  if (n > 0) {
    tw_yield_interval(good, n, s->level, &low, &high);
  }
  return json_pack("{s:I, s:I, s:o, s:f, s:f}", "good", (json_int_t)good, "builds", (json_int_t)n,
                   "share", n ? json_real((double)good / (double)n) : json_null(), "low", low,
                   "high", high);
}

/* builds that keep goals first .. first + count - 1 */
static size_t good_ones(const spread *s, size_t first, size_t count)
{
  const tw_builds *b = s->builds;
  size_t good = 0;
  for (size_t i = 0; i < b->count; i++) {
    const size_t at = i * b->outputs;
    good += tw_builds_has(b, i) &&
            tw_goals_margin(s->study->goal + first, count, b->y + at, b->outcome + at, NULL) >= 0;
  }
  return good;
}

static json_t *yields(const spread *s)
{
  const tw_study *study = s->study;
  const size_t n = tw_builds_done(s->builds);
  json_t *each = json_array();
  for (size_t g = 0; g < study->goals; g++) {
    json_t *one = share(s, good_ones(s, g, 1), n), *asked = tw_json_requirement(study, g);
    json_object_update(one, asked);
    json_decref(asked);
    json_array_append_new(each, one);
  }
  return json_pack("{s:o, s:o}", "all", share(s, good_ones(s, 0, study->goals), n), "each", each);
}

/* ---- quantiles ----------------------------------------------------------------------------- */

/* Builds that never trip, or that cannot be touched, lie beyond all numbers, at the bad end. */
typedef struct column {
  const tw_outcomes *values;
  size_t n, before;  /* builds that count; of them before the first number */
  tw_outcome beyond; /* what those without a number are */
} column;

static json_t *value_at(const column *c, size_t rank, const char *unit)
{
  return rank > c->before && rank <= c->before + c->values->numbers
             ? tw_json_quantity(c->values->sorted[rank - 1 - c->before], unit)
             : json_string(tw_outcome_text(c->beyond));
}

/* what most of the builds beyond all numbers are */
static tw_outcome most_beyond(const tw_outcomes *o)
{
  tw_outcome most = TW_OUTCOME_NO_TRIP;
  size_t count = o->no_trip;
  const struct {
    size_t count;
    tw_outcome outcome;
  } other[] = {{o->tripped_at_rest, TW_OUTCOME_TRIPPED_AT_REST},
               {o->stuck, TW_OUTCOME_STUCK},
               {o->does_not_rearm, TW_OUTCOME_NO_REARM}};
  for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) {
    most = other[i].count > count ? other[i].outcome : most;
    count = other[i].count > count ? other[i].count : count;
  }
  return most;
}

static json_t *quantile(const spread *s, const column *c, double p, const char *unit)
{
  const tw_ranks ranks = tw_quantile_ranks(c->n, p, s->level);
  json_t *estimate = json_null();
  const double at = p * (double)(c->n + 1);
  if (c->n == c->values->numbers && c->n > 0) {
    estimate = tw_json_quantity(tw_quantile_of(c->values->sorted, c->n, p), unit);
  } else if (c->n > 0) {
    estimate = value_at(c, (size_t)fmin(fmax(round(at), 1), (double)c->n), unit);
  }
  json_t *one = json_pack("{s:f, s:o}", "p", p, "value", estimate);
  if (ranks.exists) {
    json_object_set_new(one, "low", value_at(c, ranks.low, unit));
    json_object_set_new(one, "high", value_at(c, ranks.high, unit));
  } else {
    json_object_set_new(one, "low", json_null());
    json_object_set_new(one, "high", json_null());
    json_object_set_new(one, "needed", json_integer((json_int_t)ranks.needed));
  }
  return one;
}

static void moments(json_t *one, const tw_outcomes *o, const char *unit)
{
  double mean = 0, square = 0;
  for (size_t i = 0; i < o->numbers; i++) {
    const double step = o->sorted[i] - mean;
    mean += step / (double)(i + 1);
    square += step * (o->sorted[i] - mean);
  }
  json_object_set_new(one, "mean", o->numbers ? tw_json_quantity(mean, unit) : json_null());
  json_object_set_new(one, "deviation",
                      o->numbers > 1
                          ? tw_json_quantity(sqrt(square / (double)(o->numbers - 1)), unit)
                          : json_null());
}

/* Equal classes from the least number to the largest, as many as 2 n^(1/3) (the rule that is
 * called after Rice University), at most 40; null when all are alike. */
static json_t *histogram(const tw_outcomes *o)
{
  size_t count[40] = {0};
  if (o->numbers < 2 || !(o->sorted[o->numbers - 1] > o->sorted[0])) {
    return json_null();
  }
  const double low = o->sorted[0], high = o->sorted[o->numbers - 1];
  const double classes = fmin(fmax(ceil(2 * cbrt((double)o->numbers)), 4), 40);
  for (size_t i = 0; i < o->numbers; i++) {
    const double place = floor(classes * ((o->sorted[i] - low) / (high - low)));
    count[(size_t)fmin(place, classes - 1)]++;
  }
  json_t *list = json_array();
  for (size_t k = 0; k < (size_t)classes; k++) {
    json_array_append_new(list, json_integer((json_int_t)count[k]));
  }
  return json_pack("{s:f, s:f, s:o}", "from", low, "to", high, "counts", list);
}

static tw_status measure(const spread *s, size_t output, json_t *list, tw_fault *fault)
{
  static const double share_under[] = {0.05, 0.5, 0.95};
  const tw_measure_info *about = tw_measure_about(s->study->measure[output]);
  tw_outcomes o;
  const tw_status status = tw_builds_outcomes(s->builds, output, &o, fault);
  if (status != TW_OK) {
    return status;
  }
  const size_t without = o.no_trip + o.tripped_at_rest + o.stuck + o.does_not_rearm;
  const column c = {&o, o.numbers + without, about->better == TW_BETTER_MORE ? without : 0,
                    most_beyond(&o)};
  json_t *one =
      json_pack("{s:s, s:s, s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "name", about->name, "unit",
                about->unit, "numbers", (json_int_t)o.numbers, "no_trip", (json_int_t)o.no_trip,
                "no_answer", (json_int_t)o.no_answer, "not_applicable",
                (json_int_t)o.not_applicable, "tripped_at_rest", (json_int_t)o.tripped_at_rest,
                "stuck", (json_int_t)o.stuck, "does_not_rearm", (json_int_t)o.does_not_rearm);
  json_t *quantiles = json_array();
  moments(one, &o, about->unit);
  for (size_t i = 0; i < sizeof share_under / sizeof share_under[0]; i++) {
    json_array_append_new(quantiles, quantile(s, &c, share_under[i], about->unit));
  }
  json_object_set_new(one, "quantiles", quantiles);
  json_object_set_new(one, "histogram", histogram(&o));
  json_array_append_new(list, one);
  tw_outcomes_free(&o);
  return TW_OK;
}

static tw_status measures(const spread *s, json_t *list, tw_fault *fault)
{
  tw_status status = TW_OK;
  for (size_t j = 0; j < s->study->outputs && status == TW_OK; j++) {
    if (strcmp(tw_measure_about(s->study->measure[j])->unit, "word") != 0) {
      status = measure(s, j, list, fault);
    }
  }
  return status;
}

/* ---- what fails ---------------------------------------------------------------------------- */

#define STANDOUTS 5

/* the fields that stand out most, three standard errors or more */
static json_t *standing_out(const spread *s, const tw_standout *out)
{
  json_t *list = json_array();
  bool told[TW_FIELD_COUNT] = {false};
  for (int rank = 0; rank < STANDOUTS; rank++) {
    size_t best = SIZE_MAX;
    for (size_t k = 0; k < s->study->inputs; k++) {
      if (!told[k] && fabs(out[k].score) >= 3 &&
          (best == SIZE_MAX || fabs(out[k].score) > fabs(out[best].score))) {
        best = k;
      }
    }
    if (best == SIZE_MAX) {
      break;
    }
    told[best] = true;
    json_array_append_new(list, json_pack("{s:s, s:f, s:f}", "field", s->study->input[best].path,
                                          "shift", out[best].shift, "score", out[best].score));
  }
  return list;
}

static tw_status failures(const spread *s, json_t *list, tw_fault *fault)
{
  tw_standout out[TW_FIELD_COUNT];
  for (size_t g = 0; g < s->study->goals; g++) {
    size_t failing = 0;
    const tw_status status =
        tw_builds_standouts(s->builds, s->sampler, &s->study->goal[g], out, &failing, fault);
    if (status != TW_OK) {
      return status;
    }
    if (failing > 0) {
      json_array_append_new(list, json_pack("{s:s, s:I, s:o}", "measure", s->study->goal[g].name,
                                            "failing", (json_int_t)failing, "fields",
                                            standing_out(s, out)));
    }
  }
  return TW_OK;
}

/* ---- the whole ----------------------------------------------------------------------------- */

static json_t *inputs(const tw_study *study)
{
  static const char *const law[] = {"fixed", "normal",   "uniform", "triangular",
                                    "bin",   "discrete", "measured"};
  json_t *list = json_array();
  for (size_t k = 0; k < study->inputs; k++) {
    const tw_study_input *in = &study->input[k];
    json_t *one =
        json_pack("{s:s, s:s, s:o, s:f, s:f}", "field", in->path, "law", law[in->law.law], "now",
                  tw_json_input(study, k, in->now), "minus", in->law.minus, "plus", in->law.plus);
    if (in->assumed) {
      json_object_set_new(one, "assumed", json_string(tw_study_assumed_text(study, k)));
    }
    if (in->process) {
      json_object_set_new(one, "process", json_string(in->process));
      json_object_set_new(one, "offset", tw_json_input(study, k, in->offset));
      json_object_set_new(one, "spread_of_process", json_boolean(in->process_spread));
    }
    json_array_append_new(list, one);
  }
  return list;
}

/* the fast level against the engine; null when the builds are the engine's own */
static json_t *fast_level(const tw_study *study)
{
  const tw_fast_check *check = tw_study_fast_check(study);
  json_t *list = json_array();
  for (size_t j = 0; check && j < study->outputs; j++) {
    const tw_fast_error *e = &check->error[j];
    json_array_append_new(list, json_pack("{s:s, s:I, s:f, s:f, s:f}", "measure",
                                          tw_measure_about(study->measure[j])->name, "builds",
                                          (json_int_t)e->builds, "median", e->median, "p95",
                                          e->most_of_them, "largest", e->most));
  }
  if (!check) {
    json_decref(list);
    return json_null();
  }
  return json_pack("{s:I, s:I, s:I, s:I, s:o}", "engine_builds", (json_int_t)check->engine_builds,
                   "checked", (json_int_t)check->builds, "unseen", (json_int_t)check->unseen,
                   "judged_otherwise", (json_int_t)check->judged_otherwise, "errors", list);
}

tw_status tw_document_spread(const tw_study *study, const tw_sampler *sampler,
                             const tw_builds *builds, double level, json_t **out, tw_fault *fault)
{
  const spread s = {study, sampler, builds, level};
  json_t *list = json_array(), *failing = json_array();
  char text[64], hash[24];
  *out = NULL;
  tw_status status = measures(&s, list, fault);
  if (status == TW_OK) {
    status = failures(&s, failing, fault);
  }
  if (status != TW_OK) {
    json_decref(list);
    json_decref(failing);
    return status;
  }
  tw_study_level_text(study, text, sizeof text);
  snprintf(hash, sizeof hash, "%016" PRIx64, tw_builds_hash(builds));
  json_t *document = tw_document_new("spread");
  json_object_set_new(document, "design", tw_json_design(study->design));
  json_object_set_new(document, "level", json_string(text));
  json_object_set_new(document, "verdict", tw_json_verdict(&study->nominal));
  json_object_set_new(document, "fast", fast_level(study));
  json_object_set_new(document, "seed", json_integer((json_int_t)tw_sampler_seed(sampler)));
  json_object_set_new(document, "first", json_integer((json_int_t)builds->first));
  json_object_set_new(document, "builds", json_integer((json_int_t)tw_builds_done(builds)));
  json_object_set_new(document, "hash", json_string(hash));
  json_object_set_new(document, "confidence", json_real(level));
  json_object_set_new(document, "inputs", inputs(study));
  json_object_set_new(document, "yield", yields(&s));
  json_object_set_new(document, "measures", list);
  json_object_set_new(document, "failures", failing);
  *out = document;
  return TW_OK;
}
