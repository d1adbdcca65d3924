/* remedy_joint.c: two or three levers at once. The scan of single levers foretells what a pair or a
 * triple would do (margins taken as sums of single effects); the most promising are then tried for
 * real. Where all levers are lists and the budget allows, every combination is tried. */
#include "remedy_parts.h"
#include "tripwright/parallel.h"

#include <math.h>
#include <string.h>

#define DEPTH_MOST 3
/* what refining one candidate may cost, for the budget */
#define CANDIDATE_COST  100
#define CANDIDATES_MOST 400

typedef struct candidate {
  tw_remedy remedy; /* levers and their foretold values */
  double foretold;  /* least margin */
  bool ok;
  size_t used;
} candidate;

typedef struct joint {
  tw_search *s;
  size_t depth;
  candidate *list;
  size_t count, room;
} joint;

static size_t points_of(const tw_search *s, size_t k)
{
  return s->start[k + 1] - s->start[k];
}

static bool is_now(const tw_search *s, size_t k, size_t point)
{
  return s->value[point] == s->problem->levers[s->lever[k]].now;
}

/* next combination of `depth` rising numbers below n; false after the last */
static bool next_levers(size_t *at, size_t depth, size_t n)
{
  for (size_t i = depth; i-- > 0;) {
    if (at[i] < n - depth + i) {
      at[i]++;
      for (size_t j = i + 1; j < depth; j++) {
        at[j] = at[j - 1] + 1;
      }
      return true;
    }
  }
  return false;
}

/* next combination of scan points of the levers at[]; false after the last */
static bool next_points(const tw_search *s, const size_t *at, size_t depth, size_t *point)
{
  for (size_t i = depth; i-- > 0;) {
    if (++point[i] < s->start[at[i] + 1]) {
      return true;
    }
    point[i] = s->start[at[i]];
  }
  return false;
}

static void changes_of(const tw_search *s, const size_t *at, size_t depth, const size_t *point,
                       tw_remedy *remedy)
{
  *remedy = (tw_remedy){.changes = depth};
  for (size_t i = 0; i < depth; i++) {
    remedy->change[i] = (tw_change){s->lever[at[i]], s->value[point[i]]};
  }
}

/* ---- every combination -------------------------------------------------------------------------
 */

static double combinations(const tw_search *s, size_t depth)
{
  double sum = 0.0;
  size_t at[DEPTH_MOST] = {0, 1, 2};
  do {
    double product = 1.0;
    for (size_t i = 0; i < depth; i++) {
      product *= (double)points_of(s, at[i]);
    }
    sum += product;
  } while (next_levers(at, depth, s->count));
  return sum;
}

/* every value of every lever is a scan point */
static bool all_lists(const tw_search *s)
{
  bool all = !s->thinned;
  for (size_t k = 0; k < s->count; k++) {
    all = all && s->problem->levers[s->lever[k]].choices;
  }
  return all;
}

typedef struct block {
  tw_search *s;
  tw_remedy *remedy;
  bool *ok;
} block;

static tw_status try_some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const block *b = self;
  double *m = &b->s->m[(size_t)worker * b->s->problem->limit_count];
  for (size_t i = first; i < first + count; i++) {
    tw_remedy *r = &b->remedy[i];
    const tw_status status = tw_search_margins(b->s, worker, r->change, r->changes, m, fault);
    if (status != TW_OK) {
      return status;
    }
    tw_remedy_fill(b->s, r, m);
    b->ok[i] = r->margin >= b->s->safety;
  }
  return TW_OK;
}

static tw_status flush(block *b, size_t count, tw_fault *fault)
{
  const tw_loop loop = {count, 0, b->s->options->threads, try_some, b, "every combination"};
  const tw_status status = tw_parallel(&loop, b->s->progress, fault);
  b->s->out->evaluations += count;
  for (size_t i = 0; status == TW_OK && i < count; i++) {
    if (b->ok[i]) {
      tw_search_keep(b->s, &b->remedy[i]);
    }
  }
  return status;
}

static tw_status every_combination(tw_search *s, size_t depth, tw_fault *fault)
{
  enum { BLOCK = 512 };
  block b = {s, tw_alloc(BLOCK, sizeof *b.remedy), tw_alloc(BLOCK, sizeof *b.ok)};
  tw_status status = b.remedy && b.ok
                         ? TW_OK
                         : tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory to try combinations");
  size_t count = 0, at[DEPTH_MOST] = {0, 1, 2}, point[DEPTH_MOST];
  do {
    for (size_t i = 0; i < depth; i++) {
      point[i] = s->start[at[i]];
    }
    do {
      bool moves = true; /* a lever that stays makes it a smaller combination */
      for (size_t i = 0; i < depth; i++) {
        moves = moves && !is_now(s, at[i], point[i]);
      }
      if (moves && status == TW_OK) {
        changes_of(s, at, depth, point, &b.remedy[count++]);
      }
      if (count == BLOCK && status == TW_OK) {
        status = flush(&b, count, fault);
        count = 0;
      }
    } while (status == TW_OK && next_points(s, at, depth, point));
  } while (status == TW_OK && next_levers(at, depth, s->count));
  if (status == TW_OK) {
    status = flush(&b, count, fault);
  }
  tw_free(b.remedy);
  tw_free(b.ok);
  return status;
}

/* ---- the most promising ------------------------------------------------------------------------
 */

/* effect of lever after lever added to the design's margins; where the design has no number (no
 * trip), the best that one of the levers reaches */
