/* model.c: the unit at a place of its parameters, as the instruments of the bench show it. */
#include "inner.h"

#include <math.h>
#include <string.h>

/* prior deviations to either side for a difference: wide against what solvers leave (1e-9 of a
 * figure), narrow against the bend of any figure over its spread */
#define STEP 0.2

/* ---- threads' rooms ------------------------------------------------------------------------ */

tw_status tw_unit_model_new(unit_model *m, tw_fault *fault)
{
  m->room = tw_alloc((size_t)m->threads, sizeof *m->room);
  bool all = m->room != NULL;
  for (int i = 0; all && i < m->threads; i++) {
    m->room[i].design = tw_design_clone(m->design);
    all = m->room[i].design != NULL;
  }
  return all ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
}

void tw_unit_model_free(unit_model *m)
{
  for (int i = 0; m->room && i < m->threads; i++) {
    tw_design_free(m->room[i].design);
  }
  tw_free(m->room);
  m->room = NULL;
}

/* ---- one place ----------------------------------------------------------------------------- */

/* the design of the unit, and the hand that tests it */
static void put_all(const unit_model *m, const double *z, tw_design *own,
                    tw_bench_instruments *with)
{
  tw_design_copy(own, m->design);
  *with = m->with;
  for (size_t k = 0; k < m->parameters; k++) {
    const double value = tw_parameter_at(&m->parameter[k], z[k]);
    if (m->parameter[k].kind == TW_PARAMETER_HAND) {
      with->hand_time = value;
    } else {
      tw_parameter_put(m->design, &m->parameter[k], value, own);
    }
  }
}

static void take(const room *r, shown *out)
{
  tw_bench_shown all[TW_BENCH_COUNT];
  tw_bench_shown_of(&r->card, all);
  for (int i = 0; i < TW_BENCH_COUNT; i++) {
    out->known[i] = all[i].there && all[i].known && !all[i].word && isfinite(all[i].value);
    out->value[i] = out->known[i] ? all[i].value : 0;
  }
  const tw_bench_figure *q = &r->inputs.charge_per_newton;
  out->known[TW_IDENTIFY_CHARGE] = q->known && q->value > 0;
  out->value[TW_IDENTIFY_CHARGE] = q->known ? q->value : 0;
}

/* a unit that cannot be shows nothing; anything worse is a failure */
static tw_status answer(tw_status status, const tw_fault *why, const room *r, shown *out,
                        tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  if (status == TW_OK) {
    take(r, out);
  } else if (status != TW_BAD_INPUT && status != TW_NO_ANSWER) {
    *fault = *why;
    return status;
  }
  return TW_OK;
}

tw_status tw_unit_shows(unit_model *m, const double *z, shown *out, tw_fault *fault)
{
  room *r = &m->room[0];
  tw_bench_instruments with;
  tw_fault why = {0};
  put_all(m, z, r->design, &with);
  const tw_status status = tw_bench_card_with(r->design, &with, m->threads, false, &r->forces,
                                              &r->inputs, &r->card, &why);
  m->cards++;
  return answer(status, &why, r, out, fault);
}

/* a neighbour: its weights hang in the same directions */
static tw_status near_shows(unit_model *m, int worker, const double *z, shown *out, tw_fault *fault)
{
  room *r = &m->room[worker];
  tw_bench_instruments with;
  tw_fault why = {0};
  put_all(m, z, r->design, &with);
  r->forces = m->forces;
  const tw_status status =
      tw_bench_card_with(r->design, &with, 1, true, &r->forces, &r->inputs, &r->card, &why);
  return answer(status, &why, r, out, fault);
}

/* the same where nothing but the board differs from the place of `around` */
static tw_status board_shows(unit_model *m, int worker, const double *z, shown *out,
                             tw_fault *fault)
{
  room *r = &m->room[worker];
  tw_bench_instruments with;
  tw_fault why = {0};
  put_all(m, z, r->design, &with);
  r->inputs = m->around;
  const tw_status status = tw_bench_card_of_board(r->design, &with, &r->inputs, &r->card, &why);
  return answer(status, &why, r, out, fault);
}

/* ---- many places --------------------------------------------------------------------------- */

typedef struct places {
  unit_model *m;
  const double *z;
  const size_t *parameter; /* moved in place i */
  const double *at;        /* to */
  shown *out;
} places;

static tw_status some_places(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const places *p = self;
  double z[TW_IDENTIFY_MOST];
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    const size_t k = p->parameter[i];
    memcpy(z, p->z, p->m->parameters * sizeof *z);
    z[k] = p->at[i];
    status = p->m->parameter[k].board ? board_shows(p->m, worker, z, &p->out[i], fault)
                                      : near_shows(p->m, worker, z, &p->out[i], fault);
  }
  return status;
}

