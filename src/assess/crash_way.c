/* crash_way.c: the stages and members of a crash, sideways and along the axis, from a design. */
#include "crash_way.h"

#include <math.h>
#include <string.h>

static double number(const tw_run *run, tw_field field)
{
  return tw_design_number_or(run->design, field, 0);
}

/* ---- the seat as a stage --------------------------------------------------------------------- */

/* the exact swivel at evenly spaced angles, once; between them straight (a ten-thousandth off) */
static void tabulate_swivel(tw_crash_way *way)
{
  for (int i = 0; i < TW_SWIVEL_ROWS; i++) {
    tw_crash_swivel_at(&way->pivot, way->swivel_most * i / (TW_SWIVEL_ROWS - 1), &way->swivel[i]);
  }
}

/* row below `travel` and the share of the way to the next */
static int swivel_row(const tw_crash_way *way, double travel, double *share)
{
  int low = 0, high = TW_SWIVEL_ROWS - 1;
  while (high - low > 1) {
    const int middle = (low + high) / 2;
    *(way->swivel[middle].tip_travel <= travel ? &low : &high) = middle;
  }
  const double from = way->swivel[low].tip_travel, to = way->swivel[high].tip_travel;
  *share = to > from ? fmin(fmax((travel - from) / (to - from), 0), 1) : 0;
  return low;
}

static double swivel_force(const void *self, double travel)
{
  const tw_crash_way *way = self;
  double share;
  const int i = swivel_row(way, travel, &share);
  return way->swivel[i].tip_force +
         share * (way->swivel[i + 1].tip_force - way->swivel[i].tip_force);
}

static double swivel_edge_load(const void *self, double travel)
{
  const tw_crash_way *way = self;
  double share;
  const int i = swivel_row(way, travel, &share);
  return way->swivel[i].edge_load +
         share * (way->swivel[i + 1].edge_load - way->swivel[i].edge_load);
}

static void pivot_stage(const tw_run *run, tw_crash_way *way, tw_crash_stage *s)
{
  const tw_probe *probe = run->probe;
  const tw_seat_spec *seat = &probe->seat_spec;
  const double limit = tw_design_number_or(run->design, TW_F_seat_swivel_limit, 0);
  way->pivot = (tw_crash_pivot){.flat_radius = seat->flat_radius,
                                .flat_height = seat->flat_height,
                                .ball_radius = seat->ball_radius,
                                .reach = seat->reach,
                                .socket_angle = seat->socket_angle,
                                .friction_socket = seat->friction_socket,
                                .friction_flat = seat->friction_flat,
                                .preload = probe->rest.preload,
                                .ring_stiffness = probe->disc_measures.stiffness_open.value,
                                .point_stiffness = 0.8 * probe->disc_measures.stiffness_open.value};
  way->swivel_most = limit > 0 ? limit : 0.35;
  tabulate_swivel(way);
  const tw_crash_swivel last = way->swivel[TW_SWIVEL_ROWS - 1];
  s->law = TW_CRASH_EXACT;
  s->force_of = swivel_force;
  s->self = way;
  s->reach = last.tip_travel;
  s->limit = limit > 0 ? last.tip_travel : 0;
}

/* the other families sideways: straight from the trip on, along the seat's own curve */
static tw_status straight_stage(tw_run *run, tw_crash_way *way, tw_crash_stage *s, tw_fault *fault)
{
  const tw_seat_touch_result *touch = &run->touch[run->worst_force];
  tw_seat_row row[3];
  /* a direction that never trips is still pushed: a twentieth of a millimetre shows its slope */
  const double step = touch->state == TW_SEAT_TRIPPED ? 1.5 * touch->pretravel : 5e-5;
  const tw_status status =
      tw_seat_curve(run->probe->seat, run->work, touch->azimuth, touch->elevation,
                    &run->probe->touch, 2 * step, 3, row, fault);
  const double run_on = row[2].tip - row[1].tip;
  const double limit = tw_design_number_or(run->design, TW_F_seat_swivel_limit, 0);
  (void)way;
  s->law = TW_CRASH_SPRING;
  s->stiffness = run_on > 0 ? fmax((row[2].force - row[1].force) / run_on, 1e-3) : 1e6;
  s->gives_at = fmax(row[1].force - s->stiffness * row[1].tip, 0);
  s->limit = limit > 0 ? run->probe->seat_spec.reach * tan(limit) : 0;
  return status;
}

