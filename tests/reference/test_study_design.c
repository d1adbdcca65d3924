/* A design as a study: against assessments made one by one, for any number of threads, and cures
 * that the assessment itself confirms. */
#include "design_fixture.h"
#include "tripwright/study_design.h"

#include <stdio.h>
#include <stdlib.h>

typedef struct subject {
  tw_design *design;
  tw_limits limits;
  tw_study *study;
} subject;

static void open_subject_with(subject *s, const char *example, const tw_set *sets, size_t set_count,
                              const tw_study_level *level)
{
  tw_messages *messages = tw_messages_new();
  memset(s, 0, sizeof *s);
  s->design = example_with(example, sets, set_count);
  assert_int_equal(tw_limits_read(s->design, units, messages, &s->limits), TW_OK);
  tw_messages_free(messages);
  tw_fault fault = {0};
  assert_int_equal(tw_study_new(s->design, units, &s->limits, level, &s->study, &fault), TW_OK);
}

static void open_subject(subject *s, const char *example, const char *set_path,
                         const char *set_text, const tw_study_level *level)
{
  const tw_set set = {set_path, set_text};
  open_subject_with(s, example, &set, set_path ? 1 : 0, level);
}

static void close_subject(subject *s)
{
  tw_study_free(s->study);
  tw_design_free(s->design);
}

/* ---- what varies --------------------------------------------------------------------------- */

static const tw_study_input *input_named(const tw_study *study, const char *path)
{
  for (size_t k = 0; k < study->inputs; k++) {
    if (strcmp(study->input[k].path, path) == 0) {
      return &study->input[k];
    }
  }
  return NULL;
}

static void laws(void **state)
{
  (void)state;
  subject s;
  const tw_study_level level = {.threads = 1};
  open_subject(&s, "pillar-indexer", NULL, NULL, &level);
  assert_int_equal(tw_study_add_toleranced(s.study, NULL), TW_OK);
  const tw_study_input *ledge = input_named(s.study, "support.ledge_radius");
  assert_non_null(ledge);
  assert_int_equal(ledge->law.law, TW_LAW_NORMAL);
  assert_near(ledge->now, 9.3e-3, 1e-15);
  assert_near(ledge->law.minus, 0.05e-3, 1e-15);
  assert_string_equal(ledge->si, "m");
  const tw_study_input *hollow = input_named(s.study, "support.void_depth");
  assert_near(hollow->law.plus, 20e-6, 1e-15);
  assert_near(hollow->law.minus, 0, 1e-15);
  /* a resistor without a tolerance of its own has that of the box it came from: 1 % */
  const tw_study_input *bias = input_named(s.study, "circuit.bias_resistance");
  assert_near(bias->law.minus, 0.01 * bias->now, 1e-6);
  assert_string_equal(bias->si, "ohm");
  assert_null(input_named(s.study, "circuit.resistor_drift"));
  /* said once as `friction`: one number, not two */
  assert_non_null(input_named(s.study, "seat.friction"));
  assert_null(input_named(s.study, "seat.friction_socket"));
  /* a direction that nobody knows is any direction */
  const tw_study_input *round = input_named(s.study, "seat.eccentricity_azimuth");
  assert_int_equal(round->law.law, TW_LAW_UNIFORM);
  assert_near(round->law.plus, 3.14159265358979, 1e-12);
  /* without a tolerance nothing is drawn */
  assert_null(input_named(s.study, "stylus.reach"));
  close_subject(&s);
}

static void refused_fields(void **state)
{
  (void)state;
  subject s;
  const tw_study_level level = {.threads = 1};
  open_subject(&s, "pillar-indexer", NULL, NULL, &level);
  size_t k;
  tw_fault fault = {0};
  assert_int_equal(tw_study_add(s.study, TW_F_seat_kind, &k, &fault), TW_BAD_INPUT);
  assert_string_equal(fault.field, "seat.kind");
  assert_int_equal(tw_study_add(s.study, TW_F_seat_pitch_radius, &k, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "tripod"));
  assert_int_equal(tw_study_add(s.study, TW_F_disc_hole_diameter, &k, &fault), TW_OK);
  assert_int_equal(tw_study_add(s.study, TW_F_seat_friction, &k, &fault), TW_OK);
  assert_int_equal(tw_study_add(s.study, TW_F_seat_friction_flat, &k, &fault), TW_BAD_INPUT);
  assert_int_equal(s.study->inputs, 2);
  assert_int_equal(tw_study_add(s.study, TW_F_seat_friction, &k, &fault), TW_OK);
  assert_int_equal(k, 1);
  assert_int_equal(s.study->inputs, 2);
  close_subject(&s);
}

