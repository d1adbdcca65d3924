/* remedy_all.c: all levers together, and what excludes what when nothing helps. */
#include "remedy_parts.h"
#include "tripwright/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROUNDS      6
#define RAISE_EACH  40
#define ACTIVE_MOST 4
/* evaluations for each lever without which nothing should be called impossible */
#define CLIMB_EACH 10
/* margins this close to the smallest count as active */
#define ACTIVE_WITHIN 0.1

/* one round of trying every scan point of every lever from a common base point */
typedef struct round_data {
  const tw_search *s;
  const tw_change *base; /* all free levers */
  size_t *owner;
  double *score;
  const size_t *only;
  size_t only_count;
  tw_change *point; /* one row of `count` changes a worker */
} round_data;

/* how good: the smallest margin, then the sum of what is missing (so that progress shows even while
 * one limit stands still) */
static double score_of(const tw_search *s, const size_t *only, size_t only_count, const double *m)
{
  const size_t n = only ? only_count : s->problem->limit_count;
  double least = HUGE_VAL, missing = 0.0;
  for (size_t i = 0; i < n; i++) {
    const double margin = m[only ? only[i] : i];
    least = fmin(least, margin);
    missing += fmin(margin - s->safety, 0.0);
  }
  return least + 1e-3 * missing / (double)n;
}

static tw_status score_some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const round_data *r = self;
  const tw_search *s = r->s;
  tw_change *point = &r->point[(size_t)worker * s->count];
  double *m = &s->m[(size_t)worker * s->problem->limit_count];
  for (size_t i = first; i < first + count; i++) {
    memcpy(point, r->base, s->count * sizeof *point);
    point[r->owner[i]].to = s->value[i];
    const tw_status status = tw_search_margins(s, worker, point, s->count, m, fault);
    if (status != TW_OK) {
      return status;
    }
    r->score[i] = score_of(s, r->only, r->only_count, m);
  }
  return TW_OK;
}

/* scores of one round; the first stands at the design, where the scan has tried every point */
static tw_status score_round(tw_search *s, round_data *r, bool first, tw_fault *fault)
{
  const size_t n = s->start[s->count], limits = s->problem->limit_count;
  if (first) {
    for (size_t i = 0; i < n; i++) {
      r->score[i] = score_of(s, r->only, r->only_count, &s->margins[i * limits]);
    }
    return TW_OK;
  }
  const tw_loop loop = {n, 1, s->options->threads, score_some, r, "all fields together"};
  const tw_status status = tw_parallel(&loop, s->progress, fault);
  s->out->evaluations += n;
  return status;
}

/* Coordinate ascent over the scan points, then a constrained search over the continuous levers,
 * with about `most` evaluations. change[count] in (the design) and out; *best is the smallest
 * margin of the limits that count. */
static tw_status climb(tw_search *s, round_data *r, tw_change *change, double enough, size_t most,
                       double *best, tw_fault *fault)
{
  const size_t n = s->start[s->count], end = s->out->evaluations + most;
  tw_status status = TW_OK;
  double score = score_of(s, r->only, r->only_count, s->margins0);
  r->base = change;
  for (int k = 0; k < ROUNDS && score < enough; k++) {
    if (k > 0 && s->out->evaluations + n > end) {
      break;
    }
    status = score_round(s, r, k == 0, fault);
    if (status != TW_OK) {
      return status;
    }
    size_t top = 0;
    for (size_t i = 1; i < n; i++) {
      top = r->score[i] > r->score[top] ? i : top;
    }
    if (!(r->score[top] > score + 1e-9)) {
      break;
    }
    score = r->score[top];
    change[r->owner[top]].to = s->value[top];
  }
  const size_t left = end > s->out->evaluations ? end - s->out->evaluations : 1;
  return tw_search_raise(s, 0, change, s->count, r->only, r->only_count, enough,
                         left < RAISE_EACH * s->count ? left : RAISE_EACH * s->count, best,
                         &s->out->evaluations, fault);
}

