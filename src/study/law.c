/* law.c: the laws by which one number of a batch may be spread, each by its quantile function. */
#include "tripwright/study_sample.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <math.h>

/* limits of a tolerance are mean -+ 2 standard deviations (units.h) */
#define DEVIATIONS 2.0

static double low_limit(const tw_varied *input)
{
  return input->centre - input->minus;
}

static double high_limit(const tw_varied *input)
{
  return input->centre + input->plus;
}

/* Standard normal quantile between the scores a < b at share u. Far out both distribution values
 * round to 1, so the upper half is reflected to the lower one. */
static double normal_between(double a, double b, double u)
{
  if (a > 0.0) {
    return -normal_between(-b, -a, 1.0 - u);
  }
  const double low = gsl_cdf_ugaussian_P(a), high = gsl_cdf_ugaussian_P(b);
  const double p = low + u * (high - low);
  const double z =
      p < 0.5 ? gsl_cdf_ugaussian_Pinv(p)
              : gsl_cdf_ugaussian_Qinv(gsl_cdf_ugaussian_Q(a) +
                                       u * (gsl_cdf_ugaussian_Q(b) - gsl_cdf_ugaussian_Q(a)));
  return z < a ? a : z > b ? b : z;
}

/* share of the law below x; only for laws with a density */
static double share_below(const tw_varied *input, double x)
{
  const double low = low_limit(input), high = high_limit(input);
  if (input->law == TW_LAW_NORMAL) {
    const double sd = (high - low) / (2.0 * DEVIATIONS);
    return gsl_cdf_ugaussian_P((x - 0.5 * (low + high)) / sd);
  }
  if (x <= low) {
    return 0.0;
  }
  if (x >= high) {
    return 1.0;
  }
  if (input->law == TW_LAW_UNIFORM) {
    return (x - low) / (high - low);
  }
  return x < input->centre
             ? (x - low) * (x - low) / ((high - low) * (input->centre - low))
             : 1.0 - (high - x) * (high - x) / ((high - low) * (high - input->centre));
}

static double normal_quantile(const tw_varied *input, double u)
{
  const double low = low_limit(input), high = high_limit(input);
  const double mean = 0.5 * (low + high), sd = (high - low) / (2.0 * DEVIATIONS);
  const double a = input->cut ? (input->low - mean) / sd : -HUGE_VAL;
  const double b = input->cut ? (input->high - mean) / sd : HUGE_VAL;
  return mean + sd * normal_between(a, b, u);
}

/* triangle with its top at `centre`; either side may have no width */
static double triangle_quantile(const tw_varied *input, double u)
{
  const double low = low_limit(input), high = high_limit(input), width = high - low;
  if (u * width < input->minus) {
    return low + sqrt(u * width * input->minus);
  }
  return high - sqrt((1.0 - u) * width * input->plus);
}

/* normal on both sides of a hole: the shares of the two sides, then the side's own quantile */
static double bin_quantile(const tw_varied *input, double u)
{
  const double low = low_limit(input), high = high_limit(input);
  const double mean = 0.5 * (low + high), sd = (high - low) / (2.0 * DEVIATIONS);
  const double a = (low - mean) / sd, b = (input->centre - input->hole_minus - mean) / sd;
  const double c = (input->centre + input->hole_plus - mean) / sd, d = (high - mean) / sd;
  const double left = gsl_cdf_ugaussian_P(b) - gsl_cdf_ugaussian_P(a);
  const double right = gsl_cdf_ugaussian_P(d) - gsl_cdf_ugaussian_P(c);
  const double split = left / (left + right);
  return u < split ? mean + sd * normal_between(a, b, u / split)
                   : mean + sd * normal_between(c, d, (u - split) / (1.0 - split));
}

static double weight_of(const tw_varied *input, size_t i)
{
  return input->law == TW_LAW_DISCRETE && input->weights ? input->weights[i] : 1.0;
}

static double list_quantile(const tw_varied *input, double u)
{
  double total = 0.0;
  for (size_t i = 0; i < input->count; i++) {
    total += weight_of(input, i);
  }
  double sum = 0.0;
  size_t last = 0;
  for (size_t i = 0; i < input->count; i++) {
    sum += weight_of(input, i);
    if (weight_of(input, i) > 0.0) {
      last = i;
      if (u * total < sum) {
        break;
      }
    }
  }
  return input->values[last];
}

bool tw_varied_varies(const tw_varied *input)
{
  switch (input->law) {
  case TW_LAW_FIXED:
    return false;
  case TW_LAW_DISCRETE:
  case TW_LAW_MEASURED:
    for (size_t i = 1; i < input->count; i++) {
      if (input->values[i] != input->values[0]) {
        return true;
      }
    }
    return false;
  default:
    return input->minus + input->plus > 0.0;
  }
}

