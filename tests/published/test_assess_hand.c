/* What a person gets on paper, with a pocket calculator and the formulas of any text book, for
 * three designs that are none of the examples: a long-reach pivot on a 27 mm disc, a large tripod
 * of opening contacts, a bonded stem with a charge amplifier. Each figure carries its formula. The
 * bound is 3 per cent unless a reason stands beside it; figures that the formula gives exactly are
 * held to 0.1 per cent.
 *
 * Sources: beams, Hertz contact, statics, RC circuits, Johnson noise (k = 1.380649e-23 J/K, SI
 * brochure 2019), Ohm's law and superposition: text book, from memory. */
#include "design_fixture.h"

#include "tripwright/assess.h"
#include "tripwright/probe.h"

#define PI        3.14159265358979323846
#define BOLTZMANN 1.380649e-23  /* J/K, SI brochure 2019, exact */
#define VACUUM    8.8541878e-12 /* F/m, CODATA 2018 */
#define GRAVITY   9.80665       /* m/s2, CGPM 1901 */

static const char long_pivot[] =
    "design: long reach\n"
    "disc: {metal_diameter: 27 mm, metal_thickness: 0.3 mm, ceramic_diameter: 19.7 mm,\n"
    "       ceramic_thickness: 0.22 mm, electrode_diameter: 19.7 mm, contact_face: ceramic,\n"
    "       poling: plus, metal: brass, ceramic: pzt_5a}\n"
    "support: {kind: ledge, ledge_radius: 12.8 mm, void_depth: 300 um}\n"
    "seat: {kind: pivot, ball_radius: 6 mm, flat_radius: 5 mm, flat_height: 0 mm, friction: 0,\n"
    "       socket_angle: 45 deg, contact: points 3}\n"
    "preload: {force: 1.5 N}\n"
    "stylus: {reach: 90 mm, stem: steel, stem_diameter: 3 mm, stem_length: 80 mm,\n"
    "         ball_diameter: 4 mm, ball: ruby}\n"
    "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_cmos_pp,\n"
    "          bias_resistance: 4M7, bias_upper: 100k, bias_lower: 33k, reference_upper: 68k,\n"
    "          reference_lower: 27k, feedback_resistance: 1M0, cable_capacitance: 470 pF,\n"
    "          input_capacitance: 10 pF, leakage_resistance: 200 Mohm}\n"
    "machine: {feed: 120 mm/min, acceleration: 1 m/s2, jerk: 1e5 m/s3, latency: 2 ms,\n"
    "          sampling_interval: 1 ms, approach_feed: 600 mm/min}\n"
    "housing: {tip_offset: 12 um}\n";

static const char large_tripod[] =
    "design: large tripod\n"
    "seat: {kind: tripod, contact: flat, pitch_radius: 20 mm, friction: 1, opening_force: 0.03 N,\n"
    "       spring_rate: 0.2 N/mm, azimuth: 0 deg, contact_stiffness: 5 N/um}\n"
    "preload: {force: 2.4 N}\n"
    "stylus: {reach: 100 mm, stem_diameter: 3 mm, ball_diameter: 5 mm}\n"
    "circuit: {kind: contact, supply: 12 V, contact_pull_up: 2k2, contact_threshold: 10k,\n"
    "          contact_resistance: 2 ohm}\n"
    "output: {kind: push_pull, active: high}\n"
    "link: {kind: radio, battery_capacity: 200 mAh, current_ready: 2 mA, share_ready: 0.25,\n"
    "       current_asleep: 0 uA}\n";

static const char bonded_charge[] =
    "design: bonded stem, charge amplifier\n"
    "disc: {metal_diameter: 20 mm, metal_thickness: 0.2 mm, ceramic_diameter: 14 mm,\n"
    "       ceramic_thickness: 0.22 mm, electrode_diameter: 14 mm, contact_face: metal,\n"
    "       poling: plus, metal: brass, ceramic: pzt_5a}\n"
    "support: {kind: rim, void_depth: 400 um}\n"
    "seat: {kind: bonded, bond_radius: 1.5 mm, carrier_mass: 1 g}\n"
    "stylus: {reach: 25 mm, stem: steel, stem_diameter: 1.5 mm, stem_length: 25 mm,\n"
    "         ball_diameter: 2 mm}\n"
    "circuit: {kind: charge, supply: 5 V, amplifier: comparator_cmos_pp,\n"
    "          stage: opamp_bipolar_single, charge_capacitance: 22 nF, charge_resistance: 2M2,\n"
    "          bias_upper: 100k, bias_lower: 100k, reference_upper: 100k, reference_lower: 82k,\n"
    "          feedback_resistance: 2M2, polarity: falling}\n";

typedef struct paper {
  tw_design *design;
  tw_probe *probe;
  tw_assessment all;
} paper;