/* ---- builds -------------------------------------------------------------------------------- */

static bool proving(void)
{
  return getenv("TW_PROVE") != NULL;
}

enum { BUILDS = 6 };

static void run_builds(subject *s, const tw_sampler *sampler, int threads, tw_builds **builds)
{
  const tw_study_model model = tw_study_as_model(s->study);
  const tw_spread_options options = {.threads = threads, .round = 4};
  assert_int_equal(tw_builds_new(0, BUILDS, model.outputs, builds, NULL), TW_OK);
  assert_int_equal(tw_spread_run(&model, sampler, *builds, &options, NULL, NULL), TW_OK);
}

/* the same build put into a design of its own and assessed by itself, to the bit */
static void compare_build(const subject *s, const double *x, const tw_builds *builds, size_t i)
{
  tw_field field[TW_FIELD_COUNT + 1];
  double number[TW_FIELD_COUNT + 1];
  size_t n = 0;
  for (size_t k = 0; k < s->study->inputs; k++) {
    field[n] = s->study->input[k].field;
    number[n++] = x[k];
    if (s->study->input[k].field == TW_F_seat_friction) {
      field[n - 1] = TW_F_seat_friction_socket;
      field[n] = TW_F_seat_friction_flat;
      number[n++] = x[k];
    }
  }
  tw_design *own = NULL;
  assert_int_equal(tw_design_with(s->design, n, field, number, &own), TW_OK);
  const tw_assess_options options = {.azimuths = 8, .seat_steps = 8};
  tw_assessment *a = tw_alloc(1, sizeof *a);
  tw_fault fault = {0};
  const tw_status status = tw_assess(own, &options, a, &fault);
  if (status != TW_OK) {
    print_error("%s: %s\n", fault.field, fault.text);
  }
  assert_int_equal(status, TW_OK);
  for (size_t j = 0; j < s->study->outputs; j++) {
    const tw_measure *m = &a->measure[s->study->measure[j]];
    const size_t at = i * builds->outputs + j;
    assert_int_equal(builds->outcome[at] == TW_OUTCOME_OK, m->state == TW_MEASURE_OK);
    if (m->state == TW_MEASURE_OK && !m->word) {
      assert_true(builds->y[at] == fabs(m->value));
    }
  }
  tw_free(a);
  tw_design_free(own);
}

static void builds_are_assessments(void **state)
{
  (void)state;
  subject s;
  const tw_study_level level = {.threads = 4};
  /* within what the comparator is specified for, with its tolerance */
  open_subject(&s, "pillar-indexer", "circuit.supply", "4.8 V ± 2 %", &level);
  assert_int_equal(tw_study_add_toleranced(s.study, NULL), TW_OK);
  tw_sampler *sampler = NULL;
  assert_int_equal(tw_study_sampler(s.study, NULL, 0, 5, &sampler, NULL), TW_OK);
  tw_builds *one = NULL, *four = NULL;
  run_builds(&s, sampler, 1, &one);
  run_builds(&s, sampler, 4, &four);
  assert_true(tw_builds_hash(one) == tw_builds_hash(four));
  assert_memory_equal(one->y, four->y, BUILDS * one->outputs * sizeof *one->y);
  double x[TW_FIELD_COUNT];
  double least = HUGE_VAL, most = 0;
  const size_t force = tw_study_output(s.study, TW_M_trip_force_side);
  for (size_t i = 0; i < BUILDS; i++) {
    tw_sampler_draw(sampler, i, x);
    if (i < 2 || proving()) {
      compare_build(&s, x, one, i);
    }
    least = fmin(least, one->y[i * one->outputs + force]);
    most = fmax(most, one->y[i * one->outputs + force]);
  }
  assert_true(most > 1.01 * least); /* the tolerances are felt */
  tw_builds_free(one);
  tw_builds_free(four);
  tw_sampler_free(sampler);
  close_subject(&s);
}

