/* run_vary.c: ranges as they are written, and the study of one or two. */
#include "run_watch.h"

#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- ranges as they are written -------------------------------------------------------------- */

/* one end; a bare number takes the unit that stands behind the other end */
static tw_status read_end(tw_units *units, const char *text, const char *other, tw_field field,
                          double *number, tw_fault *fault)
{
  const tw_field_info *about = tw_field_of(field);
  char full[160], *end = NULL;
  tw_unit unit;
  tw_quantity quantity;
  (void)strtod(text, &end);
  snprintf(full, sizeof full, "%.70s", text);
  if (end != text && *end == '\0') {
    char *unit_of_other = NULL;
    (void)strtod(other, &unit_of_other);
    snprintf(full, sizeof full, "%.70s%.70s", text, unit_of_other);
  }
  const char *kind = about->type == TW_TYPE_QUANTITY ? about->unit : "1";
  tw_status status = tw_units_find(units, kind, &unit, fault);
  if (status == TW_OK) {
    status = tw_quantity_read(units, full, &unit, &quantity, NULL, fault);
  }
  *number = status == TW_OK ? quantity.number : 0;
  return status;
}

static tw_status find_field(const char *path, size_t length, tw_field *field, tw_fault *fault)
{
  char name[80], hint[96] = "";
  snprintf(name, sizeof name, "%.*s", (int)(length < sizeof name ? length : sizeof name - 1), path);
  *field = tw_field_find(name);
  if (*field != TW_FIELD_COUNT) {
    return TW_OK;
  }
  const char *near = tw_field_nearest(name);
  if (near) {
    snprintf(hint, sizeof hint, "did you mean %s?", near);
  }
  return tw_fail(fault, TW_BAD_INPUT, "", hint, "there is no field \"%s\"", name);
}

tw_status tw_run_range_read(tw_units *units, const char *text, tw_field *field, double *from,
                            double *to, tw_fault *fault)
{
  const char *equals = strchr(text, '='), *dots = equals ? strstr(equals, "..") : NULL;
  char low[80];
  if (!dots || dots == equals + 1 || (size_t)(dots - equals) >= sizeof low || !dots[2]) {
    return tw_fail(fault, TW_BAD_INPUT, "", "",
                   "\"%s\" is not PATH=FROM..TO, such as preload.force=0.4..1.2N", text);
  }
  memcpy(low, equals + 1, (size_t)(dots - equals - 1));
  low[dots - equals - 1] = '\0';
  tw_status status = find_field(text, (size_t)(equals - text), field, fault);
  if (status == TW_OK) {
    status = read_end(units, low, dots + 2, *field, from, fault);
  }
  return status == TW_OK ? read_end(units, dots + 2, low, *field, to, fault) : status;
}

/* a count goes through whole numbers */
static void whole_numbers(double *values, tw_range *range)
{
  const double first = ceil(fmin(range->from, range->to)),
               last = floor(fmax(range->from, range->to));
  range->count = 0;
  for (double value = first; value <= last && range->count < TW_RUN_COUNTS; value++) {
    values[range->count++] = value;
  }
  range->values = values;
}

tw_status tw_run_range(tw_study *study, tw_field field, double from, double to, size_t points,
                       bool logarithmic, double *values, tw_range *range, tw_fault *fault)
{
  *range = (tw_range){.from = from, .to = to, .count = points, .logarithmic = logarithmic};
  const tw_status status = tw_study_add(study, field, &range->input, fault);
  if (status != TW_OK) {
    return status;
  }
  if (tw_field_of(field)->type == TW_TYPE_COUNT) {
    whole_numbers(values, range);
    if (range->count == 0) {
      return tw_fail(fault, TW_BAD_INPUT, tw_field_of(field)->path, "",
                     "no whole number lies from %g to %g", from, to);
    }
  }
  return tw_range_check(range, tw_field_of(field)->path, fault);
}

/* ---- the study ------------------------------------------------------------------------------- */

/* The points as they are evaluated on several threads, kept under a lock for those who look. */
typedef struct seen {
  tw_study_model inner;
  const tw_range *range;
  int ranges;
  size_t n;
  double *y;
  unsigned char *outcome;
  pthread_mutex_t lock;
  tw_study *study;
  tw_run_pace pace;
} seen;

/* the index of a value that is exactly a point of the range; SIZE_MAX: it lies between */
static size_t index_of(const tw_range *range, double value)
{
  for (size_t i = 0; i < range->count; i++) {
    if (tw_range_value(range, i) == value) {
      return i;
    }
  }
  return SIZE_MAX;
}

