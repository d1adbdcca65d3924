/* nested.c: readings within days within runs, and bias against a reference. */
#include "inner.h"
#include "tripwright/qualify_gauge.h"
#include "tripwright/qualify_stats.h"

#include <math.h>

#define TW_NESTED_CELLS 100000 /* runs times days */

/* running sums of one (block, run) pair, then of one block */
struct level {
  size_t n;
  long double sum, squares;
};

static size_t codes_in(const uint32_t *code, size_t n)
{
  size_t most = 0;
  for (size_t i = 0; i < n; i++) {
    most = code[i] >= most ? (size_t)code[i] + 1 : most;
  }
  return most;
}

/* pooled variance of the members of each level about their means; degrees of freedom to *dof */
static double pooled(const struct level *level, size_t count, double *dof)
{
  long double squares = 0.0L;
  *dof = 0.0;
  for (size_t k = 0; k < count; k++) {
    if (level[k].n > 1) {
      squares += level[k].squares;
      *dof += (double)(level[k].n - 1);
    }
  }
  return *dof > 0.0 ? (double)(squares / (long double)*dof) : 0.0;
}

/* fill the levels from the values that carry their codes */
static void gather(struct level *level, size_t count, const size_t *code, const long double *value,
                   size_t n)
{
  for (size_t k = 0; k < count; k++) {
    level[k] = (struct level){0};
  }
  for (size_t i = 0; i < n; i++) {
    level[code[i]].n++;
    level[code[i]].sum += value[i];
  }
  for (size_t i = 0; i < n; i++) {
    const struct level *l = &level[code[i]];
    const long double d = value[i] - l->sum / (long double)l->n;
    level[code[i]].squares += d * d;
  }
}

/* variances of the effects: what a level shows less what the level below puts into its means */
static void effects(tw_nested *out, double readings, double days)
{
  const double v1 = out->s1 * out->s1, v2 = out->s2 * out->s2, v3 = out->s3 * out->s3;
  const double day = v2 - (readings > 0.0 ? v1 / readings : 0.0);
  const double run = out->dof3 > 0.0 ? v3 - v2 / days : 0.0;
  out->negative = day < 0.0 || run < 0.0;
  out->days_s = sqrt(fmax(day, 0.0));
  out->runs_s = sqrt(fmax(run, 0.0));
  const double one = readings > 0.0 ? v1 / readings : v1;
  out->u_one = sqrt(one + fmax(day, 0.0) + fmax(run, 0.0));
}

static tw_status check(const double *mean, const double *s, const double *dof, size_t n,
                       tw_fault *fault)
{
  if (n < 2) {
    return tw_fail(fault, TW_BAD_INPUT, "days", "measure on several days", "%zu day%s", n,
                   n == 1 ? "" : "s");
  }
  tw_status status = tw_all_finite(mean, n, "mean", fault);
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    if (!(s[i] >= 0.0) || !(dof[i] > 0.0) || !isfinite(s[i]) || !isfinite(dof[i])) {
      status = tw_fail(fault, TW_BAD_INPUT, "s", "s zero or positive, degrees of freedom positive",
                       "row %zu: s %g with %g degrees of freedom", i + 1, s[i], dof[i]);
    }
  }
  return status;
}

/* the two upper levels: days within each (block, run), runs within each block */
static tw_status upper_levels(const uint32_t *block, const uint32_t *run, const double *mean,
                              size_t n, tw_nested *out, double *days, tw_fault *fault)
{
  const size_t blocks = codes_in(block, n), runs = codes_in(run, n), pairs = blocks * runs;
  struct level *level = tw_alloc(pairs, sizeof *level);
  size_t *code = tw_alloc(n > pairs ? n : pairs, sizeof *code);
  long double *value = tw_alloc(n > pairs ? n : pairs, sizeof *value);
  tw_status status = level && code && value ? TW_OK : tw_no_memory(fault);
  if (status == TW_OK) {
    for (size_t i = 0; i < n; i++) {
      code[i] = block[i] * runs + run[i];
      value[i] = (long double)mean[i];
    }
    gather(level, pairs, code, value, n);
    out->s2 = sqrt(pooled(level, pairs, &out->dof2));
    size_t count = 0;
    for (size_t k = 0; k < pairs; k++) {
      if (level[k].n > 0) {
        code[count] = k / runs;
        value[count++] = level[k].sum / (long double)level[k].n;
      }
    }
    *days = (double)n / (double)count;
    gather(level, blocks, code, value, count);
    out->s3 = sqrt(pooled(level, blocks, &out->dof3));
  }
  tw_free(level);
  tw_free(code);
  tw_free(value);
  return status;
}