/* margins of the goals are those of `check` */
static void margins_agree(void **state)
{
  (void)state;
  const char *const example[] = {"pillar-indexer", "pillar-indexer-deaf", "gearbox-tripod",
                                 "edge-bonded"};
  for (size_t e = 0; e < sizeof example / sizeof example[0]; e++) {
    subject s;
    const tw_study_level level = {.threads = 1};
    open_subject(&s, example[e], NULL, NULL, &level);
    const tw_study_model model = tw_study_as_model(s.study);
    double y[TW_MEASURE_COUNT];
    unsigned char outcome[TW_MEASURE_COUNT];
    assert_true(s.study->goals > 0);
    assert_int_equal(tw_study_evaluate(&model, 0, s.study->now, y, outcome, NULL), TW_OK);
    for (size_t g = 0; g < s.study->goals; g++) {
      const tw_measure *m = &s.study->nominal.measure[s.study->measure[s.study->goal[g].output]];
      const double margin = tw_goal_margin(&s.study->goal[g], y, outcome);
      assert_int_equal(margin >= 0, m->met == TW_MET_YES);
      if (m->state == TW_MEASURE_OK && !m->word) {
        assert_near(margin, m->margin, 1e-12);
      }
    }
    close_subject(&s);
  }
}

static uint64_t hash_with(const char *path, const char *text, const tw_study_level *level)
{
  subject s;
  open_subject(&s, "pillar-indexer", path, text, level);
  const uint64_t hash = tw_study_hash(s.study);
  close_subject(&s);
  return hash;
}

static void hashes(void **state)
{
  (void)state;
  const tw_study_level level = {.threads = 1}, finer = {.azimuths = 12, .threads = 1},
                       more = {.threads = 3};
  const uint64_t plain = hash_with(NULL, NULL, &level);
  assert_true(plain == hash_with(NULL, NULL, &more));
  assert_true(plain == hash_with("revision", "9", &level)); /* a name is no number */
  assert_true(plain != hash_with(NULL, NULL, &finer));
  assert_true(plain != hash_with("seat.ball_radius", "4.01 mm", &level));
  assert_true(plain != hash_with("support.ledge_radius", "9.3 mm ± 0.06", &level));
  assert_true(plain != hash_with("circuit.clamp", "none", &level));
}

/* ---- cures --------------------------------------------------------------------------------- */

typedef struct search {
  tw_levers *levers;
  tw_remedies result;
} search;

static void find_cures(subject *s, const tw_lever_options *options, search *f)
{
  assert_int_equal(tw_study_levers(s->study, options, &f->levers, NULL), TW_OK);
  const tw_study_model model = tw_study_as_model(s->study);
  const tw_remedy_problem problem = {.model = &model,
                                     .x0 = s->study->now,
                                     .levers = f->levers->lever,
                                     .lever_count = f->levers->count,
                                     .remakes = f->levers->remake,
                                     .remake_count = f->levers->remakes,
                                     .limits = s->study->goal,
                                     .limit_count = s->study->goals};
  const tw_remedy_options how = {.threads = s->study->level.threads, .budget = 3000};
  assert_int_equal(tw_remedy_search(&problem, &how, NULL, &f->result, NULL), TW_OK);
}

static bool moves(const search *f, const tw_remedy *remedy, const char *path)
{
  for (size_t i = 0; i < remedy->changes; i++) {
    if (strcmp(f->levers->lever[remedy->change[i].lever].name, path) == 0) {
      return true;
    }
  }
  return false;
}

/* put the cure into the design and let the assessment judge all of it */
static void confirm(const subject *s, const search *f, const tw_remedy *remedy,
                    const tw_study_level *level)
{
  tw_field field[2 * TW_REMEDY_CHANGES];
  double number[2 * TW_REMEDY_CHANGES];
  size_t n = 0;
  for (size_t i = 0; i < remedy->changes; i++) {
    field[n] = s->study->input[f->levers->lever[remedy->change[i].lever].input].field;
    number[n++] = remedy->change[i].to;
    if (field[n - 1] == TW_F_seat_friction) { /* stands for both */
      field[n - 1] = TW_F_seat_friction_socket;
      field[n] = TW_F_seat_friction_flat;
      number[n++] = remedy->change[i].to;
    }
  }
  tw_design *cured = NULL;
  assert_int_equal(tw_design_with(s->design, n, field, number, &cured), TW_OK);
  const tw_assess_options options = {
      .azimuths = level->azimuths, .timed = level->timed, .limits = &s->limits};
  tw_assessment *a = tw_alloc(1, sizeof *a);
  assert_int_equal(tw_assess(cured, &options, a, NULL), TW_OK);
  assert_int_equal(a->met, a->asked);
  assert_true(a->asked > 0);
  tw_free(a);
  tw_design_free(cured);
}

/* A broken design whose cure is known. Only the parts named in `open` may be remade, so that a
 * search takes seconds. */
