/* causes_judge.c: readings taken together: what a sound unit's scatter does to all of them at once,
 * and what is left over (docs/models/identify.md 6). */
#include "causes_parts.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>

#include <math.h>
#include <string.h>

/* another word, or a figure where there is none, counts as so many deviations (bench.md) */
#define CONTRADICTS 4.0
/* what a reading that contradicts counts more when it is further off: enough to have a direction
 * (own choice) */
#define BEYOND 2.0
/* odds that a second thing is wrong in a unit that has one wrong already (own estimate) */
#define SECOND_ODDS (1.0 / 30.0)
/* of equal explanations the smaller fault is the likelier: cost of a factor, by its logarithm's
 * square (own estimate: a factor of e costs a fiftieth of a deviation's square) */
#define SIZE_COST 0.02

double tw_causes_counts(double off)
{
  const double most = CONTRADICTS * CONTRADICTS, square = off * off;
  /* one reading that is wrong outright must not outvote all others */
  return square <= most ? square : most + BEYOND * log(square / most);
}

tw_status tw_causes_scatter(cause_hunt *h, const double *jacobian, const shown *centre,
                            tw_fault *fault)
{
  const size_t n = h->r.count, p = h->m.parameters;
  gsl_set_error_handler_off(); /* what fails shows in the answer */
  h->lower = tw_alloc(n * n + 1, sizeof *h->lower);
  if (!h->lower) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the causes");
  }
  for (size_t a = 0; a < n; a++) {
    for (size_t b = 0; b < n; b++) {
      double sum = 0;
      for (size_t k = 0; k < p; k++) {
        const double ja = jacobian[h->r.what[a] * p + k], jb = jacobian[h->r.what[b] * p + k];
        sum += tw_row_slope(&h->r, a, centre, ja) * h->r.u[a] * tw_row_slope(&h->r, b, centre, jb) *
               h->r.u[b];
      }
      h->lower[a * n + b] = sum + (a == b ? h->r.u[a] * h->r.u[a] : 0);
    }
  }
  if (n == 0) {
    return TW_OK;
  }
  gsl_matrix_view view = gsl_matrix_view_array(h->lower, n, n);
  return gsl_linalg_cholesky_decomp1(&view.matrix) == GSL_SUCCESS
             ? TW_OK
             : tw_fail(fault, TW_NO_ANSWER, "", "state limits behind the readings",
                       "the scatter of the readings has no numerical answer");
}

void tw_causes_whiten(const cause_hunt *h, const double *left, double *out)
{
  const size_t n = h->r.count, all = h->weighed ? n : h->quick;
  for (size_t i = 0; i < all; i++) {
    double rest = left[i];
    for (size_t k = 0; k < i; k++) {
      rest -= h->lower[i * n + k] * out[k];
    }
    out[i] = rest / h->lower[i * n + i];
  }
}

/* a shop's own log says how often such a thing goes wrong */
static double rarity(const cause_hunt *h, tw_field field)
{
  const double *f = h->options->frequency;
  double sum = 0, known = 0;
  for (int i = 0; f && i < TW_FIELD_COUNT; i++) {
    sum += f[i];
    known += f[i] > 0;
  }
  return f && sum > 0 && f[field] > 0 ? -2 * log(f[field] * known / sum) : 0;
}

void tw_causes_judge(const cause_hunt *h, guess *g)
{
  double off[READINGS_MOST];
  const size_t all = h->weighed ? h->r.count : h->quick;
  tw_causes_whiten(h, g->left, off);
  /* words stand behind the rows */
  g->misfit = g->worst = 0;
  for (size_t i = 0; i < all; i++) {
    const double one = g->missing[i] ? CONTRADICTS : off[i];
    g->misfit += tw_causes_counts(one);
    g->worst = fmax(g->worst, fabs(one));
  }
  for (size_t i = h->r.count; i < h->readings; i++) {
    g->misfit += g->missing[i] ? CONTRADICTS * CONTRADICTS : 0;
    g->worst = g->missing[i] ? fmax(g->worst, CONTRADICTS) : g->worst;
  }
  g->cost = g->misfit - (g->causes > 1 ? 2 * log(SECOND_ODDS) : 0);
  for (size_t c = 0; c < g->causes; c++) {
    const tw_cause *one = &g->cause[c];
    const double size = tw_suspect_is_slip(one->field) ? log(2.0) : log(one->then / one->now);
    g->cost += SIZE_COST * size * size + rarity(h, one->field);
  }
}
