/* Parts as choices: another row of the library is the design read with its word, to the bit. */
#include "design_fixture.h"
#include "tripwright/study_design.h"

#include <stdio.h>

#define PROBE                                                                                      \
  "disc: {part: brass_20_3k6, contact_face: ceramic, poling: plus}\n"                              \
  "support: {kind: ledge, ledge_radius: 9.3 mm, void_depth: 60 um}\n"                              \
  "seat: {kind: pivot, ball_radius: 4 mm, flat_radius: 3.5 mm, flat_height: 0 mm, friction: "      \
  "0.15}\n"                                                                                        \
  "preload: {force: 0.8 N}\n"                                                                      \
  "stylus: {reach: 32 mm, stem: carbide, stem_diameter: 1.5 mm, ball: zirconia, ball_diameter: 2 " \
  "mm}\n"                                                                                          \
  "circuit: {kind: comparator, supply: 5 V, amplifier: comparator_micropower_oc,\n"                \
  "          bias_resistance: 1M0, bias_upper: 100k, bias_lower: 33k, reference_upper: 100k,\n"    \
  "          reference_lower: 43k, feedback_resistance: 2M2, clamp: rails}\n"                      \
  "output: {kind: open_collector, pull_up: 47k}\n"

static const char probe[] =
    PROBE "requirements: {resonance_free: \">= 6 kHz\", trip_force_side: \"<= 0.15 N\"}\n"
          "parts: {stylus: {state: ordered}}\n";

static tw_design *read_probe(const tw_set *sets, size_t count, tw_status *status)
{
  const tw_read_options options = {
      .units = units, .library = library, .need = TW_NEED_ALL, .sets = sets, .set_count = count};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  *status = tw_design_parse(probe, strlen(probe), NULL, &options, messages, &design);
  tw_messages_free(messages);
  return design;
}

static tw_status read_with(void *self, const char *path, const char *word, tw_design **out)
{
  const tw_set set = {path, word};
  tw_status status;
  ++*(int *)self;
  *out = read_probe(&set, 1, &status);
  return status;
}

typedef struct subject {
  tw_design *design;
  tw_limits limits;
  tw_study *study;
  tw_levers *levers;
  int reads;
} subject;

static void open_subject(subject *s, const char *const *frees, size_t n)
{
  tw_status status;
  memset(s, 0, sizeof *s);
  s->design = read_probe(NULL, 0, &status);
  assert_int_equal(status, TW_OK);
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_limits_read(s->design, units, messages, &s->limits), TW_OK);
  tw_messages_free(messages);
  const tw_study_level level = {.threads = 2};
  assert_int_equal(tw_study_new(s->design, units, &s->limits, &level, &s->study, NULL), TW_OK);
  const tw_lever_options options = {.free_part = frees,
                                    .frees = n,
                                    .library = library,
                                    .read_with = read_with,
                                    .self = &s->reads};
  assert_int_equal(tw_study_levers(s->study, &options, &s->levers, NULL), TW_OK);
}

static void close_subject(subject *s)
{
  tw_levers_free(s->levers);
  tw_study_free(s->study);
  tw_design_free(s->design);
}

static const tw_lever *lever_named(const subject *s, const char *name)
{
  for (size_t i = 0; i < s->levers->count; i++) {
    if (strcmp(s->levers->lever[i].name, name) == 0) {
      return &s->levers->lever[i];
    }
  }
  return NULL;
}

static void parts_of_the_same_kind_are_choices(void **state)
{
  (void)state;
  subject s;
  open_subject(&s, NULL, 0);
  const tw_lever *disc = lever_named(&s, "disc.part");
  assert_non_null(disc);
  assert_true(disc->unordered);
  const tw_study_input *in = &s.study->input[disc->input];
  /* only discs that a ledge of 9.3 mm carries at all, and its own */
  assert_true(in->choices >= 2 && in->choices < tw_library_count(library, TW_KIND_DISC));
  assert_string_equal(in->choice[(size_t)in->now].word, "brass_20_3k6");
  bool other = false;
  for (size_t i = 0; i < in->choices; i++) {
    other |= strcmp(in->choice[i].word, "brass_20_6k3") == 0;
    assert_string_not_equal(in->choice[i].word, "brass_15_6k0"); /* it falls through */
  }
  assert_true(other);
  /* amplifiers are no comparators; what the rows do not state is left out */
  const tw_lever *amplifier = lever_named(&s, "circuit.amplifier");
  assert_non_null(amplifier);
  for (size_t i = 0; i < s.study->input[amplifier->input].choices; i++) {
    assert_null(strstr(s.study->input[amplifier->input].choice[i].word, "opamp"));
  }
  /* the stylus is ordered: it is no choice, and does not count among what may be moved */
  assert_null(lever_named(&s, "stylus.ball"));
  assert_non_null(lever_named(&s, "stylus.reach"));
  size_t fixed = 0;
  for (size_t i = 0; i < s.levers->count; i++) {
    fixed += strncmp(s.levers->lever[i].name, "stylus.", 7) == 0;
  }
  assert_true(fixed >= 3);
  assert_int_equal(tw_levers_free_ones(s.levers), s.levers->count - fixed);
  close_subject(&s);
  /* freed, a ball is a ball and no stem is a ball */
  static const char *const stylus[] = {"stylus"};
  open_subject(&s, stylus, 1);
  const tw_lever *ball = lever_named(&s, "stylus.ball");
  assert_non_null(ball);
  for (size_t i = 0; i < s.study->input[ball->input].choices; i++) {
    assert_string_not_equal(s.study->input[ball->input].choice[i].word, "titanium");
    assert_string_not_equal(s.study->input[ball->input].choice[i].word, "brass");
  }
  assert_int_equal(tw_levers_free_ones(s.levers), s.levers->count);
  close_subject(&s);
}

