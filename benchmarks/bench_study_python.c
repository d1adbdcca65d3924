/* The pillar example's builds three times in one run: the engine (all its measures, and only those
 * that the script works out as well) on one core and on both, the same model scripted with NumPy
 * and SciPy (tests/oracle/probe_model.py), a sheet of closed formulas for all builds at once
 * (closed_form.py); how many a second, the ratios, and how far the two are from the engine. */
#include "clock.h"
#include "study_python.h"
#include "study_subject.h"
#include "tripwright/parts.h"

#include <time.h>
#include <unistd.h>

enum { ROUNDS = 5, ROUND = 40, ENGINE = ROUNDS * ROUND, SCRIPT = 6, CLOSED = 20000 };

/* builds a second by the clock, and processor seconds of one where it was cheapest */
typedef struct speed {
  double a_second, each;
} speed;

static int open_subject(subject *s, tw_units *units, const tw_library *library, bool all)
{
  tw_measure_set wanted = {{false}};
  for (int k = 0; k < PY_MEASURES; k++) {
    wanted.has[tw_measure_find(py_measures[k])] = true;
  }
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  const tw_study_level level = {.threads = 2, .wanted = all ? NULL : &wanted};
  tw_messages *messages = tw_messages_new();
  const int bad = tw_design_read(TW_SOURCE_DIR "/examples/pillar-indexer.yaml", &options, messages,
                                 &s->design) != TW_OK ||
                  tw_limits_read(s->design, units, messages, &s->limits) != TW_OK ||
                  tw_study_new(s->design, units, &s->limits, &level, &s->study, NULL) != TW_OK ||
                  tw_study_add_toleranced(s->study, NULL) != TW_OK ||
                  tw_study_sampler(s->study, NULL, 0, 1, &s->sampler, NULL) != TW_OK;
  tw_messages_free(messages);
  return bad;
}

static void print(const char *what, int processes, size_t count, speed v)
{
  printf("\"%s\",%d,%zu,%.4g,%.5g\n", what, processes, count, v.a_second, 1e3 * v.each);
  fflush(stdout);
}

/* all builds in rounds; the cheapest round says what a build costs */
static speed run_engine(subject *s, const char *what, int threads, tw_builds **builds)
{
  const tw_study_model model = tw_study_as_model(s->study);
  const tw_spread_options options = {.threads = threads, .round = ROUND};
  const double start = clock_of(CLOCK_MONOTONIC);
  speed v = {0, HUGE_VAL};
  for (size_t r = 0; r < ROUNDS; r++) {
    const double work = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    if (tw_builds_new(r * ROUND, ROUND, model.outputs, &builds[r], NULL) != TW_OK ||
        tw_spread_run(&model, s->sampler, builds[r], &options, NULL, NULL) != TW_OK) {
      return (speed){0, 0};
    }
    v.each = fmin(v.each, (clock_of(CLOCK_PROCESS_CPUTIME_ID) - work) / ROUND);
  }
  v.a_second = ENGINE / (clock_of(CLOCK_MONOTONIC) - start);
  print(what, threads, ENGINE, v);
  return v;
}

/* a script on the first `count` builds. Its own clocks say what a build costs: starting Python and
 * reading the text are not counted. */
static speed run_script(const subject *s, const char *what, const char *script, size_t count,
                        py_row *row)
{
  char input[] = "/tmp/tripwright_builds_XXXXXX";
  const int file = mkstemp(input);
  speed v = {0, HUGE_VAL};
  if (file < 0) {
    return (speed){0, 0};
  }
  close(file);
  double clock = 0;
  const size_t got =
      py_write(input, s->study, s->sampler, 0, count) ? py_run(script, input, row, count) : 0;
  remove(input);
  for (size_t i = 0; i < got; i++) {
    v.each = fmin(v.each, row[i].processor);
    clock += row[i].clock / (double)got;
  }
  v = clock > 0 ? (speed){1 / clock, v.each} : (speed){0, 0};
  print(what, 1, got, v);
  return v;
}

/* mean and largest difference from the engine over the first builds */
static void print_apart(const subject *s, const char *what, tw_builds *const *builds,
                        const py_row *row, size_t count)
{
  for (int k = 0; k < PY_MEASURES; k++) {
    const size_t j = tw_study_output(s->study, tw_measure_find(py_measures[k]));
    double sum = 0, most = 0;
    size_t n = 0;
    for (size_t i = 0; j != SIZE_MAX && i < count; i++) {
      const tw_builds *b = builds[i / ROUND];
      const size_t at = i % ROUND * b->outputs + j;
      const double y = b->y[at], apart = 100 * (row[i].value[k] / y - 1);
      if (b->outcome[at] == TW_OUTCOME_OK && isfinite(apart)) {
        sum += apart;
        most = fmax(most, fabs(apart));
        n++;
      }
    }
    if (n > 0) {
      printf("%s from the engine: %s,,%zu,%+.3f %%,%.3f %%\n", what, py_measures[k], n,
             sum / (double)n, most);
    }
  }
}

int main(void)
{
  tw_units *units = NULL;
  tw_library *library = NULL;
  tw_messages *messages = tw_messages_new();
  static subject s, whole;
  static py_row script[SCRIPT], closed[CLOSED];
  static tw_builds *one[ROUNDS], *two[ROUNDS], *more[ROUNDS];
  if (tw_units_new(&units, NULL) != TW_OK ||
      tw_library_load(TW_SOURCE_DIR "/parts", units, messages, &library) != TW_OK ||
      open_subject(&s, units, library, false) || open_subject(&whole, units, library, true)) {
    return 1;
  }
  tw_messages_free(messages);
  printf("what,threads,builds,builds_a_second,processor_ms_each\n");
  (void)run_engine(&whole, "engine all measures", 2, more);
  const speed alone = run_engine(&s, "engine", 1, one), both = run_engine(&s, "engine", 2, two);
  if (!py_has_scipy()) {
    printf("script and formulas: " TW_PYTHON " has no numpy and scipy,,,,\n");
    return 0;
  }
  const speed python =
      run_script(&s, "script with SciPy", "tests/oracle/probe_model.py", SCRIPT, script);
  const speed sheet =
      run_script(&s, "closed form in NumPy", "benchmarks/closed_form.py", CLOSED, closed);
  if (!(alone.each > 0) || !(both.each > 0) || !(python.each > 0) || !(sheet.each > 0)) {
    return 1;
  }
  printf("ratio,,,by builds a second,by processor time\n");
  printf("engine on both cores over script,,,%.1f,%.1f\n", both.a_second / python.a_second,
         2 * python.each / both.each);
  printf("engine on one core over script,,,%.1f,%.1f\n", alone.a_second / python.a_second,
         python.each / alone.each);
  printf("closed form over engine on both cores,,,%.1f,%.1f\n", sheet.a_second / both.a_second,
         both.each / sheet.each / 2);
  printf("difference,,builds,mean,largest\n");
  print_apart(&s, "script", two, script, SCRIPT);
  print_apart(&s, "closed form", two, closed, ENGINE);
  return 0;
}
