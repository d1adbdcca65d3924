/* decide.c: conformity proven, disproven or neither, by the distribution of the figure. */
#include "inner.h"
#include "quantile.h"
#include "tripwright/qualify_budget.h"
#include "tripwright/qualify_stats.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>

/* share outside one end of a 95 % interval */
#define TW_TAIL_95 0.025
/* standard deviations of a count of trials that a simulated probability must keep clear */
#define TW_CLEAR 2.0

const char *tw_verdict_text(tw_verdict verdict)
{
  static const char *const text[] = {"conformity proven", "neither proven nor disproven",
                                     "non-conformity proven"};
  return text[verdict];
}

void tw_law_text(const tw_figure_law *law, char *out, size_t size)
{
  const char *degrees = law->dof == 1.0 ? "degree" : "degrees";
  if (law->kind == TW_LAW_SPREAD) {
    snprintf(out, size, "chi-squared with %.6g %s of freedom", law->dof, degrees);
  } else if (law->kind == TW_LAW_SHARE) {
    snprintf(out, size, "the binomial, %zu of %zu", law->events, law->n);
  } else if (isinf(law->dof)) {
    snprintf(out, size, "the normal distribution");
  } else {
    snprintf(out, size, "Student's t with %.6g %s of freedom", law->dof, degrees);
  }
}

void tw_probability_text(double p, int decimals, char *out, size_t size)
{
  const double last = pow(10.0, -decimals);
  if (p > 0.0 && p < 0.5 * last) {
    snprintf(out, size, "below %.*f", decimals, last);
  } else if (p < 1.0 && p > 1.0 - 0.5 * last) {
    snprintf(out, size, "above %.*f", decimals, 1.0 - last);
  } else {
    snprintf(out, size, "%.*f", decimals, p);
  }
}

/* ---- where the true value may be ---------------------------------------------------------------
 */

/* probability that the true value is below and above x; for shares each is the confidence that
 * Clopper and Pearson's one-sided interval has, so the two come to a little less than 1 */
struct sides {
  double below, above;
};

static struct sides student(const tw_figure_law *law, double x)
{
  if (law->u == 0.0) {
    return (struct sides){law->value <= x, law->value >= x};
  }
  const double t = (x - law->value) / law->u;
  if (isinf(law->dof)) {
    return (struct sides){gsl_cdf_ugaussian_P(t), gsl_cdf_ugaussian_Q(t)};
  }
  return (struct sides){gsl_cdf_tdist_P(t, law->dof), gsl_cdf_tdist_Q(t, law->dof)};
}

/* sigma <= x where dof s^2/sigma^2 >= dof s^2/x^2 */
static struct sides spread(const tw_figure_law *law, double x)
{
  if (x <= 0.0) {
    return (struct sides){0.0, 1.0};
  }
  const double chi = law->dof * (law->value / x) * (law->value / x);
  return (struct sides){gsl_cdf_chisq_Q(chi, law->dof), gsl_cdf_chisq_P(chi, law->dof)};
}

static struct sides share(const tw_figure_law *law, double x)
{
  const double k = (double)law->events, m = (double)(law->n - law->events);
  if (x <= 0.0 || x >= 1.0) {
    return (struct sides){x >= 1.0, x <= 0.0};
  }
  return (struct sides){law->events == law->n ? 0.0 : gsl_cdf_beta_P(x, k + 1.0, m),
                        law->events == 0 ? 0.0 : gsl_cdf_beta_Q(x, k, m + 1.0)};
}

static struct sides sides_of(const tw_figure_law *law, double x)
{
  return law->kind == TW_LAW_SPREAD  ? spread(law, x)
         : law->kind == TW_LAW_SHARE ? share(law, x)
                                     : student(law, x);
}

static struct sides below_limit(const tw_figure_law *law, double lower)
{
  return isinf(lower) ? (struct sides){0.0, 1.0} : sides_of(law, lower);
}

static struct sides above_limit(const tw_figure_law *law, double upper)
{
  return isinf(upper) ? (struct sides){1.0, 0.0} : sides_of(law, upper);
}

/* probability of conformance: JCGM 106, 7.2 */
static double conformance(const tw_figure_law *law, double lower, double upper)
{
  const double p = below_limit(law, lower).above + above_limit(law, upper).below - 1.0;
  return p > 0.0 ? p : 0.0;
}

/* ---- acceptance limits -------------------------------------------------------------------------
 */

/* the value nearest to `limit`, on the side of `inside`, whose probability is `level` */
static double acceptance(tw_figure_law law, double lower, double upper, double level, double limit,
                         double inside)
{
  double out = limit, in = inside;
  law.value = in;
  if (conformance(&law, lower, upper) < level) {
    return (double)NAN; /* the zone is too narrow for this u: nothing can be proven */
  }
  for (int i = 0; i < 200; i++) {
    const double middle = law.value = 0.5 * (in + out);
    if (conformance(&law, lower, upper) >= level) {
      in = middle;
    } else {
      out = middle;
    }
  }
  return in;
}

/* a value as deep within the limits as it can be */
static double deepest(const tw_figure_law *law, double lower, double upper)
{
  /* far enough that any level asked for is reached, also with one degree of freedom */
  const double far = 1e6;
  if (law->kind == TW_LAW_SPREAD) {
    return isinf(lower) || lower <= 0.0 ? upper / far
           : isinf(upper)               ? lower * far
                                        : sqrt(lower * upper);
  }
  return isinf(lower)   ? upper - far * law->u
         : isinf(upper) ? lower + far * law->u
                        : 0.5 * (lower + upper);
}

