/* Tolerances at least cost: the cases T01 to T06 of tests/data/batch_cases.json, and random
 * problems against an exhaustive search of their own (20; 200 with TW_PROVE=1). */
#include "batch_cases.h"
#include "tripwright/batch_allot.h"
#include "tripwright/random.h"

static void iso_286(void **state)
{
  (void)state;
  const size_t n = case_count("T01", "outputs");
  assert_true(n > 5);
  for (size_t k = 0; k < n; k++) {
    const double size = 1e-3 * case_of("T01", "inputs/size_mm_and_grade/#/0", k);
    const int grade = (int)case_of("T01", "inputs/size_mm_and_grade/#/1", k);
    assert_rel(tw_iso_unit_um(size), case_of("T01", "outputs/#/i", k), SIX);
    assert_rel(tw_iso_formula_um(size, grade), case_of("T01", "outputs/#/formula_um", k), SIX);
    assert_rel(1e6 * tw_iso_zone(size, grade), case_of("T01", "outputs/#/table_um", k), 1e-12);
  }
  assert_near(tw_iso_zone(0.003, 7), 10e-6, 1e-18); /* up to and including */
  assert_near(tw_iso_zone(0.0030001, 7), 12e-6, 1e-18);
  assert_near(tw_iso_zone(0.6, 7), 0, 0);
  assert_near(tw_iso_zone(0.01, 4), 0, 0);
}

/* where the formula counts (over 3 mm, from IT5 on) it gives the table within its rounding: a unit
 * of the last digit printed, or 6 % (IT6 of 3 to 6 mm: 7.33 against 8) */
static void table_against_formula(void **state)
{
  (void)state;
  static const double size[] = {5e-3, 8e-3, 14e-3, 25e-3, 40e-3, 60e-3,
                                0.1,  0.15, 0.2,   0.3,   0.35,  0.45};
  for (size_t k = 0; k < sizeof size / sizeof size[0]; k++) {
    for (int grade = 5; grade <= 16; grade++) {
      const double table = 1e6 * tw_iso_zone(size[k], grade);
      assert_near(tw_iso_formula_um(size[k], grade), table, fmax(0.07 * table, 0.8));
    }
  }
}

static size_t numbers(const char *id, const char *key, double *out)
{
  char path[60];
  snprintf(path, sizeof path, "inputs/%s", key);
  const size_t n = case_count(id, path);
  for (size_t i = 0; i < n; i++) {
    snprintf(path, sizeof path, "inputs/%s/%zu", key, i);
    out[i] = case_number(id, path);
  }
  return n;
}

static void cost_over_t(void **state)
{
  (void)state;
  for (int worst = 0; worst < 2; worst++) {
    const char *id = worst ? "T03" : "T02";
    double a[4], b[4], t[4], cost = 0;
    const size_t n = numbers(id, "slopes", a);
    numbers(id, "B", b);
    tw_allot_power(a, b, n, 1, case_number(id, "inputs/total"), worst, t);
    for (size_t i = 0; i < n; i++) {
      assert_rel(t[i], case_of(id, "outputs/t/#", i), SIX);
      cost += b[i] / t[i];
    }
    assert_rel(cost, case_number(id, "outputs/cost"), SIX);
  }
}

/* b/t^2: no other split of the same total is cheaper */
static void cost_over_t_squared(void **state)
{
  (void)state;
  const double a[] = {1, 0.6, 0.4}, b[] = {20, 35, 12};
  double t[3], cost = 0, other = 0;
  tw_allot_power(a, b, 3, 2, 10, false, t);
  const double shift = 0.03 * a[0] * a[0] * t[0] * t[0];
  for (size_t i = 0; i < 3; i++) {
    cost += b[i] / (t[i] * t[i]);
    const double square = a[i] * a[i] * t[i] * t[i] + (i == 0 ? shift : i == 1 ? -shift : 0);
    other += b[i] * a[i] * a[i] / square;
  }
  assert_true(other > cost);
}

