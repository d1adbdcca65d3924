/* suspect_close.c: the best value of each field, and which fields explain most. */
#include "suspect_parts.h"
#include "tripwright/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* values tried on the way to the best one, and fields that are worth it */
enum { STEPS = 9, REFINED = 12 };
/* sums of squares that differ by less are equally good: the smaller fault is the likelier */
#define EQUAL 0.5

/* ---- the best value of a field -------------------------------------------------------------- */

static int by_field_and_value(const void *a, const void *b)
{
  const tw_trial *x = a, *y = b;
  if (x->field != y->field) {
    return x->field < y->field ? -1 : 1;
  }
  return x->value < y->value ? -1 : x->value > y->value;
}

/* what would be shown between two trials, a share of the way on */
static void between(const tw_trial *a, const tw_trial *b, double share, tw_trial *out)
{
  *out = *a;
  out->partly = a->partly || b->partly;
  for (int i = 0; i < TW_BENCH_COUNT; i++) {
    const tw_bench_shown *x = &a->shown[i], *y = &b->shown[i];
    tw_bench_shown *o = &out->shown[i];
    if (share > 0.5) {
      *o = *y;
    }
    if (x->there && y->there && x->known && y->known && !x->word) {
      o->value = x->value + share * (y->value - x->value);
      o->low = x->low + share * (y->low - x->low);
      o->high = x->high + share * (y->high - x->high);
    }
  }
}

/* the best place between two neighbours, by the straight line between what they show */
static void look_between(const hunt *h, const tw_trial *a, const tw_trial *b, best *own)
{
  tw_trial *t = &own->at; /* a place to work in */
  const tw_trial kept = *t;
  if (!(a->value * b->value > 0)) {
    return;
  }
  for (int k = 1; k < 16; k++) {
    between(a, b, k / 16.0, t);
    tw_trial_judge(t, h->good, h->reading, h->readings);
    if (t->misfit < own->guessed) {
      own->guessed = t->misfit;
      own->below = a->value;
      own->above = b->value;
      own->guess = a->value * pow(b->value / a->value, k / 16.0);
    }
  }
  *t = kept;
}

/* the best one tried is the outermost: the answer may lie beyond it */
static void look_beyond(const tw_trial *end, const tw_trial *inner, bool first, best *own)
{
  const bool smaller = first == (end->value > 0);
  own->below = inner->value;
  own->above = end->value * (smaller ? 0.1 : 10.0);
  own->guess = end->value * (smaller ? 0.5 : 2.0);
}

/* from all trials, in order, to one entry a field; the design as it stands is one of them */
static size_t gather(const hunt *h, tw_trial *all, size_t count, best *out)
{
  size_t fields = 0;
  qsort(all, count, sizeof *all, by_field_and_value);
  for (size_t i = 0; i < count;) {
    size_t end = i, first = i;
    while (end < count && all[end].field == all[i].field) {
      first = all[end].misfit < all[first].misfit ? end : first;
      end++;
    }
    best *own = &out[fields++];
    *own = (best){.at = all[first], .guessed = all[first].misfit, .guess = all[first].value};
    own->below = own->above = own->guess;
    own->before = all[first > i ? first - 1 : first].value;
    own->after = all[first + 1 < end ? first + 1 : first].value;
    for (size_t k = i; k + 1 < end && !tw_suspect_is_slip(all[i].field); k++) {
      look_between(h, &all[k], &all[k + 1], own);
    }
    const bool outermost = first == i || first + 1 == end;
    if (outermost && end - i > 1 && own->guess == own->at.value &&
        !tw_suspect_is_slip(own->at.field)) {
      look_beyond(&all[first], &all[first == i ? i + 1 : end - 2], first == i, own);
    }
    i = end;
  }
  return fields;
}

/* the smaller misfit that is expected first; the table's order where two are the same */
static int by_guess(const void *a, const void *b)
{
  const best *x = a, *y = b;
  if (x->guessed != y->guessed) {
    return x->guessed < y->guessed ? -1 : 1;
  }
  return (x->at.field > y->at.field) - (x->at.field < y->at.field);
}

typedef struct closing {
  hunt *h;
  best *all;
} closing;

/* one more value; *better: it is the best so far */
static tw_status improve(hunt *h, int worker, best *b, double value, bool *better, tw_fault *fault)
{
  tw_trial t = {.field = b->at.field, .value = value};
  const tw_status status =
      tw_suspect_within(h->units, t.field, value) ? tw_suspect_try(h, worker, &t, fault) : TW_OK;
  *better = status == TW_OK && t.answers && t.misfit < b->at.misfit;
  if (*better) {
    b->at = t;
  }
  return status;
}

