/* Recordings simulated here, with parameters, instruments, noise and dialects drawn anew: the
 * differential equations are stepped (Runge-Kutta), where the product has closed forms, and written
 * as text that the reader takes back. At least 97 % of all features within their tolerance, and the
 * stated uncertainty must be worth its name: 95 % of the errors within 3 u. TW_PROVE=1: ten times
 * as many. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
/* cmocka needs the above */
#include "tripwright/capture.h"
#include "tripwright/constants.h"
#include "tripwright/random.h"

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define TEXT_MOST 4000000

static struct {
  int within, all, covered, judged;
} tally;
static tw_random rng;

static double between(double a, double b)
{
  return a + (b - a) * tw_random_uniform(&rng);
}
static double log_between(double a, double b)
{
  return a * pow(b / a, tw_random_uniform(&rng));
}

/* ---- writing ----------------------------------------------------------------------------------
 */

static char *text;
static size_t used;
static char separator, decimal;

static void put(const char *format, double value)
{
  char one[40];
  snprintf(one, sizeof one, format, value);
  for (char *p = one; *p; p++) {
    *p = *p == '.' ? decimal : *p;
  }
  used += (size_t)snprintf(text + used, TEXT_MOST - used, "%s", one);
}

/* one of four dialects; values quantised to `code` when it is above 0 */
static void write_csv(double start, double interval, const double *v, size_t n, double code,
                      double volts)
{
  static const char *const time_names[] = {"s", "ms", "us"};
  static const double time_scales[] = {1, 1e3, 1e6};
  const int dialect = (int)between(0, 3.999), unit = (int)between(0, 2.999);
  separator = dialect == 0 ? ',' : dialect == 1 ? ';' : dialect == 2 ? '\t' : ',';
  decimal = dialect == 1 || dialect == 2 ? ',' : '.';
  used = 0;
  const char *vu = volts < 0.1 ? "mV" : "V";
  const double vs = volts < 0.1 ? 1e3 : 1;
  if (dialect == 3) {
    used += (size_t)snprintf(text, TEXT_MOST, "Vertical Units,%s\nSample Interval,", vu);
    put("%.9e", interval);
    used += (size_t)snprintf(text + used, TEXT_MOST - used, "\nTrigger Point,%.0f\n\nCH1\n",
                             -start / interval);
  } else {
    used += (size_t)snprintf(text, TEXT_MOST, "Time%cCH1\n%s%c%s\n", separator, time_names[unit],
                             separator, vu);
  }
  for (size_t i = 0; i < n; i++) {
    if (dialect != 3) {
      put("%.9g", (start + (double)i * interval) * time_scales[unit]);
      text[used++] = separator;
    }
    put("%.7g", vs * (code > 0 ? code * floor(v[i] / code + 0.5) : v[i]));
    text[used++] = '\n';
  }
  text[used] = '\0';
}

static tw_capture_result *evaluate(const tw_capture_setup *s)
{
  tw_messages *m = tw_messages_new();
  tw_capture_record *record = NULL;
  tw_capture_result *result = NULL;
  tw_fault fault = {0};
  if (tw_capture_read_bytes("made", text, used, NULL, m, &record) != TW_OK) {
    char line[600];
    tw_message_print(tw_messages_at(m, 0), line, sizeof line);
    print_message("%s\n", line);
  } else if (tw_capture_evaluate(record, s, &result, &fault) != TW_OK) {
    print_message("%s: %s\n", tw_capture_act_word(s->act), fault.text);
  }
  tw_capture_record_free(record);
  tw_messages_free(m);
  return result;
}

static void judge(const tw_capture_result *r, const char *name, double truth, double tolerance)
{
  const tw_capture_feature *f = r ? tw_capture_feature_of(r, name) : NULL;
  const double off = f ? fabs(f->value - truth) : (double)INFINITY;
  tally.all++;
  tally.within += off <= tolerance;
  if (f && f->u > 0) {
    tally.judged++;
    tally.covered += off <= 3 * f->u;
  }
  if (off > tolerance || (getenv("TW_SAY") && f && off > 3 * f->u)) {
    print_message("%s %s: %.6g, made with %.6g, tolerance %.2g, u %.2g\n",
                  r ? tw_capture_act_word(r->act) : "-", name, f ? f->value : (double)NAN, truth,
                  tolerance, f ? f->u : 0);
  }
}

/* ---- a node with a ringing weight, stepped ------------------------------------------------------
 */

struct node {
  double c, bias, input, coupling; /* coupling 0: direct */
  double w, zeta;
};

