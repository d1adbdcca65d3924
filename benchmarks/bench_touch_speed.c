/* How long a touch takes: the shared scenes from contact to edge, touches that never trip, a
 * tabulated seat, whole cycles, growing stiffness; and the same touches in ngspice in the same run
 * at the same accuracy (step at which its edge moves by less than 0.5 us). Processor time of one
 * core on both sides, so that a busy machine does not decide. CSV on stdout. */
#include "touch_scenes.h"
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* processor time of the simulator's run, from its shell; -1: it did not say */
static double spoken(FILE *p, double *edge, bool *found)
{
  char line[512];
  double sum = 0.0;
  int seen = 0;
  while (fgets(line, sizeof line, p)) {
    const char *equal = strchr(line, '=');
    double seconds = 0.0;
    if (equal && strncmp(line, "t_output", 8) == 0) {
      *edge = strtod(equal + 1, NULL);
      *found = true;
    } else if (sscanf(line, "user %lf", &seconds) == 1 || sscanf(line, "sys %lf", &seconds) == 1) {
      sum += seconds;
      seen++;
    }
  }
  return seen == 2 ? sum : -1.0;
}

static int by_size(const void *a, const void *b)
{
  const double x = *(const double *)a;
  const double y = *(const double *)b;
  return (x > y) - (x < y);
}

/* median time of `n` runs, s */
static double timed(const tw_touch_model *m, const tw_touch_motion *go, tw_touch_work *w,
                    tw_touch_result *r, int n)
{
  double t[64];
  tw_fault fault = {0};
  n = n > 64 ? 64 : n;
  for (int i = 0; i < n; i++) {
    const double start = now();
    if (tw_touch_run(m, go, w, NULL, r, &fault) != TW_OK) {
      fprintf(stderr, "%s\n", fault.text);
      exit(1);
    }
    t[i] = now() - start;
  }
  qsort(t, (size_t)n, sizeof *t, by_size);
  return t[n / 2];
}

static double simulated(const tw_touch_model *m, const tw_touch_motion *go, double end, double step,
                        double *edge)
{
  char name[512];
  char command[700];
  snprintf(name, sizeof name, "/tmp/bench-touch-%ld.cir", (long)getpid());
  FILE *f = fopen(name, "w");
  if (!f || tw_touch_netlist(m, go, end, step, f, NULL) != TW_OK || fclose(f) != 0) {
    return -1.0;
  }
  snprintf(command, sizeof command, "{ time -p timeout 20 ngspice -b %s 2>&1; } 2>&1", name);
  char shell[900];
  snprintf(shell, sizeof shell, "bash -c '%s'", command);
  FILE *p = popen(shell, "r");
  bool found = false;
  const double took = p ? spoken(p, edge, &found) : -1.0;
  if (p) {
    pclose(p);
  }
  remove(name);
  return found ? took : -1.0;
}

/* ngspice at the coarsest step whose halving moves the edge by less than 0.5 us */
static double against(const tw_touch_model *m, const tw_touch_motion *go, double edge)
{
  const double end = 1.05 * edge + 30e-6;
  double step = fmin(4e-6, end / 400.0);
  double last = -1.0;
  double wall = -1.0;
  for (int k = 0; k < 8; k++, step *= 0.5) {
    double at = 0.0;
    const double took = simulated(m, go, end, step, &at);
    if (took < 0.0) {
      continue;
    }
    if (last > 0.0 && fabs(at - last) < 0.5e-6) {
      return wall; /* the coarser of the two was good enough */
    }
    last = at;
    wall = took;
  }
  return wall;
}

static double table_x[60];
static double table_f[60];
static double table_q[60];

/* a pivot's side: stiff until it lifts, then soft, the charge with the lift */
static tw_touch_model pivot_side(void)
{
  tw_touch_model m = scene_circuit(2);
  for (int i = 0; i < 60; i++) {
    const double x = 300e-6 * i * i / 3481.0;
    table_x[i] = x;
    table_f[i] = 0.08 * -expm1(-x / 3e-6) + 900.0 * x;
    table_q[i] = 9e-6 * (x + 15e-6 * expm1(-x / 15e-6));
  }
  m.carrier.law = TW_CARRIER_TABLE;
  m.carrier.table_x = table_x;
  m.carrier.table_force = table_f;
  m.carrier.table_charge = table_q;
  m.carrier.table_count = 60;
  m.carrier.mass = 4e-3;
  m.carrier.damping = 2.0 * 0.05 * sqrt(2e4 * 4e-3);
  m.tip.stiffness = 3e4;
  return m;
}

