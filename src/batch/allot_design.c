/* allot_design.c: the tolerances of a design at least cost: screen, set right by counts, verified.
 */
#include "allot_inside.h"

#include "tripwright/study_fast.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

/* sets that are counted to set the screen right */
#define SETS_RIGHT 6
/* share below the target from which a set is counted: what the screen is still off then (1.21 % is
 * the largest that was seen; docs/models/batch.md 3) */
#define WINDOW 0.012
/* candidates that are counted before the search gives up */
#define COUNTS_MOST 120
/* engine builds on which the tables are held against the engine */
#define CHECKS 40
/* scores within which a count says something about the screen */
#define SCORE_MOST 3.2
/* a slope of the correction beyond these is a fit of noise */
#define SLOPE_LEAST 0.5
#define SLOPE_MOST  2.0

tw_allot_ask tw_allot_ask_defaults(void)
{
  return (tw_allot_ask){.target = 0.9, .table_builds = 10000, .builds = 1000, .seed = 1};
}

static double score_of(double share, size_t builds)
{
  const double edge = 0.5 / (double)(builds ? builds : 1);
  return gsl_cdf_ugaussian_Pinv(fmin(fmax(share, edge), 1 - edge));
}

static double corrected(const tw_allot_answer *a, double screen, size_t builds)
{
  return gsl_cdf_ugaussian_P(a->shift + a->slope * score_of(screen, builds));
}

/* ---- the screen, set right --------------------------------------------------------------------
 */

/* set number k of SETS_RIGHT, from the loosest to the tightest, neighbours out of step */
static tw_allot_set set_between(const tw_allot_problem *p, size_t k)
{
  tw_allot_set set = {{0}, 0};
  for (size_t i = 0; i < p->dims; i++) {
    const size_t steps = p->dim[i].grades - 1;
    const size_t g = (k * steps + (i % 2 ? SETS_RIGHT - 2 : 0)) / (SETS_RIGHT - 1);
    set.grade[i] = (unsigned char)(g < steps ? g : steps);
    set.cost += p->dim[i].cost[set.grade[i]];
  }
  return set;
}

static tw_status set_right(allot *a)
{
  double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0;
  a->answer->shift = 0;
  a->answer->slope = 1;
  for (size_t k = 0; k < SETS_RIGHT; k++) {
    const tw_allot_set set = set_between(&a->answer->problem, k);
    tw_allot_count count;
    const tw_status status = tw_allot_count_set(a, &set, a->ask->table_builds, &count);
    if (status != TW_OK) {
      return status;
    }
    a->answer->counted++;
    const double screen = tw_allot_screen(&a->answer->problem, &set, NULL);
    const double x = score_of(screen, count.builds), y = score_of(count.share, count.builds);
    if (fabs(x) < SCORE_MOST && fabs(y) < SCORE_MOST) {
      n += 1;
      sx += x;
      sy += y;
      sxx += x * x;
      sxy += x * y;
    }
  }
  const double det = n * sxx - sx * sx;
  if (n >= 3 && det > 1e-6 * n * n) {
    a->answer->slope = fmin(fmax((n * sxy - sx * sy) / det, SLOPE_LEAST), SLOPE_MOST);
  }
  a->answer->shift = n > 0 ? (sy - a->answer->slope * sx) / n : 0;
  return TW_OK;
}

/* ---- the winner --------------------------------------------------------------------------------
 */

static bool good_enough(const allot *a, const tw_allot_count *count)
{
  bool good = count->share >= a->ask->target;
  for (size_t r = 0; r < a->answer->problem.rules; r++) {
    good = good && count->own[r] >= a->ask->own;
  }
  return good;
}

/* by rising cost from the window below the target on; of equal costs the best */
static tw_status first_that_counts(allot *a, const tw_allot_set *set, size_t sets)
{
  tw_allot_answer *answer = a->answer;
  double best = -1;
  size_t counts = 0;
  for (size_t k = 0; k < sets && counts < COUNTS_MOST; k++) {
    if (answer->found && set[k].cost > answer->set.cost) {
      return TW_OK;
    }
    const double screen = tw_allot_screen(&answer->problem, &set[k], NULL);
    const double hope = corrected(answer, screen, a->ask->table_builds);
    if (!answer->found && hope > best) {
      best = hope;
      answer->set = set[k];
    }
    if (hope < a->ask->target - WINDOW) {
      continue;
    }
    tw_allot_count count;
    const tw_status status = tw_allot_count_set(a, &set[k], a->ask->table_builds, &count);
    if (status != TW_OK) {
      return status;
    }
    counts++;
    if (good_enough(a, &count) && (!answer->found || count.share > answer->table.share)) {
      answer->found = true;
      answer->set = set[k];
      answer->table = count;
    }
  }
  answer->counted += counts;
  return TW_OK;
}

