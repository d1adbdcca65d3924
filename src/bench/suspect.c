/* suspect.c: readings checked and held against the card; the search when one of them is off. */
#include "suspect_parts.h"
#include "tripwright/parallel.h"

#include <string.h>

static tw_status check_readings(const hunt *h, tw_fault *fault)
{
  if (h->readings == 0 || h->readings > TW_BENCH_COUNT) {
    return tw_fail(fault, TW_BAD_INPUT, "", "see tripwright expect for what can be read",
                   "there is no reading to go by");
  }
  for (size_t i = 0; i < h->readings; i++) {
    const tw_bench_reading *r = &h->reading[i];
    const tw_bench_shown *s = &h->good[r->id];
    for (size_t k = 0; k < i; k++) {
      if (h->reading[k].id == r->id) {
        return tw_fail(fault, TW_BAD_INPUT, "", "give each check once", "one check is read twice");
      }
    }
    if (!s->there) {
      return tw_fail(fault, TW_BAD_INPUT, "", "see tripwright expect for what can be read",
                     "the card of this design does not have one of the checks");
    }
    if ((r->kind == TW_READ_WORD) != (s->word != NULL) && r->kind != TW_READ_NONE) {
      return tw_fail(fault, TW_BAD_INPUT, "", s->word ? "write high, low, + or -" : "give a number",
                     "one of the readings is %s", s->word ? "no word" : "a word, not a number");
    }
  }
  return TW_OK;
}

/* the readings against the card as it stands */
static void compare(const hunt *h, tw_suspicion *out)
{
  out->readings = h->readings;
  for (size_t i = 0; i < h->readings; i++) {
    const tw_bench_reading *r = &h->reading[i];
    const tw_bench_shown *s = &h->good[r->id];
    out->off[i] = tw_reading_off(r, s, s);
    out->misfit += out->off[i] * out->off[i];
    if (r->kind != TW_READ_NUMBER || !s->known) {
      out->reads[i] = out->off[i] == 0 ? TW_READS_AS_EXPECTED : TW_READS_OTHER;
    } else {
      /* beyond the ends by more than the reading itself may be off */
      const double beyond = TW_SUSPECT_FITS * tw_reading_u(r);
      out->reads[i] = r->value < s->low - beyond    ? TW_READS_LOW
                      : r->value > s->high + beyond ? TW_READS_HIGH
                                                    : TW_READS_AS_EXPECTED;
    }
    out->out += out->reads[i] != TW_READS_AS_EXPECTED;
  }
}

static bool is_read(const hunt *h, tw_bench_id id)
{
  for (size_t i = 0; i < h->readings; i++) {
    if (h->reading[i].id == id) {
      return true;
    }
  }
  return false;
}

/* what nobody read is left out of the many cards of the search; the test weight is what the card of
 * this design said, whatever is wrong with the unit */
static tw_bench_instruments for_search(const hunt *h)
{
  tw_bench_instruments with = h->instruments;
  with.without_weights = true;
  for (int i = 0; i < TW_BENCH_PULLS; i++) {
    with.without[i] = with.without[i] || !is_read(h, (tw_bench_id)(TW_BENCH_WEIGHT_SIDE + i));
    with.without_weights = with.without_weights && with.without[i];
  }
  with.without_resonances =
      !is_read(h, TW_BENCH_RESONANCE_FREE) && !is_read(h, TW_BENCH_RESONANCE_MOUNTED);
  return with;
}

/* what the suspects would show in every check, those among them that the search left out */
static tw_status show_all(hunt *h, const tw_bench_instruments *all, tw_suspicion *out,
                          tw_fault *fault)
{
  tw_status status = TW_OK;
  h->instruments = *all;
  h->enough = 0.0;
  for (size_t i = 0; i < out->suspects && status == TW_OK; i++) {
    tw_trial t = {.field = out->suspect[i].field, .value = out->suspect[i].then};
    status = tw_suspect_try(h, 0, &t, fault);
    if (status == TW_OK && t.answers) {
      memcpy(out->suspect[i].shown, t.shown, sizeof t.shown);
    }
  }
  return status;
}

static tw_status search(hunt *h, tw_suspicion *out, tw_fault *fault)
{
  size_t count = 0;
  const tw_bench_instruments with = h->instruments;
  h->instruments = for_search(h);
  tw_trial *trial = tw_alloc(tw_suspect_most(), sizeof *trial);
  best *all = tw_alloc(TW_FIELD_COUNT, sizeof *all);
  tw_status status = trial && all
                         ? tw_suspect_try_all(h, trial, &count, fault)
                         : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the suspects");
  if (status == TW_OK) {
    status = tw_suspect_close_in(h, trial, count, all, out, fault);
  }
  status = status == TW_OK ? show_all(h, &with, out, fault) : status;
  if (status == TW_OK) {
    tw_suspect_tests(out, h->reading, h->readings);
  }
  tw_free(all);
  tw_free(trial);
  return status;
}

static bool make_rooms(hunt *h)
{
  h->own = tw_alloc((size_t)h->threads, sizeof *h->own);
  h->card = tw_alloc((size_t)h->threads, sizeof *h->card);
  bool all = h->own && h->card;
  for (int i = 0; all && i < h->threads; i++) {
    h->own[i] = tw_design_clone(h->design);
    h->card[i] = tw_alloc(1, sizeof **h->card);
    all = h->own[i] && h->card[i];
  }
  return all;
}

static void free_rooms(hunt *h)
{
  for (int i = 0; i < h->threads; i++) {
    tw_design_free(h->own ? h->own[i] : NULL);
    tw_free(h->card ? h->card[i] : NULL);
  }
  tw_free(h->own);
  tw_free(h->card);
}

tw_status tw_bench_suspect(const tw_design *design, tw_units *units,
                           const tw_bench_instruments *instruments, const tw_bench_reading *reading,
                           size_t readings, int threads, const tw_progress *progress,
                           tw_suspicion *out, tw_fault *fault)
{
  hunt h = {.design = design,
            .units = units,
            .instruments = instruments ? *instruments : tw_bench_instruments_default(),
            .reading = reading,
            .readings = readings,
            .threads = tw_threads(threads),
            .progress = progress};
  memset(out, 0, sizeof *out);
  tw_status status = tw_bench_card_from(design, &h.instruments, threads, &out->card, fault);
  if (status != TW_OK) {
    return status;
  }
  /* the weight on the tip is what the card of this design said, whatever is wrong with the unit */
  h.instruments.test_weight = out->card.test_weight;
  tw_bench_shown_of(&out->card, h.good);
  status = check_readings(&h, fault);
  if (status != TW_OK) {
    return status;
  }
  compare(&h, out);
  h.enough = TW_SUSPECT_LEAVES * out->misfit;
  if (out->out == 0) {
    return TW_OK;
  }
  status = make_rooms(&h) ? search(&h, out, fault)
                          : tw_fail(fault, TW_NO_MEMORY, "", "", "no memory for the suspects");
  out->tried = h.tried;
  free_rooms(&h);
  return status;
}
