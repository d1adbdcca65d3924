/* Decisions by the distribution of the figure, correlated budgets, simulated decisions. Closed
 * forms: chi-squared with 2 and 4 degrees of freedom is 1 - exp(-x/2) and
 * 1 - exp(-x/2)(1 + x/2); t with 1 is Cauchy's; no event in n tries. GUM H.2 (JCGM 100:2008, table
 * H.2; readings from memory): R 127.732 ohm, u 0.071 ohm. */
#include "near.h"
#include "tripwright/qualify_budget.h"

#include <string.h>

#define NONE ((double)INFINITY)

static tw_decision decide(tw_figure_law law, double lower, double upper)
{
  tw_decision d;
  tw_fault fault = {0};
  const tw_status status = tw_decide_by(&law, lower, upper, 0.95, &d, &fault);
  if (status != TW_OK) {
    print_error("%s\n", fault.text);
  }
  assert_int_equal(status, TW_OK);
  return d;
}

static tw_figure_law scatter(double value, double dof)
{
  return (tw_figure_law){.kind = TW_LAW_SPREAD, .value = value, .dof = dof};
}

static void a_spread_goes_by_chi_squared(void **state)
{
  (void)state;
  /* three touches: sigma <= L with probability exp(-(s/L)^2) */
  for (int k = 1; k < 30; k++) {
    const double ratio = 0.1 * k;
    assert_rel(decide(scatter(ratio, 2), -NONE, 1.0).probability, exp(-ratio * ratio), 1e-12);
    const double y = 2.0 * ratio * ratio; /* five touches: dof (s/L)^2 / 2 */
    assert_rel(decide(scatter(ratio, 4), -NONE, 1.0).probability, exp(-y) * (1 + y), 1e-9);
  }
  /* the largest s that proves it: sqrt(-ln 0.95) L with three touches */
  const tw_decision d = decide(scatter(0.2, 2), -NONE, 1.0);
  assert_rel(d.accept_high, sqrt(-log(0.95)), 1e-9);
  assert_true(isnan(d.accept_low));
  assert_int_equal(d.verdict, TW_PROVEN);
  assert_int_equal(decide(scatter(0.3, 2), -NONE, 1.0).verdict, TW_NOT_PROVEN);
  /* five touches, 2s of 729 um against 5 um: far beyond any doubt */
  assert_int_equal(decide(scatter(729, 4), -NONE, 5).verdict, TW_DISPROVEN);
  assert_near(decide(scatter(729, 4), -NONE, 5).probability, 0, 1e-30);
  /* a lower limit as well */
  assert_rel(decide(scatter(1, 2), 0.5, 2).probability, exp(-0.25) - exp(-4), 1e-12);
}

static void a_mean_goes_by_student(void **state)
{
  (void)state;
  const tw_figure_law two = {.kind = TW_LAW_STUDENT, .value = 0, .u = 1, .dof = 1};
  const double pi = 3.14159265358979323846;
  assert_rel(decide(two, -NONE, 3).probability, 0.5 + atan(3.0) / pi, 1e-12);
  assert_int_equal(decide(two, -NONE, 3).verdict, TW_NOT_PROVEN);
  tw_decision normal;
  assert_int_equal(tw_decide(0, 1, -NONE, 3, 0.95, &normal, NULL), TW_OK);
  assert_int_equal(normal.verdict, TW_PROVEN);
  /* one limit: accepted up to t(0.95, 1) = 6.3138 u below it */
  assert_near(decide(two, -NONE, 3).accept_high, 3 - 6.3137515, 1e-6);
}

