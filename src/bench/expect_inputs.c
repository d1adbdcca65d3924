/* expect_inputs.c: the card's inputs from a solved probe and its assessment.
 *
 * Spreads: what was measured keeps the tolerance stated with it (2 % when none is); what comes from
 * model and catalogue has the scatter of bought discs: that of disc.capacitance_factor, 10 % in
 * resonance, and the charge that goes with the capacitance (docs/models/bench.md).
 */
#include "expect.h"
#include "tripwright/constants.h"

#include <math.h>
#include <stdio.h>

#define SCATTER_RESONANCE 0.10
#define SCATTER_PRELOAD   0.10 /* of a force that is given without tolerance: own estimate */
#define SCATTER_FRICTION  0.50 /* friction is the least known input: own estimate */
#define SCATTER_MEASURED  0.02

static double radians(double degrees)
{
  return degrees * TW_PI / 180.0;
}

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

/* the charge goes with the capacitance, unless a push was measured (docs/models/disc.md 3a) */
static void take_charge(const tw_design *d, const tw_disc_measures *m, tw_bench_inputs *out)
{
  const bool measured = tw_design_has(d, TW_F_measured_charge_per_newton);
  const double left = measured ? part_of(d, TW_F_measured_charge_per_newton, SCATTER_MEASURED)
                               : part_of(d, TW_F_disc_charge_factor, 0.0);
  out->charge_exponent = measured ? 0.0 : TW_DISC_CHARGE_EXPONENT;
  out->charge_left[0] = 1.0 - left;
  out->charge_left[1] = 1.0 + left;
  out->charge_per_newton = tw_bench_unknown(
      "%.150s", m->charge_per_newton.why_not ? m->charge_per_newton.why_not : "not known");
  const tw_bench_figure *c = &out->capacitance_mounted;
  if (m->charge_per_newton.known && c->known && c->value > 0.0) {
    const double q = fabs(m->charge_per_newton.value);
    out->charge_per_newton =
        tw_bench_figure_of(q, q * (1.0 - left) * pow(c->low / c->value, out->charge_exponent),
                           q * (1.0 + left) * pow(c->high / c->value, out->charge_exponent));
  }
}

static void take_disc(const tw_design *d, const tw_probe *probe, tw_bench_inputs *out)
{
  const tw_disc_measures *m = &probe->disc_measures;
  const double scatter = part_of(d, TW_F_disc_capacitance_factor, 0.0);
  out->capacitance_free = of_disc(d, &m->capacitance_free, TW_F_measured_capacitance, scatter);
  out->capacitance_mounted = of_disc(d, &m->capacitance_mounted,
                                     tw_design_has(d, TW_F_measured_capacitance_mounted)
                                         ? TW_F_measured_capacitance_mounted
                                         : TW_F_measured_capacitance,
                                     scatter);
  out->resonance_free =
      of_disc(d, &m->resonance_free, TW_F_measured_resonance_free, SCATTER_RESONANCE);
  out->resonance_mounted =
      of_disc(d, &m->resonance_mounted, TW_F_measured_resonance_mounted, SCATTER_RESONANCE);
  out->resonance_loaded =
      of_disc(d, &m->resonance_loaded, TW_F_measured_resonance_mounted, SCATTER_RESONANCE);
  take_charge(d, m, out);
}

/* the friction that the design's seat has, whichever of the two is less known */
static double friction_of(const tw_design *d)
{
  const double socket = part_of(d, TW_F_seat_friction_socket, SCATTER_FRICTION),
               flat = part_of(d, TW_F_seat_friction_flat, SCATTER_FRICTION);
  return fmin(1.0, fmax(socket, flat));
}

