/* Whole touches against converged runs of two independent solvers (SciPy's LSODA and Radau), as
 * tabulated in docs/models/touch.md 9; the restitution form of the contact's damping. */
#include "near.h"
#include "touch_scenes.h"

static tw_touch_result run(const tw_touch_model *m, const tw_touch_motion *go)
{
  static tw_touch_result r;
  tw_touch_work *w = tw_touch_work_new();
  tw_fault fault = {0};
  assert_non_null(w);
  const tw_status status = tw_touch_run(m, go, w, NULL, &r, &fault);
  if (status != TW_OK) {
    print_error("%s\n", fault.text);
  }
  assert_int_equal(status, TW_OK);
  tw_touch_work_free(w);
  return r;
}

/* circuit, feed mm/min, threshold ms, output ms, pretravel um */
static void eighteen_touches(void **state)
{
  (void)state;
  static const struct {
    int circuit;
    double feed, threshold, output, pretravel;
  } rows[] = {
      {1, 20, 0, 0, 0},
      {1, 50, 34.72575, 34.92752, 29.10627},
      {1, 100, 10.73306, 10.88064, 18.13440},
      {1, 200, 4.69439, 4.82248, 16.07494},
      {1, 500, 1.73037, 1.81308, 15.10901},
      {1, 1000, 0.73785, 0.80791, 13.46522},
      {2, 20, 27.28090, 27.44158, 9.14719},
      {2, 50, 7.13186, 7.23753, 6.03127},
      {2, 100, 3.16451, 3.24768, 5.41280},
      {2, 200, 1.61960, 1.67358, 5.57859},
      {2, 500, 0.58995, 0.62555, 5.21292},
      {2, 1000, 0.41261, 0.44000, 7.33332},
      {3, 20, 31.43290, 31.59875, 10.53292},
      {3, 50, 8.00788, 8.11947, 6.76622},
      {3, 100, 3.72012, 3.80380, 6.33967},
      {3, 200, 1.74089, 1.79685, 5.98949},
      {3, 500, 0.63329, 0.67112, 5.59264},
      {3, 1000, 0.43553, 0.46379, 7.72990},
  };
  double worst = 0.0;
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    const tw_touch_model m = scene_restitution(rows[i].circuit);
    const tw_touch_motion go = scene_feed(rows[i].feed);
    const tw_touch_result r = run(&m, &go);
    if (rows[i].output == 0.0) {
      assert_int_equal(r.first.state, TW_TOUCH_NO_TRIP);
      assert_near(r.first.searched_time, 0.15, 1e-9);
      /* 43 000 with explicit steps alone: the quiet part must be recognised */
      assert_true(r.steps < 3000);
      continue;
    }
    assert_int_equal(r.first.state, TW_TOUCH_OK);
    assert_rel(r.first.threshold * 1e3, rows[i].threshold, 1e-4);
    assert_rel(r.first.output * 1e3, rows[i].output, 1e-4);
    assert_rel(r.first.pretravel * 1e6, rows[i].pretravel, 1e-4);
    worst = fmax(worst, fabs(r.first.output * 1e3 / rows[i].output - 1.0));
  }
  print_message("18 touches: output edge within %.1e of the converged runs (1e-4 asked)\n", worst);
}

