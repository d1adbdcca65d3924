/* The bench card from plain numbers: what an instrument shows when it loads the point, what a slow
 * hand loses, words, spreads, and what is not known (docs/models/bench.md). */
#include "near.h"

#include "circuit_cases.h"
#include "tripwright/bench.h"

#include <string.h>

static tw_bench_figure about(double value, double part)
{
  return (tw_bench_figure){
      .known = true, .value = value, .low = value * (1 - part), .high = value * (1 + part)};
}

static tw_bench_inputs inputs_of(tw_circuit_spec board)
{
  return (tw_bench_inputs){
      .board = board,
      .has_disc = board.kind != TW_BOARD_CONTACT,
      .capacitance_free = about(20e-9, 0.3),
      .capacitance_mounted = about(20e-9, 0.3),
      .resonance_free = about(6e3, 0.1),
      .resonance_mounted = about(3e3, 0.1),
      .resonance_loaded = about(900, 0.1),
      .charge_per_newton = about(2e-9, 0.2),
      .push_sign = 1,
      .preload = about(1.0, 0.1),
      .has_preload_scale = true,
      .trip_force_side = about(0.2, 0.15),
      .trip_force_least = about(0.1, 0.15),
      .azimuth_deg = 240,
      .has_azimuth = true,
      .trip_force_axial = about(0.16, 0.2),
  };
}

