/* price.c: price lists with steps, packs and shipping; learning. */
#include "tripwright/batch.h"

#include <limits.h>
#include <math.h>

/* ---- buying
 * -------------------------------------------------------------------------------------- */

static int in_packs(const tw_supply *s, int count)
{
  const int pack = s->pack > 1 ? s->pack : 1, more = count % pack;
  return more && count <= INT_MAX - pack ? count + pack - more : count;
}

/* all at the price of the last step reached, or each at that of its own */
static double price_of(const tw_supply *s, double cost, int count)
{
  if (s->prices == 0) {
    return count * cost;
  }
  double pay = count * s->price[0].each;
  for (size_t i = 1; i < s->prices && count >= s->price[i].from; i++) {
    pay = s->stepped
              ? pay + (count - s->price[i].from + 1) * (s->price[i].each - s->price[i - 1].each)
              : count * s->price[i].each;
  }
  return pay;
}

tw_buy tw_supply_buy(const tw_supply *supply, double cost, int need)
{
  tw_buy best = {0};
  if (need <= 0) {
    return best;
  }
  best.count = in_packs(supply, need);
  best.pay = best.pay_for_need = price_of(supply, cost, best.count) + supply->shipping;
  for (size_t i = 0; i < supply->prices; i++) {
    const int count = in_packs(supply, supply->price[i].from);
    const double pay = price_of(supply, cost, count) + supply->shipping;
    if (count > need && pay < best.pay) {
      best.count = count;
      best.pay = pay;
    }
  }
  return best;
}

/* ---- learning (Wright, J. Aeronaut. Sci. 3 (1936) 122)
 * --------------------------------------------- */

static double exponent(double rate)
{
  return log2(rate);
}

double tw_learning_unit(const tw_learning *law, int n)
{
  const double b = exponent(law->rate);
  double t = law->first * pow(n, b);
  if (law->form == TW_LEARN_CUMULATIVE) {
    t = law->first * (pow(n, 1 + b) - (n > 1 ? pow(n - 1, 1 + b) : 0));
  }
  return fmax(t, law->least);
}

double tw_learning_total(const tw_learning *law, int from, int to)
{
  double total = 0;
  for (int n = from; n <= to; n++) {
    total += tw_learning_unit(law, n);
  }
  return total;
}

/* sum of n^b and of n^b ln n over a lot, whose quotient is the slope of ln total over b */
static double lot_sum(const tw_lot_hours *lot, double b, double *slope)
{
  double sum = 0, turned = 0;
  for (int n = lot->from; n <= lot->to; n++) {
    sum += pow(n, b);
    turned += pow(n, b) * log(n);
  }
  *slope = turned / sum;
  return sum;
}

/* one step of Gauss and Newton over (ln first, b): ln hours = ln first + ln sum n^b */
static double fit_step(const tw_lot_hours *lot, size_t lots, double *ln_first, double *b)
{
  double n = (double)lots, sx = 0, sxx = 0, sy = 0, sxy = 0;
  for (size_t i = 0; i < lots; i++) {
    double x;
    const double y = log(lot[i].hours) - *ln_first - log(lot_sum(&lot[i], *b, &x));
    sx += x;
    sxx += x * x;
    sy += y;
    sxy += x * y;
  }
  const double det = n * sxx - sx * sx;
  const double db = det > 0 ? (n * sxy - sx * sy) / det : 0;
  *ln_first += (sy - db * sx) / n;
  *b += db;
  return fabs(db);
}

#define FIT_STEPS   60
#define FIT_PRECISE 1e-13 /* of the exponent, which is of the order of 0.2 */

tw_status tw_learning_fit(const tw_lot_hours *lot, size_t lots, tw_learning *out, tw_fault *fault)
{
  if (lots < TW_LEARNING_LOTS) {
    return tw_fail(fault, TW_BAD_INPUT, NULL, "take 90 % until more lots are made",
                   "learning is fitted from %d lots on, there are %zu", TW_LEARNING_LOTS, lots);
  }
  for (size_t i = 0; i < lots; i++) {
    if (lot[i].from < 1 || lot[i].to < lot[i].from || lot[i].to > 1000000 || !(lot[i].hours > 0) ||
        !isfinite(lot[i].hours)) {
      return tw_fail(fault, TW_BAD_INPUT, NULL, "first and last number, then the hours of all",
                     "lot %zu has no units or no hours", i + 1);
    }
  }
  double ln_first = log(lot[0].hours / (lot[0].to - lot[0].from + 1)), b = log2(0.9);
  int step = 0;
  while (fit_step(lot, lots, &ln_first, &b) > FIT_PRECISE && ++step < FIT_STEPS) {
  }
  if (step == FIT_STEPS || !isfinite(b) || !isfinite(ln_first)) {
    return tw_fail(fault, TW_NO_ANSWER, NULL, NULL, "the lots' hours fit no learning law");
  }
  *out = (tw_learning){TW_LEARN_UNIT, exp(ln_first), exp2(b), 0};
  return TW_OK;
}
