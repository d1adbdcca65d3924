/* The table of parameters holds together: names, units, defaults, conditions, parts, docs. */
#include "design_fixture.h"

#include <stdio.h>
#include <stdlib.h>

static bool is_number(const tw_field_info *info)
{
  return info->type == TW_TYPE_QUANTITY || info->type == TW_TYPE_NUMBER;
}

static bool has_default(const tw_field_info *info)
{
  return strcmp(info->fallback, TW_MUST) != 0 && strcmp(info->fallback, TW_UNSET) != 0;
}

static void ids_are_paths(void **state)
{
  (void)state;
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    char id[80];
    snprintf(id, sizeof id, "%s", info->path);
    for (char *p = id; *p; p++) {
      *p = *p == '.' ? '_' : *p;
    }
    assert_string_equal(id, info->id);
    assert_int_equal(tw_field_find(info->path), i); /* and no path twice */
  }
}

static void rows_are_complete(void **state)
{
  (void)state;
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    const size_t help = strlen(info->help);
    if (help < 5 || help > 150 || !info->source[0] || strchr(info->help, '|')) {
      fail_msg("%s: help or source", info->path);
    }
    if (strcmp(info->fallback, TW_UNSET) == 0 && info->part[0] && is_number(info) &&
        strncmp(info->path, "measured.", 9) != 0 && !strstr(info->help, "unset") &&
        !strstr(info->source, "library row") && strcmp(info->source, "shorthand") != 0 &&
        strcmp(info->source, "given by the workshop") != 0) {
      fail_msg("%s: the help does not say what holds when it is unset", info->path);
    }
    if (info->part[0] && !tw_part_info_named(info->part)) {
      fail_msg("%s: '%s' is no part", info->path, info->part);
    }
  }
}

static void numbers_have_units_and_ranges(void **state)
{
  (void)state;
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    if (!is_number(info)) {
      continue;
    }
    tw_unit unit;
    tw_fault fault = {0};
    if (tw_units_find(units, info->unit, &unit, &fault) != TW_OK || !(info->least < info->most)) {
      fail_msg("%s: %s", info->path, fault.text);
    }
    if (has_default(info)) {
      tw_quantity q;
      assert_int_equal(tw_quantity_read(units, info->fallback, &unit, &q, NULL, &fault), TW_OK);
      const double shown = tw_unit_from_si(&unit, q.number, false);
      if (!(shown >= info->least * (1 - 1e-12) && shown <= info->most * (1 + 1e-12))) {
        fail_msg("%s: the default %s is out of its range", info->path, info->fallback);
      }
    }
  }
}

static void conditions_name_choices_and_words(void **state)
{
  (void)state;
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    char when[200];
    snprintf(when, sizeof when, "%s", info->when);
    for (char *save = NULL, *clause = strtok_r(when, "&", &save); clause;
         clause = strtok_r(NULL, "&", &save)) {
      char *equals = strchr(clause, '=');
      assert_non_null(equals);
      *equals = '\0';
      const tw_field choice = tw_field_find(clause);
      if (choice == TW_FIELD_COUNT || tw_field_of(choice)->type != TW_TYPE_CHOICE) {
        fail_msg("%s: '%s' is no choice", info->path, clause);
      }
      for (char *more = NULL, *word = strtok_r(equals + 1, "|", &more); word;
           word = strtok_r(NULL, "|", &more)) {
        if (tw_choice_find(tw_field_of(choice)->set, word) < 0) {
          fail_msg("%s: %s has no answer '%s'", info->path, clause, word);
        }
      }
    }
  }
}

static void choices_have_sets(void **state)
{
  (void)state;
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    assert_int_equal(info->type == TW_TYPE_CHOICE, info->set != TW_SET_NONE);
    if (info->set != TW_SET_NONE && has_default(info)) {
      assert_true(tw_choice_find(info->set, info->fallback) >= 0);
    }
  }
  assert_string_equal(tw_choice_word(TW_SET_SUPPORT, TW_SUPPORT_LEDGE), "ledge");
  assert_null(tw_choice_word(TW_SET_SUPPORT, TW_SUPPORT_COUNT));
  assert_int_equal(tw_choice_find(TW_SET_CIRCUIT, "charge"), TW_CIRCUIT_CHARGE);
}

