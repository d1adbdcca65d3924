/* Thresholds, node, charge amplifier and noise against an outside circuit simulator (ngspice): the
 * netlists below hold resistors, capacitors and sources only and share no formula with the room.
 * Skipped, with a line that says so, only where ngspice is not installed. */
#include "ngspice.h"

#include "circuit_cases.h"
#include "inside.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* run a netlist; values[i] is what it prints as "names[i] = number" */
static void run(const char *netlist, const char *const *names, double *values, int count)
{
  char path[64], command[160], line[512];
  snprintf(path, sizeof path, "%s/a.cir", folder);
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  fputs(netlist, file);
  assert_int_equal(fclose(file), 0);
  snprintf(command, sizeof command, "cd %s && ngspice -b a.cir 2>&1", folder);
  for (int i = 0; i < count; i++) {
    values[i] = NAN;
  }
  FILE *pipe = popen(command, "r");
  assert_non_null(pipe);
  while (fgets(line, sizeof line, pipe)) {
    for (int i = 0; i < count; i++) {
      const size_t length = strlen(names[i]);
      const char *equals = strchr(line, '=');
      if (strncmp(line, names[i], length) == 0 && (line[length] == ' ' || line[length] == '=') &&
          equals) {
        values[i] = strtod(equals + 1, NULL);
      }
    }
  }
  assert_int_equal(pclose(pipe), 0);
  for (int i = 0; i < count; i++) {
    if (!isfinite(values[i])) {
      print_error("ngspice gave no %s\n%s", names[i], netlist);
      fail();
    }
  }
}

#define SKIP_WITHOUT_NGSPICE                                                                       \
  (void)state;                                                                                     \
  if (!have_ngspice) {                                                                             \
    skip();                                                                                        \
  }

/* ---- thresholds as regenerative transients
 * ------------------------------------------------------- */

typedef struct network {
  const char *name;
  tw_reference r;
  tw_switching at;
} network;

/* the published and computed networks of test_circuit_thresholds.c */
static const network networks[] = {
    {"P1",
     {.topology = TW_NON_INVERTING,
      .input = 12e3,
      .ground = 8.66e3,
      .feedback = 1.2e6,
      .voltage = 1.252},
     {.supply = 5, .high = 5}},
    {"P2",
     {.topology = TW_NON_INVERTING,
      .input = 12e3,
      .ground = 8.2e3,
      .feedback = 1.2e6,
      .voltage = 1.2},
     {.supply = 5, .high = 5}},
    {"P3", {.voltage = 2.5, .resistance = 1e3, .feedback = 100e3}, {.supply = 5, .high = 5}},
    {"P5", {.top = 100e3, .bottom = 100e3, .feedback = 576e3}, {.supply = 5, .high = 5}},
    {"P7",
     {.topology = TW_NON_INVERTING, .input = 100e3, .feedback = 750e3, .voltage = 1.5},
     {.supply = 3, .high = 3}},
    {"P8", {.top = 1e6, .bottom = 1e6, .feedback = 1e6}, {.supply = 15, .high = 15}},
    {"S1",
     {.top = 47e3, .bottom = 33e3, .feedback = 470e3},
     {.supply = 5, .high = 4.98, .low = 0.02}},
    {"S2",
     {.top = 100e3, .bottom = 100e3, .feedback = 330e3},
     {.supply = 5, .high = 3.5, .low = 0.02, .bias_current = 45e-9, .source = 10e3}},
    {"S4",
     {.topology = TW_NON_INVERTING, .top = 68e3, .bottom = 22e3, .input = 10e3, .feedback = 470e3},
     {.supply = 5, .source = 2.2e3, .high = 4.96, .low = 0.04}},
    {"S6",
     {.topology = TW_NON_INVERTING,
      .voltage = 2.0,
      .resistance = 10e3,
      .input = 10e3,
      .feedback = 100e3},
     {.supply = 5,
      .high = 5,
      .low = 0.18,
      .pull_up = 4.7e3,
      .pull_up_voltage = 5,
      .bias_current = 25e-9}},
    {"T4",
     {.top = 39e3, .bottom = 10e3, .feedback = 1e6},
     {.supply = 5, .high = 3.5, .low = 0.005}},
    {"an inverting open collector",
     {.top = 27e3, .bottom = 10e3, .feedback = 220e3},
     {.supply = 5,
      .high = 5,
      .low = 0.2,
      .pull_up = 10e3,
      .pull_up_voltage = 5,
      .bias_current = 25e-9}},
};

