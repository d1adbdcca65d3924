/* What `remedy` proposes, written into the file as `remedy --apply` writes it and held against what
 * `check` says of that file: over random designs of all families. */
#include "design_fixture.h"
#include "random_designs.h"
#include "tripwright/files.h"
#include "tripwright/study_run.h"

#include <stdlib.h>
#include <unistd.h>

#define SEED 20260402 /* any */
/* requirements as shares of the drawn design's own figures: two are missed by so much */
#define SIDE_SHARE 0.85
#define OVER_SHARE 1.1
/* few trials keep the test short; the promise must hold for any budget */
#define BUDGET   40
#define AZIMUTHS 4

static uint64_t designs(void)
{
  const char *prove = getenv("TW_PROVE");
  return prove != NULL && prove[0] == '1' ? 300 : 7;
}

typedef struct tally {
  int missed, ways, designs, warned, unmade;
} tally;

static char path[] = "/tmp/tripwright-remedy-XXXXXX";

static tw_read_options reading(const tw_set *sets, size_t count)
{
  return (tw_read_options){.units = units,
                           .library = library,
                           .need = TW_NEED_ALL,
                           .no_shop = true,
                           .sets = sets,
                           .set_count = count};
}

static tw_design *read_file(const tw_set *sets, size_t count)
{
  const tw_read_options options = reading(sets, count);
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  (void)tw_design_read(path, &options, messages, &design);
  tw_messages_free(messages);
  return design;
}

static tw_status read_sets(void *self, const tw_set *sets, size_t count, tw_design **out)
{
  (void)self;
  *out = read_file(sets, count);
  return *out ? TW_OK : TW_BAD_INPUT;
}

static tw_status read_with(void *self, const char *field, const char *word, tw_design **out)
{
  const tw_set set = {field, word};
  return read_sets(self, &set, 1, out);
}

static void write_text(const char *text)
{
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  assert_true(fputs(text, file) >= 0);
  assert_int_equal(fclose(file), 0);
}

/* as the command writes it */
static void write_sets(const tw_design *design, const tw_set *sets, size_t count)
{
  const tw_read_options options = reading(NULL, 0);
  tw_messages *messages = tw_messages_new();
  const tw_status status = tw_design_write(design, count, sets, &options, messages);
  print_messages(messages);
  tw_messages_free(messages);
  assert_int_equal(status, TW_OK);
}

static void limits_of(const tw_design *design, tw_limits *limits)
{
  tw_messages *messages = tw_messages_new();
  assert_int_equal(tw_limits_read(design, units, messages, limits), TW_OK);
  tw_messages_free(messages);
}

/* the whole check of the file as it stands */
static void check_file(tw_assessment *a)
{
  tw_design *design = read_file(NULL, 0);
  assert_non_null(design);
  tw_limits limits;
  limits_of(design, &limits);
  tw_assess_options options = tw_assess_defaults();
  options.limits = &limits;
  assert_int_equal(tw_assess(design, &options, a, NULL), TW_OK);
  tw_design_free(design);
}

/* the requirements that a drawn design misses, from its own figures; false: it has none to miss */
static bool ask_more(const tw_assessment *a, char *out, size_t size)
{
  const tw_measure *force = &a->measure[TW_M_trip_force_side];
  const tw_measure *travel = &a->measure[TW_M_pretravel_side];
  const tw_measure *late = &a->measure[TW_M_overtravel_side];
  size_t used = (size_t)snprintf(out, size, "requirements: {");
  if (force->state != TW_MEASURE_OK || travel->state != TW_MEASURE_OK) {
    return false;
  }
  used += (size_t)snprintf(out + used, size - used, "trip_force_side: \"<= %.4g N\", ",
                           SIDE_SHARE * force->value);
  used += (size_t)snprintf(out + used, size - used, "pretravel_side: \"<= %.4g um\"",
                           1e6 * travel->value);
  if (late->state == TW_MEASURE_OK && late->value > 0) {
    used += (size_t)snprintf(out + used, size - used, ", overtravel_side: \"<= %.4g um\"",
                             1e6 * OVER_SHARE * late->value);
  }
  snprintf(out + used, size - used, "}\n");
  return true;
}

/* a length in whole micrometres, an angle in hundredths of a degree: what is finer nobody makes */
static bool can_be_made(const tw_study *study, const tw_levers *levers, const tw_change *change)
{
  const tw_lever *lever = &levers->lever[change->lever];
  const char *si = study->input[lever->input].si;
  const double step = strcmp(si, "m") == 0     ? 1e-6
                      : strcmp(si, "rad") == 0 ? 0.05 * 3.14159265358979 / 180
                                               : 0;
  const double count = step > 0 && !lever->choices ? change->to / step : 0;
  return fabs(count - round(count)) < 1e-6;
}

