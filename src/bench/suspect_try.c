/* suspect_try.c: one value of the design after the other is made wrong, and the card computed. */
#include "suspect_parts.h"
#include "tripwright/parallel.h"

#include <math.h>
#include <string.h>

/* over what a faulty value is spread: an open or shorted part at the ends */
static const double faults[] = {1e-3, 0.01, 0.04, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9,
                                1.1,  1.25, 1.5,  2,   3,   5,    10,  30,   1e3};
enum { FAULTS = sizeof faults / sizeof faults[0], CHOICES = 16 };
/* the first look at a field; some only tell when they are far off (a void that is used up) */
static const double looks[] = {0.04, 0.5, 2, 10};
enum { LOOKS = sizeof looks / sizeof looks[0] };
/* a field that moves no reading by more than this share of its deviation is none to look at */
#define MOVES 0.3

bool tw_suspect_tick(void *self, double done, const char *what)
{
  const hunt *h = self;
  return tw_progress_tick(h->progress, h->before + h->share * done, what);
}

/* ---- one card ------------------------------------------------------------------------------- */

typedef struct bound {
  const hunt *h;
  tw_trial *trial;
} bound;

/* the weights can only add to what the other readings leave */
static bool worth_weights(void *self, const tw_bench_card *without)
{
  const bound *b = self;
  b->trial->partly = true;
  tw_bench_shown_of(without, b->trial->shown);
  tw_trial_judge(b->trial, b->h->good, b->h->reading, b->h->readings);
  return b->trial->misfit < b->h->enough;
}

tw_status tw_suspect_try(hunt *h, int worker, tw_trial *t, tw_fault *fault)
{
  tw_fault why = {0};
  bound b = {h, t};
  bool weighed = false;
  tw_design_copy(h->own[worker], h->design);
  tw_design_put(h->own[worker], t->field, t->value);
  const tw_status status =
      tw_bench_card_if(h->own[worker], &h->instruments, 1, h->enough > 0 ? worth_weights : NULL, &b,
                       h->card[worker], &weighed, &why);
  t->answers = status == TW_OK;
  t->partly = !weighed;
  if (t->answers) {
    tw_bench_shown_of(h->card[worker], t->shown);
    tw_trial_judge(t, h->good, h->reading, h->readings);
    return TW_OK;
  }
  /* a value that cannot be is no suspect */
  if (status == TW_BAD_INPUT || status == TW_NO_ANSWER) {
    return TW_OK;
  }
  *fault = why;
  return status;
}

static tw_status some_trials(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  hunt *h = self;
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    status = tw_suspect_try(h, worker, &h->trial[i], fault);
  }
  return status;
}

static tw_status try_all(hunt *h, double until, tw_fault *fault)
{
  const tw_loop loop = {.count = h->trials,
                        .chunk = 1,
                        .threads = h->threads,
                        .work = some_trials,
                        .self = h,
                        .what = "trying what may be wrong"};
  const tw_progress progress = {tw_suspect_tick, h};
  h->share = until - h->before;
  const tw_status status = tw_parallel(&loop, h->progress ? &progress : NULL, fault);
  h->before = until;
  h->tried += h->trials;
  return status;
}

/* ---- which values --------------------------------------------------------------------------- */

static bool is_number(tw_field_type type)
{
  return type == TW_TYPE_QUANTITY || type == TW_TYPE_NUMBER;
}

/* choices that a slip at assembly makes */
bool tw_suspect_is_slip(tw_field field)
{
  return field == TW_F_support_kind || field == TW_F_disc_poling;
}

/* a part of the unit, with a value to be wrong */
bool tw_suspect_may_be_wrong(const tw_design *design, tw_field field)
{
  const tw_field_info *about = tw_field_of(field);
  if (!tw_design_has(design, field) || about->part[0] == '\0' ||
      strncmp(about->path, "measured.", 9) == 0 || strncmp(about->path, "machine.", 8) == 0) {
    return false;
  }
  return tw_suspect_is_slip(field) ||
         (is_number(about->type) && tw_design_number(design, field) != 0 &&
          isfinite(tw_design_number(design, field)));
}

/* within what the table of fields allows */
bool tw_suspect_within(tw_units *units, tw_field field, double value)
{
  const tw_field_info *about = tw_field_of(field);
  tw_unit unit = {.scale = 1};
  if (about->type == TW_TYPE_QUANTITY) {
    (void)tw_units_find(units, about->unit, &unit, NULL);
  }
  return value >= tw_unit_to_si(&unit, about->least, false) &&
         value <= tw_unit_to_si(&unit, about->most, false);
}

