/* Feed window, pretravel against feed, apparent delay, repeatability: against the closed forms
 * where the model is simple enough to have them, and against the runs themselves. */
#include "near.h"
#include "touch_scenes.h"
#include "tripwright/circuit_forms.h"
#include "tripwright/touch_judge.h"

static tw_window_ask plain(const tw_touch_motion *go)
{
  return (tw_window_ask){.motion = go,
                         .feed_least = 1.0 * SCENE_MM_MIN,
                         .feed_most = 6000.0 * SCENE_MM_MIN,
                         .threshold_margin = 0.2,
                         .bias_most = 20e-9,
                         .bias_spread = 20e-9,
                         .within = 0.1};
}

static void window_of_three_circuits(void **state)
{
  (void)state;
  tw_touch_work *w = tw_touch_work_new();
  for (int c = 1; c <= 3; c++) {
    const tw_touch_model m = scene_circuit(c);
    const tw_touch_motion go = scene_feed(100);
    const tw_window_ask ask = plain(&go);
    const tw_window_way way = {"side", &m, 0.4e-3};
    tw_window out;
    tw_fault fault = {0};
    assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
    print_message("circuit %d: %.3f (bound %.3f, with margin %.3f) to %.1f mm/min, %s; "
                  "calibrate at %.1f\n",
                  c, out.slowest / SCENE_MM_MIN, out.slowest_static / SCENE_MM_MIN,
                  out.slowest_margin / SCENE_MM_MIN, out.fastest / SCENE_MM_MIN,
                  tw_window_reason_text(out.fast_reason), out.calibrate / SCENE_MM_MIN);
    assert_true(out.trips && out.open);
    /* the edge: it trips, 0.02 % below it does not; the bound is a bound */
    assert_true(out.slowest >= out.slowest_static);
    assert_rel(out.slowest, out.slowest_static, 0.03);
    for (int k = -1; k <= 0; k++) {
      tw_touch_motion at = go;
      tw_touch_result r;
      at.feed = out.slowest * (1.0 + 2e-4 * k);
      at.give_up = 0.4e-3 / at.feed;
      assert_int_equal(tw_touch_run(&m, &at, w, NULL, &r, NULL), TW_OK);
      assert_int_equal(r.first.state, k < 0 ? TW_TOUCH_NO_TRIP : TW_TOUCH_OK);
    }
    /* the threshold 20 % farther and the bias current, both at once: a ramp needs the sum */
    assert_rel(out.slowest_bias / SCENE_MM_MIN, 18.0, 1e-9);
    const double margin = 1.2 * out.slowest;
    assert_rel(out.slowest_margin, margin + out.slowest_bias, 0.02);
    assert_int_equal(out.slow_reason, out.slowest_bias > margin ? TW_WINDOW_BIAS : TW_WINDOW_LEAK);
    /* the fastest: the overtravel is just used up, at the worst sample phase */
    assert_int_equal(out.fast_reason, TW_WINDOW_OVERTRAVEL);
    assert_true(out.overtravel <= 0.4e-3);
    assert_rel(out.overtravel, 0.4e-3, 1e-3);
    double over = 0.0;
    tw_touch_motion at = go;
    tw_touch_result r;
    at.feed = out.fastest;
    assert_int_equal(tw_touch_run(&m, &at, w, NULL, &r, NULL), TW_OK);
    assert_int_equal(tw_touch_overtravel(out.fastest, r.first.output + 2e-3, 0.5, 50, &over, NULL),
                     TW_OK);
    assert_rel(out.overtravel, over, 1e-4);
    /* 5.677 v_min for 10 % */
    assert_rel(out.calibrate, 5.677 * out.slowest_static, 1e-3);
  }
  tw_touch_work_free(w);
}

static void windows_that_are_shut(void **state)
{
  (void)state;
  tw_touch_work *w = tw_touch_work_new();
  const tw_touch_motion go = scene_feed(100);
  tw_window_ask ask = plain(&go);
  tw_touch_model m = scene_circuit(2);
  tw_window out;
  tw_fault fault = {0};
  /* poled the wrong way round: no feed trips */
  m.carrier.charge_per_metre *= -1.0;
  tw_window_way way = {"axial", &m, 0.4e-3};
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
  assert_true(!out.trips && !out.open && out.slow_reason == TW_WINDOW_NEVER);
  /* too little way to stop in at any feed */
  m = scene_circuit(2);
  way.overtravel = 6e-6;
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
  assert_true(!out.open);
  /* a part of 250 nA moves the rest level so far that no feed trips in the worst case */
  way.overtravel = 0.4e-3;
  ask.bias_most = ask.bias_spread = 250e-9;
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
  assert_true(out.trips && !out.margin_trips && !out.open);
  /* one of 60 nA takes 54 mm/min beside the threshold with its margin */
  ask.bias_most = ask.bias_spread = 60e-9;
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
  assert_rel(out.slowest_margin / SCENE_MM_MIN, 54.0 + 1.2 * out.slowest / SCENE_MM_MIN, 0.02);
  assert_int_equal(out.slow_reason, TW_WINDOW_BIAS);
  /* still good at the end of the search */
  ask.feed_most = 300 * SCENE_MM_MIN;
  ask.bias_most = ask.bias_spread = 0.0;
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
  assert_int_equal(out.fast_reason, TW_WINDOW_SEARCHED);
  /* a link's jitter is way that the stop needs besides */
  ask.feed_most = 6000 * SCENE_MM_MIN;
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
  const double without = out.fastest;
  ask.jitter = 5e-3;
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_OK);
  double over = 0.0;
  tw_touch_motion at = go;
  tw_touch_result r;
  at.feed = out.fastest;
  assert_int_equal(tw_touch_run(&m, &at, w, NULL, &r, NULL), TW_OK);
  assert_int_equal(tw_touch_overtravel(out.fastest, r.first.output + 7e-3, 0.5, 50, &over, NULL),
                   TW_OK);
  assert_true(out.fastest < 0.95 * without);
  assert_rel(over, 0.4e-3, 1e-3);
  way.overtravel = 0.0;
  assert_int_equal(tw_touch_window(&way, &ask, w, &out, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "housing.travel_side");
  tw_touch_work_free(w);
}

