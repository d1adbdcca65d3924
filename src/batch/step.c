/* step.c: one step with test and rework, the order of making, faults and tests, one lot. */
#include "tripwright/batch.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>

/* x = r (1 - q); N = (1 - p) r (1 - x^m)/(1 - x); Y = p + N q; C = w + e + N (b + e') */
tw_step_outcome tw_step_work(const tw_work_step *s)
{
  const double again = s->mends * (1 - s->mended); /* a rework is followed by another */
  const double sent = (1 - s->passes) * s->mends;
  double reworks = sent;
  if (s->most > 0) {
    reworks *= again < 1 ? (1 - pow(again, s->most)) / (1 - again) : s->most;
  } else {
    reworks = sent > 0 ? sent / (1 - again) : 0; /* infinite where every rework fails for ever */
  }
  return (tw_step_outcome){.yield = s->passes + (s->mended > 0 ? reworks * s->mended : 0),
                           .reworks = reworks,
                           .cost = s->work + s->test +
                                   (reworks > 0 ? reworks * (s->rework + s->retest) : 0)};
}

double tw_cost_after(double in, double cost, double yield, double salvage)
{
  return yield > 0 ? (in + cost - (1 - yield) * salvage) / yield : HUGE_VAL;
}

void tw_chain_cost(const tw_work_step *step, size_t n, const double *joined,
                   tw_step_outcome *outcome, double *good)
{
  double in = 0;
  for (size_t k = 0; k < n; k++) {
    outcome[k] = tw_step_work(&step[k]);
    in = tw_cost_after(in + (joined ? joined[k] : 0), outcome[k].cost, outcome[k].yield,
                       step[k].salvage);
    good[k] = in;
  }
}

double tw_chain_starts(const tw_step_outcome *outcome, size_t n, double *share)
{
  double left = 1;
  for (size_t k = 0; k < n; k++) {
    if (share) {
      share[k] = left;
    }
    left *= outcome[k].yield;
  }
  return left > 0 ? 1 / left : HUGE_VAL;
}

/* ---- faults ------------------------------------------------------------------------------------
 */

double tw_faults_found(const tw_fault_kind *kind, size_t kinds, size_t steps, size_t left_out,
                       double *yield)
{
  double before = 1, clean = 1;
  for (size_t k = 0; k < steps; k++) {
    double passed = 1;
    clean = 1;
    for (size_t d = 0; d < kinds; d++) {
      double missed = 1;
      for (size_t j = kind[d].step; j <= k; j++) {
        missed *= j == left_out ? 1 : 1 - kind[d].finds[j];
      }
      const double f = kind[d].step <= k ? kind[d].probability : 0;
      passed *= 1 - f * (1 - missed);
      clean *= 1 - f;
    }
    yield[k] = before > 0 ? passed / before : 0;
    before = passed;
  }
  return before > 0 ? 1 - clean / before : 0;
}

/* ---- a lot
 * --------------------------------------------------------------------------------------- */

/* the least number with at least the share q at or below it */
static int good_at(double q, int n, double p)
{
  int k = 0;
  while (k < n && gsl_cdf_binomial_P((unsigned)k, p, (unsigned)n) < q) {
    k++;
  }
  return k;
}

tw_lot tw_lot_cost(int starts, double share, double setups, double unit)
{
  tw_lot lot = {.cost = setups + starts * unit};
  const double expected = starts * share;
  double inverse = 0;
  for (int k = 1; k <= starts; k++) {
    inverse += gsl_ran_binomial_pdf((unsigned)k, share, (unsigned)starts) / k;
  }
  lot.none = starts > 0 ? gsl_ran_binomial_pdf(0, share, (unsigned)starts) : 1;
  lot.per_good = expected > 0 ? lot.cost / expected : HUGE_VAL;
  lot.one_lot = lot.none < 1 ? lot.cost * inverse / (1 - lot.none) : HUGE_VAL;
  lot.low = good_at(0.05, starts, share);
  lot.middle = good_at(0.5, starts, share);
  lot.high = good_at(0.95, starts, share);
  return lot;
}
