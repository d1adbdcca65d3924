/* False trips: tabulated closed forms, a recording against the steady state and against the ramped
 * step, and recordings that must be refused with their place. */
#include "near.h"
#include "tripwright/circuit_forms.h"
#include "tripwright/touch_judge.h"
#include <stdlib.h>
#include <string.h>

#define PI 3.14159265358979324

/* 6 g, 0.1 V/N, threshold 16.3 mV */
static tw_shake base(void)
{
  return (tw_shake){.mass = 6e-3,
                    .height = 20e-3,
                    .dead_moment = {0.0, 0.0},
                    .arm = 8e-3,
                    .volt_per_newton = 0.1,
                    .threshold = 16.33e-3,
                    .resonance = {700, 700, 700},
                    .damping = 0.05};
}

static void tabulated(void **state)
{
  (void)state;
  tw_shake s = base();
  tw_shaken out[3];
  const double a[3] = {1.0, 0.0, 0.5};
  const double at_once[3] = {0.0, 0.0, 0.0};
  assert_int_equal(tw_shake_move(&s, a, at_once, out, NULL), TW_OK);
  assert_printed(out[2].node * 1e3, 0.6, 1e-4);         /* m a S, step: twice */
  assert_printed(out[0].node / 0.1 / 2.0, 0.015, 1e-3); /* m a h/r per support */
  assert_printed(out[2].margin, 27.2, 0.1);
  s.resonance[2] = 711.8;
  const double quick[3] = {0.0, 0.0, 2.0};
  const double jerk[3] = {0.0, 0.0, 200.0};
  assert_int_equal(tw_shake_move(&s, quick, jerk, out, NULL), TW_OK);
  assert_printed(out[2].node * 1e3, 1.2194, 1e-4);
  s.damping = 0.05;
  assert_int_equal(tw_shake_sine(&s, 1.0, 400.0, out, NULL), TW_OK);
  assert_printed(out[2].node * 1e3, 0.873986, 1e-6);
  /* nothing moves: as quiet as can be said, and no infinity */
  const double still[3] = {0.0, 0.0, 0.0};
  assert_int_equal(tw_shake_move(&s, still, still, out, NULL), TW_OK);
  assert_near(out[0].margin, TW_SHAKE_MARGIN_MOST, 0.0);
}

static void what_gives_two(void **state)
{
  (void)state;
  tw_shake s = base();
  s.dead_moment[0] = s.dead_moment[1] = 0.3e-3;
  s.volt_per_moment = 5.0;
  tw_shaken out[3];
  const double jerk[3] = {0.0, 0.0, 0.0};
  double a[3] = {4.0, 4.0, 12.0};
  assert_int_equal(tw_shake_move(&s, a, jerk, out, NULL), TW_OK);
  assert_true(out[0].lifts && out[0].lift_margin < 1.0 && out[0].margin < 2.0);
  for (int i = 0; i < 3; i++) {
    print_message("axis %d: %.2f mV, margin %.3f; margin 2 at %.3f m/s2, %.2f mV\n", i,
                  out[i].node * 1e3, out[i].margin, out[i].acceleration_for_2,
                  out[i].threshold_for_2 * 1e3);
    a[i] = out[i].acceleration_for_2;
  }
  tw_shaken again[3];
  assert_int_equal(tw_shake_move(&s, a, jerk, again, NULL), TW_OK);
  for (int i = 0; i < 3; i++) {
    assert_rel(again[i].margin, 2.0, 1e-9);
  }
  /* a ramp as long as asked brings the axial one to 2 or better */
  const double firm[3] = {0.0, 0.0, 10.0};
  assert_int_equal(tw_shake_move(&s, firm, jerk, out, NULL), TW_OK);
  assert_true(out[2].margin < 2.0 && out[2].ramp_for_2 > 0.0);
  const double slow[3] = {0.0, 0.0, 10.0 / out[2].ramp_for_2};
  assert_int_equal(tw_shake_move(&s, firm, slow, again, NULL), TW_OK);
  assert_true(again[2].margin >= 2.0);
  /* the spindle lying down uses up part of the dead zone */
  s.gravity[0] = 2.0;
  assert_int_equal(tw_shake_move(&s, a, jerk, out, NULL), TW_OK);
  assert_true(out[0].margin < again[0].margin && out[0].margin < 2.0);
  assert_rel(out[1].margin, 2.0, 1e-9);
}

