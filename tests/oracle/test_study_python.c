/* Whole builds against the same model scripted in Python with NumPy and SciPy (probe_model.py,
 * written from docs/models): plate, threshold, carrier at rest, eight touches and the axis. As
 * drawn by a batch and in other shapes of seat and support; what is reached is printed. With
 * TW_PROVE=1 two hundred builds, and how many of them miss a limit on either side. */
#include "design_fixture.h"
#include "study_python.h"
#include "study_subject.h"

#include <unistd.h>

#define SCRIPT "tests/oracle/probe_model.py"
#define BUILDS 200

static void open_subject(subject *s, const tw_set *sets, size_t count)
{
  const tw_read_options options = {
      .units = units, .library = library, .need = TW_NEED_ALL, .sets = sets, .set_count = count};
  const tw_study_level level = {.threads = 1};
  tw_messages *messages = tw_messages_new();
  memset(s, 0, sizeof *s);
  const tw_status status =
      tw_design_read(TW_SOURCE_DIR "/examples/pillar-indexer.yaml", &options, messages, &s->design);
  print_messages(messages);
  assert_int_equal(status, TW_OK);
  assert_int_equal(tw_limits_read(s->design, units, messages, &s->limits), TW_OK);
  tw_messages_free(messages);
  assert_int_equal(tw_study_new(s->design, units, &s->limits, &level, &s->study, NULL), TW_OK);
  assert_int_equal(tw_study_add_toleranced(s->study, NULL), TW_OK);
  assert_int_equal(tw_study_sampler(s->study, NULL, 0, 1, &s->sampler, NULL), TW_OK);
}

/* what the script says of builds first .. first + count - 1 in so many load steps to a trip (two
 * numbers: their limit); count 0: of the design itself */
static void ask(const subject *s, const char *steps, size_t first, size_t count, py_row *row)
{
  char name[512];
  snprintf(name, sizeof name, "%s/builds-%ld.txt", TW_BINARY_DIR, (long)getpid());
  assert_true(py_write(name, s->study, count > 0 ? s->sampler : NULL, first, count));
  const size_t wanted = count > 0 ? count : 1;
  char script[128];
  snprintf(script, sizeof script, SCRIPT " %s", steps);
  assert_int_equal(py_run(script, name, row, wanted), wanted);
  remove(name);
}

/* the engine's figures in the script's order, NaN where it has none: of a build, in the 8 load
 * steps of a study */
static void engine(const subject *s, size_t index, double *value)
{
  double x[TW_FIELD_COUNT], y[TW_MEASURE_COUNT];
  unsigned char outcome[TW_MEASURE_COUNT];
  const tw_study_model model = tw_study_as_model(s->study);
  tw_sampler_draw(s->sampler, index, x);
  assert_int_equal(model.evaluate(model.self, 0, x, y, outcome, NULL), TW_OK);
  for (int k = 0; k < PY_MEASURES; k++) {
    const size_t j = tw_study_output(s->study, tw_measure_find(py_measures[k]));
    value[k] = j != SIZE_MAX && outcome[j] == TW_OUTCOME_OK ? y[j] : (double)NAN;
  }
}

/* of the design itself, in as many load steps as it takes */
static void engine_fine(const subject *s, double *value)
{
  static tw_assessment a;
  const tw_assess_options options = {.azimuths = 8};
  assert_int_equal(tw_assess(s->design, &options, &a, NULL), TW_OK);
  for (int k = 0; k < PY_MEASURES; k++) {
    const tw_measure *m = &a.measure[tw_measure_find(py_measures[k])];
    value[k] = m->state == TW_MEASURE_OK ? m->value : (double)NAN;
  }
}

/* Share, and a floor for what may be nothing (m): a full ring has no lobes. The floor of the disc
 * is probed at other places than the engine's; 24 harmonics here, all of them there. */
static const double share[PY_MEASURES] = {1e-3, 1e-3, 2e-3, 1e-3, 1e-3,
                                          2e-3, 1e-6, 1e-4, 1e-6, 1e-2};
static const double least[PY_MEASURES] = {0, 0, 2e-9, 0, 0, 5e-9, 0, 0, 0, 0};

static void compare(const py_row *row, const double *value, double *worst)
{
  for (int k = 0; k < PY_MEASURES; k++) {
    tw_near_(row->value[k], value[k], least[k], share[k], py_measures[k], __FILE__, __LINE__);
    if (fabs(value[k]) > 20 * least[k]) {
      worst[k] = fmax(worst[k], fabs(row->value[k] / value[k] - 1));
    }
  }
}

