/* budget_correlated.c: groups of correlated inputs, and second-order terms with correlation. */
#include "budget_inner.h"
#include "inner.h"

#include <math.h>
#include <string.h>

/* ---- groups: inputs that were read together ----------------------------------------------------
 */

size_t tw_budget_group(const tw_budget *b, size_t i)
{
  bool in[TW_INPUT_MOST] = {false};
  bool grown = true;
  in[i] = true;
  while (grown) {
    grown = false;
    for (size_t k = 0; k < b->count; k++) {
      for (size_t m = 0; m < b->count && !in[k]; m++) {
        in[k] = in[m] && b->correlation[k][m] != 0.0;
        grown |= in[k];
      }
    }
  }
  size_t first = 0;
  while (!in[first]) {
    first++;
  }
  return first;
}

tw_status tw_budget_check_groups(const tw_budget *b, tw_fault *fault)
{
  for (size_t i = 0; i < b->count; i++) {
    const tw_input *in = &b->input[i], *lead = &b->input[tw_budget_group(b, i)];
    if (in->dof != lead->dof) {
      return tw_fail(
          fault, TW_BAD_INPUT, "correlation",
          "readings taken together have one number; or work out the result from each set "
          "of readings and budget its mean (JCGM 100 H.2.4)",
          "%s and %s are correlated, but have %g and %g degrees of freedom", lead->name, in->name,
          lead->dof, in->dof);
    }
  }
  return TW_OK;
}

double tw_budget_group_variance(const tw_budget *b, const tw_budget_result *r, size_t i)
{
  double variance = 0.0;
  if (tw_budget_group(b, i) != i) {
    return 0.0;
  }
  for (size_t k = 0; k < b->count; k++) {
    for (size_t m = 0; m < b->count; m++) {
      if (tw_budget_group(b, k) == i && tw_budget_group(b, m) == i) {
        variance += b->correlation[k][m] * r->line[k].sensitivity * r->line[k].u *
                    r->line[m].sensitivity * r->line[m].u;
      }
    }
  }
  return fmax(variance, 0.0);
}

/* ---- second order ------------------------------------------------------------------------------
 */

/* how far from x, in standard deviations, the third derivatives are taken: far enough above
 * rounding, near enough that the curvature of the second ones stays out */
#define TW_THIRD_STEP 0.01

/* trace of H V: second derivatives against variances and covariances */
static double curvature(const tw_budget *b, const tw_formula *f, const double *x, const double *u)
{
  double sum = 0.0;
  for (size_t i = 0; i < b->count; i++) {
    for (size_t j = 0; j < b->count; j++) {
      const double v = b->correlation[i][j] * u[i] * u[j];
      sum += v != 0.0 ? tw_formula_dual(f, x, i, j).ij * v : 0.0;
    }
  }
  return sum;
}

/* half the trace of (H V)^2 */
static double bend(const tw_budget *b, const tw_formula *f, const double *x, const double *u)
{
  double hv[TW_INPUT_MOST][TW_INPUT_MOST] = {{0.0}}, sum = 0.0;
  for (size_t i = 0; i < b->count; i++) {
    for (size_t k = 0; k < b->count; k++) {
      const double h = u[i] > 0.0 && u[k] > 0.0 ? tw_formula_dual(f, x, i, k).ij : 0.0;
      for (size_t j = 0; j < b->count; j++) {
        hv[i][j] += h * b->correlation[k][j] * u[k] * u[j];
      }
    }
  }
  for (size_t i = 0; i < b->count; i++) {
    for (size_t j = 0; j < b->count; j++) {
      sum += 0.5 * hv[i][j] * hv[j][i];
    }
  }
  return sum;
}

/* For jointly normal inputs with covariance V the variance of f is, to fourth order in the spreads,
 *   c'Vc + tr((HV)^2)/2 + (Vc) . grad tr(HV),
 * by Isserlis' theorem; without correlation the last two are the sum over i, j of
 * (f_ij^2/2 + f_i f_ijj) u_i^2 u_j^2 of GUM 5.1.2, note. The gradient is the difference of the
 * exact tr(HV) over a small step along Vc. */
double tw_budget_second_order(const tw_budget *b, const tw_formula *f, const double *x,
                              const double *u, const tw_budget_result *r)
{
  double sum = bend(b, f, x, u);
  if (r->u > 0.0) {
    double above[TW_INPUT_MOST], below[TW_INPUT_MOST];
    for (size_t i = 0; i < b->count; i++) {
      double along = 0.0;
      for (size_t j = 0; j < b->count; j++) {
        along += b->correlation[i][j] * u[i] * u[j] * r->line[j].sensitivity;
      }
      above[i] = x[i] + TW_THIRD_STEP * along / r->u;
      below[i] = x[i] - TW_THIRD_STEP * along / r->u;
    }
    sum += (curvature(b, f, above, u) - curvature(b, f, below, u)) * r->u / (2.0 * TW_THIRD_STEP);
  }
  return sum;
}
