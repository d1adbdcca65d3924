/* act_edges.c: the output: one edge and its rise, bounce, and touches again and again. */
#include "act.h"

#include <math.h>

#define EDGES_MOST 4096
#define RISE       2.197224577336219 /* ln 9: from 10 to 90 % of an exponential */
#define LOW_MARK   0.4
#define HIGH_MARK  0.6   /* two levels: the noise of 8 bits makes no edge */
#define BAND       0.35  /* rise time times bandwidth of a first-order input */
#define AROUND     12    /* rise times of the record that the fit uses */
#define ONE_TOUCH  20e-3 /* s: edges closer than this belong to one touch */

struct edges {
  double low, high;
  double at[EDGES_MOST];
  bool up[EDGES_MOST];
  size_t count;
};

/* level of the samples below or above the middle: the median of that half */
static bool level_of(const tw_eval *job, double middle, bool above, double *scratch, double *out)
{
  size_t n = 0;
  double sigma;
  for (size_t i = 0; i < job->n; i++) {
    if ((job->v[i] > middle) == above) {
      scratch[n++] = job->v[i];
    }
  }
  return tw_level(scratch, n, out, &sigma);
}

/* crossings of half level by a straight line between samples; an edge counts when the other mark is
 * reached */
static void find_edges(const tw_eval *job, struct edges *e)
{
  const double span = e->high - e->low, half = e->low + span / 2;
  bool high = job->v[0] > half;
  double crossing = 0;
  for (size_t i = 1; i < job->n; i++) {
    const double a = job->v[i - 1], b = job->v[i];
    if ((a > half) != (b > half)) {
      crossing = tw_eval_at(job, i - 1) + job->interval * (half - a) / (b - a);
    }
    const bool now = high ? b > e->low + LOW_MARK * span : b > e->low + HIGH_MARK * span;
    if (now != high && e->count < EDGES_MOST) {
      high = now;
      e->up[e->count] = now;
      e->at[e->count++] = crossing;
    }
  }
}

static tw_status levels(tw_eval *job, struct edges *e)
{
  double least = job->v[0], most = job->v[0];
  for (size_t i = 0; i < job->n; i++) {
    least = fmin(least, job->v[i]);
    most = fmax(most, job->v[i]);
  }
  double *scratch = tw_alloc(job->n, sizeof *scratch);
  const double middle = (least + most) / 2;
  const bool fine = scratch && level_of(job, middle, false, scratch, &e->low) &&
                    level_of(job, middle, true, scratch, &e->high);
  tw_free(scratch);
  if (!fine) {
    return tw_eval_memory(job);
  }
  find_edges(job, e);
  return e->count > 0 ? TW_OK
                      : tw_fail(job->fault, TW_BAD_INPUT, "",
                                "check the trigger; --act rest if "
                                "nothing was done",
                                "the output does not change in this recording");
}

/* low, then exponential towards high from t_0; p: ln tau, t_0 in tau of the start, plus one */
static bool rise_basis(double t, const double *p, double *row, const void *self)
{
  const double tau = exp(p[0]), at = t - (p[1] - 1) * *(const double *)self;
  row[0] = 1;
  row[1] = at > 0 ? -expm1(-at / tau) : 0;
  return tau > 0 && isfinite(tau);
}

/* the rise of one edge, fitted: crossings of 10 and 90 % alone carry the noise of two samples */
static tw_status put_rise(tw_eval *job, const struct edges *e)
{
  const double half = e->at[0];
  double start = fmax(job->interval, 1e-12);
  for (size_t i = 1; i < job->n; i++) { /* from half level to 63 % and more */
    const double share = (job->v[i] - e->low) / (e->high - e->low);
    if (tw_eval_at(job, i) > half && (e->up[0] ? share > 0.8 : share < 0.2)) {
      start = fmax(job->interval, (tw_eval_at(job, i) - half) / 0.9);
      break;
    }
  }
  double *t = tw_alloc(2 * job->n, sizeof *t), *v = t ? t + job->n : NULL;
  if (!t) {
    return tw_eval_memory(job);
  }
  size_t n = 0;
  for (size_t i = 0; i < job->n; i++) {
    const double at = tw_eval_at(job, i) - half;
    if (fabs(at) < AROUND * start) {
      t[n] = at;
      v[n++] = job->v[i];
    }
  }
  tw_sep s = {.points = n,
              .t = t,
              .v = v,
              .linear = 2,
              .free = 2,
              .basis = rise_basis,
              .self = &start,
              .p = {log(start), 0.3}};
  const tw_status status = tw_sep_fit(&s, job->fault);
  if (status == TW_OK) {
    const double rise = RISE * exp(s.p[0]), own = BAND / job->setup->instrument.bandwidth;
    const double u =
        hypot(rise * tw_sep_u_free(&s, 0), job->interval / sqrt(12.0) / sqrt((double)n));
    const double true_rise = rise > own ? sqrt(rise * rise - own * own) : 0;
    tw_note(tw_put_feature(job->result, e->up[0] ? "rise_10_90" : "fall_90_10", true_rise,
                           u * rise / fmax(true_rise, rise / 10), "s"),
            own > 0 ? "the instrument's own rise taken off" : "as recorded");
    tw_put_curve(job, &s, half, half - 3 * start, half + 8 * start);
    if (rise < 4 * job->interval) {
      tw_put_concern(job->result, "slow", "record with a higher rate",
                     "Too slow: the edge takes %.2g samples.", rise / job->interval);
    }
  }
  tw_free(t);
  return status;
}

