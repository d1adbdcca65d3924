/* positions.c: positioning figures after the method of ISO 230-2; intervals by resampling. */
#include "inner.h"
#include "tripwright/qualify_stats.h"
#include "tripwright/random.h"

#include <math.h>
#include <stdlib.h>

struct place {
  size_t n[2]; /* runs: down, up */
  long double sum[2], squares[2];
  double mean[2], s[2]; /* s is 0 for a direction that has no runs */
};

static tw_status sum_places(const uint32_t *position, const bool *up, const double *x, size_t n,
                            size_t positions, struct place *place, tw_fault *fault)
{
  for (size_t i = 0; i < n; i++) {
    if (position[i] >= positions) {
      return tw_fail(fault, TW_BAD_INPUT, "position", "number them from 0", "position %u of %zu",
                     (unsigned)position[i], positions);
    }
    struct place *p = &place[position[i]];
    p->n[up[i]]++;
    p->sum[up[i]] += (long double)x[i];
  }
  for (size_t k = 0; k < positions; k++) {
    for (int d = 0; d < 2; d++) {
      if (place[k].n[d] == 1 || place[k].n[0] + place[k].n[1] == 0) {
        return tw_fail(fault, TW_BAD_INPUT, "runs", "five runs in each direction are usual",
                       "position %zu has %zu run%s %s", k + 1, place[k].n[d],
                       place[k].n[d] == 1 ? "" : "s", d ? "upwards" : "downwards");
      }
      place[k].sum[d] /= place[k].n[d] ? (long double)place[k].n[d] : 1.0L;
      place[k].mean[d] = (double)place[k].sum[d];
    }
  }
  for (size_t i = 0; i < n; i++) {
    struct place *p = &place[position[i]];
    const long double d = (long double)x[i] - p->sum[up[i]];
    p->squares[up[i]] += d * d;
  }
  for (size_t k = 0; k < positions; k++) {
    for (int d = 0; d < 2; d++) {
      const size_t runs = place[k].n[d];
      place[k].s[d] = runs > 1 ? (double)sqrtl(place[k].squares[d] / (long double)(runs - 1)) : 0.0;
    }
  }
  return TW_OK;
}

struct span {
  double low, high;
};

static void widen(struct span *span, double low, double high)
{
  span->low = fmin(span->low, low);
  span->high = fmax(span->high, high);
}

static double width(struct span span)
{
  return span.high >= span.low ? span.high - span.low : 0.0;
}

static void judge(const struct place *place, size_t positions, tw_positions *out)
{
  const struct span none = {INFINITY, -INFINITY};
  struct span mean[2] = {none, none}, edge[2] = {none, none}, both = none, all = none,
              middle = none;
  double r[2] = {0.0, 0.0};
  for (size_t k = 0; k < positions; k++) {
    const struct place *p = &place[k];
    for (int d = 0; d < 2; d++) {
      if (p->n[d]) {
        widen(&mean[d], p->mean[d], p->mean[d]);
        widen(&edge[d], p->mean[d] - 2.0 * p->s[d], p->mean[d] + 2.0 * p->s[d]);
        r[d] = fmax(r[d], 4.0 * p->s[d]);
      }
    }
    if (p->n[0] && p->n[1]) {
      const double b = p->mean[1] - p->mean[0];
      out->reversal = fabs(b) > out->reversal ? fabs(b) : out->reversal;
      const double two = 2.0 * p->s[1] + 2.0 * p->s[0] + fabs(b);
      out->repeatability = fmax(out->repeatability, two);
      widen(&middle, 0.5 * (p->mean[0] + p->mean[1]), 0.5 * (p->mean[0] + p->mean[1]));
    }
  }
  for (int d = 0; d < 2; d++) {
    widen(&both, mean[d].low, mean[d].high);
    widen(&all, edge[d].low, edge[d].high);
  }
  out->repeatability_up = r[1];
  out->repeatability_down = r[0];
  out->repeatability = fmax(out->repeatability, fmax(r[0], r[1]));
  out->systematic_up = width(mean[1]);
  out->systematic_down = width(mean[0]);
  out->systematic = width(both);
  out->mean_deviation = width(middle);
  out->accuracy_up = width(edge[1]);
  out->accuracy_down = width(edge[0]);
  out->accuracy = width(all);
}

tw_status tw_positions_of(const uint32_t *position, const bool *up, const double *deviation,
                          size_t n, size_t positions, tw_positions *out, tw_fault *fault)
{
  if (n == 0 || positions == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "runs", "five runs at five positions are usual",
                   "no readings");
  }
  tw_status status = tw_all_finite(deviation, n, "deviation", fault);
  if (status != TW_OK) {
    return status;
  }
  struct place *place = tw_alloc(positions, sizeof *place);
  if (!place) {
    return tw_no_memory(fault);
  }
  *out = (tw_positions){0};
  status = sum_places(position, up, deviation, n, positions, place, fault);
  if (status == TW_OK) {
    judge(place, positions, out);
  }
  tw_free(place);
  return status;
}

/* ---- resampling ------------------------------------------------------------------------------ */

tw_status tw_bootstrap(tw_figure *figure, const void *self, size_t n, size_t repeats, uint64_t seed,
                       double level, tw_interval *out, tw_fault *fault)
{
  if (n < 2 || repeats < 20 || !(level > 0.0 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "repeats", "1000 repeats are usual",
                   "%zu readings, %zu repeats", n, repeats);
  }
  size_t *index = tw_alloc(n, sizeof *index);
  double *value = tw_alloc(repeats, sizeof *value);
  size_t kept = 0;
  if (!index || !value) {
    tw_free(index);
    tw_free(value);
    return tw_no_memory(fault);
  }
  for (size_t k = 0; k < repeats; k++) {
    tw_random random;
    tw_random_start(&random, seed, k);
    for (size_t i = 0; i < n; i++) {
      index[i] = (size_t)tw_random_below(&random, n);
    }
    const double v = figure(self, index, n);
    if (isfinite(v)) {
      value[kept++] = v;
    }
  }
  tw_status status = TW_OK;
  if (kept < repeats - repeats / 20) {
    status = tw_fail(fault, TW_NO_ANSWER, "readings", "take more readings",
                     "the figure exists for only %zu of %zu resamples", kept, repeats);
  } else {
    qsort(value, kept, sizeof *value, tw_compare_doubles);
    const double tail = 0.5 * (1.0 - level), last = (double)(kept - 1);
    *out =
        (tw_interval){value[(size_t)floor(tail * last)], value[(size_t)ceil((1.0 - tail) * last)]};
  }
  tw_free(index);
  tw_free(value);
  return status;
}
