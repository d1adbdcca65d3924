/* repeat_parts.c: series, groups, feed, drift, trips and positions of repeated touches. */
#include "repeat_parts.h"

#include <math.h>
#include <string.h>

static tw_status no_memory(tw_fault *fault)
{
  return tw_fail(fault, TW_NO_MEMORY, "", "use fewer readings", "out of memory");
}

static void interval(tw_figure_row *row, tw_interval i, double level)
{
  if (row) {
    row->has_interval = true;
    row->interval = i;
    row->level = level;
  }
}

/* what decides when the figure is held against a limit */
static void scatter(tw_figure_row *row, double value, double dof)
{
  if (row) {
    row->law = (tw_figure_law){.kind = TW_LAW_SPREAD, .value = value, .dof = dof};
  }
}

static void student(tw_figure_row *row, double u, double dof)
{
  if (row) {
    row->law = (tw_figure_law){.kind = TW_LAW_STUDENT, .value = row->value, .u = u, .dof = dof};
  }
}

static tw_figure_row *figure(tw_repeat_job *j, const char *name, double value, const char *formula)
{
  char text[120];
  snprintf(text, sizeof text, "%s%s", j->prefix, name);
  return tw_record_figure(j->record, text, value, "m", "um", 1e6, formula);
}

/* ---- one series
 * ------------------------------------------------------------------------------------ */

static int line_of(const tw_repeat_job *j, size_t k)
{
  return (int)j->in.table->line[j->row[k]];
}