/* along the axis the disc gives until the void is used up */
static void disc_stage(const tw_run *run, tw_crash_stage *s)
{
  const tw_probe *probe = run->probe;
  s->law = TW_CRASH_SPRING;
  if (probe->has_disc) {
    s->gives_at = probe->seat_spec.kind == TW_SEATED_PIVOT ? probe->rest.preload : 0;
    s->stiffness = probe->disc_measures.stiffness_open.value;
    if (probe->seat_spec.void_depth > 0 && probe->rest.clearance > 0) {
      s->limit = probe->rest.clearance;
      s->stop_stiffness = 20 * s->stiffness;
      s->field = "support.void_depth";
    }
  } else {
    s->gives_at = probe->rest.preload;
    s->stiffness = fmax(number(run, TW_F_seat_spring_rate), 1);
  }
}

/* ---- stages and members ---------------------------------------------------------------------- */

static tw_status add_stages(tw_run *run, tw_crash_way *way, tw_fault *fault)
{
  const double stop = number(run, TW_F_housing_stop_stiffness);
  tw_crash_stage *stem = &way->stage[way->stages++];
  *stem = (tw_crash_stage){.name = "stem", .field = "stylus.stem_diameter", .law = TW_CRASH_SPRING};
  stem->stiffness =
      way->sideways ? run->probe->stylus.side_stiffness : run->probe->stylus.axial_stiffness;
  way->seat = way->stages;
  tw_crash_stage *seat = &way->stage[way->stages++];
  *seat = (tw_crash_stage){.name = "seat", .field = "seat.kind", .stop_stiffness = stop};
  tw_status status = TW_OK;
  if (!way->sideways) {
    disc_stage(run, seat);
  } else if (run->probe->seat_spec.kind == TW_SEATED_PIVOT) {
    pivot_stage(run, way, seat);
  } else {
    status = straight_stage(run, way, seat, fault);
  }
  if (status == TW_OK) {
    status = tw_hold_of(run->design, way->sideways, &way->hold, fault);
  }
  /* a swivel without a limit is followed to 0.35 rad, foam to one and a half times the travel */
  way->open[way->seat] = seat->law == TW_CRASH_EXACT && !(seat->limit > 0);
  if (status == TW_OK && way->hold.has) {
    const tw_crash_stage *hold = &way->hold.stage;
    way->open[way->stages] =
        hold->law == TW_CRASH_TABLE && hold->count == TW_HOLD_ROWS &&
        tw_design_choice(run->design, TW_F_holddown_kind) == TW_HOLDDOWN_FOAM &&
        !(hold->limit > 0 && hold->limit <= hold->travel[hold->count - 1]);
    way->stage[way->stages++] = *hold;
  }
  return status;
}

/* largest tension in a layer per newton on a few points: the ring's, times how much a point raises
 * it on a disc of these two layers (docs/models/crash.md) */
static double layer_stress(const tw_probe *probe, tw_disc_layer layer, double patch)
{
  tw_disc_stress row[TW_DISC_STRESS_ROWS];
  size_t rows = 0;
  double tension = 0;
  if (tw_disc_stresses(probe->disc, probe->disc_measures.contact_radius, row, &rows, NULL) !=
      TW_OK) {
    return 0;
  }
  for (size_t i = 0; i < rows; i++) {
    tension = row[i].layer == layer ? fmax(tension, row[i].peak_tension) : tension;
  }
  const tw_disc_spec *d = &probe->disc_spec;
  const tw_crash_laminate laminate = {
      .thickness = {d->metal_thickness, d->ceramic_thickness},
      .young = {d->metal.young, 1 / d->ceramic.s11},
      .poisson = {d->metal.poisson, -d->ceramic.s12 / d->ceramic.s11},
      .disc_radius = d->support == TW_DISC_LEDGE ? d->ledge_radius : d->metal_radius};
  tw_crash_stress two;
  const double ring = fmax(probe->disc_measures.contact_radius, 0.1 * laminate.disc_radius);
  if (tw_crash_stress_of(&laminate, ring, patch, &two, NULL) == TW_OK && two.ring > 0) {
    tension *= fmax(two.point / two.ring, 1);
  }
  return tension;
}

