/* The same touches by SciPy's solve_ivp (tests/oracle/touch_solve.py, written from the equations):
 * threshold and edge within 0.2 % or 2 us asked; what is reached is printed. */
#include "near.h"
#include "touch_scenes.h"
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define PYTHON "/usr/bin/python3"

static bool has_scipy(void)
{
  return system(PYTHON " -c 'import numpy, scipy' >/dev/null 2>&1") == 0;
}

static void write_model(FILE *f, const tw_touch_model *m, int circuit, double feed, double end)
{
  double d = m->contact.damping;
  if (m->contact.restitution > 0.0) {
    d = 3.0 * (1.0 - m->contact.restitution * m->contact.restitution) / (4.0 * feed);
  }
  const struct {
    const char *name;
    double value;
  } rows[] = {{"circuit", circuit},
              {"feed", feed},
              {"end", end},
              {"K", m->contact.stiffness},
              {"D", d},
              {"m1", m->tip.mass},
              {"ks", m->tip.stiffness},
              {"cs", m->tip.damping},
              {"m2", m->carrier.mass},
              {"kd", m->carrier.stiffness},
              {"cd", m->carrier.damping},
              {"N", m->carrier.charge_per_metre / m->carrier.stiffness},
              {"C", m->node.capacitance},
              {"R", m->node.resistance},
              {"Vb", m->node.bias_voltage},
              {"Ib", m->node.bias_current},
              {"A", m->stage.gain},
              {"Cf", m->stage.feedback_capacitance},
              {"Rf", m->stage.feedback_resistance},
              {"wu", 6.283185307179586 * m->comparator.bandwidth},
              {"SR", m->comparator.slew},
              {"g0", m->comparator.reference},
              {"beta", m->comparator.output_weight},
              {"VOH", m->comparator.high},
              {"logic", m->output.logic_level}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    fprintf(f, "%s %.17g\n", rows[i].name, rows[i].value);
  }
}

static void solve(const tw_touch_model *m, int circuit, double feed, double end, double *threshold,
                  double *output)
{
  char name[512];
  char command[1200];
  snprintf(name, sizeof name, "%s/touch-%ld.txt", TW_BINARY_DIR, (long)getpid());
  FILE *f = fopen(name, "w");
  assert_non_null(f);
  write_model(f, m, circuit, feed, end);
  assert_int_equal(fclose(f), 0);
  snprintf(command, sizeof command, PYTHON " %s/tests/oracle/touch_solve.py <%s", TW_SOURCE_DIR,
           name);
  FILE *p = popen(command, "r");
  char line[200] = "";
  assert_non_null(p);
  assert_non_null(fgets(line, sizeof line, p));
  assert_int_equal(pclose(p), 0);
  remove(name);
  char *rest = NULL;
  *threshold = strtod(line, &rest);
  *output = strtod(rest, NULL);
}

static void touches(void **state)
{
  (void)state;
  if (!has_scipy()) {
    print_message("SKIPPED: " PYTHON " has no numpy and scipy\n");
    skip();
  }
  static const double feeds[] = {200, 500, 1000, 100, 50, 20};
  const int count = getenv("TW_PROVE") ? 6 : 2;
  tw_touch_work *w = tw_touch_work_new();
  double worst = 0.0;
  for (int form = 0; form < 2; form++) {
    for (int c = 1; c <= 3; c++) {
      for (int k = 0; k < count; k++) {
        const tw_touch_model m = form ? scene_restitution(c) : scene_circuit(c);
        const tw_touch_motion go = scene_feed(feeds[k]);
        tw_touch_result r;
        assert_int_equal(tw_touch_run(&m, &go, w, NULL, &r, NULL), TW_OK);
        if (r.first.state == TW_TOUCH_NO_TRIP) {
          continue; /* 20 mm/min on the direct circuit */
        }
        double th = 0.0;
        double out = 0.0;
        solve(&m, c, go.feed, 1.2 * r.first.output + 1e-4, &th, &out);
        print_message("circuit %d, %4g mm/min, %s: edge %.3f us, solve_ivp %.3f us, %+.5f %%\n", c,
                      feeds[k], form ? "restitution" : "constant   ", r.first.output * 1e6,
                      out * 1e6, 100.0 * (r.first.output / out - 1.0));
        assert_near(r.first.threshold, th, fmax(2e-3 * th, 2e-6));
        assert_near(r.first.output, out, fmax(2e-3 * out, 2e-6));
        worst = fmax(worst, fabs(r.first.output / out - 1.0));
      }
    }
  }
  tw_touch_work_free(w);
  print_message("worst %.5f %%\n", 100.0 * worst);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(touches)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
