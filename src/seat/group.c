/* group.c: the contacts that share the disc's compliance: 0 <= load _|_ C load - compression >= 0.
 *
 * Block principal pivoting on the set of loaded points (Judice and Pires, from memory), with the
 * least-index rule when the number of violations stops falling: finite for a positive definite C.
 * For a given set loads and gaps are affine in the unknowns; that map is kept, so that the many
 * solves of a path that share a set pay for its factorisation once. */
#include "engine.h"
#include "tripwright/numerics.h"

#include <math.h>
#include <string.h>

#define NO_GAIN_LIMIT 10

uint64_t tw_seat_group_glued(const tw_seat_model *m)
{
  uint64_t glued = 0;
  for (size_t i = 0; m->bilateral && i < m->grouped; i++) {
    glued |= m->contact[i].backing ? 0 : UINT64_C(1) << i;
  }
  return glued;
}

static bool in_set(uint64_t mask, size_t i)
{
  return (mask >> i) & 1;
}

/* columns of the map: start, then the row */
enum { COLUMNS = SEAT_ALL + 1 };
typedef double map_row[COLUMNS];

static void take_columns(const seat_contact *c, double sign, double *out)
{
  out[0] = sign * c->start;
  for (size_t k = 0; k < SEAT_ALL; k++) {
    out[k + 1] = sign * c->row[k];
  }
}

/* to -= factor from, all columns */
static void subtract(double *to, double factor, const double *from)
{
  for (size_t k = 0; k < COLUMNS; k++) {
    to[k] -= factor * from[k];
  }
}

static void divide(double *row, double by)
{
  for (size_t k = 0; k < COLUMNS; k++) {
    row[k] /= by;
  }
}

/* loads of the set: map = C_AA^-1 [start, row], all columns at once */
static void solve_loaded(const tw_seat_model *m, const double *l, map_row *map, const size_t *index,
                         size_t n)
{
  for (size_t i = 0; i < n; i++) { /* L y = b */
    double *b = map[index[i]];
    take_columns(&m->contact[index[i]], 1.0, b);
    for (size_t k = 0; k < i; k++) {
      subtract(b, l[i * TW_SEAT_GROUP + k], map[index[k]]);
    }
    divide(b, l[i * TW_SEAT_GROUP + i]);
  }
  for (size_t i = n; i-- > 0;) { /* L' x = y */
    double *b = map[index[i]];
    divide(b, l[i * TW_SEAT_GROUP + i]);
    for (size_t k = 0; k < i; k++) {
      subtract(map[index[k]], l[i * TW_SEAT_GROUP + k], b);
    }
  }
}

/* gaps of the others: C_iA load - compression_i */
static void fill_open(const tw_seat_model *m, uint64_t mask, map_row *map, const size_t *index,
                      size_t n)
{
  for (size_t i = 0; i < m->grouped; i++) {
    if (in_set(mask, i)) {
      continue;
    }
    const double *c = m->compliance + i * m->grouped;
    take_columns(&m->contact[i], -1.0, map[i]);
    for (size_t j = 0; j < n; j++) {
      subtract(map[i], -c[index[j]], map[index[j]]);
    }
  }
}

/* stiffness of the loaded points: sum of row' (d load) */
static void fill_stiffness(const tw_seat_model *m, seat_set *s, map_row *map, const size_t *index,
                           size_t n)
{
  memset(s->stiff, 0, sizeof s->stiff);
  for (size_t i = 0; i < n; i++) {
    const double *across = m->contact[index[i]].row, *rate = map[index[i]] + 1;
    for (size_t a = 0; a < SEAT_ALL; a++) {
      for (size_t b = 0; b < SEAT_ALL; b++) {
        s->stiff[a * SEAT_ALL + b] += across[a] * rate[b];
      }
    }
  }
}

