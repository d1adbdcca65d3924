/* plan.c: the section laid out from the tip up. */
#include "plan.h"
#include "tripwright/disc.h"

#include <math.h>

static const double mm = 1e-3;

static double least(double a, double b)
{
  return a < b ? a : b;
}

static double most(double a, double b)
{
  return a > b ? a : b;
}

static double number(const tw_design *design, tw_field field, double otherwise)
{
  return tw_design_number_or(design, field, otherwise);
}

/* a length that the drawing cannot do without */
static bool need(const tw_design *design, tw_field field, double *value, tw_fault *fault)
{
  if (!tw_design_has(design, field)) {
    tw_fail(fault, TW_BAD_INPUT, tw_field_of(field)->path, "give it in the design file",
            "the section cannot be drawn without it");
    return false;
  }
  *value = tw_design_number(design, field);
  return true;
}

/* ---- stylus --------------------------------------------------------------------------------- */

static void add_step(tw_layout *p, double radius, double top)
{
  if (p->steps < TW_PLAN_STEPS && top > (p->steps ? p->step_top[p->steps - 1] : 0.0)) {
    p->step_radius[p->steps] = radius;
    p->step_top[p->steps++] = top;
  }
}

static bool lay_stylus(tw_layout *p, tw_fault *fault)
{
  const tw_design *d = p->design;
  double ball_diameter, stem_diameter;
  if (!need(d, TW_F_stylus_reach, &p->reach, fault) ||
      !need(d, TW_F_stylus_ball_diameter, &ball_diameter, fault) ||
      !need(d, TW_F_stylus_stem_diameter, &stem_diameter, fault)) {
    return false;
  }
  p->ball = 0.5 * ball_diameter;
  p->stem_radius = 0.5 * stem_diameter;
  p->covered = number(d, TW_F_stylus_covered_length, 0.0);
  p->stem_top = p->reach;
  const tw_table *sections = tw_design_table(d, TW_F_stylus_sections);
  double z = 0.0;
  for (size_t i = 0; sections && i < sections->rows && i + 1 < TW_PLAN_STEPS; i++) {
    z += sections->cells[2 * i + 1].number;
    p->stem_radius = 0.5 * sections->cells[2 * i].number;
    add_step(p, p->stem_radius, least(z, p->reach));
  }
  if (!sections) {
    const double neck = number(d, TW_F_stylus_neck_diameter, stem_diameter);
    add_step(p, 0.5 * neck, number(d, TW_F_stylus_neck_length, 0.0));
  }
  add_step(p, p->stem_radius, p->reach);
  return true;
}

/* ---- carrier -------------------------------------------------------------------------------- */

static bool lay_pivot(tw_layout *p, tw_fault *fault)
{
  const tw_design *d = p->design;
  if (!need(d, TW_F_seat_ball_radius, &p->head, fault) ||
      !need(d, TW_F_seat_flat_radius, &p->flat_radius, fault)) {
    return false;
  }
  const double cut = p->head * p->head - p->flat_radius * p->flat_radius;
  p->flat_height = number(d, TW_F_seat_flat_height, cut > 0.0 ? sqrt(cut) : 0.0);
  p->socket_shape = tw_design_choice(d, TW_F_seat_socket_shape);
  p->socket_angle = number(d, TW_F_seat_socket_angle, 0.7854);
  p->carrier_top = p->reach + p->flat_height;
  p->carrier_radius = p->head;
  return true;
}

static bool lay_tripod(tw_layout *p, tw_fault *fault)
{
  const tw_design *d = p->design;
  if (!need(d, TW_F_seat_pitch_radius, &p->pitch_radius, fault)) {
    return false;
  }
  p->flat_radius = number(d, TW_F_seat_flat_radius, 0.4 * p->pitch_radius);
  p->vee = tw_design_choice(d, TW_F_seat_contact) != TW_CONTACT_FLAT;
  p->carrier_radius = p->pitch_radius + 1.5 * mm;
  p->carrier_top = p->reach + 2.0 * mm;
  return true;
}

