/* What a touch does beyond its edge: second touch, pulses, chatter, missed samples, clamps, an
 * opening contact, a table instead of a law; and what is refused, with the field named. */
#include "near.h"
#include "touch_scenes.h"
#include <string.h>

static tw_status try_run(const tw_touch_model *m, const tw_touch_motion *go, tw_touch_result *r,
                         tw_fault *fault)
{
  tw_touch_work *w = tw_touch_work_new();
  assert_non_null(w);
  memset(fault, 0, sizeof *fault);
  const tw_status status = tw_touch_run(m, go, w, NULL, r, fault);
  tw_touch_work_free(w);
  return status;
}

static tw_touch_result run(const tw_touch_model *m, const tw_touch_motion *go)
{
  tw_touch_result r;
  tw_fault fault;
  const tw_status status = try_run(m, go, &r, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  return r;
}

static int count(const tw_touch_result *r, tw_touch_event_kind kind)
{
  int n = 0;
  for (int i = 0; i < r->event_count; i++) {
    n += r->events[i].kind == kind;
  }
  return n;
}

static void second_touch(void **state)
{
  (void)state;
  const tw_touch_model m = scene_circuit(2);
  tw_touch_motion go = scene_feed(500);
  go.until = TW_UNTIL_SECOND;
  go.second_feed = 100 * SCENE_MM_MIN;
  const tw_touch_result r = run(&m, &go);
  assert_true(r.has_second && r.ready && !r.second_not_ready);
  assert_int_equal(r.second.state, TW_TOUCH_OK);
  assert_int_equal(r.second.reached, TW_REACHED_STOP_END);
  /* the second touch is a touch like any other at its feed, to the rest of the first's ringing */
  const tw_touch_motion slow = scene_feed(100);
  const tw_touch_result alone = run(&m, &slow);
  print_message("second touch: edge %.3f us after its contact, alone %.3f us\n",
                r.second.output * 1e6, alone.first.output * 1e6);
  assert_rel(r.second.output, alone.first.output, 2e-3);
  assert_rel(r.second.pretravel, go.second_feed * r.second.output, 1e-9);
  assert_int_equal(count(&r, TW_EVENT_APPROACH), 1);
  /* events stand in order of time */
  for (int i = 1; i < r.event_count; i++) {
    assert_true(r.events[i].kind == TW_EVENT_READY ||
                r.events[i].time >= r.events[i - 1].time - 1e-12 ||
                r.events[i - 1].kind == TW_EVENT_READY);
  }
  assert_int_equal(r.events_dropped, 0);
}

static void too_early_a_second_touch(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(2);
  m.output.minimum_pulse = 0.5;
  tw_touch_motion go = scene_feed(500);
  go.until = TW_UNTIL_SECOND;
  go.pause = 0.0;
  go.second_feed = 300 * SCENE_MM_MIN;
  const tw_touch_result r = run(&m, &go);
  assert_true(r.has_second && r.second_not_ready);
}

static void minimum_pulse(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(2);
  tw_touch_motion go = scene_feed(50);
  go.until = TW_UNTIL_READY;
  const tw_touch_result bare = run(&m, &go);
  m.output.minimum_pulse = 60e-3;
  const tw_touch_result held = run(&m, &go);
  assert_true(bare.output_hold_time < 60e-3);
  assert_near(held.output_hold_time, 60e-3, 1e-9);
  /* longer by itself than the pulse: the pulse changes nothing */
  m.output.minimum_pulse = 1e-3;
  const tw_touch_result same = run(&m, &go);
  assert_near(same.output_hold_time, bare.output_hold_time, 1e-12);
}

/* the output falls back by itself after some 17 ms: pressed when the machine still rests on the
 * work, not when it is on its way back */
static void falls_back_pressed(void **state)
{
  (void)state;
  const tw_touch_model m = scene_circuit(2);
  tw_touch_motion go = scene_feed(50);
  go.until = TW_UNTIL_READY;
  go.dwell = 0.3;
  const tw_touch_result rests = run(&m, &go);
  assert_true(rests.ended && rests.ended_pressed);
  assert_true(rests.first.output + rests.output_hold_time < rests.first.stop_end + go.dwell);
  go.dwell = 0.0;
  const tw_touch_result leaves = run(&m, &go);
  print_message("rests: falls back after %.2f ms; leaves at once: %.2f ms\n",
                rests.output_hold_time * 1e3, leaves.output_hold_time * 1e3);
  assert_true(leaves.ended && !leaves.ended_pressed);
}

/* a controller that polls every 100 ms misses what is over after 17 ms */
static void slow_controller(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(2);
  m.node.resistance = 50e3; /* 1 ms: an impact's pulse, gone by itself */
  m.node.bias_current = 0.0;
  tw_touch_motion go = scene_feed(1000);
  go.sample_time = 0.1;
  go.sample_phase = 0.9;
  go.until = TW_UNTIL_STOP;
  go.give_up = 60e-3;
  const tw_touch_result r = run(&m, &go);
  /* at constant feed the ramp holds the output: it must be sampled, or missed, never both */
  const bool missed = count(&r, TW_EVENT_MISSED) > 0;
  print_message("slow controller: %s, %d chatter\n", tw_touch_state_name(r.first.state),
                r.first.chatter);
  assert_true(missed == (r.first.state == TW_TOUCH_NOT_SAMPLED) ||
              r.first.reached >= TW_REACHED_SAMPLE);
  assert_true(r.first.reached >= TW_REACHED_OUTPUT);
}

/* no hysteresis and a lively probe: several edges, the first counts */
static void double_edges(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(1);
  m.node.resistance = 4e3; /* w tau below 1: the ring carries the signal */
  m.node.bias_current = 0.0;
  m.node.bias_voltage = 1.0;
  m.tip.damping = 0.1;
  m.carrier.damping = 0.2;
  m.contact.damping = 0.0;
  m.comparator.kind = TW_COMPARATOR_DELAY;
  m.comparator.reference = 1.02;
  m.comparator.output_weight = 0.0;
  m.comparator.delay = 1e-6;
  tw_touch_motion go = scene_feed(3000);
  go.until = TW_UNTIL_STOP;
  const tw_touch_result bare = run(&m, &go);
  assert_int_equal(bare.first.state == TW_TOUCH_OK || bare.first.state == TW_TOUCH_NOT_SAMPLED, 1);
  print_message("no hysteresis, w tau %.2f: %d further edges\n", sqrt(1.5e5 / 5e-3) * 4e3 * 20e-9,
                bare.first.chatter);
  assert_true(bare.first.chatter >= 2);
  assert_true(count(&bare, TW_EVENT_CHATTER) == bare.first.chatter || bare.events_dropped > 0);
  m.output.minimum_pulse = 20e-3;
  const tw_touch_result held = run(&m, &go);
  assert_true(held.first.chatter < bare.first.chatter);
  assert_near(held.first.output, bare.first.output, 1e-12);
}

static void clamps(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(1);
  m.node.series_resistance = 10e3;
  tw_touch_motion go = scene_feed(1000);
  go.until = TW_UNTIL_READY;
  const tw_touch_result bare = run(&m, &go);
  m.node.clamped = true;
  m.node.clamp_resistance = 50.0;
  m.node.clamp_low = -0.3;
  m.node.clamp_high = 1.2;
  const tw_touch_result held = run(&m, &go);
  /* 13 N are 1.3 V, of which the leak leaves 0.6 V: the clamp takes the top off, and the node
   * comes back from below when the tip is let go */
  print_message("peak node change %.3f V bare, %.3f V clamped; output ends %.2f, %.2f ms\n",
                bare.first.peak_node, held.first.peak_node, bare.output_end * 1e3,
                held.output_end * 1e3);
  assert_true(bare.first.peak_node > 0.5);
  assert_true(held.first.peak_node < 0.6 * bare.first.peak_node);
  assert_int_equal(count(&held, TW_EVENT_CLAMP_ON) - count(&held, TW_EVENT_CLAMP_OFF), 0);
  assert_true(count(&held, TW_EVENT_CLAMP_ON) >= 1);
  assert_near(held.first.output, bare.first.output, 1e-6);
  /* no resistor before it: the diode's slope of 1 kohm alone holds the node as well */
  m.node.series_resistance = 0.0;
  m.node.clamp_resistance = 1e3;
  const tw_touch_result alone = run(&m, &go);
  assert_rel(alone.first.peak_node, held.first.peak_node, 0.1);
  m.node.series_resistance = m.node.clamp_resistance = 0.0;
  tw_touch_result r;
  tw_fault fault;
  assert_int_equal(try_run(&m, &go, &r, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "circuit.series_resistance");
}

/* contacts that open: the output holds as long as the tip is held off */
static void opening_contact(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(1);
  m.node.sense = TW_SENSE_OPENING;
  m.node.capacitance = 100e-12;
  m.node.resistance = 10e3;
  m.node.bias_current = 0.0;
  m.node.open_at = 1e-6;
  m.node.close_at = 0.8e-6;
  m.node.open_voltage = 5.0;
  m.node.closed_voltage = 0.01;
  tw_touch_motion go = scene_feed(100);
  go.until = TW_UNTIL_READY;
  go.dwell = 0.3;
  const tw_touch_result r = run(&m, &go);
  assert_int_equal(r.first.state, TW_TOUCH_OK);
  assert_int_equal(count(&r, TW_EVENT_OPENED) >= 1, 1);
  print_message("opening contact: edge %.3f ms, holds %.1f ms\n", r.first.output * 1e3,
                r.output_hold_time * 1e3);
  assert_true(r.output_hold_time > 0.3);
}

/* a table that samples the linear law gives the linear law's touch */
static void table_for_a_law(void **state)
{
  (void)state;
  double x[40];
  double f[40];
  double q[40];
  for (int i = 0; i < 40; i++) {
    x[i] = 50e-6 * i * i / 1521.0;
    f[i] = 1e5 * x[i];
    q[i] = 2e-4 * x[i];
  }
  tw_touch_model m = scene_circuit(2);
  tw_touch_motion go = scene_feed(100);
  go.until = TW_UNTIL_READY;
  const tw_touch_result law = run(&m, &go);
  m.carrier.law = TW_CARRIER_TABLE;
  m.carrier.table_x = x;
  m.carrier.table_force = f;
  m.carrier.table_charge = q;
  m.carrier.table_count = 40;
  const tw_touch_result table = run(&m, &go);
  assert_rel(table.first.output, law.first.output, 1e-6);
  assert_rel(table.first.peak_force, law.first.peak_force, 1e-6);
  assert_false(table.beyond_table);
  go.feed *= 100.0; /* past the table's end: said, and continued straight */
  assert_true(run(&m, &go).beyond_table);
  m.carrier.table_x = f;
  m.carrier.table_force = x;
  tw_touch_levels l;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  f[7] = f[6];
  tw_fault fault;
  tw_touch_result r;
  assert_int_equal(try_run(&m, &go, &r, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "seat.kind");
}

/* a stage without bandwidth is the limit of a quick one, for both kinds */
static void immediate_stage(void **state)
{
  (void)state;
  for (int c = 2; c <= 3; c++) {
    tw_touch_model m = scene_circuit(c);
    m.stage.slew = 0.0;
    tw_touch_motion go = scene_feed(200);
    go.until = TW_UNTIL_READY;
    m.stage.bandwidth *= 100.0;
    const tw_touch_result quick = run(&m, &go);
    m.stage.bandwidth = 0.0;
    const tw_touch_result at_once = run(&m, &go);
    print_message("circuit %d: quick stage %.4f us, immediate %.4f us; ends %.3f, %.3f ms\n", c,
                  quick.first.output * 1e6, at_once.first.output * 1e6, quick.output_end * 1e3,
                  at_once.output_end * 1e3);
    assert_rel(at_once.first.output, quick.first.output, 1e-4);
    if (c == 2) {
      assert_rel(at_once.output_end, quick.output_end, 1e-4);
    }
  }
}

static void rest_states(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(1);
  m.node.bias_current = 70e-9;
  tw_touch_motion go = scene_feed(100);
  assert_int_equal(run(&m, &go).first.state, TW_TOUCH_TRIPPED_AT_REST);
  m = scene_circuit(2);
  m.carrier.charge_per_metre *= -1.0; /* poled the other way round */
  const tw_touch_result r = run(&m, &go);
  assert_int_equal(r.first.state, TW_TOUCH_NO_TRIP);
  assert_rel(r.first.searched_travel, go.feed * go.give_up, 1e-9);
}

/* the same model gives the same bits whatever ran before in the workspace; no allocation inside */
static void repeatable(void **state)
{
  (void)state;
  tw_touch_work *w = tw_touch_work_new();
  tw_touch_result a;
  tw_touch_result b;
  const tw_touch_model m = scene_circuit(3);
  const tw_touch_model other = scene_smooth('B');
  tw_touch_motion go = scene_feed(150);
  go.until = TW_UNTIL_SECOND;
  tw_alloc_fail_at(0, false); /* counts from here */
  assert_int_equal(tw_touch_run(&m, &go, w, NULL, &a, NULL), TW_OK);
  tw_touch_motion fast = scene_feed(60);
  assert_int_equal(tw_touch_run(&other, &fast, w, NULL, &b, NULL), TW_OK);
  assert_int_equal(tw_touch_run(&m, &go, w, NULL, &b, NULL), TW_OK);
  assert_int_equal(tw_alloc_seen(), 0);
  assert_memory_equal(&a.first, &b.first, sizeof a.first);
  assert_memory_equal(&a.second, &b.second, sizeof a.second);
  assert_int_equal(a.steps, b.steps);
  tw_touch_work_free(w);
}

static bool count_points(void *self, const tw_touch_point *p)
{
  int *n = self;
  (*n)++;
  return isfinite(p->force) && isfinite(p->node) && p->time <= 3e-3;
}

static void trace(void **state)
{
  (void)state;
  tw_touch_work *w = tw_touch_work_new();
  tw_touch_result r;
  tw_touch_result bare;
  int n = 0;
  const tw_touch_model m = scene_circuit(1);
  const tw_touch_motion go = scene_feed(200);
  const tw_touch_sink sink = {count_points, &n, 10e-6};
  assert_int_equal(tw_touch_run(&m, &go, w, NULL, &bare, NULL), TW_OK);
  assert_int_equal(tw_touch_run(&m, &go, w, &sink, &r, NULL), TW_CANCELLED);
  assert_in_range(n, 300, 302);
  n = -1000000;
  const tw_touch_motion quick = scene_feed(1000);
  assert_int_equal(tw_touch_run(&m, &quick, w, NULL, &bare, NULL), TW_OK);
  assert_int_equal(tw_touch_run(&m, &quick, w, &sink, &r, NULL), TW_OK);
  /* being looked at changes nothing */
  assert_memory_equal(&r.first, &bare.first, sizeof r.first);
  tw_touch_work_free(w);
}

static void refused(void **state)
{
  (void)state;
  const tw_touch_motion go = scene_feed(100);
  tw_touch_result r;
  tw_fault fault;
  tw_touch_model m = scene_circuit(1);
  m.tip.mass = 0.0;
  assert_int_equal(try_run(&m, &go, &r, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "stylus.ball_diameter");
  m = scene_circuit(1);
  m.carrier.mass = 0.0;
  assert_int_equal(try_run(&m, &go, &r, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "seat.carrier_mass");
  m = scene_circuit(1);
  m.node.resistance = NAN;
  assert_int_equal(try_run(&m, &go, &r, &fault), TW_BAD_INPUT);
  m = scene_circuit(1);
  m.comparator.kind = TW_COMPARATOR_REGENERATIVE;
  m.comparator.bandwidth = 0.0;
  assert_int_equal(try_run(&m, &go, &r, &fault), TW_BAD_INPUT);
  m = scene_circuit(1);
  m.output.logic_level = 4.0;
  assert_int_equal(try_run(&m, &go, &r, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "machine.input_low");
  tw_touch_motion bad = go;
  bad.feed = 0.0;
  m = scene_circuit(1);
  assert_int_equal(try_run(&m, &bad, &r, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "machine.feed");
}

/* no damping anywhere, and stiffness without measure: an answer, or a reason; never a hang */
static void extremes(void **state)
{
  (void)state;
  tw_touch_motion go = scene_feed(200);
  tw_touch_result r;
  tw_fault fault;
  tw_touch_model m = scene_circuit(1);
  m.tip.damping = m.carrier.damping = m.contact.damping = 0.0;
  const tw_touch_result free_ring = run(&m, &go);
  assert_int_equal(free_ring.first.state, TW_TOUCH_OK);
  assert_rel(free_ring.first.threshold, 4.70e-3, 0.05);
  /* a disc a thousand times stiffer with the same charge per newton: the stem decides */
  m = scene_circuit(1);
  m.carrier.stiffness *= 1e3;
  m.carrier.charge_per_metre *= 1e3;
  const tw_touch_result stiff = run(&m, &go);
  assert_int_equal(stiff.first.state, TW_TOUCH_OK);
  print_message("disc 1000 times stiffer: threshold %.4f ms in %ld steps\n",
                stiff.first.threshold * 1e3, stiff.steps);
  /* F = k v t leaks: 0.4572 N at 5e4 N/m */
  assert_rel(stiff.first.threshold, -20.24e-3 * log(1.0 - 0.4572 / (5e4 * go.feed * 20.24e-3)),
             0.02);
  /* a contact without measure: its ringing is of GHz, and only a rigid one leaves it out */
  m = scene_circuit(1);
  m.contact.stiffness = 1e22;
  m.step_limit = 60;
  const tw_status status = try_run(&m, &go, &r, &fault);
  print_message("contact of 1e22: %s: %s; %s\n", tw_status_text(status), fault.text, fault.hint);
  assert_int_equal(status, TW_NO_ANSWER);
  assert_string_equal(fault.field, "stylus.ball_diameter");
  assert_true(strlen(fault.hint) > 10);
  m.step_limit = 2000000;
  const tw_touch_result hard = run(&m, &go);
  m.contact.kind = TW_CONTACT_RIGID; /* the hint's way out */
  const tw_touch_result rigid = run(&m, &go);
  print_message("without the bound: %.4f ms in %ld steps, rigid %.4f ms in %ld\n",
                hard.first.threshold * 1e3, hard.steps, rigid.first.threshold * 1e3, rigid.steps);
  assert_rel(hard.first.threshold, rigid.first.threshold, 2e-2);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(second_touch),    cmocka_unit_test(too_early_a_second_touch),
      cmocka_unit_test(minimum_pulse),   cmocka_unit_test(falls_back_pressed),
      cmocka_unit_test(slow_controller), cmocka_unit_test(double_edges),
      cmocka_unit_test(clamps),          cmocka_unit_test(opening_contact),
      cmocka_unit_test(table_for_a_law), cmocka_unit_test(rest_states),
      cmocka_unit_test(immediate_stage), cmocka_unit_test(repeatable),
      cmocka_unit_test(trace),           cmocka_unit_test(refused),
      cmocka_unit_test(extremes),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