/* the comparator: a steep tanh behind 1 us; an open collector is a steep conductance to its low
 * level; inputs p and m, output o */
static int write_comparator(char *out, size_t size, const tw_switching *at)
{
  if (at->pull_up > 0.0) {
    return snprintf(out, size,
                    "Bd d0 0 V=0.5*(1-tanh(1e7*(v(p)-v(m))))\nRd d0 d 1k\nCd d 0 1n\n"
                    "Bo o lo I=1e3*v(d)*v(o,lo)\nVlo lo 0 %.17g\nRpu vpu o %.17g\n"
                    "Vpu vpu 0 %.17g\n",
                    at->low, at->pull_up, at->pull_up_voltage);
  }
  return snprintf(out, size,
                  "Bo o0 0 V=%.17g+%.17g*0.5*(1+tanh(1e7*(v(p)-v(m))))\nRo o0 ob 1k\nCo ob 0 1n\n"
                  "Eo o 0 ob 0 1\n",
                  at->low, at->high - at->low);
}

static int write_reference(char *out, size_t size, const tw_reference *r, const char *tap)
{
  if (r->top > 0.0) {
    return snprintf(out, size, "Ra vcc %s %.17g\nRb %s 0 %.17g\n", tap, r->top, tap, r->bottom);
  }
  return snprintf(out, size, "Vr vr 0 %.17g\nRr vr %s %.17g\n", r->voltage, tap,
                  r->resistance > 0.0 ? r->resistance : 1e-6);
}

static void write_network(char *out, size_t size, const network *n, double low, double high)
{
  const bool inverting = n->r.topology == TW_INVERTING;
  size_t at = 0;
  at += (size_t)snprintf(out, size,
                         "thresholds\nVcc vcc 0 %.17g\nVin in 0 pwl(0 %.17g 1 %.17g 2 %.17g)\n",
                         n->at.supply, low, high, low);
  const double lead = n->r.input + n->at.source;
  at += (size_t)snprintf(out + at, size - at, "Rl in %s %.17g\n", inverting ? "m" : "p",
                         lead > 0.0 ? lead : 1e-6);
  at += (size_t)write_reference(out + at, size - at, &n->r, inverting ? "p" : "m");
  at += (size_t)snprintf(out + at, size - at, "Rf o p %.17g\nIp 0 p %.17g\nIm 0 m %.17g\n",
                         n->r.feedback, n->at.bias_current, n->at.bias_current);
  if (n->r.ground > 0.0) {
    at += (size_t)snprintf(out + at, size - at, "Rg p 0 %.17g\n", n->r.ground);
  }
  at += (size_t)write_comparator(out + at, size - at, &n->at);
  const char *up = inverting ? "fall" : "rise", *down = inverting ? "rise" : "fall";
  const double mid = 0.5 * (n->at.high + n->at.low);
  snprintf(out + at, size - at,
           ".options reltol=1e-5 method=gear\n.tran 100u 2 0 100u\n"
           ".meas tran up find v(in) when v(o)=%.17g %s=last\n"
           ".meas tran down find v(in) when v(o)=%.17g %s=last\n.end\n",
           mid, up, mid, down);
}

