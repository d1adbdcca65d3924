/* causes.c: the search put together: single causes and pairs in one order. */
#include "causes_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* a reading without a stated uncertainty: 1 % of it (docs/models/bench.md) */
#define READING_SHARE 0.01
/* pairs whose values are sought, from the sums and from the second scan together; those of them,
 * and single causes, that get whole cards with the weights at the end */
enum { PAIRS = 36, SINGLES = 8, WHOLE = 16 };
/* readings that two explanations show alike: nothing on the list differs by more deviations */
#define ALIKE 2.0

/* ---- readings ------------------------------------------------------------------------------ */

/* levels and capacitances rest on little, a peak on the whole of the probe, and a weight that trips
 * on everything: a reading that is wrong outright spoils those behind it only */
static int rank_of(tw_bench_id id)
{
  switch (id) {
  case TW_BENCH_LIFT_PEAK:
  case TW_BENCH_HOLD:
    return 1;
  case TW_BENCH_WEIGHT_SIDE:
  case TW_BENCH_WEIGHT_SIDE_LEAST:
  case TW_BENCH_WEIGHT_AXIAL:
    return 2;
  default:
    return 0;
  }
}

static void take_row(cause_hunt *h, const tw_bench_reading *r, const tw_bench_check *c)
{
  rows *to = &h->r;
  const size_t at = to->count++;
  to->what[at] = r->id;
  to->value[at] = r->value;
  to->u[at] = r->u > 0 ? r->u : fmax(READING_SHARE * fabs(r->value), 1e-15);
  to->ratio[at] = strcmp(c->unit, "V") != 0 && r->value > 0;
}

static tw_status take_readings(cause_hunt *h, const tw_bench_card *card, tw_fault *fault)
{
  if (h->readings > READINGS_MOST) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give each check once",
                   "there are more readings than checks");
  }
  for (int rank = 0; rank < 3; rank++) {
    for (size_t i = 0; i < h->readings; i++) {
      const tw_bench_reading *r = &h->reading[i];
      const tw_bench_check *c = tw_bench_find(card, r->id);
      if (!c) {
        return tw_fail(fault, TW_BAD_INPUT, "", "see tripwright expect for what can be read",
                       "the card of this design does not have one of the checks");
      }
      if (r->kind == TW_READ_NUMBER && rank_of(r->id) == rank) {
        take_row(h, r, c);
      }
    }
    h->quick = rank < 2 ? h->r.count : h->quick;
  }
  return TW_OK;
}

/* ---- around the drawing -------------------------------------------------------------------- */

static tw_status start(cause_hunt *h, tw_parameter *parameter, tw_fault *fault)
{
  double z[TW_IDENTIFY_MOST] = {0};
  shown centre;
  tw_bench_card *card = tw_alloc(1, sizeof *card);
  double *jacobian = tw_alloc((size_t)TW_IDENTIFY_SHOWN * TW_IDENTIFY_MOST, sizeof *jacobian);
  tw_status status = card && jacobian
                         ? tw_bench_card_from(h->m.design, &h->m.with, h->m.threads, card, fault)
                         : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the causes");
  if (status == TW_OK) {
    h->m.with.test_weight = card->test_weight;
    status = take_readings(h, card, fault);
  }
  h->m.parameter = parameter;
  status = status == TW_OK ? tw_unit_parameters(h->m.design, h->m.units, h->m.with.hand_time,
                                                parameter, &h->m.parameters, fault)
                           : status;
  status = status == TW_OK ? tw_unit_model_new(&h->m, fault) : status;
  status = status == TW_OK ? tw_unit_shows(&h->m, z, &centre, fault) : status;
  status = status == TW_OK ? tw_unit_jacobian(&h->m, z, jacobian, fault) : status;
  status = status == TW_OK ? tw_causes_scatter(h, jacobian, &centre, fault) : status;
  if (status == TW_OK) {
    h->sound = (guess){.causes = 0};
    status = tw_causes_try(h, 0, &h->sound, fault);
  }
  if (status == TW_OK && !h->sound.answers) {
    status = tw_fail(fault, TW_NO_ANSWER, "", "look at tripwright expect first",
                     "the card of this design has no figures to start from");
  }
  tw_free(jacobian);
  tw_free(card);
  return status;
}

/* ---- one order ----------------------------------------------------------------------------- */

static int by_cost(const void *a, const void *b)
{
  const guess *x = a, *y = b;
  return x->cost < y->cost ? -1 : x->cost > y->cost;
}

