/* ready.c: when a batch is ready: the network of tasks, and the one pair of hands. */
#include "tripwright/batch.h"

#include <math.h>
#include <string.h>

/* so many tasks by hand are tried in every order */
#define ALL_ORDERS 8
/* days below which a slack is none: sums of days carry that much rounding */
#define NO_SLACK 1e-9

typedef struct plan {
  const tw_task *task;
  size_t tasks;
  size_t hand[TW_TASKS_MOST], hands;
  double best;
  double start[TW_TASKS_MOST];
} plan;

static double earliest(const tw_task *t, const double *end)
{
  double at = 0;
  for (size_t k = 0; k < t->afters; k++) {
    at = fmax(at, end[t->after[k]]);
  }
  return at;
}

/* forward and backward pass */
static void passes(const plan *p, tw_ready *out)
{
  double start[TW_TASKS_MOST], end[TW_TASKS_MOST], latest[TW_TASKS_MOST];
  out->days = 0;
  for (size_t i = 0; i < p->tasks; i++) {
    start[i] = earliest(&p->task[i], end);
    end[i] = start[i] + p->task[i].days;
    out->days = fmax(out->days, end[i]);
  }
  for (size_t i = 0; i < p->tasks; i++) {
    latest[i] = out->days;
  }
  for (size_t i = p->tasks; i-- > 0;) {
    const tw_task *t = &p->task[i];
    for (size_t k = 0; k < t->afters; k++) {
      latest[t->after[k]] = fmin(latest[t->after[k]], latest[i] - t->days);
    }
    out->slack[i] = latest[i] - end[i];
    out->critical[i] = out->slack[i] < NO_SLACK;
  }
}

/* Length of the plan in which the tasks by hand follow one another in `order`: each pass over the
 * list moves starts up until nothing moves; false when the order contradicts the network. */
static bool length_of(const plan *p, const size_t *order, double *start, double *length)
{
  double end[TW_TASKS_MOST] = {0};
  memset(start, 0, p->tasks * sizeof *start);
  for (size_t pass = 0; pass <= 2 * p->tasks; pass++) {
    bool moved = false;
    for (size_t i = 0; i < p->tasks; i++) {
      double at = earliest(&p->task[i], end);
      for (size_t k = 1; k < p->hands; k++) {
        at = order[k] == i ? fmax(at, end[order[k - 1]]) : at;
      }
      moved = moved || at > start[i] || (pass == 0);
      start[i] = fmax(start[i], at);
      end[i] = start[i] + p->task[i].days;
    }
    if (!moved) {
      *length = 0;
      for (size_t i = 0; i < p->tasks; i++) {
        *length = fmax(*length, end[i]);
      }
      return true;
    }
  }
  return false;
}

static void keep_if_better(plan *p, const size_t *order)
{
  double start[TW_TASKS_MOST], length;
  if (length_of(p, order, start, &length) && length < p->best) {
    p->best = length;
    memcpy(p->start, start, p->tasks * sizeof *start);
  }
}

/* every order of hand[from..] */
static void orders(plan *p, size_t *order, size_t from)
{
  if (from == p->hands) {
    keep_if_better(p, order);
    return;
  }
  for (size_t k = from; k < p->hands; k++) {
    const size_t taken = order[k];
    memmove(&order[from + 1], &order[from], (k - from) * sizeof *order);
    order[from] = taken;
    orders(p, order, from + 1);
    memmove(&order[from], &order[from + 1], (k - from) * sizeof *order);
    order[k] = taken;
  }
}

/* the next task by hand is the one that can begin first, of equals the one with the least slack */
static void by_slack(plan *p, const tw_ready *network)
{
  size_t order[TW_TASKS_MOST] = {0}, count = 0;
  double end[TW_TASKS_MOST], free_at = 0;
  bool done[TW_TASKS_MOST] = {false};
  for (size_t placed = 0; placed < p->tasks; placed++) {
    size_t next = SIZE_MAX;
    double at = HUGE_VAL;
    for (size_t i = 0; i < p->tasks; i++) {
      bool open = !done[i];
      for (size_t k = 0; k < p->task[i].afters; k++) {
        open = open && done[p->task[i].after[k]];
      }
      double begin = open ? earliest(&p->task[i], end) : HUGE_VAL;
      begin = p->task[i].hands ? fmax(begin, free_at) : begin;
      const bool first = next == SIZE_MAX || begin < at ||
                         (begin <= at && network->slack[i] < network->slack[next]);
      if (open && first) {
        next = i;
        at = begin;
      }
    }
    done[next] = true;
    end[next] = at + p->task[next].days;
    if (p->task[next].hands) {
      free_at = end[next];
      order[count++] = next;
    }
  }
  keep_if_better(p, order);
}

tw_status tw_ready_when(const tw_task *task, size_t tasks, tw_ready *out, tw_fault *fault)
{
  plan p = {.task = task, .tasks = tasks, .best = HUGE_VAL};
  *out = (tw_ready){0};
  if (tasks > TW_TASKS_MOST) {
    return tw_fail(fault, TW_BAD_INPUT, "steps", "join small ones", "more than %d tasks",
                   TW_TASKS_MOST);
  }
  for (size_t i = 0; i < tasks; i++) {
    for (size_t k = 0; k < task[i].afters; k++) {
      if (task[i].after[k] >= i) {
        return tw_fail(fault, TW_BAD_INPUT, "steps", "write the steps in the order of the work",
                       "%s waits for a task that comes later", task[i].name);
      }
    }
    if (task[i].hands) {
      p.hand[p.hands++] = i;
      out->hand_days += task[i].days;
    }
  }
  passes(&p, out);
  by_slack(&p, out);
  out->at_least = fmax(out->days, out->hand_days);
  if (p.hands <= ALL_ORDERS) {
    orders(&p, p.hand, 0);
    out->at_least = p.best;
  }
  out->at_most = p.best;
  memcpy(out->start, p.start, tasks * sizeof *p.start);
  return TW_OK;
}