/* charge of a unit weight let go evenly within `cut`: y'' + 2 zeta w y' + w^2 y = w^2 u */
static void derivative(const struct node *n, double t, double cut, double charge, const double *s,
                       double *d)
{
  const double drive = t < 0 ? 0 : t < cut ? t / cut : 1;
  d[0] = s[1];
  d[1] = n->w * n->w * (drive - s[0]) - 2 * n->zeta * n->w * s[1];
  const double through = n->coupling > 0 ? (s[2] - s[3]) / n->input : s[2] / n->input;
  d[2] = (charge * s[1] - s[2] / n->bias - through) / n->c;
  d[3] = n->coupling > 0 ? (s[2] - s[3]) / n->input / n->coupling : 0;
}

static void step_node(const struct node *n, double t, double h, double cut, double charge,
                      double *s)
{
  double k[4][4], at[4];
  static const double where[] = {0, 0.5, 0.5, 1};
  for (int i = 0; i < 4; i++) {
    for (int j = 0; j < 4; j++) {
      at[j] = s[j] + (i ? where[i] * h * k[i - 1][j] : 0);
    }
    derivative(n, t + where[i] * h, cut, charge, at, k[i]);
  }
  for (int j = 0; j < 4; j++) {
    s[j] += h / 6 * (k[0][j] + 2 * k[1][j] + 2 * k[2][j] + k[3][j]);
  }
}

/* what the input sees from `start` on, the cut at 0 */
static void simulate(const struct node *n, double charge, double cut, double start, double interval,
                     double *v, size_t count)
{
  double s[4] = {0};
  const int sub = 4 + (int)(interval * n->w / 0.02); /* the ends of the cut lie within steps */
  for (size_t i = 0; i < count; i++) {
    const double t = start + (double)i * interval;
    v[i] = n->coupling > 0 ? s[2] - s[3] : s[2];
    for (int k = 0; k < sub; k++) {
      step_node(n, t + k * interval / sub, interval / sub, cut, charge, s);
    }
  }
}

static void add_noise(double *v, size_t n, double sigma, double hum, double hz, double interval)
{
  const double phase = between(0, 6);
  for (size_t i = 0; i < n; i++) {
    v[i] +=
        sigma * tw_random_normal(&rng) + hum * sin(TW_TWO_PI * hz * interval * (double)i + phase);
  }
}

static struct node a_node(void)
{
  return (struct node){.c = log_between(8e-9, 25e-9),
                       .bias = log_between(0.8e6, 8e6),
                       .input = between(0, 1) < 0.5 ? 10e6 : 1e6,
                       .w = TW_TWO_PI * between(700, 1400),
                       .zeta = log_between(0.015, 0.08)};
}

static void thread_cut(void)
{
  enum { N = 4000 };
  static double v[N];
  const struct node n = a_node();
  const double r = 1 / (1 / n.bias + 1 / n.input), tau = r * n.c;
  const double q = log_between(3e-8, 1.5e-7), weight = log_between(0.002, 0.01);
  const double sign = between(0, 1) < 0.5 ? 1 : -1, charge = sign * q * weight * TW_GRAVITY;
  const double step = charge / n.c, interval = tau * between(7, 9) / N, start = -0.2 * N * interval;
  const double cut = between(20e-6, 200e-6);
  simulate(&n, charge, cut, start, interval, v, N);
  const double hum = between(0, 1) < 0.3 ? between(0.03, 0.08) * fabs(step) : 0;
  add_noise(v, N, fabs(step) * log_between(0.001, 0.01), hum, between(49.9, 50.1), interval);
  write_csv(start, interval, v, N, between(0, 1) < 0.5 ? fabs(step) * 3.5 / 256 : 0, fabs(step));
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_THREAD_CUT;
  s.instrument.resistance = n.input;
  s.bias_resistance = n.bias;
  s.weight[s.weights++] = weight;
  tw_capture_result *result = evaluate(&s);
  judge(result, "step", step, 0.025 * fabs(step));
  judge(result, "decay", tau, 0.03 * tau);
  judge(result, "charge", charge, 0.025 * fabs(charge));
  judge(result, "charge_per_newton", q, 0.025 * q);
  judge(result, "ring_frequency", n.w / TW_TWO_PI, 0.01 * n.w / TW_TWO_PI);
  judge(result, "node_capacitance", n.c, 0.04 * n.c);
  tw_free(result);
}

