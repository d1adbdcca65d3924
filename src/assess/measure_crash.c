/* measure_crash.c: what a crash does, sideways and along the axis, what fails first, whether the
 * holder comes back, and whether the axial stack fits. */
#include "crash_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static double number(const tw_run *run, tw_field field)
{
  return tw_design_number_or(run->design, field, 0);
}

/* ---- figures --------------------------------------------------------------------------------- */

static double ratio_of(const tw_crash_way *way, const char *name)
{
  double most = 0;
  for (size_t i = 0; i < way->members; i++) {
    most = strcmp(way->member[i].name, name) == 0 ? fmax(most, way->result.ratio[i]) : most;
  }
  return most;
}

static void put_first(tw_run *run, const tw_crash_way way[2])
{
  const char *first = "nothing";
  double at = INFINITY;
  for (int w = 0; w < 2; w++) {
    const tw_crash *r = &way[w].result;
    if (r->fails && r->has_first && r->fail_travel[r->first] < at) {
      at = r->fail_travel[r->first];
      first = way[w].member[r->first].name;
      tw_put_note(run->out, TW_M_first_to_fail, "%s, %.2f mm after contact, at %.*f N", way[w].name,
                  1e3 * at, r->fail_force[r->first] < 100 ? 2 : 0, r->fail_force[r->first]);
    }
  }
  tw_put_word(run->out, TW_M_first_to_fail, first);
}

/* trip < holder lifts < ceramic < stem, in each direction; false: no memory for the warnings */
static bool put_order(tw_run *run, const tw_crash_way *way)
{
  tw_crash_mark mark[TW_COURSE_MARKS];
  const size_t marks = tw_crash_way_marks(way, mark);
  tw_messages *messages = tw_messages_new();
  if (messages) {
    tw_crash_order_warn(way->name, mark, marks, messages);
  }
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    const tw_message *m = tw_messages_at(messages, i);
    tw_warn(run->out, m->field ? m->field : "holddown.kind", "%s", m->text ? m->text : "");
  }
  const bool whole = messages && !tw_messages_lost(messages);
  tw_messages_free(messages);
  return whole;
}

static void put_reseat(tw_run *run)
{
  if (tw_design_choice(run->design, TW_F_holddown_kind) == TW_HOLDDOWN_NONE) {
    tw_put_state(run->out, TW_M_reseat_offset, TW_MEASURE_NOT_APPLICABLE,
                 "the holder is fixed in the housing");
    return;
  }
  tw_hold hold;
  tw_crash_reseat seat;
  tw_fault why = {0};
  tw_status status = tw_hold_of(run->design, false, &hold, &why);
  if (status == TW_OK) {
    status = tw_crash_reseat_of(
        tw_design_choice(run->design, TW_F_holddown_locating) == TW_LOCATING_KINEMATIC
            ? TW_CRASH_KINEMATICALLY
            : TW_CRASH_BY_PLAY,
        number(run, TW_F_holddown_play), number(run, TW_F_holddown_friction), hold.home,
        number(run, TW_F_holddown_lateral_stiffness), &seat, &why);
  }
  if (status != TW_OK) {
    tw_put_fault(run->out, TW_M_reseat_offset, &why);
    return;
  }
  tw_put(run->out, TW_M_reseat_offset, seat.offset);
  tw_put_note(run->out, TW_M_reseat_offset, "%s",
              seat.tram_again ? "tram again after a crash" : "finds its place by itself");
}

enum { STACK_LINKS = 64 };

static void put_stack(tw_run *run)
{
  const tw_table *table = tw_design_table(run->design, TW_F_stack_chain);
  if (!table) {
    tw_put_state(run->out, TW_M_stack_clearance, TW_MEASURE_NOT_APPLICABLE,
                 "no stack.chain is given");
    return;
  }
  tw_stack_link link[STACK_LINKS];
  size_t count = 0;
  for (; count < table->rows && count < STACK_LINKS; count++) {
    const tw_cell *cell = &table->cells[count * table->columns];
    link[count] = (tw_stack_link){cell[0].text, cell[1].number, cell[1].tolerance.minus,
                                  cell[1].tolerance.plus};
  }
  tw_stack stack;
  tw_fault why = {0};
  if (tw_stack_of(link, count, number(run, TW_F_stack_gap_least), NULL, &stack, &why) != TW_OK) {
    tw_put_fault(run->out, TW_M_stack_clearance, &why);
    return;
  }
  tw_put(run->out, TW_M_stack_clearance, stack.clearance);
  tw_put_band(run->out, TW_M_stack_clearance, stack.clearance, stack.rss_clearance);
  tw_put_note(run->out, TW_M_stack_clearance,
              "worst case %.3f mm, root of squares %.3f mm beyond stack.gap_least",
              1e3 * stack.clearance, 1e3 * stack.rss_clearance);
  if (!stack.fits) {
    tw_warn(run->out, "stack.chain",
            "In the worst case the axial stack is %.3f mm too long; by root of squares %.3f mm "
            "are left.",
            -1e3 * stack.clearance, 1e3 * stack.rss_clearance);
  }
}

