/* builds.c: a batch of builds, run in rounds so that what is done can be kept. */
#include "hash.h"
#include "tripwright/parallel.h"
#include "tripwright/study.h"
#include "tripwright/study_stats.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#define ROUND 256

void tw_builds_free(tw_builds *builds)
{
  if (builds) {
    tw_free(builds->y);
    tw_free(builds->outcome);
    tw_free(builds);
  }
}

tw_status tw_builds_new(uint64_t first, size_t count, size_t outputs, tw_builds **out,
                        tw_fault *fault)
{
  *out = NULL;
  if (count == 0 || outputs == 0 || count > (size_t)PTRDIFF_MAX / outputs) {
    return tw_fail(fault, TW_BAD_INPUT, "", "ask for one build at least",
                   "%zu builds cannot be studied", count);
  }
  tw_builds *b = tw_alloc(1, sizeof *b);
  if (b) {
    *b = (tw_builds){first, count, outputs, tw_alloc(count * outputs, sizeof *b->y),
                     tw_alloc(count * outputs, 1)};
  }
  if (!b || !b->y || !b->outcome) {
    tw_builds_free(b);
    return tw_fail(fault, TW_NO_MEMORY, "", "run it in parts and merge them",
                   "no memory for %zu builds", count);
  }
  *out = b;
  return TW_OK;
}

bool tw_builds_has(const tw_builds *builds, size_t index)
{
  return builds->outcome[index * builds->outputs] != TW_OUTCOME_NONE;
}

size_t tw_builds_done(const tw_builds *builds)
{
  size_t done = 0;
  for (size_t i = 0; i < builds->count; i++) {
    done += tw_builds_has(builds, i);
  }
  return done;
}

/* sum of well-mixed hashes of single builds: their order does not matter */
uint64_t tw_builds_hash(const tw_builds *builds)
{
  const size_t out = builds->outputs;
  uint64_t sum = 0;
  for (size_t i = 0; i < builds->count; i++) {
    if (tw_builds_has(builds, i)) {
      const uint64_t number = builds->first + i;
      uint64_t hash = tw_hash_bytes(TW_HASH_START, &number, sizeof number);
      hash = tw_hash_bytes(hash, &builds->y[i * out], out * sizeof *builds->y);
      sum += tw_hash_mix(tw_hash_bytes(hash, &builds->outcome[i * out], out));
    }
  }
  return sum;
}

tw_status tw_builds_merge(tw_builds *builds, const tw_builds *part, tw_fault *fault)
{
  const size_t out = builds->outputs;
  if (part->outputs != out) {
    return tw_fail(fault, TW_BAD_INPUT, "", "merge parts of one study only",
                   "the parts have %zu and %zu measures", out, part->outputs);
  }
  for (size_t i = 0; i < part->count; i++) {
    const uint64_t number = part->first + i;
    if (!tw_builds_has(part, i) || number < builds->first ||
        number - builds->first >= builds->count) {
      continue;
    }
    const size_t to = (size_t)(number - builds->first);
    if (tw_builds_has(builds, to) &&
        (memcmp(&builds->y[to * out], &part->y[i * out], out * sizeof *part->y) != 0 ||
         memcmp(&builds->outcome[to * out], &part->outcome[i * out], out) != 0)) {
      return tw_fail(fault, TW_BAD_INPUT, "", "merge parts of one study only",
                     "build %llu differs between the parts", (unsigned long long)number);
    }
    memcpy(&builds->y[to * out], &part->y[i * out], out * sizeof *part->y);
    memcpy(&builds->outcome[to * out], &part->outcome[i * out], out);
  }
  return TW_OK;
}

/* ---- running ------------------------------------------------------------------------------- */

typedef struct run {
  const tw_study_model *model;
  const tw_sampler *sampler;
  tw_builds *builds;
  double *x; /* inputs, one row a worker */
  size_t index;
} run;

static tw_status some_builds(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const run *r = self;
  const size_t out = r->builds->outputs;
  double *x = &r->x[(size_t)worker * r->model->inputs];
  for (size_t i = r->index + first; i < r->index + first + count; i++) {
    if (tw_builds_has(r->builds, i)) {
      continue;
    }
    unsigned char *outcome = &r->builds->outcome[i * out];
    tw_sampler_draw(r->sampler, r->builds->first + i, x);
    const tw_status status =
        tw_study_evaluate(r->model, worker, x, &r->builds->y[i * out], outcome, fault);
    if (status != TW_OK) {
      memset(outcome, TW_OUTCOME_NONE, out);
      return status;
    }
  }
  return TW_OK;
}

/* the part done of a round as part of the whole */
typedef struct whole {
  const tw_progress *progress;
  double before, share;
} whole;

static bool tick_round(void *self, double done, const char *what)
{
  const whole *w = self;
  return tw_progress_tick(w->progress, w->before + w->share * done, what);
}

