/* crash_way.c: the stages and members of a crash, sideways and along the axis, from a design. */
#include "crash_parts.h"

#include <math.h>
#include <string.h>

static double number(const tw_design *design, tw_field field)
{
  return tw_design_number_or(design, field, 0);
}

/* ---- the seat as a stage --------------------------------------------------------------------- */

/* N/m of the disc on its support; one that lies flat on a rigid face hardly gives */
static double disc_stiffness(const tw_probe *probe)
{
  const double k = probe->disc_measures.stiffness_open.value;
  return k > 0 ? k : TW_CRASH_STIFF;
}

/* N/m of the disc under a single point at the carrier's radius, where the edge presses; the ring's
 * own where the disc has no such answer */
static tw_status point_stiffness(const tw_probe *probe, double *stiffness, tw_fault *fault)
{
  const tw_disc_view view = {probe->disc, TW_DISC_OPEN};
  const double radius = probe->disc_measures.contact_radius, azimuth = 0;
  double compliance = 0, charge = 0;
  const tw_status status = tw_disc_points(&view, 1, &radius, &azimuth, &compliance, &charge, fault);
  *stiffness = status == TW_OK && compliance > 0 ? 1 / compliance : disc_stiffness(probe);
  return status == TW_NO_MEMORY ? status : TW_OK;
}

static tw_status pivot_stage(const tw_design *design, const tw_probe *probe, tw_crash_way *way,
                             tw_crash_stage *s, tw_fault *fault)
{
  const tw_seat_spec *seat = &probe->seat_spec;
  const double limit = number(design, TW_F_seat_swivel_limit);
  way->pivot = (tw_crash_pivot){.flat_radius = seat->flat_radius,
                                .flat_height = seat->flat_height,
                                .ball_radius = seat->ball_radius,
                                .reach = seat->reach,
                                .socket_angle = seat->socket_angle,
                                .friction_socket = seat->friction_socket,
                                .friction_flat = seat->friction_flat,
                                .preload = probe->rest.preload,
                                .ring_stiffness = disc_stiffness(probe),
                                .point_stiffness = 0};
  const tw_status status = point_stiffness(probe, &way->pivot.point_stiffness, fault);
  way->swivel_most = limit > 0 ? limit : TW_CRASH_SWIVEL_MOST;
  tw_crash_swivel_tabulate(way);
  const tw_crash_swivel last = way->swivel[TW_SWIVEL_ROWS - 1];
  s->law = TW_CRASH_EXACT;
  s->force_of = tw_crash_swivel_force;
  s->self = way;
  s->reach = last.tip_travel;
  s->limit = limit > 0 ? last.tip_travel : 0;
  return status;
}

/* the other families sideways: straight from the trip on, along the seat's own curve */
static tw_status straight_stage(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                                const tw_seat_touch_result *touch, tw_crash_stage *s,
                                tw_fault *fault)
{
  tw_seat_row row[3];
  /* a direction that never trips is still pushed, to see its slope */
  const double step = touch->state == TW_SEAT_TRIPPED ? TW_CRASH_SLOPE_PRETRAVEL * touch->pretravel
                                                      : TW_CRASH_SLOPE_TRAVEL;
  const tw_status status = tw_seat_curve(probe->seat, work, touch->azimuth, touch->elevation,
                                         &probe->touch, 2 * step, 3, row, fault);
  const double run_on = row[2].tip - row[1].tip;
  const double limit = number(design, TW_F_seat_swivel_limit);
  s->law = TW_CRASH_SPRING;
  s->stiffness = run_on > 0 ? fmax((row[2].force - row[1].force) / run_on, TW_CRASH_SLOPE_LEAST)
                            : TW_CRASH_STIFF;
  s->gives_at = fmax(row[1].force - s->stiffness * row[1].tip, 0);
  s->limit = limit > 0 ? probe->seat_spec.reach * tan(limit) : 0;
  return status;
}

/* N/m behind a carrier that has left its seat: the preload's spring; a disc under it gives too */
static double spring_behind(const tw_probe *probe)
{
  const double rate = fmax(probe->seat_spec.spring_rate, TW_CRASH_SPRING_LEAST);
  return probe->has_disc && probe->seat_spec.kind != TW_SEATED_PLATE_BELOW
             ? 1 / (1 / rate + 1 / disc_stiffness(probe))
             : rate;
}

/* a carrier on the disc itself: the disc gives until the void is used up */
static void disc_stage(const tw_probe *probe, const tw_crash_way *way, tw_crash_stage *s)
{
  const double bent =
      way->lift - probe->rest.preload; /* N more on the disc when the carrier lifts */
  s->stiffness = disc_stiffness(probe);
  if (probe->seat_spec.kind == TW_SEATED_PIVOT) {
    s->gives_at = way->lift;
  }
  if (probe->rest.backed) {
    s->stiffness *= TW_CRASH_VOID_STOP;
  } else if (isfinite(way->load_most)) {
    const double left = probe->rest.clearance - (s->gives_at > 0 ? bent / s->stiffness : 0);
    s->limit = fmax(left, TW_CRASH_VOID_LEAST * probe->rest.clearance);
    s->stop_stiffness = TW_CRASH_VOID_STOP * s->stiffness;
    s->field = "support.void_depth";
  }
}

