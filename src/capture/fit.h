/* fit.h: separable least squares (variable projection): v(t) = sum c_j b_j(t; p). The linear c are
 * solved inside, Levenberg-Marquardt (GSL) walks over p. */
#ifndef TW_CAPTURE_FIT_H
#define TW_CAPTURE_FIT_H

#include "tripwright/capture.h"

#define TW_SEP_LINEAR 20 /* most linear coefficients */
#define TW_SEP_FREE   6  /* most nonlinear parameters */
#define TW_SEP_ALL    (TW_SEP_LINEAR + TW_SEP_FREE)

typedef struct tw_sep {
  size_t points;
  const double *t, *v;
  const double *weight; /* root of it; NULL: 1 */
  size_t linear, free;
  /* row of b_j at t; a parameter out of its range gives false and the step is refused */
  bool (*basis)(double t, const double *p, double *row, const void *self);
  const void *self;
  /* once for every p before its rows, for what does not depend on t; NULL: nothing. What it keeps
   * is behind a pointer in self. */
  bool (*prepare)(const double *p, const void *self);
  bool white; /* do not widen by the residuals' correlation */
  /* in: start; out: answer. p should be of the order of 1. */
  double p[TW_SEP_FREE];
  /* out */
  double c[TW_SEP_LINEAR];
  double rms, dof, widening;          /* rms of the residuals over dof; factor of the covariance */
  double cov[TW_SEP_ALL][TW_SEP_ALL]; /* c first, then p */
} tw_sep;

/* TW_OK; TW_NO_ANSWER when the columns cannot be told apart or the walk does not settle */
tw_status tw_sep_fit(tw_sep *fit, tw_fault *fault);
/* only the linear part at fit->p: c, rms; no covariance */
tw_status tw_sep_linear(tw_sep *fit, tw_fault *fault);
/* what the answer says at t */
double tw_sep_at(const tw_sep *fit, double t);
double tw_sep_u_linear(const tw_sep *fit, size_t j);
double tw_sep_u_free(const tw_sep *fit, size_t j);
/* variance of a quantity whose derivatives to c, then p are `slope` */
double tw_sep_variance(const tw_sep *fit, const double *slope);

#endif
