/* The shipped library of parts: every row can be read and says where it was read; rows that designs
 * and check cases rely on have the constants of docs/models/disc.md. */
#include "near.h"
#include "tripwright/parts.h"

#include <string.h>

static tw_units *units;
static tw_library *library;

static int load(void **state)
{
  (void)state;
  tw_messages *messages = tw_messages_new();
  tw_fault fault = {0};
  if (!messages || tw_units_new(&units, &fault) != TW_OK) {
    return -1;
  }
  const tw_status status = tw_library_load(TW_SOURCE_DIR "/parts", units, messages, &library);
  for (size_t i = 0; i < tw_messages_count(messages); i++) {
    char text[1024];
    tw_message_print(tw_messages_at(messages, i), text, sizeof text);
    print_error("%s", text);
  }
  const bool clean = status == TW_OK && tw_messages_count(messages) == 0;
  tw_messages_free(messages);
  return clean ? 0 : -1;
}

static int unload(void **state)
{
  (void)state;
  tw_library_free(library);
  tw_units_free(units);
  return 0;
}

static void every_row_has_a_source(void **state)
{
  (void)state;
  for (int kind = 0; kind < TW_KIND_COUNT; kind++) {
    const size_t n = tw_library_count(library, (tw_part_kind)kind);
    assert_true(n > 0);
    for (size_t i = 0; i < n; i++) {
      const tw_row *row = tw_library_row(library, (tw_part_kind)kind, i);
      const char *source = tw_row_source(row);
      /* instruments are generic; that their figures are from memory is what their source says */
      if (kind == TW_KIND_INSTRUMENT && strncmp(source, "from memory: ", 13) == 0) {
        continue;
      }
      /* a title, a maker or author, and a place in it: no less than this */
      if (strlen(source) < 40 || !strpbrk(source, "0123456789") || !strchr(source, ' ')) {
        fail_msg("%s: %s: the source says too little: \"%s\"",
                 tw_part_kind_file((tw_part_kind)kind), tw_row_id(row), source);
      }
      assert_null(strstr(source, "from memory"));
      assert_true(strlen(tw_row_name(row)) > 3);
    }
  }
}

static void there_is_enough_of_each_kind(void **state)
{
  (void)state;
  assert_true(tw_library_count(library, TW_KIND_CERAMIC) >= 4);
  assert_true(tw_library_count(library, TW_KIND_MATERIAL) >= 12);
  assert_true(tw_library_count(library, TW_KIND_DISC) >= 10);
  assert_true(tw_library_count(library, TW_KIND_AMPLIFIER) >= 8);
  assert_true(tw_library_count(library, TW_KIND_FOAM) >= 3);
  assert_true(tw_library_count(library, TW_KIND_SPRING) >= 5);
}

static void has(tw_part_kind kind, const char *id, const char *key, double si)
{
  const tw_row *row = tw_library_find(library, kind, id);
  if (!row) {
    fail_msg("no row %s", id);
    return;
  }
  tw_quantity q;
  assert_true(tw_row_number(row, key, &q));
  assert_rel(q.number, si, 1e-12);
}

/* the constants of docs/models/disc.md, section 2 and 8 */
static void reference_constants(void **state)
{
  (void)state;
  static const struct {
    const char *key;
    double a, h;
  } ceramic[] = {{"s11", 16.4e-12, 16.5e-12},      {"s12", -5.74e-12, -4.78e-12},
                 {"s13", -7.22e-12, -8.45e-12},    {"s33", 18.8e-12, 20.7e-12},
                 {"d31", -171e-12, -274e-12},      {"d33", 374e-12, 593e-12},
                 {"permittivity", 1700.0, 3400.0}, {"density", 7750.0, 7500.0}};
  for (size_t i = 0; i < sizeof ceramic / sizeof ceramic[0]; i++) {
    has(TW_KIND_CERAMIC, "pzt_5a", ceramic[i].key, ceramic[i].a);
    has(TW_KIND_CERAMIC, "pzt_5h", ceramic[i].key, ceramic[i].h);
  }
  has(TW_KIND_MATERIAL, "brass", "modulus", 105e9);
  has(TW_KIND_MATERIAL, "brass", "poisson", 0.34);
  has(TW_KIND_MATERIAL, "brass", "density", 8470.0);
  has(TW_KIND_MATERIAL, "stainless", "modulus", 193e9);
  has(TW_KIND_MATERIAL, "stainless", "poisson", 0.29);
  has(TW_KIND_MATERIAL, "stainless", "density", 7900.0);
  has(TW_KIND_MATERIAL, "carbide", "modulus", 600e9);
  assert_non_null(tw_library_find(library, TW_KIND_MATERIAL, "steel"));
  assert_non_null(tw_library_find(library, TW_KIND_MATERIAL, "ruby"));
}

