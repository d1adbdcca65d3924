/* making.c: which dimensions of a design a way of making shifts, and by how much. */
#include "inside.h"

#include <string.h>

/* Kind of every length: across the axis outside, inside, from place to place, or along the axis.
 * Half: the field is a radius, the offset is that of the whole size. Left out on purpose: fits and
 * travels, which two pieces make (holddown.play, housing.travel_*, preload.*), what is set or
 * judged rather than made to a size (seat.eccentricity, flatness, edge_radius, centres of gravity),
 * and heights that sum over several pieces (housing.screw_height, holddown.height). */
static const struct {
  tw_field field;
  tw_dimension dimension;
} dimensions[] = {
    {TW_F_disc_metal_diameter, {TW_WAY_XY, 1}},
    {TW_F_disc_metal_thickness, {TW_WAY_Z, 1}},
    {TW_F_disc_ceramic_diameter, {TW_WAY_XY, 1}},
    {TW_F_disc_ceramic_thickness, {TW_WAY_Z, 1}},
    {TW_F_disc_electrode_diameter, {TW_WAY_XY, 1}},
    {TW_F_disc_hole_diameter, {TW_WAY_HOLE, 1}},
    {TW_F_support_ledge_radius, {TW_WAY_HOLE, 0.5}},
    {TW_F_support_void_radius, {TW_WAY_HOLE, 0.5}},
    {TW_F_support_void_depth, {TW_WAY_Z, 1}},
    {TW_F_seat_ball_radius, {TW_WAY_XY, 0.5}},
    {TW_F_seat_flat_radius, {TW_WAY_XY, 0.5}},
    {TW_F_seat_flat_height, {TW_WAY_Z, 1}},
    {TW_F_seat_pitch_radius, {TW_WAY_PLACE, 0.5}},
    {TW_F_seat_tipping_radius, {TW_WAY_XY, 0.5}},
    {TW_F_seat_bond_radius, {TW_WAY_XY, 0.5}},
    {TW_F_stylus_reach, {TW_WAY_Z, 1}},
    {TW_F_stylus_stem_diameter, {TW_WAY_XY, 1}},
    {TW_F_stylus_stem_length, {TW_WAY_Z, 1}},
    {TW_F_stylus_covered_length, {TW_WAY_Z, 1}},
    {TW_F_stylus_neck_diameter, {TW_WAY_XY, 1}},
    {TW_F_stylus_neck_length, {TW_WAY_Z, 1}},
    {TW_F_stylus_ball_diameter, {TW_WAY_XY, 1}},
    {TW_F_stylus_thread_height, {TW_WAY_Z, 1}},
    {TW_F_holddown_foam_outer_diameter, {TW_WAY_XY, 1}},
    {TW_F_holddown_foam_inner_diameter, {TW_WAY_HOLE, 1}},
    {TW_F_holddown_foam_thickness, {TW_WAY_Z, 1}},
    {TW_F_holddown_precompression, {TW_WAY_Z, 1}},
    {TW_F_holddown_tipping_radius, {TW_WAY_XY, 0.5}},
    {TW_F_holddown_lift_limit, {TW_WAY_Z, 1}},
    {TW_F_housing_outer_diameter, {TW_WAY_XY, 1}},
    {TW_F_housing_length, {TW_WAY_Z, 1}},
    {TW_F_housing_wall, {TW_WAY_XY, 1}},
    {TW_F_housing_opening_diameter, {TW_WAY_HOLE, 1}},
    {TW_F_housing_shank_diameter, {TW_WAY_XY, 1}},
    {TW_F_housing_shank_length, {TW_WAY_Z, 1}},
    {TW_F_housing_screw_radius, {TW_WAY_PLACE, 0.5}},
    {TW_F_board_diameter, {TW_WAY_XY, 1}},
    {TW_F_board_thickness, {TW_WAY_Z, 1}},
    {TW_F_board_hole_diameter, {TW_WAY_HOLE, 1}},
    {TW_F_board_gap, {TW_WAY_Z, 1}},
};

tw_dimension tw_field_dimension(tw_field field)
{
  for (size_t i = 0; i < sizeof dimensions / sizeof dimensions[0]; i++) {
    if (dimensions[i].field == field) {
      return dimensions[i].dimension;
    }
  }
  return (tw_dimension){TW_WAY_NONE, 0};
}

const tw_process *tw_design_process_named(const tw_design *design, const char *name)
{
  for (size_t i = 0; name && i < design->store->processes; i++) {
    if (strcmp(design->store->process[i].name, name) == 0) {
      return &design->store->process[i];
    }
  }
  return NULL;
}

/* where a process keeps its offset for a kind of length, and whether it was stated; NULL for none
 */
static tw_quantity *offset_of(tw_process *p, tw_way way, bool **has)
{
  switch (way) {
  case TW_WAY_XY:
    *has = &p->has.xy;
    return &p->offset_xy;
  case TW_WAY_HOLE:
    *has = &p->has.hole;
    return &p->offset_hole;
  case TW_WAY_PLACE:
    *has = &p->has.place;
    return &p->offset_place;
  case TW_WAY_Z:
    *has = &p->has.z;
    return &p->offset_z;
  case TW_WAY_NONE:
    break;
  }
  return NULL;
}

static tw_process *process_to_change(const tw_design *design, const char *name)
{
  const tw_process *p = tw_design_process_named(design, name);
  return p ? &design->store->process[p - design->store->process] : NULL;
}

const tw_quantity *tw_design_process_offset(const tw_design *design, const char *process,
                                            tw_way way)
{
  tw_process *p = process_to_change(design, process);
  bool *has = NULL;
  const tw_quantity *offset = p ? offset_of(p, way, &has) : NULL;
  return offset && *has ? offset : NULL;
}

tw_status tw_design_process_learn(tw_design *design, const char *process, tw_way way,
                                  const tw_quantity *offset, tw_fault *fault)
{
  tw_process *p = process_to_change(design, process);
  bool *has = NULL;
  tw_quantity *place = p ? offset_of(p, way, &has) : NULL;
  if (!place) {
    return tw_fail(fault, TW_BAD_INPUT, "", "describe it under processes in the shop file",
                   "there is no process \"%.60s\" with such an offset", process);
  }
  *place = *offset;
  *has = true;
  return TW_OK;
}

const tw_process *tw_design_process_of(const tw_design *design, const char *name)
{
  const tw_part *part = tw_design_part_named(design, name);
  if (part && part->process) {
    return tw_design_process_named(design, part->process);
  }
  return strcmp(name, "housing") == 0
             ? tw_design_process_named(design, tw_design_text(design, TW_F_housing_process))
             : NULL;
}

bool tw_design_making(const tw_design *design, tw_field field, const tw_process **process,
                      tw_quantity *offset)
{
  const tw_dimension d = tw_field_dimension(field);
  if (d.way == TW_WAY_NONE || !tw_design_given(design, field) ||
      !tw_design_applies(design, field)) {
    return false;
  }
  const tw_process *p = tw_design_process_of(design, tw_field_of(field)->part);
  if (!p) {
    return false;
  }
  const tw_quantity *stated = tw_design_process_offset(design, p->name, d.way);
  if (!stated) {
    return false;
  }
  *offset = *stated;
  offset->number *= d.share;
  offset->tolerance.minus *= d.share;
  offset->tolerance.plus *= d.share;
  if (process) {
    *process = p;
  }
  return true;
}
