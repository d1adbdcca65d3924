/* Two things wrong that are known because they were made: a design is given two wrong values, its
 * card is read with noise, and the search, which knows the sound design only, has to name the pair
 * among its first three. Pairs that every reading shows alike count as one. The readings come from
 * the card that also seeks: this shows that causes can be told apart, not that the model is right.
 */
#include "design_fixture.h"
#include "tripwright/identify_causes.h"
#include "tripwright/random.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static tw_design *example(const char *name)
{
  char path[200];
  snprintf(path, sizeof path, TW_SOURCE_DIR "/examples/%s.yaml", name);
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  assert_int_equal(tw_design_read(path, &options, messages, &design), TW_OK);
  tw_messages_free(messages);
  return design;
}

typedef struct made {
  const char *design;
  struct {
    const char *field;
    double factor;
  } fault[2];
} made;

/* in CI the first few; all of them when TW_PROVE=1 */
static const made doubles[] = {
    {"edge-bonded", {{"circuit.bias_resistance", 0.2}, {"disc.ceramic_permittivity", 0.53}}},
    {"plate-sizer", {{"circuit.bias_resistance", 0.27}, {"circuit.feedback_resistance", 0.36}}},
    {"pillar-indexer", {{"circuit.leakage_resistance", 0.003}, {"disc.ceramic_permittivity", 2.1}}},
    {"plate-sizer", {{"support.ledge_radius", 0.8}, {"disc.ceramic_d31", 0.57}}},
    {"edge-bonded", {{"circuit.bias_lower", 0.85}, {"disc.metal_thickness", 1.67}}},
    {"pillar-indexer", {{"support.void_depth", 0.1}, {"disc.ceramic_d31", 0.35}}},
    {"plate-sizer", {{"circuit.bias_resistance", 0.2}, {"circuit.reference_upper", 1.08}}},
    {"edge-bonded", {{"circuit.reference_lower", 1.07}, {"circuit.leakage_resistance", 0.01}}},
    {"pillar-indexer", {{"circuit.leakage_resistance", 0.0008}, {"support.void_depth", 0.1}}},
    {"plate-sizer", {{"circuit.reference_upper", 1.06}, {"circuit.feedback_resistance", 0.3}}},
    {"edge-bonded", {{"circuit.bias_resistance", 0.3}, {"circuit.feedback_resistance", 0.3}}},
    {"pillar-indexer", {{"circuit.bias_resistance", 0.3}, {"disc.ceramic_thickness", 0.57}}},
    {"plate-sizer", {{"disc.ceramic_thickness", 0.6}, {"circuit.bias_upper", 1.2}}},
    {"edge-bonded", {{"circuit.leakage_resistance", 0.01}, {"disc.ceramic_d31", 0.5}}},
    {"pillar-indexer", {{"circuit.reference_lower", 0.8}, {"preload.force", 2}}},
    {"plate-sizer", {{"circuit.leakage_resistance", 0.01}, {"disc.metal_thickness", 1.5}}},
    {"edge-bonded", {{"circuit.reference_upper", 0.9}, {"disc.ceramic_permittivity", 1.8}}},
    {"pillar-indexer", {{"circuit.bias_upper", 1.5}, {"disc.metal_thickness", 1.4}}},
    {"plate-sizer", {{"preload.force", 2}, {"circuit.bias_resistance", 0.3}}},
    {"pillar-indexer",
     {{"circuit.feedback_resistance", 0.2}, {"circuit.leakage_resistance", 0.002}}},
};
enum { DOUBLES = sizeof doubles / sizeof doubles[0], FEW = 1 };

