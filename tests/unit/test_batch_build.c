/* The build sheet: its order and the moments of checks (case B01 of tests/data/batch_cases.json),
 * and what must hold for the rules whatever the design. */
#include "batch_cases.h"
#include "design_fixture.h"
#include "tripwright/batch_build.h"
#include "tripwright/batch_risk.h"
#include "tripwright/bench_suspect.h"

static int open_both(void **state)
{
  return open_cases(state) == 0 ? open_all(state) : -1;
}

static int close_both(void **state)
{
  close_cases(state);
  return close_all(state);
}

/* ["a", "b"] -> "a, b"; kept until the end of the run */
static const char *joined(const json_t *list)
{
  static char room[80][120];
  static size_t used;
  assert_true(used < 80);
  char *out = room[used++];
  out[0] = '\0';
  for (size_t i = 0; i < json_array_size(list); i++) {
    const size_t n = strlen(out);
    snprintf(out + n, sizeof room[0] - n, "%s%s", i ? ", " : "",
             json_string_value(json_array_get(list, i)));
  }
  return out;
}

static void order_and_windows(void **state)
{
  (void)state;
  tw_operation row[TW_BUILD_STEPS] = {{0}};
  size_t order[TW_BUILD_STEPS], n = case_count("B01", "inputs/operations_needs_adds_closes");
  for (size_t i = 0; i < n; i++) {
    char path[80];
    snprintf(path, sizeof path, "inputs/operations_needs_adds_closes/%zu", i);
    const json_t *one = case_at("B01", path);
    row[i] = (tw_operation){.id = json_string_value(json_array_get(one, 0)),
                            .needs = joined(json_array_get(one, 1)),
                            .adds = joined(json_array_get(one, 2)),
                            .closes = joined(json_array_get(one, 3))};
  }
  assert_int_equal(tw_build_order(row, n, order, NULL), TW_OK);
  for (size_t i = 0; i < n; i++) {
    char path[40];
    snprintf(path, sizeof path, "outputs/order/%zu", i);
    assert_string_equal(row[order[i]].id, json_string_value(case_at("B01", path)));
  }
  for (size_t i = 0; i < case_count("B01", "inputs/checks"); i++) {
    char path[100];
    size_t first, last;
    snprintf(path, sizeof path, "inputs/checks/%zu", i);
    const json_t *check = case_at("B01", path);
    assert_true(tw_build_window(row, order, n, joined(json_array_get(check, 1)), &first, &last));
    snprintf(path, sizeof path, "outputs/first_after_last_before/%s",
             json_string_value(json_array_get(check, 0)));
    const json_t *window = case_at("B01", path);
    assert_string_equal(row[order[first]].id, json_string_value(json_array_get(window, 0)));
    if (json_is_null(json_array_get(window, 1))) {
      assert_int_equal(last, n);
    } else {
      assert_string_equal(row[order[last]].id, json_string_value(json_array_get(window, 1)));
    }
  }
  size_t first, last;
  assert_false(tw_build_window(row, order, n, "tested, node", &first, &last)); /* closed before */
  assert_false(tw_build_window(row, order, n, "polished", &first, &last));
}

static void no_order(void **state)
{
  (void)state;
  const tw_operation row[] = {{.id = "A", .needs = "b", .adds = "a", .closes = ""},
                              {.id = "B", .needs = "a", .adds = "b", .closes = ""}};
  size_t order[2];
  tw_fault fault = {0};
  assert_int_equal(tw_build_order(row, 2, order, &fault), TW_BAD_INPUT);
  assert_non_null(strstr(fault.text, "A needs 'b'"));
  assert_non_null(strstr(fault.text, "B needs 'a'"));
}

/* ---- what must hold for every design
 * ------------------------------------------------------------- */

/* every toleranced field on one line, or named as loose; every check of the card once, or left */
static void holds_what_must(const tw_build *b, const tw_bench_card *card)
{
  for (size_t i = 0; i < b->fields; i++) {
    assert_true(b->field[i].line < b->lines);
    assert_true(b->field[i].low <= b->field[i].high);
    assert_true(i == 0 || b->field[i].line >= b->field[i - 1].line);
    for (size_t k = 0; k < i; k++) {
      assert_int_not_equal(b->field[i].field, b->field[k].field);
    }
    for (size_t k = 0; k < b->loose; k++) {
      assert_int_not_equal(b->field[i].field, b->loose_field[k]);
    }
  }
  for (int c = 0; card && c < card->count; c++) {
    int placed = 0;
    for (size_t i = 0; i < b->checks; i++) {
      placed += b->check[i].check == &card->check[c] && !b->check[i].again;
      assert_true(b->check[i].line < b->check[i].before);
    }
    for (size_t i = 0; i < b->unplaced; i++) {
      placed += b->left[i] == &card->check[c];
    }
    assert_int_equal(placed, 1);
  }
}