static void card_cut(void)
{
  enum { N = 20000 };
  static double v[N];
  struct node n = a_node();
  n.input = log_between(12e3, 45e3);
  n.coupling = log_between(1e-6, 8e-6);
  const double q = log_between(3e-8, 1.5e-7), weight = log_between(0.004, 0.02);
  const double charge = -q * weight * TW_GRAVITY, interval = 1 / 48000.0, start = -4000 * interval;
  simulate(&n, charge, between(20e-6, 150e-6), start, interval, v, N);
  add_noise(v, N, fabs(charge) / n.c * 1e-3, fabs(charge) / n.c * 1e-3, 50.02, interval);
  write_csv(start, interval, v, N, 0, 1);
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_CARD_CUT;
  s.instrument.resistance = n.input;
  s.instrument.coupling = n.coupling;
  s.bias_resistance = n.bias;
  s.weight[s.weights++] = weight;
  tw_capture_result *result = evaluate(&s);
  judge(result, "charge", charge, 0.03 * fabs(charge));
  judge(result, "charge_per_newton", q, 0.03 * q);
  judge(result, "node_capacitance", n.c, 0.05 * n.c);
  tw_free(result);
}

static void series(void)
{
  enum { N = 8000, EVENTS = 4 };
  static double v[N], one[N];
  const struct node n = a_node();
  const double r = 1 / (1 / n.bias + 1 / n.input), tau = r * n.c;
  const double interval = 1.25e-4, q = log_between(3e-8, 1.2e-7);
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  memset(v, 0, sizeof v);
  for (int k = 0; k < EVENTS; k++) {
    s.weight[k] = 0.002 * (k + 1);
    simulate(&n, q * s.weight[k] * TW_GRAVITY, 80e-6, -0.05 - 0.22 * k, interval, one, N);
    for (int i = 0; i < N; i++) {
      v[i] += one[i];
    }
  }
  add_noise(v, N, q * 0.004 * TW_GRAVITY / n.c * 5e-3, 0, 50, interval);
  write_csv(-0.05, interval, v, N, 0, 1);
  s.act = TW_CAPTURE_WEIGHT_SERIES;
  s.instrument.resistance = n.input;
  s.bias_resistance = n.bias;
  s.weights = EVENTS;
  tw_capture_result *result = evaluate(&s);
  judge(result, "events", EVENTS, 0);
  judge(result, "charge_per_newton", q, 0.015 * q);
  judge(result, "decay", tau, 0.03 * tau);
  tw_free(result);
}

/* ---- by hand, ring, rest, edge, ramp, meter, pulls ----------------------------------------------
 */

static void hand(void)
{
  enum { N = 4000 };
  static double v[N];
  const double tau = log_between(0.04, 0.15), loading = between(0.3, 0.9) * tau,
               full = between(0.1, 0.6);
  const double interval = 2e-4;
  double at = 0;
  for (int i = 0; i < N; i++) {
    const double t = -0.16 + i * interval;
    v[i] = at;
    /* the part of this step in which the load grows */
    const double from = fmax(t, 0), to = fmin(t + interval, loading);
    const double drive = to > from ? full / loading * (to - from) / interval : 0;
    const double k1 = drive - at / tau, k2 = drive - (at + interval / 2 * k1) / tau;
    at += interval * k2;
  }
  add_noise(v, N, full * 3e-3, 0, 50, interval);
  write_csv(-0.16, interval, v, N, full / 250, full);
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_HAND_WEIGHT;
  s.instrument.resistance = 10e6;
  s.bias_resistance = 10e6;
  s.weight[s.weights++] = 0.01;
  tw_capture_result *result = evaluate(&s);
  const double z = loading / tau;
  judge(result, "peak", full * (1 - exp(-z)) / z, 0.02 * full);
  judge(result, "hand_time", loading, 0.05 * loading);
  judge(result, "decay", tau, 0.03 * tau);
  judge(result, "charge", full * tau / 5e6, 0.03 * full * tau / 5e6);
  tw_free(result);
}

static void ring(void)
{
  enum { N = 9600 };
  static double v[N];
  const double f = between(2000, 5000), q = between(25, 70), interval = 1 / 96000.0;
  const double g = f * between(2.3, 2.9), h = q * between(0.5, 1);
  const double phase = between(0, 6), second = between(0.05, 0.25);
  for (int i = 0; i < N; i++) {
    const double t = (i - 900) * interval;
    v[i] = t < 0 ? 0
                 : exp(-TW_PI * f / q * t) * sin(TW_TWO_PI * f * t + phase) +
                       second * exp(-TW_PI * g / h * t) * sin(TW_TWO_PI * g * t);
  }
  add_noise(v, N, log_between(0.003, 0.02), 0, 50, interval);
  write_csv(0, interval, v, N, 0, 1);
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_RING_DOWN;
  tw_capture_result *result = evaluate(&s);
  judge(result, "resonance", f, 0.002 * f);
  judge(result, "quality", q, 0.05 * q);
  tw_free(result);
}

