/* want.c: which value of one part gives what is wanted, and what the real values around it give.
 *
 * The range is scanned on a logarithmic grid, every change of side is narrowed by regula falsi with
 * a bisection whenever that is slow, and the members of the series around the answer are tried.
 */
#include "tripwright/circuit.h"
#include "tripwright/numerics.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define SCAN_MOST   400
#define NARROW_MOST 200

/* one trial; `off` = result - target */
typedef struct trial {
  double value, off;
  bool has;
} trial;

typedef struct search {
  const tw_want *want;
  tw_want_answer *out;
  bool any;     /* some trial had a result */
  tw_fault why; /* of the first trial without one */
  bool missing;
  tw_status stopped; /* cancelled, or out of memory: nothing more is tried */
} search;

static trial try_at(search *s, double value)
{
  trial t = {.value = value};
  tw_fault fault = {0};
  double result = 0.0;
  if (s->stopped != TW_OK) {
    return t;
  }
  s->out->trials++;
  const tw_status status = s->want->measure(s->want->self, value, &result, &fault);
  if (status == TW_CANCELLED || status == TW_NO_MEMORY) {
    s->stopped = status;
    s->why = fault;
    return t;
  }
  t.has = status == TW_OK && isfinite(result);
  if (!t.has) {
    s->why = s->missing ? s->why : fault;
    s->missing = true;
    return t;
  }
  t.off = result - s->want->target;
  if (!s->any || result < s->out->least) {
    s->out->least = result;
    s->out->at_least = value;
  }
  if (!s->any || result > s->out->most) {
    s->out->most = result;
    s->out->at_most = value;
  }
  s->any = true;
  return t;
}

static double tolerance_of(const tw_want *want)
{
  return want->tolerance > 0.0 ? want->tolerance : 1e-9;
}

static void add_root(tw_want_answer *out, double value)
{
  if (out->roots < TW_WANT_ROOTS) {
    out->root[out->roots++] = value;
  }
}

/* between a and b the result changes sides: close in on the place */
static void narrow(search *s, trial a, trial b)
{
  const double tolerance = tolerance_of(s->want);
  const double spread = fabs(a.off) + fabs(b.off);
  double weight_a = a.off, weight_b = b.off;
  for (int i = 0; i < NARROW_MOST && fabs(b.value - a.value) > tolerance * fabs(b.value); i++) {
    /* every third step halves, so that the width shrinks whatever the shape */
    const double part = i % 3 == 2 ? 0.5 : weight_a / (weight_a - weight_b);
    const trial m = try_at(s, a.value + (b.value - a.value) * fmin(fmax(part, 1e-3), 0.999));
    if (!m.has) {
      s->out->jumps = true;
      return;
    }
    if (m.off == 0.0) {
      add_root(s->out, m.value);
      return;
    }
    if ((m.off > 0.0) == (a.off > 0.0)) {
      a = m;
      weight_a = m.off;
      weight_b *= 0.5;
    } else {
      b = m;
      weight_b = m.off;
      weight_a *= 0.5;
    }
  }
  /* a smooth result has closed in with the value; one that jumps has not */
  if (fabs(a.off) + fabs(b.off) > 1e-3 * spread) {
    s->out->jumps = true;
    return;
  }
  add_root(s->out, fabs(a.off) < fabs(b.off) ? a.value : b.value);
}

/* the last value beside `a` (which has a result) before `b` (which has none) */
static trial edge_of(search *s, trial a, trial b)
{
  for (int i = 0; i < 40 && fabs(b.value - a.value) > 1e-6 * fabs(a.value); i++) {
    const trial m = try_at(s, 0.5 * (a.value + b.value));
    *(m.has ? &a : &b) = m;
  }
  return a;
}

static void examine(search *s, trial a, trial b, bool edges)
{
  if (a.has && b.has && a.off != 0.0 && b.off != 0.0 && (a.off > 0.0) != (b.off > 0.0)) {
    if (!edges) {
      narrow(s, a, b);
    }
  } else if (edges && a.has != b.has) {
    /* the answer may hide between the last result and where results end */
    const trial from = a.has ? a : b;
    const trial edge = edge_of(s, from, a.has ? b : a);
    if (from.off != 0.0 && edge.off != 0.0 && (from.off > 0.0) != (edge.off > 0.0)) {
      narrow(s, from, edge);
    }
  }
}

static int scan_of(const tw_want *want)
{
  return want->scan > 1 ? want->scan : 25;
}

static double grid(const tw_want *want, int i)
{
  const int n = scan_of(want);
  const double part = (double)i / (n - 1);
  if (i == 0 || i == n - 1) {
    return i == 0 ? want->low : want->high;
  }
  return want->low > 0.0 ? want->low * pow(want->high / want->low, part)
                         : want->low + (want->high - want->low) * part;
}

