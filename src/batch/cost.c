/* cost.c: a design's batch in money: from the lines to the good unit and the lot. */
#include "inside.h"

#include <math.h>

/* by hand and by machine, test and material: all that a unit which enters costs, without parts */
static void price_lines(const tw_design *design, tw_batch *batch)
{
  const double hour = tw_design_number_or(design, TW_F_costs_hour, 0) / TW_HOUR;
  for (size_t k = 0; k < batch->lines; k++) {
    tw_batch_line *line = &batch->line[k];
    line->work.work += line->attended * hour + line->material;
    line->work.test = line->work.retest = line->test * hour;
    line->work.rework = line->step ? line->step->mend_time * hour : 0;
    batch->setups += line->setup * hour;
    batch->setup_time += line->setup;
  }
}

/* of a piece that lies there: the first price of the list, or the part's */
static double price_in_hand(const tw_part *part)
{
  return part->supply.prices > 0 ? part->supply.price[0].each : part->cost;
}

static void put_parts(tw_batch *batch)
{
  for (size_t i = 0; i < batch->parts; i++) {
    const tw_batch_part *p = &batch->part[i];
    const int need = batch->line[p->line].need;
    const double in_hand = p->have * price_in_hand(p->part); /* paid before, used now */
    batch->line[p->line].parts += need > 0 ? (p->buy.pay + in_hand) / need : 0;
  }
}

/* cost along the lines with the shares that pass given; `outcome` and `good` as tw_chain_cost */
static double chain(const tw_batch *batch, const double *passes, size_t left_out,
                    tw_step_outcome *outcome, double *good)
{
  tw_work_step work[TW_BATCH_STEPS];
  double joined[TW_BATCH_STEPS];
  for (size_t k = 0; k < batch->lines; k++) {
    work[k] = batch->line[k].work;
    joined[k] = batch->line[k].parts;
    if (passes) {
      work[k].passes = passes[k];
    }
    if (k == left_out) {
      work[k].test = 0;
    }
  }
  tw_chain_cost(work, batch->lines, joined, outcome, good);
  return good[batch->lines - 1];
}

static double truly_good(double per_good, double bad, double failed)
{
  return bad < 1 ? (per_good + bad * failed) / (1 - bad) : HUGE_VAL;
}

/* what each test is worth: the same batch without it */
static void without_tests(const tw_design *design, tw_batch *batch)
{
  const double failed = tw_design_number_or(design, TW_F_costs_failed_unit, 0);
  batch->truly = truly_good(batch->per_good, batch->bad, failed);
  for (size_t k = 0; k < batch->lines; k++) {
    tw_batch_line *line = &batch->line[k];
    double passes[TW_BATCH_STEPS], good[TW_BATCH_STEPS];
    tw_step_outcome outcome[TW_BATCH_STEPS];
    if (line->test > 0) {
      line->bad_without = tw_batch_found(batch, k, passes);
      line->truly_without =
          truly_good(chain(batch, passes, k, outcome, good), line->bad_without, failed);
    }
  }
}

/* hours of a good unit: every unit that enters takes them */
static void sum_hours(tw_batch *batch)
{
  for (size_t k = 0; k < batch->lines; k++) {
    const tw_batch_line *line = &batch->line[k];
    const double enter = line->share * batch->starts_per_good;
    const double rework = line->step ? line->step->mend_time + line->test : 0;
    batch->attended += enter * (line->attended + line->test + line->outcome.reworks * rework);
    batch->machine += enter * line->machine;
  }
}

static void yields(tw_batch *batch)
{
  tw_step_outcome outcome[TW_BATCH_STEPS];
  double good[TW_BATCH_STEPS], share[TW_BATCH_STEPS];
  batch->per_good = chain(batch, NULL, SIZE_MAX, outcome, good);
  batch->starts_per_good = tw_chain_starts(outcome, batch->lines, share);
  batch->share = 1 / batch->starts_per_good;
  for (size_t k = 0; k < batch->lines; k++) {
    batch->line[k].outcome = outcome[k];
    batch->line[k].good = good[k];
    batch->line[k].share = share[k];
  }
}

static tw_status make(const tw_design *design, const tw_batch_ask *ask, tw_batch *batch,
                      tw_fault *fault)
{
  tw_status status = tw_batch_lines(design, ask, batch, fault);
  if (status == TW_OK) {
    status = tw_batch_faults(ask, batch, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  price_lines(design, batch);
  yields(batch);
  status = tw_batch_orders(design, ask, batch, fault);
  if (status != TW_OK) {
    return status;
  }
  put_parts(batch);
  yields(batch);
  without_tests(design, batch);
  sum_hours(batch);
  batch->lot =
      tw_lot_cost(batch->starts, batch->share, batch->setups, batch->per_good * batch->share);
  const double hours = batch->attended + batch->setup_time / batch->good;
  batch->overhead = tw_design_number_or(design, TW_F_costs_overhead, 0) * batch->lot.per_good +
                    tw_design_number_or(design, TW_F_costs_overhead_hour, 0) * hours / TW_HOUR;
  return tw_batch_ready(design, batch, fault);
}

tw_status tw_batch_make(const tw_design *design, const tw_batch_ask *ask, tw_batch **out,
                        tw_fault *fault)
{
  *out = tw_alloc(1, sizeof **out);
  if (!*out) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for a batch");
  }
  (*out)->good = ask->good;
  (*out)->sure = ask->sure;
  const tw_status status = make(design, ask, *out, fault);
  if (status != TW_OK) {
    tw_free(*out);
    *out = NULL;
  }
  return status;
}
