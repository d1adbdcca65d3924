/* vary.c: one or two inputs over a range, and where limits begin to hold. */
#include "tripwright/parallel.h"
#include "tripwright/study.h"

#include <assert.h>
#include <math.h>
#include <string.h>

/* bisection steps that any precision of doubles can use up */
#define HALVINGS 60

tw_status tw_range_check(const tw_range *range, const char *name, tw_fault *fault)
{
  if (range->values) {
    for (size_t i = 0; i < range->count; i++) {
      if (!isfinite(range->values[i]) || (i > 0 && !(range->values[i] > range->values[i - 1]))) {
        return tw_fail(fault, TW_BAD_INPUT, name, "list each value once, ascending",
                       "value %zu of the list is out of order", i + 1);
      }
    }
    return range->count > 0 ? TW_OK
                            : tw_fail(fault, TW_BAD_INPUT, name, "list at least one value",
                                      "the list of values is empty");
  }
  if (!isfinite(range->from) || !isfinite(range->to) || !(range->from < range->to) ||
      range->count < 2) {
    return tw_fail(fault, TW_BAD_INPUT, name, "give a lower and an upper end and 2 points or more",
                   "%zu points from %g to %g are no range", range->count, range->from, range->to);
  }
  if (range->logarithmic && range->from <= 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, name, "start above 0 or use even steps",
                   "a logarithmic range cannot start at %g", range->from);
  }
  return TW_OK;
}

/* value at a share of the way */
static double along(const tw_range *range, double share)
{
  return range->logarithmic ? range->from * pow(range->to / range->from, share)
                            : range->from + share * (range->to - range->from);
}

double tw_range_value(const tw_range *range, size_t index)
{
  if (range->values) {
    return range->values[index];
  }
  if (index + 1 == range->count) {
    return range->to; /* exactly */
  }
  return along(range, (double)index / (double)(range->count - 1));
}

/* ---- bisection of one limit between two points ------------------------------------------------
 */

typedef struct segment {
  const tw_goal *limit;
  const tw_range *range;
  size_t after;       /* between points `after` and `after` + 1 of the range */
  size_t other_input; /* of the second range, if there is one */
  double other;
  bool has_other, kept_low;
  double at, within; /* result */
} segment;

typedef struct task {
  const tw_study_model *model;
  const double *x0;
  double precision;
  segment *segments;
  /* workspace of each worker */
  double *x, *y;
  unsigned char *outcome;
} task;

static double middle_of(const tw_range *range, double a, double b)
{
  return range->logarithmic && !range->values ? sqrt(a * b) : 0.5 * (a + b);
}

/* `at` ends as the middle of an interval whose ends lie on different sides of the limit */
static tw_status bisect(const task *t, int worker, segment *s, tw_fault *fault)
{
  double a = tw_range_value(s->range, s->after), b = tw_range_value(s->range, s->after + 1);
  const size_t w = (size_t)worker;
  double *x = &t->x[w * t->model->inputs], *y = &t->y[w * t->model->outputs];
  unsigned char *outcome = &t->outcome[w * t->model->outputs];
  memcpy(x, t->x0, t->model->inputs * sizeof *x);
  if (s->has_other) {
    x[s->other_input] = s->other;
  }
  const double first = tw_range_value(s->range, 0),
               last = tw_range_value(s->range, s->range->count - 1);
  for (int i = 0; i < HALVINGS && !s->range->values && b - a > t->precision * (last - first); i++) {
    const double middle = middle_of(s->range, a, b);
    x[s->range->input] = middle;
    const tw_status status = tw_study_evaluate(t->model, worker, x, y, outcome, fault);
    if (status != TW_OK) {
      return status;
    }
    if ((tw_goal_margin(s->limit, y, outcome) >= 0.0) == s->kept_low) {
      a = middle;
    } else {
      b = middle;
    }
  }
  s->at = middle_of(s->range, a, b);
  s->within = 0.5 * (b - a);
  return TW_OK;
}