static void rest(void)
{
  enum { N = 24000 };
  static double v[N];
  const double interval = 1 / 24000.0, hz = (between(0, 1) < 0.5 ? 50 : 60) + between(-0.05, 0.05);
  const double hum = between(1e-3, 4e-3), noise = log_between(2e-4, 2e-3);
  for (int i = 0; i < N; i++) {
    v[i] = 2e-4 + 0.4 * hum * sin(3 * TW_TWO_PI * hz * interval * i + 1);
  }
  add_noise(v, N, noise, hum, hz, interval);
  write_csv(0, interval, v, N, 0, 1e-3);
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_REST;
  tw_capture_result *result = evaluate(&s);
  judge(result, "noise_rms", noise, 0.05 * noise);
  judge(result, "hum", hum, 0.03 * hum + 0.02 * noise);
  judge(result, "hum_frequency", hz, 0.05);
  tw_free(result);
}

static void edge(void)
{
  enum { N = 3000 };
  static double v[N];
  const double tau = log_between(1e-6, 6e-6), interval = tau / between(20, 60),
               high = between(3, 5);
  const double at = (N / 3 + between(0, 1)) * interval;
  for (int i = 0; i < N; i++) {
    const double t = i * interval - at;
    v[i] = t < 0 ? 0.1 : high - (high - 0.1) * exp(-t / tau);
  }
  add_noise(v, N, 0.02, 0, 50, interval);
  write_csv(0, interval, v, N, 0.03125, high);
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_EDGE;
  tw_capture_result *result = evaluate(&s);
  judge(result, "rise_10_90", log(9.0) * tau, 0.02 * log(9.0) * tau);
  judge(result, "high", high, 0.01 * high + 0.02);
  judge(result, "low", 0.1, 0.03);
  tw_free(result);
}

static void ramp(void)
{
  enum { N = 5000 };
  static double v[N];
  const double threshold = between(0.8, 1.2), release = threshold - between(0.03, 0.12);
  used = (size_t)snprintf(text, TEXT_MOST, "s;node [V];output [V]\n");
  bool low = false;
  for (int i = 0; i < N; i++) {
    v[i] = 0.5 + 1.2 * (1 - fabs(2.0 * i / N - 1));
    low = v[i] > threshold || (low && v[i] > release);
    used += (size_t)snprintf(text + used, TEXT_MOST - used, "%.3f;%.5f;%.3f\n", 0.004 * i,
                             v[i] + 0.003 * tw_random_normal(&rng), low ? 0.02 : 3.25);
  }
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_RAMP;
  tw_capture_result *result = evaluate(&s);
  judge(result, "threshold", threshold, 0.004);
  judge(result, "release", release, 0.004);
  judge(result, "hysteresis", threshold - release, 0.005);
  tw_free(result);
}

static void meter(void)
{
  const double leak = log_between(2e7, 1e8), c = 1e-6, tau = c / (1 / leak + 1e-7);
  used = (size_t)snprintf(text, TEXT_MOST, "Nr;Zeit;Wert;Einheit\n");
  for (int i = 0; i < 150; i++) {
    const double t = 0.4 * i + 0.01 * tw_random_uniform(&rng);
    const double volts = 4.8 * exp(-t / tau) * (1 + 5e-4 * tw_random_normal(&rng));
    /* over midnight, and with the meter's change of range */
    const int second = (int)(86370 + t) % 86400;
    used +=
        (size_t)snprintf(text + used, TEXT_MOST - used, "%d;%02d:%02d:%02d.%03d;%.4f;%s\n", i + 1,
                         second / 3600, second / 60 % 60, second % 60, (int)((t - floor(t)) * 1000),
                         volts < 0.2 ? volts * 1e3 : volts, volts < 0.2 ? "mV" : "V");
  }
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_METER_DECAY;
  s.film_capacitor = c;
  s.instrument.resistance = 1e7;
  tw_capture_result *result = evaluate(&s);
  judge(result, "decay", tau, 0.01 * tau);
  judge(result, "leak", leak, 0.1 * leak);
  tw_free(result);
}

