/* order.c: numbers to order so that enough are good. */
#include "tripwright/batch_order.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <string.h>

/* up to so many kinds every cheaper choice is tried */
#define KINDS_TRIED 5
/* and no more than so many choices */
#define CHOICES_TRIED 2000000L
/* rounding of a sum of probabilities */
#define CHANCE_ROUNDING 1e-12

/* P(exactly k of n) when the share is Beta(a, b) */
static double beta_binomial(int k, int n, double a, double b)
{
  const double choose = gsl_sf_lnchoose((unsigned)n, (unsigned)k);
  return exp(choose + gsl_sf_lnbeta(k + a, n - k + b) - gsl_sf_lnbeta(a, b));
}

double tw_enough(const tw_share_known *known, int good, int count)
{
  if (good <= 0) {
    return 1;
  }
  if (count < good) {
    return 0;
  }
  if (!known->counted) {
    return gsl_cdf_binomial_Q((unsigned)(good - 1), known->share, (unsigned)count);
  }
  double sum = 0;
  for (int k = good; k <= count; k++) {
    sum += beta_binomial(k, count, known->good + 0.5, known->bad + 0.5);
  }
  return fmin(sum, 1);
}

int tw_order_least(const tw_share_known *known, int good, double sure)
{
  if (good <= 0) {
    return 0;
  }
  for (int n = good; n <= TW_ORDER_FACTOR * good; n++) {
    if (tw_enough(known, good, n) >= sure) {
      return n;
    }
  }
  return 0;
}

/* ---- several kinds at once
 * ------------------------------------------------------------------------ */

typedef struct search {
  const tw_order_kind *kind;
  size_t kinds;
  double sure;
  int count[TW_KINDS_MOST];
  tw_orders *best;
  long tried;
} search;

/* one more of the kind that gives most ln(chance) for its money, until all are enough */
static void climb(const search *s, tw_orders *out)
{
  for (out->chance = out->chance_alone; out->chance < s->sure;) {
    size_t best = SIZE_MAX;
    double most = -1;
    for (size_t i = 0; i < s->kinds; i++) {
      const tw_order_kind *k = &s->kind[i];
      if (out->count[i] >= TW_ORDER_FACTOR * k->good || k->good <= 0) {
        continue;
      }
      const double now = tw_enough(&k->known, k->good, out->count[i]);
      const double more = tw_enough(&k->known, k->good, out->count[i] + 1);
      const double gain = log(more / now) / fmax(k->price, 1e-12); /* free ones first */
      if (gain > most) {
        most = gain;
        best = i;
      }
    }
    if (best == SIZE_MAX) {
      return;
    }
    out->count[best]++;
    out->chance = 1;
    for (size_t i = 0; i < s->kinds; i++) {
      out->chance *= tw_enough(&s->kind[i].known, s->kind[i].good, out->count[i]);
    }
  }
}

/* counts of the kinds from `at` on: each from its own least up to what still beats the best */
static void try_counts(search *s, size_t at, double chance, double pay)
{
  if (at == s->kinds) {
    const bool better = pay < s->best->pay || (pay <= s->best->pay && chance > s->best->chance);
    if (chance >= s->sure - CHANCE_ROUNDING && better) {
      memcpy(s->best->count, s->count, sizeof s->count);
      s->best->pay = pay;
      s->best->chance = chance;
    }
    return;
  }
  double rest = 0;
  for (size_t i = at + 1; i < s->kinds; i++) {
    rest += s->best->alone[i] * s->kind[i].price;
  }
  const tw_order_kind *k = &s->kind[at];
  for (int n = s->best->alone[at]; n <= TW_ORDER_FACTOR * k->good || n == 0; n++) {
    const double p = tw_enough(&k->known, k->good, n);
    if (++s->tried > CHOICES_TRIED || pay + n * k->price + rest > s->best->pay) {
      return;
    }
    if (chance * p >= s->sure - CHANCE_ROUNDING) {
      s->count[at] = n;
      try_counts(s, at + 1, chance * p, pay + n * k->price);
    }
    if (p >= 1 - CHANCE_ROUNDING) {
      return;
    }
  }
}

