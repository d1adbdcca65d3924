/* steady.c: batches of builds until the figures no longer move. */
#include "tripwright/study_steady.h"

#include <string.h>

typedef struct steady {
  const tw_steady_plan *plan;
  tw_steady *out;
  double *values; /* numbers of each watched output that wait for their batch: count x batch */
  size_t *waiting;
} steady;

/* ---- feeding ------------------------------------------------------------------------------- */

static void feed(steady *s, const tw_builds *part)
{
  const size_t batch = s->out->batch;
  for (size_t k = 0; k < s->plan->count; k++) {
    tw_steady_output *o = &s->out->output[k];
    double *values = &s->values[k * batch];
    for (size_t i = 0; i < part->count; i++) {
      const size_t at = i * part->outputs + s->plan->outputs[k];
      if (part->outcome[at] != TW_OUTCOME_OK) {
        continue;
      }
      values[s->waiting[k]++] = part->y[at];
      o->numbers++;
      if (s->waiting[k] == batch) {
        tw_adaptive_add(&o->state, values);
        s->waiting[k] = 0;
      }
    }
  }
}

/* nothing moves any more? outputs without a number are not waited for */
static bool all_steady(const steady *s)
{
  for (size_t k = 0; k < s->plan->count; k++) {
    const tw_steady_output *o = &s->out->output[k];
    if (o->numbers > 0 && !o->state.steady) {
      return false;
    }
  }
  return s->out->batches > 1;
}

/* ---- growing ------------------------------------------------------------------------------- */

/* *builds becomes itself and `part` behind it; part is freed in every case */
static tw_status append(tw_builds **builds, tw_builds *part, tw_fault *fault)
{
  tw_builds *whole = NULL;
  if (!*builds) {
    *builds = part;
    return TW_OK;
  }
  tw_status status =
      tw_builds_new((*builds)->first, (*builds)->count + part->count, part->outputs, &whole, fault);
  if (status == TW_OK) {
    status = tw_builds_merge(whole, *builds, fault);
  }
  if (status == TW_OK) {
    status = tw_builds_merge(whole, part, fault);
  }
  tw_builds_free(part);
  if (status != TW_OK) {
    tw_builds_free(whole);
    return status;
  }
  tw_builds_free(*builds);
  *builds = whole;
  return TW_OK;
}

/* the part done of a batch as part of all that there may be */
typedef struct whole {
  const tw_progress *progress;
  double before, share;
} whole;

static bool tick(void *self, double done, const char *what)
{
  const whole *w = self;
  return tw_progress_tick(w->progress, w->before + w->share * done, what);
}

static tw_status one_batch(steady *s, const tw_study_model *model, const tw_sampler *sampler,
                           const tw_spread_options *options, tw_steady_load load,
                           const tw_progress *progress, tw_builds **builds, tw_fault *fault)
{
  const size_t first = s->out->batches * s->out->batch;
  tw_builds *part = NULL;
  tw_status status = tw_builds_new(first, s->out->batch, model->outputs, &part, fault);
  if (status == TW_OK && load) {
    status = load(options->self, part, fault);
  }
  if (status != TW_OK) {
    tw_builds_free(part);
    return status;
  }
  whole w = {progress, (double)first / (double)s->plan->most,
             (double)s->out->batch / (double)s->plan->most};
  const tw_progress here = {tick, &w};
  const tw_status ran = tw_spread_run(model, sampler, part, options, &here, fault);
  if (ran == TW_OK) {
    feed(s, part);
    s->out->batches++;
  }
  status = append(builds, part, fault);
  return ran == TW_OK ? status : ran;
}

tw_status tw_spread_steady(const tw_study_model *model, const tw_sampler *sampler,
                           const tw_steady_plan *plan, const tw_spread_options *options,
                           tw_steady_load load, const tw_progress *progress, tw_builds **builds,
                           tw_steady *out, tw_fault *fault)
{
  tw_adaptive fresh;
  tw_adaptive_start(&fresh, 0.95, plan->digits);
  fresh.batch = plan->batch ? plan->batch : fresh.batch;
  *builds = NULL;
  *out = (tw_steady){.batch = fresh.batch, .output = tw_alloc(plan->count, sizeof *out->output)};
  steady s = {plan, out, tw_alloc(plan->count * fresh.batch, sizeof(double)),
              tw_alloc(plan->count, sizeof(size_t))};
  tw_status status = TW_OK;
  if (!out->output || !s.values || !s.waiting) {
    status = tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu outputs", plan->count);
  } else if (plan->most < 2 * fresh.batch || fresh.batch < 2) {
    status = tw_fail(fault, TW_BAD_INPUT, "", "ask for smaller batches or more builds",
                     "%zu builds are not two batches of %zu", plan->most, fresh.batch);
  }
  for (size_t k = 0; status == TW_OK && k < plan->count; k++) {
    out->output[k].state = fresh;
  }
  while (status == TW_OK && !out->steady && (out->batches + 1) * out->batch <= plan->most) {
    status = one_batch(&s, model, sampler, options, load, progress, builds, fault);
    out->steady = status == TW_OK && all_steady(&s);
  }
  tw_free(s.values);
  tw_free(s.waiting);
  return status;
}
