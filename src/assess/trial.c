/* trial.c: which figures rest on a default. The static figures are computed once with all defaults
 * as they are, and once more with each guess among the defaults that were read at each
 * end of its tolerance; what moves a figure decides it. A trial touches where the assessment found
 * the hardest and the softest side, and along the axis, in the few steps of a study
 * (docs/models/assess.md 6). */
#include "trial.h"
#include "rooms.h"

#include "tripwright/constants.h"
#include "tripwright/parallel.h"

#include <math.h>
#include <string.h>

enum { STEPS = 8 };
/* guesses that are tried at most: the table has 7 */
enum { MOST_GUESSES = 16 };

/* share of the pretravel: lengths that differ by less are what the steps of a trial leave open */
#define SAME_LENGTH 1e-3
/* share of a figure: less is no change */
#define NOTHING 1e-6

typedef struct guess {
  tw_field field;
  double end[2]; /* SI, low and high */
  bool built;    /* the probe is made of it */
} guess;

typedef struct trial {
  const tw_design *design;
  tw_assess_options options;
  tw_measure_set wanted;
  tw_probe *probe; /* as it is, with its touches and figures */
  tw_few few;
  tw_assessment as_is;
  tw_assessment *moved; /* one a run */
  bool *done;           /* which of these has figures */
  guess guess[MOST_GUESSES];
  size_t guesses;
} trial;

/* Static figures, without those that take a modal analysis or many touches in time: these are made
 * of the others (basis.c). */
static bool is_tried(tw_measure_id id)
{
  static const tw_measure_id dear[] = {TW_M_resonance_free, TW_M_resonance_mounted,
                                       TW_M_resonance_loaded, TW_M_output_hold_time,
                                       TW_M_slowest_feed_static};
  for (size_t i = 0; i < sizeof dear / sizeof dear[0]; i++) {
    if (id == dear[i]) {
      return false;
    }
  }
  return tw_measure_about(id)->needs == TW_NEEDS_STATIC;
}

/* where the sides were hardest and softest */
static void choose_sides(const tw_run *run, trial *t)
{
  t->few.azimuth[0] = 0;
  t->few.azimuth[1] = TW_PI / 3; /* a contact and the gap between two, of three */
  if (run->touch && run->sides_trip) {
    t->few.azimuth[0] = run->touch[run->extreme[TW_FORCE_MOST]].azimuth;
    t->few.azimuth[1] = run->touch[run->extreme[TW_FORCE_LEAST]].azimuth;
  }
}

static void begin(const tw_run *run, trial *t)
{
  t->design = run->design;
  t->options = *run->options;
  t->options.probe = NULL;
  t->options.limits = NULL;
  t->options.directions = NULL;
  t->options.progress = NULL;
  t->options.map = t->options.timed = t->options.between = t->options.contributions = false;
  t->options.azimuths = TW_FEW_SIDES;
  t->options.seat_steps = STEPS;
  t->options.threads = 1;
  t->options.wanted = &t->wanted;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    t->wanted.has[i] = is_tried((tw_measure_id)i);
  }
  choose_sides(run, t);
}

static bool is_guess(const tw_design *design, tw_field field)
{
  return tw_field_of(field)->standing == TW_DEFAULT_GUESS && tw_design_applies(design, field) &&
         tw_design_value(design, field)->origin == TW_ORIGIN_DEFAULT;
}

static void list_guesses(trial *t, const bool *built, const bool *read)
{
  for (int i = 0; i < TW_FIELD_COUNT && t->guesses < MOST_GUESSES; i++) {
    const tw_field field = (tw_field)i;
    if ((built[i] || read[i]) && is_guess(t->design, field)) {
      const tw_value *v = tw_design_value(t->design, field);
      const double low = v->number - v->tolerance.minus, high = v->number + v->tolerance.plus;
      t->guess[t->guesses++] = (guess){field, {low, high}, built[i]};
    }
  }
}

/* the figures as they are, and the guesses that they read on the way */
static tw_status run_as_is(trial *t, tw_fault *fault)
{
  bool built[TW_FIELD_COUNT] = {false}, read[TW_FIELD_COUNT] = {false};
  tw_design *own = tw_design_clone(t->design);
  if (!own) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the trials");
  }
  tw_design_watch(own, built);
  tw_status status = tw_probe_new_to_touch(own, &t->probe, fault);
  if (status == TW_OK) {
    t->probe->touch.steps = STEPS;
    t->options.probe = t->probe;
    tw_design_watch(own, read);
    status = tw_assess_few(own, &t->options, &t->few, &t->as_is, fault);
  }
  tw_design_free(own);
  list_guesses(t, built, read);
  return status;
}

/* Do both touch alike? A byte between two members that differs costs a touch and no more. */
static bool same_touches(const tw_probe *a, const tw_probe *b)
{
  return a->seat && b->seat && memcmp(&a->seat_spec, &b->seat_spec, sizeof a->seat_spec) == 0 &&
         memcmp(&a->touch, &b->touch, sizeof a->touch) == 0 &&
         memcmp(&a->disc_measures, &b->disc_measures, sizeof a->disc_measures) == 0;
}