/* all trials of the grid; returns the one nearest to the target */
static trial scan(search *s, trial *trials)
{
  const int n = scan_of(s->want);
  trial best = {.has = false};
  int direction = 0;
  s->out->monotonic = true;
  for (int i = 0; i < n; i++) {
    trials[i] = try_at(s, grid(s->want, i));
    if (trials[i].has && (!best.has || fabs(trials[i].off) < fabs(best.off))) {
      best = trials[i];
    }
    if (trials[i].has && trials[i].off == 0.0) {
      add_root(s->out, trials[i].value);
    }
    if (i > 0 && trials[i].has && trials[i - 1].has) {
      const double step = trials[i].off - trials[i - 1].off;
      const int way = (step > 0.0) - (step < 0.0);
      s->out->monotonic = s->out->monotonic && way * direction >= 0;
      direction = way != 0 ? way : direction;
    }
  }
  return best;
}

/* the real values around `centre` */
static void list_rows(search *s, double centre)
{
  const tw_want *want = s->want;
  tw_want_answer *out = s->out;
  double nearest = 0.0;
  for (int k = 0; out->rows < want->rows && k <= 4 * TW_WANT_ROWS; k++) {
    /* below first, then above, going outwards until enough lie in the range */
    const int step = k % 2 == 0 ? -k / 2 : (k + 1) / 2;
    double value = centre;
    if (want->series != 0) {
      if (tw_series_step(want->series, centre, step, &value, NULL) != TW_OK) {
        return;
      }
    } else if (k > 0) {
      return;
    }
    if (value < want->low * (1.0 - 1e-12) || value > want->high * (1.0 + 1e-12)) {
      continue;
    }
    const trial t = try_at(s, value);
    /* insert in ascending order */
    int at = out->rows++;
    for (; at > 0 && out->row[at - 1].value > value; at--) {
      out->row[at] = out->row[at - 1];
    }
    out->row[at] = (tw_want_row){
        .value = value, .has_result = t.has, .result = t.has ? t.off + want->target : 0.0};
  }
  out->best = -1;
  for (int i = 0; i < out->rows; i++) {
    const double off = fabs(out->row[i].result - want->target);
    const bool usable = out->row[i].has_result && (!want->positive || out->row[i].result > 0.0);
    if (usable && (out->best < 0 || off < nearest)) {
      nearest = off;
      out->best = i;
    }
  }
}

static tw_status check_want(const tw_want *want, tw_fault *fault)
{
  if (!(want->high > want->low && isfinite(want->high) && isfinite(want->low)) ||
      (want->series != 0 && !(want->low > 0.0))) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give a range such as 10 kohm to 10 Mohm",
                   "the free value cannot run from %g to %g", want->low, want->high);
  }
  if (want->series != 0 && !tw_series_exists(want->series)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "use E3, E6, E12, E24, E48, E96 or E192",
                   "there is no series E%d of preferred values", want->series);
  }
  if (!isfinite(want->target)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give a number with its unit",
                   "what is wanted is no number");
  }
  if (want->rows < 1 || want->rows > TW_WANT_ROWS || want->scan > SCAN_MOST || want->scan < 0) {
    return tw_fail(fault, TW_BAD_INPUT, "", "ask for 1 to 9 rows and at most 400 trials",
                   "%d rows from %d trials cannot be listed", want->rows, want->scan);
  }
  return TW_OK;
}

static tw_status no_answer(const search *s, tw_fault *fault)
{
  const tw_want_answer *out = s->out;
  if (!s->any) {
    char hint[240];
    snprintf(hint, sizeof hint, "%s", s->why.hint[0] ? s->why.hint : "free another value");
    return tw_fail(fault, TW_NO_ANSWER, s->why.field, hint, "no value from %g to %g works: %.160s",
                   s->want->low, s->want->high, s->why.text);
  }
  if (out->jumps) {
    return tw_fail(fault, TW_NO_ANSWER, "", "take the nearest of the values listed",
                   "the result jumps across %g: from %g (at %g) to %g (at %g) no value meets it",
                   s->want->target, out->least, out->at_least, out->most, out->at_most);
  }
  return tw_fail(fault, TW_NO_ANSWER, "",
                 "widen the range, free another value or change what is wanted",
                 "%g is out of reach: from %g to %g the result runs from %g (at %g) to %g (at %g)",
                 s->want->target, s->want->low, s->want->high, out->least, out->at_least, out->most,
                 out->at_most);
}

tw_status tw_want_solve(const tw_want *want, tw_want_answer *out, tw_fault *fault)
{
  *out = (tw_want_answer){.best = -1};
  const tw_status status = check_want(want, fault);
  if (status != TW_OK) {
    return status;
  }
  trial trials[SCAN_MOST];
  search s = {.want = want, .out = out};
  trial best = scan(&s, trials);
  const int n = scan_of(want);
  for (int i = 1; i < n; i++) {
    examine(&s, trials[i - 1], trials[i], false);
  }
  for (int i = 1; i < n && out->roots == 0 && !out->jumps; i++) {
    examine(&s, trials[i - 1], trials[i], true);
  }
  qsort(out->root, (size_t)out->roots, sizeof out->root[0], tw_compare_doubles);
  if (best.has && s.stopped == TW_OK) {
    list_rows(&s, out->roots > 0 ? out->root[0] : best.value);
  }
  if (s.stopped != TW_OK) {
    return tw_fail(fault, s.stopped, s.why.field, s.why.hint, "%.200s", s.why.text);
  }
  return out->roots > 0 ? TW_OK : no_answer(&s, fault);
}