static tw_status prepare(const tw_search *s, round_data *r, tw_change **change, tw_fault *fault)
{
  const size_t n = s->start[s->count], workers = (size_t)tw_threads(s->options->threads);
  *r = (round_data){.s = s};
  r->owner = tw_alloc(n, sizeof *r->owner);
  r->score = tw_alloc(n, sizeof *r->score);
  r->point = tw_alloc(workers * s->count, sizeof *r->point);
  *change = tw_alloc(s->count, sizeof **change);
  if (!r->owner || !r->score || !r->point || !*change) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu points", n);
  }
  for (size_t k = 0; k < s->count; k++) {
    for (size_t i = s->start[k]; i < s->start[k + 1]; i++) {
      r->owner[i] = k;
    }
  }
  return TW_OK;
}

static void release(round_data *r, tw_change *change)
{
  tw_free(r->owner);
  tw_free(r->score);
  tw_free(r->point);
  tw_free(change);
}

static void start_at_design(const tw_search *s, tw_change *change)
{
  for (size_t k = 0; k < s->count; k++) {
    change[k] = (tw_change){s->lever[k], s->problem->levers[s->lever[k]].now};
  }
}

/* ---- the way back: as few changes as keep what was reached
 * --------------------------------------- */

typedef struct dear {
  size_t place;
  double time, cost, step;
} dear;

static int dearest_first(const void *a, const void *b)
{
  const dear *x = a, *y = b;
  if (x->time != y->time) {
    return x->time > y->time ? -1 : 1;
  }
  if (x->cost != y->cost) {
    return x->cost > y->cost ? -1 : 1;
  }
  if (x->step != y->step) {
    return x->step < y->step ? -1 : 1;
  }
  return x->place < y->place ? -1 : x->place > y->place;
}

/* put levers back to the design, the dearest first, while the smallest margin stays at `keep` */
static tw_status thin_out(tw_search *s, tw_change *change, double keep, tw_fault *fault)
{
  dear *list = tw_alloc(s->count, sizeof *list);
  if (!list) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu levers", s->count);
  }
  for (size_t k = 0; k < s->count; k++) {
    const tw_lever *lever = &s->problem->levers[s->lever[k]];
    const tw_remake *part = &s->problem->remakes[lever->part];
    list[k] = (dear){k, part->time, part->cost, tw_lever_step(lever, lever->now, change[k].to)};
  }
  qsort(list, s->count, sizeof *list, dearest_first);
  tw_status status = TW_OK;
  for (size_t i = 0; status == TW_OK && i < s->count; i++) {
    const size_t k = list[i].place;
    const double there = change[k].to, now = s->problem->levers[s->lever[k]].now;
    if (there == now) {
      continue;
    }
    change[k].to = now;
    status = tw_search_margins(s, 0, change, s->count, s->m, fault);
    s->out->evaluations++;
    if (status == TW_OK && tw_search_least(s, s->m, NULL) < keep) {
      change[k].to = there;
    }
  }
  tw_free(list);
  return status;
}

/* the levers that moved, as a remedy; false if there are too many */
static bool as_remedy(const tw_search *s, const tw_change *change, tw_remedy *remedy)
{
  *remedy = (tw_remedy){0};
  for (size_t k = 0; k < s->count; k++) {
    if (change[k].to != s->problem->levers[s->lever[k]].now) {
      if (remedy->changes == TW_REMEDY_CHANGES) {
        return false;
      }
      remedy->change[remedy->changes++] = change[k];
    }
  }
  return true;
}

static tw_status finish_all(tw_search *s, tw_change *change, double best, bool *found,
                            tw_fault *fault)
{
  const double safety = s->safety;
  tw_remedy remedy;
  tw_status status = thin_out(s, change, best >= safety ? safety : best - 1e-3, fault);
  if (status != TW_OK || !as_remedy(s, change, &remedy)) {
    return status;
  }
  if (best >= safety) {
    status = tw_search_refine(s, 0, safety, &remedy, found, &s->out->evaluations, fault);
    if (status == TW_OK && *found) {
      tw_search_keep(s, &remedy);
    }
    return status;
  }
  status = tw_search_margins(s, 0, remedy.change, remedy.changes, s->m, fault);
  s->out->evaluations++;
  if (status == TW_OK) {
    tw_remedy_fill(s, &remedy, s->m);
    /* what keeps the limits and is short of the yield only is nearer */
    s->out->nearest = s->out->nearest.has_yield ? s->out->nearest : remedy;
  }
  return status;
}

