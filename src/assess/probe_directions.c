/* probe_directions.c: many directions touched, each kind of them once. */
#include "tripwright/parallel.h"
#include "tripwright/probe.h"

tw_measure_state tw_probe_touch_state(const tw_seat_touch_result *touch)
{
  switch (touch->state) {
  case TW_SEAT_TRIPPED:
    return TW_MEASURE_OK;
  case TW_SEAT_NO_TRIP:
    return TW_MEASURE_NO_TRIP;
  case TW_SEAT_TRIPPED_AT_REST:
    return touch->armed_once ? TW_MEASURE_NO_REARM : TW_MEASURE_TRIPPED_AT_REST;
  case TW_SEAT_NO_ANSWER:
    break;
  }
  return TW_MEASURE_NO_ANSWER;
}

tw_measure_state tw_probe_timed_state(tw_touch_state state)
{
  switch (state) {
  case TW_TOUCH_OK:
    return TW_MEASURE_OK;
  case TW_TOUCH_TRIPPED_AT_REST:
    return TW_MEASURE_TRIPPED_AT_REST;
  case TW_TOUCH_NO_TRIP:
  case TW_TOUCH_NOT_SAMPLED: /* nobody saw it trip */
    break;
  }
  return TW_MEASURE_NO_TRIP;
}

tw_seat_regime tw_probe_regime(const tw_probe *probe, size_t count,
                               const tw_seat_touch_result *touch)
{
  tw_seat_regime worst = probe->rest.regime;
  for (size_t i = 0; i < count; i++) {
    if (touch[i].state == TW_SEAT_TRIPPED && touch[i].regime > worst) {
      worst = touch[i].regime;
    }
  }
  return worst;
}

typedef struct outing {
  const tw_probe *probe;
  tw_seat_work **works;
  tw_seat_touch_result *touch;
  const size_t *run; /* the directions that are touched; the others are their pictures */
} outing;

/* no balance is a state of its result */
static tw_status touch_one(const outing *o, tw_seat_work *work, tw_seat_touch_result *t,
                           tw_fault *fault)
{
  const double azimuth = t->azimuth, elevation = t->elevation;
  tw_fault why = {0};
  const tw_status status =
      tw_seat_touch(o->probe->seat, work, azimuth, elevation, &o->probe->touch, t, &why);
  if (status == TW_NO_ANSWER) {
    t->state = TW_SEAT_NO_ANSWER;
    t->azimuth = azimuth;
    t->elevation = elevation;
    return TW_OK;
  }
  if (status != TW_OK && fault) {
    *fault = why;
  }
  return status;
}

static tw_status some_touches(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const outing *o = self;
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    status = touch_one(o, o->works[worker], &o->touch[o->run[i]], fault);
  }
  return status;
}

/* with `first` and `run` of `count` places each */
static tw_status run_and_copy(outing *o, int threads, size_t count, size_t *first, size_t *run,
                              const tw_progress *progress, tw_fault *fault)
{
  size_t kinds = 0;
  tw_seat_alike(o->probe->seat, count, o->touch, first);
  for (size_t i = 0; i < count; i++) {
    if (first[i] == i) {
      run[kinds++] = i;
    }
  }
  o->run = run;
  const tw_loop loop = {.count = kinds,
                        .chunk = 1,
                        .threads = threads,
                        .work = some_touches,
                        .self = o,
                        .what = "directions"};
  const tw_status status = tw_parallel(&loop, progress, fault);
  for (size_t i = 0; i < count && status == TW_OK; i++) {
    if (first[i] != i) {
      tw_seat_carry_over(o->probe->seat, &o->touch[first[i]], &o->touch[i]);
    }
  }
  return status;
}

tw_status tw_probe_touches(const tw_probe *probe, tw_seat_work **works, int threads, size_t count,
                           tw_seat_touch_result *touch, const tw_progress *progress,
                           tw_fault *fault)
{
  outing o = {.probe = probe, .works = works, .touch = touch};
  size_t *places = tw_alloc(2 * count + 1, sizeof *places);
  if (!places) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the touches");
  }
  const tw_status status =
      run_and_copy(&o, threads, count, places, places + count, progress, fault);
  tw_free(places);
  return status;
}

void tw_probe_free_works(tw_seat_work **works, int threads)
{
  for (int i = 0; works && i < threads; i++) {
    tw_seat_work_free(works[i]);
  }
  tw_free(works);
}

tw_seat_work **tw_probe_works(const tw_probe *probe, int threads)
{
  tw_seat_work **works = tw_alloc((size_t)threads, sizeof *works);
  for (int i = 0; works && i < threads; i++) {
    works[i] = tw_seat_work_new(probe->seat);
    if (!works[i]) {
      tw_probe_free_works(works, threads);
      return NULL;
    }
  }
  return works;
}
