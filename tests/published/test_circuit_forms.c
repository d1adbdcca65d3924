/* Closed forms of node, noise, deciding and false trips against published figures (source beside
 * each) and the printed cases of docs/models/circuit.md 3 and docs/models/touch.md 4; [C] cases
 * there were computed twice, the published ones say where. */
#include "near.h"

#include "tripwright/circuit.h"

#include <string.h>

static double mm_per_min(double v)
{
  return v * 60e3;
}

/* ---- node ---------------------------------------------------------------------------------------
 */

/* piezo film technical manual p 38: 2.4 nF with 10 Mohm is 24 ms and 6.6 Hz, with 100 Mohm
 * 0.66 Hz */
static void test_piezo_film_manual(void **state)
{
  (void)state;
  assert_printed(10e6 * 2.4e-9, 24e-3, 1e-3);
  assert_printed(tw_rc_corner(10e6, 2.4e-9), 6.6, 0.1);
  assert_printed(tw_rc_corner(100e6, 2.4e-9), 0.66, 0.01);
  assert_printed(tw_rc_corner(10e6, 2.4e-9), 6.63146, 1e-5);
  assert_printed(tw_rc_corner(100e6, 2.4e-9), 0.663146, 1e-6);
}

/* textbook problem without a printed answer: 100 pF with 300 pF of cable on 1 Mohm || 50 pF, lowest
 * frequency for 5 % error, and the capacitor that brings it to 10 Hz */
static void test_textbook(void **state)
{
  (void)state;
  /* |H| = wt/sqrt(1 + wt^2) = 0.95 */
  const double wt = 0.95 / sqrt(1.0 - 0.95 * 0.95);
  assert_printed(wt * tw_rc_corner(1e6, 450e-12), 1076.04, 0.01);
  const double needed = wt / (2.0 * acos(-1.0) * 10.0 * 1e6);
  assert_printed((needed - 450e-12) * 1e9, 47.9719, 1e-4);
}

/* TI SLOA033A pp 3-4: capacitances add in voltage mode; 10 Mohm gives 60 uV of offset, so 6 pA; a
 * charge amplifier's corner is 1/(2 pi Rf Cf) */
static void test_application_report(void **state)
{
  (void)state;
  assert_near(6e-12 * 10e6, 60e-6, 1e-12);
  tw_circuit_spec s = tw_circuit_spec_default();
  s.disc_capacitance = 1e-9;
  s.cable_capacitance = 300e-12;
  s.bias_resistance = 20e6;
  s.leak_resistance = 20e6; /* Rp || Rb */
  s.reference = (tw_reference){.voltage = 1.0, .resistance = 1e3, .feedback = 1e6};
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_rel(c.corner, tw_rc_corner(10e6, 1.3e-9), 1e-12);
  s.kind = TW_BOARD_CHARGE;
  s.charge_capacitance = 2.2e-9;
  s.charge_resistance = 10e6;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_printed(c.corner, 7.23432, 1e-5);
  assert_rel(c.charge_gain, 1.0 / 2.2e-9, 1e-12);
}

/* published accelerometer conditioner: 60 pC/g on 1000 pF is 60 mV/g */
static void test_charge_sensitivity(void **state)
{
  (void)state;
  assert_near(tw_charge_amplifier_step(60e-12, 750e-12, 1000e-12, 1e9, 1e12, 0.0), -60e-3, 1e-9);
}

static void test_steps_and_ramps(void **state)
{
  (void)state;
  /* C1: 20 nC on 20 nF, 1M, at 5 ms */
  assert_printed(tw_rc_step(20e-9, 1e6, 20e-9, 5e-3), 0.778801, 1e-6);
  /* C3: K 0.02 C/m at 1 mm/s, 20 nF, 1M, at 100 us; it runs towards 20 V */
  assert_printed(tw_rc_ramp(0.02 * 1e-3, 1e6, 20e-9, 100e-6), 0.0997504, 1e-7);
  assert_near(tw_rc_ramp(0.02 * 1e-3, 1e6, 20e-9, 10.0), 20.0, 1e-12);
  /* C7 */
  assert_printed(tw_rc_corner(10e6, 8e-9), 1.98944, 1e-5);
  assert_printed(tw_rc_corner(100e3, 40e-9), 39.7887, 1e-4);
  /* C10: finite gain of 1e5, at 1 ms; ideal at the first moment -2.27273 V */
  assert_printed(tw_charge_amplifier_step(5e-9, 20e-9, 2.2e-9, 10e6, 1e5, 1e-3), -2.17152, 1e-5);
  assert_printed(tw_charge_amplifier_step(5e-9, 20e-9, 2.2e-9, 10e6, 1e12, 0.0), -2.27273, 1e-5);
}

