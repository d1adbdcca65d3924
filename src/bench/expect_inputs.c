/* expect_inputs.c: the card's inputs from a solved probe and its assessment.
 *
 * Spreads: what was measured keeps the tolerance stated with it (2 % when none is); what comes from
 * model and catalogue has the scatter of bought discs: 30 % in capacitance, 10 % in resonance, 20 %
 * in charge (docs/models/bench.md).
 */
#include "expect.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define SCATTER_CAPACITANCE 0.30
#define SCATTER_RESONANCE   0.10
#define SCATTER_CHARGE      0.20
#define SCATTER_PRELOAD     0.10 /* of a force that is given without tolerance: own estimate */
#define SCATTER_FRICTION    0.50 /* friction is the least known input: own estimate */
#define SCATTER_MEASURED    0.02

/* ends of a value as parts of it, from the tolerance of a field, or `otherwise` */
static double part_of(const tw_design *d, tw_field field, double otherwise)
{
  const tw_tolerance t = tw_design_tolerance(d, field);
  const double value = fabs(tw_design_number_or(d, field, 0.0));
  return t.given && value > 0.0 ? fmax(t.minus, t.plus) / value : otherwise;
}

static tw_bench_figure spread(double value, double part)
{
  return tw_bench_figure_of(value, value * (1.0 - part), value * (1.0 + part));
}

static tw_bench_figure of_disc(const tw_design *d, const tw_disc_value *value, tw_field measured,
                               double scatter)
{
  if (!value->known) {
    return tw_bench_unknown("%.150s", value->why_not ? value->why_not : "not known");
  }
  const double part = tw_design_has(d, measured) ? part_of(d, measured, SCATTER_MEASURED) : scatter;
  return spread(fabs(value->value), part);
}

static void take_disc(const tw_design *d, const tw_probe *probe, tw_bench_inputs *out)
{
  const tw_disc_measures *m = &probe->disc_measures;
  out->capacitance_free =
      of_disc(d, &m->capacitance_free, TW_F_measured_capacitance, SCATTER_CAPACITANCE);
  out->capacitance_mounted = of_disc(d, &m->capacitance_mounted,
                                     tw_design_has(d, TW_F_measured_capacitance_mounted)
                                         ? TW_F_measured_capacitance_mounted
                                         : TW_F_measured_capacitance,
                                     SCATTER_CAPACITANCE);
  out->resonance_free =
      of_disc(d, &m->resonance_free, TW_F_measured_resonance_free, SCATTER_RESONANCE);
  out->resonance_mounted =
      of_disc(d, &m->resonance_mounted, TW_F_measured_resonance_mounted, SCATTER_RESONANCE);
  out->resonance_loaded =
      of_disc(d, &m->resonance_loaded, TW_F_measured_resonance_mounted, SCATTER_RESONANCE);
  out->charge_per_newton =
      of_disc(d, &m->charge_per_newton, TW_F_measured_charge_per_newton, SCATTER_CHARGE);
}

/* the seat shares a push between disc and socket, so weights are tried one by one */
static tw_status take_releases(const tw_probe *probe, const tw_bench_instruments *with,
                               tw_bench_inputs *out, tw_fault *fault)
{
  tw_seat_work *work = tw_seat_work_new(probe->seat);
  if (!work) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the seat");
  }
  double signed_charge = 0.0;
  for (int i = 0; i < TW_BENCH_WEIGHTS && with->weights[i] > 0.0; i++) {
    const double force = with->weights[i] * TW_BENCH_GRAVITY;
    double charge = 0.0;
    /* a weight that throws the carrier out has no answer; heavier ones neither */
    if (tw_seat_release(probe->seat, work, 0.0, acos(-1.0) / 2.0, force, &probe->touch, &charge,
                        NULL) != TW_OK) {
      break;
    }
    out->release_force[out->releases] = force;
    out->release_charge[out->releases++] = fabs(charge);
    signed_charge = charge;
  }
  tw_seat_work_free(work);
  if (probe->disc_spec.poling != TW_DISC_POLING_UNKNOWN && signed_charge != 0.0) {
    out->push_sign = signed_charge < 0.0 ? 1 : -1;
  }
  return TW_OK;
}

static tw_bench_figure preload_of(const tw_design *d, const tw_probe *probe)
{
  if (!probe->seat) {
    return tw_bench_unknown("%.150s", probe->trouble.text);
  }
  const double force = probe->rest.preload;
  if (tw_design_has(d, TW_F_measured_preload)) {
    return spread(force, part_of(d, TW_F_measured_preload, SCATTER_MEASURED));
  }
  if (tw_design_choice(d, TW_F_preload_kind) == TW_PRELOAD_INTERFERENCE) {
    const tw_tolerance t = tw_design_tolerance(d, TW_F_preload_interference);
    return tw_bench_figure_of(force, fmax(0.0, force - probe->rest.preload_rate * t.minus),
                              force + probe->rest.preload_rate * t.plus);
  }
  return spread(force, part_of(d, TW_F_preload_force, SCATTER_PRELOAD));
}