tw_status tw_search_all(tw_search *s, bool *found, tw_fault *fault)
{
  *found = false;
  round_data r;
  tw_change *change = NULL;
  tw_status status = prepare(s, &r, &change, fault);
  if (status == TW_OK) {
    double best = 0.0;
    start_at_design(s, change);
    status = climb(s, &r, change, s->safety, s->budget / 2, &best, fault);
    if (status == TW_OK) {
      status = finish_all(s, change, best, found, fault);
    }
  }
  release(&r, change);
  return status;
}

/* ---- exclusion
 * ------------------------------------------------------------------------------------ */

/* limits that hold the nearest attempt back, tightest first */
static size_t active_limits(const tw_search *s, const double *m, size_t *active)
{
  size_t n = 0;
  const double least = tw_search_least(s, m, NULL);
  for (size_t k = 0; k < s->problem->limit_count; k++) {
    if (m[k] <= least + ACTIVE_WITHIN || m[k] < s->safety) {
      size_t at = n < ACTIVE_MOST ? n++ : ACTIVE_MOST;
      while (at > 0 && m[k] < m[active[at - 1]]) {
        if (at < ACTIVE_MOST) {
          active[at] = active[at - 1];
        }
        at--;
      }
      if (at < ACTIVE_MOST) {
        active[at] = k;
      }
    }
  }
  return n;
}

/* the best that a set of limits can have together */
static tw_status best_of(tw_search *s, round_data *r, tw_change *change, const size_t *only,
                         size_t n, size_t most, double *best, tw_fault *fault)
{
  r->only = only;
  r->only_count = n;
  start_at_design(s, change);
  return climb(s, r, change, s->safety, most, best, fault);
}

static tw_status examine(tw_search *s, round_data *r, tw_change *change, const size_t *active,
                         size_t n, tw_fault *fault)
{
  tw_exclusion *e = &s->out->exclusion;
  const double safety = s->safety;
  const size_t climbs = n * (n + 1) / 2, share = s->budget / (climbs > 0 ? climbs : 1);
  const size_t most = share > CLIMB_EACH * s->count ? share : CLIMB_EACH * s->count;
  double alone[ACTIVE_MOST];
  for (size_t i = 0; i < n; i++) {
    const tw_status status = best_of(s, r, change, &active[i], 1, most, &alone[i], fault);
    if (status != TW_OK) {
      return status;
    }
    if (alone[i] < safety && (!e->found || alone[i] < e->margin)) {
      *e = (tw_exclusion){true, active[i], active[i], alone[i], alone[i], alone[i]};
    }
  }
  for (size_t i = 0; i < n && !(e->found && e->a == e->b); i++) {
    for (size_t j = i + 1; j < n; j++) {
      const size_t pair[2] = {active[i], active[j]};
      double both;
      const tw_status status = best_of(s, r, change, pair, 2, most, &both, fault);
      if (status != TW_OK) {
        return status;
      }
      if (both < safety && (!e->found || both < e->margin)) {
        *e = (tw_exclusion){true, pair[0], pair[1], both, alone[i], alone[j]};
      }
    }
  }
  return TW_OK;
}

tw_status tw_search_exclusion(tw_search *s, tw_fault *fault)
{
  round_data r;
  tw_change *change = NULL;
  size_t active[ACTIVE_MOST], n = 0;
  if (s->count == 0) {
    s->out->nearest = (tw_remedy){.margin = s->out->margin, .worst = s->out->worst};
    return TW_OK;
  }
  tw_status status = prepare(s, &r, &change, fault);
  if (status == TW_OK) {
    const tw_remedy *near = &s->out->nearest;
    status = tw_search_margins(s, 0, near->change, near->changes, s->m, fault);
    s->out->evaluations++;
    if (status == TW_OK) {
      n = active_limits(s, s->m, active);
      status = examine(s, &r, change, active, n, fault);
    }
  }
  release(&r, change);
  return status;
}