static tw_status some_segments(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const task *t = self;
  for (size_t i = first; i < first + count; i++) {
    const tw_status status = bisect(t, worker, &t->segments[i], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

static tw_status bisect_all(const tw_study_model *model, const double *x0, double precision,
                            segment *segments, size_t count, int threads,
                            const tw_progress *progress, tw_fault *fault)
{
  const size_t workers = (size_t)tw_threads(threads);
  task t = {model,
            x0,
            precision,
            segments,
            tw_alloc(workers * model->inputs, sizeof(double)),
            tw_alloc(workers * model->outputs, sizeof(double)),
            tw_alloc(workers * model->outputs, 1)};
  tw_status status = TW_NO_MEMORY;
  if (t.x && t.y && t.outcome) {
    const tw_loop loop = {count, 1, threads, some_segments, &t, "locating limits"};
    status = tw_parallel(&loop, progress, fault);
  } else {
    tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu limits", count);
  }
  tw_free(t.x);
  tw_free(t.y);
  tw_free(t.outcome);
  return status;
}

/* ---- one input ------------------------------------------------------------------------------- */

/* all points of a grid; the second range may be NULL; x is taken and freed here */
static tw_status grid_points(const tw_study_model *model, const double *x0, const tw_range *first,
                             const tw_range *second, int threads, const tw_progress *progress,
                             double *y, unsigned char *outcome, tw_fault *fault)
{
  const size_t columns = second ? second->count : 1, n = first->count * columns;
  double *x = n <= (size_t)PTRDIFF_MAX / (model->inputs + 1) / sizeof *x
                  ? tw_alloc(n * model->inputs, sizeof *x)
                  : NULL;
  if (!x) {
    return tw_fail(fault, TW_NO_MEMORY, "", "take fewer points", "no memory for %zu points", n);
  }
  for (size_t i = 0; i < n; i++) {
    double *row = &x[i * model->inputs];
    memcpy(row, x0, model->inputs * sizeof *x);
    row[first->input] = tw_range_value(first, i / columns);
    if (second) {
      row[second->input] = tw_range_value(second, i % columns);
    }
  }
  const tw_status status = tw_study_points(model, n, x, y, outcome, threads, progress, fault);
  tw_free(x);
  return status;
}

static bool kept(const tw_study_model *model, const tw_goal *limit, const double *y,
                 const unsigned char *outcome, size_t point)
{
  return tw_goal_margin(limit, &y[point * model->outputs], &outcome[point * model->outputs]) >= 0.0;
}

tw_status tw_vary_one(const tw_study_model *model, const double *x0, const tw_range *range,
                      const tw_goal *limits, size_t limit_count, double precision, int threads,
                      const tw_progress *progress, double *y, unsigned char *outcome,
                      tw_crossing *crossings, size_t *crossing_count, tw_fault *fault)
{
  *crossing_count = 0;
  tw_status status = grid_points(model, x0, range, NULL, threads, progress, y, outcome, fault);
  if (status != TW_OK) {
    return status;
  }
  segment segments[TW_CROSSINGS_MOST];
  size_t count = 0;
  for (size_t i = 0; i + 1 < range->count; i++) {
    for (size_t k = 0; k < limit_count && count < TW_CROSSINGS_MOST; k++) {
      const bool low = kept(model, &limits[k], y, outcome, i);
      if (low != kept(model, &limits[k], y, outcome, i + 1)) {
        segments[count] =
            (segment){.limit = &limits[k], .range = range, .after = i, .kept_low = low};
        crossings[count++] = (tw_crossing){.limit = k, .enters = !low, .after = i};
      }
    }
  }
  status = bisect_all(model, x0, precision, segments, count, threads, progress, fault);
  for (size_t i = 0; i < count; i++) {
    crossings[i].at = segments[i].at;
    crossings[i].within = segments[i].within;
  }
  *crossing_count = status == TW_OK ? count : 0;
  return status;
}

/* ---- two inputs ------------------------------------------------------------------------------ */

/* call for every edge of the grid on which a limit changes; segments NULL: only count */
static size_t find_edges(const tw_study_model *model, const tw_range *first, const tw_range *second,
                         const tw_goal *limits, size_t limit_count, const double *y,
                         const unsigned char *outcome, segment *segments)
{
  size_t count = 0;
  for (size_t p = 0; p < first->count * second->count; p++) {
    const size_t i = p / second->count, j = p % second->count;
    for (size_t k = 0; k < limit_count; k++) {
      const bool here = kept(model, &limits[k], y, outcome, p);
      if (i + 1 < first->count && here != kept(model, &limits[k], y, outcome, p + second->count)) {
        if (segments) {
          segments[count] = (segment){.limit = &limits[k],
                                      .range = first,
                                      .after = i,
                                      .other_input = second->input,
                                      .other = tw_range_value(second, j),
                                      .has_other = true,
                                      .kept_low = here};
        }
        count++;
      }
      if (j + 1 < second->count && here != kept(model, &limits[k], y, outcome, p + 1)) {
        if (segments) {
          segments[count] = (segment){.limit = &limits[k],
                                      .range = second,
                                      .after = j,
                                      .other_input = first->input,
                                      .other = tw_range_value(first, i),
                                      .has_other = true,
                                      .kept_low = here};
        }
        count++;
      }
    }
  }
  return count;
}

tw_status tw_vary_two(const tw_study_model *model, const double *x0, const tw_range *first,
                      const tw_range *second, const tw_goal *limits, size_t limit_count,
                      double precision, int threads, const tw_progress *progress, double *y,
                      unsigned char *outcome, tw_edge **edges, size_t *edge_count, tw_fault *fault)
{
  *edges = NULL;
  *edge_count = 0;
  assert(first->input != second->input);
  tw_status status = grid_points(model, x0, first, second, threads, progress, y, outcome, fault);
  if (status != TW_OK) {
    return status;
  }
  const size_t count = find_edges(model, first, second, limits, limit_count, y, outcome, NULL);
  segment *segments = tw_alloc(count, sizeof *segments);
  *edges = tw_alloc(count, sizeof **edges);
  if (!segments || !*edges) {
    status =
        tw_fail(fault, TW_NO_MEMORY, "", "take fewer points", "no memory for %zu limits", count);
  } else {
    find_edges(model, first, second, limits, limit_count, y, outcome, segments);
    status = bisect_all(model, x0, precision, segments, count, threads, progress, fault);
  }
  if (status != TW_OK) {
    tw_free(*edges);
    *edges = NULL;
    tw_free(segments);
    return status;
  }
  for (size_t i = 0; i < count; i++) {
    const segment *s = &segments[i];
    const bool along_first = s->range == first;
    (*edges)[i] = (tw_edge){(size_t)(s->limit - limits), along_first ? s->at : s->other,
                            along_first ? s->other : s->at};
  }
  *edge_count = count;
  tw_free(segments);
  return TW_OK;
}