/* ends of a trip force from those of its parts: the dead zone goes with the preload, friction with
 * itself, the rest with threshold and charge */
static tw_bench_figure force_of(const tw_design *d, const tw_measure *m, const tw_bench_inputs *in,
                                const tw_circuit_budget *budget)
{
  if (m->state != TW_MEASURE_OK) {
    return tw_bench_unknown("%.150s", m->note[0] ? m->note : tw_measure_state_text(m->state));
  }
  if (m->has_band) {
    return tw_bench_figure_of(m->value, m->band[0], m->band[1]);
  }
  double part[3] = {0.0, 0.0, m->value};
  static const char *const causes[3] = {"dead zone", "friction", "threshold"};
  for (int i = 0; i < m->contributions; i++) {
    for (int k = 0; k < 3; k++) {
      if (strcmp(m->contribution[i].cause, causes[k]) == 0) {
        part[k] = m->contribution[i].value;
      }
    }
  }
  const tw_bench_figure *p = &in->preload, *q = &in->charge_per_newton;
  const double low_p = p->known && p->value > 0.0 ? p->low / p->value : 1.0;
  const double high_p = p->known && p->value > 0.0 ? p->high / p->value : 1.0;
  const double friction = part_of(d, TW_F_seat_friction_flat, SCATTER_FRICTION);
  const bool signal = budget->nominal > 0.0 && q->known && q->low > 0.0;
  const double low_t =
      signal ? fmax(0.0, budget->worst_low) / budget->nominal * q->value / q->high : 1.0;
  const double high_t = signal ? budget->worst_high / budget->nominal * q->value / q->low : 1.0;
  const double low = part[0] * low_p + part[1] * (1.0 - friction) + part[2] * low_t;
  const double high = part[0] * high_p + part[1] * (1.0 + friction) + part[2] * high_t;
  return tw_bench_figure_of(m->value, low, high);
}

static void take_forces(const tw_design *d, const tw_assessment *a, tw_bench_inputs *out)
{
  const tw_measure *side = &a->measure[TW_M_trip_force_side];
  tw_circuit_budget budget = {0};
  if (tw_circuit_budget_of(&out->board, &budget, NULL) != TW_OK) {
    budget.nominal = 0.0; /* forces then keep their own value as both ends of the signal's part */
  }
  out->trip_force_side = force_of(d, side, out, &budget);
  out->trip_force_axial = force_of(d, &a->measure[TW_M_trip_force_axial], out, &budget);
  out->has_azimuth = side->state == TW_MEASURE_OK && side->has_at;
  out->azimuth_deg = side->at_deg;
  if (side->state == TW_MEASURE_OK && side->has_least && side->value > 0.0) {
    const double scale = side->least / side->value;
    out->trip_force_least = tw_bench_times(&out->trip_force_side, scale, scale, scale);
  } else {
    out->trip_force_least = tw_bench_unknown("%.150s", out->trip_force_side.why);
  }
}

tw_status tw_bench_inputs_from(const tw_design *design, const tw_probe *probe,
                               const tw_assessment *assessment,
                               const tw_bench_instruments *instruments, tw_bench_inputs *out,
                               tw_fault *fault)
{
  if (!design || !probe || !assessment || !instruments) {
    return tw_fail(fault, TW_INTERNAL, "", "", "a bench card needs a solved design");
  }
  const tw_bench_figure none = tw_bench_unknown("this probe has no disc");
  *out = (tw_bench_inputs){.board = probe->board,
                           .has_disc = probe->has_disc,
                           .capacitance_free = none,
                           .capacitance_mounted = none,
                           .resonance_free = none,
                           .resonance_mounted = none,
                           .resonance_loaded = none,
                           .charge_per_newton = none};
  if (probe->has_disc) {
    take_disc(design, probe, out);
  }
  if (probe->has_disc && probe->seat && probe->board.kind != TW_BOARD_CONTACT) {
    const tw_status status = take_releases(probe, instruments, out, fault);
    if (status != TW_OK) {
      return status;
    }
  }
  out->has_preload_scale = tw_design_choice(design, TW_F_seat_kind) != TW_SEAT_BONDED &&
                           tw_design_choice(design, TW_F_seat_kind) >= 0;
  out->preload = preload_of(design, probe);
  take_forces(design, assessment, out);
  return TW_OK;
}
