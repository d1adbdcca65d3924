/* allot_search.c: all sets of grades by rising cost, and the cheapest that is good enough. */
#include "tripwright/batch_allot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* money below which two sets cost the same: rounding of the sum of a dozen prices */
#define SAME_COST 1e-9

static int by_cost(const void *a, const void *b)
{
  const tw_allot_set *x = a, *y = b;
  if (fabs(x->cost - y->cost) > SAME_COST) {
    return x->cost < y->cost ? -1 : 1;
  }
  return memcmp(x->grade, y->grade, sizeof x->grade);
}

static tw_status count_sets(const tw_allot_problem *p, size_t *count, tw_fault *fault)
{
  *count = 1;
  for (size_t i = 0; i < p->dims; i++) {
    if (p->dim[i].grades < 1 || *count > TW_ALLOT_SETS / p->dim[i].grades) {
      return tw_fail(fault, TW_BAD_INPUT, "grades",
                     "name the dimensions that matter with --only, or give them fewer grades",
                     "the grades of %zu dimensions make more than %u sets", p->dims, TW_ALLOT_SETS);
    }
    *count *= p->dim[i].grades;
  }
  return TW_OK;
}

static double cost_of(const tw_allot_problem *p, const tw_allot_set *set)
{
  double sum = 0;
  for (size_t i = 0; i < p->dims; i++) {
    sum += p->dim[i].cost[set->grade[i]];
  }
  return sum;
}

tw_status tw_allot_sets(const tw_allot_problem *p, tw_allot_set **out, size_t *count,
                        tw_fault *fault)
{
  const tw_status status = count_sets(p, count, fault);
  *out = NULL;
  if (status != TW_OK) {
    return status;
  }
  *out = tw_alloc(*count, sizeof **out);
  if (!*out) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for %zu sets of grades", *count);
  }
  for (size_t k = 0; k < *count; k++) {
    size_t rest = k;
    for (size_t i = 0; i < p->dims; i++) {
      (*out)[k].grade[i] = (unsigned char)(rest % p->dim[i].grades);
      rest /= p->dim[i].grades;
    }
    (*out)[k].cost = cost_of(p, &(*out)[k]);
  }
  qsort(*out, *count, sizeof **out, by_cost);
  return TW_OK;
}

static bool own_are_good(const tw_allot_problem *p, const double *own)
{
  for (size_t r = 0; r < p->rules; r++) {
    if (own[r] < p->own) {
      return false;
    }
  }
  return true;
}

/* one set in the order of cost; false when nothing later can count any more */
static bool look_at(const tw_allot_problem *p, const tw_allot_set *set, tw_allotted *out)
{
  double own[TW_ALLOT_RULES];
  const double beaten = out->per_good_cost;
  if (out->found && set->cost > out->set.cost + SAME_COST && p->other_cost + set->cost >= beaten) {
    return false;
  }
  const double yield = tw_allot_screen(p, set, own);
  if (yield > out->best_yield) {
    out->best = *set;
    out->best_yield = yield;
  }
  if (yield > 0 && (p->other_cost + set->cost) / yield < beaten) {
    out->per_good = *set;
    out->per_good_cost = (p->other_cost + set->cost) / yield;
    out->per_good_yield = yield;
  }
  const bool same = out->found && fabs(set->cost - out->set.cost) <= SAME_COST;
  if (yield >= p->target && own_are_good(p, own) && (!out->found || same)) {
    out->alike++;
    if (!out->found || yield > out->yield) {
      out->set = *set;
      out->yield = yield;
      memcpy(out->own, own, sizeof own);
    }
    out->found = true;
  }
  return true;
}

/* what one grade looser or tighter of each dimension would change */
static void gains(const tw_allot_problem *p, tw_allotted *out)
{
  for (size_t i = 0; i < p->dims; i++) {
    tw_allot_set set = out->set;
    const size_t g = set.grade[i];
    if (g > 0) {
      set.grade[i] = (unsigned char)(g - 1);
      out->looser[i].is = true;
      out->looser[i].cost = cost_of(p, &set) - out->set.cost;
      out->looser[i].yield = tw_allot_screen(p, &set, NULL) - out->yield;
    }
    if (g + 1 < p->dim[i].grades) {
      set.grade[i] = (unsigned char)(g + 1);
      out->tighter[i].is = true;
      out->tighter[i].cost = cost_of(p, &set) - out->set.cost;
      out->tighter[i].yield = tw_allot_screen(p, &set, NULL) - out->yield;
    }
  }
}

/* of equal costs the one with the best yield */
static void keep_better(const tw_allot_problem *p, const tw_allot_set *set, bool *found,
                        tw_allot_set *best, double *yield)
{
  const double y = tw_allot_screen(p, set, NULL);
  if (!*found || y > *yield) {
    *found = true;
    *best = *set;
    *yield = y;
  }
}

/* may a set still be one of the cheapest? */
static bool still(bool found, const tw_allot_set *best, const tw_allot_set *set)
{
  return !found || set->cost <= best->cost + SAME_COST;
}

static void two_sums(const tw_allot_problem *p, const tw_allot_set *set, size_t count,
                     tw_allotted *out)
{
  double worst_yield = 0;
  for (size_t k = 0; k < count; k++) {
    const bool squares = still(out->squares_found, &out->squares, &set[k]);
    const bool worst = still(out->worst_found, &out->worst, &set[k]);
    if (!squares && !worst) {
      return;
    }
    if (squares && tw_allot_keeps(p, &set[k], false)) {
      keep_better(p, &set[k], &out->squares_found, &out->squares, &out->squares_yield);
    }
    if (worst && tw_allot_keeps(p, &set[k], true)) {
      keep_better(p, &set[k], &out->worst_found, &out->worst, &worst_yield);
    }
  }
}

tw_status tw_allot_search(const tw_allot_problem *p, tw_allotted *out, tw_fault *fault)
{
  tw_allot_set *set;
  size_t count;
  *out = (tw_allotted){.per_good_cost = HUGE_VAL, .best_yield = -1};
  const tw_status status = tw_allot_sets(p, &set, &count, fault);
  if (status != TW_OK) {
    return status;
  }
  const tw_allot_set loosest = {{0}, 0};
  out->sets = count;
  out->loosest_yield = tw_allot_screen(p, &loosest, NULL);
  for (size_t k = 0; k < count && look_at(p, &set[k], out); k++) {
  }
  two_sums(p, set, count, out);
  if (out->found) {
    gains(p, out);
  }
  tw_free(set);
  return TW_OK;
}