static void lay_down(paper *p, const char *text)
{
  tw_fault fault = {0};
  p->design = good_design(text, TW_NEED_ALL);
  tw_assess_options options = tw_assess_defaults();
  options.map = false;
  if (tw_assess(p->design, &options, &p->all, &fault) != TW_OK ||
      tw_probe_new(p->design, &p->probe, &fault) != TW_OK) {
    fail_msg("%s (%s)", fault.text, fault.field);
  }
}

static void put_away(paper *p)
{
  tw_probe_free(p->probe);
  tw_design_free(p->design);
}

static double of(const paper *p, tw_measure_id id)
{
  assert_string_equal(tw_measure_state_text(p->all.measure[id].state), "ok");
  return p->all.measure[id].value;
}

static double part(const paper *p, tw_measure_id id, const char *cause)
{
  const tw_measure *m = &p->all.measure[id];
  for (int i = 0; i < m->contributions; i++) {
    if (strcmp(m->contribution[i].cause, cause) == 0) {
      return m->contribution[i].value;
    }
  }
  fail_msg("%s has no part %s", tw_measure_about(id)->name, cause);
  return 0;
}

static double parallel(double a, double b)
{
  return a * b / (a + b);
}

/* 1 to 4: the divider with a leaking node; superposition at the tap with the output at a rail */
static void test_levels_of_the_comparator(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, long_pivot);
  const tw_circuit *c = &p.probe->circuit;
  const double source = 5.0 * 33 / (100 + 33); /* V, 1.2406 */
  assert_rel(c->bias_voltage, source, 1e-3);
  const double up_to_node = 4.7e6 + parallel(100e3, 33e3);
  assert_rel(c->rest_node, source * 200e6 / (200e6 + up_to_node), 1e-3);
  /* tap = (V/68k + Vout/1M)/(1/68k + 1/27k + 1/1M), the output the part's drop from its rail */
  const double all = 1 / 68e3 + 1 / 27e3 + 1 / 1e6;
  const tw_amplifier *sheet = &p.probe->board.comparator;
  assert_rel(c->trip, (5 / 68e3 + (5 - sheet->high_drop) / 1e6) / all, 1e-3);
  assert_rel(c->release, (5 / 68e3 + sheet->low_drop / 1e6) / all, 1e-3);
  assert_rel(of(&p, TW_M_threshold_voltage), c->trip - c->rest_node, 1e-6);
  put_away(&p);
}

/* 5 to 8: capacitances side by side; R C; sqrt(kT/C); two knocks an e-fold apart */
static void test_node(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, long_pivot);
  const double node = of(&p, TW_M_capacitance_mounted) + 480e-12;
  assert_rel(p.probe->circuit.capacitance, node, 1e-3);
  const double leak = parallel(4.7e6 + parallel(100e3, 33e3), 200e6);
  assert_rel(p.probe->circuit.time_constant, leak * node, 1e-3);
  tw_circuit_noise noise;
  tw_fault fault = {0};
  assert_int_equal(tw_circuit_noise_of(&p.probe->board, 1e-3, 1e7, &noise, &fault), TW_OK);
  assert_rel(noise.thermal, sqrt(BOLTZMANN * p.probe->board.temperature / node), 0.03);
  double seconds = 0;
  assert_int_equal(tw_circuit_hold_time(&p.probe->circuit, exp(1) * p.probe->circuit.rearm_voltage,
                                        &seconds, &fault),
                   TW_OK);
  assert_rel(seconds, leak * node, 1e-3);
  put_away(&p);
}

/* 9 and 10: eps0 eps A/t, free of stress, is the most a thin ceramic can have, and a metal plate
 * that holds its face leaves between (1 - kp^2) and 1 of it; kp = 0.6 for soft ceramics */
static void test_capacitance(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, long_pivot);
  const double free_of_stress = 1700 * VACUUM * PI * 9.85e-3 * 9.85e-3 / 0.22e-3;
  const double mounted = of(&p, TW_M_capacitance_mounted);
  assert_true(mounted < free_of_stress && mounted > (1 - 0.6 * 0.6) * free_of_stress);
  /* V = Q/C, at the node with all that hangs on it */
  assert_rel(of(&p, TW_M_voltage_per_newton), of(&p, TW_M_charge_per_newton) / (mounted + 480e-12),
             1e-3);
  put_away(&p);
}