/* the figures of one design whose guess `g` was moved */
static tw_status run_one(const trial *t, const guess *g, const tw_design *design,
                         tw_assessment *out, tw_fault *fault)
{
  tw_assess_options options = t->options;
  tw_few few = t->few;
  tw_probe *own = NULL;
  tw_status status = g->built ? tw_probe_new_to_touch(design, &own, fault) : TW_OK;
  if (own) {
    own->touch.steps = STEPS;
    options.probe = own;
  }
  few.known = t->probe->state == TW_MEASURE_OK && same_touches(options.probe, t->probe);
  if (status == TW_OK) {
    status = tw_assess_few(design, &options, &few, out, fault);
  }
  tw_probe_free(own);
  return status;
}

/* by which share of itself a figure is another */
static double moved_by(const trial *t, tw_measure_id id, const tw_assessment *other)
{
  const tw_measure *a = &t->as_is.measure[id], *b = &other->measure[id];
  const tw_measure *travel = &t->as_is.measure[TW_M_pretravel_side];
  if (a->state != b->state) {
    return HUGE_VAL;
  }
  if (a->state != TW_MEASURE_OK) {
    return 0;
  }
  if (a->word || b->word) {
    return a->word && b->word && strcmp(a->word, b->word) == 0 ? 0 : HUGE_VAL;
  }
  const double was = a->has_fitted ? a->fitted : a->value,
               is = b->has_fitted ? b->fitted : b->value, by = fabs(is - was);
  const bool length = strcmp(tw_measure_about(id)->unit, "m") == 0;
  const double same = length && travel->state == TW_MEASURE_OK ? SAME_LENGTH * travel->value : 0;
  return by <= same ? 0 : by / fabs(was);
}

/* does it change anything at all? */
static bool matters(const trial *t, const tw_assessment *moved)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    if (moved_by(t, (tw_measure_id)i, moved) > NOTHING) {
      return true;
    }
  }
  return false;
}

/* one end of a guess; one that cannot be built says nothing. False: no memory. */
static bool run_end(trial *t, size_t which, int end, bool *goes_on)
{
  const guess *g = &t->guess[which];
  const size_t n = 2 * which + (size_t)end;
  tw_fault why = {0};
  tw_design *own = NULL;
  tw_status status = tw_design_with(t->design, 1, &g->field, &g->end[end], &own);
  if (status == TW_OK) {
    status = run_one(t, g, own, &t->moved[n], &why);
    t->done[n] = status == TW_OK;
  }
  tw_design_free(own);
  *goes_on = status != TW_OK || matters(t, &t->moved[n]);
  return status != TW_NO_MEMORY;
}

/* a guess that moves nothing at its far end is not tried at the near one */
static tw_status run_guesses(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  trial *t = self;
  (void)worker;
  for (size_t i = first; i < first + count; i++) {
    const guess *g = &t->guess[i];
    const double is = tw_design_number(t->design, g->field);
    const int far = g->end[1] - is >= is - g->end[0] ? 1 : 0;
    bool goes_on = true;
    if (!run_end(t, i, far, &goes_on) || (goes_on && !run_end(t, i, 1 - far, &goes_on))) {
      return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the trials");
    }
  }
  return TW_OK;
}

static void tell(const trial *t, tw_assessment *out)
{
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    tw_measure *m = &out->measure[i];
    for (size_t k = 0; k < 2 * t->guesses; k++) {
      const double by = t->done[k] ? moved_by(t, (tw_measure_id)i, &t->moved[k]) : 0;
      if (by > TW_BASIS_MOVES && by > m->assumes_share) {
        m->assumes_share = by;
        m->assumes = tw_field_of(t->guess[k / 2].field)->path;
      }
    }
  }
}

/* with room for every run */
static tw_status try_all(trial *t, int threads, const tw_progress *progress, tw_assessment *out,
                         tw_fault *fault)
{
  tw_status status = run_as_is(t, fault);
  if (status != TW_OK) {
    return status;
  }
  t->moved = tw_alloc(2 * t->guesses + 1, sizeof *t->moved);
  t->done = tw_alloc(2 * t->guesses + 1, sizeof *t->done);
  if (t->moved && t->done) {
    const tw_loop loop = {.count = t->guesses,
                          .chunk = 1,
                          .threads = threads,
                          .work = run_guesses,
                          .self = t,
                          .what = "guesses"};
    status = tw_parallel(&loop, progress, fault);
    if (status == TW_OK) {
      tell(t, out);
    }
  } else {
    status = tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the trials");
  }
  tw_free(t->moved);
  tw_free(t->done);
  return status;
}

tw_status tw_trial(tw_run *run, tw_measure_set *tried, tw_fault *fault)
{
  trial *t = tw_alloc(1, sizeof *t);
  if (!t) {
    return tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the trials");
  }
  begin(run, t);
  *tried = t->wanted;
  const tw_status status = try_all(t, run->threads, run->options->progress, run->out, fault);
  tw_probe_free(t->probe);
  tw_free(t);
  return status;
}
