/* The n-th allocation fails, for every n: nothing leaks (run under the sanitizers), nothing
 * crashes, the status says so, and without a failure the same call works. Form fits of wrong
 * points. */
#include "near.h"
#include "tripwright/qualify.h"

#include <string.h>

static tw_status do_table(void)
{
  const tw_column column[] = {{"x_mm", "", TW_LENGTH, false}, {"who", "", TW_LABEL, false}};
  const tw_readings_spec spec = {.column = column, .columns = 2, .keep_lines = true};
  static const char text[] = "x_mm,who\n1,a\n2,b\n";
  tw_messages *m = tw_messages_new();
  if (!m) {
    return TW_NO_MEMORY;
  }
  tw_readings *t;
  tw_status status = tw_readings_read_text("t", text, strlen(text), &spec, m, &t);
  tw_readings_free(t);
  tw_messages_free(m);
  return status;
}

static tw_status do_pattern(void)
{
  const tw_column column[] = {{"#1", "mm", TW_LENGTH, false}};
  const tw_readings_spec spec = {.column = column, .columns = 1, .pattern = "([0-9]+)"};
  tw_messages *m = tw_messages_new();
  if (!m) {
    return TW_NO_MEMORY;
  }
  tw_readings *t;
  const tw_status status = tw_readings_read_text("t", "1\n", 2, &spec, m, &t);
  tw_readings_free(t);
  tw_messages_free(m);
  return status;
}

static double ring[24];

static tw_status do_zone(void)
{
  tw_zone_fit z;
  return tw_fit_zone(TW_ZONE_MINIMUM, ring, 12, &z, NULL);
}

static tw_status do_ring_test(void)
{
  tw_probing_error e;
  const tw_artefact a = {20, 0, 0, 0};
  return tw_ring_test(ring, 12, &a, &e, NULL);
}

static tw_status do_program(void)
{
  tw_plan p;
  tw_plan_start(TW_TEST_REPEAT, &p);
  p.contact[0] = p.contact[1] = 0;
  p.contact[2] = -5e-3;
  p.tip_diameter = 6e-3;
  p.azimuth = 0;
  p.top = 0;
  p.clearance = 0.01;
  p.overtravel = 3e-3;
  p.deceleration = 1;
  p.entry_secured = true;
  tw_words w;
  tw_words_start(&w);
  tw_messages *m = tw_messages_new();
  if (!m) {
    return TW_NO_MEMORY;
  }
  tw_program *g;
  tw_status status = tw_program_make(&p, &w, m, &g);
  char *text = NULL, *list = NULL, *svg = NULL;
  status = status == TW_OK ? tw_program_text(g, &w, "t", &text, NULL) : status;
  status = status == TW_OK ? tw_program_listing(g, &list, NULL) : status;
  status = status == TW_OK ? tw_program_drawing(g, &svg, NULL) : status;
  tw_free(text);
  tw_free(list);
  tw_free(svg);
  tw_program_free(g);
  tw_messages_free(m);
  return status;
}

static tw_status do_record(void)
{
  tw_record *r = tw_record_new("t");
  if (!r) {
    return TW_NO_MEMORY;
  }
  tw_record_condition(r, "a", "b");
  tw_record_figure(r, "f", 1, "m", "um", 1e6, "s");
  tw_record_note(r, "n");
  tw_record_caution(r, "c");
  tw_record_plot(r, "p", "x", "y", false, ring, 2);
  char *text = NULL;
  const tw_status status = tw_record_json(r, &text, NULL);
  tw_free(text);
  tw_record_free(r);
  return status;
}

static tw_status do_budget(void)
{
  static const char text[] = "model: a\nname,value,spread,kind,dof\na,1,1,standard,\n";
  tw_messages *m = tw_messages_new();
  if (!m) {
    return TW_NO_MEMORY;
  }
  static tw_budget b;
  tw_status status = tw_budget_read_text("t", text, strlen(text), m, &b);
  tw_monte_carlo mc;
  status = status == TW_OK ? tw_budget_simulate(&b, 0.95, 1, 100000, 1, NULL, &mc, NULL) : status;
  tw_messages_free(m);
  return status;
}

static tw_status do_statistics(void)
{
  static const double x[] = {1, 2, 4, 3, 5, 7, 6, 8};
  static const uint32_t code[] = {0, 0, 1, 1, 0, 0, 1, 1}, other[] = {0, 1, 0, 1, 0, 1, 0, 1};
  tw_groups g;
  tw_status status = tw_groups_of(x, code, 8, 2, 0.95, &g, NULL);
  tw_groups_free(&g);
  tw_step_found step;
  status = status == TW_OK ? tw_step_of(x, 8, &step, NULL) : status;
  tw_odd_ones odd;
  status = status == TW_OK ? tw_odd_ones_of(x, 8, &odd, NULL) : status;
  tw_regression r;
  status = status == TW_OK ? tw_regress_polynomial(x, x, 8, 1, &r, NULL) : status;
  tw_gauge gauge;
  const tw_gauge_rules rules = {0.05, 0};
  status =
      status == TW_OK ? tw_gauge_crossed(x, code, other, 8, 2, 2, rules, &gauge, NULL) : status;
  tw_nested nested;
  status = status == TW_OK ? tw_nested_readings(x, code, other, 8, &nested, NULL) : status;
  static tw_tip tip;
  status =
      status == TW_OK ? tw_tip_from_points(ring, 12, TW_RING, 26, 0, 3, 0, &tip, NULL) : status;
  static const double turned[] = {0, 3, 0, 3, 0, 3, 0, 3, 0, 3, 0, 3};
  status =
      status == TW_OK ? tw_tip_offset_from_touches(&tip, turned, ring, 12, TW_RING, NULL) : status;
  char *text = NULL;
  status = status == TW_OK ? tw_tip_write(&tip, &text, NULL) : status;
  tw_free(text);
  static const double angle[] = {0, 1.5, 3, 4.5};
  tw_runout runout;
  return status == TW_OK ? tw_runout_of(angle, x, 4, 0, 0, 0.95, &runout, NULL) : status;
}

