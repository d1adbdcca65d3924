/* risk.c: consumer's and producer's risk, guard bands, one unit after its reading. */
#include "tripwright/batch_risk.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>
#include <math.h>

/* half a range in standard deviations beyond which a law is not integrated: of a normal law nothing
 * is left in double precision, of Student's with few degrees of freedom the tail is long */
#define FAR_NORMAL  9.0
#define FAR_STUDENT 400.0
/* relative precision of the quadrature, and panels that it may take */
#define PRECISE 1e-10
#define FLOOR   1e-15
#define PANELS  400

/* ---- what is known before
 * ------------------------------------------------------------------------ */

static double density(const tw_unit_prior *p, double x)
{
  switch (p->law) {
  case TW_PRIOR_GAMMA: {
    const double shape = p->mean * p->mean / (p->sd * p->sd);
    return x > 0 ? gsl_ran_gamma_pdf(x, shape, p->mean / shape) : 0;
  }
  case TW_PRIOR_STUDENT:
    return gsl_ran_tdist_pdf((x - p->mean) / p->sd, p->dof) / p->sd;
  default:
    return gsl_ran_gaussian_pdf(x - p->mean, p->sd);
  }
}

static double below(const tw_unit_prior *p, double x)
{
  switch (p->law) {
  case TW_PRIOR_GAMMA: {
    const double shape = p->mean * p->mean / (p->sd * p->sd);
    return x > 0 ? gsl_cdf_gamma_P(x, shape, p->mean / shape) : 0;
  }
  case TW_PRIOR_STUDENT:
    return gsl_cdf_tdist_P((x - p->mean) / p->sd, p->dof);
  default:
    return gsl_cdf_gaussian_P(x - p->mean, p->sd);
  }
}

/* ---- risks
 * ---------------------------------------------------------------------------------------- */

typedef struct judge {
  const tw_unit_prior *prior;
  double u;
  tw_conform_limits accept;
} judge;

/* density of the prior times the chance that such a unit is accepted */
static double accepted_at(double x, void *self)
{
  const judge *j = self;
  const double over = j->accept.has_low ? gsl_cdf_gaussian_Q(j->accept.low - x, j->u) : 1;
  const double under = j->accept.has_high ? gsl_cdf_gaussian_P(j->accept.high - x, j->u) : 1;
  const double share = j->accept.has_low && j->accept.has_high ? over + under - 1
                       : j->accept.has_low                     ? over
                                                               : under;
  return density(j->prior, x) * fmax(share, 0);
}

static double integral(judge *j, double from, double to, gsl_integration_workspace *space)
{
  /* the law's middle and the steep place of the acceptance are ends of panels of their own */
  const double cuts[] = {j->prior->mean - 4 * j->prior->sd, j->prior->mean,
                         j->prior->mean + 4 * j->prior->sd};
  gsl_function f = {accepted_at, j};
  double sum = 0;
  while (from < to) {
    double end = to, part, error;
    for (size_t i = 0; i < 3; i++) {
      end = cuts[i] > from && cuts[i] < end ? cuts[i] : end;
    }
    if (gsl_integration_qag(&f, from, end, FLOOR, PRECISE, PANELS, GSL_INTEG_GAUSS31, space, &part,
                            &error) == 0 ||
        isfinite(part)) {
      sum += part;
    }
    from = end;
  }
  return sum;
}

static bool is_wrong(const tw_unit_prior *prior, double u, const tw_conform_limits *limits)
{
  return !(u > 0) || !isfinite(u) || !(prior->sd > 0) || !isfinite(prior->sd + prior->mean) ||
         (prior->law == TW_PRIOR_STUDENT && !(prior->dof > 0)) ||
         (prior->law == TW_PRIOR_GAMMA && !(prior->mean > 0)) ||
         (!limits->has_low && !limits->has_high);
}