static void print_worst(const char *what, const double *worst)
{
  print_message("%s: largest difference", what);
  for (int k = 0; k < PY_MEASURES; k++) {
    print_message("%s %s %.4f %%", k ? "," : "", py_measures[k], 100 * worst[k]);
  }
  print_message("\n");
}

static bool skipped(void)
{
  if (!py_has_scipy()) {
    print_message("SKIPPED: " TW_PYTHON " has no numpy and scipy\n");
    return true;
  }
  return false;
}

/* ---- other shapes -------------------------------------------------------------------------- */

static void other_shapes(void **state)
{
  (void)state;
  if (skipped()) {
    skip();
  }
  /* the first three always, the others in the long counts */
  static const tw_set sets[][4] = {
      {{"seat.flat_height", "2 mm"}, {"seat.friction", "0.1"}, {"seat.azimuth", "20 deg"}},
      {{"seat.contact", "ring"}, {"seat.flatness", "0 um"}},
      {{"disc.ceramic_eccentricity", "0.3 mm"},
       {"disc.ceramic_eccentricity_azimuth", "50 deg"},
       {"seat.eccentricity", "0.1 mm"},
       {"seat.eccentricity_azimuth", "200 deg"}},
      {{NULL, NULL}},
      {{"support.kind", "rim"}, {"seat.flat_radius", "2.5 mm"}},
      {{"seat.contact_points", "6"}, {"environment.orientation", "sideways"}},
      {{"seat.contact", "ring"}, {"seat.flatness", "1 um"}, {"seat.flatness_lobes", "2"}},
      {{"disc.contact_face", "metal"},
       {"support.void_depth", "0.4 mm"},
       {"preload.force", "1.2 N"}},
  };
  const size_t shapes = getenv("TW_PROVE") ? sizeof sets / sizeof sets[0] : 3;
  double worst[PY_MEASURES] = {0};
  for (size_t i = 0; i < shapes; i++) {
    size_t count = 0;
    while (count < 4 && sets[i][count].path) {
      count++;
    }
    subject s;
    py_row row;
    double value[PY_MEASURES];
    open_subject(&s, sets[i], count);
    ask(&s, "16 32", 0, 0, &row);
    engine_fine(&s, value);
    print_message("%s %s: side %.4f N and %.3f um (script %.4f, %.3f), axis %.4f N (%.4f)\n",
                  count ? sets[i][0].path : "as in", count ? sets[i][0].text : "the example",
                  value[0], 1e6 * value[1], row.value[0], 1e6 * row.value[1], value[3],
                  row.value[3]);
    compare(&row, value, worst);
    close_subject(&s);
  }
  print_worst("shapes", worst);
}

/* ---- as drawn ------------------------------------------------------------------------------ */

static int rising(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* how many of the builds lie past a limit, on both sides */
static void count_missed(const char *what, int measure, double limit, const py_row *row,
                         double (*value)[PY_MEASURES], size_t count)
{
  int here = 0, there = 0, apart = 0;
  for (size_t i = 0; i < count; i++) {
    const bool a = value[i][measure] > limit, b = row[i].value[measure] > limit;
    here += a;
    there += b;
    apart += a != b;
  }
  print_message("%s > %.6g (%s): %d of %zu builds by the engine, %d by the script, %d differ\n",
                py_measures[measure], limit, what, here, count, there, apart);
  /* a build may lie so near the limit that a thousandth decides */
  assert_true(apart <= 1 + (int)count / 100);
}

static void drawn(void **state)
{
  (void)state;
  if (skipped()) {
    skip();
  }
  const size_t count = getenv("TW_PROVE") ? BUILDS : 2;
  static py_row row[BUILDS];
  static double value[BUILDS][PY_MEASURES];
  double worst[PY_MEASURES] = {0};
  subject s;
  open_subject(&s, NULL, 0);
  ask(&s, "8", 0, count, row);
  for (size_t i = 0; i < count; i++) {
    engine(&s, i, value[i]);
    compare(&row[i], value[i], worst);
  }
  print_worst("drawn builds", worst);
  for (int k = 0; k < 2; k++) { /* force, then pretravel, at the sides */
    const tw_limit *limit = &s.limits.of[tw_measure_find(py_measures[k])];
    double sorted[BUILDS];
    for (size_t i = 0; i < count; i++) {
      sorted[i] = value[i][k];
    }
    qsort(sorted, count, sizeof *sorted, rising);
    count_missed("the requirement", k, limit->high, row, value, count);
    count_missed("so that some miss it", k, 1.00001 * sorted[count * 3 / 4], row, value, count);
  }
  close_subject(&s);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(other_shapes), cmocka_unit_test(drawn)};
  return cmocka_run_group_tests(tests, open_all, close_all);
}