static void a_share_goes_by_its_exact_interval(void **state)
{
  (void)state;
  tw_figure_law none = {.kind = TW_LAW_SHARE, .n = 58};
  assert_rel(decide(none, -NONE, 0.05).probability, 1 - pow(0.95, 58), 1e-12);
  assert_int_equal(decide(none, -NONE, 0.05).verdict, TW_NOT_PROVEN);
  none.n = 59; /* 59 without a miss prove 5 % at 95 %: the usual count of acceptance sampling */
  assert_int_equal(decide(none, -NONE, 0.05).verdict, TW_PROVEN);
  const tw_figure_law all = {.kind = TW_LAW_SHARE, .events = 3, .n = 3, .value = 1};
  assert_int_equal(decide(all, -NONE, 0.36).verdict, TW_DISPROVEN); /* 0.36^3 < 0.05 */
  assert_int_equal(decide(all, -NONE, 0.37).verdict, TW_NOT_PROVEN);
}

static void nothing_is_decided_on_nothing(void **state)
{
  (void)state;
  tw_decision d;
  tw_fault f;
  tw_figure_law law = {.kind = TW_LAW_NONE, .value = 1};
  assert_int_equal(tw_decide_by(&law, -NONE, 2, 0.95, &d, &f), TW_NO_ANSWER);
  assert_non_null(strstr(f.text, "no uncertainty is known"));
  law = scatter(0, 4);
  assert_int_equal(tw_decide_by(&law, -NONE, 2, 0.95, &d, &f), TW_NO_ANSWER);
  assert_non_null(strstr(f.text, "the resolution hides the spread"));
  law = (tw_figure_law){.kind = TW_LAW_STUDENT, .value = 1, .dof = 4};
  assert_int_equal(tw_decide_by(&law, -NONE, 2, 0.95, &d, &f), TW_NO_ANSWER);
  law = scatter(-1, 4);
  assert_int_equal(tw_decide_by(&law, -NONE, 2, 0.95, &d, &f), TW_BAD_INPUT);
  law = scatter(1, 4);
  assert_int_equal(tw_decide_by(&law, -NONE, NONE, 0.95, &d, &f), TW_BAD_INPUT);
}

/* ---- budgets -----------------------------------------------------------------------------------
 */

static tw_status read(const char *text, tw_budget *b, char *said, size_t room)
{
  tw_messages *m = tw_messages_new();
  const tw_status status = tw_budget_read_text("test", text, strlen(text), m, b);
  said[0] = '\0';
  for (size_t i = 0; i < tw_messages_count(m) && i < 1; i++) {
    tw_message_print(tw_messages_at(m, i), said, room);
  }
  tw_messages_free(m);
  return status;
}

static tw_budget budget_of(const char *text)
{
  tw_budget b;
  char said[512];
  const tw_status status = read(text, &b, said, sizeof said);
  if (status != TW_OK) {
    print_error("%s", said);
  }
  assert_int_equal(status, TW_OK);
  return b;
}