typedef struct broken {
  const char *what, *example;
  tw_set set[6];       /* what was done to the example */
  const char *cure[2]; /* fields of which one must move */
  const char *open[4];
  const char *keep[2];  /* fields of those that stay */
  tw_lever_range range; /* of a field that belongs to no part; .most 0: none */
  bool timed;
} broken;

static const char *const all_parts[] = {"amplifier", "battery", "board",   "cable",   "capacitor",
                                        "carrier",   "disc",    "foam",    "housing", "machine",
                                        "holddown",  "plug",    "preload", "program", "resistor",
                                        "screws",    "socket",  "spring",  "stylus",  "support"};

enum { ALL_PARTS = sizeof all_parts / sizeof all_parts[0] };

enum { KEEPS = ALL_PARTS + 2 };

/* every part stays but those that are open, and of these the named fields */
static tw_lever_options only_open(const broken *b, const char **keep)
{
  const char *const *open = b->open;
  size_t n = 0;
  while (n < 2 && b->keep[n]) {
    keep[n] = b->keep[n];
    n++;
  }
  for (size_t i = 0; i < ALL_PARTS; i++) {
    bool is_open = false;
    for (size_t k = 0; k < 4 && open[k]; k++) {
      is_open = is_open || strcmp(open[k], all_parts[i]) == 0;
    }
    if (!is_open) {
      keep[n++] = all_parts[i];
    }
  }
  return (tw_lever_options){.keep = keep, .keeps = n};
}

static void open_broken(subject *s, const broken *b, const tw_study_level *level)
{
  size_t sets = 0;
  while (sets < sizeof b->set / sizeof b->set[0] && b->set[sets].path) {
    sets++;
  }
  open_subject_with(s, b->example, b->set, sets, level);
}

static void find_known_cure(const broken *b)
{
  const tw_study_level level = {.azimuths = proving() ? 8 : 4, .timed = b->timed, .threads = 2};
  const char *keep[KEEPS];
  tw_lever_options options = only_open(b, keep);
  options.range = &b->range;
  options.ranges = b->range.most > 0 ? 1 : 0;
  subject s;
  search f = {0};
  open_broken(&s, b, &level);
  assert_true(s.study->nominal.met < s.study->nominal.asked);
  find_cures(&s, &options, &f);
  print_message("%s: %d of %d met; %zu values, %zu cures, %zu evaluations\n", b->what,
                s.study->nominal.met, s.study->nominal.asked, f.levers->count, f.result.count,
                f.result.evaluations);
  bool found = false;
  for (size_t k = 0; k < f.result.count && k < 3; k++) {
    confirm(&s, &f, &f.result.remedy[k], &level);
    for (size_t c = 0; c < f.result.remedy[k].changes; c++) {
      const tw_lever *lever = &f.levers->lever[f.result.remedy[k].change[c].lever];
      print_message("  %zu: %s %g -> %g\n", k + 1, lever->name, lever->now,
                    f.result.remedy[k].change[c].to);
    }
    for (size_t c = 0; c < 2 && b->cure[c]; c++) {
      found = found || moves(&f, &f.result.remedy[k], b->cure[c]);
    }
  }
  assert_true(found);
  tw_levers_free(f.levers);
  close_subject(&s);
}

/* within what the comparator is specified for */
#define SUPPLY                                                                                     \
  {                                                                                                \
    "circuit.supply", "4.8 V"                                                                      \
  }