/* C5, S1, S2: the slowest feed, the time and the place of the trip */
static void test_slow_feeds(void **state)
{
  (void)state;
  static const struct {
    double dv, n, k, r, c, v;
    double slowest_mm_min, ms, um, ratio, digit[4];
  } cases[] = {
      {0.05,
       2e-9,
       100e3 / 3,
       1e6,
       20e-9,
       0.1 / 60,
       45.0,
       11.9567,
       19.9279,
       1.32853,
       {1e-9, 1e-4, 1e-4, 1e-5}},
      {0.02,
       4e-9,
       100e3,
       470e3,
       22e-9,
       0.0005,
       6.38298,
       2.47363,
       1.23682,
       1.12438,
       {1e-5, 1e-5, 1e-5, 1e-5}},
      {0.19,
       0.002,
       1.0,
       1e6,
       10e-9,
       0.19e-3,
       0.095 * 60,
       6.93147,
       1.31698,
       1.386294361,
       {1e-9, 1e-5, 1e-5, 1e-9}},
  };
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    const double slope = cases[i].n * cases[i].k;
    const double slowest = tw_feed_slowest(cases[i].dv, cases[i].r, slope);
    double seconds = 0.0, ratio = 0.0;
    assert_int_equal(
        tw_feed_trip_time(cases[i].v, slowest, cases[i].r * cases[i].c, &seconds, NULL), TW_OK);
    assert_int_equal(tw_feed_ratio(cases[i].v, slowest, &ratio, NULL), TW_OK);
    assert_printed(mm_per_min(slowest), cases[i].slowest_mm_min, cases[i].digit[0]);
    assert_printed(seconds * 1e3, cases[i].ms, cases[i].digit[1]);
    assert_printed(cases[i].v * seconds * 1e6, cases[i].um, cases[i].digit[2]);
    assert_printed(ratio, cases[i].ratio, cases[i].digit[3]);
    /* pretravel over the fast one is that ratio */
    const double fast = cases[i].dv * cases[i].c / slope;
    assert_rel(cases[i].v * seconds / fast, ratio, 1e-12);
  }
}

static void test_feed_ratios(void **state)
{
  (void)state;
  double u = 0.0, ratio = 0.0;
  /* S5: pretravel doubles at 1.255 times the slowest feed, is 10 % up at 5.677 */
  assert_int_equal(tw_feed_for_ratio(2.0, &u, NULL), TW_OK);
  assert_printed(u, 1.255, 1e-3);
  assert_int_equal(tw_feed_for_ratio(1.1, &u, NULL), TW_OK);
  assert_printed(u, 5.677, 1e-3);
  /* and back, over the whole range */
  for (double r = 1.0001; r < 400.0; r = 1.0 + (r - 1.0) * 1.7) {
    assert_int_equal(tw_feed_for_ratio(r, &u, NULL), TW_OK);
    if (u > 1.0) { /* far up the slow end u is 1 to the last bit */
      assert_int_equal(tw_feed_ratio(u, 1.0, &ratio, NULL), TW_OK);
      assert_rel(ratio, r, r < 20.0 ? 1e-6 : 1.0);
    }
  }
  assert_int_equal(tw_feed_for_ratio(1.0, &u, NULL), TW_BAD_INPUT);
  /* below the slowest feed there is no trip, and no number */
  tw_fault fault = {0};
  double seconds = -1.0;
  assert_int_equal(tw_feed_trip_time(1e-3, 1e-3, 1.0, &seconds, &fault), TW_NO_ANSWER);
  assert_near(seconds, -1.0, 0.0);
  assert_string_equal(fault.field, "circuit.bias_resistance");
}

/* S7: bias current alone, 250 nA against 2 nC/N x 33333 N/m; B1, B2: I R; and the other currents of
 * docs/models/touch.md 1.1 */