static void fill(judge *j, const tw_conform_limits *limits, gsl_integration_workspace *space,
                 tw_risks *out)
{
  const tw_unit_prior *p = j->prior;
  const double far = (p->law == TW_PRIOR_NORMAL ? FAR_NORMAL : FAR_STUDENT) * p->sd;
  const double from = p->law == TW_PRIOR_GAMMA ? 0 : p->mean - far, to = p->mean + far;
  const double low = limits->has_low ? fmin(fmax(limits->low, from), to) : from;
  const double high = limits->has_high ? fmax(fmin(limits->high, to), from) : to;
  const double good = integral(j, low, high, space);
  const double conforming = (limits->has_high ? below(p, limits->high) : 1) -
                            (limits->has_low ? below(p, limits->low) : 0);
  out->consumer = integral(j, from, low, space) + integral(j, high, to, space);
  out->accepted = good + out->consumer;
  out->producer = fmax(conforming - good, 0);
  out->bad = 1 - conforming;
  out->bad_of_accepted = out->accepted > 0 ? out->consumer / out->accepted : 0;
  out->good_of_rejected = out->accepted < 1 ? out->producer / (1 - out->accepted) : 0;
}

tw_status tw_risks_of(const tw_unit_prior *prior, double u, const tw_conform_limits *limits,
                      double guard, tw_risks *out, tw_fault *fault)
{
  *out = (tw_risks){0};
  if (is_wrong(prior, u, limits)) {
    return tw_fail(fault, TW_BAD_INPUT, NULL, "a limit, u > 0 and a batch that scatters are needed",
                   "no risk can be told");
  }
  judge j = {prior, u, *limits};
  j.accept.low += guard;
  j.accept.high -= guard;
  gsl_integration_workspace *space = gsl_integration_workspace_alloc(PANELS);
  if (!space) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the risks");
  }
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  fill(&j, limits, space, out);
  gsl_set_error_handler(handler);
  gsl_integration_workspace_free(space);
  return TW_OK;
}

/* widest guard looked at, in u; beyond, nothing is accepted any more */
#define GUARD_MOST 10.0
#define HALVINGS   60

tw_status tw_guard_for(const tw_unit_prior *prior, double u, const tw_conform_limits *limits,
                       double wanted, bool of_accepted, double *guard, tw_fault *fault)
{
  tw_risks r;
  double low = -GUARD_MOST * u, high = GUARD_MOST * u;
  if (limits->has_low && limits->has_high) {
    high = fmin(high, (limits->high - limits->low) / 2);
  }
  *guard = 0;
  tw_status status = tw_risks_of(prior, u, limits, high, &r, fault);
  if (status != TW_OK) {
    return status;
  }
  if ((of_accepted ? r.bad_of_accepted : r.consumer) > wanted) {
    return tw_fail(fault, TW_NO_ANSWER, NULL, "a finer instrument, or a better batch",
                   "no guard band makes the risk as small as %g", wanted);
  }
  for (int k = 0; k < HALVINGS && status == TW_OK; k++) {
    const double middle = (low + high) / 2;
    status = tw_risks_of(prior, u, limits, middle, &r, fault);
    if ((of_accepted ? r.bad_of_accepted : r.consumer) > wanted) {
      low = middle;
    } else {
      high = middle;
    }
  }
  *guard = (low + high) / 2;
  return status;
}

/* ---- one unit
 * -------------------------------------------------------------------------------------- */

tw_status tw_unit_after(const tw_unit_prior *prior, double reading, double u,
                        const tw_conform_limits *limits, tw_unit_known *out, tw_fault *fault)
{
  *out = (tw_unit_known){.mean = reading, .u = u};
  if (!(u > 0) || (prior && prior->law != TW_PRIOR_NORMAL)) {
    return tw_fail(fault, TW_BAD_INPUT, NULL, "u > 0, and a normal law of the batch",
                   "what is known of this unit cannot be put together");
  }
  if (prior) {
    const double a = 1 / (u * u), b = 1 / (prior->sd * prior->sd);
    out->mean = (a * reading + b * prior->mean) / (a + b);
    out->u = sqrt(1 / (a + b));
  }
  out->conforms = (limits->has_high ? gsl_cdf_gaussian_P(limits->high - out->mean, out->u) : 1) -
                  (limits->has_low ? gsl_cdf_gaussian_P(limits->low - out->mean, out->u) : 0);
  return TW_OK;
}
