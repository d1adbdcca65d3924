/* probe_shake.c: what a solved probe looks like to acceleration, and what moves do to it. */
#include "tripwright/probe.h"

#include <math.h>

static const double right_angle = 1.57079632679489661923;

/* tilting moment at which a touch along this axis begins to give a signal: the smaller of the two
 * ways, since a move accelerates both ways */
static tw_status dead_moment(const tw_probe *probe, tw_seat_work *work, double azimuth,
                             double *moment, tw_fault *fault)
{
  *moment = INFINITY;
  for (int way = 0; way < 2; way++) {
    tw_seat_touch_result touch;
    const tw_status status = tw_seat_touch(probe->seat, work, azimuth + 2 * way * right_angle, 0,
                                           &probe->touch, &touch, fault);
    if (status != TW_OK && status != TW_NO_ANSWER) {
      return status;
    }
    if (status == TW_OK && touch.state == TW_SEAT_TRIPPED) {
      *moment = fmin(*moment, touch.force * probe->seat_spec.reach);
    }
  }
  *moment = isfinite(*moment) ? *moment : 0;
  return TW_OK;
}

/* share of the preload by which the seat at rest is probed: small beside what lifts the carrier */
#define PROBED_SHARE 1e-3
/* N, probed by where nothing is preloaded (a glued foot) */
#define PROBED_LEAST 1e-3

/* A push on a carrier that stands on its seat loads disc and seat by their stiffnesses, until it
 * takes all the preload off the seat. */
tw_status tw_probe_bypass(const tw_probe *probe, tw_seat_work *work, double *bypass, double *lift,
                          tw_fault *fault)
{
  const double preload = probe->rest.preload;
  const double force = preload > 0 ? PROBED_SHARE * preload : PROBED_LEAST;
  const double wrench[6] = {0, 0, force, 0, 0, 0};
  tw_seat_options options = probe->touch;
  options.friction = false;
  tw_seat_row row;
  *bypass = *lift = 0;
  if (probe->rest.charge_gain == 0) {
    return TW_OK;
  }
  const tw_status status = tw_seat_wrench(probe->seat, work, wrench, &options, &row, fault);
  if (status != TW_OK) {
    return status == TW_NO_ANSWER ? TW_OK : status; /* all of it, on the safe side */
  }
  *bypass = 1 - fmin(fabs(row.charge / (probe->rest.charge_gain * force)), 1);
  *lift = *bypass > 0 ? fmax(preload, 0) / *bypass : 0;
  return TW_OK;
}

tw_status tw_probe_shake_of(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                            const double known[2], tw_shake *out, tw_fault *fault)
{
  const tw_seat_spec *seat = &probe->seat_spec;
  const tw_disc_value loaded = probe->disc_measures.resonance_loaded;
  const double resonance = loaded.known ? loaded.value : 1000;
  *out = (tw_shake){.mass = seat->mass,
                    .height = fabs(seat->mass_height),
                    .arm = fmax(seat->flat_radius, fmax(seat->tipping_radius, seat->bond_radius)),
                    .volt_per_newton = fabs(probe->rest.charge_gain) * probe->circuit.charge_gain,
                    .volt_per_moment = fabs(probe->disc_measures.charge_per_moment.value) *
                                       probe->circuit.charge_gain,
                    .threshold = probe->circuit.threshold_voltage,
                    .time_constant = probe->circuit.time_constant,
                    .resonance = {resonance, resonance, resonance},
                    .damping = tw_design_number_or(design, TW_F_disc_damping_ratio, 0.05),
                    .gravity = {seat->gravity[0], seat->gravity[1], seat->gravity[2]}};
  tw_status status = tw_probe_bypass(probe, work, &out->bypass, &out->lift_force, fault);
  if (known || status != TW_OK) {
    out->dead_moment[0] = known ? known[0] : 0;
    out->dead_moment[1] = known ? known[1] : 0;
    return status;
  }
  status = dead_moment(probe, work, 0, &out->dead_moment[0], fault);
  return status == TW_OK ? dead_moment(probe, work, right_angle, &out->dead_moment[1], fault)
                         : status;
}

/* an opening contact: inertia against the force of a touch there */
tw_status tw_probe_shake_contacts(const tw_probe *probe, tw_seat_work *work,
                                  const double acceleration[3], tw_shaken out[3], tw_fault *fault)
{
  const tw_seat_spec *seat = &probe->seat_spec;
  const double lever = fmax(fabs(seat->mass_height) / seat->reach, 0.05);
  for (int i = 0; i < 3; i++) {
    double force = 0;
    tw_seat_touch_result pole;
    tw_status status = TW_OK;
    if (i < 2) {
      status = dead_moment(probe, work, i * right_angle, &force, fault);
      force /= seat->reach * lever;
    } else {
      status = tw_seat_touch(probe->seat, work, 0, right_angle, &probe->touch, &pole, fault);
      force = status == TW_OK && pole.state == TW_SEAT_TRIPPED ? pole.force : 0;
    }
    if (status != TW_OK) {
      return status;
    }
    const double inertia = seat->mass * acceleration[i];
    const double margin =
        inertia * TW_SHAKE_MARGIN_MOST > force ? force / inertia : TW_SHAKE_MARGIN_MOST;
    out[i] =
        (tw_shaken){.margin = margin,
                    .lifts = margin<1, .lift_margin = margin, .acceleration_for_2 = seat->mass> 0
                                 ? force / (2 * seat->mass)
                                 : 0};
  }
  return TW_OK;
}

void tw_probe_acceleration(const tw_design *design, double acceleration[3], double jerk[3])
{
  const double a = tw_design_number(design, TW_F_machine_acceleration),
               j = tw_design_number(design, TW_F_machine_jerk);
  acceleration[0] = acceleration[1] = a;
  acceleration[2] = tw_design_number_or(design, TW_F_machine_acceleration_z, a);
  jerk[0] = jerk[1] = j;
  jerk[2] = tw_design_number_or(design, TW_F_machine_jerk_z, j);
}

tw_status tw_probe_shake_move(const tw_design *design, const tw_probe *probe, tw_seat_work *work,
                              const double known[2], tw_shaken out[3], tw_fault *fault)
{
  double acceleration[3], jerk[3];
  tw_probe_acceleration(design, acceleration, jerk);
  if (probe->board.kind == TW_BOARD_CONTACT) {
    return tw_probe_shake_contacts(probe, work, acceleration, out, fault);
  }
  tw_shake shake;
  const tw_status status = tw_probe_shake_of(design, probe, work, known, &shake, fault);
  return status == TW_OK ? tw_shake_move(&shake, acceleration, jerk, out, fault) : status;
}
