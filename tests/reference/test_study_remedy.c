/* The search for the smallest change: against trying everything, and on problems solved by hand. */
#include "near.h"
#include "tripwright/random.h"
#include "tripwright/study_remedy.h"

#include <string.h>

/* ---- against trying everything ------------------------------------------------------------------
 */

enum { LEVERS = 5, CHOICES = 4, LIMITS = 3 };

typedef struct bowl {
  double linear[LIMITS][LEVERS], mixed[LIMITS][LEVERS][LEVERS], base[LIMITS];
} bowl;

/* y_k = base + sum a x + sum b x x': bent enough that pairs do more than singles add up to */
static tw_status bowl_model(void *self, int worker, const double *x, double *y,
                            unsigned char *outcome, tw_fault *fault)
{
  (void)worker;
  (void)fault;
  const bowl *b = self;
  for (int k = 0; k < LIMITS; k++) {
    y[k] = b->base[k];
    for (int i = 0; i < LEVERS; i++) {
      y[k] += b->linear[k][i] * x[i];
      for (int j = 0; j < LEVERS; j++) {
        y[k] += b->mixed[k][i][j] * x[i] * x[j];
      }
    }
    outcome[k] = y[k] > 6.0 ? TW_OUTCOME_NO_TRIP : TW_OUTCOME_OK;
  }
  return TW_OK;
}

typedef struct puzzle {
  bowl b;
  tw_study_model model;
  double x0[LEVERS], choice[LEVERS][CHOICES];
  tw_lever lever[LEVERS];
  tw_remake remake[3];
  tw_goal limit[LIMITS];
  tw_remedy_problem problem;
} puzzle;

static void make_puzzle(puzzle *p, uint64_t number)
{
  tw_random r;
  tw_random_start(&r, 77, number);
  memset(p, 0, sizeof *p);
  p->model = (tw_study_model){LEVERS, LIMITS, bowl_model, &p->b};
  for (int k = 0; k < LIMITS; k++) {
    p->b.base[k] = 1.3 + 0.4 * tw_random_uniform(&r);
    for (int i = 0; i < LEVERS; i++) {
      p->b.linear[k][i] = 0.5 * tw_random_normal(&r);
      for (int j = 0; j < LEVERS; j++) {
        p->b.mixed[k][i][j] = 0.12 * tw_random_normal(&r);
      }
    }
    p->limit[k] = (tw_goal){"limit", (size_t)k, .has_high = true, .high = 1.0};
  }
  for (int i = 0; i < LEVERS; i++) {
    const int at = (int)tw_random_below(&r, CHOICES);
    for (int c = 0; c < CHOICES; c++) {
      p->choice[i][c] = c - at; /* the design stands at 0 */
    }
    p->lever[i] = (tw_lever){.name = "lever",
                             .input = (size_t)i,
                             .part = (size_t)tw_random_below(&r, 3),
                             .now = 0.0,
                             .choices = p->choice[i],
                             .choice_count = CHOICES};
  }
  for (int i = 0; i < 3; i++) {
    p->remake[i] =
        (tw_remake){"part", (double)tw_random_below(&r, 4), (double)tw_random_below(&r, 3), false};
  }
  p->problem =
      (tw_remedy_problem){&p->model, p->x0, p->lever, LEVERS, p->remake, 3, p->limit, LIMITS, 0.0};
}

/* price of a point as tw_remedy */
static tw_remedy priced(const puzzle *p, const double *x)
{
  tw_remedy r = {0};
  bool counted[3] = {false, false, false};
  for (size_t i = 0; i < LEVERS; i++) {
    if (x[i] != 0.0) {
      const size_t part = p->lever[i].part;
      r.change[r.changes++] = (tw_change){i, x[i]};
      r.time = fmax(r.time, p->remake[part].time);
      r.cost += counted[part] ? 0.0 : p->remake[part].cost;
      counted[part] = true;
      r.size += fabs(x[i]) / (CHOICES - 1);
    }
  }
  return r;
}