static double row(const char *name, const tw_touch_model *m, const tw_touch_motion *go,
                  tw_touch_work *w, bool outside, double *ratio)
{
  tw_touch_result r;
  const double wall = timed(m, go, w, &r, 31);
  double other = -1.0;
  if (outside) {
    other = against(m, go, r.first.output);
  }
  *ratio = other > 0.0 ? other / wall : -1.0;
  printf("\"%s\",%.4g,%s,%.4f,%ld,%.1f,", name, go->feed * 6e4, tw_touch_state_name(r.first.state),
         r.end * 1e3, r.steps, wall * 1e6);
  if (other > 0.0) {
    printf("%.1f,%.0f\n", other * 1e3, *ratio);
  } else {
    printf(",\n");
  }
  fflush(stdout);
  return wall;
}

int main(void)
{
  static const double feeds[] = {20, 50, 100, 200, 500, 1000};
  double wall[36];
  double ratio[40];
  int walls = 0;
  int ratios = 0;
  double q = 0.0;
  tw_touch_work *w = tw_touch_work_new();
  printf("scene,feed_mm_min,state,simulated_ms,steps,us,ngspice_ms,ratio\n");
  for (int form = 0; form < 2; form++) {
    for (int c = 1; c <= 3; c++) {
      for (int k = 0; k < 6; k++) {
        if (c == 1 && k == 0) {
          continue; /* never trips: below */
        }
        char name[80];
        snprintf(name, sizeof name, "circuit %d %s", c, form ? "restitution" : "constant damping");
        const tw_touch_model m = form ? scene_restitution(c) : scene_circuit(c);
        const tw_touch_motion go = scene_feed(feeds[k]);
        wall[walls++] = row(name, &m, &go, w, form == 1, &q);
        if (q > 0.0) {
          ratio[ratios++] = q;
        }
      }
    }
  }
  const tw_touch_motion slow = scene_feed(20);
  const tw_touch_model never = scene_circuit(1);
  (void)row("never trips 150 ms constant damping", &never, &slow, w, false, &q);
  const tw_touch_model never_r = scene_restitution(1);
  (void)row("never trips 150 ms restitution", &never_r, &slow, w, false, &q);
  tw_touch_motion go = scene_feed(300);
  const tw_touch_model pivot = pivot_side();
  (void)row("tabulated seat", &pivot, &go, w, true, &q);
  go.until = TW_UNTIL_SECOND;
  go.second_feed = 60 * SCENE_MM_MIN;
  (void)row("tabulated seat, whole cycle with second touch", &pivot, &go, w, false, &q);
  for (int c = 1; c <= 3; c++) {
    tw_touch_motion cycle = scene_feed(200);
    cycle.until = TW_UNTIL_SECOND;
    cycle.second_feed = 60 * SCENE_MM_MIN;
    char name[80];
    snprintf(name, sizeof name, "circuit %d whole cycle with second touch", c);
    const tw_touch_model m = scene_circuit(c);
    (void)row(name, &m, &cycle, w, false, &q);
  }
  /* against simulated time */
  for (double t = 10e-3; t < 1.0; t *= 2.0) {
    tw_touch_motion long_run = scene_feed(20);
    long_run.give_up = t;
    (void)row("never trips, by simulated time", &never, &long_run, w, false, &q);
  }
  /* against stiffness */
  for (double k = 0.01; k < 2e4; k *= 10.0) {
    tw_touch_model m = scene_circuit(1);
    m.contact.stiffness *= k;
    char name[80];
    snprintf(name, sizeof name, "contact stiffness x %g", k);
    const tw_touch_motion mid = scene_feed(100);
    (void)row(name, &m, &mid, w, false, &q);
  }
  for (double k = 0.1; k < 2e3; k *= 10.0) {
    tw_touch_model m = scene_circuit(1);
    m.carrier.stiffness *= k;
    m.carrier.charge_per_metre *= k;
    m.carrier.damping *= sqrt(k);
    char name[80];
    snprintf(name, sizeof name, "disc stiffness x %g", k);
    const tw_touch_motion mid = scene_feed(200);
    (void)row(name, &m, &mid, w, false, &q);
  }
  qsort(wall, (size_t)walls, sizeof *wall, by_size);
  printf("median contact to edge,,,,,%.1f,,\nlongest contact to edge,,,,,%.1f,,\n",
         wall[walls / 2] * 1e6, wall[walls - 1] * 1e6);
  if (ratios > 0) {
    qsort(ratio, (size_t)ratios, sizeof *ratio, by_size);
    printf("median ratio to ngspice,,,,,,,%.0f\nleast ratio to ngspice,,,,,,,%.0f\n",
           ratio[ratios / 2], ratio[0]);
  }
  tw_touch_work_free(w);
  return 0;
}