tw_status tw_order_all(const tw_order_kind *kind, size_t kinds, double sure, tw_orders *out,
                       tw_fault *fault)
{
  *out = (tw_orders){.chance_alone = 1};
  if (kinds > TW_KINDS_MOST) {
    return tw_fail(fault, TW_BAD_INPUT, NULL, NULL, "more than %d kinds of pieces", TW_KINDS_MOST);
  }
  for (size_t i = 0; i < kinds; i++) {
    out->alone[i] = tw_order_least(&kind[i].known, kind[i].good, sure);
    if (out->alone[i] < kind[i].good) {
      return tw_fail(
          fault, TW_NO_ANSWER, NULL, "raise the share of good pieces before ordering more",
          "of kind %zu even %d times the wanted number is not enough", i + 1, TW_ORDER_FACTOR);
    }
    out->count[i] = out->alone[i];
    out->chance_alone *= tw_enough(&kind[i].known, kind[i].good, out->alone[i]);
  }
  search s = {.kind = kind, .kinds = kinds, .sure = sure, .best = out};
  climb(&s, out);
  if (out->chance < sure) {
    return tw_fail(fault, TW_NO_ANSWER, NULL, "raise the share of good pieces",
                   "%d times the wanted numbers are not enough for all at once", TW_ORDER_FACTOR);
  }
  for (size_t i = 0; i < kinds; i++) {
    out->pay += out->count[i] * kind[i].price;
  }
  if (kinds <= KINDS_TRIED) {
    try_counts(&s, 0, 1, 0);
    out->proven = s.tried <= CHOICES_TRIED;
  }
  return TW_OK;
}

/* ---- windows and pairs
 * ---------------------------------------------------------------------------- */

/* of a normal law, within a..b */
static double normal_between(double a, double b)
{
  return b > a ? gsl_cdf_ugaussian_P(b) - gsl_cdf_ugaussian_P(a) : 0;
}

double tw_share_within(double middle, double tolerance, double low, double high, double hole)
{
  const double sd = tolerance / 2;
  if (!(sd > 0)) {
    return low <= middle && middle <= high ? 1 : 0;
  }
  const double a = (low - middle) / sd, b = (high - middle) / sd, h = hole > 0 ? hole / sd : 0;
  const double in_hole = normal_between(fmax(a, -h), fmin(b, h));
  return (normal_between(a, b) - in_hole) / (1 - normal_between(-h, h));
}

/* one more pair by an alternating path from a (Kuhn) */
static bool augment(const bool *good, size_t bs, size_t a, size_t *owner, bool *seen)
{
  for (size_t b = 0; b < bs; b++) {
    if (!good[a * bs + b] || seen[b]) {
      continue;
    }
    seen[b] = true;
    if (owner[b] == SIZE_MAX || augment(good, bs, owner[b], owner, seen)) {
      owner[b] = a;
      return true;
    }
  }
  return false;
}

tw_status tw_pairs_most(const bool *good, size_t as, size_t bs, size_t *mate, size_t *most,
                        tw_fault *fault)
{
  size_t *owner = tw_alloc(bs + 1, sizeof *owner);
  bool *seen = tw_alloc(bs + 1, sizeof *seen);
  *most = 0;
  if (!owner || !seen) {
    tw_free(owner);
    tw_free(seen);
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory to pair %zu with %zu", as, bs);
  }
  for (size_t b = 0; b < bs; b++) {
    owner[b] = SIZE_MAX;
  }
  for (size_t a = 0; a < as; a++) {
    memset(seen, 0, bs * sizeof *seen);
    *most += augment(good, bs, a, owner, seen);
    if (mate) {
      mate[a] = SIZE_MAX;
    }
  }
  for (size_t b = 0; mate && b < bs; b++) {
    if (owner[b] != SIZE_MAX) {
      mate[owner[b]] = b;
    }
  }
  tw_free(owner);
  tw_free(seen);
  return TW_OK;
}
