/* suspect_judge.c: readings against a card, and suspects against each other. */
#include "suspect_parts.h"

#include <math.h>
#include <string.h>

/* a reading that contradicts (another word, a trip where none can be) counts as so many deviations
 */
#define CONTRADICTS 4.0
/* a reading without a stated uncertainty (own estimate) */
#define READING_SHARE 0.01
/* checks that tell suspects apart by less are not named */
#define TELLS 2.0

const char *tw_reads_text(tw_reads reads)
{
  static const char *const text[] = {"as expected", "low", "high", "otherwise"};
  return (size_t)reads < sizeof text / sizeof text[0] ? text[reads] : "otherwise";
}

void tw_bench_shown_of(const tw_bench_card *card, tw_bench_shown shown[TW_BENCH_COUNT])
{
  memset(shown, 0, TW_BENCH_COUNT * sizeof *shown);
  for (int i = 0; i < card->count; i++) {
    const tw_bench_check *c = &card->check[i];
    tw_bench_shown *s = &shown[c->id];
    *s = (tw_bench_shown){.there = true, .known = c->expect.known, .word = c->word};
    if (c->expect.known) {
      s->value = c->loads ? c->shown : c->expect.value;
      s->low = c->loads ? c->shown_low : c->expect.low;
      s->high = c->loads ? c->shown_high : c->expect.high;
    }
  }
}

double tw_reading_u(const tw_bench_reading *r)
{
  return r->u > 0 ? r->u : READING_SHARE * fabs(r->value);
}

/* the ends of a card are worst cases: a uniform spread between them (JCGM 100, 4.3.7) */
double tw_shown_deviation(const tw_bench_shown *s, double value, double u)
{
  const double half = value > s->value ? s->high - s->value : s->value - s->low;
  const double reading = u > 0 ? u : READING_SHARE * fabs(value);
  const double both = hypot(fmax(half, 0) / sqrt(3.0), reading);
  return both > 0 ? both : 1e-12 + READING_SHARE * fabs(s->value);
}

/* a fault moves what is shown; that it also widens the spread explains nothing */
static double deviation_of(const tw_bench_reading *r, const tw_bench_shown *s,
                           const tw_bench_shown *good)
{
  const double own = tw_shown_deviation(s, r->value, r->u);
  if (!good->known || good->value == 0) {
    return own;
  }
  const double scale = fabs(s->value / good->value);
  const tw_bench_shown moved = {.value = s->value,
                                .low = s->value - scale * (good->value - good->low),
                                .high = s->value + scale * (good->high - good->value)};
  return fmin(own, tw_shown_deviation(&moved, r->value, r->u));
}

double tw_reading_off(const tw_bench_reading *r, const tw_bench_shown *s,
                      const tw_bench_shown *good)
{
  if (!s->there) {
    return CONTRADICTS;
  }
  switch (r->kind) {
  case TW_READ_WORD:
    return s->word && strcmp(s->word, r->word) == 0 ? 0 : CONTRADICTS;
  case TW_READ_NONE:
    return s->known ? CONTRADICTS : 0;
  case TW_READ_NUMBER:
    break;
  }
  return s->known ? (r->value - s->value) / deviation_of(r, s, good) : CONTRADICTS;
}

void tw_trial_judge(tw_trial *t, const tw_bench_shown *good, const tw_bench_reading *reading,
                    size_t readings)
{
  t->misfit = t->worst = 0;
  for (size_t i = 0; i < readings; i++) {
    if (t->partly && reading[i].id >= TW_BENCH_WEIGHT_SIDE) {
      continue;
    }
    const double off =
        fabs(tw_reading_off(&reading[i], &t->shown[reading[i].id], &good[reading[i].id]));
    t->misfit += off * off;
    t->worst = fmax(t->worst, off);
  }
}

/* ---- which check would tell them apart ------------------------------------------------------ */

/* in deviations, between two suspects */
static double apart(const tw_bench_shown *a, const tw_bench_shown *b)
{
  if (!a->there || !b->there) {
    return a->there == b->there ? 0 : CONTRADICTS;
  }
  if (a->word || b->word) {
    return a->word && b->word && strcmp(a->word, b->word) == 0 ? 0 : CONTRADICTS;
  }
  if (!a->known || !b->known) {
    return a->known == b->known ? 0 : CONTRADICTS;
  }
  const double s = fmax(tw_shown_deviation(a, b->value, 0), tw_shown_deviation(b, a->value, 0));
  return fabs(a->value - b->value) / s;
}

static bool was_read(tw_bench_id id, const tw_bench_reading *reading, size_t readings)
{
  for (size_t i = 0; i < readings; i++) {
    if (reading[i].id == id) {
      return true;
    }
  }
  return false;
}

void tw_suspect_tests(tw_suspicion *out, const tw_bench_reading *reading, size_t readings)
{
  /* those that explain, if there are several; if none does, the nearest three */
  const size_t nearest = out->suspects < 3 ? out->suspects : 3;
  const size_t all = out->explaining > 0 ? out->explaining : nearest;
  const size_t n = all < TW_SUSPECT_BESIDE ? all : TW_SUSPECT_BESIDE;
  out->tests = 0;
  for (int id = 0; id < TW_BENCH_COUNT; id++) {
    double most = 0;
    for (size_t a = 0; a < n; a++) {
      for (size_t b = a + 1; b < n; b++) {
        most = fmax(most, apart(&out->suspect[a].shown[id], &out->suspect[b].shown[id]));
      }
    }
    if (most < TELLS || was_read((tw_bench_id)id, reading, readings)) {
      continue;
    }
    size_t at = out->tests++;
    while (at > 0 && out->test[at - 1].apart < most) {
      out->test[at] = out->test[at - 1];
      at--;
    }
    out->test[at] = (tw_suspect_test){(tw_bench_id)id, most};
  }
}
