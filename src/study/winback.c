/* winback.c: finished builds adjusted until they are good, as far as their screws go. */
#include "tripwright/parallel.h"
#include "tripwright/study_winback.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct one {
  bool good, moved;
  double move; /* of the only adjustment */
  size_t evaluations;
} one;

typedef struct adjusting {
  const tw_winback_batch *batch;
  const tw_adjustment *adjustment;
  size_t count;
  const size_t *failing;
  one *result; /* of each failing build */
  /* a row a worker; margins: of the goals where the build stands, and where it is tried */
  double *x, *y, *margins;
  unsigned char *outcome;
} adjusting;

/* one build on one worker */
typedef struct bench {
  const adjusting *a;
  int worker;
  double *x, *y;
  /* margins of the goals: as it stands, at the place last tried, at the best place */
  double *here, *there, *top;
  one *result;
  tw_fault *fault;
} bench;

/* ---- one place ----------------------------------------------------------------------------- */

static tw_status margin_at(bench *b, double *margin)
{
  const tw_winback_batch *batch = b->a->batch;
  unsigned char *outcome = &b->a->outcome[(size_t)b->worker * batch->model->outputs];
  const tw_status status =
      tw_study_evaluate(batch->model, b->worker, b->x, b->y, outcome, b->fault);
  b->result->evaluations++;
  *margin = -HUGE_VAL;
  if (status == TW_OK) {
    for (size_t g = 0; g < batch->goal_count; g++) {
      b->there[g] = tw_goal_margin(&batch->goals[g], b->y, outcome);
    }
    *margin = tw_goals_margin(batch->goals, batch->goal_count, b->y, outcome, NULL);
  }
  return status;
}

/* Does the place last tried leave a margin that must change as it was, to the bit? A yes or no and
 * what has no number may change further on. Of one adjustment every missed goal must change, of
 * several the worst. */
static bool untouched(const bench *b)
{
  const tw_winback_batch *batch = b->a->batch;
  size_t worst = 0;
  for (size_t g = 1; g < batch->goal_count; g++) {
    worst = b->here[g] < b->here[worst] ? g : worst;
  }
  for (size_t g = 0; g < batch->goal_count; g++) {
    const double value = b->y[batch->goals[g].output];
    const bool must = b->here[g] < 0 && (b->a->count == 1 || g == worst);
    if (must && b->there[g] == b->here[g] && b->here[g] > -HUGE_VAL && value != 0 && value != 1) {
      return true;
    }
  }
  return false;
}

/* whole steps of the screw's range; the last one before an end of the input stops at that end */
typedef struct places {
  double start; /* the input as built */
  long least, most;
} places;

static long steps_to(double reach, double room, double step)
{
  const double own = floor(reach / step * (1 + 1e-12)), there = ceil(room / step * (1 - 1e-12));
  return lround(fmax(fmin(own, there), 0));
}

static places places_of(const tw_adjustment *a, double start)
{
  return (places){start, -steps_to(a->down, start - a->least, a->step),
                  steps_to(a->up, a->most - start, a->step)};
}

static double place(const tw_adjustment *a, const places *p, long step)
{
  const double there = p->start + (double)step * a->step;
  return step < 0   ? fmax(there, fmin(a->least, p->start))
         : step > 0 ? fmin(there, fmax(a->most, p->start))
                    : p->start;
}

/* ---- one adjustment ------------------------------------------------------------------------ */

typedef struct best {
  long step;
  double margin;
} best;

static tw_status look(bench *b, const tw_adjustment *a, const places *p, long step, best *found)
{
  double margin;
  b->x[a->input] = place(a, p, step);
  const tw_status status = margin_at(b, &margin);
  if (status == TW_OK && margin > found->margin) {
    *found = (best){step, margin};
    memcpy(b->top, b->there, b->a->batch->goal_count * sizeof *b->top);
  }
  return status;
}

static int nearest_first(const void *a, const void *b)
{
  const long x = *(const long *)a, y = *(const long *)b;
  return labs(x) != labs(y) ? (labs(x) > labs(y)) - (labs(x) < labs(y)) : (x > y) - (x < y);
}