static const broken known[] = {
    {.what = "void used up",
     .example = "pillar-indexer",
     .set = {SUPPLY, {"support.void_depth", "9 um"}},
     .cure = {"support.void_depth"},
     .open = {"support", "preload", "disc"}},
    {.what = "ledge inside the ceramic",
     .example = "pillar-indexer",
     .set = {SUPPLY,
             {"support.ledge_radius", "6 mm"},
             {"requirements.charge_per_newton", ">= 70 nC/N"}},
     .cure = {"support.ledge_radius"},
     .open = {"support", "preload", "carrier"}},
    {.what = "preload too high",
     .example = "pillar-indexer",
     .set = {SUPPLY, {"preload.force", "2.5 N"}},
     .cure = {"preload.force"},
     .open = {"preload", "carrier", "stylus"}},
    {.what = "threshold under the bias error",
     .example = "pillar-indexer",
     .set = {SUPPLY,
             {"circuit.reference_lower", "33.2 kohm"},
             {"requirements.output_hold_time", ">= 5 ms"}},
     .cure = {"circuit.reference_lower"},
     .open = {"resistor"}},
    {.what = "drift",
     .example = "pillar-indexer",
     .set = {SUPPLY,
             {"circuit.bias_resistance", "10 Mohm"},
             {"requirements.rest_drift_voltage", "<= 2 mV"}},
     .cure = {"circuit.bias_resistance"},
     .open = {"resistor"}},
    {.what = "friction locks",
     .example = "pillar-indexer",
     .set = {SUPPLY, {"seat.friction", "0.6"}},
     .cure = {"seat.friction"},
     .open = {"carrier"},
     .range = {TW_F_seat_friction, 0.05, 0.6}},
    {.what = "stem too thin",
     .example = "pillar-indexer",
     .set = {SUPPLY, {"stylus.stem_diameter", "0.7 mm"}},
     .cure = {"stylus.stem_diameter"},
     .open = {"stylus", "preload"}},
    {.what = "feed too slow",
     .example = "pillar-indexer",
     .set = {SUPPLY, {"machine.feed", "10 mm/min"}, {"requirements.pretravel_at_feed", "<= 40 um"}},
     .cure = {"machine.feed"},
     .open = {"program"},
     .timed = true},
    {.what = "jitter of the radio",
     .example = "pillar-indexer",
     .set = {SUPPLY,
             {"link.kind", "radio"},
             {"link.jitter", "4 ms"},
             {"link.battery_capacity", "200 mAh"},
             {"link.current_ready", "5 mA"},
             {"requirements.link_position_error", "<= 2 um"}},
     .cure = {"link.jitter", "machine.feed"},
     .open = {"board", "program"}},
    {.what = "hold-down too stiff",
     .example = "pillar-indexer",
     .set = {SUPPLY, {"holddown.precompression", "8 mm"}, {"requirements.crash_force", "<= 6 N"}},
     .cure = {"holddown.precompression"},
     .open = {"foam", "housing"}},
    {.what = "stack too tight",
     .example = "pillar-indexer",
     .set = {SUPPLY, {"preload.kind", "interference"}, {"preload.interference", "20 um"}},
     .cure = {"preload.interference"},
     .open = {"preload", "carrier", "support"}},
    {.what = "too hard to lift",
     .example = "gearbox-tripod",
     .set = {{"preload.force", "3 N"}},
     .cure = {"preload.force"},
     .open = {"preload", "spring"}},
};

static void known_cure(void **state)
{
  (void)state;
  find_known_cure(&known[0]);
}

static void known_cures(void **state)
{
  (void)state;
  if (!proving()) {
    skip();
  }
  for (size_t i = 1; i < sizeof known / sizeof known[0]; i++) {
    find_known_cure(&known[i]);
  }
}

/* the sideways force is what the preload times its arm makes it: little force and much preload
 * cannot be had together when nothing else may move, and either alone can */
static void excluded(void **state)
{
  (void)state;
  const broken b = {.example = "pillar-indexer",
                    .set = {SUPPLY,
                            {"requirements.trip_force_side", "<= 0.1 N"},
                            {"requirements.preload_actual", ">= 1.2 N"}},
                    .open = {"preload"}};
  const tw_study_level level = {.azimuths = 4, .threads = 2};
  const char *keep[KEEPS];
  const tw_lever_options options = only_open(&b, keep);
  subject s;
  search f = {0};
  open_broken(&s, &b, &level);
  find_cures(&s, &options, &f);
  assert_int_equal(f.result.count, 0);
  const tw_exclusion *e = &f.result.exclusion;
  assert_true(e->found);
  const char *one = s.study->goal[e->a].name, *other = s.study->goal[e->b].name;
  print_message("%s against %s: together %g, alone %g and %g; %zu evaluations\n", one, other,
                e->margin, e->alone_a, e->alone_b, f.result.evaluations);
  assert_true((strcmp(one, "trip_force_side") == 0 && strcmp(other, "preload_actual") == 0) ||
              (strcmp(other, "trip_force_side") == 0 && strcmp(one, "preload_actual") == 0));
  assert_true(e->margin < 0 && e->alone_a >= 0 && e->alone_b >= 0);
  tw_levers_free(f.levers);
  close_subject(&s);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(laws),
      cmocka_unit_test(refused_fields),
      cmocka_unit_test(builds_are_assessments),
      cmocka_unit_test(margins_agree),
      cmocka_unit_test(hashes),
      cmocka_unit_test(known_cure),
      cmocka_unit_test(excluded),
      cmocka_unit_test(known_cures),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