static void add_member(tw_crash_way *way, tw_crash_member member)
{
  if (member.stress_per_newton > 0 && member.allowable > 0 && way->members < TW_CRASH_MEMBERS) {
    way->member[way->members++] = member;
  }
}

static void add_members(const tw_run *run, tw_crash_way *way)
{
  const tw_stylus *stylus = &run->probe->stylus;
  const double strength = number(run, TW_F_stylus_stem_strength);
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
                               .stress_per_newton = number(run, TW_F_stylus_notch_factor) *
                                                    (way->sideways ? stylus->thread_stress_side
                                                                   : stylus->thread_stress_axial),
                               .allowable = strength});
  way->ceramic = TW_CRASH_MEMBERS;
  if (!run->probe->has_disc) {
    return;
  }
  const size_t before = way->members;
  const bool swivels = way->sideways && run->probe->seat_spec.kind == TW_SEATED_PIVOT;
  add_member(
      way, (tw_crash_member){.name = "ceramic",
                             .field = "support.void_depth",
                             .stage = way->seat,
                             .share = 1,
                             .load_of = swivels ? swivel_edge_load : NULL,
                             .self = way,
                             .stress_per_newton = layer_stress(run->probe, TW_DISC_LAYER_CERAMIC,
                                                               number(run, TW_F_seat_edge_radius)),
                             .allowable = number(run, TW_F_disc_allowable_tension)});
  way->ceramic = way->members > before ? before : TW_CRASH_MEMBERS;
  add_member(
      way, (tw_crash_member){.name = "disc's plate",
                             .field = "disc.metal_thickness",
                             .stage = way->seat,
                             .share = 1,
                             .load_of = swivels ? swivel_edge_load : NULL,
                             .self = way,
                             .stress_per_newton = layer_stress(run->probe, TW_DISC_LAYER_METAL,
                                                               number(run, TW_F_seat_edge_radius)),
                             .allowable = number(run, TW_F_disc_metal_strength)});
}

tw_status tw_crash_way_run(tw_run *run, tw_crash_way *way, tw_fault *fault)
{
  tw_status status = add_stages(run, way, fault);
  if (status != TW_OK) {
    return status;
  }
  add_members(run, way);
  const size_t at = way->sideways ? run->worst_force : run->pole;
  way->trip = run->touch[at].state == TW_SEAT_TRIPPED ? run->touch[at].force : 0;
  way->azimuth = run->touch[at].azimuth;
  way->elevation = run->touch[at].elevation;
  way->travel = number(run, way->sideways ? TW_F_housing_travel_side : TW_F_housing_travel_axial);
  return tw_crash_run(way->stage, way->stages, way->member, way->members, way->travel, &way->result,
                      fault);
}

/* force at which the holder begins to lift */
static double lift_of(const tw_hold *hold)
{
  return hold->stage.law == TW_CRASH_SPRING ? hold->stage.gives_at : hold->stage.force[0];
}

size_t tw_crash_way_marks(const tw_crash_way *way, tw_crash_mark mark[TW_COURSE_MARKS])
{
  size_t marks = 0;
  mark[marks++] = (tw_crash_mark){"the trip", "preload.force", way->trip};
  if (way->hold.has) {
    mark[marks++] = (tw_crash_mark){"the holder lifts", "holddown.kind", lift_of(&way->hold)};
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
