/* How many to order, against the cases O01 to O05 of tests/data/batch_cases.json. */
#include "batch_cases.h"
#include "tripwright/batch_order.h"

static void yield_known(void **state)
{
  (void)state;
  const tw_share_known known = {.share = case_number("O01", "inputs/yield_")};
  const int good = (int)case_number("O01", "inputs/good");
  const double sure = case_number("O01", "inputs/sure");
  const int order = tw_order_least(&known, good, sure);
  assert_int_equal(order, (int)case_number("O01", "outputs/order"));
  assert_rel(tw_enough(&known, good, order), case_number("O01", "outputs/probability"), SIX);
  assert_rel(tw_enough(&known, good, (int)case_number("O01", "outputs/naive")),
             case_number("O01", "outputs/probability_naive"), SIX);
  const tw_share_known poor = {.share = 0.05};
  assert_int_equal(tw_order_least(&poor, good, sure), 0);
  assert_int_equal(tw_order_least(&poor, 0, sure), 0);
}

static void yield_counted(void **state)
{
  (void)state;
  const tw_share_known seen = {true, 0, case_number("O02", "inputs/seen_good"),
                               case_number("O02", "inputs/seen_bad")};
  const int good = (int)case_number("O02", "inputs/good");
  const int order = tw_order_least(&seen, good, case_number("O02", "inputs/sure"));
  assert_int_equal(order, (int)case_number("O02", "outputs/order"));
  assert_rel(tw_enough(&seen, good, order), case_number("O02", "outputs/probability"), SIX);
  const tw_share_known mean = {.share = (seen.good + 0.5) / (seen.good + seen.bad + 1)};
  assert_int_equal(tw_order_least(&mean, good, 0.95),
                   (int)case_number("O02", "outputs/order_if_mean_yield_were_known"));
}

static void several_at_once(void **state)
{
  (void)state;
  tw_order_kind kind[4];
  tw_orders orders;
  for (size_t i = 0; i < 4; i++) {
    kind[i] = (tw_order_kind){{.share = case_of("O03", "inputs/yield_and_price/#/0", i)},
                              (int)case_number("O03", "inputs/good"),
                              case_of("O03", "inputs/yield_and_price/#/1", i)};
  }
  assert_int_equal(tw_order_all(kind, 4, case_number("O03", "inputs/sure"), &orders, NULL), TW_OK);
  for (size_t i = 0; i < 4; i++) {
    assert_int_equal(orders.count[i], (int)case_of("O03", "outputs/order/#", i));
    assert_int_equal(orders.alone[i], (int)case_of("O03", "outputs/each_at_95/#", i));
  }
  assert_true(orders.proven);
  assert_rel(orders.pay, case_number("O03", "outputs/pay"), SIX);
  assert_rel(orders.chance, case_number("O03", "outputs/probability"), SIX);
  assert_rel(orders.chance_alone, case_number("O03", "outputs/probability_each_at_95"), SIX);
  kind[2].known.share = 0.01;
  tw_fault fault = {0};
  assert_int_equal(tw_order_all(kind, 4, 0.95, &orders, &fault), TW_NO_ANSWER);
  assert_non_null(strstr(fault.text, "kind 3"));
}

/* more kinds than are tried through: the climb alone still reaches what is asked for */
static void many_kinds(void **state)
{
  (void)state;
  tw_order_kind kind[8];
  tw_orders orders;
  for (size_t i = 0; i < 8; i++) {
    kind[i] = (tw_order_kind){{.share = 0.8 + 0.02 * (double)i}, 12, 1 + (double)i};
  }
  assert_int_equal(tw_order_all(kind, 8, 0.95, &orders, NULL), TW_OK);
  assert_false(orders.proven);
  assert_true(orders.chance >= 0.95 && orders.chance < 0.99);
}

static void discs_in_a_window(void **state)
{
  (void)state;
  const double low = case_number("O04", "inputs/window/0"),
               high = case_number("O04", "inputs/window/1");
  assert_rel(tw_share_within(1, 0.3, low, high, 0), case_number("O04", "outputs/share"), SIX);
  assert_rel(tw_share_within(1, 0.3, low, high, case_number("O04", "inputs/inner_sorted_out/1")),
             case_number("O04", "outputs/share_sorted_out"), SIX);
  assert_near(tw_share_within(1, 0, 0.8, 1.2, 0), 1, 0);
  assert_near(tw_share_within(1, 0.3, 0.95, 1.05, 0.1), 0, 0);
}

static void pairing(void **state)
{
  (void)state;
  const size_t n = case_count("O05", "inputs/a");
  bool good[36];
  size_t mate[6], most, in_order = 0;
  for (size_t a = 0; a < n; a++) {
    for (size_t b = 0; b < n; b++) {
      const double d = case_of("O05", "inputs/b/#", b) - case_of("O05", "inputs/a/#", a);
      good[a * n + b] =
          case_number("O05", "inputs/lo") <= d && d <= case_number("O05", "inputs/hi");
      in_order += a == b && good[a * n + b];
    }
  }
  assert_int_equal(tw_pairs_most(good, n, n, mate, &most, NULL), TW_OK);
  assert_int_equal(most, (int)case_number("O05", "outputs/most"));
  assert_int_equal(in_order, (int)case_number("O05", "outputs/in_order_of_lists"));
  for (size_t a = 0; a < n; a++) {
    assert_true(good[a * n + mate[a]]);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(yield_known),       cmocka_unit_test(yield_counted),
      cmocka_unit_test(several_at_once),   cmocka_unit_test(many_kinds),
      cmocka_unit_test(discs_in_a_window), cmocka_unit_test(pairing),
  };
  return cmocka_run_group_tests(tests, open_cases, close_cases);
}
