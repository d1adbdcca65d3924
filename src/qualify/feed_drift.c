/* feed_drift.c: error against feed, drift against time and temperature, warming up. */
#include "inner.h"
#include "tripwright/qualify_stats.h"

#include <math.h>

static tw_interval about(double value, double u, double level, double dof)
{
  const double half = tw_t_factor(level, dof) * u;
  return (tw_interval){value - half, value + half};
}

/* ---- feed ------------------------------------------------------------------------------------ */

static size_t distinct_values(const double *x, size_t n)
{
  size_t count = 0;
  for (size_t i = 0; i < n && count < 4; i++) {
    bool seen = false;
    for (size_t j = 0; j < i && !seen; j++) {
      seen = x[j] == x[i];
    }
    count += !seen;
  }
  return count;
}

/* is there a second-order term? only three different feeds can tell */
static tw_status check_bend(const double *feed, const double *error, size_t n, tw_feed_error *out,
                            tw_fault *fault)
{
  out->curved_p = 1.0;
  if (distinct_values(feed, n) < 3 || n < 4) {
    return TW_OK;
  }
  tw_regression r;
  const tw_status status = tw_regress_polynomial(feed, error, n, 2, &r, fault);
  if (status == TW_OK) {
    out->curved = r.b[2];
    out->curved_p = r.u[2] > 0.0 ? tw_t_probability(r.b[2] / r.u[2], r.dof) : r.b[2] == 0.0;
    out->bent = out->curved_p < 0.01;
  }
  return status;
}

tw_status tw_feed_error_of(const double *feed, const double *error, size_t n, double level,
                           tw_feed_error *out, tw_fault *fault)
{
  tw_status status = tw_all_finite(feed, n, "feed", fault);
  if (status == TW_OK && distinct_values(feed, n) < 2) {
    status = tw_fail(fault, TW_BAD_INPUT, "feed", "touch at two feeds at the least, better four",
                     "all readings are at one feed: delay and offset cannot be separated");
  }
  tw_regression r;
  status = status == TW_OK ? tw_regress_polynomial(feed, error, n, 1, &r, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_feed_error){.offset = r.b[0],
                         .offset_u = r.u[0],
                         .delay = r.b[1],
                         .delay_u = r.u[1],
                         .covariance = r.covariance[1],
                         .s = r.s,
                         .dof = r.dof};
  out->delay_interval = about(r.b[1], r.u[1], level, r.dof);
  out->offset_interval = about(r.b[0], r.u[0], level, r.dof);
  return check_bend(feed, error, n, out, fault);
}

/* ---- drift ----------------------------------------------------------------------------------- */

static tw_status drift_rows(const double *time, const double *temperature, size_t n, size_t p,
                            double *x, tw_fault *fault)
{
  long double mean = 0.0L;
  for (size_t i = 0; temperature && i < n; i++) {
    mean += (long double)temperature[i] / (long double)n;
  }
  double first = time[0];
  for (size_t i = 0; i < n; i++) {
    first = time[i] < first ? time[i] : first;
  }
  for (size_t i = 0; i < n; i++) {
    x[i * p] = 1.0;
    x[i * p + 1] = time[i] - first;
    if (temperature) {
      x[i * p + 2] = (double)((long double)temperature[i] - mean);
    }
  }
  return TW_OK == tw_all_finite(x, n * p, "time or temperature", fault) ? TW_OK : TW_BAD_INPUT;
}

/* time and temperature that rise together cannot be separated */
#define TW_DRIFT_CONDITION 1e4

tw_status tw_drift_of(const double *time, const double *temperature, const double *reading,
                      size_t n, double level, tw_drift *out, tw_fault *fault)
{
  const size_t p = temperature ? 3 : 2;
  if (n <= p) {
    return tw_fail(fault, TW_BAD_INPUT, "readings", "take more over a longer time",
                   "%zu readings are too few for a drift", n);
  }
  double *x = tw_alloc(n * p, sizeof *x);
  if (!x) {
    return tw_no_memory(fault);
  }
  tw_regression r;
  tw_status status = drift_rows(time, temperature, n, p, x, fault);
  status = status == TW_OK ? tw_regress(x, reading, n, p, &r, fault) : status;
  tw_free(x);
  if (status == TW_NO_ANSWER || (status == TW_OK && r.condition > TW_DRIFT_CONDITION)) {
    return tw_fail(fault, TW_NO_ANSWER, temperature ? "temperature" : "time",
                   temperature ? "let the temperature go up and down, or fit one of the two"
                               : "spread the readings over time",
                   temperature ? "time and temperature change together: their parts cannot be told "
                                 "apart"
                               : "all readings were taken at one time");
  }
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_drift){.start = r.b[0], .rate = r.b[1], .rate_u = r.u[1], .s = r.s, .dof = r.dof};
  out->rate_interval = about(r.b[1], r.u[1], level, r.dof);
  if (temperature) {
    out->per_degree = r.b[2];
    out->per_degree_u = r.u[2];
    out->per_degree_interval = about(r.b[2], r.u[2], level, r.dof);
  }
  double least = reading[0], greatest = reading[0];
  for (size_t i = 1; i < n; i++) {
    least = fmin(least, reading[i]);
    greatest = fmax(greatest, reading[i]);
  }
  out->range = greatest - least;
  return TW_OK;
}

/* ---- warming up ------------------------------------------------------------------------------ */

struct warming {
  const double *time;
  double first, span;
};

/* b = start, rise, log(settle / span): the logarithm keeps the time constant positive */
static double warming_model(const void *self, size_t i, const double *b, double *slope)
{
  const struct warming *w = self;
  const double ratio = (w->time[i] - w->first) / w->span * exp(-b[2]), fall = exp(-ratio);
  if (slope) {
    slope[0] = 1.0;
    slope[1] = 1.0 - fall;
    slope[2] = -b[1] * fall * ratio;
  }
  return b[0] + b[1] * (1.0 - fall);
}

tw_status tw_warming_of(const double *time, const double *reading, size_t n, tw_warming *out,
                        tw_fault *fault)
{
  tw_status status = n < 4 ? tw_fail(fault, TW_BAD_INPUT, "readings", "take ten or more",
                                     "%zu readings are too few for a warming curve", n)
                           : tw_all_finite(time, n, "time", fault);
  if (status != TW_OK) {
    return status;
  }
  size_t first = 0, last = 0;
  for (size_t i = 1; i < n; i++) {
    first = time[i] < time[first] ? i : first;
    last = time[i] > time[last] ? i : last;
  }
  const struct warming w = {time, time[first], time[last] - time[first]};
  if (!(w.span > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "time", "spread the readings over time",
                   "all readings were taken at one time");
  }
  const double start[3] = {reading[first], reading[last] - reading[first], log(0.3)};
  tw_regression r;
  status = tw_fit_model(warming_model, &w, reading, n, 3, start, &r, fault);
  if (status != TW_OK) {
    return status;
  }
  *out = (tw_warming){.start = r.b[0],
                      .rise = r.b[1],
                      .settle = w.span * exp(r.b[2]),
                      .rise_u = r.u[1],
                      .s = r.s,
                      .dof = r.dof};
  out->settle_u = out->settle * r.u[2];
  if (!isfinite(out->settle) || out->settle > 3.0 * w.span) {
    return tw_fail(fault, TW_NO_ANSWER, "time", "record for longer, or fit a steady drift",
                   "the readings do not bend enough to show where the warming ends");
  }
  return TW_OK;
}
