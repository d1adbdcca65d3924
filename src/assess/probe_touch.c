/* probe_touch.c: one direction of a solved probe as a touch in time, and its machine. */
#include "hold.h"
#include "tripwright/constants.h"

#include <math.h>

/* ---- masses ---------------------------------------------------------------------------------- */

/* inertia of the carrier about its turning point, as a body of the size of its seat */
static double carrier_inertia(const tw_design *design, const tw_seat_spec *seat)
{
  const double mass = tw_design_number(design, TW_F_seat_carrier_mass);
  const double height = tw_design_number(design, TW_F_seat_carrier_height);
  double own = 0; /* m^2, about its own centre */
  switch (seat->kind) {
  case TW_SEATED_PIVOT: /* a ball: 2/5 r^2 */
    own = 0.4 * seat->ball_radius * seat->ball_radius;
    break;
  case TW_SEATED_TRIPOD_FLAT:
  case TW_SEATED_TRIPOD_VEE: /* a disc of the pitch circle: r^2/4 */
    own = 0.25 * seat->pitch_radius * seat->pitch_radius;
    break;
  case TW_SEATED_PLATE_ABOVE:
  case TW_SEATED_PLATE_BELOW:
    own = 0.25 * seat->tipping_radius * seat->tipping_radius;
    break;
  case TW_SEATED_BONDED:
    own = 0.25 * seat->bond_radius * seat->bond_radius;
    break;
  }
  return mass * (own + height * height);
}

/* sideways the inertia of carrier and stem over reach^2 less what the tip's own mass already stands
 * for; along the axis the carrier and the rest of the stem */
void tw_probe_masses(const tw_design *design, const tw_probe *probe, double elevation,
                     double *at_tip, double *behind)
{
  const tw_stylus *stylus = &probe->stylus;
  const double reach = probe->seat_spec.reach,
               carrier = tw_design_number(design, TW_F_seat_carrier_mass);
  const double side_tip = stylus->tip_mass, axial_tip = stylus->ball_mass + stylus->stem_mass / 3;
  const double whole = carrier_inertia(design, &probe->seat_spec) / (reach * reach) +
                       stylus->stem_mass / 3 + stylus->ball_mass;
  const double side = fmax(whole - side_tip, 0.05 * whole);
  const double axial = carrier + stylus->stem_mass * 2 / 3;
  const double c2 = cos(elevation) * cos(elevation), s2 = 1 - c2;
  *at_tip = c2 * side_tip + s2 * axial_tip;
  *behind = c2 * side + s2 * axial;
}

/* ---- tables ---------------------------------------------------------------------------------- */

/* rows of the seat's curve in which carrier travel and force both rise */
static size_t keep_rising(const tw_seat_row *row, size_t rows, tw_probe_touch *out)
{
  size_t n = 0;
  out->x[n] = out->force[n] = out->charge[n] = 0;
  n++;
  const double least_x = 1e-6 * row[rows - 1].travel;
  for (size_t i = 1; i < rows && n < TW_PROBE_ROWS; i++) {
    if (row[i].tip > out->x[n - 1] + least_x && row[i].force > out->force[n - 1] * (1 + 1e-9)) {
      out->x[n] = row[i].tip;
      out->force[n] = row[i].force;
      out->charge[n] = row[i].charge;
      n++;
    }
  }
  return n;
}

/* how far the housing lets the tip go in this direction */
static double housing_travel(const tw_design *design, double elevation)
{
  const bool axial = elevation > TW_PI / 4;
  return tw_design_number(design, axial ? TW_F_housing_travel_axial : TW_F_housing_travel_side);
}

/* How far the seat's curve is followed, in pretravels: at six of them a ramp that leaks away has
 * come within 0.3 % of all it ever reaches (u ln(u/(u-1)) = 6 at u = 1.0025). Short pretravels are
 * followed further, up to 0.4 mm, since the machine needs some way to stop; a seat that has no
 * balance so far out is followed for two. */
#define COURSE_PRETRAVELS 6.0
#define COURSE_LEAST      2.0
#define COURSE_SHORT      20.0
#define COURSE_STOPPING   4e-4 /* m */
#define COURSE_FLOOR      2e-5 /* m */

/* what a touch in time needs fine, in pretravels */
#define FINE_TO_TRIP 1.3

