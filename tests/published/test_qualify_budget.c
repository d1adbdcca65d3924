/* GUM H.1, JCGM 101 clause 9.2, the decision rule and formulas. Published figures: JCGM 100:2008
 * H.1.3 to H.1.7 (via public copies; H.1.7 from memory), JCGM 101:2008 9.2.2 to 9.2.4 (9.2.4 from
 * memory), acceptance limits of a normal distribution. */
#include "near.h"
#include "tripwright/qualify_budget.h"

#include <stdlib.h>
#include <string.h>

static tw_budget budget_of(const char *text)
{
  tw_messages *m = tw_messages_new();
  tw_budget b;
  const tw_status status = tw_budget_read_text("test", text, strlen(text), m, &b);
  for (size_t i = 0; i < tw_messages_count(m); i++) {
    char line[512];
    tw_message_print(tw_messages_at(m, i), line, sizeof line);
    print_error("%s", line);
  }
  assert_int_equal(status, TW_OK);
  tw_messages_free(m);
  return b;
}

/* end-gauge calibration, lengths in nm */
static const char end_gauge[] = "# GUM H.1\n"
                                "result: l nm\n"
                                "model: lS + d - lS*(dalpha*theta + alphaS*dtheta)\n"
                                "name,value,spread,kind,dof\n"
                                "lS,50000623,25,standard,18\n"
                                "d,215,9.7,standard,25.6\n"
                                "alphaS,11.5e-6,1.2e-6,standard,\n"
                                "theta,-0.1,0.41,standard,\n"
                                "dalpha,0,0.58e-6,standard,50\n"
                                "dtheta,0,0.029,standard,2\n";

static void end_gauge_calibration(void **state)
{
  (void)state;
  const tw_budget b = budget_of(end_gauge);
  tw_budget_result r;
  assert_int_equal(tw_budget_gum(&b, 0.99, &r, NULL), TW_OK);
  assert_printed(r.y, 50000838, 1);
  static const double part[] = {25, 9.7, 0, 0, 2.9, 16.7};
  for (size_t i = 0; i < 6; i++) {
    /* 16.67 prints as 16.6 in one table and 16.7 in another of the published example */
    assert_near(r.line[i].contribution, part[i], 0.051);
  }
  assert_printed(r.u, 32, 1);
  assert_printed(r.u, 31.7106, 1e-4);
  assert_printed(r.dof_exact, 16.656, 1e-3);
  assert_near(r.dof, 16, 0);
  assert_printed(r.k, 2.92, 0.01);
  assert_printed(r.expanded, 93, 1);
  assert_printed(r.u_second, 34, 1);
  /* u(d): 13/sqrt 5, 3.9 and 6.7 together, H.1.3.2 */
  assert_printed(sqrt(13 * 13 / 5.0 + 3.9 * 3.9 + 6.7 * 6.7), 9.7, 0.1);
}

static tw_monte_carlo simulate(const tw_budget *b)
{
  tw_monte_carlo mc;
  assert_int_equal(tw_budget_simulate(b, 0.95, 2, 2000000, 1, NULL, &mc, NULL), TW_OK);
  assert_true(mc.settled);
  return mc;
}

#define ADDITIVE(kind, width, last)                                                                \
  "model: a+b+c+d\nname,value,spread,kind,dof\na,0," width "," kind ",\nb,0," width "," kind       \
  ",\nc,0," width "," kind ",\nd,0," last "," kind ",\n"
#define ROOT3 "1.7320508075688772"

static void additive_models(void **state)
{
  (void)state;
  tw_budget b = budget_of(ADDITIVE("standard", "1", "1"));
  tw_budget_result g;
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_OK);
  assert_printed(g.expanded, 3.92, 0.01);
  tw_monte_carlo mc = simulate(&b);
  assert_near(mc.high, 3.92, mc.tolerance);
  assert_near(mc.low, -3.92, mc.tolerance);
  assert_near(mc.u, 2.0, mc.tolerance);
  assert_true(mc.gum_holds);

  b = budget_of(ADDITIVE("rectangular", ROOT3, ROOT3));
  mc = simulate(&b);
  assert_near(mc.u, 2.0, mc.tolerance);
  assert_near(mc.high, 2 * sqrt(3) * (2 - pow(0.6, 0.25)), mc.tolerance); /* 3.88 */
  assert_printed(2 * sqrt(3) * (2 - pow(0.6, 0.25)), 3.88, 0.01);
  assert_near(mc.shortest_high - mc.shortest_low, 2 * 3.8807, 2 * mc.tolerance);

  b = budget_of(ADDITIVE("rectangular", ROOT3, "17.320508075688772"));
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_OK);
  assert_printed(g.u, 10.1, 0.1);
  assert_printed(g.u, 10.15, 0.01);
  assert_printed(g.expanded, 19.9, 0.1);
  mc = simulate(&b);
  assert_near(mc.high, 17.02, mc.tolerance);
  assert_near(mc.low, -17.02, mc.tolerance);
  assert_false(mc.gum_holds);
}

