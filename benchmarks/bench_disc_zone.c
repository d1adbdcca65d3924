/* Cost of the disc: the exact zone solution, everything that `disc` prints, compliance of points, a
 * load over a void, and the same figure to 1 % from CalculiX in the same run. Processor time of
 * this process (of its children for CalculiX), one core; CSV. */
#include "disc_ccx.h"

#include <sys/resource.h>
#include <time.h>

#define ZONES 20000
#define SOME  200

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double children(void)
{
  struct rusage r;
  getrusage(RUSAGE_CHILDREN, &r);
  return (double)(r.ru_utime.tv_sec + r.ru_stime.tv_sec) +
         1e-6 * (double)(r.ru_utime.tv_usec + r.ru_stime.tv_usec);
}

static void row(const char *what, int count, double seconds)
{
  printf("\"%s\",%d,%.3f\n", what, count, 1e6 * seconds / count);
  fflush(stdout);
}

static tw_disc_spec disc_20(void)
{
  tw_disc_spec s;
  tw_disc_spec_default(&s);
  s.metal_radius = 10e-3;
  s.metal_thickness = s.ceramic_thickness = 0.2e-3;
  s.ceramic_radius = 7e-3;
  s.contact_face = TW_DISC_METAL_FACE;
  s.contact_radius = 2e-3;
  s.carrier_mass = 1e-3;
  return s;
}

static tw_disc *solve(const tw_disc_spec *s)
{
  tw_disc *disc;
  tw_fault fault;
  if (tw_disc_new(s, &disc, &fault) != TW_OK) {
    fprintf(stderr, "%s\n", fault.text);
    exit(1);
  }
  return disc;
}

/* zones, influence, capacitance, deflection and stiffness at one ring; ideal and layered disc */
static double bench_zone(bool layered)
{
  tw_disc_spec s = disc_20();
  if (layered) {
    s.electrode_radius = 6.4e-3;
    s.bond_thickness = 10e-6;
    s.silver_thickness = 5e-6;
    s.support = TW_DISC_LEDGE;
    s.ledge_radius = 9.3e-3;
  }
  double sum = 0.0;
  const double start = now();
  for (int i = 0; i < ZONES; i++) {
    s.metal_thickness = 0.2e-3 * (1.0 + 1e-7 * i); /* an edit each time */
    tw_disc *disc = solve(&s);
    tw_disc_ring ring;
    tw_disc_at(disc, 2e-3, &ring, NULL);
    sum += ring.charge;
    tw_disc_free(disc);
  }
  const double each = now() - start;
  row(layered ? "zone solution: six zones" : "zone solution: ideal disc", ZONES, each);
  return sum > 0.0 ? each / ZONES : 0.0;
}

static void bench_measure(void)
{
  const tw_disc_spec s = disc_20();
  tw_disc *disc = solve(&s);
  tw_disc_measures m;
  double start = now();
  for (int i = 0; i < SOME; i++) {
    tw_disc_measure(disc, TW_DISC_OPEN, &m, NULL);
  }
  row("all measures", SOME, now() - start);
  double hertz;
  const tw_disc_vibration ask = {.outside_capacitance = TW_DISC_OPEN};
  start = now();
  for (int i = 0; i < SOME; i++) {
    tw_disc_resonance(disc, ask, &hertz, NULL);
  }
  row("one resonance: 20 elements", SOME, now() - start);
  tw_disc_free(disc);
}

static void bench_points(int n, double shift)
{
  static double r[64], az[64], c[64 * 64];
  const tw_disc_spec s = disc_20();
  tw_disc *disc = solve(&s);
  for (int i = 0; i < n; i++) {
    const double t = 6.283185307179586 * i / n;
    r[i] = hypot(3e-3 * cos(t) + shift, 3e-3 * sin(t));
    az[i] = atan2(3e-3 * sin(t), 3e-3 * cos(t) + shift);
  }
  char what[80];
  snprintf(what, sizeof what, "compliance: %d points %s", n,
           shift > 0.0 ? "off centre" : "on one radius");
  const double start = now();
  for (int i = 0; i < SOME; i++) {
    tw_disc_compliance(disc, (size_t)n, r, az, TW_DISC_OPEN, c, NULL);
  }
  row(what, SOME, now() - start);
  tw_disc_free(disc);
}

static void bench_void(void)
{
  tw_disc_spec s = disc_20();
  s.contact_face = TW_DISC_CERAMIC_FACE;
  s.void_depth = 20e-6;
  double start = now();
  for (int i = 0; i < SOME; i++) {
    tw_disc_free(solve(&s));
  }
  row("disc with backing: built", SOME, now() - start);
  tw_disc *disc = solve(&s);
  tw_disc_backed b;
  start = now();
  for (int i = 0; i < SOME; i++) {
    tw_disc_press(disc, 2e-3, 0.1 * i, TW_DISC_OPEN, &b, NULL);
  }
  row("load over a void: 0 to 20 N", SOME, now() - start);
  tw_disc_free(disc);
}

/* deflection per volt at the ring (= charge per newton), piezo strain as thermal expansion: the
 * coarsest solid mesh that comes within 1 % of a fine one */
static void bench_calculix(double zone)
{
  if (!ccx_there()) {
    printf("skipped: the program ccx is not installed,0,0\n");
    return;
  }
  static const ccx_mesh MESHES[] = {{7, 3, 1, 1}, {14, 6, 1, 1}, {28, 12, 1, 1}, {70, 30, 2, 2}};
  const tw_disc_spec s = disc_20();
  ccx_result fine, coarse;
  if (!ccx_run(&s, (ccx_mesh){140, 60, 4, 4}, CCX_VOLT, &fine)) {
    exit(1);
  }
  for (size_t i = 0; i < sizeof MESHES / sizeof *MESHES; i++) {
    if (!ccx_run(&s, MESHES[i], CCX_VOLT, &coarse)) {
      exit(1);
    }
    if (fabs(coarse.load / fine.load - 1.0) > 0.01) {
      continue;
    }
    double best = HUGE_VAL;
    for (int k = 0; k < 5; k++) {
      const double before = children();
      if (!ccx_run(&s, MESHES[i], CCX_VOLT, &coarse)) {
        exit(1);
      }
      best = fmin(best, children() - before);
    }
    tw_disc_spec even = s; /* the laminate's own error, against the same solid */
    even.ceramic.permittivity = 1e5;
    tw_disc *disc = solve(&even);
    fprintf(stderr, "CalculiX %d x %d elements: off %.2f %%; laminate: off %.2f %%\n",
            MESHES[i].inner + MESHES[i].outer, MESHES[i].metal + MESHES[i].ceramic,
            100.0 * (coarse.load / fine.load - 1.0),
            100.0 * (tw_disc_influence(disc, 2e-3) / fine.load - 1.0));
    tw_disc_free(disc);
    row("CalculiX to 1 %: same figure", 1, best);
    printf("times faster than CalculiX,1,%.0f\n", best / zone);
    return;
  }
  fprintf(stderr, "no mesh came within 1 %%\n");
  exit(1);
}

int main(void)
{
  printf("what,count,microseconds_each\n");
  const double ideal = bench_zone(false), layered = bench_zone(true);
  bench_measure();
  bench_points(24, 0.0);
  bench_points(24, 0.3e-3);
  bench_points(36, 0.0);
  bench_points(36, 0.3e-3);
  bench_void();
  bench_calculix(fmax(ideal, layered));
  return 0;
}