/* white noise on one oscillator: S0 pi f/(4 zeta) (mean square), and the node's leak beside it */
static void white_spectrum(void **state)
{
  (void)state;
  tw_shake s = base();
  const double f[2] = {1.0, 50000.0};
  const double d[2] = {0.01, 0.01};
  tw_shaken out[3];
  assert_int_equal(tw_shake_spectrum(&s, f, d, 2, 4.0, out, NULL), TW_OK);
  const double rms = sqrt(0.01 * PI * 700.0 / (4.0 * 0.05));
  assert_rel(out[2].node, 4.0 * 0.1 * 6e-3 * rms, 2e-3);
}

static FILE *recording(double f, double a, double seconds, double dt, const char *header)
{
  FILE *file = tmpfile();
  assert_non_null(file);
  fprintf(file, "# knocked about\n%s\n", header);
  for (long i = 0; (double)i * dt < seconds; i++) {
    const double t = (double)i * dt;
    fprintf(file, "%.9g,%.9g\n", t * 1e3, fmin(t / 0.2, 1.0) * a * sin(2.0 * PI * f * t));
  }
  rewind(file);
  return file;
}

static void recorded_sine(void **state)
{
  (void)state;
  tw_shake s = base();
  s.resonance[2] = 711.8;
  s.time_constant = 20e-3;
  tw_shake_trace out;
  tw_fault fault = {0};
  FILE *f = recording(400.0, 1.0, 0.5, 1e-5, "time_ms,z_m_s2");
  const tw_status status = tw_shake_recording(&s, f, "sine.csv", NULL, &out, &fault);
  fclose(f);
  assert_int_equal(status, TW_OK);
  /* brought up gently, so that only the steady state counts */
  const double wt = 2.0 * PI * 400.0 * 20e-3;
  const double steady = 0.873986e-3 * wt / sqrt(1.0 + wt * wt);
  print_message("recorded 400 Hz: %.6f mV, steady state %.6f mV\n", out.axis[2].node * 1e3,
                steady * 1e3);
  assert_rel(out.axis[2].node, steady, 2e-3); /* the end of the ramp rings a little */
  assert_rel(out.rms[2], sqrt((0.3 + 0.2 / 3.0) / 0.5 / 2.0), 1e-3);
  assert_int_equal(out.rows, 50000);
  assert_true(out.has[2] && !out.has[0] && !out.coarse);
  assert_near(out.axis[0].node, 0.0, 0.0);
}

/* a ramped step: 1 + |sin(pi t f)/(pi t f)|, undamped */
static void recorded_step(void **state)
{
  (void)state;
  for (int k = 0; k < 3; k++) {
    static const double ramps[] = {0.1e-3, 0.7e-3, 2.3e-3};
    tw_shake s = base();
    s.damping = 0.0;
    FILE *file = tmpfile();
    assert_non_null(file);
    fprintf(file, "time_s,z_g\n");
    for (int i = 0; i < 4000; i++) {
      const double t = 1e-5 * i;
      fprintf(file, "%.9g,%.12g\n", t, fmin(t / ramps[k], 1.0) * 0.5 / 9.80665);
    }
    rewind(file);
    tw_shake_trace out;
    assert_int_equal(tw_shake_recording(&s, file, NULL, NULL, &out, NULL), TW_OK);
    fclose(file);
    const double want = tw_false_axial(0.1, 6e-3, 0.5, ramps[k], 700.0);
    print_message("ramp %.1f ms: %.6f mV, closed form %.6f mV\n", ramps[k] * 1e3,
                  out.axis[2].node * 1e3, want * 1e3);
    assert_rel(out.axis[2].node, want, 5e-4);
  }
}

