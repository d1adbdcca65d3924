/* when.c: the tasks of a batch: waiting for parts, work by hand, machines and cures. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

double tw_batch_hands(const tw_batch_line *line, int units)
{
  const double rework = line->step ? line->step->mend_time + line->test : 0;
  return line->setup + units * (line->attended + line->test + line->outcome.reworks * rework);
}

typedef struct network {
  tw_batch *batch;
  tw_task task[TW_TASKS_MOST];
  size_t tasks;
  size_t end[TW_BATCH_STEPS]; /* the task with which a line is over */
  tw_fault *fault;
} network;

static tw_status add(network *n, const char *lead, const char *name, double days, bool hands,
                     size_t *index)
{
  if (n->tasks == TW_TASKS_MOST) {
    return tw_fail(n->fault, TW_BAD_INPUT, "steps", "join small ones",
                   "more than %d tasks and waits", TW_TASKS_MOST);
  }
  char *text = n->batch->task_name[n->tasks];
  snprintf(text, sizeof n->batch->task_name[0], "%s%.48s", lead, name);
  n->task[n->tasks] = (tw_task){.name = text, .days = days, .hands = hands};
  *index = n->tasks++;
  return TW_OK;
}

static void wait_for(network *n, size_t task, size_t before)
{
  tw_task *t = &n->task[task];
  if (t->afters < TW_TASKS_BEFORE) {
    t->after[t->afters++] = before;
  }
}

/* the parts that are not there yet come first */
static tw_status add_parts(network *n, size_t *of_part)
{
  tw_status status = TW_OK;
  for (size_t i = 0; i < n->batch->parts && status == TW_OK; i++) {
    const tw_batch_part *p = &n->batch->part[i];
    of_part[i] = SIZE_MAX;
    if (p->part->state <= TW_PART_ORDERED && p->part->lead_time > 0 && p->have < p->need) {
      status = add(n, "wait for ", p->part->name, p->part->lead_time / TW_DAY, false, &of_part[i]);
    }
  }
  return status;
}

static tw_status add_line(network *n, size_t k, int units, double day, const size_t *of_part)
{
  const tw_batch_line *line = &n->batch->line[k];
  size_t task = 0;
  tw_status status = add(n, "", line->name, tw_batch_hands(line, units) / day, true, &task);
  if (status != TW_OK) {
    return status;
  }
  for (size_t i = 0; i < n->batch->parts; i++) {
    if (n->batch->part[i].line == k && of_part[i] != SIZE_MAX) {
      wait_for(n, task, of_part[i]);
    }
  }
  const size_t afters = line->step ? line->step->afters : 0;
  for (size_t a = 0; a < afters; a++) {
    for (size_t j = 0; j < k; j++) {
      if (strcmp(n->batch->line[j].name, line->step->after[a]) == 0) {
        wait_for(n, task, n->end[j]);
      }
    }
  }
  if (afters == 0 && k > 0) {
    wait_for(n, task, n->end[k - 1]);
  }
  n->end[k] = task;
  const double machine = units * (line->machine - line->attended) / day;
  const double alone = (machine > 0 ? machine : 0) + (line->step ? line->step->wait / TW_DAY : 0);
  if (alone > 0) {
    status = add(n, "wait after ", line->name, alone, false, &n->end[k]);
    if (status == TW_OK) {
      wait_for(n, n->end[k], task);
    }
  }
  return status;
}

static tw_status plan(network *n, const tw_design *design, bool all, tw_ready *out)
{
  size_t of_part[TW_BATCH_PARTS];
  const double day = tw_design_number_or(design, TW_F_costs_hours_a_day, 8 * TW_HOUR);
  n->tasks = 0;
  tw_status status = add_parts(n, of_part);
  for (size_t k = 0; k < n->batch->lines && status == TW_OK; k++) {
    status = add_line(n, k, all ? n->batch->line[k].need : 1, day, of_part);
  }
  return status == TW_OK ? tw_ready_when(n->task, n->tasks, out, n->fault) : status;
}

tw_status tw_batch_ready(const tw_design *design, tw_batch *batch, tw_fault *fault)
{
  network n = {.batch = batch, .fault = fault};
  tw_status status = plan(&n, design, false, &batch->first);
  if (status == TW_OK) {
    status = plan(&n, design, true, &batch->last);
  }
  memcpy(batch->task, n.task, sizeof n.task);
  batch->tasks = n.tasks;
  return status;
}
