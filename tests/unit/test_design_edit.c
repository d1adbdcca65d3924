/* Changing values in a design's text, printing it, templates, schema. */
#include "design_fixture.h"
#include "tripwright/text.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static void edits(const char *before, const char *path, const char *text, const char *after)
{
  const tw_set set = {path, text};
  tw_fault fault = {0};
  char *out = NULL;
  if (tw_design_edit(before, strlen(before), 1, &set, &fault, &out) != TW_OK) {
    fail_msg("%s=%s: %s", path, text, fault.text);
  }
  assert_string_equal(out, after);
  tw_free(out);
}

static void replaces_only_the_value(void **state)
{
  (void)state;
  edits("disc:   # my disc\n  metal:  brass   # shiny\n\nsupport: {kind: rim}\n", "disc.metal",
        "stainless", "disc:   # my disc\n  metal:  stainless   # shiny\n\nsupport: {kind: rim}\n");
  edits("seat: {ball_radius: 5 mm , flat_radius: 3 mm}\n", "seat.ball_radius", "3.5 mm ± 0.01 mm",
        "seat: {ball_radius: 3.5 mm ± 0.01 mm , flat_radius: 3 mm}\n");
  edits("requirements:\n  trip_force_side: \"<= 0.15 N\" # goal\n", "requirements.trip_force_side",
        "<= 0.2 N", "requirements:\n  trip_force_side: \"<= 0.2 N\" # goal\n");
  edits("design: 'it''s mine'\n", "design", "it's yours", "design: 'it''s yours'\n");
  edits("# first: a comment with µ and ±\r\ndisc:\r\n  metal: brass\r\n", "disc.metal", "steel",
        "# first: a comment with µ and ±\r\ndisc:\r\n  metal: steel\r\n");
  edits("\xef\xbb\xbf"
        "design: a\n",
        "design", "b",
        "\xef\xbb\xbf"
        "design: b\n");
  edits("notes: |\n  one\n  two\ndesign: a\n", "design", "b",
        "notes: |\n  one\n  two\ndesign: b\n");
  edits("preload: {force: 1 N}", "preload.force", "2 N", "preload: {force: 2 N}");
  edits("disc:\n  metal:\n", "disc.metal", "steel", "disc:\n  metal: steel\n");
}

static void adds_keys_where_they_belong(void **state)
{
  (void)state;
  edits("disc:\n  metal: brass # a\n\n# then\nsupport: {kind: rim}\n", "disc.ceramic", "pzt_5h",
        "disc:\n  metal: brass # a\n  ceramic: pzt_5h\n\n# then\nsupport: {kind: rim}\n");
  edits("support: {kind: rim}\n", "support.void_depth", "60 um",
        "support: {kind: rim, void_depth: 60 um}\n");
  edits("disc: {}\n", "disc.metal", "brass", "disc: {metal: brass}\n");
  edits("support: {kind: rim}\n", "preload.force", "1 N",
        "support: {kind: rim}\npreload:\n  force: 1 N\n");
  edits("support: {kind: rim}", "requirements.trip_force_side", ">= 1 N",
        "support: {kind: rim}\nrequirements:\n  trip_force_side: \">= 1 N\"\n");
  edits("design: a\n", "parts.board.state", "ordered",
        "design: a\nparts:\n  board:\n    state: ordered\n");
  edits("{design: a}\n", "seat.kind", "pivot", "{design: a, seat: {kind: pivot}}\n");
  edits("design: a\r\n", "seat.kind", "pivot", "design: a\r\nseat:\r\n  kind: pivot\r\n");
  edits("disc:\n    metal: brass\n", "disc.ceramic", "pzt_5h",
        "disc:\n    metal: brass\n    ceramic: pzt_5h\n");
}

