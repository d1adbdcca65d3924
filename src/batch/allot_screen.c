/* allot_screen.c: the yield of a set of grades from moments, slopes and second differences. */
#include "tripwright/batch_allot.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>

/* variance below this share of the base's is none: what is left when all that is known is taken off
 */
#define VARIANCE_LEAST 1e-9
/* scores that stand for a limit that is not there */
#define NO_LIMIT 40.0

/* differences of the powers 2, 4, 6 of the standard deviation of one dimension to its base */
static void powers(const tw_allot_dim *d, size_t grade, double *p2, double *p4, double *p6)
{
  const double s = d->share * d->hold[grade], s2 = s * s, b2 = d->base * d->base;
  *p2 = s2 - b2;
  *p4 = s2 * s2 - b2 * b2;
  *p6 = s2 * s2 * s2 - b2 * b2 * b2;
}

/* mean, variance and third moment of a quadratic form of normal numbers */
static void moments(const tw_allot_problem *p, const tw_allot_rule *rule, const tw_allot_set *set,
                    double *mean, double *variance, double *third)
{
  *mean = rule->mean;
  *variance = rule->variance;
  *third = rule->third;
  for (size_t i = 0; i < p->dims; i++) {
    double p2, p4, p6;
    const double a = rule->slope[i], h = rule->half[i];
    powers(&p->dim[i], set->grade[i], &p2, &p4, &p6);
    *mean += h * p2;
    *variance += a * a * p2 + 2 * h * h * p4;
    *third += 6 * a * a * h * p4 + 8 * h * h * h * p6;
  }
  *variance = fmax(*variance, VARIANCE_LEAST * rule->variance);
}

static double covariance(const tw_allot_problem *p, size_t r, size_t q, const tw_allot_set *set)
{
  double sum = p->covariance[r][q];
  for (size_t i = 0; i < p->dims; i++) {
    double p2, p4, p6;
    powers(&p->dim[i], set->grade[i], &p2, &p4, &p6);
    sum += p->rule[r].slope[i] * p->rule[q].slope[i] * p2 +
           2 * p->rule[r].half[i] * p->rule[q].half[i] * p4;
  }
  return sum;
}

/* Phi(z) - g/6 (z^2 - 1) phi(z): Edgeworth's first term, kept within 0 and 1 */
static double below(double z, double skewness)
{
  const double f = gsl_cdf_ugaussian_P(z) - skewness / 6 * (z * z - 1) * gsl_ran_ugaussian_pdf(z);
  return fmin(fmax(f, 0), 1);
}

static double score_of(double share)
{
  return share <= 0 ? -NO_LIMIT : share >= 1 ? NO_LIMIT : gsl_cdf_ugaussian_Pinv(share);
}

/* share of one rule alone, and its limits as scores */
static double own_yield(const tw_allot_problem *p, const tw_allot_rule *rule,
                        const tw_allot_set *set, double *sd, double *low, double *high)
{
  double mean, variance, third;
  moments(p, rule, set, &mean, &variance, &third);
  *sd = sqrt(variance);
  if (!(*sd > 0)) { /* it does not vary: kept or not */
    *low = rule->has_low && mean < rule->low ? NO_LIMIT : -NO_LIMIT;
    *high = rule->has_high && mean > rule->high ? -NO_LIMIT : NO_LIMIT;
    return *low < *high ? 1 : 0;
  }
  const double skewness = third / (variance * *sd);
  const double under = rule->has_low ? below((rule->low - mean) / *sd, skewness) : 0;
  const double upto = rule->has_high ? below((rule->high - mean) / *sd, skewness) : 1;
  *low = rule->has_low ? score_of(under) : -NO_LIMIT;
  *high = rule->has_high ? score_of(upto) : NO_LIMIT;
  return fmax(upto - under, 0);
}

double tw_allot_screen(const tw_allot_problem *p, const tw_allot_set *set, double *own)
{
  double low[TW_ALLOT_RULES], high[TW_ALLOT_RULES], sd[TW_ALLOT_RULES], least = 1;
  double r[TW_ALLOT_RULES][TW_ALLOT_RULES] = {{0}};
  for (size_t i = 0; i < p->rules; i++) {
    const double y = own_yield(p, &p->rule[i], set, &sd[i], &low[i], &high[i]);
    least = fmin(least, y);
    if (own) {
      own[i] = y;
    }
  }
  for (size_t i = 0; i < p->rules; i++) {
    for (size_t k = 0; k < i; k++) {
      const double scale = sd[i] * sd[k];
      r[i][k] = scale > 0 ? covariance(p, i, k, set) / scale : 0;
      r[i][k] = r[k][i] = fmin(fmax(r[i][k], -1), 1);
    }
  }
  return fmin(tw_normal_box(p->rules, low, high, (const double(*)[TW_ALLOT_RULES])r), least);
}

bool tw_allot_keeps(const tw_allot_problem *p, const tw_allot_set *set, bool worst_case)
{
  for (size_t k = 0; k < p->rules; k++) {
    const tw_allot_rule *rule = &p->rule[k];
    double sum = worst_case ? rule->other_sum : rule->other_squares;
    for (size_t i = 0; i < p->dims; i++) {
      const double moved = fabs(rule->slope[i]) * p->dim[i].hold[set->grade[i]];
      sum += worst_case ? moved : moved * moved;
    }
    const double moved = worst_case ? sum : sqrt(sum);
    if ((rule->has_high && rule->middle + moved > rule->high) ||
        (rule->has_low && rule->middle - moved < rule->low)) {
      return false;
    }
  }
  return true;
}