/* no line before its needs; no caution lost */
static void order_is_kept(const tw_build *b)
{
  size_t order[TW_BUILD_STEPS];
  for (size_t k = 0; k < b->lines; k++) {
    order[k] = k;
    size_t first, last;
    if (b->line[k].needs[0]) {
      assert_true(tw_build_window(b->line, order, k, b->line[k].needs, &first, &last) || k > 0);
      assert_true(first < k);
    }
  }
}

static tw_design *example(const char *name)
{
  char path[200];
  snprintf(path, sizeof path, TW_SOURCE_DIR "/examples/%s.yaml", name);
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_ALL};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  assert_int_equal(tw_design_read(path, &options, messages, &design), TW_OK);
  tw_messages_free(messages);
  return design;
}

/* all families: pivot, tripod, plate, bonded; and any rule deleted makes the sheet shorter or is
 * refused with a name */
static void examples(void **state)
{
  (void)state;
  static const char *const names[] = {"pillar-indexer", "gearbox-tripod", "plate-sizer",
                                      "edge-bonded"};
  static tw_bench_card card;
  static tw_build b, less;
  for (size_t e = 0; e < sizeof names / sizeof names[0]; e++) {
    tw_design *design = example(names[e]);
    tw_fault fault = {0};
    assert_int_equal(tw_bench_card_from(design, NULL, 0, &card, &fault), TW_OK);
    assert_int_equal(tw_build_of(design, &card, 0, SIZE_MAX, &b, &fault), TW_OK);
    assert_true(b.lines > 10 && b.checks > 5);
    assert_int_equal(b.unplaced, 0);
    assert_string_equal(b.line[b.lines - 1].id, "TOUCH");
    holds_what_must(&b, &card);
    order_is_kept(&b);
    for (size_t k = 0; k < tw_operation_count(); k++) {
      const tw_status status = tw_build_of(design, &card, 0, k, &less, &fault);
      bool used = false;
      for (size_t i = 0; i < b.lines; i++) {
        used = used || strcmp(b.line[i].id, tw_operation_at(k)->id) == 0;
      }
      if (status == TW_OK) {
        assert_int_equal(less.lines, b.lines - used);
        holds_what_must(&less, &card);
      } else {
        assert_int_equal(status, TW_BAD_INPUT);
        assert_non_null(strstr(fault.text, "needs"));
      }
    }
    tw_design_free(design);
  }
}

/* a gauge that is not fine enough draws the limits in, and says so */
static void guarded(void **state)
{
  (void)state;
  static tw_build free_of, drawn_in;
  tw_design *design = example("pillar-indexer");
  assert_int_equal(tw_build_of(design, NULL, 0, SIZE_MAX, &free_of, NULL), TW_OK);
  assert_int_equal(tw_build_of(design, NULL, 4e-6, SIZE_MAX, &drawn_in, NULL), TW_OK);
  int seen = 0;
  for (size_t i = 0; i < free_of.fields; i++) {
    const tw_build_field *a = &free_of.field[i], *g = &drawn_in.field[i];
    if (g->field == TW_F_seat_ball_radius) { /* +- 10 um: 4 um is over a tenth */
      assert_true(g->guarded);
      assert_near(g->low - a->low, TW_GUARD_SCORE * 4e-6, 1e-12);
      assert_near(a->high - g->high, TW_GUARD_SCORE * 4e-6, 1e-12);
      seen++;
    } else if (g->field == TW_F_seat_flat_radius) { /* +- 50 um: it is not */
      assert_false(g->guarded);
      assert_near(g->low, a->low, 0);
      seen++;
    }
  }
  assert_int_equal(seen, 2);
  tw_design_free(design);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(order_and_windows),
      cmocka_unit_test(no_order),
      cmocka_unit_test(examples),
      cmocka_unit_test(guarded),
  };
  return cmocka_run_group_tests(tests, open_both, close_both);
}