static tw_bench_card card_of(const tw_bench_inputs *in)
{
  const tw_bench_instruments with = tw_bench_instruments_default();
  tw_bench_card card;
  tw_fault fault = {0};
  const tw_status status = tw_bench_card_of(in, &with, &card, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return card;
}

static const tw_bench_check *get(const tw_bench_card *card, tw_bench_id id)
{
  const tw_bench_check *check = tw_bench_find(card, id);
  assert_non_null(check);
  assert_int_equal(check->id, id);
  return check;
}

/* every line is complete, every number is one, ends lie around the value */
static void complete(const tw_bench_card *card)
{
  for (int i = 0; i < card->count; i++) {
    const tw_bench_check *c = &card->check[i];
    assert_true(i == 0 || c->id > card->check[i - 1].id || c->id == TW_BENCH_WIRE_BREAK);
    assert_true(strlen(c->name) > 2 && strlen(c->title) > 5 && strlen(c->point) > 3);
    assert_true(strlen(c->instrument) > 4 && strlen(c->if_low) > 10 && strlen(c->if_high) > 10);
    if (!c->expect.known) {
      assert_true(strlen(c->expect.why) > 10);
    } else if (c->unit[0]) {
      assert_true(isfinite(c->expect.value) && isfinite(c->expect.low) && isfinite(c->expect.high));
      assert_true(c->expect.low <= c->expect.value && c->expect.value <= c->expect.high);
    } else {
      assert_non_null(c->word);
    }
    if (c->loads) {
      assert_true(isfinite(c->shown) && strlen(c->loading) > 10);
    }
  }
}

/* a 10 Mohm meter on a 10 Mohm node shows half, whatever feeds the node */
static void test_meter_on_its_equal(void **state)
{
  (void)state;
  tw_circuit_spec s = case_direct(0.0);
  s.bias_kind = TW_BIAS_VOLTAGE;
  s.bias_voltage = 1.0;
  s.bias_resistance = 10e6;
  s.comparator.bias_current = s.comparator.bias_least = s.comparator.bias_most = 1e-9;
  const tw_bench_inputs in = inputs_of(s);
  const tw_bench_card card = card_of(&in);
  const tw_bench_check *c = get(&card, TW_BENCH_REST_NODE);
  assert_near(c->expect.value, 1.01, 1e-12);
  assert_true(c->loads);
  assert_near(c->shown, 0.505, 1e-12);
  assert_non_null(strstr(c->loading, "10 Mohm"));
  /* node equation with the meter as one more resistor */
  assert_near(c->shown, (1.0 / 10e6 + 1e-9) / (1.0 / 10e6 + 1.0 / 10e6), 1e-12);
  /* the reference's divider hardly notices it, but says what it shows */
  const tw_bench_check *r = get(&card, TW_BENCH_REFERENCE);
  const double source = 1.0 / (1.0 / 39e3 + 1.0 / 10e3 + 1.0 / 1e6);
  assert_near(tw_bench_loaded(r->expect.value, source, 10e6), r->expect.value, 1e-3);
  assert_false(r->loads);
  assert_near(r->expect.value, 1.039988 + 1e-9 * source, 1e-6);
}

static void test_gain_card(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  tw_circuit_tolerances(&s, 0.01, 0.05, 0.05, 0.01);
  s.front.supply_current = s.comparator.supply_current = 0.32e-3;
  s.front.supply_current_limit = s.comparator.supply_current_limit = 0.5e-3;
  s.output.controller_pull_up = 10e3;
  const tw_bench_inputs in = inputs_of(s);
  const tw_bench_card card = card_of(&in);
  complete(&card);
  assert_true(card.count >= 20);
  /* supply current: 2 x 0.32 mA and the reference's 37k; the sheet's limit above, resistors below
   */
  const tw_bench_check *i = get(&card, TW_BENCH_SUPPLY_CURRENT);
  assert_near(i->expect.value, 0.64e-3 + 5.0 / 37e3, 1e-12);
  assert_near(i->expect.high, 1.0e-3 + 5.0 / 37e3, 1e-12);
  assert_near(i->expect.low, 5.0 / 37e3, 1e-12);
  /* levels as the circuit room has them, with the worst case around them */
  tw_circuit c;
  tw_circuit_budget b;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_int_equal(tw_circuit_budget_of(&s, &b, NULL), TW_OK);
  const tw_bench_check *t = get(&card, TW_BENCH_THRESHOLD);
  assert_near(t->expect.value, c.trip, 1e-12);
  assert_near(t->expect.low, b.trip_low, 1e-12);
  assert_near(t->expect.high, b.trip_high, 1e-12);
  assert_near(get(&card, TW_BENCH_RELEASE)->expect.value, c.release, 1e-12);
  assert_near(get(&card, TW_BENCH_REST_COMPARATOR)->expect.value, c.rest, 1e-12);
  assert_false(get(&card, TW_BENCH_REST_COMPARATOR)->loads);
  /* 1 Mohm node under the meter: a tenth less is shown */
  assert_near(get(&card, TW_BENCH_REST_NODE)->shown, 1.02 * 10.0 / 11.0, 1e-12);
  assert_string_equal(get(&card, TW_BENCH_OUTPUT_REST)->word, "high");
  assert_string_equal(get(&card, TW_BENCH_OUTPUT_TRIPPED)->word, "low");
  assert_string_equal(get(&card, TW_BENCH_WIRE_BREAK)->word, "high");
  assert_non_null(strstr(get(&card, TW_BENCH_WIRE_BREAK)->note, "missed"));
  assert_null(tw_bench_find(&card, TW_BENCH_CHAIN_CLOSED));
}

/* the fitted disc's spread is in the time constant: 20 nF +- 30 % beside nothing else */
static void test_spread_of_the_disc(void **state)
{
  (void)state;
  const tw_bench_inputs in = inputs_of(case_gain());
  const tw_bench_card card = card_of(&in);
  const tw_bench_check *c = get(&card, TW_BENCH_DECAY);
  assert_near(c->expect.value, 20e-3, 1e-12);
  assert_near(c->expect.low, 14e-3, 1e-12);
  assert_near(c->expect.high, 26e-3, 1e-12);
}

/* peak of a weight that is lifted off in 50 ms, with the probe on the node: against small steps of
 * the node equation */
static double stepped_peak(double charge, double r, double c, double hand)
{
  double v = 0.0, most = 0.0;
  const int n = 200000;
  const double dt = hand / n;
  for (int i = 0; i < n; i++) {
    v += (charge / hand - v / r) / c * dt;
    most = fmax(most, v);
  }
  return most;
}

static void test_lift_peak(void **state)
{
  (void)state;
  tw_circuit_spec s = case_direct(0.0);
  s.bias_resistance = 10e6 - s.bias_top * s.bias_bottom / (s.bias_top + s.bias_bottom);
  const tw_bench_inputs in = inputs_of(s);
  tw_bench_instruments with = tw_bench_instruments_default();
  with.scope_capacitance = 2e-9;
  tw_bench_card card;
  assert_int_equal(tw_bench_card_of(&in, &with, &card, NULL), TW_OK);
  const tw_bench_check *p = get(&card, TW_BENCH_LIFT_PEAK);
  /* 0.1 V/N and 66 mV: three times that is just beyond 200 g, so the smallest that trips is taken
   */
  assert_non_null(strstr(p->setting, "100 g"));
  const double charge = 2e-9 * 0.1 * 9.80665;
  assert_rel(p->expect.value, stepped_peak(charge, 10e6, 20e-9, 0.05), 1e-4);
  assert_true(p->loads);
  assert_rel(p->shown, stepped_peak(charge, 5e6, 22e-9, 0.05), 1e-4);
  /* and the decay: 10M || 10M on 22 nF */
  const tw_bench_check *d = get(&card, TW_BENCH_DECAY);
  assert_near(d->expect.value, 0.2, 1e-9);
  assert_rel(d->shown, 5e6 * 22e-9, 1e-9);
  /* hold: tau ln(V/V_rearm) from the hand's end */
  tw_circuit c;
  double seconds = 0.0;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  assert_int_equal(tw_circuit_hold_time(&c, p->expect.value, &seconds, NULL), TW_OK);
  assert_rel(get(&card, TW_BENCH_HOLD)->expect.value, seconds, 1e-9);
}

/* V at the comparator when 200 g are lifted off evenly in 50 ms, in 200 000 steps of the node's own
 * equation: 10 ... 200 g of the table, 20 nF, 20 ms, gain 10.1 */
static double lifted(const tw_bench_inputs *in, double charge, double total, double tau, double p)
{
  const double force = 200e-3 * 9.80665, time = 50e-3;
  const int steps = 200000;
  double left = 0.0, most = 0.0, before = NAN;
  for (int k = 0; k <= steps; k++) {
    const double f = force / p * (1.0 - (double)k / steps);
    int i = 0;
    while (i < in->releases - 1 && in->release_force[i] < f) {
      i++;
    }
    const double f0 = i ? in->release_force[i - 1] : 0.0, q0 = i ? in->release_charge[i - 1] : 0.0;
    const double q = q0 + (in->release_charge[i] - q0) * (f - f0) / (in->release_force[i] - f0);
    if (k > 0) {
      left += before - q - left * time / steps / (20e-3 * tau);
      most = fmax(most, left);
    }
    before = q;
  }
  return most * p * charge / (20e-9 * total) * 10.1;
}

/* a seat that takes most of a small push: the table of releases counts, not the disc's own figure
 */
static void test_releases(void **state)
{
  (void)state;
  tw_bench_inputs in = inputs_of(case_gain());
  const double weights[] = {10e-3, 20e-3, 50e-3, 100e-3, 200e-3};
  const double charges[] = {0.05e-9, 0.1e-9, 0.25e-9, 1.2e-9, 3.2e-9};
  in.releases = 5;
  for (int i = 0; i < 5; i++) {
    in.release_force[i] = weights[i] * 9.80665;
    in.release_charge[i] = charges[i];
  }
  const tw_bench_card card = card_of(&in);
  const tw_bench_check *p = get(&card, TW_BENCH_LIFT_PEAK);
  /* 16.3 mV at the node, three times that by hand needs 2.7 nC: 200 g */
  assert_non_null(strstr(p->setting, "200 g"));
  assert_rel(p->expect.value, lifted(&in, 1, 1, 1, 1), 1e-4);
  /* preload 10 % off either way moves the knee: p Q(F/p); 20 % more charge on 30 % less
   * capacitance, which takes its time constant along */
  double low = INFINITY, high = 0.0;
  for (int i = 0; i < 8; i++) {
    const double total = i & 1 ? 1.3 : 0.7;
    const double v = lifted(&in, i & 2 ? 1.2 : 0.8, total, total, i & 4 ? 1.1 : 0.9);
    low = fmin(low, v);
    high = fmax(high, v);
  }
  /* the resistors' own ends come on top */
  assert_rel(p->expect.low, low, 0.02);
  assert_rel(p->expect.high, high, 0.02);
  assert_true(p->expect.low <= low * (1 + 1e-4) && p->expect.high >= high * (1 - 1e-4));
}

/* what a slow hand loses must be made up by weight */
static void test_weights(void **state)
{
  (void)state;
  const tw_bench_inputs in = inputs_of(case_gain());
  const tw_bench_card card = card_of(&in);
  const tw_bench_check *side = get(&card, TW_BENCH_WEIGHT_SIDE);
  assert_near(side->expect.value, 0.2 / 9.80665, 1e-12);
  assert_near(side->expect.high, 0.2 * 1.15 / 9.80665, 1e-12);
  assert_true(side->loads);
  assert_rel(side->shown, side->expect.value * 2.5 / (1 - exp(-2.5)), 1e-9);
  assert_non_null(strstr(side->setting, "240 deg"));
  assert_near(get(&card, TW_BENCH_WEIGHT_SIDE_LEAST)->expect.value, 0.1 / 9.80665, 1e-12);
  /* a force that is not known stays so */
  tw_bench_inputs none = in;
  none.trip_force_axial = (tw_bench_figure){.why = "does not trip up to 5 N"};
  const tw_bench_card other = card_of(&none);
  const tw_bench_check *axial = get(&other, TW_BENCH_WEIGHT_AXIAL);
  assert_false(axial->expect.known);
  assert_string_equal(axial->expect.why, "does not trip up to 5 N");
  assert_false(axial->loads);
  complete(&other);
}

static void test_charge_card(void **state)
{
  (void)state;
  tw_bench_inputs in = inputs_of(case_charge());
  tw_bench_card card = card_of(&in);
  complete(&card);
  /* turned over by the amplifier; the node is a virtual ground that the meter does not move */
  assert_string_equal(get(&card, TW_BENCH_PUSH_SIGN)->word, "-");
  assert_non_null(strstr(get(&card, TW_BENCH_PUSH_SIGN)->note, "+ only"));
  const tw_bench_check *node = get(&card, TW_BENCH_REST_NODE);
  assert_near(node->expect.value, 1.4, 1e-12);
  assert_false(node->loads);
  assert_non_null(strstr(node->note, "1.4 V"));
  in.push_sign = 0;
  card = card_of(&in);
  assert_false(get(&card, TW_BENCH_PUSH_SIGN)->expect.known);
  assert_non_null(strstr(get(&card, TW_BENCH_PUSH_SIGN)->expect.why, "disc.poling"));
}

static void test_contact_cards(void **state)
{
  (void)state;
  tw_circuit_spec s = case_contact();
  tw_circuit_tolerances(&s, 0.01, 0, 0, 0);
  tw_bench_inputs in = inputs_of(s);
  tw_bench_card card = card_of(&in);
  complete(&card);
  assert_true(card.count >= 12);
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  const tw_bench_check *t = get(&card, TW_BENCH_CHAIN_TRIP);
  assert_near(t->expect.value, c.trip_resistance, 1e-9);
  assert_true(t->expect.low < t->expect.value && t->expect.high > t->expect.value);
  assert_near(get(&card, TW_BENCH_CHAIN_RELEASE)->expect.value, c.release_resistance, 1e-9);
  assert_near(get(&card, TW_BENCH_CHAIN_CLOSED)->expect.value, 1.5, 1e-12);
  assert_near(get(&card, TW_BENCH_CHAIN_CLOSED)->expect.high, 0.1 * c.release_resistance, 1e-9);
  assert_null(tw_bench_find(&card, TW_BENCH_HOLD)); /* it holds */
  assert_false(get(&card, TW_BENCH_WEIGHT_SIDE)->loads);
  /* bare: no comparator, nothing about a reference; trips at the stated resistance */
  in.board.contact_threshold = 4.7e3;
  card = card_of(&in);
  complete(&card);
  assert_true(card.count >= 12);
  assert_null(tw_bench_find(&card, TW_BENCH_REFERENCE));
  assert_near(get(&card, TW_BENCH_CHAIN_TRIP)->expect.value, 4.7e3, 1e-6);
  assert_near(get(&card, TW_BENCH_OUTPUT_REST)->expect.value, 5.0 * 1.5 / 10001.5, 1e-12);
}

static void test_not_known(void **state)
{
  (void)state;
  const tw_bench_inputs in = inputs_of(case_gain());
  const tw_bench_card card = card_of(&in);
  const tw_bench_check *c = get(&card, TW_BENCH_SUPPLY_CURRENT);
  assert_false(c->expect.known);
  assert_non_null(strstr(c->expect.why, "circuit.amplifier_current"));
  assert_non_null(strstr(get(&card, TW_BENCH_WIRE_BREAK)->expect.why, "machine.input_pull_up"));
}

static void test_refused(void **state)
{
  (void)state;
  const tw_bench_inputs in = inputs_of(case_gain());
  tw_bench_card card;
  tw_fault fault = {0};
  tw_bench_instruments with = tw_bench_instruments_default();
  with.meter_resistance = 0.0;
  assert_int_equal(tw_bench_card_of(&in, &with, &card, &fault), TW_BAD_INPUT);
  with = tw_bench_instruments_default();
  with.scope_capacitance = NAN;
  assert_int_equal(tw_bench_card_of(&in, &with, &card, &fault), TW_BAD_INPUT);
  with = tw_bench_instruments_default();
  with.weights[1] = 0.5e-3;
  assert_int_equal(tw_bench_card_of(&in, &with, &card, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "number 2"));
  tw_bench_inputs bad = in;
  bad.board.supply = 0.0;
  with = tw_bench_instruments_default();
  assert_int_equal(tw_bench_card_of(&bad, &with, &card, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "circuit.supply");
  assert_int_equal(card.count, 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_meter_on_its_equal), cmocka_unit_test(test_gain_card),
      cmocka_unit_test(test_spread_of_the_disc), cmocka_unit_test(test_lift_peak),
      cmocka_unit_test(test_releases),           cmocka_unit_test(test_weights),
      cmocka_unit_test(test_charge_card),        cmocka_unit_test(test_contact_cards),
      cmocka_unit_test(test_not_known),          cmocka_unit_test(test_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