static void axial_stage(const tw_probe *probe, const tw_crash_way *way, tw_crash_stage *s)
{
  s->law = TW_CRASH_SPRING;
  if (probe->has_disc &&
      (probe->seat_spec.kind == TW_SEATED_PIVOT || probe->seat_spec.kind == TW_SEATED_BONDED)) {
    disc_stage(probe, way, s);
  } else {
    s->gives_at = way->lift;
    s->stiffness = spring_behind(probe);
  }
}

/* ---- stages and members ---------------------------------------------------------------------- */

static tw_status add_seat(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                          const tw_seat_touch_result *touch, tw_crash_way *way, tw_fault *fault)
{
  way->seat = way->stages;
  tw_crash_stage *seat = &way->stage[way->stages++];
  *seat = (tw_crash_stage){.name = "seat",
                           .field = "seat.kind",
                           .stop_stiffness = number(design, TW_F_housing_stop_stiffness)};
  const tw_status status = tw_crash_disc_load(probe, work, way, fault);
  if (status != TW_OK) {
    return status;
  }
  if (!way->sideways) {
    axial_stage(probe, way, seat);
  } else if (probe->seat_spec.kind == TW_SEATED_PIVOT && probe->has_disc) {
    return pivot_stage(design, probe, way, seat, fault);
  } else {
    return straight_stage(design, probe, work, touch, seat, fault);
  }
  return TW_OK;
}

static tw_status add_stages(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                            const tw_seat_touch_result *touch, tw_crash_way *way, tw_fault *fault)
{
  tw_crash_stage *stem = &way->stage[way->stages++];
  *stem = (tw_crash_stage){.name = "stem", .field = "stylus.stem_diameter", .law = TW_CRASH_SPRING};
  stem->stiffness = way->sideways ? probe->stylus.side_stiffness : probe->stylus.axial_stiffness;
  tw_status status = add_seat(design, probe, work, touch, way, fault);
  if (status == TW_OK) {
    status = tw_hold_of(design, way->sideways, &way->hold, fault);
  }
  /* a swivel without a limit is followed to TW_CRASH_SWIVEL_MOST, foam to one and a half times the
   * travel */
  const tw_crash_stage *seat = &way->stage[way->seat];
  way->open[way->seat] = seat->law == TW_CRASH_EXACT && !(seat->limit > 0);
  if (status == TW_OK && way->hold.has) {
    const tw_crash_stage *hold = &way->hold.stage;
    way->open[way->stages] = hold->law == TW_CRASH_TABLE && hold->count == TW_HOLD_ROWS &&
                             tw_design_choice(design, TW_F_holddown_kind) == TW_HOLDDOWN_FOAM &&
                             !(hold->limit > 0 && hold->limit <= hold->travel[hold->count - 1]);
    way->stage[way->stages++] = *hold;
  }
  return status;
}

static void add_member(tw_crash_way *way, tw_crash_member member)
{
  if (member.stress_per_newton > 0 && member.allowable > 0 && way->members < TW_CRASH_MEMBERS) {
    way->member[way->members++] = member;
  }
}

static void add_stylus(const tw_design *design, const tw_stylus *stylus, tw_crash_way *way)
{
  const double strength = number(design, TW_F_stylus_stem_strength);
  add_member(way, (tw_crash_member){.name = "stem",
                                    .field = "stylus.stem_diameter",
                                    .whole = true,
                                    .share = 1,
                                    .stress_per_newton = way->sideways ? stylus->neck_stress_side
                                                                       : stylus->neck_stress_axial,
                                    .allowable = strength});
  add_member(way,
             (tw_crash_member){.name = "thread",
                               .field = "stylus.thread",
                               .whole = true,
                               .share = 1,
                               .stress_per_newton = number(design, TW_F_stylus_notch_factor) *
                                                    (way->sideways ? stylus->thread_stress_side
                                                                   : stylus->thread_stress_axial),
                               .allowable = strength});
}

tw_status tw_crash_way_run(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                           const tw_seat_touch_result *touch, tw_crash_way *way, tw_fault *fault)
{
  tw_status status = add_stages(design, probe, work, touch, way, fault);
  if (status != TW_OK) {
    return status;
  }
  add_stylus(design, &probe->stylus, way);
  way->ceramic = TW_CRASH_MEMBERS;
  if (probe->has_disc) {
    status = tw_crash_add_disc(design, probe, way, &way->untold);
    if (status != TW_OK && status != TW_NO_ANSWER && status != TW_BAD_INPUT) {
      *fault = way->untold;
      return status;
    }
    way->untold.status = status;
  }
  way->trip = touch->state == TW_SEAT_TRIPPED ? touch->force : 0;
  way->azimuth = touch->azimuth;
  way->elevation = touch->elevation;
  way->travel =
      number(design, way->sideways ? TW_F_housing_travel_side : TW_F_housing_travel_axial);
  return tw_crash_run(way->stage, way->stages, way->member, way->members, way->travel, &way->result,
                      fault);
}