static void exponential(void **state)
{
  (void)state;
  double a[3], b[3], m[3], least[3], most[3], t[3], cost = 0;
  const size_t n = numbers("T04", "slopes", a);
  numbers("T04", "B", b);
  numbers("T04", "m", m);
  numbers("T04", "least", least);
  numbers("T04", "most", most);
  const double total = case_number("T04", "inputs/total");
  assert_true(tw_allot_exponential(a, b, m, least, most, n, total, t));
  for (size_t i = 0; i < n; i++) {
    assert_rel(t[i], case_of("T04", "outputs/t/#", i), 5e-5);
    cost += b[i] * exp(-m[i] * t[i]);
  }
  assert_rel(cost, case_number("T04", "outputs/cost"), SIX);
  assert_false(tw_allot_exponential(a, b, m, least, most, n, 0.5, t));
  assert_true(tw_allot_exponential(a, b, m, least, most, n, 1000, t));
  assert_near(t[0], most[0], 0);
}

/* ---- grades
 * ---------------------------------------------------------------------------------------- */

static void problem_of_t05(tw_allot_problem *p)
{
  char path[80];
  *p = (tw_allot_problem){.dims = 6, .rules = 2};
  p->target = case_number("T05", "inputs/target");
  p->other_cost = case_number("T05", "inputs/other_cost");
  for (size_t i = 0; i < p->dims; i++) {
    tw_allot_dim *d = &p->dim[i];
    snprintf(path, sizeof path, "inputs/grades_t_and_cost/%zu", i);
    d->grades = case_count("T05", path);
    d->share = 0.5;
    for (size_t g = 0; g < d->grades; g++) {
      snprintf(path, sizeof path, "inputs/grades_t_and_cost/%zu/%zu/0", i, g);
      d->hold[g] = case_number("T05", path);
      snprintf(path, sizeof path, "inputs/grades_t_and_cost/%zu/%zu/1", i, g);
      d->cost[g] = case_number("T05", path);
    }
  }
  for (size_t r = 0; r < p->rules; r++) {
    tw_allot_rule *rule = &p->rule[r];
    rule->mean = rule->middle = case_of("T05", "inputs/middle/#", r);
    rule->high = case_of("T05", "inputs/most/#", r);
    rule->has_high = true;
    for (size_t i = 0; i < p->dims; i++) {
      snprintf(path, sizeof path, "inputs/slopes/%zu/%zu", r, i);
      rule->slope[i] = case_number("T05", path);
    }
  }
}

static void six_dimensions(void **state)
{
  (void)state;
  static tw_allot_problem p;
  tw_allotted found;
  problem_of_t05(&p);
  assert_int_equal(tw_allot_search(&p, &found, NULL), TW_OK);
  assert_true(found.found);
  assert_int_equal(found.sets, (int)case_number("T05", "outputs/sets"));
  assert_int_equal(found.alike, (int)case_number("T05", "outputs/sets_of_that_cost"));
  for (size_t i = 0; i < p.dims; i++) {
    /* the cases count grades from 1 */
    assert_int_equal(found.set.grade[i] + 1, (int)case_of("T05", "outputs/grade/#", i));
    assert_int_equal(found.per_good.grade[i] + 1,
                     (int)case_of("T05", "outputs/per_good_grade/#", i));
    assert_rel(found.looser[i].cost, case_of("T05", "outputs/gains/#/looser/cost", i), SIX);
    assert_near(found.looser[i].yield, case_of("T05", "outputs/gains/#/looser/yield_", i), SIX);
    assert_rel(found.tighter[i].cost, case_of("T05", "outputs/gains/#/tighter/cost", i), SIX);
    assert_near(found.tighter[i].yield, case_of("T05", "outputs/gains/#/tighter/yield_", i), SIX);
  }
  assert_rel(found.set.cost, case_number("T05", "outputs/cost"), SIX);
  assert_rel(found.yield, case_number("T05", "outputs/joint"), SIX);
  assert_rel(found.own[0], case_number("T05", "outputs/own_yields/0"), SIX);
  assert_rel(found.own[1], case_number("T05", "outputs/own_yields/1"), SIX);
  assert_rel(found.own[0] * found.own[1], case_number("T05", "outputs/product_of_own"), SIX);
  assert_rel(found.loosest_yield, case_number("T05", "outputs/loosest_yield"), SIX);
  assert_rel(found.per_good_cost, case_number("T05", "outputs/per_good"), SIX);
  assert_rel(found.per_good_yield, case_number("T05", "outputs/per_good_yield"), SIX);
  assert_rel((p.other_cost + found.set.cost) / found.yield,
             case_number("T05", "outputs/per_good_of_target_set"), SIX);
  assert_false(found.worst_found);
  assert_true(found.squares_found);
  assert_rel(found.squares.cost, case_number("T05", "outputs/square_sum_cost"), SIX);
  assert_rel(found.squares_yield, case_number("T05", "outputs/square_sum_joint"), SIX);
}