/* sample 1 ms phase 0.3, latency 1 ms, stop 0.5 m/s2 and 50 m/s3, dwell 20 ms, retract 5 mm/s */
static void nine_cycles(void **state)
{
  (void)state;
  static const struct {
    int circuit;
    double feed, output, sample, start, stop, overtravel, force, end;
  } rows[] = {
      {1, 50, 34.9275, 35.3, 36.3, 8.1650, 33.652, 1.1112, 60.446},
      {1, 200, 4.8225, 5.3, 6.3, 16.3299, 48.217, 1.5938, 45.715},
      {1, 1000, 0.8079, 1.3, 2.3, 43.3333, 399.444, 13.2597, 74.665},
      {2, 50, 7.2375, 7.3, 8.3, 8.1650, 10.319, 0.3392, 24.773},
      {2, 200, 1.6736, 2.3, 3.3, 16.3299, 38.217, 1.2624, 42.680},
      {2, 1000, 0.4400, 1.3, 2.3, 43.3333, 399.444, 13.2597, 74.742},
      {3, 50, 8.1195, 8.3, 9.3, 8.1650, 11.152, 0.3667, 26.167},
      {3, 200, 1.7968, 2.3, 3.3, 16.3299, 38.217, 1.2624, 43.008},
      {3, 1000, 0.4638, 1.3, 2.3, 43.3333, 399.444, 13.2597, 87.218},
  };
  double worst = 0.0;
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    const tw_touch_model m = scene_restitution(rows[i].circuit);
    tw_touch_motion go = scene_feed(rows[i].feed);
    go.sample_phase = 0.3;
    go.until = TW_UNTIL_READY;
    const tw_touch_result r = run(&m, &go);
    assert_int_equal(r.first.reached, TW_REACHED_STOP_END);
    const double got[] = {r.first.output * 1e3,     r.first.sample * 1e3,
                          r.first.stop_start * 1e3, (r.first.stop_end - r.first.stop_start) * 1e3,
                          r.first.overtravel * 1e6, r.first.peak_force,
                          r.output_end * 1e3};
    const double want[] = {rows[i].output,     rows[i].sample, rows[i].start, rows[i].stop,
                           rows[i].overtravel, rows[i].force,  rows[i].end};
    for (size_t k = 0; k < sizeof want / sizeof *want; k++) {
      assert_rel(got[k], want[k], 1e-3);
      worst = fmax(worst, fabs(got[k] / want[k] - 1.0));
    }
    assert_int_equal(r.first.chatter, 0);
    assert_true(r.ready);
  }
  print_message("9 cycles: seven figures each within %.1e (1e-3 asked)\n", worst);
}

/* softening carrier, amplifier pole, comparator that decides along a tanh: converged Radau runs */
static void four_smooth_touches(void **state)
{
  (void)state;
  static const struct {
    char circuit;
    double feed, t1, t2, travel;
  } rows[] = {{'A', 0.3, 1422.631878, 1422.813737, 0.426790},
              {'A', 3.0, 279.395179, 280.062723, 0.838186},
              {'B', 1.0, 2323.511238, 2323.734316, 2.323511},
              {'B', 60.0, 198.122825, 198.809208, 11.887369}};
  double worst = 0.0;
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    const tw_touch_model m = scene_smooth(rows[i].circuit);
    tw_touch_motion go = scene_feed(1.0);
    go.feed = rows[i].feed * 1e-3;
    const tw_touch_result r = run(&m, &go);
    assert_near(r.first.threshold * 1e6, rows[i].t1, 0.1);
    assert_near(r.first.output * 1e6, rows[i].t2, 0.1);
    assert_near(r.first.threshold * go.feed * 1e6, rows[i].travel, 1e-5);
    worst = fmax(worst, fabs(r.first.threshold * 1e6 - rows[i].t1));
  }
  print_message("4 smooth touches: t1 within %.5f us (0.1 us asked)\n", worst);
}

/* constant damping instead of the restitution form: the shifts that the converged runs showed */
static void constant_damping_shifts(void **state)
{
  (void)state;
  static const struct {
    int circuit;
    double feed, percent, digit;
  } rows[] = {{1, 50, 0.004, 0.001}, {2, 200, -0.24, 0.01}, {2, 1000, -2.6, 0.1}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    const tw_touch_motion go = scene_feed(rows[i].feed);
    const tw_touch_model a = scene_restitution(rows[i].circuit);
    const tw_touch_model b = scene_circuit(rows[i].circuit);
    const double shift = 100.0 * (run(&b, &go).first.output / run(&a, &go).first.output - 1.0);
    print_message("circuit %d at %g mm/min: constant damping moves the edge by %+.4f %%\n",
                  rows[i].circuit, rows[i].feed, shift);
    assert_printed(shift, rows[i].percent, rows[i].digit);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(eighteen_touches),
      cmocka_unit_test(nine_cycles),
      cmocka_unit_test(four_smooth_touches),
      cmocka_unit_test(constant_damping_shifts),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
