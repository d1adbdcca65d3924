/* run_spread.c: a batch, told while it grows, with what else is worth knowing about it. */
#include "run_watch.h"

#include <math.h>

/* builds between two looks: short enough that the picture grows under the eyes */
#define ROUND 32
#define LEVEL 0.95

/* ---- what else is worth knowing -------------------------------------------------------------- */

/* why the first build without any answer has none */
static void add_impossible(tw_study *study, const tw_sampler *sampler, const tw_builds *b,
                           json_t *document)
{
  for (size_t i = 0; i < b->count; i++) {
    size_t silent = 0;
    for (size_t j = 0; j < b->outputs; j++) {
      silent += b->outcome[i * b->outputs + j] == TW_OUTCOME_NO_ANSWER;
    }
    if (silent < b->outputs) {
      continue;
    }
    const tw_study_model model = tw_study_as_model(study);
    double x[TW_FIELD_COUNT], y[TW_MEASURE_COUNT];
    unsigned char outcome[TW_MEASURE_COUNT];
    tw_fault fault = {0};
    tw_sampler_draw(sampler, b->first + i, x);
    (void)model.evaluate(model.self, 0, x, y, outcome, &fault);
    json_object_set_new(document, "impossible",
                        json_pack("{s:I, s:s, s:s}", "build", (json_int_t)(b->first + i), "field",
                                  fault.field, "text", fault.text));
    return;
  }
}

/* how far the level is from the full assessment (24 azimuths, refined load steps), for the design
 * as it is */
static void add_coarseness(const tw_study *study, json_t *document)
{
  const tw_assess_options options = {.azimuths = 24};
  tw_assessment *fine = tw_alloc(1, sizeof *fine);
  double most = -1;
  const char *name = "";
  if (fine && tw_assess(study->design, &options, fine, NULL) == TW_OK) {
    for (size_t g = 0; g < study->goals; g++) {
      const tw_measure_id id = study->measure[study->goal[g].output];
      const tw_measure *a = &study->nominal.measure[id], *b = &fine->measure[id];
      if (a->state == TW_MEASURE_OK && b->state == TW_MEASURE_OK && !a->word &&
          fabs(b->value) > 0 && fabs(a->value - b->value) / fabs(b->value) > most) {
        most = fabs(a->value - b->value) / fabs(b->value);
        name = tw_measure_about(id)->name;
      }
    }
  }
  if (most >= 0) {
    json_object_set_new(document, "coarseness",
                        json_pack("{s:i, s:i, s:s, s:f}", "azimuths", study->level.azimuths,
                                  "against", 24, "measure", name, "share", most));
  }
  tw_free(fine);
}

/* builds of the batch that are touched from 24 sides as well */
#define FINE_BUILDS   10
#define FINE_AZIMUTHS 24

/* largest difference of a goal's figure between the builds and the same touched from more sides,
 * and how many of them would be judged otherwise */
static void compare_builds(const tw_study *study, const tw_builds *b, const size_t *index, size_t n,
                           const double *y, const unsigned char *outcome, json_t *coarse)
{
  double most = 0;
  const char *name = "";
  size_t changed = 0;
  for (size_t i = 0; i < n; i++) {
    const size_t at = index[i] * b->outputs, fine = i * b->outputs;
    for (size_t g = 0; g < study->goals; g++) {
      const size_t j = study->goal[g].output;
      if (b->outcome[at + j] == TW_OUTCOME_OK && outcome[fine + j] == TW_OUTCOME_OK &&
          fabs(y[fine + j]) > 0 && fabs(b->y[at + j] / y[fine + j] - 1) > most) {
        most = fabs(b->y[at + j] / y[fine + j] - 1);
        name = study->goal[g].name;
      }
    }
    changed +=
        (tw_goals_margin(study->goal, study->goals, b->y + at, b->outcome + at, NULL) >= 0) !=
        (tw_goals_margin(study->goal, study->goals, y + fine, outcome + fine, NULL) >= 0);
  }
  json_object_set_new(coarse, "builds",
                      json_pack("{s:I, s:s, s:f, s:I}", "compared", (json_int_t)n, "measure", name,
                                "share", most, "judged_otherwise", (json_int_t)changed));
}

