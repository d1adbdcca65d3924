/* What a workshop asks its log: yields, hours, open units, figures of pieces, own processes. */
#include "log_fixture.h"
#include "tripwright/logbook_ask.h"

#include "design_fixture.h"

static void enter(tw_logbook *log, const char *kind, const char *unit, json_t *body)
{
  tw_fault fault = {0};
  assert_non_null(body);
  const tw_log_draft draft = {.kind = kind, .unit = unit, .at = "2026-03-05", .body = body};
  if (tw_logbook_append(log, &draft, 1, NULL, &fault) != TW_OK) {
    fail_msg("%s", fault.text);
  }
  json_decref(body);
}

static void test_of(tw_logbook *log, const char *unit, const char *step, int passed)
{
  enter(log, "test", unit, json_pack("{s:s, s:b}", "step", step, "passed", passed));
}

/* the first test counts; an adjustment of that step before it counts against it, one of another
 * step does not, and what was corrected is gone */
static void test_yield(void **state)
{
  (void)state;
  tw_logbook *log = log_open("yield.db", true);
  test_of(log, "1", "trip", 1);
  test_of(log, "1", "trip", 0); /* a later test */
  test_of(log, "2", "trip", 0);
  test_of(log, "2", "trip", 1);
  enter(log, "adjustment", "3", json_pack("{s:s, s:s}", "what", "screw", "step", "trip"));
  test_of(log, "3", "trip", 1);
  enter(log, "adjustment", "4", json_pack("{s:s, s:s}", "what", "screw", "step", "bench"));
  test_of(log, "4", "trip", 1);
  test_of(log, "4", "final", 1);
  tw_log_yield *row = NULL;
  size_t count = 0;
  assert_int_equal(tw_logbook_yield(log, true, &row, &count, NULL), TW_OK);
  assert_int_equal(count, 2);
  assert_string_equal(row[0].step, "final");
  assert_string_equal(row[1].step, "trip");
  assert_string_equal(row[1].month, "2026-03");
  assert_int_equal(row[1].units, 4);
  assert_int_equal(row[1].passed, 2);
  assert_near(row[0].jeffreys.high, 1.0, 0);
  assert_true(row[1].exact.low < row[1].jeffreys.low);
  tw_free(row);
  tw_logbook_close(log);
}

static void test_open_units(void **state)
{
  (void)state;
  tw_logbook *log = log_open("open.db", true);
  static const char *const unit[] = {"1", "2", "3", "4"};
  for (int i = 0; i < 4; i++) {
    enter(log, "unit", unit[i], json_pack("{s:s}", "revision", "3"));
  }
  test_of(log, "1", "trip", 0);
  test_of(log, "2", "trip", 0);
  test_of(log, "2", "trip", 1);
  enter(log, "shipped", "3", json_object());
  enter(log, "shipped", "4", json_object());
  enter(log, "returned", "4", json_object());
  tw_log_open *row = NULL;
  size_t count = 0;
  assert_int_equal(tw_logbook_open_units(log, &row, &count, NULL), TW_OK);
  assert_int_equal(count, 3);
  assert_string_equal(row[0].unit, "1");
  assert_string_equal(row[0].failed, "trip");
  assert_string_equal(row[1].unit, "2");
  assert_string_equal(row[1].failed, "");
  assert_string_equal(row[2].unit, "4");
  assert_true(row[2].returned);
  tw_free(row);
  tw_logbook_close(log);
}

static void test_hours(void **state)
{
  (void)state;
  tw_logbook *log = log_open("hours.db", true);
  for (int i = 0; i < 3; i++) {
    enter(log, "note", "1",
          json_pack("{s:s, s:s, s:f, s:f}", "note", "n", "step", "glue", "hours", 0.5 + i,
                    "hours_foreseen", 1.0));
  }
  tw_log_hours *row = NULL;
  size_t count = 0;
  assert_int_equal(tw_logbook_hours(log, &row, &count, NULL), TW_OK);
  assert_int_equal(count, 1);
  assert_near(row[0].real, 4.5, 1e-12);
  assert_near(row[0].foreseen, 3.0, 1e-12);
  tw_free(row);
  tw_logbook_close(log);
}

/* ---- figures --------------------------------------------------------------------------------- */

static void reading(tw_logbook *log, const char *unit, double value, double u, const char *with)
{
  enter(log, "reading", unit,
        json_pack("{s:s, s:f, s:s, s:f, s:s, s:f, s:f}", "measure", "trip_force_side", "value",
                  value, "unit_of_value", "N", "u", u, "instrument", with, "foreseen", 0.1,
                  "u_foreseen", 0.004));
}

static bool count_one(void *self, const tw_log_entry *entry)
{
  (void)entry;
  ++*(size_t *)self;
  return true;
}

static size_t count_of(tw_logbook *log, tw_log_filter filter)
{
  size_t count = 0;
  filter.current = true;
  assert_int_equal(tw_logbook_each(log, &filter, count_one, &count, NULL), TW_OK);
  return count;
}