/* the best of all points with at most `most` changes; false: none keeps the limits */
static bool exhaustive(puzzle *p, size_t most, tw_remedy *best)
{
  bool found = false;
  for (int code = 0; code < 1024; code++) { /* 4^5 points */
    double x[LEVERS], y[LIMITS];
    unsigned char outcome[LIMITS];
    for (int i = 0, c = code; i < LEVERS; i++, c /= CHOICES) {
      x[i] = p->choice[i][c % CHOICES];
    }
    const tw_remedy r = priced(p, x);
    if (r.changes == 0 || r.changes > most) {
      continue;
    }
    assert_int_equal(tw_study_evaluate(&p->model, 0, x, y, outcome, NULL), TW_OK);
    if (tw_goals_margin(p->limit, LIMITS, y, outcome, NULL) >= 0.0 &&
        (!found || tw_remedy_compare(&r, best) < 0)) {
      *best = r;
      found = true;
    }
  }
  return found;
}

static void same_as_trying_everything(void **state)
{
  (void)state;
  int solved = 0, by_changes[4] = {0};
  for (uint64_t number = 0; number < 300; number++) {
    puzzle p;
    make_puzzle(&p, number);
    tw_remedy best;
    const bool found = exhaustive(&p, 3, &best);
    tw_remedies out;
    const tw_remedy_options options = {.threads = 1 + (int)(number % 3)};
    assert_int_equal(tw_remedy_search(&p.problem, &options, NULL, &out, NULL), TW_OK);
    if (out.met) {
      continue;
    }
    if (!found) {
      /* more than three changes may still do it */
      assert_true(out.count == 0 || out.remedy[0].changes > 3);
      continue;
    }
    assert_true(out.complete && out.count > 0);
    const tw_remedy *got = &out.remedy[0];
    assert_int_equal(got->changes, best.changes);
    for (size_t i = 0; i < best.changes; i++) {
      assert_int_equal(got->change[i].lever, best.change[i].lever);
      assert_near(got->change[i].to, best.change[i].to, 0.0);
    }
    assert_near(got->time, best.time, 0.0);
    assert_near(got->cost, best.cost, 0.0);
    assert_near(got->size, best.size, 1e-12);
    solved++;
    by_changes[best.changes]++;
  }
  print_message("%d puzzles solved as by trying everything: %d by one change, %d by two, %d by "
                "three\n",
                solved, by_changes[1], by_changes[2], by_changes[3]);
  assert_true(solved > 100 && by_changes[1] > 10 && by_changes[2] > 10 && by_changes[3] > 3);
}

/* ---- solved by hand
 * ------------------------------------------------------------------------------ */

/* y0 = x0/x1 (force over arm), y1 = x0 x2 (signal), y2 = x0 + x3 (length) */
static tw_status small_model(void *self, int worker, const double *x, double *y,
                             unsigned char *outcome, tw_fault *fault)
{
  (void)self;
  (void)worker;
  (void)fault;
  y[0] = x[0] / x[1];
  y[1] = x[0] * x[2];
  y[2] = x[0] + x[3];
  outcome[0] = outcome[1] = outcome[2] = TW_OUTCOME_OK;
  return TW_OK;
}

static const tw_study_model small = {4, 3, small_model, NULL};
static const tw_remake parts[4] = {{"resistor", 0.1, 0.0, false},
                                   {"print", 5.0, 40000.0, false},
                                   {"board", 80.0, 900000.0, false},
                                   {"disc", 3.0, 600000.0, false}};
static const double x0[4] = {1.0, 2.0, 3.0, 4.0};

static tw_lever lever(const char *name, size_t input, double least, double most, bool logarithmic)
{
  return (tw_lever){.name = name,
                    .input = input,
                    .part = input,
                    .now = x0[input],
                    .least = least,
                    .most = most,
                    .logarithmic = logarithmic};
}

