/* run_spread.c: a batch, told while it grows, with what else is worth knowing about it. */
#include "run_watch.h"

#include "tripwright/study_fast.h"

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

/* of each requirement that some builds have no answer for: the first of them, and why */
static void add_unanswered(tw_study *study, const tw_sampler *sampler, const tw_builds *b,
                           json_t *document)
{
  json_t *list = json_array();
  double x[TW_FIELD_COUNT];
  for (size_t g = 0; g < study->goals; g++) {
    const size_t j = study->goal[g].output;
    size_t first = b->count, count = 0;
    for (size_t i = 0; i < b->count; i++) {
      const bool none = b->outcome[i * b->outputs + j] == TW_OUTCOME_NO_ANSWER;
      first = none && count == 0 ? i : first;
      count += none;
    }
    char why[240];
    if (count == 0) {
      continue;
    }
    tw_sampler_draw(sampler, b->first + first, x);
    if (tw_study_why(study, x, j, why, sizeof why, NULL) == TW_OK && why[0]) {
      json_array_append_new(list, json_pack("{s:s, s:I, s:I, s:s}", "measure", study->goal[g].name,
                                            "builds", (json_int_t)count, "build",
                                            (json_int_t)(b->first + first), "text", why));
    }
  }
  json_object_set_new(document, "unanswered", list);
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

/* the same builds by the engine, touched from some sides */
typedef struct sides {
  double *y;
  unsigned char *outcome;
} sides;

/* largest difference of a goal's figure between few and many sides, and how many builds would be
 * judged otherwise */
static void compare_sides(const tw_study *study, size_t n, const sides *few, const sides *many,
                          json_t *coarse)
{
  double most = 0;
  const char *name = "";
  size_t changed = 0;
  for (size_t i = 0; i < n; i++) {
    const size_t at = i * study->outputs;
    for (size_t g = 0; g < study->goals; g++) {
      const size_t j = at + study->goal[g].output;
      if (few->outcome[j] == TW_OUTCOME_OK && many->outcome[j] == TW_OUTCOME_OK &&
          fabs(many->y[j]) > 0 && fabs(few->y[j] / many->y[j] - 1) > most) {
        most = fabs(few->y[j] / many->y[j] - 1);
        name = study->goal[g].name;
      }
    }
    changed +=
        (tw_goals_margin(study->goal, study->goals, few->y + at, few->outcome + at, NULL) >= 0) !=
        (tw_goals_margin(study->goal, study->goals, many->y + at, many->outcome + at, NULL) >= 0);
  }
  json_object_set_new(coarse, "builds",
                      json_pack("{s:I, s:s, s:f, s:I}", "compared", (json_int_t)n, "measure", name,
                                "share", most, "judged_otherwise", (json_int_t)changed));
}

/* the study and its workers, but by the engine and with other azimuths */
static tw_status touch_from(const tw_study *study, int azimuths, size_t n, const double *x,
                            sides *out, tw_fault *fault)
{
  tw_study *other = tw_alloc(1, sizeof *other);
  out->y = tw_alloc(n * study->outputs, sizeof *out->y);
  out->outcome = tw_alloc(n * study->outputs, 1);
  tw_status status = TW_NO_MEMORY;
  if (other && out->y && out->outcome) {
    *other = *study;
    other->level.azimuths = azimuths;
    other->fast = NULL;
    const tw_study_model model = tw_study_as_model(other);
    status = tw_study_points(&model, n, x, out->y, out->outcome, study->level.threads, NULL, fault);
  } else {
    (void)tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu builds", n);
  }
  tw_free(other);
  return status;
}

/* how far the worst of these azimuths is from the worst of 24, in the first builds of the batch */
static tw_status add_builds_coarseness(const tw_study *study, const tw_sampler *sampler,
                                       const tw_builds *b, json_t *document, tw_fault *fault)
{
  json_t *coarse = json_object_get(document, "coarseness");
  double *x = tw_alloc(FINE_BUILDS * study->inputs, sizeof *x);
  sides few = {NULL, NULL}, many = {NULL, NULL};
  size_t n = 0;
  tw_status status = x ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for builds");
  for (size_t i = 0; x && i < b->count && n < FINE_BUILDS; i++) {
    if (tw_builds_has(b, i)) {
      tw_sampler_draw(sampler, b->first + i, x + n++ * study->inputs);
    }
  }
  if (status == TW_OK && coarse && n > 0 && study->level.azimuths < FINE_AZIMUTHS) {
    status = touch_from(study, study->level.azimuths, n, x, &few, fault);
    status = status ? status : touch_from(study, FINE_AZIMUTHS, n, x, &many, fault);
    if (status == TW_OK) {
      compare_sides(study, n, &few, &many, coarse);
    }
  }
  tw_free(few.y);
  tw_free(few.outcome);
  tw_free(many.y);
  tw_free(many.outcome);
  tw_free(x);
  return status;
}

tw_status tw_run_spread_document(tw_study *study, const tw_sampler *sampler,
                                 const tw_builds *builds, json_t **out, tw_fault *fault)
{
  tw_status status = tw_document_spread(study, sampler, builds, LEVEL, out, fault);
  if (status == TW_OK) {
    add_impossible(study, sampler, builds, *out);
    add_unanswered(study, sampler, builds, *out);
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

static tw_status sampler_of(tw_study *study, uint64_t seed, tw_sampler **sampler, tw_fault *fault)
{
  const tw_status status = tw_study_add_toleranced(study, fault);
  return status == TW_OK ? tw_study_sampler(study, NULL, 0, seed, sampler, fault) : status;
}

/* inputs of adjustments must be there before the sampler is made */
static tw_status open_batch(tw_study *study, const tw_run_spread_ask *ask,
                            const tw_progress *progress, tw_run_winback *winback,
                            tw_sampler **sampler, tw_fault *fault)
{
  tw_status status = tw_study_add_toleranced(study, fault);
  if (status == TW_OK) {
    status = tw_study_adjustments(study, winback->adjustment, &winback->count, fault);
  }
  winback->lot = ask->lot;
  if (ask->as_built || ask->checks > 0) {
    winback->count = winback->lot = 0;
  }
  status = status == TW_OK ? tw_study_sampler(study, NULL, 0, ask->seed, sampler, fault) : status;
  return status == TW_OK && ask->checks > 0
             ? tw_study_hasten(study, *sampler, ask->checks, progress, fault)
             : status;
}

/* the document, with what can be set right when the batch is whole */
static tw_status finish(tw_study *study, const tw_run_winback *winback, const tw_sampler *sampler,
                        const tw_builds *builds, tw_run_pace *pace, json_t **out, tw_fault *fault)
{
  tw_status status = tw_run_spread_document(study, sampler, builds, out, fault);
  if (status != TW_OK || tw_builds_done(builds) < builds->count) {
    return status;
  }
  if (winback->count + winback->lot > 0) {
    tw_run_tell(pace, json_deep_copy(*out)); /* what is known stays in view meanwhile */
  }
  return tw_run_winback_add(study, winback, sampler, builds, tw_run_progress(pace->watch), *out,
                            fault);
}

tw_status tw_run_spread(tw_study *study, const tw_run_spread_ask *ask, const tw_run_watch *watch,
                        json_t **out, tw_fault *fault)
{
  tw_sampler *sampler = NULL;
  tw_builds *builds = NULL;
  tw_run_winback winback = {.count = 0};
  *out = NULL;
  tw_status status = open_batch(study, ask, tw_run_progress(watch), &winback, &sampler, fault);
  status = status == TW_OK ? tw_builds_new(0, ask->builds, study->outputs, &builds, fault) : status;
  spread s = {study, sampler, {.watch = watch}};
  if (status == TW_OK) {
    const tw_study_model model = tw_study_as_model(study);
    const tw_spread_options options = {
        .threads = study->level.threads, .round = ROUND, .save = look, .self = &s};
    status = tw_spread_run(&model, sampler, builds, &options, tw_run_progress(watch), fault);
  }
  if (status == TW_OK || (status == TW_CANCELLED && builds && tw_builds_done(builds) > 0)) {
    const tw_status written = finish(study, &winback, sampler, builds, &s.pace, out, fault);
    status = written == TW_OK ? status : written;
  }
  if (status != TW_OK && status != TW_CANCELLED) {
    json_decref(*out);
    *out = NULL;
  }
  tw_builds_free(builds);
  tw_sampler_free(sampler);
  return status;
}

tw_status tw_run_builds(tw_study *study, size_t n, const tw_progress *progress, tw_builds **out,
                        tw_fault *fault)
{
  tw_sampler *sampler = NULL;
  *out = NULL;
  tw_status status = sampler_of(study, 1, &sampler, fault);
  status = status == TW_OK ? tw_builds_new(0, n, study->outputs, out, fault) : status;
  if (status == TW_OK) {
    const tw_study_model model = tw_study_as_model(study);
    const tw_spread_options options = {.threads = study->level.threads, .round = 64};
    status = tw_spread_run(&model, sampler, *out, &options, progress, fault);
  }
  tw_sampler_free(sampler);
  if (status != TW_OK) {
    tw_builds_free(*out);
    *out = NULL;
  }
  return status;
}

tw_status tw_run_yield(tw_study *study, size_t n, const tw_progress *progress, tw_variant *variant,
                       tw_fault *fault)
{
  tw_builds *builds = NULL;
  const tw_status status = tw_run_builds(study, n, progress, &builds, fault);
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
  return status;
}
