/* pairing.c: which disc goes with which resistors, decided from what is known before assembly. */
#include "tripwright/parallel.h"
#include "tripwright/study_winback.h"

#include <math.h>
#include <string.h>

typedef struct pairing {
  const tw_winback_batch *batch;
  const bool *first, *second;
  const size_t *build; /* indices of the computed builds */
  size_t n, lot;
  const double *median;
  double *foreseen; /* n x lot: second part of build r with the first part of the c-th of its lot */
  size_t *partner;  /* of build r: which build's first part it gets */
  bool *good;
  /* rows of the workers */
  double *x, *other, *y;
  unsigned char *outcome;
} pairing;

static size_t lot_start(const pairing *p, size_t r)
{
  return r / p->lot * p->lot;
}

static size_t lot_size(const pairing *p, size_t start)
{
  return p->n - start < p->lot ? p->n - start : p->lot;
}

/* x of worker: the marked inputs of build `from` */
static void put(const pairing *p, int worker, size_t from, const bool *marked)
{
  const size_t in = p->batch->model->inputs;
  double *x = &p->x[(size_t)worker * in], *other = &p->other[(size_t)worker * in];
  tw_sampler_draw(p->batch->sampler, p->batch->builds->first + p->build[from], other);
  for (size_t k = 0; k < in; k++) {
    if (marked[k]) {
      x[k] = other[k];
    }
  }
}

static tw_status margin_of(const pairing *p, int worker, double *margin, tw_fault *fault)
{
  const tw_winback_batch *b = p->batch;
  double *y = &p->y[(size_t)worker * b->model->outputs];
  unsigned char *outcome = &p->outcome[(size_t)worker * b->model->outputs];
  const tw_status status = tw_study_evaluate(
      b->model, worker, &p->x[(size_t)worker * b->model->inputs], y, outcome, fault);
  *margin = status == TW_OK ? tw_goals_margin(b->goals, b->goal_count, y, outcome, NULL) : 0;
  return status;
}

/* ---- foreseen ------------------------------------------------------------------------------ */

static tw_status foresee(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const pairing *p = self;
  const size_t in = p->batch->model->inputs;
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    const size_t r = i / p->lot, c = i % p->lot, start = lot_start(p, r);
    if (c >= lot_size(p, start)) {
      continue;
    }
    memcpy(&p->x[(size_t)worker * in], p->median, in * sizeof *p->median);
    put(p, worker, r, p->second);
    put(p, worker, start + c, p->first);
    status = margin_of(p, worker, &p->foreseen[i], fault);
  }
  return status;
}

/* good ones count first, then margins: no sum of lot margins within -1 .. 1 outweighs one more */
static tw_status choose(pairing *p, tw_fault *fault)
{
  const size_t m = p->lot;
  double *value = tw_alloc(m * m, sizeof *value), *scratch = tw_alloc(2 * (m + 1), sizeof *scratch);
  size_t *column = tw_alloc(m, sizeof *column), *indices = tw_alloc(3 * (m + 1), sizeof *indices);
  const bool room = value && scratch && column && indices;
  for (size_t start = 0; room && start < p->n; start += m) {
    const size_t here = lot_size(p, start);
    for (size_t r = 0; r < here; r++) {
      for (size_t c = 0; c < here; c++) {
        const double margin = p->foreseen[(start + r) * m + c];
        value[r * here + c] = (margin >= 0 ? 4.0 * (double)m : 0) + fmax(fmin(margin, 1), -1);
      }
    }
    tw_assign(value, here, column, scratch, indices);
    for (size_t r = 0; r < here; r++) {
      p->partner[start + r] = start + column[r];
    }
  }
  tw_free(value);
  tw_free(scratch);
  tw_free(column);
  tw_free(indices);
  return room ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for lots of %zu", m);
}

/* ---- built --------------------------------------------------------------------------------- */

static tw_status build(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const pairing *p = self;
  tw_status status = TW_OK;
  for (size_t r = first; r < first + count && status == TW_OK; r++) {
    double margin;
    tw_sampler_draw(p->batch->sampler, p->batch->builds->first + p->build[r],
                    &p->x[(size_t)worker * p->batch->model->inputs]);
    put(p, worker, p->partner[r], p->first);
    status = margin_of(p, worker, &margin, fault);
    p->good[r] = status == TW_OK && margin >= 0;
  }
  return status;
}

