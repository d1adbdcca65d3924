/* How many builds of the pillar example a second: engine with 8 azimuths and the axis on one and
 * two threads, for what the design asks for, for all measures, with one touch in time, with all of
 * them; the fast level; how the time grows with the builds; memory for 100 000 builds; how far the
 * worst of 8 azimuths is from that of 24. */
#include "clock.h"
#include "study_subject.h"
#include "tripwright/parts.h"
#include "tripwright/study_fast.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* the measures with requirements, and one more */
static tw_measure_set asked_for(const tw_limits *limits, tw_measure_id more)
{
  tw_measure_set set = {{false}};
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    set.has[i] = limits->of[i].given || i == (int)more;
  }
  return set;
}

/* `more`: one measure beside the requirements; TW_MEASURE_COUNT: all that the level has */
static int open_subject(subject *s, tw_units *units, const tw_library *library, bool timed,
                        tw_measure_id more)
{
  const tw_set set = {"circuit.supply", "4.8 V ± 2 %"};
  const tw_read_options options = {
      .units = units, .library = library, .need = TW_NEED_ALL, .sets = &set, .set_count = 1};
  tw_study_level level = {.timed = timed, .threads = 2};
  tw_messages *messages = tw_messages_new();
  int bad = tw_design_read(TW_SOURCE_DIR "/examples/pillar-indexer.yaml", &options, messages,
                           &s->design) != TW_OK ||
            tw_limits_read(s->design, units, messages, &s->limits) != TW_OK;
  const tw_measure_set set_of = asked_for(&s->limits, more);
  level.wanted = more < TW_MEASURE_COUNT ? &set_of : NULL;
  bad = bad || tw_study_new(s->design, units, &s->limits, &level, &s->study, NULL) != TW_OK ||
        tw_study_add_toleranced(s->study, NULL) != TW_OK ||
        tw_study_sampler(s->study, NULL, 0, 1, &s->sampler, NULL) != TW_OK;
  tw_messages_free(messages);
  return bad;
}

static void run(subject *s, const char *what, size_t count, int threads)
{
  const tw_study_model model = tw_study_as_model(s->study);
  const tw_spread_options options = {.threads = threads, .round = 64};
  tw_builds *builds = NULL;
  if (tw_builds_new(0, count, model.outputs, &builds, NULL) != TW_OK) {
    return;
  }
  const double start = clock_of(CLOCK_MONOTONIC);
  const clock_t cpu = clock();
  const tw_status status = tw_spread_run(&model, s->sampler, builds, &options, NULL, NULL);
  const double wall = clock_of(CLOCK_MONOTONIC) - start,
               work = (double)(clock() - cpu) / CLOCKS_PER_SEC;
  printf("\"%s\",%d,%zu,%s,%.1f,%.2f\n", what, threads, count, tw_status_text(status),
         (double)count / wall, 1e3 * work / (double)count);
  fflush(stdout);
  tw_builds_free(builds);
}

/* the level against 24 azimuths: in the same load steps, then in refined ones */
static void coarse(const subject *s, int seat_steps)
{
  const tw_assess_options options = {.azimuths = 24, .seat_steps = seat_steps};
  static tw_assessment fine;
  if (tw_assess(s->design, &options, &fine, NULL) != TW_OK) {
    return;
  }
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    const tw_measure *a = &s->study->nominal.measure[i], *b = &fine.measure[i];
    if (a->state == TW_MEASURE_OK && b->state == TW_MEASURE_OK && !a->word && fabs(b->value) > 0 &&
        fabs(a->value / b->value - 1) > 1e-4) {
      printf("8 azimuths against 24%s: %s,%.2f %%\n", seat_steps ? "" : " in refined steps",
             tw_measure_about((tw_measure_id)i)->name, 100 * (a->value / b->value - 1));
    }
  }
}

/* time against the number of fields that vary: the others stay in the middle */
static void fields(subject *s, size_t varying)
{
  tw_study_input keep[TW_FIELD_COUNT];
  tw_sampler *whole = s->sampler;
  char what[64];
  memcpy(keep, s->study->input, sizeof keep);
  for (size_t k = varying; k < s->study->inputs; k++) {
    s->study->input[k].law.law = TW_LAW_FIXED;
  }
  if (tw_study_sampler(s->study, NULL, 0, 1, &s->sampler, NULL) == TW_OK) {
    snprintf(what, sizeof what, "engine 8 azimuths %zu fields vary", varying);
    run(s, what, 100, 2);
    tw_sampler_free(s->sampler);
  }
  s->sampler = whole;
  memcpy(s->study->input, keep, sizeof keep);
}

/* the fast level: what its tables cost, how far off they are, and its builds */
static void hasten(subject *s, const char *what)
{
  const double start = clock_of(CLOCK_MONOTONIC);
  if (tw_study_hasten(s->study, s->sampler, 200, NULL, NULL) != TW_OK) {
    return;
  }
  const tw_fast_check *check = tw_study_fast_check(s->study);
  printf("%s: tables and check,%.2f s,%zu engine builds,%zu of %zu judged otherwise\n", what,
         clock_of(CLOCK_MONOTONIC) - start, check->engine_builds, check->judged_otherwise,
         check->builds - check->unseen);
  for (size_t j = 0; j < s->study->outputs; j++) {
    printf("%s: %s,median %.3f %%,95 of 100 %.3f %%,largest %.3f %%\n", what,
           tw_measure_about(s->study->measure[j])->name, 100 * check->error[j].median,
           100 * check->error[j].most_of_them, 100 * check->error[j].most);
  }
  run(s, what, 10000, 2);
  run(s, what, 100000, 2);
}

int main(void)
{
  tw_units *units = NULL;
  tw_library *library = NULL;
  tw_messages *messages = tw_messages_new();
  static subject s, all, touch, timed;
  if (tw_units_new(&units, NULL) != TW_OK ||
      tw_library_load(TW_SOURCE_DIR "/parts", units, messages, &library) != TW_OK ||
      open_subject(&s, units, library, false, TW_M_trip_force_side) ||
      open_subject(&all, units, library, false, TW_MEASURE_COUNT) ||
      open_subject(&touch, units, library, true, TW_M_pretravel_at_feed) ||
      open_subject(&timed, units, library, true, TW_MEASURE_COUNT)) {
    return 1;
  }
  printf("what,threads,builds,status,builds_a_second,processor_ms_each\n");
  run(&s, "engine 8 azimuths", 200, 1);
  run(&s, "engine 8 azimuths", 200, 2);
  run(&s, "engine 8 azimuths", 800, 2);
  fields(&s, 2);
  fields(&s, 10);
  fields(&s, s.study->inputs);
  run(&all, "engine 8 azimuths all measures", 200, 2);
  run(&touch, "engine 8 azimuths one timed touch", 200, 2);
  run(&timed, "engine 8 azimuths all timed", 16, 2);
  printf("memory of 100000 builds,%.1f MB\n",
         1e-6 * 1e5 * (double)s.study->outputs * (sizeof(double) + 1));
  coarse(&s, 8);
  coarse(&s, 0);
  hasten(&s, "fast 8 azimuths");
  hasten(&touch, "fast 8 azimuths one timed touch");
  tw_messages_free(messages);
  return 0;
}
