/* causes_try.c: cards of units with one or two things wrong, and the curves of single causes. */
#include "causes_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* over what a faulty value is spread; an open or shorted part at the ends (own choice) */
static const double factors[] = {1e-3, 3e-3, 0.01, 0.03, 0.1, 0.2, 0.32, 0.45, 0.6, 0.75,
                                 0.88, 1.13, 1.3,  1.65, 2.2, 3.2, 5,    10,   30,  1e3};
enum { FACTORS = sizeof factors / sizeof factors[0], WORDS = 8 };
/* the first look, and the deviation that it must move to be worth the others */
static const double looks[] = {0.03, 0.45, 2.2, 30};
enum { LOOKS = sizeof looks / sizeof looks[0] };
#define MOVES 0.5

/* ---- one card ------------------------------------------------------------------------------ */

static bool of_board(const cause_hunt *h, const guess *g)
{
  (void)h;
  for (size_t c = 0; c < g->causes; c++) {
    const char *path = tw_field_of(g->cause[c].field)->path;
    if (strncmp(path, "circuit.", 8) != 0 || strstr(path, "capacitance") ||
        strstr(path, "contact_resistance")) {
      return false;
    }
  }
  return true;
}

/* readings against what is shown: rows in their order, then the words */
static void hold(const cause_hunt *h, const tw_bench_card *card, guess *g)
{
  tw_bench_shown all[TW_BENCH_COUNT];
  size_t word = h->r.count;
  tw_bench_shown_of(card, all);
  for (size_t i = 0; i < h->r.count; i++) {
    const tw_bench_shown *s = &all[h->r.what[i]];
    g->missing[i] = !s->there || !s->known || (h->r.ratio[i] && !(s->value > 0));
    g->left[i] = g->missing[i]   ? 0
                 : h->r.ratio[i] ? log(s->value / h->r.value[i]) * h->r.value[i]
                                 : s->value - h->r.value[i];
  }
  for (size_t i = 0; i < h->readings; i++) {
    const tw_bench_reading *r = &h->reading[i];
    const tw_bench_shown *s = &all[r->id];
    if (r->kind == TW_READ_WORD) {
      g->missing[word++] = !s->word || strcmp(s->word, r->word) != 0;
    } else if (r->kind == TW_READ_NONE) {
      g->missing[word++] = s->known;
    }
  }
}

static void put(const cause_hunt *h, const guess *g, tw_design *own)
{
  tw_design_copy(own, h->m.design);
  for (size_t k = 0; k < h->m.parameters; k++) {
    const tw_parameter *p = &h->m.parameter[k];
    tw_parameter_put(h->m.design, p, tw_parameter_at(p, 0), own);
  }
  for (size_t c = 0; c < g->causes; c++) {
    tw_design_put(own, g->cause[c].field, g->cause[c].then);
  }
}

tw_status tw_causes_try(cause_hunt *h, int worker, guess *g, tw_fault *fault)
{
  room *r = &h->m.room[worker];
  tw_bench_instruments with = h->m.with;
  tw_fault why = {0};
  tw_status status;
  put(h, g, r->design);
  with.without_weights = !h->weighed;
  if (of_board(h, g) && !h->weighed) {
    r->inputs = h->m.around;
    status = tw_bench_card_of_board(r->design, &with, &r->inputs, &r->card, &why);
  } else {
    status = tw_bench_card_with(r->design, &with, 1, false, &r->forces, &r->inputs, &r->card, &why);
  }
  g->answers = status == TW_OK;
  if (g->answers) {
    hold(h, &r->card, g);
    tw_causes_judge(h, g);
    return TW_OK;
  }
  g->misfit = g->cost = INFINITY;
  if (status == TW_BAD_INPUT || status == TW_NO_ANSWER) {
    return TW_OK; /* such a unit cannot be */
  }
  *fault = why;
  return status;
}

typedef struct trying {
  cause_hunt *h;
  guess *g;
} trying;

static tw_status some(void *self, int worker, size_t first, size_t count, tw_fault *fault)
{
  const trying *t = self;
  tw_status status = TW_OK;
  for (size_t i = first; i < first + count && status == TW_OK; i++) {
    status = tw_causes_try(t->h, worker, &t->g[i], fault);
  }
  return status;
}

tw_status tw_causes_try_all(cause_hunt *h, guess *g, size_t count, const char *what,
                            tw_fault *fault)
{
  trying t = {h, g};
  const tw_loop loop = {
      .count = count, .chunk = 1, .threads = h->m.threads, .work = some, .self = &t, .what = what};
  h->cards += count;
  return tw_parallel(&loop, h->m.progress, fault);
}

