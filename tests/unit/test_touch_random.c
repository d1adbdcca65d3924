/* Touches of models drawn at random over decades: an answer or a reason, nothing that is not a
 * number, times in their order; and the default tolerance against one a thousand times finer. */
#include "near.h"
#include "touch_scenes.h"
#include "tripwright/touch_judge.h"
#include <stdlib.h>
#include <string.h>

static uint64_t seed = 12345;

/* uniform 0..1 by a fixed multiplicative sequence: the same models everywhere */
static double uniform(void)
{
  seed = seed * 6364136223846793005u + 1442695040888963407u;
  return (double)(seed >> 11) / 9007199254740992.0;
}

static double decades(double low, double high)
{
  return low * pow(high / low, uniform());
}

static double x[24];
static double f[24];
static double q[24];

static void draw_table(tw_touch_model *m)
{
  const double k1 = decades(1e4, 1e6);
  const double k2 = k1 * decades(1e-3, 1.0);
  const double bend = decades(0.3e-6, 10e-6);
  for (int i = 0; i < 24; i++) {
    x[i] = 200e-6 * i * i / 529.0;
    f[i] = k2 * x[i] - k1 * bend * expm1(-x[i] / bend);
    q[i] = 1e-9 * (0.3 * f[i] + 3000.0 * x[i]);
  }
  m->carrier.law = TW_CARRIER_TABLE;
  m->carrier.table_x = x;
  m->carrier.table_force = f;
  m->carrier.table_charge = q;
  m->carrier.table_count = 24;
}

static tw_touch_model draw(int i)
{
  tw_touch_model m = scene_circuit(1 + i % 3);
  m.contact.stiffness = decades(1e9, 1e11);
  m.contact.damping = uniform() < 0.5 ? 0.3 : 0.0;
  m.contact.restitution = uniform() < 0.3 ? 0.7 : 0.0;
  m.contact.kind = uniform() < 0.15 ? TW_CONTACT_RIGID : TW_CONTACT_HERTZ;
  m.tip.mass = decades(1e-4, 1e-2);
  m.tip.stiffness = decades(5e3, 5e5);
  m.tip.damping = 2.0 * 0.3 * uniform() * sqrt(m.tip.stiffness * m.tip.mass);
  m.carrier.mass = decades(5e-4, 5e-2);
  m.carrier.stiffness = decades(1e4, 1e6);
  m.carrier.charge_per_metre = decades(0.5e-9, 5e-9) * m.carrier.stiffness;
  m.carrier.damping = 2.0 * 0.2 * uniform() * sqrt(m.carrier.stiffness * m.carrier.mass);
  if (i % 4 == 1) {
    draw_table(&m);
  }
  if (i % 5 == 2) {
    m.support = (tw_touch_support){decades(0.05, 5.0), decades(1e5, 1e7), 50.0};
  }
  if (i % 7 == 3) {
    m.node.clamped = true;
    m.node.series_resistance = decades(1e2, 1e5);
    m.node.clamp_low = m.node.bias_voltage - 0.7;
    m.node.clamp_high = m.node.bias_voltage + 0.7;
  }
  m.output.minimum_pulse = uniform() < 0.3 ? decades(1e-4, 3e-2) : 0.0;
  return m;
}

static void check_one(const tw_touch_one *o)
{
  const double all[] = {o->threshold, o->output,     o->sample,     o->stop_start, o->stop_end,
                        o->pretravel, o->overtravel, o->peak_force, o->peak_node,  o->peak_carrier};
  for (size_t k = 0; k < sizeof all / sizeof *all; k++) {
    assert_true(isfinite(all[k]));
  }
  if (o->reached >= TW_REACHED_OUTPUT) {
    assert_true(o->threshold <= o->output);
  }
  if (o->reached >= TW_REACHED_STOP_END) {
    assert_true(o->output <= o->sample && o->sample <= o->stop_start &&
                o->stop_start < o->stop_end);
    assert_true(o->overtravel >= o->pretravel);
  }
}

static void cycles(void **state)
{
  (void)state;
  const int count = getenv("TW_PROVE") ? 3000 : 150;
  tw_touch_work *w = tw_touch_work_new();
  int ok = 0;
  int reasons = 0;
  long most_steps = 0;
  for (int i = 0; i < count; i++) {
    const tw_touch_model m = draw(i);
    tw_touch_motion go = scene_feed(decades(20, 2000));
    go.until = i % 2 ? TW_UNTIL_SECOND : TW_UNTIL_READY;
    go.second_feed = 60 * SCENE_MM_MIN;
    go.retract_distance = 0.3e-3;
    tw_touch_result r;
    tw_fault fault = {0};
    const tw_status status = tw_touch_run(&m, &go, w, NULL, &r, &fault);
    if (status != TW_OK) {
      print_message("%d: %s\n", i, fault.text);
      assert_int_equal(status, TW_NO_ANSWER);
      assert_true(fault.text[0] && fault.hint[0] && fault.field[0]);
      reasons++;
      continue;
    }
    check_one(&r.first);
    check_one(&r.second);
    assert_true(isfinite(r.output_end) && isfinite(r.ready_time) && isfinite(r.end));
    ok += r.first.state == TW_TOUCH_OK;
    most_steps = r.steps > most_steps ? r.steps : most_steps;
  }
  print_message("%d cycles, %d tripped, %d stopped with a reason; at most %ld steps\n", count, ok,
                reasons, most_steps);
  assert_true(ok > count / 2);
  assert_true(reasons <= count / 50);
  tw_touch_work_free(w);
}

static void tolerance(void **state)
{
  (void)state;
  const int count = getenv("TW_PROVE") ? 1500 : 120;
  tw_touch_work *w = tw_touch_work_new();
  double worst = 0.0;
  int compared = 0;
  int apart = 0;
  for (int i = 0; i < count; i++) {
    tw_touch_model m = draw(i);
    const tw_touch_motion go = scene_feed(decades(20, 2000));
    tw_touch_result a;
    tw_touch_result b;
    assert_int_equal(tw_touch_run(&m, &go, w, NULL, &a, NULL), TW_OK);
    m.tolerance *= 1e-3;
    if (tw_touch_run(&m, &go, w, NULL, &b, NULL) != TW_OK) {
      continue;
    }
    if (a.first.state != b.first.state) {
      apart++; /* at the edge of the window a digit decides */
      continue;
    }
    if (a.first.state != TW_TOUCH_OK) {
      continue;
    }
    const double off = fabs(a.first.output / b.first.output - 1.0);
    if (off > 1e-4) {
      print_message("%d: %.6f us, finer %.6f us\n", i, a.first.output * 1e6, b.first.output * 1e6);
    }
    worst = fmax(worst, off);
    compared++;
  }
  print_message("%d touches: default tolerance within %.1e of one a thousand times finer; %d "
                "differ in state\n",
                compared, worst, apart);
  assert_true(compared > count / 2);
  assert_true(apart == 0);
  assert_true(worst < 1e-3);
  tw_touch_work_free(w);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(cycles), cmocka_unit_test(tolerance)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
