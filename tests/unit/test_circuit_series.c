/* Preferred values against the lists and sums that IEC 60063's general references print
 * (docs/models/circuit.md 6); the standard itself was not read, its rule is from memory. */
#include "near.h"

#include "tripwright/circuit.h"

#include <string.h>

static int sum_of(int series)
{
  int sum = 0;
  for (int i = 0; i < series; i++) {
    sum += tw_series_member(series, i);
  }
  return sum;
}

static bool has(int series, int figures)
{
  for (int i = 0; i < series; i++) {
    const int member = tw_series_member(series, i);
    if ((series <= 24 ? member * 10 : member) == figures) {
      return true;
    }
  }
  return false;
}

static void test_lists(void **state)
{
  (void)state;
  static const int e24[] = {10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
                            33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91};
  for (int i = 0; i < 24; i++) {
    assert_int_equal(tw_series_member(24, i), e24[i]);
    assert_int_equal(tw_series_member(12, i / 2), e24[i / 2 * 2]);
    assert_int_equal(tw_series_member(6, i / 4), e24[i / 4 * 4]);
    assert_int_equal(tw_series_member(3, i / 8), e24[i / 8 * 8]);
  }
  assert_int_equal(tw_series_member(3, 0), 10);
  assert_int_equal(tw_series_member(3, 1), 22);
  assert_int_equal(tw_series_member(3, 2), 47);
}

static void test_sums(void **state)
{
  (void)state;
  assert_int_equal(sum_of(24), 901);
  assert_int_equal(sum_of(48), 18313);
  assert_int_equal(sum_of(96), 37070);
  assert_int_equal(sum_of(192), 74599);
}

/* eight members of E24 are not the rounded powers of ten; E192 has one exception */
static void test_exceptions(void **state)
{
  (void)state;
  static const int differ[] = {10, 11, 12, 13, 14, 15, 16, 22};
  int found = 0;
  for (int i = 0; i < 24; i++) {
    if (tw_series_member(24, i) != lround(10.0 * pow(10.0, i / 24.0))) {
      assert_true(found < 8);
      assert_int_equal(i, differ[found]);
      found++;
    }
  }
  assert_int_equal(found, 8);
  found = 0;
  for (int i = 0; i < 192; i++) {
    if (tw_series_member(192, i) != lround(100.0 * pow(10.0, i / 192.0))) {
      assert_int_equal(i, 185);
      found++;
    }
  }
  assert_int_equal(found, 1);
  assert_int_equal(tw_series_member(192, 185), 920);
  assert_false(has(96, 920));
  assert_false(has(48, 920));
  /* the calls closest to a half: 169.499, 908.518, 231.517, 689.512, 163.509 */
  static const int close_calls[] = {169, 909, 232, 690, 164};
  static const int not_these[] = {170, 908, 231, 689, 163};
  for (int i = 0; i < 5; i++) {
    assert_true(has(192, close_calls[i]));
    assert_false(has(192, not_these[i]));
  }
}

/* E48 is every 4th, E96 every 2nd of E192 */
static void test_nesting(void **state)
{
  (void)state;
  for (int i = 0; i < 96; i++) {
    assert_int_equal(tw_series_member(96, i), tw_series_member(192, 2 * i));
  }
  for (int i = 0; i < 48; i++) {
    assert_int_equal(tw_series_member(48, i), tw_series_member(96, 2 * i));
  }
  /* members of E24 that the finer series share */
  static const int in48[] = {10, 11, 75};
  static const int in96[] = {10, 11, 75, 13, 15, 20};
  static const int in192[] = {10, 11, 75, 13, 15, 20, 12, 16, 18, 24, 47};
  int n48 = 0, n96 = 0, n192 = 0;
  for (int i = 0; i < 24; i++) {
    const int figures = 10 * tw_series_member(24, i);
    n48 += has(48, figures);
    n96 += has(96, figures);
    n192 += has(192, figures);
  }
  assert_int_equal(n48, 3);
  assert_int_equal(n96, 6);
  assert_int_equal(n192, 11);
  for (int i = 0; i < 11; i++) {
    assert_true(i >= 3 || has(48, 10 * in48[i]));
    assert_true(i >= 6 || has(96, 10 * in96[i]));
    assert_true(has(192, 10 * in192[i]));
  }
}

/* widest step between neighbours, wrap included */
static double widest(int series)
{
  double most = 0.0;
  for (int i = 0; i < series; i++) {
    const double next =
        i + 1 < series ? tw_series_member(series, i + 1) : 10.0 * tw_series_member(series, 0);
    most = fmax(most, next / tw_series_member(series, i));
  }
  return most;
}

