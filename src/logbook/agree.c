/* agree.c: shares, correlation, and foreseen against measured. docs/models/logbook.md 10 to 12. */
#include "tripwright/logbook_learn.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#define FISHER_Z 1.959963984540054 /* 97.5 % of a normal law */
#define WITHIN   2.0               /* standard deviations that an interval of k = 2 promises */

tw_status tw_jeffreys_of(size_t good, size_t n, double level, tw_interval *out, tw_fault *fault)
{
  if (n == 0 || good > n || !(level > 0.0 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "", NULL, "no such share: %zu of %zu", good, n);
  }
  const double a = (double)good + 0.5, b = (double)(n - good) + 0.5, tail = (1.0 - level) / 2.0;
  out->low = good == 0 ? 0.0 : gsl_cdf_beta_Pinv(tail, a, b);
  out->high = good == n ? 1.0 : gsl_cdf_beta_Qinv(tail, a, b);
  return TW_OK;
}

tw_status tw_going_together_of(const double *a, const double *b, size_t n, tw_going_together *out,
                               tw_fault *fault)
{
  long double mean_a, mean_b, aa, bb, ab = 0.0L;
  *out = (tw_going_together){.n = n};
  if (n < 4) {
    return tw_fail(fault, TW_BAD_INPUT, "", "measure four pieces or more",
                   "an interval needs four pieces, there are %zu", n);
  }
  tw_sums_of(a, n, &mean_a, &aa);
  tw_sums_of(b, n, &mean_b, &bb);
  for (size_t i = 0; i < n; i++) {
    ab += (a[i] - mean_a) * (b[i] - mean_b);
  }
  const double r = (double)(ab / sqrtl(aa * bb));
  if (!isfinite(r)) {
    return tw_fail(fault, TW_BAD_INPUT, "", "is it the right column?", "the readings do not vary");
  }
  out->r = fmax(-1.0, fmin(1.0, r));
  const double z = atanh(out->r), half = FISHER_Z / sqrt((double)n - 3.0);
  const bool exact = fabs(out->r) >= 1.0;
  out->interval =
      exact ? (tw_interval){out->r, out->r} : (tw_interval){tanh(z - half), tanh(z + half)};
  out->shown = out->interval.low > 0.0 || out->interval.high < 0.0;
  return TW_OK;
}

/* sums over all units with weights 1/(um^2 + sf^2) */
static bool add_unit(double difference, double variance, double *weight, double *weighted)
{
  if (!isfinite(difference) || !isfinite(variance) || !(variance > 0.0)) {
    return false;
  }
  *weight += 1.0 / variance;
  *weighted += difference / variance;
  return true;
}

tw_status tw_agreement_of(const double *measured, const double *foreseen, const double *u_measured,
                          const double *u_foreseen, size_t n, double *z, tw_agreement *out,
                          tw_fault *fault)
{
  double weight = 0.0, weighted = 0.0;
  *out = (tw_agreement){.n = n};
  for (size_t i = 0; i < n; i++) {
    const double variance = u_measured[i] * u_measured[i] + u_foreseen[i] * u_foreseen[i];
    if (!add_unit(measured[i] - foreseen[i], variance, &weight, &weighted)) {
      return tw_fail(fault, TW_BAD_INPUT, "",
                     "enter the figure with its limits: \"0.1 N ± 0.003 N\"",
                     "unit %zu of the list has no uncertainty", i + 1);
    }
  }
  if (n == 0) {
    return tw_fail(fault, TW_BAD_INPUT, "", "enter readings with what was foreseen",
                   "nothing was measured");
  }
  out->bias = weighted / weight;
  for (size_t i = 0; i < n; i++) {
    const double s = hypot(u_measured[i], u_foreseen[i]), d = measured[i] - foreseen[i];
    out->chi2 += d / s * (d / s);
    out->chi2_about += (d - out->bias) / s * ((d - out->bias) / s);
    out->within += fabs(d / s) <= WITHIN;
    if (z) {
      z[i] = d / s;
    }
  }
  out->p = gsl_cdf_chisq_Q(out->chi2, (double)n);
  out->p_about = n > 1 ? gsl_cdf_chisq_Q(out->chi2_about, (double)(n - 1)) : 1.0;
  out->birge = n > 1 ? sqrt(out->chi2_about / (double)(n - 1)) : 0.0;
  out->u_bias = fmax(1.0, out->birge) / sqrt(weight);
  tw_share share;
  const tw_status status = tw_share_of(out->within, n, TW_LEARN_LEVEL, &share, fault);
  out->within_share = share.interval;
  return status;
}