double tw_crash_rest_ratio(const tw_crash_way *way)
{
  if (way->ceramic >= way->members || way->sideways) {
    return 0;
  }
  const tw_crash_member *m = &way->member[way->ceramic];
  return tw_crash_load(way->stage, m, 0) * m->stress_per_newton / m->allowable;
}

/* ---- both ways, and the room that they leave ------------------------------------------------- */

tw_status tw_crash_ways(tw_run *run, tw_fault *fault)
{
  if (run->crash) {
    return TW_OK;
  }
  run->crash = tw_alloc(2, sizeof *run->crash);
  if (!run->crash) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the crash");
  }
  tw_fault why = {0};
  tw_status status = TW_OK;
  for (int w = 0; w < 2 && status == TW_OK; w++) {
    const size_t at = w == 0 ? run->worst_force : run->pole;
    run->crash[w].sideways = w == 0;
    run->crash[w].name = tw_crash_way_name(w == 0);
    status =
        tw_crash_way_run(run->design, run->probe, run->work, &run->touch[at], &run->crash[w], &why);
  }
  if (status == TW_NO_ANSWER || status == TW_BAD_INPUT) {
    run->crash_why = why;
    run->crash_why.status = status;
    return TW_OK;
  }
  if (status != TW_OK && fault) {
    *fault = why;
  }
  return status;
}

/* m; so little that a window of feeds says that none is left, where there is no room at all */
#define ROOM_LEAST 1e-6

static double room_of(const tw_design *design, const tw_probe *probe, const tw_crash_way *way,
                      const char **why)
{
  double room = way->travel;
  *why = "the housing's travel";
  const double limit = number(design, TW_F_seat_swivel_limit);
  if (way->sideways && limit > 0 && !way->hold.has && probe->seat_spec.reach * tan(limit) < room) {
    room = probe->seat_spec.reach * tan(limit);
    *why = "the swivel's limit";
  }
  const tw_crash *r = &way->result;
  if (r->fails && r->has_first && r->fail_travel[r->first] < room) {
    room = r->fail_travel[r->first];
    *why = way->member[r->first].name;
  }
  return fmax(room, ROOM_LEAST);
}

/* a crash without an answer leaves the housing's travel: its measures say why */
static double room_without(const tw_design *design, bool sideways, const char **why)
{
  *why = "the housing's travel";
  return number(design, sideways ? TW_F_housing_travel_side : TW_F_housing_travel_axial);
}

tw_status tw_crash_room(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                        const tw_seat_touch_result *touch, double *room, const char **why,
                        tw_fault *fault)
{
  tw_crash_way *way = tw_alloc(1, sizeof *way);
  if (!way) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the crash");
  }
  way->sideways = touch->elevation < TW_UPRIGHT;
  way->name = tw_crash_way_name(way->sideways);
  tw_fault untold = {0};
  const tw_status status = tw_crash_way_run(design, probe, work, touch, way, &untold);
  *room =
      status == TW_OK ? room_of(design, probe, way, why) : room_without(design, way->sideways, why);
  tw_free(way);
  if (status == TW_OK || status == TW_NO_ANSWER || status == TW_BAD_INPUT) {
    return TW_OK;
  }
  *fault = untold;
  return status;
}

size_t tw_crash_way_marks(const tw_crash_way *way, tw_crash_mark mark[TW_COURSE_MARKS])
{
  size_t marks = 0;
  mark[marks++] = (tw_crash_mark){"the trip", "preload.force", way->trip};
  if (way->hold.has) {
    mark[marks++] = (tw_crash_mark){"the holder lifts", "holddown.kind", tw_hold_lifts(&way->hold)};
  }
  for (size_t i = 0; i < way->members && marks < TW_COURSE_MARKS; i++) {
    if (way->result.can_fail[i] &&
        (i == way->ceramic || strcmp(way->member[i].name, "stem") == 0)) {
      mark[marks++] =
          (tw_crash_mark){way->member[i].name, way->member[i].field, way->result.fail_force[i]};
    }
  }
  /* ceramic before stem in the list, whichever was added first */
  if (marks >= 3 && strcmp(mark[marks - 1].name, "ceramic") == 0) {
    const tw_crash_mark last = mark[marks - 1];
    mark[marks - 1] = mark[marks - 2];
    mark[marks - 2] = last;
  }
  return marks;
}

double tw_crash_way_force(const tw_crash_way *way)
{
  const tw_crash *r = &way->result;
  return r->fails && r->has_first ? r->fail_force[r->first] : r->force;
}

const char *tw_crash_way_name(bool sideways)
{
  return sideways ? "sideways" : "along the axis";
}
