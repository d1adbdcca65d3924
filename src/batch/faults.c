/* faults.c: which share of a batch misses a requirement, and at which step that is found. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

/* the line that reads a measure first; the last line takes what no step reads */
static size_t first_reader(const tw_batch *batch, const char *measure)
{
  for (size_t k = 0; k < batch->lines; k++) {
    const tw_step *step = batch->line[k].step;
    for (size_t i = 0; step && i < step->read_count; i++) {
      if (strcmp(step->reads[i], measure) == 0) {
        return k;
      }
    }
  }
  return batch->lines - 1;
}

static tw_status check_reads(const tw_batch *batch, tw_fault *fault)
{
  for (size_t k = 0; k < batch->lines; k++) {
    const tw_step *step = batch->line[k].step;
    for (size_t i = 0; step && i < step->read_count; i++) {
      if (tw_measure_find(step->reads[i]) == TW_MEASURE_COUNT) {
        char field[64];
        snprintf(field, sizeof field, "steps.%.40s.reads", step->name);
        return tw_fail(fault, TW_BAD_INPUT, field, "tripwright fields requirements lists them",
                       "there is no measure '%.48s'", step->reads[i]);
      }
    }
  }
  return TW_OK;
}

/* which line each build fails at first, by the requirements; lines: at none */
static size_t fails_at(const tw_batch *batch, const tw_batch_ask *ask, size_t build)
{
  const tw_builds *b = ask->builds;
  size_t at = batch->lines;
  for (size_t g = 0; g < ask->study->goals; g++) {
    const tw_goal *goal = &ask->study->goal[g];
    const double margin =
        tw_goal_margin(goal, &b->y[build * b->outputs], &b->outcome[build * b->outputs]);
    const size_t line = margin >= 0 ? at : first_reader(batch, goal->name);
    at = line < at ? line : at;
  }
  return at;
}

/* fails[k]: of the builds that fail at no earlier line */
static void from_builds(const tw_batch_ask *ask, tw_batch *batch)
{
  size_t first[TW_BATCH_STEPS + 1] = {0}, left = 0;
  for (size_t i = 0; i < ask->builds->count; i++) {
    if (tw_builds_has(ask->builds, i)) {
      first[fails_at(batch, ask, i)]++;
      left++;
    }
  }
  for (size_t k = 0; k < batch->lines; k++) {
    batch->line[k].fails = left ? (double)first[k] / (double)left : 0;
    left -= first[k];
  }
}

/* does line j read a measure that line k reads as well? */
static bool reads_the_same(const tw_batch *batch, size_t j, size_t k)
{
  const tw_step *a = batch->line[j].step, *b = batch->line[k].step;
  for (size_t i = 0; a && b && i < a->read_count; i++) {
    for (size_t l = 0; l < b->read_count; l++) {
      if (strcmp(a->reads[i], b->reads[l]) == 0) {
        return true;
      }
    }
  }
  return false;
}

/* two kinds a line: its own work, and the requirements that it reads first */
double tw_batch_found(const tw_batch *batch, size_t left_out, double *yield)
{
  tw_fault_kind kind[2 * TW_BATCH_STEPS];
  double finds[2 * TW_BATCH_STEPS][TW_BATCH_STEPS] = {{0}};
  for (size_t k = 0; k < batch->lines; k++) {
    const tw_batch_line *line = &batch->line[k];
    const double own = line->step ? line->step->finds : 1;
    kind[2 * k] = (tw_fault_kind){line->step ? 1 - line->step->pass : 0, k, finds[2 * k]};
    kind[2 * k + 1] = (tw_fault_kind){line->fails, k, finds[2 * k + 1]};
    finds[2 * k][k] = finds[2 * k + 1][k] = own;
    for (size_t j = k + 1; j < batch->lines; j++) {
      finds[2 * k + 1][j] = reads_the_same(batch, j, k) ? batch->line[j].step->finds : 0;
    }
  }
  return tw_faults_found(kind, 2 * batch->lines, batch->lines, left_out, yield);
}

tw_status tw_batch_faults(const tw_batch_ask *ask, tw_batch *batch, tw_fault *fault)
{
  double yield[TW_BATCH_STEPS];
  const tw_status status = check_reads(batch, fault);
  if (status != TW_OK) {
    return status;
  }
  if (ask->builds) {
    from_builds(ask, batch);
  } else if (ask->has_share) {
    batch->line[batch->lines - 1].fails = 1 - ask->share;
  }
  batch->bad = tw_batch_found(batch, SIZE_MAX, yield);
  for (size_t k = 0; k < batch->lines; k++) {
    batch->line[k].work.passes = yield[k];
  }
  return TW_OK;
}