/* how far the worst of these azimuths is from the worst of 24, in the first builds of the batch */
static tw_status add_builds_coarseness(const tw_study *study, const tw_sampler *sampler,
                                       const tw_builds *b, json_t *document, tw_fault *fault)
{
  json_t *coarse = json_object_get(document, "coarseness");
  if (!coarse || study->level.azimuths >= FINE_AZIMUTHS) {
    return TW_OK;
  }
  tw_study *fine = tw_alloc(1, sizeof *fine);
  double *x = tw_alloc(FINE_BUILDS * study->inputs, sizeof *x);
  double *y = tw_alloc(FINE_BUILDS * study->outputs, sizeof *y);
  unsigned char *outcome = tw_alloc(FINE_BUILDS * study->outputs, 1);
  size_t index[FINE_BUILDS], n = 0;
  tw_status status = fine && x && y && outcome ? TW_OK : TW_NO_MEMORY;
  for (size_t i = 0; status == TW_OK && i < b->count && n < FINE_BUILDS; i++) {
    if (tw_builds_has(b, i)) {
      tw_sampler_draw(sampler, b->first + i, x + n * study->inputs);
      index[n++] = i;
    }
  }
  if (status == TW_OK && n > 0) {
    /* the same study and its workers, but for the azimuths */
    *fine = *study;
    fine->level.azimuths = FINE_AZIMUTHS;
    const tw_study_model model = tw_study_as_model(fine);
    status = tw_study_points(&model, n, x, y, outcome, study->level.threads, NULL, fault);
  }
  if (status == TW_OK && n > 0) {
    compare_builds(study, b, index, n, y, outcome, coarse);
  }
  tw_free(fine);
  tw_free(x);
  tw_free(y);
  tw_free(outcome);
  return status;
}

tw_status tw_run_spread_document(tw_study *study, const tw_sampler *sampler,
                                 const tw_builds *builds, json_t **out, tw_fault *fault)
{
  tw_status status = tw_document_spread(study, sampler, builds, LEVEL, out, fault);
  if (status == TW_OK) {
    add_impossible(study, sampler, builds, *out);
    add_coarseness(study, *out);
    status = add_builds_coarseness(study, sampler, builds, *out, fault);
  }
  if (status != TW_OK) {
    json_decref(*out);
    *out = NULL;
  }
  return status;
}

/* ---- running --------------------------------------------------------------------------------- */

typedef struct spread {
  tw_study *study;
  const tw_sampler *sampler;
  tw_run_pace pace;
} spread;

static tw_status look(void *self, const tw_builds *builds, size_t index, size_t count,
                      tw_fault *fault)
{
  spread *s = self;
  (void)index;
  (void)count;
  json_t *document = NULL;
  if (!tw_run_due(&s->pace)) {
    return TW_OK;
  }
  const tw_status status =
      tw_document_spread(s->study, s->sampler, builds, LEVEL, &document, fault);
  tw_run_tell(&s->pace, document);
  return status;
}

static tw_status builds_of(tw_study *study, size_t count, uint64_t seed, tw_sampler **sampler,
                           tw_builds **builds, tw_fault *fault)
{
  tw_status status = tw_study_add_toleranced(study, fault);
  if (status == TW_OK) {
    status = tw_study_sampler(study, NULL, 0, seed, sampler, fault);
  }
  return status == TW_OK ? tw_builds_new(0, count, study->outputs, builds, fault) : status;
}

tw_status tw_run_spread(tw_study *study, size_t count, uint64_t seed, const tw_run_watch *watch,
                        json_t **out, tw_fault *fault)
{
  tw_sampler *sampler = NULL;
  tw_builds *builds = NULL;
  *out = NULL;
  tw_status status = builds_of(study, count, seed, &sampler, &builds, fault);
  if (status == TW_OK) {
    const tw_study_model model = tw_study_as_model(study);
    spread s = {study, sampler, {.watch = watch}};
    const tw_spread_options options = {
        .threads = study->level.threads, .round = ROUND, .save = look, .self = &s};
    status = tw_spread_run(&model, sampler, builds, &options, tw_run_progress(watch), fault);
  }
  if (status == TW_OK || (status == TW_CANCELLED && builds && tw_builds_done(builds) > 0)) {
    const tw_status written = tw_run_spread_document(study, sampler, builds, out, fault);
    status = written == TW_OK ? status : written;
  }
  tw_builds_free(builds);
  tw_sampler_free(sampler);
  return status;
}

tw_status tw_run_yield(tw_study *study, size_t n, const tw_progress *progress, tw_variant *variant,
                       tw_fault *fault)
{
  tw_sampler *sampler = NULL;
  tw_builds *builds = NULL;
  tw_status status = builds_of(study, n, 1, &sampler, &builds, fault);
  if (status == TW_OK) {
    const tw_study_model model = tw_study_as_model(study);
    const tw_spread_options options = {.threads = study->level.threads, .round = 64};
    status = tw_spread_run(&model, sampler, builds, &options, progress, fault);
  }
  if (status == TW_OK) {
    size_t good = 0;
    for (size_t b = 0; b < builds->count; b++) {
      good += tw_goals_margin(study->goal, study->goals, builds->y + b * study->outputs,
                              builds->outcome + b * study->outputs, NULL) >= 0;
    }
    variant->yield = (double)good / (double)builds->count;
    tw_yield_interval(good, builds->count, LEVEL, &variant->yield_low, &variant->yield_high);
  }
  tw_builds_free(builds);
  tw_sampler_free(sampler);
  return status;
}