static void writes_tables_and_quotes(void **state)
{
  (void)state;
  edits("machine:\n  feeds:\n    - 10\n    - 20   # last\n  latency: 1 ms\n", "machine.feeds",
        "[5, 10]", "machine:\n  feeds:\n    [5, 10]   # last\n  latency: 1 ms\n");
  edits("machine: {feeds: [1, 2]}\n", "machine.feeds", "[5]", "machine: {feeds: [5]}\n");
  edits("design: a\n", "design", "a: b # c", "design: \"a: b # c\"\n");
  edits("design: a\n", "design", "say \"x\"\\", "design: say \"x\"\\\n");
  edits("design: a\n", "design", "", "design: \"\"\n");
  edits("{design: a}\n", "design", "a, b", "{design: \"a, b\"}\n");
  edits("design: a\n", "design", "*star", "design: \"*star\"\n");
}

static void refuses_what_it_cannot_place(void **state)
{
  (void)state;
  static const struct {
    const char *before, *path, *text, *cause;
  } row[] = {
      {"disc: brass\n", "disc.metal", "brass", "'disc' holds no keys in the file"},
      {"disc: {metal: {a: b}}\n", "disc.metal", "brass",
       "the value in the file is of another kind"},
      {"a: b: c\n", "design", "x", "line 1: a second ':' in this line"},
      {"a: b\n", "design..x", "x", "'design..x' is no path"},
      {"machine: {feeds: [1]}\n", "machine.feeds", "[5", "line 1: a bracket that is not closed"},
  };
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    const tw_set set = {row[i].path, row[i].text};
    tw_fault fault = {0};
    char *out = NULL;
    assert_int_equal(tw_design_edit(row[i].before, strlen(row[i].before), 1, &set, &fault, &out),
                     TW_BAD_INPUT);
    assert_null(out);
    assert_string_equal(fault.text, row[i].cause);
  }
}

/* ---- on disk ------------------------------------------------------------------------------------
 */

static char folder[] = "/tmp/tripwright-edit-XXXXXX";

static void write_file(const char *file, const char *text)
{
  FILE *f = fopen(file, "wb");
  assert_non_null(f);
  assert_int_equal(fwrite(text, 1, strlen(text), f), strlen(text));
  assert_int_equal(fclose(f), 0);
}

static void assert_file(const char *file, const char *text)
{
  char got[4096];
  FILE *f = fopen(file, "rb");
  assert_non_null(f);
  const size_t n = fread(got, 1, sizeof got - 1, f);
  got[n] = '\0';
  fclose(f);
  assert_string_equal(got, text);
}

static void writes_in_one_step_or_not_at_all(void **state)
{
  (void)state;
  static const char before[] = "# mine\ndisc: {part: brass_20_6k3}\nsupport: {kind: rim} # soon\n";
  static const char after[] = "# mine\ndisc: {part: brass_27_4k6}\nsupport: {kind: rim} # soon\n";
  char file[128];
  assert_non_null(mkdtemp(folder));
  snprintf(file, sizeof file, "%s/probe.yaml", folder);
  write_file(file, before);
  assert_int_equal(chmod(file, 0640), 0);
  const tw_read_options options = {.units = units, .library = library, .need = TW_NEED_DISC};
  tw_messages *messages = tw_messages_new();
  tw_design *design = NULL;
  assert_int_equal(tw_design_read(file, &options, messages, &design), TW_OK);
  /* a wrong value is refused before anything is written */
  const tw_set wrong = {"support.ledge_radius", "3 N"};
  assert_int_equal(tw_design_write(design, 1, &wrong, &options, messages), TW_BAD_INPUT);
  assert_file(file, before);
  const tw_set set = {"disc.part", "brass_27_4k6"};
  assert_int_equal(tw_design_write(design, 1, &set, &options, messages), TW_OK);
  assert_file(file, after);
  struct stat about;
  assert_int_equal(stat(file, &about), 0);
  assert_int_equal(about.st_mode & 0777, 0640);
  /* the design is older than the file now */
  assert_int_equal(tw_design_write(design, 1, &set, &options, messages), TW_NO_FILE);
  const tw_message *last = tw_messages_at(messages, tw_messages_count(messages) - 1);
  assert_non_null(strstr(last->text, "was changed on disk meanwhile"));
  assert_file(file, after);
  tw_design_free(design);
  tw_messages_free(messages);
  unlink(file);
  rmdir(folder);
}