static void one_lever_moves_just_enough(void **state)
{
  (void)state;
  /* y0 = 0.5 must fall to 0.4: x0 to 0.8, or x1 to 2.5; x2 does nothing */
  const tw_lever levers[3] = {lever("a", 0, 0.1, 10.0, true), lever("b", 1, 0.5, 4.0, false),
                              lever("c", 2, 1.0, 5.0, false)};
  const tw_goal limit = {"y0", 0, .has_high = true, .high = 0.4};
  const tw_remedy_problem p = {&small, x0, levers, 3, parts, 4, &limit, 1, 0.0};
  tw_remedies out;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_false(out.met);
  assert_near(out.margin, -0.25, 1e-12);
  assert_true(out.count >= 2);
  assert_int_equal(out.remedy[0].changes, 1);
  assert_int_equal(out.remedy[0].change[0].lever, 0);  /* at once and for pennies */
  assert_near(out.remedy[0].change[0].to, 0.8, 0.002); /* three figures, just inside */
  assert_true(out.remedy[0].change[0].to <= 0.8);
  assert_int_equal(out.remedy[1].change[0].lever, 1);
  assert_near(out.remedy[1].change[0].to, 2.5, 0.011);
  assert_true(out.remedy[1].margin >= 0.0 && out.remedy[1].change[0].to >= 2.5);
  /* safety: x0 to 0.72 for a margin of a tenth */
  tw_remedy_problem safe = p;
  safe.safety = 0.1;
  assert_int_equal(tw_remedy_search(&safe, NULL, NULL, &out, NULL), TW_OK);
  assert_near(out.remedy[0].change[0].to, 0.72, 0.002);
  assert_true(out.remedy[0].margin >= 0.1);
}

static void what_is_ordered_stays(void **state)
{
  (void)state;
  tw_remake held[4];
  memcpy(held, parts, sizeof held);
  held[0].fixed = true;
  const tw_lever levers[2] = {lever("a", 0, 0.1, 10.0, true), lever("b", 1, 0.5, 4.0, false)};
  const tw_goal limit = {"y0", 0, .has_high = true, .high = 0.4};
  const tw_remedy_problem p = {&small, x0, levers, 2, held, 4, &limit, 1, 0.0};
  tw_remedies out;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_int_equal(out.count, 1);
  assert_int_equal(out.remedy[0].change[0].lever, 1);
  /* everything is ordered: nothing is found, and nothing breaks */
  held[1].fixed = true;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_int_equal(out.count, 0);
  assert_near(out.nearest.margin, -0.25, 1e-12);
}

static void two_levers_when_one_will_not_do(void **state)
{
  (void)state;
  /* y0 <= 0.4 and y1 >= 3.6: lowering a spoils y1; b or c alone mends one of them; b and c mend
   * both: b = 2.5, c = 3.6 */
  const tw_lever levers[3] = {lever("a", 0, 0.5, 1.5, true), lever("b", 1, 0.5, 4.0, false),
                              lever("c", 2, 1.0, 5.0, false)};
  const tw_goal limits[2] = {{"y0", 0, .has_high = true, .high = 0.4},
                             {"y1", 1, .has_low = true, .low = 3.6}};
  const tw_remedy_problem p = {&small, x0, levers, 3, parts, 4, limits, 2, 0.0};
  tw_remedies out;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_true(out.count >= 2);
  const tw_remedy *bc = NULL, *ab = NULL;
  for (size_t i = 0; i < out.count; i++) {
    const tw_remedy *r = &out.remedy[i];
    assert_true(r->margin >= 0.0 && r->changes >= 2);
    if (r->changes == 2 && r->change[0].lever == 1 && r->change[1].lever == 2) {
      bc = r;
    }
    if (r->changes == 2 && r->change[0].lever == 0 && r->change[1].lever == 1) {
      ab = r;
    }
  }
  assert_non_null(bc);
  assert_near(bc->change[0].to, 2.5, 0.03);
  assert_near(bc->change[1].to, 3.6, 0.03);
  /* a up to 1.2 gives y1; then b must be 3: soonest done, as no board is made */
  assert_non_null(ab);
  assert_near(ab->change[0].to, 1.2, 0.02);
  assert_near(ab->change[1].to, 3.0, 0.05);
  assert_ptr_equal(ab, &out.remedy[0]);
}