static void put_stress(tw_run *run, const tw_crash_way way[2])
{
  const double stem = fmax(fmax(ratio_of(&way[0], "stem"), ratio_of(&way[1], "stem")),
                           fmax(ratio_of(&way[0], "thread"), ratio_of(&way[1], "thread")));
  if (number(run, TW_F_stylus_stem_strength) > 0) {
    tw_put(run->out, TW_M_stem_stress_ratio, stem);
    tw_put_note(run->out, TW_M_stem_stress_ratio, "stem or thread at the end of the crash travel");
  } else {
    tw_put_state(run->out, TW_M_stem_stress_ratio, TW_MEASURE_NOT_APPLICABLE,
                 "no stylus.stem_strength is known");
  }
  if (way[0].ceramic < TW_CRASH_MEMBERS) {
    tw_put(run->out, TW_M_ceramic_stress_ratio,
           fmax(ratio_of(&way[0], "ceramic"), ratio_of(&way[1], "ceramic")));
    tw_put_note(run->out, TW_M_ceramic_stress_ratio,
                "ceramic, tension, at the end of the crash travel");
  } else {
    tw_put_state(run->out, TW_M_ceramic_stress_ratio, TW_MEASURE_NOT_APPLICABLE,
                 run->probe->has_disc ? "a push gives no tension in the ceramic"
                                      : "there is no disc");
  }
}

void tw_measure_holder(tw_run *run)
{
  if (tw_wants_one(run, TW_M_stack_clearance)) {
    put_stack(run);
  }
  if (tw_wants_one(run, TW_M_reseat_offset)) {
    put_reseat(run);
  }
}

/* the load at rest is there before any crash */
static void put_at_rest(tw_run *run, const tw_crash_way *axial)
{
  const double ratio = tw_crash_rest_ratio(axial);
  if (ratio >= 1) {
    tw_warn(run->out, "preload.force",
            "The preload of %.2f N alone brings the ceramic to %.0f %% of its allowable tension: "
            "less preload, a thicker disc, or a ring in place of points.",
            run->probe->rest.preload, 100 * ratio);
  }
}

/* a layer without a stress cannot be said to hold */
static void put_untold(tw_run *run, const tw_crash_way way[2])
{
  const tw_fault *why = way[0].untold.status != TW_OK ? &way[0].untold : &way[1].untold;
  if (why->status == TW_OK) {
    return;
  }
  tw_put_fault(run->out, TW_M_ceramic_stress_ratio, why);
  tw_put_note(run->out, TW_M_first_to_fail, "without the disc: %s", why->text);
  tw_warn(run->out, why->field, "The crash leaves the disc out: %s%s%s.", why->text,
          why->hint[0] ? "; " : "", why->hint);
}

static void put_nothing(tw_run *run)
{
  static const tw_measure_id of[] = {TW_M_crash_force, TW_M_first_to_fail, TW_M_stem_stress_ratio,
                                     TW_M_ceramic_stress_ratio};
  for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
    tw_put_fault(run->out, of[i], &run->crash_why);
  }
  for (int w = 0; w < 2 && run->course; w++) {
    run->course[w].known = false;
    snprintf(run->course[w].why, sizeof run->course[w].why, "%s", run->crash_why.text);
  }
}

tw_status tw_measure_crash(tw_run *run, tw_fault *fault)
{
  tw_status status = tw_crash_ways(run, fault);
  for (int w = 0; w < 2 && run->course && status == TW_OK && run->crash_why.status == TW_OK; w++) {
    run->crash_why.status = tw_crash_way_course(&run->crash[w], &run->course[w], &run->crash_why);
  }
  if (status != TW_OK) {
    return status;
  }
  if (run->crash_why.status != TW_OK) {
    put_nothing(run);
    return TW_OK;
  }
  const tw_crash_way *way = run->crash;
  tw_put(run->out, TW_M_crash_force,
         fmax(tw_crash_way_force(&way[0]), tw_crash_way_force(&way[1])));
  put_first(run, way);
  put_stress(run, way);
  put_untold(run, way);
  put_at_rest(run, &way[1]);
  return put_order(run, &way[0]) && put_order(run, &way[1])
             ? TW_OK
             : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the crash");
}