/* the place foretold, then golden section between the neighbours, on a scale of ratios */
static tw_status close_in(hunt *h, int worker, best *b, tw_fault *fault)
{
  const double golden = 0.38196601125010515, sign = b->guess < 0 ? -1 : 1;
  double low = log(fmin(fabs(b->below), fabs(b->above))),
         high = log(fmax(fabs(b->below), fabs(b->above)));
  bool better = false;
  tw_status status = improve(h, worker, b, b->guess, &better, fault);
  /* a place that was foretold wrongly: what was tried best has a better one on either side */
  const bool within = b->before != b->at.value && b->after != b->at.value;
  if (!better && within && b->before * b->at.value > 0 && b->after * b->at.value > 0) {
    low = log(fmin(fabs(b->before), fabs(b->after)));
    high = log(fmax(fabs(b->before), fabs(b->after)));
  }
  double middle = log(fabs(b->at.value));
  if (!(high > low) || middle < low || middle > high) {
    return status; /* it lies on a value tried, or elsewhere */
  }
  for (int step = 1; step < STEPS && status == TW_OK; step++) {
    const bool upper = high - middle > middle - low;
    const double place =
        upper ? middle + golden * (high - middle) : middle - golden * (middle - low);
    status = improve(h, worker, b, sign * exp(place), &better, fault);
    if (better) {
      *(upper ? &low : &high) = middle;
      middle = place;
    } else {
      *(upper ? &high : &low) = place;
    }
  }
  return status;
}

static tw_status some_closing(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const closing *c = self;
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    status =
        tw_suspect_is_slip(c->all[i].at.field) ? TW_OK : close_in(c->h, worker, &c->all[i], fault);
  }
  return status;
}

static tw_status refine(hunt *h, best *all, size_t count, tw_fault *fault)
{
  closing c = {h, all};
  const tw_loop loop = {.count = count,
                        .chunk = 1,
                        .threads = h->threads,
                        .work = some_closing,
                        .self = &c,
                        .what = "closing in on the suspects"};
  const tw_progress progress = {tw_suspect_tick, h};
  h->share = 1.0 - h->before;
  h->tried += count * STEPS;
  return tw_parallel(&loop, h->progress ? &progress : NULL, fault);
}

/* ---- ranking -------------------------------------------------------------------------------- */

/* of equal explanations the smaller fault stands first; a slip counts as a factor of two */
static double size_of(const hunt *h, const best *b)
{
  return tw_suspect_is_slip(b->at.field)
             ? log(2.0)
             : fabs(log(fabs(b->at.value / tw_design_number(h->design, b->at.field))));
}

static bool stands_before(const hunt *h, const best *a, const best *b)
{
  const bool fits = a->at.worst <= TW_SUSPECT_FITS, other = b->at.worst <= TW_SUSPECT_FITS;
  if (fits != other) {
    return fits;
  }
  return fabs(a->at.misfit - b->at.misfit) < EQUAL ? size_of(h, a) < size_of(h, b)
                                                   : a->at.misfit < b->at.misfit;
}

/* the best first, as long as they explain more than the design as it stands */
static void rank(const hunt *h, best *all, size_t count, tw_suspicion *out)
{
  for (size_t i = 0; i < count; i++) {
    size_t first = i;
    for (size_t k = i + 1; k < count; k++) {
      first = stands_before(h, &all[k], &all[first]) ? k : first;
    }
    const best one = all[first];
    all[first] = all[i];
    all[i] = one;
    if (out->suspects == TW_SUSPECTS || !(one.at.misfit < TW_SUSPECT_LEAVES * out->misfit)) {
      continue;
    }
    tw_suspect *s = &out->suspect[out->suspects++];
    *s = (tw_suspect){.field = one.at.field,
                      .now = tw_suspect_is_slip(one.at.field)
                                 ? tw_design_choice(h->design, one.at.field)
                                 : tw_design_number(h->design, one.at.field),
                      .then = one.at.value,
                      .misfit = one.at.misfit,
                      .worst = one.at.worst,
                      .explains = one.at.worst <= TW_SUSPECT_FITS};
    memcpy(s->shown, one.at.shown, sizeof s->shown);
    out->explaining += s->explains;
  }
}

tw_status tw_suspect_close_in(hunt *h, tw_trial *trial, size_t count, best *all, tw_suspicion *out,
                              tw_fault *fault)
{
  size_t fields = gather(h, trial, count, all);
  qsort(all, fields, sizeof *all, by_guess);
  fields = fields < REFINED ? fields : REFINED;
  const tw_status status = refine(h, all, fields, fault);
  if (status == TW_OK) {
    rank(h, all, fields, out);
  }
  return status;
}