static tw_status evaluate(void *self, int worker, const double *x, double *y,
                          unsigned char *outcome, tw_fault *fault)
{
  seen *s = self;
  const size_t outputs = s->inner.outputs;
  const tw_status status = s->inner.evaluate(s->inner.self, worker, x, y, outcome, fault);
  size_t at = index_of(&s->range[0], x[s->range[0].input]);
  if (s->ranges == 2 && at != SIZE_MAX) {
    const size_t other = index_of(&s->range[1], x[s->range[1].input]);
    at = other == SIZE_MAX ? SIZE_MAX : at * s->range[1].count + other;
  }
  if (at != SIZE_MAX) {
    pthread_mutex_lock(&s->lock);
    for (size_t j = 0; j < outputs; j++) {
      const bool good = status == TW_OK && outcome[j] != TW_OUTCOME_NONE && isfinite(y[j]);
      s->y[at * outputs + j] = good ? y[j] : 0;
      s->outcome[at * outputs + j] = good ? outcome[j] : TW_OUTCOME_NO_ANSWER;
    }
    pthread_mutex_unlock(&s->lock);
  }
  return status;
}

static json_t *so_far(seen *s)
{
  pthread_mutex_lock(&s->lock);
  json_t *document =
      s->ranges == 1
          ? tw_document_vary(s->study, &s->range[0], s->y, s->outcome, NULL, 0)
          : tw_document_vary_two(s->study, &s->range[0], &s->range[1], s->y, s->outcome, NULL, 0);
  pthread_mutex_unlock(&s->lock);
  return document;
}

static bool tick(void *self, double done, const char *what)
{
  seen *s = self;
  if (tw_run_due(&s->pace)) {
    tw_run_tell(&s->pace, so_far(s));
  }
  return tw_progress_tick(tw_run_progress(s->pace.watch), done, what);
}

static tw_status compute(seen *s, double *y, unsigned char *outcome, json_t **out, tw_fault *fault)
{
  tw_study *study = s->study;
  const tw_study_model model = {s->inner.inputs, s->inner.outputs, evaluate, s};
  const tw_progress progress = {tick, s};
  size_t count = 0;
  tw_status status;
  if (s->ranges == 1) {
    tw_crossing crossing[TW_CROSSINGS_MOST];
    status = tw_vary_one(&model, study->now, &s->range[0], study->goal, study->goals, 1e-4,
                         study->level.threads, &progress, y, outcome, crossing, &count, fault);
    *out =
        status == TW_OK ? tw_document_vary(study, &s->range[0], y, outcome, crossing, count) : NULL;
  } else {
    tw_edge *edges = NULL;
    status = tw_vary_two(&model, study->now, &s->range[0], &s->range[1], study->goal, study->goals,
                         1e-3, study->level.threads, &progress, y, outcome, &edges, &count, fault);
    *out = status == TW_OK
               ? tw_document_vary_two(study, &s->range[0], &s->range[1], y, outcome, edges, count)
               : NULL;
    tw_free(edges);
  }
  if (status == TW_CANCELLED) {
    *out = so_far(s);
  }
  return status;
}

tw_status tw_run_vary(tw_study *study, const tw_range *range, int ranges, const tw_run_watch *watch,
                      json_t **out, tw_fault *fault)
{
  const size_t n = range[0].count * (ranges == 2 ? range[1].count : 1);
  seen s = {.inner = tw_study_as_model(study),
            .range = range,
            .ranges = ranges,
            .n = n,
            .y = tw_alloc(n * study->outputs, sizeof *s.y),
            .outcome = tw_alloc(n * study->outputs, 1),
            .study = study,
            .pace = {.watch = watch}};
  double *y = tw_alloc(n * study->outputs, sizeof *y);
  unsigned char *outcome = tw_alloc(n * study->outputs, 1);
  *out = NULL;
  tw_status status = TW_NO_MEMORY;
  if (s.y && s.outcome && y && outcome) {
    pthread_mutex_init(&s.lock, NULL);
    status = compute(&s, y, outcome, out, fault);
    pthread_mutex_destroy(&s.lock);
  }
  tw_free(s.y);
  tw_free(s.outcome);
  tw_free(y);
  tw_free(outcome);
  if (status == TW_NO_MEMORY || (status == TW_OK && !*out)) {
    return tw_fail(fault, TW_NO_MEMORY, "", "take fewer points", "no memory for %zu points", n);
  }
  return status;
}