static void test_bias(void **state)
{
  (void)state;
  const double slope = 2e-9 * 100e3 / 3;
  assert_near(mm_per_min(tw_feed_bias(250e-9, slope)), 225.0, 1e-9);
  assert_near(mm_per_min(tw_feed_bias(20e-9, slope)), 18.0, 1e-9);
  assert_near(mm_per_min(tw_feed_bias(35e-9, slope)), 31.5, 1e-9);
  assert_near(mm_per_min(tw_feed_bias(-35e-9, slope)), 31.5, 1e-9);
}

/* P1: 160 mV at the stop falls to 18 mV in 43.696 ms */
static void test_hold(void **state)
{
  (void)state;
  assert_printed(tw_decay_time(20e-3, 0.160, 0.018) * 1e3, 43.696, 1e-3);
  assert_near(tw_decay_time(20e-3, 0.018, 0.160), 0.0, 0.0);
}

/* ---- noise
 * --------------------------------------------------------------------------------------- */

static void test_noise(void **state)
{
  (void)state;
  /* N1, N2: whatever the resistor */
  assert_printed(tw_noise_ktc(1e-12, 300) * 1e6, 64.358, 1e-3);
  assert_printed(tw_noise_ktc(20e-9, 300) * 1e6, 0.455079, 1e-6);
  /* C8 at 27 C */
  assert_printed(tw_noise_ktc(20e-9, 300.15) * 1e6, 0.455193, 1e-6);
  assert_printed(tw_noise_ktc(8e-9, 300.15) * 1e6, 0.719724, 1e-6);
  const double f20 = tw_rc_corner(1e6, 20e-9), f8 = tw_rc_corner(10e6, 8e-9);
  assert_printed(tw_noise_thermal_band(1e6, 20e-9, 300.15, f20 * 1e-4, f20 * 1e6) * 1e6, 0.455179,
                 1e-6);
  assert_printed(tw_noise_thermal_band(10e6, 8e-9, 300.15, f8 * 1e-4, f8 * 1e6) * 1e6, 0.719701,
                 1e-6);
  /* C9: ten times through a pole of 10 kHz */
  const double band = tw_noise_bandwidth(f20, 10e3, 0.0, INFINITY);
  assert_printed(10.0 * sqrt(4 * TW_BOLTZMANN * 300.15 * 1e6 * band) * 1e6, 4.55012, 1e-5);
  assert_rel(band, 0.5 * acos(-1.0) * f20 * 10e3 / (f20 + 10e3), 1e-12);
  /* N5: in a band */
  assert_printed(tw_noise_thermal_band(1e6, 20e-9, 300, 1, 1000) * 1e6, 0.435393, 1e-6);
  /* the whole band is kT/C for any resistor */
  for (double r = 1e3; r < 1e10; r *= 10) {
    assert_rel(tw_noise_thermal_band(r, 20e-9, 300, 0, INFINITY), tw_noise_ktc(20e-9, 300), 1e-12);
  }
  /* N7: 40 nV/rtHz through 0.7 MHz / 10.1 */
  assert_printed(tw_noise_one_pole(40e-9, 0.7e6 / 10.1) * 1e6, 13.198, 1e-3);
  assert_rel(tw_noise_one_pole_band(40e-9, 0.7e6 / 10.1, 0, INFINITY),
             tw_noise_one_pole(40e-9, 0.7e6 / 10.1), 1e-12);
  /* N9: shot noise of 20 nA on 1M || 20 nF */
  assert_printed(tw_noise_current_band(tw_noise_shot_density(20e-9), 1e6, 20e-9, 0, INFINITY) * 1e6,
                 0.283035, 1e-6);
  /* N11: 0.1 pF from 230 V, 50 Hz */
  assert_printed(tw_mains_voltage(230, 50, 0.1e-12, 1e6, 20e-9) * 1e3, 1.1357, 1e-4);
}

/* two equal poles: pi/4 of the corner, and smooth on both sides */
static void test_equal_poles(void **state)
{
  (void)state;
  const double exact = 0.25 * acos(-1.0) * 1000.0;
  assert_rel(tw_noise_bandwidth(1e3, 1e3, 0, INFINITY), exact, 1e-7);
  assert_rel(tw_noise_bandwidth(1e3, 1000.2, 0, INFINITY), exact, 2e-4);
  assert_rel(tw_noise_bandwidth(1e3, 999.8, 0, INFINITY), exact, 2e-4);
}

/* ---- deciding, jitter, sampling
 * -------------------------------------------------------------------- */

