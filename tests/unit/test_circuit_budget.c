/* Error budget, noise, overload and feed bounds of whole boards (docs/models/circuit.md 4, 5). */
#include "near.h"

#include "circuit_cases.h"

#include <string.h>

static tw_circuit_budget budget(const tw_circuit_spec *s)
{
  tw_circuit_budget b;
  tw_fault fault = {0};
  const tw_status status = tw_circuit_budget_of(s, &b, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return b;
}

/* T9, T10: only the reference's three resistors decide where the comparator switches, so the
 * board's corners are theirs */
static void test_trip_corners(void **state)
{
  (void)state;
  tw_circuit_spec s = case_direct(0.0);
  tw_circuit_tolerances(&s, 0.01, 0, 0, 0);
  tw_circuit_budget b = budget(&s);
  assert_printed(b.trip_low, 1.023658, 1e-6);
  assert_printed(b.trip_high, 1.056508, 1e-6);
  tw_circuit_tolerances(&s, 0.05, 0, 0, 0);
  b = budget(&s);
  assert_printed(b.trip_low, 0.960178, 1e-6);
  assert_printed(b.trip_high, 1.124558, 1e-6);
}

/* worst case against all corners counted out: five resistors, the supply, the bias current */
static void test_worst_is_the_corner(void **state)
{
  (void)state;
  tw_circuit_spec s = case_direct(20e-9);
  s.comparator.bias_least = 5e-9;
  s.comparator.bias_most = 30e-9;
  s.comparator.offset_limit = 3e-3;
  tw_circuit_tolerances(&s, 0.02, 0.1, 0.05, 0.01);
  const tw_circuit_budget b = budget(&s);
  double low = INFINITY, high = -INFINITY, rearm = INFINITY;
  for (int i = 0; i < 512; i++) {
    tw_circuit_spec t = s;
#define SIDE(bit) ((i >> (bit)) & 1 ? 1.0 : -1.0)
    t.supply *= 1 + 0.05 * SIDE(0);
    t.bias_top *= 1 + 0.02 * SIDE(1);
    t.bias_bottom *= 1 + 0.02 * SIDE(2);
    t.bias_resistance *= 1 + 0.02 * SIDE(3);
    t.reference.top *= 1 + 0.02 * SIDE(4);
    t.reference.bottom *= 1 + 0.02 * SIDE(5);
    t.reference.feedback *= 1 + 0.02 * SIDE(6);
    t.comparator.bias_current = SIDE(7) > 0 ? 30e-9 : 5e-9;
    t.comparator.offset = 3e-3 * SIDE(8);
    tw_circuit c;
    assert_int_equal(tw_circuit_solve(&t, &c, NULL), TW_OK);
    low = fmin(low, c.threshold_voltage);
    high = fmax(high, c.threshold_voltage);
    rearm = fmin(rearm, c.rearm_voltage);
  }
  assert_near(b.worst_low, low, 1e-12);
  assert_near(b.worst_high, high, 1e-12);
  assert_near(b.rearm_low, rearm, 1e-12);
  assert_rel(b.least_margin, low / b.nominal, 1e-12);
  /* the capacitances move charge and force, not the voltage */
  assert_near(b.down[TW_CIRCUIT_CAUSE_CAPACITANCE], 0.0, 0.0);
}

/* B5: 7 mV of offset and 250 nA through 1M: 257 mV at the input of the gain stage */
static void test_b5(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.front.bias_current = s.front.bias_least = 0.0;
  s.front.bias_most = 250e-9;
  s.front.offset_limit = 7e-3;
  const tw_circuit_budget b = budget(&s);
  assert_near(b.down[TW_CIRCUIT_CAUSE_BIAS], 0.250, 1e-12);
  assert_near(b.down[TW_CIRCUIT_CAUSE_OFFSET], 0.007, 1e-12);
  assert_near(b.nominal - b.worst_low, 0.257, 1e-12);
  assert_near(b.rss, hypot(0.250, 0.007), 1e-12);
  assert_true(b.worst_low < 0.0);
  bool flags[TW_FLAG_COUNT];
  assert_int_equal(tw_circuit_warn(&s, 0.0, flags, NULL), TW_OK);
  assert_true(flags[TW_FLAG_BUDGET]);
}

/* slow drift, docs/models/circuit.md 4: 46 nC/K at 0.1 K/s on 10M is 46 mV */
static void test_drift(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.bias_resistance = 10e6;
  s.front = case_bipolar(0.0);
  s.charge_per_kelvin = 46e-9;
  s.temperature_rate = 0.1;
  const tw_circuit_budget b = budget(&s);
  assert_near(b.drift_voltage, 46e-3, 1e-12);
  assert_near(b.down[TW_CIRCUIT_CAUSE_DRIFT], 46e-3, 1e-12);
  assert_near(b.up[TW_CIRCUIT_CAUSE_DRIFT], 46e-3, 1e-12);
  /* a charge amplifier shows it at its output through its own resistor */
  tw_circuit_spec q = case_charge();
  q.charge_per_kelvin = 46e-9;
  q.temperature_rate = 0.1;
  assert_near(budget(&q).down[TW_CIRCUIT_CAUSE_DRIFT], 46e-3, 1e-12);
  /* a contact does not drift */
  tw_circuit_spec k = case_contact();
  k.charge_per_kelvin = 46e-9;
  k.temperature_rate = 0.1;
  assert_near(budget(&k).drift_voltage, 0.0, 0.0);
}

/* clamp leakage and bias act on the same resistance; levels, temperature and gain have their own
 * names */
static void test_named_causes(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.clamped = true;
  s.clamp_low = -0.6;
  s.clamp_high = 5.6;
  s.clamp_leakage = 2e-9;
  s.comparator.high_drop_limit = 1.6;
  s.front.offset_drift = 10e-6;
  s.temperature_span = 15;
  s.resistor_drift = 100e-6;
  s.bounds[TW_VALUE_GAIN] = (tw_value_bounds){0.1, 0.1};
  s.bounds[TW_VALUE_BIAS_VOLTAGE] = (tw_value_bounds){0.01, 0.01};
  const tw_circuit_budget b = budget(&s);
  assert_near(b.down[TW_CIRCUIT_CAUSE_LEAKAGE], 2e-3, 1e-12);
  tw_circuit nominal;
  assert_int_equal(tw_circuit_solve(&s, &nominal, NULL), TW_OK);
  assert_near(b.down[TW_CIRCUIT_CAUSE_LEVELS], 0.1 * nominal.rising.share[1] / 10.1, 1e-12);
  assert_near(b.up[TW_CIRCUIT_CAUSE_LEVELS], 0.0, 0.0);
  /* a bias moved by 10 mV shifts node and gain leg alike, so it is not amplified */
  assert_near(b.down[TW_CIRCUIT_CAUSE_REFERENCE], 0.01 / 10.1, 1e-12);
  assert_true(b.down[TW_CIRCUIT_CAUSE_TEMPERATURE] > 150e-6);
  assert_true(b.down[TW_CIRCUIT_CAUSE_GAIN] > 0.0);
  for (int i = 0; i < TW_CIRCUIT_CAUSE_COUNT; i++) {
    assert_true(strlen(tw_circuit_cause_text((tw_circuit_cause)i)) > 2);
  }
}

/* a supply whose lower end leaves the part's range is told, not refused */
static void test_supply_range(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.front.supply_least = 4.9;
  tw_circuit_tolerances(&s, 0, 0, 0.01, 0);
  assert_true(budget(&s).supply_within);
  tw_circuit_tolerances(&s, 0, 0, 0.05, 0);
  assert_false(budget(&s).supply_within);
}

/* ---- noise
 * ------------------------------------------------------------------------------------------ */

static void test_noise(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.front.voltage_noise = 40e-9;
  s.front.current_noise = 0.07e-12;
  tw_circuit_noise n;
  assert_int_equal(tw_circuit_noise_of(&s, 0.0, 1e9, &n, NULL), TW_OK);
  /* N2, N9, N7 of docs/models/touch.md 4; the stage's pole takes 5e-5 of the first two */
  assert_rel(n.thermal, 0.455079e-6, 1e-4);
  assert_rel(n.shot, 0.283035e-6, 1e-4);
  assert_rel(n.voltage, 13.198e-6, 1e-4);
  assert_rel(n.current, 0.07e-12 * 1e6 * sqrt(0.25 / (1e6 * 20e-9)), 1e-4);
  assert_rel(
      n.total,
      sqrt(n.thermal * n.thermal + n.shot * n.shot + n.voltage * n.voltage + n.current * n.current),
      1e-12);
  assert_true(n.voltage_stated);
  /* thermal noise does not know the resistor */
  s.bias_resistance = 10e6;
  tw_circuit_noise m;
  s.front = case_bipolar(0.0);
  assert_int_equal(tw_circuit_noise_of(&s, 0.0, 1e9, &m, NULL), TW_OK);
  assert_rel(m.thermal, n.thermal, 1e-4);
  assert_false(m.voltage_stated);
  assert_near(m.voltage, 0.0, 0.0);
  /* a charge amplifier: sqrt(kT/Cf) at its output, and its own noise times 1 + Cs/Cf */
  tw_circuit_spec q = case_charge();
  q.front.voltage_noise = 40e-9;
  assert_int_equal(tw_circuit_noise_of(&q, 0.0, 1e9, &m, NULL), TW_OK);
  assert_rel(m.thermal, tw_noise_ktc(2.2e-9, 300), 1e-6);
  assert_rel(m.voltage, 40e-9 * (1 + 20 / 2.2) * sqrt(0.5 * acos(-1.0) * 0.7e6 * 2.2 / 22.2), 1e-3);
  tw_fault fault = {0};
  assert_int_equal(tw_circuit_noise_of(&q, 10.0, 10.0, &m, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_circuit_noise_of(&q, 0.0, INFINITY, &m, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_circuit_noise_of(&q, -1.0, 10.0, &m, &fault), TW_BAD_INPUT);
}

/* ---- a knock
 * ---------------------------------------------------------------------------------------- */

/* 10 to 20 V per newton on a bare disc: 5 N are 50 V at 10 V/N */
static void test_knock(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.charge_per_newton = 200e-9;
  s.clamped = true;
  s.clamp_low = -0.6;
  s.clamp_high = 5.6;
  s.series_resistance = 10e3;
  s.front = case_bipolar(0.0);
  tw_circuit_knock k;
  assert_int_equal(tw_circuit_overload(&s, 5.0, &k, NULL), TW_OK);
  assert_near(k.volt_per_newton, 10.0, 1e-9);
  assert_near(k.open_voltage, 50.0, 1e-9);
  assert_true(k.limited && k.clamp_current_known);
  assert_near(k.held_voltage, 5.6 - 1.0, 1e-12); /* from a rest of 1.0 V to the clamp */
  assert_near(k.clamp_current, (50.0 - 4.6) / 10e3, 1e-12);
  assert_near(k.limit_force, 0.46, 1e-12);
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  /* tau ln(V_clamp / V_T) */
  assert_rel(k.recovery, 20e-3 * log(4.6 / c.threshold_voltage), 1e-12);
  bool flags[TW_FLAG_COUNT];
  s.clamp_current = 5e-3;
  assert_int_equal(tw_circuit_warn(&s, 5.0, flags, NULL), TW_OK);
  assert_false(flags[TW_FLAG_CLAMP_CURRENT] || flags[TW_FLAG_UNCLAMPED]);
  s.clamp_current = 4e-3;
  assert_int_equal(tw_circuit_warn(&s, 5.0, flags, NULL), TW_OK);
  assert_true(flags[TW_FLAG_CLAMP_CURRENT]);
  s.series_resistance = 0.0; /* nothing limits the clamp's current: no number, but a warning */
  assert_int_equal(tw_circuit_overload(&s, 5.0, &k, NULL), TW_OK);
  assert_false(k.clamp_current_known);
  assert_near(k.clamp_current, 0.0, 0.0);
  s.clamped = false;
  assert_int_equal(tw_circuit_overload(&s, 5.0, &k, NULL), TW_OK);
  assert_false(k.limited);
  assert_near(k.held_voltage, 50.0, 1e-9);
  assert_int_equal(tw_circuit_warn(&s, 5.0, flags, NULL), TW_OK);
  assert_true(flags[TW_FLAG_UNCLAMPED]);
  /* a touch that stays small needs no clamp */
  assert_int_equal(tw_circuit_warn(&s, 0.05, flags, NULL), TW_OK);
  assert_false(flags[TW_FLAG_UNCLAMPED]);
}

/* a charge amplifier beyond its limit: against a fine stepping of its two states */
static void test_charge_recovery(void **state)
{
  (void)state;
  tw_circuit_spec s = case_charge();
  s.front = case_bipolar(0.0);
  s.bias_voltage = 1.2;
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  const double room = 3.5 - 1.2;
  for (double force = 1.0; force < 50.0; force *= 3.0) {
    tw_circuit_knock k;
    assert_int_equal(tw_circuit_overload(&s, force, &k, NULL), TW_OK);
    /* e: the - input's distance from the + input, v: the output's change from rest */
    const double charge = 2e-9 * force, both = 22.2e-9, dt = 1e-6;
    double e = fmax(0.0, (charge - room * 2.2e-9) / both), v = fmin(room, charge / 2.2e-9), t = 0.0;
    while (v > c.threshold_voltage && t < 10.0) {
      if (e > 0.0) {
        e -= (e + room) / (10e6 * both) * dt;
      } else {
        v -= v / (10e6 * 2.2e-9) * dt;
      }
      t += dt;
    }
    assert_near(k.recovery, t, 2e-5 + 1e-3 * t);
    assert_int_equal(k.limited, charge > room * 2.2e-9);
  }
}

static void test_hold_time(void **state)
{
  (void)state;
  const tw_circuit_spec s = case_gain();
  tw_circuit c;
  double t = -1.0;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_int_equal(tw_circuit_hold_time(&c, 0.160, &t, NULL), TW_OK);
  assert_rel(t, 20e-3 * log(0.160 / c.rearm_voltage), 1e-12);
  /* already under the release */
  assert_int_equal(tw_circuit_hold_time(&c, 0.5 * c.rearm_voltage, &t, NULL), TW_OK);
  assert_near(t, 0.0, 0.0);
  tw_fault fault = {0};
  assert_int_equal(tw_circuit_hold_time(&c, NAN, &t, &fault), TW_BAD_INPUT);
  c.rearm = TW_REARM_STUCK;
  assert_int_equal(tw_circuit_hold_time(&c, 0.160, &t, &fault), TW_NO_ANSWER);
  assert_string_equal(fault.field, "circuit.reference_lower");
}

static void test_feeds(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.front.bias_most = 250e-9;
  tw_feed_bounds f;
  assert_int_equal(tw_circuit_feeds(&s, 2e-9 * 1e5 / 3, 0.1, &f, NULL), TW_OK);
  assert_printed(f.slowest * 60e3, 14.70, 0.01);
  assert_near(f.bias * 60e3, 225.0, 1e-9); /* S7: no resistor moves it */
  assert_rel(f.calibrate / f.slowest, 5.677, 1e-4);
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_rel(f.travel, c.threshold_charge / (2e-9 * 1e5 / 3), 1e-12);
  s.bias_resistance = 10e6;
  s.front.bias_current = 0.0;
  s.bias_voltage = 1.202; /* rests where it did */
  assert_int_equal(tw_circuit_feeds(&s, 2e-9 * 1e5 / 3, 0.1, &f, NULL), TW_OK);
  assert_near(f.bias * 60e3, 225.0, 1e-9);
  assert_printed(f.slowest * 60e3, 1.47, 0.01);
  tw_fault fault = {0};
  assert_int_equal(tw_circuit_feeds(&s, 0.0, 0.1, &f, &fault), TW_BAD_INPUT);
  s.bias_voltage = 2.0;
  assert_int_equal(tw_circuit_feeds(&s, 1e-4, 0.1, &f, &fault), TW_NO_ANSWER);
  const tw_circuit_spec k = case_contact();
  assert_int_equal(tw_circuit_feeds(&k, 0.0, 0.1, &f, &fault), TW_OK);
  assert_near(f.slowest, 0.0, 0.0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_trip_corners),
      cmocka_unit_test(test_worst_is_the_corner),
      cmocka_unit_test(test_b5),
      cmocka_unit_test(test_drift),
      cmocka_unit_test(test_named_causes),
      cmocka_unit_test(test_supply_range),
      cmocka_unit_test(test_noise),
      cmocka_unit_test(test_knock),
      cmocka_unit_test(test_charge_recovery),
      cmocka_unit_test(test_hold_time),
      cmocka_unit_test(test_feeds),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
