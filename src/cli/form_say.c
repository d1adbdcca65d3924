/* form_say.c: figures of a fit, in words and in the document. */
#include "form_parts.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

bool tw_form_in_words(const tw_form_job *j)
{
  return !tw_cli_has(j->cli, "json") && !tw_cli_has(j->cli, "csv");
}

void tw_form_put(tw_form_job *j, const char *key, json_t *value)
{
  j->lost |= !value || json_object_set_new(j->document, key, value) != 0;
}

void tw_form_put_quantity(tw_form_job *j, const char *key, double value, const char *unit)
{
  tw_form_put(j, key, tw_json_quantity(value, unit));
}

void tw_form_say_mm(const tw_form_job *j, const char *what, double value)
{
  fprintf(j->cli->out, "  %-22s %15.6f mm\n", what, 1e3 * value);
}

void tw_form_say_um(const tw_form_job *j, const char *what, double value)
{
  fprintf(j->cli->out, "  %-22s %15.4f um\n", what, 1e6 * value);
}

void tw_form_say_vector(const tw_form_job *j, const char *what, const double *v, size_t n,
                        double per, const char *unit)
{
  fprintf(j->cli->out, "  %-22s", what);
  for (size_t k = 0; k < n; k++) {
    fprintf(j->cli->out, " %15.*f", per == 1.0 ? 9 : 6, per * v[k]);
  }
  fprintf(j->cli->out, " %s\n", unit);
}

void tw_form_say_open(const tw_form_job *j, const char *what, const char *why)
{
  fprintf(j->cli->out, "  %-22s      not stated: %s\n", what, why);
}

/* ---- points that stand out ---------------------------------------------------------------------
 */

/* at most so many are named; the rest are counted */
#define TW_NAMED_MOST 8
/* how many of n points of a perfect probe may be named by chance */
#define TW_NAMED_BY_CHANCE 0.02
/* what residuals of exact points come to, over the largest coordinate: rounding */
#define TW_ROUNDED (64.0 * DBL_EPSILON)

/* a normal score beyond t is rarer than exp(-t^2/2); 3.5 as for repeated readings is the least */
static double far_score(size_t n)
{
  return fmax(3.5, sqrt(2.0 * log((double)n / TW_NAMED_BY_CHANCE)));
}

static double largest_coordinate(const tw_form_job *j)
{
  double largest = 0.0;
  for (size_t i = 0; i < j->n * j->dimensions; i++) {
    largest = fmax(largest, fabs(j->point[i]));
  }
  return largest;
}

static tw_status say_far(tw_form_job *j, const double *residual, tw_fault *fault)
{
  tw_odd_ones odd;
  const tw_status status = tw_odd_ones_of(residual, j->n, &odd, fault);
  if (status != TW_OK) {
    return status;
  }
  const double limit = far_score(j->n), least = TW_ROUNDED * largest_coordinate(j);
  json_t *far = json_array();
  for (size_t i = 0; i < j->n && odd.spread > 0.0; i++) {
    const double off = residual[i] - odd.median, score = off / odd.spread;
    if (fabs(score) <= limit || fabs(off) <= least) {
      continue;
    }
    if (tw_form_in_words(j) && json_array_size(far) < TW_NAMED_MOST) {
      fprintf(j->cli->out, "  point %zu is far off: %.4f um (score %.1f, limit %.1f); it is kept\n",
              i + 1, 1e6 * residual[i], score, limit);
    }
    json_array_append_new(far, json_integer((json_int_t)i + 1));
  }
  if (tw_form_in_words(j) && json_array_size(far) > TW_NAMED_MOST) {
    fprintf(j->cli->out, "  %zu points are far off in all\n", json_array_size(far));
  }
  tw_form_put(j, "far_off", far);
  return TW_OK;
}

typedef struct tw_place_of_point {
  double at[3];
  size_t number;
} tw_place_of_point;

static int by_place(const void *a, const void *b)
{
  const tw_place_of_point *p = a, *q = b;
  for (int k = 0; k < 3; k++) {
    if (p->at[k] != q->at[k]) {
      return p->at[k] < q->at[k] ? -1 : 1;
    }
  }
  return (p->number > q->number) - (p->number < q->number);
}

/* two points with the same coordinates to the last digit were recorded twice, more likely than not
 */
static tw_status say_doubled(tw_form_job *j, tw_fault *fault)
{
  tw_place_of_point *p = tw_alloc(j->n, sizeof *p);
  if (!p) {
    return tw_fail(fault, TW_NO_MEMORY, "", "use fewer points", "out of memory");
  }
  for (size_t i = 0; i < j->n; i++) {
    memcpy(p[i].at, j->point + j->dimensions * i, j->dimensions * sizeof *p[i].at);
    p[i].number = i + 1;
  }
  qsort(p, j->n, sizeof *p, by_place);
  json_t *pairs = json_array();
  for (size_t i = 1; i < j->n; i++) {
    if (memcmp(p[i - 1].at, p[i].at, sizeof p[i].at) != 0) {
      continue;
    }
    if (tw_form_in_words(j) && json_array_size(pairs) < TW_NAMED_MOST) {
      fprintf(
          j->cli->out,
          "  points %zu and %zu are the same to the last digit: recorded twice? both are kept\n",
          p[i - 1].number, p[i].number);
    }
    json_array_append_new(
        pairs, json_pack("[I, I]", (json_int_t)p[i - 1].number, (json_int_t)p[i].number));
  }
  if (tw_form_in_words(j) && json_array_size(pairs) > TW_NAMED_MOST) {
    fprintf(j->cli->out, "  %zu points are there twice in all\n", json_array_size(pairs));
  }
  tw_free(p);
  tw_form_put(j, "doubled", pairs);
  return TW_OK;
}

tw_status tw_form_say_odd(tw_form_job *j, const double *residual, tw_fault *fault)
{
  if (!residual || j->n > TW_RESIDUALS) {
    return TW_OK;
  }
  const tw_status status = say_far(j, residual, fault);
  return status == TW_OK ? say_doubled(j, fault) : status;
}