static void pretravel_against_feed(void **state)
{
  (void)state;
  tw_touch_work *w = tw_touch_work_new();
  tw_touch_model m = scene_circuit(1);
  m.contact.kind = TW_CONTACT_RIGID;
  const tw_touch_motion go = scene_feed(100);
  tw_window_row rows[8];
  static const double feeds[] = {20, 30, 50, 100, 200, 300, 500, 1000};
  for (int i = 0; i < 8; i++) {
    rows[i] = (tw_window_row){.feed = feeds[i] * SCENE_MM_MIN};
  }
  assert_int_equal(tw_touch_feeds(&m, &go, 0.0, w, rows, 8, NULL), TW_OK);
  assert_int_equal(rows[0].state, TW_TOUCH_NO_TRIP);
  assert_int_equal(rows[1].state, TW_TOUCH_NO_TRIP);
  tw_touch_levels l;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  for (int i = 2; i < 5; i++) { /* x/x_fast = u ln(u/(u-1)); what the comparator takes on top */
    double ratio = 0.0;
    assert_int_equal(tw_feed_ratio(rows[i].feed, l.slowest, &ratio, NULL), TW_OK);
    const double x = ratio * l.force / (5e4 * 1e5 / 1.5e5);
    print_message("%g mm/min: pretravel %.3f um, formula to the threshold %.3f um\n", feeds[i],
                  rows[i].pretravel * 1e6, x * 1e6);
    assert_true(rows[i].pretravel > 0.97 * x && rows[i].pretravel < 1.06 * x + rows[i].feed * 3e-4);
    assert_rel(rows[i].latched, rows[i].pretravel + rows[i].feed * 1.5e-3, 1e-12);
  }
  tw_apparent_delay delay;
  assert_int_equal(tw_touch_delay(rows, 8, 200 * SCENE_MM_MIN, &delay, NULL), TW_OK);
  print_message("apparent delay %.3f ms, intercept %.3f um, off the line by up to %.3f um\n",
                delay.seconds * 1e3, delay.intercept * 1e6, delay.residual * 1e6);
  assert_int_equal(delay.rows, 4);
  assert_near(delay.seconds, 1.5e-3, 0.4e-3); /* half a period and the latency, plus its own */
  tw_fault fault = {0};
  assert_int_equal(tw_touch_delay(rows, 2, 0.0, &delay, &fault), TW_NO_ANSWER);
  /* a line is found exactly */
  for (int i = 0; i < 8; i++) {
    rows[i].state = TW_TOUCH_OK;
    rows[i].latched = 3e-6 + 0.25e-3 * rows[i].feed;
  }
  assert_int_equal(tw_touch_delay(rows, 8, 0.0, &delay, NULL), TW_OK);
  assert_rel(delay.seconds, 0.25e-3, 1e-12);
  assert_rel(delay.intercept, 3e-6, 1e-12);
  tw_touch_work_free(w);
}

static void repeatability(void **state)
{
  (void)state;
  tw_touch_work *w = tw_touch_work_new();
  tw_touch_model m = scene_circuit(1);
  m.contact.kind = TW_CONTACT_RIGID;
  m.carrier.damping = 2.0 * sqrt(1.5e5 * 5e-3); /* no ripple on the ramp */
  tw_touch_motion go = scene_feed(100);
  const tw_repeat_ask ask = {.noise = 13e-6,
                             .jitter = 100e-6,
                             .friction_range = 0.3e-6,
                             .resolution = 1e-6,
                             .stated = 0.2e-6};
  tw_repeat out;
  assert_int_equal(tw_touch_repeat(&m, &go, &ask, w, &out, NULL), TW_OK);
  for (int i = 0; i < TW_REPEAT_COUNT; i++) {
    print_message("%-26s %-20s %8.4f um\n", tw_repeat_text((tw_repeat_cause)i),
                  tw_repeat_formula((tw_repeat_cause)i), out.s[i] * 1e6);
  }
  tw_touch_levels l;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  assert_rel(out.s[TW_REPEAT_NOISE], tw_jitter_position(13e-6, 0.1 * 1e5 / 3.0, go.feed, l.slowest),
             0.01);
  assert_printed(out.s[TW_REPEAT_SAMPLING] * 1e6, 0.481, 1e-3);
  assert_rel(out.s[TW_REPEAT_LINK], go.feed * 100e-6 / sqrt(12.0), 1e-12);
  double squares = 0.0;
  for (int i = 0; i < TW_REPEAT_COUNT; i++) {
    squares += out.s[i] * out.s[i];
  }
  assert_rel(out.two_s, 2.0 * sqrt(squares), 1e-12);
  tw_fault fault = {0};
  go.feed = 20 * SCENE_MM_MIN;
  assert_int_equal(tw_touch_repeat(&m, &go, &ask, w, &out, &fault), TW_NO_ANSWER);
  assert_string_equal(fault.field, "machine.feed");
  tw_touch_work_free(w);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(window_of_three_circuits),
      cmocka_unit_test(windows_that_are_shut),
      cmocka_unit_test(pretravel_against_feed),
      cmocka_unit_test(repeatability),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