/* ---- curves -------------------------------------------------------------------------------- */

/* what scatters in sound units is no fault, and one number has one name */
static bool is_fault(const tw_design *design, tw_field field)
{
  return tw_suspect_may_be_wrong(design, field) && field != TW_F_disc_capacitance_factor &&
         field != TW_F_disc_charge_factor && field != TW_F_seat_friction &&
         field != TW_F_circuit_resistor_tolerance;
}

static void add(const cause_hunt *h, tw_field field, double then, guess *out, size_t *count)
{
  const bool slip = tw_suspect_is_slip(field);
  const double now =
      slip ? tw_design_choice(h->m.design, field) : tw_design_number(h->m.design, field);
  if (slip || tw_suspect_within(h->m.units, field, then)) {
    out[(*count)++] = (guess){.causes = 1, .cause = {{field, now, then}}};
  }
}

static void add_words(const cause_hunt *h, tw_field field, guess *out, size_t *count)
{
  const int now = tw_design_choice(h->m.design, field);
  const int words = (int)tw_choice_count(tw_field_of(field)->set);
  for (int w = 0; w < words && w < WORDS; w++) {
    if (w != now && !(field == TW_F_support_kind && w == TW_SUPPORT_FREE)) {
      add(h, field, w, out, count);
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

/* does it move any reading by more than a part of its own uncertainty */
static bool moves(const cause_hunt *h, const guess *g)
{
  for (size_t i = 0; i < h->readings; i++) {
    if (g->missing[i] != h->sound.missing[i]) {
      return true;
    }
    if (i < h->quick && fabs(g->left[i] - h->sound.left[i]) > MOVES * h->r.u[i]) {
      return true;
    }
  }
  return false;
}

static int by_field_and_value(const void *a, const void *b)
{
  const tw_cause *x = &((const guess *)a)->cause[0], *y = &((const guess *)b)->cause[0];
  if (x->field != y->field) {
    return x->field < y->field ? -1 : 1;
  }
  return x->then < y->then ? -1 : x->then > y->then;
}

/* those that answer stay; *moved: the fields among them that move a reading */
static size_t keep(const cause_hunt *h, guess *g, size_t count, bool moved[TW_FIELD_COUNT])
{
  size_t kept = 0;
  for (size_t i = 0; i < count; i++) {
    if (g[i].answers) {
      moved[g[i].cause[0].field] = moved[g[i].cause[0].field] || moves(h, &g[i]);
      g[kept++] = g[i];
    }
  }
  return kept;
}

/* a first look at every field, then the range of those that move a reading */
static size_t list(const cause_hunt *h, const bool *wanted, guess *out)
{
  size_t n = 0;
  for (int f = 0; f < TW_FIELD_COUNT; f++) {
    const tw_field field = (tw_field)f;
    if (!is_fault(h->m.design, field) || (wanted && !wanted[f])) {
      continue;
    }
    if (tw_suspect_is_slip(field)) {
      if (!wanted) {
        add_words(h, field, out, &n);
      }
      continue;
    }
    const double now = tw_design_number(h->m.design, field);
    for (int k = 0; k < (wanted ? (int)FACTORS : (int)LOOKS); k++) {
      if (!wanted || !was_looked_at(factors[k])) {
        add(h, field, now * (wanted ? factors[k] : looks[k]), out, &n);
      }
    }
  }
  return n;
}

tw_status tw_causes_curves(cause_hunt *h, guess **out, size_t *count, tw_fault *fault)
{
  bool moved[TW_FIELD_COUNT] = {false};
  guess *g = tw_alloc((size_t)TW_FIELD_COUNT * (FACTORS + LOOKS), sizeof *g);
  *out = g;
  *count = 0;
  if (!g) {
    return tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the causes");
  }
  const size_t first = list(h, NULL, g);
  tw_status status = tw_causes_try_all(h, g, first, "trying what may be wrong", fault);
  if (status != TW_OK) {
    return status;
  }
  size_t kept = keep(h, g, first, moved), left = 0;
  for (size_t i = 0; i < kept; i++) {
    if (moved[g[i].cause[0].field]) {
      g[left++] = g[i];
    }
  }
  const size_t more = list(h, moved, g + left);
  status = tw_causes_try_all(h, g + left, more, "trying what may be wrong", fault);
  if (status == TW_OK) {
    *count = left + keep(h, g + left, more, moved);
    qsort(g, *count, sizeof *g, by_field_and_value);
  }
  return status;
}