/* docs/models/parts-format.md names every key of the library */
static void the_format_names_every_key(void **state)
{
  (void)state;
  FILE *f = fopen(TW_SOURCE_DIR "/docs/models/parts-format.md", "rb");
  assert_non_null(f);
  static char text[65536];
  assert_true(fread(text, 1, sizeof text - 1, f) > 0);
  fclose(f);
  for (int kind = 0; kind < TW_KIND_COUNT; kind++) {
    const char *start = strstr(text, "| kind | key |");
    assert_non_null(start);
    start = strstr(start, tw_part_kind_file((tw_part_kind)kind));
    assert_non_null(start);
    for (size_t i = 0; i < tw_part_key_count((tw_part_kind)kind); i++) {
      const char *key = tw_part_key_at((tw_part_kind)kind, i)->key;
      if (!strstr(start, key)) {
        fail_msg("%s: %s is not in the docs", tw_part_kind_file((tw_part_kind)kind), key);
      }
    }
  }
}

/* the guide lists every field with unit and default as the table has them */
static void the_guide_lists_every_field(void **state)
{
  (void)state;
  FILE *f = fopen(TW_SOURCE_DIR "/docs/guide/design-file.md", "rb");
  assert_non_null(f);
  char *text = calloc(1, 1 << 20);
  assert_non_null(text);
  assert_true(fread(text, 1, (1 << 20) - 1, f) > 0);
  fclose(f);
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const tw_field_info *info = tw_field_of((tw_field)i);
    char row[600], columns[120];
    snprintf(columns, sizeof columns, "%s", info->unit);
    for (char *p = columns; *p; p++) {
      *p = *p == '|' ? ';' : *p;
    }
    snprintf(row, sizeof row, "| `%s` | %s | %s | %s |", info->path, columns, info->fallback,
             info->help);
    if (!strstr(text, row)) {
      fail_msg("docs/guide/design-file.md lacks\n%s\nrun scripts/field_tables.py", row);
    }
  }
  free(text);
}

/* every row of the library fits the ranges of the fields that it fills */
static void library_rows_fit_the_table(void **state)
{
  (void)state;
  static const struct {
    tw_part_kind kind;
    const char *path, *also;
  } way[] = {{TW_KIND_DISC, "disc.part", ""},       {TW_KIND_MATERIAL, "stylus.stem", ""},
             {TW_KIND_CERAMIC, "disc.ceramic", ""}, {TW_KIND_AMPLIFIER, "circuit.amplifier", ""},
             {TW_KIND_FOAM, "holddown.foam", ""},   {TW_KIND_SPRING, "seat.spring", ""}};
  for (size_t w = 0; w < sizeof way / sizeof way[0]; w++) {
    assert_true(tw_library_count(library, way[w].kind) > 0);
    for (size_t i = 0; i < tw_library_count(library, way[w].kind); i++) {
      const tw_row *row = tw_library_row(library, way[w].kind, i);
      assert_true(strlen(tw_row_source(row)) > 20);
      const tw_set set = {way[w].path, tw_row_id(row)};
      const tw_read_options options = {
          .units = units, .library = library, .sets = &set, .set_count = 1};
      tw_messages *messages = tw_messages_new();
      tw_design *d = NULL;
      assert_int_equal(tw_design_parse("design: row\n", 12, NULL, &options, messages, &d), TW_OK);
      for (size_t k = 0; k < TW_FIELD_COUNT; k++) {
        const tw_field_info *info = tw_field_of((tw_field)k);
        tw_unit unit;
        if (!is_number(info) || tw_design_value(d, (tw_field)k)->origin != TW_ORIGIN_LIBRARY) {
          continue;
        }
        assert_int_equal(tw_units_find(units, info->unit, &unit, NULL), TW_OK);
        const double shown = tw_unit_from_si(&unit, tw_design_number(d, (tw_field)k), false);
        if (!(shown >= info->least && shown <= info->most)) {
          fail_msg("%s %s: %s is %g %s", way[w].path, tw_row_id(row), info->path, shown,
                   info->unit);
        }
      }
      tw_design_free(d);
      tw_messages_free(messages);
    }
  }
}

/* rows that defaults name */
static void default_rows_exist(void **state)
{
  (void)state;
  static const char *const material[] = {"brass", "stainless", "carbide", "steel", "ruby"};
  for (size_t i = 0; i < sizeof material / sizeof material[0]; i++) {
    assert_non_null(tw_library_find(library, TW_KIND_MATERIAL, material[i]));
  }
  assert_non_null(tw_library_find(library, TW_KIND_CERAMIC, "pzt_5a"));
  assert_non_null(tw_library_find(library, TW_KIND_CERAMIC, "pzt_5h"));
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(ids_are_paths),
      cmocka_unit_test(rows_are_complete),
      cmocka_unit_test(numbers_have_units_and_ranges),
      cmocka_unit_test(conditions_name_choices_and_words),
      cmocka_unit_test(choices_have_sets),
      cmocka_unit_test(the_guide_lists_every_field),
      cmocka_unit_test(the_format_names_every_key),
      cmocka_unit_test(library_rows_fit_the_table),
      cmocka_unit_test(default_rows_exist),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