static bool lay_plate(tw_layout *p, tw_fault *fault)
{
  const tw_design *d = p->design;
  if (!need(d, TW_F_seat_tipping_radius, &p->tipping_radius, fault)) {
    return false;
  }
  p->flat_radius = number(d, TW_F_seat_flat_radius, 0.5 * p->tipping_radius);
  p->disc_below = tw_design_choice(d, TW_F_seat_disc_side) == TW_SIDE_BELOW;
  p->carrier_radius = p->tipping_radius + 1.0 * mm;
  p->carrier_top = p->reach + 2.0 * mm;
  return true;
}

static bool lay_carrier(tw_layout *p, tw_fault *fault)
{
  p->turn_z = p->reach;
  switch (p->seat) {
  case TW_SEAT_PIVOT:
    return lay_pivot(p, fault);
  case TW_SEAT_TRIPOD:
    return lay_tripod(p, fault);
  case TW_SEAT_PLATE:
    return lay_plate(p, fault);
  default:
    if (!need(p->design, TW_F_seat_bond_radius, &p->bond_radius, fault)) {
      return false;
    }
    p->carrier_radius = p->bond_radius;
    return true;
  }
}

/* ---- disc and support ----------------------------------------------------------------------- */

static void lay_layers(tw_layout *p)
{
  const tw_design *d = p->design;
  p->metal = number(d, TW_F_disc_metal_thickness, 0.2 * mm);
  p->ceramic = number(d, TW_F_disc_ceramic_thickness, 0.2 * mm);
  p->bond = number(d, TW_F_disc_bond_thickness, 0.0);
  p->silver = number(d, TW_F_disc_silver_thickness, 0.0);
  p->metal_radius = 0.5 * number(d, TW_F_disc_metal_diameter, 20.0 * mm);
  p->ceramic_radius = 0.5 * number(d, TW_F_disc_ceramic_diameter, 14.0 * mm);
  p->hole_radius = 0.5 * number(d, TW_F_disc_hole_diameter, 0.0);
}

/* the carrier's side of the disc is below it, but for a plate above its disc */
static void lay_disc(tw_layout *p)
{
  lay_layers(p);
  const double thick = p->metal + p->bond + p->ceramic + p->silver;
  const bool carrier_below = !(p->seat == TW_SEAT_PLATE && p->disc_below);
  const bool on_ceramic = tw_design_choice(p->design, TW_F_disc_contact_face) == TW_FACE_CERAMIC;
  p->ceramic_low = on_ceramic == carrier_below;
  p->disc_low = p->carrier_top;
  if (p->seat == TW_SEAT_BONDED) {
    p->disc_low = p->reach - 0.5 * thick;
  } else if (!carrier_below) {
    p->disc_low = p->reach - thick;
  }
  p->disc_top = p->disc_low + thick;
  p->metal_low = p->ceramic_low ? p->disc_top - p->metal : p->disc_low;
  p->ceramic_face_low = p->ceramic_low ? p->disc_low + p->silver : p->disc_low + p->metal + p->bond;
  if (p->seat == TW_SEAT_BONDED) {
    p->stem_top = p->disc_low;
    p->carrier_top = p->disc_low;
  }
}

/* the support touches the plate's face on its side; its body is as thick as the board leaves room
 */
static void lay_support(tw_layout *p)
{
  const tw_design *d = p->design;
  p->support = tw_design_choice(d, TW_F_support_kind);
  p->support_up = !(p->seat == TW_SEAT_PLATE && p->disc_below);
  const bool on_ledge = p->support == TW_SUPPORT_LEDGE;
  p->ledge_radius =
      on_ledge ? number(d, TW_F_support_ledge_radius, p->metal_radius) : p->metal_radius;
  p->hollow_radius =
      number(d, TW_F_support_void_radius, on_ledge ? p->ledge_radius : p->metal_radius - 0.3 * mm);
  tw_disc_void hollow;
  const bool deep = tw_disc_void_from_design(d, &hollow) && hollow.depth > 0.0;
  p->hollow_depth = deep ? hollow.depth : -1.0;
  if (p->support == TW_SUPPORT_FLAT || p->support == TW_SUPPORT_FOUNDATION) {
    p->hollow_radius =
        p->support == TW_SUPPORT_FLAT ? number(d, TW_F_support_void_radius, 0.0) : 0.0;
    p->hollow_depth = p->hollow_radius > 0.0 ? -1.0 : 0.0;
  }
  p->support_plane = p->support_up ? p->metal_low + p->metal : p->metal_low;
  if (p->ceramic_low != p->support_up && p->support == TW_SUPPORT_FLAT) {
    p->support_plane = p->support_up ? p->disc_top : p->disc_low;
  }
  const double thick = most(1.5 * mm, most(0.0, p->hollow_depth) + 1.0 * mm);
  p->support_end = p->support_up ? p->support_plane + thick : p->support_plane - thick;
}