/* y_k = x_k for four levers: all four must move */
static tw_status apart_model(void *self, int worker, const double *x, double *y,
                             unsigned char *outcome, tw_fault *fault)
{
  (void)self;
  (void)worker;
  (void)fault;
  for (int k = 0; k < 4; k++) {
    y[k] = x[k];
    outcome[k] = x[k] > 8.0 ? TW_OUTCOME_NO_TRIP : TW_OUTCOME_OK;
  }
  return TW_OK;
}

static void all_levers_when_three_will_not_do(void **state)
{
  (void)state;
  static const double far[4] = {9.0, 9.0, 9.0, 9.0};
  const tw_study_model model = {4, 4, apart_model, NULL};
  tw_lever levers[4];
  tw_goal limits[4];
  for (size_t i = 0; i < 4; i++) {
    levers[i] =
        (tw_lever){.name = "l", .input = i, .part = i, .now = 9.0, .least = 1.0, .most = 10.0};
    limits[i] = (tw_goal){"y", i, .has_high = true, .high = 3.0};
  }
  const tw_remedy_problem p = {&model, far, levers, 4, parts, 4, limits, 4, 0.0};
  tw_remedies out;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_int_equal(out.count, 1);
  assert_int_equal(out.remedy[0].changes, 4);
  for (size_t i = 0; i < 4; i++) {
    assert_true(out.remedy[0].change[i].to <= 3.0 && out.remedy[0].change[i].to > 2.8);
  }
}

static void what_excludes_what(void **state)
{
  (void)state;
  /* y2 = a + d <= 3 needs a small, y1 = 3 a >= 6 needs a = 2: d is not free */
  const tw_lever levers[2] = {lever("a", 0, 0.1, 10.0, false), lever("b", 1, 0.5, 4.0, false)};
  const tw_goal limits[3] = {{"y1", 1, .has_low = true, .low = 6.0},
                             {"y0", 0, .has_high = true, .high = 10.0},
                             {"y2", 2, .has_high = true, .high = 5.0}};
  const tw_remedy_problem p = {&small, x0, levers, 2, parts, 4, limits, 3, 0.0};
  tw_remedies out;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_int_equal(out.count, 0);
  assert_true(out.exclusion.found);
  assert_int_equal(out.exclusion.a + out.exclusion.b, 2); /* limits 0 and 2 */
  assert_true(out.exclusion.a != out.exclusion.b);
  assert_true(out.exclusion.alone_a >= 0.0 && out.exclusion.alone_b >= 0.0);
  /* (3a - 6)/6 = (5 - a - 4)/5 at a = 12/7: both margins -1/7 */
  assert_near(out.exclusion.margin, -1.0 / 7.0, 0.01);
  assert_true(out.nearest.margin <= -0.14 && out.nearest.margin > -0.17);
  /* a limit that nothing reaches is named alone */
  const tw_goal hopeless[2] = {{"y2", 2, .has_high = true, .high = 2.0},
                               {"y0", 0, .has_high = true, .high = 10.0}};
  const tw_remedy_problem h = {&small, x0, levers, 2, parts, 4, hopeless, 2, 0.0};
  assert_int_equal(tw_remedy_search(&h, NULL, NULL, &out, NULL), TW_OK);
  assert_true(out.exclusion.found);
  assert_int_equal(out.exclusion.a, 0);
  assert_int_equal(out.exclusion.b, 0);
  assert_near(out.exclusion.alone_a, (2.0 - 4.1) / 2.0, 0.01);
}

