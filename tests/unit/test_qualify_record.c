/* Records at the ends of the doubles, and decisions in a record. */
#include "near.h"
#include "tripwright/qualify_record.h"

#include <string.h>

static char *text_of(double value, double per)
{
  tw_record *r = tw_record_new("ends");
  char *text;
  tw_record_figure(r, "figure", value, "m", "um", per, "as given");
  assert_int_equal(tw_record_text(r, &text, NULL), TW_OK);
  tw_record_free(r);
  return text;
}

/* an int was made of the logarithm of an infinite width: signed overflow */
static void figures_near_the_ends_print(void **state)
{
  (void)state;
  char *text = text_of(1e305, 1e6);
  assert_non_null(strstr(text, "1e+305 m "));
  assert_null(strstr(text, "inf"));
  tw_free(text);
  text = text_of(5e-324, 1.0);
  assert_non_null(strstr(text, "0.000 um"));
  tw_free(text);
  text = text_of(0.0, 1e6);
  assert_non_null(strstr(text, "0.000 um"));
  tw_free(text);
}

static void a_spread_carries_its_law(void **state)
{
  (void)state;
  tw_record *r = tw_record_new("law");
  tw_figure_row *f = tw_record_figure(r, "2s", 2e-6, "m", "um", 1e6, "");
  tw_fault fault;
  assert_int_equal(tw_figure_decide(f, -(double)INFINITY, 5e-6, 0.95, &fault), TW_NO_ANSWER);
  assert_false(f->has_decision);
  f->law = (tw_figure_law){.kind = TW_LAW_SPREAD, .value = 2e-6, .dof = 9};
  assert_int_equal(tw_figure_decide(f, -(double)INFINITY, 5e-6, 0.95, &fault), TW_OK);
  assert_true(f->has_decision);
  /* JCGM 100, table E.1: s of ten readings is known to 24 % */
  assert_near(f->u / 2e-6, 0.24, 0.005);
  char *text;
  assert_int_equal(tw_record_json(r, &text, NULL), TW_OK);
  assert_non_null(strstr(text, "\"decided_by\":\"chi-squared with 9 degrees of freedom\""));
  tw_free(text);
  tw_record_free(r);
}

static void rounding_never_says_certain(void **state)
{
  (void)state;
  static const struct {
    double p;
    const char *text;
  } cases[] = {
      {1.0, "1.0000"},     {0.99996, "above 0.9999"}, {0.99994, "0.9999"},      {0.5, "0.5000"},
      {0.00006, "0.0001"}, {0.00004, "below 0.0001"}, {1e-300, "below 0.0001"}, {0.0, "0.0000"}};
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    char text[24];
    tw_probability_text(cases[i].p, 4, text, sizeof text);
    assert_string_equal(text, cases[i].text);
  }
}

int main(void)
{
  const struct CMUnitTest tests[] = {cmocka_unit_test(figures_near_the_ends_print),
                                     cmocka_unit_test(a_spread_carries_its_law),
                                     cmocka_unit_test(rounding_never_says_certain)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