/* all dimensions at grade g, or at their tightest */
static tw_status equal_grades(allot *a)
{
  const tw_allot_problem *p = &a->answer->problem;
  for (size_t g = 0; g < TW_ALLOT_GRADES && !a->answer->equal_found; g++) {
    tw_allot_set set = {{0}, 0};
    bool more = false;
    for (size_t i = 0; i < p->dims; i++) {
      set.grade[i] = (unsigned char)(g < p->dim[i].grades ? g : p->dim[i].grades - 1);
      set.cost += p->dim[i].cost[set.grade[i]];
      more = more || g < p->dim[i].grades;
    }
    if (!more) {
      return TW_OK;
    }
    const tw_status status =
        tw_allot_count_set(a, &set, a->ask->table_builds, &a->answer->equal_table);
    if (status != TW_OK) {
      return status;
    }
    a->answer->equal_found = good_enough(a, &a->answer->equal_table);
    a->answer->equal = set;
  }
  return TW_OK;
}

static tw_status neighbours(allot *a)
{
  tw_allot_answer *answer = a->answer;
  tw_status status = TW_OK;
  for (size_t i = 0; i < answer->problem.dims && status == TW_OK; i++) {
    tw_allot_set set = answer->set;
    const size_t g = set.grade[i];
    answer->looser_is[i] = g > 0;
    answer->tighter_is[i] = g + 1 < answer->problem.dim[i].grades;
    if (g > 0) {
      set.grade[i] = (unsigned char)(g - 1);
      status = tw_allot_count_set(a, &set, a->ask->table_builds, &answer->looser[i]);
    }
    if (status == TW_OK && answer->tighter_is[i]) {
      set.grade[i] = (unsigned char)(g + 1);
      status = tw_allot_count_set(a, &set, a->ask->table_builds, &answer->tighter[i]);
    }
  }
  return status;
}

/* what the file's tolerances cost: for each dimension the cheapest grade that holds them */
static void cost_now(tw_allot_answer *answer)
{
  answer->now_cost = 0;
  for (size_t i = 0; i < answer->problem.dims; i++) {
    const tw_allot_dim *d = &answer->problem.dim[i];
    size_t g = 0;
    while (g < d->grades && d->hold[g] > answer->field[i].now * (1 + 1e-9)) {
      g++;
    }
    if (g == d->grades || answer->now_cost < 0) {
      answer->now_cost = -1;
    } else {
      answer->now_cost += d->cost[g];
    }
  }
}

static tw_status search(allot *a)
{
  tw_allot_answer *answer = a->answer;
  tw_allot_set *set = NULL;
  size_t sets;
  tw_status status = tw_allot_search(&answer->problem, &answer->screen, a->fault);
  if (status == TW_OK) {
    status = tw_allot_sets(&answer->problem, &set, &sets, a->fault);
  }
  if (status == TW_OK) {
    status = set_right(a);
  }
  if (status == TW_OK) {
    status = first_that_counts(a, set, sets);
  }
  tw_free(set);
  if (status == TW_OK && !answer->found) {
    status = tw_allot_count_set(a, &answer->set, a->ask->table_builds, &answer->table);
  }
  answer->worst_found = answer->screen.worst_found;
  answer->squares_found = answer->screen.squares_found;
  answer->worst = answer->screen.worst;
  answer->squares = answer->screen.squares;
  for (size_t r = 0; r < answer->problem.rules; r++) {
    answer->limits = answer->table.own[r] < answer->table.own[answer->limits] ? r : answer->limits;
  }
  cost_now(answer);
  return status;
}

static tw_status run(allot *a)
{
  tw_status status = tw_allot_open(a, CHECKS);
  if (status == TW_OK) {
    status = search(a);
  }
  if (status == TW_OK) {
    status = equal_grades(a);
  }
  if (status == TW_OK) {
    status = neighbours(a);
  }
  if (status == TW_OK) {
    status = tw_allot_count_set(a, NULL, a->ask->table_builds, &a->answer->now);
  }
  if (status == TW_OK) {
    status = tw_allot_by_engine(a, &a->answer->set, &a->answer->engine);
  }
  tw_allot_close(a);
  return status;
}

tw_status tw_allot_design(tw_study *study, const tw_allot_ask *ask, const tw_progress *progress,
                          tw_allot_answer **out, tw_fault *fault)
{
  allot *a = tw_alloc(1, sizeof *a);
  *out = tw_alloc(1, sizeof **out);
  tw_status status = TW_NO_MEMORY;
  if (a && *out) {
    *a = (allot){.study = study, .ask = ask, .answer = *out, .progress = progress, .fault = fault};
    status = run(a);
  } else {
    tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory to allot tolerances");
  }
  tw_free(a);
  if (status != TW_OK) {
    tw_free(*out);
    *out = NULL;
  }
  return status;
}
