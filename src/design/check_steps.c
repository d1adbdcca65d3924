/* check_steps.c: the steps of the work name processes, parts and earlier steps that are there. */
#include "inside.h"

#include <stdio.h>
#include <string.h>

static void refuse(tw_reading *r, const tw_step *step, const char *key, const char *near,
                   const char *hint, const char *kind, const char *word)
{
  char path[128], cure[160];
  snprintf(path, sizeof path, "steps.%.60s.%s", step->name, key);
  snprintf(cure, sizeof cure, "did you mean '%.60s'?", near ? near : "");
  tw_reading_say(r, TW_ERROR, step->place, path, near ? cure : hint, "there is no %s '%.48s'", kind,
                 word);
}

static void check_process(tw_reading *r, const tw_step *step)
{
  const char *names[64];
  size_t n = 0;
  for (; n < r->store->processes && n < sizeof names / sizeof names[0]; n++) {
    names[n] = r->store->process[n].name;
  }
  if (step->process && !tw_design_process_named(r->design, step->process)) {
    refuse(r, step, "process", tw_nearest_name(step->process, names, n),
           "describe it under processes", "process", step->process);
  }
}

static void check_parts(tw_reading *r, const tw_step *step)
{
  const char *names[64];
  size_t n = 0;
  for (; n < r->store->parts && n < sizeof names / sizeof names[0]; n++) {
    names[n] = r->store->part[n].name;
  }
  for (size_t k = 0; k < step->parts; k++) {
    if (!tw_design_part_named(r->design, step->part[k])) {
      refuse(r, step, "parts", tw_nearest_name(step->part[k], names, n), "describe it under parts",
             "part", step->part[k]);
    }
  }
}

/* only steps that stand before it in the file: so no ring can form */
static void check_after(tw_reading *r, const tw_step *step, size_t index)
{
  for (size_t k = 0; k < step->afters; k++) {
    bool before = false;
    for (size_t i = 0; i < index; i++) {
      before = before || strcmp(r->store->step[i].name, step->after[k]) == 0;
    }
    if (!before) {
      refuse(r, step, "after", NULL, "write the steps in the order of the work", "earlier step",
             step->after[k]);
    }
  }
}

/* all found faulty are reworked, none passes, and it goes on for ever */
static void check_mending(tw_reading *r, const tw_step *step)
{
  char path[128];
  snprintf(path, sizeof path, "steps.%.60s.mended", step->name);
  if (step->mend >= 1 && step->mended <= 0 && step->mend_most == 0) {
    tw_reading_say(r, TW_ERROR, step->place, path, "give mended, or mend_most",
                   "rework that never passes is repeated without end");
  }
}

void tw_check_steps(tw_reading *r)
{
  for (size_t i = 0; i < r->store->steps; i++) {
    const tw_step *step = &r->store->step[i];
    check_process(r, step);
    check_parts(r, step);
    check_after(r, step, i);
    check_mending(r, step);
  }
}
