/* run_drivers.c: slopes of all inputs, and their shares of the scatter. */
#include "run_watch.h"

#include <math.h>
#include <stdio.h>

/* inputs whose slopes are computed between two looks */
#define TOGETHER  4
#define RESAMPLES 400

void tw_run_drivers_free(tw_run_drivers *drivers)
{
  tw_free(drivers->slope);
  tw_free(drivers->index);
  *drivers = (tw_run_drivers){0};
}

json_t *tw_run_drivers_document(const tw_study *study, const tw_run_drivers *d)
{
  return tw_document_drivers(study, d->slope, d->index, d->rows, d->used);
}

/* the part done of some inputs, as part of all */
typedef struct part {
  const tw_progress *progress;
  double before, share;
} part;

static bool tick_part(void *self, double done, const char *what)
{
  const part *p = self;
  return tw_progress_tick(p->progress, p->before + p->share * done, what);
}

/* half the tolerance, or a hundredth of the value */
static tw_status slopes(tw_study *study, tw_run_drivers *d, tw_run_pace *pace, double whole,
                        tw_fault *fault)
{
  const tw_study_model model = tw_study_as_model(study);
  const size_t inputs = study->inputs;
  tw_status status = TW_OK;
  for (size_t k = 0; k < inputs && status == TW_OK; k += TOGETHER) {
    const size_t here = inputs - k < TOGETHER ? inputs - k : TOGETHER;
    size_t chosen[TOGETHER];
    double step[TOGETHER];
    part p = {tw_run_progress(pace->watch), whole * (double)k / (double)inputs,
              whole * (double)here / (double)inputs};
    const tw_progress progress = {tick_part, &p};
    for (size_t i = 0; i < here; i++) {
      const tw_varied *law = &study->input[k + i].law;
      const double half = 0.5 * (law->minus + law->plus);
      chosen[i] = k + i;
      step[i] = half > 0 ? 0.5 * half : 0.01 * fabs(study->now[k + i]);
    }
    status = tw_study_slopes(&model, study->now, chosen, step, here, study->level.threads,
                             &progress, d->slope + k * study->outputs, fault);
    if (status == TW_OK && tw_run_due(pace)) {
      tw_run_tell(pace, tw_run_drivers_document(study, d));
    }
  }
  return status;
}

/* rows with a point without a number are left out and counted */
static tw_status indices_of(const tw_study *study, const tw_sobol_plan *plan, const double *y,
                            const unsigned char *outcome, tw_run_drivers *d, tw_index *index,
                            tw_fault *fault)
{
  const size_t n = tw_sobol_points(plan);
  double *column = tw_alloc(n, sizeof *column);
  tw_status status = column ? TW_OK : TW_NO_MEMORY;
  d->used = d->rows;
  for (size_t g = 0; g < study->goals && status == TW_OK; g++) {
    const size_t output = study->goal[g].output;
    double variance;
    tw_fault none = {0};
    for (size_t i = 0; i < n; i++) {
      const size_t at = i * study->outputs + output;
      column[i] = outcome[at] == TW_OUTCOME_OK ? y[at] : HUGE_VAL;
    }
    status = tw_sobol_indices(plan, column, 0.95, RESAMPLES, index + g * study->inputs, &variance,
                              &d->usable[g], &none);
    if (status == TW_NO_ANSWER || status == TW_BAD_INPUT) {
      /* too few rows, or it does not vary: indices of zero */
      snprintf(d->why[g], sizeof d->why[g], "%s", none.text);
      status = TW_OK;
    } else if (status != TW_OK && fault) {
      *fault = none;
    }
    d->used = d->usable[g] < d->used ? d->usable[g] : d->used;
  }
  tw_free(column);
  return status;
}

static tw_status indices(tw_study *study, tw_run_drivers *d, const tw_run_pace *pace, double before,
                         tw_fault *fault)
{
  const tw_study_model model = tw_study_as_model(study);
  const tw_sobol_plan plan = {study->inputs, d->rows, 1};
  const size_t n = tw_sobol_points(&plan);
  part p = {tw_run_progress(pace->watch), before, 1 - before};
  const tw_progress progress = {tick_part, &p};
  tw_sampler *sampler = NULL;
  double *x = tw_alloc(n * study->inputs, sizeof *x), *y = tw_alloc(n * study->outputs, sizeof *y);
  unsigned char *outcome = tw_alloc(n * study->outputs, 1);
  tw_index *index = tw_alloc(study->goals * study->inputs + 1, sizeof *index);
  tw_status status =
      x && y && outcome && index
          ? tw_study_sampler(study, NULL, 0, 1, &sampler, fault)
          : tw_fail(fault, TW_NO_MEMORY, "", "take fewer rows", "no memory for %zu builds", n);
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    tw_sobol_point(&plan, i, x + i * study->inputs);
    tw_sampler_from_uniform(sampler, x + i * study->inputs, x + i * study->inputs);
  }
  if (status == TW_OK) {
    status = tw_study_points(&model, n, x, y, outcome, study->level.threads, &progress, fault);
  }
  if (status == TW_OK) {
    status = indices_of(study, &plan, y, outcome, d, index, fault);
  }
  if (status == TW_OK) {
    d->index = index;
  } else {
    tw_free(index);
  }
  tw_sampler_free(sampler);
  tw_free(x);
  tw_free(y);
  tw_free(outcome);
  return status;
}

tw_status tw_run_drivers_make(tw_study *study, size_t rows, const tw_run_watch *watch,
                              tw_run_drivers *out, tw_fault *fault)
{
  tw_run_pace pace = {.watch = watch};
  /* builds of the slopes and of the indices, as shares of the work */
  const double local = 4.0 * (double)study->inputs + 1,
               global = (double)rows * (double)(study->inputs + 2);
  const double whole = local / (local + global);
  *out = (tw_run_drivers){.rows = rows};
  out->slope = tw_alloc(study->inputs * study->outputs, sizeof *out->slope);
  if (!out->slope) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the slopes");
  }
  tw_status status = slopes(study, out, &pace, whole, fault);
  if (status == TW_OK && rows > 0) {
    if (watch && watch->partial) {
      tw_run_tell(&pace, tw_run_drivers_document(study, out));
    }
    status = indices(study, out, &pace, whole, fault);
  }
  return status;
}