static void test_widest_steps(void **state)
{
  (void)state;
  assert_printed(widest(24), 1.1538, 1e-4);
  assert_printed(widest(96), 1.03008, 1e-5);
  assert_printed(widest(192), 1.01961, 1e-5);
}

static double nearest(int series, double value, tw_nearest by)
{
  double found = NAN;
  assert_int_equal(tw_series_nearest(series, value, by, &found, NULL), TW_OK);
  return found;
}

static void test_nearest(void **state)
{
  (void)state;
  /* E3, E4 of docs/models/circuit.md 6 */
  assert_near(nearest(12, 8333, TW_NEAREST_RATIO), 8200, 0);
  assert_near(nearest(24, 8333, TW_NEAREST_RATIO), 8200, 0);
  assert_near(nearest(96, 8333, TW_NEAREST_RATIO), 8250, 0);
  assert_near(nearest(12, 43210, TW_NEAREST_RATIO), 47000, 0);
  assert_near(nearest(24, 43210, TW_NEAREST_RATIO), 43000, 0);
  assert_near(nearest(96, 43210, TW_NEAREST_RATIO), 43200, 0);
  /* the decade wraps */
  assert_near(nearest(24, 9.9, TW_NEAREST_RATIO), 10, 0);
  assert_near(nearest(24, 9.9, TW_NEAREST_LINEAR), 10, 0);
  assert_near(nearest(24, 0.099, TW_NEAREST_RATIO), 0.1, 0);
  /* by ratio and linear differ between the geometric and the arithmetic mean: 3.2156, 3.45 */
  assert_near(nearest(3, 3.3, TW_NEAREST_RATIO), 4.7, 0);
  assert_near(nearest(3, 3.3, TW_NEAREST_LINEAR), 2.2, 0);
  /* E24 members that no finer series has */
  static const int own[] = {22, 27, 33, 68, 82};
  static const int near96[] = {221, 267, 332, 681, 825};
  for (int i = 0; i < 5; i++) {
    assert_near(nearest(96, own[i], TW_NEAREST_RATIO), near96[i] / 10.0, 1e-15);
  }
  /* a member is nearest to itself in every decade, as the very same number */
  assert_near(nearest(24, 470e3, TW_NEAREST_RATIO), 470e3, 0);
  assert_near(nearest(24, 0.47, TW_NEAREST_RATIO), 0.47, 0);
  assert_near(nearest(24, 4.7e-9, TW_NEAREST_RATIO), 4.7e-9, 0);
}

static void test_neighbours(void **state)
{
  (void)state;
  double member = NAN;
  static const struct {
    double value;
    int steps;
    double expected;
  } cases[] = {{1e6, 0, 1e6},   {1e6, 1, 1.1e6}, {1e6, -1, 910e3}, {999e3, 0, 910e3},
               {999e3, 1, 1e6}, {9.9, 1, 10.0},  {9.9, 0, 9.1},    {5.0, -24, 0.47},
               {5.0, 24, 47.0}, {1.0, -1, 0.91}};
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    assert_int_equal(tw_series_step(24, cases[i].value, cases[i].steps, &member, NULL), TW_OK);
    assert_rel(member, cases[i].expected, 1e-15);
  }
  double list[64];
  assert_int_equal(tw_series_between(24, 1e3, 1e4, list, 64), 25);
  assert_near(list[0], 1000, 0);
  assert_near(list[24], 10000, 0);
  assert_int_equal(tw_series_between(24, 1e3, 1e6, list, 2), 73); /* counts past the room */
  assert_int_equal(tw_series_between(24, 1e4, 1e3, list, 64), 0);
  assert_int_equal(tw_series_between(192, 1.0, 9.9999, NULL, 0), 192);
}

static void test_refused(void **state)
{
  (void)state;
  double member = 0.0;
  tw_fault fault = {0};
  assert_int_equal(tw_series_nearest(25, 1.0, TW_NEAREST_RATIO, &member, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "no series E25"));
  assert_int_equal(tw_series_nearest(24, 0.0, TW_NEAREST_RATIO, &member, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_series_nearest(24, -1.0, TW_NEAREST_RATIO, &member, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_series_nearest(24, NAN, TW_NEAREST_RATIO, &member, &fault), TW_BAD_INPUT);
  assert_int_equal(tw_series_step(24, INFINITY, 0, &member, &fault), TW_BAD_INPUT);
  assert_near(member, 0.0, 0.0);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_lists),        cmocka_unit_test(test_sums),
      cmocka_unit_test(test_exceptions),   cmocka_unit_test(test_nesting),
      cmocka_unit_test(test_widest_steps), cmocka_unit_test(test_nearest),
      cmocka_unit_test(test_neighbours),   cmocka_unit_test(test_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
