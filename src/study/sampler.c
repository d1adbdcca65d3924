/* sampler.c: builds drawn from correlated inputs; build i depends on seed and i alone. */
#include "hash.h"
#include "tripwright/random.h"
#include "tripwright/study_sample.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

/* pivots smaller than this are taken for zero: two inputs move as one */
#define PIVOT_LEAST 1e-9

struct tw_sampler {
  size_t count;
  uint64_t seed, hash;
  tw_varied *inputs;
  double *numbers; /* lists of all inputs, values then weights */
  char *names;
  /* rows of the Cholesky factor of the correlated inputs only: row k belongs to member[k] */
  size_t members;
  size_t *member;
  double *factor; /* members x members, lower triangle */
};

void tw_sampler_free(tw_sampler *sampler)
{
  if (!sampler) {
    return;
  }
  tw_free(sampler->inputs);
  tw_free(sampler->numbers);
  tw_free(sampler->names);
  tw_free(sampler->member);
  tw_free(sampler->factor);
  tw_free(sampler);
}

size_t tw_sampler_inputs(const tw_sampler *sampler)
{
  return sampler->count;
}

uint64_t tw_sampler_seed(const tw_sampler *sampler)
{
  return sampler->seed;
}

bool tw_sampler_varies(const tw_sampler *sampler)
{
  for (size_t i = 0; i < sampler->count; i++) {
    if (tw_varied_varies(&sampler->inputs[i])) {
      return true;
    }
  }
  return false;
}

uint64_t tw_sampler_hash(const tw_sampler *sampler)
{
  return sampler->hash;
}

/* own copies of lists and names, so that the caller may forget his */
static bool copy_inputs(tw_sampler *s, const tw_varied *inputs)
{
  size_t numbers = 0, letters = 0;
  for (size_t i = 0; i < s->count; i++) {
    numbers += 2 * inputs[i].count;
    letters += inputs[i].name ? strlen(inputs[i].name) + 1 : 1;
  }
  s->inputs = tw_alloc(s->count, sizeof *s->inputs);
  s->numbers = tw_alloc(numbers, sizeof *s->numbers);
  s->names = tw_alloc(letters, 1);
  if (!s->inputs || !s->numbers || !s->names) {
    return false;
  }
  double *number = s->numbers;
  char *name = s->names;
  for (size_t i = 0; i < s->count; i++) {
    tw_varied *own = &s->inputs[i];
    *own = inputs[i];
    own->name = name;
    if (inputs[i].name) {
      memcpy(name, inputs[i].name, strlen(inputs[i].name) + 1);
    }
    name += strlen(name) + 1;
    if (own->count) {
      memcpy(number, inputs[i].values, own->count * sizeof *number);
      own->values = number;
      number += own->count;
      if (inputs[i].weights) {
        memcpy(number, inputs[i].weights, own->count * sizeof *number);
        own->weights = number;
      }
      number += own->count;
    }
  }
  return true;
}

static tw_status check_correlation(const tw_sampler *s, const tw_correlation *c, tw_fault *fault)
{
  assert(c->a < s->count && c->b < s->count);
  if (c->a == c->b || !(c->r >= -1.0 && c->r <= 1.0)) {
    return tw_fail(fault, TW_BAD_INPUT, s->inputs[c->a].name,
                   "a correlation lies between -1 and 1 and joins two different fields",
                   "correlation %g with %s", c->r, s->inputs[c->b].name);
  }
  return TW_OK;
}

/* place of input i among the correlated ones, added if new */
static size_t member_of(tw_sampler *s, size_t i)
{
  size_t k = 0;
  while (k < s->members && s->member[k] != i) {
    k++;
  }
  if (k == s->members) {
    s->member[s->members++] = i;
  }
  return k;
}

/* fill the correlation matrix; twice the same pair with different numbers is a contradiction */
static tw_status fill_matrix(tw_sampler *s, const tw_correlation *c, size_t count, tw_fault *fault)
{
  s->member = tw_alloc(2 * count, sizeof *s->member);
  if (!s->member) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu correlations", count);
  }
  for (size_t i = 0; i < count; i++) {
    if (check_correlation(s, &c[i], fault) != TW_OK) {
      return TW_BAD_INPUT;
    }
    member_of(s, c[i].a);
    member_of(s, c[i].b);
  }
  const size_t m = s->members;
  s->factor = tw_alloc(m * m, sizeof *s->factor);
  if (!s->factor) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu correlations", count);
  }
  for (size_t i = 0; i < count; i++) {
    const size_t a = member_of(s, c[i].a), b = member_of(s, c[i].b);
    const double before = s->factor[a * m + b];
    if (before != 0.0 && before != c[i].r) {
      return tw_fail(fault, TW_BAD_INPUT, s->inputs[c[i].a].name, "keep one of them",
                     "two correlations with %s: %g and %g", s->inputs[c[i].b].name, before, c[i].r);
    }
    s->factor[a * m + b] = s->factor[b * m + a] = c[i].r;
  }
  for (size_t k = 0; k < m; k++) {
    s->factor[k * m + k] = 1.0;
  }
  return TW_OK;
}

/* row k failed at column j: with the earlier ones fixed, r(k, j) may lie in middle -+ room */
static tw_status contradiction(const tw_sampler *s, size_t k, size_t j, double middle, double room,
                               double asked, tw_fault *fault)
{
  const char *with = s->inputs[s->member[j]].name;
  if (room > PIVOT_LEAST) {
    return tw_fail(fault, TW_BAD_INPUT, s->inputs[s->member[k]].name,
                   "change it or one of those beside it; pairs that are not stated count as 0",
                   "its correlation %g with %s contradicts the others, which leave %.4g to %.4g",
                   asked, with, middle - room, middle + room);
  }
  return tw_fail(fault, TW_BAD_INPUT, s->inputs[s->member[k]].name,
                 "change it or one of those beside it; pairs that are not stated count as 0",
                 "its correlation %g with %s contradicts the others, which leave only %.4g", asked,
                 with, middle);
}

