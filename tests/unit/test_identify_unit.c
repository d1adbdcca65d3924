/* One unit from its readings: what is known before, what a fit makes of readings, which reading
 * disagrees, what is refused, and that neighbours on the board are what whole cards show. That the
 * intervals hold: tests/reference/test_identify_coverage.c. */
#include "design_fixture.h"
#include "tripwright/identify.h"

#include "inner.h"

#include <math.h>
#include <string.h>

static tw_design *design;
static tw_identified *found, *other;
static tw_identified *as_drawn; /* of the readings of the drawing's own card */

static tw_design *example(const char *name)
{
  char path[200];
  snprintf(path, sizeof path, TW_SOURCE_DIR "/examples/%s.yaml", name);
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *out = NULL;
  assert_int_equal(tw_design_read(path, &options, messages, &out), TW_OK);
  tw_messages_free(messages);
  return out;
}

static int open_one(void **state)
{
  const int opened = open_all(state);
  design = example("edge-bonded");
  found = tw_alloc(1, sizeof *found);
  other = tw_alloc(1, sizeof *other);
  as_drawn = tw_alloc(1, sizeof *as_drawn);
  return opened || !design || !found || !other || !as_drawn;
}

static int close_one(void **state)
{
  tw_free(found);
  tw_free(other);
  tw_free(as_drawn);
  tw_design_free(design);
  return close_all(state);
}

static tw_status fit_of(const tw_bench_reading *reading, size_t n, int threads, tw_identified *out,
                        tw_fault *fault)
{
  const tw_identify_options options = {.threads = threads};
  return tw_identify(design, units, &options, reading, n, out, fault);
}

/* readings as the drawing's own card shows them, of what a bench reads first */
static size_t read_drawing(tw_bench_reading *reading)
{
  static const tw_bench_id usual[] = {TW_BENCH_REFERENCE, TW_BENCH_BIAS,
                                      TW_BENCH_REST_NODE, TW_BENCH_THRESHOLD,
                                      TW_BENCH_RELEASE,   TW_BENCH_CAPACITANCE_MOUNTED,
                                      TW_BENCH_LIFT_PEAK, TW_BENCH_DECAY};
  tw_bench_card *card = tw_alloc(1, sizeof *card);
  tw_bench_shown all[TW_BENCH_COUNT];
  assert_int_equal(tw_bench_card_from(design, NULL, 0, card, NULL), TW_OK);
  tw_bench_shown_of(card, all);
  tw_free(card);
  const size_t n = sizeof usual / sizeof usual[0];
  for (size_t i = 0; i < n; i++) {
    assert_true(all[usual[i]].known);
    reading[i] = (tw_bench_reading){.id = usual[i], .value = all[usual[i]].value};
  }
  return n;
}

static const tw_parameter *parameter(const tw_identified *of, const char *name)
{
  for (size_t k = 0; k < of->parameters; k++) {
    if (strcmp(of->parameter[k].name, name) == 0) {
      return &of->parameter[k];
    }
  }
  fail_msg("no parameter %s", name);
  return NULL;
}

static const tw_fitted *fitted(const tw_identified *of, tw_bench_id id)
{
  for (size_t i = 0; i < of->readings; i++) {
    if (of->fitted[i].id == id) {
      return &of->fitted[i];
    }
  }
  return NULL;
}

/* ---- without readings ---------------------------------------------------------------------- */

static void before_anything_is_read(void **state)
{
  (void)state;
  assert_int_equal(fit_of(NULL, 0, 0, found, NULL), TW_OK);
  assert_true(found->holds && found->chi_square == 0 && found->probability == 1);
  for (size_t k = 0; k < found->parameters; k++) {
    assert_near(found->parameter[k].shrink, 1, 1e-12);
  }
  /* disc.capacitance_factor 1 +- 30 %: two deviations in the logarithm */
  const tw_parameter *c = parameter(found, "disc.capacitance_factor");
  assert_near(c->sd, sqrt(log1p(0.15 * 0.15)), 1e-12);
  /* a capacitance meter tells most a minute of a bonded stem on a bought disc */
  assert_true(found->next_count > 3);
  assert_int_equal(found->next[0].id, TW_BENCH_CAPACITANCE_FREE);
  for (size_t i = 1; i < found->next_count; i++) {
    assert_true(found->next[i].left <= found->next[i - 1].left + 1e-12);
  }
}