/* x0 + x1 + x2 + x3 at least and at most, which no point can be */
static tw_status torn_model(void *self, int worker, const double *x, double *y,
                            unsigned char *outcome, tw_fault *fault)
{
  (void)worker;
  (void)fault;
  ++*(size_t *)self;
  y[0] = x[0] + x[1] + x[2] + x[3];
  y[1] = y[0] * y[0];
  outcome[0] = outcome[1] = TW_OUTCOME_OK;
  return TW_OK;
}

/* what is told of the evaluations is true, and the budget bounds them also when nothing is found */
static void budget_bounds_the_search(void **state)
{
  (void)state;
  size_t calls = 0;
  const tw_study_model model = {4, 2, torn_model, &calls};
  const tw_goal limits[2] = {{"sum", 0, .has_high = true, .high = 6.0},
                             {"square", 1, .has_low = true, .low = 64.0}};
  tw_lever levers[4];
  for (size_t i = 0; i < 4; i++) {
    levers[i] = lever("l", i, 0.1, 10.0, true);
  }
  const tw_remedy_problem p = {&model, x0, levers, 4, parts, 4, limits, 2, 0.0};
  const size_t budget[] = {60, 300, 3000};
  for (size_t i = 0; i < sizeof budget / sizeof budget[0]; i++) {
    const tw_remedy_options options = {.threads = 1, .budget = budget[i]};
    tw_remedies out;
    calls = 0;
    assert_int_equal(tw_remedy_search(&p, &options, NULL, &out, NULL), TW_OK);
    print_message("budget %zu: %zu evaluations\n", budget[i], calls);
    assert_int_equal(out.evaluations, calls);
    assert_true(calls <= 3 * budget[i]);
    assert_int_equal(out.count, 0);
    assert_true(out.exclusion.found && out.exclusion.a != out.exclusion.b);
  }
}

static void already_good_is_told(void **state)
{
  (void)state;
  const tw_lever levers[1] = {lever("a", 0, 0.1, 10.0, true)};
  const tw_goal limit = {"y0", 0, .has_high = true, .high = 0.5};
  tw_remedy_problem p = {&small, x0, levers, 1, parts, 4, &limit, 1, 0.0};
  tw_remedies out;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_true(out.met && out.count == 0 && out.evaluations == 1);
  p.limit_count = 0;
  assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, NULL), TW_OK);
  assert_true(out.met);
}

static void wrong_levers_are_refused(void **state)
{
  (void)state;
  static const double falling[] = {2.0, 1.0};
  const tw_lever wrong[] = {
      {.name = "a", .now = 1.0, .least = 2.0, .most = 3.0},
      {.name = "a", .now = 1.0, .least = 3.0, .most = 2.0},
      {.name = "a", .now = 1.0, .least = 0.0, .most = 3.0, .logarithmic = true},
      {.name = "a", .now = 1.0, .least = 0.0, .most = HUGE_VAL},
      {.name = "a", .now = 1.0, .choices = falling, .choice_count = 2},
      {.name = "a", .now = 1.0, .choices = falling, .choice_count = 0},
  };
  const tw_goal limit = {"y0", 0, .has_high = true, .high = 0.1};
  for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
    const tw_remedy_problem p = {&small, x0, &wrong[i], 1, parts, 4, &limit, 1, 0.0};
    tw_remedies out;
    tw_fault fault = {0};
    assert_int_equal(tw_remedy_search(&p, NULL, NULL, &out, &fault), TW_BAD_INPUT);
    assert_string_equal(fault.field, "a");
  }
}