static void a_seed_gives_the_same_run(void **state)
{
  (void)state;
  const tw_budget b = budget_of(end_gauge);
  const tw_monte_carlo first = simulate(&b), again = simulate(&b);
  assert_memory_equal(&first, &again, sizeof first);
  tw_monte_carlo other;
  assert_int_equal(tw_budget_simulate(&b, 0.95, 2, 2000000, 2, NULL, &other, NULL), TW_OK);
  assert_true(other.y != first.y);
}

/* correlated inputs: a - b with r = 1/2 and equal u has the same u; r reverses for a + b */
static void correlation(void **state)
{
  (void)state;
  const tw_budget b = budget_of("model: a-b\ncorrelation: a b 0.5\nname,value,spread,kind,dof\n"
                                "a,3,2,standard,\nb,1,2,standard,\n");
  tw_budget_result g;
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_OK);
  assert_near(g.u, 2.0, 1e-14);
  const tw_monte_carlo mc = simulate(&b);
  assert_near(mc.u, 2.0, mc.tolerance);
}

/* second order: y = x^2 at 0 has first-order u 0, true variance 2 u^4; x^3 at 0: 15 u^6 is beyond
 * it; a b: u_a^2 u_b^2 */
static void second_order(void **state)
{
  (void)state;
  tw_budget b = budget_of("model: x^2\nname,value,spread,kind,dof\nx,0,3,standard,\n");
  tw_budget_result g;
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_OK);
  assert_near(g.u, 0.0, 1e-15);
  assert_near(g.second_order, 0.5 * 4 * 81, 1e-9);
  b = budget_of("model: a*b\nname,value,spread,kind,dof\na,2,3,standard,\nb,5,7,standard,\n");
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_OK);
  assert_near(g.second_order, 9.0 * 49.0, 1e-6);
  assert_near(g.u, sqrt(4 * 49.0 + 25 * 9.0), 1e-12);
  /* third derivative: sin x at x0: f' f''' u^4 + f''^2 u^4/2 */
  b = budget_of("model: sin(x)\nname,value,spread,kind,dof\nx,0.4,0.2,standard,\n");
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_OK);
  const double c = cos(0.4), s = sin(0.4);
  assert_rel(g.second_order, (0.5 * s * s - c * c) * pow(0.2, 4), 1e-5);
}

static void decisions(void **state)
{
  (void)state;
  const double none = -(double)INFINITY;
  static const struct {
    double y, p;
    tw_verdict verdict;
  } rows[] = {{4.20, 0.97725, TW_PROVEN},
              {4.34, 0.95053, TW_PROVEN},
              {4.35, 0.94792, TW_NOT_PROVEN},
              {5.80, 0.02275, TW_DISPROVEN}};
  for (size_t k = 0; k < 4; k++) {
    tw_decision d;
    assert_int_equal(tw_decide(rows[k].y, 0.4, none, 5.0, 0.95, &d, NULL), TW_OK);
    assert_printed(d.probability, rows[k].p, 1e-5);
    assert_int_equal(d.verdict, rows[k].verdict);
    assert_printed((5.0 - d.accept_high) / 0.4, 1.6449, 1e-4);
    assert_true(isnan(d.accept_low));
  }
  tw_decision d;
  assert_int_equal(tw_decide(4.2, 0.4, none, 5.0, 0.95, &d, NULL), TW_OK);
  assert_int_equal(d.by_expanded, TW_PROVEN); /* 4.2 + 0.8 = 5.0 */
  assert_int_equal(tw_decide(4.3, 0.4, none, 5.0, 0.95, &d, NULL), TW_OK);
  assert_int_equal(d.by_expanded, TW_NOT_PROVEN);
  /* a zone narrower than the uncertainty proves nothing anywhere */
  assert_int_equal(tw_decide(0.0, 1.0, -1.0, 1.0, 0.95, &d, NULL), TW_OK);
  assert_true(isnan(d.accept_low) && isnan(d.accept_high));
  assert_int_equal(d.verdict, TW_NOT_PROVEN);
  assert_int_equal(tw_decide(0.0, 1.0, 1.0, -1.0, 0.95, &d, NULL), TW_BAD_INPUT);
}