static void nothing_reaches(void **state)
{
  (void)state;
  static tw_allot_problem p;
  tw_allotted found;
  problem_of_t05(&p);
  p.target = 0.9999;
  p.rule[0].high = 68;
  assert_int_equal(tw_allot_search(&p, &found, NULL), TW_OK);
  assert_false(found.found);
  for (size_t i = 0; i < p.dims; i++) {
    assert_int_equal(found.best.grade[i], 3);
  }
  assert_true(found.best_yield > 0.9 && found.best_yield < 0.9999);
}

static void curved(void **state)
{
  (void)state;
  static tw_allot_problem p;
  const tw_allot_set set = {{0}, 0};
  p = (tw_allot_problem){.dims = 2, .rules = 1, .target = 0.9};
  for (size_t i = 0; i < 2; i++) {
    p.dim[i] = (tw_allot_dim){.grades = 1, .share = 1, .hold = {case_of("T06", "inputs/sig/#", i)}};
    p.rule[0].slope[i] = case_of("T06", "inputs/a/#", i);
    p.rule[0].half[i] = case_of("T06", "inputs/h/#", i);
  }
  p.rule[0].has_high = true;
  p.rule[0].high = case_number("T06", "inputs/lim");
  assert_rel(tw_allot_screen(&p, &set, NULL), case_number("T06", "outputs/screening"), FIVE);
  assert_near(tw_allot_screen(&p, &set, NULL), case_number("T06", "outputs/exact"), 5e-4);
  p.rule[0].half[0] = p.rule[0].half[1] = 0;
  assert_rel(tw_allot_screen(&p, &set, NULL), case_number("T06", "outputs/linear"), FIVE);
}

/* corners of a normal law of three equal variables of correlation 1/2: P(all < 0) = 1/4 (orthant
 * probability 1/8 + 3 asin(r)/(4 pi); Kendall, closed form) */
static void corners(void **state)
{
  (void)state;
  const double low[] = {-40, -40, -40}, high[] = {0, 0, 0};
  double r[TW_ALLOT_RULES][TW_ALLOT_RULES] = {{0}};
  for (size_t i = 0; i < 3; i++) {
    for (size_t k = 0; k < 3; k++) {
      r[i][k] = i == k ? 1 : 0.5;
    }
  }
  assert_near(tw_normal_box(3, low, high, (const double(*)[TW_ALLOT_RULES])r), 0.25, 1e-3);
  assert_near(tw_normal_box(2, low, high, (const double(*)[TW_ALLOT_RULES])r), 1.0 / 3, 1e-9);
}

/* ---- random problems
 * ------------------------------------------------------------------------------- */

static double pick(tw_random *random, double from, double to)
{
  return from + (to - from) * tw_random_uniform(random);
}

