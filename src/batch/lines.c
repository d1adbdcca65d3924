/* lines.c: the steps of a batch, from the shop file or, without one, from the parts. */
#include "inside.h"

#include <math.h>
#include <string.h>

/* time of one unit at a step whose process is learned: the mean over the lot */
static double learned(const tw_making_cost *m, double first, int made, int units)
{
  if (!(m->learn > 0) || !(first > 0) || units < 1) {
    return first;
  }
  const tw_learning law = {m->learn_form, first, m->learn, fmin(m->least, first)};
  return tw_learning_total(&law, made + 1, made + units) / units;
}

/* what the step says, else its process, else nothing */
static double said(double step, double process)
{
  return step >= 0 ? step : process >= 0 ? process : 0;
}

static void take_times(const tw_batch_ask *ask, const tw_process *process, double setup,
                       double unit, double attended, tw_batch_line *line)
{
  static const tw_making_cost none = {.attended = -1};
  const tw_making_cost *m = process ? &process->making : &none;
  line->setup = said(setup, m->setup);
  line->machine = said(unit, m->unit);
  const double hand = attended >= 0 ? attended : m->attended;
  line->attended = hand >= 0 && hand < line->machine ? hand : line->machine;
  line->attended = learned(m, line->attended, ask->made, ask->good);
  line->work.work = m->machine_rate * line->machine / TW_HOUR; /* money of the machine so far */
}

static void line_of_step(const tw_design *design, const tw_batch_ask *ask, const tw_step *step,
                         tw_batch_line *line)
{
  *line = (tw_batch_line){.name = step->name, .step = step};
  line->test = step->test;
  line->material = step->material;
  line->work.mends = step->mend;
  line->work.mended = step->mended;
  line->work.most = step->mend_most;
  line->work.salvage = step->salvage;
  take_times(ask, tw_design_process_named(design, step->process), step->setup, step->unit,
             step->attended, line);
}

/* a part of a file without steps: its hours and its process are the step */
static void line_of_part(const tw_design *design, const tw_batch_ask *ask, const tw_part *part,
                         tw_batch_line *line)
{
  *line = (tw_batch_line){.name = part->name};
  take_times(ask, tw_design_process_named(design, part->process), -1,
             part->hours > 0 ? part->hours : -1, -1, line);
}

static tw_status add_part(tw_batch *batch, const tw_part *part, size_t line, tw_fault *fault)
{
  if (part->state == TW_PART_FITTED) {
    return TW_OK;
  }
  for (size_t i = 0; i < batch->parts; i++) {
    if (batch->part[i].part == part) {
      return tw_fail(fault, TW_BAD_INPUT, "steps", "name it at the first step that takes it",
                     "the part '%.48s' goes in at two steps, %.48s and %.48s", part->name,
                     batch->line[batch->part[i].line].name, batch->line[line].name);
    }
  }
  if (batch->parts == TW_BATCH_PARTS) {
    return tw_fail(fault, TW_BAD_INPUT, "parts", "join small ones", "more than %d parts of a batch",
                   TW_BATCH_PARTS);
  }
  batch->part[batch->parts++] = (tw_batch_part){.part = part, .line = line};
  return TW_OK;
}

static tw_status from_steps(const tw_design *design, const tw_batch_ask *ask, tw_batch *batch,
                            tw_fault *fault)
{
  if (tw_design_steps(design) > TW_BATCH_STEPS) {
    return tw_fail(fault, TW_BAD_INPUT, "steps", "join small ones", "more than %d steps",
                   TW_BATCH_STEPS);
  }
  for (size_t i = 0; i < tw_design_steps(design); i++) {
    const tw_step *step = tw_design_step(design, i);
    line_of_step(design, ask, step, &batch->line[batch->lines++]);
    for (size_t k = 0; k < step->parts; k++) {
      const tw_status status =
          add_part(batch, tw_design_part_named(design, step->part[k]), i, fault);
      if (status != TW_OK) {
        return status;
      }
    }
  }
  return TW_OK;
}

tw_status tw_batch_lines(const tw_design *design, const tw_batch_ask *ask, tw_batch *batch,
                         tw_fault *fault)
{
  if (tw_design_steps(design) > 0) {
    return from_steps(design, ask, batch, fault);
  }
  tw_status status = TW_OK;
  for (size_t i = 0; i < tw_design_parts(design) && status == TW_OK; i++) {
    if (i == TW_BATCH_STEPS) {
      return tw_fail(fault, TW_BAD_INPUT, "parts", "write the work as steps",
                     "more than %d parts without steps", TW_BATCH_STEPS);
    }
    line_of_part(design, ask, tw_design_part(design, i), &batch->line[batch->lines++]);
    status = add_part(batch, tw_design_part(design, i), i, fault);
  }
  if (status == TW_OK && batch->lines == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "steps",
                   "write parts: and steps: into the shop file; tripwright fields steps parts",
                   "the file has neither steps nor parts, so nothing says what a unit costs");
  }
  return status;
}