tw_status tw_nested_of(const uint32_t *block, const uint32_t *run, const double *mean,
                       const double *s, const double *dof, size_t n, double readings,
                       tw_nested *out, tw_fault *fault)
{
  tw_status status = check(mean, s, dof, n, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_nested){0};
  double squares = 0.0, days = 1.0;
  for (size_t i = 0; i < n; i++) {
    squares += dof[i] * s[i] * s[i];
    out->dof1 += dof[i];
  }
  out->s1 = sqrt(squares / out->dof1);
  status = upper_levels(block, run, mean, n, out, &days, fault);
  if (status == TW_OK && out->dof2 == 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, "days", "measure on two or more days in each run",
                   "every run has only one day");
  }
  if (status == TW_OK) {
    effects(out, readings, days);
  }
  return status;
}

/* mean, s and degrees of freedom of each (run, day); arrays of runs * days */
static size_t daily(const double *x, const uint32_t *run, const uint32_t *day, size_t n,
                    size_t runs, size_t days, double *room, uint32_t *run_of_row, double *readings)
{
  size_t rows = 0;
  double *mean = room, *s = room + runs * days, *dof = room + 2 * runs * days;
  double *pick = room + 3 * runs * days;
  for (uint32_t r = 0; r < runs; r++) {
    for (uint32_t d = 0; d < days; d++) {
      size_t count = 0;
      for (size_t i = 0; i < n; i++) {
        if (run[i] == r && day[i] == d) {
          pick[count++] = x[i];
        }
      }
      if (count < 2) {
        if (count == 1) {
          return 0;
        }
        continue;
      }
      long double m, squares;
      tw_sums_of(pick, count, &m, &squares);
      mean[rows] = (double)m;
      s[rows] = (double)sqrtl(squares / (long double)(count - 1));
      dof[rows] = (double)(count - 1);
      run_of_row[rows++] = r;
      *readings += 1.0 / (double)count;
    }
  }
  /* harmonic mean of the readings a day: what their means' variance goes by */
  *readings = rows ? (double)rows / *readings : 0.0;
  return rows;
}

tw_status tw_nested_readings(const double *x, const uint32_t *run, const uint32_t *day, size_t n,
                             tw_nested *out, tw_fault *fault)
{
  tw_status status =
      n < 4 ? tw_fail(fault, TW_BAD_INPUT, "readings",
                      "two readings on each of two days at the least", "%zu readings", n)
            : tw_all_finite(x, n, "reading", fault);
  if (status != TW_OK) {
    return status;
  }
  const size_t runs = codes_in(run, n), days = codes_in(day, n), cells = runs * days;
  if (cells > TW_NESTED_CELLS) {
    return tw_fail(fault, TW_BAD_INPUT, "day", "are these the right columns?",
                   "%zu runs and %zu days", runs, days);
  }
  double *room = tw_alloc(3 * cells + n, sizeof *room);
  uint32_t *code = tw_alloc(2 * cells, sizeof *code); /* runs, then one block for all */
  double readings = 0.0;
  size_t rows = 0;
  if (!room || !code) {
    status = tw_no_memory(fault);
  } else {
    rows = daily(x, run, day, n, runs, days, room, code, &readings);
    status = rows ? tw_nested_of(code + cells, code, room, room + cells, room + 2 * cells, rows,
                                 readings, out, fault)
                  : tw_fail(fault, TW_BAD_INPUT, "day", "take two or more readings every day",
                            "a day has only one reading");
  }
  tw_free(room);
  tw_free(code);
  return status;
}

tw_status tw_bias_of(const double *difference, size_t n, tw_bias *out, tw_fault *fault)
{
  tw_moments m;
  const tw_status status = tw_moments_of(difference, n, 0.95, &m, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_bias){.n = n, .mean = m.mean, .s = m.s};
  if (m.s_of_mean == 0.0) {
    return tw_fail(fault, TW_NO_ANSWER, "readings", "read to more digits",
                   "all differences are the same: no spread to judge the bias by");
  }
  out->t = m.mean / m.s_of_mean;
  out->p = tw_t_probability(out->t, (double)(n - 1));
  out->significant = out->p < 0.05;
  return TW_OK;
}