static void test_thresholds(void **state)
{
  SKIP_WITHOUT_NGSPICE
  static const char *const names[] = {"up", "down"};
  for (size_t i = 0; i < sizeof networks / sizeof networks[0]; i++) {
    tw_thresholds t;
    assert_int_equal(tw_schmitt(&networks[i].r, &networks[i].at, &t, NULL), TW_OK);
    char netlist[4000];
    double values[2];
    write_network(netlist, sizeof netlist, &networks[i], t.fall - 0.05, t.rise + 0.05);
    run(netlist, names, values, 2);
    /* one step of the sweep */
    const double step = (t.hysteresis + 0.1) * 100e-6;
    print_message("%-28s up %.6f (%+.1f uV)  down %.6f (%+.1f uV)\n", networks[i].name, t.rise,
                  (values[0] - t.rise) * 1e6, t.fall, (values[1] - t.fall) * 1e6);
    assert_near(values[0], t.rise, 2 * step + 20e-6);
    assert_near(values[1], t.fall, 2 * step + 20e-6);
  }
}

/* ---- whole boards: a ramp of charge until the output switches
 * ---------------------------------------- */

/* rest, then a current that runs into the threshold: bias, node, stage, reference, comparator */
static void write_board(char *out, size_t size, const tw_circuit_spec *s, double current,
                        double end)
{
  size_t at = 0;
#define ADD(...) at += (size_t)snprintf(out + at, size - at, __VA_ARGS__)
  ADD("board\nVcc vcc 0 %.17g\n", s->supply);
  const tw_amplifier *front = tw_board_front(s);
  if (s->bias_kind == TW_BIAS_VOLTAGE) {
    ADD("Vb b 0 %.17g\n", s->bias_voltage);
  } else if (s->bias_kind == TW_BIAS_DIVIDER) {
    ADD("Rb1 vcc b %.17g\nRb2 b 0 %.17g\n", s->bias_top, s->bias_bottom);
  } else {
    ADD("Rm tap b %.17g\n", s->string_middle);
  }
  const char *bottom = s->bias_kind == TW_BIAS_STRING ? "b" : "tap";
  if (s->reference.top > 0.0) {
    ADD("Ra vcc tap %.17g\nRc %s 0 %.17g\n", s->reference.top, bottom, s->reference.bottom);
  } else {
    ADD("Vr vr 0 %.17g\nRr vr tap %.17g\n", s->reference.voltage,
        s->reference.resistance > 0.0 ? s->reference.resistance : 1e-6);
  }
  const double sign = s->kind == TW_BOARD_CHARGE ? -1.0 : 1.0;
  ADD("Iq 0 n pwl(0 0 1u %.17g)\nCn n 0 %.17g\nIb 0 n %.17g\n", sign * current, s->disc_capacitance,
      front->bias_current);
  if (s->kind == TW_BOARD_CHARGE) {
    ADD("Ea sig 0 b n 1e7\nRf2 n sig %.17g\nCf2 n sig %.17g\n", s->charge_resistance,
        s->charge_capacitance);
  } else {
    ADD("Rn b n %.17g\n", s->bias_resistance);
    if (s->kind == TW_BOARD_GAIN) {
      ADD("Ea sig 0 n g 1e7\nRg1 sig g %.17g\nRg2 g leg %.17g\nEl leg 0 b 0 1\nIg 0 g %.17g\n",
          s->gain_feedback, s->gain_ground, front->bias_current);
    } else {
      ADD("Rs n sig 1e-3\n");
    }
  }
  const bool inverting = s->reference.topology == TW_INVERTING;
  const double comparator_bias = s->comparator.bias_current;
  if (inverting) {
    ADD("Ep p 0 tap 0 1\nEm m 0 sig 0 1\nRf o tap %.17g\nIp 0 tap %.17g\n", s->reference.feedback,
        comparator_bias);
  } else {
    ADD("Em m 0 tap 0 1\nR1 sig p %.17g\nRf o p %.17g\n", s->reference.input,
        s->reference.feedback);
  }
  const tw_switching levels = {.high = tw_board_high(s), .low = tw_board_low(s)};
  at += (size_t)write_comparator(out + at, size - at, &levels);
  ADD(".options reltol=1e-6 abstol=1e-15 vntol=1e-9 method=gear\n.tran %.6g %.9g 0 %.6g\n"
      ".meas tran trip when v(o)=%.17g cross=1\n.meas tran rest find v(sig) at=0\n.end\n",
      end / 2000, end, end / 2000, 0.5 * (levels.high + levels.low));
#undef ADD
}