static void refused(const char *text, const char *place)
{
  const tw_shake s = base();
  tw_shake_trace out;
  tw_fault fault = {0};
  FILE *f = tmpfile();
  assert_non_null(f);
  fputs(text, f);
  rewind(f);
  const tw_status status = tw_shake_recording(&s, f, "r.csv", NULL, &out, &fault);
  fclose(f);
  print_message("%s\n", fault.text);
  assert_int_equal(status, TW_BAD_INPUT);
  assert_memory_equal(fault.text, place, strlen(place));
}

static void bad_recordings(void **state)
{
  (void)state;
  refused("", "r.csv:0:1:");
  refused("time_s,x_furlong\n0,1\n", "r.csv:1:8:");
  refused("x_m_s2\n1\n", "r.csv:1:1:");
  refused("time_s\n1\n2\n", "r.csv:1:1:");
  refused("time_s,x_g,x_g\n0,1,1\n", "r.csv:1:12:");
  refused("time_s,x_g\n0,1\n0.1,2\n0.1,3\n", "r.csv:4:1:");
  refused("time_s,x_g\n0,1\n0.1,2\n0.05,3\n", "r.csv:4:1:");
  refused("time_s,x_g\n0,1\n0.1,2\n0.2,2\n0.9,3\n", "r.csv:5:1:");
  refused("time_s,x_g\n0,1\n0.1,nan\n", "r.csv:3:5:");
  refused("time_s,x_g\n0,1\n0.1,two\n", "r.csv:3:5:");
  refused("time_s,x_g\n0,1\n0,1,2\n", "r.csv:3:4:");
  refused("time_s,x_g\n0;1\n", "r.csv:2:2:");
  refused("time_s,x_g\n0,1e9\n", "r.csv:2:3:");
  refused("time_s,x_g\n0,1\n", "r.csv:2:1:");
  char text[900] = "time_s,x_g\n";
  memset(text + 11, '1', 800);
  refused(text, "r.csv:2:512:");
}

/* 100 MB when proving, 4 MB else: memory does not grow with the file */
static void long_recording(void **state)
{
  (void)state;
  const long rows = getenv("TW_PROVE") ? 5000000 : 200000;
  FILE *f = tmpfile();
  assert_non_null(f);
  fprintf(f, "time_us,x_mm_s2,y_m_s2,z_g\n");
  for (long i = 0; i < rows; i++) {
    fprintf(f, "%ld,%ld,%.3f,%.4f\n", 20 * i, i % 7, 0.1 * (double)(i % 3), 0.01);
  }
  rewind(f);
  const tw_shake s = base();
  tw_shake_trace out;
  tw_alloc_fail_at(0, false);
  assert_int_equal(tw_shake_recording(&s, f, "long.csv", NULL, &out, NULL), TW_OK);
  assert_int_equal(tw_alloc_seen(), 0);
  fclose(f);
  assert_int_equal(out.rows, rows);
  assert_rel(out.duration, 20e-6 * (double)(rows - 1), 1e-9);
}

static bool no_more(void *self, double done, const char *what)
{
  (void)self;
  (void)done;
  (void)what;
  return false;
}

static void can_be_stopped(void **state)
{
  (void)state;
  FILE *f = recording(100.0, 1.0, 1.0, 1e-5, "time_ms,x_m_s2");
  const tw_shake s = base();
  tw_shake_trace out;
  const tw_progress stop = {no_more, NULL};
  assert_int_equal(tw_shake_recording(&s, f, "s.csv", &stop, &out, NULL), TW_CANCELLED);
  fclose(f);
  assert_int_equal(out.rows, 65536); /* what is done is kept */
  assert_true(out.axis[0].node > 0.0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(tabulated),      cmocka_unit_test(what_gives_two),
      cmocka_unit_test(white_spectrum), cmocka_unit_test(recorded_sine),
      cmocka_unit_test(recorded_step),  cmocka_unit_test(bad_recordings),
      cmocka_unit_test(long_recording), cmocka_unit_test(can_be_stopped),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
