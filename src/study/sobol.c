/* sobol.c: first-order and total sensitivity indices with bootstrap intervals. */
#include "tripwright/random.h"
#include "tripwright/study_stats.h"

#include <assert.h>
#include <math.h>

#define ROWS_LEAST 16

size_t tw_sobol_points(const tw_sobol_plan *plan)
{
  return plan->rows * (plan->inputs + 2);
}

/* Base row r of A and B is stream r of the seed: the first `inputs` numbers are A's, the next B's.
 */
void tw_sobol_point(const tw_sobol_plan *plan, size_t index, double *u)
{
  assert(index < tw_sobol_points(plan));
  const size_t block = index / plan->rows, row = index % plan->rows, k = plan->inputs;
  tw_random random;
  tw_random_start(&random, plan->seed, row);
  for (size_t i = 0; i < k; i++) {
    u[i] = tw_random_uniform(&random);
  }
  if (block == 0) {
    return;
  }
  for (size_t i = 0; i < k; i++) {
    const double b = tw_random_uniform(&random);
    if (block == 1 || block - 2 == i) {
      u[i] = b;
    }
  }
}

typedef struct rows {
  const tw_sobol_plan *plan;
  const double *y;
  const size_t *row; /* rows without gaps */
  size_t count;
} rows;

static double value(const rows *r, size_t block, size_t i)
{
  return r->y[block * r->plan->rows + r->row[i]];
}

/* Both indices of input k over the rows named by pick[] (NULL: all): with f from A, B and A with
 * column k from B,
 *   total = mean (f(A) - f(AB))^2 / (2 V), first = 1 - mean (f(B) - f(AB))^2 / (2 V),
 *   V = variance of f over A and B together. */
static double variance_of(const rows *r, const size_t *pick)
{
  double mean = 0.0, square = 0.0;
  for (size_t i = 0; i < r->count; i++) {
    const size_t at = pick ? pick[i] : i;
    for (size_t block = 0; block < 2; block++) {
      const double v = value(r, block, at), before = v - mean;
      mean += before / (double)(2 * i + block + 1);
      square += before * (v - mean);
    }
  }
  return square / (double)(2 * r->count - 1);
}

static void indices_of(const rows *r, const size_t *pick, double variance, size_t k, double *first,
                       double *total)
{
  double to_b = 0.0, to_a = 0.0;
  for (size_t i = 0; i < r->count; i++) {
    const size_t at = pick ? pick[i] : i;
    const double mixed = value(r, k + 2, at);
    const double a = value(r, 0, at) - mixed, b = value(r, 1, at) - mixed;
    to_a += a * a;
    to_b += b * b;
  }
  const double scale = 1.0 / (2.0 * (double)r->count * variance);
  *total = to_a * scale;
  *first = 1.0 - to_b * scale;
}

/* percentile intervals of all indices from bootstrap draws; sample[2 x inputs x resamples] */
static void bootstrap(const rows *r, double level, size_t resamples, size_t *pick, double *sample,
                      tw_index *index)
{
  const size_t k = r->plan->inputs;
  tw_random random;
  /* a stream that no base row uses */
  tw_random_start(&random, r->plan->seed, UINT64_MAX);
  for (size_t b = 0; b < resamples; b++) {
    for (size_t i = 0; i < r->count; i++) {
      pick[i] = (size_t)tw_random_below(&random, r->count);
    }
    const double variance = variance_of(r, pick);
    for (size_t j = 0; j < k; j++) {
      double *first = &sample[2 * j * resamples + b], *total = first + resamples;
      *first = *total = 0.0;
      if (variance > 0.0) {
        indices_of(r, pick, variance, j, first, total);
      }
    }
  }
  for (size_t j = 0; j < k; j++) {
    double *first = &sample[2 * j * resamples], *total = first + resamples;
    tw_sort_ascending(first, resamples);
    tw_sort_ascending(total, resamples);
    index[j].first_low = tw_quantile_of(first, resamples, 0.5 - 0.5 * level);
    index[j].first_high = tw_quantile_of(first, resamples, 0.5 + 0.5 * level);
    index[j].total_low = tw_quantile_of(total, resamples, 0.5 - 0.5 * level);
    index[j].total_high = tw_quantile_of(total, resamples, 0.5 + 0.5 * level);
  }
}

/* rows whose values are all finite */
static size_t whole_rows(const tw_sobol_plan *plan, const double *y, size_t *row)
{
  size_t count = 0;
  for (size_t r = 0; r < plan->rows; r++) {
    bool whole = true;
    for (size_t block = 0; block < plan->inputs + 2; block++) {
      whole = whole && isfinite(y[block * plan->rows + r]);
    }
    if (whole) {
      row[count++] = r;
    }
  }
  return count;
}

static tw_status compute(const rows *r, double level, size_t resamples, size_t *pick,
                         double *sample, tw_index *index, double *variance, tw_fault *fault)
{
  if (r->count < ROWS_LEAST) {
    return tw_fail(fault, TW_NO_ANSWER, "", "take more rows, or fields that always give an answer",
                   "only %zu of %zu rows gave an answer everywhere", r->count, r->plan->rows);
  }
  const double v = variance_of(r, NULL);
  double largest = 0.0;
  for (size_t i = 0; i < r->count; i++) {
    largest = fmax(largest, fabs(value(r, 0, i)));
  }
  /* rounding noise is no variance */
  if (!(v > 1e-24 * largest * largest)) {
    return tw_fail(fault, TW_NO_ANSWER, "", "give the fields tolerances",
                   "the result does not vary");
  }
  for (size_t j = 0; j < r->plan->inputs; j++) {
    indices_of(r, NULL, v, j, &index[j].first, &index[j].total);
  }
  bootstrap(r, level, resamples, pick, sample, index);
  if (variance) {
    *variance = v;
  }
  return TW_OK;
}

tw_status tw_sobol_indices(const tw_sobol_plan *plan, const double *y, double level,
                           size_t resamples, tw_index *index, double *variance, size_t *used,
                           tw_fault *fault)
{
  assert(plan->inputs > 0 && resamples > 0);
  size_t *row = tw_alloc(plan->rows, sizeof *row), *pick = tw_alloc(plan->rows, sizeof *pick);
  double *sample = tw_alloc(2 * plan->inputs * resamples, sizeof *sample);
  tw_status status = TW_NO_MEMORY;
  if (row && pick && sample) {
    const rows r = {plan, y, row, whole_rows(plan, y, row)};
    if (used) {
      *used = r.count;
    }
    status = compute(&r, level, resamples, pick, sample, index, variance, fault);
  } else {
    tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu rows", plan->rows);
  }
  tw_free(row);
  tw_free(pick);
  tw_free(sample);
  return status;
}
