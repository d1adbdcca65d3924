/* The run in time against exact solutions of linear cases, to 1e-6 at the default tolerance: a
 * mass on springs with and without damping through R C, two masses, R C after a step, an impact on
 * a spring; the energy account; slow-feed limit and impact regime; regeneration; stop and hold. */
#include "near.h"
#include "touch_scenes.h"
#include "tripwright/circuit_forms.h"
#include <complex.h>

typedef struct gather {
  double worst, scale;
  double (*exact)(const void *model, const tw_touch_point *p);
  const void *model;
  double (*pick)(const tw_touch_point *p);
} gather;

static bool compare(void *self, const tw_touch_point *p)
{
  gather *g = self;
  const double want = g->exact(g->model, p);
  g->scale = fmax(g->scale, fabs(want));
  g->worst = fmax(g->worst, fabs(g->pick(p) - want));
  return true;
}

/* largest difference over largest value along a run */
static double along(const tw_touch_model *m, const tw_touch_motion *go, gather *g, double every)
{
  tw_touch_work *w = tw_touch_work_new();
  tw_touch_result r;
  const tw_touch_sink sink = {compare, g, every};
  g->worst = g->scale = 0.0;
  assert_non_null(w);
  assert_int_equal(tw_touch_run(m, go, w, &sink, &r, NULL), TW_OK);
  tw_touch_work_free(w);
  return g->worst / g->scale;
}

static tw_touch_result run(const tw_touch_model *m, const tw_touch_motion *go)
{
  tw_touch_result r;
  tw_touch_work *w = tw_touch_work_new();
  assert_non_null(w);
  assert_int_equal(tw_touch_run(m, go, w, NULL, &r, NULL), TW_OK);
  tw_touch_work_free(w);
  return r;
}

static double node_of(const tw_touch_point *p)
{
  return p->node;
}

static double carrier_of(const tw_touch_point *p)
{
  return p->carrier;
}

static double force_of(const tw_touch_point *p)
{
  return p->force;
}

/* a rigid tip on one mass, node without bias, switching at once at `volt` */
static tw_touch_model rigid_case(const tw_impact *i, double tau, double volt)
{
  tw_touch_model m = tw_touch_model_default();
  m.contact.kind = TW_CONTACT_RIGID;
  m.tip.stiffness = i->stem;
  m.carrier.mass = i->mass;
  m.carrier.stiffness = i->disc;
  m.node.capacitance = 20e-9;
  m.node.resistance = tau / 20e-9;
  m.carrier.charge_per_metre = 0.1 * 20e-9 * i->disc; /* 0.1 V/N */
  m.comparator = (tw_touch_comparator){.kind = TW_COMPARATOR_DELAY,
                                       .reference = volt,
                                       .input_weight = -1.0,
                                       .low = 0.0,
                                       .high = 5.0,
                                       .rest_high = true};
  m.output.logic_level = 2.5;
  return m;
}

typedef struct impact_case {
  tw_impact i;
  double tau;
} impact_case;

static double exact_node(const void *model, const tw_touch_point *p)
{
  const impact_case *c = model;
  return tw_impact_voltage(&c->i, 0.1, c->tau, p->time);
}

static double exact_force(const void *model, const tw_touch_point *p)
{
  const impact_case *c = model;
  return tw_impact_contact_force(&c->i, p->time);
}

