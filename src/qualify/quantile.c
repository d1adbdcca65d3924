/* quantile.c: a bracket about the quantile, then Brent's method on the distribution. */
#include "quantile.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <stdbool.h>

/* beyond so many degrees of freedom Student's t is the normal to the last digit (the difference is
 * z^3/(4 nu)), and GSL's t is slow and less exact */
#define TW_NORMAL_DOF 1e7
/* the bracket is halved or doubled at most so often: from 1 to the ends of the doubles */
#define TW_BRACKET_STEPS 1100
#define TW_ROOT_STEPS    200
/* width of the last bracket over its place, a few last digits of a double */
#define TW_ROOT_WIDTH 1e-14
/* what the answer's probability may be off by, over the tail: above the rounding of the
 * distributions (1e-8 at 1e5 degrees of freedom), far below what a reader sees */
#define TW_TAIL_SLACK 1e-6
/* beyond so many degrees of freedom GSL's chi-squared is rougher (1e-7 of the tail at 1e6) than
 * Wilson and Hilferty's closed form (2e-7 there, falling) */
#define TW_CLOSED_DOF 1e6

enum law { CHI_SQUARED, STUDENT, BETA };

struct wanted {
  enum law law;
  bool high; /* the share above x is meant, not the one below */
  double a, b, tail;
};

static double share_beyond(double x, const struct wanted *w)
{
  switch (w->law) {
  case CHI_SQUARED:
    return w->high ? gsl_cdf_chisq_Q(x, w->a) : gsl_cdf_chisq_P(x, w->a);
  case STUDENT:
    return w->high ? gsl_cdf_tdist_Q(x, w->a) : gsl_cdf_tdist_P(x, w->a);
  case BETA:
    break;
  }
  return w->high ? gsl_cdf_beta_Q(x, w->a, w->b) : gsl_cdf_beta_P(x, w->a, w->b);
}

/* rises with x whichever side is meant; zero at the quantile */
static double off_by(double x, void *wanted)
{
  const struct wanted *w = wanted;
  const double off = share_beyond(x, w) / w->tail - 1.0;
  return w->high ? -off : off;
}

/* Brent's method between two places with the quantile between them */
static double settle(struct wanted *w, double low, double high)
{
  gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
  gsl_function f = {.function = off_by, .params = w};
  double x = (double)NAN;
  if (solver && gsl_root_fsolver_set(solver, &f, low, high) == GSL_SUCCESS) {
    int more = GSL_CONTINUE;
    for (int i = 0; i < TW_ROOT_STEPS && more == GSL_CONTINUE; i++) {
      more = gsl_root_fsolver_iterate(solver) == GSL_SUCCESS
                 ? gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
                                          gsl_root_fsolver_x_upper(solver), 0.0, TW_ROOT_WIDTH)
                 : GSL_FAILURE;
    }
    x = gsl_root_fsolver_root(solver);
  }
  if (solver) {
    gsl_root_fsolver_free(solver);
  }
  return fabs(off_by(x, w)) <= TW_TAIL_SLACK ? x : (double)NAN;
}

/* the quantile of a distribution on x > 0, from a first guess */
static double positive(struct wanted w, double guess)
{
  gsl_set_error_handler_off(); /* what fails shows as NaN */
  double low = guess, high = guess;
  for (int i = 0; i < TW_BRACKET_STEPS && off_by(low, &w) > 0.0; i++) {
    high = low;
    low *= 0.5;
  }
  for (int i = 0; i < TW_BRACKET_STEPS && off_by(high, &w) < 0.0; i++) {
    low = high;
    high *= 2.0;
  }
  return low < high ? settle(&w, low, high) : low;
}

/* Wilson and Hilferty 1931: the cube root of chi-squared over nu is nearly normal */
static double chi_guess(double z, double dof)
{
  const double cube = 1.0 - 2.0 / (9.0 * dof) + z * sqrt(2.0 / (9.0 * dof));
  return cube > 0.1 ? dof * cube * cube * cube : 1e-3 * dof;
}

double tw_chi_squared_low(double tail, double dof)
{
  const struct wanted w = {.law = CHI_SQUARED, .a = dof, .tail = tail};
  const double guess = chi_guess(gsl_cdf_ugaussian_Pinv(tail), dof);
  return dof < TW_CLOSED_DOF ? positive(w, guess) : guess;
}

double tw_chi_squared_high(double tail, double dof)
{
  const struct wanted w = {.law = CHI_SQUARED, .high = true, .a = dof, .tail = tail};
  const double guess = chi_guess(gsl_cdf_ugaussian_Qinv(tail), dof);
  return dof < TW_CLOSED_DOF ? positive(w, guess) : guess;
}

double tw_student_high(double tail, double dof)
{
  if (tail >= 0.5) {
    return tail > 0.5 ? -tw_student_high(1.0 - tail, dof) : 0.0;
  }
  const double normal = gsl_cdf_ugaussian_Qinv(tail);
  const struct wanted w = {.law = STUDENT, .high = true, .a = dof, .tail = tail};
  return dof > TW_NORMAL_DOF ? normal : positive(w, normal);
}

/* a quantile in 0..1 */
static double within_one(struct wanted w)
{
  gsl_set_error_handler_off();
  return settle(&w, 0.0, 1.0);
}

double tw_beta_low(double tail, double a, double b)
{
  return within_one((struct wanted){.law = BETA, .a = a, .b = b, .tail = tail});
}

double tw_beta_high(double tail, double a, double b)
{
  return within_one((struct wanted){.law = BETA, .high = true, .a = a, .b = b, .tail = tail});
}