static void put_levels(tw_eval *job, const struct edges *e)
{
  const double gain = tw_gain_u(job), step = job->record->channel[job->channel].step;
  const double code = isfinite(step) ? step * fabs(job->scale) / sqrt(12.0) : 0;
  tw_put_feature(job->result, "low", e->low, hypot(code, gain * e->low), job->unit);
  tw_put_feature(job->result, "high", e->high, hypot(code, gain * e->high), job->unit);
}

tw_status tw_act_edges(tw_eval *job)
{
  struct edges *e = tw_alloc(1, sizeof *e);
  tw_status status = e ? levels(job, e) : tw_eval_memory(job);
  if (status == TW_OK) {
    const double u = job->interval / sqrt(6.0);
    put_levels(job, e);
    tw_put_feature(job->result, "edges", (double)e->count, 0, "1");
    tw_note(tw_put_feature(job->result, "settle", e->at[e->count - 1] - e->at[0],
                           e->count > 1 ? u : 0, "s"),
            "first to last crossing of half level");
    for (size_t k = 0; k < e->count && k < TW_CAPTURE_MARKS; k++) {
      tw_put_mark(job->result, e->at[k], (e->low + e->high) / 2 / job->scale,
                  e->up[k] ? "up" : "down");
    }
    if (e->count == 1) {
      status = put_rise(job, e);
    } else if (job->result->act == TW_CAPTURE_EDGE) {
      tw_put_concern(job->result, "bounce", "--act bounce, if that is what was wanted",
                     "Not one edge but %zu.", e->count);
    }
  }
  tw_free(e);
  return status;
}

/* ---- touches ----------------------------------------------------------------------------------
 */

static double mean_of(const double *v, size_t n, double *u)
{
  double sum = 0, square = 0;
  for (size_t i = 0; i < n; i++) {
    sum += v[i];
  }
  const double mean = n ? sum / (double)n : 0;
  for (size_t i = 0; i < n; i++) {
    square += (v[i] - mean) * (v[i] - mean);
  }
  *u = n > 1 ? sqrt(square / (double)(n - 1) / (double)n) : 0;
  return mean;
}

/* edges grouped into touches: how long each held, how far apart, how many edges in one */
tw_status tw_act_touches(tw_eval *job)
{
  struct edges *e = tw_alloc(1, sizeof *e);
  double *hold = tw_alloc(2 * EDGES_MOST, sizeof *hold);
  tw_status status = e && hold ? levels(job, e) : tw_eval_memory(job);
  if (status == TW_OK) {
    double *apart = hold + EDGES_MOST, u, last_start = 0;
    size_t touches = 0, most = 0, k = 0;
    put_levels(job, e);
    while (k < e->count) {
      const size_t first = k;
      size_t end = k;
      while (end + 1 < e->count &&
             (e->at[end + 1] - e->at[end] < ONE_TOUCH || e->up[end] == e->up[first])) {
        end++;
      }
      hold[touches] = e->at[end] - e->at[first];
      if (touches > 0) {
        apart[touches - 1] = e->at[first] - last_start;
      }
      last_start = e->at[first];
      most = end - first + 1 > most ? end - first + 1 : most;
      tw_put_mark(job->result, e->at[first], (e->low + e->high) / 2 / job->scale, "touch");
      touches++;
      k = end + 1;
    }
    tw_put_feature(job->result, "touches", (double)touches, 0, "1");
    tw_put_feature(job->result, "edges_most", (double)most, 0, "1");
    const double held = mean_of(hold, touches, &u);
    tw_put_feature(job->result, "hold", held, fmax(u, job->interval / sqrt(6.0)), "s");
    if (touches > 1) {
      const double interval = mean_of(apart, touches - 1, &u);
      tw_put_feature(job->result, "interval", interval, u, "s");
    }
  }
  tw_free(e);
  tw_free(hold);
  return status;
}