/* all numbers of the faulty unit's card, the test weight that of the sound one, with noise */
static size_t read_unit(const tw_design *sound, const tw_design *unit, double noise, uint64_t seed,
                        tw_bench_reading *reading)
{
  tw_bench_card *card = tw_alloc(1, sizeof *card);
  tw_bench_shown all[TW_BENCH_COUNT];
  tw_bench_instruments with = tw_bench_instruments_default();
  size_t n = 0;
  assert_int_equal(tw_bench_card_from(sound, NULL, 0, card, NULL), TW_OK);
  with.test_weight = card->test_weight;
  assert_int_equal(tw_bench_card_from(unit, &with, 0, card, NULL), TW_OK);
  tw_bench_shown_of(card, all);
  for (int i = 0; i < card->count; i++) {
    const tw_bench_id id = card->check[i].id;
    if (!all[id].known || (all[id].word && id == TW_BENCH_WIRE_BREAK)) {
      continue;
    }
    tw_random r;
    tw_random_start(&r, seed, (uint64_t)id);
    reading[n++] = (tw_bench_reading){.id = id,
                                      .kind = all[id].word ? TW_READ_WORD : TW_READ_NUMBER,
                                      .value = all[id].value * (1 + noise * tw_random_normal(&r)),
                                      .u = noise * fabs(all[id].value),
                                      .word = all[id].word};
  }
  tw_free(card);
  return n;
}

static bool is_pair(const tw_explanation *e, tw_field a, tw_field b)
{
  return e->causes == 2 && ((e->cause[0].field == a && e->cause[1].field == b) ||
                            (e->cause[0].field == b && e->cause[1].field == a));
}

/* place of the pair among what can be told apart, from 1; 0: not listed */
static int place_of(const tw_explanations *found, tw_field a, tw_field b)
{
  int place = 0;
  for (size_t i = 0; i < found->count; i++) {
    const tw_explanation *e = &found->of[i];
    place += e->like < 0;
    if (is_pair(e, a, b)) {
      if (e->like < 0) {
        return place;
      }
      int first = 0;
      for (int k = 0; k <= e->like; k++) {
        first += found->of[k].like < 0;
      }
      return first;
    }
  }
  return 0;
}

static int place_found(const made *m, double noise, size_t number, tw_explanations *found)
{
  tw_design *sound = example(m->design), *unit = NULL;
  tw_field field[2];
  double value[2];
  tw_bench_reading reading[TW_BENCH_COUNT];
  for (int i = 0; i < 2; i++) {
    field[i] = tw_field_find(m->fault[i].field);
    value[i] = tw_design_number(sound, field[i]) * m->fault[i].factor;
  }
  assert_int_equal(tw_design_with(sound, 2, field, value, &unit), TW_OK);
  const size_t n = read_unit(sound, unit, noise, 20260727 + number, reading);
  assert_int_equal(tw_identify_causes(sound, units, NULL, reading, n, found, NULL), TW_OK);
  const int place = place_of(found, field[0], field[1]);
  print_message("%-15s %s and %s: %d (%.1f cards)\n", m->design, m->fault[0].field,
                m->fault[1].field, place, (double)found->cards);
  for (size_t i = 0; i < 3 && place != 1 && i < found->count; i++) {
    const tw_explanation *e = &found->of[i];
    print_message("    %s%s%s misfit %.1f cost %.1f\n", tw_field_of(e->cause[0].field)->path,
                  e->causes > 1 ? " and " : "",
                  e->causes > 1 ? tw_field_of(e->cause[1].field)->path : "", e->misfit, e->cost);
  }
  tw_design_free(unit);
  tw_design_free(sound);
  return place;
}

static size_t found_of(double noise, size_t count)
{
  tw_explanations *found = tw_alloc(1, sizeof *found);
  size_t good = 0;
  for (size_t i = 0; i < count; i++) {
    const int place = place_found(&doubles[i], noise, i, found);
    good += place >= 1 && place <= 3;
  }
  tw_free(found);
  return good;
}

static void two_things_wrong(void **state)
{
  (void)state;
  const bool prove = getenv("TW_PROVE") != NULL;
  const size_t count = prove ? DOUBLES : FEW, good = found_of(0.01, count);
  print_message("1 %% noise: %zu of %zu\n", good, count);
  /* 18 are wanted; what it reaches is held so that it gets no worse */
  assert_true(prove ? good >= 17 : good == count);
  if (prove) {
    print_message("2 %% noise: %zu of %zu, 16 are wanted\n", found_of(0.02, count), count);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(two_things_wrong)};
  return cmocka_run_group_tests(tests, open_all, close_all);
}