static double value_of(const char *formula)
{
  char text[600];
  snprintf(text, sizeof text, "model: %s + 0*x\nname,value,spread,kind,dof\nx,2,0.1,standard,\n",
           formula);
  const tw_budget b = budget_of(text);
  tw_budget_result g;
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_OK);
  return g.y;
}

static void formulas(void **state)
{
  (void)state;
  assert_near(value_of("-x^2"), -4.0, 0);
  assert_near(value_of("2^3^2"), 512.0, 0);
  assert_near(value_of("2^-1"), 0.5, 0);
  assert_near(value_of("1 - 2 - 3"), -4.0, 0);
  assert_near(value_of("8/4/2"), 1.0, 0);
  assert_near(value_of("(1+x)*3e0"), 9.0, 0);
  assert_near(value_of("sqrt(x)*exp(log(3))+abs(-1)"), sqrt(2) * 3 + 1, 1e-14);
  assert_near(value_of("atan(1)*4 - pi"), 0.0, 1e-15);
  static const char *const bad[] = {"x +",    "(x", "x)",   "y",  "2 x", "sin x",
                                    "foo(x)", "",   "x..2", "1e", "*x"};
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    char text[600];
    snprintf(text, sizeof text, "model: %s\nname,value,spread,kind,dof\nx,2,0.1,standard,\n",
             bad[i]);
    tw_messages *m = tw_messages_new();
    tw_budget b;
    assert_int_equal(tw_budget_read_text("t", text, strlen(text), m, &b), TW_BAD_INPUT);
    assert_true(tw_messages_errors(m) > 0);
    tw_messages_free(m);
  }
}

static void refusals(void **state)
{
  (void)state;
  static const char *const bad[] = {
      "name,value,spread,kind,dof\na,1,1,standard,\n",                            /* no model */
      "model: a\nname,value,spread,kind,dof\na,1,-1,standard,\n",                 /* spread */
      "model: a\nname,value,spread,kind,dof\na,1,1,gaussian,\n",                  /* kind */
      "model: a\nname,value,spread,kind,dof\na,1,1,standard,0\n",                 /* dof */
      "model: a\nname,value,spread,kind,dof\na,1,1,standard,\nb,1,1,standard,\n", /* unused */
      "model: a\nname,value,spread,kind,dof\na,1,1,standard,\na,1,1,standard,\n", /* twice */
      "model: a\ncorrelation: a c 0.5\nname,value,spread,kind,dof\na,1,1,standard,\n", /* no c */
      "model: a+b\ncorrelation: a b "
      "1.5\nname,value,spread,kind,dof\na,1,1,standard,\nb,1,1,standard,\n",
      "model: a+b\ncorrelation: a b "
      "0.5\nname,value,spread,kind,dof\na,1,1,rectangular,\nb,1,1,standard,\n",
      "model: a\nname,value,spread,kind,dof\n2a,1,1,standard,\n", /* name */
      "model: a\nname,value,spread\na,1,1\n",                     /* columns missing */
  };
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    tw_messages *m = tw_messages_new();
    tw_budget b;
    if (tw_budget_read_text("t", bad[i], strlen(bad[i]), m, &b) != TW_BAD_INPUT ||
        !tw_messages_errors(m)) {
      print_error("not refused: %s\n", bad[i]);
      fail();
    }
    tw_messages_free(m);
  }
  const tw_budget b = budget_of("model: sqrt(x)\nname,value,spread,kind,dof\nx,-1,0.1,standard,\n");
  tw_budget_result g;
  assert_int_equal(tw_budget_gum(&b, 0.95, &g, NULL), TW_NO_ANSWER);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(end_gauge_calibration),
      cmocka_unit_test(additive_models),
      cmocka_unit_test(a_seed_gives_the_same_run),
      cmocka_unit_test(correlation),
      cmocka_unit_test(second_order),
      cmocka_unit_test(decisions),
      cmocka_unit_test(formulas),
      cmocka_unit_test(refusals),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