/* the same answer for any number of threads, continuous levers and lists mixed */
static void threads_do_not_matter(void **state)
{
  (void)state;
  static const double values[] = {1.0, 2.0, 2.2, 2.7, 3.3};
  tw_lever levers[4] = {lever("a", 0, 0.5, 1.5, true), lever("b", 1, 0.5, 4.0, false),
                        lever("c", 2, 1.0, 5.0, false), lever("d", 3, 1.0, 5.0, false)};
  levers[1].choices = values;
  levers[1].choice_count = 5;
  const tw_goal limits[3] = {{"y0", 0, .has_high = true, .high = 0.35},
                             {"y1", 1, .has_low = true, .low = 3.6},
                             {"y2", 2, .has_high = true, .high = 4.5}};
  const tw_remedy_problem p = {&small, x0, levers, 4, parts, 4, limits, 3, 0.01};
  tw_remedies one, other;
  tw_remedy_options options = {.threads = 1};
  assert_int_equal(tw_remedy_search(&p, &options, NULL, &one, NULL), TW_OK);
  assert_true(one.count > 0);
  for (options.threads = 2; options.threads < 5; options.threads++) {
    assert_int_equal(tw_remedy_search(&p, &options, NULL, &other, NULL), TW_OK);
    assert_int_equal(other.count, one.count);
    assert_int_equal(other.evaluations, one.evaluations);
    for (size_t i = 0; i < one.count; i++) {
      assert_int_equal(tw_remedy_compare(&one.remedy[i], &other.remedy[i]), 0);
    }
  }
}

/* yield of a spread of 10 % in x0, triangular for want of anything simpler: share of y0 <= 0.4 */
static tw_status small_yield(void *self, const double *x, double *yield, tw_fault *fault)
{
  (void)fault;
  ++*(int *)self;
  const double reach = (0.4 * x[1] / x[0] - 1.0) / 0.1;
  *yield = fmin(fmax(0.5 + 0.5 * reach, 0.0), 1.0);
  return TW_OK;
}

static void robust_remedies_go_further(void **state)
{
  (void)state;
  const tw_lever levers[2] = {lever("a", 0, 0.1, 10.0, true), lever("b", 1, 0.5, 4.0, false)};
  const tw_goal limit = {"y0", 0, .has_high = true, .high = 0.4};
  const tw_remedy_problem p = {&small, x0, levers, 2, parts, 4, &limit, 1, 0.0};
  int calls = 0;
  const tw_remedy_options options = {.yield = small_yield, .self = &calls, .yield_wanted = 0.95};
  tw_remedies out;
  assert_int_equal(tw_remedy_search(&p, &options, NULL, &out, NULL), TW_OK);
  assert_true(out.count >= 2 && calls > 2);
  for (size_t i = 0; i < 2; i++) {
    assert_true(out.remedy[i].has_yield && out.remedy[i].yield >= 0.95);
    assert_true(out.remedy[i].margin >= 0.05);
  }
}

static bool stop_soon(void *self, double done, const char *what)
{
  (void)done;
  (void)what;
  return --*(int *)self > 0;
}

static void can_be_cancelled(void **state)
{
  (void)state;
  puzzle p;
  make_puzzle(&p, 3);
  int patience = 3;
  const tw_progress progress = {stop_soon, &patience};
  tw_remedies out;
  const tw_status status = tw_remedy_search(&p.problem, NULL, &progress, &out, NULL);
  assert_true(status == TW_CANCELLED || out.met);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(same_as_trying_everything),
      cmocka_unit_test(one_lever_moves_just_enough),
      cmocka_unit_test(what_is_ordered_stays),
      cmocka_unit_test(two_levers_when_one_will_not_do),
      cmocka_unit_test(all_levers_when_three_will_not_do),
      cmocka_unit_test(what_excludes_what),
      cmocka_unit_test(budget_bounds_the_search),
      cmocka_unit_test(already_good_is_told),
      cmocka_unit_test(wrong_levers_are_refused),
      cmocka_unit_test(threads_do_not_matter),
      cmocka_unit_test(robust_remedies_go_further),
      cmocka_unit_test(can_be_cancelled),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