/* finer where the trip lies: half the rows up to `fine` pretravels, the other half far beyond */
tw_status tw_probe_rows(const tw_seat_model *seat, const tw_seat_options *options,
                        tw_seat_work *work, const tw_seat_touch_result *touch, double fine,
                        tw_probe_touch *out, tw_fault *fault)
{
  tw_seat_row near[TW_PROBE_ROWS / 2], far[TW_PROBE_ROWS / 2], row[TW_PROBE_ROWS];
  const size_t half = TW_PROBE_ROWS / 2;
  const double first = fine * touch->pretravel;
  double last = fmin(fmax(COURSE_SHORT * touch->pretravel, COURSE_FLOOR),
                     fmax(COURSE_STOPPING, COURSE_PRETRAVELS * touch->pretravel));
  tw_status status = tw_seat_curve(seat, work, touch->azimuth, touch->elevation, options, first,
                                   half, near, fault);
  if (status == TW_OK) {
    status = tw_seat_curve(seat, work, touch->azimuth, touch->elevation, options, last, half, far,
                           fault);
  }
  if (status == TW_NO_ANSWER && last > COURSE_LEAST * touch->pretravel) {
    last = COURSE_LEAST * touch->pretravel;
    status = tw_seat_curve(seat, work, touch->azimuth, touch->elevation, options, last, half, far,
                           fault);
  }
  out->course = last;
  if (status != TW_OK) {
    return status;
  }
  size_t n = 0;
  for (size_t i = 0; i < half; i++) {
    row[n++] = near[i];
  }
  for (size_t i = 0; i < half; i++) {
    if (far[i].travel > first * 1.02) {
      row[n++] = far[i];
    }
  }
  out->model.carrier.law = TW_CARRIER_TABLE;
  out->model.carrier.table_x = out->x;
  out->model.carrier.table_force = out->force;
  out->model.carrier.table_charge = out->charge;
  out->model.carrier.table_count = keep_rising(row, n, out);
  return out->model.carrier.table_count >= 3
             ? TW_OK
             : tw_fail(fault, TW_NO_ANSWER, "seat.kind",
                       "look at `tripwright seat` for this direction",
                       "the seat's force does not rise with the travel in this direction");
}

/* ---- circuit --------------------------------------------------------------------------------- */

/* +1 or -1: what a positive charge of the disc does to the comparator's input. Static figures ask
 * the same of tw_seat_options.polarity; the touch's model lets a positive charge raise it. */
static double turn_of(const tw_probe *probe)
{
  if (probe->touch.polarity == 0) { /* both: a charge amplifier turns the signal over */
    return probe->board.kind == TW_BOARD_CHARGE ? -1 : 1;
  }
  return probe->board.polarity == TW_SEES_FALLING ? -probe->touch.polarity : probe->touch.polarity;
}

/* s; a line that rises quicker than this, as without any cable, rises at once for a touch (17 nm at
 * 1000 mm/min) and would only cost steps */
#define LINE_RISE_LEAST 1e-6

/* an opening contact: the chain's resistance lets the line rise through the pull-up */
static void contact_of(const tw_probe *probe, const tw_seat_row *trip, tw_touch_model *model)
{
  const tw_circuit_spec *b = &probe->board;
  const double closed = probe->circuit.rest_node;
  tw_touch_node *n = &model->node;
  n->sense = TW_SENSE_OPENING;
  n->resistance = b->bias_resistance;
  n->capacitance =
      fmax(b->output.line_capacitance + b->cable_capacitance, LINE_RISE_LEAST / b->bias_resistance);
  n->bias_voltage = b->supply;
  n->open_at = trip->tip;
  n->close_at = 0.98 * trip->tip;
  n->open_voltage = b->supply;
  n->closed_voltage = closed;
  tw_touch_comparator *o = &model->comparator;
  o->kind = TW_COMPARATOR_DELAY;
  o->rest_high = false;
  o->reference = -0.5 * b->supply;
  o->input_weight = 1;
  o->output_weight = 0;
  o->low = 0;
  o->high = b->supply;
}

/* where the controller's input changes over, inside what the comparator's output spans */
static double logic_level(const tw_circuit_spec *board, const tw_touch_comparator *comparator)
{
  const double level = 0.5 * (board->output.controller_low + board->output.controller_high);
  const double low = comparator->low, high = comparator->high;
  return level > low && level < high ? level : 0.5 * (low + high);
}

/* ---- whole ----------------------------------------------------------------------------------- */

static tw_status trip_row(const tw_probe *probe, tw_seat_work *work,
                          const tw_seat_touch_result *touch, tw_seat_row *trip, tw_fault *fault)
{
  tw_seat_row row[2];
  const tw_status status = tw_seat_curve(probe->seat, work, touch->azimuth, touch->elevation,
                                         &probe->touch, touch->pretravel, 2, row, fault);
  *trip = row[1];
  return status;
}