static bool build_set(const tw_seat_model *m, tw_seat_work *w, seat_set *s, uint64_t mask)
{
  size_t index[TW_SEAT_GROUP], n = 0;
  map_row map[TW_SEAT_GROUP];
  for (size_t i = 0; i < m->grouped; i++) {
    if (in_set(mask, i)) {
      index[n++] = i;
    }
  }
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j <= i; j++) {
      w->factor[i * TW_SEAT_GROUP + j] = m->compliance[index[i] * m->grouped + index[j]];
    }
  }
  s->known = false;
  s->mask = mask;
  if (!tw_cholesky(n, w->factor, TW_SEAT_GROUP)) {
    return false;
  }
  solve_loaded(m, w->factor, map, index, n);
  fill_open(m, mask, map, index, n);
  fill_stiffness(m, s, map, index, n);
  for (size_t i = 0; i < m->grouped; i++) {
    for (size_t k = 0; k < COLUMNS; k++) {
      s->map[k][i] = map[i][k];
    }
  }
  s->known = true;
  return true;
}

seat_set *tw_seat_set_of(const tw_seat_model *m, tw_seat_work *w, uint64_t mask)
{
  if (w->set != NULL && w->set->known && w->set->mask == mask) {
    return w->set;
  }
  for (size_t i = 0; i < SEAT_SETS; i++) {
    if (w->sets[i].known && w->sets[i].mask == mask) {
      return &w->sets[i];
    }
  }
  seat_set *s = &w->sets[w->next_set];
  w->next_set = (w->next_set + 1) % SEAT_SETS;
  return build_set(m, w, s, mask) ? s : NULL;
}

/* all points at once */
static void values_at(const tw_seat_model *m, const seat_set *s, const double *v, double *value)
{
  const size_t n = m->grouped;
  memcpy(value, s->map[0], n * sizeof *value);
  for (size_t k = 0; k < SEAT_ALL; k++) {
    const double *column = s->map[k + 1], at = v[k];
    for (size_t i = 0; i < n; i++) {
      value[i] -= column[i] * at;
    }
  }
}

/* loads and gaps of set s at v; returns the points that break a sign */
static uint64_t evaluate(const tw_seat_model *m, tw_seat_work *w, const seat_set *s,
                         const double *v)
{
  const double zero_load = SEAT_COMPLEMENTARITY * m->force_scale,
               zero_gap = SEAT_COMPLEMENTARITY * m->gap_scale;
  double value[TW_SEAT_GROUP];
  uint64_t wrong = 0;
  values_at(m, s, v, value);
  for (size_t i = 0; i < m->grouped; i++) {
    const bool loaded = in_set(s->mask, i);
    if (!(value[i] >= (loaded ? -zero_load : -zero_gap))) {
      wrong |= UINT64_C(1) << i;
    }
    w->load[i] = loaded ? value[i] : 0.0;
    w->gap[i] = loaded ? 0.0 : value[i];
  }
  return wrong & ~tw_seat_group_glued(m);
}

static int count_bits(uint64_t x)
{
  int n = 0;
  for (; x != 0; x &= x - 1) {
    n++;
  }
  return n;
}

seat_set *tw_seat_group_solve(const tw_seat_model *m, tw_seat_work *w, const double *v,
                              uint64_t *mask)
{
  *mask |= tw_seat_group_glued(m);
  int best = TW_SEAT_GROUP + 1, no_gain = 0;
  /* the least-index rule visits each set at most once; this bound only guards against rounding */
  for (size_t sweep = 0; sweep < 4000; sweep++) {
    seat_set *s = tw_seat_set_of(m, w, *mask);
    if (s == NULL) {
      return NULL;
    }
    const uint64_t wrong = evaluate(m, w, s, v);
    if (wrong == 0) {
      return s;
    }
    const int count = count_bits(wrong);
    if (count < best) {
      best = count;
      no_gain = 0;
    } else {
      no_gain++;
    }
    /* all violators at once, or, when that stops helping, the first one only */
    *mask ^= no_gain < NO_GAIN_LIMIT ? wrong : wrong & (~wrong + 1);
  }
  return NULL;
}

double tw_seat_pair(const tw_seat_model *m, const tw_seat_work *w, size_t i)
{
  /* gap from the loads themselves, not from the kept map */
  const seat_contact *c = &m->contact[i];
  double gap = -c->start;
  for (size_t k = 0; k < SEAT_ALL; k++) {
    gap += c->row[k] * w->now.v[k];
  }
  for (size_t j = 0; j < m->grouped; j++) {
    gap += m->compliance[i * m->grouped + j] * w->load[j];
  }
  return w->load[i] * gap;
}