/* every way into the file, one after another, and the whole check of it */
static void apply_all(tw_design *design, const char *text, const random_draw *draw,
                      const tw_study *study, const tw_levers *levers, const tw_remedies *found,
                      tally *t)
{
  static tw_assessment a;
  for (size_t i = 0; i < found->count; i++) {
    tw_remedy_words words;
    assert_true(tw_remedy_words_make(study, levers, &found->remedy[i], &words));
    write_sets(design, words.set, words.count);
    check_file(&a);
    if (a.met != a.asked) {
      t->missed++;
      random_draw_print(draw);
      for (size_t k = 0; k < words.count; k++) {
        print_message("    %s: %s: %d of %d met\n", words.set[k].path, words.text[k], a.met,
                      a.asked);
      }
    }
    for (size_t k = 0; k < found->remedy[i].changes; k++) {
      t->unmade += !can_be_made(study, levers, &found->remedy[i].change[k]);
    }
    t->warned += found->remedy[i].warnings > 0;
    t->ways++;
    tw_remedy_words_free(&words);
    write_text(text);
    tw_design_free(design);
    design = read_file(NULL, 0);
  }
  tw_design_free(design);
}

static void search(const char *text, const random_draw *draw, tally *t)
{
  static const char *const keep[] = {"amplifier", "board",  "disc",    "machine", "program",
                                     "resistor",  "spring", "housing", "socket",  "support"};
  static tw_remedies found;
  tw_design *design = read_file(NULL, 0);
  tw_limits limits;
  tw_study_level level = {.azimuths = AZIMUTHS, .threads = 2};
  tw_study *study = NULL;
  tw_levers *levers = NULL;
  tw_fault fault = {0};
  limits_of(design, &limits);
  tw_measure_set wanted;
  for (int i = 0; i < TW_MEASURE_COUNT; i++) {
    wanted.has[i] = limits.of[i].given;
  }
  level.wanted = &wanted;
  assert_int_equal(tw_study_new(design, units, &limits, &level, &study, &fault), TW_OK);
  const tw_lever_options options = {.keep = keep,
                                    .keeps = sizeof keep / sizeof keep[0],
                                    .library = library,
                                    .read_with = read_with};
  assert_int_equal(tw_study_levers(study, &options, &levers, &fault), TW_OK);
  tw_run_remedy how = tw_run_remedy_defaults();
  how.budget = BUDGET;
  how.read_sets = read_sets;
  const tw_run_watch watch = {NULL, NULL};
  assert_int_equal(tw_run_remedy_make(study, levers, &how, &watch, &found, &fault), TW_OK);
  t->designs += !found.met;
  apply_all(read_file(NULL, 0), text, draw, study, levers, &found, t);
  tw_levers_free(levers);
  tw_study_free(study);
  tw_design_free(design);
}

static tally try_designs(void)
{
  tally t = {0};
  static tw_assessment a;
  for (uint64_t i = 0; i < designs(); i++) {
    random_draw draw;
    tw_design *drawn = random_design(units, library, SEED, i, "", &draw);
    char text[6000], asked[400];
    if (!drawn) {
      continue;
    }
    tw_design_free(drawn);
    snprintf(text, sizeof text, "design: drawn at random\n%s", draw.kind->text);
    write_text(text);
    tw_set sets[RANDOM_SETS];
    for (size_t k = 0; k < draw.sets; k++) {
      sets[k] = (tw_set){draw.paths[k], draw.texts[k]};
    }
    drawn = read_file(NULL, 0);
    write_sets(drawn, sets, draw.sets);
    tw_design_free(drawn);
    check_file(&a);
    if (!ask_more(&a, asked, sizeof asked)) {
      continue;
    }
    size_t size;
    char *own = tw_file_text(path, &size, NULL);
    assert_non_null(own);
    snprintf(text, sizeof text, "%s%s", own, asked);
    tw_free(own);
    write_text(text);
    search(text, &draw, &t);
  }
  return t;
}

static void a_way_applied_passes_the_check(void **state)
{
  (void)state;
  const tally t = try_designs();
  print_message("%d designs, %d ways, %d with new warnings\n", t.designs, t.ways, t.warned);
  assert_true(t.designs >= 4 && t.ways >= t.designs);
  assert_int_equal(t.missed, 0);
  assert_int_equal(t.unmade, 0);
}

static int make_file(void **state)
{
  const int file = mkstemp(path);
  return file < 0 || close(file) ? -1 : open_all(state);
}

static int drop_file(void **state)
{
  unlink(path);
  return close_all(state);
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_way_applied_passes_the_check)};
  return cmocka_run_group_tests(tests, make_file, drop_file);
}
