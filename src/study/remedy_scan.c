/* remedy_scan.c: every lever alone over its range. */
#include "remedy_parts.h"
#include "tripwright/parallel.h"

#include <math.h>
#include <stdint.h>

/* fewer than this say little about a range */
#define POINTS_LEAST 5

/* Points of a lever: its list, or TW_SCAN_POINTS; no more than `most`. */
static size_t points_of(const tw_lever *lever, size_t most)
{
  const size_t all = lever->choices ? lever->choice_count : TW_SCAN_POINTS;
  return all < most ? all : most;
}

/* so many points a lever that the scan takes half of the budget at most */
static size_t most_points(tw_search *s)
{
  size_t all = 0;
  for (size_t k = 0; k < s->count; k++) {
    all += points_of(&s->problem->levers[s->lever[k]], SIZE_MAX);
  }
  s->thinned = all > s->budget / 2;
  if (!s->thinned) {
    return SIZE_MAX;
  }
  const size_t even = s->budget / 2 / s->count;
  return even > POINTS_LEAST ? even : POINTS_LEAST;
}

/* point i of n, the ends among them */
static double point_at(const tw_lever *lever, size_t i, size_t n)
{
  if (!lever->choices) {
    return tw_lever_value(lever, (double)i / (double)(n - 1));
  }
  return lever->choices[n > 1 ? i * (lever->choice_count - 1) / (n - 1) : 0];
}

typedef struct scan {
  tw_search *s;
  size_t *owner; /* lever of each point, as a place among the free ones */
} scan;

static tw_status some_points(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const scan *c = self;
  for (size_t i = first; i < first + count; i++) {
    const tw_change change = {c->s->lever[c->owner[i]], c->s->value[i]};
    const tw_status status = tw_search_margins(
        c->s, worker, &change, 1, &c->s->margins[i * c->s->problem->limit_count], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

tw_status tw_search_scan(tw_search *s, tw_fault *fault)
{
  size_t n = 0;
  const size_t most = most_points(s);
  for (size_t k = 0; k < s->count; k++) {
    s->start[k] = n;
    n += points_of(&s->problem->levers[s->lever[k]], most);
  }
  s->start[s->count] = n;
  scan c = {s, tw_alloc(n, sizeof *c.owner)};
  s->value = tw_alloc(n, sizeof *s->value);
  s->margins = tw_alloc(n * s->problem->limit_count, sizeof *s->margins);
  if (!c.owner || !s->value || !s->margins) {
    tw_free(c.owner);
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu points", n);
  }
  for (size_t k = 0; k < s->count; k++) {
    const tw_lever *lever = &s->problem->levers[s->lever[k]];
    const size_t points = points_of(lever, most);
    for (size_t i = 0; i < points; i++) {
      c.owner[s->start[k] + i] = k;
      s->value[s->start[k] + i] = point_at(lever, i, points);
    }
  }
  const tw_loop loop = {n, 1, s->options->threads, some_points, &c, "trying every field alone"};
  const tw_status status = tw_parallel(&loop, s->progress, fault);
  s->out->evaluations += n;
  tw_free(c.owner);
  return status;
}

/* ---- singles --------------------------------------------------------------------------------- */

/* Scan points that keep every limit, nearest to the design on each side: a remedy to be refined.
 * Both sides of each lever: at most two. */
static size_t single_candidates(const tw_search *s, tw_remedy *candidate)
{
  const size_t limits = s->problem->limit_count;
  size_t n = 0;
  for (size_t k = 0; k < s->count; k++) {
    const tw_lever *lever = &s->problem->levers[s->lever[k]];
    double nearest[2] = {HUGE_VAL, HUGE_VAL}, to[2] = {0.0, 0.0};
    for (size_t i = s->start[k]; i < s->start[k + 1]; i++) {
      const double least = tw_search_least(s, &s->margins[i * limits], NULL);
      if (least >= s->safety) {
        const int side = !lever->unordered && s->value[i] > lever->now;
        const double step =
            lever->unordered ? -least : tw_lever_step(lever, lever->now, s->value[i]);
        if (step < nearest[side]) {
          nearest[side] = step;
          to[side] = s->value[i];
        }
      }
    }
    for (int side = 0; side < 2; side++) {
      if (isfinite(nearest[side])) {
        candidate[n++] = (tw_remedy){.changes = 1, .change = {{s->lever[k], to[side]}}};
      }
    }
  }
  return n;
}

typedef struct refinery {
  const tw_search *s;
  tw_remedy *remedy;
  bool *ok;
  size_t *used;
} refinery;

static tw_status refine_some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const refinery *r = self;
  for (size_t i = first; i < first + count; i++) {
    const tw_status status =
        tw_search_refine(r->s, worker, r->s->safety, &r->remedy[i], &r->ok[i], &r->used[i], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

tw_status tw_search_singles(tw_search *s, tw_fault *fault)
{
  tw_remedy *candidate = tw_alloc(2 * s->count, sizeof *candidate);
  bool *ok = tw_alloc(2 * s->count, sizeof *ok);
  size_t *used = tw_alloc(2 * s->count, sizeof *used);
  tw_status status = TW_NO_MEMORY;
  if (candidate && ok && used) {
    const size_t n = single_candidates(s, candidate);
    refinery r = {s, candidate, ok, used};
    const tw_loop loop = {n, 1, s->options->threads, refine_some, &r, "single changes"};
    status = tw_parallel(&loop, s->progress, fault);
    for (size_t i = 0; status == TW_OK && i < n; i++) {
      s->out->evaluations += used[i];
      if (ok[i]) {
        tw_search_keep(s, &candidate[i]);
      }
    }
  } else {
    tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu levers", s->count);
  }
  tw_free(candidate);
  tw_free(ok);
  tw_free(used);
  return status;
}