static tw_status run_rounds(run *r, const tw_spread_options *options, const tw_progress *progress,
                            tw_fault *fault)
{
  const size_t count = r->builds->count, round = options->round ? options->round : ROUND;
  for (; r->index < count; r->index += round) {
    const size_t here = count - r->index < round ? count - r->index : round;
    whole w = {progress, (double)r->index / (double)count, (double)here / (double)count};
    const tw_progress part = {tick_round, &w};
    const tw_loop loop = {here, 1, options->threads, some_builds, r, "building"};
    const tw_status status = tw_parallel(&loop, &part, fault);
    if (options->save) {
      tw_fault saving = {0};
      const tw_status saved = options->save(options->self, r->builds, r->index, here, &saving);
      if (saved != TW_OK && status == TW_OK) {
        if (fault) {
          *fault = saving;
        }
        return saved;
      }
    }
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

tw_status tw_spread_run(const tw_study_model *model, const tw_sampler *sampler, tw_builds *builds,
                        const tw_spread_options *options, const tw_progress *progress,
                        tw_fault *fault)
{
  static const tw_spread_options plain = {0};
  options = options ? options : &plain;
  assert(model->inputs == tw_sampler_inputs(sampler) && model->outputs == builds->outputs);
  if (!tw_sampler_varies(sampler)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give fields a tolerance, such as 9.3 mm +- 0.05 mm",
                   "no field has a tolerance: every build would be the same");
  }
  const size_t workers = (size_t)tw_threads(options->threads);
  run r = {model, sampler, builds, tw_alloc(workers * model->inputs, sizeof(double)), 0};
  if (!r.x) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu inputs", model->inputs);
  }
  const tw_status status = run_rounds(&r, options, progress, fault);
  tw_free(r.x);
  return status;
}

/* ---- what came out --------------------------------------------------------------------------- */

tw_status tw_builds_outcomes(const tw_builds *builds, size_t output, tw_outcomes *out,
                             tw_fault *fault)
{
  *out = (tw_outcomes){.sorted = tw_alloc(builds->count, sizeof *out->sorted)};
  if (!out->sorted) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu numbers", builds->count);
  }
  for (size_t i = 0; i < builds->count; i++) {
    const size_t at = i * builds->outputs + output;
    switch (builds->outcome[at]) {
    case TW_OUTCOME_OK:
      out->sorted[out->numbers++] = builds->y[at];
      break;
    case TW_OUTCOME_NO_TRIP:
      out->no_trip++;
      break;
    case TW_OUTCOME_NOT_APPLICABLE:
      out->not_applicable++;
      break;
    case TW_OUTCOME_TRIPPED_AT_REST:
      out->tripped_at_rest++;
      break;
    case TW_OUTCOME_STUCK:
      out->stuck++;
      break;
    case TW_OUTCOME_NO_REARM:
      out->does_not_rearm++;
      break;
    case TW_OUTCOME_NO_ANSWER:
      out->no_answer++;
      break;
    default:
      break;
    }
  }
  tw_sort_ascending(out->sorted, out->numbers);
  return TW_OK;
}

void tw_outcomes_free(tw_outcomes *column)
{
  tw_free(column->sorted);
  *column = (tw_outcomes){0};
}

tw_status tw_builds_standouts(const tw_builds *builds, const tw_sampler *sampler,
                              const tw_goal *limit, tw_standout *standout, size_t *failing,
                              tw_fault *fault)
{
  const size_t in = tw_sampler_inputs(sampler), out = builds->outputs;
  /* mean and squares over all, mean over the failing */
  double *x = tw_alloc(4 * in, sizeof *x);
  if (!x) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu inputs", in);
  }
  double *mean = &x[in], *square = &x[2 * in], *fail_mean = &x[3 * in];
  size_t all = 0, failed = 0;
  for (size_t i = 0; i < builds->count; i++) {
    if (!tw_builds_has(builds, i)) {
      continue;
    }
    tw_sampler_draw(sampler, builds->first + i, x);
    const bool fails = tw_goal_margin(limit, &builds->y[i * out], &builds->outcome[i * out]) < 0.0;
    all++;
    failed += fails;
    for (size_t j = 0; j < in; j++) {
      const double before = x[j] - mean[j];
      mean[j] += before / (double)all;
      square[j] += before * (x[j] - mean[j]);
      if (fails) {
        fail_mean[j] += (x[j] - fail_mean[j]) / (double)failed;
      }
    }
  }
  for (size_t j = 0; j < in; j++) {
    standout[j] = (tw_standout){0.0, 0.0};
    const double sd = all > 1 ? sqrt(square[j] / (double)(all - 1)) : 0.0;
    if (failed > 0 && failed < all && sd > 1e-12 * fabs(mean[j])) {
      standout[j].shift = (fail_mean[j] - mean[j]) / sd;
      /* variance of the difference of a part's mean and the whole's */
      const double error = sqrt(1.0 / (double)failed - 1.0 / (double)all);
      standout[j].score = standout[j].shift / error;
    }
  }
  if (failing) {
    *failing = failed;
  }
  tw_free(x);
  return TW_OK;
}