static void pulls(void)
{
  const double p = between(0.8, 2), mu = between(0.03, 0.12), seat = between(0, TW_TWO_PI / 3);
  const double ex = between(-3e-4, 3e-4), ey = between(-3e-4, 3e-4), reach = 0.04, radius = 0.008;
  used = (size_t)snprintf(text, TEXT_MOST, "azimuth,trips,closes\ndeg,mN,mN\n");
  for (int i = 0; i < 24; i++) {
    double least = 1e9;
    const double phi = i * TW_PI / 12;
    for (int k = 0; k < 3; k++) {
      const double a = seat + k * TW_TWO_PI / 3, turn = cos(phi - a);
      if (turn > 0.01) {
        least = fmin(least, p * (radius / 2 + ex * cos(a) + ey * sin(a)) / (reach * turn));
      }
    }
    used += (size_t)snprintf(text + used, TEXT_MOST - used, "%d,%.2f,%.2f\n", 15 * i,
                             1e3 * least * (1 + mu) * (1 + 0.01 * tw_random_normal(&rng)),
                             1e3 * least * (1 - mu) * (1 + 0.01 * tw_random_normal(&rng)));
  }
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_DIRECTIONS;
  s.reach = reach;
  s.seat_radius = radius;
  tw_capture_result *result = evaluate(&s);
  judge(result, "preload", p, 0.015 * p);
  judge(result, "friction_share", mu, 0.01);
  judge(result, "seat_azimuth_deg", seat * TW_RADIAN, 1);
  judge(result, "off_x", ex, 1.5e-4);
  judge(result, "off_y", ey, 1.5e-4);
  tw_free(result);
}

static void sweep(void)
{
  const double c0 = log_between(8e-9, 2e-8), fs = between(3000, 6000), k = between(0.2, 0.45);
  const double q = between(20, 80), ratio = k * k / (1 - k * k);
  used = (size_t)snprintf(text, TEXT_MOST, "f;generator;disc\nHz;mV;mV\n");
  for (double f = 1000; f <= 10000; f += 25) {
    /* series L C R beside C_0, by impedances: no closed form of the product's */
    const double w = TW_TWO_PI * f, c1 = c0 * ratio, l = 1 / (TW_TWO_PI * fs * TW_TWO_PI * fs * c1);
    const double r = TW_TWO_PI * fs * l / q, x = w * l - 1 / (w * c1), d = r * r + x * x;
    const double g = r / d, b = w * c0 - x / d, den = pow(1 + 1000 * g, 2) + pow(1000 * b, 2);
    const double source = 1000 * (1 + 0.001 * tw_random_normal(&rng));
    used += (size_t)snprintf(text + used, TEXT_MOST - used, "%.0f;%.2f;%.2f\n", f, source,
                             source / sqrt(den) * (1 + 0.001 * tw_random_normal(&rng)));
  }
  tw_capture_setup s;
  tw_capture_setup_start(&s);
  s.act = TW_CAPTURE_SWEEP;
  s.series_resistance = 1000;
  tw_capture_result *result = evaluate(&s);
  judge(result, "resonance", fs, 0.003 * fs);
  judge(result, "antiresonance", fs * sqrt(1 + ratio), 0.003 * fs * sqrt(1 + ratio));
  judge(result, "coupling", k, 0.03 * k);
  judge(result, "quality", q, 0.06 * q);
  judge(result, "capacitance", c0 * (1 + ratio), 0.02 * c0 * (1 + ratio));
  tw_free(result);
}

static void features_within_tolerance(void **state)
{
  (void)state;
  static const struct {
    void (*make)(void);
    int count;
  } kinds[] = {{thread_cut, 4}, {card_cut, 2}, {series, 2}, {hand, 4},  {ring, 4}, {rest, 3},
               {edge, 6},       {ramp, 6},     {meter, 6},  {pulls, 4}, {sweep, 4}};
  const int times = getenv("TW_PROVE") ? 10 : 1;
  text = malloc(TEXT_MOST);
  tw_random_start(&rng, 20, 26);
  for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
    for (int i = 0; i < kinds[k].count * times; i++) {
      kinds[k].make();
    }
  }
  free(text);
  print_message("within tolerance: %d of %d; within 3 u: %d of %d\n", tally.within, tally.all,
                tally.covered, tally.judged);
  assert_true(tally.all > 100);
  assert_true(tally.within >= 0.97 * tally.all);
  assert_true(tally.covered >= 0.95 * tally.judged);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(features_within_tolerance)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