/* a spring or foam that gives way takes a share of the force with it */
static tw_bench_figure relaxed(const tw_design *d, tw_bench_figure f)
{
  const double gone = tw_design_number_or(d, TW_F_preload_relaxation, 0.0);
  const tw_tolerance t = tw_design_tolerance(d, TW_F_preload_relaxation);
  if (t.given && gone < 1.0) {
    f.low *= fmax(0.0, 1.0 - gone - t.plus) / (1.0 - gone);
    f.high *= fmin(1.0, 1.0 - gone + t.minus) / (1.0 - gone);
  }
  return f;
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
  return relaxed(d, spread(force, part_of(d, TW_F_preload_force, SCATTER_PRELOAD)));
}

static tw_bench_figure force_of(const tw_measure *m)
{
  if (m->state != TW_MEASURE_OK) {
    return tw_bench_unknown("%.150s", m->note[0] ? m->note : tw_measure_state_text(m->state));
  }
  return m->has_band ? tw_bench_figure_of(m->value, m->band[0], m->band[1])
                     : tw_bench_figure_of(m->value, m->value, m->value);
}

/* why there is no weight where the assessment found no force */
static void or_why(const tw_bench_figure *force, tw_bench_pull *pull)
{
  if (!pull->known && !pull->why[0]) {
    snprintf(pull->why, sizeof pull->why, "%s", force->why);
  }
}

/* share of the least weight by which a weight is above it, and still counts as it */
#define ABOVE 0.05

/* A plate, sideways, and a tripod are held by their spring alone once they have begun to tip: the
 * excess of the weight moves their mass, x = F/m t^2/2. Other seats follow at once. */
static void take_turning(const tw_design *d, const tw_probe *probe, tw_bench_inputs *out)
{
  const int family = tw_design_choice(d, TW_F_seat_kind);
  for (int i = 0; i < TW_BENCH_PULLS; i++) {
    const bool axial = i == TW_BENCH_PULL_AXIAL;
    tw_bench_pull *pull = &out->pull[i];
    if (!pull->known || !(family == TW_SEAT_TRIPOD || (family == TW_SEAT_PLATE && !axial))) {
      continue;
    }
    double tip, carrier;
    tw_probe_masses(d, probe, axial ? radians(90.0) : 0.0, &tip, &carrier);
    pull->turning =
        sqrt(2.0 * (tip + carrier) * pull->rubbed.travel / (ABOVE * pull->rubbed.opens));
  }
}

static tw_status take_forces(const tw_design *d, const tw_probe *probe, const tw_assessment *a,
                             const tw_bench_instruments *with, tw_bench_inputs *out,
                             tw_fault *fault)
{
  const tw_measure *side = &a->measure[TW_M_trip_force_side];
  out->trip_force_side = force_of(side);
  out->trip_force_axial = force_of(&a->measure[TW_M_trip_force_axial]);
  out->has_azimuth = side->state == TW_MEASURE_OK && side->has_at;
  out->azimuth_deg = side->at_deg;
  out->friction = friction_of(d);
  const bool both = side->state == TW_MEASURE_OK && side->has_least && side->value > 0.0;
  const double scale = both ? side->least / side->value : 0.0;
  out->trip_force_least = both ? tw_bench_times(&out->trip_force_side, scale, scale, scale)
                               : tw_bench_unknown("%.150s", out->trip_force_side.why);
  tw_status status = TW_OK;
  if (probe->seat && probe->trouble.status == TW_OK) {
    const double azimuth[2] = {radians(side->at_deg), radians(side->least_at_deg)};
    status = tw_bench_take_pulls(probe, with, azimuth, both && out->has_azimuth, out, fault);
    take_turning(d, probe, out);
  }
  or_why(&out->trip_force_side, &out->pull[TW_BENCH_PULL_SIDE]);
  or_why(&out->trip_force_least, &out->pull[TW_BENCH_PULL_LEAST]);
  or_why(&out->trip_force_axial, &out->pull[TW_BENCH_PULL_AXIAL]);
  return status;
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
  out->has_preload_scale = tw_design_choice(design, TW_F_seat_kind) != TW_SEAT_BONDED &&
                           tw_design_choice(design, TW_F_seat_kind) >= 0;
  out->preload = preload_of(design, probe);
  return take_forces(design, probe, assessment, instruments, out, fault);
}
