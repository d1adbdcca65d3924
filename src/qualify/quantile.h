/* quantile.h: quantiles that give their own probability back, from the distributions of GSL. */
#ifndef TW_QUALIFY_QUANTILE_H
#define TW_QUALIFY_QUANTILE_H

/* The x beyond which (high) or below which (low) lies the share `tail`, 0 < tail < 1, of a
 * distribution. GSL's own inverses stop short of the answer here and there (chi-squared with 2323
 * degrees of freedom is 12 % off, with 3239 there is none), so the root is bracketed on the
 * distribution itself. NaN when the distribution has no number there: callers look. */
double tw_chi_squared_low(double tail, double dof);
double tw_chi_squared_high(double tail, double dof);
double tw_student_high(double tail, double dof);
double tw_beta_low(double tail, double a, double b);
double tw_beta_high(double tail, double a, double b);

#endif
