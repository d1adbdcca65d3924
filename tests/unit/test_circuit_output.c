/* Levels at the controller, broken wires, supply current, shift on switching, and the four links
 * (docs/models/circuit.md 7, docs/models/links.md; cases L1 to L9 of docs/models/touch.md 4). */
#include "near.h"

#include "circuit_cases.h"

#include <string.h>

static tw_output_levels output(const tw_circuit_spec *s)
{
  tw_output_levels o;
  tw_fault fault = {0};
  const tw_status status = tw_circuit_output(s, &o, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return o;
}

/* push-pull with worst levels against an input that pulls up to 24 V through 10k and a lead */
static void test_push_pull(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.comparator.low_drop_limit = 0.025;
  s.comparator.high_drop_limit = 1.6;
  s.output.line_resistance = 100.0;
  s.output.controller_pull_up = 10e3;
  s.output.controller_pull_up_voltage = 24.0;
  const tw_output_levels o = output(&s);
  assert_near(o.low, 0.025 + (24 - 0.025) * 100.0 / 10100.0, 1e-9);
  assert_near(o.high, 3.4 + (24 - 3.4) * 100.0 / 10100.0, 1e-9);
  assert_near(o.low_margin, 0.8 - o.low, 1e-12);
  assert_near(o.high_margin, o.high - 2.0, 1e-12);
  assert_near(o.sink_current, (24 - o.low) / 10e3, 1e-12);
  assert_true(o.sink_within);
  s.comparator.output_current = 2e-3;
  assert_false(output(&s).sink_within);
  /* the output rests high and falls on touch: with the wire broken the pull-up reads "not touched"
   */
  assert_true(o.break_known && o.break_reads_high);
  assert_false(o.break_reads_tripped);
  /* turned over, a broken wire reads as a touch: the safe way round */
  s.output.invert = true;
  assert_true(output(&s).break_reads_tripped);
}

static void test_open_collector(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.comparator.open_collector = true;
  s.comparator.low_drop = 0.15;
  s.comparator.low_drop_limit = 0.4;
  s.comparator.output_leakage = 100e-9;
  s.output.pull_up = 4.7e3;
  s.output.controller_pull_down = 10e3;
  s.output.line_capacitance = 500e-12;
  const tw_output_levels o = output(&s);
  const double emf = 5.0 - 100e-9 * 4.7e3;
  assert_near(o.high, emf * 10e3 / 14.7e3, 1e-9);
  assert_near(o.low, 0.4, 1e-9);
  assert_near(o.sink_current, (5.0 - 0.4) / 4.7e3, 1e-9);
  /* the line charges through 4.7k || 10k */
  const double r = 4.7e3 * 10e3 / 14.7e3;
  assert_rel(o.rise_time, r * 500e-12 * log((o.high - o.low) / (o.high - 2.0)), 1e-9);
  assert_true(o.break_known && !o.break_reads_high);
  assert_true(o.break_reads_tripped); /* low is the tripped level here */
  /* a weak pull-up does not reach the controller's level; nothing rises then */
  s.output.pull_up = 47e3;
  const tw_output_levels weak = output(&s);
  assert_true(weak.high_margin < 0.0);
  assert_near(weak.rise_time, 0.0, 0.0);
  /* an input without pulls says nothing about a broken wire */
  s.output.controller_pull_down = 0.0;
  assert_false(output(&s).break_known);
}

/* the board's own current through the common return lifts its low level */
static void test_return_lift(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.comparator.supply_current = 1e-3;
  s.output.indicator_current = 10e-3;
  s.output.return_resistance = 5.0;
  const tw_output_levels o = output(&s);
  assert_near(o.low, 0.005 + 5.0 * o.supply_tripped, 1e-12);
}

static void test_supply_current(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.comparator.supply_current = s.front.supply_current = 0.32e-3;
  s.comparator.supply_current_limit = s.front.supply_current_limit = 0.5e-3;
  s.output.indicator_current = 5e-3;
  const double divider = 5.0 / 37e3;
  tw_output_levels o = output(&s);
  assert_near(o.supply_idle, 0.64e-3 + divider, 1e-12);
  assert_near(o.supply_tripped, 5.64e-3 + divider, 1e-12);
  assert_near(o.supply_most, 6.0e-3 + divider, 1e-12);
  /* an own output stage that pulls down while tripped draws through its pull-up then */
  s.output.stage = s.output.stage_open_collector = true;
  s.output.stage_low = 0.2;
  s.output.pull_up = 4.7e3;
  o = output(&s);
  assert_near(o.supply_tripped - o.supply_idle, 5e-3 + 4.8 / 4.7e3, 1e-12);
  /* an opening contact carries its current at rest */
  const tw_circuit_spec k = case_contact();
  assert_near(output(&k).supply_idle - output(&k).supply_tripped, 5.0 / 10001.5, 1e-12);
}

/* 10 mA of indicator through 20 ohm drop the supply by 0.2 V and the reference with it */
static void test_shift(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.output.indicator_current = 10e-3;
  s.output.supply_source_resistance = 20.0;
  tw_circuit c;
  assert_int_equal(tw_circuit_solve(&s, &c, NULL), TW_OK);
  tw_output_levels o = output(&s);
  tw_circuit_spec dropped = s;
  dropped.supply -= 0.2;
  tw_circuit d;
  assert_int_equal(tw_circuit_solve(&dropped, &d, NULL), TW_OK);
  assert_near(o.threshold_shift, d.trip - c.trip, 1e-9);
  assert_near(o.hysteresis_left, c.rising.hysteresis - o.threshold_shift, 1e-12);
  bool flags[TW_FLAG_COUNT];
  assert_int_equal(tw_circuit_warn(&s, 0.0, flags, NULL), TW_OK);
  assert_false(flags[TW_FLAG_SHIFT]); /* it widens the band and rest stays below the release */
  /* as much again and the release passes the rest level: locked until the pulse ends */
  s.output.supply_source_resistance = 60.0;
  assert_int_equal(tw_circuit_warn(&s, 0.0, flags, NULL), TW_OK);
  assert_true(flags[TW_FLAG_SHIFT]);
  /* an indicator that goes out on touch narrows the band: a contact's current does that */
  tw_circuit_spec k = case_contact();
  k.bias_resistance = 200.0;
  k.output.supply_source_resistance = 20.0;
  o = output(&k);
  assert_true(o.threshold_shift > 0.0);
  assert_true(o.hysteresis_left < 0.03);
  assert_int_equal(tw_circuit_warn(&k, 0.0, flags, NULL), TW_OK);
  assert_true(flags[TW_FLAG_SHIFT]);
}

static void test_little_hysteresis(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.front.voltage_noise = 40e-9;
  bool flags[TW_FLAG_COUNT];
  assert_int_equal(tw_circuit_warn(&s, 0.0, flags, NULL), TW_OK);
  assert_false(flags[TW_FLAG_LITTLE_HYSTERESIS]); /* 13 uV against 2.5 mV */
  s.reference.feedback = 100e6;                   /* 25 uV of band at the node */
  assert_int_equal(tw_circuit_warn(&s, 0.0, flags, NULL), TW_OK);
  assert_true(flags[TW_FLAG_LITTLE_HYSTERESIS]);
  for (int i = 0; i < TW_FLAG_COUNT; i++) {
    assert_true(strlen(tw_circuit_flag_text((tw_circuit_flag)i)) > 10);
    assert_true(strchr(tw_circuit_flag_field((tw_circuit_flag)i), '.') != NULL);
  }
}

static void test_refused(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  tw_output_levels o;
  tw_fault fault = {0};
  s.output.controller_high = 0.5;
  assert_int_equal(tw_circuit_output(&s, &o, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "machine.input_high");
  s = case_gain();
  s.output.stage = s.output.stage_open_collector = true;
  assert_int_equal(tw_circuit_output(&s, &o, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "output.pull_up");
}

/* ---- links
 * ------------------------------------------------------------------------------------------ */

static tw_link link_of(const tw_link_spec *l, const tw_circuit_spec *s, double current)
{
  tw_link out;
  tw_fault fault = {0};
  const tw_status status = tw_link_of(l, s, current, &out, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return out;
}

/* L1: 2 nC/N on 20 nF and 2 m of 100 pF/m */
static void test_signal(void **state)
{
  (void)state;
  const tw_circuit_spec s = case_gain();
  tw_link_spec l = tw_link_default(TW_BY_CABLE);
  l.capacitance = 200e-12;
  l.carries_node = true;
  l.cable_charge = 50e-12;
  tw_link out = link_of(&l, &s, 0.0);
  assert_printed(out.volt_per_newton * 1e3, 99.0099, 1e-4);
  assert_rel(out.signal_kept, 20.0 / 20.2, 1e-12);
  assert_rel(out.motion_voltage, 50e-12 / 20.2e-9, 1e-12);
  /* a cable behind the circuit costs no signal and sheds no charge into the node */
  l.carries_node = false;
  out = link_of(&l, &s, 0.0);
  assert_near(out.signal_kept, 1.0, 0.0);
  assert_near(out.motion_voltage, 0.0, 0.0);
  /* a charge amplifier does not see the cable's capacitance, but its charge all the same */
  const tw_circuit_spec q = case_charge();
  l.carries_node = true;
  out = link_of(&l, &q, 0.0);
  assert_near(out.signal_kept, 1.0, 0.0);
  assert_rel(out.motion_voltage, 50e-12 / 2.2e-9, 1e-12);
}

/* L3: 10k and 500 pF to 1.5 V of 5 V */
static void test_line_delay(void **state)
{
  (void)state;
  tw_circuit_spec s = case_gain();
  s.comparator = tw_amplifier_ideal();
  s.reference = (tw_reference){.top = 27e3, .bottom = 10e3, .feedback = 1e6};
  s.output.controller_high = 1.5;
  tw_link_spec l = tw_link_default(TW_BY_CABLE);
  l.capacitance = 500e-12;
  l.source_resistance = 10e3;
  const tw_link out = link_of(&l, &s, 0.0);
  assert_printed(out.line_delay * 1e6, 1.78337, 1e-5);
  /* this board trips low: the latency counts the falling edge, from 5 V to 0.8 V */
  assert_rel(out.trip_delay, 10e3 * 500e-12 * log(5.0 / 0.8), 1e-12);
  assert_rel(out.latency, out.trip_delay, 1e-12);
  s.polarity = TW_SEES_FALLING; /* and this one high */
  const tw_link rises = link_of(&l, &s, 0.0);
  assert_rel(rises.latency, rises.line_delay, 1e-12);
  l.pulls_down = true;
  s.polarity = TW_SEES_RISING;
  const tw_link driven = link_of(&l, &s, 0.0);
  assert_near(driven.trip_delay, 0.0, 1e-18);
}

/* L5, L7: 130 us to settle, 10 byte at 2 Mbit/s, 50 us; 200 mm/min */
static void test_radio_time(void **state)
{
  (void)state;
  const tw_circuit_spec s = case_gain();
  tw_link_spec l = tw_link_default(TW_BY_RADIO);
  l.settle = 130e-6;
  l.bits = 80;
  l.bit_rate = 2e6;
  l.processing = 50e-6;
  l.jitter = 100e-6;
  tw_link out = link_of(&l, &s, 0.0);
  assert_near(out.latency, 220e-6, 1e-15);
  tw_link_position at = tw_link_position_of(&out, 0.2 / 60, 0.0);
  assert_printed(at.latency * 1e6, 0.7333, 1e-4);
  assert_printed(at.jitter * 1e6, 0.3333, 1e-4);
  /* calibrated at that feed nothing of the latency is left, the jitter stays */
  at = tw_link_position_of(&out, 0.2 / 60, 0.2 / 60);
  assert_near(at.latency, 0.0, 0.0);
  assert_printed(at.jitter * 1e6, 0.3333, 1e-4);
  /* looking every 2 ms and two repeats: half a period on the mean, all of it on the spread */
  l.poll = 2e-3;
  l.retries = 2;
  out = link_of(&l, &s, 0.0);
  assert_near(out.latency, 220e-6 + 1e-3, 1e-15);
  assert_near(out.latency_jitter, 2e-3 + 100e-6 + 2 * 220e-6, 1e-15);
  assert_near(out.latency_most, 3 * 220e-6 + 2e-3 + 100e-6, 1e-15);
}

/* L9: 220 mAh at 1 mA of op-amp and 26 uA of radio */
static void test_battery(void **state)
{
  (void)state;
  const tw_circuit_spec s = case_gain();
  tw_link_spec l = tw_link_default(TW_BY_RADIO);
  l.battery_charge = 0.220 * 3600;
  l.ready_current = 26e-6;
  tw_link out = link_of(&l, &s, 1e-3);
  assert_printed(out.battery_life / 3600, 214.425, 1e-3);
  l.battery_usable = 0.8;
  l.event_charge = 5e-6;
  l.events_per_second = 0.1;
  l.share_ready = 0.25;
  l.sleep_current = 2e-6;
  out = link_of(&l, &s, 1e-3);
  assert_rel(out.battery_life, 0.8 * 792.0 / (0.25 * 1.026e-3 + 0.75 * 2e-6 + 0.5e-6), 1e-12);
  tw_fault fault = {0};
  l.share_ready = 1.5;
  assert_int_equal(tw_link_of(&l, &s, 0.0, &out, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "link.share_ready");
  l.share_ready = 1.0;
  l.ready_current = l.event_charge = 0.0;
  assert_int_equal(tw_link_of(&l, &s, 0.0, &out, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "link.current_ready");
}

static void test_contacts(void **state)
{
  (void)state;
  const tw_circuit_spec s = case_gain();
  tw_link_spec l = tw_link_default(TW_BY_SPRING_CONTACTS);
  l.contact_resistance = 0.05;
  l.series_resistance = 22.0;
  l.supply_limit = 0.5;
  l.makes_early = true;
  tw_link out = link_of(&l, &s, 12e-3);
  assert_near(out.short_current, 5.0 / 22.0, 1e-12);
  assert_true(out.short_known && out.short_within);
  assert_near(out.drop, 12e-3 * 22.1, 1e-12);
  l.supply_limit = 0.2;
  assert_false(link_of(&l, &s, 12e-3).short_within);
  /* without a series resistor nothing in the probe limits it: no number, and not within */
  l.series_resistance = 0.0;
  out = link_of(&l, &s, 12e-3);
  assert_false(out.short_known || out.short_within);
  assert_near(out.short_current, 0.0, 0.0);
  /* contacts that never touch their neighbours have no such moment */
  l.makes_early = false;
  out = link_of(&l, &s, 12e-3);
  assert_true(out.short_known && out.short_within);
  /* unless they are bare in a metal housing */
  l.isolated = false;
  assert_false(link_of(&l, &s, 12e-3).short_known);
  l.isolated = true;
  /* insulation of 100 Mohm beside a node of 1M: 5 V x 1/101 */
  l.insulation = 100e6;
  l.carries_node = true;
  out = link_of(&l, &s, 0.0);
  assert_near(out.insulation_shift, 5.0 / 101.0, 1e-12);
  assert_near(out.leak_current, 5.0 / 100e6, 1e-20);
}

static void test_link_refused(void **state)
{
  (void)state;
  const tw_circuit_spec s = case_gain();
  tw_link out;
  tw_fault fault = {0};
  tw_link_spec l = tw_link_default(TW_BY_RADIO);
  l.bits = 80;
  assert_int_equal(tw_link_of(&l, &s, 0.0, &out, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "link.latency");
  l = tw_link_default(TW_BY_CABLE);
  l.capacitance = -1e-12;
  assert_int_equal(tw_link_of(&l, &s, 0.0, &out, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "link.capacitance_per_metre");
  l = tw_link_default(TW_BY_RADIO);
  l.battery_charge = 100;
  l.battery_usable = 1.5;
  assert_int_equal(tw_link_of(&l, &s, 1e-3, &out, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "link.battery_capacity");
  assert_int_equal(tw_link_of(&l, &s, NAN, &out, &fault), TW_BAD_INPUT);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_push_pull),    cmocka_unit_test(test_open_collector),
      cmocka_unit_test(test_return_lift),  cmocka_unit_test(test_supply_current),
      cmocka_unit_test(test_shift),        cmocka_unit_test(test_little_hysteresis),
      cmocka_unit_test(test_refused),      cmocka_unit_test(test_signal),
      cmocka_unit_test(test_line_delay),   cmocka_unit_test(test_radio_time),
      cmocka_unit_test(test_battery),      cmocka_unit_test(test_contacts),
      cmocka_unit_test(test_link_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
