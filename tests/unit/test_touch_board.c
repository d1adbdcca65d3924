/* One node for two views: 300 boards drawn at random, solved by the circuit room and handed to a
 * touch in time. Rest level, threshold, time constant, hysteresis and the way back must be the same
 * there; and a ramp of charge just above the slowest one of the circuit room trips the touch, one
 * just below does not. With TW_PROVE=1 three thousand. */
#include "near.h"

#include "random_boards.h"
#include "tripwright/touch.h"

#include <stdlib.h>

static int wanted(void)
{
  return getenv("TW_PROVE") ? 3000 : 300;
}

static const double slope = 1e-6; /* C/m */

static tw_touch_model model_of(const tw_circuit_spec *s, const tw_circuit *c, bool falls)
{
  tw_touch_model m = tw_touch_model_default();
  m.contact.kind = TW_CONTACT_RIGID;
  m.tip = (tw_touch_tip){.mass = 1e-3, .stiffness = 1e6, .damping = 150.0};
  m.carrier = (tw_touch_carrier){.mass = 1e-3,
                                 .law = TW_CARRIER_LINEAR,
                                 .stiffness = 10.0,
                                 .charge_per_metre = falls ? -slope : slope,
                                 .damping = 1.0};
  tw_touch_take_board(s, c, falls, &m);
  m.output.logic_level = 0.5 * (m.comparator.low + m.comparator.high);
  return m;
}

/* what the circuit room says of this side */
typedef struct side {
  double threshold, hysteresis, rearm;
} side;

static side side_of(const tw_circuit *c, bool falls)
{
  const double gain = c->gain - c->follow;
  if (c->polarity == TW_SEES_BOTH && falls) {
    return (side){c->threshold_voltage_falling, (c->release_falling - c->trip_falling) / gain,
                  (c->rest_tripped - c->release_falling) / gain};
  }
  return (side){c->threshold_voltage, c->hysteresis_voltage, c->rearm_voltage};
}

static void check_levels(const tw_circuit_spec *s, const tw_circuit *c, bool falls)
{
  const tw_touch_model m = model_of(s, c, falls);
  const side want = side_of(c, falls);
  tw_touch_levels l;
  tw_fault fault = {0};
  if (tw_touch_levels_of(&m, &l, &fault) != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
    fail();
  }
  const double scale = 1e-9 * s->supply;
  const double gain = m.stage.kind == TW_STAGE_GAIN ? m.stage.gain : 1.0;
  assert_near(l.rest_node, c->rest_node, scale);
  if (c->flags[TW_FLAG_FRONT_LIMIT]) {
    return; /* the stage stands at its limit before the threshold: no level to compare */
  }
  assert_int_equal(l.armed, want.threshold > 0.0);
  if (!l.armed) {
    return;
  }
  assert_rel(l.threshold, want.threshold, 1e-6);
  assert_rel(l.charge, (falls ? -1.0 : 1.0) * want.threshold / c->charge_gain, 1e-6);
  const double pulled = m.stage.kind == TW_STAGE_CHARGE ? 0.0 : (c->rest_tripped - c->rest);
  const double sign = falls ? -1.0 : 1.0;
  const double back = sign * (l.release - l.rest - pulled) / gain;
  /* the way back is counted from where the tripped output leaves the rest level */
  assert_near(back, want.rearm, 1e-6 * fabs(want.rearm) + 10 * scale);
  assert_int_equal(l.rearms, want.rearm > 0.0);
  const double tau = m.stage.kind == TW_STAGE_CHARGE
                         ? m.stage.feedback_capacitance * m.stage.feedback_resistance
                         : m.node.resistance * m.node.capacitance;
  assert_rel(tau, c->time_constant, 1e-9);
}

/* the ramp that just reaches the threshold, on the touch itself */
static void check_ramp(const tw_circuit_spec *s, const tw_circuit *c, bool falls,
                       tw_touch_work *work)
{
  tw_touch_model m = model_of(s, c, falls);
  m.tolerance = 1e-7;
  tw_touch_levels l;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  if (!c->can_trip || m.node.clamped || side_of(c, falls).threshold < 1e-3) {
    return; /* a limit decides before the ramp does */
  }
  const double slowest = side_of(c, falls).threshold / (c->resistance * slope);
  for (int above = 0; above < 2; above++) {
    const double by = above ? 1.03 : 0.97;
    tw_touch_motion go = tw_touch_motion_default();
    tw_touch_result r;
    go.feed = by * slowest;
    go.until = TW_UNTIL_EDGE;
    go.give_up = 8.0 * c->time_constant;
    tw_fault fault = {0};
    if (tw_touch_run(&m, &go, work, NULL, &r, &fault) != TW_OK) {
      print_error("%s: %s\n", fault.field, fault.text);
      fail();
    }
    if ((r.first.state == TW_TOUCH_OK) != (above == 1)) {
      print_error("kind %d, falls %d, %.2f of the slowest ramp: state %d\n", s->kind, falls, by,
                  r.first.state);
      fail();
    }
  }
}

/* a clamp is one without a resistor before it, too: what holds it then is the diode's own slope */
static void test_clamp_alone(void **state)
{
  (void)state;
  random_boards_start(3);
  for (int i = 0; i < 30; i++) {
    tw_circuit_spec s = random_board(i);
    tw_circuit c;
    s.clamped = true;
    s.clamp_high = s.supply + 0.6;
    s.clamp_low = -0.6;
    if (tw_circuit_solve(&s, &c, NULL) == TW_OK) {
      s.series_resistance = 10e3;
      assert_near(model_of(&s, &c, false).node.clamp_resistance, 0.0, 0.0);
      s.series_resistance = 0.0;
      const tw_touch_node node = model_of(&s, &c, false).node;
      assert_true(node.clamped && node.clamp_resistance > 0.0);
    }
  }
}

static void test_levels(void **state)
{
  (void)state;
  random_boards_start(1);
  int used = 0, tripped = 0;
  for (int i = 0; used < wanted(); i++) {
    const tw_circuit_spec s = random_board(i);
    tw_circuit c;
    if (tw_circuit_solve(&s, &c, NULL) != TW_OK) {
      continue;
    }
    used++;
    tripped += c.rearm == TW_REARM_TRIPPED;
    check_levels(&s, &c, s.polarity == TW_SEES_FALLING);
    if (s.polarity == TW_SEES_BOTH) {
      check_levels(&s, &c, true);
    }
  }
  print_message("%d boards, %d of them tripped at rest\n", used, tripped);
  assert_true(tripped < used / 2);
}

static void test_ramps(void **state)
{
  (void)state;
  random_boards_start(2);
  tw_touch_work *work = tw_touch_work_new();
  int used = 0;
  for (int i = 0; used < wanted() / 10; i++) {
    const tw_circuit_spec s = random_board(i);
    tw_circuit c;
    if (tw_circuit_solve(&s, &c, NULL) != TW_OK || c.rearm == TW_REARM_TRIPPED) {
      continue;
    }
    used++;
    check_ramp(&s, &c, s.polarity == TW_SEES_FALLING, work);
  }
  tw_touch_work_free(work);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_levels),
                                     cmocka_unit_test(test_clamp_alone),
                                     cmocka_unit_test(test_ramps)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