/* L L' = R in place, row by row; a row that lies in the span of those above gets a zero pivot */
static tw_status factorise(tw_sampler *s, tw_fault *fault)
{
  const size_t m = s->members;
  double *l = s->factor;
  for (size_t k = 0; k < m; k++) {
    double left = 1.0; /* what of the row's unit length is not used up */
    for (size_t j = 0; j < k; j++) {
      double along = 0.0;
      for (size_t i = 0; i < j; i++) {
        along += l[k * m + i] * l[j * m + i];
      }
      const double pivot = l[j * m + j], rest = l[k * m + j] - along;
      const double room = pivot * sqrt(left > 0.0 ? left : 0.0);
      if (fabs(rest) > room + PIVOT_LEAST) {
        return contradiction(s, k, j, along, room, l[k * m + j], fault);
      }
      const double part = pivot > PIVOT_LEAST ? rest / pivot : 0.0;
      l[k * m + j] = part;
      left -= part * part;
    }
    l[k * m + k] = left > PIVOT_LEAST * PIVOT_LEAST ? sqrt(left) : 0.0;
  }
  return TW_OK;
}

/* laws, correlations and seed; not the names */
static uint64_t hash_of(const tw_sampler *s)
{
  uint64_t hash = tw_hash_bytes(TW_HASH_START, &s->seed, sizeof s->seed);
  for (size_t i = 0; i < s->count; i++) {
    const tw_varied *in = &s->inputs[i];
    const int law = (int)in->law;
    hash = tw_hash_bytes(hash, &law, sizeof law);
    const double numbers[] = {in->centre,
                              in->minus,
                              in->plus,
                              in->hole_minus,
                              in->hole_plus,
                              in->cut ? in->low : 0.0,
                              in->cut ? in->high : 0.0};
    hash = tw_hash_bytes(hash, numbers, sizeof numbers);
    if (in->count) {
      hash = tw_hash_bytes(hash, in->values, in->count * sizeof *in->values);
    }
    if (in->weights) {
      hash = tw_hash_bytes(hash, in->weights, in->count * sizeof *in->weights);
    }
  }
  for (size_t k = 0; k < s->members; k++) {
    hash = tw_hash_bytes(hash, &s->member[k], sizeof s->member[k]);
    hash = tw_hash_bytes(hash, &s->factor[k * s->members], (k + 1) * sizeof *s->factor);
  }
  return tw_hash_mix(hash);
}

static tw_status build(tw_sampler *s, const tw_varied *inputs, const tw_correlation *correlations,
                       size_t correlation_count, tw_fault *fault)
{
  if (!copy_inputs(s, inputs)) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for %zu inputs", s->count);
  }
  for (size_t i = 0; i < s->count; i++) {
    const tw_status status = tw_varied_check(&s->inputs[i], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  if (correlation_count) {
    tw_status status = fill_matrix(s, correlations, correlation_count, fault);
    if (status == TW_OK) {
      status = factorise(s, fault);
    }
    if (status != TW_OK) {
      return status;
    }
  }
  s->hash = hash_of(s);
  return TW_OK;
}

tw_status tw_sampler_new(const tw_varied *inputs, size_t count, const tw_correlation *correlations,
                         size_t correlation_count, uint64_t seed, tw_sampler **out, tw_fault *fault)
{
  *out = NULL;
  tw_sampler *s = tw_alloc(1, sizeof *s);
  if (!s) {
    return tw_fail(fault, TW_NO_MEMORY, "", NULL, "no memory for a sampler");
  }
  s->count = count;
  s->seed = seed;
  const tw_status status = build(s, inputs, correlations, correlation_count, fault);
  if (status != TW_OK) {
    tw_sampler_free(s);
    return status;
  }
  *out = s;
  return TW_OK;
}

/* uniform numbers away from the ends, where the normal score would not be finite */
static double inside(double u)
{
  return u < 0x1p-54 ? 0x1p-54 : u > 1.0 - 0x1p-53 ? 1.0 - 0x1p-53 : u;
}

/* independent scores of the correlated members become correlated ones: z = L z from the last row
 * up, so that no second array is needed */
static void correlate(const tw_sampler *s, double *x)
{
  const size_t m = s->members;
  for (size_t k = 0; k < m; k++) {
    x[s->member[k]] = gsl_cdf_ugaussian_Pinv(inside(x[s->member[k]]));
  }
  for (size_t k = m; k-- > 0;) {
    double z = 0.0;
    for (size_t j = 0; j <= k; j++) {
      z += s->factor[k * m + j] * x[s->member[j]];
    }
    x[s->member[k]] = z;
  }
  for (size_t k = 0; k < m; k++) {
    x[s->member[k]] = inside(gsl_cdf_ugaussian_P(x[s->member[k]]));
  }
}

void tw_sampler_from_uniform(const tw_sampler *s, const double *u, double *x)
{
  if (x != u) {
    memcpy(x, u, s->count * sizeof *x);
  }
  if (s->members) {
    correlate(s, x);
  }
  for (size_t i = 0; i < s->count; i++) {
    x[i] = tw_varied_quantile(&s->inputs[i], x[i]);
  }
}

void tw_sampler_draw(const tw_sampler *s, uint64_t build_number, double *x)
{
  tw_random random;
  tw_random_start(&random, s->seed, build_number);
  for (size_t i = 0; i < s->count; i++) {
    x[i] = tw_random_uniform(&random);
  }
  tw_sampler_from_uniform(s, x, x);
}