/* means, u and correlations of table H.2, worked out here from its readings */
static tw_budget resistance(double *by_reading_u)
{
  static const double x[3][5] = {{5.007, 4.994, 5.005, 4.990, 4.999},
                                 {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
                                 {1.0456, 1.0438, 1.0468, 1.0428, 1.0433}};
  tw_budget b = budget_of("model: V/I*cos(p)\nname,value,spread,kind,dof\nV,5,0,standard,4\n"
                          "I,0.02,0,standard,4\np,1,0,standard,4\n");
  double mean[3] = {0}, cov[3][3] = {{0}}, each[5], of_r = 0, squares = 0;
  for (int i = 0; i < 3; i++) {
    for (int k = 0; k < 5; k++) {
      mean[i] += x[i][k] / 5;
    }
  }
  for (int i = 0; i < 3; i++) {
    for (int j = 0; j < 3; j++) {
      for (int k = 0; k < 5; k++) {
        cov[i][j] += (x[i][k] - mean[i]) * (x[j][k] - mean[j]) / 20;
      }
    }
  }
  for (int i = 0; i < 3; i++) {
    b.input[i].value = mean[i];
    b.input[i].width = sqrt(cov[i][i]);
    for (int j = 0; j < 3; j++) {
      b.correlation[i][j] = cov[i][j] / sqrt(cov[i][i] * cov[j][j]);
    }
  }
  /* the second way of H.2.4: the result of each set of readings, and the spread of their mean */
  for (int k = 0; k < 5; k++) {
    each[k] = x[0][k] / x[1][k] * cos(x[2][k]);
    of_r += each[k] / 5;
  }
  for (int k = 0; k < 5; k++) {
    squares += (each[k] - of_r) * (each[k] - of_r);
  }
  *by_reading_u = sqrt(squares / 20);
  return b;
}

static void correlated_readings_share_their_freedom(void **state)
{
  (void)state;
  double by_reading;
  tw_budget b = resistance(&by_reading);
  tw_budget_result r;
  assert_int_equal(tw_budget_gum(&b, 0.95, &r, NULL), TW_OK);
  assert_printed(r.y, 127.732, 0.001);
  assert_printed(r.u, 0.071, 0.001);
  assert_rel(r.u, by_reading, 5e-3); /* the quotient bends a little */
  assert_near(r.dof, 4, 0);
  assert_rel(r.k, 2.7764451, 1e-7);
  assert_rel(r.expanded, 2.7764451 * by_reading, 5e-3);
  /* Student's t with 4 degrees of freedom has sqrt 2 times its scale as standard deviation */
  tw_monte_carlo mc;
  assert_int_equal(tw_budget_simulate(&b, 0.95, 2, 1000000, 1, NULL, &mc, NULL), TW_OK);
  assert_rel(mc.u, r.u * sqrt(2.0), 0.03);
  assert_rel(0.5 * (mc.high - mc.low), r.expanded, 0.01);
  b.input[1].dof = 9;
  tw_fault f;
  assert_int_equal(tw_budget_gum(&b, 0.95, &r, &f), TW_BAD_INPUT);
  assert_string_equal(f.text, "V and I are correlated, but have 4 and 9 degrees of freedom");
}

static void an_independent_input_stays_its_own(void **state)
{
  (void)state;
  /* two readings together and one apart: Welch-Satterthwaite of 2 components, by hand */
  const tw_budget b = budget_of("model: x - y + z\ncorrelation: x y 0.5\nname,value,spread,kind,dof"
                                "\nx,0,2,standard,9\ny,0,2,standard,9\nz,0,1,standard,3\n");
  tw_budget_result r;
  assert_int_equal(tw_budget_gum(&b, 0.95, &r, NULL), TW_OK);
  assert_rel(r.u * r.u, 5, 1e-12);
  assert_rel(r.dof_exact, 25 / (16 / 9.0 + 1 / 3.0), 1e-12);
}

static void second_order_knows_correlation(void **state)
{
  (void)state;
  /* variance of a product of two correlated normals, closed form */
  tw_budget b = budget_of("model: x*y\ncorrelation: x y 0.6\nname,value,spread,kind,dof\n"
                          "x,3,0.5,standard,\ny,-2,0.7,standard,\n");
  tw_budget_result r;
  assert_int_equal(tw_budget_gum(&b, 0.95, &r, NULL), TW_OK);
  const double vx = 0.25, vy = 0.49, c = 0.6 * 0.35;
  assert_rel(r.u * r.u, 9 * vy + 4 * vx + 2 * 3 * -2 * c, 1e-12);
  assert_rel(r.second_order, vx * vy + c * c, 1e-9);
  /* third derivatives: (x + y)^3 is z^3 with the variance of the sum */
  b = budget_of("model: (x+y)^3\ncorrelation: x y -0.3\nname,value,spread,kind,dof\n"
                "x,1,0.1,standard,\ny,1,0.2,standard,\n");
  assert_int_equal(tw_budget_gum(&b, 0.95, &r, NULL), TW_OK);
  const double v = 0.01 + 0.04 - 2 * 0.3 * 0.02;
  assert_rel(r.u * r.u, 9 * 16 * v, 1e-12);
  assert_rel(r.second_order, 36 * 4 * v * v, 1e-9);
}

static void the_simulation_decides(void **state)
{
  (void)state;
  /* a square: 68.27 % lie within one standard deviation, where the GUM sees no spread at all */
  const tw_budget b = budget_of("model: a^2\nname,value,spread,kind,dof\na,0,1,standard,\n");
  const double limits[2] = {-NONE, 1};
  tw_monte_carlo mc;
  tw_decision d;
  assert_int_equal(tw_budget_simulate_against(&b, 0.95, 2, 1000000, 1, limits, NULL, &mc, NULL),
                   TW_OK);
  assert_int_equal(tw_decide_simulated(&mc, 0.95, &d, NULL), TW_OK);
  assert_near(d.probability, 0.682689, 0.004);
  assert_int_equal(d.verdict, TW_NOT_PROVEN);
  /* at the level itself the count is too coarse to tell */
  mc.within = mc.trials * 95 / 100;
  assert_int_equal(tw_decide_simulated(&mc, 0.95, &d, NULL), TW_OK);
  assert_int_equal(d.verdict, TW_NOT_PROVEN);
  mc.within = mc.trials;
  assert_int_equal(tw_decide_simulated(&mc, 0.95, &d, NULL), TW_OK);
  assert_int_equal(d.verdict, TW_PROVEN);
  mc.within = 0;
  assert_int_equal(tw_decide_simulated(&mc, 0.95, &d, NULL), TW_OK);
  assert_int_equal(d.verdict, TW_DISPROVEN);
}

static void nought_to_the_nought_has_no_value(void **state)
{
  (void)state;
  static const char *const models[] = {"a+0^0", "a^(a*0)", "a^a", "0^a"};
  for (size_t i = 0; i < sizeof models / sizeof models[0]; i++) {
    char text[200];
    snprintf(text, sizeof text, "model: %s\nname,value,spread,kind,dof\na,0,1,standard,\n",
             models[i]);
    const tw_budget b = budget_of(text);
    tw_budget_result r;
    assert_int_equal(tw_budget_gum(&b, 0.95, &r, NULL), TW_NO_ANSWER);
  }
}

static void said_twice_is_refused(void **state)
{
  (void)state;
  static const struct {
    const char *text, *says;
  } cases[] = {
      {"model: a\nmodel: a+1\n", "test:2:1: error: a second model; the first is in line 1"},
      {"result: y mm\nresult: z mm\nmodel: a\n",
       "test:2:1: error: a second result; the first is in line 1"},
      {"result: y mm long\nmodel: a\n", "test:1:1: error: a result is a name and a unit"},
      {"model: a+b\ncorrelation: a b 0.5\ncorrelation: b a 0.2\n",
       "test:3:1: error: a second correlation of a and b"},
      {"model: a+b\ncorrelation: a b 0.5 0.6\n",
       "test:2:1: error: two names and a number are needed here"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    char text[300], said[512];
    tw_budget b;
    snprintf(text, sizeof text, "%sname,value,spread,kind,dof\na,0,1,standard,\n%s", cases[i].text,
             strstr(cases[i].text, "b") ? "b,0,1,standard,\n" : "");
    assert_int_equal(read(text, &b, said, sizeof said), TW_BAD_INPUT);
    if (strncmp(said, cases[i].says, strlen(cases[i].says)) != 0) {
      print_error("%s", said);
      fail();
    }
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_spread_goes_by_chi_squared),
      cmocka_unit_test(a_mean_goes_by_student),
      cmocka_unit_test(a_share_goes_by_its_exact_interval),
      cmocka_unit_test(nothing_is_decided_on_nothing),
      cmocka_unit_test(correlated_readings_share_their_freedom),
      cmocka_unit_test(an_independent_input_stays_its_own),
      cmocka_unit_test(second_order_knows_correlation),
      cmocka_unit_test(the_simulation_decides),
      cmocka_unit_test(nought_to_the_nought_has_no_value),
      cmocka_unit_test(said_twice_is_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
