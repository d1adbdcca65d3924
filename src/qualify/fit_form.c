/* fit_form.c: what all form fits share: the checks, the centroid, the figures of the residuals. */
#include "fit_inner.h"
#include "inner.h"
#include "small.h"

#include <float.h>
#include <math.h>
#include <string.h>

static const struct {
  const char *name;
  size_t least, low, high; /* points; dimensions */
  size_t parameters;
} forms[] = {
    [TW_LINE] = {"line", 2, 2, 3, 0},         [TW_PLANE] = {"plane", 3, 3, 3, 3},
    [TW_CIRCLE] = {"circle", 3, 2, 2, 3},     [TW_SPHERE] = {"sphere", 4, 3, 3, 4},
    [TW_CYLINDER] = {"cylinder", 5, 3, 3, 5},
};
#define TW_FORMS (sizeof forms / sizeof forms[0])

const char *tw_form_name(tw_form form)
{
  return (size_t)form < TW_FORMS ? forms[form].name : NULL;
}

bool tw_form_named(const char *name, tw_form *out)
{
  for (size_t i = 0; i < TW_FORMS; i++) {
    if (strcmp(forms[i].name, name) == 0) {
      *out = (tw_form)i;
      return true;
    }
  }
  return false;
}

size_t tw_form_least_points(tw_form form)
{
  return forms[form].least;
}

/* ---- the figures ----------------------------------------------------------------------------- */

double tw_fit_distance(const tw_fit *fit, const double centre[3], const double at[3])
{
  const size_t d = fit->dimensions;
  double from[3] = {0}, across[3];
  for (size_t k = 0; k < d; k++) {
    from[k] = at[k] - centre[k];
  }
  switch (fit->form) {
  case TW_PLANE:
    return tw_small_dot(from, fit->direction, 3);
  case TW_LINE:
    if (d == 2) {
      /* to the left of the direction is positive */
      return fit->direction[0] * from[1] - fit->direction[1] * from[0];
    }
    tw_small_cross(from, fit->direction, across);
    return sqrt(tw_small_dot(across, across, 3));
  case TW_CYLINDER:
    tw_small_cross(from, fit->direction, across);
    return sqrt(tw_small_dot(across, across, 3)) - fit->radius;
  case TW_CIRCLE:
  case TW_SPHERE:
    break;
  }
  return sqrt(tw_small_dot(from, from, d)) - fit->radius;
}

static void judge(const tw_cloud *cloud, tw_fit *fit, double *residual)
{
  const size_t d = cloud->dimensions;
  long double squares = 0.0L;
  double centre[3] = {fit->centre[0], fit->centre[1], fit->centre[2]};
  fit->least = (double)INFINITY;
  fit->greatest = -(double)INFINITY;
  for (size_t i = 0; i < cloud->n; i++) {
    double at[3] = {0};
    for (size_t k = 0; k < d; k++) {
      at[k] = cloud->point[i * d + k] - cloud->centroid[k];
    }
    const double r = tw_fit_distance(fit, centre, at);
    squares += (long double)(r * r);
    if (residual) {
      residual[i] = r;
    }
    if (r < fit->least) {
      fit->least = r;
      fit->least_at = i;
    }
    if (r > fit->greatest) {
      fit->greatest = r;
      fit->greatest_at = i;
    }
  }
  fit->squares = (double)squares;
  fit->rms = sqrt(fit->squares / (double)cloud->n);
  fit->form_error = fit->greatest - fit->least;
  if (fit->form == TW_LINE && d == 3) {
    fit->form_error = 2.0 * fit->greatest; /* diameter of the cylinder that holds the points */
  }
}

/* direction with its largest component positive: the same line always reads the same */
static void orient(tw_fit *fit)
{
  size_t largest = 0;
  for (size_t k = 1; k < 3; k++) {
    largest = fabs(fit->direction[k]) > fabs(fit->direction[largest]) ? k : largest;
  }
  const double sign = fit->direction[largest] < 0.0 ? -1.0 : 1.0;
  for (size_t k = 0; k < 3; k++) {
    fit->direction[k] *= sign;
  }
}

static tw_status check(tw_form form, const double *point, size_t n, size_t dimensions,
                       tw_fault *fault)
{
  if ((size_t)form >= TW_FORMS || dimensions < forms[form].low || dimensions > forms[form].high) {
    return tw_fail(fault, TW_BAD_INPUT, "columns", "a circle takes x and y, the others x, y and z",
                   "%zu coordinates a point do not make a %s", dimensions,
                   (size_t)form < TW_FORMS ? forms[form].name : "form");
  }
  if (n < forms[form].least) {
    return tw_fail(fault, TW_BAD_INPUT, "points", "take more points, well spread",
                   "%zu point%s: a %s needs %zu at the least", n, n == 1 ? "" : "s",
                   forms[form].name, forms[form].least);
  }
  const size_t bad = tw_first_unfit(point, n * dimensions);
  if (bad < n * dimensions) {
    return tw_fail(fault, TW_BAD_INPUT, "points", "leave out what was not measured",
                   "point %zu has a coordinate that is not a finite number", bad / dimensions + 1);
  }
  return TW_OK;
}

tw_status tw_fit_form(tw_form form, const double *point, size_t n, size_t dimensions,
                      double *residual, tw_fit *out, tw_fault *fault)
{
  tw_status status = check(form, point, n, dimensions, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_cloud cloud;
  tw_cloud_see(&cloud, point, n, dimensions);
  if (!isfinite(cloud.value[dimensions - 1])) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "are the units right?",
                   "the coordinates are too large to square");
  }
  if (cloud.reach <= 4.0 * cloud.rounding) {
    return tw_fail(fault, TW_NO_ANSWER, "points", "are these the right columns?",
                   "all points are the same");
  }
  tw_fit fit = {.form = form, .n = n, .dimensions = dimensions};
  status = form == TW_CYLINDER                      ? tw_fit_cylinder(&cloud, &fit, fault)
           : form == TW_CIRCLE || form == TW_SPHERE ? tw_fit_round(&cloud, &fit, fault)
                                                    : tw_fit_straight(&cloud, &fit, fault);
  if (status != TW_OK) {
    return status;
  }
  orient(&fit);
  judge(&cloud, &fit, residual);
  const size_t parameters = form == TW_LINE ? (dimensions == 2 ? 2 : 4) : forms[form].parameters;
  const size_t equations = form == TW_LINE && dimensions == 3 ? 2 * n : n;
  fit.spare = equations > parameters ? equations - parameters : 0;
  fit.s = fit.spare ? sqrt(fit.squares / (double)fit.spare) : 0.0;
  for (size_t k = 0; k < dimensions; k++) {
    fit.centre_u[k] *= fit.s;
    fit.centre[k] += cloud.centroid[k];
  }
  fit.radius_u *= fit.s;
  *out = fit;
  return TW_OK;
}