static int boards(tw_circuit_spec *list)
{
  int n = 0;
  list[n] = case_direct(20e-9);
  n++;
  list[n] = case_direct(5e-9);
  list[n++].reference.feedback = 470e3;
  list[n] = case_direct(10e-9);
  list[n].bias_kind = TW_BIAS_STRING;
  list[n].reference = (tw_reference){.top = 39e3, .bottom = 9.1e3, .feedback = 1e6};
  list[n++].string_middle = 680;
  for (int k = 0; k < 3; k++) {
    list[n] = case_gain();
    list[n].gain = 0.0;
    list[n].gain_feedback = k == 1 ? 47e3 : 91e3;
    list[n].gain_ground = 10e3;
    list[n].bias_resistance = k == 2 ? 470e3 : 1e6;
    n++;
  }
  list[n] = case_gain();
  list[n].gain = 0.0;
  list[n].gain_feedback = 91e3;
  list[n].gain_ground = 10e3;
  list[n++].reference =
      (tw_reference){.topology = TW_NON_INVERTING, .voltage = 1.36, .input = 10e3, .feedback = 1e6};
  list[n] = case_charge();
  n++;
  list[n] = case_charge();
  list[n].bias_voltage = 1.24;
  list[n].charge_capacitance = 10e-9;
  list[n++].charge_resistance = 2.2e6;
  return n;
}

static void test_boards(void **state)
{
  SKIP_WITHOUT_NGSPICE
  static const char *const names[] = {"trip", "rest"};
  tw_circuit_spec list[16];
  const int count = boards(list);
  for (int i = 0; i < count; i++) {
    tw_circuit c;
    assert_int_equal(tw_circuit_solve(&list[i], &c, NULL), TW_OK);
    assert_int_equal(c.rearm, TW_REARM_CLEAN);
    for (int u = 0; u < 2; u++) {
      /* feeds of 1.3 and 4 times the slowest, as currents: the slowest is V_T/R */
      const double slowest = c.threshold_voltage / c.resistance;
      const double current = (u ? 4.0 : 1.3) * slowest;
      double expected = 0.0, values[2];
      assert_int_equal(tw_feed_trip_time(current, slowest, c.time_constant, &expected, NULL),
                       TW_OK);
      char netlist[4000];
      write_board(netlist, sizeof netlist, &list[i], current, 1.5 * expected);
      run(netlist, names, values, 2);
      print_message("board %d: rest %.6f (%+.1f uV), trip %.4f ms (%+.3f %%)\n", i, c.rest,
                    (values[1] - c.rest) * 1e6, expected * 1e3, (values[0] / expected - 1) * 100);
      assert_near(values[1], c.rest, 5e-6);
      /* the ramp starts over 1 us, the comparator answers in a few; steps of 1/2000 */
      assert_near(values[0], expected, 1e-3 * expected + 5e-6);
    }
  }
}

/* ---- node and charge amplifier
 * ------------------------------------------------------------------------- */

