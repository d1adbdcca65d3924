/* The same touches in ngspice, from the netlist that tw_touch_netlist writes: designs x feeds x
 * circuits. The simulator's step is halved until its edge moves by less than 0.5 us; the edge must
 * then agree within 0.2 % or 2 us, whichever is larger. The whole set runs with TW_PROVE=1. */
#include "near.h"
#include "touch_scenes.h"
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool has_ngspice(void)
{
  return system("command -v ngspice >/dev/null 2>&1") == 0;
}

/* both instants by ngspice at a step, s; false: no trip */
static bool simulate(const tw_touch_model *m, const tw_touch_motion *go, double end, double step,
                     double *threshold, double *output)
{
  char name[512];
  char command[700];
  char line[512];
  snprintf(name, sizeof name, "%s/touch-%ld.cir", TW_BINARY_DIR, (long)getpid());
  FILE *f = fopen(name, "w");
  assert_non_null(f);
  tw_fault fault = {0};
  assert_int_equal(tw_touch_netlist(m, go, end, step, f, &fault), TW_OK);
  assert_int_equal(fclose(f), 0);
  snprintf(command, sizeof command, "timeout 60 ngspice -b %s 2>&1", name);
  FILE *p = popen(command, "r");
  assert_non_null(p);
  int found = 0;
  while (fgets(line, sizeof line, p)) {
    const char *equal = strchr(line, '=');
    if (equal && strncmp(line, "t_threshold", 11) == 0) {
      *threshold = strtod(equal + 1, NULL);
      found++;
    } else if (equal && strncmp(line, "t_output", 8) == 0) {
      *output = strtod(equal + 1, NULL);
      found++;
    }
  }
  pclose(p);
  remove(name);
  return found == 2;
}

typedef struct touch_case {
  const char *name;
  tw_touch_model m;
  tw_touch_motion go;
} touch_case;

static const double table_x[] = {0, 0.5e-6, 1e-6, 2e-6, 4e-6, 8e-6, 16e-6, 40e-6, 100e-6};
static const double table_f[] = {0, 0.15, 0.20, 0.24, 0.29, 0.37, 0.50, 0.82, 1.50};
static const double table_q[] = {0,       0.02e-9, 0.05e-9, 0.13e-9, 0.3e-9,
                                 0.65e-9, 1.3e-9,  3.1e-9,  6e-9};

static tw_touch_model with_table(tw_touch_model m)
{
  m.carrier.law = TW_CARRIER_TABLE;
  m.carrier.table_x = table_x;
  m.carrier.table_force = table_f;
  m.carrier.table_charge = table_q;
  m.carrier.table_count = sizeof table_x / sizeof *table_x;
  return m;
}

/* a heavier, softer probe */
static tw_touch_model heavy(int circuit)
{
  tw_touch_model m = scene_circuit(circuit);
  m.tip.mass = 2e-3;
  m.tip.stiffness = 2e4;
  m.tip.damping = 2.0 * 0.03 * sqrt(2e4 * 2e-3);
  m.carrier.mass = 12e-3;
  m.carrier.stiffness = 5e4;
  m.carrier.charge_per_metre = 3e-9 * 5e4;
  m.carrier.damping = 2.0 * 0.03 * sqrt(5e4 * 12e-3);
  return m;
}

static tw_touch_model clamped(int circuit)
{
  tw_touch_model m = scene_circuit(circuit);
  m.node.series_resistance = 10e3;
  m.node.clamped = true;
  m.node.clamp_low = -0.3;
  m.node.clamp_high = 1.045;
  m.node.clamp_resistance = 50.0;
  return m;
}

static tw_touch_model on_a_table(int circuit)
{
  tw_touch_model m = scene_circuit(circuit);
  m.support = (tw_touch_support){0.2, 5e5, 2.0 * 0.05 * sqrt(5e5 * 0.2)};
  return m;
}

static tw_touch_motion feed_of(double mm_s)
{
  tw_touch_motion go = tw_touch_motion_default();
  go.feed = mm_s * 1e-3;
  return go;
}