static void one_mass_through_rc(void **state)
{
  (void)state;
  static const impact_case cases[] = {{{5e4, 1e5, 0.005, 0.005}, 0.02},
                                      {{5e4, 1e5, 0.005, 0.1}, 0.02},
                                      {{5e4, 1e5, 0.02, 0.002}, 0.0002}};
  static const double volt[] = {0.02, 0.02, 0.0013};
  for (int k = 0; k < 3; k++) {
    tw_touch_model m = rigid_case(&cases[k].i, cases[k].tau, volt[k]);
    tw_touch_motion go = tw_touch_motion_default();
    go.feed = cases[k].i.feed;
    go.give_up = 5e-3;
    double t = 0.0;
    assert_int_equal(tw_impact_crossing(&cases[k].i, 0.1, cases[k].tau, volt[k], &t, NULL), TW_OK);
    const tw_touch_result r = run(&m, &go);
    assert_rel(r.first.threshold, t, 1e-6);
    /* never reached: look at the whole curve */
    m.comparator.reference = 1.1 * tw_impact_ceiling(&cases[k].i, 0.1, cases[k].tau);
    gather g = {.exact = exact_node, .model = &cases[k], .pick = node_of};
    const double node = along(&m, &go, &g, 7.3e-6);
    g = (gather){.exact = exact_force, .model = &cases[k], .pick = force_of};
    const double force = along(&m, &go, &g, 0.0);
    print_message("one mass %d: crossing %.1e, node %.1e, force %.1e of the peak\n", k + 1,
                  r.first.threshold / t - 1.0, node, force);
    assert_true(node < 1e-6);
    assert_true(force < 1e-6);
  }
}

/* m x'' + c x' + k x = a + b t from rest, underdamped */
static double damped_ramp(double m, double c, double k, double a, double b, double t)
{
  const double x0 = a / k - b * c / (k * k);
  const double v0 = b / k;
  const double s = 0.5 * c / m;
  const double w = sqrt(k / m - s * s);
  return x0 + v0 * t - exp(-s * t) * (x0 * cos(w * t) + (v0 + s * x0) / w * sin(w * t));
}

static double exact_damped(const void *model, const tw_touch_point *p)
{
  const tw_touch_model *m = model;
  const double v = 0.005;
  return damped_ramp(m->carrier.mass, m->carrier.damping + m->tip.damping,
                     m->carrier.stiffness + m->tip.stiffness, m->tip.damping * v,
                     m->tip.stiffness * v, p->time);
}

static void spring_mass_damper(void **state)
{
  (void)state;
  const tw_impact i = {5e4, 1e5, 0.005, 0.005};
  for (int zero = 0; zero < 2; zero++) {
    tw_touch_model m = rigid_case(&i, 0.02, 1e3);
    m.tip.damping = zero ? 0.0 : 0.7;
    m.carrier.damping = zero ? 0.0 : 1.9;
    tw_touch_motion go = tw_touch_motion_default();
    go.feed = 0.005;
    go.give_up = 10e-3;
    gather g = {.exact = exact_damped, .model = &m, .pick = carrier_of};
    const double off = along(&m, &go, &g, 11e-6);
    print_message("spring, mass, %s: carrier %.1e of the peak\n", zero ? "no damper" : "damper",
                  off);
    assert_true(off < 1e-6);
  }
}

/* two masses without damping on a linear contact: modes of a two by two system */
static double exact_two(const void *model, const tw_touch_point *p)
{
  const tw_touch_model *m = model;
  const double kc = m->contact.stiffness;
  const double ks = m->tip.stiffness;
  const double kd = m->carrier.stiffness;
  const double m1 = m->tip.mass;
  const double m2 = m->carrier.mass;
  const double v = 0.005;
  /* m1 p1'' = kc (v t - p1) - ks (p1 - p2), m2 p2'' = ks (p1 - p2) - kd p2 */
  const double a = (kc + ks) / m1, b = ks / m1, c = ks / m2, d = (ks + kd) / m2;
  const double mean = 0.5 * (a + d), root = sqrt(0.25 * (a - d) * (a - d) + b * c);
  const double w1 = sqrt(mean - root), w2 = sqrt(mean + root);
  /* steady part p = g t, then modes (1, (a - w^2)/b) against -g t's rate */
  const double det = a * d - b * c;
  const double g1 = kc / m1 * v * d / det, g2 = kc / m1 * v * c / det;
  const double r1 = (a - w1 * w1) / b, r2 = (a - w2 * w2) / b;
  const double s1 = (-g2 + r2 * g1) / (r1 - r2), s2 = -g1 - s1;
  return g2 * p->time + s1 * r1 / w1 * sin(w1 * p->time) + s2 * r2 / w2 * sin(w2 * p->time);
}