static void test_node(void **state)
{
  SKIP_WITHOUT_NGSPICE
  static const char *const names[] = {"c1", "c3", "c5", "c10"};
  double values[4];
  run("node\n"
      "Ca a 0 20n ic=1\nRa a 0 1meg\n"                                    /* 20 nC on 20 nF */
      "Ib 0 b dc 20u\nCb b 0 20n ic=0\nRb b 0 1meg\n"                     /* 0.02 C/m at 1 mm/s */
      "Ic 0 c dc 0.38u\nCc c 0 10n ic=0\nRc c 0 1meg\n"                   /* 0.002 C/m, 0.19 mm/s */
      "Cs d 0 20n ic=0\nCf d e 2.2n ic=0\nRf d e 10meg\nEe e 0 0 d 1e5\n" /* a step of 5 nC */
      "Id 0 d pwl(0 5 1n 5 1.001n 0)\n"
      ".options reltol=1e-7 abstol=1e-15 vntol=1e-10 chgtol=1e-18 method=gear\n"
      ".tran 1u 12m 0 1u uic\n"
      ".meas tran c1 find v(a) at=5m\n"
      ".meas tran c3 find v(b) at=100u\n"
      ".meas tran c5 when v(c)=0.19 rise=1\n"
      ".meas tran c10 find v(e) at=1m\n.end\n",
      names, values, 4);
  double trip = 0.0;
  assert_int_equal(tw_feed_trip_time(0.19e-3, 0.095e-3, 0.01, &trip, NULL), TW_OK);
  assert_rel(values[0], tw_rc_step(20e-9, 1e6, 20e-9, 5e-3), 1e-5);
  assert_rel(values[1], tw_rc_ramp(20e-6, 1e6, 20e-9, 100e-6), 1e-5);
  assert_rel(values[2], trip, 1e-5);
  /* the step of charge lasts 1 ns there, 0.05 % more at its end */
  assert_rel(values[3], tw_charge_amplifier_step(5e-9, 20e-9, 2.2e-9, 10e6, 1e5, 1e-3), 1e-3);
}

/* ---- noise
 * ------------------------------------------------------------------------------------------------
 */

static double noise_of(const char *parts, double low, double high)
{
  static const char *const names[] = {"onoise_total"};
  char netlist[1000];
  double total;
  snprintf(
      netlist, sizeof netlist,
      "noise\nIin 0 n dc 0 ac 1\n%s.options temp=27\n.control\n"
      "noise v(out) Iin dec 200 %.9g %.9g\nsetplot noise2\nprint onoise_total\nquit\n.endc\n.end\n",
      parts, low, high);
  run(netlist, names, &total, 1);
  return total;
}

static void test_noise(void **state)
{
  SKIP_WITHOUT_NGSPICE
  const double kelvin = 300.15;
  const struct {
    double r, c;
  } cases[] = {{1e6, 20e-9}, {10e6, 8e-9}, {100e3, 20e-9}};
  for (int i = 0; i < 3; i++) {
    char parts[200];
    const double f0 = tw_rc_corner(cases[i].r, cases[i].c);
    snprintf(parts, sizeof parts, "R1 n 0 %g\nC1 n 0 %g\nEo out 0 n 0 1\n", cases[i].r, cases[i].c);
    const double found = noise_of(parts, f0 * 1e-4, f0 * 1e6);
    print_message("noise of %g ohm on %g F: %.6g uV\n", cases[i].r, cases[i].c, found * 1e6);
    assert_rel(found, tw_noise_ktc(cases[i].c, kelvin), 1e-4);
    assert_rel(found, tw_noise_thermal_band(cases[i].r, cases[i].c, kelvin, f0 * 1e-4, f0 * 1e6),
               2e-5);
  }
  /* a band, and ten times through a pole of 10 kHz (its resistor too small to add) */
  double found = noise_of("R1 n 0 1meg\nC1 n 0 20n\nEo out 0 n 0 1\n", 1.0, 1000.0);
  assert_rel(found, tw_noise_thermal_band(1e6, 20e-9, kelvin, 1.0, 1000.0), 2e-5);
  found = noise_of("R1 n 0 1meg\nC1 n 0 20n\nE1 a 0 n 0 10\nRp a p 1m\nCp p 0 15.9154943m\n"
                   "Eo out 0 p 0 1\n",
                   1e-3, 1e7);
  const double f0 = tw_rc_corner(1e6, 20e-9);
  const double band = tw_noise_bandwidth(f0, 10e3, 1e-3, 1e7);
  assert_rel(found, 10.0 * sqrt(4 * TW_BOLTZMANN * kelvin * 1e6 * band), 5e-5);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_thresholds),
      cmocka_unit_test(test_boards),
      cmocka_unit_test(test_node),
      cmocka_unit_test(test_noise),
  };
  return cmocka_run_group_tests(tests, open_folder, close_folder);
}