static void set_acceptance(const tw_figure_law *law, double lower, double upper, double level,
                           tw_decision *out)
{
  const bool moves = law->kind != TW_LAW_SHARE;
  const double middle = deepest(law, lower, upper);
  out->accept_low =
      isinf(lower) || !moves ? (double)NAN : acceptance(*law, lower, upper, level, lower, middle);
  out->accept_high =
      isinf(upper) || !moves ? (double)NAN : acceptance(*law, lower, upper, level, upper, middle);
}

/* ---- verdicts ----------------------------------------------------------------------------------
 */

/* U = 2u where a u describes the figure, else its 95 % interval */
static tw_verdict older_rule(const tw_figure_law *law, double lower, double upper)
{
  if (law->kind == TW_LAW_STUDENT) {
    const double y = law->value, wide = 2.0 * law->u;
    return y - wide >= lower && y + wide <= upper ? TW_PROVEN
           : y + wide < lower || y - wide > upper ? TW_DISPROVEN
                                                  : TW_NOT_PROVEN;
  }
  const struct sides low = below_limit(law, lower), high = above_limit(law, upper);
  return low.above >= 1.0 - TW_TAIL_95 && high.below >= 1.0 - TW_TAIL_95   ? TW_PROVEN
         : low.below >= 1.0 - TW_TAIL_95 || high.above >= 1.0 - TW_TAIL_95 ? TW_DISPROVEN
                                                                           : TW_NOT_PROVEN;
}

static tw_status check_limits(double lower, double upper, double level, tw_fault *fault)
{
  const bool limited = !isinf(lower) || !isinf(upper);
  if (!(lower < upper) || !limited || !(level > 0.5 && level < 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "limits", "lower below upper, level between 0.5 and 1",
                   "limits %g .. %g, level %g", lower, upper, level);
  }
  return TW_OK;
}

static tw_status check_law(const tw_figure_law *law, tw_fault *fault)
{
  const bool student = law->kind == TW_LAW_STUDENT, scatter = law->kind == TW_LAW_SPREAD;
  const bool share_fits = law->n > 0 && law->events <= law->n;
  if (law->kind == TW_LAW_NONE) {
    return tw_fail(fault, TW_NO_ANSWER, "uncertainty", "put the figure into a budget",
                   "no uncertainty is known for this figure, so nothing can be decided");
  }
  if (!isfinite(law->value) || (student && (!(law->u >= 0.0) || !isfinite(law->u))) ||
      (scatter && law->value < 0.0) || ((student || scatter) && !(law->dof > 0.0)) ||
      (law->kind == TW_LAW_SHARE && !share_fits)) {
    return tw_fail(fault, TW_BAD_INPUT, "value",
                   "a finite value, u zero or positive, degrees of freedom positive",
                   "value %g, u %g, degrees of freedom %g", law->value, law->u, law->dof);
  }
  if ((scatter && law->value == 0.0) || (student && law->u == 0.0 && isfinite(law->dof))) {
    return tw_fail(fault, TW_NO_ANSWER, "readings", "read to more digits",
                   "all readings are the same: the resolution hides the spread, so nothing can be "
                   "decided");
  }
  return TW_OK;
}

tw_status tw_decide_by(const tw_figure_law *law, double lower, double upper, double level,
                       tw_decision *out, tw_fault *fault)
{
  tw_status status = check_limits(lower, upper, level, fault);
  status = status == TW_OK ? check_law(law, fault) : status;
  if (status != TW_OK) {
    return status;
  }
  gsl_set_error_handler_off();
  const double against = fmax(below_limit(law, lower).below, above_limit(law, upper).above);
  out->probability = conformance(law, lower, upper);
  out->verdict =
      out->probability >= level ? TW_PROVEN
      : against >= level || (law->kind != TW_LAW_SHARE && 1.0 - out->probability >= level)
          ? TW_DISPROVEN
          : TW_NOT_PROVEN;
  out->by_expanded = older_rule(law, lower, upper);
  set_acceptance(law, lower, upper, level, out);
  return TW_OK;
}

tw_status tw_decide(double y, double u, double lower, double upper, double level, tw_decision *out,
                    tw_fault *fault)
{
  const tw_figure_law normal = {
      .kind = TW_LAW_STUDENT, .value = y, .u = u, .dof = (double)INFINITY};
  return tw_decide_by(&normal, lower, upper, level, out, fault);
}

tw_status tw_decide_simulated(const tw_monte_carlo *mc, double level, tw_decision *out,
                              tw_fault *fault)
{
  const tw_status status = check_limits(mc->lower, mc->upper, level, fault);
  if (status != TW_OK) {
    return status;
  }
  const double n = (double)mc->trials, p = (double)mc->within / n;
  const double clear = TW_CLEAR * sqrt(p * (1.0 - p) / n);
  *out = (tw_decision){.probability = p, .accept_low = (double)NAN, .accept_high = (double)NAN};
  out->verdict = p - clear >= level         ? TW_PROVEN
                 : 1.0 - p - clear >= level ? TW_DISPROVEN
                                            : TW_NOT_PROVEN;
  out->by_expanded = mc->low >= mc->lower && mc->high <= mc->upper ? TW_PROVEN
                     : mc->high < mc->lower || mc->low > mc->upper ? TW_DISPROVEN
                                                                   : TW_NOT_PROVEN;
  return TW_OK;
}
