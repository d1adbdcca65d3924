/* causes_pairs.c: which two things together may explain the readings: sums of what each does alone,
 * a second scan on top of the best single ones, and the best values of each
 * (docs/models/identify.md 6). */
#include "causes_parts.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multimin.h>

#include <math.h>
#include <string.h>

/* ---- sums of two curves -------------------------------------------------------------------- */

/* places between two neighbours of a curve, the later one included */
enum { BETWEEN = 3 };

/* a place on a curve: its independent deviations, and what contradicts */
typedef struct place {
  tw_cause cause;
  double off[READINGS_MOST];
  bool missing[READINGS_MOST];
} place;

static void place_of(const cause_hunt *h, const guess *a, const guess *b, double share, place *out)
{
  double left[READINGS_MOST];
  const guess *near = share > 0.5 ? b : a;
  out->cause = near->cause[0];
  memcpy(out->missing, near->missing, sizeof out->missing);
  for (size_t i = 0; i < h->r.count; i++) {
    const bool both = !a->missing[i] && !b->missing[i];
    left[i] = both ? a->left[i] + share * (b->left[i] - a->left[i]) : near->left[i];
    left[i] -= h->sound.left[i];
  }
  if (!tw_suspect_is_slip(out->cause.field)) {
    const double x = a->cause[0].then, y = b->cause[0].then;
    out->cause.then = x * y > 0 ? x * pow(y / x, share) : near->cause[0].then;
  }
  tw_causes_whiten(h, left, out->off);
}

/* all places on all curves */
static size_t places_of(const cause_hunt *h, const guess *curve, size_t count, place *out)
{
  size_t n = 0;
  for (size_t i = 0; i < count; i++) {
    const bool first = i == 0 || curve[i - 1].cause[0].field != curve[i].cause[0].field;
    if (first || tw_suspect_is_slip(curve[i].cause[0].field)) {
      place_of(h, &curve[i], &curve[i], 0, &out[n++]);
      continue;
    }
    for (int k = 1; k <= BETWEEN; k++) {
      place_of(h, &curve[i - 1], &curve[i], (double)k / BETWEEN, &out[n++]);
    }
  }
  return n;
}

/* what two places together leave, up to `most` */
static double together(const cause_hunt *h, const double *sound, const place *a, const place *b,
                       double most)
{
  double sum = 0;
  for (size_t i = 0; i < h->quick && sum < most; i++) {
    const bool missing = a->missing[i] || b->missing[i];
    sum += tw_causes_counts(missing ? 4.0 : sound[i] + a->off[i] + b->off[i]);
  }
  for (size_t i = h->r.count; i < h->readings; i++) {
    /* a word that both turn over stands as it was */
    const bool turned =
        (a->missing[i] != h->sound.missing[i]) != (b->missing[i] != h->sound.missing[i]);
    sum += turned != h->sound.missing[i] ? tw_causes_counts(4.0) : 0;
  }
  return sum;
}

/* into the list of the best, one of each two fields */
static void keep_best(const guess *g, guess *out, size_t *count, size_t most)
{
  size_t at = *count;
  for (size_t i = 0; i < *count; i++) {
    const bool same =
        (out[i].cause[0].field == g->cause[0].field &&
         out[i].cause[1].field == g->cause[1].field) ||
        (out[i].cause[0].field == g->cause[1].field && out[i].cause[1].field == g->cause[0].field);
    if (same && out[i].misfit <= g->misfit) {
      return;
    }
    if (same) {
      at = i;
      break;
    }
  }
  if (at == *count && *count == most) {
    if (!(g->misfit < out[most - 1].misfit)) {
      return;
    }
    at = most - 1;
  } else if (at == *count) {
    (*count)++;
  }
  while (at > 0 && out[at - 1].misfit > g->misfit) {
    out[at] = out[at - 1];
    at--;
  }
  out[at] = *g;
}

size_t tw_causes_pairs(const cause_hunt *h, const guess *curve, size_t count, guess *out,
                       size_t most)
{
  size_t kept = 0;
  double sound[READINGS_MOST];
  place *p = tw_alloc(count * BETWEEN + 1, sizeof *p);
  if (!p) {
    return 0;
  }
  tw_causes_whiten(h, h->sound.left, sound);
  const size_t n = places_of(h, curve, count, p);
  for (size_t a = 0; a < n; a++) {
    for (size_t b = a + 1; b < n; b++) {
      if (p[a].cause.field == p[b].cause.field) {
        continue;
      }
      const double limit = kept == most ? out[most - 1].misfit : (double)INFINITY;
      const double sum = together(h, sound, &p[a], &p[b], limit);
      if (sum < limit) {
        const guess g = {.causes = 2, .cause = {p[a].cause, p[b].cause}, .misfit = sum};
        keep_best(&g, out, &kept, most);
      }
    }
  }
  tw_free(p);
  return kept;
}

/* ---- a second scan on top ------------------------------------------------------------------ */

/* single causes under a second scan; every so many-th place of each curve */
enum { TOPS = 6, EVERY = 2 };