static void two_masses(void **state)
{
  (void)state;
  const tw_impact i = {5e4, 1e5, 0.005, 0.005};
  tw_touch_model m = rigid_case(&i, 0.02, 1e3);
  m.contact = (tw_touch_contact){.kind = TW_CONTACT_LINEAR, .stiffness = 2e6};
  m.tip.mass = 1e-3;
  m.carrier.mass = 5e-3;
  m.tolerance = 1e-8; /* the carrier has hardly begun to move in this time */
  tw_touch_motion go = tw_touch_motion_default();
  go.feed = 0.005;
  go.give_up = 6e-5; /* the tip bounces off a little later, and that is no longer linear */
  gather g = {.exact = exact_two, .model = &m, .pick = carrier_of};
  const double off = along(&m, &go, &g, 0.7e-6);
  print_message("two masses on a linear contact: carrier %.1e of the peak\n", off);
  assert_true(off < 1e-6);
}

static double exact_step(const void *model, const tw_touch_point *p)
{
  const double *at = model; /* opening instant, tau */
  return p->time <= at[0] ? 0.0 : -5.0 * expm1(-(p->time - at[0]) / at[1]);
}

/* a contact that opens: the node steps through R C */
static void rc_step(void **state)
{
  (void)state;
  const tw_impact i = {5e4, 1e5, 0.005, 0.005};
  tw_touch_model m = rigid_case(&i, 1e-3, 1e3);
  m.node.sense = TW_SENSE_OPENING;
  m.node.open_at = 2e-6;
  m.node.close_at = 1.5e-6;
  m.node.open_voltage = 5.0;
  tw_touch_motion go = tw_touch_motion_default();
  go.feed = 0.005;
  go.give_up = 6e-3;
  const tw_touch_result r = run(&m, &go);
  double opened = -1.0;
  for (int k = 0; k < r.event_count; k++) {
    if (r.events[k].kind == TW_EVENT_OPENED) {
      opened = r.events[k].time;
    }
  }
  assert_true(opened > 0.0);
  /* the carrier at that instant, from the exact motion */
  assert_rel(damped_ramp(0.005, 0.0, 1.5e5, 0.0, 5e4 * 0.005, opened), 2e-6, 1e-6);
  const double at[2] = {opened, 1e-3};
  gather g = {.exact = exact_step, .model = at, .pick = node_of};
  const double off = along(&m, &go, &g, 9.1e-6);
  print_message("step on R C: node %.1e of the step\n", off);
  assert_true(off < 1e-6);
}

static double exact_bump(const void *model, const tw_touch_point *p)
{
  const tw_impact *i = model;
  return i->feed * sqrt(i->stem * i->mass) * sin(sqrt(i->stem / i->mass) * p->time);
}

/* no disc to speak of: the mass alone runs into the stem, F = v sqrt(k m) sin wt */
static void impact_force(void **state)
{
  (void)state;
  const tw_impact i = {5e4, 1e-6, 0.005, 0.1};
  tw_touch_model m = rigid_case(&i, 0.02, 1e3);
  tw_touch_motion go = tw_touch_motion_default();
  go.feed = i.feed;
  go.give_up = 0.9 * 3.14159265358979 * sqrt(i.mass / i.stem);
  gather g = {.exact = exact_bump, .model = &i, .pick = force_of};
  const double off = along(&m, &go, &g, 0.0);
  const tw_touch_result r = run(&m, &go);
  print_message("impact: force %.1e of the peak; peak force %.1e off v sqrt(k m)\n", off,
                r.first.peak_force / (i.feed * sqrt(i.stem * i.mass)) - 1.0);
  assert_true(off < 1e-6);
  assert_rel(r.first.peak_force, i.feed * sqrt(i.stem * i.mass), 1e-5);
}

