/* assess.c: one design through all rooms, then held against its requirements. */
#include "crash_parts.h"
#include "rooms.h"

#include "tripwright/parallel.h"

#include <string.h>

tw_assess_options tw_assess_defaults(void)
{
  return (tw_assess_options){.azimuths = 24,
                             .threads = tw_threads(0),
                             .between = true,
                             .map = true,
                             .timed = true,
                             .contributions = true};
}

size_t tw_assess_directions(const tw_assess_options *options)
{
  return (size_t)options->azimuths + 1 + (options->map ? TW_DIRECTIONS_OF_MAP : 0);
}

/* what came along although nobody asked is left out, so that the answer is what was asked for */
static void leave_out(tw_run *run)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (!tw_wants_one(run, (tw_measure_id)i)) {
      run->out->measure[i] = (tw_measure){.state = TW_MEASURE_NOT_COMPUTED};
    }
  }
}

static void judge(tw_run *run)
{
  tw_assessment *out = run->out;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_limit *limit = run->options->limits ? &run->options->limits->of[i] : NULL;
    tw_measure_judge((tw_measure_id)i, limit, &out->measure[i]);
    out->measure[i].left_out = limit && limit->given && out->measure[i].met == TW_MET_NO_RULE;
    out->asked += limit && limit->given;
    out->left_out += out->measure[i].left_out;
    out->met += out->measure[i].met == TW_MET_YES;
  }
}

static tw_status assess(const tw_design *design, const tw_assess_options *options,
                        tw_assessment *assessment, tw_course *course, tw_fault *fault)
{
  tw_rooms_clear(assessment);
  /* an edge is made of other figures: these are computed, too, and left out at the end */
  tw_assess_options all = *options;
  tw_measure_set wanted = {.has = {false}};
  if (options->wanted) {
    wanted = *options->wanted;
    tw_edge_asks(&wanted);
    all.wanted = &wanted;
  }
  tw_probe *own = NULL;
  tw_status status = tw_rooms_probe(design, &all, &own, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_run run = {.design = design,
                .options = &all,
                .probe = own ? own : options->probe,
                .out = assessment,
                .course = course,
                .threads = options->threads > 0 ? tw_threads(options->threads) : 1};
  assessment->state = run.probe->state;
  status = tw_rooms(&run, fault);
  /* who asks for a few figures, or for a crash, reads neither basis nor advice */
  const bool read = !options->wanted && !course;
  status = status == TW_OK ? tw_put_basis(&run, read, fault) : status;
  if (status == TW_OK) {
    if (!options->wanted) {
      tw_warn_all(&run);
    }
    run.options = options;
    leave_out(&run);
    judge(&run);
  }
  tw_rooms_free(&run);
  tw_probe_free(own);
  return status;
}

tw_status tw_assess(const tw_design *design, const tw_assess_options *options,
                    tw_assessment *assessment, tw_fault *fault)
{
  return assess(design, options, assessment, NULL, fault);
}

tw_status tw_crash_of(const tw_design *design, const tw_assess_options *options,
                      tw_assessment *assessment, tw_course course[2], tw_fault *fault)
{
  memset(course, 0, 2 * sizeof *course);
  course[0].name = tw_crash_way_name(true);
  course[1].name = tw_crash_way_name(false);
  return assess(design, options, assessment, course, fault);
}