static void random_problem(tw_random *random, tw_allot_problem *p)
{
  *p = (tw_allot_problem){.dims = 2 + tw_random_below(random, 5),
                          .rules = 1 + tw_random_below(random, 2),
                          .target = pick(random, 0.7, 0.97),
                          .other_cost = pick(random, 0, 80)};
  for (size_t i = 0; i < p->dims; i++) {
    tw_allot_dim *d = &p->dim[i];
    d->grades = 1 + tw_random_below(random, 4);
    d->share = 0.5;
    double hold = pick(random, 10, 40), cost = pick(random, 0, 3);
    for (size_t g = 0; g < d->grades; g++) {
      d->hold[g] = hold;
      d->cost[g] = floor(4 * cost) / 4; /* quarters: sets of equal cost occur */
      hold *= pick(random, 0.4, 0.8);
      cost += pick(random, 0.5, 6);
    }
  }
  for (size_t r = 0; r < p->rules; r++) {
    tw_allot_rule *rule = &p->rule[r];
    rule->variance = pick(random, 1, 30);
    rule->third = pick(random, -0.3, 0.3) * pow(rule->variance, 1.5);
    rule->has_high = true;
    rule->has_low = tw_random_below(random, 3) == 0;
    rule->high = pick(random, 8, 40);
    rule->low = -pick(random, 8, 40);
    for (size_t i = 0; i < p->dims; i++) {
      rule->slope[i] = pick(random, -1, 1);
      rule->half[i] = pick(random, -0.01, 0.01);
    }
  }
}

/* every set, in the order of an odometer */
static void exhaustive(const tw_allot_problem *p, bool *found, double *cost, double *yield,
                       double *per_good)
{
  tw_allot_set set = {{0}, 0};
  *found = false;
  *per_good = HUGE_VAL;
  for (;;) {
    double sum = 0;
    for (size_t i = 0; i < p->dims; i++) {
      sum += p->dim[i].cost[set.grade[i]];
    }
    const double y = tw_allot_screen(p, &set, NULL);
    *per_good = fmin(*per_good, (p->other_cost + sum) / y);
    if (y >= p->target &&
        (!*found || sum < *cost - 1e-9 || (fabs(sum - *cost) <= 1e-9 && y > *yield))) {
      *found = true;
      *cost = sum;
      *yield = y;
    }
    size_t i = 0;
    while (i < p->dims && ++set.grade[i] == p->dim[i].grades) {
      set.grade[i++] = 0;
    }
    if (i == p->dims) {
      return;
    }
  }
}

static void random_problems(void **state)
{
  (void)state;
  const char *prove = getenv("TW_PROVE");
  const int problems = prove && prove[0] == '1' ? 200 : 20;
  int reached = 0;
  tw_random random;
  tw_random_start(&random, 7, 0);
  for (int k = 0; k < problems; k++) {
    static tw_allot_problem p;
    tw_allotted got;
    bool found;
    double cost = 0, yield = 0, per_good;
    random_problem(&random, &p);
    assert_int_equal(tw_allot_search(&p, &got, NULL), TW_OK);
    exhaustive(&p, &found, &cost, &yield, &per_good);
    assert_int_equal(got.found, found);
    assert_rel(got.per_good_cost, per_good, 1e-12);
    if (found) {
      assert_near(got.set.cost, cost, 1e-9);
      assert_rel(got.yield, yield, 1e-12);
      reached++;
    }
  }
  print_message("%d problems, %d with an answer\n", problems, reached);
  assert_true(reached > problems / 4 && reached < problems);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(iso_286),         cmocka_unit_test(table_against_formula),
      cmocka_unit_test(cost_over_t),     cmocka_unit_test(cost_over_t_squared),
      cmocka_unit_test(exponential),     cmocka_unit_test(six_dimensions),
      cmocka_unit_test(nothing_reaches), cmocka_unit_test(curved),
      cmocka_unit_test(corners),         cmocka_unit_test(random_problems),
  };
  return cmocka_run_group_tests(tests, open_cases, close_cases);
}