/* halve the step until the edge rests; compare threshold (smooth) or edge with the run */
static double against(const touch_case *c, bool threshold)
{
  tw_touch_result r;
  tw_touch_work *w = tw_touch_work_new();
  assert_non_null(w);
  assert_int_equal(tw_touch_run(&c->m, &c->go, w, NULL, &r, NULL), TW_OK);
  tw_touch_work_free(w);
  assert_int_equal(r.first.state, TW_TOUCH_OK);
  const double own = threshold ? r.first.threshold : r.first.output;
  const double end = 1.05 * r.first.output + 30e-6;
  double th = 0.0;
  double out = 0.0;
  double last = 1.0;
  double now = 0.0;
  double step = fmin(4e-6, end / 400.0);
  for (int k = 0; k < 8; k++) {
    if (!simulate(&c->m, &c->go, end, step, &th, &out)) {
      print_message("%s: ngspice does not get through at a step of %g us\n", c->name, step * 1e6);
      step *= 0.5;
      continue;
    }
    now = threshold ? th : out;
    if (fabs(now - last) < 0.5e-6) {
      break;
    }
    last = now;
    step *= 0.5;
  }
  const double allowed = fmax(2e-3 * own, 2e-6);
  print_message("%-26s %8.3f mm/s: %12.3f us, ngspice %12.3f us (step %.3f us), %+.4f %%\n",
                c->name, c->go.feed * 1e3, own * 1e6, now * 1e6, step * 1e6,
                100.0 * (own / now - 1.0));
  assert_near(own, now, allowed);
  return fabs(own / now - 1.0);
}

static void touches(void **state)
{
  (void)state;
  if (!has_ngspice()) {
    print_message("SKIPPED: ngspice is not installed\n");
    skip();
  }
  const bool all = getenv("TW_PROVE") != NULL;
  const double mm = 1.0 / 60.0; /* mm/min in mm/s */
  const touch_case set[] = {
      {"base, direct", scene_circuit(1), feed_of(500 * mm)},
      {"base, gain", scene_circuit(2), feed_of(200 * mm)},
      {"base, charge", scene_circuit(3), feed_of(1000 * mm)},
      {"heavy, direct", heavy(1), feed_of(300 * mm)},
      {"heavy, gain", heavy(2), feed_of(500 * mm)},
      {"table, gain", with_table(scene_circuit(2)), feed_of(300 * mm)},
      {"table, charge", with_table(scene_circuit(3)), feed_of(600 * mm)},
      {"clamp and series, direct", clamped(1), feed_of(400 * mm)},
      {"on a soft table, gain", on_a_table(2), feed_of(500 * mm)},
      {"restitution, gain", scene_restitution(2), feed_of(500 * mm)},
      {"restitution, charge", scene_restitution(3), feed_of(500 * mm)},
      {"rigid tip, direct", scene_circuit(1), feed_of(800 * mm)},
      /* the rest only when proving */
      {"base, direct", scene_circuit(1), feed_of(50 * mm)},
      {"base, direct", scene_circuit(1), feed_of(100 * mm)},
      {"base, gain", scene_circuit(2), feed_of(20 * mm)},
      {"base, gain", scene_circuit(2), feed_of(1000 * mm)},
      {"base, charge", scene_circuit(3), feed_of(50 * mm)},
      {"base, charge", scene_circuit(3), feed_of(200 * mm)},
      {"restitution, direct", scene_restitution(1), feed_of(50 * mm)},
      {"table, direct", with_table(scene_circuit(1)), feed_of(200 * mm)},
      {"on a soft table, direct", on_a_table(1), feed_of(200 * mm)},
      {"heavy, charge", heavy(3), feed_of(60 * mm)},
  };
  const size_t count = all ? sizeof set / sizeof *set : 12;
  double worst = 0.0;
  for (size_t i = 0; i < count; i++) {
    touch_case c = set[i];
    if (strncmp(c.name, "rigid", 5) == 0) {
      c.m.contact.kind = TW_CONTACT_RIGID;
    }
    worst = fmax(worst, against(&c, false));
  }
  print_message("%zu touches, worst %.4f %%\n", count, 100.0 * worst);
}

static void smooth_touches(void **state)
{
  (void)state;
  if (!has_ngspice()) {
    print_message("SKIPPED: ngspice is not installed\n");
    skip();
  }
  const touch_case set[] = {{"smooth A", scene_smooth('A'), feed_of(0.3)},
                            {"smooth A", scene_smooth('A'), feed_of(3.0)},
                            {"smooth B", scene_smooth('B'), feed_of(1.0)},
                            {"smooth B", scene_smooth('B'), feed_of(60.0)}};
  for (size_t i = 0; i < 4; i++) {
    (void)against(&set[i], true);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(touches), cmocka_unit_test(smooth_touches)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