/* several readings of a piece are one piece: mean, u over root n; revision, lot, instrument */
static void test_pieces(void **state)
{
  (void)state;
  enum { MANY = 300 };
  tw_logbook *log = log_open("pieces.db", true);
  for (int i = 0; i < MANY; i++) {
    char unit[8];
    snprintf(unit, sizeof unit, "%d", i);
    enter(log, "unit", unit, json_pack("{s:s}", "revision", i % 3 ? "2" : "3"));
    reading(log, unit, 0.1 + 1e-4 * i, 0.003, i == 30 ? "meter 2" : "meter 1");
  }
  reading(log, "30", 0.125, 0.004, "meter 2");
  tw_log_piece *row = NULL;
  size_t count = 0;
  const tw_log_filter filter = {.measure = "trip_force_side", .revision = "3"};
  assert_int_equal(tw_logbook_pieces(log, &filter, &row, &count, NULL), TW_OK);
  assert_int_equal(count, MANY / 3);
  for (size_t i = 0; i < count; i++) {
    const bool two = strcmp(row[i].piece, "30") == 0;
    assert_int_equal(atoi(row[i].piece), 3 * (int)i);
    assert_near(row[i].value, two ? (0.103 + 0.125) / 2 : 0.1 + 3e-4 * (double)i, 1e-12);
    assert_near(row[i].u, two ? 0.0025 : 0.003, 1e-12);
    assert_true(row[i].has_foreseen);
    assert_near(row[i].u_foreseen, 0.004, 0);
  }
  tw_free(row);
  assert_int_equal(count_of(log, (tw_log_filter){.instrument = "meter 2"}), 2);
  assert_int_equal(count_of(log, (tw_log_filter){.wrong_instrument = true}), 0);
  enter(log, "event", NULL,
        json_pack("{s:s, s:s}", "what", "3 % low", "instrument_wrong", "meter 2"));
  assert_int_equal(count_of(log, (tw_log_filter){.wrong_instrument = true}), 2);
  assert_int_equal(count_of(log, (tw_log_filter){.revision = "3"}), 2 * MANY / 3 + 1);
  tw_logbook_close(log);
}

/* ---- own processes --------------------------------------------------------------------------- */

static void made(tw_logbook *log, const char *unit, const char *measure, double off)
{
  enter(log, "reading", unit,
        json_pack("{s:s, s:f, s:f, s:s, s:f}", "measure", measure, "value", 9.3e-3 + off, "drawn",
                  9.3e-3, "process", "print", "u", 1e-6));
}

static const char shop[] = "processes:\n  print: {offset_hole: 20 um ± 10 um}\n"
                           "parts: {support: {process: print}}\n";

/* case L01 through log and design: radii of 11.5 um count as 23 um, the offset goes into the
 * process, half of it into the radius; the two readings of the first piece are one piece */
static void test_own_process(void **state)
{
  (void)state;
  static const double x[] = {23e-6, 31e-6, 27e-6, 35e-6, 24e-6};
  static const char *const unit[] = {"1", "2", "3", "4", "5"};
  tw_logbook *log = log_open("made.db", true);
  made(log, "1", "support.ledge_radius", x[0] / 2 - 1e-6);
  made(log, "1", "support.ledge_radius", x[0] / 2 + 1e-6);
  for (int i = 1; i < 5; i++) {
    made(log, unit[i], "support.ledge_radius", x[i] / 2);
  }
  made(log, "6", "no.such_field", 1.0);
  char text[400];
  snprintf(text, sizeof text,
           "disc: {part: brass_20_6k3}\nsupport: {kind: ledge, ledge_radius: 9.3 mm}\n%s", shop);
  tw_design *design = good_design(text, TW_NEED_NOTHING);
  tw_log_use *use = NULL;
  size_t count = 0;
  assert_int_equal(tw_logbook_use(log, design, &use, &count, NULL), TW_OK);
  assert_int_equal(count, 1);
  assert_int_equal(use[0].own.n, 5);
  assert_near(use[0].own.mean, 26.66667e-6, 1e-11);
  assert_near(use[0].own.half_next_piece, 13.29382e-6, 1e-11);
  /* the gauge: 1 um on a radius is 2 um on the whole size, two readings of the first piece */
  assert_true(use[0].half < use[0].own.half_next_piece);
  assert_near(use[0].half, use[0].own.half_next_piece, 0.1 * use[0].own.half_next_piece);
  assert_false(use[0].gauge_floored);
  assert_int_equal(tw_log_use_apply(design, use, count, NULL), TW_OK);
  tw_quantity offset;
  assert_true(tw_design_making(design, TW_F_support_ledge_radius, NULL, &offset));
  assert_near(offset.number, 26.66667e-6 / 2, 1e-11);
  assert_near(offset.tolerance.plus, use[0].half / 2, 1e-15);
  tw_free(use);
  tw_design_free(design);
  tw_logbook_close(log);
}

static int set_up(void **state)
{
  return log_set_up(state) == 0 ? open_all(state) : -1;
}

static int tear_down(void **state)
{
  return close_all(state) | log_tear_down(state);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_yield),       cmocka_unit_test(test_open_units),
      cmocka_unit_test(test_hours),       cmocka_unit_test(test_pieces),
      cmocka_unit_test(test_own_process),
  };
  return cmocka_run_group_tests(tests, set_up, tear_down);
}