/* places of the scan by their distance from where the build stands */
static size_t scan_places(const places *p, long *step)
{
  size_t n = 0;
  for (int k = 0; k < TW_WINBACK_SCAN; k++) {
    const double share = (double)k / (TW_WINBACK_SCAN - 1);
    const long here = lround((1 - share) * (double)p->least + share * (double)p->most);
    if (here != 0 && (n == 0 || step[n - 1] != here)) {
      step[n++] = here;
    }
  }
  qsort(step, n, sizeof *step, nearest_first);
  return n;
}

/* halve the gaps on both sides of the best */
static tw_status halve(bench *b, const tw_adjustment *a, const places *p, best *found)
{
  tw_status status = TW_OK;
  long gap = (p->most - p->least + TW_WINBACK_SCAN - 2) / (TW_WINBACK_SCAN - 1);
  for (int k = 0; k < TW_WINBACK_HALVING && gap > 1 && found->margin < 0; k++) {
    gap = (gap + 1) / 2;
    const long about = found->step;
    for (int side = -1; side <= 1 && status == TW_OK && found->margin < 0; side += 2) {
      const long step = about + side * gap;
      if (step >= p->least && step <= p->most) {
        status = look(b, a, p, step, found);
      }
    }
  }
  return status;
}

/* moves the input to the best place found; *margin is that of the build and becomes the best */
static tw_status turn(bench *b, const tw_adjustment *a, double *margin)
{
  long step[TW_WINBACK_SCAN];
  const places p = places_of(a, b->x[a->input]);
  best found = {0, *margin};
  tw_status status = TW_OK;
  const size_t n = scan_places(&p, step);
  bool hopeless = false;
  memcpy(b->top, b->here, b->a->batch->goal_count * sizeof *b->top);
  if (n > 1) {
    /* the nearest place and the farthest tell whether the screw has to do with it at all */
    status = look(b, a, &p, step[0], &found);
    if (status == TW_OK && found.margin < 0 && untouched(b)) {
      status = look(b, a, &p, step[n - 1], &found);
      hopeless = status == TW_OK && untouched(b);
    }
  }
  for (size_t i = n > 1; i < n && status == TW_OK && found.margin < 0 && !hopeless; i++) {
    status = look(b, a, &p, step[i], &found);
  }
  /* without any number there is no better side */
  if (status == TW_OK && found.margin > -HUGE_VAL && !hopeless) {
    status = halve(b, a, &p, &found);
  }
  b->x[a->input] = place(a, &p, found.step);
  memcpy(b->here, b->top, b->a->batch->goal_count * sizeof *b->top);
  *margin = found.margin;
  return status;
}

/* ---- one build ----------------------------------------------------------------------------- */

static tw_status adjust(bench *b, size_t index)
{
  const tw_winback_batch *batch = b->a->batch;
  const size_t at = index * batch->builds->outputs;
  const double *y = batch->builds->y + at;
  const unsigned char *outcome = batch->builds->outcome + at;
  double margin = tw_goals_margin(batch->goals, batch->goal_count, y, outcome, NULL);
  for (size_t g = 0; g < batch->goal_count; g++) {
    b->here[g] = tw_goal_margin(&batch->goals[g], y, outcome);
  }
  tw_status status = TW_OK;
  double start[8];
  assert(b->a->count <= sizeof start / sizeof start[0]);
  for (size_t k = 0; k < b->a->count; k++) {
    start[k] = b->x[b->a->adjustment[k].input];
  }
  const int rounds = b->a->count > 1 ? TW_WINBACK_ROUNDS : 1;
  for (int round = 0; round < rounds; round++) {
    for (size_t k = 0; k < b->a->count && status == TW_OK && margin < 0; k++) {
      /* the ends of the range stay where they were when the build was finished */
      tw_adjustment here = b->a->adjustment[k];
      const double gone = b->x[here.input] - start[k];
      here.down += gone;
      here.up -= gone;
      status = turn(b, &here, &margin);
    }
  }
  b->result->good = margin >= 0;
  b->result->move = b->x[b->a->adjustment[0].input] - start[0];
  b->result->moved = b->result->good;
  return status;
}