static void add(hunt *h, tw_field field, double value)
{
  if (!tw_suspect_is_slip(field) && !tw_suspect_within(h->units, field, value)) {
    return;
  }
  h->trial[h->trials++] = (tw_trial){.field = field, .value = value};
}

/* the first look at every field; of a choice the other words */
static void list_first(hunt *h)
{
  h->trials = 0;
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const tw_field field = (tw_field)f;
    if (!tw_suspect_may_be_wrong(h->design, field)) {
      continue;
    }
    if (tw_suspect_is_slip(field)) {
      const int now = tw_design_choice(h->design, field);
      const int words = (int)tw_choice_count(tw_field_of(field)->set);
      for (int w = 0; w < words && w < CHOICES; w++) {
        /* a disc without any support is no slip but a heap of parts */
        const bool none = field == TW_F_support_kind && w == TW_SUPPORT_FREE;
        if (w != now && !none) {
          add(h, field, w);
        }
      }
    } else {
      for (int k = 0; k < LOOKS; k++) {
        add(h, field, looks[k] * tw_design_number(h->design, field));
      }
    }
  }
}

static bool was_looked_at(double factor)
{
  for (int k = 0; k < LOOKS; k++) {
    if (looks[k] == factor) {
      return true;
    }
  }
  return false;
}

/* does this trial move any reading */
static bool moves(const hunt *h, const tw_trial *t)
{
  for (size_t i = 0; t->answers && i < h->readings; i++) {
    const tw_bench_id id = h->reading[i].id;
    const tw_bench_shown *a = &h->good[id], *b = &t->shown[id];
    if (t->partly && id >= TW_BENCH_WEIGHT_SIDE) {
      continue;
    }
    if (a->there != b->there || a->known != b->known ||
        (a->word && b->word && strcmp(a->word, b->word) != 0)) {
      return true;
    }
    if (a->known && b->known &&
        fabs(a->value - b->value) > MOVES * tw_shown_deviation(a, b->value, h->reading[i].u)) {
      return true;
    }
  }
  return false;
}

/* a value as it stands is a trial as well */
static void keep_nominal(const hunt *h, tw_field field, tw_trial *kept)
{
  *kept = (tw_trial){.field = field, .value = tw_design_number(h->design, field), .answers = true};
  memcpy(kept->shown, h->good, sizeof kept->shown);
  tw_trial_judge(kept, h->good, h->reading, h->readings);
}

/* the whole range of each field that moves something; choices have been tried already */
static size_t list_range(hunt *h, tw_trial *kept)
{
  bool wanted[TW_FIELD_COUNT] = {false};
  size_t keeps = 0;
  for (size_t i = 0; i < h->trials; i++) {
    wanted[h->trial[i].field] = wanted[h->trial[i].field] || moves(h, &h->trial[i]);
  }
  for (size_t i = 0; i < h->trials; i++) {
    if (h->trial[i].answers && wanted[h->trial[i].field]) {
      kept[keeps++] = h->trial[i];
    }
  }
  h->trials = 0;
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const tw_field field = (tw_field)f;
    if (!wanted[f] || tw_suspect_is_slip(field)) {
      continue;
    }
    keep_nominal(h, field, &kept[keeps++]);
    for (int k = 0; k < FAULTS; k++) {
      if (!was_looked_at(faults[k])) {
        add(h, field, faults[k] * tw_design_number(h->design, field));
      }
    }
  }
  return keeps;
}

size_t tw_suspect_most(void)
{
  return (size_t)TW_FIELD_COUNT * (FAULTS + LOOKS + 1) + (size_t)2 * CHOICES;
}

tw_status tw_suspect_try_all(hunt *h, tw_trial *trial, size_t *count, tw_fault *fault)
{
  *count = 0;
  h->trial = tw_alloc((size_t)TW_FIELD_COUNT * FAULTS, sizeof *h->trial);
  if (!h->trial) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the suspects");
  }
  list_first(h);
  tw_status status = try_all(h, 0.35, fault);
  if (status == TW_OK) {
    *count = list_range(h, trial);
    status = try_all(h, 0.8, fault);
  }
  for (size_t i = 0; status == TW_OK && i < h->trials; i++) {
    if (h->trial[i].answers) {
      trial[(*count)++] = h->trial[i];
    }
  }
  tw_free(h->trial);
  h->trial = NULL;
  return status;
}
