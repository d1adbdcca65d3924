/* slopes.c: how each output answers to each input near the design. */
#include "tripwright/study.h"

#include <math.h>
#include <string.h>

/* points for one input: x0 - h, x0 - h/2, x0 + h/2, x0 + h */
#define POINTS 4

/* Central differences over h and h/2, extrapolated: D = (4 D(h/2) - D(h))/3, error |D(h/2) -
 * D(h)|/3 and rounding. Only one side has an answer: the same with f0, of lower order. */
static tw_slope slope_of(double f0, bool known0, const double *f, const bool *known, double x0,
                         double h)
{
  tw_slope s = {0};
  double wide, narrow;
  const double round = 4e-16;
  double size = fabs(f0);
  if (known[0] && known[1] && known[2] && known[3]) {
    wide = (f[3] - f[0]) / (2.0 * h);
    narrow = (f[2] - f[1]) / h;
    s.slope = (4.0 * narrow - wide) / 3.0;
    s.error = fabs(narrow - wide) / 3.0;
  } else if (known0 && known[2] && known[3]) {
    wide = (f[3] - f0) / h;
    narrow = (f[2] - f0) / (0.5 * h);
    s.slope = 2.0 * narrow - wide;
    s.error = fabs(narrow - wide);
  } else if (known0 && known[0] && known[1]) {
    wide = (f0 - f[0]) / h;
    narrow = (f0 - f[1]) / (0.5 * h);
    s.slope = 2.0 * narrow - wide;
    s.error = fabs(narrow - wide);
  } else {
    return s;
  }
  for (int i = 0; i < POINTS; i++) {
    size = known[i] ? fmax(size, fabs(f[i])) : size;
  }
  s.error += round * size / h;
  s.known = isfinite(s.slope) && isfinite(s.error);
  if (s.known && known0 && f0 != 0.0 && x0 != 0.0) {
    s.elasticity = s.slope * x0 / f0;
    s.has_elasticity = isfinite(s.elasticity);
  }
  return s.known ? s : (tw_slope){0};
}

static void fill_points(const tw_study_model *model, const double *x0, const size_t *chosen,
                        const double *step, size_t n, double *x)
{
  static const double at[POINTS] = {-1.0, -0.5, 0.5, 1.0};
  const size_t in = model->inputs;
  for (size_t i = 0; i < n * POINTS + 1; i++) {
    memcpy(&x[i * in], x0, in * sizeof *x);
    if (i > 0) {
      const size_t k = (i - 1) / POINTS;
      x[i * in + chosen[k]] += at[(i - 1) % POINTS] * step[k];
    }
  }
}

tw_status tw_study_slopes(const tw_study_model *model, const double *x0, const size_t *chosen,
                          const double *step, size_t n, int threads, const tw_progress *progress,
                          tw_slope *slope, tw_fault *fault)
{
  const size_t points = n * POINTS + 1, out = model->outputs;
  for (size_t k = 0; k < n; k++) {
    if (!(step[k] > 0.0) || !isfinite(step[k])) {
      return tw_fail(fault, TW_BAD_INPUT, "", "give a step larger than 0", "step %g of input %zu",
                     step[k], chosen[k]);
    }
  }
  double *x = tw_alloc(points * model->inputs, sizeof *x), *y = tw_alloc(points * out, sizeof *y);
  unsigned char *outcome = tw_alloc(points * out, 1);
  tw_status status = TW_NO_MEMORY;
  if (x && y && outcome) {
    fill_points(model, x0, chosen, step, n, x);
    status = tw_study_points(model, points, x, y, outcome, threads, progress, fault);
  } else {
    tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu points", points);
  }
  for (size_t k = 0; status == TW_OK && k < n; k++) {
    for (size_t j = 0; j < out; j++) {
      double f[POINTS];
      bool known[POINTS];
      for (size_t i = 0; i < POINTS; i++) {
        const size_t at = (1 + k * POINTS + i) * out + j;
        f[i] = y[at];
        known[i] = outcome[at] == TW_OUTCOME_OK;
      }
      slope[k * out + j] =
          slope_of(y[j], outcome[j] == TW_OUTCOME_OK, f, known, x0[chosen[k]], step[k]);
    }
  }
  tw_free(x);
  tw_free(y);
  tw_free(outcome);
  return status;
}