/* every output of the study against an assessment of the design given */
static void is_assessment_of(const subject *s, const double *x, const tw_design *design)
{
  const tw_study_model model = tw_study_as_model(s->study);
  double y[TW_MEASURE_COUNT];
  unsigned char outcome[TW_MEASURE_COUNT];
  const tw_assess_options options = {.azimuths = 8, .seat_steps = 8};
  tw_assessment *a = tw_alloc(1, sizeof *a);
  assert_non_null(a);
  assert_int_equal(tw_study_evaluate(&model, 1, x, y, outcome, NULL), TW_OK);
  assert_int_equal(tw_assess(design, &options, a, NULL), TW_OK);
  for (size_t j = 0; j < s->study->outputs; j++) {
    const tw_measure *m = &a->measure[s->study->measure[j]];
    if (m->state == TW_MEASURE_OK && !m->word && y[j] != fabs(m->value)) {
      fail_msg("%s: %.17g, not %.17g", tw_measure_about(s->study->measure[j])->name, y[j],
               fabs(m->value));
    }
  }
  tw_free(a);
}

static void a_choice_is_the_design_read_with_it(void **state)
{
  (void)state;
  static const char *const stylus[] = {"stylus"};
  subject s;
  open_subject(&s, stylus, 1);
  for (size_t l = 0; l < s.levers->count; l++) {
    const tw_study_input *in = &s.study->input[s.levers->lever[l].input];
    for (size_t i = 0; in->choice && i < in->choices; i++) {
      const tw_set set = {in->path, in->choice[i].word};
      tw_status status;
      double x[TW_FIELD_COUNT];
      tw_design *other = read_probe(&set, 1, &status);
      assert_int_equal(status, TW_OK);
      memcpy(x, s.study->now, sizeof x);
      x[s.levers->lever[l].input] = (double)i;
      is_assessment_of(&s, x, other);
      tw_design_free(other);
    }
  }
  close_subject(&s);
}

/* a tolerance of the disc stays about what the chosen disc has */
static void a_tolerance_goes_with_the_part(void **state)
{
  (void)state;
  subject s;
  size_t thickness;
  open_subject(&s, NULL, 0);
  assert_int_equal(tw_study_add(s.study, TW_F_disc_ceramic_thickness, &thickness, NULL), TW_OK);
  const tw_lever *disc = lever_named(&s, "disc.part");
  const tw_set set = {"disc.part", "brass_20_6k3"};
  tw_status status;
  double x[TW_FIELD_COUNT];
  tw_design *other = read_probe(&set, 1, &status), *thicker = tw_design_clone(other);
  const double there = tw_design_number(other, TW_F_disc_ceramic_thickness);
  memcpy(x, s.study->now, sizeof x);
  for (size_t i = 0; i < s.study->input[disc->input].choices; i++) {
    if (strcmp(s.study->input[disc->input].choice[i].word, "brass_20_6k3") == 0) {
      x[disc->input] = (double)i;
    }
  }
  assert_true(x[disc->input] != s.study->now[disc->input]);
  x[thickness] = s.study->now[thickness] + 10e-6;
  tw_design_put(thicker, TW_F_disc_ceramic_thickness,
                x[thickness] + (there - s.study->now[thickness]));
  assert_true(there != s.study->now[thickness]);
  is_assessment_of(&s, x, thicker);
  tw_design_free(thicker);
  tw_design_free(other);
  close_subject(&s);
}

/* Lengths of the axial stack: what is left is the sum less the tolerances, and a stack that is too
 * long misses its requirement though its magnitude would keep it. */