static void discs_name_rows_that_exist(void **state)
{
  (void)state;
  for (size_t i = 0; i < tw_library_count(library, TW_KIND_DISC); i++) {
    const tw_row *row = tw_library_row(library, TW_KIND_DISC, i);
    assert_non_null(tw_library_find(library, TW_KIND_MATERIAL, tw_row_text(row, "metal")));
    assert_non_null(tw_library_find(library, TW_KIND_CERAMIC, tw_row_text(row, "ceramic")));
    tw_quantity plate, total, outer, ceramic, electrode;
    assert_true(tw_row_number(row, "metal_thickness", &plate));
    /* either the whole disc's thickness or the ceramic's own */
    const bool whole = tw_row_number(row, "total_thickness", &total);
    assert_true(whole || tw_row_number(row, "ceramic_thickness", &total));
    assert_true(tw_row_number(row, "metal_diameter", &outer));
    assert_true(tw_row_number(row, "ceramic_diameter", &ceramic));
    assert_true(tw_row_number(row, "electrode_diameter", &electrode));
    assert_true(!whole || total.number > plate.number + 20e-6);
    assert_true(outer.number > ceramic.number && ceramic.number > electrode.number);
  }
}

/* the printed rate of every spring against G d^4/(8 D^3 n) is checked in the file's head; here that
 * force at the largest travel and rate belong together */
static void springs_agree_with_themselves(void **state)
{
  (void)state;
  int checked = 0;
  for (size_t i = 0; i < tw_library_count(library, TW_KIND_SPRING); i++) {
    const tw_row *row = tw_library_row(library, TW_KIND_SPRING, i);
    tw_quantity rate, travel, force;
    if (tw_row_number(row, "rate", &rate) && tw_row_number(row, "travel", &travel) &&
        tw_row_number(row, "force", &force)) {
      assert_rel(rate.number * travel.number, force.number, 0.05);
      checked++;
    }
  }
  assert_true(checked >= 4);
}

static void amplifiers_have_ranges(void **state)
{
  (void)state;
  int open = 0, push = 0, complete = 0;
  for (size_t i = 0; i < tw_library_count(library, TW_KIND_AMPLIFIER); i++) {
    const tw_row *row = tw_library_row(library, TW_KIND_AMPLIFIER, i);
    tw_quantity least, most, typical, low, high;
    assert_true(tw_row_number(row, "supply_least", &least));
    assert_true(tw_row_number(row, "supply_most", &most));
    assert_true(least.number > 0.0 && least.number <= most.number);
    open += strcmp(tw_row_text(row, "output"), "open_collector") == 0;
    push += strcmp(tw_row_text(row, "output"), "push_pull") == 0;
    if (tw_row_number(row, "bias_current", &typical)) {
      assert_true(tw_row_number(row, "bias_least", &low));
      assert_true(tw_row_number(row, "bias_most", &high));
      assert_true(low.number <= typical.number && typical.number <= high.number);
    }
    complete += tw_row_number(row, "offset_limit", &low) &&
                tw_row_number(row, "bias_most", &high) && tw_row_number(row, "low_drop", &typical);
  }
  assert_true(open >= 3 && push >= 4 && complete >= 8);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_row_has_a_source),
      cmocka_unit_test(there_is_enough_of_each_kind),
      cmocka_unit_test(reference_constants),
      cmocka_unit_test(discs_name_rows_that_exist),
      cmocka_unit_test(springs_agree_with_themselves),
      cmocka_unit_test(amplifiers_have_ranges),
  };
  return cmocka_run_group_tests(tests, load, unload);
}