/* the best place of each field */
static size_t best_singles(const guess *curve, size_t count, guess *out)
{
  size_t n = 0;
  for (size_t i = 0; i < count; i++) {
    size_t at = n;
    for (size_t k = 0; k < n; k++) {
      at = out[k].cause[0].field == curve[i].cause[0].field ? k : at;
    }
    if (at < n && out[at].misfit <= curve[i].misfit) {
      continue;
    }
    if (at == n && n == TOPS) {
      if (!(curve[i].misfit < out[n - 1].misfit)) {
        continue;
      }
      at = n - 1;
    } else if (at == n) {
      n++;
    }
    while (at > 0 && out[at - 1].misfit > curve[i].misfit) {
      out[at] = out[at - 1];
      at--;
    }
    out[at] = curve[i];
  }
  return n;
}

tw_status tw_causes_on_top(cause_hunt *h, const guess *curve, size_t count, guess *out,
                           size_t *pairs, size_t most, tw_fault *fault)
{
  guess top[TOPS];
  const size_t tops = best_singles(curve, count, top);
  guess *g = tw_alloc(tops * (count + 1), sizeof *g);
  size_t n = 0;
  if (!g) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the causes");
  }
  for (size_t t = 0; t < tops; t++) {
    for (size_t i = 0; i < count; i++) {
      const tw_cause *second = &curve[i].cause[0];
      if (second->field != top[t].cause[0].field &&
          (i % EVERY == 0 || tw_suspect_is_slip(second->field))) {
        g[n++] = (guess){.causes = 2, .cause = {top[t].cause[0], *second}};
      }
    }
  }
  const tw_status status = tw_causes_try_all(h, g, n, "two things wrong together", fault);
  for (size_t i = 0; i < n && status == TW_OK; i++) {
    if (g[i].answers) {
      keep_best(&g[i], out, pairs, most);
    }
  }
  tw_free(g);
  return status;
}

/* ---- the best values ----------------------------------------------------------------------- */

enum { TRIES = 44 };
/* first step of the logarithm of a factor; where the search ends */
#define FIRST_STEP 0.12
#define LAST_SIZE  0.004

typedef struct solving {
  cause_hunt *h;
  guess *g;
} solving;

typedef struct asking {
  cause_hunt *h;
  int worker;
  const guess *start;
  guess best;
  tw_status status;
  tw_fault *fault;
} asking;

static double cost_of(const gsl_vector *x, void *self)
{
  asking *a = self;
  guess g = *a->start;
  size_t at = 0;
  for (size_t c = 0; c < g.causes; c++) {
    if (!tw_suspect_is_slip(g.cause[c].field)) {
      g.cause[c].then *= exp(gsl_vector_get(x, at++));
      if (!tw_suspect_within(a->h->m.units, g.cause[c].field, g.cause[c].then)) {
        return 1e9;
      }
    }
  }
  if (a->status == TW_OK) {
    a->status = tw_causes_try(a->h, a->worker, &g, a->fault);
  }
  if (a->status != TW_OK || !g.answers) {
    return 1e9;
  }
  if (g.cost < a->best.cost || !a->best.answers) {
    a->best = g;
  }
  return g.cost;
}

static tw_status solve_one(cause_hunt *h, int worker, guess *g, tw_fault *fault)
{
  asking a = {.h = h, .worker = worker, .start = g, .best = {.cost = INFINITY}, .fault = fault};
  size_t n = 0;
  for (size_t c = 0; c < g->causes; c++) {
    n += !tw_suspect_is_slip(g->cause[c].field);
  }
  if (n == 0) {
    return tw_causes_try(h, worker, g, fault);
  }
  gsl_vector *x = gsl_vector_calloc(n), *step = gsl_vector_alloc(n);
  gsl_multimin_fminimizer *search =
      gsl_multimin_fminimizer_alloc(gsl_multimin_fminimizer_nmsimplex2, n);
  gsl_multimin_function f = {cost_of, n, &a};
  if (!x || !step || !search) {
    a.status = tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the causes");
  } else {
    gsl_vector_set_all(step, FIRST_STEP);
    int code = gsl_multimin_fminimizer_set(search, &f, x, step);
    for (int i = 0; i < TRIES && code == GSL_SUCCESS && a.status == TW_OK &&
                    gsl_multimin_fminimizer_size(search) > LAST_SIZE;
         i++) {
      code = gsl_multimin_fminimizer_iterate(search);
    }
  }
  if (a.status == TW_OK && a.best.answers) {
    *g = a.best;
  } else {
    g->answers = false;
    g->cost = g->misfit = INFINITY;
  }
  gsl_multimin_fminimizer_free(search);
  gsl_vector_free(x);
  gsl_vector_free(step);
  return a.status;
}

static tw_status some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const solving *s = self;
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    status = solve_one(s->h, worker, &s->g[i], fault);
  }
  return status;
}

tw_status tw_causes_solve(cause_hunt *h, guess *g, size_t count, tw_fault *fault)
{
  solving s = {h, g};
  gsl_set_error_handler_off(); /* what fails shows in the answer */
  const tw_loop loop = {.count = count,
                        .chunk = 1,
                        .threads = h->m.threads,
                        .work = some,
                        .self = &s,
                        .what = "closing in on the causes"};
  h->cards += count * TRIES;
  return tw_parallel(&loop, h->m.progress, fault);
}