/* ---- holder, board, hold-down --------------------------------------------------------------- */

static double lowest_of_seat(const tw_layout *p)
{
  switch (p->seat) {
  case TW_SEAT_PIVOT:
    return p->reach - p->head - 1.5 * mm;
  case TW_SEAT_TRIPOD:
    return p->reach - 4.0 * mm;
  case TW_SEAT_PLATE:
    return (p->disc_below ? p->support_end : p->reach) - 2.5 * mm;
  default:
    return p->disc_low - 3.0 * mm;
  }
}

static void lay_clamp(tw_layout *p)
{
  const tw_design *d = p->design;
  const double disc = p->has_disc ? p->metal_radius : 0.0;
  p->cavity = most(disc, p->carrier_radius) + 0.4 * mm;
  p->bore = most(p->stem_radius + 1.2 * mm, p->covered > 0.0 ? p->stem_radius + 2.0 * mm : 0.0);
  p->holder_low = lowest_of_seat(p);
  const double parts = p->has_disc
                           ? most(p->support_up ? p->support_end : p->disc_top, p->carrier_top)
                           : p->carrier_top;
  p->has_spring = p->seat == TW_SEAT_PLATE || p->seat == TW_SEAT_TRIPOD;
  p->spring_low = parts;
  p->spring_radius = least(3.0 * mm, 0.6 * p->cavity);
  p->spring_top = parts + (p->has_spring ? 6.0 * mm : 0.0);
  p->bridge_low = p->spring_top;
  const double room = (p->has_disc ? p->disc_top : p->carrier_top) +
                      number(d, TW_F_board_gap, 3.0 * mm) - p->bridge_low;
  p->bridge_top = p->bridge_low + least(most(room, 0.8 * mm), 1.5 * mm);
}

static void lay_board(tw_layout *p)
{
  const tw_design *d = p->design;
  const double asked =
      (p->has_disc ? p->disc_top : p->carrier_top) + number(d, TW_F_board_gap, 3.0 * mm);
  p->board_low = most(asked, p->bridge_top);
  p->board_top = p->board_low + number(d, TW_F_board_thickness, 1.6 * mm);
  p->board_radius = 0.5 * number(d, TW_F_board_diameter, 25.0 * mm);
  p->board_hole = 0.5 * number(d, TW_F_board_hole_diameter, 0.0);
  p->parts_top = p->board_top + number(d, TW_F_board_component_height, 3.0 * mm);
}

/* the can around all that; a holder that hangs below its flange passes through the opening */
static void lay_holder(tw_layout *p)
{
  const tw_design *d = p->design;
  p->board_cavity = most(p->cavity, p->board_radius + 0.4 * mm);
  p->holder_radius = p->board_cavity + 1.6 * mm;
  p->body_radius = p->cavity + 1.6 * mm;
  p->flange_low = p->holder_low;
  if (p->holddown != TW_HOLDDOWN_NONE) {
    p->tipping_edge = number(d, TW_F_holddown_tipping_radius, p->holder_radius - 0.5 * mm);
    p->holder_radius = most(p->holder_radius, p->tipping_edge + 0.5 * mm);
    p->flange_low = number(d, TW_F_holddown_height, p->holder_low);
    p->holder_low = least(p->holder_low, p->flange_low);
  }
  if (p->flange_low <= p->holder_low + 0.1 * mm) {
    p->body_radius = p->holder_radius;
  }
  p->cover_low = most(p->parts_top + 0.5 * mm, p->flange_low + 1.5 * mm);
  p->holder_top = p->cover_low + 1.5 * mm;
}

