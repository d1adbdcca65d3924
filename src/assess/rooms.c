/* rooms.c: one design through the rooms in the order of the signal, with all sides or a few. */
#include "rooms.h"

#include "tripwright/parallel.h"

#include <stdio.h>
#include <string.h>

static const tw_measure_id of_modes[] = {TW_M_resonance_free, TW_M_resonance_mounted,
                                         TW_M_resonance_loaded};
static const tw_measure_id of_crash[] = {TW_M_crash_force, TW_M_first_to_fail,
                                         TW_M_stem_stress_ratio, TW_M_ceramic_stress_ratio};

/* is a measure within what the options ask to be computed */
static bool in_depth(const tw_run *run, const tw_measure_info *about)
{
  return (about->needs != TW_NEEDS_MAP || run->options->map) &&
         (about->needs != TW_NEEDS_TIMED || run->options->timed);
}

/* What needs a touch, when there can be none: tripped at rest, stuck, or a carrier that cannot
 * seat. What does not apply to this kind of probe stays so. */
static void put_without_touch(tw_run *run)
{
  const tw_probe *probe = run->probe;
  const tw_fault *why = &probe->trouble;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure_info *about = tw_measure_about((tw_measure_id)i);
    if (about->after_touch && in_depth(run, about) &&
        run->out->measure[i].state == TW_MEASURE_NOT_COMPUTED) {
      tw_put_state(run->out, (tw_measure_id)i, probe->state, "%s", why->text);
    }
  }
  if (!probe->seat) {
    tw_put_fault(run->out, TW_M_preload_actual, why);
    tw_put_fault(run->out, TW_M_void_clearance_rest, why);
  }
  const bool says = tw_measure_state_prevents_touch(probe->state);
  tw_warn(run->out, why->field, "%s%s%s%s%s.", says ? tw_measure_state_sentence(probe->state) : "",
          says ? " Cause: " : "", why->text, why->hint[0] ? "; " : "", why->hint);
}

static bool make_works(tw_run *run)
{
  run->works = tw_probe_works(run->probe, run->threads);
  run->work = run->works ? run->works[0] : NULL;
  return run->works;
}

/* a tip that stands off by e runs out by 2 e in a turn of the spindle */
static void put_runout(tw_run *run)
{
  if (tw_design_has(run->design, TW_F_housing_tip_offset)) {
    tw_put(run->out, TW_M_tip_runout, 2 * tw_design_number(run->design, TW_F_housing_tip_offset));
  } else {
    tw_put_state(run->out, TW_M_tip_runout, TW_MEASURE_NOT_APPLICABLE,
                 "no housing.tip_offset is given");
  }
}

static void tell_directions(const tw_run *run)
{
  for (size_t i = 0; run->options->directions && i < run->touches; i++) {
    const tw_seat_touch_result *t = &run->touch[i];
    run->options->directions[i] = (tw_direction){.azimuth = t->azimuth,
                                                 .elevation = t->elevation,
                                                 .tripped = t->state == TW_SEAT_TRIPPED,
                                                 .force = t->force,
                                                 .pretravel = t->pretravel,
                                                 .return_offset = t->return_offset};
  }
}

tw_status tw_rooms(tw_run *run, tw_fault *fault)
{
  tw_status status = TW_OK;
  put_runout(run);
  tw_measure_disc_room(run);
  tw_measure_holder(run);
  status = tw_measure_link(run, fault);
  if (status != TW_OK) {
    return status;
  }
  if (run->probe->seat) {
    tw_measure_rest(run);
    tw_measure_as_fitted(run);
  }
  if (run->probe->state != TW_MEASURE_OK) {
    status = tw_measure_circuit_room(run, fault);
    put_without_touch(run);
    for (int w = 0; w < 2 && run->course; w++) {
      snprintf(run->course[w].why, sizeof run->course[w].why, "%s", run->probe->trouble.text);
    }
    return status;
  }
  if (!make_works(run)) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the seat");
  }
  status = tw_measure_seat_room(run, fault);
  tell_directions(run);
  if (status == TW_OK) {
    status = tw_measure_circuit_room(run, fault);
  }
  if (status == TW_OK) {
    status = run->course || tw_wants(run, of_crash, sizeof of_crash / sizeof of_crash[0])
                 ? tw_measure_crash(run, fault)
                 : TW_OK;
    status = status == TW_OK ? tw_measure_timed(run, fault) : status;
  }
  if (status == TW_OK) {
    tw_measure_edge(run);
  }
  return status;
}

/* the probe, solved, in `own`; nothing there when the caller brought one */
tw_status tw_rooms_probe(const tw_design *design, const tw_assess_options *options, tw_probe **own,
                         tw_fault *fault)
{
  const tw_run ask = {.options = options};
  *own = NULL;
  if (options->probe) {
    return TW_OK;
  }
  const tw_status status = tw_wants(&ask, of_modes, sizeof of_modes / sizeof of_modes[0])
                               ? tw_probe_new(design, own, fault)
                               : tw_probe_new_to_touch(design, own, fault);
  if (status == TW_OK) {
    (*own)->touch.steps = options->seat_steps > 0 ? (size_t)options->seat_steps : 0;
  }
  return status;
}

void tw_rooms_clear(tw_assessment *out)
{
  memset(out, 0, sizeof *out);
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    out->measure[i].state = TW_MEASURE_NOT_COMPUTED;
  }
}

void tw_rooms_free(tw_run *run)
{
  tw_probe_free_works(run->works, run->threads);
  tw_free(run->crash);
  tw_free(run->touch);
}

tw_status tw_assess_few(const tw_design *design, const tw_assess_options *options, tw_few *few,
                        tw_assessment *out, tw_fault *fault)
{
  tw_probe *own = NULL;
  tw_rooms_clear(out);
  tw_status status = tw_rooms_probe(design, options, &own, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_run run = {.few = few,
                .design = design,
                .options = options,
                .probe = own ? own : options->probe,
                .out = out,
                .threads = 1};
  out->state = run.probe->state;
  status = tw_rooms(&run, fault);
  tw_rooms_free(&run);
  tw_probe_free(own);
  return status;
}