static tw_status some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const adjusting *a = self;
  const tw_winback_batch *batch = a->batch;
  double *margins = &a->margins[3 * (size_t)worker * batch->goal_count];
  bench b = {.a = a,
             .worker = worker,
             .x = &a->x[(size_t)worker * batch->model->inputs],
             .y = &a->y[(size_t)worker * batch->model->outputs],
             .here = margins,
             .there = margins + batch->goal_count,
             .top = margins + 2 * batch->goal_count,
             .fault = fault};
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    b.result = &a->result[i];
    tw_sampler_draw(batch->sampler, batch->builds->first + a->failing[i], b.x);
    status = adjust(&b, a->failing[i]);
  }
  return status;
}

/* ---- the batch ----------------------------------------------------------------------------- */

static bool is_good(const tw_winback_batch *b, size_t i)
{
  const size_t at = i * b->builds->outputs;
  return tw_goals_margin(b->goals, b->goal_count, b->builds->y + at, b->builds->outcome + at,
                         NULL) >= 0;
}

/* where the numerics failed a turned screw would only hide it */
static bool is_unknown(const tw_winback_batch *b, size_t i)
{
  const size_t at = i * b->builds->outputs;
  for (size_t g = 0; g < b->goal_count; g++) {
    if (b->builds->outcome[at + b->goals[g].output] == TW_OUTCOME_NO_ANSWER) {
      return true;
    }
  }
  return false;
}

static size_t list_failing(const tw_winback_batch *batch, size_t *failing, tw_winback *out)
{
  size_t n = 0;
  *out = (tw_winback){0};
  for (size_t i = 0; i < batch->builds->count; i++) {
    if (!tw_builds_has(batch->builds, i)) {
      continue;
    }
    out->builds++;
    if (is_good(batch, i)) {
      out->before++;
    } else if (is_unknown(batch, i)) {
      out->unknown++;
    } else {
      failing[n++] = i;
    }
  }
  return n;
}

static void sum_up(const one *result, size_t n, tw_winback *out)
{
  out->good = out->before;
  for (size_t i = 0; i < n; i++) {
    out->evaluations += result[i].evaluations;
    out->good += result[i].good;
    if (result[i].moved) {
      out->lowest = out->used ? fmin(out->lowest, result[i].move) : result[i].move;
      out->highest = out->used ? fmax(out->highest, result[i].move) : result[i].move;
      out->used = true;
    }
  }
}

tw_status tw_winback_adjust(const tw_winback_batch *batch, const tw_adjustment *adjustments,
                            size_t count, const tw_progress *progress, tw_winback *out,
                            tw_fault *fault)
{
  const size_t workers = (size_t)tw_threads(batch->threads);
  size_t *failing = tw_alloc(batch->builds->count, sizeof *failing);
  adjusting a = {.batch = batch,
                 .adjustment = adjustments,
                 .count = count,
                 .failing = failing,
                 .result = tw_alloc(batch->builds->count, sizeof *a.result),
                 .x = tw_alloc(workers * batch->model->inputs, sizeof *a.x),
                 .y = tw_alloc(workers * batch->model->outputs, sizeof *a.y),
                 .margins = tw_alloc(3 * workers * batch->goal_count, sizeof *a.margins),
                 .outcome = tw_alloc(workers * batch->model->outputs, 1)};
  tw_status status = TW_OK;
  if (failing && a.result && a.x && a.y && a.margins && a.outcome) {
    const size_t n = list_failing(batch, failing, out);
    const tw_loop loop = {n, 1, batch->threads, some, &a, "adjusting"};
    status = n > 0 ? tw_parallel(&loop, progress, fault) : TW_OK;
    sum_up(a.result, n, out);
  } else {
    status =
        tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu builds", batch->builds->count);
  }
  tw_free(failing);
  tw_free(a.result);
  tw_free(a.x);
  tw_free(a.y);
  tw_free(a.margins);
  tw_free(a.outcome);
  return status;
}