/* ---- with readings ------------------------------------------------------------------------- */

static void a_unit_as_drawn(void **state)
{
  (void)state;
  tw_bench_reading reading[TW_BENCH_COUNT];
  const size_t n = read_drawing(reading);
  assert_int_equal(fit_of(reading, n, 0, as_drawn, NULL), TW_OK);
  assert_true(as_drawn->holds && as_drawn->worst == -1 && as_drawn->probability > 0.9);
  const tw_parameter *c = parameter(as_drawn, "disc.capacitance_factor");
  /* one reading of 1 %; what the coupling makes of stiffness and charge stands beside it */
  assert_true(c->shrink < 0.025 / 0.15);
  const tw_foreseen *seen = &as_drawn->foreseen[TW_BENCH_CAPACITANCE_MOUNTED];
  assert_true(seen->u < 0.01 * seen->unit && seen->u > 0.005 * seen->unit);
  assert_near(c->after[0], 1, 0.01);
  assert_true(c->after[1] < 1 && c->after[2] > 1);
  /* nothing that was read tells resonances apart from what was known */
  assert_true(parameter(as_drawn, "disc stiffness")->shrink > TW_UNDETERMINED);
}

/* a capacitance off by three deviations of what discs do takes its charge along: Q ~ C^0.85 */
static void charge_goes_with_capacitance(void **state)
{
  (void)state;
  tw_bench_reading reading[TW_BENCH_COUNT];
  (void)read_drawing(reading);
  tw_bench_reading one = reading[5];
  one.value *= 1.2;
  assert_int_equal(fit_of(&one, 1, 0, found, NULL), TW_OK);
  const tw_foreseen *q = &found->foreseen[TW_IDENTIFY_CHARGE];
  assert_near(q->unit / q->drawing, pow(1.2, 0.85), 0.02);
  assert_true(q->u < 0.6 * q->u_before);
}

static void one_reading_disagrees(void **state)
{
  (void)state;
  tw_bench_reading reading[TW_BENCH_COUNT];
  const size_t n = read_drawing(reading);
  reading[3].value *= 1.12; /* twelve of its uncertainties */
  assert_int_equal(fit_of(reading, n, 0, found, NULL), TW_OK);
  assert_int_equal(found->fitted[found->worst].id, TW_BENCH_THRESHOLD);
  assert_true(fitted(found, TW_BENCH_THRESHOLD)->set_aside);
  assert_true(found->probability < TW_IDENTIFY_HOLDS && found->probability_without > 0.5);
  assert_true(found->holds);
}

/* three readings that no tolerance covers: no single one is to blame */
static void the_model_does_not_hold(void **state)
{
  (void)state;
  tw_bench_reading reading[TW_BENCH_COUNT];
  const size_t n = read_drawing(reading);
  reading[0].value *= 1.1;
  reading[1].value *= 0.9;
  reading[7].value *= 1.5;
  assert_int_equal(fit_of(reading, n, 0, found, NULL), TW_OK);
  assert_true(!found->holds && found->probability < 1e-6);
}

/* an insulation that nobody can see in a 10 Mohm node has a lower bound and no more */
static void a_leak_has_a_lower_bound(void **state)
{
  (void)state;
  const tw_parameter *leak = parameter(as_drawn, "circuit.leakage_resistance");
  assert_true(leak->by_profile && leak->bounded_below && !leak->bounded_above);
  /* a leak of 10 Mohm would halve the node's resistance: it is seen */
  assert_true(leak->after[1] > 10e6 && leak->after[1] < 1e9);
}

static void threads_change_nothing(void **state)
{
  (void)state;
  tw_bench_reading reading[TW_BENCH_COUNT];
  (void)read_drawing(reading);
  const size_t n = 2;
  reading[0].value *= 1.01;
  assert_int_equal(fit_of(reading, n, 1, found, NULL), TW_OK);
  assert_int_equal(fit_of(reading, n, 3, other, NULL), TW_OK);
  assert_near(found->chi_square, other->chi_square, 0);
  for (size_t k = 0; k < found->parameters; k++) {
    assert_near(found->parameter[k].after[0], other->parameter[k].after[0], 0);
    assert_near(found->parameter[k].u, other->parameter[k].u, 0);
  }
}

