/* probe.c: the parts of a design, solved once and fitted together in the order of the signal. */
#include "tripwright/probe.h"
#include "hold.h"
#include "tripwright/constants.h"

#include <math.h>

static tw_status build_disc(const tw_design *design, bool modes, tw_probe *probe, tw_fault *fault)
{
  probe->has_disc = tw_design_has_disc(design);
  if (!probe->has_disc) {
    return TW_OK;
  }
  tw_status status = tw_disc_spec_from_design(design, &probe->disc_spec, fault);
  /* what moves on the disc is the carrier with its stylus */
  probe->disc_spec.carrier_mass += probe->stylus.stem_mass + probe->stylus.ball_mass;
  if (status == TW_OK) {
    tw_disc_spec spec = probe->disc_spec;
    spec.backing_elsewhere = true;
    status = tw_disc_new(&spec, &probe->disc, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  return modes ? tw_disc_measure(probe->disc, TW_DISC_OPEN, &probe->disc_measures, fault)
               : tw_disc_measure_statics(probe->disc, &probe->disc_measures, fault);
}

/* the board needs what the disc brings to its node */
static tw_status build_circuit(const tw_design *design, tw_probe *probe, tw_fault *fault)
{
  tw_status status = tw_circuit_from_design(design, &probe->board, fault);
  if (status != TW_OK) {
    return status;
  }
  const tw_disc_measures *m = &probe->disc_measures;
  if (probe->has_disc && probe->board.kind != TW_BOARD_CONTACT) {
    probe->board.disc_capacitance = m->capacitance_mounted.value;
    probe->board.charge_per_newton = fabs(m->charge_per_newton.value);
    probe->board.charge_per_kelvin = fabs(m->charge_per_kelvin.value);
  }
  status = tw_circuit_solve(&probe->board, &probe->circuit, fault);
  probe->outside_capacitance =
      probe->board.kind == TW_BOARD_CHARGE
          ? TW_DISC_SHORT
          : fmax(0, probe->circuit.capacitance - probe->board.disc_capacitance);
  return status;
}

/* what hangs on the disc changes its resonance with the carrier, and nothing else of its figures */
static tw_status measure_loaded(tw_probe *probe, tw_fault *fault)
{
  return probe->has_disc ? tw_disc_loaded_resonance(probe->disc, probe->outside_capacitance,
                                                    &probe->disc_measures.resonance_loaded, fault)
                         : TW_OK;
}

/* +1 or -1: the sign of charge at the disc that moves the comparator's input the way it sees; a
 * charge amplifier turns it over; 0: both */
static int sign_seen(const tw_probe *probe)
{
  int sign = 0;
  if (probe->board.polarity == TW_SEES_RISING) {
    sign = 1;
  } else if (probe->board.polarity == TW_SEES_FALLING) {
    sign = -1;
  }
  return probe->board.kind == TW_BOARD_CHARGE ? -sign : sign;
}

/* a bought disc is wired the way round that a push along the axis trips it */
static tw_status sign_of_push(const tw_probe *probe, int *sign, tw_fault *fault)
{
  tw_seat_work *work = tw_seat_work_new(probe->seat);
  if (!work) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the seat");
  }
  tw_seat_options options = probe->touch;
  options.polarity = 0;
  options.prior_touches = 0;
  tw_seat_touch_result touch;
  const tw_status status = tw_seat_touch(probe->seat, work, 0, TW_PI / 2, &options, &touch, fault);
  *sign = touch.charge < 0 ? -1 : 1;
  tw_seat_work_free(work);
  return status;
}

/* V from rest to the threshold that is passed already: of two, the one that is */
static double passed_threshold(const tw_circuit *c)
{
  return c->polarity == TW_SEES_BOTH ? fmin(c->threshold_voltage, c->threshold_voltage_falling)
                                     : c->threshold_voltage;
}

/* V from the level that the tripped unit returns to, to where it is released: of two, the one that
 * lies on the wrong side */
static double missed_release(const tw_circuit *c)
{
  return c->polarity == TW_SEES_BOTH
             ? fmin(c->rearm_voltage, (c->rest_tripped - c->release_falling) / c->gain)
             : c->rearm_voltage;
}

/* a circuit that is tripped before anything touches the tip, or that never lets go */
static void judge_circuit(tw_probe *probe)
{
  const tw_circuit *c = &probe->circuit;
  if (c->rearm == TW_REARM_TRIPPED ||
      (probe->board.kind != TW_BOARD_CONTACT && !(c->threshold_charge > 0))) {
    probe->state = TW_MEASURE_TRIPPED_AT_REST;
    tw_fail(&probe->trouble, TW_NO_ANSWER, "circuit.reference",
            "move the reference or the bias so that the rest level lies on the armed side",
            "the circuit is tripped at rest: its threshold is %.3g V from rest",
            passed_threshold(c));
  } else if (c->rearm == TW_REARM_STUCK) {
    probe->state = TW_MEASURE_STUCK;
    tw_fail(&probe->trouble, TW_NO_ANSWER, "circuit.feedback_resistance",
            "less hysteresis, or a reference further from the rest level, lets it come back",
            "the circuit is stuck once it has tripped: its release is %.3g V from rest",
            missed_release(c));
  }
}

/* the least loaded contact decides whether the chain conducts at rest */
static void judge_contacts(tw_probe *probe)
{
  if (probe->state == TW_MEASURE_OK && probe->rest.sensing > 0 &&
      probe->rest.least_sensing <= probe->touch.opening_force) {
    probe->state = TW_MEASURE_TRIPPED_AT_REST;
    tw_fail(&probe->trouble, TW_NO_ANSWER, "preload.force",
            "press the carrier harder onto its seats, or use contacts that open at less force",
            "the contacts are open at rest: the least loaded one carries %.3g N and opens below "
            "%.3g N",
            probe->rest.least_sensing, probe->touch.opening_force);
  }
}

/* A push along the axis has to lift the whole preload off; the rest is for what the contacts and
 * the threshold want beyond it. Own choice. */
#define SEARCH_PRELOADS 2.0

static tw_status choose_trip(const tw_design *design, tw_probe *probe, tw_fault *fault)
{
  tw_seat_options_default(&probe->touch);
  probe->touch.friction = true;
  probe->touch.search_force =
      fmax(probe->touch.search_force, SEARCH_PRELOADS * probe->rest.preload);
  judge_circuit(probe);
  if (probe->board.kind == TW_BOARD_CONTACT) {
    probe->touch.metric = TW_SEAT_BY_OPENING;
    probe->touch.opening_force = tw_design_number_or(design, TW_F_seat_opening_force, 0);
    judge_contacts(probe);
    return TW_OK;
  }
  probe->touch.metric = TW_SEAT_BY_CHARGE;
  probe->touch.threshold = probe->circuit.threshold_charge;
  if (probe->board.polarity == TW_SEES_BOTH) {
    /* each sign has its own threshold; a charge amplifier turns the signal over */
    const double falling = probe->circuit.threshold_voltage_falling / probe->circuit.charge_gain;
    const bool over = probe->board.kind == TW_BOARD_CHARGE;
    probe->touch.threshold = over ? falling : probe->circuit.threshold_charge;
    probe->touch.threshold_negative = over ? probe->circuit.threshold_charge : falling;
  }
  probe->touch.polarity = sign_seen(probe);
  if (probe->state != TW_MEASURE_OK) {
    return TW_OK;
  }
  probe->sign_assumed =
      probe->touch.polarity != 0 && probe->disc_spec.poling == TW_DISC_POLING_UNKNOWN;
  return probe->sign_assumed ? sign_of_push(probe, &probe->touch.polarity, fault) : TW_OK;
}

/* the share of the hold-down that a soft holder passes on to the disc */
static tw_status add_flexure(const tw_design *design, tw_seat_spec *seat, tw_fault *fault)
{
  const double share = tw_design_number_or(design, TW_F_holddown_flexure, 0);
  tw_hold hold;
  if (!(share > 0) || seat->preload != TW_SEAT_BY_FORCE) {
    return TW_OK;
  }
  const tw_status status = tw_hold_of(design, false, &hold, fault);
  seat->force += status == TW_OK && hold.has ? share * hold.home : 0;
  return status;
}

static tw_status build_seat(const tw_design *design, tw_probe *probe, tw_fault *fault)
{
  const tw_disc_view view = {probe->disc, probe->outside_capacitance};
  tw_status status = tw_seat_spec_from_design(design, &probe->stylus, &probe->seat_spec, fault);
  status = status == TW_OK ? add_flexure(design, &probe->seat_spec, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  if (probe->has_disc) {
    probe->seat_spec.disc_points = tw_disc_points;
    probe->seat_spec.disc = &view;
  }
  status = tw_seat_model_new(&probe->seat_spec, &probe->seat, fault);
  probe->seat_spec.disc = NULL; /* borrowed only while the model was built */
  if (status == TW_OK) {
    tw_seat_rest_of(probe->seat, &probe->rest);
  } else if (status == TW_NO_ANSWER) {
    /* a carrier that cannot be seated is an answer about this design */
    probe->trouble = *fault;
    probe->trouble.status = status;
    probe->state = TW_MEASURE_NO_ANSWER;
    status = TW_OK;
  }
  return status;
}

static tw_status build(const tw_design *design, bool modes, tw_probe *probe, tw_fault *fault)
{
  tw_status status = tw_stylus_spec_from_design(design, &probe->stylus_spec, fault);
  if (status == TW_OK) {
    status = tw_stylus_solve(&probe->stylus_spec, &probe->stylus, fault);
  }
  if (status == TW_OK) {
    status = build_disc(design, modes, probe, fault);
  }
  if (status == TW_OK) {
    status = build_circuit(design, probe, fault);
  }
  if (status == TW_OK) {
    status = measure_loaded(probe, fault);
  }
  if (status == TW_OK) {
    status = build_seat(design, probe, fault);
  }
  return status == TW_OK && probe->seat ? choose_trip(design, probe, fault) : status;
}

static tw_status probe_new(const tw_design *design, bool modes, tw_probe **out, tw_fault *fault)
{
  *out = NULL;
  tw_fault own = {0};
  fault = fault ? fault : &own;
  tw_probe *probe = tw_alloc(1, sizeof *probe);
  if (!probe) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the probe");
  }
  const tw_status status = build(design, modes, probe, fault);
  if (status != TW_OK) {
    tw_probe_free(probe);
    return status;
  }
  *out = probe;
  return TW_OK;
}

tw_status tw_probe_new(const tw_design *design, tw_probe **out, tw_fault *fault)
{
  return probe_new(design, true, out, fault);
}

tw_status tw_probe_new_to_touch(const tw_design *design, tw_probe **out, tw_fault *fault)
{
  return probe_new(design, false, out, fault);
}

void tw_probe_free(tw_probe *probe)
{
  if (probe) {
    tw_seat_model_free(probe->seat);
    tw_disc_free(probe->disc);
    tw_free(probe);
  }
}