/* ---- printing -----------------------------------------------------------------------------------
 */

static bool keep(void *self, const char *text, size_t length)
{
  tw_text_add(self, "%.*s", (int)length, text);
  return true;
}

/* the flat print of every template reads back as the same design */
static void flat_reads_back(void **state)
{
  (void)state;
  for (int kind = 0; kind < TW_SEAT_COUNT; kind++) {
    tw_design *design = good_design(tw_design_template(kind), TW_NEED_ALL);
    tw_text p = {0};
    const tw_sink sink = {keep, &p};
    assert_int_equal(tw_design_print_flat(design, units, TW_METRIC, &sink), TW_OK);
    tw_design *back = good_design(p.at, TW_NEED_ALL);
    for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
      const tw_field field = (tw_field)i;
      const tw_value *a = tw_design_value(design, field), *b = tw_design_value(back, field);
      if (a->number != b->number || a->tolerance.plus != b->tolerance.plus ||
          a->tolerance.minus != b->tolerance.minus ||
          (a->origin == TW_ORIGIN_UNSET) != (b->origin == TW_ORIGIN_UNSET)) {
        fail_msg("%s: %.17g, back %.17g", tw_field_of(field)->path, a->number, b->number);
      }
    }
    assert_int_equal(tw_design_requirements(design), tw_design_requirements(back));
    tw_design_free(design);
    tw_design_free(back);
    tw_text_free(&p);
  }
}

static void flat_names_the_origin(void **state)
{
  (void)state;
  tw_design *design = good_design("disc: {part: brass_20_6k3}\nsupport: {kind: rim}\n"
                                  "measured: {capacitance: 11 nF}\n",
                                  TW_NEED_DISC);
  tw_text p = {0};
  const tw_sink sink = {keep, &p};
  assert_int_equal(tw_design_print_flat(design, units, TW_METRIC, &sink), TW_OK);
  assert_non_null(
      strstr(p.at, "  part: \"brass_20_6k3\"                      # given, design:1\n"));
  assert_non_null(strstr(p.at, "  metal_diameter: 20 mm                     # library\n"));
  assert_non_null(strstr(p.at, "  hole_diameter: 0 mm                       # default\n"));
  assert_non_null(
      strstr(p.at, "  capacitance: 11 nF                        # measured, design:3\n"));
  tw_design_free(design);
  tw_text_free(&p);
}

static void schema_has_every_field(void **state)
{
  (void)state;
  tw_text p = {0};
  const tw_sink sink = {keep, &p};
  assert_int_equal(tw_design_print_schema(&sink), TW_OK);
  for (size_t i = 0; i < TW_FIELD_COUNT; i++) {
    const char *path = tw_field_of((tw_field)i)->path, *dot = strchr(path, '.');
    char key[80];
    snprintf(key, sizeof key, "\"%s\": {", dot ? dot + 1 : path);
    assert_non_null(strstr(p.at, key));
  }
  tw_text_free(&p);
}

int main(void)
{
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(replaces_only_the_value),
      cmocka_unit_test(adds_keys_where_they_belong),
      cmocka_unit_test(writes_tables_and_quotes),
      cmocka_unit_test(refuses_what_it_cannot_place),
      cmocka_unit_test(writes_in_one_step_or_not_at_all),
      cmocka_unit_test(flat_reads_back),
      cmocka_unit_test(flat_names_the_origin),
      cmocka_unit_test(schema_has_every_field),
  };
  return cmocka_run_group_tests(tests, open_all, close_all);
}