static tw_status fill(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                      const tw_seat_touch_result *touch, tw_probe_touch *out, tw_fault *fault)
{
  tw_touch_model *m = &out->model;
  tw_seat_row trip;
  tw_status status =
      tw_probe_rows(probe->seat, &probe->touch, work, touch, FINE_TO_TRIP, out, fault);
  const double travel = housing_travel(design, touch->elevation);
  out->course = travel > 0 ? fmin(out->course, travel) : out->course;
  status = status == TW_OK ? trip_row(probe, work, touch, &trip, fault) : status;
  status = status == TW_OK ? tw_probe_hold(design, touch->elevation, out, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  m->contact.kind = TW_CONTACT_HERTZ;
  m->contact.stiffness = probe->stylus.hertz;
  m->contact.damping = tw_design_number(design, TW_F_stylus_contact_damping);
  tw_probe_masses(design, probe, touch->elevation, &m->tip.mass, &m->carrier.mass);
  m->tip.stiffness = tw_stylus_along(&probe->stylus, touch->elevation);
  m->tip.damping = 2 * tw_design_number(design, TW_F_stylus_damping_ratio) *
                   sqrt(m->tip.stiffness * m->tip.mass);
  const double stiffness = out->force[1] / out->x[1];
  /* sideways the seat damps, along the axis the disc */
  const double c2 = cos(touch->elevation) * cos(touch->elevation);
  const double ratio = c2 * tw_design_number(design, TW_F_seat_damping_ratio) +
                       (1 - c2) * tw_design_number_or(design, TW_F_disc_damping_ratio, 0.05);
  m->carrier.damping = 2 * ratio * sqrt(stiffness * m->carrier.mass);
  if (tw_design_has(design, TW_F_machine_work_stiffness)) {
    m->support.stiffness = tw_design_number(design, TW_F_machine_work_stiffness);
    m->support.mass = 1; /* kg of work and table that move with it: own estimate */
    m->support.damping = 0.1 * sqrt(m->support.stiffness * m->support.mass);
  }
  if (probe->board.kind == TW_BOARD_CONTACT) {
    contact_of(probe, &trip, m);
  } else {
    const double turn = turn_of(probe);
    for (size_t i = 0; i < m->carrier.table_count; i++) {
      out->charge[i] *= turn;
    }
    const tw_circuit *c = &probe->circuit;
    const bool falls =
        c->polarity == TW_SEES_FALLING || (c->polarity == TW_SEES_BOTH && turn * touch->charge < 0);
    tw_touch_take_board(&probe->board, c, falls, m);
  }
  m->output.logic_level = logic_level(&probe->board, &m->comparator);
  m->output.minimum_pulse = probe->board.output.minimum_pulse;
  return tw_touch_check(m, fault);
}

tw_status tw_probe_touch_of(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                            double azimuth, double elevation, tw_probe_touch *out, tw_fault *fault)
{
  *out = (tw_probe_touch){.model = tw_touch_model_default(), .state = TW_MEASURE_NO_ANSWER};
  tw_seat_touch_result touch;
  const tw_status status =
      tw_seat_touch(probe->seat, work, azimuth, elevation, &probe->touch, &touch, fault);
  if (status != TW_OK) {
    return status;
  }
  out->state = tw_probe_touch_state(&touch);
  if (out->state != TW_MEASURE_OK) {
    out->searched = out->state == TW_MEASURE_NO_TRIP ? touch.searched_force : 0;
    return tw_fail(fault, TW_NO_ANSWER, "", "look at `tripwright seat` for this direction",
                   "the probe %s at azimuth %.0f, elevation %.0f deg",
                   out->state == TW_MEASURE_NO_TRIP           ? "does not trip"
                   : out->state == TW_MEASURE_TRIPPED_AT_REST ? "is tripped at rest"
                                                              : tw_measure_state_words(out->state),
                   azimuth * 180 / TW_PI, elevation * 180 / TW_PI);
  }
  out->pretravel = touch.pretravel;
  const tw_status known =
      tw_crash_room(design, probe, work, &touch, &out->room, &out->room_why, fault);
  if (known != TW_OK) {
    return known;
  }
  return fill(design, probe, work, &touch, out, fault);
}

tw_status tw_probe_motion(const tw_design *design, const tw_probe *probe, double feed,
                          tw_touch_motion *out, tw_fault *fault)
{
  tw_link_spec spec;
  tw_link link;
  tw_status status = tw_link_from_design(design, &spec, fault);
  status = status == TW_OK ? tw_link_of(&spec, &probe->board, 0, &link, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  *out = tw_touch_motion_default();
  out->feed = feed;
  out->acceleration = tw_design_number(design, TW_F_machine_acceleration);
  out->jerk = tw_design_number(design, TW_F_machine_jerk);
  out->sample_time = tw_design_number(design, TW_F_machine_sampling_interval);
  out->sample_phase = 0.5;
  out->latency = tw_design_number(design, TW_F_machine_latency) + link.latency;
  out->dwell = tw_design_number(design, TW_F_machine_dwell);
  out->retract_feed = tw_design_number(design, TW_F_machine_retract_feed);
  out->retract_acceleration = out->acceleration;
  out->retract_distance = tw_design_number(design, TW_F_machine_retract_distance);
  out->second_feed = tw_design_number(design, TW_F_machine_feed);
  return TW_OK;
}

void tw_probe_search(const tw_probe *probe, const tw_probe_touch *touch, tw_touch_motion *motion)
{
  motion->search_travel = touch->course;
  /* the node settles in ten time constants */
  motion->settle_limit = fmax(motion->settle_limit, 10 * probe->circuit.time_constant);
}
