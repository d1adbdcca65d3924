/* evaluate.c: one point, many points, and how far they are from their limits. */
#include "tripwright/parallel.h"
#include "tripwright/study.h"

#include <math.h>
#include <string.h>

const char *tw_outcome_text(tw_outcome outcome)
{
  static const char *const text[] = {
      "none",          "ok", "no_trip", "not_applicable", "no_answer", "tripped_at_rest", "stuck",
      "does_not_rearm"};
  return (size_t)outcome < sizeof text / sizeof text[0] ? text[outcome] : "unknown";
}

tw_status tw_study_evaluate(const tw_study_model *model, int worker, const double *x, double *y,
                            unsigned char *outcome, tw_fault *fault)
{
  memset(outcome, TW_OUTCOME_NONE, model->outputs);
  const tw_status status = model->evaluate(model->self, worker, x, y, outcome, fault);
  const bool impossible = status == TW_NO_ANSWER || status == TW_BAD_INPUT;
  if (status != TW_OK && !impossible) {
    return status;
  }
  for (size_t j = 0; j < model->outputs; j++) {
    if (impossible || outcome[j] == TW_OUTCOME_NONE ||
        (outcome[j] == TW_OUTCOME_OK && !isfinite(y[j]))) {
      outcome[j] = TW_OUTCOME_NO_ANSWER;
    }
    if (outcome[j] != TW_OUTCOME_OK) {
      y[j] = 0.0;
    }
  }
  return TW_OK;
}

typedef struct points {
  const tw_study_model *model;
  const double *x;
  double *y;
  unsigned char *outcome;
} points;

static tw_status some_points(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const points *p = self;
  const size_t in = p->model->inputs, out = p->model->outputs;
  for (size_t i = first; i < first + count; i++) {
    const tw_status status = tw_study_evaluate(p->model, worker, &p->x[i * in], &p->y[i * out],
                                               &p->outcome[i * out], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  return TW_OK;
}

tw_status tw_study_points(const tw_study_model *model, size_t n, const double *x, double *y,
                          unsigned char *outcome, int threads, const tw_progress *progress,
                          tw_fault *fault)
{
  points p = {model, x, y, outcome};
  const tw_loop loop = {n, 1, threads, some_points, &p, "evaluating"};
  return tw_parallel(&loop, progress, fault);
}

/* distance to a limit over its size; a limit of zero has no size */
static double over(double distance, double limit)
{
  return limit == 0.0 ? distance : distance / fabs(limit);
}

double tw_goal_margin(const tw_goal *limit, const double *y, const unsigned char *outcome)
{
  if (outcome[limit->output] != TW_OUTCOME_OK) {
    return -HUGE_VAL;
  }
  const double value = y[limit->output];
  double margin = HUGE_VAL;
  if (limit->has_high) {
    margin = over(limit->high - value, limit->high);
  }
  if (limit->has_low) {
    margin = fmin(margin, over(value - limit->low, limit->low));
  }
  return margin;
}

double tw_goals_margin(const tw_goal *limits, size_t n, const double *y,
                       const unsigned char *outcome, size_t *worst)
{
  double least = HUGE_VAL;
  size_t which = 0;
  for (size_t i = 0; i < n; i++) {
    const double margin = tw_goal_margin(&limits[i], y, outcome);
    if (i == 0 || margin < least) {
      least = margin;
      which = i;
    }
  }
  if (worst) {
    *worst = which;
  }
  return least;
}