/* the best place of each field's curve */
static size_t singles_of(const guess *curve, size_t count, guess *out, size_t most)
{
  size_t n = 0;
  for (size_t i = 0; i < count;) {
    size_t best = i, end = i;
    for (; end < count && curve[end].cause[0].field == curve[i].cause[0].field; end++) {
      best = curve[end].misfit < curve[best].misfit ? end : best;
    }
    i = end;
    if (n == most && !(curve[best].misfit < out[n - 1].misfit)) {
      continue;
    }
    size_t at = n < most ? n++ : n - 1;
    while (at > 0 && out[at - 1].misfit > curve[best].misfit) {
      out[at] = out[at - 1];
      at--;
    }
    out[at] = curve[best];
  }
  return n;
}

/* does every reading show the same with either? */
static bool alike(const cause_hunt *h, const guess *a, const guess *b)
{
  for (size_t i = 0; i < h->readings; i++) {
    if (a->missing[i] != b->missing[i] ||
        (i < h->r.count && fabs(a->left[i] - b->left[i]) > ALIKE * h->r.u[i])) {
      return false;
    }
  }
  return true;
}

static void put_out(const cause_hunt *h, const guess *g, size_t count, tw_explanations *out)
{
  double all = 0;
  for (size_t i = 0; i < count && out->count < TW_EXPLANATIONS; i++) {
    if (!isfinite(g[i].cost)) {
      break;
    }
    tw_explanation *e = &out->of[out->count++];
    *e = (tw_explanation){.causes = g[i].causes,
                          .cause = {g[i].cause[0], g[i].cause[1]},
                          .misfit = g[i].misfit,
                          .cost = g[i].cost,
                          .worst = g[i].worst,
                          .explains = g[i].worst <= TW_SUSPECT_FITS,
                          .like = -1};
    for (size_t k = 0; k < i && e->like < 0; k++) {
      e->like = alike(h, &g[i], &g[k]) ? (int)k : -1;
    }
    all += exp(-0.5 * (g[i].cost - g[0].cost));
  }
  for (size_t i = 0; i < out->count; i++) {
    out->of[i].chance = exp(-0.5 * (out->of[i].cost - g[0].cost)) / all;
  }
}

/* a pair of which one thing alone costs less is no pair */
static tw_status search(cause_hunt *h, guess *list, tw_explanations *out, tw_fault *fault)
{
  guess *curve = NULL;
  size_t count = 0, pairs = 0;
  tw_status status = tw_causes_curves(h, &curve, &count, fault);
  if (status == TW_OK) {
    pairs = tw_causes_pairs(h, curve, count, list, PAIRS * 2 / 3);
    status = tw_causes_on_top(h, curve, count, list, &pairs, PAIRS, fault);
  }
  size_t all = pairs;
  if (status == TW_OK) {
    all += singles_of(curve, count, list + pairs, SINGLES);
    status = tw_causes_solve(h, list, all, fault);
  }
  tw_free(curve);
  if (status == TW_OK) {
    qsort(list, all, sizeof *list, by_cost);
    all = all < WHOLE ? all : WHOLE;
    h->weighed = h->quick < h->r.count;
    if (h->weighed) {
      status = tw_causes_try_all(h, list, all, "the weights of each", fault);
      qsort(list, all, sizeof *list, by_cost);
    }
  }
  if (status == TW_OK) {
    put_out(h, list, all, out);
  }
  return status;
}

tw_status tw_identify_causes(const tw_design *design, tw_units *units,
                             const tw_causes_options *options, const tw_bench_reading *reading,
                             size_t readings, tw_explanations *out, tw_fault *fault)
{
  static const tw_causes_options none = {0};
  const tw_causes_options *o = options ? options : &none;
  memset(out, 0, sizeof *out);
  cause_hunt *h = tw_alloc(1, sizeof *h);
  tw_parameter *parameter = tw_alloc(TW_IDENTIFY_MOST, sizeof *parameter);
  guess *list = tw_alloc(PAIRS + SINGLES, sizeof *list);
  tw_status status = h && parameter && list
                         ? TW_OK
                         : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the causes");
  if (status == TW_OK) {
    h->m = (unit_model){.design = design,
                        .units = units,
                        .with = o->instruments ? *o->instruments : tw_bench_instruments_default(),
                        .threads = tw_threads(o->threads),
                        .progress = o->progress};
    h->options = o;
    h->reading = reading;
    h->readings = readings;
    status = start(h, parameter, fault);
    out->misfit = h->sound.misfit;
    status = status == TW_OK ? search(h, list, out, fault) : status;
    out->cards = h->cards;
    tw_unit_model_free(&h->m);
    tw_free(h->lower);
  }
  tw_free(list);
  tw_free(parameter);
  tw_free(h);
  return status;
}