/* 11 and 12: a cantilever's F L^3/(3 E I); Hertz, (F/K)^(2/3) with K = 4/3 E* sqrt(r) */
static void test_stem_and_tip(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, long_pivot);
  const double force = p.all.measure[TW_M_trip_force_side].value;
  const double inertia = PI * pow(3e-3, 4) / 64;
  const double bend = pow(80e-3, 3) / (3 * 200e9 * inertia);
  assert_rel(1 / p.probe->stylus.side_stiffness, bend, 0.03);
  const double steel = (1 - 0.3 * 0.3) / 200e9, ruby = (1 - 0.28 * 0.28) / 373e9;
  const double hertz =
      4.0 / 3 /
      (p.probe->stylus_spec.work_young > 0
           ? (1 - pow(p.probe->stylus_spec.work_poisson, 2)) / p.probe->stylus_spec.work_young +
                 ruby
           : steel + ruby) *
      sqrt(2e-3);
  assert_rel(p.probe->stylus.hertz, hertz, 0.01);
  assert_rel(part(&p, TW_M_pretravel_side, "stem"), force * bend, 0.03);
  assert_rel(part(&p, TW_M_pretravel_side, "tip contact"), pow(force / hertz, 2.0 / 3), 0.03);
  put_away(&p);
}

/* 13: the first point of a flat under 1.5 N on three points at 5 mm lifts when the tilting moment
 * F h takes W/3 from it: the load of point k is W/3 + (2/3)(F h/r) cos(a - a_k), so F = W r/(2 h)
 * towards a point's opposite side; the largest over the sides stays under twice that */
static void test_dead_zone_of_the_pivot(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, long_pivot);
  const double least = 1.5 * 5e-3 / (2 * 90e-3); /* N, 0.0417 */
  const double dead = part(&p, TW_M_trip_force_side, "dead zone");
  assert_true(dead > least * 0.97 && dead < 2 * least * 1.03);
  assert_rel(p.all.measure[TW_M_trip_force_side].least, least, 0.12); /* threshold on top */
  put_away(&p);
}

/* 14 to 17: a flat tripod that does not slide: seat k carries W/3 + (2/3)(F h/r) cos(a - a_k); the
 * first opens where one comes down to f: F = (W/3 - f) 3 r/(2 h) at best, twice that where two
 * seats are let go alike (cos = 1/2); along the axis W - F = 3 f. W is the preload and the weight
 * of the carrier (5 g) and of a carbide stem and ruby ball that hang in it */
static void test_tripod(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, large_tripod);
  const double stem = 14900 * PI / 4 * 3e-3 * 3e-3 * 100e-3; /* kg */
  const double ball = 3980 * PI / 6 * pow(5e-3, 3);
  const double load = 2.4 + GRAVITY * (5e-3 + stem + ball);
  const double best = (load / 3 - 0.03) * 1.5 * 20e-3 / 100e-3; /* N, 0.247 */
  assert_rel(p.all.measure[TW_M_trip_force_side].least, best, 0.03);
  assert_rel(of(&p, TW_M_trip_force_side), 2 * best, 0.03);
  assert_rel(of(&p, TW_M_trip_force_axial), load - 3 * 0.03, 0.03);
  /* the contact's current: 12 V over the pull-up and the closed chain; leads are left out */
  assert_rel(p.probe->circuit.contact_closed_current, 12 / (2200.0 + 2), 3e-3);
  /* 200 mAh, awake for a quarter of the time: 2 mA of the radio and 5.45 mA of the chain */
  assert_rel(of(&p, TW_M_battery_life), 200e-3 * 3600 / (0.25 * (2e-3 + 5.45e-3)), 0.01);
  put_away(&p);
}

/* 18: Q/C_f; 19: R_f C_f; 20: axial stiffness E A/L of the stem; 21: twice the offset */
static void test_charge_amplifier_and_the_rest(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, bonded_charge);
  assert_rel(fabs(p.probe->circuit.charge_gain), 1 / 22e-9, 1e-3);
  assert_rel(p.probe->circuit.time_constant, 2.2e6 * 22e-9, 1e-3);
  assert_rel(p.probe->stylus.axial_stiffness, 200e9 * PI * 0.75e-3 * 0.75e-3 / 25e-3, 0.03);
  put_away(&p);
  lay_down(&p, long_pivot);
  assert_rel(of(&p, TW_M_tip_runout), 2 * 12e-6, 1e-6);
  put_away(&p);
}

/* 22: from 600 mm/min at 1 m/s2 (the jerk is no limit): v^2/(2 a) = 50 um, and 10 um for each
 * millisecond of latency and sampling, behind the pretravel */
static void test_overtravel(void **state)
{
  (void)state;
  paper p;
  lay_down(&p, long_pivot);
  const double v = 0.010;
  const double stop = v * v / (2 * 1.0) + v * (2e-3 + 1e-3);
  assert_rel(of(&p, TW_M_overtravel_side), stop + p.all.measure[TW_M_pretravel_side].value, 0.05);
  put_away(&p);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_levels_of_the_comparator),
      cmocka_unit_test(test_node),
      cmocka_unit_test(test_capacitance),
      cmocka_unit_test(test_stem_and_tip),
      cmocka_unit_test(test_dead_zone_of_the_pivot),
      cmocka_unit_test(test_tripod),
      cmocka_unit_test(test_charge_amplifier_and_the_rest),
      cmocka_unit_test(test_overtravel),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
