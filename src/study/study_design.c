/* study_design.c: a design as the model of a study: fields in, measures out. */
#include "tripwright/study_design.h"

#include "tripwright/parallel.h"
#include "tripwright/study_fast.h"
#include "tripwright/text.h"

#include "choices.h"
#include "hash.h"
#include "inside.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- outputs ------------------------------------------------------------------------------- */

static bool is_word(tw_measure_id id)
{
  return strcmp(tw_measure_about(id)->unit, "word") == 0;
}

/* words are outputs only where a requirement asks for one */
static bool is_output(const tw_study *study, tw_measure_id id)
{
  return study->nominal.measure[id].state != TW_MEASURE_NOT_COMPUTED &&
         (!study->level.wanted || study->level.wanted->has[id]) &&
         (!is_word(id) || tw_study_limit(study, id)->given);
}

static void add_goal(tw_study *study, size_t output, const tw_limit *limit)
{
  const tw_rule rule = limit->rule;
  study->goal[study->goals++] =
      (tw_goal){.name = tw_measure_about(study->measure[output])->name,
                .output = output,
                .has_low = rule != TW_RULE_MOST,
                .has_high = rule == TW_RULE_MOST || rule == TW_RULE_WITHIN,
                .low = rule == TW_RULE_IS ? 0.5 : limit->low,
                .high = limit->high};
}

static void list_outputs(tw_study *study)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_id id = (tw_measure_id)i;
    if (is_output(study, id)) {
      study->measure[study->outputs] = id;
      study->wanted.has[id] = true;
      if (tw_study_limit(study, id)->given) {
        add_goal(study, study->outputs, tw_study_limit(study, id));
      }
      study->outputs++;
    }
  }
}

size_t tw_study_output(const tw_study *study, tw_measure_id id)
{
  for (size_t j = 0; j < study->outputs; j++) {
    if (study->measure[j] == id) {
      return j;
    }
  }
  return SIZE_MAX;
}

/* ---- one point ----------------------------------------------------------------------------- */

static tw_status evaluate(void *self, int worker, const double *x, double *y,
                          unsigned char *outcome, tw_fault *fault)
{
  const tw_assessment *result = NULL;
  const tw_status status = tw_study_engine(self, worker, x, NULL, &result, fault);
  if (status == TW_OK) {
    tw_study_take(self, result, y, outcome);
  }
  return status;
}

tw_status tw_study_why(tw_study *study, const double *x, size_t output, char *out, size_t size,
                       tw_fault *fault)
{
  const tw_assessment *result = NULL;
  const tw_status status = tw_study_engine(study, 0, x, NULL, &result, fault);
  out[0] = '\0';
  if (status == TW_OK && result->measure[study->measure[output]].state != TW_MEASURE_OK) {
    snprintf(out, size, "%s", result->measure[study->measure[output]].note);
  }
  return status;
}

tw_study_model tw_study_as_model(tw_study *study)
{
  if (study->fast) {
    return tw_fast_as_model(study);
  }
  return (tw_study_model){study->inputs, study->outputs, evaluate, study};
}

/* ---- making -------------------------------------------------------------------------------- */

static tw_status fill(tw_study *study, tw_fault *fault)
{
  const int threads = study->level.threads;
  study->worker = tw_alloc((size_t)threads, sizeof *study->worker);
  for (int i = 0; study->worker && i < threads; i++) {
    study->worker[i].own = tw_design_clone(study->design);
    if (!study->worker[i].own) {
      return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the study");
    }
  }
  if (!study->worker) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the study");
  }
  tw_assess_options options = tw_study_assess_options(study);
  options.limits = study->limits;
  const tw_status status = tw_assess(study->design, &options, &study->nominal, fault);
  if (status == TW_OK) {
    list_outputs(study);
  }
  return status;
}

tw_status tw_study_new(const tw_design *design, tw_units *units, const tw_limits *limits,
                       const tw_study_level *level, tw_study **out, tw_fault *fault)
{
  *out = NULL;
  tw_study *study = tw_alloc(1, sizeof *study);
  if (!study) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the study");
  }
  study->design = design;
  study->units = units;
  study->limits = limits;
  study->level = *level;
  study->level.azimuths = level->azimuths > 0 ? level->azimuths : 8;
  study->level.threads = tw_threads(level->threads);
  const tw_status status = fill(study, fault);
  study->level.wanted = NULL; /* the caller's, read */
  if (status != TW_OK) {
    tw_study_free(study);
    return status;
  }
  *out = study;
  return TW_OK;
}

void tw_study_free(tw_study *study)
{
  if (!study) {
    return;
  }
  for (int i = 0; study->worker && i < study->level.threads; i++) {
    tw_design_free(study->worker[i].own);
    tw_free(study->worker[i].links.cells);
  }
  for (size_t k = 0; k < study->inputs; k++) {
    tw_study_choices_free(study->input[k].choice, study->input[k].choices);
  }
  tw_free(study->worker);
  tw_fast_free(study->fast);
  tw_free(study);
}

/* ---- what it is ---------------------------------------------------------------------------- */

static uint64_t hash_text(uint64_t hash, const char *text)
{
  return tw_hash_bytes(hash, text ? text : "", (text ? strlen(text) : 0) + 1);
}

static uint64_t hash_tolerance(uint64_t hash, const tw_tolerance *t)
{
  if (!t->given) {
    return tw_hash_bytes(hash, "-", 1);
  }
  const double limits[2] = {t->minus, t->plus};
  const char spread = (char)t->spread;
  hash = tw_hash_bytes(hash, limits, sizeof limits);
  return tw_hash_bytes(hash, &spread, 1);
}

static uint64_t hash_table(uint64_t hash, const tw_table *table)
{
  for (size_t i = 0; table && i < table->rows * table->columns; i++) {
    hash = hash_text(hash, table->cells[i].text);
    hash = tw_hash_bytes(hash, &table->cells[i].number, sizeof(double));
    hash = hash_tolerance(hash, &table->cells[i].tolerance);
  }
  return hash;
}

uint64_t tw_study_hash(const tw_study *study)
{
  uint64_t hash = TW_HASH_START;
  for (int i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field field = (tw_field)i;
    const bool name_only = field == TW_F_design || field == TW_F_revision || field == TW_F_notes;
    if (name_only || !tw_design_has(study->design, field)) {
      continue;
    }
    const tw_value *v = tw_design_value(study->design, field);
    const tw_field_info *about = tw_field_of(field);
    hash = hash_text(hash, about->path);
    if (about->type == TW_TYPE_TEXT) {
      hash = hash_text(hash, v->text);
    } else {
      hash = tw_hash_bytes(hash, &v->number, sizeof v->number);
      hash = hash_tolerance(hash, &v->tolerance);
    }
    hash = hash_table(hash, v->table);
  }
  char level[64];
  tw_study_level_text(study, level, sizeof level);
  const char steps = TW_STUDY_SEAT_STEPS;
  return tw_hash_mix(tw_hash_bytes(hash_text(hash, level), &steps, 1));
}

void tw_study_level_text(const tw_study *study, char *out, size_t size)
{
  snprintf(out, size, "%s, %d azimuths%s%s", study->fast ? "fast" : "engine", study->level.azimuths,
           study->level.map ? ", map" : "", study->level.timed ? ", timed" : "");
}

void tw_study_names(const tw_study *study, char *out, size_t size)
{
  tw_text text = tw_text_in(out, size);
  for (size_t j = 0; j < study->outputs; j++) {
    tw_text_add(&text, "%s%s", j ? " " : "", tw_measure_about(study->measure[j])->name);
  }
}