static void a_length_of_the_stack_is_a_lever(void **state)
{
  (void)state;
  static const char text[] =
      PROBE "requirements: {stack_clearance: \">= 0.1 mm\"}\n"
            "stack:\n"
            "  chain: [[housing, 40 mm ± 0.1], [disc, -6 mm], [board, -4.6 mm ± 0.2], [plug, -29.7 "
            "mm]]\n";
  subject s;
  memset(&s, 0, sizeof s);
  s.design = good_design(text, TW_NEED_ALL);
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_limits_read(s.design, units, messages, &s.limits), TW_OK);
  tw_messages_free(messages);
  const tw_study_level level = {.threads = 2};
  assert_int_equal(tw_study_new(s.design, units, &s.limits, &level, &s.study, NULL), TW_OK);
  const tw_lever_options options = {.links = true};
  assert_int_equal(tw_study_levers(s.study, &options, &s.levers, NULL), TW_OK);
  const tw_lever *housing = lever_named(&s, "stack.chain: housing");
  const tw_lever *plug = lever_named(&s, "stack.chain: plug");
  assert_non_null(housing);
  assert_non_null(plug);
  assert_near(housing->most, 48e-3, 1e-12);
  assert_near(plug->least, -1.2 * 29.7e-3, 1e-12);
  const tw_study_model model = tw_study_as_model(s.study);
  const size_t j = tw_study_output(s.study, TW_M_stack_clearance);
  double x[TW_FIELD_COUNT], y[TW_MEASURE_COUNT];
  unsigned char outcome[TW_MEASURE_COUNT];
  memcpy(x, s.study->now, sizeof x);
  /* 40 - 6 - 4.6 - 29.7 = -0.3 mm, 0.1 and 0.2 less in the worst case */
  assert_int_equal(tw_study_evaluate(&model, 1, x, y, outcome, NULL), TW_OK);
  assert_near(y[j], -0.6e-3, 1e-12);
  assert_true(tw_goals_margin(s.study->goal, s.study->goals, y, outcome, NULL) < 0);
  x[housing->input] += 0.5e-3;
  x[plug->input] += 0.25e-3;
  assert_int_equal(tw_study_evaluate(&model, 1, x, y, outcome, NULL), TW_OK);
  assert_near(y[j], 0.15e-3, 1e-12);
  /* and nothing of it stays behind */
  assert_int_equal(tw_study_evaluate(&model, 1, s.study->now, y, outcome, NULL), TW_OK);
  assert_near(y[j], -0.6e-3, 1e-12);
  size_t input;
  assert_int_equal(tw_study_add_link(s.study, 4, &input, NULL), TW_BAD_INPUT);
  close_subject(&s);
}

/* The disc rings too low: the only way is another disc. Of several parts that help, the one with
 * the best margin. */
static void remedy_chooses_the_disc(void **state)
{
  (void)state;
  subject s;
  open_subject(&s, NULL, 0);
  const tw_study_model model = tw_study_as_model(s.study);
  const tw_remedy_problem problem = {.model = &model,
                                     .x0 = s.study->now,
                                     .levers = s.levers->lever,
                                     .lever_count = s.levers->count,
                                     .remakes = s.levers->remake,
                                     .remake_count = s.levers->remakes,
                                     .limits = s.study->goal,
                                     .limit_count = s.study->goals};
  const tw_remedy_options options = {.threads = 2, .wanted = 1, .budget = 900};
  tw_remedies found;
  assert_int_equal(tw_remedy_search(&problem, &options, NULL, &found, NULL), TW_OK);
  assert_true(found.count >= 1);
  const tw_change *change = &found.remedy[0].change[0];
  const tw_study_input *in = &s.study->input[s.levers->lever[change->lever].input];
  assert_int_equal(found.remedy[0].changes, 1);
  assert_string_equal(in->path, "disc.part");
  assert_string_equal(in->choice[(size_t)change->to].word, "brass_20_6k3");
  close_subject(&s);
}

/* y = the number of the chosen entry, through a table that has no order */
static tw_status by_table(void *self, int worker, const double *x, double *y,
                          unsigned char *outcome, tw_fault *fault)
{
  static const double table[6] = {0.2, 3, -1, 5, 1.5, 2};
  (void)self;
  (void)worker;
  (void)fault;
  y[0] = table[(size_t)x[0]];
  outcome[0] = TW_OUTCOME_OK;
  return TW_OK;
}

static void an_unordered_list_gives_its_best(void **state)
{
  (void)state;
  const tw_study_model model = {1, 1, by_table, NULL};
  static const double list[6] = {0, 1, 2, 3, 4, 5};
  const double x0 = 2;
  const tw_remake part = {.name = "disc"};
  const tw_goal limit = {"y", 0, true, false, 1, 0};
  tw_lever lever = {.name = "part", .now = 2, .choices = list, .choice_count = 6};
  const tw_remedy_problem problem = {&model, &x0, &lever, 1, &part, 1, &limit, 1, 0};
  tw_remedies found;
  /* in an ordered list the nearest that helps is the smallest change; parts have no nearest */
  assert_int_equal(tw_remedy_search(&problem, NULL, NULL, &found, NULL), TW_OK);
  assert_true(found.remedy[0].change[0].to == 1 || found.remedy[0].change[0].to == 3);
  lever.unordered = true;
  assert_int_equal(tw_remedy_search(&problem, NULL, NULL, &found, NULL), TW_OK);
  assert_int_equal(found.count, 1);
  assert_near(found.remedy[0].change[0].to, 3, 0);
  assert_near(found.remedy[0].size, 0.5, 0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(parts_of_the_same_kind_are_choices),
      cmocka_unit_test(a_choice_is_the_design_read_with_it),
      cmocka_unit_test(a_tolerance_goes_with_the_part),
      cmocka_unit_test(a_length_of_the_stack_is_a_lever),
      cmocka_unit_test(remedy_chooses_the_disc),
      cmocka_unit_test(an_unordered_list_gives_its_best),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
