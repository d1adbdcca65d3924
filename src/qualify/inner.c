/* inner.c: finite checks, quantiles and comparisons shared by the room. */
#include "inner.h"
#include "quantile.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

size_t tw_first_unfit(const double *value, size_t n)
{
  for (size_t i = 0; i < n; i++) {
    if (!isfinite(value[i])) {
      return i;
    }
  }
  return n;
}

tw_status tw_all_finite(const double *value, size_t n, const char *what, tw_fault *fault)
{
  const size_t bad = tw_first_unfit(value, n);
  if (bad == n) {
    return TW_OK;
  }
  return tw_fail(fault, TW_BAD_INPUT, what, "leave out what was not measured",
                 "%s %zu is not a finite number", what, bad + 1);
}

tw_status tw_no_memory(tw_fault *fault)
{
  return tw_fail(fault, TW_NO_MEMORY, "", "use fewer readings", "out of memory");
}

double tw_t_factor(double level, double dof)
{
  return tw_student_high(0.5 * (1.0 - level), dof);
}

double tw_t_probability(double t, double dof)
{
  return isnan(t) ? 1.0 : 2.0 * gsl_cdf_tdist_Q(fabs(t), dof);
}