static tw_status go_to(unit_model *m, const double *z, const size_t *parameter, const double *at,
                       size_t count, shown *out, tw_fault *fault)
{
  /* what the probe itself is here, for the places where only the board moves */
  shown here;
  tw_status status = tw_unit_shows(m, z, &here, fault);
  m->around = m->room[0].inputs;
  m->forces = m->room[0].forces;
  places p = {m, z, parameter, at, out};
  const tw_loop loop = {.count = count,
                        .chunk = 1,
                        .threads = m->threads,
                        .work = some_places,
                        .self = &p,
                        .what = "moving what may differ"};
  m->cards += count;
  return status == TW_OK ? tw_parallel(&loop, m->progress, fault) : status;
}

/* the slope of one figure from the two sides, 0 where a side has none */
static double slope_of(const shown *down, const shown *up, size_t what)
{
  return down->known[what] && up->known[what] ? (up->value[what] - down->value[what]) / (2 * STEP)
                                              : 0;
}

tw_status tw_unit_jacobian(unit_model *m, const double *z, double *jacobian, tw_fault *fault)
{
  const size_t n = m->parameters;
  size_t parameter[2 * TW_IDENTIFY_MOST];
  double at[2 * TW_IDENTIFY_MOST];
  shown *out = tw_alloc(2 * n + 1, sizeof *out);
  if (!out) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
  }
  for (size_t i = 0; i < 2 * n; i++) {
    parameter[i] = i / 2;
    at[i] = z[i / 2] + (i % 2 ? STEP : -STEP);
  }
  const tw_status status = go_to(m, z, parameter, at, 2 * n, out, fault);
  for (size_t k = 0; k < n && status == TW_OK; k++) {
    for (size_t w = 0; w < TW_IDENTIFY_SHOWN; w++) {
      jacobian[w * n + k] = slope_of(&out[2 * k], &out[2 * k + 1], w);
    }
  }
  tw_free(out);
  return status;
}

tw_status tw_unit_slice(unit_model *m, const double *z, size_t k, const double *at, size_t count,
                        shown *out, tw_fault *fault)
{
  size_t *parameter = tw_alloc(count, sizeof *parameter);
  if (!parameter) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
  }
  for (size_t i = 0; i < count; i++) {
    parameter[i] = k;
  }
  const tw_status status = go_to(m, z, parameter, at, count, out, fault);
  tw_free(parameter);
  return status;
}

/* ---- a measure of `check` ------------------------------------------------------------------ */

typedef struct measuring {
  unit_model *m;
  const double *z;
  tw_measure_id id;
  tw_measure_set wanted;
  double *value; /* [2 n + 1]; NAN: none */
} measuring;

static tw_status some_measures(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const measuring *p = self;
  tw_design *own = p->m->room[worker].design;
  tw_bench_instruments with;
  tw_assess_options options = tw_assess_defaults();
  tw_assessment *a = tw_alloc(1, sizeof *a);
  options.wanted = &p->wanted;
  options.threads = 1;
  options.contributions = false;
  tw_status status = a ? TW_OK : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the unit");
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    double z[TW_IDENTIFY_MOST];
    memcpy(z, p->z, p->m->parameters * sizeof *z);
    if (i > 0) {
      z[(i - 1) / 2] += i % 2 ? -STEP : STEP;
    }
    put_all(p->m, z, own, &with);
    tw_fault why = {0};
    status = tw_assess(own, &options, a, &why);
    const tw_measure *one = &a->measure[p->id];
    p->value[i] = status == TW_OK && one->state == TW_MEASURE_OK && !one->word
                      ? tw_measure_judged(one)
                      : (double)NAN;
    if (status == TW_BAD_INPUT || status == TW_NO_ANSWER) {
      status = TW_OK;
    } else if (status != TW_OK) {
      *fault = why;
    }
  }
  tw_free(a);
  return status;
}

tw_status tw_unit_measure_slope(unit_model *m, const double *z, tw_measure_id id, double *slope,
                                double *value, tw_fault *fault)
{
  const size_t n = m->parameters;
  double all[2 * TW_IDENTIFY_MOST + 1];
  measuring p = {.m = m, .z = z, .id = id, .value = all};
  p.wanted.has[id] = true;
  const tw_loop loop = {.count = 2 * n + 1,
                        .chunk = 1,
                        .threads = m->threads,
                        .work = some_measures,
                        .self = &p,
                        .what = "what the requirement hangs on"};
  const tw_status status = tw_parallel(&loop, m->progress, fault);
  *value = status == TW_OK ? all[0] : (double)NAN;
  for (size_t k = 0; k < n && status == TW_OK; k++) {
    const double d = (all[2 * k + 2] - all[2 * k + 1]) / (2 * STEP);
    slope[k] = isfinite(d) ? d : 0;
  }
  return status;
}