static void test_decision(void **state)
{
  (void)state;
  /* C1, C2 of docs/models/touch.md 4: 1 and 100 V/s at 0.7 MHz, 2 V of swing at 0.3 V/us; the
   * bandwidth there is given as 4398230 rad/s */
  const double bandwidth = 4398230 / (2.0 * acos(-1.0));
  double s = 0.0;
  assert_int_equal(tw_decision_time(1.0, 0.00789634, bandwidth, 2.0, 3e5, &s, NULL), TW_OK);
  assert_printed(s * 1e6, 181.987, 1e-3);
  assert_int_equal(tw_decision_time(100.0, 0.00789634, bandwidth, 2.0, 3e5, &s, NULL), TW_OK);
  assert_printed(s * 1e6, 62.0951, 1e-4);
  /* no slew limit in reach: the exponential alone, solved back */
  assert_int_equal(tw_decision_time(1.0, 0.01, 1e5, 0.5, 1e12, &s, NULL), TW_OK);
  const double w = 2.0 * acos(-1.0) * 1e5, z = 0.01 * w * s;
  assert_rel(1.0 / (0.01 * 0.01 * w) * (expm1(z) - z), 0.5, 1e-9);
  /* into the slew limit: against small steps of o' = min(w (s t + b o), slew) */
  double o = 0.0, t = 0.0;
  for (const double dt = 1e-9; o < 4.0; t += dt) {
    o += fmin(w * (100.0 * (t + 0.5 * dt) + 0.01 * o), 1e4) * dt;
  }
  assert_int_equal(tw_decision_time(100.0, 0.01, 1e5, 4.0, 1e4, &s, NULL), TW_OK);
  assert_rel(s, t, 1e-4);
  assert_true(t > 4.0 / 1e4);
  assert_int_equal(tw_decision_time(1.0, 0.01, 1e5, 0.5, 1e12, &s, NULL), TW_OK);
  /* more hysteresis decides faster */
  double wider = 0.0;
  assert_int_equal(tw_decision_time(1.0, 0.02, 1e5, 0.5, 1e12, &wider, NULL), TW_OK);
  assert_true(wider < s);
  tw_fault fault = {0};
  assert_int_equal(tw_decision_time(1.0, 0.0, 1e5, 0.5, 1e6, &s, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "circuit.feedback_resistance");
}

static void test_jitter_and_sampling(void **state)
{
  (void)state;
  /* J1a, J1b */
  const double slope = 0.1 * 100e3 / 3, feed = 0.1 / 60; /* printed there as 33333.3, 0.00166667 */
  assert_printed(tw_jitter_position(1.3e-5, slope, feed, 0.00075) * 1e9, 7.09091, 1e-5);
  assert_printed(tw_jitter_time(1.3e-5, slope, feed, 0.00075) * 1e6, 4.25455, 1e-5);
  /* Q1, Q2 */
  tw_sampling q = tw_sampling_error(0.1 / 60, 1e-3);
  assert_printed(q.range * 1e6, 1.6667, 1e-4);
  assert_printed(q.mean * 1e6, 0.8333, 1e-4);
  assert_printed(q.deviation * 1e6, 0.4811, 1e-4);
  q = tw_sampling_error(0.1 / 60, 25e-6);
  assert_printed(q.range * 1e6, 0.0417, 1e-4);
  assert_printed(q.mean * 1e6, 0.0208, 1e-4);
  assert_printed(q.deviation * 1e6, 0.0120, 1e-4);
}

/* ---- false trips
 * ----------------------------------------------------------------------------------- */

static void test_false_trips(void **state)
{
  (void)state;
  /* F1: a step doubles; F2: a ramp of seven periods hardly adds */
  assert_printed(tw_false_axial(0.1, 6e-3, 0.5, 0.0, 700) * 1e3, 0.6, 1e-4);
  assert_near(tw_ramp_amplification(0.0, 700), 2.0, 0.0);
  assert_printed(tw_false_axial(0.1, 6e-3, 2.0, 0.01, 711.8) * 1e3, 1.2194, 1e-4);
  assert_printed(tw_ramp_amplification(0.01, 711.8), 1.0162, 1e-4);
  /* a ramp of whole periods adds nothing at all */
  assert_near(tw_ramp_amplification(3.0 / 700, 700), 1.0, 1e-12);
  /* F4 */
  assert_printed(tw_false_vibration(0.1, 6e-3, 1.0, 400, 711.8, 0.05) * 1e3, 0.873986, 1e-6);
  /* F6 */
  assert_near(tw_false_lateral(6e-3, 1.0, 20e-3, 8e-3), 0.015, 1e-15);
  /* charge shed by a cable */
  assert_near(tw_cable_voltage(-50e-12, 20e-9), 2.5e-3, 1e-15);
}

/* the amplification against the oscillator itself, stepped finely over the ramp and one period */
static void test_ramp_against_time(void **state)
{
  (void)state;
  const double f = 100.0, w = 2.0 * acos(-1.0) * f;
  for (double ramp = 1e-3; ramp < 0.05; ramp *= 1.9) {
    double most = 0.0;
    /* after the ramp the motion is 1 + a free swing: exact sum of two ramps */
    for (int i = 0; i < 4000; i++) {
      const double t = ramp + i / 4000.0 / f;
      const double x = 1.0 - (sin(w * t) - sin(w * (t - ramp))) / (w * ramp);
      most = fmax(most, x);
    }
    assert_rel(tw_ramp_amplification(ramp, f), most, 1e-5);
  }
}

/* white acceleration on a light resonance: rms of an oscillator under white noise,
 * sqrt(pi f S/(4 zeta)) (Crandall and Mark, random vibration: from memory) */
static void test_spectrum(void **state)
{
  (void)state;
  const double f[] = {0.0, 1e5}, density[] = {0.01, 0.01};
  double rms = 0.0;
  assert_int_equal(tw_false_spectrum(0.1, 6e-3, f, density, 2, 700, 0.02, 1e3, &rms, NULL), TW_OK);
  assert_rel(rms, 0.1 * 6e-3 * sqrt(acos(-1.0) * 700 * 0.01 / (4 * 0.02)), 1e-3);
  /* the node's high-pass takes the slow part away: with tau at the resonance, half the power */
  double passed = 0.0;
  const double tau = 1.0 / (2.0 * acos(-1.0) * 700);
  assert_int_equal(tw_false_spectrum(0.1, 6e-3, f, density, 2, 700, 0.001, tau, &passed, NULL),
                   TW_OK);
  assert_rel(passed, 0.1 * 6e-3 * sqrt(0.5 * acos(-1.0) * 700 * 0.01 / (4 * 0.001)), 5e-3);
  /* a table split in pieces is the same table */
  const double g[] = {0.0, 100, 650, 700, 701, 5e3, 1e5};
  const double flat[] = {0.01, 0.01, 0.01, 0.01, 0.01, 0.01, 0.01};
  double split = 0.0;
  assert_int_equal(tw_false_spectrum(0.1, 6e-3, g, flat, 7, 700, 0.02, 1e3, &split, NULL), TW_OK);
  assert_rel(split, rms, 1e-3);
  tw_fault fault = {0};
  const double back[] = {10.0, 5.0};
  assert_int_equal(tw_false_spectrum(0.1, 6e-3, back, density, 2, 700, 0.02, 1e3, &rms, &fault),
                   TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "row 2"));
  const double gap[] = {0.01, NAN};
  assert_int_equal(tw_false_spectrum(0.1, 6e-3, f, gap, 2, 700, 0.02, 1e3, &rms, &fault),
                   TW_BAD_INPUT);
  assert_int_equal(tw_false_spectrum(0.1, 6e-3, f, density, 2, 700, 0.0, 1e3, &rms, &fault),
                   TW_BAD_INPUT);
  assert_int_equal(tw_false_spectrum(0.1, 6e-3, f, density, 1, 700, 0.02, 1e3, &rms, &fault),
                   TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_piezo_film_manual),
      cmocka_unit_test(test_textbook),
      cmocka_unit_test(test_application_report),
      cmocka_unit_test(test_charge_sensitivity),
      cmocka_unit_test(test_steps_and_ramps),
      cmocka_unit_test(test_slow_feeds),
      cmocka_unit_test(test_feed_ratios),
      cmocka_unit_test(test_bias),
      cmocka_unit_test(test_hold),
      cmocka_unit_test(test_noise),
      cmocka_unit_test(test_equal_poles),
      cmocka_unit_test(test_decision),
      cmocka_unit_test(test_jitter_and_sampling),
      cmocka_unit_test(test_false_trips),
      cmocka_unit_test(test_ramp_against_time),
      cmocka_unit_test(test_spectrum),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
