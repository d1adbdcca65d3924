/* Cost of the seat: the map of 145 directions of the pivot base case (ring of 24 points, socket of
 * 12, friction 0.2, second touch, contributions), how far it is from a finely stepped run, one load
 * step with 36 contacts, and the cost against ring points and directions. Processor time of this
 * process, one core, the best of several runs; CSV. */
#include "seat_scenes.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define RUNS 7
#define FINE 400

static double now(void)
{
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static tw_seat_model *model(const tw_seat_spec *s)
{
  tw_seat_model *m;
  tw_fault fault;
  if (tw_seat_model_new(s, &m, &fault) != TW_OK) {
    fprintf(stderr, "%s: %s\n", fault.field, fault.text);
    exit(1);
  }
  return m;
}

typedef struct cost {
  double seconds; /* of the whole map */
  size_t solves, iterations, bisections;
} cost;

static cost time_map(const tw_seat_model *m, const tw_seat_options *o, size_t every,
                     tw_seat_touch_result *r)
{
  tw_seat_work *w = tw_seat_work_new(m);
  cost best = {1e9, 0, 0, 0};
  for (int run = 0; w != NULL && run < RUNS; run++) {
    cost c = {now(), 0, 0, 0};
    for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i += every) {
      if (tw_seat_map(m, w, i, 1, o, &r[i], NULL) != TW_OK) {
        fprintf(stderr, "direction %zu has no answer\n", i);
        exit(1);
      }
      c.solves += r[i].solves;
      c.iterations += r[i].iterations;
      c.bisections += r[i].bisections;
    }
    c.seconds = now() - c.seconds;
    best = c.seconds < best.seconds ? c : best;
  }
  tw_seat_work_free(w);
  return best;
}

static double worst(const tw_seat_touch_result *a, const tw_seat_touch_result *b, size_t every,
                    bool force)
{
  double most = 0;
  for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i += every) {
    const double x = force ? a[i].force : a[i].pretravel, y = force ? b[i].force : b[i].pretravel;
    most = fmax(most, fabs(x / y - 1));
  }
  return most;
}

static tw_seat_touch_result result[TW_SEAT_DIRECTIONS], fine[TW_SEAT_DIRECTIONS];

/* steps 0: as many as it takes */
static void bench_row(const char *scene, const tw_seat_spec *s, size_t steps, size_t every)
{
  tw_seat_model *m = model(s);
  tw_seat_options o;
  tw_seat_options_default(&o);
  o.threshold = scene_threshold(.05, s->flat_radius);
  o.steps = FINE;
  tw_seat_work *w = tw_seat_work_new(m);
  for (size_t i = 0; i < TW_SEAT_DIRECTIONS; i += every) {
    (void)tw_seat_map(m, w, i, 1, &o, &fine[i], NULL);
  }
  tw_seat_work_free(w);
  o.steps = steps;
  const cost c = time_map(m, &o, every, result);
  const size_t n = (TW_SEAT_DIRECTIONS + every - 1) / every;
  printf("\"%s\",%zu,%zu,%zu,%.1f,%.2f,%zu,%.2f,%.2f,%.4f,%.4f\n", scene, n, s->points, steps,
         (double)c.solves / (double)n, (double)c.iterations / (double)c.solves, c.bisections,
         1e6 * c.seconds / (double)c.solves, 1e3 * c.seconds,
         100 * worst(result, fine, every, true), 100 * worst(result, fine, every, false));
  fflush(stdout);
  tw_seat_model_free(m);
}

/* one load step: 36 contacts, all with friction, walked in even steps */
static void bench_step(void)
{
  enum { rows = 49 };
  static tw_seat_row row[rows];
  const tw_seat_spec s = scene_pivot(.2, .2);
  tw_seat_model *m = model(&s);
  tw_seat_work *w = tw_seat_work_new(m);
  tw_seat_options o;
  tw_seat_options_default(&o);
  o.threshold = 1;
  o.prior_touches = 0;
  double best = 1e9;
  for (int run = 0; run < 20 * RUNS; run++) {
    const double from = now();
    (void)tw_seat_curve(m, w, .1, 0, &o, 150e-6, rows, row, NULL);
    best = fmin(best, now() - from);
  }
  printf("load step with 36 contacts,%d,%.2f\n", rows - 1, 1e6 * best / (rows - 1));
  tw_seat_work_free(w);
  tw_seat_model_free(m);
}

static void bench_model(void)
{
  const tw_seat_spec s = scene_pivot(.2, .2);
  const double from = now();
  enum { count = 200 };
  for (int i = 0; i < count; i++) {
    tw_seat_model_free(model(&s));
  }
  printf("model brought to rest (uniform plate),%d,%.2f\n", count, 1e6 * (now() - from) / count);
}

int main(void)
{
  printf("what,count,us_each\n");
  bench_step();
  bench_model();
  printf("scene,directions,ring_points,steps,solves_per_direction,iterations_per_solve,bisections,"
         "us_per_solve,total_ms,force_off_percent,pretravel_off_percent\n");
  static const size_t steps[] = {0, 4, 8, 16, 32};
  for (size_t i = 0; i < 5; i++) {
    const tw_seat_spec s = scene_pivot(.2, .2);
    bench_row("pivot base mu .2", &s, steps[i], 1);
  }
  const tw_seat_spec smooth = scene_pivot(0, 0), clean = scene_pivot(.1, .1);
  bench_row("pivot base mu 0", &smooth, 0, 1);
  bench_row("pivot base mu .1", &clean, 0, 1);
  static const size_t points[] = {3, 6, 12, 24, 36, 48, 64};
  for (size_t i = 0; i < sizeof points / sizeof points[0]; i++) {
    /* three and six points lock at .2: with .1 every scene trips */
    tw_seat_spec s = scene_pivot(.1, .1);
    s.points = points[i];
    bench_row("ring points, mu .1", &s, 0, 1);
  }
  static const size_t every[] = {12, 6, 3, 2, 1};
  for (size_t i = 0; i < sizeof every / sizeof every[0]; i++) {
    const tw_seat_spec s = scene_pivot(.2, .2);
    bench_row("directions, mu .2", &s, 0, every[i]);
  }
  return 0;
}