static double foretell(const tw_search *s, const size_t *point, size_t depth)
{
  const size_t limits = s->problem->limit_count;
  double least = HUGE_VAL;
  for (size_t k = 0; k < limits; k++) {
    const double m0 = s->margins0[k];
    double sum = m0;
    if (m0 <= -TW_MARGIN_MOST) {
      for (size_t i = 0; i < depth; i++) {
        sum = fmax(sum, s->margins[point[i] * limits + k]);
      }
    } else {
      for (size_t i = 0; i < depth; i++) {
        sum += s->margins[point[i] * limits + k] - m0;
      }
    }
    least = fmin(least, sum);
  }
  return least;
}

/* foretold to keep the limits stands before not; then the ranking; then the larger margin */
static bool better(const tw_search *s, const candidate *a, const candidate *b)
{
  const bool good_a = a->foretold >= s->safety, good_b = b->foretold >= s->safety;
  if (good_a != good_b) {
    return good_a;
  }
  if (!good_a && a->foretold != b->foretold) {
    return a->foretold > b->foretold;
  }
  return tw_remedy_compare(&a->remedy, &b->remedy) < 0;
}

/* the best foretold point of one set of levers */
static candidate best_point(const tw_search *s, const size_t *at, size_t depth)
{
  candidate best = {.foretold = -HUGE_VAL};
  size_t point[DEPTH_MOST];
  bool first = true;
  for (size_t i = 0; i < depth; i++) {
    point[i] = s->start[at[i]];
  }
  do {
    candidate now = {0};
    changes_of(s, at, depth, point, &now.remedy);
    now.foretold = foretell(s, point, depth);
    tw_search_price(s, now.remedy.change, depth, &now.remedy.time, &now.remedy.cost);
    for (size_t i = 0; i < depth; i++) {
      const tw_lever *lever = &s->problem->levers[now.remedy.change[i].lever];
      now.remedy.size += tw_lever_step(lever, lever->now, now.remedy.change[i].to);
    }
    if (first || better(s, &now, &best)) {
      best = now;
      first = false;
    }
  } while (next_points(s, at, depth, point));
  return best;
}

/* keep the `room` best in order */
static void insert(joint *j, const candidate *c)
{
  size_t at = j->count < j->room ? j->count : j->room;
  while (at > 0 && better(j->s, c, &j->list[at - 1])) {
    at--;
  }
  if (at >= j->room) {
    return;
  }
  const size_t last = j->count < j->room ? j->count : j->room - 1;
  memmove(&j->list[at + 1], &j->list[at], (last - at) * sizeof *j->list);
  j->list[at] = *c;
  j->count = last + 1;
}

static tw_status refine_some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const joint *j = self;
  for (size_t i = first; i < first + count; i++) {
    candidate *c = &j->list[i];
    const tw_status status =
        tw_search_refine(j->s, worker, j->s->safety, &c->remedy, &c->ok, &c->used, fault);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

/* Is the change still good without one of its parts? Then it is a smaller remedy's business. */
static bool has_smaller(const tw_search *s, const tw_remedy *remedy)
{
  for (size_t i = 0; i < s->out->count; i++) {
    const tw_remedy *known = &s->out->remedy[i];
    size_t shared = 0;
    for (size_t a = 0; a < known->changes; a++) {
      for (size_t b = 0; b < remedy->changes; b++) {
        shared += known->change[a].lever == remedy->change[b].lever;
      }
    }
    if (shared == known->changes && known->changes < remedy->changes &&
        tw_remedy_compare(known, remedy) < 0) {
      return true;
    }
  }
  return false;
}

static tw_status most_promising(tw_search *s, size_t depth, tw_fault *fault)
{
  const size_t left = s->budget > s->out->evaluations ? s->budget - s->out->evaluations : 0;
  joint j = {s, depth, NULL, 0, left / (CANDIDATE_COST * depth)};
  j.room = j.room > CANDIDATES_MOST ? CANDIDATES_MOST : j.room;
  if (j.room == 0) {
    return TW_OK;
  }
  j.list = tw_alloc(j.room, sizeof *j.list);
  if (!j.list) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu candidates", j.room);
  }
  size_t at[DEPTH_MOST] = {0, 1, 2};
  do {
    const candidate c = best_point(s, at, depth);
    /* foretold values are rough: a shortfall of a tenth may still be made good */
    if (c.foretold >= s->safety - 0.1 * TW_MARGIN_MOST &&
        tw_search_wants(s, c.remedy.time, c.remedy.cost) && !has_smaller(s, &c.remedy)) {
      insert(&j, &c);
    }
  } while (next_levers(at, depth, s->count));
  const tw_loop loop = {j.count,     1,  s->options->threads,
                        refine_some, &j, depth == 2 ? "pairs of changes" : "three changes"};
  const tw_status status = tw_parallel(&loop, s->progress, fault);
  for (size_t i = 0; status == TW_OK && i < j.count; i++) {
    s->out->evaluations += j.list[i].used;
    if (j.list[i].ok && !has_smaller(s, &j.list[i].remedy)) {
      tw_search_keep(s, &j.list[i].remedy);
    }
  }
  tw_free(j.list);
  return status;
}

tw_status tw_search_joint(tw_search *s, size_t depth, tw_fault *fault)
{
  if (all_lists(s) && combinations(s, depth) + (double)s->out->evaluations <= (double)s->budget) {
    s->out->complete = depth == 2 || s->out->complete;
    return every_combination(s, depth, fault);
  }
  s->out->complete = false;
  return most_promising(s, depth, fault);
}