/* ---- the whole ----------------------------------------------------------------------------- */

static void count_builds(const pairing *p, tw_winback *out)
{
  const tw_winback_batch *b = p->batch;
  for (size_t r = 0; r < p->n; r++) {
    const size_t at = p->build[r] * b->builds->outputs;
    out->before += tw_goals_margin(b->goals, b->goal_count, b->builds->y + at,
                                   b->builds->outcome + at, NULL) >= 0;
    out->good += p->good[r];
    out->evaluations += lot_size(p, lot_start(p, r)) + 1;
  }
  out->builds = p->n;
}

static void list_pairs(const pairing *p, tw_pair *pair)
{
  for (size_t r = 0; r < p->n; r++) {
    const uint64_t first = p->batch->builds->first;
    pair[r] = (tw_pair){first + p->build[r], first + p->build[p->partner[r]], p->good[r]};
  }
}

static tw_status run(pairing *p, const tw_progress *progress, tw_pair *pair, tw_winback *out,
                     tw_fault *fault)
{
  const int threads = p->batch->threads;
  const tw_loop table = {p->n * p->lot, 4, threads, foresee, p, "pairing"};
  const tw_loop pairs = {p->n, 1, threads, build, p, "pairing"};
  tw_status status = tw_parallel(&table, progress, fault);
  if (status == TW_OK) {
    status = choose(p, fault);
  }
  if (status == TW_OK) {
    status = tw_parallel(&pairs, progress, fault);
  }
  if (status == TW_OK) {
    count_builds(p, out);
    if (pair) {
      list_pairs(p, pair);
    }
  }
  return status;
}

tw_status tw_winback_pair(const tw_winback_batch *batch, const bool *first, const bool *second,
                          size_t lot, const tw_progress *progress, tw_winback *out, tw_fault *fault)
{
  return tw_winback_pair_list(batch, first, second, lot, progress, NULL, out, fault);
}

tw_status tw_winback_pair_list(const tw_winback_batch *batch, const bool *first, const bool *second,
                               size_t lot, const tw_progress *progress, tw_pair *pair,
                               tw_winback *out, tw_fault *fault)
{
  const size_t workers = (size_t)tw_threads(batch->threads), in = batch->model->inputs;
  const size_t all = batch->builds->count;
  size_t *index = tw_alloc(all, sizeof *index), n = 0;
  double *median = tw_alloc(in, sizeof *median);
  tw_status status = TW_OK;
  *out = (tw_winback){0};
  for (size_t i = 0; index && i < all; i++) {
    if (tw_builds_has(batch->builds, i)) {
      index[n++] = i;
    }
  }
  lot = lot < n ? lot : n;
  pairing p = {.batch = batch,
               .first = first,
               .second = second,
               .build = index,
               .n = n,
               .lot = lot,
               .median = median,
               .foreseen = tw_alloc(n * lot, sizeof *p.foreseen),
               .partner = tw_alloc(n, sizeof *p.partner),
               .good = tw_alloc(n, sizeof *p.good),
               .x = tw_alloc(workers * in, sizeof *p.x),
               .other = tw_alloc(workers * in, sizeof *p.other),
               .y = tw_alloc(workers * batch->model->outputs, sizeof *p.y),
               .outcome = tw_alloc(workers * batch->model->outputs, 1)};
  if (index && (n < 2 || lot < 2)) {
    status = tw_fail(fault, TW_BAD_INPUT, "", "ask for more builds",
                     "there is nothing to pair in %zu build%s", n, n == 1 ? "" : "s");
  } else if (!index || !median || !p.foreseen || !p.partner || !p.good || !p.x || !p.other ||
             !p.y || !p.outcome) {
    status = tw_fail(fault, TW_NO_MEMORY, "", "ask for smaller lots", "no memory for the pairs");
  } else {
    for (size_t k = 0; k < in; k++) {
      median[k] = 0.5;
    }
    tw_sampler_from_uniform(batch->sampler, median, median);
    status = run(&p, progress, pair, out, fault);
  }
  tw_free(index);
  tw_free(median);
  tw_free(p.foreseen);
  tw_free(p.partner);
  tw_free(p.good);
  tw_free(p.x);
  tw_free(p.other);
  tw_free(p.y);
  tw_free(p.outcome);
  return status;
}