static void energy_account(void **state)
{
  (void)state;
  double worst = 0.0;
  for (int c = 1; c <= 3; c++) {
    for (int k = 0; k < 6; k++) {
      static const double feeds[] = {20, 50, 100, 200, 500, 1000};
      tw_touch_model m = k % 2 ? scene_circuit(c) : scene_restitution(c);
      m.energy = true;
      if (k == 4) {
        m.support = (tw_touch_support){0.5, 2e6, 30.0};
      }
      tw_touch_motion go = scene_feed(feeds[k]);
      go.until = k == 0 ? TW_UNTIL_EDGE : TW_UNTIL_READY;
      const tw_touch_result r = run(&m, &go);
      assert_true(r.energy.kept && r.energy.peak > 0.0 && r.energy.lost > 0.0);
      worst = fmax(worst, r.energy.balance);
    }
  }
  print_message("energy: 18 runs, balance within %.1e of the peak (1e-5 asked)\n", worst);
  assert_true(worst < 1e-5);
}

/* constant charge slope, slow feed: -tau ln(1 - v_min/v) within 1 % */
static void slow_feed_limit(void **state)
{
  (void)state;
  for (double u = 1.05; u < 1.6; u += 0.1) {
    tw_touch_model m = scene_circuit(1);
    m.contact.kind = TW_CONTACT_RIGID; /* so that the charge slope is constant */
    tw_touch_levels l;
    assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
    tw_touch_motion go = tw_touch_motion_default();
    go.feed = u * l.slowest;
    go.give_up = 1.0;
    double t = 0.0;
    assert_int_equal(
        tw_feed_trip_time(go.feed, l.slowest, m.node.resistance * m.node.capacitance, &t, NULL),
        TW_OK);
    const tw_touch_result r = run(&m, &go);
    print_message("u = %.2f: threshold %.3f ms, formula %.3f ms (%+.2f %%)\n", u,
                  r.first.threshold * 1e3, t * 1e3, 100.0 * (r.first.threshold / t - 1.0));
    assert_rel(r.first.threshold, t, 0.01);
  }
  tw_touch_model m = scene_circuit(1);
  tw_touch_levels l;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  tw_touch_motion go = tw_touch_motion_default();
  go.feed = 0.97 * l.slowest;
  go.give_up = 1.0;
  assert_int_equal(run(&m, &go).first.state, TW_TOUCH_NO_TRIP);
}

/* w tau decides: with a short time constant the impact trips what the ramp alone cannot */
static void impact_regime(void **state)
{
  (void)state;
  const tw_impact i = {5e4, 1e5, 0.005, 0.02};
  const double taus[] = {2e-5, 2e-2};
  for (int k = 0; k < 2; k++) {
    const double ramp = 0.1 * tw_impact_series(&i) * i.feed * taus[k];
    const double top = tw_impact_ceiling(&i, 0.1, taus[k]);
    tw_touch_model m = rigid_case(&i, taus[k], 1.02 * ramp);
    tw_touch_motion go = tw_touch_motion_default();
    go.feed = i.feed;
    go.give_up = 0.3;
    const tw_touch_result r = run(&m, &go);
    print_message("w tau = %.3g: ceiling %.3f of the ramp's; threshold at 1.02: %s\n",
                  tw_impact_ratio(&i, taus[k]), top / ramp, tw_touch_state_name(r.first.state));
    assert_int_equal(r.first.state, k == 0 ? TW_TOUCH_OK : TW_TOUCH_NO_TRIP);
  }
  /* deep in the first quarter wave the cubic law holds, and the pretravel goes as v^(2/3) */
  double travel[2];
  for (int k = 0; k < 2; k++) {
    const tw_impact fast = {5e4, 1e5, 0.005, k == 0 ? 20.0 : 160.0};
    tw_touch_model m = rigid_case(&fast, 0.02, 0.02);
    tw_touch_motion go = tw_touch_motion_default();
    go.feed = fast.feed;
    const tw_touch_result r = run(&m, &go);
    assert_rel(r.first.threshold, tw_impact_cubic_time(&fast, 0.2), 2e-3);
    travel[k] = r.first.threshold * fast.feed;
  }
  assert_rel(log(travel[1] / travel[0]) / log(8.0), 2.0 / 3.0, 1e-3);
}