static tw_status add_checks(tw_repeat_job *j, const double *x, const size_t *at, size_t n,
                            double spread, tw_fault *fault)
{
  tw_step_found step;
  tw_odd_ones odd;
  tw_status status = tw_step_of(x, n, &step, fault);
  status = status == TW_OK ? tw_odd_ones_of(x, n, &odd, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  if (step.limits && step.distinct == 1) {
    tw_record_note(j->record, "%sall readings are the same: the resolution hides the spread",
                   j->prefix);
  } else if (step.limits) {
    tw_record_note(j->record,
                   "%sthe readings lie on steps of %.3g um: the resolution limits the result",
                   j->prefix, 1e6 * step.step);
  } else if (step.found && step.step > 0.1 * spread) {
    tw_record_note(j->record, "%sthe readings lie on steps of %.3g um", j->prefix, 1e6 * step.step);
  }
  for (size_t k = 0; k < odd.count && k < TW_ODD_MOST; k++) {
    tw_record_note(j->record, "%sline %d is far off (score %.1f, limit 3.5); it is kept", j->prefix,
                   line_of(j, at[odd.index[k]]), odd.score[k]);
  }
  if (odd.count == 0 && odd.grubbs_limit > 0.0 && odd.grubbs > odd.grubbs_limit) {
    tw_record_note(j->record,
                   "%sline %d is far from the rest (Grubbs %.2f, limit %.2f); it is kept",
                   j->prefix, line_of(j, at[odd.farthest]), odd.grubbs, odd.grubbs_limit);
  }
  tw_run_checks run;
  if (n < 4 || tw_run_checks_of(x, n, &run, fault) != TW_OK) {
    return TW_OK;
  }
  if (run.trend) {
    tw_record_note(j->record, "%sthe readings run away by %.3g um a touch (p %.2g)", j->prefix,
                   1e6 * run.slope, run.slope_p);
  }
  if (run.jump) {
    tw_record_note(j->record, "%sthe readings jump by %.3g um behind line %d (p %.2g)", j->prefix,
                   1e6 * run.step, line_of(j, at[run.step_after - 1]), run.step_p);
  }
  return TW_OK;
}

static tw_status add_series(tw_repeat_job *j, const double *x, const size_t *at, size_t n,
                            tw_fault *fault)
{
  tw_moments m;
  const tw_status status = tw_moments_of(x, n, j->level, &m, fault);
  if (status != TW_OK) {
    return status;
  }
  char formula[80];
  snprintf(formula, sizeof formula, "mean of %zu readings", n);
  char name[80];
  snprintf(name, sizeof name, "%smean", j->prefix);
  tw_figure_row *mean = tw_record_figure(j->record, name, m.mean, "m", "mm", 1e3, formula);
  interval(mean, m.mean_interval, j->level);
  const double dof = (double)(n - 1);
  student(mean, m.s_of_mean, dof);
  const double times[] = {1.0, 2.0, 4.0};
  static const char *const names[] = {"s", "2s", "4s"};
  for (int k = 0; k < 3; k++) {
    snprintf(formula, sizeof formula, k ? "%s, s with n - 1, n = %zu" : "%s with n - 1, n = %zu",
             names[k], n);
    const tw_interval i = {times[k] * m.s_interval.low, times[k] * m.s_interval.high};
    tw_figure_row *row = figure(j, names[k], times[k] * m.s, formula);
    interval(row, i, j->level);
    scatter(row, times[k] * m.s, dof);
  }
  snprintf(formula, sizeof formula, "largest minus smallest of %zu; interval of the average range",
           n);
  tw_figure_row *range = figure(j, "range", m.range, formula);
  interval(range, tw_range_interval(&m), j->level);
  scatter(range, tw_d2(n) * m.s, dof); /* the average range of n touches, as its interval */
  return add_checks(j, x, at, n, m.s, fault);
}

/* ---- all together, or group by group
 * ----------------------------------------------------------------- */

/* readings of one group into x with their places; how many */
static size_t pick(const tw_repeat_job *j, const uint32_t *code, uint32_t group, double *x,
                   size_t *at)
{
  size_t count = 0;
  for (size_t k = 0; k < j->n; k++) {
    if (!code || code[j->row[k]] == group) {
      x[count] = j->reading[k];
      at[count++] = k;
    }
  }
  return count;
}

static tw_status add_pooled(tw_repeat_job *j, const uint32_t *code, size_t groups, tw_fault *fault)
{
  uint32_t *kept = tw_alloc(j->n, sizeof *kept);
  if (!kept) {
    return no_memory(fault);
  }
  for (size_t k = 0; k < j->n; k++) {
    kept[k] = code[j->row[k]];
  }
  tw_groups g;
  const tw_status status = tw_groups_of(j->reading, kept, j->n, groups, j->level, &g, fault);
  tw_free(kept);
  if (status != TW_OK) {
    return status;
  }
  j->prefix = "";
  tw_figure_row *row = figure(j, "s, pooled", g.s_pooled, "over all groups");
  interval(row, g.s_interval, j->level);
  scatter(row, g.s_pooled, g.dof_pooled);
  if (g.cochran_p < 0.05) {
    tw_record_note(j->record, "one group scatters more than the others (Cochran, p < %.2g)",
                   fmax(g.cochran_p, 1e-6));
  }
  tw_groups_free(&g);
  return TW_OK;
}

/* two groups: do their means differ? up and down, before and after */
static tw_status add_difference(tw_repeat_job *j, const uint32_t *code, double *x, size_t *at,
                                const char *const *name, tw_fault *fault)
{
  const size_t first = pick(j, code, 0, x, at), second = pick(j, code, 1, x + first, at);
  tw_difference d;
  const tw_status status = tw_difference_of(x + first, second, x, first, j->level, &d, fault);
  if (status == TW_OK) {
    char formula[160];
    snprintf(formula, sizeof formula, "mean of %.50s less mean of %.50s%s", name[1], name[0],
             d.significant ? "" : "; not distinct from 0");
    j->prefix = "";
    tw_figure_row *row = figure(j, "difference", d.difference, formula);
    interval(row, d.interval, j->level);
    student(row, d.u, d.dof);
  }
  return status;
}

tw_status tw_repeat_add_groups(tw_repeat_job *j, tw_fault *fault)
{
  const int column = j->in.at[REPEAT_GROUP];
  const uint32_t *code = column < 0 ? NULL : j->in.table->code[column];
  const size_t groups = column < 0 ? 1 : j->in.table->texts[column];
  double *x = tw_alloc(j->n, sizeof *x);
  size_t *at = tw_alloc(j->n, sizeof *at);
  tw_status status = x && at ? TW_OK : no_memory(fault);
  for (uint32_t g = 0; g < groups && status == TW_OK; g++) {
    char prefix[64] = "";
    if (column >= 0) {
      snprintf(prefix, sizeof prefix, "%.50s: ", j->in.table->text[column][g]);
    }
    j->prefix = prefix;
    const size_t count = pick(j, code, g, x, at);
    status = add_series(j, x, at, count, fault);
    if (status == TW_BAD_INPUT && column >= 0 && count < 2) {
      status = tw_fail(fault, TW_BAD_INPUT, "group", "take five or more in every group",
                       "group '%.60s' has %zu reading%s", j->in.table->text[column][g], count,
                       count == 1 ? "" : "s");
    }
    j->prefix = "";
  }
  if (status == TW_OK && groups > 1) {
    status = add_pooled(j, code, groups, fault);
  }
  if (status == TW_OK && groups == 2) {
    status = add_difference(j, code, x, at, (const char *const *)j->in.table->text[column], fault);
  }
  tw_free(x);
  tw_free(at);
  return status;
}

/* ---- feed, drift, trips, positions
 * -------------------------------------------------------------------- */

/* a feed of zero or below is a wrong column or a wrong sign */
static tw_status positive_feeds(const tw_repeat_job *j, tw_fault *fault)
{
  const double *feed = tw_recording_number(&j->in, REPEAT_FEED);
  for (size_t i = 0; feed && i < j->in.table->rows; i++) {
    if (!(feed[i] > 0.0)) {
      return tw_fail(fault, TW_BAD_INPUT, "feed",
                     "a feed is above zero; the direction of a touch belongs into a group",
                     "line %u: a feed of %.6g mm/min", (unsigned)j->in.table->line[i],
                     feed[i] * 6e4);
    }
  }
  return TW_OK;
}

static double *kept(const tw_repeat_job *j, int column)
{
  double *x = tw_alloc(j->n, sizeof *x);
  for (size_t k = 0; x && k < j->n; k++) {
    x[k] = tw_recording_number(&j->in, (size_t)column)[j->row[k]];
  }
  return x;
}

tw_status tw_repeat_add_feed(tw_repeat_job *j, double nominal, tw_fault *fault)
{
  double *feed = kept(j, REPEAT_FEED), *error = tw_alloc(j->n, sizeof *error);
  tw_feed_error e;
  tw_status status = feed && error ? positive_feeds(j, fault) : no_memory(fault);
  for (size_t k = 0; status == TW_OK && k < j->n; k++) {
    error[k] = j->reading[k] - nominal;
  }
  status = status == TW_OK ? tw_feed_error_of(feed, error, j->n, j->level, &e, fault) : status;
  tw_free(feed);
  tw_free(error);
  if (status != TW_OK) {
    return status;
  }
  tw_figure_row *row = tw_record_figure(j->record, "apparent delay", e.delay, "s", "ms", 1e3,
                                        "slope of reading against feed, least squares");
  interval(row, e.delay_interval, j->level);
  student(row, e.delay_u, e.dof);
  row = figure(j, "reading at feed 0", e.offset, "from the same line");
  interval(row, e.offset_interval, j->level);
  student(row, e.offset_u, e.dof);
  if (e.delay_interval.high < 0.0) {
    tw_record_note(
        j->record,
        "the reading falls as the feed rises: that is no delay; after touches towards -X, "
        "-Y or -Z turn the sign of the readings, near the slowest feed touch faster");
  }
  row = figure(j, "s about the line", e.s, "s with n - 2: repeatability with the delay taken out");
  scatter(row, e.s, e.dof);
  if (e.bent) {
    tw_record_note(j->record,
                   "the error is not a straight line over the feed (p %.2g): the delay itself "
                   "depends on the feed",
                   e.curved_p);
  }
  return TW_OK;
}

tw_status tw_repeat_add_drift(tw_repeat_job *j, tw_fault *fault)
{
  double *time = kept(j, REPEAT_TIME),
         *warm = j->in.at[REPEAT_TEMPERATURE] < 0 ? NULL : kept(j, REPEAT_TEMPERATURE);
  tw_drift d;
  tw_status status = time && (warm || j->in.at[REPEAT_TEMPERATURE] < 0) ? TW_OK : no_memory(fault);
  status =
      status == TW_OK ? tw_drift_of(time, warm, j->reading, j->n, j->level, &d, fault) : status;
  if (status == TW_OK) {
    tw_figure_row *row = tw_record_figure(j->record, "drift", d.rate, "m/s", "um/h", 3.6e9,
                                          warm ? "slope over time, temperature taken out"
                                               : "slope over time, least squares");
    interval(row, d.rate_interval, j->level);
    student(row, d.rate_u, d.dof);
    if (warm) {
      row = tw_record_figure(j->record, "temperature", d.per_degree, "m/K", "um/K", 1e6,
                             "slope over temperature, time taken out");
      interval(row, d.per_degree_interval, j->level);
      student(row, d.per_degree_u, d.dof);
    }
    tw_warming w;
    if (!warm && tw_warming_of(time, j->reading, j->n, &w, NULL) == TW_OK &&
        fabs(w.rise) > 3.0 * w.rise_u && w.settle > 2.0 * w.settle_u) {
      tw_record_note(j->record, "looks like warming up: %.3g um with a time constant of %.3g min",
                     1e6 * w.rise, w.settle / 60.0);
    }
  }
  tw_free(time);
  tw_free(warm);
  return status;
}

/* trips at each feed (or all together): 1 tripped, 0 missed, 2 false */
tw_status tw_repeat_add_trips(tw_repeat_job *j, tw_fault *fault)
{
  const double *trip = tw_recording_number(&j->in, REPEAT_TRIP),
               *feed = tw_recording_number(&j->in, REPEAT_FEED);
  const size_t rows = j->in.table->rows;
  bool *done = tw_alloc(rows, sizeof *done);
  if (!done) {
    return no_memory(fault);
  }
  tw_status status = positive_feeds(j, fault);
  for (size_t i = 0; i < rows && status == TW_OK; i++) {
    size_t n = 0, missed = 0, wrong = 0;
    if (done[i]) {
      continue;
    }
    for (size_t k = i; k < rows && status == TW_OK; k++) {
      if (feed && feed[k] != feed[i]) {
        continue;
      }
      done[k] = true;
      n++;
      missed += trip[k] == 0.0;
      wrong += trip[k] == 2.0;
      if (trip[k] != 0.0 && trip[k] != 1.0 && trip[k] != 2.0) {
        status =
            tw_fail(fault, TW_BAD_INPUT, "trip", "1 tripped, 0 missed, 2 tripped before contact",
                    "line %u: %g is not 0, 1 or 2", (unsigned)j->in.table->line[k], trip[k]);
      }
    }
    for (int kind = 0; kind < 2 && status == TW_OK; kind++) {
      tw_share s;
      status = tw_share_of(kind ? wrong : missed, n, j->level, &s, fault);
      char name[80] = "", formula[80];
      if (feed) {
        snprintf(name, sizeof name, " at %.6g mm/min", feed[i] * 6e4);
      }
      char whole[120];
      snprintf(whole, sizeof whole, "%s%s", kind ? "false trips" : "missed trips", name);
      snprintf(formula, sizeof formula, "%zu of %zu; exact interval", s.events, s.n);
      tw_figure_row *row = tw_record_figure(j->record, whole, s.share, "1", "%", 100.0, formula);
      interval(row, s.interval, j->level);
      if (row) {
        row->law =
            (tw_figure_law){.kind = TW_LAW_SHARE, .value = s.share, .events = s.events, .n = s.n};
      }
    }
  }
  tw_free(done);
  return status;
}

static bool is_up(const char *label, bool *up)
{
  *up = strcmp(label, "up") == 0 || strcmp(label, "+") == 0;
  return *up || strcmp(label, "down") == 0 || strcmp(label, "-") == 0;
}

static tw_status positions_of(tw_repeat_job *j, bool *up, uint32_t *place, tw_positions *out,
                              tw_fault *fault)
{
  const tw_readings *t = j->in.table;
  const int position = j->in.at[REPEAT_POSITION], approach = j->in.at[REPEAT_APPROACH];
  for (size_t k = 0; k < j->n; k++) {
    const char *label = t->text[approach][t->code[approach][j->row[k]]];
    place[k] = t->code[position][j->row[k]];
    if (!is_up(label, &up[k])) {
      return tw_fail(fault, TW_BAD_INPUT, "approach", "write up and down, or + and -",
                     "line %d: '%.40s' is neither up nor down", line_of(j, k), label);
    }
  }
  return tw_positions_of(place, up, j->reading, j->n, t->texts[position], out, fault);
}

tw_status tw_repeat_add_positions(tw_repeat_job *j, tw_fault *fault)
{
  bool *up = tw_alloc(j->n, sizeof *up);
  uint32_t *place = tw_alloc(j->n, sizeof *place);
  tw_positions p;
  tw_status status = up && place ? positions_of(j, up, place, &p, fault) : no_memory(fault);
  tw_free(up);
  tw_free(place);
  if (status != TW_OK) {
    return status;
  }
  const struct {
    const char *name, *formula;
    double value;
  } rows[] = {
      {"reversal B", "largest |mean up - mean down|", p.reversal},
      {"repeatability R up", "largest 4s, upwards", p.repeatability_up},
      {"repeatability R down", "largest 4s, downwards", p.repeatability_down},
      {"repeatability R", "largest of 2s up + 2s down + |B|, 4s up, 4s down", p.repeatability},
      {"systematic deviation E", "range of the means of both directions", p.systematic},
      {"mean deviation M", "range of the mean of both directions", p.mean_deviation},
      {"accuracy A", "range of mean +- 2s", p.accuracy}};
  for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
    figure(j, rows[k].name, rows[k].value, rows[k].formula);
  }
  tw_record_condition(j->record, "positions",
                      "after the method of ISO 230-2 (clauses from memory)");
  return TW_OK;
}