static void every_allocation_may_fail(void **state)
{
  (void)state;
  for (int i = 0; i < 12; i++) {
    const double t = i * 0.5235987755982988;
    ring[2 * i] = 10 * cos(t) + 0.001 * (i % 5);
    ring[2 * i + 1] = 10 * sin(t);
  }
  static tw_status (*const jobs[])(void) = {do_table,   do_pattern, do_zone,   do_ring_test,
                                            do_program, do_record,  do_budget, do_statistics};
  for (size_t j = 0; j < sizeof jobs / sizeof jobs[0]; j++) {
    tw_alloc_fail_at(0, false);
    assert_int_equal(jobs[j](), TW_OK);
    const long count = tw_alloc_seen();
    assert_true(count > 0);
    for (long n = 1; n <= count; n++) {
      for (int always = 0; always < 2; always++) {
        tw_alloc_fail_at(n, always);
        const tw_status status = jobs[j]();
        tw_alloc_fail_at(0, false);
        if (status != TW_NO_MEMORY) {
          print_error("job %zu, allocation %ld: status %d\n", j, n, (int)status);
          fail();
        }
      }
    }
  }
}

static void wrong_points(void **state)
{
  (void)state;
  double p[60];
  tw_fit f;
  tw_fault fault;
  for (int i = 0; i < 20; i++) {
    p[3 * i] = 5 + 0.1 * i;
    p[3 * i + 1] = 7 - 0.3 * i;
    p[3 * i + 2] = 1 + 0.2 * i;
  }
  /* all on one line */
  assert_int_equal(tw_fit_form(TW_PLANE, p, 20, 3, NULL, &f, &fault), TW_NO_ANSWER);
  assert_non_null(strstr(fault.text, "one line"));
  assert_int_equal(tw_fit_form(TW_SPHERE, p, 20, 3, NULL, &f, &fault), TW_NO_ANSWER);
  assert_int_equal(tw_fit_form(TW_CYLINDER, p, 20, 3, NULL, &f, &fault), TW_NO_ANSWER);
  assert_int_equal(tw_fit_form(TW_LINE, p, 20, 3, NULL, &f, &fault), TW_OK);
  assert_true(f.form_error < 1e-12);
  double q[40];
  for (int i = 0; i < 20; i++) {
    q[2 * i] = 1000.1 + 0.37 * i;
    q[2 * i + 1] = -500.3 + 0.11 * i;
  }
  assert_int_equal(tw_fit_form(TW_CIRCLE, q, 20, 2, NULL, &f, &fault), TW_NO_ANSWER);
  tw_zone_fit z;
  assert_int_equal(tw_fit_zone(TW_ZONE_MINIMUM, q, 20, &z, &fault), TW_NO_ANSWER);
  /* all the same */
  for (int i = 0; i < 60; i++) {
    p[i] = 3.25;
  }
  for (int form = TW_LINE; form <= TW_CYLINDER; form++) {
    assert_int_equal(tw_fit_form((tw_form)form, p, 20, form == TW_CIRCLE ? 2 : 3, NULL, &f, &fault),
                     TW_NO_ANSWER);
    assert_non_null(strstr(fault.text, "the same"));
    assert_int_equal(tw_fit_form((tw_form)form, p, 1, form == TW_CIRCLE ? 2 : 3, NULL, &f, &fault),
                     TW_BAD_INPUT);
  }
  p[7] = (double)NAN;
  assert_int_equal(tw_fit_form(TW_SPHERE, p, 20, 3, NULL, &f, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "point 3"));
  assert_int_equal(tw_fit_form(TW_CIRCLE, p, 20, 3, NULL, &f, &fault), TW_BAD_INPUT);
  /* half a circle: no minimum zone, but a least-squares and a circumscribed circle */
  for (int i = 0; i < 20; i++) {
    q[2 * i] = 10 * cos(i * 0.15);
    q[2 * i + 1] = 10 * sin(i * 0.15);
  }
  assert_int_equal(tw_fit_zone(TW_ZONE_MINIMUM, q, 20, &z, &fault), TW_NO_ANSWER);
  assert_int_equal(tw_fit_zone(TW_ZONE_INSCRIBED, q, 20, &z, &fault), TW_NO_ANSWER);
  assert_int_equal(tw_fit_zone(TW_ZONE_CIRCUMSCRIBED, q, 20, &z, &fault), TW_OK);
  tw_harmonics h;
  double angle[20];
  for (int i = 0; i < 20; i++) {
    angle[i] = i * 0.02;
  }
  assert_int_equal(tw_harmonics_of(angle, q, 20, 3, &h, &fault), TW_NO_ANSWER);
  /* regression: columns that are the same */
  double x[20], y[10];
  for (int i = 0; i < 10; i++) {
    x[2 * i] = 1 + i;
    x[2 * i + 1] = 2 + 2 * i;
    y[i] = i;
  }
  tw_regression r;
  assert_int_equal(tw_regress(x, y, 10, 2, &r, &fault), TW_NO_ANSWER);
  assert_non_null(strstr(fault.text, "column 2"));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_allocation_may_fail),
      cmocka_unit_test(wrong_points),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