/* a node that rises by a set slope under the comparator: regeneration against its closed form */
static void regeneration(void **state)
{
  (void)state;
  static const struct {
    double slope, table;
  } rows[] = {{1.0, 181.987}, {100.0, 62.0951}};
  for (int k = 0; k < 2; k++) {
    tw_touch_model m = scene_circuit(1);
    m.contact.kind = TW_CONTACT_RIGID;
    m.carrier.mass = 1e-5; /* critically damped: the disc sees the ramp only */
    m.carrier.damping = 2.0 * sqrt(1.5e5 * 1e-5);
    m.tip.damping = 0.0;
    m.node.resistance = 1e14;
    m.node.bias_current = 0.0;
    m.node.bias_voltage = 0.99427;
    tw_touch_motion go = tw_touch_motion_default();
    /* S k_ser v = slope */
    go.feed = rows[k].slope / (0.1 * 1e5 / 3.0);
    double closed = 0.0;
    assert_int_equal(tw_decision_time(rows[k].slope, m.comparator.output_weight, 0.7e6, 2.0, 0.3e6,
                                      &closed, NULL),
                     TW_OK);
    m.comparator.high = 3.5;
    m.output.logic_level = 1.5;
    const tw_touch_result r = run(&m, &go);
    const double took = r.first.output - r.first.threshold;
    print_message("regeneration at %g V/s: %.3f us, closed form %.3f us\n", rows[k].slope,
                  took * 1e6, closed * 1e6);
    assert_rel(closed * 1e6, rows[k].table, 5e-6);
    assert_rel(took, closed, 1e-3);
  }
}

/* held at the stop, the output falls back when the charge has leaked: tau ln(V0/V_reset) */
static void held_at_the_stop(void **state)
{
  (void)state;
  tw_touch_model m = scene_circuit(1);
  m.node.bias_current = 0.0;
  m.node.bias_voltage = 0.99427;
  tw_touch_motion go = scene_feed(200);
  go.until = TW_UNTIL_READY;
  go.dwell = 0.5;
  tw_touch_result r;
  tw_touch_work *w = tw_touch_work_new();
  assert_int_equal(tw_touch_run(&m, &go, w, NULL, &r, NULL), TW_OK);
  tw_touch_work_free(w);
  /* the node when the machine has come to rest, from the same run ended there */
  go.until = TW_UNTIL_STOP;
  const tw_touch_result at_stop = run(&m, &go);
  assert_true(at_stop.first.peak_node > 0.0);
  const double tau = m.node.resistance * m.node.capacitance;
  tw_touch_levels l;
  assert_int_equal(tw_touch_levels_of(&m, &l, NULL), TW_OK);
  /* the node decays from the stop on, so that its end gives the level at the stop back */
  const double end = r.output_end - r.first.stop_end;
  const double start = (l.release - l.rest) * exp(end / tau);
  print_message("held at the stop: output ends %.3f ms after standstill, node then %.4f V\n",
                end * 1e3, start);
  assert_true(r.ended && end > 0.0 && start < at_stop.first.peak_node);
  assert_near(tw_decay_time(tau, start, l.release - l.rest), end, 1e-9);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(one_mass_through_rc), cmocka_unit_test(spring_mass_damper),
      cmocka_unit_test(two_masses),          cmocka_unit_test(rc_step),
      cmocka_unit_test(impact_force),        cmocka_unit_test(energy_account),
      cmocka_unit_test(slow_feed_limit),     cmocka_unit_test(impact_regime),
      cmocka_unit_test(regeneration),        cmocka_unit_test(held_at_the_stop),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