/* ---- neighbours ---------------------------------------------------------------------------- */

/* where only the board moves, the short way shows what the whole card shows */
static void the_board_alone(void **state)
{
  (void)state;
  tw_parameter all[TW_IDENTIFY_MOST];
  unit_model m = {.design = design,
                  .units = units,
                  .with = tw_bench_instruments_default(),
                  .threads = 2,
                  .parameter = all};
  double z[TW_IDENTIFY_MOST] = {0};
  assert_int_equal(tw_unit_parameters(design, units, 0.05, all, &m.parameters, NULL), TW_OK);
  assert_int_equal(tw_unit_model_new(&m, NULL), TW_OK);
  size_t seen = 0;
  for (size_t k = 0; k < m.parameters; k++) {
    shown near_by, whole;
    const double at = 0.8;
    if (!all[k].board) {
      continue;
    }
    assert_int_equal(tw_unit_slice(&m, z, k, &at, 1, &near_by, NULL), TW_OK);
    z[k] = at;
    assert_int_equal(tw_unit_shows(&m, z, &whole, NULL), TW_OK);
    z[k] = 0;
    for (size_t w = 0; w < TW_IDENTIFY_SHOWN; w++) {
      assert_int_equal(near_by.known[w], whole.known[w]);
      if (fabs(near_by.value[w] - whole.value[w]) > 2e-3 * fabs(whole.value[w])) {
        fail_msg("%s moves check %zu to %g, alone to %g", all[k].name, w, whole.value[w],
                 near_by.value[w]);
      }
    }
    seen++;
  }
  tw_unit_model_free(&m);
  assert_true(seen > 5);
}

/* ---- what is refused, what is written ------------------------------------------------------ */

static void what_is_refused(void **state)
{
  (void)state;
  tw_fault fault = {0};
  const tw_bench_reading twice[] = {{.id = TW_BENCH_DECAY, .value = 0.01},
                                    {.id = TW_BENCH_DECAY, .value = 0.02}};
  const tw_bench_reading none_such = {.id = TW_BENCH_PRELOAD, .value = 1};
  const tw_bench_reading word = {.id = TW_BENCH_DECAY, .kind = TW_READ_WORD, .word = "high"};
  assert_int_equal(fit_of(twice, 2, 1, found, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "twice"));
  assert_int_equal(fit_of(&none_such, 1, 1, found, &fault), TW_BAD_INPUT);
  assert_int_equal(fit_of(&word, 1, 1, found, &fault), TW_BAD_INPUT);
}

static void what_a_unit_file_says(void **state)
{
  (void)state;
  tw_unit_values values;
  assert_int_equal(tw_identify_values(design, units, as_drawn, &values, NULL), TW_OK);
  bool capacitance = false, charge = false, leak = false;
  for (size_t i = 0; i < values.count; i++) {
    capacitance = capacitance || strcmp(values.set[i].path, "measured.capacitance_mounted") == 0;
    charge = charge || strcmp(values.set[i].path, "measured.charge_per_newton") == 0;
    leak = leak || strcmp(values.set[i].path, "circuit.leakage_resistance") == 0;
    assert_non_null(strstr(values.set[i].text, " ± "));
  }
  /* what has only a bound is left to the drawing */
  assert_true(capacitance && charge && !leak);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(before_anything_is_read),
      cmocka_unit_test(a_unit_as_drawn),
      cmocka_unit_test(charge_goes_with_capacitance),
      cmocka_unit_test(one_reading_disagrees),
      cmocka_unit_test(the_model_does_not_hold),
      cmocka_unit_test(a_leak_has_a_lower_bound),
      cmocka_unit_test(threads_change_nothing),
      cmocka_unit_test(the_board_alone),
      cmocka_unit_test(what_is_refused),
      cmocka_unit_test(what_a_unit_file_says),
  };
  return cmocka_run_group_tests(tests, open_one, close_one);
}