/* the ring or spring between the holder's cover and the housing's ceiling */
static void lay_foam(tw_layout *p)
{
  const tw_design *d = p->design;
  p->foam_outer = 0.5 * number(d, TW_F_holddown_foam_outer_diameter, 2.0 * p->holder_radius);
  p->foam_inner =
      0.5 * number(d, TW_F_holddown_foam_inner_diameter, 2.0 * (p->holder_radius - 2.5 * mm));
  p->foam_low = p->holder_top;
  const double height = p->holddown == TW_HOLDDOWN_FOAM
                            ? number(d, TW_F_holddown_foam_thickness, 6.0 * mm) -
                                  number(d, TW_F_holddown_precompression, 0.0)
                            : 6.0 * mm;
  p->foam_top = p->foam_low + (p->holddown == TW_HOLDDOWN_NONE ? 0.0 : most(height, 0.2 * mm));
}

static void lay_housing(tw_layout *p)
{
  const tw_design *d = p->design;
  p->wall = number(d, TW_F_housing_wall, 3.0 * mm);
  p->house_radius = 0.5 * number(d, TW_F_housing_outer_diameter, 40.0 * mm);
  p->house_inner = p->house_radius - p->wall;
  p->house_low = p->flange_low - p->wall;
  p->house_top = p->house_low + number(d, TW_F_housing_length, 45.0 * mm);
  p->opening = 0.5 * number(d, TW_F_housing_opening_diameter, 20.0 * mm);
  if (p->flange_low > p->holder_low && !tw_design_given(d, TW_F_housing_opening_diameter)) {
    p->opening = most(p->opening, p->body_radius + 0.4 * mm);
  }
  if (p->holddown == TW_HOLDDOWN_NONE) {
    p->holder_radius = p->body_radius = most(p->house_inner, p->board_cavity + 0.4 * mm);
  }
  p->ceiling = p->foam_top;
  p->short_of = p->ceiling + p->wall - p->house_top;
  p->ceiling = least(p->ceiling, p->house_top - p->wall);
  p->shank_radius = 0.5 * number(d, TW_F_housing_shank_diameter, 10.0 * mm);
  p->shank_top = p->house_top + number(d, TW_F_housing_shank_length, 30.0 * mm);
  p->screw_count = tw_design_count(d, TW_F_housing_screw_count);
  p->screw_radius = number(d, TW_F_housing_screw_radius, 12.0 * mm);
  p->screw_z = number(d, TW_F_housing_screw_height, p->reach + 0.5 * (p->house_top - p->house_low));
  p->plug_radius = p->house_inner - 0.4 * mm;
}

static void lay_ghosts(tw_layout *p)
{
  const tw_design *d = p->design;
  p->travel_side = number(d, TW_F_housing_travel_side, 5.0 * mm);
  p->travel_axial = number(d, TW_F_housing_travel_axial, 3.0 * mm);
  const double turn = atan2(p->travel_side, p->turn_z);
  p->swivel = least(turn, number(d, TW_F_seat_swivel_limit, turn));
}

tw_status tw_layout_make(const tw_design *design, tw_layout *plan, tw_fault *fault)
{
  *plan = (tw_layout){.design = design};
  plan->seat = tw_design_choice(design, TW_F_seat_kind);
  plan->holddown = tw_design_choice(design, TW_F_holddown_kind);
  plan->screws = tw_design_choice(design, TW_F_housing_screws);
  plan->link = tw_design_choice(design, TW_F_link_kind);
  plan->has_disc = tw_design_has_disc(design);
  if (plan->seat < 0) {
    return tw_fail(fault, TW_BAD_INPUT, "seat.kind", "pivot, tripod, plate or bonded",
                   "the section cannot be drawn without the kind of seat");
  }
  if (!lay_stylus(plan, fault) || !lay_carrier(plan, fault)) {
    return TW_BAD_INPUT;
  }
  if (plan->has_disc) {
    lay_disc(plan);
    lay_support(plan);
  } else {
    plan->disc_low = plan->disc_top = plan->carrier_top;
  }
  lay_clamp(plan);
  lay_board(plan);
  lay_holder(plan);
  lay_foam(plan);
  lay_housing(plan);
  lay_ghosts(plan);
  return TW_OK;
}
