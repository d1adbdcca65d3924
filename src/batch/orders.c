/* orders.c: how many units of a design's batch start, and how many pieces of each part that takes.
 */
#include "inside.h"

#include <gsl/gsl_randist.h>
#include <math.h>
#include <string.h>

/* more starts than the fewest that are tried: beyond, pieces are never cheaper for it */
#define STARTS_MORE 12
#define UNITS_MOST  2000

/* shares that leave from line k to the end */
static void tails(const tw_batch *batch, double *tail)
{
  double left = 1;
  for (size_t k = batch->lines; k-- > 0;) {
    left *= batch->line[k].outcome.yield;
    tail[k] = left;
  }
}

/* units that must enter each line: each as sure as the first */
static bool needs(tw_batch *batch, const double *tail, int starts)
{
  const tw_share_known first = {.share = tail[0]};
  const double level = tw_enough(&first, batch->good, starts);
  for (size_t k = 0; k < batch->lines; k++) {
    const tw_share_known known = {.share = tail[k]};
    const int need = k ? tw_order_least(&known, batch->good, level) : starts;
    if (need < batch->good) {
      return false;
    }
    batch->line[k].need = need < starts ? need : starts;
  }
  return true;
}

/* one line: of at most `need` that enter, how many leave it good; chance[0..need] in place */
static void through(double *chance, int before, int need, double yield, double *next)
{
  memset(next, 0, ((size_t)need + 1) * sizeof *next);
  for (int n = 0; n <= before; n++) {
    const int enter = n < need ? n : need;
    for (int k = 0; k <= enter && chance[n] > 0; k++) {
      next[k] += chance[n] * gsl_ran_binomial_pdf((unsigned)k, yield, (unsigned)enter);
    }
  }
  memcpy(chance, next, ((size_t)need + 1) * sizeof *next);
}

/* chance that enough units are good when no more than `need` enter each line */
static double chance_of(const tw_batch *batch, double *chance, double *next)
{
  int before = batch->line[0].need;
  memset(chance, 0, (UNITS_MOST + 1) * sizeof *chance);
  chance[before] = 1;
  for (size_t k = 0; k < batch->lines; k++) {
    through(chance, before, batch->line[k].need, batch->line[k].outcome.yield, next);
    before = batch->line[k].need;
  }
  double sum = 0;
  for (int n = batch->good; n <= before; n++) {
    sum += chance[n];
  }
  return sum;
}

static tw_share_known known_of(const tw_supply *s)
{
  if (s->seen_good + s->seen_bad > 0) {
    return (tw_share_known){true, 0, s->seen_good, s->seen_bad};
  }
  return (tw_share_known){.share = s->good > 0 ? s->good : 1};
}

/* pieces to order for these starts; the chance of all together is at least `sure` */
static tw_status pieces(tw_batch *batch, double assembled, tw_fault *fault)
{
  tw_order_kind kind[TW_BATCH_PARTS];
  tw_orders orders;
  for (size_t i = 0; i < batch->parts; i++) {
    tw_batch_part *p = &batch->part[i];
    const tw_supply *s = &p->part->supply;
    const int each = s->per_unit > 0 ? s->per_unit : 1;
    p->need = each * batch->line[p->line].need;
    p->have = p->part->state == TW_PART_IN_HAND && s->have == 0 ? p->need
              : s->have < p->need                               ? s->have
                                                                : p->need;
    kind[i] = (tw_order_kind){known_of(s), p->need - p->have, 0};
    const tw_buy buy = tw_supply_buy(s, p->part->cost, kind[i].good);
    kind[i].price = buy.count > 0 ? buy.pay / buy.count : 0;
  }
  tw_fault why = {0};
  const tw_status status =
      tw_order_all(kind, batch->parts, fmin(batch->sure / assembled, 1 - 1e-9), &orders, &why);
  if (status != TW_OK) {
    return tw_fail(fault, status, "parts", why.hint, "%s", why.text);
  }
  batch->pay = 0;
  batch->chance = assembled * orders.chance;
  batch->proven = orders.proven;
  for (size_t i = 0; i < batch->parts; i++) {
    tw_batch_part *p = &batch->part[i];
    p->order = orders.count[i];
    p->buy = tw_supply_buy(&p->part->supply, p->part->cost, p->order);
    batch->pay += p->buy.pay;
  }
  return TW_OK;
}

/* work on the units that enter, in money */
static double work_of(const tw_batch *batch)
{
  double sum = 0;
  for (size_t k = 0; k < batch->lines; k++) {
    sum += batch->line[k].need * batch->line[k].outcome.cost;
  }
  return sum;
}

/* the numbers of starts from the fewest on, the cheapest of them */
static tw_status cheapest(tw_batch *batch, int least, const double *tail, double *scratch,
                          tw_fault *fault)
{
  int best = 0;
  double money = HUGE_VAL;
  tw_status status = TW_OK;
  for (int n = least; n <= least + STARTS_MORE && n <= UNITS_MOST; n++) {
    if (!needs(batch, tail, n)) {
      continue;
    }
    const double assembled = chance_of(batch, scratch, scratch + UNITS_MOST + 1);
    if (assembled < batch->sure) {
      continue;
    }
    status = pieces(batch, assembled, fault);
    if (status == TW_OK && batch->pay + work_of(batch) < money) {
      money = batch->pay + work_of(batch);
      best = n;
    }
  }
  if (best == 0) {
    return status != TW_OK ? status
                           : tw_fail(fault, TW_NO_ANSWER, "steps", "raise the yield first",
                                     "no number of starts gives %d good units", batch->good);
  }
  (void)needs(batch, tail, best);
  batch->starts = best;
  return pieces(batch, chance_of(batch, scratch, scratch + UNITS_MOST + 1), fault);
}

tw_status tw_batch_orders(const tw_design *design, const tw_batch_ask *ask, tw_batch *batch,
                          tw_fault *fault)
{
  (void)design;
  double tail[TW_BATCH_STEPS];
  tails(batch, tail);
  const tw_share_known known = {.share = tail[0]};
  const int least = tw_order_least(&known, ask->good, ask->sure);
  if (least < ask->good || least > UNITS_MOST) {
    return tw_fail(
        fault, TW_NO_ANSWER, "steps",
        "tripwright spread says which requirement fails, remedy and allot what helps",
        "only %.3g %% of the units come out good: %d good ones would take over %d starts",
        100 * tail[0], ask->good,
        TW_ORDER_FACTOR * ask->good < UNITS_MOST ? TW_ORDER_FACTOR * ask->good : UNITS_MOST);
  }
  double *scratch = tw_alloc(2 * (UNITS_MOST + 1), sizeof *scratch);
  if (!scratch) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the numbers of a batch");
  }
  const tw_status status = cheapest(batch, least, tail, scratch, fault);
  tw_free(scratch);
  return status;
}