double tw_varied_quantile(const tw_varied *input, double u)
{
  assert(u > 0.0 && u < 1.0);
  if (!tw_varied_varies(input)) {
    return input->law == TW_LAW_DISCRETE || input->law == TW_LAW_MEASURED ? input->values[0]
                                                                          : input->centre;
  }
  /* uniform and triangle are cut by taking the share between the cuts */
  if (input->cut && (input->law == TW_LAW_UNIFORM || input->law == TW_LAW_TRIANGULAR)) {
    const double a = share_below(input, input->low), b = share_below(input, input->high);
    u = a + u * (b - a);
  }
  switch (input->law) {
  case TW_LAW_NORMAL:
    return normal_quantile(input, u);
  case TW_LAW_UNIFORM:
    return low_limit(input) + u * (high_limit(input) - low_limit(input));
  case TW_LAW_TRIANGULAR:
    return triangle_quantile(input, u);
  case TW_LAW_BIN:
    return bin_quantile(input, u);
  default:
    return list_quantile(input, u);
  }
}

static tw_status check_list(const tw_varied *input, tw_fault *fault)
{
  if (input->count == 0 || !input->values) {
    return tw_fail(fault, TW_BAD_INPUT, input->name, "give at least one value",
                   "the list of values is empty");
  }
  double total = 0.0;
  for (size_t i = 0; i < input->count; i++) {
    const double weight = weight_of(input, i);
    if (!isfinite(input->values[i]) || !isfinite(weight) || weight < 0.0) {
      return tw_fail(fault, TW_BAD_INPUT, input->name, "weights are 0 or more",
                     "value %zu of the list or its weight is wrong", i + 1);
    }
    total += weight;
  }
  if (!(total > 0.0) || !isfinite(total)) {
    return tw_fail(fault, TW_BAD_INPUT, input->name, "give one value a weight",
                   "all weights are zero");
  }
  return TW_OK;
}

static tw_status check_cut(const tw_varied *input, tw_fault *fault)
{
  if (!isfinite(input->low) || !isfinite(input->high) || input->low >= input->high) {
    return tw_fail(fault, TW_BAD_INPUT, input->name, "the lower cut must lie below the upper one",
                   "nothing is left between the cuts %g and %g", input->low, input->high);
  }
  if (!tw_varied_varies(input)) {
    return input->centre >= input->low && input->centre <= input->high
               ? TW_OK
               : tw_fail(fault, TW_BAD_INPUT, input->name, "move the cuts or the value",
                         "the value %g lies outside the cuts", input->centre);
  }
  if (input->law == TW_LAW_BIN) {
    return tw_fail(fault, TW_BAD_INPUT, input->name, "use the limits of the bin",
                   "a bin is cut at its limits already");
  }
  const double a = share_below(input, input->low), b = share_below(input, input->high);
  if (!(b - a > 1e-12)) {
    return tw_fail(fault, TW_BAD_INPUT, input->name, "move the cuts or widen the tolerance",
                   "the cuts %g and %g leave less than 1e-12 of the law", input->low, input->high);
  }
  return TW_OK;
}

static tw_status check_bin(const tw_varied *input, tw_fault *fault)
{
  if (!(input->hole_minus >= 0.0 && input->hole_plus >= 0.0 && input->hole_minus <= input->minus &&
        input->hole_plus <= input->plus) ||
      (input->hole_minus == input->minus && input->hole_plus == input->plus)) {
    return tw_fail(fault, TW_BAD_INPUT, input->name, "the hole must lie inside the limits",
                   "the sorted-out middle leaves nothing of the bin");
  }
  return TW_OK;
}

tw_status tw_varied_check(const tw_varied *input, tw_fault *fault)
{
  if (input->law == TW_LAW_DISCRETE || input->law == TW_LAW_MEASURED) {
    return check_list(input, fault);
  }
  if (!isfinite(input->centre) || !isfinite(input->minus) || !isfinite(input->plus) ||
      input->minus < 0.0 || input->plus < 0.0) {
    return tw_fail(fault, TW_BAD_INPUT, input->name, "give finite numbers, tolerances of 0 or more",
                   "value %g -%g +%g cannot be spread", input->centre, input->minus, input->plus);
  }
  if (input->law == TW_LAW_BIN && tw_varied_varies(input) && check_bin(input, fault) != TW_OK) {
    return TW_BAD_INPUT;
  }
  return input->cut ? check_cut(input, fault) : TW_OK;
}
