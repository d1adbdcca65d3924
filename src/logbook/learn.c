/* learn.c: own offset and scatter, shrunk to what the library says. docs/models/logbook.md 8. */
#include "tripwright/logbook_learn.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>

#define PRIOR_PIECES 1.0 /* default weight of a library's offset: one piece */
#define PRIOR_DOF    4.0 /* and of its scatter: as if from five pieces */
#define DOUBTED_DOF  1.0 /* of a scatter that the pieces contradict */
#define DOUBTED_P    0.01

tw_prior tw_prior_of(double offset, double tolerance)
{
  return (tw_prior){offset, tolerance / 2.0, PRIOR_PIECES, PRIOR_DOF};
}

static tw_status check(const double *x, size_t n, const tw_prior *p, tw_fault *fault)
{
  bool good =
      isfinite(p->mean) && isfinite(p->scale) && p->scale > 0.0 && p->pieces > 0.0 && p->dof > 0.0;
  for (size_t i = 0; i < n; i++) {
    good = good && isfinite(x[i]);
  }
  return good ? TW_OK
              : tw_fail(fault, TW_BAD_INPUT, "", "give the process a figure with a tolerance",
                        "offsets and their scatter must be finite, the scatter above zero");
}

/* would the prior have pieces that scatter so? squares/(n-1)/s0^2 is F(n-1, nu0) */
static bool is_doubted(const tw_prior *p, long double squares, size_t n)
{
  if (n < 2) {
    return false;
  }
  const double dof = (double)(n - 1), f = (double)squares / dof / (p->scale * p->scale);
  return gsl_cdf_fdist_Q(f, dof, p->dof) < DOUBTED_P;
}

static void intervals(tw_log_learned *out)
{
  const double tail = (1.0 - TW_LEARN_LEVEL) / 2.0, upper = (1.0 + TW_LEARN_COVER) / 2.0;
  const double t = gsl_cdf_tdist_Qinv(tail, out->dof) * out->scale_of_mean;
  out->half_next_piece =
      gsl_cdf_tdist_Pinv(upper, out->dof) * out->scale * sqrt(1.0 + 1.0 / out->pieces);
  out->mean_interval = (tw_interval){out->mean - t, out->mean + t};
  out->scale_interval = tw_s_interval(out->scale, out->dof, TW_LEARN_LEVEL);
}

tw_status tw_learn(const double *x, size_t n, const tw_prior *prior, tw_log_learned *out,
                   tw_fault *fault)
{
  const tw_status status = check(x, n, prior, fault);
  long double mean = 0.0L, squares = 0.0L;
  if (status != TW_OK) {
    return status;
  }
  if (n > 0) {
    tw_sums_of(x, n, &mean, &squares);
  }
  const bool doubted = is_doubted(prior, squares, n);
  const double count = (double)n, from = doubted ? DOUBTED_DOF : prior->dof,
               off = (double)mean - prior->mean;
  *out = (tw_log_learned){
      .n = n, .pieces = prior->pieces + count, .dof = from + count, .doubted = doubted};
  out->mean = (prior->pieces * prior->mean + count * (double)mean) / out->pieces;
  out->scale = sqrt((from * prior->scale * prior->scale + (double)squares +
                     prior->pieces * count / out->pieces * off * off) /
                    out->dof);
  out->scale_of_mean = out->scale / sqrt(out->pieces);
  intervals(out);
  return TW_OK;
}

double tw_without_gauge(double scale, double u, bool *floored)
{
  const double left = scale * scale - u * u, least = u * u / 4.0;
  *floored = u > 0.0 && left < least;
  return sqrt(*floored ? least : left);
}

tw_cut_normal tw_cut_normal_of(double limit)
{
  const double kept = gsl_cdf_ugaussian_P(limit), h = gsl_ran_ugaussian_pdf(limit) / kept;
  return (tw_cut_normal){-h, sqrt(1.0 - limit * h - h * h), kept};
}
