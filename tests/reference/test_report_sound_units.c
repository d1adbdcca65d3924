/* Units that are sound: every toleranced value of a design is drawn inside its tolerance as
 * `spread` draws it, the bench card of that unit is read, and the search, which knows the nominal
 * design only, has to leave it alone. */
#include "design_fixture.h"
#include "tripwright/bench_suspect.h"
#include "tripwright/random.h"
#include "tripwright/study_design.h"

#include <stdio.h>
#include <stdlib.h>

/* share of a normal law below its lower limit, which is two standard deviations off */
#define OUTSIDE 0.02275

static const tw_bench_id usual[] = {
    TW_BENCH_SUPPLY_CURRENT, TW_BENCH_REFERENCE, TW_BENCH_BIAS,        TW_BENCH_REST_NODE,
    TW_BENCH_THRESHOLD,      TW_BENCH_RELEASE,   TW_BENCH_PUSH_SIGN,   TW_BENCH_CAPACITANCE_MOUNTED,
    TW_BENCH_LIFT_PEAK,      TW_BENCH_DECAY,     TW_BENCH_WEIGHT_SIDE, TW_BENCH_WEIGHT_AXIAL,
    TW_BENCH_CHAIN_CLOSED,   TW_BENCH_CHAIN_TRIP};

typedef struct subject {
  tw_design *design;
  tw_limits limits;
  tw_study *study;
  tw_sampler *sampler;
  tw_bench_card *sound, *card; /* of the nominal design, of the unit at hand */
  tw_suspicion *found;
} subject;

static void open_subject(subject *s, const char *example)
{
  char path[200];
  snprintf(path, sizeof path, TW_SOURCE_DIR "/examples/%s.yaml", example);
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  const tw_study_level level = {.threads = 1};
  tw_messages *messages = tw_messages_new();
  *s = (subject){.sound = tw_alloc(1, sizeof *s->sound),
                 .card = tw_alloc(1, sizeof *s->card),
                 .found = tw_alloc(1, sizeof *s->found)};
  assert_int_equal(tw_design_read(path, &options, messages, &s->design), TW_OK);
  assert_int_equal(tw_limits_read(s->design, units, messages, &s->limits), TW_OK);
  tw_messages_free(messages);
  assert_int_equal(tw_study_new(s->design, units, &s->limits, &level, &s->study, NULL), TW_OK);
  assert_int_equal(tw_study_add_toleranced(s->study, NULL), TW_OK);
  assert_int_equal(tw_study_sampler(s->study, NULL, 0, 12, &s->sampler, NULL), TW_OK);
  assert_int_equal(tw_bench_card_from(s->design, NULL, 0, s->sound, NULL), TW_OK);
}

static void close_subject(subject *s)
{
  tw_free(s->found);
  tw_free(s->card);
  tw_free(s->sound);
  tw_sampler_free(s->sampler);
  tw_study_free(s->study);
  tw_design_free(s->design);
}

/* unit number i, every value inside its tolerance */
static tw_design *unit_of(const subject *s, size_t i)
{
  double x[TW_FIELD_COUNT];
  tw_random random;
  tw_random_start(&random, 12, i);
  for (size_t k = 0; k < s->study->inputs; k++) {
    x[k] = OUTSIDE + (1 - 2 * OUTSIDE) * tw_random_uniform(&random);
  }
  tw_sampler_from_uniform(s->sampler, x, x);
  tw_design *unit = tw_design_clone(s->design);
  for (size_t k = 0; k < s->study->inputs; k++) {
    const tw_study_input *in = &s->study->input[k];
    if (!in->choice && !in->cell && in->field != TW_F_seat_friction) {
      tw_design_put(unit, in->field, x[k]);
    }
  }
  return unit;
}

static size_t read_unit(const subject *s, const tw_design *unit, tw_bench_reading *reading)
{
  tw_bench_shown shown[TW_BENCH_COUNT];
  tw_bench_instruments with = tw_bench_instruments_default();
  size_t n = 0;
  with.test_weight = s->sound->test_weight;
  assert_int_equal(tw_bench_card_from(unit, &with, 0, s->card, NULL), TW_OK);
  tw_bench_shown_of(s->card, shown);
  for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
    const tw_bench_shown *one = &shown[usual[i]];
    if (one->there) {
      reading[n++] = (tw_bench_reading){.id = usual[i],
                                        .kind = one->word    ? TW_READ_WORD
                                                : one->known ? TW_READ_NUMBER
                                                             : TW_READ_NONE,
                                        .value = one->value,
                                        .word = one->word};
    }
  }
  return n;
}

/* is the unit called faulty: a reading outside of what a good unit shows */
static bool blamed(subject *s, size_t i)
{
  tw_bench_reading reading[TW_BENCH_COUNT];
  tw_design *unit = unit_of(s, i);
  const size_t n = read_unit(s, unit, reading);
  assert_int_equal(tw_bench_suspect(s->design, units, NULL, reading, n, 0, NULL, s->found, NULL),
                   TW_OK);
  tw_design_free(unit);
  for (size_t k = 0; k < n && s->found->out > 0; k++) {
    if (s->found->reads[k] != TW_READS_AS_EXPECTED) {
      const tw_bench_check *c = tw_bench_find(&s->found->card, reading[k].id);
      print_message("  unit %zu: %s reads %.4g, %.2f deviations off\n", i, c->name,
                    reading[k].value, s->found->off[k]);
    }
  }
  return s->found->out > 0;
}

static void sound_units_are_left_alone(void **state)
{
  (void)state;
  static const char *const example[] = {"pillar-indexer", "plate-sizer", "gearbox-tripod",
                                        "edge-bonded"};
  const bool all = getenv("TW_PROVE") != NULL;
  const size_t units_of = all ? 20 : 6, most = 1;
  for (size_t e = 0; e < (all ? 4 : 1); e++) {
    subject s;
    size_t faulty = 0;
    open_subject(&s, example[e]);
    for (size_t i = 0; i < units_of; i++) {
      faulty += blamed(&s, i);
    }
    print_message("%s: %zu of %zu sound units called faulty\n", example[e], faulty, units_of);
    assert_true(faulty <= most);
    close_subject(&s);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(sound_units_are_left_alone)};
  return cmocka_run_group_tests(tests, open_all, close_all);
}
